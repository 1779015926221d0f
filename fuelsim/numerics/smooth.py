"""Smooth maximum and minimum, each with its slopes."""

from __future__ import annotations

import numpy as np

from fuelsim.typing import FloatArray

__all__ = ["CORNER", "smooth_maximum", "smooth_minimum"]

CORNER = 50.0
"""Distance of a smooth maximum or minimum from the sharp one where its two arguments meet, in their unit."""


def smooth_maximum(a: FloatArray, b: FloatArray, corner: float = CORNER) -> tuple[FloatArray, FloatArray]:
    """Return a smooth maximum and its slope in `a`, from 0 to 1; the slope in `b` is one minus it.

    The formula is the hyperbola (a + b + sqrt((a - b)^2 + 4 corner^2)) / 2.

    Parameters
    ----------
    a, b : array
        Values of one unit, such as Pa.
    corner : float, optional
        Excess over the sharp maximum where a = b, in the same unit.

    Returns
    -------
    value, slope : array

    Examples
    --------
    >>> value, weight = smooth_maximum(np.array([0.0, 1e6]), np.array([0.0, 0.0]))
    >>> value.round(2).tolist(), weight.round(6).tolist()
    ([50.0, 1000000.0], [0.5, 1.0])
    """
    gap = a - b
    root = np.sqrt(gap * gap + 4.0 * corner * corner)
    # The sharp maximum plus the excess, so that nothing cancels where one argument is far larger than the other.
    return np.maximum(a, b) + 2.0 * corner * corner / (np.abs(gap) + root), 0.5 + 0.5 * gap / root


def smooth_minimum(a: FloatArray, b: FloatArray, corner: float = CORNER) -> tuple[FloatArray, FloatArray]:
    """Return a smooth minimum and its slope in `a`, from 0 to 1; the slope in `b` is one minus it.

    Parameters
    ----------
    a, b, corner
        As `smooth_maximum`.

    Returns
    -------
    value, slope : array

    Examples
    --------
    >>> value, weight = smooth_minimum(np.array([2e5]), np.array([3e5]))
    >>> value.round(1).tolist(), weight.round(6).tolist()
    ([200000.0], [1.0])
    """
    value, weight = smooth_maximum(-a, -b, corner)
    return -value, weight
