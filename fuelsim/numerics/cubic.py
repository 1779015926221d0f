"""Cubic Hermite interpolation, and limits of the slopes that keep it falling."""

from __future__ import annotations

import numpy as np

from fuelsim.typing import FloatArray

__all__ = ["LEAST_STEEPNESS", "STEEPEST_RATIO", "falling_slopes", "hermite", "hermite_cell"]

LEAST_STEEPNESS = 1e-3
"""Least slope at a knot over the mean slope of its curve: a curve with a flat top keeps a slope everywhere."""
STEEPEST_RATIO = 2.5
"""Steepest slope at a knot over the flatter of its two secants.

Below 3 a cubic with such slopes at both ends is monotone, below it strictly (Fritsch and Carlson, SIAM J. Numer. Anal.
17 (1980) 238) [fritsch_carlson_1980].
"""


def hermite_cell(
    left: FloatArray, right: FloatArray, slope_left: FloatArray, slope_right: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return the cubic c0 + c1 t + c2 t^2 + c3 t^3 with given values and slopes at both ends of a cell.

    Parameters
    ----------
    left, right : array
        Values at t = 0 and t = 1.
    slope_left, slope_right : array
        Slopes there with respect to t, that is, times the width of the cell.

    Returns
    -------
    c0, c1, c2, c3 : array
        Coefficients of the polynomial, in the unit of the interpolated value.

    Examples
    --------
    The cubic t^3 on [0, 1]:

    >>> [float(c) for c in hermite_cell(0.0, 1.0, 0.0, 3.0)]
    [0.0, 0.0, 0.0, 1.0]
    """
    # c1 + c2 + c3 is the fall, and c1 + 2 c2 + 3 c3 the slope at the end.
    fall = right - left
    c3 = slope_left + slope_right - (fall + fall)
    return left, slope_left, fall - slope_left - c3, c3


def hermite(
    t: FloatArray, left: FloatArray, right: FloatArray, slope_left: FloatArray, slope_right: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return value and slope of the cubic with given values and slopes at both ends of a cell.

    Parameters
    ----------
    t : array
        Position within the cell, from 0 to 1.
    left, right, slope_left, slope_right : array
        As `hermite_cell`.

    Returns
    -------
    value, slope : array
        The slope is with respect to t.

    Examples
    --------
    >>> value, slope = hermite(0.5, 0.0, 1.0, 0.0, 3.0)  # t^3
    >>> float(value), float(slope)
    (0.125, 0.75)
    """
    c0, c1, c2, c3 = hermite_cell(left, right, slope_left, slope_right)
    cubic = t * c3
    quadratic = c2 + cubic
    secant = c1 + t * quadratic
    # c0 + t (c1 + t (c2 + t c3)), and c1 + t (2 c2 + 3 t c3) from the same terms.
    return c0 + t * secant, secant + t * (quadratic + cubic)


def falling_slopes(slope: FloatArray, secant: FloatArray, mean_slope: FloatArray) -> FloatArray:
    """Return slopes at the knots of a falling curve, limited so that the cubic through them falls everywhere.

    Parameters
    ----------
    slope : array (knots, ...)
        Slopes to be limited.
    secant : array (knots - 1, ...)
        Slopes of the straight lines between neighbouring knots, negative.
    mean_slope : array (...)
        Slope of the straight line from the first to the last knot, negative.

    Returns
    -------
    array (knots, ...)
        From `STEEPEST_RATIO` times the flatter secant beside a knot up to `LEAST_STEEPNESS` times the mean slope.

    Examples
    --------
    >>> falling_slopes(np.array([0.0, -9.0, -2.0]), np.array([-1.0, -3.0]), np.array(-2.0)).tolist()
    [-0.002, -2.5, -2.0]
    """
    flatter = np.maximum(np.concatenate([secant[:1], secant]), np.concatenate([secant, secant[-1:]]))
    limited: FloatArray = np.maximum(np.minimum(slope, LEAST_STEEPNESS * mean_slope), STEEPEST_RATIO * flatter)
    return limited
