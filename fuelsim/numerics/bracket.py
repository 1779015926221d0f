"""Roots within brackets, for whole arrays at once: bisection and regula falsi in the Illinois form."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fuelsim.typing import ArrayLike, BoolArray, FloatArray

__all__ = ["bisect", "illinois"]


def bisect(lies_above: Callable[[FloatArray], BoolArray], low: ArrayLike, high: ArrayLike, steps: int) -> FloatArray:
    """Return where a condition changes from true to false, by bisection.

    Parameters
    ----------
    lies_above : callable
        ``lies_above(x) -> bool array``: whether the root lies above x.
    low, high : array
        Ends of the bracket, of shapes that broadcast to that of the result.
    steps : int
        Number of halvings: the error is at most ``(high - low) / 2**(steps + 1)``.

    Returns
    -------
    array
        Middle of the last bracket. Without a change within the bracket it is next to one of its ends.

    Examples
    --------
    The square roots of 2 and 3:

    >>> bisect(lambda x: x * x < np.array([2.0, 3.0]), 0.0, 2.0, 60).round(6).tolist()
    [1.414214, 1.732051]
    """
    left, right = np.asarray(low, dtype=float), np.asarray(high, dtype=float)
    for _ in range(steps):
        middle = 0.5 * (left + right)
        above = lies_above(middle)
        left, right = np.where(above, middle, left), np.where(above, right, middle)
    result: FloatArray = 0.5 * (left + right)
    return result


def illinois(
    function: Callable[[FloatArray], FloatArray], low: FloatArray, high: FloatArray, *, steps: int, tolerance: float
) -> FloatArray:
    """Return the roots of a rising function by regula falsi in the Illinois form.

    Where one end of the bracket stays twice in turn its function value is halved, so that both ends close in.

    Parameters
    ----------
    function : callable
        ``function(x) -> array`` shaped like x, rising.
    low, high : array
        Ends of the bracket.
    steps : int
        Greatest number of iterations.
    tolerance : float
        The iteration ends once either the function value or the width of the bracket is below it at every element.

    Returns
    -------
    array
        The last iterate.

    Notes
    -----
    Source: Dowell and Jarratt, BIT 11 (1971) 168 [memory].

    Examples
    --------
    >>> targets = np.array([2.0, 3.0])
    >>> illinois(lambda x: x * x - targets, np.zeros(2), np.full(2, 2.0), steps=50, tolerance=1e-12).round(6).tolist()
    [1.414214, 1.732051]
    """
    at_low, at_high = function(low), function(high)
    # +1 where the upper end moved last, -1 where the lower end did.
    moved = np.zeros(np.shape(low))
    iterate = low
    for _ in range(steps):
        with np.errstate(divide="ignore", invalid="ignore"):
            iterate = np.where(at_high > at_low, low - at_low * (high - low) / (at_high - at_low), low)
        iterate = np.clip(iterate, low, high)
        value = function(iterate)
        positive = value > 0.0
        at_high = np.where(positive, value, np.where(moved < 0.0, 0.5 * at_high, at_high))
        at_low = np.where(positive, np.where(moved > 0.0, 0.5 * at_low, at_low), value)
        high, low = np.where(positive, iterate, high), np.where(positive, low, iterate)
        moved = np.where(positive, 1.0, -1.0)
        if np.max(np.minimum(np.abs(value), high - low)) < tolerance:
            break
    return iterate
