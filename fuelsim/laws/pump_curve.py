r"""The law of a pump in the network: its pressure rise over flow, a falling curve on evenly spaced knots.

The link equation of a pump is

.. math:: E = -r(q) - (p_{up} - p_{down}) = 0, \qquad p_{down} = p_{up} + r(q)

where r(q) is the pressure rise. Between zero and the run-out flow Q, r is the cubic Hermite curve through the knots
q_k = k Q/(n - 1), k = 0 ... n - 1, with the tabulated rises r_k and slopes r'_k (continuous in value and slope).
Outside [0, Q] the curve continues with a slope that rises to (r_0 - r_{n-1})/(Q/(n - 1)) over one knot's width, so that
reverse and over-run flow stay bounded. A pump with its own check valve shuts below zero flow as `shut_backwards` does.

Speed, voltage, wire, relief valve, wear and vapour are all in the table (`fuelsim.laws.motor` makes it from a bench
curve), so that a batch of operating points is a batch of tables.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.laws.link import Kinks, LawSample, LinkLaw, Regime, flows_both_ways
from fuelsim.laws.valve import SHUT_MARGIN, flows_of_shut, shut_backwards
from fuelsim.numerics.cubic import falling_slopes, hermite
from fuelsim.typing import ArrayLike, FloatArray, FloatLike, IndexArray, LinkArray

__all__ = [
    "PUMP_CURVE",
    "PUMP_KNOTS",
    "STRAIGHT_PUMP_KNOTS",
    "PumpCoefficients",
    "PumpTable",
    "pump_loss",
    "pump_regime",
    "standing_table",
    "uniform_table",
    "with_equal_knots",
]

PUMP_KNOTS = 33
"""Number of evenly spaced knots of a pump curve."""
STRAIGHT_PUMP_KNOTS = 257
"""Number of knots of a pump curve that is straight between bench rows: each cell of `PUMP_KNOTS` divided by 8."""

_TILT = 1e-6
"""Linear fall added to a curve, over its range, so that flat stretches have a slope."""


class PumpCoefficients(NamedTuple):
    """Coefficients of `pump_loss`.

    Attributes
    ----------
    largest_flow : float or array (links, 1 or points)
        Run-out flow, m3/s.
    rise : array (knots, links, 1 or points)
        Pressure rise at evenly spaced flows from zero to the largest, Pa.
    slope : array (knots, links, 1 or points)
        Slope of the pressure rise at these flows, Pa s/m3, negative.
    relief_pressure : float or array (links, 1 or points)
        Rise at which the pump's own relief valve opens, Pa, infinite without one; used by `pump_regime` alone.
    check_valve : float or array (links, 1 or points)
        1 for a pump with its own check valve, 0 without.
    """

    largest_flow: FloatLike
    rise: FloatArray
    slope: FloatArray
    relief_pressure: FloatLike
    check_valve: FloatLike = 0.0


class PumpTable(NamedTuple):
    """A falling curve on evenly spaced knots.

    Attributes
    ----------
    largest_flow : array () or (points,)
        Run-out flow, m3/s.
    rise, slope : array (knots,) or (knots, points)
        Pa and Pa s/m3 at ``linspace(0, largest_flow, knots)``.
    """

    largest_flow: FloatArray
    rise: FloatArray
    slope: FloatArray


def pump_loss(flow: LinkArray, c: PumpCoefficients) -> tuple[LinkArray, LinkArray]:
    """Return the loss of a pump, which is minus its pressure rise.

    Parameters
    ----------
    flow : array (links, points)
        Volume flow, m3/s.
    c : PumpCoefficients

    Returns
    -------
    loss, slope : array (links, points)
        Pa and Pa s/m3; the slope is positive everywhere.

    Examples
    --------
    >>> largest, rise, slope = uniform_table(np.array([0.0, 1e-4]), np.array([4e5, 0.0]))
    >>> c = PumpCoefficients(largest, rise[:, None, None], slope[:, None, None], np.inf)
    >>> loss, _ = pump_loss(np.array([[0.5e-4]]), c)
    >>> loss.round(0)
    array([[-200000.]])
    """
    last = c.rise.shape[0] - 1
    step = c.largest_flow / last
    inside = np.minimum(np.maximum(flow, 0.0), c.largest_flow)
    beyond = flow - inside
    t = inside / step
    with np.errstate(invalid="ignore"):
        knot = np.minimum(t.astype(np.intp), last - 1)
    t -= knot
    at_knot, at_next = _indices(c.rise, knot)
    # Indices are clipped because a flow that is not a number must not raise for the whole batch.
    flat = c.rise.reshape(-1)
    left, right = flat.take(at_knot, mode="clip"), flat.take(at_next, mode="clip")
    if c.slope.shape != c.rise.shape:
        at_knot, at_next = _indices(c.slope, knot)
    flat = c.slope.reshape(-1)
    slope_left, slope_right = flat.take(at_knot, mode="clip"), flat.take(at_next, mode="clip")
    value, tangent = hermite(t, left, right, slope_left * step, slope_right * step)
    tangent /= step
    if not beyond.any():
        return np.negative(value, out=value), np.negative(tangent, out=tangent)
    # Outside: the end slope, and a steep slope that ramps up over one knot's width, which keeps the slope continuous.
    steep = (c.rise[0] - c.rise[-1]) / step
    ramp = np.minimum(np.maximum(beyond, -step), step)
    size = np.abs(ramp)
    extra = steep * (ramp * size / (2.0 * step) + beyond - ramp)
    shut, shut_slope = shut_backwards(flow)
    loss = -value - tangent * beyond + extra + c.check_valve * shut
    return loss, -tangent + steep * size / step + c.check_valve * shut_slope


def _indices(table: FloatArray, knot: IndexArray) -> tuple[IndexArray, IndexArray]:
    """Return where the rows ``knot`` and ``knot + 1`` of a table (knots, links, 1 or points) are in its flat form.

    Rises may be common to all points while slopes differ from point to point, so each table has its own stride.
    """
    stride = table.shape[1] * table.shape[2]
    index = knot if stride == 1 else knot * stride + np.arange(stride).reshape(table.shape[1:])
    return index, index + stride


def with_equal_knots(pumps: Sequence[PumpCoefficients]) -> list[PumpCoefficients]:
    """Return the coefficients of several pumps with the same number of knots: the greatest.

    Parameters
    ----------
    pumps : sequence of PumpCoefficients
        Coefficients of one pump each, with tables of shape (knots,) or (knots, points).

    Returns
    -------
    list of PumpCoefficients
        Equal curves: the cubic of a cell is divided, which is exact where the number of cells is a multiple.

    Examples
    --------
    >>> coarse, fine = (PumpCoefficients(*uniform_table([0.0, 1e-4], [4e5, 0.0], n), np.inf) for n in (3, 5))
    >>> with_equal_knots([coarse, fine])[0].rise.round(6).tolist() == fine.rise.round(6).tolist()
    True
    """
    most = max(len(pump.rise) for pump in pumps)
    return [pump if len(pump.rise) == most else _refined(pump, most) for pump in pumps]


def _refined(pump: PumpCoefficients, knots: int) -> PumpCoefficients:
    """Return the same curve on another number of knots."""
    cells = len(pump.rise) - 1
    position = np.linspace(0.0, cells, knots)
    knot = np.minimum(position.astype(np.intp), cells - 1)
    # Flow, rise and slope may each be common to all points or not.
    several = max(np.ndim(pump.rise), np.ndim(pump.slope), np.ndim(pump.largest_flow) + 1) > 1
    rise, slope = (table[:, None] if several and table.ndim == 1 else table for table in (pump.rise, pump.slope))
    t = (position - knot)[:, None] if several else position - knot
    step = np.asarray(pump.largest_flow) / cells
    value, tangent = hermite(t, rise[knot], rise[knot + 1], slope[knot] * step, slope[knot + 1] * step)
    return pump._replace(rise=value, slope=tangent / step)


def pump_regime(
    flow: LinkArray, p_up: LinkArray, p_down: LinkArray, p_reference: LinkArray, c: PumpCoefficients
) -> IndexArray:
    """Return the index of the pump's state.

    0 pumping, 1 dead-headed, 2 relieving, 3 past run-out, 4 reverse, 5 shut by its own check valve, 6 stopped (a pump
    without any pressure rise at no flow, which is switched off).

    Parameters
    ----------
    flow : array (links, points)
        Volume flow, m3/s.
    p_up, p_down, p_reference : array (links, points)
        Pressure of inlet and outlet, and of the reference, which does not matter, Pa absolute.
    c : PumpCoefficients

    Returns
    -------
    int array (links, points)

    Examples
    --------
    >>> c = PumpCoefficients(1e-4, np.array([8e5, 0.0])[:, None, None], np.full((2, 1, 1), -8e9), 7e5)
    >>> flow, outlet = np.array([[5e-5, 0.0, 1e-6, 1.1e-4, -1e-6]]), np.array([[4e5, 6e5, 7.1e5, 0.0, 8.1e5]])
    >>> pump_regime(flow, np.zeros((1, 5)), outlet, np.zeros((1, 5)), c).tolist()
    [[0, 1, 2, 3, 4]]
    >>> pump_regime(flow, np.zeros((1, 5)), outlet, np.zeros((1, 5)), c._replace(check_valve=1.0)).tolist()
    [[0, 1, 2, 3, 5]]
    """
    rise = p_down - p_up
    regime = np.where(np.abs(flow) <= 1e-6 * c.largest_flow, 1, 0)
    regime = np.where(rise > c.relief_pressure, 2, regime)
    regime = np.where(flow > c.largest_flow * (1.0 + 1e-9), 3, regime)
    regime = np.where(flow < -1e-6 * c.largest_flow, 4, regime)
    regime = np.where((np.asarray(c.check_valve) > 0.0) & (flow < 0.0) & (rise > c.rise[0]), 5, regime)
    return np.where(c.rise[0] <= 0.0, 6, regime)


def uniform_table(flow: ArrayLike, pressure: ArrayLike, knots: int = PUMP_KNOTS) -> PumpTable:
    """Put a falling curve of pressure rise over flow on evenly spaced knots.

    The curve is the monotone cubic through the given points. It is continued straight to zero flow and, downwards, to
    zero rise (at most to twice the last flow), so that a bench table may start and end anywhere.

    Parameters
    ----------
    flow : array (n,) or (n, points)
        Volume flow, m3/s, rising along the first axis, not negative.
    pressure : array (n,) or (n, points)
        Pressure rise, Pa, falling along the first axis.
    knots : int, optional
        Number of knots.

    Returns
    -------
    PumpTable

    Examples
    --------
    A bench table that starts at 200 kPa is continued to zero rise:

    >>> largest, rise, slope = uniform_table(np.array([110e-6, 120e-6]), np.array([300e3, 200e3]))
    >>> round(float(largest) * 1e6, 3), round(float(rise[0]) / 1e3)
    (140.0, 1400)
    """
    flow = np.asarray(flow, dtype=float)
    pressure = np.asarray(pressure, dtype=float)
    single = flow.ndim == 1 and pressure.ndim == 1
    flow, pressure = np.broadcast_arrays(*(x[:, None] if x.ndim == 1 else x for x in (flow, pressure)))
    tangent = _monotone_slopes(flow, pressure)
    last_flow, last_rise = flow[-1], pressure[-1]
    further = np.minimum(np.maximum(last_rise, 0.0) / -tangent[-1], last_flow)
    largest = last_flow + further
    at = np.linspace(0.0, 1.0, knots)[:, None] * largest

    index = np.zeros(at.shape, dtype=np.intp)
    for row in flow[1:-1]:
        index += at >= row
    left_flow, right_flow = (np.take_along_axis(flow, index + shift, axis=0) for shift in (0, 1))
    left, right = (np.take_along_axis(pressure, index + shift, axis=0) for shift in (0, 1))
    slope_left, slope_right = (np.take_along_axis(tangent, index + shift, axis=0) for shift in (0, 1))
    width = right_flow - left_flow
    inside = np.clip(at, flow[0], flow[-1])
    t = (inside - left_flow) / width
    rise, slope = hermite(t, left, right, slope_left * width, slope_right * width)
    slope = slope / width
    rise = rise + slope * (at - inside)

    extent = rise[0] - rise[-1]
    rise = rise + _TILT * extent * (1.0 - at / largest)
    step = largest / (knots - 1)
    secant = np.diff(rise, axis=0) / step
    slope = falling_slopes(slope, secant, -extent / largest)
    if single:
        return PumpTable(largest[0], rise[:, 0], slope[:, 0])
    return PumpTable(largest, rise, slope)


def standing_table(largest_flow: FloatLike, loss_per_flow: FloatLike, knots: int) -> PumpTable:
    """Return the curve of a pump at rest: fuel that is pushed through it loses pressure in proportion to its flow.

    Parameters
    ----------
    largest_flow : float or array (points,)
        Flow at which the table ends, m3/s.
    loss_per_flow : float or array (points,)
        Loss over the flow, Pa s/m3.
    knots : int
        Number of knots.

    Returns
    -------
    PumpTable

    Examples
    --------
    >>> standing_table(1e-4, 1e9, 3).rise.tolist()
    [-0.0, -50000.0, -100000.0]
    """
    largest, per_flow = np.broadcast_arrays(*(np.asarray(x, dtype=float) for x in (largest_flow, loss_per_flow)))
    fraction = np.linspace(0.0, 1.0, knots).reshape(-1, *(1,) * largest.ndim)
    rise = -per_flow * largest * fraction
    return PumpTable(largest, rise, np.full_like(rise, -per_flow))


def _monotone_slopes(x: FloatArray, y: FloatArray) -> FloatArray:
    """Return slopes of a monotone cubic through falling data: those of the parabola through three points, limited."""
    width = np.diff(x, axis=0)
    secant = np.diff(y, axis=0) / width
    if len(secant) == 1:
        return np.repeat(secant, 2, axis=0)
    before, after = width[:-1], width[1:]
    inner = (before * secant[1:] + after * secant[:-1]) / (before + after)
    first = secant[0] + (secant[0] - inner[0])
    last = secant[-1] + (secant[-1] - inner[-1])
    slopes = np.concatenate([first[None], inner, last[None]])
    return falling_slopes(slopes, secant, secant.mean(axis=0))


def _typical_flow(c: PumpCoefficients) -> LinkArray:
    return np.asarray(0.6 * c.largest_flow)


def _kinks(c: PumpCoefficients) -> Kinks:
    # One knot's width, or with a check valve (check_valve 1) the margin of a shut direction.
    margin = c.largest_flow / (c.rise.shape[0] - 1)
    return Kinks(0.0, c.largest_flow, margin + c.check_valve * (SHUT_MARGIN - margin))


def _sample() -> tuple[LawSample, ...]:
    """Return a parabolic pump and one with a steep end, and the former with a check valve.

    Flows from 1e-3 to 230 L/h both ways and around both ends; with a check valve as `flows_of_shut`.
    """
    fraction = np.linspace(0.0, 1.0, 9)
    most = 200.0 * L_PER_HOUR
    flow = flows_both_ways(1e-3 * L_PER_HOUR, 1.15 * most, most, (1.0 + 1.0 / (PUMP_KNOTS - 1)) * most)
    tables = [uniform_table(most * fraction, 6e5 * (1.0 - fraction**exponent)) for exponent in (2, 8)]
    pumps = [
        PumpCoefficients(table.largest_flow, table.rise[:, None, None], table.slope[:, None, None], np.inf)
        for table in tables
    ]
    with_valve = LawSample(pumps[0]._replace(check_valve=1.0), flows_of_shut(1.15 * most))
    return (*(LawSample(pump, flow) for pump in pumps), with_valve)


PUMP_CURVE = LinkLaw(
    name="pump curve",
    coefficients=PumpCoefficients,
    tables=("rise", "slope"),
    align=with_equal_knots,
    loss=pump_loss,
    typical_flow=_typical_flow,
    kinks=_kinks,
    regimes=(
        Regime.PUMPING,
        Regime.DEAD_HEADED,
        Regime.RELIEVING,
        Regime.PAST_RUN_OUT,
        Regime.REVERSE,
        Regime.CHECK_VALVE_SHUT,
        Regime.STOPPED,
    ),
    regime=pump_regime,
    sample=_sample,
)
