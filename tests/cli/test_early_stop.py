"""Ctrl-C in a command: code 130 and nothing written, or after more than 10 s what is finished, marked as a part."""

from __future__ import annotations

import csv
import signal
import sys

import pytest

from fuelsim.__main__ import main
from fuelsim.cli import early_stop
from fuelsim.data_files import data_path
from fuelsim.studies import comparison, size
from fuelsim.system.run import System
from fuelsim.units import prefer_units

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")

CAR = str(data_path("cars", "finch.toml"))
SIZE = ["size", CAR, "--try", "injectors=size_200,size_250", "--try", "pump=in_tank_130,in_tank_220"]


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    """An empty folder, and Ctrl-C as in a program of its own; test runners and shells let children ignore it."""
    monkeypatch.chdir(tmp_path)
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield tmp_path
    signal.signal(signal.SIGINT, before)
    prefer_units("metric workshop")


@pytest.fixture
def long_work(monkeypatch):
    """Any work is worth keeping."""
    monkeypatch.setattr(early_stop, "WORTH_KEEPING", -1.0)


def stop_at(call, owner, name, monkeypatch):
    """Send Ctrl-C at the n-th call of a function."""
    work, calls = getattr(owner, name), []

    def called(*arguments, **named):
        calls.append(1)
        if len(calls) == call:
            signal.raise_signal(signal.SIGINT)
        return work(*arguments, **named)

    monkeypatch.setattr(owner, name, called)


@pytest.mark.parametrize(
    ("command", "call", "where"),
    [
        ([CAR], 1, (System, "solve")),
        ([CAR], 8, (System, "solve")),
        ([CAR], 1, (comparison, "decide")),
        ([*SIZE, "--output", "sized"], 2, (System, "solve")),
        (["report", CAR], 2, (System, "solve")),
        (["check", CAR], 1, (System, "solve")),
    ],
)
def test_short_work_ends_with_130_and_writes_nothing(command, call, where, folder, monkeypatch, capsys):
    stop_at(call, *where, monkeypatch)
    assert main(command) == 130
    out, err = capsys.readouterr()
    assert out == ""
    assert err == "fuelsim: stopped by Ctrl-C\n"
    assert list(folder.iterdir()) == []


@pytest.mark.parametrize(
    ("where", "call", "words", "missing"),
    [
        ((System, "solve"), 8, "stopped early: 2 of 3 layouts", "returnless_bay_idle.csv"),
        ((comparison, "decide"), 1, "stopped early: 3 of 3 layouts, no decision", ""),
    ],
)
def test_long_work_is_written_as_far_as_it_is_finished(
    where, call, words, missing, folder, monkeypatch, capsys, long_work
):
    stop_at(call, *where, monkeypatch)
    assert main([CAR]) == 130
    out, err = capsys.readouterr()
    assert err == f"fuelsim: {words}\n"
    assert words in " ".join(out.split("\n\n")[1].split())
    assert "Decision\n- None" in out
    files = {path.name: path for path in (folder / "fuelsim_finch").iterdir()}
    assert {"comparison.png", "layouts.csv", "vapour.csv", "report.html", "return_idle.csv"} <= set(files)
    assert missing not in files
    report = files["report.html"].read_text(encoding="utf-8")
    assert words in report
    assert report.index(words) < report.index("<h2>")
    tables = [path for name, path in files.items() if name.endswith(".csv")]
    assert len(tables) >= 6
    for path in tables:
        rows = list(csv.DictReader(path.open(encoding="utf-8")))
        assert {row["stopped_early"] for row in rows} == {words}


def test_long_sizing_is_written_as_far_as_it_is_finished(folder, monkeypatch, capsys, long_work):
    monkeypatch.setattr(size, "POINTS_AT_ONCE", 1)
    stop_at(3, System, "solve", monkeypatch)
    assert main([*SIZE, "--output", "sized"]) == 130
    out, err = capsys.readouterr()
    words = "stopped early: 2 of 4 combinations"
    assert err == f"fuelsim: {words}\n"
    assert words in out.partition("\n\n")[0].replace("\n", " ")
    rows = [
        row
        for name in ("ranking.csv", "rejects.csv")
        for row in csv.DictReader((folder / "sized" / name).open(encoding="utf-8"))
    ]
    assert len(rows) == 2
    assert {row["stopped_early"] for row in rows} == {words}


def test_ctrl_c_while_long_work_is_written_waits_for_the_files(folder, monkeypatch, capsys, long_work):
    from fuelsim.cli import size as command

    stop_at(1, command, "png_bytes", monkeypatch)
    assert main([*SIZE, "--output", "sized"]) == 130
    assert {path.name for path in (folder / "sized").iterdir()} == {"ranking.csv", "rejects.csv", "front.png"}
    assert capsys.readouterr().err == "fuelsim: stopped by Ctrl-C; all files are written\n"
    assert "stopped_early" not in (folder / "sized" / "ranking.csv").read_text(encoding="utf-8")
