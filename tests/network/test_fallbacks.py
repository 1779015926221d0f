"""Each fallback alone: it solves what Newton's method solves, point by point, and says what it did not solve."""

from __future__ import annotations

import numpy as np
import pytest
from plumbing import PETROL
from random_networks import random_plumbing

from fuelsim.network import network
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
