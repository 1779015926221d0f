"""Brackets of the largest draw are opened again where a harder trial succeeds at their upper end."""

from types import SimpleNamespace

import numpy as np
import pytest

from fuelsim.network.solver import draw_limit


def test_where_a_harder_trial_is_within_the_bracket_is_opened_towards_the_whole_draw(monkeypatch):
    """The upper end becomes the lower one; the next upper end is sixteen times higher, at most the whole draw."""
    high = np.array([0.02, 0.05, 0.3, 1.0])

    def attempt(batch, fraction, flow, pressure, steps, *, damped):
        assert fraction.tolist() == high.tolist()
        trial = SimpleNamespace(iterations=np.full(4, 7), flow=np.full((2, 4), 5.0), pressure=np.full((3, 4), 9.0))
        return SimpleNamespace(solution=trial, within=np.array([True, False, True, True]))

    monkeypatch.setattr(draw_limit, "_attempt", attempt)
    bracket = SimpleNamespace(
        at=np.array([3, 4, 6, 8]),
        batch=SimpleNamespace(all_pressures=lambda pressure: pressure),
        flow=np.zeros((2, 4)),
        pressure=np.zeros((3, 4)),
        low=np.array([0.01, 0.02, 0.1, 0.5]),
        high=high.copy(),
    )
    bracket.points = lambda points: SimpleNamespace(**{**vars(bracket), "high": bracket.high.copy()})
    solution = SimpleNamespace(iterations=np.arange(10))
    again = draw_limit._advanced(solution, bracket, np.arange(4), np.zeros(4, dtype=bool))
    assert again.tolist() == [True, False, True, False], "a point within at its whole draw needs no more trials"
    assert bracket.low == pytest.approx([0.02, 0.02, 0.3, 1.0])
    assert bracket.high == pytest.approx([0.32, 0.05, 1.0, 1.0])
    assert bracket.flow[0].tolist() == [5.0, 0.0, 5.0, 5.0]
    assert bracket.pressure[2].tolist() == [9.0, 0.0, 9.0, 9.0]
    assert (solution.iterations - np.arange(10)).tolist() == [0, 0, 0, 7, 7, 0, 7, 0, 7, 0]
