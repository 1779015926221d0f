"""Each fallback alone: it solves what Newton's method solves, point by point, and says what it did not solve."""

from __future__ import annotations

import dataclasses
from types import SimpleNamespace

import numpy as np
import pytest
from plumbing import L_H, PETROL
from random_networks import random_plumbing

from fuelsim.network import network
from fuelsim.network.solver import fallbacks
from fuelsim.network.solver.coefficients import ChainKinks
from fuelsim.network.solver.fallbacks import continuation, damped_newton
from fuelsim.network.solver.newton import FLOW_TOLERANCE, LEAST_FLOW, Solution, typical_start
from fuelsim.network.solver.pseudo_transient import pseudo_transient

SEEDS = range(100, 114)


@pytest.fixture(scope="module")
def solved():
    """Batches of six draws each, and the solution of each by the whole search."""
    pairs = []
    with pytest.MonkeyPatch.context() as patch:
        plain = network.solve_batch

        def kept(batch, start):
            result = plain(batch, start)
            pairs.append((batch, result.solved.solution))
            return result

        patch.setattr(network, "solve_batch", kept)
        for seed in SEEDS:
            plumbing = random_plumbing(seed, 6)
            plumbing.build().solve(PETROL, plumbing.draws)
    return pairs


def by_continuation(batch, flow, pressure, solution, at):
    continuation(batch, solution, at)
    return np.flatnonzero(~solution.converged)


@pytest.mark.parametrize("fallback", [damped_newton, pseudo_transient, by_continuation])
def test_each_fallback_solves_what_the_whole_search_solves(solved, fallback):
    """The stop rule is the judge of each point, and the solution of the others (judged by scipy elsewhere) the second.
    Points are given in reverse, so that none may be mistaken for its neighbour."""
    tried = reached = 0
    for batch, whole in solved:
        at = np.arange(batch.size)[::-1].copy()
        some = batch.points(at, at.size)
        solution = Solution.empty(batch)
        failed = fallback(some, *typical_start(some, limited=True), solution, at)
        assert sorted(failed) == np.flatnonzero(~solution.converged).tolist()
        both = solution.converged & whole.converged
        tried, reached = tried + whole.converged.sum(), reached + both.sum()
        largest = np.abs(whole.flow[:, both]).max(axis=0, initial=LEAST_FLOW)
        assert np.all(np.abs(solution.flow[:, both] - whole.flow[:, both]) < 5.0 * FLOW_TOLERANCE * largest)
        assert np.all(solution.flow_error[both] < FLOW_TOLERANCE)
    assert tried > 20
    assert reached >= 0.85 * tried


def fraction_of(batch, before, step, least=0.0):
    """Fraction of a step of the first chain alone, with kinks at -1 and 2 and a margin of 0.1, and its own change."""
    kinks = ChainKinks(np.array([0]), np.array([[-1.0]]), np.array([[2.0]]), np.array([[0.1]]))
    one = dataclasses.replace(batch.points(np.array([0]), 1), kinks=kinks)
    flow, change = (np.zeros((len(batch.plan.up), 1)) for _ in range(2))
    flow[0], change[0] = before, step
    fraction = one.step_length(flow, change, least)
    return None if fraction is None else (float(fraction[0]), float(change[0, 0]))


def test_a_step_ends_at_a_kink_s_margin_or_may_grow_thirtyfold_beyond_it(solved):
    """By hand from the rule: from between the kinks to their margins; from beyond one to thirty times as far."""
    batch = solved[0][0]
    assert fraction_of(batch, 0.0, 1.5) is None
    assert fraction_of(batch, 0.0, -1.05) is None
    assert fraction_of(batch, 0.5, 4.0) == pytest.approx((1.6 / 4.0, 4.0))
    assert fraction_of(batch, 0.5, -4.0) == pytest.approx((1.6 / 4.0, -4.0))
    assert fraction_of(batch, 2.5, 20.0) == pytest.approx(((30.0 * 0.5 + 0.1 + 2.0 - 2.5) / 20.0, 20.0))
    assert fraction_of(batch, -1.5, -20.0) == pytest.approx(((30.0 * 0.5 + 0.1 + 1.0 - 1.5) / 20.0, -20.0))
    assert fraction_of(batch, 2.5, -3.0) is None
    # With a least fraction the chain's own change is cut to where it may go, and all others go the least.
    fraction, own = fraction_of(batch, 0.5, 4.0, least=0.8)
    assert fraction == pytest.approx(0.8)
    assert own * fraction == pytest.approx(1.6)
    fraction, own = fraction_of(batch, 0.5, -4.0, least=0.8)
    assert own * fraction == pytest.approx(-1.6)


def accepted(monkeypatch, residual_at, *, longest=None, imbalance_at=None, conductance=1.0):
    """Accepted length of a step of one flow from 0 to 1 where the residual and the imbalance are given functions."""

    def evaluated(batch, flow, pressure):
        residual = np.array([[residual_at(float(flow[0, 0]))]])
        imbalance = np.array([[0.0 if imbalance_at is None else imbalance_at(float(pressure[0, 0]))]])
        return SimpleNamespace(
            flow=flow,
            pressure=pressure,
            evaluation=SimpleNamespace(residual=residual),
            imbalance=imbalance,
            conductance=np.array([[conductance]]),
        )

    monkeypatch.setattr(fallbacks, "evaluate_iterate", evaluated)
    limit = None if longest is None else np.array([longest])
    batch = SimpleNamespace(size=1, step_length=lambda flow, change: limit)
    start = evaluated(batch, np.zeros((1, 1)), np.zeros((1, 1)))
    return float(fallbacks._line_search(batch, start, np.ones((1, 1)), np.ones((1, 1)))[0])


def test_a_step_is_halved_until_the_residual_falls_by_what_its_length_promises(monkeypatch):
    """Armijo's rule with a ten-thousandth of the slope (Nocedal and Wright 2006, 3.1)."""
    assert accepted(monkeypatch, lambda t: 1.0 - 0.5 * t) == 1.0
    assert accepted(monkeypatch, lambda t: 1.0 - t + 3.5 * t**2) == 0.25
    assert accepted(monkeypatch, lambda t: 1.0 - t + 3.5 * t**2, longest=0.4) == pytest.approx(0.2)
    assert accepted(monkeypatch, lambda t: 0.99995 if t == 1.0 else 0.99993) == 0.5
    assert accepted(monkeypatch, lambda t: 0.9998) == 1.0


def test_a_step_is_also_accepted_once_the_residual_s_projection_on_it_is_half(monkeypatch):
    """Where it leads downhill (a projection below 0): up to half as much uphill, or further downhill still."""
    assert accepted(monkeypatch, lambda t: -1.0 - t) == 1.0
    assert accepted(monkeypatch, lambda t: -1.0 if t == 0.0 else 5.0 * t, longest=1.0) == pytest.approx(0.125)
    # The imbalance alone grows; the projection is that of the residual.
    assert accepted(monkeypatch, lambda t: -1.0 + 1.4 * t, imbalance_at=lambda t: 9.0 * t) == 1.0
    assert accepted(monkeypatch, lambda t: -1.0 + 1.6 * t, imbalance_at=lambda t: 9.0 * t) == 0.5
    # Uphill from the start the residual must fall, and with it the imbalance.
    assert accepted(monkeypatch, lambda t: 1.0 - t, imbalance_at=lambda t: 1.2 * t) == 0.5


def test_residuals_and_imbalances_weigh_as_flows(monkeypatch):
    """A conductance of 10 makes a residual of 1 outweigh a growing imbalance of 5."""
    assert accepted(monkeypatch, lambda t: 1.0 - t, imbalance_at=lambda t: 5.0 * t, conductance=10.0) == 1.0
    assert accepted(monkeypatch, lambda t: 1.0 - t, imbalance_at=lambda t: 5.0 * t, conductance=1.0) < 0.1


def test_where_no_length_will_do_the_best_one_is_taken_and_none_where_none_is_a_number(monkeypatch):
    assert accepted(monkeypatch, lambda t: 1.0 + (t - 0.25) ** 2 if t else 1.0) == 0.25
    assert accepted(monkeypatch, lambda t: np.nan if t else 1.0) == 0.0


def test_a_point_whose_errors_no_longer_fall_is_given_up(solved):
    """A draw that is no number: no error ever falls, and after the stall steps the point is returned with the rest
    solved as before."""
    batch, whole = solved[0]
    spoilt = np.where(np.arange(batch.size) == 2, np.nan, batch.draw * np.ones(batch.size))
    impossible = dataclasses.replace(batch, draw=spoilt)
    solution = Solution.empty(impossible)
    at = np.arange(batch.size)
    failed = damped_newton(impossible, *typical_start(impossible), solution, at, steps=300)
    assert failed.tolist() == [2]
    assert solution.iterations[2] == fallbacks._STALL_STEPS
    assert solution.converged.tolist() == [True, True, False, True, True, True]
    assert solution.flow[:, 5] == pytest.approx(whole.flow[:, 5], rel=1e-4, abs=1e-10)


def test_errors_that_stay_as_they_are_are_no_improvement(solved, monkeypatch):
    """Steps of no length: every point is given up after the stall steps."""
    batch = solved[0][0]
    monkeypatch.setattr(fallbacks, "_line_search", lambda batch, *_: np.zeros(batch.size))
    solution, at = Solution.empty(batch), np.arange(batch.size)
    failed = damped_newton(batch, *typical_start(batch), solution, at, steps=2 * fallbacks._STALL_STEPS)
    assert sorted(failed) == at.tolist()
    assert solution.iterations.tolist() == [fallbacks._STALL_STEPS] * batch.size


def test_errors_that_fall_slowly_are_an_improvement_and_one_point_s_stall_ends_no_other(solved, monkeypatch):
    """Steps of a fifth of their length leave 0.8 of an error each, so that a millionth takes some sixty; one point is
    no number and is given up on the way."""
    batch, whole = solved[0]
    monkeypatch.setattr(fallbacks, "_line_search", lambda batch, *_: np.full(batch.size, 0.2))
    spoilt = np.where(np.arange(batch.size) == 2, np.nan, batch.draw * np.ones(batch.size))
    impossible = dataclasses.replace(batch, draw=spoilt)
    solution, at = Solution.empty(batch), np.arange(batch.size)
    failed = damped_newton(impossible, *typical_start(batch, limited=True), solution, at, steps=200)
    assert failed.tolist() == [2]
    assert solution.converged.tolist() == [True, True, False, True, True, True]
    assert np.all(np.delete(solution.iterations, 2) > fallbacks._STALL_STEPS)
    assert solution.flow[:, 5] == pytest.approx(whole.flow[:, 5], rel=1e-4, abs=1e-10)


def test_the_last_damped_step_accepts_the_whole_tolerance(solved, monkeypatch):
    """With no error small enough to be aimed at, points are solved at the last step and not before."""
    batch = solved[0][0]
    monkeypatch.setattr(fallbacks, "AIMED_TOLERANCE_FRACTION", 0.0)
    solution = Solution.empty(batch)
    failed = damped_newton(batch, *typical_start(batch, limited=True), solution, np.arange(batch.size), steps=25)
    assert failed.size == 0
    assert solution.iterations.tolist() == [24] * batch.size


def test_no_fallback_goes_beyond_the_first_that_solves_its_point(solved, monkeypatch):
    """The order: more Newton steps, damped ones, time, added resistance; points far below a vacuum end the search."""
    batch = next(batch for batch, whole in solved if whole.converged.all())
    called = []

    def failing(name, leaves):
        def tried(some, flow, pressure, solution, failed, **_):
            called.append((name, failed.tolist()))
            assert some.size == failed.size
            return failed[leaves]

        return tried

    monkeypatch.setattr(fallbacks, "newton", failing("newton", slice(1, None)))
    monkeypatch.setattr(fallbacks, "damped_newton", failing("damped", slice(1, None)))
    monkeypatch.setattr(fallbacks, "pseudo_transient", failing("time", slice(1, None)))
    monkeypatch.setattr(
        fallbacks, "continuation", lambda some, solution, failed: called.append(("last", failed.tolist()))
    )
    monkeypatch.setattr(fallbacks, "is_sinking", lambda some, pressure: np.arange(pressure.shape[1]) == 0)
    solution = Solution.empty(batch)
    assert fallbacks.run_fallbacks(batch, solution, np.arange(6)).tolist() == [3]
    assert called == [
        ("newton", [0, 1, 2, 3, 4, 5]),
        ("damped", [1, 2, 3, 4, 5]),
        ("time", [2, 3, 4, 5]),
        ("last", [4, 5]),
    ]
    called.clear()
    assert fallbacks.run_fallbacks(batch, solution, np.arange(1)).size == 0
    assert called == [("newton", [0])]
    assert fallbacks.run_fallbacks(batch, solution, np.arange(2)).size == 0
    assert fallbacks.run_fallbacks(batch, solution, np.arange(3)).size == 0
    assert called[-1] == ("time", [2])


def test_a_continuation_takes_the_added_resistance_away_step_by_step(solved, monkeypatch):
    """From where each point last converged, and at last without any; iterations are counted where they belong."""
    batch = solved[0][0]
    seen = []

    def damped(some, flow, pressure, solution, at, steps=0):
        seen.append((some.added_resistance, flow[0, :2].tolist()))
        solution.flow[:], solution.pressure[:] = float(len(seen)), 10.0 * len(seen)
        solution.converged[:] = np.arange(some.size) != 1
        solution.iterations[:] += 5

    monkeypatch.setattr(fallbacks, "damped_newton", damped)
    solution, start = Solution.empty(batch), typical_start(batch)[0]
    continuation(batch, solution, np.arange(batch.size))
    resistances = [resistance for resistance, _ in seen]
    assert resistances == sorted(resistances, reverse=True)
    assert resistances[-1] == 0.0
    assert resistances[-2] * L_H < 1.0, "of next to no effect on a litre an hour at last"
    assert [flow for _, flow in seen] == [[start[0, 0] if n == 0 else float(n), start[0, 1]] for n in range(len(seen))]
    assert solution.iterations.tolist() == [5 * len(seen)] * batch.size
