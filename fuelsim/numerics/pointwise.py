"""Least and greatest of several arrays at each point."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from fuelsim.typing import FloatArray

__all__ = ["greatest_at_each_point", "least_at_each_point"]


def least_at_each_point(arrays: Iterable[FloatArray]) -> FloatArray:
    """Return the least of several arrays at each point; NaN where one of them is.

    Parameters
    ----------
    arrays : iterable of array (...)
        At least one; of shapes that broadcast, in one unit.

    Returns
    -------
    array (...)
        In the same unit.

    Examples
    --------
    >>> least_at_each_point([np.array([1.0, 4.0]), np.array([3.0, 2.0])]).tolist()
    [1.0, 2.0]
    """
    least: FloatArray = np.minimum.reduce(list(arrays))
    return least


def greatest_at_each_point(arrays: Iterable[FloatArray]) -> FloatArray:
    """Return the greatest of several arrays at each point; NaN where one of them is.

    Parameters
    ----------
    arrays : iterable of array (...)
        At least one; of shapes that broadcast, in one unit.

    Returns
    -------
    array (...)
        In the same unit.

    Examples
    --------
    >>> greatest_at_each_point([np.array([1.0, 4.0]), np.array([3.0, 2.0])]).tolist()
    [3.0, 4.0]
    """
    greatest: FloatArray = np.maximum.reduce(list(arrays))
    return greatest
