"""Smooth corners shared by the laws: a maximum, a minimum and a shut direction, each with its slopes."""

from __future__ import annotations

from typing import Any

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.laws.link import SHUT_SLOPE

__all__ = ["CORNER", "shut_backwards", "shut_corners", "smooth_maximum", "smooth_minimum"]

CORNER = 50.0
"""How far a smooth maximum or minimum lies off the sharp one where its two arguments meet, Pa."""

_RAMP = 2e-6 * L_PER_HOUR
"""Flow over which a shut direction gains its full slope, m3/s (2e-6 L/h, where it has cost 1 kPa)."""


def smooth_maximum(a: Any, b: Any, corner: float = CORNER) -> tuple[Any, Any]:
    """Return a smooth maximum and its slope in `a`, from 0 to 1; the slope in `b` is one minus it.

    The formula is the hyperbola (a + b + sqrt((a - b)^2 + 4 corner^2)) / 2.

    Parameters
    ----------
    a, b : array
        Pa.
    corner : float, optional
        Excess over the sharp maximum where a = b, Pa.

    Examples
    --------
    >>> value, weight = smooth_maximum(np.array([0.0, 1e6]), np.array([0.0, 0.0]))
    >>> value.round(2).tolist(), weight.round(6).tolist()
    ([50.0, 1000000.0], [0.5, 1.0])
    """
    gap = a - b
    root = np.sqrt(gap * gap + 4.0 * corner * corner)
    return 0.5 * (a + b + root), 0.5 + 0.5 * gap / root


def smooth_minimum(a: Any, b: Any, corner: float = CORNER) -> tuple[Any, Any]:
    """Return a smooth minimum and its slope in `a`; see `smooth_maximum`.

    Examples
    --------
    >>> value, weight = smooth_minimum(np.array([2e5]), np.array([3e5]))
    >>> value.round(1).tolist(), weight.round(6).tolist()
    ([200000.0], [1.0])
    """
    value, weight = smooth_maximum(-a, -b, corner)
    return -value, weight


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
