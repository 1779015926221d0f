"""What is outside ratings, what limits a draw, and how the largest draw is bracketed; each by hand."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from fuelsim.laws.link import Regime
from fuelsim.network.solver import draw_limit
from fuelsim.network.solver.draw_limit import DrawLimits, Violations, limiting_link, violations

DATUM = 1e5


def judged(monkeypatch, pressure, *, past=(), draw=None, node_head=None):
    """Violations of a network of three unknown nodes and two reservoirs, nodes a, b, c in rows, with two pumps.

    `pressure` (5, points) is in kPa over the datum, `past` the points past run-out of each pump; nodes a and c draw.
    """
    pressure = 1e3 * np.array(pressure, dtype=float)
    size = pressure.shape[1]
    pumps = SimpleNamespace(regimes=(Regime.PUMPING, Regime.PAST_RUN_OUT))
    laws = (SimpleNamespace(regimes=("flowing",)), pumps, pumps)
    draw = np.array([[1e-5], [0.0], [2e-5]]) * np.ones(size) if draw is None else np.array(draw)
    batch = SimpleNamespace(
        plan=SimpleNamespace(topology=SimpleNamespace(unknown=3, laws=laws)),
        size=size,
        datum=np.array([DATUM]),
        node_draw=draw,
        node_head=np.zeros((5, 1)) if node_head is None else 1e3 * np.array(node_head, dtype=float)[:, None],
    )
    regimes = {link: np.isin(np.arange(size), points).astype(int) for link, points in zip((1, 2), past, strict=False)}
    monkeypatch.setattr(draw_limit, "regime_of", lambda batch, solved, link: regimes.get(link, np.zeros(size, int)))
    solved = SimpleNamespace(pressure=np.concatenate([pressure, np.zeros((1, size))]))
    return violations(batch, solved)


def test_a_node_below_a_vacuum_is_outside_ratings_and_named(monkeypatch):
    """The datum is 100 kPa: -99 kPa over it is a pressure, -101 kPa is none, at whatever node."""
    found = judged(monkeypatch, [[10, 0, 0], [-99, -101, -5], [0, -50, -150], [0, 0, 0], [-20, 0, 0]])
    assert found.below_vacuum.tolist() == [False, True, True]
    assert found.any.tolist() == [False, True, True]
    assert found.node.tolist()[1:] == [1, 2]
    assert found.pump.tolist() == [-1, -1, -1]


def test_a_pump_past_its_run_out_with_a_drawing_node_below_every_reservoir_is_overdrawn(monkeypatch):
    """Reservoirs at 0 and -20 kPa; b draws nothing, so that its pressure says nothing."""
    pressure = [
        # above, between the reservoirs, a below both, b below both, c below both, a and c, no pump past
        [10, -10, -30, 10, 10, -40, -30],
        [10, 10, 10, -30, 10, -90, 10],
        [10, 10, 10, 10, -30, -30, 10],
        [0, 0, 0, 0, 0, 0, 0],
        [-20, -20, -20, -20, -20, -20, -20],
    ]
    found = judged(monkeypatch, pressure, past=([0, 2, 3, 5], [1, 2, 4]))
    assert found.overdrawn.tolist() == [False, False, True, False, True, True, False]
    assert not found.below_vacuum.any()
    assert found.any.tolist() == found.overdrawn.tolist()
    assert found.pump.tolist() == [1, 2, 1, 1, 2, 1, -1], "the first pump that is past its run-out"
    assert found.node[[2, 4, 5]].tolist() == [0, 2, 0], "the lowest node with a draw"


def test_a_point_that_is_overdrawn_and_below_a_vacuum_names_the_lowest_node_of_all(monkeypatch):
    found = judged(monkeypatch, [[-30], [-120], [10], [0], [0]], past=([0], []))
    assert found.overdrawn.tolist() == found.below_vacuum.tolist() == [True]
    assert found.node.tolist() == [1]


def test_nodes_are_compared_with_reservoirs_at_one_height_and_where_they_draw_alone(monkeypatch):
    """a at -10 kPa, 15 kPa of head above the reservoirs, would draw from them; 15 kPa below them, or fed, it is not."""
    pressure = [[-10], [10], [10], [0], [0]]
    assert not judged(monkeypatch, pressure, past=([0], []), node_head=[15, 0, 0, 0, 0]).overdrawn[0]
    assert judged(monkeypatch, pressure, past=([0], []), node_head=[-15, 0, 0, 0, 0]).overdrawn[0]
    assert not judged(monkeypatch, pressure, past=([0], []), node_head=[0, 0, 0, -15, 0]).overdrawn[0]
    assert judged(monkeypatch, pressure, past=([0], []), node_head=[0, 0, 0, 15, 15]).overdrawn[0]
    assert not judged(monkeypatch, pressure, past=([0], []), draw=[[-1e-5], [0.0], [2e-5]]).overdrawn[0]
    # Two points of which only the second draws at a.
    both = judged(monkeypatch, np.repeat(pressure, 2, axis=1), past=([0, 1], []), draw=[[0.0, 1e-5]] + 2 * [[0.0, 0.0]])
    assert both.overdrawn.tolist() == [False, True]


def test_what_limits_is_the_pump_past_its_run_out_or_the_link_of_greatest_loss():
    """Losses from up to down, heads taken out, are 30, 50 and -80 kPa; against the flow they change their sign."""
    topology = SimpleNamespace(up=(0, 1, 2), down=(1, 2, 0), atmosphere=3)
    batch = SimpleNamespace(plan=SimpleNamespace(topology=topology), node_head=np.array([[0.0], [0.0], [1e4]]))
    pressure = np.array([[1e5, 1e5, np.nan], [7e4, 7e4, np.nan], [1e4, 1e4, 0.0], [0.0, 0.0, 0.0]])
    flow = np.array([[1.0, 1.0, 1.0], [1.0, -1.0, 1.0], [-1.0, 1.0, 1.0]])
    solved = SimpleNamespace(pressure=pressure, flow=flow)
    # From 100 to 70, 70 to 20 and 20 to 100 kPa, with the head of node 2.
    none = Violations(np.zeros(3, bool), np.zeros(3, bool), np.array([-1, -1, -1]), np.zeros(3, int))
    assert limiting_link(batch, solved, none)[:2].tolist() == [2, 0]
    assert limiting_link(batch, solved, none._replace(pump=np.array([1, 0, 2]))).tolist() == [1, 0, 2]


def bracket(low, high, proven=None):
    size = len(low)
    return draw_limit._Bracket(
        at=np.arange(size) + 10,
        batch=None,
        flow=np.zeros((2, size)),
        pressure=np.zeros((1, size)),
        low=np.array(low, dtype=float),
        high=np.array(high, dtype=float),
        proven=np.zeros(size, bool) if proven is None else np.array(proven),
        outside=np.zeros(size, bool),
        link=np.zeros(size, int),
        node=np.zeros(size, int),
    )


def test_brackets_are_halved_near_their_limit_and_by_their_geometric_mean_far_from_it():
    found = bracket([0.1, 0.5, 0.01, 0.24, 0.26], [1.0, 0.8, 0.02, 1.0, 1.0]).middle()
    assert found == pytest.approx([0.1**0.5, 0.65, 0.015, 0.24**0.5, 0.63])
    # Nothing works yet: as if a sixteenth of the upper end did.
    assert bracket([0.0, 0.0], [1.0, 0.16]).middle() == pytest.approx([0.25, 0.04])


def test_the_whole_draw_itself_is_tried_once_four_percent_are_left_unless_it_is_known_to_be_outside():
    found = bracket([0.97, 0.97, 0.95, 0.97], [1.0, 1.0, 1.0, 0.99], [False, True, False, False]).middle()
    assert found == pytest.approx([1.0, 0.985, 0.975, 0.98])


def test_a_bracket_is_closed_at_one_percent_or_below_a_ten_thousandth():
    assert bracket([0.5, 0.5, 0.0, 0.0], [0.504, 0.506, 0.9e-4, 1.1e-4]).closed().tolist() == [True, False, True, False]


def test_a_trial_moves_the_end_it_belongs_to_and_tells_what_limits():
    """Points: within; outside and solved; outside, unsolved and running off; unsolved without a sign."""
    found = bracket(4 * [0.2], 4 * [0.8], [True, False, False, True])
    middle = np.array([0.5, 0.5, 0.6, 0.7])
    solution = SimpleNamespace(
        converged=np.array([True, True, False, False]), flow=np.full((2, 4), 7.0), pressure=np.full((1, 4), 9.0)
    )
    trial = draw_limit._Trial(
        solution,
        np.array([True, False, False, False]),
        np.array([False, True, True, False]),
        np.full(4, 3),
        np.full(4, 5),
    )
    found.narrow(middle, trial)
    assert found.low.tolist() == [0.5, 0.2, 0.2, 0.2]
    assert found.high.tolist() == [0.8, 0.5, 0.6, 0.7]
    assert found.flow[0].tolist() == [7.0, 0.0, 0.0, 0.0]
    assert found.pressure[0].tolist() == [9.0, 0.0, 0.0, 0.0]
    assert found.proven.tolist() == [True, True, False, False], "of the upper end only what was solved outside"
    assert found.outside.tolist() == [False, True, True, False]
    # Known from a solution outside already, the part that limits is not told by one within.
    assert found.link.tolist() == [0, 3, 0, 0]
    assert found.node.tolist() == [0, 5, 0, 0]
    found = bracket([0.2], [0.8])
    within = draw_limit._Trial(
        SimpleNamespace(converged=np.array([True]), flow=np.ones((2, 1)), pressure=np.ones((1, 1))),
        np.array([True]), np.array([False]), np.array([3]), np.array([5]),
    )  # fmt: skip
    found.narrow(np.array([0.5]), within)
    assert found.link.tolist() == [3], "from the last one within, while none outside is solved"


def test_limits_are_stored_where_they_belong_and_next_to_nothing_is_none():
    limits = DrawLimits.empty(14)
    some = bracket([0.5, 0.0, 0.3], [0.504, 0.5e-4, 0.9])
    some.link, some.node = np.array([1, 2, 3]), np.array([4, 5, 6])
    draw_limit._store(limits, some, np.array([True, True, False]), np.array([True, True, False]))
    assert limits.fraction[10:12].tolist() == [0.5, 0.0]
    assert limits.found.nonzero()[0].tolist() == [10, 11]
    assert limits.link[10:13].tolist() == [1, 2, 0]
    assert limits.node[10:13].tolist() == [4, 5, 0]
    assert limits.bracketed.nonzero()[0].tolist() == [10, 11]
