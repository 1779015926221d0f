"""Docstrings: every public function and method says its arguments, what it returns, and shows an example."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
from pathlib import Path

import pytest

import fuelsim

PACKAGE = Path(fuelsim.__file__).resolve().parent
MODULES = sorted(PACKAGE.rglob("*.py"))
ROOMS = ("numerics", "laws", "parts", "car", "studies")
"""Rooms whose docstrings are complete; every other room joins when its docstrings are."""


def public_callables():
    """Every public function and method with arguments that is written in one of the rooms."""
    for room in ROOMS:
        package = importlib.import_module(f"fuelsim.{room}")
        for info in pkgutil.walk_packages(package.__path__, package.__name__ + "."):
            module = importlib.import_module(info.name)
            for name, value in vars(module).items():
                if name.startswith("_") or getattr(value, "__module__", "") != module.__name__:
                    continue
                if inspect.isfunction(value):
                    yield f"{module.__name__}.{name}", value
                elif inspect.isclass(value):
                    for method_name, method in vars(value).items():
                        function = getattr(method, "__func__", method)
                        if not method_name.startswith("_") and inspect.isfunction(function):
                            yield f"{module.__name__}.{name}.{method_name}", function


CALLABLES = dict(public_callables())


def arguments_of(function):
    return [name for name in inspect.signature(function).parameters if name not in ("self", "cls")]


def documented(function):
    """Names in the Parameters section: those before a colon, or lines of names alone."""
    lines = inspect.cleandoc(function.__doc__ or "").split("Parameters\n----------\n")[-1].splitlines()
    names = set()
    for number, line in enumerate(lines):
        if number + 1 < len(lines) and set(lines[number + 1]) == {"-"}:
            break
        if line and not line.startswith(" "):
            names.update(name.strip(" *") for name in line.split(" :")[0].split(","))
    return names


@pytest.mark.parametrize("name", CALLABLES)
def test_every_argument_is_described_with_an_example(name):
    function = CALLABLES[name]
    if name.endswith(".coefficients") or not arguments_of(function):
        return  # an implementation of Part.coefficients, which is described there
    text = inspect.cleandoc(function.__doc__ or "")
    missing = set(arguments_of(function)) - documented(function)
    assert not missing, f"{name} does not describe {', '.join(sorted(missing))}"
    assert ">>> " in text, f"{name} has no example"
    if inspect.signature(function).return_annotation not in (None, "None"):
        assert "Returns\n-------" in text or "Yields\n------" in text, f"{name} does not describe what it returns"


def test_the_public_functions_are_found():
    assert {"fuelsim.laws.friction.line_loss", "fuelsim.parts.pump.pump.Pump.at"} <= CALLABLES.keys()


FRAGMENT = re.compile(r"\n +([\w*]+(?:, [\w*]+)*) : [^\n]*\n +Of ")


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_no_description_of_an_argument_begins_with_of(path):
    """A description is a whole phrase with the quantity first: "Bore of the vent's narrowest place", not "Of ..."."""
    assert FRAGMENT.findall(path.read_text(encoding="utf-8")) == []
