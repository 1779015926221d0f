"""Ctrl-C: studies hand over what is finished and say so, and no study takes a part of another for the whole."""

from __future__ import annotations

import ast
import inspect
import signal
import sys
from pathlib import Path

import pytest

import fuelsim as fs
from fuelsim.interruption import Interruptible, Interruption, interruption_held, interruption_noted, run_steps, whole
from fuelsim.ripple import remedies
from fuelsim.ripple import study as ripple_study
from fuelsim.system.run import System
from fuelsim.transients.schedule import Schedule, typical_phase
from fuelsim.transients.shut_in_fuel import ShutInFuel
from fuelsim.transients.tank_equations import TankEquations

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")


@pytest.fixture(autouse=True)
def ctrl_c():
    """Ctrl-C as in a program of its own; test runners and shells let children ignore it."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.fixture(scope="module")
def finch():
    return fs.Car.named("finch")


def jam(car):
    return Schedule.of([typical_phase("jam", "30 min", car)])


# A small case of every study that can be stopped, and what is called often while it runs.
STUDIES = {
    "compare": (lambda car: fs.compare(car, rpm=[1000], tank_temperature=["30 degC"]), (System, "solve")),
    "size": (
        lambda car: fs.size(
            car, candidates={"injectors": ["size_200", "size_250"], "pump": ["in_tank_130", "in_tank_220"]}
        ),
        (System, "solve"),
    ),
    "sensitivity": (
        lambda car: fs.sensitivity(
            car.system("return"), inputs={"feed.bore": ("5 mm", "7 mm"), "pump_wear": (0.0, 0.1)}, rpm=6000
        ),
        (System, "solve"),
    ),
    "what_if": (
        lambda car: fs.what_if(
            car.system("return"), {"worn": {"pump_wear": 0.1}, "narrow": {"feed.bore": "5 mm"}}, rpm=6000
        ),
        (System, "solve"),
    ),
    "remedies": (lambda car: fs.remedies(car, "return"), (System, "solve")),
    "margin_map": (
        lambda car: fs.margin_map(car, "return", {"altitude": [0.0, 1000.0, 2000.0]}),
        (System, "solve"),
    ),
    "drive": (lambda car: fs.drive(car, "return", jam(car), output_step="1 min"), (TankEquations, "rates")),
    "longest_idle": (
        lambda car: fs.longest_idle(car, "return", "30 degC", fill=["25 %", "75 %"], longest="30 min"),
        (TankEquations, "rates"),
    ),
    "over_climates": (
        lambda car: fs.over_climates([car], ["london", "paris"], ["return"], bands=False, wrong_fuel=False),
        (System, "solve"),
    ),
    "uncertainty": (
        lambda car: fs.uncertainty(
            car, "return", {"feed.bore": ("5 mm", "7 mm")}, rpm=list(range(800, 6000, 8)), samples=64
        ),
        (System, "solve"),
    ),
    "pulsation": (
        lambda car: fs.pulsation(car, "returnless_tank", rpm=[5000, 6000]),
        (ripple_study, "measure"),
    ),
    "ripple_remedies": (
        lambda car: fs.ripple_remedies(car, "returnless_tank", rpm=[3000]),
        (remedies, "car_waves"),
    ),
    "hot_soak": (
        lambda car: fs.hot_soak(car, "return", duration="30 min", output_step="1 min"),
        (ShutInFuel, "warming_rates"),
    ),
}
# Calls after which something is finished, and something is not.
MIDDLE = {
    "longest_idle": 300,
    "uncertainty": 3,
    "over_climates": 8,
    "remedies": 8,
    "margin_map": 2,
    "what_if": 3,
    "sensitivity": 4,
    "compare": 5,
    "size": 2,
    "hot_soak": 150,
    "pulsation": 2,
    "ripple_remedies": 3,
    "drive": 150,
}


def stop_at(call, owner, name, monkeypatch):
    """Send Ctrl-C at the n-th call of a method."""
    work, calls = getattr(owner, name), []

    def called(self, *arguments, **named):
        calls.append(1)
        if len(calls) == call:
            signal.raise_signal(signal.SIGINT)
        return work(self, *arguments, **named)

    monkeypatch.setattr(owner, name, called)
    return calls


def test_every_public_study_whose_result_can_be_a_part_is_tried_here():
    studies = set()
    for name in fs.__all__:
        function = getattr(fs, name)
        if inspect.isfunction(function):
            result = vars(sys.modules[function.__module__]).get(function.__annotations__["return"])
            if inspect.isclass(result) and issubclass(result, Interruptible):
                studies.add(name)
    assert studies == set(STUDIES)


@pytest.mark.parametrize("name", STUDIES)
def test_a_study_hands_over_what_is_finished_and_says_so_in_its_table(name, finch, monkeypatch):
    from fuelsim.studies import margins, size

    monkeypatch.setattr(size, "POINTS_AT_ONCE", 1)
    monkeypatch.setattr(margins, "POINTS_AT_ONCE", 1)
    monkeypatch.setattr(ripple_study, "POINTS_AT_ONCE", 1)
    study, often = STUDIES[name]
    calls = stop_at(MIDDLE.get(name, 40), *often, monkeypatch)
    result = study(finch)
    assert result.interrupted, len(calls)
    assert 0 < result.completion.finished < result.completion.planned
    table = result.table()
    assert set(table["stopped_early"]) <= {str(result.completion)}
    assert str(result.completion).startswith("stopped early: ")
    assert f"{result.completion.finished:.4g} of {result.completion.planned:.4g}" in str(result.completion)
    with pytest.raises(KeyboardInterrupt):
        whole(result)


@pytest.mark.parametrize("name", STUDIES)
def test_a_study_stopped_before_anything_is_finished_ends_or_has_an_empty_table(name, finch, monkeypatch):
    study, often = STUDIES[name]
    stop_at(1, *often, monkeypatch)
    try:
        result = study(finch)
    except KeyboardInterrupt:
        return
    assert result.interrupted
    assert len(result.table()) == 0
    assert "stopped_early" in result.table()
    assert "stopped early: 0 of 4 combinations" in result.sentence()
    assert result.rejects().empty
    assert result.plot().axes


@pytest.mark.parametrize("name", ["what_if", "hot_soak"])
def test_a_study_that_runs_to_its_end_has_no_such_column(name, finch):
    result = STUDIES[name][0](finch)
    assert not result.interrupted
    assert "stopped_early" not in result.table()


def test_what_is_finished_is_as_in_the_whole_study(finch, monkeypatch):
    whole_soak = STUDIES["hot_soak"][0](finch)
    whole_map = STUDIES["margin_map"][0](finch)
    whole_drive = STUDIES["drive"][0](finch)
    stop_at(150, ShutInFuel, "warming_rates", monkeypatch)
    soak = STUDIES["hot_soak"][0](finch)
    times = len(soak.time)
    assert 0 < times < len(whole_soak.time)
    assert soak.rail_temperature == pytest.approx(whole_soak.rail_temperature[:times], abs=1e-6)
    stop_at(150, TankEquations, "rates", monkeypatch)
    driven = STUDIES["drive"][0](finch)
    times = len(driven.time)
    assert 1 < times < len(whole_drive.time)
    assert driven.tank_temperature == pytest.approx(whole_drive.tank_temperature[:times], abs=1e-3)
    from fuelsim.studies import margins

    monkeypatch.setattr(margins, "POINTS_AT_ONCE", 1)
    monkeypatch.setattr(ripple_study, "POINTS_AT_ONCE", 1)
    stop_at(3, System, "solve", monkeypatch)
    part = STUDIES["margin_map"][0](finch)
    assert part.axes["altitude"].tolist() == [0.0, 1000.0]
    assert part.limit["rail"] == pytest.approx(whole_map.limit["rail"][:2], abs=1e-3)


def test_a_map_over_two_axes_is_the_same_in_parts(finch, monkeypatch):
    from fuelsim.studies import margins

    axes = {"altitude": [0.0, 1e3], "vapour_pressure": [5e4, 7e4]}
    at_once = fs.margin_map(finch, "return", axes)
    monkeypatch.setattr(margins, "POINTS_AT_ONCE", 1)
    monkeypatch.setattr(ripple_study, "POINTS_AT_ONCE", 1)
    in_parts = fs.margin_map(finch, "return", axes)
    turned = fs.margin_map(finch, "return", dict(reversed(axes.items())))
    for station, limit in at_once.limit.items():
        assert in_parts.limit[station] == pytest.approx(limit, abs=1e-3, nan_ok=True)
        assert turned.limit[station] == pytest.approx(limit.T, abs=1e-3, nan_ok=True)


def test_the_first_ctrl_c_is_noted_and_the_second_one_ends_the_work():
    done = []

    def work():
        with interruption_noted() as interruption:
            signal.raise_signal(signal.SIGINT)
            done.append(interruption.came)
            signal.raise_signal(signal.SIGINT)
            done.append("never")

    with pytest.raises(KeyboardInterrupt):
        work()
    assert done == [True]
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_what_is_held_is_finished_before_ctrl_c_takes_effect():
    done = []

    def work():
        with interruption_held():
            signal.raise_signal(signal.SIGINT)
            signal.raise_signal(signal.SIGINT)
            done.append("finished")

    with pytest.raises(KeyboardInterrupt):
        work()
    assert done == ["finished"]
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_steps_count_what_is_finished():
    def work(step):
        if step == 2:
            raise KeyboardInterrupt
        return step

    results, completion = run_steps([0, 1, 2, 3], work, doing="steps", of="steps", progress=False)
    assert results == [0, 1]
    assert str(completion) == "stopped early: 2 of 4 steps"
    assert Interruption().came is False


def test_no_study_takes_a_part_of_another_for_the_whole():
    """Inside the package a study that can be stopped is called through `whole`; commands look at `interrupted`."""
    package = Path(fs.__file__).parent
    for path in sorted(package.rglob("*.py")):
        if path.parent.name == "cli":
            continue
        tree = ast.parse(path.read_text("utf-8"))
        guarded = {
            id(argument)
            for call in ast.walk(tree)
            if isinstance(call, ast.Call) and getattr(call.func, "id", "") == "whole"
            for argument in call.args
        }
        for call in ast.walk(tree):
            if isinstance(call, ast.Call) and getattr(call.func, "id", "") in STUDIES:
                assert id(call) in guarded, f"{path}:{call.lineno}"
