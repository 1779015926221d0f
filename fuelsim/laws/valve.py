"""Check valve: passes one way only, above its cracking pressure; and what every device shut backwards shares."""

from __future__ import annotations

from typing import Any

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.laws.link import SHUT_SLOPE, LinkLaw

__all__ = [
    "CHECK_VALVE",
    "SHUT_FLOW",
    "check_valve_loss",
    "check_valve_regime",
    "shut_backwards",
    "shut_corners",
]

SHUT_FLOW = 0.01 * L_PER_HOUR
"""A check valve or regulator with less flow than this is called shut, m3/s (0.01 L/h)."""

_RAMP = 2e-6 * L_PER_HOUR
"""Flow over which a shut direction gains its full slope, m3/s (2e-6 L/h, where it has cost 1 kPa)."""


def shut_corners(coefficients: tuple[Any, ...]) -> tuple[float, float, float]:
    """Return the corners of a law that uses `shut_backwards`; see `LinkLaw.corners`."""
    return 0.0, np.inf, 1e6 / SHUT_SLOPE


def shut_backwards(flow: Any) -> tuple[Any, Any]:
    """Return the pressure that a shut valve adds below zero flow, and its slope; nothing above zero flow.

    Parameters
    ----------
    flow : array
        m3/s.

    Returns
    -------
    loss, slope : array
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


def check_valve_loss(flow: Any, coefficients: tuple[Any, ...]) -> tuple[Any, Any]:
    """Return the loss of a check valve and its slope.

    Forwards the loss is p_cracking + a q + b q^2; at zero flow it takes every value below the cracking pressure, at
    the slope of something shut.

    Parameters
    ----------
    flow : array (links, points)
        m3/s.
    coefficients : tuple
        ``cracking_pressure`` (Pa), ``linear`` (a, Pa s/m3, positive) and ``quadratic`` (b, Pa s2/m6).

    Returns
    -------
    loss, slope : array (links, points)
        Pa and Pa s/m3.

    Examples
    --------
    >>> loss, slope = check_valve_loss(np.array([0.0, 1e-5, -1e-9]), (5e3, 1e8, 1e13))
    >>> loss.round(0).tolist()
    [5000.0, 7000.0, -3594000.0]
    """
    cracking_pressure, linear, quadratic = coefficients
    shut, shut_slope = shut_backwards(flow)
    forward = quadratic * np.maximum(flow, 0.0)
    return cracking_pressure + shut + flow * (linear + forward), linear + 2.0 * forward + shut_slope


def check_valve_regime(flow: Any, p_up: Any, p_down: Any, p_reference: Any, coefficients: tuple[Any, ...]) -> Any:
    """Return 0 open or 1 shut; shape (links, points)."""
    return np.where(flow < SHUT_FLOW, 1, 0)


def _typical_flow(coefficients: tuple[Any, ...]) -> Any:
    return np.full_like(np.asarray(coefficients[0], dtype=float), 50.0 * L_PER_HOUR)


CHECK_VALVE = LinkLaw(
    name="check valve",
    coefficients=("cracking_pressure", "linear", "quadratic"),
    loss=check_valve_loss,
    typical_flow=_typical_flow,
    corners=shut_corners,
    regimes=("open", "shut"),
    regime=check_valve_regime,
)
