"""Check valve: passes one way only, above its cracking pressure; and what every device shut backwards shares."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.laws.link import SHUT_SLOPE, Kinks, LawSample, LinkLaw, Regime, flows_both_ways
from fuelsim.typing import FloatLike, IndexArray, LinkArray, PointArray

__all__ = [
    "CHECK_VALVE",
    "SHUT_FLOW",
    "SHUT_MARGIN",
    "CheckValveCoefficients",
    "check_valve_loss",
    "check_valve_regime",
    "flows_of_shut",
    "kinks_of_shut",
    "shut_backwards",
]

SHUT_FLOW = 0.01 * L_PER_HOUR
"""A check valve or regulator with less flow than this is called shut, m3/s (0.01 L/h)."""

_RAMP = 2e-6 * L_PER_HOUR
"""Flow over which a shut direction gains its full slope, m3/s (2e-6 L/h, where it has cost 1 kPa)."""
SHUT_MARGIN = 1e6 / SHUT_SLOPE
"""How far one step of the iteration may go into a shut direction, m3/s: 1 MPa."""


class CheckValveCoefficients(NamedTuple):
    """Coefficients of `check_valve_loss`.

    Attributes
    ----------
    cracking_pressure : float or array
        Difference at which the valve opens, Pa.
    linear : float or array
        Loss of the open seat in proportion to the flow, a, Pa s/m3, positive.
    quadratic : float or array
        Loss of the open seat in proportion to the square of the flow, b, Pa s2/m6.
    """

    cracking_pressure: FloatLike
    linear: FloatLike
    quadratic: FloatLike


def kinks_of_shut(c: NamedTuple) -> Kinks:
    """Return the kinks of a law that uses `shut_backwards`: it is steep below zero flow.

    Parameters
    ----------
    c : NamedTuple
        Coefficients of the law; none of them matters.

    Returns
    -------
    Kinks

    Examples
    --------
    >>> kinks_of_shut(CheckValveCoefficients(5e3, 1e8, 1e13)).low
    0.0
    """
    return Kinks(0.0, np.inf, SHUT_MARGIN)


def shut_backwards(flow: LinkArray) -> tuple[LinkArray, LinkArray]:
    """Return the pressure that a shut valve adds below zero flow, and its slope; nothing above zero flow.

    Parameters
    ----------
    flow : array (links, points)
        Volume flow, m3/s.

    Returns
    -------
    loss, slope : array (links, points)
        Pa (zero or negative) and Pa s/m3; the slope ramps up to `SHUT_SLOPE` so that there is no corner.

    Examples
    --------
    >>> loss, slope = shut_backwards(np.array([-1e-3 / 3.6e6, 0.0, 1e-5]))
    >>> (loss / 1e6).round(2).tolist(), (slope / SHUT_SLOPE + 0.0).tolist()
    ([-1.0, 0.0, 0.0], [1.0, 0.0, 0.0])
    """
    back = np.minimum(flow, 0.0)
    ramp = np.maximum(back, -_RAMP)
    return SHUT_SLOPE * (back - ramp - ramp * ramp / (2.0 * _RAMP)), -SHUT_SLOPE / _RAMP * ramp


def flows_of_shut(most: float) -> PointArray:
    """Return flows at which a law that uses `shut_backwards` is checked.

    Parameters
    ----------
    most : float
        Greatest flow forwards, m3/s.

    Returns
    -------
    array (points,)
        From 1e-8 L/h to `most` forwards and to 2e-3 L/h, where 2 MPa are held back, backwards; some around the end of
        the ramp; m3/s.

    Examples
    --------
    >>> round(float(flows_of_shut(1e-4).min()) * SHUT_SLOPE)  # Pa
    -2000000
    """
    return flows_both_ways(1e-8 * L_PER_HOUR, most, -_RAMP, -0.5 * _RAMP, most_back=2e6 / SHUT_SLOPE)


def check_valve_loss(flow: LinkArray, c: CheckValveCoefficients) -> tuple[LinkArray, LinkArray]:
    """Return the loss of a check valve and its slope.

    Forwards the loss is p_cracking + a q + b q^2; at zero flow it takes every value below the cracking pressure, at
    the slope of something shut.

    Parameters
    ----------
    flow : array (links, points)
        Volume flow q, m3/s.
    c : CheckValveCoefficients

    Returns
    -------
    loss, slope : array (links, points)
        Pa and Pa s/m3.

    Examples
    --------
    >>> loss, slope = check_valve_loss(np.array([0.0, 1e-5, -1e-9]), CheckValveCoefficients(5e3, 1e8, 1e13))
    >>> loss.round(0).tolist()
    [5000.0, 7000.0, -3594000.0]
    """
    shut, shut_slope = shut_backwards(flow)
    forward = c.quadratic * np.maximum(flow, 0.0)
    return c.cracking_pressure + shut + flow * (c.linear + forward), c.linear + 2.0 * forward + shut_slope


def check_valve_regime(
    flow: LinkArray, p_up: LinkArray, p_down: LinkArray, p_reference: LinkArray, c: CheckValveCoefficients
) -> IndexArray:
    """Return 0 open or 1 shut, which is less flow than `SHUT_FLOW`.

    Parameters
    ----------
    flow : array (links, points)
        Volume flow, m3/s.
    p_up, p_down, p_reference : array (links, points)
        Pressures, Pa absolute; none of them matters.
    c : CheckValveCoefficients

    Returns
    -------
    int array (links, points)

    Examples
    --------
    >>> here, c = np.zeros(2), CheckValveCoefficients(5e3, 1e8, 1e13)
    >>> check_valve_regime(np.array([1e-5, -1e-12]), here, here, here, c).tolist()
    [0, 1]
    """
    return np.where(flow < SHUT_FLOW, 1, 0)


def _typical_flow(c: CheckValveCoefficients) -> LinkArray:
    return np.full_like(np.asarray(c.cracking_pressure, dtype=float), 50.0 * L_PER_HOUR)


def _sample() -> tuple[LawSample, ...]:
    """Return a valve with and one without cracking pressure; flows as `flows_of_shut`."""
    flow = flows_of_shut(200.0 * L_PER_HOUR)
    ratings = ((3e3, 1e8, 1e13), (0.0, 1e7, 1e14))
    return tuple(LawSample(CheckValveCoefficients(*rating), flow) for rating in ratings)


CHECK_VALVE = LinkLaw(
    name="check valve",
    coefficients=CheckValveCoefficients,
    loss=check_valve_loss,
    typical_flow=_typical_flow,
    kinks=kinks_of_shut,
    one_way=True,
    regimes=(Regime.OPEN, Regime.SHUT),
    regime=check_valve_regime,
    sample=_sample,
)
