"""Points whose coefficients are not numbers are told from the others, whichever link and coefficient it is."""

from types import SimpleNamespace

import numpy as np
import pytest

from fuelsim.network.solver.equations import Batch


@pytest.mark.parametrize("place", ["groups", "end_groups"])
@pytest.mark.parametrize("coefficient", [0, 1])
@pytest.mark.parametrize("link", [0, 1])
def test_a_coefficient_that_is_no_number_makes_its_point_incomplete(place, coefficient, link):
    def group():
        return SimpleNamespace(coefficients=[np.ones((2, 4)), np.ones((2, 4))])

    batch = SimpleNamespace(groups=[group(), group()], end_groups=[group()])
    getattr(batch, place)[0].coefficients[coefficient][link, 2] = np.nan
    assert Batch.incomplete(batch, np.array([0, 2, 3])).tolist() == [False, True, False]


def test_a_coefficient_that_all_points_share_makes_all_incomplete():
    shared = SimpleNamespace(coefficients=[np.array([[1.0], [np.nan]]), np.ones((3, 2, 4))])
    batch = SimpleNamespace(groups=[shared], end_groups=[])
    assert Batch.incomplete(batch, np.arange(4)).all()


def test_tables_of_several_rows_count_too():
    table = np.ones((3, 2, 4))
    table[2, 1, 0] = np.nan
    batch = SimpleNamespace(groups=[SimpleNamespace(coefficients=[table])], end_groups=[])
    assert Batch.incomplete(batch, np.arange(4)).tolist() == [True, False, False, False]


def test_a_point_with_several_missing_coefficients_is_incomplete_too():
    both = [np.ones((2, 4)), np.ones((2, 4))]
    for values in both:
        values[0, 1] = np.nan
    batch = SimpleNamespace(groups=[SimpleNamespace(coefficients=both)], end_groups=[])
    assert Batch.incomplete(batch, np.arange(4)).tolist() == [False, True, False, False]
