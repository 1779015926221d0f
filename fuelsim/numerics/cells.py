"""The cell of a grid around a value."""

from __future__ import annotations

from bisect import bisect_right
from typing import NamedTuple

__all__ = ["Cell", "cell_of"]


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
