"""Poor, full, closed and unread consoles: files are written first, and text is printed with replacement."""

from __future__ import annotations

import errno
import io
import os
import subprocess
import sys
from pathlib import Path

import pytest

from fuelsim.__main__ import main
from fuelsim.cli.console import say
from fuelsim.data_files import data_path
from fuelsim.units import prefer_units

FEW = ["size", "--try", "injectors=size_315,size_400", "--output", "sized"]
FILES = {"ranking.csv", "rejects.csv", "front.png"}


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    yield tmp_path
    prefer_units("metric workshop")


def names(folder):
    return {path.name for path in folder.iterdir()} if folder.exists() else set()


class Full(io.StringIO):
    """A console on a full disk."""

    def write(self, text):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def closed():
    stream = io.StringIO()
    stream.close()
    return stream


@pytest.mark.parametrize("encoding", ["cp1252", "ascii"])
def test_text_that_the_console_does_not_have_is_replaced(encoding, folder, monkeypatch):
    car = data_path("cars", "heron.toml").read_text(encoding="utf-8")
    Path("car.toml").write_text(car.replace('name = "Heron"', 'name = "Ω ≥ Ж 車"'), encoding="utf-8")
    for command in (["check", "car.toml"], ["schema"], ["new", "new.toml"]):
        with io.TextIOWrapper(io.BytesIO(), encoding=encoding) as console:
            with monkeypatch.context() as standard:
                standard.setattr(sys, "stdout", console)
                assert main(command) == 0
            printed = console.buffer.getvalue().decode(encoding)
        assert len(printed) > 50, command
    assert "new.toml" in names(folder)


def test_a_poor_console_as_a_program_of_its_own_sees_it(folder):
    car = data_path("cars", "heron.toml").read_text(encoding="utf-8")
    Path("car.toml").write_text(car.replace('name = "Heron"', 'name = "Ω 車"'), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "fuelsim", "check", "car.toml"],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": "ascii:strict"},
        timeout=60,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.startswith(b"? ?: ")


@pytest.mark.parametrize(
    ("console", "code"),
    [
        pytest.param(lambda: None, 0, id="closed from the start", marks=pytest.mark.long),
        pytest.param(Full, 1, id="full"),
        pytest.param(closed, 1, id="closed", marks=pytest.mark.long),
    ],
)
def test_a_console_that_takes_nothing_loses_no_file(console, code, folder, monkeypatch, capsys):
    with monkeypatch.context() as standard:
        standard.setattr(sys, "stdout", console())
        assert main(FEW) == code
    assert names(folder / "sized") == FILES
    message = capsys.readouterr().err
    assert ("cannot be printed" in message) == (code == 1)
    assert "Traceback" not in message


@pytest.mark.skipif(sys.platform == "win32", reason="descriptors of POSIX")
@pytest.mark.parametrize("redirected", [">&- 2>&-", "| true"])
@pytest.mark.long
def test_descriptors_closed_by_the_shell_lose_no_file(redirected, folder):
    command = f"{sys.executable} -m fuelsim {' '.join(FEW)} {redirected}"
    done = subprocess.run(["sh", "-c", command], capture_output=True, text=True, timeout=60, check=False)
    assert "Traceback" not in done.stderr
    assert "Exception" not in done.stderr
    assert done.returncode == 0
    assert names(folder / "sized") == FILES


def test_a_message_that_cannot_be_printed_is_no_other_error(monkeypatch):
    for console in (None, Full(), closed()):
        with monkeypatch.context() as standard:
            standard.setattr(sys, "stderr", console)
            assert main(["check", "none.toml"]) == 2


def test_lines_end_as_the_console_has_them(capsys):
    say("a\nb")
    assert capsys.readouterr().out == "a\nb\n"
