"""Questions on stopping and starting: the pressure that is left, the first fill, the prime."""

import numpy as np
import pytest

import fuelsim as fs


def ask_27_of_a_car():
    """Long crank every morning: lines run empty, or only cooled?"""
    car = fs.Car.named("finch").with_values({"feed.length": "4.13 m", "feed.bore": "7.75 mm", "feed.material": "steel"})
    empty = fs.prime(car, "return", lines="empty", constant_flow="200 L/h", duration="6 s")
    cooled = fs.prime(car, "return", lines="sealed_cold", constant_flow="200 L/h")
    return empty, cooled, fs.prime(car, "return", lines="empty", duration="10 s")


def test_27_an_empty_line_takes_four_seconds_a_cooled_one_a_third_and_the_pump_says_why_not():
    empty, cooled, pumped = ask_27_of_a_car()
    assert empty.volume == pytest.approx(236e-6, rel=0.02)
    assert empty.seconds_to_liquid == pytest.approx(4.2, abs=0.1)  # 236 mL over 200 L/h
    assert cooled.seconds_to_pressure == pytest.approx(0.3, abs=0.07)  # 14 mL contraction, 3 mL elasticity
    assert pumped.seconds_to_pressure == pytest.approx(sum(share.seconds for share in pumped.shares), abs=0.02)


def ask_28():
    """My gauge fell 400, 372, 359, 310 kPa within an hour, cold: is that good, and what leaks?"""
    car = fs.Car.named("finch").with_values({"feed.length": "4.2 m", "feed.bore": "7 mm", "feed.material": "rubber"})
    system = car.system("returnless_tank")
    gauge = {"0 min": "372 kPa", "10 min": "359 kPa", "60 min": "310 kPa"}
    fit = fs.which_leak(system, gauge, running_pressure="400 kPa", temperature="20 degC")
    return fit, fs.leak_down(system, temperature="20 degC", check_valve_leak=fit.causes[0].leak)


def test_28_it_is_good_and_one_step_with_one_leak_fits_within_4_kilopascals():
    fit, computed = ask_28()
    assert fit.fits
    assert fit.causes[0].error < 4e3
    assert fit.reseat_step == pytest.approx(28e3)  # service manuals
    assert all(limit.met for limit in computed.limits)
    assert computed.gauge_pressure[0] - computed.pressure_at("1 h") == pytest.approx(62e3, abs=4e3)


def ask_44():
    """Does the prime stop before the pressure is up?"""
    car = fs.Car.named("finch")
    steady = fs.prime(car, "return", duration="1.5 s", constant_flow="120 L/h")
    return steady, [fs.prime(car, "return", duration="1.5 s", lines=lines) for lines in ("full", "empty")]


def test_44_one_and_a_half_seconds_move_50_millilitres_enough_for_full_lines_and_not_for_empty_ones():
    steady, (full, empty) = ask_44()
    assert steady.moved_by_prime == pytest.approx(50e-6, rel=1e-3)
    assert full.seconds_to_pressure < 1.5
    assert empty.left_by_prime < 0.95 * empty.set_pressure
    assert np.isfinite(full.seconds_to_liquid)
