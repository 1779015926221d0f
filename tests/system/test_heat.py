"""Steady heat along the flow, against the exponential solution, a dense solver and the balance of energy."""

from __future__ import annotations

import ht
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fuelsim.car.car import Car
from fuelsim.system.exchange import Exchange
from fuelsim.system.heat import _BLOCK_POINTS, HeatBalance, LinkHeat, NodeHeat, outlet_temperature
from fuelsim.system.plumbing import Plumbing

HEAT_CAPACITY = 2100.0
SMALLEST = 0.05
"""W/K that `outlet_temperature` gives any part with power, as its text says."""


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


def test_power_into_still_fuel_is_lost_through_the_least_conductance_that_every_part_has():
    """0.05 W/K, as the text of that constant says: 5 W warm still fuel in an adiabatic part by 100 K, in a line and in
    a vessel alike."""
    assert outlet_temperature(300.0, 300.0, 0.0, 0.0, 5.0) == pytest.approx(400.0)
    assert outlet_temperature(300.0, 310.0, 0.2, 0.0, 5.0) == pytest.approx(335.0)
    nodes, _ = solved([("tank", "pot", 0.0, 300.0, 0.0)], {"tank": 300.0}, {"pot": (310.0, 0.0, 5.0)})
    assert nodes["pot"][0] == pytest.approx(410.0, abs=0.01)


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


def solved(links, fixed, nodes=None, stagnant=300.0):
    """Solve links given as (upstream, downstream, mass flow, surroundings, conductance[, power]) by names.

    Return the temperature of each node by name and at the outlet of each link in order; arrays are (points,).
    """
    names = list(dict.fromkeys(name for link in links for name in link[:2]))
    points = max(np.size(value) for link in links for value in link[2:])

    def rows(slot):
        return np.stack([np.broadcast_to(link[slot] if slot < len(link) else 0.0, (points,)) for link in links])

    heat = LinkHeat(rows(2), rows(3), rows(4), rows(5), rows(6)) if links else None
    up, down = ([names.index(link[end]) for link in links] for end in (0, 1))
    known = sorted((names.index(name), value) for name, value in fixed.items())
    own = None
    if nodes is not None:
        own = NodeHeat(*(np.zeros((len(names), points)) for _ in range(3)))
        for name, values in nodes.items():
            for array, value in zip(own, values, strict=True):
                array[names.index(name)] = value
    solution = HeatBalance(len(names), up, down, [row for row, _ in known]).solve(
        heat,
        np.stack([np.broadcast_to(value, (points,)) for _, value in known]),
        HEAT_CAPACITY,
        stagnant_temperature=np.full(points, stagnant),
        nodes=own,
    )
    return dict(zip(names, solution.nodes, strict=True)), solution.outlets


def test_a_chain_in_reverse_flow_carries_heat_the_other_way():
    """pandapipes issue 417: a heat solve left the surroundings' temperatures and was called converged."""
    flow = np.array([0.01, -0.01])
    links = [("tank", "middle", flow, 330.0, 0.5), ("middle", "end", flow, 350.0, 0.5)]
    nodes, outlets = solved(links, {"tank": 300.0, "end": 310.0})
    assert np.all((nodes["middle"] >= 300.0) & (nodes["middle"] <= 350.0))
    assert nodes["middle"][1] == pytest.approx(outlets[1][1])
    assert outlets[0][1] > nodes["middle"][1]


def test_a_mixing_node_takes_the_mean_weighted_by_mass():
    links = [("a", "tee", 0.01, 300.0, 0.0), ("b", "tee", 0.03, 300.0, 0.0), ("tee", "tank", 0.04, 300.0, 0.0)]
    nodes, _ = solved(links, {"a": 340.0, "b": 300.0, "tank": 300.0})
    assert nodes["tee"][0] == pytest.approx(310.0)


def test_energy_of_a_chain_balances():
    mass_flow, power, start = 0.02, 80.0, 310.0
    links = [("tank", "outlet", mass_flow, 300.0, 0.0, power), ("outlet", "end", mass_flow, 340.0, 2.0)]
    nodes, outlets = solved(links, {"tank": start})
    capacity = mass_flow * HEAT_CAPACITY
    along = np.linspace(0.0, 1.0, 20_001)
    profile = 340.0 + (nodes["outlet"] - 340.0) * np.exp(-2.0 / capacity * along)
    exchanged = np.trapezoid(2.0 * (340.0 - profile), along)
    assert capacity * (outlets[1] - start) == pytest.approx(power + exchanged, rel=1e-3)


def test_a_pot_whose_return_comes_back_to_it_takes_the_closed_form_by_hand():
    """Lift pump 40 at T1, main pump 80, engine 40, return 40 (L/h at 0.74 kg/L), pot in air, the loop heated by the
    bay: with a = exp(-UA/C80) of the loop the pot has
    (C80 + UA_pot) T = C40 T1 + C40 (a T + (1 - a) T_bay) + UA_pot T_air + P.
    """
    forty = 40.0 * 0.74 / 3600.0
    lift, bay, air, loop, own, power = 310.0, 350.0, 305.0, 3.0, 1.5, 12.0
    links = [
        ("rail", "pot", forty, bay, 0.0),
        ("pot", "rail", 2.0 * forty, bay, loop),
        ("rail", "engine", forty, bay, 0.0),
        ("tank", "pot", forty, air, 0.0),
        ("pot", "tank", 0.0, air, 0.0),
    ]
    nodes, _ = solved(links, {"tank": lift}, {"pot": (air, own, power)})
    c40 = forty * HEAT_CAPACITY
    passed = np.exp(-loop / (2.0 * c40))
    pot = (c40 * lift + c40 * (1.0 - passed) * bay + own * air + power) / (2.0 * c40 + own - c40 * passed)
    assert nodes["pot"][0] == pytest.approx(pot, abs=1e-9)
    assert nodes["rail"][0] == pytest.approx(passed * pot + (1.0 - passed) * bay, abs=1e-9)


@pytest.mark.parametrize("share", [0.7, 0.9, 0.999])
def test_recirculation_multiplies_the_warming_of_one_pass(share):
    """Of each litre that passes the pot the share comes back, warmed by P/C: T_pot = T1 + share/(1 - share) P/C."""
    through, power = 0.05, 40.0
    capacity = through * HEAT_CAPACITY
    warming = float(outlet_temperature(0.0, 0.0, 0.0, capacity, power))
    links = [
        ("tank", "pot", (1.0 - share) * through, 300.0, 0.0),
        ("pot", "rail", through, 300.0, 0.0, power),
        ("rail", "pot", share * through, 300.0, 0.0),
        ("rail", "engine", (1.0 - share) * through, 300.0, 0.0),
    ]
    nodes, _ = solved(links, {"tank": 310.0})
    assert nodes["pot"][0] - 310.0 == pytest.approx(share / (1.0 - share) * warming, rel=1e-9)


class Case:
    """A random network with circles, links that flow either way, standing links, and two vessels."""

    def __init__(self, seed, points):
        rng = np.random.default_rng(seed)
        self.size = int(rng.integers(4, 16))
        self.fixed = [0, int(rng.integers(1, self.size))]
        tree = [(int(rng.integers(0, node)), node) for node in range(1, self.size)]
        more = [tuple(int(node) for node in rng.choice(self.size, 2, replace=False)) for _ in range(self.size)]
        ends = [pair if rng.random() < 0.5 else pair[::-1] for pair in tree + more]
        self.up, self.down = (np.array(side) for side in zip(*ends, strict=True))
        count = len(ends)
        incidence = np.zeros((self.size, count))
        np.add.at(incidence, (self.up, np.arange(count)), -1.0)
        np.add.at(incidence, (self.down, np.arange(count)), 1.0)
        free = np.setdiff1d(np.arange(self.size), self.fixed)
        self.mass_flow = np.zeros((count, points))
        for point in range(points):
            # Fuel stands in some links; in the others flows are whatever conserves mass.
            moving = np.flatnonzero(rng.random(count) < rng.choice([0.5, 0.9, 1.0]))
            part = incidence[np.ix_(free, moving)]
            flow = rng.normal(0.0, 0.02, moving.size)
            flow -= np.linalg.pinv(part) @ (part @ flow)
            flow[np.abs(flow) < 1e-9] = 0.0
            self.mass_flow[moving, point] = flow
        shape = (count, points)
        self.conductance = rng.choice([0.0, 1.0], (count, 1)) * rng.uniform(SMALLEST, 20.0, shape)
        power = rng.choice([0.0, 1.0], (count, 1)) * rng.uniform(0.0, 200.0, shape)
        self.around = rng.uniform(260.0, 370.0, shape)
        self.power = np.where(self.conductance > 0.0, power, 0.0)
        self.heating = np.where(self.mass_flow != 0.0, rng.uniform(-0.3, 0.3, shape), 0.0)
        own = (self.size, points)
        pots = rng.choice([0.0, 1.0], (self.size, 1), p=[0.7, 0.3])
        self.nodes = NodeHeat(
            rng.uniform(260.0, 370.0, own), pots * rng.uniform(SMALLEST, 5.0, own), pots * rng.uniform(0.0, 30.0, own)
        )
        self.known = rng.uniform(280.0, 340.0, (len(set(self.fixed)), points))
        self.capacity_flow = np.abs(self.mass_flow) * HEAT_CAPACITY

    @property
    def links(self):
        return LinkHeat(self.mass_flow, self.around, self.conductance, self.power, self.heating)

    def solve(self):
        return self.balance().solve(
            self.links, self.known, HEAT_CAPACITY, stagnant_temperature=np.full(self.points, 300.0), nodes=self.nodes
        )

    def balance(self):
        return HeatBalance(self.size, self.up.tolist(), self.down.tolist(), self.fixed)

    @property
    def points(self):
        return self.mass_flow.shape[1]

    def into(self, node):
        """Return the links and points of which fuel flows into a node, (links, points)."""
        down, up = self.down == node, self.up == node
        return (down[:, None] & (self.mass_flow > 0.0)) | (up[:, None] & (self.mass_flow < 0.0))

    def inlets(self, temperature):
        return np.where(self.mass_flow >= 0.0, temperature[self.up], temperature[self.down])

    def flushed(self, node):
        """Return at which points fuel flows into a node, (points,)."""
        return self.into(node).any(axis=0)


CASES = st.integers(0, 10**9)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(seed=CASES, points=st.sampled_from([1, 3, 20]))
def test_energy_closes_at_every_node_and_over_the_network_to_a_millionth(seed, points):
    """Enthalpy in at the vessels, powers and exchange make the enthalpy out; the exchange is UA (T_s - mean T)."""
    case = Case(seed, points)
    nodes, outlets = case.solve()
    inlets, c = case.inlets(nodes), case.capacity_flow
    with np.errstate(divide="ignore", invalid="ignore"):
        units = case.conductance / c
        end = case.around + case.power / case.conductance
        mean = end + (inlets - end) * -np.expm1(-units) / units
    exchanged = np.where((c > 0.0) & (case.conductance > 0.0), case.conductance * (case.around - mean), 0.0)
    power = np.where(c > 0.0, case.power, 0.0)
    sources = exchanged + power + c * case.heating
    # Enthalpies from 300 K on, and per node its own exchange.
    brought, taken = c * (outlets - 300.0), c * (inlets - 300.0)
    scale = np.abs(exchanged).sum(axis=0) + power.sum(axis=0) + np.abs(brought).sum(axis=0) + 1e-3
    assert np.all(np.abs(brought - taken - sources).sum(axis=0) <= 1e-9 * scale)
    total = sources.sum(axis=0)
    for node in range(case.size):
        comes = np.where(case.into(node), brought, 0.0).sum(axis=0)
        leaving = ~case.into(node) & ((case.down == node) | (case.up == node))[:, None]
        goes = np.where(leaving, taken, 0.0).sum(axis=0)
        if node in case.fixed:
            total += goes - comes
            continue
        own = case.nodes.conductance[node] * (case.nodes.surroundings_temperature[node] - nodes[node])
        own = np.where(case.flushed(node), own + case.nodes.power[node], 0.0)
        assert np.all(np.abs(comes + own - goes) <= 1e-6 * scale)
        total += own
    assert np.all(np.abs(total) <= 1e-6 * scale)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(seed=CASES, points=st.sampled_from([1, 4, 30, 1100]))
def test_temperatures_of_flushed_nodes_are_those_of_a_dense_solver(seed, points):
    """Judge: `numpy.linalg.solve`, with the equations written out node by node, at up to four of the points."""
    case = Case(seed, points)
    nodes, outlets = case.solve()
    known = dict(zip(sorted(set(case.fixed)), case.known, strict=True))
    for point in range(min(points, 4)):
        matrix, right = np.eye(case.size), np.full(case.size, np.nan)
        for node in range(case.size):
            if node in known:
                right[node] = known[node][point]
                continue
            if not case.flushed(node)[point]:
                right[node] = nodes[node, point]
                continue
            conductance = case.nodes.conductance[node, point]
            matrix[node, node] = conductance
            right[node] = conductance * case.nodes.surroundings_temperature[node, point] + case.nodes.power[node, point]
            for link in np.flatnonzero(case.into(node)[:, point]):
                c, ua, p = (values[link, point] for values in (case.capacity_flow, case.conductance, case.power))
                passed = np.exp(-ua / c)
                settles = (1.0 - passed) * (case.around[link, point] + p / ua) if ua > 0.0 else 0.0
                origin = case.up[link] if case.mass_flow[link, point] > 0.0 else case.down[link]
                matrix[node, node] += c
                matrix[node, origin] -= c * passed
                right[node] += c * (settles + case.heating[link, point])
        if np.linalg.cond(matrix) > 1e8:
            continue  # a circle that next to nothing enters
        assert nodes[:, point] == pytest.approx(np.linalg.solve(matrix, right), abs=1e-6)
        inlets = case.inlets(nodes)[:, point]
        law = outlet_temperature(
            inlets,
            case.around[:, point],
            case.conductance[:, point],
            case.capacity_flow[:, point],
            case.power[:, point],
        )
        assert outlets[:, point] == pytest.approx(law + case.heating[:, point], abs=1e-9)


@settings(max_examples=30, deadline=None, derandomize=True)
@given(seed=CASES)
def test_order_and_direction_in_which_links_are_listed_do_not_matter(seed):
    case = Case(seed, 6)
    nodes, outlets = case.solve()
    rng = np.random.default_rng(seed)
    order, turned = rng.permutation(case.up.size), rng.random(case.up.size) < 0.5
    up, down = np.where(turned, case.down, case.up)[order], np.where(turned, case.up, case.down)[order]
    sign = np.where(turned, -1.0, 1.0)[:, None]
    links = LinkHeat(*((values * (sign if slot == 0 else 1.0))[order] for slot, values in enumerate(case.links)))
    other = HeatBalance(case.size, up.tolist(), down.tolist(), case.fixed).solve(
        links, case.known, HEAT_CAPACITY, stagnant_temperature=np.full(6, 300.0), nodes=case.nodes
    )
    assert other.nodes == pytest.approx(nodes, abs=1e-6)
    moving = case.mass_flow[order] != 0.0
    assert other.outlets[moving] == pytest.approx(outlets[order][moving], abs=1e-6)


def test_many_points_have_the_temperatures_of_few():
    """Many points are solved block by block, and pivot by pivot rather than in rounds."""
    case = Case(7, 6)
    nodes, outlets = case.solve()
    copies = 3 * _BLOCK_POINTS // 6 + 1
    links, own = (type(given)._make(np.tile(values, copies) for values in given) for given in (case.links, case.nodes))
    for heat_capacity in (HEAT_CAPACITY, np.full(6 * copies, HEAT_CAPACITY)):
        many = case.balance().solve(
            links, np.tile(case.known, copies), heat_capacity, stagnant_temperature=300.0, nodes=own
        )
        assert many.nodes == pytest.approx(np.tile(nodes, copies), abs=1e-9)
        assert many.outlets == pytest.approx(np.tile(outlets, copies), abs=1e-9)


def test_a_node_that_nothing_flows_into_takes_the_mean_of_what_surrounds_its_links():
    links = [("tank", "still", 0.0, 340.0, 1.0), ("still", "end", 0.0, 300.0, 3.0), ("end", "shut", 0.0, 300.0, 0.0)]
    nodes, _ = solved(links, {"tank": 320.0})
    assert nodes["still"][0] == pytest.approx((340.0 + 3.0 * 300.0) / 4.0, abs=1e-6)
    assert nodes["end"][0] == pytest.approx(300.0, abs=1e-6)


def test_still_nodes_between_adiabatic_links_take_the_temperature_of_the_flow_beside_them():
    links = [
        ("tank", "tee", 0.02, 300.0, 0.0),
        ("tee", "engine", 0.02, 300.0, 0.0),
        ("tee", "near", 0.0, 300.0, 0.0),
        ("near", "far", 0.0, 300.0, 0.0),
        ("apart", "alone", 0.0, 330.0, 0.0),
    ]
    nodes, outlets = solved(links, {"tank": 320.0}, stagnant=295.0)
    for name in ("tee", "engine", "near", "far"):
        assert nodes[name][0] == pytest.approx(320.0, abs=1e-6)
    assert nodes["apart"][0] == pytest.approx(295.0, abs=0.1)
    assert np.isfinite(outlets).all()


def test_a_still_pot_takes_the_temperature_of_its_own_surroundings():
    links = [("tank", "pot", 0.0, 340.0, 5.0), ("pot", "pump", 0.0, 350.0, 5.0)]
    nodes, _ = solved(links, {"tank": 320.0}, {"pot": (305.0, 2.0, 10.0)})
    assert nodes["pot"][0] == pytest.approx(310.0, abs=1e-3)


def test_heat_into_a_vessel_that_is_flushed_goes_along_with_the_flow_to_the_last_watt():
    """40 W into 0.02 kg/s, adiabatic: 0.952 K, and a still vessel beside it that exchanges nothing is as warm."""
    links = [("tank", "pot", 0.02, 300.0, 0.0), ("pot", "end", 0.02, 300.0, 0.0), ("pot", "shut", 0.0, 300.0, 0.0)]
    nodes, _ = solved(links, {"tank": 310.0}, {"pot": (280.0, 0.0, 40.0)})
    for name in ("pot", "end", "shut"):
        assert nodes[name][0] == pytest.approx(310.0 + 40.0 / 42.0, abs=1e-6)


def test_a_circle_that_nothing_enters_has_an_answer():
    links = [("a", "b", 0.02, 300.0, 0.0), ("b", "a", 0.02, 300.0, 0.0), ("tank", "a", 0.0, 300.0, 0.0)]
    nodes, _ = solved(links, {"tank": 320.0}, stagnant=310.0)
    assert nodes["a"][0] == pytest.approx(310.0, abs=0.1)


def test_a_station_that_exchanges_heat_itself_is_drawn_to_the_air_around_it(monkeypatch):
    """A pump's outlet with so great a conductance that it has the temperature of the air outside."""
    car = Car.named("heron")
    conditions = {"rpm": [1000.0, 4000.0], "air_temperature": 321.0, "tank_temperature": 305.0}
    plain = car.system("return").solve(**conditions)
    station = car.system("return").plumbing.pumps[0].downstream
    exchange = Exchange("ambient", 1e9)
    monkeypatch.setattr(Plumbing, "station_exchange", property(lambda plumbing: {station: exchange}))
    drawn = car.system("return").solve(**conditions)
    assert np.all(plain.temperature[station] < 315.0)
    assert drawn.temperature[station] == pytest.approx([321.0, 321.0], abs=1e-4)
