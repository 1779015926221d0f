"""What stands where in a layout is asked of its plumbing: every study judges the same parts by the same figures.

Expected values are those of the parts as given, of definitions, or of a part taken alone.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.damper import Damper
from fuelsim.show.commissioning import handover_html
from fuelsim.studies.measures import MEASURES


def rated(name="finch", **more):
    """Return a car whose feed and filter bear any dead-head."""
    return fs.Car.named(name).with_values(
        {"filter.working_pressure": "1500 kPa", "feed.working_pressure": "1500 kPa"} | more
    )


def with_weak_bay_line():
    car = rated()
    line = dataclasses.replace(car.feed, working_pressure=330e3, length=0.3)
    return dataclasses.replace(car, bay_line=line), "returnless_bay", "bay_line"


def with_weak_damper():
    return dataclasses.replace(rated(), damper=Damper(working_pressure="200 kPa")), "return", "damper"


def with_weak_return_line():
    """The return between regulator and pinch sees dead-head while it is pinched."""
    return rated(**{"return_line.working_pressure": "340 kPa"}), "return", "return_line"


def dead_head_step(car, layout):
    return next(step for step in fs.hand_over(car, layout).steps if step.what == "Dead-head")


@pytest.mark.parametrize("weak", [with_weak_bay_line, with_weak_damper, with_weak_return_line])
def test_dead_head_is_not_to_be_tried_with_a_part_rated_below_it(weak):
    car, layout, part = weak()
    step = dead_head_step(car, layout)
    assert "Not to be done" in step.how
    assert part.replace("_", " ") in step.how.replace("_", " ")
    assert step.predicted == ""


def test_dead_head_is_not_to_be_tried_with_a_part_whose_rating_is_not_known():
    step = dead_head_step(rated(**{"return_line.working_pressure": None}), "return")
    assert "Not to be done" in step.how
    assert "rating not known" in step.how


def test_dead_head_may_be_tried_where_every_part_is_rated_for_it():
    step = dead_head_step(rated(**{"return_line.working_pressure": "1500 kPa"}), "return")
    assert "Only if every part" in step.how
    assert step.predicted


def test_requirements_see_the_rating_of_the_damper():
    car, layout, _ = with_weak_damper()
    item = fs.assess(car.system(layout)).item("rating_over_set")
    assert item.met is False
    held = car.rail_regulator.set_pressure + float(np.max(car.engine.boost_pressure))
    assert item.worst == pytest.approx(200e3 - held)


def test_the_drop_of_the_filter_leaves_the_check_valve_out():
    bare = rated()
    valve = CheckValve(cracking_pressure="5 kPa")
    car = dataclasses.replace(bare, check_valve=valve)
    drop = {
        label: MEASURES["filter_drop"].of(system, system.solve(rpm=[3000.0]))
        for label, system in {"bare": bare.system("return"), "valve": car.system("return")}.items()
    }
    assert float(drop["valve"][0]) == pytest.approx(float(drop["bare"][0]), rel=0.05)


def test_requirements_and_findings_measure_suction_from_the_tank():
    car = fs.Car.named("heron")
    system = car.system("return")
    run = system.solve(fs.Conditions(rpm=[5000.0], vapour_space_pressure="-3 kPa"))
    measured = float(MEASURES["suction_depression"].of(system, run)[0])
    below_tank = float((run.pressure["tank"] - run.pressure["pump_inlet"])[0])
    assert measured == pytest.approx(below_tank)


def test_vapour_beyond_the_pumps_tolerance_is_an_array_by_pump_and_no_sentence():
    system = fs.Car.named("heron").system("return")
    run = system.solve(fs.Conditions(rpm=[2500.0, 2500.0], load=0.3, tank_temperature=["20 degC", "60 degC"]))
    assert run.over_vapour_limit["pump"].tolist() == [False, True]


def test_a_point_in_a_list_of_one_is_one_operating_point():
    system = fs.Car.named("finch").system("return")
    listed, single = fs.sensitivity(system, rpm=[5000]), fs.sensitivity(system, rpm=5000)
    assert listed.table().equals(single.table())


def test_the_parts_list_of_the_sheet_holds_every_part_of_the_car():
    car = rated()
    car = dataclasses.replace(car, check_valve=CheckValve(cracking_pressure="5 kPa"), damper=Damper())
    car = dataclasses.replace(car, supply=fs.Supply(), surge_pot=fs.SurgePot())
    html = handover_html(fs.hand_over(car, "return"))
    for part in ("check valve", "damper", "supply", "surge pot"):
        assert f"<td>{part}</td>" in html
