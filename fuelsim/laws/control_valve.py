"""Valves that hold a flow, and losses given by a curve."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.laws.link import LawSample, LinkEquation, LinkLaw, Regime, flows_both_ways
from fuelsim.laws.pump_curve import uniform_table
from fuelsim.laws.valve import SHUT_FLOW, flows_of_shut, kinks_of_shut, shut_backwards
from fuelsim.numerics.cubic import hermite
from fuelsim.numerics.smooth import smooth_maximum
from fuelsim.typing import ArrayLike, FloatArray, FloatLike, IndexArray, LinkArray

__all__ = [
    "FLOW_CONTROL_VALVE",
    "LOSS_CURVE",
    "FlowControlCoefficients",
    "LossCurveCoefficients",
    "flow_control_equation",
    "flow_control_regime",
    "loss_curve_coefficients",
    "loss_curve_loss",
]

_RATED_DIFFERENCE = 3e5
_CORNER = 10.0
"""Rounding where holding the flow gives way to the wide-open valve, Pa."""
_LEAST_SET_FLOW = 1e-3
"""Fraction of the wide-open flow at the rated difference below which the stiffness of holding does not grow further."""
_LEAK = 1e-7
"""Leak over the wide-open flow, at the rated difference: fixes a pressure that nothing else does."""


class FlowControlCoefficients(NamedTuple):
    """Coefficients of `flow_control_equation`.

    Attributes
    ----------
    set_flow : float or array
        Flow that is not exceeded, m3/s, not negative.
    open_linear : float or array
        a of the loss a q + b q|q| of the wide-open valve, Pa s/m3, positive.
    open_quadratic : float or array
        b of that loss, Pa s2/m6, positive.
    """

    set_flow: FloatLike
    open_linear: FloatLike
    open_quadratic: FloatLike


def flow_control_equation(
    flow: LinkArray, p_up: LinkArray, p_down: LinkArray, p_reference: LinkArray, c: FlowControlCoefficients
) -> LinkEquation:
    """Return the equation of a valve that passes what the pressures drive, but no more than its set flow.

    E = smoothmax(a q + b q|q| + shut(q) - (p_up - p_down), R (q - set - leak)): the first term is zero where the valve
    is wide open, the second where it holds its flow. The flow backwards is a negligible leak.

    Parameters
    ----------
    flow : array (links, points)
        Volume flow q, m3/s.
    p_up, p_down, p_reference : array (links, points)
        Pressures, Pa absolute; the reference does not matter.
    c : FlowControlCoefficients

    Returns
    -------
    LinkEquation

    Examples
    --------
    Set to 36 L/h, the valve passes 36 L/h at any difference above that which drives 36 L/h through it wide open:

    >>> c = FlowControlCoefficients(1e-5, 1e7, 1e13)
    >>> holds = flow_control_equation(1e-5, 4e5, 1e5, 0.0, c)
    >>> open_ = flow_control_equation(5e-6, 1e5 + 300.0, 1e5, 0.0, c)
    >>> bool(abs(holds.residual) < 1.0), bool(abs(open_.residual) < 1.0)
    (True, True)
    """
    difference = p_up - p_down
    size = c.open_quadratic * np.abs(flow)
    shut, shut_slope = shut_backwards(flow)
    rated = np.sqrt(_RATED_DIFFERENCE / c.open_quadratic)
    stiffness = _RATED_DIFFERENCE / np.maximum(c.set_flow, _LEAST_SET_FLOW * rated)
    leak = _LEAK * rated / _RATED_DIFFERENCE
    over = stiffness * (flow - c.set_flow - leak * difference)
    residual, wide_open = smooth_maximum(flow * (c.open_linear + size) + shut - difference, over, _CORNER)
    holding = 1.0 - wide_open
    pressure_slope = wide_open + holding * stiffness * leak
    return LinkEquation(
        residual=residual,
        flow_slope=wide_open * (c.open_linear + 2.0 * size + shut_slope) + holding * stiffness,
        up_slope=pressure_slope,
        down_slope=pressure_slope,
        reference_slope=0.0,
    )


def flow_control_regime(
    flow: LinkArray, p_up: LinkArray, p_down: LinkArray, p_reference: LinkArray, c: FlowControlCoefficients
) -> IndexArray:
    """Return 0 regulating, 1 shut, 2 wide open.

    Parameters
    ----------
    flow, p_up, p_down, p_reference, c
        As `flow_control_equation`.

    Returns
    -------
    int array (links, points)

    Examples
    --------
    >>> c = FlowControlCoefficients(1e-5, 1e7, 1e13)
    >>> here = np.zeros(3)
    >>> flow_control_regime(np.array([1e-5, 0.0, 5e-6]), here, here, here, c).tolist()
    [0, 1, 2]
    """
    regime = np.where(flow < (1.0 - 1e-3) * np.asarray(c.set_flow), 2, 0)
    return np.where(flow < SHUT_FLOW, 1, regime)


def _typical_flow_of_control(c: FlowControlCoefficients) -> LinkArray:
    return np.asarray(np.maximum(c.set_flow, L_PER_HOUR))


def _sample_of_control() -> tuple[LawSample, ...]:
    """Return valves set to little and to much; flows as `flows_of_shut` up to 250 L/h."""
    flow = flows_of_shut(250.0 * L_PER_HOUR)
    return tuple(LawSample(FlowControlCoefficients(set_flow, 1e7, 5e13), flow) for set_flow in (1e-6, 5e-5))


FLOW_CONTROL_VALVE = LinkLaw(
    name="flow control valve",
    coefficients=FlowControlCoefficients,
    equation=flow_control_equation,
    typical_flow=_typical_flow_of_control,
    kinks=kinks_of_shut,
    one_way=True,
    regimes=(Regime.REGULATING, Regime.SHUT, Regime.WIDE_OPEN),
    regime=flow_control_regime,
    sample=_sample_of_control,
)


class LossCurveCoefficients(NamedTuple):
    """Coefficients of `loss_curve_loss`.

    Attributes
    ----------
    largest_flow : float or array
        Last flow of the curve, m3/s.
    loss : array (knots,) or (knots, links, points)
        Loss at evenly spaced flows from zero to the last one, Pa.
    slope : array (knots,) or (knots, links, points)
        Slope of the loss at these flows, Pa s/m3, positive.
    """

    largest_flow: FloatLike
    loss: FloatArray
    slope: FloatArray


def loss_curve_coefficients(flow: ArrayLike, pressure: ArrayLike) -> LossCurveCoefficients:
    """Return the coefficients of a loss that is given at some flows.

    Parameters
    ----------
    flow : array (n,)
        Volume flows, m3/s, positive and rising; no loss at no flow is added.
    pressure : array (n,)
        Losses there, Pa, positive and rising.

    Returns
    -------
    LossCurveCoefficients

    Examples
    --------
    >>> c = loss_curve_coefficients([1e-5, 2e-5], [1e3, 4e3])
    >>> c.largest_flow, float(c.loss[0]), round(float(c.loss[-1]))
    (2e-05, 0.0, 4000)
    """
    flows = np.concatenate([[0.0], np.asarray(flow, dtype=float)])
    losses = np.concatenate([[0.0], np.asarray(pressure, dtype=float)])
    table = uniform_table(flows, -losses)
    return LossCurveCoefficients(float(table.largest_flow), table.rise[0] - table.rise, -table.slope)


def loss_curve_loss(flow: LinkArray, c: LossCurveCoefficients) -> tuple[LinkArray, LinkArray]:
    """Return the loss of a curve and its slope: a monotone cubic through its points, straight beyond, odd in the flow.

    Parameters
    ----------
    flow : array (links, points)
        Volume flow, m3/s.
    c : LossCurveCoefficients
        Tables of shape (knots, links, 1 or points).

    Returns
    -------
    loss, slope : array (links, points)
        Pa and Pa s/m3.

    Examples
    --------
    >>> c = loss_curve_coefficients([1e-5, 2e-5], [1e3, 4e3])
    >>> shaped = LossCurveCoefficients(c.largest_flow, c.loss[:, None, None], c.slope[:, None, None])
    >>> loss, slope = loss_curve_loss(np.array([[-2e-5, 0.0, 2e-5]]), shaped)
    >>> loss.round(0).tolist(), bool((slope > 0.0).all())
    ([[-4000.0, 0.0, 4000.0]], True)
    """
    last = c.loss.shape[0] - 1
    step = np.asarray(c.largest_flow) / last
    size = np.abs(flow)
    inside = np.minimum(size, c.largest_flow)
    position = inside / step
    knot = np.clip(np.nan_to_num(position).astype(np.intp), 0, last - 1)
    shape = (c.loss.shape[0], *flow.shape)
    loss, slope = np.broadcast_to(c.loss, shape), np.broadcast_to(c.slope, shape)
    left, right, slope_left, slope_right = (
        np.take_along_axis(values, (knot + shift)[None], axis=0)[0] for values in (loss, slope) for shift in (0, 1)
    )
    value, tangent = hermite(position - knot, left, right, slope_left * step, slope_right * step)
    tangent = tangent / step
    return np.sign(flow) * (value + tangent * (size - inside)), tangent


def _typical_flow_of_curve(c: LossCurveCoefficients) -> LinkArray:
    return 0.5 * np.asarray(c.largest_flow, dtype=float)


def _sample_of_curve() -> tuple[LawSample, ...]:
    """Return a steep and a nearly straight curve to 180 L/h, at flows from 1e-4 of its last to twice it."""
    last = 5e-5
    samples = []
    for pressure in ([1e3, 2e4, 1e5], [3e4, 6.5e4, 1e5]):
        c = loss_curve_coefficients([1e-5, 3e-5, last], pressure)
        shaped = LossCurveCoefficients(c.largest_flow, c.loss[:, None, None], c.slope[:, None, None])
        samples.append(LawSample(shaped, flows_both_ways(1e-4 * last, 2.0 * last, last, -last)))
    return tuple(samples)


LOSS_CURVE = LinkLaw(
    name="loss curve",
    coefficients=LossCurveCoefficients,
    tables=("loss", "slope"),
    loss=loss_curve_loss,
    typical_flow=_typical_flow_of_curve,
    sample=_sample_of_curve,
)
