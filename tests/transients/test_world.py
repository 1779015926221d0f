"""The world around a car within each phase of a drive: clock, altitude, air, sun, and the air around hot parts."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

import fuelsim as fs
from fuelsim.car.climate import hot_day
from fuelsim.transients.schedule import Phase, Schedule
from fuelsim.transients.world import DrivingState, World, bay_rise_after_stop


@pytest.fixture(scope="module")
def finch():
    return fs.Car.named("finch")


def one(values):
    return float(np.asarray(values).ravel()[0])


def world_of(car, *phases, climate=None, **keys):
    return World(car, Schedule.of(list(phases), **keys), climate)


@pytest.mark.parametrize("peak", [50.0, 60.0])
def test_the_bay_of_a_cool_car_rises_to_its_peak_after_a_stop_and_not_beyond(peak):
    """Judge: scipy's search for the maximum of what is returned; it begins and ends at nothing."""
    best = minimize_scalar(lambda t: -one(bay_rise_after_stop(t, 0.0, peak)), bounds=(60.0, 3600.0), method="bounded")
    assert -best.fun == pytest.approx(peak, rel=1e-6)
    # The engine's own warmth counts in: at that time a bay that was warm at the stop is at the peak too.
    assert one(bay_rise_after_stop(best.x, 35.0, peak)) == pytest.approx(peak, rel=1e-4)
    assert one(bay_rise_after_stop(0.0, 0.0, peak)) == pytest.approx(0.0, abs=1e-12)
    assert one(bay_rise_after_stop(1e6, 0.0, peak)) == pytest.approx(0.0, abs=1e-9)


def test_a_rise_at_the_stop_is_met_and_a_bay_hotter_than_the_peak_only_cools():
    assert one(bay_rise_after_stop(0.0, 35.0)) == pytest.approx(35.0)
    times = np.linspace(0.0, 7200.0, 200)
    hot = bay_rise_after_stop(times, 900.0, 20.0)
    assert hot[0] == pytest.approx(900.0)
    assert np.all(np.diff(hot) < 0.0)
    assert np.all(hot > 0.0)
    # Two hours of the slow decay of 30 to 60 minutes leave more than the fast warming would.
    tail = bay_rise_after_stop(np.array([5400.0, 7200.0]), 0.0)
    assert 1800.0 < -1800.0 / np.log(tail[1] / tail[0]) < 3600.0


@pytest.mark.parametrize("fraction", [0.0, 0.25, 1.0])
def test_altitude_rises_evenly_within_a_phase_and_the_next_begins_where_it_ends(finch, fraction):
    climb, plain, descent = (
        Phase(name="climb", duration="40 min", end_altitude="1200 m"),
        Phase(name="plain", duration="10 min"),
        Phase(name="descent", duration="20 min", end_altitude="200 m"),
    )
    world = world_of(finch, climb, plain, descent, start_altitude="400 m")
    assert one(world.at(0, [fraction * 2400.0]).altitude) == pytest.approx(400.0 + 800.0 * fraction)
    assert one(world.at(1, [fraction * 600.0]).altitude) == 1200.0
    assert one(world.at(2, [fraction * 1200.0]).altitude) == pytest.approx(1200.0 - 1000.0 * fraction)
    assert world.climbs() == [(400.0, 1200.0), (1200.0, 1200.0), (1200.0, 200.0)]


def test_a_drive_begins_at_the_altitude_of_the_car_s_surroundings_or_of_the_climate_s_place(finch):
    mountain = finch.with_values({"surroundings.altitude": "700 m"})
    phase = Phase(name="drive", duration="10 min")
    assert world_of(mountain, phase).climbs()[0].start == 700.0
    madrid = hot_day("madrid")
    assert world_of(mountain, phase, climate=madrid).climbs()[0].start == float(madrid.altitude)


def test_pressure_is_that_of_the_standard_atmosphere(finch):
    """US Standard Atmosphere 1976: 89 874.6 Pa at 1000 m, 79 495.2 Pa at 2000 m."""
    world = world_of(finch, Phase(name="up", duration="1 h", end_altitude="2000 m"), start_altitude="0 m")
    pressure = world.at(0, [1800.0, 3600.0]).atmospheric_pressure
    assert pressure == pytest.approx([89874.6, 79495.2], rel=1e-4)


def test_the_clock_runs_on_through_the_phases_and_air_cools_by_6_5_kelvin_per_kilometre(finch):
    """Judge: the climate's own air at that hour; US Standard Atmosphere 1976 for the height above its place."""
    madrid = hot_day("madrid")
    phases = [Phase(name="a", duration="2 h"), Phase(name="b", duration="1 h", end_altitude=madrid.altitude + 1000.0)]
    world = world_of(finch, *phases, climate=madrid, start_time="9 h")
    at_end = one(world.at(1, [3600.0]).air_temperature)
    assert at_end == pytest.approx(one(madrid.air_temperature(12.0 * 3600.0)) - 6.5)
    at_begin = one(world.at(1, [0.0]).air_temperature)
    assert at_begin == pytest.approx(one(madrid.air_temperature(11.0 * 3600.0)))
    assert at_begin != pytest.approx(one(madrid.air_temperature(9.0 * 3600.0)), abs=0.5)


def test_without_a_climate_the_air_is_the_car_s_own_at_the_height_of_the_start(finch):
    air = float(finch.surroundings.air_temperature)
    world = world_of(
        finch,
        Phase(name="up", duration="1 h", end_altitude="1500 m"),
        Phase(name="down", duration="1 h", end_altitude="0 m"),
        start_altitude="500 m",
    )
    assert one(world.at(0, [0.0]).air_temperature) == pytest.approx(air)
    assert one(world.at(0, [3600.0]).air_temperature) == pytest.approx(air - 6.5)
    assert one(world.at(1, [3600.0]).air_temperature) == pytest.approx(air + 3.25)


def test_the_sun_of_a_phase_is_its_share_of_the_hour_s(finch):
    """Noon is 1; the day is symmetric about it, so that 10 h and 14 h have the same sun."""
    madrid = hot_day("madrid")
    phases = [Phase(name="a", duration="2 h", sun=0.5), Phase(name="b", duration="2 h", sun=0.8)]
    world = world_of(finch, *phases, climate=madrid, start_time="10 h")
    assert one(world.sun(0, [7200.0])) == pytest.approx(0.5)
    assert one(world.sun(1, [0.0])) == pytest.approx(0.8)
    assert one(world.sun(0, [0.0])) / 0.5 == pytest.approx(one(world.sun(1, [7200.0])) / 0.8)
    assert one(world.sun(0, [0.0])) < 0.49
    plain = world_of(finch, *phases)
    assert plain.sun(1, [0.0, 5000.0]).tolist() == [0.8, 0.8]


def test_air_around_hot_parts_follows_a_change_of_driving_like_an_exponential(finch):
    """First-order lag: rise = new + (old - new) exp(-t/tau); tau of the bay is twice that under the floor [assumed]."""
    air = float(finch.surroundings.air_temperature)
    standing, fast = Phase(name="jam", duration="20 h"), Phase(name="fast", duration="20 h", vehicle_speed=100.0)
    world = world_of(finch, standing, fast)
    around = finch.surroundings
    first, settled = world.at(1, [0.0, 72000.0]), world.at(1, [72000.0])
    assert one(world.at(0, [0.0]).bay_temperature) == pytest.approx(air + float(around.bay_rise))
    assert one(world.at(0, [0.0]).underfloor_temperature) == pytest.approx(air + float(around.underfloor_rise))
    assert one(settled.bay_temperature) == pytest.approx(air + float(around.cruising_bay_rise), abs=0.05)
    assert one(settled.underfloor_temperature) == pytest.approx(air + float(around.cruising_underfloor_rise), abs=0.05)
    assert one(first.underfloor_temperature) == pytest.approx(air + float(around.underfloor_rise), abs=0.05)
    half = world.at(1, [600.0 * np.log(2.0)])
    middle = 0.5 * (one(first.bay_temperature) + one(settled.bay_temperature))
    assert one(half.bay_temperature) == pytest.approx(middle)
    quarter = one(settled.underfloor_temperature) + 0.25 * (
        one(first.underfloor_temperature) - one(settled.underfloor_temperature)
    )
    assert one(half.underfloor_temperature) == pytest.approx(quarter)


def test_a_stop_after_driving_soaks_and_one_before_it_does_not(finch):
    air = float(finch.surroundings.air_temperature)
    parked = Phase(name="parked", duration="1 h", engine="stopped")
    world = world_of(finch, parked, Phase(name="drive", duration="2 h"), parked)
    assert [world.has_run(index) for index in range(3)] == [False, False, True]
    assert world.at(0, [0.0, 1800.0]).bay_temperature == pytest.approx(air)
    # The bay warms from the air's temperature once the engine runs.
    assert one(world.at(1, [0.0]).bay_temperature) == pytest.approx(air)
    start = one(world.at(2, [0.0]).bay_temperature) - air
    assert start == pytest.approx(float(finch.surroundings.bay_rise), abs=0.1)
    soaking = world.at(2, [0.0, 900.0]).bay_temperature - air
    assert soaking == pytest.approx(bay_rise_after_stop([0.0, 900.0], start))


def test_air_under_the_floor_of_a_parked_car_tends_to_that_of_a_cruising_one_within_the_hour(finch):
    """A lag of the slow decay of a soak, 30 to 60 minutes (from memory): e-fold, by the ratio of two distances."""
    car = finch.with_values({"surroundings.cruising_underfloor_rise": "2 K", "surroundings.underfloor_rise": "14 K"})
    air = float(car.surroundings.air_temperature)
    world = world_of(car, Phase(name="jam", duration="5 h"), Phase(name="stop", duration="5 h", engine="stopped"))
    rise = world.at(1, [0.0, 900.0, 1800.0, 18000.0]).underfloor_temperature - air
    assert rise[0] == pytest.approx(14.0, abs=0.01)
    assert rise[3] == pytest.approx(2.0, abs=0.1)
    assert (rise[2] - 2.0) / (rise[1] - 2.0) == pytest.approx((rise[1] - 2.0) / (rise[0] - 2.0))
    assert 1800.0 < 900.0 / np.log((rise[0] - 2.0) / (rise[1] - 2.0)) < 3600.0


def test_air_conditioning_warms_the_standing_car_s_bay_by_its_share(finch):
    air = float(finch.surroundings.air_temperature)
    share = world_of(finch, Phase(name="jam", duration="1 h", air_conditioning=0.5))
    gained = one(share.at(0, [0.0]).bay_temperature) - air - float(finch.surroundings.bay_rise)
    assert gained == pytest.approx(0.5 * float(finch.surroundings.air_conditioning_bay_rise))
    assert gained > 1.0


@pytest.mark.parametrize("engine", ["running", "stopped"])
def test_added_power_loads_a_running_engine_alone(finch, engine):
    """Judge: `Engine.load_with` at the pressure and air of the place."""
    phase = Phase(
        name="jam", duration="1 h", rpm="1200 rpm", load=0.1, air_conditioning=0.4, creep_power="1 kW", engine=engine
    )
    mountain = finch.with_values({"surroundings.altitude": "2000 m"})
    load = one(world_of(mountain, phase).at(0, [0.0]).load)
    power = 0.4 * float(finch.engine.air_conditioning_power) + 1000.0
    expected = float(
        finch.engine.load_with(
            1200.0, 0.1, power, atmospheric_pressure=79495.2, air_temperature=finch.surroundings.air_temperature
        )
    )
    assert load == pytest.approx(expected if engine == "running" else 0.1, rel=1e-4)
    assert expected > 0.15


def test_power_of_creeping_alone_or_of_air_conditioning_alone_counts_and_none_leaves_the_load(finch):
    loads = []
    for keys in ({}, {"creep_power": "1 kW"}, {"air_conditioning": 0.5}):
        phase = Phase(name="jam", duration="1 h", load=0.1, **keys)
        loads.append(one(world_of(finch, phase).at(0, [0.0]).load))
    assert loads[0] == 0.1
    assert loads[1] > 0.11
    assert loads[2] > 0.11
    standing = Phase(name="towed", duration="1 h", rpm=0.0, load=0.1, creep_power="1 kW")
    assert one(world_of(finch, standing).at(0, [0.0]).load) == 0.1


def test_a_phase_without_an_engine_speed_idles_and_its_states_go_into_conditions_by_name(finch):
    phases = [
        Phase(name="a", duration="1 h", pump_duty=0.7, vehicle_speed="36 km/h"),
        Phase(name="b", duration="1 h", rpm="3000 rpm", load=0.4),
    ]
    world = world_of(finch, *phases)
    joined = DrivingState.joined([world.at(0, [0.0, 60.0]), world.at(1, [30.0])])
    assert joined.rpm.tolist() == [800.0, 800.0, 3000.0]
    assert joined.take(np.array([2])).load.tolist() == [0.4]
    conditions = joined.conditions(np.array([300.0, 301.0, 302.0]), np.array([10.0, 20.0, 30.0]))
    for name in ("rpm", "load", "vehicle_speed", "pump_duty", "altitude", "air_temperature", "bay_temperature"):
        assert np.array_equal(getattr(conditions, name), getattr(joined, name))
    assert np.array_equal(conditions.underfloor_temperature, joined.underfloor_temperature)
    assert conditions.tank_temperature.tolist() == [300.0, 301.0, 302.0]
    assert conditions.vapour_space_pressure.tolist() == [10.0, 20.0, 30.0]
