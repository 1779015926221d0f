"""Steady heat along the flow, against the exponential solution and the balance of energy."""

from __future__ import annotations

import ht
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fuelsim.system.heat import HeatLink, node_temperatures, outlet_temperature

HEAT_CAPACITY = 2100.0


def test_line_cooling_follows_effectiveness_of_an_exchanger_with_constant_surroundings():
    """Source: effectiveness-NTU method, capacity ratio 0 (boiler or condenser), general-purpose library ``ht``."""
    for units in (0.05, 0.5, 1.2, 4.0):
        effectiveness = ht.effectiveness_from_NTU(units, 0.0, subtype="boiler")
        outlet = outlet_temperature(320.0, 350.0, units * 10.0, 10.0)
        assert (outlet - 320.0) / 30.0 == pytest.approx(effectiveness, rel=1e-12)


def test_still_fuel_takes_the_temperature_of_its_surroundings():
    assert outlet_temperature(300.0, 350.0, 0.4, 0.0) == pytest.approx(350.0)


def test_power_into_a_well_flushed_part_warms_by_power_over_capacity_flow():
    flow = np.array([0.01, 0.05])
    warmed = outlet_temperature(300.0, 300.0, 0.0, flow * HEAT_CAPACITY, 60.0)
    assert warmed - 300.0 == pytest.approx(60.0 / (flow * HEAT_CAPACITY), rel=2e-3)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    inlet=st.floats(250.0, 380.0),
    around=st.floats(250.0, 380.0),
    conductance=st.floats(0.06, 20.0),
    flow=st.floats(0.0, 0.1),
)
def test_outlet_lies_between_inlet_and_surroundings_without_a_source(inlet, around, conductance, flow):
    outlet = float(outlet_temperature(inlet, around, conductance, flow * HEAT_CAPACITY))
    low, high = sorted((inlet, around))
    assert low - 1e-9 <= outlet <= high + 1e-9


def chain(mass_flow, conductance=0.5):
    return [
        HeatLink("first", "tank", "middle", mass_flow, 330.0, conductance),
        HeatLink("second", "middle", "end", mass_flow, 350.0, conductance),
    ]


def test_a_chain_in_reverse_flow_carries_heat_the_other_way():
    """pandapipes issue 417: a heat solve left the surroundings' temperatures and was called converged."""
    still = np.array([300.0, 300.0])
    nodes, outlets = node_temperatures(
        chain(np.array([0.01, -0.01])),
        {"tank": still, "end": np.array([310.0, 310.0])},
        HEAT_CAPACITY,
        stagnant_temperature=still,
    )
    assert np.all((nodes["middle"] >= 300.0) & (nodes["middle"] <= 350.0))
    assert nodes["middle"][1] == pytest.approx(outlets["second"][1])
    assert outlets["first"][1] > nodes["middle"][1]


def test_a_mixing_node_takes_the_mean_weighted_by_mass():
    one, two = np.array([0.01]), np.array([0.03])
    links = [
        HeatLink("hot", "a", "tee", one, 300.0, 0.0),
        HeatLink("cold", "b", "tee", two, 300.0, 0.0),
        HeatLink("out", "tee", "tank", one + two, 300.0, 0.0),
    ]
    fixed = {"a": np.array([340.0]), "b": np.array([300.0]), "tank": np.array([300.0])}
    nodes, _ = node_temperatures(links, fixed, HEAT_CAPACITY, stagnant_temperature=np.array([300.0]))
    assert nodes["tee"][0] == pytest.approx(310.0)


def test_energy_of_a_chain_balances():
    mass_flow = np.array([0.02])
    power = 80.0
    links = [
        HeatLink("pump", "tank", "outlet", mass_flow, 300.0, 0.0, power=power),
        HeatLink("line", "outlet", "end", mass_flow, 340.0, 2.0),
    ]
    start = np.array([310.0])
    nodes, outlets = node_temperatures(links, {"tank": start}, HEAT_CAPACITY, stagnant_temperature=start)
    capacity = mass_flow * HEAT_CAPACITY
    along = np.linspace(0.0, 1.0, 20_001)
    profile = 340.0 + (nodes["outlet"] - 340.0) * np.exp(-2.0 / capacity * along)
    exchanged = np.trapezoid(2.0 * (340.0 - profile), along)
    assert capacity * (outlets["line"] - start) == pytest.approx(power + exchanged, rel=1e-3)
