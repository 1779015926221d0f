"""Why a sizing rejects and what to try next: every sentence held against the forward calculation of one car."""

from __future__ import annotations

import tomllib

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.car.known import Known
from fuelsim.car.read import read_table
from fuelsim.car.starter import starter_file
from fuelsim.cli.size import text
from fuelsim.outcome import OutcomeCode

TRIED = {"pump": ["in_tank_410", "brushless_turbine_300"], "injectors": ["size_1250"], "wire": ["awg_12", "awg_10"]}


@pytest.fixture(scope="module")
def turbo():
    """A boosted engine on E85 whose clogged filter costs more than the pump has on a cold morning."""
    known = Known(power="250 kW", displacement="2 L", boost="120 kPa", fuel="e85", layout="return")
    return read_table(fs.Car, tomllib.loads(starter_file(known)))


@pytest.fixture(scope="module")
def sizing(turbo):
    return fs.size(turbo, "return", TRIED, progress=False)


@pytest.fixture(scope="module")
def reasons(sizing):
    return sizing.reasons()


def test_nothing_meets_and_the_nearest_miss_comes_first(sizing):
    assert not sizing.meets.any()
    missed = [(int(sizing.unsolved[number]), len(sizing.missed(int(number)))) for number in sizing.nearest_misses]
    assert missed == sorted(missed)
    assert len(missed) == len(sizing.chosen)


def test_every_mandatory_requirement_that_the_nearest_misses_is_one_its_car_alone_misses(sizing, reasons):
    alone = fs.assess(sizing.car_of(reasons.nearest).system("return"), sizing.requirements, sizing.conditions)
    misses = {item.rule.name for item in alone.items if item.met is False and item.rule.severity is fs.Severity.FAILURE}
    assert {item.rule.name for item in reasons.misses} == misses - {"fuse_loading"}


def test_a_change_that_would_do_does_it_in_the_forward_calculation(sizing, reasons):
    car = sizing.car_of(reasons.nearest)
    for step in reasons.in_turn:
        table, name = step.change.split(" ")
        car = car.with_values({table: name})
    assert reasons.in_turn[-1].meets
    assert fs.assess(car.system("return"), sizing.requirements, sizing.conditions).met


def test_the_assumption_that_decides_is_named(sizing, reasons):
    named = {step.change: step for step in reasons.assumptions}
    clean = named["without the filter clogged 4 times"]
    points = sizing.conditions.with_values({"filter_clogging": 1.0})
    alone = fs.assess(sizing.car_of(reasons.nearest).system("return"), sizing.requirements, points)
    assert clean.meets == alone.met
    assert "at 20 °C instead of -10 °C" in named
    assert len(clean.missed) < len(reasons.misses)


def test_a_requirement_left_out_frees_those_it_rejects_alone():
    car, tried = fs.Car.named("finch"), {"injectors": ["size_160", "size_200", "size_250"]}
    sizing = fs.size(car, "return", tried, progress=False)
    counts = {each.name: each for each in sizing.reasons().rejected_by}
    without = fs.size(car, "return", tried, fs.Requirements(injector_duty=None), progress=False)
    freed = int(without.meets.sum()) - int(sizing.meets.sum())
    assert counts["injector_duty"].alone == freed > 0


def test_a_point_without_result_says_how_it_ended_and_why(turbo):
    sizing = fs.size(turbo, "return", {"pump": ["brushless_turbine_48_V"]}, progress=False)
    assert sizing.failed_requirement(0) == "engine stopped" == OutcomeCode.ENGINE_STOPPED.in_words
    assert "of the fuel it asks for" in sizing.unsolved_reason[0]
    assert "rpm" in sizing.unsolved_reason[0]
    assert sizing.rejects()["without_result"][0] == sizing.unsolved_reason[0]


def test_the_best_differ_in_kind():
    candidates = {"pump": ["in_tank_130", "in_tank_165", "in_tank_220"], "wire": ["awg_16", "awg_14", "awg_12"]}
    car = fs.Car.named("finch").with_values({"injectors": "size_250"})
    sizing = fs.size(car, "return", candidates, progress=False)
    shown = sizing.table(3)
    assert shown["pump"].is_unique
    assert shown.index.is_monotonic_increasing
    assert shown.index[0] == 1
    # Three wires of one idea are one kind: no row is added to fill the table.
    assert len(sizing.ranking) > 5
    assert sizing.table(5)["pump"].is_unique
    every = sizing.table(len(sizing.ranking))
    assert every.index.tolist() == list(range(1, len(sizing.ranking) + 1))


def test_the_text_fits_a_narrow_terminal_and_lists_the_candidates(sizing, turbo):
    filters = {"pump": ["brushless_turbine_300"], "filter": ["canister_large", "after_pump_wire_cloth"]}
    good = fs.size(turbo, "return", TRIED | filters, progress=False)
    for result in (sizing, good):
        lines = text(result).splitlines()
        assert max(map(len, lines)) <= 80
        assert "Candidates, least first" in lines
    said = " ".join(text(sizing).split())
    assert "What one change of the nearest would do" in said
    assert "without the filter clogged 4 times" in said
    assert "Best of each kind" in " ".join(text(good).split())
    assert np.any(good.meets)
