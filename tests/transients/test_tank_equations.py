"""The equations of a tank, of a plain surge pot and of fuel that lingers at the pick-up: balances and hand figures.

The plumbing is a stub that brings given flows, so that nothing but the balances of the tank is judged.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.car.climate import hot_day
from fuelsim.car.heat_parts import SurgePot
from fuelsim.system.exchange import moving_share
from fuelsim.transients.plumbing_table import PlumbingState
from fuelsim.transients.pot_flows import planned_pots
from fuelsim.transients.schedule import Phase, Schedule
from fuelsim.transients.tank import vapour_space
from fuelsim.transients.tank_equations import Around, TankEquations
from fuelsim.transients.tank_fuel import tank_fuel
from fuelsim.transients.world import World

GRAVITY = 9.80665
GAS = 8.31446
FLOWS = PlumbingState(
    supply=0.040,
    returned=0.034,
    returned_heat=170.0,
    pump_heat=60.0,
    rail_heat=90.0,
    bay_heat=15.0,
    line_heat=10.0,
    burnt_heat=5.0,
    rail_gauge_pressure=3e5,
    near_limit=0.0,
)
OUTSIDE = Around(pressure=98e3, underfloor=320.0, bay=340.0, sun=80.0, road=30.0)
LEDGER = ("wall", "returned", "radiated", "lift", "sun", "road")
POT = SurgePot(volume="1.5 L", lift_flow="100 L/h", lift_power="20 W", heat_conductance="1 W/K")
VARIANTS = {"plain": {}, "lingers": {"tank.pick_up_return_share": 0.4}, "surge pot": {}}


class Given:
    """A plumbing that brings given flows and keeps what it was asked for."""

    def __init__(self, flows=FLOWS):
        self.flows = flows

    def at(self, *asked):
        self.asked = asked
        return self.flows


@lru_cache(maxsize=8)
def equations_of(variant):
    car = fs.Car.named("finch").with_values({"tank.radiated_heat": "50 W"})
    car = replace(car, surge_pot=POT) if variant == "surge pot" else car.with_values(VARIANTS[variant])
    phases = [Phase(name="drive", duration="1 h", vehicle_speed="36 km/h"), Phase(name="stop", duration="1 h")]
    world = World(car, Schedule.of(phases), None)
    return TankEquations(car, world, tank_fuel(car.fuel.fuel()))


def state_of(equations, *, temperature=312.0, supply=None, gauge=600.0, litres=20.0, evaporated=0.03):
    """A tank whose vapour space stands at a pressure above that outside."""
    fuel, volume = equations.fuel, float(equations.car.tank.volume)
    liquid = litres * 1e-3 * fuel.density(temperature).value
    space = volume - litres * 1e-3
    partial = OUTSIDE.pressure + gauge - fuel.bubble_pressure(temperature, evaporated).pressure
    return equations.start("25 degC")._replace(
        temperature=temperature,
        supply_temperature=temperature + 3.0 if supply is None else supply,
        liquid=liquid,
        air=partial * space / (GAS * temperature),
        evaporated=evaporated,
    )


def gain(equations, state, rates, seconds):
    """What the heat of the tank gains at some rates, W: a central difference over some seconds to each side."""

    def moved(by):
        names = ("temperature", "liquid", "supply_temperature")
        return state._replace(**{name: getattr(state, name) + by * getattr(rates, name) for name in names})

    return (equations.enthalpy(moved(seconds), []) - equations.enthalpy(moved(-seconds), [])) / (2.0 * seconds)


@pytest.mark.parametrize("variant", list(VARIANTS))
def test_a_start_is_fuel_under_air_at_the_pressure_outside(variant):
    """Dalton's law: partial pressures of air and of saturated vapour add up to the pressure outside; n = p V/(R T)."""
    equations = equations_of(variant)
    first = equations.start("25 degC")
    fuel, volume = equations.fuel, float(equations.car.tank.volume)
    assert first.temperature == first.supply_temperature == 298.15
    assert first.liquid / fuel.density(298.15).value == pytest.approx(22e-3)
    space = volume - 22e-3
    vapour = fuel.bubble_pressure(298.15, 0.0).pressure
    assert first.air * GAS * 298.15 / space + vapour == pytest.approx(101325.0, rel=1e-5)
    moles = vapour * space / (GAS * 298.15)
    assert first.vapour == pytest.approx(moles * fuel.vapour(298.15, 0.0).molar_mass, rel=1e-5)
    assert equations.start(None).temperature == float(equations.car.surroundings.air_temperature)


@pytest.mark.parametrize(("below_boiling", "refused"), [(0.049, True), (0.051, False)])
def test_a_tank_at_its_boiling_point_is_refused_at_the_start(below_boiling, refused):
    equations = equations_of("plain")
    at = equations.fuel.boiling_temperature(101325.0, 0.0) - below_boiling
    if refused:
        with pytest.raises(fs.InputError, match="would boil"):
            equations.start(at)
    else:
        assert equations.start(at).air > 0.0


@pytest.mark.parametrize(("kelvin", "refused"), [(239.9, True), (240.1, False)])
def test_a_tank_colder_than_what_the_fuel_s_fits_reach_is_refused(kelvin, refused):
    equations = equations_of("plain")
    if refused:
        with pytest.raises(fs.InputError, match="too cold"):
            equations.start(kelvin)
    else:
        assert equations.start(kelvin).temperature == kelvin


@pytest.mark.parametrize(("litres", "refused"), [(0.35, True), (0.5, False)])
def test_a_tank_whose_pick_up_is_bare_is_refused_at_the_start(litres, refused):
    """0.35 L of petrol are 0.26 kg, less than the 0.3 kg at which a drive ends; nothing would end it later."""
    car = fs.Car.named("finch").with_values({"tank.fuel_volume": f"{litres} L"})
    world = World(car, Schedule.of([Phase(name="a", duration="1 h")]), None)
    equations = TankEquations(car, world, tank_fuel(car.fuel.fuel()))
    if refused:
        with pytest.raises(fs.InputError, match="bare"):
            equations.start("20 degC")
    else:
        assert equations.start("20 degC").liquid > 0.3


@pytest.mark.parametrize("running", [True, False])
@pytest.mark.parametrize("gauge", [-40.0, 600.0])
@pytest.mark.parametrize("variant", list(VARIANTS))
def test_rates_keep_fuel_and_heat(variant, gauge, running):
    """Conservation of mass, and of energy: what tank and pot gain, by differences in time, is what the ledger books."""
    equations = equations_of(variant)
    state = state_of(equations, gauge=gauge)
    rates = equations.rates(0, Given() if running else None, 0.0, state, OUTSIDE)
    assert rates.liquid + rates.vapour + rates.vented + rates.burnt == pytest.approx(0.0, abs=1e-12)
    assert rates.burnt == pytest.approx(0.006 if running else 0.0)

    gained = gain(equations, state, rates, 1.0)
    booked = sum(getattr(rates, name) for name in LEDGER) - rates.evaporation - rates.carried
    assert gained == pytest.approx(booked, rel=1e-4, abs=0.05)
    assert rates.sun == 80.0
    assert rates.road == 30.0
    assert rates.radiated == (50.0 if running else 0.0)
    assert rates.returned == (170.0 if running else 0.0)
    sources = rates.pump_heat + rates.rail_heat + rates.bay_heat + rates.line_heat - rates.burnt_heat
    assert sources == pytest.approx(rates.returned)


def test_the_ledger_of_vapour_in_a_plain_tank_is_latent_heat_times_what_evaporates():
    equations = equations_of("plain")
    state = state_of(equations)
    rates = equations.rates(0, Given(), 0.0, state, OUTSIDE)
    evaporated = rates.vapour + rates.vented
    latent = equations.fuel.vapour(state.temperature, state.evaporated).latent_heat
    assert rates.evaporation == pytest.approx(latent * evaporated, rel=1e-12)
    assert rates.supply_temperature == rates.temperature


@pytest.mark.parametrize("engine_runs", [True, False])
def test_heat_through_walls_grows_with_speed_and_has_the_sign_of_the_air_s_excess(engine_runs):
    """UA (T_air - T): 10 W/K at rest and, where no other figure is given, twice that at speed; by hand."""
    equations = equations_of("plain")
    state = state_of(equations, temperature=312.0)
    table = Given() if engine_runs else None
    share = float(moving_share(10.0))
    rates = equations.rates(0, table, 0.0, state, OUTSIDE)
    assert rates.wall == pytest.approx((10.0 + 10.0 * share) * 8.0)
    assert equations.rates(1, table, 0.0, state, OUTSIDE).wall == pytest.approx(80.0)
    cooler = equations.rates(1, table, 0.0, state, OUTSIDE._replace(underfloor=300.0))
    assert cooler.wall == pytest.approx(-120.0)


def test_given_conductance_at_speed_is_met_at_high_speed():
    car = fs.Car.named("finch").with_values({"tank.moving_heat_conductance": "16 W/K"})
    equations = TankEquations(
        car, World(car, Schedule.of([Phase(name="a", duration="1 h")]), None), tank_fuel(car.fuel.fuel())
    )
    fast = Phase(name="fast", duration="1 h", vehicle_speed=100.0)
    assert equations.wall_conductance(fast) == pytest.approx(16.0, rel=1e-3)


@pytest.mark.parametrize("variant", ["plain", "lingers", "surge pot"])
def test_the_plumbing_is_asked_at_the_temperature_it_draws_and_the_pressure_over_its_suction(variant):
    """Gauge pressure of the vapour space by ideal gas and saturated vapour, and the head by which the level differs
    from the car's own: rho g (V/V_tank - V0/V_tank) depth, by hand."""
    equations = equations_of(variant)
    state, table = state_of(equations, gauge=600.0, litres=18.0), Given()
    equations.rates(0, table, 77.0, state, OUTSIDE)
    time, temperature, gauge, evaporated = table.asked
    density = equations.fuel.density(312.0).value
    head = density * GRAVITY * 0.22 * (18.0 - 22.0) / 45.0
    assert (time, evaporated) == (77.0, 0.03)
    assert temperature == (312.0 if variant == "plain" else 315.0)
    assert head == pytest.approx(-140.0, rel=0.05)
    assert gauge == pytest.approx(600.0 + head, abs=0.5)


# ---- the fuel around the pick-up, or in a surge pot ------------------------------------------------------------------


def test_mass_apart_from_the_tank_is_that_of_the_pot_or_of_a_litre_around_the_pick_up():
    fuel = equations_of("plain").fuel
    assert equations_of("plain").supply_mass == 0.0
    assert equations_of("surge pot").supply_mass == pytest.approx(1.5e-3 * fuel.density(300.0).value)
    assert 0.3e-3 < equations_of("lingers").supply_mass / fuel.density(300.0).value < 3e-3
    names = {"plain": 4, "lingers": 5, "surge pot": 5}
    for variant, count in names.items():
        assert len(equations_of(variant).driving_states) == count


def test_a_surge_pot_is_steady_where_what_it_gets_is_what_the_lifted_fuel_takes_away():
    """Mixing: Q + P + UA (T_air - T) = m_lift (h(T) - h(T_tank)), by hand; what overflows carries it to the tank."""
    equations = equations_of("surge pot")
    fuel, tank = equations.fuel, 312.0
    brought = 100e-3 / 3600.0 * fuel.density(tank).value
    low, high = tank, tank + 40.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        surplus = 170.0 + 20.0 + (320.0 - middle) - brought * (fuel.enthalpy(middle) - fuel.enthalpy(tank))
        low, high = (middle, high) if surplus > 0.0 else (low, middle)
    assert 2.0 < low - tank < 6.0
    state = state_of(equations, temperature=tank, supply=low)
    rates = equations.rates(0, Given(), 0.0, state, OUTSIDE)
    assert rates.supply_temperature == pytest.approx(0.0, abs=1e-9)
    assert rates.lift == 20.0
    of_tank = (10.0 + 10.0 * float(moving_share(10.0))) * 8.0
    assert rates.wall == pytest.approx(of_tank + 1.0 * (320.0 - low))
    cold = equations.rates(0, Given(), 0.0, state._replace(supply_temperature=tank), OUTSIDE)
    warmed = (170.0 + 20.0 + 8.0) / (equations.supply_mass * fuel.heat_capacity(tank))
    assert cold.supply_temperature == pytest.approx(warmed, rel=1e-9)


def test_a_surge_pot_of_a_stopped_engine_follows_its_air_alone():
    """m c dT/dt = UA (T_air - T): nothing is lifted and nothing overflows (heat balance, by hand)."""
    equations = equations_of("surge pot")
    rates = equations.rates(1, None, 0.0, state_of(equations, supply=310.0), OUTSIDE)
    capacity = equations.supply_mass * equations.fuel.heat_capacity(310.0)
    assert rates.supply_temperature == pytest.approx((320.0 - 310.0) / capacity)
    assert rates.lift == 0.0
    assert rates.wall == pytest.approx(10.0 * 8.0 + 10.0)


@pytest.mark.parametrize("share", [0.4, 1.0])
def test_fuel_that_lingers_is_steady_at_the_mix_of_what_returns_there_with_what_comes_from_the_tank(share):
    """Mixing: share (m_r (h_s - h_t) + Q) = m_s (h_s - h_t), so that h_s - h_t = share Q/(m_s - share m_r), by hand."""
    car = fs.Car.named("finch").with_values({"tank.pick_up_return_share": share})
    world = World(car, Schedule.of([Phase(name="a", duration="1 h")]), None)
    equations = TankEquations(car, world, tank_fuel(car.fuel.fuel()))
    fuel = equations.fuel
    excess = share * 170.0 / (0.040 - share * 0.034)
    low, high = 312.0, 340.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if fuel.enthalpy(middle) - fuel.enthalpy(312.0) < excess else (low, middle)
    rates = equations.rates(0, Given(), 0.0, state_of(equations, supply=low), OUTSIDE)
    assert rates.supply_temperature == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("variant", ["lingers", "surge pot"])
def test_fuel_apart_from_the_tank_boils_above_its_boiling_point_and_is_replaced_from_the_tank(variant):
    """Heat balance: what boils off is the heat beyond the boiling point over the latent heat; the fuel that takes its
    place is colder by the difference to the tank."""
    equations = equations_of(variant)
    fuel = equations.fuel
    boils = fuel.boiling_temperature(OUTSIDE.pressure, 0.03)
    state = state_of(equations, supply=boils + 0.2)
    below = state._replace(supply_temperature=boils - 0.01)
    rates, calm = (equations.rates(0, Given(), 0.0, each, OUTSIDE) for each in (state, below))
    boiled = rates.vented - calm.vented
    latent = fuel.vapour(boils, 0.03).latent_heat
    assert calm.liquid + calm.vapour + calm.vented + calm.burnt == pytest.approx(0.0, abs=1e-12)
    assert boiled * latent == pytest.approx(0.2 * 500.0, rel=2e-3)
    assert rates.liquid + rates.vapour + rates.vented + rates.burnt == pytest.approx(0.0, abs=1e-12)
    capacity = equations.supply_mass * fuel.heat_capacity(boils)
    taken = boiled * (latent + fuel.enthalpy(boils + 0.2) - fuel.enthalpy(312.0))
    # Beside that, fuel which is warmer by 0.21 K gives off more to what renews it, and to the air.
    renewed = 0.040 - 0.4 * 0.034 if variant == "lingers" else 100e-3 / 3600.0 * fuel.density(312.0).value
    taken += 0.21 * (renewed * fuel.heat_capacity(boils) + (0.0 if variant == "lingers" else 1.0))
    slower = (calm.supply_temperature - rates.supply_temperature) * capacity
    assert slower == pytest.approx(taken, rel=5e-3)
    gained = rates.evaporation - calm.evaporation
    assert gained == pytest.approx(boiled * latent, rel=2e-3)

    change = gain(equations, state, rates, 0.1)
    booked = sum(getattr(rates, name) for name in LEDGER) - rates.evaporation - rates.carried
    assert change == pytest.approx(booked, rel=1e-4, abs=0.05)


def test_fuel_apart_that_is_hardly_warmer_than_the_tank_is_left_to_boil_with_it():
    """Both boil at the same temperature; the tank's own balance holds it there."""
    equations = equations_of("lingers")
    boils = equations.fuel.boiling_temperature(OUTSIDE.pressure, 0.03)
    state = state_of(equations, temperature=boils, supply=boils + 0.05)
    rates = equations.rates(0, Given(), 0.0, state, OUTSIDE)
    assert rates.liquid + rates.burnt == pytest.approx(-(rates.vapour + rates.vented), abs=1e-12)
    latent = equations.fuel.vapour(boils, 0.03).latent_heat
    assert rates.evaporation == pytest.approx(latent * (rates.vapour + rates.vented), rel=1e-9)


# ---- the grid of pressures, and the air outside ----------------------------------------------------------------------


@pytest.mark.parametrize("bore", ["1.4 mm", "4 mm"])
def test_the_grid_of_tank_pressures_reaches_beyond_both_valves_of_the_cap(bore):
    """A hole of 1.4 mm lets 400 L/h of air in at about 8 kPa (orifice), a wide one at some tens of pascals."""
    car = fs.Car.named("finch").with_values(
        {"tank.vent.bore": bore, "tank.vent.pressure_opening": "7 kPa", "tank.vent.vacuum_opening": "2 kPa"}
    )
    equations = TankEquations(
        car, World(car, Schedule.of([Phase(name="a", duration="1 h")]), None), tank_fuel(car.fuel.fuel())
    )
    grid = equations.pressure_grid()
    assert grid == sorted(grid)
    throttled = 0.5 * 1.15 * (400e-3 / 3600.0 / (0.6 * np.pi / 4.0 * float(car.tank.vent.bore) ** 2)) ** 2
    assert grid[0] < -2e3 - throttled
    assert grid[-1] > 7e3 + throttled
    if bore == "1.4 mm":
        assert throttled == pytest.approx(8e3, rel=0.1)
        assert grid[2] == 0.0
        assert np.diff(grid) == pytest.approx([-0.5 * grid[0]] * 2 + [0.5 * grid[-1]] * 2)


def test_pots_start_full_at_the_tank_s_temperature_and_their_level_is_the_volume_of_their_fuel():
    car = fs.Car.named("plover")
    fuel = tank_fuel(car.fuel.fuel())
    pots = planned_pots(car.system("pot").plumbing)
    world = World(car, Schedule.of([Phase(name="a", duration="1 h")]), None)
    equations = TankEquations(car, world, fuel, pots)
    (first,) = equations.pots_at_start(310.0)
    assert first.temperature == 310.0
    assert first.mass == pytest.approx(1.5e-3 * fuel.density(310.0).value)
    assert equations.level(pots[0], first) == pytest.approx(1.0)
    assert equations.level(pots[0], first._replace(mass=0.5 * first.mass)) == pytest.approx(0.5)
    assert equations.supply_mass == 0.0
    assert equations.enthalpy(equations.start("20 degC"), [first]) - equations.enthalpy(
        equations.start("20 degC"), []
    ) == pytest.approx(first.mass * fuel.enthalpy(310.0))


def test_the_air_within_a_phase_is_that_of_the_world_and_straight_between_the_minutes():
    """Judge: the world itself, at the times of the table and between; the air's lag of minutes bends little in one."""
    car = fs.Car.named("finch").with_values({"tank.sunlit_area": "0.1 m2", "tank.road_facing_area": "0.3 m2"})
    phases = [
        Phase(name="drive", duration="10 min", vehicle_speed="50 km/h"),
        Phase(name="climb", duration="630 s", end_altitude="900 m"),
        Phase(name="parked", duration="10 min", engine="stopped"),
    ]
    world = World(car, Schedule.of(phases, start_time="9 h"), hot_day("madrid"))
    equations = TankEquations(car, world, tank_fuel(car.fuel.fuel()))
    for index, phase in enumerate(phases):
        air = equations.outside(index)
        end = float(phase.duration)
        for time in (0.0, 0.37 * end, 0.5 * end, end):
            there, around = world.at(index, np.array([time])), air.at(time)
            assert around.pressure == pytest.approx(float(there.atmospheric_pressure[0]), rel=1e-5)
            assert around.bay == pytest.approx(float(there.bay_temperature[0]), abs=0.1)
            assert around.underfloor == pytest.approx(float(there.underfloor_temperature[0]), abs=0.1)
            assert around.sun == pytest.approx(100.0 * float(world.sun(index, np.array([time]))[0]), rel=0.01)
    assert [len(equations.outside(index).values) for index in range(3)] == [11, 12, 11]
    # The road under a parked car is shaded.
    assert equations.outside(1).at(0.0).road > 5.0
    assert equations.outside(2).at(0.0).road == 0.0


def test_a_nearly_full_tank_keeps_a_vapour_space():
    equations = equations_of("plain")
    volume, density = float(equations.car.tank.volume), equations.fuel.density(300.0).value
    assert vapour_space(equations.fuel, volume, 300.0, 0.5 * volume * density) == pytest.approx(0.5 * volume)
    assert vapour_space(equations.fuel, volume, 300.0, 1.1 * volume * density) == pytest.approx(0.01 * volume)
