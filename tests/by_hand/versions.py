"""Oldest and newest versions of what fuelsim needs, tried: ``nice python tests/by_hand/versions.py``.

For every Python found that `requires-python` allows, two temporary virtual environments are made: one with the oldest
version of each dependency that `pyproject.toml` allows, one with the newest. In each the comparison of the demo car is
made and some of the tests run. Where the oldest version has no package for a Python, the next one that has is taken and
the missing one named, as are the Pythons that were not found and whatever could not be installed.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path
from typing import NamedTuple

PROJECT = Path(__file__).resolve().parents[2]
TESTS = ("tests/numerics", "tests/laws/test_fittings.py", "tests/network/test_state.py", "tests/parts", "fuelsim/laws")
TOOLS = ("pytest", "hypothesis")
_PYTHONS = range(11, 16)
"""Minor versions of Python 3 that are looked for."""
_TRIES = 25
"""Versions of one dependency that are tried for one Python."""
_ASK = "import sys; print('%d.%d.%d' % sys.version_info[:3])"


class Requirement(NamedTuple):
    """A dependency and the oldest version that is allowed."""

    name: str
    oldest: str


class Result(NamedTuple):
    """What one environment came to: its name, whether all went well, and what is to be said."""

    name: str
    passed: bool
    remarks: list[str]


def requirements(text: str) -> list[Requirement]:
    """Return the run-time dependencies of a project file.

    Parameters
    ----------
    text : str
        Text of a `pyproject.toml` whose dependencies read ``name>=version``.

    Returns
    -------
    list of Requirement
    """
    found = []
    for line in tomllib.loads(text)["project"]["dependencies"]:
        match = re.fullmatch(r"([A-Za-z0-9_.-]+)>=([0-9.]+)", line)
        if match is None:
            raise SystemExit(f"not of the form name>=version: {line}")
        found.append(Requirement(*match.groups()))
    return found


def numbers(version: str) -> tuple[int, ...]:
    """Return a version as numbers that can be compared.

    Examples
    --------
    >>> numbers("1.26") < numbers("1.26.4") < numbers("2.0.0")
    True
    """
    return tuple(int(part) for part in re.findall(r"\d+", version))


def candidates(listed: list[str], oldest: str) -> list[str]:
    """Return the versions from the oldest allowed on, oldest first: the first of each minor version before the others.

    Examples
    --------
    >>> candidates(["2.1.0", "2.0.1", "2.0.0", "1.26.1", "1.26.0", "1.25.0"], "1.26")
    ['1.26.0', '2.0.0', '2.1.0', '1.26.1', '2.0.1']
    """
    allowed = sorted((one for one in listed if numbers(one) >= numbers(oldest)), key=numbers)
    first: dict[tuple[int, ...], str] = {}
    for version in allowed:
        first.setdefault(numbers(version)[:2], version)
    return [*first.values(), *(version for version in allowed if version not in set(first.values()))]


def pythons(least: str) -> tuple[dict[str, str], list[str]]:
    """Return the interpreters found, by version, and the minor versions that were not found."""
    places = [shutil.which(f"python3.{minor}") for minor in _PYTHONS]
    places += [str(path) for path in sorted(Path.home().glob(".pyenv/versions/3.*/bin/python"))]
    places.append(sys.executable)
    found: dict[str, str] = {}
    for place in filter(None, places):
        answer = subprocess.run([place, "-c", _ASK], capture_output=True, text=True, check=False)
        version = answer.stdout.strip()
        if answer.returncode == 0 and numbers(version) >= numbers(least):
            found.setdefault(".".join(version.split(".")[:2]), place)
    first = numbers(least)[1]
    return found, [f"3.{minor}" for minor in _PYTHONS if minor >= first and f"3.{minor}" not in found]


def called(
    python: Path, *arguments: str, limit: float = 1800.0, **environment: str
) -> subprocess.CompletedProcess[str]:
    """Run the Python of an environment in the project's folder."""
    variables = {**os.environ, "PYTHONPATH": str(PROJECT), "PYTHONDONTWRITEBYTECODE": "1", "OMP_NUM_THREADS": "1"}
    return subprocess.run(
        [str(python), *arguments],
        cwd=PROJECT,
        capture_output=True,
        text=True,
        check=False,
        timeout=3600.0,
        env=variables,
    )


def installs(python: Path, *names: str) -> str:
    """Install packages, binary ones only, and return what the installer objected to; nothing where it did not."""
    answer = called(python, "-m", "pip", "install", "--quiet", "--only-binary", ":all:", *names)
    said = [line for line in answer.stderr.splitlines() if line.startswith("ERROR")]
    return "" if answer.returncode == 0 else (said or ["could not be installed"])[0].removeprefix("ERROR: ")


def oldest_installable(python: Path, need: Requirement) -> tuple[str, list[str]]:
    """Return the oldest version that can be installed, or nothing, and what is to be said about those before it."""
    answer = called(python, "-m", "pip", "index", "versions", need.name)
    listed = re.search(r"Available versions: (.*)", answer.stdout)
    if listed is None:
        return "", [f"{need.name}: no versions found"]
    for version in candidates(listed.group(1).split(", "), need.oldest)[:_TRIES]:
        probe = ("-m", "pip", "install", "--quiet", "--dry-run", "--no-deps", "--only-binary", ":all:")
        if called(python, *probe, f"{need.name}=={version}").returncode == 0:
            exact = numbers(version)[: len(numbers(need.oldest))] == numbers(need.oldest)
            return version, [] if exact else [f"{need.name} {need.oldest} not found for this Python, {version} taken"]
    return "", [f"{need.name}: no version found for this Python"]


def tried(name: str, interpreter: str, needs: list[Requirement], newest: bool, tests: list[str]) -> Result:
    """Make an environment, run the comparison and the tests in it, and return what came of it."""
    remarks: list[str] = []
    with tempfile.TemporaryDirectory(prefix="fuelsim-versions-") as folder:
        subprocess.run([interpreter, "-m", "venv", folder], check=True)
        python = Path(folder) / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
        wanted = [need.name for need in needs]
        if not newest:
            wanted = []
            for need in needs:
                version, said = oldest_installable(python, need)
                remarks += said
                wanted.append(f"{need.name}=={version}" if version else need.name)
        objection = installs(python, *wanted)
        if objection:
            return Result(name, False, [*remarks, f"not installed together: {objection}"])
        objection = installs(python, *TOOLS)
        if objection:
            return Result(name, False, [*remarks, f"test tools: {objection}"])
        listed = called(python, "-m", "pip", "list", "--format", "json", "--disable-pip-version-check")
        installed = {entry["name"].lower(): entry["version"] for entry in json.loads(listed.stdout)}
        remarks.append(", ".join(f"{need.name} {installed.get(need.name.lower(), '?')}" for need in needs))
        job = called(python, "-W", "error::DeprecationWarning:fuelsim", "-m", "fuelsim", "--output", f"{folder}/out")
        if job.returncode != 0:
            return Result(name, False, [*remarks, "the comparison fails: " + (job.stderr.splitlines() or ["?"])[-1]])
        answer = called(python, "-m", "pytest", "-p", "no:cacheprovider", "--tb=line", *tests)
        lines = answer.stdout.splitlines()
        remarks += [line for line in lines if line.startswith(("FAILED", "ERROR"))][:20]
        remarks.append(next((line for line in reversed(lines) if " passed" in line), "tests passed"))
        return Result(name, answer.returncode == 0, remarks)


def main() -> None:
    """Try the environments one after the other and print what came of each."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--python", nargs="*", help="only these, such as 3.12")
    parser.add_argument("--only", choices=("oldest", "newest"), help="only these versions of the dependencies")
    parser.add_argument("--tests", nargs="*", default=list(TESTS), help="tests that run in each environment")
    given = parser.parse_args()
    text = (PROJECT / "pyproject.toml").read_text(encoding="utf-8")
    needs = requirements(text)
    least = tomllib.loads(text)["project"]["requires-python"].removeprefix(">=")
    found, missing = pythons(least)
    print(
        f"Pythons found: {', '.join(sorted(found, key=numbers)) or 'none'}; not found: {', '.join(missing) or 'none'}"
    )
    failed = 0
    for version in sorted(given.python or found, key=numbers):
        for age in ("oldest", "newest"):
            if given.only not in (None, age):
                continue
            if version not in found:
                print(f"Python {version}: not found")
                continue
            result = tried(f"Python {version}, {age}", found[version], needs, age == "newest", given.tests)
            failed += not result.passed
            print(f"{result.name}: {'passed' if result.passed else 'FAILED'}", flush=True)
            for remark in result.remarks:
                print(f"    {remark}", flush=True)
    raise SystemExit(1 if failed else 0)


if __name__ == "__main__":
    main()
