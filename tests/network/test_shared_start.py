"""Starts of all points from their mean: exact where every law is linear, else the tangents' own solution."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from batches import batch_of
from plumbing import PETROL, looped_net

from fuelsim.liquid import Liquid
from fuelsim.network.network import Network
from fuelsim.network.solver.newton import evaluate_iterate
from fuelsim.network.solver.shared_start import shared_start
from fuelsim.parts.filter import Filter


def linear_net(low=1e5):
    net = Network()
    net.add_reservoir("high", pressure=2e5)
    net.add_reservoir("low", pressure=low)
    for name in "abc":
        net.add_node(name)
    ends = [("high", "a"), ("b", "a"), ("b", "low"), ("a", "c"), ("c", "low"), ("high", "b")]
    for number, (up, down) in enumerate(ends):
        part = Filter(rated_flow="100 L/h", rated_drop=f"{number + 2} kPa", viscous_share=1.0)
        net.connect(up, down, part, name=f"filter {number}")
    return net


@pytest.mark.parametrize("vary", ["draws", "pressures"])
def test_the_start_of_a_network_of_linear_laws_is_its_solution(vary):
    """Draws between links of a chain too; the sum of a linear law's tangents is the law."""
    many = np.linspace(0.2, 1.8, 7)
    draws = {"a": 1e-5 * many, "c": 2e-5 * many[::-1]} if vary == "draws" else {"c": 1e-5}
    batch = batch_of(linear_net(1e5 if vary == "draws" else 1e5 * many), PETROL, draws)
    assert batch.only_draws_vary
    iterate = evaluate_iterate(batch, *shared_start(batch)(batch))
    assert iterate.pressure_error.max() < 1e-3
    assert iterate.mass_error.max() < 1e-9
    some = batch.points(np.array([5, 0]), 2)
    part = shared_start(batch)(some)[0]
    assert part == pytest.approx(iterate.flow[:, [5, 0]], rel=1e-9)


def test_where_laws_differ_between_points_each_keeps_its_own_and_the_mean_s_slopes():
    """E + s (q - q_mean) - dp_up + dp_down = 0 with the point's own E at the mean, and mass is kept."""
    net, draws = looped_net()
    viscosity = np.linspace(0.5e-6, 0.8e-6, 6)
    batch = batch_of(net, Liquid(740.0, viscosity), {name: 0.8 * value for name, value in draws.items()})
    assert not batch.only_draws_vary
    shared = shared_start(batch)
    flow, pressure = shared(batch)
    plan, kept = batch.plan, len(batch.plan.contraction.kept)
    before = batch.all_pressures(np.repeat(shared.pressure[:kept], 6, axis=1))
    own = batch.evaluate(np.repeat(shared.flow, 6, axis=1), before)
    slope = batch.mean().evaluate(shared.flow, shared.pressure).flow_slope
    change = pressure - before
    chord = slope * (flow - shared.flow)
    left = own.residual + own.flow_slope * (flow - shared.flow) - (change[plan.up] - change[plan.down])
    left_by_mean = own.residual + chord - (change[plan.up] - change[plan.down])
    # Flows follow by each point's own slope; pressures by the matrix of the mean.
    assert min(np.abs(left).max(), np.abs(left_by_mean).max()) < 1e-6 * np.abs(chord).max() + 1e-3


def test_a_mean_that_does_not_converge_starts_nothing():
    net, draws = looped_net()
    batch = batch_of(net, PETROL, {name: value * np.array([0.9, 1.1]) for name, value in draws.items()})
    assert shared_start(batch) is not None
    assert shared_start(replace(batch, draw=np.nan * batch.draw)) is None
