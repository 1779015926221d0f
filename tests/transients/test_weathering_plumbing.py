"""Stages of evaporation between which a plumbing's tables are interpolated, and the car with each stage's fuel."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.system.run import System
from fuelsim.transients.tank_fuel import WEATHERED, tank_fuel
from fuelsim.transients.weathering_plumbing import WeatheringPlumbing, stage_weights


@pytest.fixture(scope="module")
def plumbing():
    car = fs.Car.named("finch")
    return WeatheringPlumbing(System(car, "return"), tank_fuel(car.fuel.fuel()))


@pytest.mark.parametrize("evaporated", [0.0, 0.001, 0.02, 0.05, 0.07, 0.105, 0.16, 0.2, 0.24, 0.4])
def test_weights_add_up_to_one_and_meet_the_fraction_between_the_stages(evaporated):
    """Straight lines: the weighted fraction is the fraction itself from the second stage on, and up to the last."""
    weights = stage_weights(evaporated)
    assert sum(weight for _, weight in weights) == pytest.approx(1.0)
    assert all(0.0 < weight <= 1.0 for _, weight in weights)
    if evaporated >= WEATHERED[2]:
        mean = sum(WEATHERED[stage] * weight for stage, weight in weights)
        assert mean == pytest.approx(min(evaporated, WEATHERED[-1]))


def test_a_fuel_that_has_hardly_evaporated_is_the_fresh_one_and_at_a_stage_there_is_that_alone():
    assert stage_weights(0.0) == [(0, 1.0)]
    assert stage_weights(0.002) == [(0, 1.0)]
    assert [stage for stage, _ in stage_weights(0.02)] == [0, 2]
    assert stage_weights(0.05) == [(2, 1.0)]
    assert stage_weights(0.24) == [(5, 1.0)]


def test_each_stage_has_its_fuel_and_is_made_once(plumbing):
    assert plumbing.stage(0) is plumbing.fresh
    later = plumbing.stage(2)
    assert later is plumbing.stage(2)
    assert later.fuel is plumbing.fuel.weathered[2]
    assert (later.car, later.layout) == (plumbing.fresh.car, "return")


def test_moments_of_fresh_fuel_have_the_fresh_car_and_later_ones_a_car_with_what_is_left(plumbing):
    assert plumbing.at(np.zeros(3)) is plumbing.fresh
    left = plumbing.at(np.array([0.0, 0.05]))
    assert left is not plumbing.fresh
    margin = left.solve(rpm=[800.0, 800.0], tank_temperature=310.0).vapour_margin["rail"]
    assert margin[1] > margin[0] + 2.0  # the light ends are gone, so that it boils later
    assert left.layout == "return"
