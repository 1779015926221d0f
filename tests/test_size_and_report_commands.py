"""The subcommands size and report as a user types them."""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from fuelsim.__main__ import main
from fuelsim.data_files import data_path
from fuelsim.units import prefer_units

PARTS = ("pump=external_roller,external_gerotor", "suction.bore=8 mm,9.5 mm", "injectors=size_315")
FEW = [word for part in PARTS for word in ("--try", part)]


@pytest.fixture
def fuelsim(tmp_path, monkeypatch, capsys):
    """Run the command in an empty folder, in this process; return exit code, output and errors."""
    monkeypatch.chdir(tmp_path)

    def run(*arguments):
        code = main(arguments)
        return code, *capsys.readouterr()

    yield run
    prefer_units("metric workshop")


def test_size_prints_the_best_and_what_rejects_the_others_and_writes_on_request(tmp_path, fuelsim):
    code, out, err = fuelsim("size", *FEW, "--output", "sized")
    assert code == 0, err
    for text in ("combinations meet the requirements", "worst: rail_shortfall", "What rejects the others", "Cautions"):
        assert text in out
    assert {path.name for path in (tmp_path / "sized").iterdir()} == {"ranking.csv", "rejects.csv", "front.png"}


def test_report_writes_the_sheet_and_its_tables(tmp_path, fuelsim):
    flags = ["--layout", "returnless_tank", "--output", "sheet.html", "--units", "US workshop"]
    code, _, err = fuelsim("report", *flags)
    assert code == 0, err
    names = {"sheet.html", "sheet_points.csv", "sheet_commissioning.csv", "sheet_buy_list.csv"}
    assert {path.name for path in tmp_path.iterdir()} == names
    assert " psi gauge" in (tmp_path / "sheet.html").read_text(encoding="utf-8")


@pytest.mark.long
@pytest.mark.skipif(sys.platform == "win32", reason="pipes and links of POSIX")
def test_report_writes_through_a_link_and_refuses_a_pipe_and_the_car_file(tmp_path, fuelsim):
    os.mkfifo("pipe.html")
    Path("car.toml").write_bytes(data_path("cars", "heron.toml").read_bytes())
    Path("private.html").touch(mode=0o600)
    Path("link.html").symlink_to("private.html")
    for output, message in (("pipe.html", "a named pipe"), ("car.toml", "the output is the car file")):
        code, _, err = fuelsim("report", "car.toml", "--output", output)
        assert (code, message in err) == (2, True)
    assert {path.name for path in tmp_path.iterdir()} == {"pipe.html", "car.toml", "private.html", "link.html"}
    assert fuelsim("report", "car.toml", "--output", "link.html")[0] == 0
    assert Path("link.html").is_symlink()
    assert "<h1>" in Path("private.html").read_text(encoding="utf-8")
    assert stat.S_IMODE(Path("private.html").stat().st_mode) == 0o600
    assert Path("link_points.csv").exists()


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["size", "--try", "pump=in_tank_220"], "mounted in_tank"),
        (["size", "--try", "feed.bore"], "part=name,name"),
        (["size", "--layout", "retrun"], "did you mean 'return'"),
        (["report", "--layout", "retrun"], "did you mean 'return'"),
        (["report", "--output", "."], "the output is a folder"),
    ],
)
def test_a_wrong_input_is_one_message_and_nothing_written(tmp_path, fuelsim, arguments, message):
    code, _, err = fuelsim(*arguments)
    assert code == 2
    assert message in err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
def test_ctrl_c_in_a_long_sizing_prints_what_is_finished(tmp_path):
    running = subprocess.Popen(
        [sys.executable, "-c", INTERRUPTED], cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert running.stdout.readline() == "batch 0\n"
    assert running.stdout.readline() == "batch 1\n"
    running.send_signal(signal.SIGINT)
    out, err = running.communicate(timeout=60)
    assert running.returncode == 0, err
    assert "stopped early" in out
    assert "combinations meet the requirements" in out


# A shell's background job starts its children with Ctrl-C ignored; Python then leaves it so.
INTERRUPTED = """
import signal

signal.signal(signal.SIGINT, signal.default_int_handler)
import fuelsim as fs
from fuelsim.studies import size as module

solve = module._Study.solve


def slow(self, members):
    found = solve(self, members)
    print("batch", slow.times, flush=True)
    import time

    if slow.times:
        time.sleep(30)
    slow.times += 1
    return found


slow.times = 0
module._Study.solve, module.POINTS_AT_ONCE = slow, 120
bores = [f"{bore} mm" for bore in range(5, 12)]
result = fs.size(fs.Car.named("finch"), candidates={"feed.bore": bores, "return_line.bore": bores}, progress=False)
assert result.interrupted and result.finished.any() and not result.finished.all()
print(result.sentence())
print(result.table())
"""
