"""Every published value the README shows, checked."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

_spec = importlib.util.spec_from_file_location("published_values", Path(__file__).with_name("published_values.py"))
assert _spec is not None
assert _spec.loader is not None
published = importlib.util.module_from_spec(_spec)
import sys  # noqa: E402

sys.modules["published_values"] = published
_spec.loader.exec_module(published)


@pytest.mark.parametrize("group", published.GROUPS, ids=lambda group: group.__name__)
def test_published_values_are_met(group) -> None:
    missed = [row.markdown() for row in published.rows_of(group) if not row.holds]
    assert not missed, "\n".join(missed)


def test_the_ends_of_the_distillation_are_shown_with_their_gap() -> None:
    """A still head without a cold start overstates the initial boiling point; the end point keeps its limit."""
    initial, end = published.rows_of(published.certification_ends)
    assert 30.0 < initial.ours < 45.0
    assert end.holds


def test_the_table_prints_as_markdown() -> None:
    text = published.markdown(compact=True)
    assert text.startswith("| quantity | published | ours | difference | source |")
    assert len(text.splitlines()) > 25
