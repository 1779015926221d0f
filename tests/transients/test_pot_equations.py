"""The equations of tank and pots over given flows of the plumbing: balances, and each pot's own hand figures."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.car.heat_parts import Pot
from fuelsim.transients.pot_equations import vessel_rates
from fuelsim.transients.pot_flows import PlannedPot, PotFlows, VesselFlows
from fuelsim.transients.schedule import Phase, Schedule
from fuelsim.transients.tank_equations import Around, PotVector, TankEquations
from fuelsim.transients.tank_fuel import tank_fuel
from fuelsim.transients.world import World

GAS = 8.31446
OUTSIDE = Around(pressure=98e3, underfloor=325.0, bay=345.0, sun=80.0, road=30.0)
LEDGER = ("wall", "returned", "radiated", "lift", "sun", "road")
UPPER = PotFlows(lifted=0.05, lifted_heat=-120.0, others=-0.010, others_heat=90.0, overflow_heating=400.0)
LOWER = PotFlows(lifted=0.02, lifted_heat=-60.0, others=-0.004, others_heat=35.0, overflow_heating=150.0)
DRAINED = 0.003
"""What the plumbing takes from the tank beside what it lifts, kg/s."""


def flows(returned=0.001, heat=40.0):
    """Flows that keep fuel: the tank gives what is lifted and drained, what neither returns nor stays in pots is
    burnt."""
    supply = UPPER.lifted + LOWER.lifted + DRAINED
    in_pots = sum(own.lifted + own.others for own in (UPPER, LOWER))
    return VesselFlows(supply, returned, heat, supply - returned - in_pots, 3e5, 0.0, (UPPER, LOWER))


class Given:
    """A plumbing that brings given flows."""

    def __init__(self, brought):
        self.brought = brought

    def at(self, time, temperature, pot_temperatures, gauge, evaporated):
        self.asked = (time, temperature, pot_temperatures, gauge, evaporated)
        return self.brought


def equations_of(lift_share=1.0, zones=("bay", "underfloor")):
    """A car with two pots, of which the first runs over into the second, and that into the tank."""
    car = fs.Car.named("plover").with_values({"tank.radiated_heat": "50 W"})
    first, second = (
        Pot(volume=volume, heat_conductance=conductance, zone=zone)
        for volume, conductance, zone in (("1.5 L", 2.0, zones[0]), ("1 L", 3.0, zones[1]))
    )
    pots = (PlannedPot("upper", first, (("a",),), 1), PlannedPot("lower", second, (("b",),), None))
    phase = Phase(name="drive", duration="1 h", lift_share=lift_share)
    return TankEquations(car, World(car, Schedule.of([phase]), None), tank_fuel(car.fuel.fuel()), pots)


def states_of(equations, levels=(1.0, 1.0), temperatures=(316.0, 319.0), gauge=700.0, temperature=311.0):
    fuel, volume = equations.fuel, float(equations.car.tank.volume)
    partial = OUTSIDE.pressure + gauge - fuel.bubble_pressure(temperature, 0.02).pressure
    tank = equations.start("25 degC")._replace(
        temperature=temperature,
        supply_temperature=temperature,
        liquid=30e-3 * fuel.density(temperature).value,
        air=partial * (volume - 30e-3) / (GAS * temperature),
        evaporated=0.02,
    )
    pots = [
        PotVector(level * fuel.density(own).value * float(planned.pot.volume), own)
        for planned, level, own in zip(equations.pots, levels, temperatures, strict=True)
    ]
    return tank, pots


@pytest.mark.parametrize("running", [True, False])
@pytest.mark.parametrize("lift_share", [1.0, 0.3])
@pytest.mark.parametrize("levels", [(1.0, 1.0), (0.99, 0.5), (0.3, 1.0)])
@pytest.mark.parametrize("hot", [False, True])
def test_rates_of_tank_and_pots_keep_fuel_and_heat(levels, lift_share, running, hot):
    """Conservation of mass, and of energy: what all vessels gain, by differences in time, is what the ledger books.
    Of what lift pumps do not lift, because they suck air, nothing leaves the tank."""
    equations = equations_of(lift_share)
    boils = equations.fuel.boiling_temperature(OUTSIDE.pressure + 700.0, 0.02)
    tank, pots = states_of(equations, levels, (boils + 0.3, 319.0) if hot else (316.0, 319.0))
    rates, of_pots = vessel_rates(equations, 0, Given(flows()) if running else None, 0.0, tank, pots, OUTSIDE)
    in_pots = sum(pot.mass for pot in of_pots)
    assert rates.liquid + rates.vapour + rates.vented + rates.burnt + in_pots == pytest.approx(0.0, abs=1e-12)
    assert rates.burnt == pytest.approx(flows().burnt if running else 0.0)

    def enthalpy(seconds):
        moved = tank._replace(
            temperature=tank.temperature + seconds * rates.temperature, liquid=tank.liquid + seconds * rates.liquid
        )
        moved_pots = [
            PotVector(pot.mass + seconds * own.mass, pot.temperature + seconds * own.temperature)
            for pot, own in zip(pots, of_pots, strict=True)
        ]
        return equations.enthalpy(moved, moved_pots)

    gained = (enthalpy(0.5) - enthalpy(-0.5)) / 1.0
    booked = sum(getattr(rates, name) for name in LEDGER) - rates.evaporation - rates.carried
    assert gained == pytest.approx(booked, rel=1e-4, abs=0.1)
    assert (rates.sun, rates.road, rates.lift) == (80.0, 30.0, 0.0)
    assert rates.radiated == (50.0 if running else 0.0)
    assert rates.supply_temperature == rates.temperature


def test_a_full_pot_runs_over_with_all_its_surplus_and_a_pot_below_the_brim_keeps_it():
    """Mass balance by hand: full, the first gives its 0.040 kg/s to the second, which gives 0.056 to the tank."""
    equations = equations_of()
    tank, pots = states_of(equations)
    full = vessel_rates(equations, 0, Given(flows()), 0.0, tank, pots, OUTSIDE)
    assert [pot.mass for pot in full.pots] == pytest.approx([0.0, 0.0], abs=1e-12)
    tank, pots = states_of(equations, (0.5, 0.5))
    low = vessel_rates(equations, 0, Given(flows()), 0.0, tank, pots, OUTSIDE)
    assert [pot.mass for pot in low.pots] == pytest.approx([0.040, 0.016])
    assert full.tank.liquid - low.tank.liquid == pytest.approx(0.056, rel=0.01)


def test_a_pot_warms_by_what_flows_in_and_by_its_walls_over_its_heat_capacity():
    """m c dT/dt = sum of heat of the inflows above the pot's temperature + UA (T_air - T), by hand; what runs over
    from the first pot comes to the second warmer by the heating on its way."""
    equations = equations_of()
    fuel = equations.fuel
    tank, pots = states_of(equations)
    _, of_pots = vessel_rates(equations, 0, Given(flows()), 0.0, tank, pots, OUTSIDE)
    heats = [
        pot.mass * fuel.heat_capacity(pot.temperature) * own.temperature for pot, own in zip(pots, of_pots, strict=True)
    ]
    over = 0.040 * (fuel.enthalpy(316.0) + 400.0 - fuel.enthalpy(319.0))
    assert heats == pytest.approx([-120.0 + 90.0 + 2.0 * (345.0 - 316.0), -60.0 + 35.0 + over + 3.0 * (325.0 - 319.0)])
    halved = equations_of(lift_share=0.5)
    tank, pots = states_of(halved, (0.5, 0.5))
    (first, _) = vessel_rates(halved, 0, Given(flows()), 0.0, tank, pots, OUTSIDE).pots
    own = pots[0].mass * fuel.heat_capacity(316.0)
    assert first.temperature * own == pytest.approx(-60.0 + 90.0 + 2.0 * (345.0 - 316.0))
    assert first.mass == pytest.approx(0.5 * 0.05 - 0.010)


def test_the_tank_warms_by_walls_radiation_sun_road_and_what_runs_over():
    """m c dT/dt + L E = sum of all heat, each above the tank's own temperature (heat balance by hand)."""
    equations = equations_of()
    fuel = equations.fuel
    tank, pots = states_of(equations)
    rates, _ = vessel_rates(equations, 0, Given(flows()), 0.0, tank, pots, OUTSIDE)
    over = 0.056 * (fuel.enthalpy(319.0) + 150.0 - fuel.enthalpy(311.0))
    wall = float(equations.car.tank.heat_conductance) * (325.0 - 311.0)
    heat = wall + 50.0 + 80.0 + 30.0 + 40.0 + over
    latent = fuel.vapour(311.0, 0.02).latent_heat * (rates.vapour + rates.vented)
    assert tank.liquid * fuel.heat_capacity(311.0) * rates.temperature + latent == pytest.approx(heat, rel=1e-9)
    assert rates.wall == pytest.approx(wall + 2.0 * 29.0 + 3.0 * 6.0)
    assert rates.evaporation == pytest.approx(latent)
    evaporated = rates.vapour + rates.vented
    assert rates.carried == pytest.approx((flows().burnt + evaporated) * fuel.enthalpy(311.0), rel=1e-9)


@pytest.mark.parametrize(("zone", "kelvin"), [("underfloor", 325.0), ("bay", 345.0), ("tank", 311.0)])
def test_a_pot_exchanges_heat_with_the_air_of_its_zone(zone, kelvin):
    equations = equations_of(zones=(zone, "underfloor"))
    tank, pots = states_of(equations)
    first = vessel_rates(equations, 0, None, 0.0, tank, pots, OUTSIDE).pots[0]
    capacity = pots[0].mass * equations.fuel.heat_capacity(316.0)
    assert first.temperature * capacity == pytest.approx(2.0 * (kelvin - 316.0))


@pytest.mark.parametrize(("beyond", "boils"), [(-0.02, False), (0.2, True)])
def test_a_pot_boils_beyond_the_boiling_point_at_the_pressure_in_the_tank(beyond, boils):
    """Heat beyond boiling over latent heat; it cools the pot by as much, leaves its mass, and goes out of the vent."""
    equations = equations_of()
    fuel = equations.fuel
    at = fuel.boiling_temperature(OUTSIDE.pressure + 700.0, 0.02)
    tank, pots = states_of(equations, (0.5, 0.5), (at + beyond, 316.0))
    rates, (first, _) = vessel_rates(equations, 0, None, 0.0, tank, pots, OUTSIDE)
    boiled = 0.2 * 500.0 / fuel.vapour(at, 0.02).latent_heat if boils else 0.0
    assert first.mass == pytest.approx(-boiled, rel=1e-3, abs=1e-12)
    through_wall = 2.0 * (345.0 - at - beyond)
    capacity = pots[0].mass * fuel.heat_capacity(at)
    assert first.temperature * capacity == pytest.approx(through_wall - (100.0 if boils else 0.0), rel=2e-3)
    calm = vessel_rates(equations, 0, None, 0.0, tank, states_of(equations, (0.5, 0.5))[1], OUTSIDE).tank
    assert rates.vented - calm.vented == pytest.approx(boiled, rel=1e-3, abs=1e-12)
    assert rates.liquid == pytest.approx(calm.liquid, rel=1e-9)
    assert rates.evaporation - calm.evaporation == pytest.approx(100.0 if boils else 0.0, rel=1e-3, abs=1e-6)


def test_a_nearly_empty_pot_follows_what_flows_in_without_dividing_by_nothing():
    equations = equations_of()
    tank, pots = states_of(equations)
    empty = [pot._replace(mass=0.0) for pot in pots]
    _, of_pots = vessel_rates(equations, 0, Given(flows()), 0.0, tank, empty, OUTSIDE)
    assert np.all(np.isfinite([value for pot in of_pots for value in pot]))


def test_pots_see_the_plumbing_at_their_own_temperatures_and_at_the_pressure_of_the_tank():
    equations = equations_of()
    tank, pots = states_of(equations, gauge=700.0)
    table = Given(flows())
    vessel_rates(equations, 0, table, 55.0, tank, pots, OUTSIDE)
    time, temperature, of_pots, gauge, evaporated = table.asked
    assert (time, temperature, of_pots, evaporated) == (55.0, 311.0, [316.0, 319.0], 0.02)
    assert gauge == pytest.approx(700.0, abs=0.5)


def test_an_emptied_tank_has_rates_too():
    """The integration may overshoot the end of the fuel by a little."""
    equations = equations_of()
    tank, pots = states_of(equations)
    rates, _ = vessel_rates(equations, 0, None, 0.0, tank._replace(liquid=-0.001, air=-1e-6), pots, OUTSIDE)
    assert np.all(np.isfinite(rates))
