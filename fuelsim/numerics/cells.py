"""The cell of a grid around a value, or around each of many."""

from __future__ import annotations

from bisect import bisect_right
from typing import NamedTuple

import numpy as np

from fuelsim.typing import FloatArray, IndexArray

__all__ = ["Cell", "Cells", "cell_of", "cells_of"]


class Cell(NamedTuple):
    """Lower grid point of the cell around a value, and the value's position in the cell, 0 to 1."""

    low: int
    position: float


def cell_of(grid: list[float], value: float) -> Cell:
    """Return the cell of a grid around a value; the nearest end beyond the grid.

    Parameters
    ----------
    grid : list of float
        At least two, ascending.
    value : float
        The value.

    Returns
    -------
    Cell

    Examples
    --------
    >>> cell_of([0.0, 2.0, 6.0], 3.0)
    Cell(low=1, position=0.25)
    """
    below = min(max(bisect_right(grid, value) - 1, 0), len(grid) - 2)
    position = (value - grid[below]) / (grid[below + 1] - grid[below])
    return Cell(below, min(max(position, 0.0), 1.0))


class Cells(NamedTuple):
    """Lower grid points of the cells around values, and the values' positions in them, 0 to 1; shaped like the values.

    Attributes
    ----------
    low : int array
    position : array
    """

    low: IndexArray
    position: FloatArray


def cells_of(grid: FloatArray, values: FloatArray) -> Cells:
    """Return the cell of a grid around each of many values; the nearest end beyond the grid.

    Parameters
    ----------
    grid : array (knots,)
        At least two, ascending.
    values : array

    Returns
    -------
    Cells

    Examples
    --------
    >>> low, position = cells_of(np.array([0.0, 2.0, 6.0]), np.array([3.0, 9.0]))
    >>> low.tolist(), position.tolist()
    ([1, 1], [0.25, 1.0])
    """
    low = np.clip(np.searchsorted(grid, values, side="right") - 1, 0, len(grid) - 2)
    position = (values - grid[low]) / (grid[low + 1] - grid[low])
    return Cells(low, np.clip(position, 0.0, 1.0))
