"""From bench tables to the map a pump is computed with."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.errors import InputError
from fuelsim.laws.motor import PumpMap, drive_delivering
from fuelsim.numerics.bracket import bisect
from fuelsim.numerics.falling_curve import curve_value, falling_curve, straight_value
from fuelsim.parts.pump.pump_types import LOCKED_ROTOR_CURRENT
from fuelsim.typing import ArrayLike, BoolArray, FloatArray

__all__ = [
    "INTERPOLATIONS",
    "BenchRows",
    "bench_curve",
    "bench_groups",
    "build_map",
    "estimated_current",
    "typical_curve",
    "winding_resistance",
]

INTERPOLATIONS = ("smooth", "straight")

_MAP_POINTS = 1025
_REVERSE_FRACTION = 0.75
"""Reach of the map below zero flow, over the free flow."""
_BEYOND_FRACTION = 0.25
"""Reach of the map beyond the free flow, over the free flow."""
_BISECTIONS = 60
_LEAST_GAIN = 0.1
"""Least flow gained by a volt beyond the bench rows, over the median of it: continued tables must not cross
[assumed]."""
_LEAST_CURRENT = 0.1
"""Least current beyond the bench rows, over the least of theirs [assumed]."""
_CURVE_BEND = 0.4
"""Quadratic fraction of the typical falling curve, fitted to the 255 L/h class table [memory]."""


class BenchRows(NamedTuple):
    """Bench rows at one drive, sorted by flow.

    Attributes
    ----------
    drive : float
        Voltage, V, or speed of a speed-controlled pump, rpm.
    flow : array (rows,)
        Flow, m3/s, rising.
    pressure : array (rows,)
        Pressure rise, Pa, falling.
    current : array (rows,) or None
        Current, A.
    """

    drive: float
    flow: FloatArray
    pressure: FloatArray
    current: FloatArray | None


def bench_groups(
    drive: ArrayLike, flow: FloatArray, pressure: FloatArray, current: FloatArray | None
) -> list[BenchRows]:
    """Split bench rows by drive and sort each group by flow.

    Parameters
    ----------
    drive : float or array (rows,)
        Voltage, V, or speed, rpm.
    flow, pressure : array (rows,)
        Flow, m3/s, and pressure rise, Pa.
    current : array (rows,) or None
        Current, A.

    Returns
    -------
    list of BenchRows
        By rising drive.

    Raises
    ------
    InputError
        For fewer than two rows at one drive, pressures that do not fall with the flow, or less flow at more drive.

    Examples
    --------
    >>> flow, pressure = np.array([2.0, 1.0, 3.0, 2.5]), np.array([1.0, 3.0, 1.0, 2.0])
    >>> groups = bench_groups([12.0, 12.0, 13.5, 13.5], flow, pressure, None)
    >>> [(rows.drive, rows.flow.tolist()) for rows in groups]
    [(12.0, [1.0, 2.0]), (13.5, [2.5, 3.0])]
    """
    drives = np.broadcast_to(np.asarray(drive, dtype=float), np.shape(flow))
    groups = []
    for value in np.unique(drives):
        rows = np.flatnonzero(drives == value)
        rows = rows[np.argsort(flow[rows], kind="stable")]
        q, p = flow[rows], pressure[rows]
        if len(rows) < 2:
            raise InputError(
                f"only one bench point at {value:g}", given=float(q[0]), accepted="at least two points", key="flow"
            )
        if np.any(np.diff(q) <= 0.0):
            raise InputError("two bench points have the same flow", given=q.tolist(), key="flow")
        if np.any(np.diff(p) >= 0.0):
            at = int(np.argmax(np.diff(p)))
            raise InputError(
                f"the pump curve {'rises' if p[at + 1] > p[at] else 'does not fall'}: from {p[at] / 1e3:g} to "
                f"{p[at + 1] / 1e3:g} kPa while the flow grows from {q[at] / L_PER_HOUR:g} to "
                f"{q[at + 1] / L_PER_HOUR:g} L/h",
                given=p.tolist(),
                accepted="pressures that fall as the flow grows",
                key="pressure",
            )
        groups.append(BenchRows(float(value), q, p, None if current is None else current[rows]))
    for lower, higher in pairwise(groups):
        _check_gain(lower, higher)
    return groups


def _check_gain(lower: BenchRows, higher: BenchRows) -> None:
    pressure = np.concatenate([lower.pressure, higher.pressure])
    least = max(lower.pressure.min(), higher.pressure.min())
    most = min(lower.pressure.max(), higher.pressure.max())
    common = pressure[(pressure >= least) & (pressure <= most)]
    slow, fast = (np.interp(common, rows.pressure[::-1], rows.flow[::-1]) for rows in (lower, higher))
    if np.any(fast <= slow):
        raise InputError(
            f"the bench rows at {higher.drive:g} give less flow than those at {lower.drive:g} at the same pressure",
            given=higher.flow.tolist(),
            accepted="flows that grow with voltage or speed",
            key="flow",
        )


def bench_curve(rows: BenchRows, interpolation: str) -> Callable[[ArrayLike], FloatArray]:
    """Return the pressure rise over flow through bench rows, as a function.

    Parameters
    ----------
    rows : BenchRows
        Rows at one drive.
    interpolation : str
        One of `INTERPOLATIONS`: a smooth curve through the rows, or straight lines between them.

    Returns
    -------
    callable
        Pressure rise, Pa, of flows, m3/s, continued beyond the rows.

    Examples
    --------
    >>> rows = BenchRows(13.5, np.array([0.0, 1e-4, 2e-4]), np.array([6e5, 4.5e5, 0.0]), None)
    >>> [round(float(bench_curve(rows, way)(1.5e-4)) / 1e3, 1) for way in INTERPOLATIONS]
    [262.5, 225.0]
    """
    if interpolation == "straight":
        return lambda flow: straight_value(flow, rows.flow, rows.pressure)
    curve = falling_curve(rows.flow, rows.pressure)
    return lambda flow: curve_value(curve, flow)[0]


def build_map(
    groups: list[BenchRows],
    *,
    interpolation: str = "smooth",
    voltage_exponent: float,
    proportional_share: float,
    power_at_rest: float,
    power_per_pressure: float,
    voltage: float,
) -> PumpMap:
    """Return the map of a pump from its bench tables.

    The curve at the highest drive is the base. Further tables give the flow gained per unit of drive at each
    pressure; with a single one it follows from the exponent n and the share m: A(s) = n Q_free/V_bench ((1 - m) +
    m s/Q_free).

    Parameters
    ----------
    groups : list of BenchRows
        Bench rows by rising drive.
    interpolation : str
        As `bench_curve`.
    voltage_exponent, proportional_share : float
        n and m, see `PumpType`; used where there is one table only.
    power_at_rest, power_per_pressure : float
        Power over free flow, see `PumpType`; used where there are no currents.
    voltage : float
        Bench voltage, V.

    Returns
    -------
    PumpMap

    Examples
    --------
    >>> rows = BenchRows(13.5, np.array([0.0, 1e-5]), np.array([4e5, 0.0]), np.array([8.0, 4.0]))
    >>> bench = build_map([rows], voltage_exponent=1.2, proportional_share=0.0, power_at_rest=5e5,
    ...                   power_per_pressure=2.0, voltage=13.5)
    >>> round(bench.free_flow * 1e6, 6), round(float(bench.flow_per_drive[0, 0]) * 13.5 / bench.free_flow, 6)
    (10.0, 1.2)
    """
    top = groups[-1]
    base = bench_curve(top, interpolation)
    free = _free_flow(base, float(np.max(top.flow)))
    start, stop = -_REVERSE_FRACTION * free, (1.0 + _BEYOND_FRACTION) * free
    bench_flow = np.linspace(start, stop, _MAP_POINTS)
    map_pressure = base(bench_flow)

    drives = np.array([rows.drive for rows in groups])
    if len(groups) == 1:
        slope = voltage_exponent * free / top.drive
        shape = (1.0 - proportional_share) + proportional_share * np.maximum(bench_flow, 0.0) / free
        flow_per_drive = (slope * shape)[None, :]
    else:
        at_pressure = np.array(
            [_flows_at(bench_curve(rows, interpolation), map_pressure, free) for rows in groups[:-1]] + [bench_flow]
        )
        flow_per_drive = np.diff(at_pressure, axis=0) / np.diff(drives)[:, None]
        flow_per_drive = np.maximum(flow_per_drive, _LEAST_GAIN * np.median(flow_per_drive, axis=1, keepdims=True))

    if top.current is None:
        map_current = estimated_current(map_pressure, free, power_at_rest, power_per_pressure, voltage)
        per_drive = 0.0
    else:
        map_current = _current_at(top.pressure, top.current, map_pressure)
        per_drive = _current_per_drive(groups)
    edges = np.concatenate([[-np.inf], drives[1:-1], [np.inf]])
    return PumpMap(
        float(start),
        float(bench_flow[1] - bench_flow[0]),
        map_pressure,
        map_current,
        flow_per_drive,
        edges,
        top.drive,
        per_drive,
        float(free),
    )


def estimated_current(
    pressure: FloatArray | float, free_flow: float, power_at_rest: float, power_per_pressure: float, voltage: float
) -> FloatArray:
    """Return a current for a pump whose bench gave none, I = Q_free (a + b p)/V.

    Parameters
    ----------
    pressure : float or array
        Pressure rise p, Pa.
    free_flow, voltage : float
        Flow without pressure rise Q_free, m3/s, and voltage V.
    power_at_rest, power_per_pressure : float
        a, W per m3/s, and b; see `PumpType`.

    Returns
    -------
    array
        Current I, A.

    Examples
    --------
    >>> round(float(estimated_current(400e3, 318 / 3.6e6, 549e3, 1.97, 13.5)), 1)
    8.7
    """
    current: FloatArray = free_flow * (power_at_rest + power_per_pressure * np.maximum(pressure, 0.0)) / voltage
    return current


def typical_curve(first: tuple[float, float], second: tuple[float, float]) -> tuple[FloatArray, FloatArray]:
    """Return flows and pressures of a typical falling curve through two points.

    Q = Q_free (1 - (1 - b) p/p_dead - b (p/p_dead)^2) with b = 0.4.

    Parameters
    ----------
    first, second : (flow, pressure)
        Flow, m3/s, and pressure rise, Pa; the point of higher pressure must have the lower flow, which may be zero.

    Returns
    -------
    flow, pressure : array (rows,)
        m3/s, rising, and Pa, falling.

    Raises
    ------
    InputError
        If the curve would rise, or the points do not fit a falling curve.

    Examples
    --------
    >>> flow, pressure = typical_curve((0.0, 6e5), (1e-4, 3e5))
    >>> float(pressure[0]), round(float(np.interp(-3e5, -pressure, flow)) * 1e6, 6)
    (600000.0, 100.0)
    """
    (q1, p1), (q2, p2) = sorted((first, second), key=lambda point: point[1])
    if q2 >= q1 or p2 <= p1:
        raise InputError(
            "the pump curve rises",
            given=[first, second],
            accepted="two points, that of the higher pressure with the lower flow",
            key="pressure",
        )

    def relative_flow(pressure: FloatArray | float, dead: FloatArray | float) -> FloatArray:
        x = np.asarray(pressure, dtype=float) / dead
        return 1.0 - (1.0 - _CURVE_BEND) * x - _CURVE_BEND * x * x

    def lies_above(log_dead_head: FloatArray) -> BoolArray:
        dead = np.exp(log_dead_head)
        return np.asarray(q2 / q1 > relative_flow(p2, dead) / relative_flow(p1, dead))

    # The flow ratio rises with the dead-head pressure, which is searched for on a logarithmic scale.
    log_dead = bisect(lies_above, np.log(p2), np.log(1e3 * p2), _BISECTIONS)
    dead = p2 if q2 == 0.0 else float(np.exp(log_dead))
    free = q1 / float(relative_flow(p1, dead))
    # A dead-head that follows from the shape alone gets no row, so that it shows as extrapolated.
    top = dead if q2 == 0.0 else max(p2, 0.95 * dead)
    pressure = np.unique(np.concatenate([np.linspace(0.0, top, 13), [p1, p2]]))
    flow = free * relative_flow(pressure, dead)
    flow[pressure == dead] = 0.0
    return flow[::-1], pressure[::-1]


def _free_flow(curve: Callable[[ArrayLike], FloatArray], last_flow: float) -> float:
    """Return the flow of a falling curve without a pressure rise, however far beyond its last row it lies."""
    most = last_flow
    while curve(most) > 0.0:
        most = 2.0 * most
    return float(bisect(lambda flow: curve(flow) > 0.0, 0.0, most, 80))


def _flows_at(curve: Callable[[ArrayLike], FloatArray], pressure: FloatArray, free: float) -> FloatArray:
    flow = np.linspace(-3.0 * free, 3.0 * free, 24001)
    values = curve(flow)
    return np.asarray(np.interp(pressure, values[::-1], flow[::-1]))


def _current_at(bench_pressure: FloatArray, bench_current: FloatArray, pressure: FloatArray) -> FloatArray:
    """Return the current at each pressure: straight between bench points, and beyond them by I = I0 + k p."""
    order = np.argsort(bench_pressure)
    p, amps = bench_pressure[order], bench_current[order]
    slope = max(0.0, float(np.polyfit(p, amps, 1)[0]))
    inside = np.interp(pressure, p, amps)
    beyond = np.maximum(pressure - p[-1], 0.0) - np.maximum(p[0] - pressure, 0.0)
    return np.asarray(np.maximum(inside + slope * beyond, _LEAST_CURRENT * float(amps.min())))


def _current_per_drive(groups: list[BenchRows]) -> float:
    """Return the growth of current with drive at equal pressure, by least squares over all tables; 0 for one."""
    top = groups[-1]
    if top.current is None:
        return 0.0
    product = square = 0.0
    for rows in groups[:-1]:
        if rows.current is None:
            continue
        growth = np.interp(rows.pressure, top.pressure[::-1], top.current[::-1]) - rows.current
        common = (rows.pressure >= top.pressure.min()) & (rows.pressure <= top.pressure.max())
        product += float(np.sum(growth[common])) * (top.drive - rows.drive)
        square += float(np.sum(common)) * (top.drive - rows.drive) ** 2
    return max(0.0, product / square) if square > 0.0 else 0.0


def winding_resistance(bench: PumpMap, highest_pressure: float, bench_voltage: float, *, rotor: bool) -> float:
    """Return the greatest resistance of a motor's winding that the pump's curve allows, ohm.

    V = R I + k w with a current that follows the pressure: at the least voltage that delivers anything at a pressure
    the motor turns at least as fast as it slips, so that R is at most that voltage over the current. Its locked-rotor
    current is the voltage over R: at bench voltage at most `LOCKED_ROTOR_CURRENT` times the greatest current of the
    bench. A solenoid pump has no rotor: the mean current of its coil is in proportion to the voltage at most, and at
    bench voltage the greatest of the bench.

    Parameters
    ----------
    bench : PumpMap
        The pump along its bench curve.
    highest_pressure : float
        Greatest pressure rise of the bench rows, Pa.
    bench_voltage : float
        Highest voltage tested, V.
    rotor : bool
        Whether a motor turns the pump.

    Returns
    -------
    float

    Examples
    --------
    >>> from fuelsim.parts.pump.pump import Pump
    >>> pump = Pump.named("in_tank_220")
    >>> resistance = winding_resistance(pump.map, 600e3, 13.5, rotor=True)
    >>> 13.5 / resistance < LOCKED_ROTOR_CURRENT * 11.3
    True
    """
    pressure = np.linspace(0.0, highest_pressure, 9)
    current = np.interp(pressure, bench.pressure[::-1], bench.current[::-1])
    of_bench = bench_voltage / max(float(np.max(current)), 1e-9)
    if not rotor:
        return of_bench
    of_curve = np.min(np.maximum(drive_delivering(bench, 0.0, pressure), 0.0) / np.maximum(current, 1e-9))
    return max(float(of_curve), of_bench / LOCKED_ROTOR_CURRENT)
