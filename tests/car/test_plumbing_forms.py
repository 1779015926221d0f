"""A car file to start from for every usual form of plumbing: it reads back, solves and is sized by common practice."""

from __future__ import annotations

import tomllib

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.car.known import Known
from fuelsim.car.layouts import layout_names
from fuelsim.car.plumbing_forms import plumbing_forms
from fuelsim.car.read import read_table
from fuelsim.car.starter import starter_file

FORMS = list(plumbing_forms())
KNOWN = [
    {},
    {"power": "250 kW", "cylinders": 8},
    {"power": "150 kW", "boost": "60 kPa", "cylinders": 5},
    {"power": "180 kW", "pump_mounting": "external", "set_pressure": "350 kPa"},
]


def starter(form: str, **known) -> fs.Car:
    return read_table(fs.Car, tomllib.loads(starter_file(Known(plumbing=form, **known))))


@pytest.mark.parametrize("known", KNOWN)
@pytest.mark.parametrize("form", FORMS)
def test_a_form_reads_back_as_a_car_that_runs_from_idle_to_red_line(form, known):
    car = starter(form, **known)
    assert form in car.plumbing
    system = car.system(form)
    run = system.solve(rpm=np.linspace(car.engine.idle_speed, car.engine.red_line, 5))
    assert np.all(run.outcome.converged)
    # Common practice: some bypass where there is a regulator, injectors below 0.95, a pot that stays full.
    assert np.all(run.bypass_flow > 0.0) == bool(system.plumbing.regulators)
    assert np.all(run.injector_duty < 0.95)
    assert all(np.all(flow > 0.0) for flow in run.pot_overflow.values())
    assert sum(rail.injectors for rail in run.by_rail.values()) == car.engine.cylinders


@pytest.mark.parametrize("form", FORMS)
def test_every_run_stands_below_its_comment(form):
    lines = starter_file(Known(plumbing=form)).splitlines()
    for run, comment in zip(plumbing_forms()[form].runs, plumbing_forms()[form].comments, strict=True):
        names = ", ".join(f'"{name}"' for name in run)
        place = lines.index(f"    [{names}],")
        assert lines[place - 1] == f"    # {comment}"
    assert max(map(len, lines)) <= 120


@pytest.mark.parametrize("form", FORMS)
def test_a_form_has_no_table_that_no_run_uses(form):
    said = [finding.statement for finding in fs.findings(starter(form).system(form))]
    assert not [statement for statement in said if "no run uses" in statement]


@pytest.mark.parametrize("layout", layout_names())
def test_a_standard_layout_is_a_plumbing_too(layout):
    assert starter_file(Known(plumbing=layout)) == starter_file(Known(layout=layout))


def test_two_rails_share_the_cylinders_as_equally_as_they_can():
    system = starter("twin_rails", cylinders=5).system("twin_rails")
    assert sorted(rail.injectors.part.count for rail in system.plumbing.planned_rails) == [2, 3]


def test_two_pumps_are_each_half_of_what_the_engine_needs():
    two, one = starter("twin_pumps", power="250 kW"), starter("twin_rails", power="250 kW")
    flows = [float(pump.at(supply_voltage=12.5).flow(300e3)) for pump in (two.pumps["left_pump"], one.pump)]
    assert flows[0] < flows[1]
    assert two.pumps["left_pump"] == two.pumps["right_pump"]


def test_a_layout_and_another_plumbing_contradict_each_other():
    with pytest.raises(fs.InputError, match="a layout and a plumbing"):
        Known(layout="return", plumbing="twin_rails")


def test_a_form_that_is_not_there_is_answered_with_the_nearest():
    with pytest.raises(fs.InputError, match="did you mean 'twin_rails'"):
        Known(plumbing="twin_rail")
