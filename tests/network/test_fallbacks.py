"""Each fallback alone: it solves what Newton's method solves, point by point, and says what it did not solve."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from plumbing import PETROL
from random_networks import random_plumbing

from fuelsim.network import network
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
