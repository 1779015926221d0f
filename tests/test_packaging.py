"""The wheel and the sdist carry everything the package reads at run time."""

from __future__ import annotations

import tarfile
import zipfile
from pathlib import Path

import pytest

pytest.importorskip("hatchling", reason="building needs hatchling, part of the test extra")

ROOT = Path(__file__).parents[1]
DATA = {path.relative_to(ROOT).as_posix() for path in (ROOT / "data").rglob("*") if path.is_file()}


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
