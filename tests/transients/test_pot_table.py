"""Tables of a plumbing with pots: interpolation of what is known in closed form, and grid points by direct solves."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.system.run import System
from fuelsim.transients.plumbing_table import MARGINS, near_limit
from fuelsim.transients.pot_flows import VesselFlows, at_rest, columns_of, planned_pots, vessel_flows
from fuelsim.transients.pot_table import PotTable, tabulate_pots
from fuelsim.transients.schedule import Phase, Schedule
from fuelsim.transients.tank_fuel import WEATHERED, tank_fuel
from fuelsim.transients.weathering_plumbing import WeatheringPlumbing
from fuelsim.transients.world import World

PRESSURES, ATMOSPHERE = [-4e3, 4e3], [101e3, 81e3, 81e3]
COLUMNS = len(columns_of(at_rest(1)))
LIMIT = VesselFlows._fields.index("near_limit")


@pytest.fixture(scope="module")
def plumbing():
    car = fs.Car.named("plover")
    return WeatheringPlumbing(System(car, "pot"), tank_fuel(car.fuel.fuel()))


@pytest.fixture(scope="module")
def world(plumbing):
    phases = [
        Phase(name="slow", duration="2 min", rpm="1500 rpm", load=0.2, vehicle_speed="20 km/h"),
        Phase(name="stop", duration="2 min", engine="stopped"),
        Phase(name="climb", duration="4 min", rpm="3000 rpm", load=0.5, end_altitude="1000 m"),
    ]
    return World(plumbing.fresh.car, Schedule.of(phases), None)


class Closed(PotTable):
    """A table whose grid points are products of straight lines along every axis, with some that do not run."""

    dead = ()

    def _solve(self, number, points):
        for i, k, tank, pot in points:
            t, p = self.times[i], self.pressures[k]
            value = (1.0 + number) * (2.0 + t / 100.0) * (3.0 - p / 2e3) * (5.0 + MARGINS[tank]) * (7.0 - MARGINS[pot])
            row = value * np.arange(1.0, COLUMNS + 1.0)
            row[LIMIT] = 0.0
            self._rows[number, i, k, tank, pot] = np.full(COLUMNS, np.nan) if (tank, pot) in self.dead else row


def closed(plumbing, world, dead=()):
    table = Closed(
        plumbing,
        planned_pots(plumbing.fresh.plumbing),
        [0.0, 150.0, 450.0],
        PRESSURES,
        world.at(0, np.array([0.0, 60.0, 120.0])),
        ATMOSPHERE,
    )
    object.__setattr__(table, "dead", dead)
    return table


@pytest.mark.parametrize("time", [0.0, 75.0, 390.0])
@pytest.mark.parametrize("pressure", [-4e3, 2.5e3])
@pytest.mark.parametrize(("tank", "pot"), [(13.0, 8.5), (0.77, 13.0), (4.2, 0.05)])
def test_products_of_straight_lines_are_interpolated_exactly(plumbing, world, time, pressure, tank, pot):
    """Multilinear interpolation reproduces them; on a climb the logarithm of the pressure falls evenly."""
    rising = min(time / 150.0, 1.0)
    outside = 101e3 ** (1.0 - rising) * 81e3**rising
    boils = plumbing.fuel.boiling_temperature(outside + pressure, 0.0)
    flows = closed(plumbing, world).at(time, boils - tank, [boils - pot], pressure, 0.0)
    by_hand = (2.0 + time / 100.0) * (3.0 - pressure / 2e3) * (5.0 + tank) * (7.0 - pot)
    assert flows.supply == pytest.approx(by_hand, rel=1e-6)
    assert flows.pots[0].overflow_heating == pytest.approx(COLUMNS * by_hand, rel=1e-6)
    assert flows.near_limit == 0.0


def test_stages_of_evaporation_are_joined_by_straight_lines(plumbing, world):
    """Stages stand at 5 and 16 %, with factors 3 and 5: halfway between is 4."""
    boils = plumbing.fuel.boiling_temperature(81e3, 0.105)
    flows = closed(plumbing, world).at(450.0, boils - 10.0, [boils - 5.0], 0.0, 0.105)
    assert flows.supply == pytest.approx(4.0 * 6.5 * 3.0 * 15.0 * 2.0, rel=1e-6)


def test_a_corner_where_no_engine_runs_has_the_state_of_the_nearest_cooler_one_and_is_marked(plumbing, world):
    """Cooler by one step of tank and pot alike; where that runs at no step the state is nothing, and at its limit."""
    table = closed(plumbing, world, dead={(3, 2), (4, 3)})
    row = table._filled((0, 0, 0, 3, 2))
    assert row[0] == pytest.approx(2.0 * 5.0 * (5.0 + MARGINS[5]) * (7.0 - MARGINS[4]))
    assert row[LIMIT] == 1.0
    sound = table._filled((0, 0, 0, 3, 3))
    assert sound[LIMIT] == 0.0
    assert table._rows[0, 0, 0, 5, 4][LIMIT] == 0.0  # the cooler point itself is not at its limit
    last = len(MARGINS) - 1
    nowhere = closed(plumbing, world, dead={(last - 1, last), (last, last)})
    row = nowhere._filled((0, 0, 0, last - 1, last))
    assert row.tolist() == [1.0 if number == LIMIT else 0.0 for number in range(COLUMNS)]


@pytest.mark.parametrize("times", [[0.0, 1e3, 4.6e3, 8.2e3, 11.8e3]])
def test_hours_that_are_far_ahead_are_not_solved(plumbing, world, times):
    table = closed(plumbing, world)
    object.__setattr__(table, "times", times)
    object.__setattr__(table, "atmosphere", [101e3] * 5)
    boils = plumbing.fuel.boiling_temperature(101e3, 0.0)
    table.at(1.5e3, boils - 10.0, [boils - 8.0], 0.0, 0.0)
    assert {i for _, i, *_ in table._rows} == {1, 2}


def test_a_corner_s_neighbours_are_solved_with_it_and_nothing_twice(plumbing, world):
    """What a warming tank comes to next, both pressures, and grid times within the next hour or so."""
    table = closed(plumbing, world)
    asked = []
    solve = table._solve
    object.__setattr__(table, "_solve", lambda number, points: (asked.extend(points), solve(number, points)))
    boils = plumbing.fuel.boiling_temperature(101e3, 0.0)
    table.at(10.0, boils - 10.0, [boils - 8.0], 0.0, 0.0)
    # 6 cells of a warmer tank and 4 of a cooler one, 4 cells of the pot to either side, 2 pressures and 3 times.
    assert len(asked) == len(set(asked)) == 12 * 10 * 2 * 3
    assert {i for i, *_ in asked} == {0, 1, 2}
    table.at(10.0, boils - 9.9, [boils - 8.1], 0.0, 0.0)
    table.at(160.0, boils - 9.0, [boils - 7.9], 100.0, 0.0)
    before = len(asked)
    assert len(set(asked)) == before
    table.at(10.0, boils - 0.05, [boils - 60.0], 0.0, 0.0)
    assert len(asked) == len(set(asked)) > before


def test_grid_points_are_those_of_the_networks(plumbing, world, monkeypatch):
    """Judge: direct solves with the world, the pressure and the fuel of the grid point."""
    monkeypatch.setattr("fuelsim.transients.pot_table.NEIGHBOURS", (0, 0))
    monkeypatch.setattr("fuelsim.transients.pot_table.WARMER", 0)
    monkeypatch.setattr("fuelsim.transients.pot_table.COOLER", 0)
    monkeypatch.setattr("fuelsim.transients.pot_table.AHEAD", 0.0)
    car, fuel = plumbing.fresh.car, plumbing.fuel
    pots = planned_pots(plumbing.fresh.plumbing)
    tables = tabulate_pots(plumbing, pots, world, PRESSURES)
    assert [table is None for table in tables] == [False, True, False]
    for index, time, pressure, below, stage in ((0, 0.0, 4e3, (10.0, 9.0), 0), (2, 240.0, -4e3, (26.0, 22.0), 2)):
        driving = world.at(index, np.array([time]))
        absolute = float(driving.atmospheric_pressure[0]) + pressure
        boils = fuel.boiling_temperature(absolute, WEATHERED[stage])
        tank, pot = (np.array([boils - each]) for each in below)
        system = plumbing.fresh if stage == 0 else System(car, "pot", fuel.weathered[stage])
        run = system.solve(driving.conditions(tank, np.array([pressure])), pot_temperatures={"pot": pot})
        expected = vessel_flows(run, pots, fuel, tank, {"pot": pot}, near_limit(run).astype(float))
        flows = tables[index].at(time, float(tank[0]), [float(pot[0])], pressure, WEATHERED[stage])
        ours, theirs = np.array(columns_of(flows)), np.array([float(np.ravel(c)[0]) for c in columns_of(expected)])
        assert ours == pytest.approx(theirs, rel=1e-3, abs=1e-6)
        assert flows.supply > 0.0
