"""How a system is asked: what fills in for what was left out, lists of ratings, other fuel, refusals."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.errors import InputError
from fuelsim.outcome import OutcomeCode
from fuelsim.system.run import System
from fuelsim.system.vessels import overflow_paths, vessels_before


@pytest.fixture(scope="module")
def finch():
    return fs.Car.named("finch").system("return")


def test_what_is_left_out_is_the_car_s_own(finch):
    """Air of 32 degC, tank of 40 degC, metal of 95 degC, 13.5 V, at sea level, by the car's file."""
    filled = finch.filled(fs.Conditions(rpm=1000.0))
    assert (float(filled.air_temperature), float(filled.tank_temperature)) == (305.15, 313.15)
    assert (float(filled.engine_temperature), float(filled.altitude)) == (368.15, 0.0)
    assert float(filled.supply_voltage) == 13.5
    given = finch.filled(fs.Conditions(rpm=1000.0, air_temperature=290.0, tank_temperature=295.0, supply_voltage=12.0))
    assert (float(given.air_temperature), float(given.tank_temperature)) == (290.0, 295.0)
    assert float(given.supply_voltage) == 12.0
    no_tank = fs.Car.named("finch").with_values({"surroundings.tank_temperature": None}).system("return")
    assert float(no_tank.filled(fs.Conditions(rpm=1000.0)).tank_temperature) == 305.15
    assert float(no_tank.filled(fs.Conditions(rpm=1000.0, air_temperature=290.0)).tank_temperature) == 290.0


def test_conditions_come_together_or_one_by_one(finch):
    together = finch.solve(fs.Conditions(rpm=3000.0, load=0.5))
    single = finch.solve(rpm=3000.0, load=0.5)
    assert float(together.pressure["rail"]) == float(single.pressure["rail"])
    assert np.ndim(single.pressure["rail"]) == 0
    assert float(finch.solve(rpm=3000.0).burnt_flow) > 1.5 * float(single.burnt_flow)
    with pytest.raises(InputError, match="conditions and single values together"):
        finch.solve(fs.Conditions(rpm=3000.0), load=0.5)
    with pytest.raises(InputError, match="no engine speed"):
        finch.solve(load=0.5)


def test_lists_of_ratings_and_conditions_broadcast_or_are_refused():
    car = fs.Car.named("finch").with_values({"feed.bore": ["5 mm", "6 mm", "8 mm"]})
    run = car.system("return").solve(rpm=[[1000.0], [5000.0]])
    assert np.shape(run.pressure["rail"]) == (2, 3)
    drop = np.asarray(run.pressure["filter_outlet"]) - np.asarray(run.pressure["rail_inlet"])
    assert np.all(np.diff(drop, axis=1) < 0.0)
    with pytest.raises(InputError, match=r"ratings of shape \(3,\) and conditions of shape \(2,\)"):
        car.system("return").solve(rpm=[1000.0, 5000.0])


def test_clogging_is_of_the_filters_that_stand_under_pressure(finch):
    """Ten times the viscous part, 85 % of the rated drop, is 8.65 times the drop; less of warm fuel, which is thin."""
    run = finch.solve(fs.Conditions(rpm=3000.0, filter_clogging=[1.0, 10.0]))
    drop = np.asarray(run.pressure["pump_outlet"]) - np.asarray(run.pressure["filter_outlet"])
    assert 6.0 < drop[1] / drop[0] < 8.65
    assert run.solved.car.strainer.clogging == 1.0
    plain = finch.solve(rpm=3000.0)
    assert float(plain.pressure["rail"]) == pytest.approx(float(run.pressure["rail"][0]), abs=1.0)


def test_another_fuel_in_the_tank_is_the_one_that_is_solved_with(finch):
    e85 = fs.Fuel.named("e85")
    other = System(finch.car, "return", e85)
    assert other.fuel is e85
    assert finch.fuel.ethanol != e85.ethanol
    run = other.solve(fs.Conditions(rpm=3000.0, filter_clogging=2.0))
    assert run.solved.fuel is e85
    # Ethanol asks for more fuel by mass.
    assert float(run.burnt_mass_flow) > 1.1 * float(finch.solve(rpm=3000.0).burnt_mass_flow)
    assert finch.solve(fs.Conditions(rpm=3000.0, filter_clogging=2.0)).solved.fuel is finch.fuel


def test_a_pot_has_the_temperature_that_is_given():
    system = fs.Car.named("plover").system("pot")
    run = system.solve(rpm=[1000.0, 3000.0], pot_temperatures={"pot": ["40 degC", "45 degC"]})
    assert run.temperature["pot"] == pytest.approx([313.15, 318.15])
    with pytest.raises(InputError, match="no such pot"):
        system.solve(rpm=1000.0, pot_temperatures={"pit": 320.0})


def test_a_failure_is_raised_where_that_is_asked(finch, monkeypatch):
    """A pump without supply stops the engine, which is no failure of the solution; a solution that failed is put in."""
    conditions = {"rpm": 800.0, "load": 0.0, "supply_voltage": [0.0, 13.5]}
    stopped = finch.solve(**conditions, raise_on_failure=True)
    outcome = dataclasses.replace(stopped.as_solved.outcome, code=np.array([0, int(OutcomeCode.CUT_OFF)]))
    failed = dataclasses.replace(stopped.as_solved, outcome=outcome)
    monkeypatch.setattr("fuelsim.system.run.couple", lambda *given, from_above: failed)
    with pytest.raises(fs.SolveError, match="1 of 2 operating points solved"):
        finch.solve(**conditions, raise_on_failure=True)
    assert finch.solve(**conditions).outcome.code[1] == OutcomeCode.CUT_OFF


def test_a_headline_names_car_layout_and_stations(finch):
    assert finch.headline.startswith("Finch, layout 'return', return from rail; stations tank, pump_inlet")


def test_fuel_comes_from_the_vessels_before_a_station_and_runs_over_into_the_next():
    """By hand: what is behind the regulator of the rails has passed pumps that draw from the pot."""
    car = fs.Car.named("plover")
    plumbing = car.system("pot").plumbing
    assert vessels_before(plumbing, "tank") == ("tank",)
    assert vessels_before(plumbing, "pot") == ("pot",)
    assert vessels_before(plumbing, "rail_end_outlet") == ("pot",)
    runs = [list(run) for run in car.plumbing["pot"].runs]
    runs[-1] = ["pot", "overflow", "mains_suction", "tank"]
    two = car.with_plumbing("two", runs=runs).system("two").plumbing
    assert overflow_paths(two, "pot") == (("overflow", "mains_suction"),)
