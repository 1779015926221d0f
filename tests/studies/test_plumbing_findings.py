"""Findings on several pumps, pots and rails: balances of volume, definitions and the ratings as given judge them."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.studies.measures import MEASURES

L_H = 1e-3 / 3600.0


def plover(**values):
    return fs.Car.named("plover").with_values(values)


def without(car, layout, *names):
    """Return a car with one more plumbing, from which some parts are left out."""
    runs = [[name for name in run if name not in names] for run in car.plumbing[layout].runs]
    return car.with_plumbing("changed", runs, heights=dict(car.plumbing[layout].heights)).system("changed")


def found(system, subject):
    return [finding for finding in fs.findings(system) if subject in finding.subject]


def back_flows(system):
    return {finding.subject for finding in fs.findings(system) if "no check valve" in finding.statement}


def test_pumps_side_by_side_need_a_check_valve_each():
    car = plover()
    assert back_flows(car.system("pot")) == set()
    assert back_flows(without(car, "pot", "left_check")) == {"left_pump"}
    assert back_flows(without(car, "no_pot", "left_check", "right_check")) == {"left_pump", "right_pump"}


def test_the_valve_in_a_pump_serves_as_well():
    car = plover(**{"pumps.left_pump.check_valve": True, "pumps.right_pump.check_valve": True})
    assert back_flows(without(car, "pot", "left_check", "right_check")) == set()


def test_a_lift_pump_before_a_pot_is_not_beside_the_main_pumps():
    subjects = {finding.subject for finding in fs.findings(plover().system("pot"))}
    assert subjects.isdisjoint({"lift, left_pump", "lift_strainer"})


WEAK_LIFT = {"wires.lift.other": "4 ohm"}


def test_a_pot_that_runs_dry_is_found_with_the_flow_that_would_keep_it_full():
    system = plover(**WEAK_LIFT).system("pot")
    (dry,) = found(system, "pot")
    assert dry.severity is fs.Severity.FAILURE
    run = system.solve(rpm=[6600.0])
    # Balance of volume: what the main pumps take, less what returns, is what must come from the tank.
    needed = float((run.flow["left_pump"] + run.flow["right_pump"] - run.flow["return_hose"])[0])
    seconds = 1.5e-3 / (needed - float(run.flow["lift_line"][0]))
    flow = float(dry.statement.split(" L/h are needed")[0].split()[-1])
    assert flow == pytest.approx(needed / L_H, rel=0.01)  # as of the time below
    told = float(dry.statement.removeprefix("runs dry in ").split(" s at 6600 rpm")[0])
    assert told == pytest.approx(seconds, rel=0.01)  # fuel that returns hot takes a little more room


def test_no_assessment_of_a_pot_that_runs_dry_is_met():
    assessment = fs.assess(plover(**WEAK_LIFT).system("pot"))
    assert not assessment.met
    assert any("runs dry" in finding.statement for finding in assessment.findings())


def test_a_relief_valve_of_the_lift_pump_is_not_held_against_the_set_pressure_of_the_rails():
    system = plover(**{"pumps.lift.relief_pressure": "120 kPa"}).system("pot")
    assert not [finding for finding in found(system, "lift") if "relief" in finding.statement]


def test_a_lift_line_is_rated_against_the_lift_pump_only():
    plumbing = plover().system("pot").plumbing
    rating = plumbing.under_pressure["lines.lift_line"]
    assert rating.dead_head_pressure == plumbing.link("lift").part.dead_head_pressure
    weak = plover(**{"lines.lift_line.working_pressure": "100 kPa"}).system("pot")
    (warning,) = found(weak, "lines.lift_line")
    assert warning.severity is fs.Severity.WARNING  # below what the lift pump reaches, above what is held: nothing


def test_two_percent_of_pressure_are_one_percent_of_flow():
    """An injector passes the square root of the pressure difference."""
    system = plover(**{"lines.right_feed.bore": "4 mm"}).system("dead_ended")
    (note,) = found(system, "left_rail, right_rail")
    run = system.solve(rpm=[6600.0])
    left, right = (float(run.by_rail[name].pressure_difference[0]) for name in ("left_rail", "right_rail"))
    assert f"{100.0 * (1.0 - np.sqrt(right / left)):.2g} %" in note.statement
    assert not found(plover().system("pot"), "left_rail, right_rail")


def test_suction_of_the_main_pumps_is_counted_from_the_pot():
    system = plover().system("pot")
    run = system.solve(rpm=[6600.0])
    assert float(MEASURES["suction_depression"].of(system, run)[0]) == pytest.approx(
        max(
            float((run.pressure["pot"] - run.pressure["left_pump_inlet"])[0]),
            float((run.pressure["tank"] - run.pressure["lift_inlet"])[0]),
        )
    )


def test_each_circuit_is_judged_by_its_own_fuse():
    system = plover(**{"wires.lift.fuse_rating": "5 A"}).system("pot")
    run = system.solve(rpm=[6600.0])
    own = float(run.pump_current["lift"][0]) / 5.0
    mains = max(float(run.pump_current[name][0]) for name in ("left_pump", "right_pump")) / 20.0
    assert float(MEASURES["fuse_loading"].of(system, run)[0]) == pytest.approx(max(own, mains))
    subjects = {finding.subject for finding in fs.findings(system) if "fuse" in finding.statement}
    assert subjects == ({"wires.lift"} if own > 0.8 else set()) | ({"wire"} if mains > 0.8 else set())


def test_a_table_that_no_run_uses_is_told():
    system = plover(**{"orifices.bleed": fs.Orifice(diameter="0.6 mm")}).system("pot")
    assert [finding.severity for finding in found(system, "orifices.bleed")] == [fs.Severity.NOTE]
