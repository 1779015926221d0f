"""A hole in the sleeve between strainer and pump, by its height."""

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.laws.boot_hole import hole_flow


def test_the_jet_of_air_follows_bernoulli():
    """By hand: 50 mm of petrol are 745 x 9.80665 x 0.05 = 365 Pa; with 635 Pa of strainer 1 kPa, 41.7 m/s of air."""
    speed = np.sqrt(2.0 * 1000.0 / 1.15)
    assert speed == pytest.approx(41.7, abs=0.05)
    drop = 1000.0 - 745.0 * 9.80665 * 0.05
    flow = hole_flow(0.03, 0.08, 1e-3, drop, 745.0, 1.15)
    assert flow == pytest.approx(0.61 * np.pi / 4.0 * 1e-6 * speed)


def test_a_covered_hole_draws_no_air_and_a_lower_level_draws_more():
    flow = hole_flow([0.10, 0.08, 0.079, 0.04, 0.0], 0.08, 1e-3, 1e3, 745.0, 1.15)
    assert flow[:2].tolist() == [0.0, 0.0]
    assert np.all(np.diff(flow[1:]) > 0.0)


def test_the_car_runs_well_until_the_hole_is_bare_and_starves_below():
    """A hole of 3 mm behind a clogged strainer: air at 10 kPa is 0.61 x 7.07 mm2 x 131 m/s = 2,030 L/h, ten pumps."""
    car = fs.Car.named("finch")
    hole = fs.boot_hole(car, "return", "3 mm", "80 mm", strainer_drop="10 kPa")
    assert hole.air_ratio[0] == 0.0
    assert hole.air_ratio[1] > hole.tolerated
    assert hole.starving_level == pytest.approx(0.08, abs=1e-6)
    # Upright walls: the share of the tank is the share of its depth.
    left = float(car.tank.volume) * 0.08 / float(car.tank.depth)
    assert hole.fuel_volume[0] == pytest.approx(left)
    assert hole.starving_volume == pytest.approx(left, rel=1e-4)
    assert "more than it tolerates" in repr(hole)


def test_a_pin_hole_never_starves_the_pump():
    hole = fs.boot_hole(fs.Car.named("finch"), "return", "0.2 mm", "80 mm")
    assert np.all(np.diff(hole.air_ratio) >= 0.0)
    assert hole.air_ratio[-1] < hole.tolerated
    assert hole.starving_level == 0.0
    assert "never more than it tolerates" in repr(hole)


def test_the_pump_starves_where_air_reaches_what_it_tolerates():
    hole = fs.boot_hole(fs.Car.named("finch"), "return", "2 mm", "80 mm")
    at = np.interp(-hole.starving_level, -hole.level, hole.air_ratio)
    assert 0.0 < hole.starving_level < 0.08
    assert at == pytest.approx(hole.tolerated, rel=0.1)
