"""Fuel shut in after a stop: its room, what gives way, temperatures, mass, pressure and vapour, each by hand."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from scipy.integrate import solve_ivp

import fuelsim as fs
from fuelsim.constants import GRAVITY
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.damper import Damper
from fuelsim.transients.shut_in_course import idle_before_stop
from fuelsim.transients.shut_in_fuel import FEED_COOLING_TIME, ShutInFuel, liquid_factor
from fuelsim.transients.world import SOAK_DECAY_TIME

COLD = 293.15
DECAYED = np.exp(-1.0)


@pytest.fixture(scope="module")
def finch():
    return fs.Car.named("finch")


def shut_in(car, layout, *, cold=False, dry=False, peak=60.0):
    system = car.system(layout)
    temperature = COLD if cold else None
    run = idle_before_stop(system, temperature, None, temperature)
    return ShutInFuel.after(system, run, peak, constant_temperature=temperature, inlet_dry=dry)


@pytest.fixture(scope="module")
def hot(finch):
    return shut_in(finch, "returnless_tank")


@pytest.fixture(scope="module")
def cold(finch):
    return shut_in(finch, "returnless_tank", cold=True)


@pytest.fixture(scope="module")
def with_pot():
    return shut_in(fs.Car.named("plover"), "pot")


def rails_of(fuel, *lengths):
    """The same fuel with rails of these lengths, m, of 12 mm."""
    rail = next(iter(fuel.rails.values()))
    stations = ("rail", "rail_inlet")
    rails = {name: dataclasses.replace(rail, length=length) for name, length in zip(stations, lengths, strict=True)}
    return dataclasses.replace(fuel, rails=rails)


def test_the_room_is_that_of_feed_and_rail(hot):
    """3 m of 6 mm and 0.35 m of 12 mm."""
    feed, rail = 3.0 * np.pi / 4.0 * 0.006**2, 0.35 * np.pi / 4.0 * 0.012**2
    assert hot.feed_volume == pytest.approx(feed)
    assert hot.rail_volume == pytest.approx(rail)
    assert hot.volume == pytest.approx(feed + rail)


def test_fuel_walls_rail_and_damper_give_way_together(finch):
    """V/K of the fuel, and of each wall its own: hose by its compliance times its volume."""
    hose = finch.with_values(
        {"feed.material": "rubber", "feed.compliance": "0.03 1/MPa", "rail.elastic_volume": "0.2 mL"}
    )
    damper = Damper(stored_volume="0.5 mL")
    fuel = shut_in(dataclasses.replace(hose, damper=damper), "return", cold=True)
    bulk_modulus = float(fuel.system.fuel.bulk_modulus(COLD))
    by_hand = fuel.volume / bulk_modulus + 0.03e-6 * fuel.feed_volume + 2e-12 + damper.compliance
    assert fuel.elastic_volume == pytest.approx(by_hand, abs=0.0)


def test_each_pressure_and_temperature_is_that_of_the_run_before(hot, cold, with_pot):
    assert hot.start_pressure == pytest.approx(float(hot.run_before.gauge_pressure["rail"]))
    assert hot.start_temperatures == pytest.approx([float(hot.run_before.temperature["rail"])])
    assert cold.start_temperatures == [COLD]
    assert with_pot.start_temperatures == pytest.approx(
        [float(with_pot.run_before.temperature[name]) for name in ("left_rail", "right_rail")]
    )
    assert with_pot.start_pressure == max(
        float(with_pot.run_before.gauge_pressure[name]) for name in ("left_rail", "right_rail")
    )
    assert hot.set_pressure == pytest.approx(400e3)
    assert hot.atmospheric_pressure == pytest.approx(101325.0)


def test_the_set_pressure_is_the_highest_of_those_that_hold_a_rail(with_pot):
    assert with_pot.set_pressure == pytest.approx(300e3)


@pytest.mark.parametrize(("valve", "cracking"), [(False, 0.0), (True, 5e3)])
def test_fuel_is_drawn_in_below_the_tank_less_cracking_and_head(finch, valve, cracking):
    """0.45 m up from the level of 22 L of 45 in a tank 0.22 m deep to a rail at 0.55 m."""
    car = dataclasses.replace(finch, check_valve=CheckValve(cracking_pressure="5 kPa")) if valve else finch
    fuel = shut_in(car, "returnless_tank", cold=True)
    lift = 0.55 - 0.22 * 22.0 / 45.0
    head = GRAVITY * lift * float(fuel.system.fuel.density(COLD))
    assert fuel.opens_inwards_at == pytest.approx(fuel.atmospheric_pressure - cracking - head)


def test_a_pump_s_own_valve_cracks_too_and_a_tank_s_vacuum_keeps_fuel_back(finch, cold):
    own = dataclasses.replace(finch, pump=dataclasses.replace(finch.pump, check_valve=True))
    cracking = float(CheckValve().cracking_pressure)
    assert cracking > 0.0
    assert shut_in(own, "returnless_tank", cold=True).opens_inwards_at == pytest.approx(
        cold.opens_inwards_at - cracking
    )


def test_no_fuel_is_drawn_in_through_a_dry_inlet(finch):
    assert shut_in(finch, "returnless_tank", cold=True, dry=True).opens_inwards_at == 0.0


# Temperatures


def test_the_bay_is_above_the_ambient_by_its_rise_at_the_stop_and_by_its_peak_17_minutes_later(hot):
    assert hot.bay_temperature(0.0) - hot.air_temperature == pytest.approx(40.0)
    assert hot.bay_temperature(17.0 * 60.0) - hot.air_temperature == pytest.approx(60.0, abs=0.5)


def test_the_floor_cools_from_its_rise_in_traffic_to_that_of_a_cruise(hot):
    surroundings = hot.car.surroundings
    first, last = float(surroundings.underfloor_rise), float(surroundings.cruising_underfloor_rise)
    assert first != last
    assert hot.floor_temperature(0.0) == pytest.approx(hot.air_temperature + first)
    assert hot.floor_temperature(1e7) == pytest.approx(hot.air_temperature + last)
    assert hot.floor_temperature(SOAK_DECAY_TIME) == pytest.approx(
        hot.air_temperature + last + (first - last) * DECAYED
    )


def test_the_feed_comes_to_the_floor_s_temperature_with_its_time_constant(finch):
    """Under a floor that keeps its temperature, 1/e of the difference is left after 10 minutes."""
    still = shut_in(
        finch.with_values({"surroundings.underfloor_rise": "2 K", "surroundings.cruising_underfloor_rise": "2 K"}),
        "returnless_tank",
    )
    start = float(still.run_before.temperature["pump_outlet"])
    floor = still.air_temperature + 2.0
    assert abs(start - floor) > 3.0
    assert still.feed_temperature(0.0) == pytest.approx(start)
    assert still.feed_temperature(FEED_COOLING_TIME) == pytest.approx(floor + (start - floor) * DECAYED)
    assert still.feed_temperature(1e7) == pytest.approx(floor)


def test_a_cold_car_keeps_its_temperature(cold):
    assert cold.feed_temperature(np.array([0.0, 1e4])) == pytest.approx([COLD, COLD])
    assert cold.warming_rates(100.0, [COLD]) == [0.0]


def test_a_rail_warms_by_what_air_and_metal_give_it(hot):
    """0.75 W/K to the bay's air and 0.45 W/K to metal of 95 degC, just after the stop."""
    heat = 0.75 * (float(hot.bay_temperature(0.0)) - 320.0) + 0.45 * (368.15 - 320.0)
    assert hot.warming_rates(0.0, [320.0]) == pytest.approx([heat / hot.rail_capacities[0]])


@pytest.mark.parametrize("zone", ["bay", "underfloor", "tank"])
def test_a_pot_follows_the_air_around_it_as_a_lumped_capacity(with_pot, zone, monkeypatch):
    """m c dT/dt = UA (T_air - T), integrated by scipy."""
    pot = with_pot.system.plumbing.pots["pot"]
    monkeypatch.setitem(with_pot.system.plumbing.pots, "pot", dataclasses.replace(pot, zone=zone))
    time = np.linspace(0.0, 7200.0, 241)
    course = with_pot.pot_temperature("pot", time)
    around = {
        "bay": with_pot.bay_temperature,
        "underfloor": with_pot.floor_temperature,
        "tank": lambda _: with_pot.tank_temperature,
    }[zone]
    start = float(with_pot.run_before.temperature["pot"])
    tables = with_pot.tables
    capacity = 1.5e-3 * float(tables.density(start)) * float(tables.heat_capacity(start))
    judge = solve_ivp(lambda t, T: (around(t) - T) * 1.0 / capacity, (0.0, 7200.0), [start], rtol=1e-8, t_eval=time)
    assert course == pytest.approx(judge.y[0], abs=0.02)


# Mass and pressure


def test_mass_is_that_of_each_room_at_its_own_density(hot):
    rho = hot.tables.density
    temperatures = np.array([350.0])
    by_hand = hot.feed_volume * float(rho(float(hot.feed_temperature(0.0)))) + hot.rail_volume * float(rho(350.0))
    assert hot.full_mass(0.0, temperatures) == pytest.approx(by_hand)
    assert hot.mean_density(0.0, temperatures) == pytest.approx(by_hand / hot.volume)
    at_start = hot.start_pressure + hot.atmospheric_pressure
    assert hot.mass_at(at_start, 0.0, temperatures) == pytest.approx(by_hand)
    assert hot.mass_at(at_start + 1e5, 0.0, temperatures) - by_hand == pytest.approx(
        1e5 * hot.elastic_volume * by_hand / hot.volume
    )
    assert hot.start_mass == pytest.approx(float(hot.full_mass(0.0, hot.start_temperatures)))


def test_a_gram_lost_leaves_its_own_volume_and_warm_fuel_needs_more(cold, hot):
    rho = float(cold.tables.density(COLD))
    assert cold.missing_volume(0.0, cold.start_temperatures, 1e-3) == pytest.approx(1e-3 / rho)
    assert hot.missing_volume(0.0, hot.start_temperatures + 10.0, 0.0) < 0.0


def test_fuel_without_vapour_loses_pressure_by_what_is_missing_over_the_give(cold):
    lost = 1e5 * cold.elastic_volume * float(cold.tables.density(COLD))
    state = cold.state(0.0, cold.start_temperatures, lost)
    assert state.pressure - cold.atmospheric_pressure == pytest.approx(cold.start_pressure - 1e5, rel=1e-4)
    assert state.vapour_volume == pytest.approx(0.0, abs=1e-13)


def test_a_kelvin_gains_what_the_pressure_per_kelvin_says(cold):
    warm = dataclasses.replace(cold, constant_temperature=COLD + 1.0)
    state = warm.state(0.0, np.array([COLD + 1.0]), warm.start_mass - cold.start_mass)
    cooled = cold.state(0.0, np.array([COLD]), cold.start_mass - warm.start_mass)
    assert float(cooled.pressure) - cold.atmospheric_pressure - cold.start_pressure == pytest.approx(
        -cold.pressure_per_kelvin(COLD + 0.5), rel=0.01
    )
    assert float(state.pressure) - warm.atmospheric_pressure - warm.start_pressure == pytest.approx(
        cold.pressure_per_kelvin(COLD + 0.5), rel=0.01
    )


@pytest.mark.parametrize("temperature", [305.0, 340.0, 365.0])
def test_what_is_missing_boils_and_the_rail_holds_its_bubble_pressure(hot, temperature):
    """Mass is what was there less what has gone, vapour left out."""
    temperatures = np.array([temperature])
    full = float(hot.full_mass(0.0, temperatures))
    lost = hot.start_mass - full + 15e-6 * full / hot.volume
    state = hot.state(0.0, temperatures, lost)
    bubble = float(hot.tables.bubble_pressure(temperature))
    share = float(state.vapour_volume) / hot.rail_volume
    outside = hot.atmospheric_pressure
    assert 0.2 < share < 0.5
    assert float(state.pressure) == pytest.approx(outside + (bubble - outside) * (1.0 - share**4), rel=2e-3)
    assert float(hot.mass(0.0, temperatures, state)) == pytest.approx(hot.start_mass - lost)
    assert state.vapour_in_rail[0] == pytest.approx(float(state.vapour_volume))


@pytest.mark.parametrize("temperature", [305.0, 370.0])
def test_a_rail_that_has_run_dry_comes_to_the_atmosphere(hot, temperature):
    temperatures = np.array([temperature])
    full = float(hot.full_mass(0.0, temperatures))
    state = hot.state(0.0, temperatures, hot.start_mass - full + 2.0 * hot.rail_volume * full / hot.volume)
    assert float(state.pressure) == pytest.approx(hot.atmospheric_pressure, abs=200.0)
    assert float(state.vapour_volume) == pytest.approx(hot.rail_volume, rel=1e-2)


def test_the_hottest_rail_boils_first_and_the_next_when_it_is_dry(hot):
    """Rails of 20 and 30 cm at 372 and 365 K; 20 and 40 mL of vapour."""
    two = rails_of(hot, 0.2, 0.3)
    temperatures = np.array([372.0, 365.0])
    full = float(two.full_mass(0.0, temperatures))
    bubble = [float(two.tables.bubble_pressure(temperature)) for temperature in temperatures]
    small, large = two.rail_volumes
    for missing, first, holds in ((0.3 * small, 0.3, bubble[0]), (small + 0.3 * large, 1.0, bubble[1])):
        state = two.state(0.0, temperatures, two.start_mass - full + missing * full / two.volume)
        assert float(state.pressure) == pytest.approx(holds, rel=0.02)
        assert state.vapour_in_rail[0] / small == pytest.approx(first, abs=0.05)
        assert state.vapour_in_rail.sum() == pytest.approx(float(state.vapour_volume))


def test_rails_alike_share_vapour_by_their_room_and_the_warmer_takes_all_first(hot):
    two = rails_of(hot, 0.2, 0.3)
    small, large = two.rail_volumes
    alike = two._shared_out(np.asarray(10e-6), np.array([50e3, 50e3]))
    assert alike == pytest.approx([4e-6, 6e-6])
    assert two._shared_out(np.asarray(10e-6), np.array([900e3, 900e3])) == pytest.approx([4e-6, 6e-6])
    hotter = two._shared_out(np.asarray(10e-6), np.array([50e3, 100e3]))
    assert hotter == pytest.approx([0.0, 10e-6], abs=1e-12)
    over = two._shared_out(np.asarray(small + 5e-6), np.array([100e3, 50e3]))
    assert over == pytest.approx([small, 5e-6], rel=1e-6)
    assert two._shared_out(np.asarray(small + large), np.array([100e3, 50e3])) == pytest.approx([small, large])


def test_states_of_several_times_are_those_of_each(hot):
    two = rails_of(hot, 0.2, 0.3)
    time, temperatures = np.array([0.0, 600.0]), np.array([[360.0, 371.0], [365.0, 362.0]])
    lost = np.array([2e-3, 12e-3])
    together = two.state(time, temperatures, lost)
    for point in range(2):
        alone = two.state(float(time[point]), temperatures[:, point], float(lost[point]))
        assert together.pressure[point] == pytest.approx(float(alone.pressure))
        assert together.vapour_in_rail[:, point] == pytest.approx(alone.vapour_in_rail)


def test_a_leak_of_a_rail_half_full_of_vapour_passes_fifteen_sixteenths():
    assert liquid_factor(0.5) == pytest.approx(15.0 / 16.0)
    assert liquid_factor(0.0) == 1.0
