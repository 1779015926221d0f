"""Published temperatures of tanks, rails and bays beside ours: every row is computed and stays as near as it was."""

from __future__ import annotations

import published_tanks as published
import pytest

ALLOWED_OUTLIERS = {"hottest tank quoted of an old loop", "rail above tank, return, cruising"}


@pytest.mark.parametrize("row", published.ROWS, ids=lambda row: row.quantity)
def test_ours_is_as_near_to_what_is_published_as_the_row_says(row):
    assert abs(row.difference) <= row.allowed, row.markdown()


def test_outliers_are_marked_and_each_says_why():
    outliers = {row.quantity for row in published.ROWS if row.outlier}
    assert outliers == ALLOWED_OUTLIERS
    for row in published.ROWS:
        if abs(row.difference) > 0.1 * abs(row.high):
            assert row.why, row.quantity


def test_every_row_prints_with_its_source():
    lines = published.markdown().splitlines()
    assert len(lines) == len(published.ROWS) + 2
    assert all(line.count("|") == published.HEAD.count("|") for line in lines)
