"""Every public callable says in its docstring what it takes, gives and raises, and shows an example that is run."""

from __future__ import annotations

import ast
import enum
import inspect
import re
import textwrap
from functools import cached_property

import pytest

import fuelsim
from fuelsim.kinds import KINDS

SECTIONS = (
    "Parameters",
    "Attributes",
    "Returns",
    "Yields",
    "Raises",
    "Warns",
    "See Also",
    "Notes",
    "References",
    "Examples",
)
ENTRY = re.compile(r"^(?P<names>\*{0,2}\w+(?:, \*{0,2}\w+)*)(?: : (?P<type>.+))?$")
NUMBER = re.compile(r"\b(float|array|number)\b")
NO_NUMBER = re.compile(r"\b(bool|int|str|object)[ -]arrays?\b|\barrays? of (bool|int|str|object)\b")
UNITLESS = (
    "fraction",
    "share",
    "ratio",
    "number",
    "factor",
    "multiplie",
    "times",
    "unit",
    "v/l",
    "over the",
    "revolutions",
)
UNITS = {unit for kind in KINDS.values() for unit in (kind.unit, *kind.shown, *kind.examples) if unit != "1"} - {""}


def sections(doc):
    """Return the text of each numpydoc section by its title; the summary stands under ''."""
    found, title = {"": []}, ""
    lines = inspect.cleandoc(doc or "").splitlines()
    for number, line in enumerate(lines):
        below = lines[number + 1] if number + 1 < len(lines) else ""
        if line in SECTIONS and below == "-" * len(line):
            title = line
            found[title] = []
        elif not (line and set(line) == {"-"} and lines[number - 1] == title):
            found[title].append(line)
    return found


def entries(lines):
    """Return type and description of each name in a Parameters or Attributes section."""
    found, names = {}, ()
    for line in lines:
        match = ENTRY.match(line)
        if match:
            names = [name.lstrip("*") for name in match["names"].split(", ")]
            found |= {name: [match["type"] or "", ""] for name in names}
        elif line.strip():
            for name in names:
                found[name][1] += " " + line.strip()
    return found


def raises(function):
    """Return whether the function itself raises; what it calls may raise too."""
    try:
        tree = ast.parse(textwrap.dedent(inspect.getsource(function)))
    except (OSError, TypeError):
        return False
    return any(isinstance(node, ast.Raise) and node.exc is not None for node in ast.walk(tree))


def gives_something(function):
    return inspect.signature(function).return_annotation not in (None, "None", inspect.Signature.empty)


def function_of(raw):
    """Return the function behind a method, class method, property or cached property."""
    for name in ("__func__", "fget", "func"):
        raw = getattr(raw, name, raw)
    return raw


def public_callables():
    """Yield name, object, kind and docstrings of all that a user may call.

    A method that overrides another, and a class made like its base, may leave a section to it.
    """
    for name in fuelsim.__all__:
        thing = getattr(fuelsim, name)
        if not inspect.isclass(thing):
            yield name, thing, "function", [thing.__doc__]
            continue
        yield name, thing, "class", [base.__doc__ for base in thing.__mro__ if base.__init__ is thing.__init__]
        for member in sorted(dir(thing)):
            raw = inspect.getattr_static(thing, member)
            function = function_of(raw)
            if (
                member.startswith("_")
                or not inspect.isfunction(function)
                or not function.__module__.startswith("fuelsim")
            ):
                continue
            kind = "method"
            if isinstance(raw, (property, cached_property)):
                kind = "property"
            elif isinstance(raw, staticmethod):
                kind = "static method"
            docs = [function_of(vars(base)[member]).__doc__ for base in thing.__mro__ if member in vars(base)]
            yield f"{name}.{member}", function, kind, docs


def says_unit(text):
    words = {word.rstrip(".") for word in re.findall(r"[^\s,;()]+", text)}
    spaced = any(f" {unit}" in text for unit in UNITS if " " in unit)
    return bool(words & UNITS) or spaced or any(word in text.lower() for word in UNITLESS)


def faults(thing, kind, docs):
    """Return what the docstring lacks, in words."""
    parts = [sections(doc) for doc in docs]
    titles = {title for part in parts for title in part}
    first = parts[0][""]
    missing = [] if first and first[0].endswith(".") else ["a first line that is a sentence"]
    if kind == "property":
        return missing
    listed = {}
    for part in parts:
        listed = entries(part.get("Parameters", []) + part.get("Attributes", [])) | listed
    if kind == "class":
        own = inspect.isfunction(thing.__init__) and not issubclass(thing, enum.Enum)
        made = list(inspect.signature(thing.__init__).parameters)[1:] if own else ()
    else:
        made = list(inspect.signature(thing).parameters)[1 if kind == "method" else 0 :]
        missing += ["Returns"] if gives_something(thing) and not titles & {"Returns", "Yields"} else []
        missing += ["Raises"] if raises(thing) and "Raises" not in titles else []
    for name in made:
        form, about = listed.get(name, ("", ""))
        if not form:
            missing.append(f"argument {name}")
        elif NUMBER.search(NO_NUMBER.sub("", form)) and not says_unit(f"{form} {about}"):
            missing.append(f"unit of {name}")
    if kind in ("class", "function") and "Examples" not in titles:
        missing.append("Examples")
    return missing


CALLABLES = {name: rest for name, *rest in public_callables()}


@pytest.mark.parametrize("name", CALLABLES)
def test_every_public_callable_documents_arguments_results_errors_and_an_example(name):
    missing = faults(*CALLABLES[name])
    assert not missing, f"the docstring of {name} lacks: {', '.join(missing)}"
