"""Shut-in fuel over time: leaks, warming, and the check valve that lets fuel in, each by hand or by scipy."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from scipy.integrate import solve_ivp

import fuelsim as fs
from fuelsim.interruption import interruption_noted
from fuelsim.transients.shut_in_course import (
    GOOD_LEAK,
    STEEP,
    Leaks,
    ShutInCourse,
    WaysOut,
    _Equations,
    idle_before_stop,
    shut_in_course,
)
from fuelsim.transients.shut_in_fuel import ShutInFuel

COLD = 293.15
REFERENCE = 300e3


def stopped(**given):
    system = fs.Car.named("finch").system("returnless_tank")
    cold = given.get("constant_temperature")
    return ShutInFuel.after(system, idle_before_stop(system, cold, None, cold), 60.0, **given)


@pytest.fixture(scope="module")
def cold():
    return stopped(constant_temperature=COLD)


@pytest.fixture(scope="module")
def hot():
    return stopped()


def course_of(fuel, leaks, time, **given):
    with interruption_noted() as interruption:
        return shut_in_course(fuel, leaks, np.asarray(time, dtype=float), interruption, **given)


# Ways out


def test_seats_leak_in_proportion_to_the_pressure():
    ways = Leaks(2e-9, 4e-9, 6e-9).at(150e3, 700.0, REFERENCE)
    assert ways[:3] == pytest.approx((1e-9, 2e-9, 3e-9))
    assert (ways.bleed, ways.relief) == (0.0, 0.0)


def test_a_bleed_passes_with_the_root_of_the_pressure_and_is_rounded_off_below_a_hundred_pascal():
    """0.05 mm2 at 175 kPa and 700 kg/m3: 22.36 m/s."""
    leaks = Leaks(bleed_area=0.05e-6)
    assert leaks.at(175e3, 700.0, REFERENCE).bleed == pytest.approx(0.05e-6 * 22.36, rel=1e-3)
    assert leaks.at(100.0, 700.0, REFERENCE).bleed == pytest.approx(0.5 * 0.05e-6 * 0.5345, rel=1e-3)
    assert leaks.at(0.0, 700.0, REFERENCE).bleed == 0.0


def test_the_regulator_relieves_above_its_set_pressure_alone():
    leaks = Leaks()
    assert leaks.at(REFERENCE, 700.0, REFERENCE).relief == 0.0
    assert leaks.at(310e3, 700.0, REFERENCE).relief == pytest.approx(STEEP * 10e3)


def test_a_clamped_feed_ends_the_check_valve_s_leak_and_a_clamped_return_those_of_regulator_and_bleed():
    leaks = Leaks(1.0, 2.0, 3.0, 4.0)
    assert leaks.clamped(feed=True, back=False) == Leaks(0.0, 2.0, 3.0, 4.0)
    assert leaks.clamped(feed=False, back=True) == Leaks(1.0, 0.0, 3.0, 0.0)
    assert leaks.clamped(feed=False, back=False) == leaks


def test_a_bleed_of_half_a_millimetre_has_0_13_square_millimetres():
    """0.65 (sharp orifice) of pi/4 0.25 mm2."""
    assert Leaks(1.0, 2.0, 3.0).with_bleed(0.5e-3) == Leaks(1.0, 2.0, 3.0, pytest.approx(0.1276e-6, rel=1e-3))


def test_what_is_lost_is_all_ways_and_the_valves_step_less_what_was_drawn_in():
    lost = WaysOut(*(np.array([value]) for value in (1.0, 2.0, 4.0, 8.0, 16.0)))
    assert ShutInCourse(np.zeros((1, 1)), lost, np.array([5.0]), 0.5).net_lost == pytest.approx([26.5])


def test_a_car_that_idles_is_stopped_from_idle():
    system = fs.Car.named("finch").system("return")
    run = idle_before_stop(system, 300.0, 500.0, 310.0)
    assert float(run.conditions.rpm) == float(system.car.engine.idle_speed)
    assert float(run.conditions.load) == 0.0
    assert float(run.conditions.air_temperature) == 300.0
    assert float(run.conditions.altitude) == 500.0
    assert float(run.conditions.tank_temperature) == 310.0


# Over time


def test_leaks_past_seats_empty_the_give_exponentially_and_share_it_by_their_size(cold):
    """C dp/dt = -q p/300 kPa, from 28 kPa below the pressure of the stop."""
    leaks, time = Leaks(1e-10, 2e-10, 3e-10), [0.0, 100.0, 600.0]
    course = course_of(cold, leaks, time)
    gauge = np.asarray(cold.state(np.array(time), course.temperatures, course.net_lost).pressure) - 101325.0
    first = cold.start_pressure - 28e3
    exact = first * np.exp(-6e-10 * np.array(time) / (cold.elastic_volume * REFERENCE))
    assert gauge == pytest.approx(exact, rel=1e-3)
    rho = float(cold.tables.density(COLD))
    assert course.reseat == pytest.approx(28e3 * cold.elastic_volume * rho)
    for way, share in zip(course.lost[:3], (1.0, 2.0, 3.0), strict=True):
        assert way == pytest.approx(share / 6.0 * (first - exact) * cold.elastic_volume * rho, rel=2e-3, abs=1e-9)
    assert course.lost.bleed == pytest.approx(0.0)
    assert course.lost.relief == pytest.approx(0.0)
    assert course.temperatures == pytest.approx(np.full((1, 3), COLD))
    assert np.all(course.drawn_in == 0.0)


def test_a_step_that_is_given_takes_the_place_of_the_usual_one(cold):
    course = course_of(cold, Leaks(), [0.0, 60.0], reseat_step=10e3)
    gauge = np.asarray(cold.state(np.array([0.0, 60.0]), course.temperatures, course.net_lost).pressure) - 101325.0
    assert gauge == pytest.approx(np.full(2, cold.start_pressure - 10e3), rel=1e-5)


def test_a_rail_warms_as_its_own_equation_says(hot):
    course = course_of(hot, Leaks(), [0.0, 600.0, 1200.0])
    judge = solve_ivp(
        lambda t, y: hot.warming_rates(t, y.tolist()),
        (0.0, 1200.0),
        hot.start_temperatures,
        t_eval=[0.0, 600.0, 1200.0],
        rtol=1e-8,
    )
    assert course.temperatures[0] == pytest.approx(judge.y[0], abs=0.01)
    assert course.temperatures[0, -1] > hot.start_temperatures[0] + 1.0


def test_warming_fuel_leaves_through_the_regulator(hot):
    """What expands beyond the give of the first 28 kPa."""
    time = [0.0, 600.0]
    course = course_of(hot, Leaks(), time)
    expanded = hot.start_mass - float(hot.full_mass(600.0, course.temperatures[:, -1]))
    rho = float(hot.mean_density(600.0, course.temperatures[:, -1]))
    held = course.reseat - hot.elastic_volume * rho * (hot.set_pressure - hot.start_pressure)
    assert course.lost.relief[-1] == pytest.approx(expanded - held, rel=0.05)


@pytest.fixture(scope="module")
def night(hot):
    """Half a day without a leak, by the quarter of an hour."""
    time = np.arange(0.0, 43_201.0, 900.0)
    return time, course_of(hot, Leaks(), time)


def test_a_car_that_cools_draws_fuel_in_and_keeps_the_pressure_at_which_its_valve_opens(hot, night):
    time, course = night
    pressure = np.asarray(hot.state(time, course.temperatures, course.net_lost).pressure)
    open_from = int(np.flatnonzero(course.drawn_in > 0.0)[0])
    assert 0 < open_from < len(time) - 1
    assert pressure[open_from:] == pytest.approx(np.full(len(time) - open_from, hot.opens_inwards_at), abs=60.0)
    assert np.all(pressure[:open_from] > hot.opens_inwards_at)
    assert np.all(np.diff(course.drawn_in) >= 0.0)
    needed = float(hot.mass_at(hot.opens_inwards_at, time[-1], course.temperatures[:, -1]))
    assert course.drawn_in[-1] == pytest.approx(
        needed - hot.start_mass + course.reseat + course.lost.relief[-1], rel=1e-6
    )


def test_a_dry_inlet_lets_nothing_in(hot):
    dry = dataclasses.replace(hot, opens_inwards_at=0.0)
    assert np.all(course_of(dry, Leaks(), [0.0, 21_600.0, 43_200.0]).drawn_in == 0.0)


def test_a_good_car_s_leak_fits_what_service_manuals_say_within_two_kilopascal():
    """372 kPa as it stops, 359 after 10 minutes and 310 after an hour, with 0.2 L shut in behind a rubber hose."""
    car = fs.Car.named("finch").with_values({"feed.material": "rubber", "feed.length": "4.2 m", "feed.bore": "7 mm"})
    system = car.system("returnless_tank")
    fuel = ShutInFuel.after(system, idle_before_stop(system, COLD, None, COLD), 0.0, constant_temperature=COLD)
    assert fuel.volume == pytest.approx(0.2e-3, rel=0.01)
    for time, published in ((600.0, 359e3), (3600.0, 310e3)):
        assert 372e3 * np.exp(-GOOD_LEAK * time / (fuel.elastic_volume * REFERENCE)) == pytest.approx(
            published, abs=2e3
        )


def test_an_interrupted_course_keeps_the_times_that_are_finished(cold):
    class AfterAMinute:
        def event(self):
            def came(t, y):
                return 60.5 - t

            came.terminal = True
            return came

    course = shut_in_course(cold, Leaks(1e-10), np.array([0.0, 30.0, 60.0, 90.0]), AfterAMinute())
    assert len(course.drawn_in) == 3
    assert course.temperatures.shape == (1, 3)


# The equations


def equations(fuel, leaks=None, **given):
    return _Equations(fuel, leaks or Leaks(), float(fuel.tables.density(COLD)), 0.0, **given)


def unknowns(temperature, **lost):
    return np.array([temperature, *WaysOut(**dict.fromkeys(WaysOut._fields, 0.0) | lost)])


def test_an_open_valve_keeps_its_pressure_and_lets_in_what_is_missing(cold):
    """5 g gone: the room at the opening pressure less what is left."""
    inside = equations(cold, valve_open=True, drawn=1e-3)
    y = unknowns(COLD, injectors=3e-3, bleed=2e-3)
    assert inside.pressure_and_liquid(0.0, y) == (cold.opens_inwards_at, inside.density)
    needed = float(cold.mass_at(cold.opens_inwards_at, 0.0, np.array([COLD])))
    assert inside.drawn_in(np.array([0.0]), y[:, None]) == pytest.approx([needed - cold.start_mass + 5e-3])
    # Nothing flows back out through it.
    assert inside.drawn_in(np.array([0.0]), unknowns(COLD)[:, None]) == pytest.approx([1e-3])


def test_what_left_as_the_valves_shut_is_missing_too(cold):
    inside = _Equations(cold, Leaks(), 700.0, 1e-3, True, 0.0)
    other = _Equations(cold, Leaks(), 700.0, 0.0, True, 0.0)
    y = unknowns(COLD, injectors=5e-3)[:, None]
    assert inside.drawn_in(np.zeros(1), y) - other.drawn_in(np.zeros(1), y) == pytest.approx([1e-3])


def test_a_shut_valve_keeps_what_it_has_let_in(cold):
    inside = equations(cold, drawn=2e-3)
    assert inside.drawn_in(np.zeros(3), np.zeros((6, 3))) == pytest.approx([2e-3] * 3)
    # 2 g lost and let in again leave the pressure of the stop.
    pressure, _ = inside.pressure_and_liquid(0.0, unknowns(COLD, check_valve=2e-3))
    assert pressure == pytest.approx(101325.0 + cold.start_pressure)
    assert inside.turns(0.0, unknowns(COLD, check_valve=2e-3)) == pytest.approx(pressure - cold.opens_inwards_at)


def test_a_rail_half_full_of_vapour_leaks_fifteen_sixteenths(cold):
    rho, outside = float(cold.tables.density(COLD)), cold.atmospheric_pressure
    fallen = cold.start_pressure + outside - float(cold.tables.bubble_pressure(COLD))
    lost = rho * (0.5 * cold.rail_volume + cold.elastic_volume * fallen)
    _, liquid = equations(cold).pressure_and_liquid(0.0, unknowns(COLD, injectors=lost))
    assert liquid == pytest.approx(15.0 / 16.0 * rho, rel=1e-3)


def test_rates_are_those_of_rail_and_leaks(hot):
    leaks = Leaks(1e-9, 2e-9, 3e-9)
    inside = equations(hot, leaks)
    rates = inside.rates(0.0, unknowns(350.0))
    assert rates[0] == pytest.approx(hot.warming_rates(0.0, [350.0])[0])
    gauge = inside.pressure_and_liquid(0.0, unknowns(350.0))[0] - hot.atmospheric_pressure
    assert gauge > 0.0
    flows = leaks.at(gauge, inside.density, hot.set_pressure)
    assert rates[1:] == pytest.approx([flow * inside.density for flow in flows])


def test_below_the_atmosphere_nothing_leaks_out(cold):
    inside = equations(cold, Leaks(1e-9, 1e-9, 1e-9, 1e-9), valve_open=True)
    assert cold.opens_inwards_at < cold.atmospheric_pressure
    assert inside.rates(0.0, unknowns(COLD, injectors=5e-3)) == [0.0] * 6


def test_an_open_valve_shuts_as_it_would_let_fuel_back(hot):
    """It turns where the room that is to be filled, by rail and feed as they warm and cool, no longer grows."""
    time, step = 7200.0, 10.0
    for temperature, cools in ((360.0, True), (310.0, False)):
        inside = equations(hot, valve_open=True, drawn=-1.0)
        y = unknowns(temperature)
        warming = hot.warming_rates(time, [temperature])[0]

        def needed(at, rail):
            return float(hot.mass_at(hot.opens_inwards_at, at, np.array([rail])))

        rate = (needed(time + step, temperature + step * warming) - needed(time, temperature)) / step
        assert inside.turns(time, y) == pytest.approx(rate, rel=0.01)
        assert (rate > 0.0) == cools


def test_a_valve_that_turns_again_and_again_changes_nothing_of_the_mass(hot, night):
    time, course = night
    state = hot.state(time, course.temperatures, course.net_lost)
    assert hot.mass(time, course.temperatures, state) == pytest.approx(hot.start_mass - course.net_lost, rel=1e-9)
