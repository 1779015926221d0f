"""What a start buys: iterations of the looped pump net, counted, and the same answer from every start."""

from __future__ import annotations

import numpy as np
import pytest
from plumbing import PETROL, looped_net

RNG = np.random.default_rng(5)


def swept(count, independent):
    """The looped pump net at draws around its own, all by one factor or each by its own."""
    net, draws = looped_net()
    if independent:
        factors = {name: RNG.uniform(0.7, 1.3, count) for name in draws}
    else:
        factors = dict.fromkeys(draws, np.linspace(0.5, 1.3, count))
    return net, {name: value * factors[name] for name, value in draws.items()}


@pytest.mark.parametrize(
    ("count", "independent", "most"),
    [(1000, False, 0.1), (1000, True, 1.1), (200, True, 2.2), (20, True, 6.0)],
    ids=["predicted along one factor", "predicted over four", "from their mean", "from typical flows"],
)
def test_a_start_leaves_few_iterations_and_the_same_answer(count, independent, most):
    """Newton's method doubles the digits of a good start in each iteration: a cubic through samples leaves none along
    one parameter, a linear start one or two; the answer is that of each tenth point alone, to the stop rule."""
    net, draws = swept(count, independent)
    state = net.solve(PETROL, draws)
    assert state.outcome.converged.all()
    assert state.outcome.iterations.mean() <= most
    for point in range(0, count, max(count // 10, 1)):
        alone = net.solve(PETROL, {name: float(values[point]) for name, values in draws.items()})
        assert alone.outcome.iterations <= 6
        for name in net.links:
            assert state.flow[name][point] == pytest.approx(alone.flow[name], abs=3e-6 * alone.flow["pump"])


def test_a_sweep_with_impossible_points_keeps_the_others():
    """Every seventh point draws ten times what the pump can give; the others are as without them."""
    net, draws = swept(700, True)
    plain = net.solve(PETROL, draws)
    mixed = {name: np.where(np.arange(700) % 7 == 3, 10.0 * values, values) for name, values in draws.items()}
    state = net.solve(PETROL, mixed)
    possible = np.arange(700) % 7 != 3
    assert state.outcome.converged[possible].all()
    assert not state.outcome.converged[~possible].any()
    for name in net.links:
        assert state.flow[name][possible] == pytest.approx(
            plain.flow[name][possible], abs=3e-6 * plain.flow["pump"].max()
        )
