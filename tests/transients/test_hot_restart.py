"""A hot restart: its times from the filling, what is told, and each remedy alone."""

from __future__ import annotations

import dataclasses
import sys
from types import SimpleNamespace

import numpy as np
import pytest
from simple_filling import filled_with

import fuelsim as fs
from fuelsim.transients.hot_restart import (
    LADDER_BLEED,
    LADDER_PRESSURE,
    LONGER_PRIME,
    SHIELD_SHARE,
    StartTimes,
    _after_last,
    _Given,
    _ladder,
    _single,
    _times,
)
from fuelsim.transients.rail_filling import FILMS
from fuelsim.transients.restart import Starting
from fuelsim.transients.shut_in_course import bleed_area

hot_restart_module = sys.modules["fuelsim.transients.hot_restart"]
SET = 300e3
TIME = np.array([0.0, 1.0, 2.0, 3.0, 4.0, 5.0])


def test_unsteadiness_ends_one_step_after_the_last_of_it():
    assert _after_last(TIME, np.array([False] * 6)) == 0.0
    assert _after_last(TIME, np.array([True, False, True, False, False, False])) == 3.0
    assert _after_last(TIME, np.array([False] * 4 + [True, False])) == 5.0
    assert _after_last(TIME, np.array([False] * 5 + [True])) == np.inf


def course(gauge, share):
    return filled_with(SET * np.array([gauge]).T, TIME, gas_share=np.array([share]).T)


def test_pressure_counts_from_95_percent_liquid_from_5_percent_of_gas_and_idle_from_98_and_half_a_percent():
    (times,) = _times(course([0.0, 0.96, 0.97, 0.97, 0.99, 1.0], [0.5, 0.3, 0.04, 0.004, 0.001, 0.0]), SET, 0.5)
    assert times == StartTimes(1.0, 2.0, 4.0, 1.5)
    (late,) = _times(course([0.0, 0.96, 0.97, 0.99, 0.99, 1.0], [0.5, 0.3, 0.04, 0.01, 0.006, 0.0]), SET, 0.5)
    assert late.idle == 5.0


def test_an_engine_cranks_half_a_second_at_the_least_whatever_the_prime_has_done():
    (times,) = _times(course([1.0] * 6, [0.0] * 6), SET, 2.0)
    assert times == StartTimes(0.0, 0.0, 2.5, 0.5)


def test_an_idle_at_what_a_pump_can_hold_below_the_set_pressure_is_steady_too():
    """90 % of it, held."""
    (times,) = _times(course([0.0, 0.5, 0.89, 0.9, 0.9, 0.9], [0.0] * 6), SET, 0.5)
    assert times.pressure == np.inf
    assert times.idle == np.inf
    (held,) = _times(course([0.0, 1.2, 1.1, 0.96, 0.95, 0.95], [0.0] * 6), SET, 0.5)
    assert held.idle == 1.0


@pytest.fixture(scope="module")
def finch():
    return fs.Car.named("finch")


def test_each_rung_of_the_ladder_changes_one_thing(finch):
    system = finch.system("return")
    given = _Given({}, 1200.0, 5e-9, 0.0, 60.0, Starting.of(finch, prime_time=2.0))
    ladder = dict(_ladder(system, given))
    assert ladder["as it is"] == (system, given)
    tight = ladder.pop("check valve that does not leak")
    assert tight == (system, dataclasses.replace(given, leak=0.0))
    longer = ladder.pop(f"prime of {LONGER_PRIME:g} s")
    assert longer == (system, dataclasses.replace(given, starting=dataclasses.replace(given.starting, prime_time=5.0)))
    bled = ladder.pop("bleed of 0.6 mm at the rail")
    assert bled[0] is system
    assert bled[1].bleed == LADDER_BLEED
    assert bled[1].starting == dataclasses.replace(given.starting, bleed_area=bleed_area(LADDER_BLEED))
    assert (bled[1].leak, bled[1].starting.prime_time) == (5e-9, 2.0)
    shielded, same = ladder.pop("shield over the rail")
    assert same is given
    assert shielded.layout == "return"
    assert shielded.car.rail.air_conductance == pytest.approx(SHIELD_SHARE * 0.75)
    assert shielded.car.rail.engine_conductance == pytest.approx(SHIELD_SHARE * 0.45)
    (name,) = set(ladder) - {"as it is"}
    assert name.startswith("set pressure 100 kPa")
    higher, same = ladder[name]
    assert same is given
    assert higher.car.rail_regulator.set_pressure == pytest.approx(300e3 + LADDER_PRESSURE)


def test_where_nothing_holds_the_pressure_no_higher_one_is_tried(finch):
    car = finch.with_plumbing("bare", [["tank", "strainer", "pump", "filter", "feed", "rail"]], title="bare")
    given = _Given({}, 1200.0, 0.0, 0.0, 60.0, Starting.of(car))
    names = [name for name, _ in _ladder(car.system("bare"), given)]
    assert len(names) == 5
    assert not any(name.startswith("set pressure") for name in names)


def test_voltages_left_out_stay_so():
    assert _single(None) is None
    assert _single(np.array([12.0])) == 12.0


# The whole of it, brief


@pytest.fixture(scope="module")
def start(finch):
    return fs.hot_restart(finch, "returnless_tank", soak_time="2 min")


def test_a_brief_soak_leaves_no_vapour_and_is_shown_up_to_a_second_and_a_half_after_it_fires(start):
    assert start.before_vapour < 1e-9
    assert " no vapour left; " in start.headline
    assert "2 min after the stop" in start.headline
    assert "steady idle 2.5 s" in start.headline
    assert start.times.idle == pytest.approx(2.5)
    assert start.times.cranked == pytest.approx(0.5)
    assert start.time[-1] == pytest.approx(start.prime_time + 0.5 + 1.5, abs=0.03)
    assert start.soak_time == 120.0
    assert start.remedies == ()


def test_results_are_those_of_the_middle_film_between_the_band(finch, monkeypatch):
    seen = []
    own = hot_restart_module._started

    def noted(system, given, films):
        seen.append((given, films, own(system, given, films)))
        return seen[-1][2]

    monkeypatch.setattr(hot_restart_module, "_started", noted)
    start = fs.hot_restart(
        finch, "returnless_tank", soak_time="20 min", leak_flow="30 mL/h", prime_time="1 s", voltage="11.5 V",
        crank_voltage="9 V", air_temperature="35 degC", altitude="500 m", tank_temperature="45 degC",
        peak_bay_rise="55 K", bleed_diameter="0.1 mm",
    )  # fmt: skip
    ((given, films, made),) = seen
    assert films == FILMS
    assert (given.soak_time, given.leak, given.bleed, given.peak_bay_rise) == pytest.approx(
        (1200.0, 3e-5 / 3600.0, 1e-4, 55.0)
    )
    assert given.conditions == {"air_temperature": 308.15, "altitude": 500.0, "tank_temperature": 318.15}
    starting = given.starting
    assert (starting.prime_time, starting.voltage, starting.crank_voltage) == (1.0, 11.5, 9.0)
    assert starting.bleed_area == pytest.approx(bleed_area(1e-4))
    filled = made.filled
    assert filled.gauge.shape[1] == 3
    assert start.before_vapour == filled.gas[0, 1] > 1e-7
    assert start.before_temperature == filled.temperature[0, 1]
    assert start.before_pressure == filled.gauge[0, 1]
    for shown, whole in ((start.gauge_pressure, filled.gauge), (start.rail_temperature, filled.temperature)):
        assert np.array_equal(shown, whole[:, 1])
    assert np.array_equal(start.gas_volume, filled.gas[:, 1])
    assert np.array_equal(start.pump_flow, filled.flow[:, 1])
    assert start.times == made.times[1]
    liquid = [times.liquid for times in made.times]
    assert (start.quickest.liquid, start.slowest.liquid) == (min(liquid), max(liquid))
    assert start.quickest.liquid < start.slowest.liquid
    assert "mL of vapour left" in start.headline
    assert f"({start.quickest.liquid:.2f} to {start.slowest.liquid:.2f})" in start.headline


def test_what_never_comes_is_told(start):
    never = StartTimes(1.0, np.inf, np.inf, np.inf)
    assert "a minute of cranking brings no liquid" in dataclasses.replace(start, times=never).headline
    unsteady = StartTimes(1.0, 2.0, np.inf, 0.5)
    told = dataclasses.replace(start, times=unsteady, before_vapour=2e-6).headline
    assert told.endswith(", no steady idle within a minute")
    assert "2 mL of vapour left" in told


def test_remedies_are_sorted_by_cranking_then_by_liquid(finch, monkeypatch, start):
    """Each start is computed with the middle film alone."""
    times = iter([
        StartTimes(1.0, 1.0, 1.0, 0.5),
        StartTimes(1.0, 3.0, 3.0, 2.0), StartTimes(1.0, 2.0, 2.0, 1.0), StartTimes(1.0, 1.0, 2.0, 1.0),
        StartTimes(1.0, 1.5, 2.0, 1.0), StartTimes(1.0, 4.0, 2.0, 0.5), StartTimes(1.0, 9.0, 2.0, 9.0),
    ])  # fmt: skip
    asked = []
    zero = np.zeros((2, 3))
    filled = filled_with(zero, [0.0, 1.0], gas=zero)

    def brief(system, given, films):
        asked.append(films)
        return SimpleNamespace(filled=filled, times=(next(times),) * len(films), pump_vapour=0.0, set_pressure=SET)

    monkeypatch.setattr(hot_restart_module, "_started", brief)
    result = fs.hot_restart(finch, "return", remedies=True)
    assert result.soak_time == 20.0 * 60.0
    assert asked == [FILMS] + [(FILMS[1],)] * 6
    assert [(rung.times.cranked, rung.times.liquid) for rung in result.remedies] == [
        (0.5, 4.0), (1.0, 1.0), (1.0, 1.5), (1.0, 2.0), (2.0, 3.0), (9.0, 9.0)
    ]  # fmt: skip
