"""Networks with published or independently computed solutions."""

from __future__ import annotations

import numpy as np
import pytest
from plumbing import (
    ATMOSPHERE,
    L_H,
    PETROL,
    FixedFactorPipe,
    heads,
    looped_net,
    looped_net_data,
    pump_and_rail,
)

from fuelsim.liquid import Liquid
from fuelsim.network.network import Network


def test_looped_pump_net_meets_an_independent_gradient_solve():
    """Independent solve with Swamee-Jain, g = 9.80665: 0.1 % on heads and pump flow, 0.5 % loops, 2 % transition."""
    net, draws = looped_net()
    state = net.solve(PETROL, draws)
    head = heads(net, state)
    assert head["4"] == pytest.approx(33.791, rel=1e-3)
    assert head["9"] == pytest.approx(33.722, rel=1e-3)
    assert state.flow["pump"] / L_H == pytest.approx(204.11, rel=1e-3)
    assert state.flow["a1"] / L_H == pytest.approx(103.95, rel=5e-3)
    assert state.flow["a3"] / L_H == pytest.approx(-34.05, rel=2e-2)


def test_looped_pump_net_meets_epanet():
    """EPANET 2.3.5 run here, on every head (0.1 %) and flow (0.5 %, the transitional link 2 %)."""
    judge = pytest.importorskip("epanet_judge")
    net, draws = looped_net()
    model = judge.looped_model(looped_net_data())
    random = np.random.default_rng(11)
    factors = random.uniform(0.1, 1.3, 20)
    state = net.solve(PETROL, {name: draw * factors for name, draw in draws.items()})
    ours = heads(net, state)
    for point, factor in enumerate(factors):
        for name, draw in draws.items():
            model.set_demand(model.node(f"N{name}"), draw * float(factor))
        model.solve()
        head, flow = model.results()
        for name in net.nodes:
            assert ours[name][point] == pytest.approx(head[f"N{name}"], rel=1e-3)
        assert state.flow["pump"][point] == pytest.approx(flow["pump"], rel=1e-3)
        largest = flow["pump"]
        for name in net.links:
            assert state.flow[name][point] == pytest.approx(flow[name], rel=2e-2, abs=5e-3 * largest)
    model.close()


def test_hardy_cross_network_of_three_loops():
    """Maurer, CRAN `hydraulics` vignette; the converged flows computed from its data, method of Cross (1936)."""
    pipes = {
        "1": ("A", "B", 0.3, 250, 0.01879, 38.228),
        "2": ("B", "C", 0.2, 100, 0.02075, 38.228),
        "3": ("C", "D", 0.2, 125, 0.02075, 23.153),
        "4": ("D", "E", 0.2, 125, 0.02075, -25.647),
        "5": ("E", "A", 0.2, 100, 0.02075, -41.772),
        "6": ("D", "F", 0.15, 100, 0.02233, 8.800),
        "7": ("F", "G", 0.25, 125, 0.01964, 3.875),
        "8": ("G", "E", 0.15, 100, 0.02233, -16.125),
        "9": ("C", "H", 0.15, 100, 0.02233, 15.075),
        "10": ("H", "F", 0.25, 125, 0.01964, -4.925),
    }
    net = Network()
    net.add_reservoir("A", pressure=1e6)
    for name in "BCDEFGH":
        net.add_node(name)
    for name, (up, down, bore, length, factor, _) in pipes.items():
        net.connect(up, down, FixedFactorPipe(length=length, bore=bore, factor=factor), name=name)
    state = net.solve(Liquid(998.0, 1e-6), {"D": 0.040, "G": 0.020, "H": 0.020})
    for name, (*_, expected) in pipes.items():
        assert state.flow[name] * 1e3 == pytest.approx(expected, abs=2e-3)


@pytest.mark.parametrize(
    ("demand", "rail", "pump", "back"),
    [
        (0, 300.0, 198.35, 198.35),
        (36, 300.0, 198.35, 162.35),
        (108, 300.0, 198.35, 90.35),
        (180, 300.0, 198.35, 18.35),
        (216, 247.63, 216.0, 0.0),
        (252, 127.95, 252.0, 0.0),
    ],
)
def test_return_regulator_changeover(demand, rail, pump, back):
    """EPANET without droop; ours with 0.5 kPa over the range, to 1 kPa."""
    state = pump_and_rail().solve(PETROL, {"rail": demand * L_H})
    assert state.gauge_pressure["rail"] / 1e3 == pytest.approx(rail, abs=1.0)
    assert state.flow["pump"] / L_H == pytest.approx(pump, abs=0.3)
    assert state.flow["regulator"] / L_H == pytest.approx(back, abs=0.3)
    assert state.regime["regulator"] == ("shut" if back == 0.0 else "regulating")


def test_return_regulator_shuts_when_demand_reaches_pump_flow():
    demand = np.linspace(190.0, 206.0, 161) * L_H
    state = pump_and_rail().solve(PETROL, {"rail": demand})
    shut = state.regime["regulator"] == "shut"
    assert demand[np.argmax(shut)] / L_H == pytest.approx(198.35, abs=0.3)
    assert np.all(np.diff(state.pressure["rail"]) < 0.0)
    assert np.all(state.outcome.converged)
    assert state.pressure["tank"] == pytest.approx(np.full(161, ATMOSPHERE))
