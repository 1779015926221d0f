"""Every subcommand: units, layout and JSON; drives, soaks, climates and questions asked backwards as they are typed."""

from __future__ import annotations

import json

import pytest

import fuelsim as fs
from fuelsim.__main__ import COMMANDS, main
from fuelsim.data_files import data_path
from fuelsim.units import prefer_units

FINCH = str(data_path("cars", "finch.toml"))
# Each with little work; left to `compare` and `report`, which other tests run, is their JSON.
TYPED = {
    "new": ["new", "car.toml"],
    "check": ["check", FINCH, "--layout", "return"],
    "size": ["size", FINCH, "--layout", "return", "--try", "injectors=size_160,size_250"],
    "schema": ["schema"],
    "drive": ["drive", FINCH, "--layout", "return", "--phase", "jam 10 min", "--climate", "madrid"],
    "soak": ["soak", FINCH, "--layout", "return", "--duration", "10 min"],
    "pulsation": ["pulsation", FINCH, "--layout", "returnless_tank", "--rpm", "3000", "--rpm", "6000"],
    "prime": ["prime", FINCH, "--layout", "return", "--lines", "empty"],
    "leak-down": ["leak-down", FINCH, "--layout", "return", "--duration", "10 min"],
    "climates": ["climates", FINCH, "--layout", "return", "--place", "london", "--no-bands"],
    "power": ["power", FINCH, "--layout", "returnless_tank"],
    "line": ["line", FINCH, "--loss", "10 kPa", "--flow", "200 L/h", "--length", "5 m"],
    "clogging": ["clogging", FINCH, "--flow", "100 L/h", "--before", "340 kPa", "--after", "320 kPa"],
    "set-pressure": ["set-pressure", FINCH, "--flow", "24 lb/h"],
    "resistance": ["resistance", "--open", "13.6 V", "--loaded", "12.6 V", "--current", "7 A"],
    "stay": ["stay", FINCH, "--layout", "return"],
    "idle": ["idle", FINCH, "--layout", "return", "--longest", "10 min", "--fill", "50 %"],
}


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    yield tmp_path
    prefer_units("metric workshop")


def test_every_subcommand_is_tried_here():
    assert set(TYPED) | {"report"} == set(COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_subcommand_has_units_layout_and_json_among_its_flags(name, capsys):
    with pytest.raises(SystemExit):
        main([name, "--help"])
    said = capsys.readouterr().out
    assert all(f"--{flag}" in said for flag in ("units", "layout", "json"))
    assert "pressure test" in said


@pytest.mark.parametrize("name", TYPED)
def test_every_subcommand_prints_json_in_the_units_asked_for(name, capsys):
    assert main([*TYPED[name], "--json", "--units", "US workshop"]) == 0
    said = json.loads(capsys.readouterr().out)
    if name != "schema":
        assert said["command"] == name
        assert said["units"] == "US workshop"
    assert "NaN" not in json.dumps(said)


@pytest.mark.parametrize(
    "name",
    ["drive", "soak", "pulsation", "prime", "leak-down", "climates", "power", "line", "stay", "idle", "clogging"],
)
def test_the_text_answers_and_cautions(name, capsys):
    assert main(TYPED[name]) == 0
    said = capsys.readouterr().out
    assert "Cautions" in said
    assert "do not show that a car is safe" in " ".join(said.split())
    answer, _, _ = said.partition("Cautions")
    assert max(map(len, answer.splitlines())) <= 100


def test_compare_and_report_print_json_beside_their_files(folder, capsys):
    assert main([FINCH, "--layout", "return", "--json", "--output", "out"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["layouts"][0]["layout"] == "return"
    assert {finding["severity"] for finding in said["findings"]["return"]} <= {"failure", "warning", "note"}
    assert (folder / "out" / "report.html").exists()
    assert main(["report", FINCH, "--layout", "return", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert all((folder / file).exists() for file in said["files"])


def test_a_drive_of_two_layouts_writes_table_and_picture_of_each(folder, capsys):
    layouts = ["--layout", "return", "--layout", "returnless_bay"]
    assert main(["drive", FINCH, *layouts, "--phase", "jam 5 min", "--output", "out"]) == 0, capsys.readouterr().err
    names = {f"{layout}_drive.{kind}" for layout in layouts[1::2] for kind in ("csv", "png")}
    assert {path.name for path in (folder / "out").iterdir()} == names
    assert capsys.readouterr().out.count("tank ends at") == 2


def test_compare_with_samples_says_how_sure_and_writes_them(folder, capsys):
    assert main([FINCH, "--layout", "return", "--output", "out", "--uncertainty", "8"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "How sure - return: 8 samples of" in said
    assert "interval of confidence" in said
    table = (folder / "out" / "uncertainty.csv").read_text()
    assert "return_met_percent" in table.splitlines()[0]
    assert "How sure" in (folder / "out" / "report.html").read_text()


@pytest.mark.long
def test_a_drive_with_samples_says_how_often_and_when(folder, capsys):
    assert (
        main(["drive", FINCH, "--layout", "return", "--phase", "jam 2 min", "--uncertainty", "8", "--output", "out"])
        == 0
    )
    said = capsys.readouterr().out
    assert "How sure: 8 samples" in said
    assert "hottest tank" in said
    assert max(map(len, said.partition("Cautions")[0].splitlines())) <= 100
    assert "at_95_percent" in (folder / "out" / "return_samples.csv").read_text().splitlines()[0]


def test_figures_of_the_command_are_those_of_python(capsys):
    main(
        ["power", FINCH, "--layout", "return", "--json", "--set-pressure", "3 bar", "--volts", "12 V", "--units", "SI"]
    )
    row = json.loads(capsys.readouterr().out)["rows"][0]
    alone = fs.power_of_pump(fs.Car.named("finch").pump, "3 bar", supply_voltage="12 V")
    assert row["e85_W"] == pytest.approx(alone.power[1, 0, 0])


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["drive", FINCH, "--phase", "jam"], "kind and time"),
        (["drive", FINCH, "--phase", "race 5 min"], "city, motorway, climb, jam, stop"),
        (["drive", FINCH, "--layout", "retrun"], "did you mean 'return'"),
        (["soak", FINCH, "--duration", "1 year"], "duration"),
        (["climates", FINCH, "--place", "phenix"], "did you mean 'phoenix'"),
        (["line", "--flow", "1 L/h", "--length", "1 m"], "--loss"),
        (["line", "--loss", "10 kPa", "--flow", "200 mol", "--length", "5 m"], "mol"),
        (["stay", FINCH, "--part", "fed"], "did you mean 'feed'"),
        (["power", "--pump", "in_tank_222"], "did you mean 'in_tank_220'"),
        (["set-presure", "x"], "did you mean 'set-pressure'"),
        (["idle", FINCH, "--units", "imperial"], "no such system of units"),
    ],
)
def test_a_wrong_flag_is_one_message_and_exit_code_2(arguments, message, folder, capsys):
    assert main(arguments) == 2
    said = capsys.readouterr()
    assert message in said.err
    assert said.out == ""
    assert len(said.err.splitlines()) == 1
    assert list(folder.iterdir()) == []
