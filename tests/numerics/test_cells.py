"""The cell around a value, against NumPy's interpolation."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.numerics.cells import cell_of, cells_of

GRID = np.array([0.0, 2.0, 6.0, 7.0])
VALUES = np.array([-3.0, 0.0, 1.0, 2.0, 5.0, 6.5, 7.0, 7.05, 50.0])
HEIGHTS = np.array([3.0, -1.0, 4.0, 10.0])


def test_the_position_in_a_cell_interpolates_as_numpy_does_within_the_grid_and_beyond_it():
    """Judge: ``numpy.interp``, which keeps the end's value beyond the grid."""
    expected = np.interp(VALUES, GRID, HEIGHTS)
    cells = cells_of(GRID, VALUES)
    low = HEIGHTS[cells.low]
    assert low + cells.position * (HEIGHTS[cells.low + 1] - low) == pytest.approx(expected)
    for value, wanted in zip(VALUES, expected, strict=True):
        cell = cell_of(GRID.tolist(), float(value))
        rest = HEIGHTS[cell.low + 1] - HEIGHTS[cell.low]
        assert HEIGHTS[cell.low] + cell.position * rest == pytest.approx(wanted)
