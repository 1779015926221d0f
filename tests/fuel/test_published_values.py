"""Every published value the README shows, checked."""

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


def test_the_readme_shows_the_table_of_today() -> None:
    """Ours to three digits; write it anew with ``python tests/fuel/published_values.py readme``."""
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    shown = (published.HEAD + readme.split(published.HEAD, 1)[1]).split("\n\n", 1)[0].splitlines()
    today = published.markdown(compact=True).splitlines()
    assert len(shown) == len(today)
    for line, wanted in zip(shown[2:], today[2:], strict=True):
        quantity, known, ours, _, source = _cells(line)
        quantity_now, known_now, ours_now, _, source_now = _cells(wanted)
        assert (quantity, known, source) == (quantity_now, known_now, source_now)
        assert float(ours.split()[0]) == pytest.approx(float(ours_now.split()[0]), rel=2e-3), quantity
