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
    """Losses from up to down, with a head of 50 kPa at node 2, are 30, 10 and -40 kPa; against the flow they change
    their sign, without a flow and where they are no number there is none."""
    topology = SimpleNamespace(up=(0, 1, 2), down=(1, 2, 0), atmosphere=3)
    batch = SimpleNamespace(plan=SimpleNamespace(topology=topology), node_head=np.array([[0.0], [0.0], [5e4]]))
    pressure = np.array([5 * [1e5], 5 * [7e4], 5 * [1e4], 5 * [0.0]])
    pressure[0, 3] = np.nan
    flow = np.array([[1.0, 1.0, -1.0, 1.0, 0.0], [1.0, 1.0, 1.0, 1.0, 1.0], [-1.0, 1.0, 1.0, 1.0, 1.0]])
    solved = SimpleNamespace(pressure=pressure, flow=flow)
    none = Violations(np.zeros(5, bool), np.zeros(5, bool), np.full(5, -1), np.zeros(5, int))
    assert limiting_link(batch, solved, none).tolist() == [2, 0, 1, 1, 1]
    assert limiting_link(batch, solved, none._replace(pump=np.array([1, -1, 0, 2, -1]))).tolist() == [1, 0, 0, 2, 1]


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


def attempted(monkeypatch, **given):
    """What one attempt makes of six points, and which points each method was given."""
    converged = np.array([True, True, False, False, False, False])
    pressure = np.array([[0.0, 0.0, -1.1e5, 0.0, 2e9, np.nan], [9e4, 0.0, 0.0, -9e4, 0.0, 0.0]])
    solution = SimpleNamespace(converged=converged, pressure=pressure)
    calls = {}

    def method(name, leaves):
        def tried(some, flow, start, solution, failed, **named):
            calls[name] = (failed.tolist(), named)
            return np.array(leaves)

        return tried

    batch = SimpleNamespace(size=6, datum=np.array([DATUM]), points=lambda points, size: points)
    batch.with_draws = lambda fraction: batch
    monkeypatch.setattr(draw_limit, "Solution", SimpleNamespace(empty=lambda batch: solution))
    monkeypatch.setattr(draw_limit, "newton", method("newton", [2, 3, 4, 5]))
    monkeypatch.setattr(draw_limit, "pseudo_transient", method("time", [3, 4, 5]))
    monkeypatch.setattr(draw_limit, "is_sinking", lambda points, pressure: points == 3)
    monkeypatch.setattr(draw_limit, "damped_newton", method("damped", []))
    monkeypatch.setattr(draw_limit, "run_fallbacks", lambda batch, solution, failed: calls.update(all=failed.tolist()))
    monkeypatch.setattr(draw_limit, "expand_to_links", lambda batch, solution: None)
    worst = Violations(np.zeros(6, bool), np.array([0, 1, 0, 1, 0, 0], bool), np.full(6, -1), np.arange(6))
    monkeypatch.setattr(draw_limit, "violations", lambda batch, solved: worst)
    monkeypatch.setattr(draw_limit, "limiting_link", lambda batch, solved, worst: np.arange(6) + 10)
    arrays = np.zeros((3, 6)), np.zeros((2, 6))
    return draw_limit._attempt(batch, np.ones(6), *arrays, 12, **given), calls


def test_an_attempt_tells_what_is_within_and_what_is_shown_to_be_outside(monkeypatch):
    """Shown by a solution outside ratings, or by an iterate below a vacuum or beyond 1 GPa; not by one that merely
    did not converge."""
    trial, calls = attempted(monkeypatch)
    assert trial.within.tolist() == [True, False, False, False, False, False]
    assert trial.outside.tolist() == [False, True, True, False, True, True]
    assert trial.link.tolist() == [10, 11, 12, 13, 14, 15]
    assert set(calls) == {"newton"}
    assert calls["newton"][1]["most_pressure"] == pytest.approx(1e9)


def test_an_attempt_that_is_to_be_harder_takes_damped_steps_where_asked_and_nothing_sinks(monkeypatch):
    _, calls = attempted(monkeypatch, damped=np.array([True, True, True, True, True, False]))
    assert calls["time"][0] == [2, 3, 4, 5]
    assert calls["damped"][0] == [4], "3 sinks, and 5 was not to be tried"
    assert "all" not in calls
    _, calls = attempted(monkeypatch, all_fallbacks=True)
    assert set(calls) == {"newton", "all"}
    assert calls["all"] == [2, 3, 4, 5]
    assert calls["newton"][1]["most_pressure"] == np.inf


def limits_of(
    monkeypatch, largest, *, iterations=3, most=1e9, draws=None, proven_by=True, shown=False, converged=None,
    worst=None, known=(), unconverged=(),
):  # fmt: skip
    """Limits of points of which fractions up to the largest are within ratings, one trial costing some iterations."""
    largest = np.array(largest)
    size = largest.size
    batch = SimpleNamespace(size=size, node_draw=np.ones((2, size)) if draws is None else np.array(draws))
    put = {}
    solution = SimpleNamespace(
        converged=np.ones(size, bool) if converged is None else np.array(converged),
        iterations=np.zeros(size, int),
        put=lambda at, part, chosen: put.update(dict.fromkeys(at.tolist(), True)),
    )
    below = np.ones(size, bool) if worst is None else np.array(worst)
    worst = Violations(below, np.zeros(size, bool), np.full(size, -1), np.zeros(size, int))

    def without(batch, solved, worst, at):
        own = bracket([0.0] * at.size, [1.0] * at.size)
        own.outside[:] = shown
        own.at, own.batch = at, SimpleNamespace(all_pressures=lambda pressure: pressure)
        # The brackets of some points keep their own batch: only positions matter here.
        object.__setattr__(own, "points", lambda points: taken(own, points))
        return own

    def taken(own, points):
        some = bracket(own.low[points], own.high[points], own.proven[points])
        some.at, some.batch, some.outside = own.at[points], own.batch, own.outside[points]
        some.link, some.node = own.link[points], own.node[points]
        object.__setattr__(some, "points", lambda further: taken(some, further))
        return some

    current = []

    def attempt(batch, fraction, flow, pressure, steps, **named):
        at = current[-1]
        within = fraction <= largest[at]
        trial = SimpleNamespace(
            converged=np.full(at.size, proven_by),
            iterations=np.full(at.size, iterations),
            flow=np.zeros((2, at.size)),
            pressure=np.zeros((1, at.size)),
        )
        return draw_limit._Trial(trial, within, ~within & proven_by, at + 20, at + 30)

    plain = draw_limit._Bracket.middle

    def middle(own):
        current.append(own.at)
        return plain(own)

    monkeypatch.setattr(draw_limit, "_without_draws", without)
    monkeypatch.setattr(draw_limit, "_attempt", attempt)
    monkeypatch.setattr(draw_limit._Bracket, "middle", middle)
    limits = DrawLimits.empty(size)
    limits.fraction[list(known)] = 0.77
    also = np.array(unconverged, dtype=int)
    draw_limit.find_draw_limits(batch, SimpleNamespace(solution=solution), worst, also, limits, most)
    return limits, solution, put


def test_the_largest_fraction_is_bracketed_to_one_percent_and_its_limit_named(monkeypatch):
    largest = [0.3, 0.004, 5e-5, 0.9]
    limits, solution, put = limits_of(monkeypatch, largest)
    assert np.all(limits.fraction[[0, 1, 3]] <= np.array(largest)[[0, 1, 3]])
    assert limits.fraction[[0, 1, 3]] == pytest.approx(np.array(largest)[[0, 1, 3]], rel=0.011)
    assert limits.fraction[2] == 0.0, "below a ten-thousandth is none"
    assert limits.bracketed.all()
    assert limits.link.tolist() == [20, 21, 22, 23]
    assert limits.node.tolist() == [30, 31, 32, 33]
    assert not put
    assert np.all(solution.iterations <= 3 * 16)


def test_a_point_that_is_within_with_its_whole_draw_is_stored_as_solved(monkeypatch):
    limits, _, put = limits_of(monkeypatch, [1.0, 0.3])
    assert put == {0: True}
    assert limits.found.tolist() == [False, True]


def test_points_without_any_draw_are_not_looked_at(monkeypatch):
    limits, solution, _ = limits_of(monkeypatch, [0.3, 0.3], draws=[[0.0, 0.0], [0.0, -1.0]])
    assert limits.found.tolist() == [False, True]
    assert solution.iterations[0] == 0
    assert not limits_of(monkeypatch, [0.3], draws=[[0.0], [0.0]])[0].found.any()


def test_a_search_that_costs_too_much_keeps_the_bracket_it_has(monkeypatch):
    """After the third trial of 100 iterations none of 310 is left for another: the bracket is still wide."""
    limits, solution, _ = limits_of(monkeypatch, [0.3], iterations=100, most=310.0)
    assert solution.iterations.tolist() == [300]
    assert limits.found[0]
    assert not limits.bracketed[0]
    assert limits.fraction[0] <= 0.3


def test_limits_are_searched_of_points_that_solved_outside_and_of_those_named(monkeypatch):
    """Not of those within, unsolved, or whose limit is known already; the last is named."""
    limits, _, _ = limits_of(
        monkeypatch,
        [0.3, 0.3, 0.3, 0.3, 0.3],
        converged=[True, True, False, True, False],
        worst=[True, False, True, True, True],
        known=[3],
        unconverged=[4],
    )
    assert limits.fraction[[0, 4]] == pytest.approx([0.3, 0.3], rel=0.011)
    assert np.isnan(limits.fraction[[1, 2]]).all()
    assert limits.fraction[3] == 0.77


@pytest.mark.parametrize(("left", "again", "bracketed"), [(100, [True], True), (40, [False], True), (20, None, False)])
def test_an_upper_end_that_merely_did_not_converge_is_tried_again_if_enough_iterations_are_left(
    monkeypatch, left, again, bracketed
):
    """With damped steps if there are enough for those too (62 in all), else without (32); else it stays in doubt."""
    _, proven, _ = limits_of(monkeypatch, [0.3], iterations=1)
    asked = []

    def advanced(solution, own, points, damped):
        asked.append(damped.tolist())
        return np.zeros(points.size, bool)

    monkeypatch.undo()
    monkeypatch.setattr(draw_limit, "_advanced", advanced)
    most = float(proven.iterations[0] + left)
    limits, solution, _ = limits_of(monkeypatch, [0.3], iterations=1, most=most, proven_by=False, shown=True)
    assert solution.iterations.tolist() == proven.iterations.tolist()
    assert asked == ([again] if again else [])
    assert limits.fraction[0] == pytest.approx(0.3, rel=0.011)
    assert limits.bracketed.tolist() == [bracketed]


def test_without_any_sign_of_a_limit_none_is_stored_and_an_end_that_works_after_all_is_opened(monkeypatch):
    limits, _, _ = limits_of(monkeypatch, [0.3], proven_by=False, most=0.0)
    assert not limits.found[0]
    opened = []

    def advanced(solution, own, points, damped):
        opened.append(own.high.tolist())
        own.low[points], own.high[points] = own.high[points], 1.0
        return np.full(points.size, len(opened) == 1)

    monkeypatch.setattr(draw_limit, "_advanced", advanced)
    limits, _, _ = limits_of(monkeypatch, [0.3], proven_by=False, shown=True)
    assert len(opened) == 2
    assert limits.found[0]


def test_brackets_begin_with_the_points_that_are_within_without_any_draw(monkeypatch):
    """Of positions 1 and 3 the second is not: the first goes on, from none to the whole draw, with what is known."""
    batch = SimpleNamespace(points=lambda points, size: SimpleNamespace(points=lambda at, size: ("batch", at.tolist())))
    solution = SimpleNamespace(iterations=np.zeros(4, int), converged=np.array([True, True, True, False]))
    without = SimpleNamespace(iterations=np.array([7, 9]), flow=np.ones((2, 2)), pressure=np.ones((1, 2)))
    trial = draw_limit._Trial(without, np.array([True, False]), None, None, None)
    asked = []
    monkeypatch.setattr(draw_limit, "typical_start", lambda some, limited: (np.zeros((2, 2)), np.zeros((1, 2))))
    monkeypatch.setattr(draw_limit, "_attempt", lambda some, fraction, *_, **named: asked.append(fraction) or trial)
    monkeypatch.setattr(draw_limit, "limiting_link", lambda *_: np.arange(4) + 20)
    worst = Violations(np.ones(4, bool), np.zeros(4, bool), np.full(4, -1), np.arange(4) + 30)
    found = draw_limit._without_draws(batch, SimpleNamespace(solution=solution), worst, np.array([1, 3]))
    assert asked[0].tolist() == [0.0, 0.0]
    assert solution.iterations.tolist() == [0, 7, 0, 9]
    assert (found.at.tolist(), found.low.tolist(), found.high.tolist()) == ([1], [0.0], [1.0])
    assert found.proven.tolist() == found.outside.tolist() == [True]
    assert (found.link.tolist(), found.node.tolist()) == ([21], [31])
    assert found.batch == ("batch", [0])
