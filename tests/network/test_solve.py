"""The order in which a batch is solved: what is cut off, and how many iterations a search may cost."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from batches import batch_of
from plumbing import ATMOSPHERE, L_H, PETROL, looped_net, pump_and_rail

from fuelsim.network.network import Network
from fuelsim.network.results import warm_start
from fuelsim.network.solver import solve
from fuelsim.network.solver.draw_limit import Violations
from fuelsim.outcome import OutcomeCode
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.line import Line


def cut_off(draw, unfed=(), undrained=()):
    plan = SimpleNamespace(unfed=np.array(unfed, dtype=int), undrained=np.array(undrained, dtype=int))
    draw = np.array(draw)
    return solve._cut_off(SimpleNamespace(size=draw.shape[1], node_draw=draw, plan=plan)).tolist()


def test_a_draw_from_a_node_that_nothing_feeds_is_cut_off_unless_some_node_is_fed():
    draw = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [1.0, 1.0, 1.0]]
    assert cut_off(draw) == [False, False, False]
    assert cut_off(draw, unfed=[0]) == [True, False, False]
    assert cut_off(draw, unfed=[0, 1]) == [True, True, False]
    assert cut_off([[1.0, 1.0], [0.0, -1.0]], unfed=[0]) == [False, False]


def test_what_is_fed_to_a_node_that_nothing_drains_is_cut_off_unless_some_node_draws():
    draw = [[-1.0, 0.0, -1.0], [0.0, -1.0, 0.0], [0.0, 0.0, 1.0]]
    assert cut_off(draw, undrained=[0]) == [True, False, False]
    assert cut_off(draw, undrained=[0, 1]) == [True, True, False]


@pytest.mark.parametrize(("median", "cold", "typical"), [(8, True, 8), (3, True, 5), (40, True, 15), (12, False, 8)])
def test_a_search_costs_seventeen_times_what_a_solved_point_does(median, cold, typical):
    """That of the batch from a cold start, between 5 and 15 iterations; 8 where there is none."""
    of_solved = np.array([1, median, median, 100])
    assert solve._most_iterations(of_solved, cold=cold) == 17.0 * typical
    assert solve._most_iterations(of_solved[:0], cold=cold) == 17.0 * 8


def test_each_method_gets_the_points_that_those_before_left(monkeypatch):
    """Of five points one is solved by each: from a limited start, in time, at its whole draw, and one has a limit; the
    last goes to the fallbacks."""
    net, draws = looped_net()
    batch = batch_of(net, PETROL, {name: value * np.linspace(0.2, 1.0, 5) for name, value in draws.items()})
    given = []

    def solving(name):
        def method(some, flow, pressure, solution, at, **_):
            given.append((name, at.tolist()))
            solution.converged[at[0]] = True
            return at[1:]

        return method

    def find(batch, solved, outside, remaining, limits, most):
        given.append(("limits", remaining.tolist()))
        limits.fraction[2] = 0.5
        solved.solution.converged[3] = True

    def fallbacks(batch, solution, failed):
        given.append(("fallbacks", failed.tolist()))
        return failed

    none = Violations(np.zeros(5, bool), np.zeros(5, bool), np.full(5, -1), np.zeros(5, int))
    monkeypatch.setattr(solve, "_solve_chunk", lambda *_: np.arange(5))
    monkeypatch.setattr(solve, "newton", solving("limited start"))
    monkeypatch.setattr(solve, "pseudo_transient", solving("time"))
    monkeypatch.setattr(solve, "violations", lambda *_: none)
    monkeypatch.setattr(solve, "find_draw_limits", find)
    monkeypatch.setattr(solve, "run_fallbacks", fallbacks)
    pressure = np.zeros((20, 5))
    monkeypatch.setattr(
        solve, "expand_to_links", lambda batch, solution: SimpleNamespace(solution=solution, pressure=pressure)
    )
    result = solve._solve(batch, None)
    assert given == [
        ("limited start", [0, 1, 2, 3, 4]),
        ("time", [1, 2, 3, 4]),
        ("limits", [2, 3, 4]),
        ("fallbacks", [4]),
    ]
    assert result.sunk.tolist() == [False, False, False, False, True]
    assert result.limits.found.tolist() == [False, False, True, False, False]
    # A second try from where the chunks ended comes first, where they left some.
    given.clear()
    monkeypatch.setattr(solve, "_solve_chunk", lambda *_: np.array([1, 3, 4]))
    monkeypatch.setattr(solve, "newton", solving("newton"))
    solve._solve(batch, None)
    assert given[:3] == [("newton", [1, 3, 4]), ("newton", [3, 4]), ("time", [4])]


def test_predictions_begin_at_600_points_and_shared_starts_at_50(monkeypatch):
    """Where there is anything to iterate; a start that is given takes the place of both."""
    net, draws = looped_net()
    asked = []
    monkeypatch.setattr(solve, "_predict", lambda batch: asked.append("prediction"))
    monkeypatch.setattr(solve, "shared_start", lambda batch: asked.append("shared"))
    dead_end = Network()
    dead_end.add_reservoir("tank", pressure=2e5)
    dead_end.add_node("rail")
    dead_end.connect("tank", "rail", Line(length=1.0, bore=0.006), name="line")

    def asked_for(net, draws, count, start=None):
        asked.clear()
        net.solve(PETROL, {name: value * np.linspace(0.9, 1.0, count) for name, value in draws.items()}, start=start)
        return list(asked)

    assert asked_for(net, draws, 49) == []
    assert asked_for(net, draws, 50) == ["shared"]
    assert asked_for(net, draws, 599) == ["shared"]
    assert asked_for(net, draws, 600) == ["prediction", "shared"]
    assert asked_for(net, draws, 600, net.solve(PETROL, draws)) == []
    assert asked_for(dead_end, {"rail": 1e-5}, 600) == []
    pipe = Network()
    pipe.add_reservoir("tank", pressure=np.linspace(2e5, 3e5, 60))
    pipe.add_reservoir("low", pressure=1e5)
    pipe.connect("tank", "low", Line(length=1.0, bore=0.006), name="line")
    asked.clear()
    pipe.solve(PETROL)
    assert asked == [], "no pressure is unknown"


@pytest.mark.parametrize("given", ["nothing", "start", "prediction", "shared"])
@pytest.mark.parametrize(("count", "aside"), [(599, False), (600, True)])
def test_a_chunk_starts_from_what_is_known_and_by_secants_from_nothing(monkeypatch, given, count, aside):
    net, draws = looped_net()
    batch = batch_of(net, PETROL, {name: value * np.linspace(0.9, 1.0, count) for name, value in draws.items()})
    chains, kept = len(batch.plan.up), len(batch.plan.contraction.kept)
    known = np.arange((chains + kept) * count, dtype=float).reshape(chains + kept, count)
    seen = []
    monkeypatch.setattr(
        solve, "newton", lambda part, flow, pressure, solution, at, **named: seen.append((flow, pressure, named))
    )
    solve._solve_chunk(
        batch,
        slice(0, count),
        (known[:chains], known[chains:]) if given == "start" else None,
        (lambda points: known[:, points]) if given == "prediction" else None,
        (lambda part: (known[:chains], part.all_pressures(known[chains:]))) if given == "shared" else None,
        None,
    )
    flow, pressure, named = seen[0]
    assert named == {"set_aside": aside, "secant_start": given == "nothing"}
    if given != "nothing":
        assert flow.tolist() == known[:chains].tolist()
        assert pressure[:kept].tolist() == known[chains:].tolist()


def plumbed():
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE + 2e5)
    for name in ("rail", "behind"):
        net.add_node(name)
    net.connect("tank", "rail", Line(length=1.0, bore=0.006), name="line")
    net.connect("tank", "rail", Line(length=1.0, bore=0.005), name="beside")
    net.connect("behind", "rail", CheckValve(), name="valve")
    return net


def test_points_that_are_cut_off_leave_the_others_as_they_are_alone():
    draws = {"rail": np.array([1e-5, 2e-5, 3e-5]), "behind": np.array([0.0, 1e-6, 0.0])}
    net = plumbed()
    state = net.solve(PETROL, draws)
    assert state.outcome.code.tolist() == [0, OutcomeCode.CUT_OFF, 0]
    assert np.isnan(state.pressure["rail"]).tolist() == [False, True, False]
    for point in (0, 2):
        alone = net.solve(PETROL, {"rail": float(draws["rail"][point])})
        assert state.flow["line"][point] == pytest.approx(alone.flow["line"], rel=1e-6)
    first = net.solve(PETROL, {"rail": draws["rail"]})
    again = net.solve(PETROL, draws, start=first)
    assert again.flow["line"][[0, 2]] == pytest.approx(state.flow["line"][[0, 2]], rel=1e-5)
    assert again.outcome.iterations[[0, 2]].max() <= 1


def batch_like(state, size):
    plan = SimpleNamespace(
        topology=state.topology,
        up=np.zeros(len(state.chain_flow)),
        contraction=SimpleNamespace(kept=tuple(range(len(state.kept_pressure)))),
    )
    return SimpleNamespace(plan=plan, size=size, datum=np.array([1000.0]))


def test_a_state_starts_a_batch_of_its_own_topology_and_as_many_points():
    net = pump_and_rail()
    state = net.solve(PETROL, {"rail": np.array([20.0, 60.0]) * L_H})
    flow, pressure = warm_start(state, batch_like(state, 2))
    assert flow.tolist() == state.chain_flow.tolist()
    assert pressure == pytest.approx(state.kept_pressure - 1000.0)
    assert warm_start(state, batch_like(state, 3)) is None
    assert warm_start(None, batch_like(state, 2)) is None
    single = net.solve(PETROL, {"rail": 20.0 * L_H})
    flow, _ = warm_start(single, batch_like(single, 3))
    assert flow.tolist() == np.repeat(single.chain_flow, 3, axis=1).tolist()
    other = batch_like(state, 2)
    other.plan.topology = plumbed().plan.topology
    assert warm_start(state, other) is None
