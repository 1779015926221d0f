"""A falling curve through measured points, smooth or straight between them: the shape of every bench table."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fuelsim.numerics.cubic import hermite
from fuelsim.typing import ArrayLike, FloatArray

__all__ = ["FallingCurve", "curve_value", "falling_curve", "straight_value"]

_LEAST_END_SLOPE = 0.2
"""Least slope of the continuation below the first point, over the mean slope of the curve."""
_LEAST_SLOPE_KEPT = 0.5
"""Slope to which that continuation flattens, over the one it starts with."""
_LEAST_SECANT_RATIO = 0.3
"""Least slope at the ends, over the secant beside them."""


class FallingCurve(NamedTuple):
    """Piecewise cubic through points, continued beyond both ends.

    Attributes
    ----------
    x, y, slope : array (n,)
        Points with rising x and falling y, and the slopes there, not positive.
    curvature : float
        Second derivative of the continuations, not positive.
    start_slope : float
        Slope with which the curve is continued below the first point, negative.
    """

    x: FloatArray
    y: FloatArray
    slope: FloatArray
    curvature: float
    start_slope: float


def falling_curve(x: ArrayLike, y: ArrayLike) -> FallingCurve:
    """Return the falling curve through points.

    The slopes are those of the cubic spline (not-a-knot ends, so that a parabola is met exactly) where that
    spline falls everywhere, else the harmonic means of Fritsch and Butland (SIAM J. Sci. Stat. Comput. 5 (1984)
    300) [fritsch_butland_1984], which never overshoot.

    Parameters
    ----------
    x : array (n,), n >= 2
        Rising.
    y : array (n,)
        Falling.

    Returns
    -------
    FallingCurve

    Examples
    --------
    >>> curve = falling_curve([0.0, 1.0, 2.0, 3.0], [9.0, 8.0, 5.0, 0.0])  # 9 - x^2
    >>> value, slope = curve_value(curve, 1.5)
    >>> round(float(value), 12), round(float(slope), 12)
    (6.75, -3.0)
    """
    x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    chords = np.diff(y) / np.diff(x)
    slope = _spline_slopes(x, chords)
    if not _falls(slope, chords):
        slope = _harmonic_slopes(x, chords)
    mean = (y[-1] - y[0]) / (x[-1] - x[0])
    curvature = 0.0
    if len(x) > 2:
        curvature = min(0.0, 2.0 * float(np.polyfit(x - x[0], y, 2)[0]))
    return FallingCurve(x, y, slope, curvature, min(float(slope[0]), _LEAST_END_SLOPE * float(mean)))


def curve_value(curve: FallingCurve, x: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return value and slope of a falling curve.

    Above the last point the curve is continued with its mean curvature. Below the first one it flattens with the same
    curvature down to half of the slope it starts with and is straight from there; both continuations are concave, as
    pump curves are.

    Parameters
    ----------
    curve : FallingCurve
    x : float or array
        Where the curve is evaluated.

    Returns
    -------
    value, slope : array
        Shaped like `x`.

    Examples
    --------
    Half a unit beyond the last point of 9 - x^2:

    >>> value, slope = curve_value(falling_curve([0.0, 1.0, 2.0, 3.0], [9.0, 8.0, 5.0, 0.0]), 3.5)
    >>> round(float(value), 12), round(float(slope), 12)
    (-3.25, -7.0)
    """
    x = np.asarray(x, dtype=float)
    index = np.clip(np.searchsorted(curve.x, x, side="right") - 1, 0, len(curve.x) - 2)
    width = np.diff(curve.x)[index]
    t = (x - curve.x[index]) / width
    left, right = curve.y[index], curve.y[index + 1]
    value, slope = hermite(t, left, right, curve.slope[index] * width, curve.slope[index + 1] * width)
    slope = slope / width

    beyond = np.maximum(x - curve.x[-1], 0.0)
    end = min(curve.slope[-1], _LEAST_SECANT_RATIO * (curve.y[-1] - curve.y[-2]) / (curve.x[-1] - curve.x[-2]))
    value = np.where(beyond > 0.0, curve.y[-1] + beyond * (end + 0.5 * curve.curvature * beyond), value)
    slope = np.where(beyond > 0.0, end + curve.curvature * beyond, slope)

    before = np.maximum(curve.x[0] - x, 0.0)
    start = curve.start_slope
    flattening = -curve.curvature
    reach = (1.0 - _LEAST_SLOPE_KEPT) * -start / flattening if flattening > 0.0 else 0.0
    bent = np.minimum(before, reach)
    kept = start + flattening * bent
    rise = -(start * bent + 0.5 * flattening * bent**2) - kept * (before - bent)
    value = np.where(before > 0.0, curve.y[0] + rise, value)
    slope = np.where(before > 0.0, kept, slope)
    return value, slope


def straight_value(x: ArrayLike, points_x: FloatArray, points_y: FloatArray) -> FloatArray:
    """Return the value of straight lines through points; the first and the last line are continued beyond the ends.

    Parameters
    ----------
    x : float or array
        Where the curve is evaluated.
    points_x, points_y : array (n,), n >= 2
        Points, x rising.

    Returns
    -------
    array
        Shaped like `x`.

    Examples
    --------
    >>> straight_value([-1.0, 0.5, 3.0], np.array([0.0, 1.0, 2.0]), np.array([4.0, 3.0, 0.0])).tolist()
    [5.0, 3.5, -3.0]
    """
    x = np.asarray(x, dtype=float)
    first, last = ((points_y[i + 1] - points_y[i]) / (points_x[i + 1] - points_x[i]) for i in (0, -2))
    before, beyond = np.minimum(x - points_x[0], 0.0), np.maximum(x - points_x[-1], 0.0)
    value: FloatArray = np.interp(x, points_x, points_y) + first * before + last * beyond
    return value


def _spline_slopes(x: FloatArray, chords: FloatArray) -> FloatArray:
    n = len(x)
    if n == 2:
        return np.repeat(chords, 2)
    h = np.diff(x)
    if n == 3:
        middle = (h[1] * chords[0] + h[0] * chords[1]) / (h[0] + h[1])
        return np.array([2.0 * chords[0] - middle, middle, 2.0 * chords[1] - middle])
    matrix = np.zeros((n, n))
    right = np.zeros(n)
    for i in range(1, n - 1):
        matrix[i, i - 1 : i + 2] = h[i], 2.0 * (h[i - 1] + h[i]), h[i - 1]
        right[i] = 3.0 * (h[i] * chords[i - 1] + h[i - 1] * chords[i])
    # Not-a-knot: the third derivative is continuous at the second and the last but one point.
    for row, a, b, first in ((0, 0, 1, True), (n - 1, n - 2, n - 3, False)):
        ha, hb = h[a], h[b]
        columns = (0, 1) if first else (n - 1, n - 2)
        matrix[row, columns[0]], matrix[row, columns[1]] = hb, ha + hb
        right[row] = ((ha + 2.0 * (ha + hb)) * hb * chords[a] + ha**2 * chords[b]) / (ha + hb)
    return np.asarray(np.linalg.solve(matrix, right), dtype=float)


def _falls(slope: FloatArray, chords: FloatArray) -> bool:
    """Return whether each cubic piece falls [fritsch_carlson_1980]."""
    a, b = slope[:-1] / chords, slope[1:] / chords
    bulge = a + b - 2.0
    with np.errstate(divide="ignore", invalid="ignore"):
        ellipse = a - (2.0 * a + b - 3.0) ** 2 / (3.0 * bulge) >= 0.0
    monotone = (bulge <= 0.0) | (2.0 * a + b <= 3.0) | (a + 2.0 * b <= 3.0) | ellipse
    return bool(np.all((a >= -1e-12) & (b >= -1e-12) & monotone))


def _harmonic_slopes(x: FloatArray, chords: FloatArray) -> FloatArray:
    """Return the slopes of Fritsch and Butland at three points or more; two lie on a straight line, which falls."""
    h = np.diff(x)
    slope = np.empty(len(x))
    w1, w2 = 2.0 * h[1:] + h[:-1], h[1:] + 2.0 * h[:-1]
    slope[1:-1] = (w1 + w2) / (w1 / chords[:-1] + w2 / chords[1:])
    for end, near, far in ((0, 0, 1), (-1, -1, -2)):
        # Both chords fall, so this is less than twice as steep as the one beside it: a cubic allows three times.
        one_sided = ((2.0 * h[near] + h[far]) * chords[near] - h[near] * chords[far]) / (h[near] + h[far])
        slope[end] = min(one_sided, _LEAST_SECANT_RATIO * chords[near])
    return slope
