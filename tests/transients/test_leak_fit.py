"""Which leak fits a gauge: each course against its equation, sizes put back, what is told."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from scipy.integrate import solve_ivp

import fuelsim as fs
from fuelsim.transients import leak_fit
from fuelsim.transients.leak_fit import LeakCause, LeakFit, leak_in_words

GIVE = 2e-12
"""Volume by which the system gives way per pressure, m3/Pa."""
REFERENCE = 300e3
TIME = np.array([0.0, 300.0, 900.0, 2400.0])
FIRST = 372e3


def course_of(flow, start=FIRST, time=TIME):
    """Pressures of C dp/dt = -flow(p), by scipy."""
    answer = solve_ivp(
        lambda t, p: [-flow(float(p[0])) / GIVE], (0.0, 2400.0), [start], t_eval=time, rtol=1e-9, atol=1e-3
    )
    return answer.y[0]


def seat(leak):
    return lambda pressure: leak * pressure / REFERENCE


def hole(leak):
    return lambda pressure: leak * np.sqrt(max(pressure, 0.0) / REFERENCE)


def readings(pressure, clamped=(), time=TIME):
    return leak_fit._Readings(time, pressure, clamped)


def fitted(name, runs, noise=2e3):
    return leak_fit._fitted(name, leak_fit._COURSES[name], runs, noise, GIVE, 120e3)


@pytest.mark.parametrize(
    ("name", "law"), [("check_valve", seat), ("regulator", seat), ("injectors", seat), ("hole", hole)]
)
@pytest.mark.parametrize("leak", [1e-11, 1.5e-10])
def test_a_leak_is_fitted_to_its_own_course(name, law, leak):
    cause = fitted(name, [readings(course_of(law(leak)))])
    assert cause.name == name
    assert cause.leak == pytest.approx(leak, rel=1e-3, abs=0.0)
    assert cause.cooled == 0.0
    assert cause.error < 10.0
    assert cause.chi_squared < 1e-4


def test_a_hole_empties_the_system_and_then_nothing_more_leaves():
    """sqrt(p) falls linearly: with 1 % of 300 kPa lost a second at 300 kPa it is empty after 200 s, half the root left
    after 100 s."""
    course = leak_fit._through_hole(REFERENCE, 0.01, np.array([0.0, 100.0, 200.0, 300.0]))
    assert course == pytest.approx([REFERENCE, 0.25 * REFERENCE, 0.0, 0.0], abs=1e-6)
    assert leak_fit._through_hole(-5e3, 0.0, np.zeros(1)) == 0.0


def test_cooling_is_fitted_in_kelvins():
    """120 kPa for each kelvin, 0.3 K with the feed line's 10 minutes."""
    cause = fitted("cooling", [readings(FIRST - 36e3 * (1.0 - np.exp(-TIME / 600.0)))])
    assert cause.cooled == pytest.approx(0.3, rel=1e-3)
    assert cause.leak == 0.0
    assert cause.error < 10.0


def test_a_clamped_hose_ends_its_leak_in_that_run_alone():
    leak = 1e-10
    runs = [readings(course_of(seat(leak))), readings(np.full(4, 350e3), ("check_valve",))]
    assert fitted("check_valve", runs).leak == pytest.approx(leak, rel=1e-3, abs=0.0)
    assert fitted("check_valve", runs).error < 10.0
    assert fitted("regulator", runs).error > 10e3


def test_error_and_chi_squared_are_those_of_readings_off_the_course():
    """A steady 300 kPa with readings 1 kPa above and below: four of half a standard error each."""
    off = np.array([1e3, -1e3, -1e3, 1e3])
    cause = fitted("hole", [readings(REFERENCE + off, ("hole",))])
    assert cause.error == pytest.approx(1e3, rel=1e-3)
    assert cause.chi_squared == pytest.approx(4.0 * 0.25, rel=1e-3)


def cause(name, chi_squared=0.0, error=1e3, leak=1e-9, cooled=0.0):
    return LeakCause(name, leak, cooled, error, chi_squared)


def fit_of(*causes):
    return LeakFit(causes, 28e3, 2e3, 4)


def test_causes_within_a_chi_squared_of_two_are_not_told_apart():
    fit = fit_of(cause("hole", 1.0), cause("regulator", 2.9), cause("cooling", 3.1))
    assert fit.group == ("hole", "regulator")


def test_a_cause_fits_up_to_three_standard_errors():
    assert fit_of(cause("hole", error=5.9e3)).fits
    assert not fit_of(cause("hole", error=6.1e3)).fits


def test_the_headline_names_the_cause_its_size_and_how_to_tell_a_group_apart():
    alone = fit_of(cause("check_valve", leak=1e-9), cause("hole", 9.0)).headline
    assert alone.startswith("check valve: 3.6 mL/h at 300 kPa, within 1")
    assert alone.endswith("of 4 readings")
    group = fit_of(cause("check_valve"), cause("hole")).headline
    assert group.startswith("check valve or hole: ")
    assert "with the feed clamped" in group
    assert "clamped" not in fit_of(cause("hole"), cause("cooling")).headline
    assert fit_of(cause("cooling", cooled=12.34)).headline.startswith("cooling: cools by 12.3 K")
    assert fit_of(cause("hole", error=9e3)).headline.startswith("no cause fits; nearest is hole")


def test_leaks_from_30_millilitres_an_hour_are_told_by_the_minute():
    assert leak_in_words(29.0e-6 / 3600.0) == "29 mL/h"
    assert leak_in_words(60.0e-6 / 3600.0) == "1 mL/min"
    assert leak_in_words(31.0e-6 / 3600.0) == "0.52 mL/min"


def test_readings_are_sorted_and_count_from_the_first():
    read = leak_fit._read({"12 min": "310 kPa", "2 min": "372 kPa"}, ("regulator",), "readings")
    assert read.time == pytest.approx([0.0, 600.0])
    assert read.pressure == pytest.approx([372e3, 310e3])
    assert read.clamped == ("regulator",)


def test_none_and_endless_readings_are_refused_and_the_argument_is_named():
    with pytest.raises(fs.InputError, match="no readings") as none:
        leak_fit._read({}, (), "feed_clamped")
    assert "feed_clamped" in str(none.value)
    with pytest.raises(fs.InputError, match="too many"):
        leak_fit._read({float(second): 1e5 for second in range(10_001)}, (), "readings")
    with pytest.raises(fs.InputError, match="stands twice"):
        leak_fit._read({60.0: 1e5, "1 min": 2e5}, (), "readings")


@pytest.fixture(scope="module")
def finch():
    return fs.Car.named("finch")


def test_the_size_is_told_by_what_the_car_gives_way(finch):
    """Readings that fall by a share each minute: leak = share C 300 kPa, twice as much with twice the give."""
    given = {f"{minute} min": 372e3 * np.exp(-0.01 * minute) for minute in range(4)}
    fit = fs.which_leak(finch, "returnless_tank", given, temperature="20 degC")
    cold = fs.leak_down(finch, "returnless_tank", duration="1 min", temperature="20 degC")
    by_name = {cause.name: cause for cause in fit.causes}
    assert by_name["injectors"].leak == pytest.approx(0.01 / 60.0 * cold.elastic_volume * REFERENCE, rel=1e-3, abs=0.0)
    assert by_name["cooling"].cooled > 0.0
    assert next(iter(by_name)) != "cooling"
    assert np.isnan(fit.reseat_step)
    assert fit.readings == 4
    assert [cause.chi_squared for cause in fit.causes] == sorted(cause.chi_squared for cause in fit.causes)


def test_each_clamped_series_ends_its_own_leak(finch):
    falling = {"0 s": 372e3, "10 min": 352e3, "20 min": 333e3}
    steady = {"0 s": 350e3, "10 min": 350e3}
    feed = fs.which_leak(finch, "returnless_tank", falling, feed_clamped=steady, temperature="20 degC")
    back = fs.which_leak(finch, "returnless_tank", falling, return_clamped=steady, temperature="20 degC")
    assert (feed.causes[0].name, back.causes[0].name) == ("check_valve", "regulator")
    assert (feed.readings, back.readings) == (5, 5)
    assert fs.which_leak(finch, "returnless_tank", falling, running_pressure="400 kPa").reseat_step == pytest.approx(
        28e3
    )
    assert dataclasses.replace(feed, noise=1.0).fits is False
