"""What is objected to in a car whose pump is controlled or staged, and that studies know what holds its pressure."""

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.studies.checks import everyday_run
from fuelsim.studies.delivery_findings import pump_control_out_of_range, staged_pump_that_cycles
from fuelsim.studies.measures import MEASURES
from fuelsim.studies.rating_findings import ratings_below_set_pressure, set_pressure_above_dead_head
from fuelsim.system.conditions import Conditions

RUNS = [["tank", "strainer", "pump", "filter", "feed", "rail"]]


def held(values=None, **control):
    values = {"pump_control": fs.PumpControl(**{"set_pressure": "400 kPa", **control}), **(values or {})}
    return fs.Car.named("finch").with_values(values).with_plumbing("held", RUNS).system("held")


def test_a_controlled_pump_that_holds_its_pressure_everywhere_is_no_finding():
    system = held()
    assert pump_control_out_of_range(system, everyday_run(system)) == []


def test_a_pump_at_its_greatest_or_least_share_is_a_finding():
    weak = held(most_share="40 %")
    (found,) = pump_control_out_of_range(weak, everyday_run(weak))
    assert (found.severity, found.subject) == (fs.Severity.FAILURE, "pump")
    assert "greatest share" in str(found)
    lively = held(least_share="90 %")
    (found,) = pump_control_out_of_range(lively, everyday_run(lively))
    assert (found.severity, found.subject) == (fs.Severity.WARNING, "pump")


def test_a_part_rated_below_the_pressure_that_a_controller_holds_fails():
    system = held({"feed.working_pressure": "350 kPa"})
    (found,) = ratings_below_set_pressure(system, everyday_run(system))
    assert "below the set pressure of 400 kPa" in str(found)


def test_a_set_pressure_beyond_the_pumps_dead_head_is_found_of_a_controller_too():
    system = held(set_pressure="1500 kPa")
    (found,) = set_pressure_above_dead_head(system, everyday_run(system))
    assert "the set pressure of 1500 kPa is not reached" in str(found)


def test_a_staged_pump_that_switches_on_and_off_in_turn_is_a_finding():
    parts = {
        "pumps.second": fs.Pump.named("in_tank_220"),
        "check_valves.first_check": fs.CheckValve(),
        "check_valves.second_check": fs.CheckValve(),
    }
    runs = [
        ["tank", "strainer", "pump", "first_check", "tee"],
        ["tank", "second", "second_check", "tee"],
        ["tee", "filter", "feed", "rail", "rail_regulator", "return_line", "tank"],
    ]
    car = fs.Car.named("finch").with_values(parts).with_plumbing("two", runs)
    conditions = Conditions(rpm=5000.0, load=np.linspace(0.0, 1.0, 21))
    for off, count in (("301 kPa", 1), ("330 kPa", 0)):
        stage = fs.PumpStage(pressure_on="300 kPa", pressure_off=off)
        system = car.with_values({"pump_stages.second": stage}).system("two")
        assert len(staged_pump_that_cycles(system, system.solve(conditions))) == count


def test_studies_take_the_controllers_set_pressure_for_that_of_the_rail():
    system = held(droop="0.1 kPa h/L")
    (holder,) = system.plumbing.holders
    assert (holder.table, holder.set_pressure, holder.sees_manifold) == ("pump_control", 400e3, False)
    run = everyday_run(system)
    shortfall = MEASURES["rail_shortfall"].of(system, run)
    assert shortfall == pytest.approx(1.0 - run.gauge_pressure["rail"] / 400e3)
    assert {"pump_control.set_pressure", "pump_control.droop"} <= set(fs.sensitivity(system, rpm=5000.0).inputs)
