"""Pressure regulators: return (back-pressure) and reducing.

Each is one smooth, monotone equation that covers every state of the device, so the solver needs no assumption on the
state; the state is derived from the solution afterwards.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.laws.link import SHUT_SLOPE, LawSample, LinkEquation, LinkLaw, Regime
from fuelsim.laws.valve import SHUT_FLOW, flows_of_shut, kinks_of_shut, shut_backwards
from fuelsim.numerics.smooth import smooth_maximum, smooth_minimum
from fuelsim.typing import FloatLike, IndexArray, LinkArray

__all__ = [
    "REDUCING_REGULATOR",
    "RETURN_REGULATOR",
    "ReducingRegulatorCoefficients",
    "ReturnRegulatorCoefficients",
    "reducing_regulator_equation",
    "reducing_regulator_regime",
    "return_regulator_equation",
    "return_regulator_regime",
]


class ReturnRegulatorCoefficients(NamedTuple):
    """Coefficients of `return_regulator_equation`.

    Attributes
    ----------
    set_pressure : float or array
        Pressure over the reference at which the regulator opens, Pa.
    droop : float or array
        Rise of the held pressure with the flow, Pa s/m3.
    open_linear, open_quadratic : float or array
        Loss of the wide-open seat, a and b of W(q) = a q + b q|q|, Pa s/m3 and Pa s2/m6.
    back_pressure_coupling : float or array
        Fraction of the back pressure over the reference that adds to the held pressure, 0 to 1.
    """

    set_pressure: FloatLike
    droop: FloatLike
    open_linear: FloatLike
    open_quadratic: FloatLike
    back_pressure_coupling: FloatLike


class ReducingRegulatorCoefficients(NamedTuple):
    """Coefficients of `reducing_regulator_equation`.

    Attributes
    ----------
    set_pressure : float or array
        Pressure over the reference that is held at zero flow, Pa.
    droop : float or array
        Fall of the held pressure with the flow, Pa s/m3.
    open_linear, open_quadratic : float or array
        Loss of the wide-open seat, a and b of W(q) = a q + b q|q|, Pa s/m3 and Pa s2/m6.
    """

    set_pressure: FloatLike
    droop: FloatLike
    open_linear: FloatLike
    open_quadratic: FloatLike


_SEAT_TIGHTNESS = 10.0
"""How many times less than a check valve a shut seat leaks: a return regulator leaks all the time that it is shut, and
these 3e-5 L/h at 300 kPa must stay below the tolerance of the solver, 1e-6 of the largest flow."""
_NO_SET_PRESSURE = 1e12
"""Set pressure that nothing reaches, Pa."""


def _wide_open(flow: LinkArray, linear: FloatLike, quadratic: FloatLike) -> tuple[LinkArray, LinkArray]:
    """Return the loss of the open seat, W(q) = a q + b q|q|, and its slope."""
    size = quadratic * np.abs(flow)
    return flow * (linear + size), linear + 2.0 * size


def return_regulator_equation(
    flow: LinkArray, p_up: LinkArray, p_down: LinkArray, p_reference: LinkArray, c: ReturnRegulatorCoefficients
) -> LinkEquation:
    """Return the equation of a return regulator, which holds the pressure upstream of it.

    E = smoothmin(S q, smoothmax(p_ref + set + droop q + c (p_down - p_ref) - p_down, W(q))) - (p_up - p_down), with W
    the loss of the wide-open seat, c the fraction of the back pressure that adds to the set pressure, and S the slope
    of a shut seat. Shut, it is driven by the difference across the seat alone, so that it leaks the way the pressures
    are, whatever stands behind it: nothing is drawn backwards out of a return that is closed too.

    Parameters
    ----------
    flow : array (links, points)
        Volume flow q, m3/s.
    p_up, p_down, p_reference : array (links, points)
        Pressures, Pa absolute.
    c : ReturnRegulatorCoefficients

    Returns
    -------
    LinkEquation

    Examples
    --------
    The equation is met by 300 kPa and a droop of 288 kPa s/L over 0.01 L/s:

    >>> c = ReturnRegulatorCoefficients(3e5, 2.88e8, 0.0, 5e13, 0.0)
    >>> E = return_regulator_equation(1e-5, 101325.0 + 302880.0, 101325.0, 101325.0, c)
    >>> bool(abs(E.residual) < 0.1)
    True
    """
    seat, seat_slope = _wide_open(flow, c.open_linear, c.open_quadratic)
    difference = p_up - p_down
    held = p_reference + c.set_pressure + c.droop * flow + c.back_pressure_coupling * (p_down - p_reference)
    opened, regulating = smooth_maximum(held - p_up, seat - difference)
    residual, shut = smooth_minimum(_SEAT_TIGHTNESS * SHUT_SLOPE * flow - difference, opened)
    held_open = 1.0 - shut
    regulating = held_open * regulating
    wide_open = held_open - regulating
    return LinkEquation(
        residual=residual,
        flow_slope=shut * _SEAT_TIGHTNESS * SHUT_SLOPE + regulating * c.droop + wide_open * seat_slope,
        up_slope=1.0,
        down_slope=shut + wide_open + regulating * c.back_pressure_coupling,
        reference_slope=regulating * (1.0 - c.back_pressure_coupling),
    )


def return_regulator_regime(
    flow: LinkArray, p_up: LinkArray, p_down: LinkArray, p_reference: LinkArray, c: ReturnRegulatorCoefficients
) -> IndexArray:
    """Return 0 regulating, 1 shut, 2 wide open.

    Parameters
    ----------
    flow, p_up, p_down, p_reference, c
        As `return_regulator_equation`.

    Returns
    -------
    int array (links, points)

    Examples
    --------
    >>> c, outside = ReturnRegulatorCoefficients(3e5, 2.88e8, 0.0, 5e13, 0.0), np.full(3, 1e5)
    >>> return_regulator_regime(np.array([1e-5, 0.0, 1e-4]), np.full(3, 4e5), outside, outside, c).tolist()
    [0, 1, 2]
    """
    seat, _ = _wide_open(flow, c.open_linear, c.open_quadratic)
    held = p_reference + c.set_pressure + c.droop * flow + c.back_pressure_coupling * (p_down - p_reference)
    return np.where(flow < SHUT_FLOW, 1, np.where(held < p_down + seat, 2, 0))


def reducing_regulator_equation(
    flow: LinkArray, p_up: LinkArray, p_down: LinkArray, p_reference: LinkArray, c: ReducingRegulatorCoefficients
) -> LinkEquation:
    """Return the equation of a reducing regulator, which holds the pressure downstream of it.

    E = p_down - smoothmin(p_ref + set - droop q, p_up - W(q)) + shut(q), with W the loss of the wide-open seat. Shut,
    it leaks backwards in proportion to what the outlet stands over the set pressure, not to the difference across the
    seat, so that a zone that draws nothing is held at the set pressure.

    Parameters
    ----------
    flow : array (links, points)
        Volume flow q, m3/s.
    p_up, p_down, p_reference : array (links, points)
        Pressures, Pa absolute.
    c : ReducingRegulatorCoefficients

    Returns
    -------
    LinkEquation

    Examples
    --------
    The equation is met by 30 kPa less a droop of 2.88 kPa:

    >>> c = ReducingRegulatorCoefficients(3e4, 2.88e8, 0.0, 5e13)
    >>> E = reducing_regulator_equation(1e-5, 5e5, 101325.0 + 27120.0, 101325.0, c)
    >>> bool(abs(E.residual) < 0.1)
    True
    """
    seat, seat_slope = _wide_open(flow, c.open_linear, c.open_quadratic)
    shut, shut_slope = (_SEAT_TIGHTNESS * value for value in shut_backwards(flow))
    held = p_reference + c.set_pressure - c.droop * flow
    given, regulating = smooth_minimum(held, p_up - seat)
    wide_open = 1.0 - regulating
    return LinkEquation(
        residual=p_down - given + shut,
        flow_slope=regulating * c.droop + wide_open * seat_slope + shut_slope,
        up_slope=wide_open,
        down_slope=1.0,
        reference_slope=-regulating,
    )


def reducing_regulator_regime(
    flow: LinkArray, p_up: LinkArray, p_down: LinkArray, p_reference: LinkArray, c: ReducingRegulatorCoefficients
) -> IndexArray:
    """Return 0 regulating, 1 shut, 2 wide open.

    Parameters
    ----------
    flow, p_up, p_down, p_reference, c
        As `reducing_regulator_equation`.

    Returns
    -------
    int array (links, points)

    Examples
    --------
    >>> c, outside = ReducingRegulatorCoefficients(3e4, 2.88e8, 0.0, 5e13), np.full(3, 1e5)
    >>> flow, inlet = np.array([1e-5, 0.0, 1e-5]), np.array([5e5, 5e5, 1.1e5])
    >>> reducing_regulator_regime(flow, inlet, outside, outside, c).tolist()
    [0, 1, 2]
    """
    seat, _ = _wide_open(flow, c.open_linear, c.open_quadratic)
    held = p_reference + c.set_pressure - c.droop * flow
    return np.where(flow < SHUT_FLOW, 1, np.where(p_up - seat < held, 2, 0))


def _typical_flow(c: ReturnRegulatorCoefficients | ReducingRegulatorCoefficients) -> LinkArray:
    return np.full_like(np.asarray(c.set_pressure, dtype=float), 30.0 * L_PER_HOUR)


def _never_regulating(c: ReducingRegulatorCoefficients) -> ReducingRegulatorCoefficients:
    return c._replace(set_pressure=np.full_like(np.asarray(c.set_pressure, dtype=float), _NO_SET_PRESSURE))


_SAMPLE_SET_PRESSURE = 3e5
_MOST_SAMPLED_FLOW = 250.0 * L_PER_HOUR


def _sample_of_return_regulator() -> tuple[LawSample, ...]:
    """Return a balanced seat and one with coupling, set at 300 kPa; flows up to 250 L/h as `flows_of_shut`."""
    ratings = ((_SAMPLE_SET_PRESSURE, 2.88e8, 2e7, 5e13, coupling) for coupling in (0.0, 0.03))
    joins = (_SAMPLE_SET_PRESSURE,)
    return tuple(
        LawSample(ReturnRegulatorCoefficients(*rating), flows_of_shut(_MOST_SAMPLED_FLOW), joins) for rating in ratings
    )


def _sample_of_reducing_regulator() -> tuple[LawSample, ...]:
    """Return a small and a large droop, set at 300 kPa; flows up to 250 L/h as `flows_of_shut`."""
    ratings = ((_SAMPLE_SET_PRESSURE, droop, 2e7, 5e13) for droop in (2.88e8, 5e9))
    joins = (_SAMPLE_SET_PRESSURE,)
    return tuple(
        LawSample(ReducingRegulatorCoefficients(*rating), flows_of_shut(_MOST_SAMPLED_FLOW), joins)
        for rating in ratings
    )


_REGIMES = (Regime.REGULATING, Regime.SHUT, Regime.WIDE_OPEN)

RETURN_REGULATOR = LinkLaw(
    name="return regulator",
    coefficients=ReturnRegulatorCoefficients,
    equation=return_regulator_equation,
    typical_flow=_typical_flow,
    kinks=kinks_of_shut,
    one_way=True,
    regimes=_REGIMES,
    regime=return_regulator_regime,
    sample=_sample_of_return_regulator,
)
REDUCING_REGULATOR = LinkLaw(
    name="reducing regulator",
    coefficients=ReducingRegulatorCoefficients,
    equation=reducing_regulator_equation,
    typical_flow=_typical_flow,
    kinks=kinks_of_shut,
    head_applied_at="up",
    one_way=True,
    wide_open=_never_regulating,
    regimes=_REGIMES,
    regime=reducing_regulator_regime,
    sample=_sample_of_reducing_regulator,
)
