"""The wheel and the sdist carry everything the package reads at run time."""

from __future__ import annotations

import ast
import re
import sys
import tarfile
import tomllib
import zipfile
from pathlib import Path

import pytest

import fuelsim

pytest.importorskip("hatchling", reason="building needs hatchling, part of the test extra")

ROOT = Path(__file__).parents[1]
DATA = {path.relative_to(ROOT).as_posix() for path in (ROOT / "data").rglob("*") if path.is_file()}


def test_the_version_is_the_one_of_the_project():
    from fuelsim.constants import VERSION

    assert tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"] == VERSION


def test_the_wheel_holds_code_data_and_templates(tmp_path):
    from hatchling.builders.wheel import WheelBuilder

    wheel = next(WheelBuilder(str(ROOT)).build(directory=str(tmp_path), versions=["standard"]))
    names = set(zipfile.ZipFile(wheel).namelist())
    assert {f"fuelsim/{name}" for name in DATA} <= names
    for path in (ROOT / "fuelsim").rglob("*"):
        if path.suffix in (".py", ".pyi", ".html", ".typed"):
            assert path.relative_to(ROOT).as_posix() in names
    assert not any(name.startswith(("tests/", "notebooks/")) for name in names)


def test_the_sdist_holds_data_tests_and_notebooks(tmp_path):
    from hatchling.builders.sdist import SdistBuilder

    archive = next(SdistBuilder(str(ROOT)).build(directory=str(tmp_path), versions=["standard"]))
    with tarfile.open(archive) as packed:
        names = {name.split("/", 1)[1] for name in packed.getnames() if "/" in name}
    assert names >= DATA
    assert {"README.md", "DEVELOPERS.md", "pyproject.toml", "tests/test_packaging.py"} <= names
    assert any(name.startswith("notebooks/") for name in names)


PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
DELIVERED_WITH = {"markupsafe": "jinja2", "PIL": "matplotlib"}
"""A package that another one brings as part of itself."""
OPTIONAL = {"xarray"}
"""Packages asked for only where a user calls for them, each with an error of its own where it is missing."""
MAKE_DATA = {"fuelsim/fuel/molecules/species_sources.py"}
"""Modules that make files of ``data`` anew, run by contributors, with packages of the test extra."""


def package_names(requirements):
    return {re.match(r"[A-Za-z0-9_.-]+", requirement)[0].lower() for requirement in requirements}


def imported_packages():
    """Return the packages that modules import, those imported inside functions included, those for types left out."""
    packages = set()
    for path in (ROOT / "fuelsim").rglob("*.py"):
        if path.relative_to(ROOT).as_posix() in MAKE_DATA:
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for_types = {
            id(inner)
            for node in ast.walk(tree)
            if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
            for inner in ast.walk(node)
        }
        for node in ast.walk(tree):
            if id(node) in for_types:
                continue
            if isinstance(node, ast.Import):
                packages |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module:
                packages.add(node.module.split(".")[0])
    packages -= sys.stdlib_module_names | {"fuelsim"}
    return {DELIVERED_WITH.get(name, name).lower() for name in packages}


def test_run_time_dependencies_are_the_packages_imported_at_run_time():
    assert package_names(PROJECT["dependencies"]) == imported_packages() - OPTIONAL
    assert package_names(PROJECT["optional-dependencies"]["test"]) >= OPTIONAL


def test_packages_that_make_data_are_in_the_test_extra():
    assert {"chemicals", "thermo"} <= package_names(PROJECT["optional-dependencies"]["test"])


def test_outputs_are_stamped_with_the_version_of_the_package():
    declared = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]
    assert fuelsim.__version__ == declared
