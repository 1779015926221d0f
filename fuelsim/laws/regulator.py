"""Pressure regulators: return (back-pressure), reducing, and a pump slowed to hold a pressure elsewhere.

Each is one smooth, monotone equation that covers every state of the device, so the solver never guesses a state;
what the device does is read off the solution afterwards.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.laws.link import LinkEquation, LinkLaw
from fuelsim.laws.pump_curve import PUMP_CURVE, pump_loss
from fuelsim.laws.valve import SHUT_FLOW, shut_backwards, shut_corners
from fuelsim.numerics.smooth import smooth_maximum, smooth_minimum

__all__ = [
    "CONTROLLED_PUMP",
    "REDUCING_REGULATOR",
    "RETURN_REGULATOR",
    "controlled_pump_equation",
    "controlled_pump_regime",
    "reducing_regulator_equation",
    "reducing_regulator_regime",
    "return_regulator_equation",
    "return_regulator_regime",
]


def _wide_open(flow: Any, linear: Any, quadratic: Any) -> tuple[Any, Any]:
    """Return the loss of the open seat, a q + b q |q|, and its slope."""
    size = quadratic * np.abs(flow)
    return flow * (linear + size), linear + 2.0 * size


def return_regulator_equation(
    flow: Any, p_up: Any, p_down: Any, p_reference: Any, coefficients: tuple[Any, ...]
) -> LinkEquation:
    """Return the equation of a return regulator, which holds the pressure upstream of it.

    E = smoothmax(p_ref + set + droop q + c (p_down - p_ref), p_down + W(q)) + shut(q) - p_up, with W the loss of the
    wide-open seat and c the share of the back pressure that adds to the set pressure.

    Parameters
    ----------
    flow, p_up, p_down, p_reference : array (links, points)
        m3/s and Pa absolute.
    coefficients : tuple
        ``set_pressure`` (Pa), ``droop`` (Pa s/m3), ``open_linear`` (Pa s/m3), ``open_quadratic`` (Pa s2/m6),
        ``back_pressure_coupling`` (0 to 1).

    Returns
    -------
    LinkEquation

    Examples
    --------
    The equation is met by 300 kPa and a droop of 288 kPa s/L over 0.01 L/s:

    >>> E = return_regulator_equation(1e-5, 101325.0 + 302880.0, 101325.0, 101325.0, (3e5, 2.88e8, 0.0, 5e13, 0.0))
    >>> bool(abs(E.residual) < 0.1)
    True
    """
    set_pressure, droop, open_linear, open_quadratic, coupling = coefficients
    seat, seat_slope = _wide_open(flow, open_linear, open_quadratic)
    shut, shut_slope = shut_backwards(flow)
    held = p_reference + set_pressure + droop * flow + coupling * (p_down - p_reference)
    needed, regulating = smooth_maximum(held, p_down + seat)
    wide_open = 1.0 - regulating
    return LinkEquation(
        needed + shut - p_up,
        regulating * droop + wide_open * seat_slope + shut_slope,
        1.0,
        wide_open + regulating * coupling,
        regulating * (1.0 - coupling),
    )


def return_regulator_regime(flow: Any, p_up: Any, p_down: Any, p_reference: Any, coefficients: tuple[Any, ...]) -> Any:
    """Return 0 regulating, 1 shut, 2 wide open; shape (links, points)."""
    set_pressure, droop, open_linear, open_quadratic, coupling = coefficients
    seat, _ = _wide_open(flow, open_linear, open_quadratic)
    held = p_reference + set_pressure + droop * flow + coupling * (p_down - p_reference)
    return np.where(flow < SHUT_FLOW, 1, np.where(held < p_down + seat, 2, 0))


def reducing_regulator_equation(
    flow: Any, p_up: Any, p_down: Any, p_reference: Any, coefficients: tuple[Any, ...]
) -> LinkEquation:
    """Return the equation of a reducing regulator, which holds the pressure downstream of it.

    E = p_down - smoothmin(p_ref + set - droop q, p_up - W(q)) + shut(q), with W the loss of the wide-open seat.

    Parameters
    ----------
    flow, p_up, p_down, p_reference : array (links, points)
        m3/s and Pa absolute.
    coefficients : tuple
        ``set_pressure`` (Pa), ``droop`` (Pa s/m3), ``open_linear`` (Pa s/m3), ``open_quadratic`` (Pa s2/m6).

    Returns
    -------
    LinkEquation

    Examples
    --------
    >>> E = reducing_regulator_equation(1e-5, 5e5, 101325.0 + 27120.0, 101325.0, (3e4, 2.88e8, 0.0, 5e13))
    >>> bool(abs(E.residual) < 0.1)
    True
    """
    set_pressure, droop, open_linear, open_quadratic = coefficients
    seat, seat_slope = _wide_open(flow, open_linear, open_quadratic)
    shut, shut_slope = shut_backwards(flow)
    held = p_reference + set_pressure - droop * flow
    given, regulating = smooth_minimum(held, p_up - seat)
    wide_open = 1.0 - regulating
    return LinkEquation(
        p_down - given + shut,
        regulating * droop + wide_open * seat_slope + shut_slope,
        wide_open,
        1.0,
        -regulating,
    )


def reducing_regulator_regime(
    flow: Any, p_up: Any, p_down: Any, p_reference: Any, coefficients: tuple[Any, ...]
) -> Any:
    """Return 0 regulating, 1 shut, 2 wide open; shape (links, points)."""
    set_pressure, droop, open_linear, open_quadratic = coefficients
    seat, _ = _wide_open(flow, open_linear, open_quadratic)
    held = p_reference + set_pressure - droop * flow
    return np.where(flow < SHUT_FLOW, 1, np.where(p_up - seat < held, 2, 0))


def controlled_pump_equation(
    flow: Any, p_up: Any, p_down: Any, p_reference: Any, coefficients: tuple[Any, ...]
) -> LinkEquation:
    """Return the equation of a pump slowed so that the pressure at the reference node stays at its set value.

    E = smoothmin(smoothmax(E_full, p_ref - p_up - set + droop q), E_stopped). E_full is the equation of the pump at
    full speed, E_stopped that of a pump standing still, which passes fuel forwards at a loss and none backwards; the
    middle term is the controller, which measures from the pump's inlet.

    Parameters
    ----------
    flow, p_up, p_down, p_reference : array (links, points)
        m3/s and Pa absolute; the reference is the node whose pressure is held.
    coefficients : tuple
        Those of `pump_loss`, then ``set_pressure`` (Pa), ``droop`` (Pa s/m3) and ``stopped_slope`` (Pa s/m3), the loss
        of the standing pump.

    Returns
    -------
    LinkEquation
    """
    curve, (set_pressure, droop, stopped_slope) = coefficients[:4], coefficients[4:]
    loss, loss_slope = pump_loss(flow, curve)
    shut, shut_slope = shut_backwards(flow)
    difference = p_up - p_down
    driven, at_full_speed = smooth_maximum(loss - difference, p_reference - p_up - set_pressure + droop * flow)
    residual, running = smooth_minimum(driven, stopped_slope * flow + shut - difference)
    full = running * at_full_speed
    controlled = running - full
    stopped = 1.0 - running
    return LinkEquation(
        residual,
        full * loss_slope + controlled * droop + stopped * (stopped_slope + shut_slope),
        1.0,
        full + stopped,
        controlled,
    )


def controlled_pump_regime(flow: Any, p_up: Any, p_down: Any, p_reference: Any, coefficients: tuple[Any, ...]) -> Any:
    """Return 0 regulating, 1 full speed, 2 stopped; shape (links, points)."""
    curve, (set_pressure, droop, stopped_slope) = coefficients[:4], coefficients[4:]
    loss, _ = pump_loss(flow, curve)
    shut, _ = shut_backwards(flow)
    full = loss - (p_up - p_down)
    control = p_reference - p_up - set_pressure + droop * flow
    stopped = stopped_slope * flow + shut - (p_up - p_down)
    return np.where(np.maximum(full, control) > stopped, 2, np.where(full > control, 1, 0))


def _typical_flow(coefficients: tuple[Any, ...]) -> Any:
    return np.full_like(np.asarray(coefficients[0], dtype=float), 30.0 * L_PER_HOUR)


def _controlled_corners(coefficients: tuple[Any, ...]) -> tuple[Any, Any, Any]:
    low, _, margin = shut_corners(coefficients)
    return low, coefficients[0], margin


_REGIMES = ("regulating", "shut", "wide open")

RETURN_REGULATOR = LinkLaw(
    name="return regulator",
    coefficients=("set_pressure", "droop", "open_linear", "open_quadratic", "back_pressure_coupling"),
    equation=return_regulator_equation,
    typical_flow=_typical_flow,
    corners=shut_corners,
    regimes=_REGIMES,
    regime=return_regulator_regime,
)
REDUCING_REGULATOR = LinkLaw(
    name="reducing regulator",
    coefficients=("set_pressure", "droop", "open_linear", "open_quadratic"),
    equation=reducing_regulator_equation,
    typical_flow=_typical_flow,
    corners=shut_corners,
    senses="down",
    regimes=_REGIMES,
    regime=reducing_regulator_regime,
)
CONTROLLED_PUMP = LinkLaw(
    name="controlled pump",
    coefficients=(*PUMP_CURVE.coefficients, "set_pressure", "droop", "stopped_slope"),
    tables=PUMP_CURVE.tables,
    equation=controlled_pump_equation,
    typical_flow=PUMP_CURVE.typical_flow,
    corners=_controlled_corners,
    regimes=("regulating", "full speed", "stopped"),
    regime=controlled_pump_regime,
)
