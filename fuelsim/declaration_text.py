"""Ratings in words: the Parameters section of a class from its declarations, and the ratings of one part."""

from __future__ import annotations

import dataclasses
import inspect
import re
import textwrap
from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np

from fuelsim.declaration import Declaration, declarations
from fuelsim.kinds import KINDS
from fuelsim.typing import FloatLike, Given
from fuelsim.units import shown

__all__ = ["RatingRow", "parameters_section", "rating_rows", "ratings_in_words", "with_parameters"]

WIDTH = 120
_SECTION = re.compile(r"^(Parameters|Attributes|Returns|Raises|See Also|Notes|References|Examples)\n-+$", re.MULTILINE)
_RAISES = """\
Raises
------
InputError
    Where a value is of the wrong form or outside what is accepted; it names the class and the key."""


def with_parameters(part: type, written: str) -> str:
    """Return the docstring of a class of ratings with its Parameters and Raises sections.

    Parameters
    ----------
    part : type
        A class of ratings.
    written : str
        The docstring as it stands in the class. A section that stands there already is left as it is.

    Returns
    -------
    str
        The sections in the order of numpydoc.
    """
    text = inspect.cleandoc(written)
    if not any(_documented_fields(part)):
        return text
    first = _SECTION.search(text)
    summary = text if first is None else text[: first.start()]
    below = "" if first is None else text[first.start() :]
    titles = [match[1] for match in _SECTION.finditer(below)]
    sections = [summary.rstrip()]
    if "Parameters" not in titles and "Attributes" not in titles:
        sections.append(parameters_section(part))
        if "Raises" not in titles:
            sections.append(_RAISES)
    return "\n\n".join([*sections, below.rstrip()]).rstrip() + "\n"


def parameters_section(part: type) -> str:
    """Return the Parameters section of a class of ratings in the form of numpydoc.

    Parameters
    ----------
    part : type
        A class of ratings.

    Returns
    -------
    str
        For each field its type and SI unit, its meaning, what is accepted, and its default.

    Examples
    --------
    >>> from fuelsim.parts.orifice import Orifice
    >>> print("\\n".join(parameters_section(Orifice).splitlines()[:4]))
    Parameters
    ----------
    diameter : float, array or str, m
        Diameter of the hole. Accepted: bore from 0.05 mm to 50 mm, as in '0.6 mm'.
    """
    lines = ["Parameters", "----------"]
    for name, form, about in _documented_fields(part):
        lines.append(f"{name} : {form}")
        lines += textwrap.wrap(about, WIDTH - 4, initial_indent="    ", subsequent_indent="    ")
    return "\n".join(lines)


def _documented_fields(part: type) -> Iterator[tuple[str, str, str]]:
    """Yield name, type and meaning of each argument of a class of ratings, in their order."""
    declared = declarations(part)
    for item in sorted(dataclasses.fields(part), key=lambda field: bool(field.kw_only)):
        if item.name in declared:
            declaration = declared[item.name]
            yield item.name, _type(declaration), _meaning(declaration)
        elif item.init and "doc" in item.metadata:
            yield item.name, f"{item.type}, optional".replace(" | None", ""), item.metadata["doc"]


def _type(declaration: Declaration) -> str:
    if declaration.form in ("quantity", "series"):
        unit = KINDS[declaration.kind].unit
        given = "float, array or str" if declaration.form == "quantity" else "list of float or str"
        type_text = given if unit == "1" else f"{given}, {unit}"
    elif declaration.form == "choice":
        type_text = "{" + ", ".join(f"'{item}'" for item in declaration.choices) + "}"
    elif declaration.form in ("table", "tables"):
        part = declaration.part or declaration.member
        name = "Ratings" if part is None else part.__name__
        type_text = name if declaration.form == "table" else f"mapping of str to {name}"
    elif declaration.form == "quantities":
        type_text = f"mapping of str to float or str, {KINDS[declaration.kind].unit}"
    else:
        type_text = {"text": "str", "count": "int", "flag": "bool", "runs": "list of list of str"}[declaration.form]
    return type_text if declaration.required else f"{type_text}, optional"


def _meaning(declaration: Declaration) -> str:
    about = declaration.doc
    if declaration.form in ("quantity", "series", "count", "quantities"):
        about += f" Accepted: {declaration.accepted()}."
    if declaration.required:
        return about
    if declaration.unless:
        return f"{about} Must be given unless {declaration.unless} is."
    return f"{about} By default {_default_in_words(declaration)}."


def _default_in_words(declaration: Declaration) -> str:
    default = declaration.default
    if default is None or default == "":
        return "left out"
    if declaration.form in ("tables", "quantities"):
        return "none"
    if declaration.form == "table":
        return "with its own defaults"
    if declaration.form == "flag":
        return "true" if default else "false"
    if declaration.form not in ("quantity", "series"):
        return str(default)
    return ", ".join(_value_in_words(value, declaration) for value in np.ravel(np.asarray(default)).tolist())


def _value_in_words(value: float | str, declaration: Declaration) -> str:
    return value if isinstance(value, str) else declaration.bound(value)


def ratings_in_words(part: object, units: str | None = None) -> str:
    """Return the ratings of a part that differ from their default, with units.

    Parameters
    ----------
    part : Ratings
        An object of any class of ratings.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.

    Examples
    --------
    >>> from fuelsim.parts.line import Line
    >>> ratings_in_words(Line(length="3 m", bore="8 mm"))
    'length 3 m, bore 8 mm'
    """
    return ", ".join(f"{row.name} {row.value}" for row in rating_rows(part, units))


class RatingRow(NamedTuple):
    """A rating: its name and its value in words, and what it is."""

    name: str
    value: str
    about: str


def rating_rows(part: object, units: str | None = None) -> list[RatingRow]:
    """Return the ratings of a part that differ from their default.

    Parameters
    ----------
    part : Ratings
        An object of any class of ratings.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.

    Returns
    -------
    list of RatingRow

    Examples
    --------
    >>> from fuelsim.parts.line import Line
    >>> rating_rows(Line(length="3 m", bore="8 mm"))[1].value
    '8 mm'
    """
    rows = []
    for name, declaration in declarations(type(part)).items():
        value = getattr(part, name)
        if value is None or (declaration.has_default and _is_default(value, declaration.default)):
            continue
        rows.append(RatingRow(name.replace("_", " "), _rating_in_words(value, declaration, units), declaration.doc))
    return rows


def _is_default(value: Given, default: Given) -> bool:
    if isinstance(value, Mapping):
        return value == default
    return np.array_equal(np.asarray(value), np.asarray(default))


def _rating_in_words(value: Given, declaration: Declaration, units: str | None) -> str:
    if declaration.form == "table":
        return f"{type(value).__name__}({ratings_in_words(value, units)})"
    if isinstance(value, Mapping):
        return ", ".join(value)
    if declaration.form not in ("quantity", "series"):
        return str(value)
    numbers: FloatLike = np.asarray(value, dtype=float)
    if np.ndim(numbers) == 0:
        return shown(float(numbers), declaration.kind, units)
    low, high = (shown(float(limit), declaration.kind, units) for limit in (np.min(numbers), np.max(numbers)))
    return f"{low} to {high} ({np.size(numbers)} values)"
