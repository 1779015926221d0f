"""The subcommands as a person types them: new, check and schema."""

from __future__ import annotations

import json
import re
import subprocess
import sys

import jsonschema
import numpy as np
import pytest

import fuelsim as fs
from fuelsim.__main__ import main
from fuelsim.data_files import data_path, read_toml
from fuelsim.studies import limits
from fuelsim.units import prefer_units

DEMO = data_path("cars", "heron.toml").read_text(encoding="utf-8")


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    yield tmp_path
    prefer_units("metric workshop")


@pytest.mark.parametrize(
    "flags",
    [
        [],
        ["--displacement", "302 in3", "--power", "300 hp", "--pump-outside", "--climate", "phoenix"],
        ["--layout", "returnless_tank", "--fuel", "e85", "--power", "120 kW"],
        ["--layout", "return", "--boost", "80 kPa", "--displacement", "2 L", "--power", "180 kW", "--cylinders", "4"],
        ["--power", "360 kW", "--displacement", "6.2 L", "--pump", "in_tank_410", "--set-pressure", "58 psi"],
        ["--displacement", "1.1 L", "--name", 'A "small" car', "--tank", "10 gal", "--pump-in-tank"],
    ],
)
def test_a_new_file_reads_back_as_a_plausible_car_that_runs(flags, capsys):
    assert main(["new", "car.toml", *flags]) == 0
    assert "fuelsim check car.toml" in capsys.readouterr().out
    car = fs.read_car("car.toml")
    assert car.injectors.count == car.engine.cylinders
    for layout in car.layouts():
        run = car.system(layout).solve(rpm=np.linspace(car.engine.idle_speed, car.engine.red_line, 5))
        assert np.all(run.outcome.converged)
        # Sized by common practice: some bypass left, and injectors below 0.95 with the hotter fuel of the rail.
        assert np.all(run.bypass_flow > 0.0)
        assert np.all(run.injector_duty < 0.95)


@pytest.mark.parametrize(
    "form",
    [
        pytest.param("twin_rails", marks=pytest.mark.long),
        "surge_pot",
        pytest.param("speed_controlled", marks=pytest.mark.long),
    ],
)
def test_a_new_file_of_another_plumbing_goes_through_every_command(form, folder, capsys):
    assert main(["new", "car.toml", "--plumbing", form, "--power", "250 kW"]) == 0
    for command in (["check", "car.toml"], ["report", "car.toml"], ["car.toml"]):
        assert main(command) == 0, capsys.readouterr().err
    said = capsys.readouterr().out
    assert f"{form}: " in said
    assert (folder / "fuelsim_handover.html").exists()


def test_help_of_new_names_the_usual_forms_of_plumbing(capsys):
    with pytest.raises(SystemExit):
        main(["new", "--help"])
    assert "surge pot" in " ".join(capsys.readouterr().out.split())


@pytest.mark.long
def test_every_command_takes_a_car_whose_plumbings_are_its_own(folder, capsys):
    plover = str(data_path("cars", "plover.toml"))
    for command in (["check", plover], ["report", plover, "--layout", "no_pot"], [plover, "--output", "out"]):
        assert main(command) == 0, capsys.readouterr().err
    header = (folder / "out" / "pot_idle.csv").read_text(encoding="utf-8").splitlines()[0].split(",")
    for name in ("left_rail_kPa_gauge", "left_rail_duty", "rail_spread_kPa", "pot_overflow_L_h", "left_pump_A"):
        assert name in header
    report = (folder / "out" / "report.html").read_text(encoding="utf-8")
    assert "The rails differ by at most" in report


def test_a_new_file_shows_every_key_and_says_what_it_knows(folder):
    main(["new", "car.toml", "--power", "300 hp", "--layout", "return", "--every-key"])
    text = (folder / "car.toml").read_text(encoding="utf-8")
    assert 'peak_power = "300 hp"' in text
    assert "\n[rail_regulator]" in text
    assert "\n# [tank_regulator]" in text
    assert "design aid" in text
    assert max(map(len, text.splitlines())) <= 120


def test_a_file_that_is_there_is_never_overwritten_without_being_told(folder, capsys):
    (folder / "car.toml").write_text("mine", encoding="utf-8")
    assert main(["new", "car.toml"]) == 2
    assert "there already" in capsys.readouterr().err
    assert (folder / "car.toml").read_text(encoding="utf-8") == "mine"
    assert main(["new", "car.toml", "--overwrite"]) == 0
    assert fs.read_car("car.toml").name == "My car"


@pytest.mark.parametrize(
    ("flags", "said"),
    [
        (["--power", "300 bhp"], "--power"),
        (["--power", "1 MPa"], "--power"),
        (["--cylinders", "four"], "--cylinders"),
        (["--layout", "retrun"], "did you mean 'return'"),
        (["--plumbing", "twin_rail"], "did you mean 'twin_rails'"),
        (["--plumbing", "twin_rails", "--layout", "return"], "--plumbing"),
        (["--pump", "in_tank_222"], "did you mean 'in_tank_220'"),
        (["--fuel", "../cars/finch"], "--fuel"),
        (["--climate", "phenix"], "did you mean 'phoenix'"),
        (["--power", "500 kW", "--displacement", "1 L"], "engine cannot take that much air"),
        (["--set-pressure", "900 kPa"], "no pump of the catalogue"),
        (["--name", "a\x1b[2J"], "control character"),
    ],
)
def test_a_wrong_flag_is_one_message_and_nothing_is_written(flags, said, folder, capsys):
    assert main(["new", "car.toml", *flags]) == 2
    message = capsys.readouterr().err
    assert said in message
    assert len(message.splitlines()) == 1
    assert message.rstrip("\n").isprintable()
    assert list(folder.iterdir()) == []


def test_check_says_what_was_understood_and_from_where(folder, capsys):
    (folder / "car.toml").write_text(
        DEMO.replace('bore = "4.93 mm"', 'catalogue = "steel_tube 1/4 in"'), encoding="utf-8"
    )
    assert main(["check", "car.toml"]) == 0
    said = capsys.readouterr().out
    lines = {" ".join(line.split()) for line in said.splitlines()}
    for line in (
        "[return_line] catalogue steel_tube 1/4 in",
        "bore catalogue 4.928 mm",
        "length file 4 m",
        "hot_flow_loss default 0.05",
        "current file 5.2 6 7 8.5 A",
        "Checked: return, returnless_tank, returnless_bay.",
    ):
        assert line in lines
    assert "- assumed: flow collapses beyond V/L 0.6, 0.3 to 1 (from memory, low confidence)" in " ".join(said.split())
    assert "the curve misses the bench rows by" in said
    counted = dict(
        re.findall(r"(\w+) (failure|warning)s?", next(line for line in lines if line.startswith("Findings: ")))
    )
    assert {severity: int(count) for count, severity in counted.items()} == {
        severity: said.count(f"\n- {severity}, ") for severity in ("failure", "warning")
    }
    assert "warning, wire: " in said
    assert max(map(len, said.splitlines())) <= 80
    assert "Cautions" in said


def test_check_shows_the_units_of_the_preferred_system(folder, capsys):
    (folder / "car.toml").write_text(DEMO, encoding="utf-8")
    assert main(["check", "car.toml", "--units", "US workshop", "--layout", "return"]) == 0
    said = capsys.readouterr().out
    assert "43.51 psi" in said
    assert "ft/s" in said
    # What is quoted of a source stays in the source's units.
    assert "kPa" not in " ".join(said.split()).replace(limits.SUCTION_DEPRESSION.note, "")
    assert "109.4 °F" in said
    assert "inlet head of 3.92 psi" in said


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["check", "none.toml"], "no such file"),
        (["check", "car.toml", "--layout", "retrun"], "did you mean 'return'"),
        (["check", "car.toml", "--units", "imperial"], "no such system of units"),
        (["check", "wrong.toml"], "wrong.toml, key 'pumpe'"),
        (["wrong.toml"], "wrong.toml, key 'pumpe'"),
    ],
)
def test_a_wrong_input_is_exit_code_2_and_one_line(arguments, said, folder, capsys):
    (folder / "car.toml").write_text(DEMO, encoding="utf-8")
    (folder / "wrong.toml").write_text(DEMO.replace("[pump]", "[pumpe]"), encoding="utf-8")
    assert main(arguments) == 2
    captured = capsys.readouterr()
    assert said in captured.err
    assert captured.out == ""
    assert len(captured.err.splitlines()) == 1


def test_the_schema_on_standard_output_accepts_the_demo_car_and_a_new_one(capsys):
    assert main(["schema"]) == 0
    schema = json.loads(capsys.readouterr().out)
    main(["new", "car.toml"])
    for path in ("car.toml", data_path("cars", "finch.toml")):
        jsonschema.Draft202012Validator(schema).validate(read_toml(path))


@pytest.mark.parametrize("arguments", [["--help"], ["new", "--help"], ["check", "--help"], ["schema", "--help"]])
def test_every_help_explains_and_cautions(arguments, capsys):
    with pytest.raises(SystemExit) as stopped:
        main(arguments)
    assert stopped.value.code == 0
    said = capsys.readouterr().out
    assert "pressure test" in said
    if arguments == ["--help"]:
        assert all(f"  {command} " in said for command in ("new", "check", "schema"))


@pytest.mark.parametrize(
    "arguments", [["check"], ["new"], ["schema", "x"], ["new", "a", "--colour", "red"], ["a.toml", "b"]]
)
def test_wrong_flags_are_one_line_and_exit_code_2(arguments, capsys):
    assert main(arguments) == 2
    said = capsys.readouterr().err
    assert "usage" in said
    assert len(said.splitlines()) == 1


def test_a_misspelt_command_is_offered_the_nearest(capsys):
    assert main(["chek", "car.toml"]) == 2
    assert "did you mean 'check'" in capsys.readouterr().err


def test_fewer_than_one_row_is_refused(capsys):
    assert main(["size", "--rows", "-3"]) == 2
    assert "--rows" in capsys.readouterr().err


@pytest.mark.parametrize("arguments", [[""], ["size", ""], ["report", ""], ["check", ""]])
def test_an_empty_name_of_a_car_file_is_not_the_demo_car(arguments, folder, capsys):
    assert main(arguments) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1
    assert not list(folder.iterdir())


def test_a_file_called_like_a_subcommand_is_still_a_car_file(folder, capsys):
    assert main(["./check"]) == 2
    assert "file check" in capsys.readouterr().err


def test_a_reader_that_stops_reading_gets_no_traceback(folder):
    (folder / "car.toml").write_text(DEMO, encoding="utf-8")
    command = f"{sys.executable} -m fuelsim schema | head -1"
    done = subprocess.run(command, shell=True, capture_output=True, text=True, timeout=60, check=False)
    assert done.stdout == "{\n"
    assert "Traceback" not in done.stderr
