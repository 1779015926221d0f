"""Every layout goes through every study: those of the data folder, two of the tests, and plumbings of a car's own."""

from __future__ import annotations

import numpy as np
import pytest
from plumbings import every_plumbing

import fuelsim as fs
from fuelsim.car.known import Known
from fuelsim.car.layouts import Layout, layouts
from fuelsim.car.starter import starter_file
from fuelsim.show.commissioning import handover_html
from fuelsim.show.system_drawing import system_drawing
from fuelsim.studies.candidates import default_candidates

OF_TESTS = {
    "over_the_tank": Layout(
        name="over_the_tank",
        title="regulator above the tank, behind a tee",
        runs=(
            ("tank", "strainer", "anti_siphon", "suction", "pump", "check_valve", "filter", "tee", "feed", "rail"),
            ("tee", "bay_regulator", "cooler", "return_line", "tank"),
        ),
        needs=("bay_regulator", "return_line"),
    ),
    "without_regulator": Layout(
        name="without_regulator",
        title="dead-ended, without a regulator",
        runs=(("tank", "strainer", "anti_siphon", "suction", "pump", "check_valve", "filter", "feed", "rail"),),
    ),
}
NAMES = [*layouts(), *OF_TESTS]


@pytest.fixture(autouse=True)
def known_layouts(monkeypatch):
    for name, layout in OF_TESTS.items():
        monkeypatch.setitem(layouts(), name, layout)


@pytest.fixture(scope="module")
def schedule():
    car = fs.Car.named("finch")
    return fs.Schedule.of([fs.typical_phase("jam", "10 min", car)])


def fixed_points(car, layout):
    return fs.size(
        car,
        layout,
        candidates={"feed": ["steel_tube_five_sixteenths_inch"]},
        conditions=fs.Conditions(rpm=[900.0, 6000.0], load=[0.0, 1.0]),
    )


STUDIES = {
    "solve": lambda car, layout: car.system(layout).solve(rpm=[900.0, 6000.0]).table(),
    "assess": lambda car, layout: fs.assess(car.system(layout)).table(),
    "findings": lambda car, layout: [str(finding) for finding in fs.findings(car.system(layout))],
    "size": lambda car, layout: fixed_points(car, layout).sentence(),
    "candidates": default_candidates,
    "hand over": lambda car, layout: handover_html(fs.hand_over(car, layout)),
    "remedies": lambda car, layout: fs.remedies(car, layout).table(),
    "sensitivity": lambda car, layout: fs.sensitivity(car.system(layout), rpm=3000.0).table(),
    "what if": lambda car, layout: fs.what_if(car.system(layout), {"wide": {"feed.bore": "9 mm"}}).table(),
    "split": lambda car, layout: fs.split_drop(car.system(layout), car.system(layout).solve(rpm=[3000.0])).table(),
    "soak": lambda car, layout: fs.hot_soak(car, layout, duration="10 min").table(),
    "margins": lambda car, layout: fs.margin_map(car, layout, {"altitude": ["0 m", "1000 m"]}).table(),
    "drawing": lambda car, layout: system_drawing(car.system(layout), car.system(layout).solve(rpm=[3000.0])),
    "starter": lambda car, layout: starter_file(Known(power="90 kW")),
}


@pytest.mark.parametrize("study", STUDIES)
@pytest.mark.parametrize("layout", NAMES)
@pytest.mark.parametrize("name", ["finch", "heron"])
def test_every_layout_goes_through_every_study(name, layout, study):
    result = STUDIES[study](fs.Car.named(name), layout)
    assert len(result)


PLUMBINGS = every_plumbing()
# Starters know no runs of one's own; hot soaks are tested beside the transients.
OF_PLUMBINGS = {name: study for name, study in STUDIES.items() if name not in ("starter", "soak")} | {
    "size": lambda car, layout: few_injectors(car, layout).table(),
    "what if": lambda car, layout: fs.what_if(car.system(layout), {"worn": {"pump_wear": "10 %"}}).table(),
}


def few_injectors(car, layout):
    return fs.size(
        car,
        layout,
        candidates={"injectors": ["size_400", "size_500"], "wires": ["awg_10"]},
        conditions=fs.Conditions(rpm=[900.0, 6000.0], load=[0.0, 1.0]),
        progress=False,
    )


@pytest.mark.parametrize("study", OF_PLUMBINGS)
@pytest.mark.parametrize("plumbing", PLUMBINGS)
def test_every_plumbing_of_a_cars_own_goes_through_every_study(plumbing, study):
    result = OF_PLUMBINGS[study](PLUMBINGS[plumbing], plumbing)
    assert result is not None


@pytest.mark.parametrize("layout", NAMES)
def test_every_layout_goes_on_a_drive(layout, schedule):
    result = fs.drive(fs.Car.named("finch"), layout, schedule)
    assert result.layout == layout
    assert np.all(np.isfinite(result.tank_temperature))


def test_every_layout_of_a_car_is_compared():
    result = fs.compare(fs.Car.named("finch"))
    assert list(result.layouts) == NAMES
    assert len(result.sentences()) == len(NAMES)
    assert result.plot()


def test_without_a_regulator_nothing_is_bypassed_and_the_rail_stands_at_what_the_pump_gives():
    system = fs.Car.named("finch").system("without_regulator")
    run = system.solve(rpm=[900.0], load=0.0)
    assert run.bypass_flow.tolist() == [0.0]
    assert run.rail_pressure_band.tolist() == [0.0]
    assert system.plumbing.regulator is None
    # At idle the pump is nearly at its dead-head.
    assert float(run.gauge_pressure["rail"][0]) == pytest.approx(system.plumbing.dead_head_pressure, rel=0.05)


def test_a_layout_says_what_stands_under_pressure_and_what_only_when_its_return_is_blocked():
    plumbing = fs.Car.named("finch").system("over_the_tank").plumbing
    rated = {table: rating.always for table, rating in plumbing.under_pressure.items()}
    assert rated == {"filter": True, "feed": True, "return_line": False}


def test_a_run_may_begin_at_a_rail(monkeypatch):
    runs = (
        ("tank", "strainer", "suction", "pump", "filter", "feed", "rail"),
        ("rail", "rail_regulator", "return_line", "tank"),
    )
    in_two = Layout("in_two", "return in two runs", runs, ("rail_regulator", "return_line"), injectors_at_rail_end=True)
    monkeypatch.setitem(layouts(), "in_two", in_two)
    car, rpm = fs.Car.named("finch"), [900.0, 6000.0]
    one, two = (car.system(name).solve(rpm=rpm).gauge_pressure["rail"] for name in ("return", "in_two"))
    assert two == pytest.approx(one, abs=2.0)  # the stop rule of the solver is 1 Pa


def test_layouts_are_compared_in_the_order_of_their_file():
    assert fs.Car.named("finch").layouts() == NAMES
