"""What `new` assumes where nothing is said: it is printed, stands in the file, and is plausible for the engine."""

from __future__ import annotations

import re
import tomllib

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.__main__ import main
from fuelsim.car.known import Known
from fuelsim.car.starter import starter_file
from fuelsim.parts.catalogue_parts import catalogue_names

PICK_UP = ["--power", "150 kW", "--displacement", "4.9 L", "--red-line", "4800 rpm", "--pump-outside"]
TURBO = ["--power", "250 kW", "--displacement", "2 L", "--boost", "120 kPa", "--fuel", "e85", "--red-line", "7000 rpm"]
TWIN_RAIL_V8 = ["--power", "600 hp", "--displacement", "6.2 L", "--cylinders", "8", "--plumbing", "twin_rails"]
REFUSED_BEFORE = [*TWIN_RAIL_V8, "--red-line", "7500 rpm"]
CARS = [PICK_UP, TURBO, TWIN_RAIL_V8, REFUSED_BEFORE]
HIGH = ["--power", "110 kW", "--displacement", "1.8 L", "--red-line", "7500 rpm"]


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("flags", [*CARS, HIGH, []])
def test_fuel_at_the_red_line_is_near_that_at_the_assumed_speed_of_peak_power(flags):
    assert main(["new", "car.toml", *flags]) == 0
    car = fs.read_car("car.toml")
    # Power is flat at its peak, so fuel rises only by the consumption per work, a few per cent (common practice).
    at_peak, at_red_line = (
        float(car.engine.demand(speed).fuel_mass_flow) for speed in (car.engine.peak_power_speed, car.engine.red_line)
    )
    assert 1.0 <= at_red_line / at_peak < 1.06
    layout = car.layouts()[0]
    assert "engine" not in {finding.subject for finding in fs.findings(car, layout)}


@pytest.mark.parametrize("name", catalogue_names("engines"))
def test_the_usual_share_of_the_red_line_is_that_of_the_catalogues_engines(name):
    engine = fs.Engine.named(name)
    known = Known(red_line=engine.red_line, boost=float(np.max(engine.boost_pressure)), shape=engine.shape)
    assert known.engine_power_speed == pytest.approx(engine.peak_power_speed, rel=0.05)


def test_check_objects_where_fuel_at_the_red_line_exceeds_that_at_peak_power(capsys):
    main(["new", "car.toml", *HIGH, "--power-speed", "5400 rpm"])
    assert main(["check", "car.toml", "--layout", "return"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    # The 20 % by which a 7500 rpm engine with peak power at 5400 rpm would be sized too large.
    assert re.search("warning, engine: asks for (19|20|21) % more fuel at the red line of 7500 rpm", said)


def test_the_real_cause_is_named_where_the_engine_cannot_take_the_air(capsys):
    assert main(["new", "car.toml", *REFUSED_BEFORE, "--power-speed", "5000 rpm"]) == 2
    said = capsys.readouterr().err
    assert "--power-speed" in said
    assert "at 6750 rpm, usual for this red line" in said
    # With a speed of peak power that is usual, power and displacement contradict each other.
    assert main(["new", "car.toml", "--power", "600 hp", "--displacement", "3 L", "--red-line", "7500 rpm"]) == 2
    said = capsys.readouterr().err
    assert "--power'" in said
    needed = float(re.search(r"(\d+) kPa would do", said)[1])
    main(["new", "car.toml", "--power", "600 hp", "--displacement", "3 L", "--boost", f"{needed + 30:g} kPa"])
    assert fs.read_car("car.toml").engine.peak_power == pytest.approx(fs.si("600 hp", "W"))


@pytest.mark.parametrize("flags", CARS)
def test_everything_assumed_is_printed_and_stands_at_the_head_of_the_file(flags, folder, capsys):
    main(["new", "car.toml", *flags])
    said = capsys.readouterr().out
    head = (folder / "car.toml").read_text(encoding="utf-8").partition("\n\n")[0].replace("\n# ", " ")
    for flag in ("--power-speed", "--tank-temperature", "--altitude", "--tank"):
        assert f"  {flag} " in said
        assert flag[2:].replace("-", "_") in head
    assert not [flag for flag in flags if flag.startswith("--") and f"  {flag} " in said]
    assert max(map(len, said.splitlines())) <= 90


def test_tank_temperature_altitude_and_pump_height_are_flags_and_then_not_assumed(capsys):
    flags = ["--tank-temperature", "45 degC", "--altitude", "1600 m", "--pump-height", "-0.3 m"]
    main(["new", "car.toml", *PICK_UP, *flags, "--climate", "phoenix"])
    said, car = capsys.readouterr().out, fs.read_car("car.toml")
    assert (car.surroundings.tank_temperature, car.surroundings.altitude, car.pump_height) == (318.15, 1600.0, -0.3)
    assert not [flag for flag in flags[::2] if flag in said]


@pytest.mark.parametrize("known", [{}, {"plumbing": "surge_pot"}, {"climate": "phoenix", "layout": "return"}])
def test_the_short_file_has_the_same_keys_as_the_long_one_and_names_the_others(known):
    short, long = (starter_file(Known(**known), every_key=every) for every in (False, True))
    assert tomllib.loads(short) == tomllib.loads(long)
    assert len(short.splitlines()) < 200 < 500 < len(long.splitlines())
    named = set(re.findall(r"^# (?:\[([\w.]+)\]|(\w+) = )", long, re.MULTILINE))
    missing = {table or key for table, key in named if not re.search(rf"\b{table or key}\b", short)}
    # Keys of tables that are left out are in the long file only.
    assert not missing & {"vapour_pressure", "idle_speed", "engine_temperature", "cooler", "plan"}
