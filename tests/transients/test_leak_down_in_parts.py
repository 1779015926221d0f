"""What a leak-down asks of the shut-in fuel, and what it tells of it."""

from __future__ import annotations

import dataclasses
import sys

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.parts.check_valve import CheckValve
from fuelsim.transients.leak_down import way_back_open
from fuelsim.transients.service_limits import SERVICE_TIME, ServiceLimit
from fuelsim.transients.shut_in_course import GOOD_LEAK, RESEAT, Leaks, shut_in_course
from fuelsim.transients.shut_in_fuel import ShutInFuel
from fuelsim.transients.world import SOAK_PEAK

leak_down_module = sys.modules["fuelsim.transients.leak_down"]


@pytest.fixture(scope="module")
def finch():
    return fs.Car.named("finch")


@pytest.fixture(scope="module")
def cold(finch):
    return fs.leak_down(finch, "returnless_tank", duration="10 min", temperature="20 degC")


@pytest.fixture
def asked(monkeypatch):
    """What is asked of the shut-in fuel."""
    calls = []

    def noted(fuel, leaks, time, interruption, **given):
        calls.append((fuel, leaks, time, given))
        return shut_in_course(fuel, leaks, time, interruption, **given)

    monkeypatch.setattr(leak_down_module, "shut_in_course", noted)
    return calls


def test_left_to_itself_a_good_cold_car_leaks_past_its_check_valve(finch, asked):
    fs.leak_down(finch, "return")
    ((fuel, leaks, time, given),) = asked
    assert leaks == Leaks(check_valve=GOOD_LEAK)
    assert given == {"reseat_step": RESEAT}
    assert (time[0], time[-1]) == (0.0, 3600.0)
    assert SERVICE_TIME in time
    assert len(time) == 241
    assert np.all(np.diff(time) > 0.0)
    assert fuel.constant_temperature == float(finch.surroundings.air_temperature)
    assert fuel.peak_bay_rise == SOAK_PEAK


def test_what_is_given_is_asked_of_the_shut_in_fuel(finch, asked):
    fs.leak_down(
        finch, "return", duration="100 s", temperature="10 degC", altitude="1 km", check_valve_leak="1 mL/min",
        regulator_leak="2 mL/min", injector_leak="3 mL/min", reseat_step="5 kPa", peak_bay_rise="20 K",
    )  # fmt: skip
    ((fuel, leaks, time, given),) = asked
    assert leaks == Leaks(*(pytest.approx(leak * 1e-6 / 60.0) for leak in (1.0, 2.0, 3.0)))
    assert given == {"reseat_step": 5e3}
    assert time[-1] == 100.0
    assert len(time) == 241
    assert fuel.constant_temperature == 283.15
    assert fuel.air_temperature == fuel.tank_temperature == 283.15
    # The standard atmosphere at 1000 m (ISO 2533).
    assert fuel.atmospheric_pressure == pytest.approx(89_876.0, rel=1e-3)
    assert fuel.peak_bay_rise == 20.0


def test_a_hot_car_keeps_the_temperatures_of_its_run(finch, asked):
    fs.leak_down(finch, "return", hot=True, duration="1 min", temperature="10 degC")
    fuel = asked[0][0]
    assert fuel.constant_temperature is None
    assert fuel.air_temperature == 283.15
    assert fuel.tank_temperature != fuel.air_temperature


@pytest.mark.parametrize(
    ("clamped", "feed", "back"),
    [("", False, False), ("feed", True, False), ("return", False, True), ("both", True, True)],
)
def test_a_clamp_ends_the_leak_before_it_and_a_clamped_feed_lets_nothing_in(finch, asked, clamped, feed, back):
    fs.leak_down(finch, "return", clamped=clamped, regulator_leak="1 mL/h", duration="1 min")
    fuel, leaks, *_ = asked[0]
    assert (leaks.check_valve == 0.0) == feed
    assert (leaks.regulator == 0.0) == back
    assert (fuel.opens_inwards_at == 0.0) == feed


def test_clamps_are_for_cold_cars(finch):
    with pytest.raises(fs.InputError, match="hot car"):
        fs.leak_down(finch, "return", clamped="feed", hot=True)


def test_what_is_told_is_that_of_the_fuel_shut_in(finch, cold):
    system = finch.system("returnless_tank")
    outside, temperature = 101325.0, 293.15
    bubble = float(system.fuel.tables().bubble_pressure(temperature)) - outside
    assert cold.rail_temperature == pytest.approx(np.full(len(cold.time), temperature))
    assert cold.pressure_needed == pytest.approx(np.full(len(cold.time), bubble))
    assert cold.gauge_pressure[0] == pytest.approx(cold.pressure_before - RESEAT, rel=1e-4)
    assert cold.vapour_volume == pytest.approx(np.zeros(len(cold.time)), abs=1e-12)
    assert cold.shut_in_volume == pytest.approx(np.pi / 4.0 * (3.0 * 0.006**2 + 0.35 * 0.012**2))
    assert -4e3 < cold.lowest_pressure < -2e3
    lost = sum(float(way[-1]) for way in cold.lost)
    rho = float(system.fuel.density(temperature))
    fallen = cold.gauge_pressure[0] - cold.gauge_pressure[-1]
    assert lost == pytest.approx(fallen * cold.elastic_volume * rho, rel=2e-3)
    assert cold.mass_error < 1e-9


def test_a_dry_inlet_has_no_lowest_pressure(finch):
    assert fs.leak_down(finch, "return", inlet_dry=True, duration="1 min").lowest_pressure == -np.inf


def test_service_limits_are_judged_where_their_five_minutes_have_passed(finch, cold):
    assert len(fs.leak_down(finch, "returnless_tank", duration="5 min").limits) == 1
    assert fs.leak_down(finch, "returnless_tank", duration="299 s").limits == ()
    (fall,) = cold.limits
    assert fall.value == pytest.approx(cold.pressure_before - float(cold.pressure_at("5 min")))


def test_the_mass_error_is_the_share_of_what_was_shut_in_that_is_not_accounted_for(finch, monkeypatch):
    """A tenth of it too much, and half of it lost."""
    own = ShutInFuel.mass
    monkeypatch.setattr(ShutInFuel, "mass", lambda self, *given: own(self, *given) + 0.1 * self.start_mass)
    assert fs.leak_down(finch, "return", duration="1 min").mass_error == pytest.approx(0.1, rel=1e-6)


def test_the_headline_tells_the_fall_its_time_limits_missed_and_an_assumed_valve(cold):
    def limit(name, met):
        return ServiceLimit(name, 0.0, 0.0, met, "")

    course = {
        "time": np.array([0.0, 1800.0, 3600.0]), "gauge_pressure": np.array([372e3, 340e3, 310e3]),
        "pressure_before": 400e3,
    }  # fmt: skip
    plain = dataclasses.replace(cold, limits=(), check_valve_assumed=False, **course).headline
    assert plain == (
        "'returnless_tank': 400 kPa gauge with the pump running, 372 kPa as it stops, 310 kPa after 60 min"
    )
    met = dataclasses.replace(cold, limits=(limit("fall", True),), check_valve_assumed=False).headline
    assert met.endswith("service limits met")
    missed = dataclasses.replace(cold, limits=(limit("fall", False), limit("left", True)), check_valve_assumed=True)
    assert missed.headline.endswith("service limits missed: fall; the car names no check valve, a sound one is assumed")


def test_between_two_times_the_pressure_lies_on_a_line(cold):
    middle = 0.5 * (cold.time[3] + cold.time[4])
    assert cold.pressure_at(middle) == pytest.approx(0.5 * (cold.gauge_pressure[3] + cold.gauge_pressure[4]))


def test_fuel_runs_back_where_neither_pump_nor_line_has_a_check_valve(finch):
    assert way_back_open(finch.system("return").plumbing)
    with_valve = dataclasses.replace(finch, check_valve=CheckValve()).system("return").plumbing
    assert not way_back_open(with_valve)
    own = dataclasses.replace(finch, pump=dataclasses.replace(finch.pump, check_valve=True)).system("return").plumbing
    assert not way_back_open(own)


def test_twice_the_leak_and_half_the_time_leave_the_same(finch):
    once = fs.leak_down(finch, "return", check_valve_leak="1 mL/h", duration="4 min")
    twice = fs.leak_down(finch, "return", check_valve_leak="2 mL/h", duration="2 min")
    assert twice.gauge_pressure[-1] == pytest.approx(once.gauge_pressure[-1], rel=1e-4)
