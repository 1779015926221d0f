"""The main job as a user types it, from an empty folder."""

from __future__ import annotations

import subprocess
import sys

import pytest

from fuelsim.__main__ import main
from fuelsim.data_files import data_path

DEMO = data_path("cars", "heron.toml").read_text(encoding="utf-8")
FILES = {"comparison.png", "layouts.csv", "vapour.csv", "report.html"}


def fuelsim(folder, *arguments):
    return subprocess.run(
        [sys.executable, "-m", "fuelsim", *arguments],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def test_without_arguments_the_demo_car_is_compared_and_written_to_a_named_folder(tmp_path):
    done = fuelsim(tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    for text in (
        "returnless_tank",
        "least_rail_kPa_gauge",
        "noise_margin_kPa",
        "NPSH",
        "Cautions",
        "fuelsim_heron/",
    ):
        assert text in done.stdout
    folder = tmp_path / "fuelsim_heron"
    assert {path.name for path in folder.iterdir()} >= FILES
    assert [path.name for path in tmp_path.iterdir()] == ["fuelsim_heron"]
    again = fuelsim(tmp_path, "--layout", "return", "--units", "US workshop")
    assert again.returncode == 0
    assert "psi" in again.stdout


@pytest.mark.parametrize(
    ("old", "new", "parts"),
    [
        ('bore = "4.93 mm"', 'boer = "4.93 mm"', ("car.toml", "return_line.boer", "did you mean 'bore'")),
        ('bore = "4.93 mm"', 'bore = "4.93 s"', ("car.toml", "return_line.bore", "'4.93 s'", "mm")),
        ('bore = "4.93 mm"', 'bore = "-4.93 mm"', ("car.toml", "return_line.bore", "-4.93")),
        ("[pump]", "[pumpe]", ("car.toml", "pumpe", "did you mean 'pump'")),
    ],
)
def test_a_wrong_car_file_is_one_message_exit_code_2_and_nothing_written(tmp_path, old, new, parts):
    (tmp_path / "car.toml").write_text(DEMO.replace(old, new, 1), encoding="utf-8")
    done = fuelsim(tmp_path, "car.toml")
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.strip().splitlines()) == 1
    for text in parts:
        assert text in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["car.toml"]


def test_a_missing_a_binary_and_a_file_in_place_of_the_folder_are_messages(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "binary.toml").write_bytes(bytes(range(256)))
    (tmp_path / "taken").write_text("not a folder", encoding="utf-8")
    for arguments, said in (
        (["none.toml"], "no such file"),
        (["binary.toml"], "not text"),
        (["--output", "taken"], "is a file"),
        (["--layout", "retrun"], "did you mean 'return'"),
        (["--units", "imperial"], "no such system of units"),
    ):
        assert main(arguments) == 2, arguments
        message = capsys.readouterr().err
        assert said in message
        assert len(message.strip().splitlines()) == 1
    assert (tmp_path / "taken").read_text(encoding="utf-8") == "not a folder"


def test_help_explains_and_cautions(tmp_path):
    done = fuelsim(tmp_path, "--help")
    assert done.returncode == 0
    assert "car file" in done.stdout
    assert "pressure test" in done.stdout


@pytest.mark.long
def test_what_is_compared_fits_a_terminal_of_80_columns(tmp_path):
    for units in ("metric workshop", "US workshop", "SI"):
        done = fuelsim(tmp_path, "--layout", "return", "--layout", "returnless_bay", "--units", units)
        lines = [line for line in done.stdout.splitlines() if not line.startswith("Written")]
        assert max(map(len, lines)) <= 80, max(lines, key=len)
        assert "boils in the tank itself" in " ".join(done.stdout.split())
        assert "(difference)" not in done.stdout
