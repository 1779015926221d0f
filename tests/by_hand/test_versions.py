"""The script that tries versions: what it reads from the project file, and which Pythons it takes."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from versions import PROJECT, numbers, pythons, requirements


def test_every_dependency_of_the_project_has_an_oldest_version():
    needs = requirements((PROJECT / "pyproject.toml").read_text(encoding="utf-8"))
    assert {"numpy", "scipy", "pandas"} <= {need.name for need in needs}
    assert all(numbers(need.oldest) for need in needs)


def test_a_dependency_without_an_oldest_version_is_refused():
    with pytest.raises(SystemExit, match="name>=version"):
        requirements('[project]\ndependencies = ["numpy"]\n')


def test_this_python_is_found_and_older_ones_are_not_taken():
    found, missing = pythons("3.11")
    assert ".".join(map(str, sys.version_info[:2])) in found
    assert all(numbers(version) >= (3, 11) for version in found)
    assert not set(found) & set(missing)
