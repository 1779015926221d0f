"""Every published value, checked; and the README shows the outliers among them."""

from __future__ import annotations

from pathlib import Path

import published_values as published
import pytest


@pytest.mark.parametrize("group", published.GROUPS, ids=lambda group: group.__name__)
def test_published_values_are_met(group) -> None:
    missed = [row.markdown() for row in published.rows_of(group) if not row.holds]
    assert not missed, "\n".join(missed)


def test_the_ends_of_the_distillation_are_shown_with_their_gap() -> None:
    """A still head without a cold start overstates the initial boiling point; the end point keeps its limit."""
    initial, end = published.rows_of(published.certification_ends)
    assert 30.0 < initial.ours < 45.0
    assert end.holds


def _cells(line: str) -> list[str]:
    return [cell.strip() for cell in line.strip("| ").split("|")]


def test_the_readme_shows_values_of_today() -> None:
    """Ours to three digits; written anew with ``python tests/by_hand/renew_readme.py``."""
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    shown = readme.split(published.HEAD, 1)[1].split("\n\n", 1)[0].splitlines()
    rows = [line for line in shown if line.split(" |")[0].removeprefix("| ") in published.ON_THE_FRONT_PAGE]
    for line, row in zip(rows, published.on_the_front_page(), strict=True):
        quantity, known, ours, _, source = _cells(line)
        quantity_now, known_now, ours_now, _, source_now = _cells(row.markdown())
        assert (quantity, known, source) == (quantity_now, known_now, source_now)
        assert float(ours.split()[0]) == pytest.approx(float(ours_now.split()[0]), rel=2e-3), quantity


def test_the_readme_shows_the_outliers() -> None:
    """The largest difference in percent, of those allowed most, and every value outside its published range."""
    shown = set(published.ON_THE_FRONT_PAGE)
    percent = [row for row in published.every_row() if row.relative and not row.range_given]
    assert max(percent, key=lambda row: abs(row.difference)).quantity in shown
    outside = {row.quantity for row in published.every_row() if row.range_given and not row.holds}
    assert outside <= shown
    rises = [row for row in published.every_row() if row.quantity.startswith("rise of DVPE")]
    assert max(rises, key=lambda row: abs(row.difference)).quantity in shown
