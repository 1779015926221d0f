"""Randomly drawn networks of tubes and pumps against EPANET."""

from __future__ import annotations

import numpy as np
import pytest
from plumbing import ATMOSPHERE, GRAVITY, PETROL, EpanetLine, parabolic_pump

from fuelsim.network.network import Network
from fuelsim.parts.line import Line

judge = pytest.importorskip("epanet_judge")

WANTED = 60
HEAD = 740.0 * GRAVITY


def random_case(seed: int):
    """A tree with chords, one or two pumps, draws; SI."""
    random = np.random.default_rng(seed)
    nodes = [f"n{number}" for number in range(random.integers(3, 9))]
    pipes = {}
    for number, name in enumerate(nodes[1:], start=1):
        pipes[f"t{number}"] = (nodes[random.integers(0, number)], name)
    for number in range(random.integers(0, 3)):
        up, down = random.choice(len(nodes), 2, replace=False)
        pipes[f"c{number}"] = (nodes[up], nodes[down])
    sizes = {}
    for name in pipes:
        bore = random.uniform(0.005, 0.010)
        sizes[name] = (random.uniform(0.2, 3.0), bore, random.uniform(0.0, 1e-3) * bore, random.uniform(0.0, 5.0))
    pumps = {}
    for number in range(random.integers(1, 3)):
        head, run_out = random.uniform(30.0, 90.0), random.uniform(0.05, 0.12)
        pumps[f"pump{number}"] = (nodes[0], head, head / run_out**2, run_out)
    run_out = sum(values[3] for values in pumps.values())
    takers = random.choice(nodes, min(3, len(nodes)), replace=False)
    share = random.dirichlet(np.ones(len(takers)))
    draws = {
        str(name): float(value * run_out * random.uniform(0.3, 0.6)) * 1e-3
        for name, value in zip(takers, share, strict=True)
    }
    return nodes, pipes, sizes, pumps, draws


def solve_both(seed: int, line: type):
    """Return both solutions; None if a link lies in the transition or a pump does not pump."""
    nodes, pipes, sizes, pumps, draws = random_case(seed)

    def built(kind: type) -> Network:
        net = Network(ATMOSPHERE)
        net.add_reservoir("tank", pressure=ATMOSPHERE)
        for name in nodes:
            net.add_node(name)
        for name, (node, head, fall, _) in pumps.items():
            net.connect("tank", node, parabolic_pump(head, fall), name=name)
        for name, (up, down) in pipes.items():
            length, bore, roughness, fittings = sizes[name]
            part = kind(length=length, bore=bore, roughness=roughness, loss_coefficient=fittings)
            net.connect(up, down, part, name=name)
        return net

    net = built(Line)
    state = net.solve(PETROL, draws)
    if not state.outcome.converged or any(state.regime[name] != "pumping" for name in pumps):
        return None
    for name in pipes:
        reynolds = abs(state.flow[name]) * 4.0 / (np.pi * sizes[name][1] * 0.6e-6)
        if 1900.0 < reynolds < 4100.0:
            return None
    if line is not Line:
        net = built(line)
        state = net.solve(PETROL, draws)
    model = judge.EpanetModel(
        junctions=dict.fromkeys(nodes, 0.0),
        reservoirs={"tank": 0.0},
        pipes={name: judge.Pipe(up, down, *sizes[name]) for name, (up, down) in pipes.items()},
        # EPANET's single design point: shut-off at 4/3 of its head, no head at twice its flow.
        pumps={
            name: ("tank", node, [(0.5 * run_out, 0.75 * head)]) for name, (node, head, _, run_out) in pumps.items()
        },
    )
    for name, draw in draws.items():
        model.set_demand(model.node(name), draw)
    model.solve()
    heads, flows = model.results()
    model.close()
    return net, state, heads, flows


def worst_differences(line: type) -> tuple[float, float]:
    """Largest differences over many networks: of pressure over the pump's rise, of flow over the largest flow."""
    compared, worst_pressure, worst_flow = 0, 0.0, 0.0
    for seed in range(2000):
        both = solve_both(seed, line)
        if both is None:
            continue
        net, state, heads, flows = both
        rise = max(state.gauge_pressure[link.down] for name, link in net.links.items() if name.startswith("pump"))
        largest = max(abs(flow) for flow in flows.values())
        for name in net.nodes:
            worst_pressure = max(worst_pressure, abs(state.gauge_pressure[name] - heads[name] * HEAD) / rise)
        for name in net.links:
            worst_flow = max(worst_flow, abs(state.flow[name] - flows[name]) / largest)
        compared += 1
        if compared == WANTED:
            break
    assert compared == WANTED
    return worst_pressure, worst_flow


def test_random_networks_of_tubes_and_pumps_agree_with_epanet():
    """Outside Re 2000-4000 and k/D up to 1e-3: pressures to 0.2 % of the pump's rise, flows to 1 % of the largest.

    EPANET uses Swamee-Jain, which differs from Colebrook by -0.7 to +3.3 %.
    """
    pressure, flow = worst_differences(Line)
    assert pressure < 2e-3
    assert flow < 1e-2


def test_random_networks_with_the_same_friction_law_agree_much_closer():
    """What is left is EPANET's accuracy and the pump curve on 33 knots."""
    pressure, flow = worst_differences(EpanetLine)
    assert pressure < 1e-4
    assert flow < 2e-4
