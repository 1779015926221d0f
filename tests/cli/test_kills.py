"""Commands that are killed: every file there is whole, and old files never stand beside new ones."""

from __future__ import annotations

import contextlib
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from fuelsim import output_files
from fuelsim.__main__ import main
from fuelsim.cli import new, size
from fuelsim.data_files import data_path
from fuelsim.show import commissioning
from fuelsim.units import prefer_units

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals and processes of POSIX")

CAR = str(data_path("cars", "finch.toml"))
COMMANDS = {
    "compare": [CAR, "--layout", "return", "--output", "out"],
    "size": ["size", CAR, "--try", "injectors=size_200,size_250", "--output", "out"],
    "report": ["report", CAR, "--output", "out/sheet.html"],
    "new": ["new", "out/car.toml", "--overwrite"],
}
OLD = b"old\n"
STEPS = ("open", "replace", "rename", "mkdir", "chmod", "unlink")


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    yield tmp_path / "out"
    prefer_units("metric workshop")


def visible(folder):
    """Contents of the files in a folder; what a killed command had put aside is hidden."""
    if not folder.exists():
        return {}
    return {path.name: path.read_bytes() for path in folder.iterdir() if not path.name.startswith(".fuelsim-")}


def lay_out(folder, old):
    """Leave old files in a folder, and nothing else; no folder if there are none."""
    if folder.exists():
        for path in folder.iterdir():
            path.unlink()
    if old:
        folder.mkdir(exist_ok=True)
        for name in old:
            (folder / name).write_bytes(OLD)
    elif folder.exists():
        folder.rmdir()


def judge(folder, old, is_new):
    """Nothing is half written, nothing old stands beside new."""
    files = visible(folder)
    olds = {name for name, content in files.items() if content == OLD}
    assert not olds or olds == set(files)
    assert set(files) <= set(old) if olds else all(map(is_new, files.values()))


def killed_at(fatal):
    """Kill this process at the n-th of the steps of the operating system."""
    count = iter(range(1, 10_000))

    def step(work):
        def call(*arguments, **named):
            if next(count) == fatal:
                os.kill(os.getpid(), signal.SIGKILL)
            return work(*arguments, **named)

        return call

    for name in STEPS:
        setattr(os, name, step(getattr(os, name)))


@pytest.mark.parametrize("name", ["size", pytest.param("report", marks=pytest.mark.long), "new"])
def test_a_command_killed_at_any_step_of_its_writing_leaves_nothing_half_written(name, folder, monkeypatch, capsys):
    """What is computed is written again and again, by a child that is killed one step later each time."""
    written = []
    for module, function in ((size, "write_folder"), (new, "write_files"), (commissioning, "write_files")):
        work = getattr(output_files, function)
        monkeypatch.setattr(module, function, lambda *given, work=work: written.append((work, given)))
    assert main(COMMANDS[name]) == 0, capsys.readouterr().err
    (write, arguments), *others = written
    assert not others
    contents = set(arguments[-1].values())
    kills = 0
    for old in ([], sorted(Path(each).name for each in arguments[-1])):
        for fatal in range(1, 100):
            lay_out(folder, old)
            child = os.fork()
            if not child:
                killed_at(fatal)
                write(*arguments)
                os._exit(0)
            killed = os.WIFSIGNALED(os.waitpid(child, 0)[1])
            kills += killed
            judge(folder, old, contents.__contains__)
            for left in Path().glob("**/.fuelsim-*"):  # of a new folder a part may be left, under a hidden name
                for path in [left, *left.glob("*")][::-1]:
                    path.rmdir() if path.is_dir() else path.unlink()
            if not killed:
                assert set(visible(folder).values()) == contents
                break
    assert kills >= 4


@pytest.mark.long
def test_112_kills_at_random_and_as_soon_as_something_is_written(folder):
    """Real processes; every second one is killed as soon as anything changes in the folders."""
    chance = random.Random(112)
    reached = 0
    for arguments in COMMANDS.values():
        command = [sys.executable, "-m", "fuelsim", *arguments]
        lay_out(folder, [])
        started = time.monotonic()
        subprocess.run(command, capture_output=True, check=True, timeout=300)
        seconds, names = time.monotonic() - started, sorted(visible(folder))
        for number in range(28):
            for left in Path().glob("**/.fuelsim-*"):
                for path in [left, *left.glob("*")][::-1]:
                    path.rmdir() if path.is_dir() else path.unlink()
            old = names if number % 4 < 2 else []
            lay_out(folder, old)
            before = listed(folder)
            running = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            ends = time.monotonic() + (chance.uniform(0.0, 1.1 * seconds) if number % 2 else 300.0)
            while running.poll() is None and time.monotonic() < ends and (number % 2 or listed(folder) == before):
                time.sleep(1e-4)
            running.send_signal(signal.SIGKILL)
            reached += running.wait() == -signal.SIGKILL
            judge(folder, old, whole)
    assert reached >= 56


def listed(folder):
    """What a folder and the one above it hold."""
    with contextlib.suppress(FileNotFoundError):
        return sorted(os.listdir(folder.parent)), sorted(os.listdir(folder))
    return sorted(os.listdir(folder.parent)), []


def whole(content):
    """Whether a file is as a command ends it: a page, a picture, a table whose last line is complete, or a car file."""
    ends = (b"</html>", b"</html>\n", b"IEND\xaeB`\x82", b"\n")
    return content != OLD and content.endswith(ends)
