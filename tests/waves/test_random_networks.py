"""Random networks of lines, valves, orifices, check valves and regulators: what must hold in any of them."""

import numpy as np
import pytest

import fuelsim as fs

LIQUID = fs.Liquid(density=740.0, kinematic_viscosity=0.6e-6)


def random_network(seed):
    random = np.random.default_rng(seed)
    nodes = [f"n{number}" for number in range(int(random.integers(2, 8)))]
    net = fs.Network()
    net.add_reservoir("high", float(random.uniform(2e5, 8e5)), height=float(random.uniform(0, 1)))
    net.add_reservoir("low", float(random.uniform(1e5, 2e5)))
    for name in nodes:
        net.add_node(name, height=float(random.uniform(0, 1)))

    def part():
        kind = random.integers(0, 8)
        if kind < 4:
            return fs.Line(length=float(10 ** random.uniform(-2, 0.7)), bore=float(random.uniform(3e-3, 10e-3)))
        return (
            fs.Orifice(diameter=float(random.uniform(1e-3, 3e-3))),
            fs.CheckValve(),
            fs.ReturnRegulator(set_pressure=float(random.uniform(5e4, 4e5))),
            fs.ThrottleValve("0.2 m3/h"),
        )[kind - 4]

    net.connect("high", nodes[0], fs.Line(length=float(random.uniform(0.2, 3)), bore="6 mm"), name="first")
    for number, name in enumerate(nodes[1:], 1):
        net.connect(nodes[int(random.integers(0, number))], name, part(), name=f"to_{name}")
    first, second = random.choice(len(nodes), 2, replace=False)
    net.connect(nodes[first], nodes[second], part(), name="across")
    net.connect(nodes[-1], "low", part(), name="last")
    return net, nodes[int(random.integers(0, len(nodes)))], random


@pytest.mark.parametrize("seed", [*range(6), *(pytest.param(seed, marks=pytest.mark.long) for seed in range(6, 200))])
def test_mass_is_kept_nothing_falls_below_vapour_and_a_steady_flow_stays(seed):
    net, node, random = random_network(seed)
    draw = float(random.uniform(1e-6, 5e-6))
    more = {"dampers": {node: fs.Damper()}} if random.random() < 0.4 else {}
    more |= {"friction": "unsteady"} if random.random() < 0.3 else {}
    try:
        steady = net.transient(LIQUID, "10 ms", draw={node: draw}, **more)
    except fs.SolveError:
        pytest.skip("no steady flow with this draw")
    if not steady.largest_cavity:
        for pressure in steady.pressure.values():
            assert pressure == pytest.approx(np.full_like(pressure, pressure[0]), abs=50.0)
    pulses = {node: ([0.0, 0.0, 0.02, 0.02], [draw, 0.0, 0.0, draw])}
    result = net.transient(LIQUID, "40 ms", draw=pulses, **more)
    assert not result.unsolved
    assert abs(result.mass_error) < 1e-9
    assert all(np.isfinite(values).all() for values in result.pressure.values())
    assert min(values.min() for values in result.pressure.values()) >= 35e3 - 1e-6
