"""Points that leave the batch one after another are put where they belong, and failed ones have no values."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.outcome import Outcome, OutcomeCode
from fuelsim.system.collected import NOT_SETTLED, Collected
from fuelsim.system.conditions import Conditions
from fuelsim.system.operating_points import OperatingPoints

COLUMNS = ("current", "terminal_voltage", "electrical_power", "heat_into_fuel", "share", "stalled")


@pytest.fixture(scope="module")
def plumbing():
    return fs.Car.named("finch").system("return").plumbing


def outcome_of(code, count):
    return Outcome(
        code=np.full(count, int(code)),
        iterations=np.zeros(count, dtype=int),
        pressure_residual=np.arange(count) + 0.1,
        flow_residual=np.arange(count) + 0.2,
        mass_residual=np.arange(count) + 0.3,
        worst_part=np.array([f"part {number}" for number in range(count)], dtype=object),
        reason=np.array([f"reason {number}" for number in range(count)], dtype=object),
    )


def round_of(plumbing, code=OutcomeCode.SOLVED):
    """Return state and update of a batch of two points, every figure of which tells its kind, row and point."""
    stations, links = len(plumbing.stations), len(plumbing.links)
    points = np.array([0.0, 0.5])

    def rows(start, count):
        return start + np.arange(count)[:, None] + points

    state = SimpleNamespace(
        pressure=dict(zip(plumbing.stations, rows(1000.0, stations), strict=True)),
        mass_flow={link.name: row for link, row in zip(plumbing.links, rows(2000.0, links), strict=True)},
        regime={link.name: np.array(["flowing", "shut"], dtype=object) for link in plumbing.links},
        outcome=outcome_of(code, 2),
    )
    operation = SimpleNamespace(**{key: 7000.0 + number + points for number, key in enumerate(COLUMNS)})
    update = SimpleNamespace(
        nodes=rows(3000.0, stations),
        node_vapour=rows(4000.0, stations),
        outlets=rows(5000.0, links),
        densities=rows(6000.0, links),
        operations={"pump": operation},
    )
    return state, update


def test_nothing_is_solved_before_it_is_stored(plumbing):
    solution = Collected(plumbing, 3).solution({})
    assert solution.outcome.code.tolist() == [OutcomeCode.NOT_CONVERGED] * 3
    assert all(np.isnan(column).all() for column in solution.pressure.values())
    assert all(np.isnan(column).all() for column in solution.pump["pump"].values())
    assert solution.regime["feed"].tolist() == ["unsolved"] * 3
    assert set(solution.mass_flow) == {link.name for link in plumbing.links}


def test_a_point_that_leaves_is_stored_where_it_belongs(plumbing):
    """The batch holds the points 3 and 1; the second of them leaves."""
    collected = Collected(plumbing, 4)
    state, update = round_of(plumbing)
    collected.store(np.array([3, 1]), np.array([False, True]), np.array([False, True]), 9, state, update)
    solution = collected.solution({})
    for kind, start in (("pressure", 1000.5), ("temperature", 3000.5), ("vapour_liquid_ratio", 4000.5)):
        for number, name in enumerate(plumbing.stations):
            column = getattr(solution, kind)[name]
            assert column[1] == start + number
            assert np.isnan(column).tolist() == [True, False, True, True]
    for kind, start in (("mass_flow", 2000.5), ("outlet_temperature", 5000.5), ("density", 6000.5)):
        for number, link in enumerate(plumbing.links):
            assert getattr(solution, kind)[link.name][1] == start + number
    assert [solution.pump["pump"][key][1] for key in COLUMNS] == [7000.5 + number for number in range(6)]
    assert solution.regime["feed"].tolist() == ["unsolved", "shut", "unsolved", "unsolved"]
    outcome = solution.outcome
    assert outcome.code.tolist() == [2, 0, 2, 2]
    assert (outcome.iterations[1], outcome.worst_part[1], outcome.reason[1]) == (9, "part 1", "reason 1")
    assert (outcome.pressure_residual[1], outcome.flow_residual[1], outcome.mass_residual[1]) == (1.1, 1.2, 1.3)
    assert collected.pressure["rail"][1] == solution.pressure["rail"][1]
    collected.clear(np.array([1]))
    assert np.isnan(collected.solution({}).pressure["rail"]).all()
    assert np.isnan(collected.solution({}).pump["pump"]["current"]).all()


def test_a_point_that_leaves_without_having_settled_has_no_values_and_is_told_so(plumbing):
    collected = Collected(plumbing, 2)
    state, update = round_of(plumbing)
    collected.store(np.array([0, 1]), np.array([True, True]), np.array([False, True]), 200, state, update)
    solution = collected.solution({"pump": np.array([True, False])})
    assert np.isnan(solution.pressure["rail"]).tolist() == [True, False]
    assert solution.regime["pump"].tolist() == ["unsolved", "shut"]
    assert solution.outcome.code.tolist() == [OutcomeCode.NOT_CONVERGED, OutcomeCode.SOLVED]
    assert solution.outcome.reason.tolist() == [NOT_SETTLED, "reason 1"]
    assert solution.outcome.worst_part.tolist() == ["pump", "part 1"]
    assert solution.cycles["pump"].tolist() == [True, False]
    collected.store(np.array([0, 1]), np.array([False, False]), np.array([True, True]), 201, state, update)
    assert collected.solution({}).outcome.iterations.tolist() == [200, 200]


def test_a_point_that_the_network_could_not_solve_keeps_its_outcome(plumbing):
    collected = Collected(plumbing, 3)
    collected.store_failed(np.array([2, 0]), 4, outcome_of(OutcomeCode.CUT_OFF, 2))
    outcome = collected.solution({}).outcome
    assert outcome.code.tolist() == [OutcomeCode.CUT_OFF, OutcomeCode.NOT_CONVERGED, OutcomeCode.CUT_OFF]
    assert outcome.reason.tolist() == ["reason 1", "", "reason 0"]
    assert outcome.worst_part.tolist() == ["part 1", "", "part 0"]
    assert outcome.iterations.tolist() == [4, 0, 4]
    assert outcome.flow_residual[[2, 0]].tolist() == [0.2, 1.2]


def test_the_operating_points_of_some_are_those_of_all_at_them():
    """Every column, given temperatures of a pot among them; what was left out stays so."""
    car = fs.Car.named("plover")
    system = car.system("pot")
    given = Conditions(rpm=[850.0, 3000.0, 6000.0], bay_temperature=[330.0, 331.0, 332.0], staging="falling")
    points = OperatingPoints.of(car, system.fuel, system.filled(given), {"pot": [310.0, 311.0, 312.0]})
    some = points.take(np.array([2, 0]))
    assert (len(points), len(some)) == (3, 2)
    for name, values in vars(points).items():
        if isinstance(values, np.ndarray):
            assert np.array_equal(getattr(some, name), values[[2, 0]]), name
    assert some.pot_temperatures["pot"].tolist() == [312.0, 310.0]
    assert some.bay_temperature.tolist() == [332.0, 330.0]
    assert points.underfloor_temperature is None
    assert some.underfloor_temperature is None
    assert points.staged_before.all()
    assert not OperatingPoints.of(car, system.fuel, system.filled(Conditions(rpm=900.0))).staged_before.any()
    assert points.tank_pressure == pytest.approx(points.atmospheric_pressure + points.vapour_space_pressure)


def test_operating_points_take_the_engine_s_demand_times_what_is_asked_on_top():
    car = fs.Car.named("finch")
    system = car.system("return")

    def of(**given):
        return OperatingPoints.of(car, system.fuel, system.filled(Conditions(rpm=3000.0, load=0.5, **given)))

    plain, rich = of(), of(fuel_demand=1.2)
    assert rich.fuel_mass_flow == pytest.approx(1.2 * plain.fuel_mass_flow)
    assert of(pump_duty=0.7).pump_duty.tolist() == of(pump_duty=0.7).asked_duty.tolist() == [0.7]
    assert plain.pump_speed.tolist() == plain.pump_resistance.tolist() == [0.0]
    # The vent breathes in what the engine takes, with next to no loss.
    assert -1.0 < plain.vapour_space_pressure[0] < 0.0
    assert of(vapour_space_pressure=4e3).vapour_space_pressure.tolist() == [4e3]
    # ISO 2533: 79495 Pa at 2000 m.
    assert of(altitude=2000.0).atmospheric_pressure == pytest.approx([79495.0], abs=2.0)
