r"""The curve of a pump at another voltage than on the bench, behind a wire, slowed, with vapour at its inlet.

A brushed motor obeys V = R I + k w and its current is proportional to torque, so I rises linearly with the pressure
rise and hardly depends on speed. The flow at one pressure is then nearly linear in voltage. The bench curve is
described by its own flow s: pressure rise P(s), current I(s) and flow gained per volt A(s), held by a `PumpMap`. At any
other voltage the pump's curve q, p is

.. math::

    q = s + A(s) (V - V_{bench}), \qquad p = P(s), \qquad V = d\,(U - R_{wire} I), \qquad I = I(s) + c (V - V_{bench})

with the supply voltage U, the duty d, the resistance of the wire and the growth c of current with voltage. V is
explicit in s, so voltage, current, flow and pressure agree along the whole curve. A speed-controlled motor runs at the
speed asked for while its voltage suffices, else at the one its voltage gives (`fuelsim.laws.controlled_motor`).
`running_curve` inverts q(s) on evenly spaced flows; `relief_limited_rise` lets the pump's own relief valve cut off the
pressure, `fuelsim.laws.pump_leakage` takes off the leak of a worn pump; `fuelsim.laws.vapour_flow` and
`hot_flow_factor` then scale the flow, and `fuelsim.laws.pump_curve` is the law of the resulting table.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fuelsim.numerics.bracket import bisect, illinois
from fuelsim.typing import BoolArray, FloatArray, FloatLike, IndexArray

__all__ = [
    "PumpMap",
    "delivered_flow",
    "delivers",
    "drive_delivering",
    "duty_giving",
    "hot_flow_factor",
    "loaded_voltage",
    "on_fluid",
    "relief_limited_rise",
    "running_curve",
]

_LEAST_FREE_FLOW = 1e-3
"""Run-out flow that a pump too slow to deliver keeps, over that on the bench."""
_POINTS_AT_ONCE = 512
_MOST_ITERATIONS = 12
_BISECTIONS = 60
_GREATEST_DRIVE = 10.0
"""Upper end of the bracket in which a drive is searched for, over that on the bench."""
_TOLERANCE_OF_DRIVE = 1e-10
"""Error of the flow at which the search for a drive ends, over the free flow."""
_TOLERANCE = 1e-6
"""Greatest error of the flow before the last Newton step, over the free flow; that step squares it."""


class PumpMap(NamedTuple):
    """A pump along its bench curve, on evenly spaced bench flows.

    Attributes
    ----------
    start, step : float
        First bench flow and spacing, m3/s.
    pressure : array (n,)
        Pressure rise, Pa, falling.
    current : array (n,)
        Current at the bench drive, A.
    flow_per_drive : array (intervals, n)
        Flow gained per unit of drive (volt, or rpm of a speed-controlled pump) between the bench tables, m3/s.
    edges : array (intervals + 1,)
        Drives that bound the intervals; the outer ones are minus and plus infinity.
    bench_drive : float
        Drive of the bench curve, V or rpm.
    current_per_drive : float
        Growth of the current with the drive at one pressure, A/V, not negative.
    free_flow : float
        Bench flow at zero pressure rise, m3/s.
    winding_resistance : float
        Resistance of the motor's winding, ohm; 0 where it is not known, which sets no limit to the current.
    """

    start: float
    step: float
    pressure: FloatArray
    current: FloatArray
    flow_per_drive: FloatArray
    edges: FloatArray
    bench_drive: float
    current_per_drive: float
    free_flow: float
    winding_resistance: float = 0.0


def on_fluid(pump: PumpMap, density_ratio: float) -> PumpMap:
    """Return the map of a turbine pump on another fluid than that of the bench.

    At one speed and flow the pressure of a turbine is proportional to density (affinity law), and the motor's torque,
    and so its current, follows the pressure. The effect of viscosity is neglected.

    Parameters
    ----------
    pump : PumpMap
        The pump on the fluid of its bench.
    density_ratio : float
        Density of the fluid over that on the bench.

    Returns
    -------
    PumpMap

    Examples
    --------
    >>> bench = PumpMap(0.0, 1e-5, np.array([4e5, 2e5, 0.0]), np.array([8.0, 6.0, 4.0]), np.full((1, 3), 1e-6),
    ...                 np.array([-np.inf, np.inf]), 13.5, 0.0, 2e-5)
    >>> thin = on_fluid(bench, 0.9)
    >>> thin.pressure.tolist(), thin.current.round(1).tolist()
    ([360000.0, 180000.0, 0.0], [7.6, 5.8, 4.0])
    """
    pressure = density_ratio * pump.pressure
    current = np.interp(pressure, pump.pressure[::-1], pump.current[::-1])
    return pump._replace(pressure=pressure, current=current)


def loaded_voltage(
    supply_voltage: FloatLike,
    wire_resistance: FloatLike,
    current: FloatLike,
    current_per_drive: FloatLike,
    bench_drive: FloatLike,
    duty: FloatLike,
    winding_resistance: FloatLike = 0.0,
) -> tuple[FloatArray, FloatArray]:
    """Return terminal voltage and current of a motor behind a wire.

    The motor draws I = I_bench + c (duty U_t - V_bench) and the wire leaves U_t = U - R I. A motor that cannot turn at
    this current is stalled and draws its locked-rotor current, duty U_t/R_w with the resistance R_w of its winding;
    without voltage it draws none.

    Parameters
    ----------
    supply_voltage, wire_resistance : float or array
        Supply voltage U, V, and resistance R of the wire, ohm.
    current, current_per_drive, bench_drive : float or array
        Bench current I_bench at the present pressure, A, its growth c with voltage, A/V, and V_bench, V.
    duty : float or array
        Fraction of time the supply is switched on.
    winding_resistance : float or array, optional
        Resistance of the winding, ohm; 0 where it is not known, which sets no limit to the current.

    Returns
    -------
    terminal_voltage, current : array
        Voltage U_t at the terminals while switched on, V, and current of the motor, A; neither is negative, and both
        are 0 where it is never switched on.

    Examples
    --------
    Running, stalled, and without voltage:

    >>> volts, amps = loaded_voltage(np.array([13.0, 2.0, 0.0]), 0.1, 8.0, 0.0, 13.5, 1.0, 0.4)
    >>> volts.round(6).tolist(), amps.round(6).tolist()
    ([12.2, 1.6, 0.0], [8.0, 4.0, 0.0])
    """
    at_rest = current - np.asarray(current_per_drive) * bench_drive
    terminal = (supply_voltage - wire_resistance * at_rest) / (1.0 + wire_resistance * current_per_drive * duty)
    turning = at_rest + current_per_drive * duty * terminal
    mean_supply = np.asarray(duty) * supply_voltage
    resistance = winding_resistance + np.asarray(duty) * wire_resistance
    with np.errstate(divide="ignore", invalid="ignore"):
        locked = np.where(mean_supply > 0.0, mean_supply / resistance, 0.0)
    drawn = np.clip(turning, 0.0, locked)
    return np.where(np.asarray(duty) > 0.0, supply_voltage - wire_resistance * drawn, 0.0), drawn


def delivered_flow(pump: PumpMap, drive: FloatLike, pressure: FloatLike) -> FloatArray:
    """Return the flow of a sound pump at a drive and a pressure rise, without relief valve, vapour or wear.

    Parameters
    ----------
    pump : PumpMap
        The pump on its bench.
    drive : float or array
        Voltage at the motor, V, or speed, rpm.
    pressure : float or array
        Pressure rise, Pa.

    Returns
    -------
    array
        Flow, m3/s; negative where the pump is too slow for the pressure.

    Examples
    --------
    >>> bench = PumpMap(0.0, 1e-5, np.array([4e5, 2e5, 0.0]), np.array([8.0, 6.0, 4.0]), np.full((1, 3), 1e-6),
    ...                 np.array([-np.inf, np.inf]), 13.5, 0.0, 2e-5)
    >>> (delivered_flow(bench, np.array([13.5, 12.5]), 2e5) * 1e6).round(6).tolist()  # mL/s
    [10.0, 9.0]
    """
    grid = pump.start + pump.step * np.arange(len(pump.pressure))
    bench_flow = np.interp(pressure, pump.pressure[::-1], grid[::-1])
    bench_flow, drive = np.broadcast_arrays(bench_flow, np.asarray(drive, dtype=float))
    none = np.zeros(())
    return _delivered(pump, bench_flow, *_cell(pump, bench_flow), _Drives(drive, none, none, np.array(np.inf)))[0]


def drive_delivering(pump: PumpMap, flow: FloatLike, pressure: FloatLike) -> FloatArray:
    """Return the drive at which a sound pump delivers a flow at a pressure rise: the inverse of `delivered_flow`.

    Parameters
    ----------
    pump : PumpMap
        The pump on its bench.
    flow : float or array
        Flow, m3/s.
    pressure : float or array
        Pressure rise, Pa.

    Returns
    -------
    array
        Voltage at the motor, V, or speed, rpm; from 0 to ten times that on the bench.

    Examples
    --------
    >>> bench = PumpMap(0.0, 1e-5, np.array([4e5, 2e5, 0.0]), np.array([8.0, 6.0, 4.0]), np.full((1, 3), 1e-6),
    ...                 np.array([-np.inf, np.inf]), 13.5, 0.0, 2e-5)
    >>> drive_delivering(bench, np.array([10e-6, 9e-6]), 2e5).round(6).tolist()
    [13.5, 12.5]
    """
    wanted, rise = np.broadcast_arrays(*(np.atleast_1d(np.asarray(x, dtype=float)) for x in (flow, pressure)))
    low, high = np.zeros(wanted.shape), np.full(wanted.shape, _GREATEST_DRIVE * pump.bench_drive)
    drive = illinois(
        lambda drive: delivered_flow(pump, drive, rise) - wanted,
        low,
        high,
        steps=_BISECTIONS,
        tolerance=_TOLERANCE_OF_DRIVE * pump.free_flow,
    )
    return drive.reshape(np.broadcast_shapes(np.shape(flow), np.shape(pressure)))


def duty_giving(
    drive: FloatLike,
    supply_voltage: FloatLike,
    wire_resistance: FloatLike,
    current: FloatLike,
    current_per_drive: FloatLike,
    bench_drive: FloatLike,
    winding_resistance: FloatLike = 0.0,
) -> FloatArray:
    """Return the duty at which a motor behind a wire has a mean voltage: the inverse of `loaded_voltage`.

    From V = d U_t, U_t = U - R I and I = I_bench + c (V - V_bench), at most V/R_w: d = V/(U - R I).

    Parameters
    ----------
    drive : float or array
        Mean voltage V at the motor, V.
    supply_voltage, wire_resistance, current, current_per_drive, bench_drive, winding_resistance : float or array
        As `loaded_voltage`.

    Returns
    -------
    array
        Duty; above 1, or infinite, where the supply does not reach the voltage.

    Examples
    --------
    >>> float(duty_giving(6.1, 13.0, 0.1, 8.0, 0.0, 13.5))
    0.5
    """
    turning = current + current_per_drive * (np.asarray(drive) - bench_drive)
    with np.errstate(divide="ignore", invalid="ignore"):
        locked = np.where(np.asarray(winding_resistance) > 0.0, np.asarray(drive) / winding_resistance, np.inf)
        on_voltage = supply_voltage - wire_resistance * np.minimum(turning, locked)
        duty: FloatArray = np.where(on_voltage > 0.0, drive / on_voltage, np.inf)
    return duty


def running_curve(
    pump: PumpMap,
    supply_voltage: FloatLike,
    wire_resistance: FloatLike,
    duty: FloatLike,
    knots: int,
    greatest_drive: FloatLike = np.inf,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the curve of a pump behind its wire on evenly spaced flows.

    Parameters
    ----------
    pump : PumpMap
        The pump on its bench.
    supply_voltage, wire_resistance, duty : float or array (points,)
        Supply voltage, V, or speed, rpm; resistance of the wire, ohm; fraction of time switched on.
    knots : int
        Number of flows from zero to the free flow.
    greatest_drive : float or array (points,), optional
        Drive that a controller asks for: the pump is driven by no more, and by less where supply and wire do not give
        it.

    Returns
    -------
    largest_flow : array (points,)
        Flow at zero pressure rise, m3/s. A pump too slow to deliver anything keeps a thousandth of its bench flow.
    rise, slope : array (knots, points)
        Pressure rise, Pa, falling, and its slope, Pa s/m3, negative.

    Notes
    -----
    Newton's iteration on q(s) = q for each knot, stopped after the step that starts within 1e-6 of the free flow;
    q(s) is nearly linear, so it takes two or three steps and ends near 1e-10.

    Examples
    --------
    >>> bench = PumpMap(0.0, 1e-5, np.array([4e5, 2e5, 0.0]), np.array([8.0, 6.0, 4.0]), np.full((1, 3), 1e-6),
    ...                 np.array([-np.inf, np.inf]), 13.5, 0.0, 2e-5)
    >>> largest, rise, _ = running_curve(bench, 12.5, 0.0, 1.0, knots=3)
    >>> (largest * 1e6).round(6).tolist(), rise.ravel().round(-3).tolist()
    ([19.0], [380000.0, 190000.0, 0.0])
    """
    supply, wire, on_fraction, greatest = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(x, dtype=float)) for x in (supply_voltage, wire_resistance, duty, greatest_drive))
    )
    points = supply.shape[0]
    largest = np.empty(points)
    rise, slope = np.empty((knots, points)), np.empty((knots, points))
    for first in range(0, points, _POINTS_AT_ONCE):
        part = slice(first, first + _POINTS_AT_ONCE)
        largest[part], rise[:, part], slope[:, part] = _curve(
            pump, supply[part], wire[part], on_fraction[part], greatest[part], knots
        )
    return largest, rise, slope


class _Drives(NamedTuple):
    """The drive along the bench curve, base + gain I(s), between that of the locked motor and a greatest; (points,)."""

    base: FloatArray
    gain: FloatArray
    least: FloatArray
    greatest: FloatArray


def delivers(pump: PumpMap, largest_flow: FloatLike) -> BoolArray:
    """Return whether a pump with such a `running_curve` delivers anything, if only without a pressure rise.

    Parameters
    ----------
    pump : PumpMap
        The pump on its bench.
    largest_flow : float or array (points,)
        Flow at zero pressure rise, m3/s, of `running_curve`.

    Returns
    -------
    bool array

    Examples
    --------
    >>> bench = PumpMap(0.0, 1e-5, np.array([4e5, 2e5, 0.0]), np.array([8.0, 6.0, 4.0]), np.full((1, 3), 2e-6),
    ...                 np.array([-np.inf, np.inf]), 13.5, 0.0, 2e-5)
    >>> largest, _, _ = running_curve(bench, np.array([12.0, 0.0]), 1.0, 1.0, knots=3)
    >>> delivers(bench, largest).tolist()
    [True, False]
    """
    return np.asarray(largest_flow) > (1.0 + 1e-9) * _LEAST_FREE_FLOW * pump.free_flow


def _curve(
    pump: PumpMap, supply: FloatArray, wire: FloatArray, duty: FloatArray, greatest: FloatArray, knots: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    softening = 1.0 + wire * pump.current_per_drive * duty
    base = duty * (supply + wire * pump.current_per_drive * pump.bench_drive) / softening
    gain = -duty * wire / softening
    drives = _Drives(base, gain, _locked_voltage(pump, supply, wire, duty), greatest)
    at_ends = np.array([[0.0], [pump.free_flow]])
    dead_head_delivered, free_delivered = _delivered(pump, at_ends, *_cell(pump, at_ends), drives)[0]
    lift = np.maximum(_LEAST_FREE_FLOW * pump.free_flow - free_delivered, 0.0)
    largest = free_delivered + lift
    wanted = np.linspace(0.0, 1.0, knots)[:, None] * largest - lift
    # Start from the straight line between the ends of the bench curve; Newton's steps square the error.
    flow = pump.free_flow * (wanted - dead_head_delivered) / (free_delivered - dead_head_delivered)
    for _ in range(_MOST_ITERATIONS):
        delivered, gained = _delivered(pump, flow, *_cell(pump, flow), drives)
        excess = delivered - wanted
        flow = flow - excess / gained
        if np.max(np.abs(excess)) <= _TOLERANCE * pump.free_flow:
            break
    else:
        flow = _bisected(pump, wanted, drives)
        gained = _delivered(pump, flow, *_cell(pump, flow), drives)[1]
    cell, position = _cell(pump, flow)
    rise = _between(pump.pressure, cell, position)
    slope = _between(np.gradient(pump.pressure, pump.step), cell, position) / gained
    return largest, rise, slope


def _locked_voltage(pump: PumpMap, supply: FloatArray, wire: FloatArray, duty: FloatArray) -> FloatArray:
    """Return the mean voltage that a wire leaves to the locked motor, V; 0 where its winding is not known."""
    if pump.winding_resistance == 0.0:
        return np.zeros(())
    return duty * supply * pump.winding_resistance / (pump.winding_resistance + duty * wire)


def _bisected(pump: PumpMap, wanted: FloatArray, drives: _Drives) -> FloatArray:
    """Return the bench flows by bisection, for bench curves too irregular for Newton's iteration."""

    def lies_above(flow: FloatArray) -> BoolArray:
        return np.logical_not(_delivered(pump, flow, *_cell(pump, flow), drives)[0] >= wanted)

    low, high = (np.full(wanted.shape, side * pump.free_flow) for side in (-4.0, 4.0))
    return bisect(lies_above, low, high, 50)


def _cell(pump: PumpMap, bench_flow: FloatArray) -> tuple[IndexArray, FloatArray]:
    """Return the cell of the map and the position within it, from 0 to 1 except beyond the map's ends."""
    position = (bench_flow - pump.start) * (1.0 / pump.step)
    cell = np.minimum(np.maximum(position, 0.0), len(pump.pressure) - 2.0).astype(np.intp)
    return cell, position - cell


def _between(row: FloatArray, cell: IndexArray, position: FloatArray) -> FloatArray:
    result: FloatArray = row.take(cell) + np.diff(row).take(cell) * position
    return result


def _delivered(
    pump: PumpMap,
    bench_flow: FloatArray,
    cell: IndexArray,
    position: FloatArray,
    drives: _Drives,
) -> tuple[FloatArray, FloatArray]:
    """Return the delivered flow and its slope against bench flow."""
    drive, drive_slope = drives.base, np.zeros(())
    if np.any(drives.gain != 0.0):
        current_step = np.diff(pump.current).take(cell)
        drive = drives.base + drives.gain * (pump.current.take(cell) + current_step * position)
        # The current cannot exceed that of the locked motor.
        drive_slope = drives.gain * current_step * ((drive > drives.least) & (drive < drives.greatest))
        drive = np.maximum(drive, drives.least)
    drive = np.minimum(drive, drives.greatest)
    delivered, gained = bench_flow, np.ones(())
    several = len(pump.flow_per_drive) > 1
    for row, lower, upper in zip(pump.flow_per_drive, pump.edges[:-1], pump.edges[1:], strict=True):
        portion, portion_slope = drive - pump.bench_drive, drive_slope
        if several:
            portion = np.clip(drive, lower, upper) - min(max(pump.bench_drive, lower), upper)
            portion_slope = drive_slope * ((drive > lower) & (drive < upper))
        row_step = np.diff(row)
        if not row_step.any():
            delivered = delivered + row[0] * portion
            gained = gained + (row[0] / pump.step) * portion_slope
            continue
        row_step = row_step.take(cell)
        flow_per_drive = row.take(cell) + row_step * position
        delivered = delivered + flow_per_drive * portion
        gained = gained + (row_step * portion + flow_per_drive * portion_slope) / pump.step
    return delivered, gained


def relief_limited_rise(
    rise: FloatArray, slope: FloatArray, largest_flow: FloatArray, relief_pressure: float, band: float, full_flow: float
) -> tuple[FloatArray, FloatArray]:
    """Return a pump curve limited by a relief valve from its outlet to its inlet.

    The valve begins to open at the relief pressure; with no flow delivered the pressure is (1 + band) times as high, so
    the delivered curve is the lower of the pump's own and a straight line. The corner is rounded over a quarter of the
    band.

    Parameters
    ----------
    rise, slope : array (knots, points)
        Pressure rise and its slope at evenly spaced flows, Pa and Pa s/m3.
    largest_flow : array (points,)
        Largest of these flows, m3/s.
    relief_pressure, band : float
        Opening pressure of the valve, Pa, and its rise until the valve passes the whole flow, over that pressure.
    full_flow : float
        Delivered flow at which the line meets the relief pressure, m3/s.

    Returns
    -------
    rise, slope : array (knots, points)
        Pa and Pa s/m3.

    Examples
    --------
    >>> own, own_slope = np.array([[9e5], [4e5], [0.0]]), np.full((3, 1), -4.5e9)
    >>> curve, _ = relief_limited_rise(own, own_slope, np.array([2e-4]), 7e5, 0.05, 2e-4)
    >>> curve.ravel().round()
    array([735000., 400000.,      0.])
    """
    relative_flow = np.linspace(0.0, 1.0, len(rise))[:, None] * (largest_flow / full_flow)
    width = 0.25 * band * relief_pressure
    # Only the first knots, near dead-head, come near the relief pressure, unless a curve is flatter than the line.
    lowest_line = relief_pressure * (1.0 + band * (1.0 - relative_flow.max(axis=1)))
    near = int(np.max(np.flatnonzero(rise.max(axis=1) > lowest_line - width), initial=-1)) + 1
    own, line = rise[:near], relief_pressure * (1.0 + band * (1.0 - relative_flow[:near]))
    gap = own - line
    rounding = np.maximum(width - np.abs(gap), 0.0)
    weight = np.minimum(np.maximum(0.5 - gap / (2.0 * width), 0.0), 1.0)
    held, held_slope = rise.copy(), slope.copy()
    held[:near] = np.minimum(own, line) - rounding**2 / (4.0 * width)
    held_slope[:near] = weight * slope[:near] - (1.0 - weight) * (relief_pressure * band / full_flow)
    return held, held_slope


def hot_flow_factor(temperature: FloatLike, loss_over_40_kelvin: FloatLike) -> FloatArray:
    """Return the flow of hot bubble-free fuel over that at 20 degC, linear in temperature.

    Parameters
    ----------
    temperature : float or array
        Temperature of the fuel at the inlet, K.
    loss_over_40_kelvin : float or array
        Fraction of the flow lost from 20 to 60 degC: 0.03-0.08 [common_practice].

    Returns
    -------
    array
        Never below 0.5 nor above 1.1.

    Examples
    --------
    >>> float(hot_flow_factor(333.15, 0.05))
    0.95
    """
    factor = 1.0 - np.asarray(loss_over_40_kelvin) * (np.asarray(temperature, dtype=float) - 293.15) / 40.0
    result: FloatArray = np.clip(factor, 0.5, 1.1)
    return result
