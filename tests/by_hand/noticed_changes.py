"""Changes of the code that no test notices: ``nice python tests/by_hand/noticed_changes.py --changes 200 --seed 1``.

Operators, comparisons and signs, or numbers by 10 % (``--kind number``), are changed one at a time, drawn by seed, in a
temporary copy of the project. For each change the tests of the rooms it belongs to run, those that enter the changed
function first and the quickest of them foremost, until one fails. What none of them notices is printed.

Before the first change all those tests run once and note which functions each enters; ``--map FILE`` keeps that for the
next run. Changes that can alter no result are listed with the reason in ``equivalent_changes.toml`` and counted apart,
as are ranges, tolerances and settings of the solver.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import importlib
import itertools
import json
import math
import os
import re
import resource
import shutil
import signal
import sys
import tempfile
import time
import tomllib
from collections import Counter
from pathlib import Path
from typing import NamedTuple

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from recorder import Ordered, Recorder
from source_changes import (
    KINDS,
    Change,
    assigned_at,
    changed,
    changes_of,
    drawn,
    functions_reading,
    names_made_of,
    one_per_line,
    readers_of,
)

HERE = Path(__file__).resolve().parent
ROOMS = ("numerics", "laws", "network", "parts", "system", "transients")
PROJECT = HERE.parents[1]
_COPIED = ("fuelsim", "tests", "data", "notebooks", "pyproject.toml", "README.md", "DEVELOPERS.md")
_FIRST_TESTS = 25
"""Tests of the first round: the quickest of those that enter the changed function."""


_MOST_MEMORY = 6 << 30
"""Memory that a child process may take, bytes: a change may ask for any size of array."""
_WAIT = 20.0
"""Longest wait for a child process, over the processor time it may take."""


class Known(NamedTuple):
    """What the tests do without any change: functions that each enters, seconds it takes, modules that all load first,
    the checksums of the files they stand in, and which were seen to pass without any change."""

    entered: dict[str, list[str]]
    seconds: dict[str, float]
    loaded: list[str]
    files: dict[str, str]
    sound: set[str]


class Answer(NamedTuple):
    """What the tests said to one change: whether one failed, which, and the time taken, s."""

    noticed: bool
    by: str
    seconds: float


def copied(folder: Path) -> Path:
    """Copy the project into a folder, without what was compiled, and return the package's folder there."""
    for name in _COPIED:
        source = PROJECT / name
        if source.is_dir():
            shutil.copytree(source, folder / name, ignore=shutil.ignore_patterns("__pycache__", ".hypothesis"))
        elif source.exists():
            shutil.copy2(source, folder / name)
    return folder / "fuelsim"


def folders_tested(rooms: tuple[str, ...]) -> list[str]:
    """Return the folders whose tests and examples are run."""
    return [*(f"tests/{room}" for room in rooms), *(f"fuelsim/{room}" for room in rooms)]


def run_in_child(folder: Path, arguments: list[str], plugin: Ordered | Recorder, limit: float, out: Path) -> int:
    """Run pytest in a child process that has the copy's package; return its exit code, -1 beyond a processor time."""
    pid = os.fork()
    if pid == 0:
        code = 99
        with contextlib.suppress(BaseException):
            os.chdir(folder)
            os.setpgid(0, 0)
            sys.path[:0] = [str(folder)]
            null = os.open(os.devnull, os.O_WRONLY)
            os.dup2(null, 1)
            os.dup2(null, 2)

            def hung(number: int, frame: object) -> None:
                out.write_text(f"{plugin.running} (does not end)" if isinstance(plugin, Ordered) else "")
                os._exit(1)

            signal.signal(signal.SIGPROF, hung)
            resource.setrlimit(resource.RLIMIT_CPU, (math.ceil(max(limit, 1.0)),) * 2)
            resource.setrlimit(resource.RLIMIT_AS, (_MOST_MEMORY, _MOST_MEMORY))
            sys.dont_write_bytecode = isinstance(plugin, Ordered)
            common = ["-q", "-p", "no:cacheprovider", "--hypothesis-seed=0", "--no-header", "--tb=no"]
            code = int(pytest.main([*common, *arguments], plugins=[plugin]))
            if isinstance(plugin, Recorder):
                plugin.written(out)
            else:
                out.write_text(plugin.failed)
        os._exit(code)
    end, status, done = time.monotonic() + _WAIT * limit, 0, 0
    try:
        while not done and time.monotonic() < end:
            done, status = os.waitpid(pid, os.WNOHANG)
            time.sleep(0.0 if done else 0.05)
    finally:
        if not done:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(pid, signal.SIGKILL)
            os.waitpid(pid, 0)
    code = os.waitstatus_to_exitcode(status) if done else -1
    return -1 if code in (-signal.SIGXCPU, -signal.SIGKILL) else code


def known_of(folder: Path, rooms: tuple[str, ...], kept: Path | None) -> Known:
    """Return what each test enters; of tests that an earlier run's file holds, that is read there."""
    prints = {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for place in folders_tested(rooms)
        for path in sorted((folder / place).rglob("*.py"))
        if place.startswith("fuelsim/") or path.name.startswith("test_")
    }
    known = Known({}, {}, [], {}, set())
    if kept is not None and kept.exists():
        known = Known(**json.loads(kept.read_text()), sound=set())
        for table in (known.entered, known.seconds):
            for test in [test for test in table if test.partition("::")[0] not in prints]:
                del table[test]
    fresh = [path for path, value in prints.items() if known.files.get(path) != value]
    if fresh:
        out = folder / "known.json"
        places = fresh if known.files else folders_tested(rooms)
        code = run_in_child(folder, places, Recorder(folder / "fuelsim", known.seconds), 7200.0, out)
        if code not in (0, 5):
            raise SystemExit(f"the tests fail without any change (exit code {code})")
        again = json.loads(out.read_text())
        loaded = sorted({*known.loaded, *again["loaded"]})
        known = Known(known.entered | again["entered"], known.seconds | again["seconds"], loaded, prints, set())
        if kept is not None:
            kept.write_text(json.dumps({key: value for key, value in known._asdict().items() if key != "sound"}))
    # What is compiled here need not be compiled for each change.
    unused = folder / "unused.json"
    run_in_child(folder, ["--collect-only", *folders_tested(rooms)], Recorder(folder / "fuelsim"), 600.0, unused)
    return known


def order_of(change: Change, folder: Path, known: Known) -> list[str]:
    """Return the tests that enter what a change bears on: those of the module by name first, then by time taken."""
    package = folder / "fuelsim"
    source = (package / change.path).read_text(encoding="utf-8")
    functions = {f"{change.path}:{name}" for name in readers_of(source, change.line)}
    naming: set[str] = set()
    if not functions:
        # A constant, a rating or a default is read by functions, here or in other modules, or by tests themselves.
        names = names_made_of(source, assigned_at(source, change.line))
        words = re.compile(rf"\b({'|'.join(map(re.escape, sorted(names)))})\b") if names else None
        for path in sorted(package.rglob("*.py")) if words else ():
            text = path.read_text(encoding="utf-8")
            if words.search(text):
                own = path.relative_to(package).as_posix()
                functions |= {f"{own}:{name}" for name in functions_reading(text, names)}
        files = {test.partition("::")[0] for test in known.seconds}
        naming = {file for file in files if words and words.search((folder / file).read_text(encoding="utf-8"))}
    stem = Path(change.path).stem
    entering = [
        test
        for test, entered in known.entered.items()
        if functions.intersection(entered) or test.partition("::")[0] in naming
    ]

    def rank(test: str) -> tuple[bool, float]:
        file = test.partition("::")[0]
        return stem not in file and file not in naming, known.seconds[test]

    return sorted(entering, key=rank)


def by_file(order: list[str], known: Known, room: str) -> list[str]:
    """Return tests file by file, so that fixtures are made once: the changed room's first, quick ones foremost."""
    seconds: Counter[str] = Counter()
    for test in order:
        seconds[test.partition("::")[0]] += known.seconds[test]
    files = sorted(seconds, key=lambda file: (file.split("/")[1] != room, seconds[file]))
    rank = {file: number for number, file in enumerate(files)}
    return sorted(order, key=lambda test: (rank[test.partition("::")[0]], known.seconds[test]))


def within_budget(order: list[str], known: Known, budget: float) -> list[str]:
    """Return the first tests that together take at most a time, s; the very first in any case."""
    ends = itertools.accumulate(known.seconds[test] for test in order)
    return [test for number, (test, end) in enumerate(zip(order, ends, strict=True)) if number == 0 or end <= budget]


def judged(change: Change, folder: Path, known: Known, limit: float, budget: float = math.inf) -> Answer:
    """Make a change in the copy, run the tests until one fails, undo it, and return what they said.

    A test that fails without the change too says nothing: it is left out from then on. With a budget of time, s, only
    the first tests within it run.
    """
    start = time.monotonic()
    while True:
        answer = _tested_with(change, folder, known, limit, budget)
        test = answer.by
        if not answer.noticed or test not in known.seconds or test in known.sound:
            return answer._replace(seconds=time.monotonic() - start)
        out = folder / "failed.txt"
        if run_in_child(folder, [test.partition("::")[0]], Ordered({test: 0}, known.seconds, True), limit, out) == 0:
            known.sound.add(test)
            return answer._replace(seconds=time.monotonic() - start)
        print(f"     fails without any change: {test}", flush=True)
        del known.entered[test], known.seconds[test]


def _tested_with(change: Change, folder: Path, known: Known, limit: float, budget: float) -> Answer:
    """Return what the tests say to a change, which is undone afterwards."""
    path = folder / "fuelsim" / change.path
    source = path.read_text(encoding="utf-8")
    order = within_budget(order_of(change, folder, known), known, budget)
    later = by_file(order, known, change.path.partition("/")[0])
    files = list(dict.fromkeys(test.partition("::")[0] for test in later))
    rank = {test: number for number, test in enumerate(later)}
    first = {test: number for number, test in enumerate(order[:_FIRST_TESTS])}
    first_files = [file for file in files if any(test.startswith(f"{file}::") for test in first)]
    path.write_text(changed(source, change), encoding="utf-8")
    for compiled in (path.parent / "__pycache__").glob(f"{path.stem}.*"):
        compiled.unlink()
    out = folder / "failed.txt"
    try:
        for wanted, only, ranks in ((first_files, True, first), (files, False, rank)):
            if not wanted:
                continue
            out.write_text("")
            code = run_in_child(folder, ["-x", *wanted], Ordered(ranks, known.seconds, only), limit, out)
            if code == -1:
                return Answer(False, "out of time", 0.0)
            if code not in (0, 5):
                return Answer(True, out.read_text() or f"exit code {code}", 0.0)
    finally:
        path.write_text(source, encoding="utf-8")
    return Answer(False, f"{len(order)} tests enter it", 0.0)


def reasons() -> dict[str, str]:
    """Return why a change can alter no result, by the change's key or by what its key begins with and a star."""
    table = tomllib.loads((HERE / "equivalent_changes.toml").read_text(encoding="utf-8"))
    return {key: entry["reason"] for entry in table["change"] for key in entry["changes"]}


def reason_of(change: Change, known: dict[str, str]) -> str:
    """Return why a change can alter no result; nothing where it can."""
    for key in (change.key, f"{change.kind} {change.key}"):
        for listed, reason in known.items():
            if key == listed or (listed.endswith("*") and key.startswith(listed[:-1])):
                return reason
    return ""


def main() -> None:
    """Draw changes, run the tests for each, and print those that none noticed."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--kind", choices=KINDS, default="operator")
    parser.add_argument("--changes", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--rooms", nargs="+", choices=ROOMS, default=ROOMS)
    parser.add_argument("--only", default="", help="change only lines whose key holds this text")
    parser.add_argument("--first", type=int, default=1, help="number of the first change that is made")
    parser.add_argument("--limit", type=float, default=900.0, help="processor time of one run of tests, s")
    parser.add_argument("--one-per-line", action="store_true", help="with --only: one change of each line, by seed")
    parser.add_argument("--budget", type=float, default=math.inf, help="tests of this time in all per change, s")
    parser.add_argument("--map", type=Path, help="file that keeps which functions each test enters")
    given = parser.parse_args()
    # Children are forked, which threads of a linear algebra library would not survive.
    os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1")

    equivalent = reasons()
    counts: Counter[str] = Counter()
    left: list[tuple[Change, Answer]] = []
    with tempfile.TemporaryDirectory(prefix="changed-code-") as name:
        folder = Path(name)
        package = copied(folder)
        known = known_of(folder, ROOMS, given.map)
        for module in known.loaded:
            with contextlib.suppress(Exception):
                importlib.import_module(module)
        if given.only:
            found = [
                change
                for room in given.rooms
                for path in sorted((package / room).rglob("*.py"))
                for change in changes_of(path.read_text(encoding="utf-8"), path.relative_to(package).as_posix())
                if given.only in change.key and change.kind == given.kind
            ]
            if given.one_per_line:
                found = one_per_line(found, given.seed)
        else:
            found = drawn(package, given.rooms, given.kind, given.changes, given.seed)
        for number, change in enumerate(found[given.first - 1 :], given.first):
            apart = change.apart or reason_of(change, equivalent)
            if apart:
                counts["apart"] += 1
                print(f"{number:4d} apart     {change.key}\n              {apart}", flush=True)
                continue
            answer = judged(change, folder, known, given.limit, given.budget)
            counts["noticed" if answer.noticed else "not noticed"] += 1
            if not answer.noticed:
                left.append((change, answer))
            word = "noticed  " if answer.noticed else "SURVIVED "
            print(f"{number:4d} {word} {change.key}\n              {answer.seconds:.0f} s, {answer.by}", flush=True)
    judged_changes = counts["noticed"] + counts["not noticed"]
    print(
        f"\n{sum(counts.values())} changes of the kind '{given.kind}', seed {given.seed}: {counts['apart']} apart; of "
        f"{judged_changes} others {counts['noticed']} noticed ({counts['noticed'] / max(judged_changes, 1):.1%})"
    )
    for change, answer in left:
        print(f"  line {change.line} of {change.key} ({answer.by})")


if __name__ == "__main__":
    main()
