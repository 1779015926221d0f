"""What happens in the first part of a drive does not depend on how long the drive is."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.car.climate import hot_day
from fuelsim.system.run import System
from fuelsim.transients.plumbing_table import STEP, times_within
from fuelsim.transients.tank_fuel import WEATHERED, WEATHERING_TEMPERATURE, tank_fuel

STEP_SHOWN = 60.0
CASES = {
    "a nearly empty tank": (
        "heron",
        "winter_e10",
        "38 degC",
        0.2,
        None,
        ("jam",),
        600.0,
        1200.0,
    ),
    "an engine that stops by vapour": ("heron", "winter_e10", "38 degC", None, None, ("jam",), 600.0, 600.0),
    "the hot day of a desert": ("finch", "summer_e10", None, 0.3, "phoenix", ("jam", "motorway"), 300.0, 900.0),
    "a plumbing with pots": ("plover", "winter_e10", "35 degC", None, None, ("jam",), 600.0, 900.0),
}


@lru_cache(maxsize=8)
def driven(case, *, long):
    """Car, drive, and the end of what the short and the long drive have in common, s."""
    name, fuel, air, filled, place, kinds, duration, longer = CASES[case]
    car = fs.Car.named(name).with_values({"fuel": fuel})
    if air is not None:
        car = car.with_values({"surroundings.air_temperature": air})
    if filled is not None:
        car = car.with_values({"tank.fuel_volume": filled * car.tank.volume})
    phases = [fs.typical_phase(kind, "10 min", car) for kind in kinds[:-1]]
    phases.append(fs.typical_phase(kinds[-1], duration + longer * long, car))
    climate = None if place is None else hot_day(place)
    result = fs.drive(car, car.layouts()[0], fs.Schedule.of(phases, start_time="13 h"), climate=climate)
    return car, result, 600.0 * (len(kinds) - 1) + duration


@pytest.mark.parametrize(
    "case",
    [
        "a nearly empty tank",
        "a plumbing with pots",
        pytest.param("an engine that stops by vapour", marks=pytest.mark.long),
        pytest.param("the hot day of a desert", marks=pytest.mark.long),
    ],
)
def test_the_first_part_of_a_long_drive_is_the_short_drive(case):
    """Tolerance: that of the integration, 1e-5 of the temperature."""
    _, short, end = driven(case, long=False)
    _, long, _ = driven(case, long=True)
    events = [[event for event in result.events if event.time < end - STEP_SHOWN] for result in (short, long)]
    assert [(event.name, event.part) for event in events[0]] == [(event.name, event.part) for event in events[1]]
    for mine, other in zip(*events, strict=True):
        assert mine.time == pytest.approx(other.time, abs=STEP_SHOWN)
    times = np.arange(0.0, end, STEP_SHOWN)
    for column, tolerance in (("tank_temperature", 3e-3), ("evaporated", 2e-5), ("supply_temperature", 3e-3)):
        mine, other = (np.interp(times, result.time, getattr(result, column)) for result in (short, long))
        assert mine == pytest.approx(other, abs=tolerance), column


def test_a_drive_shows_the_plumbing_with_the_fuel_that_is_left_at_every_moment():
    """Judge: direct solves with the fuel weathered to the fraction of that moment, with tables of its own."""
    car, result, _ = driven("a nearly empty tank", long=False)
    fuel = car.fuel.fuel()
    assert result.evaporated[-1] > 0.03
    for point in (0, 4, 9):
        own = fuel.weathered(float(result.evaporated[point]), WEATHERING_TEMPERATURE) if point else fuel
        conditions = fs.Conditions(
            rpm=car.engine.idle_speed,
            load=0.0,
            vehicle_speed="2 km/h",
            tank_temperature=result.tank_temperature[point],
            air_temperature=result.air_temperature[point],
            bay_temperature=result.bay_temperature[point],
            underfloor_temperature=result.underfloor_temperature[point],
            vapour_space_pressure=result.tank_gauge_pressure[point],
        )
        run = System(car, "return", own).solve(conditions)
        assert str(run.engine_state) == result.engine_state[point]
        # The drive has the head of the tank's level too: a few hundred pascals.
        assert float(run.vapour_margin["pump_inlet"]) == pytest.approx(
            result.vapour_margin["pump_inlet"][point], abs=0.15
        )
        assert float(run.bypass_flow) == pytest.approx(result.bypass_flow[point], rel=0.05)


def test_the_fuel_between_two_stages_boils_as_the_fuel_weathered_to_that_fraction():
    """Judge: `Fuel.weathered` by flashes, halfway between the stages, where the interpolation is worst."""
    fuel = fs.Fuel.named("winter_e10")
    between = 0.5 * (np.array(WEATHERED[1:]) + np.array(WEATHERED[:-1]))
    tables = tank_fuel(fuel).at(between).tables()
    for temperature in (300.0, 325.0):
        direct = [
            fuel.weathered(float(w), WEATHERING_TEMPERATURE).bubble_pressure(temperature) for w in between.tolist()
        ]
        error = np.abs(tables.bubble_pressure(np.full(5, temperature)) / direct - 1.0)
        assert np.all(error < [5e-4, 5e-4, 5e-4, 5e-4, 1.5e-3])


def test_a_fuel_that_has_lost_nothing_is_the_fresh_one_and_stages_are_met():
    fuel = tank_fuel(fs.Fuel.named("summer_e10"))
    assert fuel.at(np.zeros(3)) is fuel.fuel
    assert fuel.at(np.array([0.0, WEATHERED[1]])).fuels == (fuel.fuel, fuel.weathered[1])
    assert fuel.at(np.array([0.5])).fuels == (fuel.weathered[-1],)


@pytest.mark.parametrize("duration", [1.0, 150.0, 151.0, 999.0, 1000.0, 4600.0, 4601.0, 28800.0, 86400.0])
def test_the_grid_of_times_covers_a_phase_and_is_the_first_part_of_that_of_a_longer_one(duration):
    grid, longer = times_within(duration, climbs=False), times_within(duration + 3.0 * STEP, climbs=False)
    assert grid[-2] < duration <= grid[-1]
    assert grid.tolist() == longer[: len(grid)].tolist()
    climbing = times_within(duration, climbs=True)
    assert climbing[-1] == duration
    assert np.all(np.diff(climbing) > 0.0)
