"""The equations of a batch and the expansion of its solution, against each link's own law applied link by link."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any, NamedTuple

import numpy as np
import pytest
from batches import batch_of
from plumbing import ATMOSPHERE, GRAVITY, PETROL

from fuelsim.laws.link import LinkLaw
from fuelsim.liquid import Liquid
from fuelsim.network.network import Network
from fuelsim.network.solver import expansion
from fuelsim.network.solver.coefficients import ChainKinks
from fuelsim.network.solver.equations import Batch
from fuelsim.network.solver.newton import typical_start
from fuelsim.parts.filter import Filter
from fuelsim.parts.line import Line
from fuelsim.parts.orifice import Orifice
from fuelsim.parts.regulator import ReturnRegulator

RNG = np.random.default_rng(23)
HEIGHTS = {
    "tank": 0.0,
    "a": 0.3,
    "b": -0.2,
    "c": 0.6,
    "d": 0.1,
    "e": 0.4,
    "f": -0.1,
    "end": 0.2,
    "tip": 0.5,
    "low": 0.0,
}
LINKS = {
    # A chain of several laws, links both ways round, with nodes that draw between them.
    "l1": ("tank", "a", Line(length=1.0, bore=0.006, loss_coefficient=2.0)),
    "l2": ("b", "a", Line(length=2.0, bore=0.007)),
    "hole": ("b", "c", Orifice(diameter=2e-3)),
    "l3": ("c", "d", Line(length=0.5, bore=0.005)),
    # Loops, and a dead end of two links, one of them against its draw.
    "l4": ("d", "e", Line(length=0.7, bore=0.006)),
    "l5": ("f", "e", Line(length=0.7, bore=0.006)),
    "l6": ("f", "d", Line(length=1.7, bore=0.004)),
    "l7": ("d", "low", Line(length=3.0, bore=0.003)),
    "l8": ("d", "low", Line(length=3.0, bore=0.004)),
    "l9": ("f", "end", Line(length=1.0, bore=0.004)),
    "l10": ("tip", "end", Line(length=1.0, bore=0.004)),
}
DRAWN = {"a": 3e-6, "b": 5e-6, "c": -2e-6, "e": 4e-6, "end": 1e-6, "tip": 2e-6}
"""m3/s at 740 kg/m3."""
DENSITY = dict.fromkeys(LINKS, 740.0) | {"l2": 700.0, "hole": 760.0, "l5": 650.0, "l10": 800.0}


def plumbed():
    net = Network()
    net.add_reservoir("tank", pressure=5e5, height=HEIGHTS["tank"])
    net.add_reservoir("low", pressure=1.2e5, height=HEIGHTS["low"])
    for name, height in HEIGHTS.items():
        if name not in ("tank", "low"):
            net.add_node(name, height=height)
    for name, (up, down, part) in LINKS.items():
        net.connect(up, down, part, name=name)
    return net


def given(count, alike):
    """Liquids and draws: one liquid, or one for each link, of which the first counts."""
    many = np.linspace(0.5, 1.5, count) if count > 1 else 1.0
    if alike:
        return PETROL, {"draw": {name: value * many for name, value in DRAWN.items()}}
    liquids = {name: Liquid(density, 0.6e-6) for name, density in DENSITY.items()}
    return liquids, {"mass_draw": {name: 740.0 * value * many for name, value in DRAWN.items()}}


def law_of(name, flow, alike):
    """Loss of a link at a volume flow by its own law, Pa."""
    part = LINKS[name][2]
    return part.law.loss(flow, part.coefficients(PETROL if alike else Liquid(DENSITY[name], 0.6e-6)))[0]


@pytest.mark.parametrize("count", [1, 3, 2000])
@pytest.mark.parametrize("alike", [True, False])
def test_a_chain_s_residual_is_the_sum_of_its_links_own(count, alike):
    """Link by link: what passes a node loses its draw; each link has its own volume flow, loss and static head."""
    net = plumbed()
    liquid, draws = given(count, alike)
    batch = batch_of(net, liquid, **draws)
    names, plan = list(net.links), batch.plan
    nodes = [*net.nodes, *net.reservoirs]
    per_unit = 1.0 if alike else 740.0
    drawn = [np.asarray(next(iter(draws.values())).get(name, 0.0)) / per_unit for name in nodes]
    # The dead end is fed through f.
    drawn[nodes.index("f")] = drawn[nodes.index("end")] + drawn[nodes.index("tip")]
    flow, pressure = typical_start(batch)
    flow = flow * RNG.uniform(-1.5, 1.5, flow.shape)
    pressure[: len(plan.contraction.kept)] += RNG.uniform(-1e5, 1e5, (len(plan.contraction.kept), batch.size))

    def residual_of(number, chain_flow):
        chain = plan.contraction.chains[number]
        passing, total = chain_flow, 0.0
        for k, (link, sign) in enumerate(zip(chain.links, chain.signs, strict=True)):
            name = names[link]
            density = 740.0 if alike else DENSITY[name]
            up, down, _ = LINKS[name]
            loss = law_of(name, sign * passing * 740.0 / density, alike)
            total = total + sign * (loss - density * GRAVITY * (HEIGHTS[up] - HEIGHTS[down]))
            if k < len(chain.nodes):
                passing = passing - drawn[chain.nodes[k]]
        return total + pressure[plan.node_row[chain.down]] - pressure[plan.node_row[chain.up]]

    found = batch.evaluate(flow, pressure)
    assert max(len(chain.links) for chain in plan.contraction.chains) == 4
    for number in range(len(plan.up)):
        assert found.residual[number] == pytest.approx(residual_of(number, flow[number]), abs=1e-6)
        step = 1e-6 * np.abs(flow[number])
        difference = residual_of(number, flow[number] + step) - residual_of(number, flow[number] - step)
        assert np.median(np.abs(found.flow_slope[number] / (0.5 * difference / step) - 1.0)) < 1e-5


@pytest.mark.parametrize("count", [1, 3, 40])
@pytest.mark.parametrize("alike", [True, False])
def test_every_link_of_a_solution_meets_its_own_law_and_every_node_keeps_mass(count, alike):
    """Inside chains, at dead ends and with links that were merged: to the stop rule, 1 Pa and a millionth."""
    net = plumbed()
    liquid, draws = given(count, alike)
    state = net.solve(liquid, **draws)
    assert np.all(state.outcome.converged)
    for name, (up, down, _) in LINKS.items():
        density = 740.0 if alike else DENSITY[name]
        drop = state.pressure[up] - state.pressure[down] + density * GRAVITY * (HEIGHTS[up] - HEIGHTS[down])
        assert drop == pytest.approx(law_of(name, np.asarray(state.flow[name]), alike), abs=2.0), name
        assert state.mass_flow[name] == pytest.approx(density * state.flow[name], rel=1e-9)
    mass = {name: np.asarray(value) * (740.0 if alike else 1.0) for name, value in next(iter(draws.values())).items()}
    for node in net.nodes:
        inflow = sum(state.mass_flow[name] for name, (_, down, _) in LINKS.items() if down == node)
        outflow = sum(state.mass_flow[name] for name, (up, _, _) in LINKS.items() if up == node)
        assert inflow - outflow == pytest.approx(mass.get(node, 0.0), abs=2e-6 * 740.0 * 1e-4), node
    assert list(state.regime) == list(LINKS)


@pytest.mark.parametrize("densities", [(740.0, 740.0), (740.0, 500.0)])
def test_equal_lines_in_series_share_the_loss_by_their_lengths_and_densities(densities):
    """Of one liquid two lengths lose in proportion; at one mass flow and viscosity a lighter one flows faster. Fully
    rough (von Karman 1930), so that the loss goes with length and m^2 / rho alone; enough points for merging."""
    net = Network()
    net.add_reservoir("tank", pressure=np.linspace(3e5, 9e5, 20))
    for name in "ab":
        net.add_node(name)
    net.add_reservoir("low", pressure=1e5)
    parts = [Line(length=length, bore=0.006, roughness=1.2e-4) for length in (1.0, 3.0, 2.0)]
    for number, (up, down) in enumerate((("tank", "a"), ("a", "b"), ("b", "low"))):
        net.connect(up, down, parts[number], name=f"line {number}")
    liquids = [Liquid(density, 1e-9) for density in (*densities, densities[0])]
    alike = densities[0] == densities[1]
    state = net.solve(liquids[0] if alike else {f"line {n}": liquid for n, liquid in enumerate(liquids)})
    first, second, third = (
        state.pressure[up] - state.pressure[down] for up, down in (("tank", "a"), ("a", "b"), ("b", "low"))
    )
    assert second == pytest.approx(3.0 * densities[0] / densities[1] * first, rel=1e-3)
    assert third == pytest.approx(2.0 * first, rel=1e-3)
    assert state.flow["line 1"] == pytest.approx(densities[0] / densities[1] * state.flow["line 0"], rel=1e-9)


def one_batch(count=4):
    draws = {name: value * np.arange(1.0, count + 1.0) for name, value in DRAWN.items()}
    return batch_of(plumbed(), PETROL, draws), draws


def test_a_fraction_of_the_draws_is_taken_of_each_of_them():
    batch, draws = one_batch()
    fraction = np.array([0.0, 0.5, 1.0, 2.0])
    scaled = batch.with_draws(fraction)
    alone = batch_of(plumbed(), PETROL, {name: value * fraction for name, value in draws.items()})
    for name in ("draw", "end_flows", "node_draw"):
        assert getattr(scaled, name) == pytest.approx(getattr(alone, name), rel=1e-12), name
    for one, other in zip((*scaled.groups, *scaled.end_groups), (*alone.groups, *alone.end_groups), strict=True):
        assert (one.offset is None) is (other.offset is None)
        if one.offset is not None:
            assert one.offset == pytest.approx(other.offset, rel=1e-12)


def test_the_mean_of_a_batch_is_one_point_of_mean_draws():
    batch, draws = one_batch()
    mean = batch.mean()
    alone = batch_of(plumbed(), PETROL, {name: float(value.mean()) for name, value in draws.items()})
    assert mean.size == 1
    for name in ("draw", "end_flows", "node_draw", "head", "fixed", "datum", "node_head"):
        assert getattr(mean, name) == pytest.approx(getattr(alone, name)), name
    for one, other in zip((*mean.groups, *mean.end_groups), (*alone.groups, *alone.end_groups), strict=True):
        for values, others in zip(one.coefficients, other.coefficients, strict=True):
            assert values == pytest.approx(others)
        assert (one.offset is None) is (other.offset is None)
        if one.offset is not None:
            assert one.offset == pytest.approx(other.offset)


def test_only_draws_vary_until_a_coefficient_a_head_or_a_density_does():
    net = plumbed()
    draws = {"e": np.array([1e-6, 2e-6])}
    assert batch_of(net, PETROL, draws).only_draws_vary
    many = np.array([700.0, 740.0])
    assert not batch_of(net, Liquid(740.0, np.array([0.5e-6, 0.6e-6])), draws).only_draws_vary
    holes = Network()
    holes.add_reservoir("tank", pressure=2e5, height=1.0)
    holes.add_reservoir("low", pressure=1e5)
    holes.connect("tank", "low", Filter(rated_flow="100 L/h", rated_drop="2 kPa"), name="filter")
    assert batch_of(holes, Liquid(700.0, 0.6e-6)).only_draws_vary
    assert not batch_of(holes, Liquid(many, 0.6e-6)).only_draws_vary
    assert not batch_of(holes, {"filter": Liquid(many, 0.6e-6)}).only_draws_vary


def test_a_regulator_s_slope_is_that_in_the_flow_at_the_reference_density():
    """By central differences; its own liquid has half the density, so that its volume flow is twice as large."""
    net = Network()
    net.add_reservoir("high", pressure=4e5)
    net.add_node("rail")
    net.add_reservoir("low", pressure=1e5)
    net.connect("high", "rail", Line(length=1.0, bore=0.004), name="line")
    net.connect("rail", "low", ReturnRegulator(set_pressure="200 kPa", droop="1 kPa h/L"), name="regulator")
    batch = batch_of(net, {"line": Liquid(800.0, 1e-6), "regulator": Liquid(400.0, 1e-6)})
    pressure = np.array([[-5e4], [0.0], [-3e5], [ATMOSPHERE - 4e5]])
    flow, step = np.array([[1.5e-5], [1.5e-5]]), 1e-9
    found = batch.evaluate(flow, pressure).flow_slope
    above, below = (batch.evaluate(flow + sign * step, pressure).residual for sign in (1.0, -1.0))
    assert found == pytest.approx((above - below) / (2.0 * step), rel=1e-4)


@pytest.mark.parametrize(("end", "pressures"), [("up", (6e4, 2e4)), ("down", (5e4, 1e4))])
def test_a_regime_is_judged_by_pressures_at_the_height_where_the_law_senses(monkeypatch, end, pressures):
    """A head of 10 kPa from up to down counts for the upstream end, or against the downstream one."""
    seen = []

    def regime(flow, p_up, p_down, p_reference, coefficients):
        seen.append((float(flow[0, 0]), float(p_up[0, 0]), float(p_down[0, 0]), float(p_reference[0, 0]), coefficients))
        return np.array([[1]])

    law = LinkLaw(name="seen", coefficients=_Factor, loss=None, regime=regime, head_applied_at=end)
    topology = SimpleNamespace(laws=(law,) * 3, up=(0, 0, 0), down=(1, 1, 1), reference=(2, 2, 2))
    batch = SimpleNamespace(plan=SimpleNamespace(topology=topology), size=1)
    inputs = SimpleNamespace(
        coefficients=_Factor(np.array([[5.0], [6.0]])),
        head=np.array([[7e4], [1e4]]),
        scale=np.array([[1.0], [2.0]]),
    )
    monkeypatch.setattr(expansion, "groups_of", lambda batch: [(SimpleNamespace(links=(2, 1)), inputs)])
    solved = SimpleNamespace(pressure=np.array([[5e4], [2e4], [1e3]]), flow=np.array([[3.0], [4.0], [5.0]]))
    assert expansion.regime_of(batch, solved, 1).tolist() == [1]
    flow, p_up, p_down, p_reference, coefficients = seen[0]
    assert (flow, p_up, p_down, p_reference) == (8.0, *pressures, 1e3)
    assert coefficients.factor.tolist() == [[6.0]]


class _Factor(NamedTuple):
    factor: Any


def test_an_added_resistance_adds_its_loss_to_every_chain():
    """5e9 Pa s/m3 times the flow."""
    batch, _ = one_batch()
    flow, pressure = typical_start(batch)
    flow = flow * RNG.uniform(-1.5, 1.5, flow.shape)
    plain, resisting = (one.evaluate(flow, pressure) for one in (batch, replace(batch, added_resistance=5e9)))
    assert resisting.residual - plain.residual == pytest.approx(5e9 * flow, rel=1e-6, abs=1e-3)
    assert resisting.flow_slope - plain.flow_slope == pytest.approx(5e9, rel=1e-3)


def test_a_chain_that_is_cut_to_its_kink_leaves_the_steps_of_the_others():
    """From 0, one chain may go to 1 of the 10 it wants, another to 100: with half of the step as the least, the first
    goes to 1, the second half its way in either direction, and a third without kinks is not touched."""
    kinks = ChainKinks(np.array([0, 1]), np.full((2, 1), -90.0), np.array([[0.9], [90.0]]), np.full((2, 1), 0.1))
    for own in (8.0, -8.0):
        flow, change = np.zeros((3, 1)), np.array([[10.0], [own], [7.0]])
        fraction = Batch.step_length(SimpleNamespace(kinks=kinks), flow, change, 0.5)
        assert fraction == pytest.approx([0.5])
        assert (fraction * change)[:, 0] == pytest.approx([1.0, 0.5 * own, 3.5])


def test_a_table_of_one_link_varies_with_its_points_and_one_of_many_links_does_not():
    def only_draws_vary(shape):
        group = SimpleNamespace(coefficients=(np.ones(shape),), head=np.ones((1, 1)), scale=None)
        return Batch.only_draws_vary.fget(SimpleNamespace(head=np.ones((1, 1)), groups=(group,)))

    assert not only_draws_vary((3, 1, 4))
    assert only_draws_vary((3, 4, 1))


def test_points_with_a_coefficient_that_is_no_number_are_incomplete():
    net = plumbed()
    lengths = np.array([1.0, np.nan, 1.0, 2.0])
    for name in ("l1", "l10"):  # in a chain, and in a dead end
        broken = Line(length=1.0, bore=0.006)
        object.__setattr__(broken, "length", lengths)
        batch = batch_of(net.with_parts({name: broken}), PETROL, {"e": 1e-6})
        assert batch.incomplete(np.array([0, 1, 3])).tolist() == [False, True, False]
    broken = Line(length=1.0, bore=0.006)
    object.__setattr__(broken, "length", np.nan)
    batch = batch_of(net.with_parts({"l1": broken}), PETROL, {"e": np.array([1e-6, 2e-6])})
    assert batch.incomplete(np.array([1, 0])).tolist() == [True, True]


def test_pressures_count_from_the_first_reservoir_and_heads_from_level_zero():
    batch, _ = one_batch()
    assert batch.datum == pytest.approx([5e5])
    assert batch.fixed[:, 0] == pytest.approx([0.0, 1.2e5 - 5e5, ATMOSPHERE - 5e5])
    nodes = [*plumbed().nodes, *plumbed().reservoirs]
    assert batch.node_head[:, 0] == pytest.approx([740.0 * GRAVITY * HEIGHTS[name] for name in nodes])
    assert batch.node_draw[nodes.index("c")] == pytest.approx(-2e-6 * np.arange(1.0, 5.0))
