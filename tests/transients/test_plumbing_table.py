"""Tables of the plumbing: interpolation of what is known in closed form, and grid points beside direct solves."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.system.run import System
from fuelsim.transients.plumbing_table import (
    MARGINS,
    PlumbingState,
    PlumbingTable,
    _without_gaps,
    near_limit,
    not_running,
    tabulate_plumbing,
    times_within,
)
from fuelsim.transients.schedule import Phase, Schedule
from fuelsim.transients.tank_fuel import WEATHERED, tank_fuel
from fuelsim.transients.weathering_plumbing import WeatheringPlumbing
from fuelsim.transients.world import World

FIELDS = len(PlumbingState._fields)
TIMES, PRESSURES, ATMOSPHERE = [0.0, 150.0, 450.0], [-4e3, 4e3], [101e3, 81e3, 81e3]
LIMIT = PlumbingState._fields.index("near_limit")


class Multilinear:
    """States that are a product of straight lines along time, pressure and margin, the same at every stage but for a
    factor."""

    def __init__(self, factor):
        self.factor = factor

    def states(self, phase, time, below):
        t, p, m = np.array(TIMES)[:, None, None], np.array(PRESSURES)[None, :, None], MARGINS[None, None, :]
        value = self.factor * (2.0 + t / 100.0) * (3.0 - p / 2e3) * (5.0 + m)
        return np.repeat(value[..., None], FIELDS, axis=-1) * np.arange(1.0, FIELDS + 1.0)


@pytest.fixture(scope="module")
def fuel():
    return tank_fuel(fs.Car.named("finch").fuel.fuel())


@pytest.fixture(scope="module")
def table(fuel):
    return PlumbingTable(0, TIMES, ATMOSPHERE, PRESSURES, fuel, [Multilinear(1.0 + n) for n in range(len(WEATHERED))])


@pytest.mark.parametrize("time", [0.0, 75.0, 150.0, 390.0])
@pytest.mark.parametrize("pressure", [-4e3, -1e3, 2.5e3])
@pytest.mark.parametrize("margin", [-0.3, 0.77, 4.2, 13.0, 60.0])
def test_products_of_straight_lines_are_interpolated_exactly(table, fuel, time, pressure, margin):
    """Multilinear interpolation reproduces them; on a climb the logarithm of the pressure falls evenly."""
    rising = min(time / 150.0, 1.0)
    outside = 101e3 ** (1.0 - rising) * 81e3**rising
    temperature = fuel.boiling_temperature(outside + pressure, 0.0) - margin
    state = table.at(time, temperature, pressure, 0.0)
    by_hand = (2.0 + time / 100.0) * (3.0 - pressure / 2e3) * (5.0 + margin)
    assert state.supply == pytest.approx(by_hand, rel=1e-6)
    assert state.near_limit == pytest.approx(FIELDS * by_hand, rel=1e-6)


@pytest.mark.parametrize(("evaporated", "factor"), [(0.0, 1.0), (0.05, 3.0), (0.105, 4.0), (0.16, 5.0), (0.5, 6.0)])
def test_stages_of_evaporation_are_joined_by_straight_lines(table, fuel, evaporated, factor):
    """Stages stand at 0, 5, 16 and 24 %: with factors 1, 3, 5 and 6, halfway between the second and third is 4."""
    temperature = fuel.boiling_temperature(81e3, evaporated) - 10.0
    assert table.at(200.0, temperature, 0.0, evaporated).supply == pytest.approx(factor * 4.0 * 3.0 * 15.0, rel=1e-6)


def test_beyond_the_grid_the_nearest_end_counts(table, fuel):
    hot = fuel.boiling_temperature(101e3 + 4e3, 0.0) + 5.0
    assert table.at(-5.0, hot, 9e3, 0.0).supply == pytest.approx(2.0 * 1.0 * (5.0 + MARGINS[0]), rel=1e-6)


def test_a_gap_takes_the_state_of_the_nearest_cooler_point_that_runs_and_is_marked():
    """Margins rise with the index: cooler is later. Where no point runs the state is nothing, and at its limit."""
    states = np.full((1, 2, 5, FIELDS), 0.0)
    states[0, :, :, 0] = [10.0, 11.0, 12.0, 13.0, 14.0]
    states[0, 0, 0] = states[0, 0, 1] = states[0, 0, 3] = np.nan
    states[0, 1] = np.nan
    states[0, 0, 4, LIMIT] = 0.0
    filled = _without_gaps(states.copy())
    assert filled[0, 0, :, 0].tolist() == [12.0, 12.0, 12.0, 14.0, 14.0]
    assert filled[0, 0, :, LIMIT].tolist() == [1.0, 1.0, 0.0, 1.0, 0.0]
    assert filled[0, 1, :, 0].tolist() == [0.0] * 5
    assert filled[0, 1, :, LIMIT].tolist() == [1.0] * 5


def test_a_point_without_a_result_or_with_a_stopped_engine_does_not_run():
    states = np.array(["fed", "lean", "stopped", "fed"], dtype=object)
    run = SimpleNamespace(
        engine_state=states,
        outcome=SimpleNamespace(has_values=np.array([True, True, True, False])),
        over_vapour_limit={"left": np.array([False] * 4), "right": np.array([True, False, False, False])},
    )
    assert not_running(run).tolist() == [False, False, True, True]
    assert near_limit(run).tolist() == [True, True, True, False]


def test_grid_times_are_close_while_the_air_settles_and_then_an_hour_apart():
    assert times_within(100.0, climbs=False).tolist() == [0.0, 150.0]
    assert times_within(1000.0, climbs=False).tolist() == [0.0, 150.0, 450.0, 1000.0]
    assert times_within(1001.0, climbs=False).tolist() == [0.0, 150.0, 450.0, 1000.0, 4600.0]
    assert times_within(9000.0, climbs=True).tolist() == [0.0, 150.0, 450.0, 1000.0, 4600.0, 8200.0, 9000.0]


# ---- what is solved when it is asked for ---------------------------------------------------------------------------


class Asked:
    """A plumbing whose results are the conditions it is asked for; it counts them."""

    def __init__(self, fuel):
        self.fuel, self.points = fuel, 0

    def stage(self, number):
        return self

    def solve(self, conditions):
        self.points += len(conditions.tank_temperature)
        return conditions


def conditions_as_states(conditions):
    """Supply and returned flow stand for temperature and pressure of the tank, the heat for the rail's altitude."""
    states = np.zeros((len(conditions.tank_temperature), FIELDS))
    states[:, 0], states[:, 1] = conditions.tank_temperature, conditions.vapour_space_pressure
    states[:, 2] = conditions.altitude
    return states


@pytest.fixture
def asked(fuel, monkeypatch):
    """Tables of a phase of many hours, of which three times are solved at once."""
    monkeypatch.setattr("fuelsim.transients.plumbing_table._plumbing_states", conditions_as_states)
    monkeypatch.setattr("fuelsim.transients.plumbing_table.AHEAD", 3)
    phases = [Phase(name="up", duration="2 h", end_altitude="1500 m"), Phase(name="on", duration="2 min")]
    plumbing = Asked(fuel)
    world = World(fs.Car.named("finch"), Schedule.of(phases), None)
    return plumbing, tabulate_plumbing(plumbing, world, PRESSURES), world


def checked(asked, phase, time, margin):
    """Ask one cell, and hold its state against the conditions there."""
    _, tables, world = asked
    driving = world.at(phase, np.array([time]))
    outside = float(driving.atmospheric_pressure[0])
    for pressure in PRESSURES:
        temperature = tables[phase].fuel.boiling_temperature(outside + pressure, 0.0) - margin
        state = tables[phase].at(time, temperature, pressure, 0.0)
        assert state.supply == pytest.approx(temperature, abs=0.02)
        assert state.returned == pytest.approx(pressure)
        assert state.returned_heat == pytest.approx(float(driving.altitude[0]), abs=1e-6)
        assert state.near_limit == 0.0


@pytest.mark.parametrize("first", [5.7, 20.0])
def test_cells_are_complete_whatever_was_asked_before(asked, first):
    """Along time, across from one phase into the next, and between the parts near and far from boiling, which meet at
    6 K: each grid point is solved with its own conditions."""
    for phase, time, margin in (
        (0, 0.0, first),
        (0, 0.0, 5.7),
        (0, 150.0, 20.0),
        (0, 450.0, 5.7),
        (0, 1000.0, 0.5),
        (0, 4600.0, 8.0),
        (0, 7200.0, 5.7),
        (1, 150.0, 5.7),
        (1, 0.0, 50.0),
        (0, 4600.0, 5.7),
    ):
        checked(asked, phase, time, margin)


def test_nothing_is_solved_twice_or_before_it_is_near(asked):
    plumbing, tables, _ = asked
    near, far = len(MARGINS) - 12, 12
    assert MARGINS[near] == 6.0
    checked(asked, 0, 0.0, 20.0)
    assert plumbing.points == 3 * 2 * far
    checked(asked, 0, 150.0, 20.0)  # the second and third time are known
    assert plumbing.points == 3 * 2 * far
    checked(asked, 0, 0.0, 2.0)
    assert plumbing.points == 3 * 2 * (far + near)
    checked(asked, 0, 450.0, 20.0)
    checked(asked, 0, 450.0, 2.0)
    solved = plumbing.points
    assert solved > 3 * 2 * (far + near)
    for margin in (2.0, 20.0, 5.7):
        checked(asked, 0, 450.0, margin)
    assert plumbing.points == solved
    assert {phase for phase, _ in tables[0].stages[0]._near} == {0}


# ---- grid points beside direct solves --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def solved(fuel):
    """A table of two driven phases and a stop between them, and the car."""
    car = fs.Car.named("finch")
    phases = [
        Phase(name="slow", duration="2 min", vehicle_speed="20 km/h", rpm="1500 rpm", load=0.2),
        Phase(name="stop", duration="2 min", engine="stopped"),
        Phase(name="climb", duration="4 min", rpm="3000 rpm", load=0.5, end_altitude="1000 m"),
    ]
    world = World(car, Schedule.of(phases), None)
    plumbing = WeatheringPlumbing(System(car, "return"), fuel)
    return car, world, plumbing, tabulate_plumbing(plumbing, world, PRESSURES)


def judge(solved, index, time, pressure, below, stage=0):
    """A direct solve at a grid point of the table."""
    car, world, _, _ = solved
    fuel = car.fuel.fuel() if stage == 0 else tank_fuel(car.fuel.fuel()).weathered[stage]
    driving = world.at(index, np.array([time]))
    absolute = float(driving.atmospheric_pressure[0]) + pressure
    temperature = tank_fuel(car.fuel.fuel()).boiling_temperature(absolute, WEATHERED[stage]) - below
    run = System(car, "return", fuel).solve(driving.conditions(np.array([temperature]), np.array([pressure])))
    return temperature, run


# Far from boiling, then close to it at the same time and at another, then far again: parts are solved as asked for.
ASKED = [(0, 0.0, 4e3, 10.0), (0, 0.0, 4e3, 2.0), (2, 150.0, -4e3, 1.0), (2, 240.0, 4e3, 30.0), (0, 150.0, -4e3, 7.0)]


def test_grid_points_are_those_of_the_networks_in_whatever_order_they_are_asked_for(solved):
    """Judge: direct solves. What returns is what is drawn less what is burnt; sources add up to its heat."""
    tables = solved[3]
    assert tables[1] is None
    assert [table.phase for table in (tables[0], tables[2])] == [0, 2]
    for index, time, pressure, below in ASKED:
        temperature, run = judge(solved, index, time, pressure, below)
        state = tables[index].at(time, temperature, pressure, 0.0)
        assert state.supply == pytest.approx(float(run.supply_mass_flow[0]), rel=1e-4)
        assert state.supply - state.returned == pytest.approx(float(run.burnt_mass_flow[0]), rel=1e-4)
        assert state.rail_gauge_pressure == pytest.approx(float(run.gauge_pressure["rail"][0]), rel=1e-4)
        assert state.returned_heat == pytest.approx(float(run.tank_heat_flow[0]), rel=1e-3)
        sources = state.pump_heat + state.rail_heat + state.bay_heat + state.line_heat - state.burnt_heat
        assert sources == pytest.approx(state.returned_heat, rel=1e-3)
        assert state.near_limit == float(near_limit(run)[0])


def test_a_weathered_stage_is_that_of_the_weathered_fuel(solved):
    temperature, run = judge(solved, 0, 0.0, 4e3, 10.0, stage=2)
    state = solved[3][0].at(0.0, temperature, 4e3, WEATHERED[2])
    assert state.rail_gauge_pressure == pytest.approx(float(run.gauge_pressure["rail"][0]), rel=1e-4)
    assert state.returned_heat == pytest.approx(float(run.tank_heat_flow[0]), rel=1e-3)


def test_only_what_is_asked_for_is_solved(solved):
    """Far from boiling alone at first, of the next times of this phase and of those after it; never the stop."""
    _, world, plumbing, _ = solved
    table = tabulate_plumbing(plumbing, world, PRESSURES)[0]
    temperature, _ = judge(solved, 0, 0.0, 4e3, 20.0)
    table.at(0.0, temperature, 4e3, 0.0)
    fresh = table.stages[0]
    assert not fresh._near
    assert {phase for phase, _ in fresh._far} == {0, 2}
    assert all(np.all(np.isnan(states[:, :, 5])) for states in fresh._states.values())
    assert all(not stage._states for stage in table.stages[1:])
