"""Flows of tank and pots out of a solved network, and what runs over: each by hand from the links at the vessels."""

from __future__ import annotations

from types import SimpleNamespace
from typing import ClassVar

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.transients.pot_flows import (
    PlannedPot,
    PotFlows,
    at_rest,
    columns_of,
    flows_of,
    overflow_flows,
    planned_pots,
    vessel_flows,
)
from fuelsim.transients.tank_fuel import tank_fuel

TANK, POT = np.array([305.0, 311.0]), np.array([309.0, 308.0])


@pytest.fixture(scope="module")
def plover():
    return fs.Car.named("plover")


def solved(car, layout, tank=TANK, pot=POT):
    """Run, flows and fuel of a plumbing with one pot at two points, one with a pot that is cooler than the tank."""
    system = car.system(layout)
    run = system.solve(
        rpm=[900.0, 4000.0],
        load=[0.0, 0.6],
        tank_temperature=tank,
        air_temperature=298.0,
        pot_temperatures={"pot": pot},
    )
    fuel = tank_fuel(car.fuel.fuel())
    pots = planned_pots(system.plumbing)
    return run, vessel_flows(run, pots, fuel, tank, {"pot": pot}, np.array([0.0, 1.0])), fuel


def test_mass_flows_of_tank_and_pot_are_those_of_the_links_at_them(plover):
    """By hand: the lift pump takes from the tank, the mains from the pot, the rails return to the pot; the mass
    flow that the network sends through the overflow is left out."""
    run, flows, _ = solved(plover, "pot")
    (pot,) = flows.pots
    lift, mains = run.mass_flow["lift"], run.mass_flow["left_pump"] + run.mass_flow["right_pump"]
    assert flows.supply == pytest.approx(lift, rel=1e-9)
    assert flows.returned == pytest.approx(0.0, abs=1e-9)
    assert pot.lifted == pytest.approx(lift, rel=1e-9)
    assert pot.others == pytest.approx(run.mass_flow["return_hose"] - mains, rel=1e-6)
    assert flows.burnt == pytest.approx(run.burnt_mass_flow)
    assert flows.supply - flows.returned - flows.burnt == pytest.approx(pot.lifted + pot.others, rel=1e-6)
    assert np.all(run.mass_flow["overflow"] > 0.01)
    assert flows.near_limit.tolist() == [0.0, 1.0]
    assert flows.rail_gauge_pressure == pytest.approx(
        np.minimum(run.gauge_pressure["left_rail"], run.gauge_pressure["right_rail"])
    )


def test_heat_of_what_flows_into_a_pot_is_its_excess_over_the_pot(plover):
    """m (c (T_out - T_source) + h(T_source) - h(T_pot)): what the way warms, and the difference between both vessels,
    by hand, with 2.1 kJ/kg/K within 5 %."""
    run, flows, fuel = solved(plover, "pot")
    (pot,) = flows.pots
    lifted = run.mass_flow["lift"] * 2.1e3 * (run.outlet_temperature["lift_line"] - POT)
    assert pot.lifted_heat == pytest.approx(lifted, rel=0.06)
    back = run.mass_flow["return_hose"] * 2.1e3 * (run.outlet_temperature["return_hose"] - POT)
    assert pot.others_heat == pytest.approx(back, rel=0.06)
    capacity = run.solved.fuel.tables().heat_capacity(TANK)
    way = run.outlet_temperature["overflow"] - POT
    assert pot.overflow_heating == pytest.approx(capacity * way, rel=1e-9)
    assert fuel.enthalpy(310.0) > fuel.enthalpy(309.0)
    assert flows.returned_heat == pytest.approx(run.shed_heat, abs=1e-6)


def test_a_plumbing_that_returns_past_its_pot_brings_its_heat_to_the_tank(past_the_pot):
    """The tank gets what returns at its temperature: m (c (T_out - T_pot) + h(T_pot) - h(T_tank)), by hand with
    2.1 kJ/kg/K within 5 %."""
    run, flows, _ = solved(past_the_pot, "past_the_pot")
    (pot,) = flows.pots
    back = run.mass_flow["return_hose"]
    assert flows.supply == pytest.approx(run.mass_flow["lift"], rel=1e-9)
    assert flows.returned == pytest.approx(back, rel=1e-9)
    assert pot.others == pytest.approx(-run.mass_flow["left_pump"], rel=1e-9)
    assert pot.others_heat == pytest.approx([0.0, 0.0], abs=1e-9)
    heat = back * 2.1e3 * (run.outlet_temperature["return_hose"] - TANK)
    assert flows.returned_heat - run.shed_heat == pytest.approx(heat, rel=0.06)
    assert flows.supply - flows.returned - flows.burnt == pytest.approx(pot.lifted + pot.others, rel=1e-6)


def test_a_pot_that_does_not_run_over_heats_nothing_on_that_way(plover):
    """The mains draw more than the lift pump brings: fuel, or air, would flow backwards through the overflow."""
    starved = plover.with_values(
        {
            "pumps.lift.flow": ["24 L/h", "12 L/h"],
            "pumps.lift.pressure": ["0 kPa", "20 kPa"],
            "pumps.lift.current": ["1 A", "1.2 A"],
        }
    )
    system = starved.system("pot")
    run = system.solve(rpm=[6000.0], load=[1.0], tank_temperature=[305.0], pot_temperatures={"pot": [309.0]})
    fuel, pots = tank_fuel(starved.fuel.fuel()), planned_pots(system.plumbing)
    flows = vessel_flows(run, pots, fuel, np.array([305.0]), {"pot": np.array([309.0])}, np.zeros(1))
    assert run.mass_flow["overflow"][0] <= 0.0
    assert flows.pots[0].overflow_heating[0] == 0.0
    assert flows.pots[0].lifted[0] + flows.pots[0].others[0] < 0.0


class Row:
    """Three pots, named against the order of flow: the last runs over into the middle one, that into the first."""

    ends: ClassVar = {"first": "tank", "middle": "first", "last": "middle"}
    vessels = ("tank", *ends)

    def __init__(self, pot):
        self.pots = dict.fromkeys(self.ends, pot)

    def overflows(self, pot):
        return [self.link(f"over_{pot}")]

    def link(self, name):
        return SimpleNamespace(name=name, downstream=self.ends[name.removeprefix("over_")])


def test_pots_come_after_those_that_run_over_into_them(plover):
    planned = planned_pots(Row(plover.pots["pot"]))
    assert [pot.name for pot in planned] == ["last", "middle", "first"]
    assert [pot.ends_in for pot in planned] == [1, 2, None]
    assert [pot.overflow for pot in planned] == [(("over_last",),), (("over_middle",),), (("over_first",),)]
    (lone,) = planned_pots(plover.system("pot").plumbing)
    assert (lone.name, lone.overflow, lone.ends_in) == ("pot", (("overflow",),), None)
    assert float(lone.pot.volume) == 1.5e-3


def pots_in_a_row(plover):
    pot = plover.pots["pot"]
    return PlannedPot("first", pot, (("a",),), 1), PlannedPot("second", pot, (("b",),), None)


@pytest.mark.parametrize(
    ("level", "share"), [(0.5, 0.0), (0.98, 0.0), (0.985, 0.25), (0.99, 0.5), (1.0, 1.0), (1.01, 1.5), (1.5, 2.0)]
)
def test_a_pot_runs_over_with_a_share_of_its_surplus_that_reaches_all_of_it_when_it_is_full(plover, level, share):
    """a = max(g, 0) (L - 0.98)/0.02; overfilled it sinks again, with at most twice what comes in."""
    flow = PotFlows(lifted=0.04, lifted_heat=0.0, others=-0.01, others_heat=0.0, overflow_heating=0.0)
    flows = at_rest(2)._replace(pots=(flow, flow))
    first, second = overflow_flows(pots_in_a_row(plover), flows, [level, 0.5], 0.75)
    assert first.gain == pytest.approx(0.02)
    assert first.over == pytest.approx(0.02 * share, abs=1e-12)
    assert second.gain == pytest.approx(0.02 + first.over)
    assert second.over == 0.0
    losing = at_rest(2)._replace(pots=(flow._replace(others=-0.05), flow))
    drained = overflow_flows(pots_in_a_row(plover), losing, [level, 0.5], 0.75)[0]
    assert drained.gain == pytest.approx(-0.02)
    assert drained.over == 0.0


def test_two_pots_run_over_at_many_moments_at_once(plover):
    flow = PotFlows(*(np.array([value, value]) for value in (0.04, 0.0, -0.01, 0.0, 0.0)))
    nothing = np.zeros(2)
    flows = at_rest(2)._replace(supply=nothing, pots=(flow, flow))
    levels = [np.array([1.0, 0.5]), np.array([1.0, 1.0])]
    first, second = overflow_flows(pots_in_a_row(plover), flows, levels, np.array([1.0, 0.0]))
    assert first.gain.tolist() == pytest.approx([0.03, -0.01])
    assert first.over.tolist() == pytest.approx([0.03, 0.0])
    assert second.over.tolist() == pytest.approx([0.06, 0.0])


@pytest.mark.parametrize("pots", [1, 2, 3])
def test_flows_survive_the_way_into_columns_and_back(pots):
    flows = at_rest(pots)
    columns = [float(number) for number in range(len(columns_of(flows)))]
    again = flows_of(columns)
    assert len(again.pots) == pots
    assert columns_of(again) == columns
    assert again.supply == 0.0
    assert again.pots[-1].overflow_heating == columns[-1]
