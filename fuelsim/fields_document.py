"""What the field declarations say to people and editors: starter file, JSON schema, attribute section."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from fuelsim import units
from fuelsim.errors import InputError, nearest
from fuelsim.fields import Declaration, Ratings, declarations

__all__ = ["attributes_section", "json_schema", "starter_text", "toml_value"]

WIDTH = 100
_NUMBER_TEXT = r"^\s*[+\-\u2212]?\s*(\d|\.\d)"


def toml_value(value: Any) -> str:
    """Return a text, number, truth value or list of these as it stands in a TOML file.

    Raises
    ------
    InputError
        For a value that TOML has no form for.

    Examples
    --------
    >>> toml_value("5/16\\""), toml_value([1, 2.5, "8 mm"]), toml_value(True)
    ('"5/16\\\\""', '[1, 2.5, "8 mm"]', 'true')
    """
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, (bool, np.bool_)):
        return "true" if value else "false"
    if isinstance(value, (int, np.integer)):
        return str(int(value))
    if isinstance(value, (float, np.floating)):
        return repr(float(value))
    if isinstance(value, (list, tuple, np.ndarray)):
        return "[" + ", ".join(toml_value(item) for item in value) + "]"
    raise InputError("not a value of a TOML file", given=value, accepted="text, number, true or false, or a list")


def starter_text(part: type[Ratings], values: Mapping[str, Any] | None = None, *, heading: str = "") -> str:
    """Return a commented TOML file with every key of a class of ratings, its meaning, range, default and unit.

    Keys that must be given stand with their example, all others are commented out with their default.

    Parameters
    ----------
    part : type
        A class of ratings; its tables become tables of the file.
    values : mapping, optional
        Dotted keys and values to write in place of example or default; a table is written where one of its keys is.
    heading : str, optional
        Comment at the top of the file.

    Raises
    ------
    InputError
        For a key that the class does not know, with the nearest one.

    Examples
    --------
    >>> from dataclasses import dataclass
    >>> from fuelsim.fields import Quantity, quantity
    >>> @dataclass(frozen=True)
    ... class Hose(Ratings):
    ...     bore: Quantity = quantity("bore", "Inside diameter.", least=5e-4, most=0.1, example="8 mm")
    ...     length: Quantity = quantity("length", "Length.", least=0.0, most=50.0, default=1.0)
    >>> print(starter_text(Hose, heading="A hose."))
    # A hose.
    <BLANKLINE>
    # Inside diameter. Must be given.
    # Accepted: bore from 0.5 mm to 100 mm.
    bore = "8 mm"
    <BLANKLINE>
    # Length.
    # Accepted: length from 0 m to 50 m.
    # length = "1 m"
    <BLANKLINE>
    """
    wanted = dict(values or {})
    for key in wanted:
        _check_key(part, key)
    lines = [*_comment(heading), ""] if heading else []
    lines += _table_lines(part, "", wanted, None, live=True)
    return "\n".join(lines) + "\n"


def _check_key(part: type[Ratings], key: str) -> None:
    here = part
    *tables, last = key.split(".")
    for name in tables:
        known = declarations(here)
        below = known[name].part if name in known else None
        if below is None:
            raise InputError("unknown key", accepted=nearest(name, known), key=key)
        here = below
    known = declarations(here)
    if last not in known or known[last].part is not None:
        raise InputError("unknown key", accepted=nearest(last, known), key=key)


def _table_lines(part: type, prefix: str, values: Mapping[str, Any], instance: Any, live: bool) -> list[str]:
    lines: list[str] = []
    known = declarations(part)
    for name, declaration in known.items():
        if declaration.part is None:
            lines += _key_lines(declaration, prefix + name, values, instance, live)
    for name, declaration in known.items():
        if declaration.part is None:
            continue
        key = prefix + name
        below = getattr(instance, name) if instance is not None else declaration.default
        chosen = any(other.startswith(f"{key}.") for other in values)
        written = live and (declaration.required or chosen)
        lines += [*_comment(declaration.doc + ("" if written else " Left out unless its comment signs are removed."))]
        lines += [f"[{key}]" if written else f"# [{key}]", ""]
        lines += _table_lines(declaration.part, f"{key}.", values, below, written)
    return lines


def _key_lines(declaration: Declaration, key: str, values: Mapping[str, Any], instance: Any, live: bool) -> list[str]:
    default = getattr(instance, declaration.name) if instance is not None else declaration.default
    given = instance is not None or not declaration.required
    doc = declaration.doc if given else f"{declaration.doc} Must be given."
    if given and default is None:
        doc += " Not given by default."
    lines = [*_comment(doc), *_comment(f"Accepted: {replace(declaration, example='').accepted()}.")]
    if key in values:
        value = toml_value(values[key])
    elif given and default is not None:
        value = _default(declaration, default)
    else:
        value = _example(declaration)
    sign = "" if live and (key in values or not given) else "# "
    return [*lines, f"{sign}{declaration.name} = {value}", ""]


def _default(declaration: Declaration, default: Any) -> str:
    return toml_value(_written(declaration, default) if declaration.form in ("quantity", "series") else default)


def _written(declaration: Declaration, value: Any) -> Any:
    if isinstance(value, str):
        return value
    if np.ndim(value):
        return [_written(declaration, item) for item in np.asarray(value)]
    if units.KINDS[declaration.kind].unit == "1":
        return float(value)
    return declaration.bound(float(value))


def _example(declaration: Declaration) -> str:
    if declaration.form == "series":
        return declaration.example if declaration.example.startswith("[") else toml_value([declaration.example])
    if declaration.form == "count":
        return declaration.example or f"{declaration.least:g}"
    if declaration.form == "choice":
        return toml_value(declaration.choices[0])
    if declaration.form == "flag":
        return "true"
    if declaration.form == "quantity" and not declaration.example:
        return toml_value(declaration.bound(declaration.least) or "?")
    return toml_value(declaration.example)


def _comment(said: str) -> list[str]:
    return [f"# {line}" for line in textwrap.wrap(said, WIDTH)]


def json_schema(part: type[Ratings], *, title: str = "") -> dict[str, Any]:
    """Return the JSON schema (draft 2020-12) of a class of ratings, with which an editor completes and checks a file.

    The schema checks keys, forms, choices and the range of plain SI numbers; the unit and range of a text are checked
    when the file is read.

    Examples
    --------
    >>> from dataclasses import dataclass
    >>> from fuelsim.fields import Quantity, quantity
    >>> @dataclass(frozen=True)
    ... class Hose(Ratings):
    ...     bore: Quantity = quantity("bore", "Inside diameter.", least=5e-4, most=0.1, example="8 mm")
    >>> schema = json_schema(Hose)
    >>> schema["required"], schema["properties"]["bore"]["examples"]
    (['bore'], ['8 mm'])
    """
    tables: dict[str, Any] = {}
    schema: dict[str, Any] = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": title or part.__name__,
    }
    schema |= _object_schema(part, tables)
    if tables:
        schema["$defs"] = tables
    return schema


def _object_schema(part: type, tables: dict[str, Any]) -> dict[str, Any]:
    known = declarations(part)
    return {
        "type": "object",
        "description": (part.__doc__ or "").strip().split("\n")[0],
        "properties": {name: _key_schema(declaration, tables) for name, declaration in known.items()},
        "required": [name for name, declaration in known.items() if declaration.required],
        "additionalProperties": False,
    }


def _key_schema(declaration: Declaration, tables: dict[str, Any]) -> dict[str, Any]:
    accepted = replace(declaration, example="").accepted()
    schema: dict[str, Any] = {"description": f"{declaration.doc} Accepted: {accepted}."}
    if declaration.form == "table":
        assert declaration.part is not None
        name = declaration.part.__name__
        if name not in tables:
            tables[name] = {}  # holds the place while a table refers to itself
            tables[name] = _object_schema(declaration.part, tables)
        return {"$ref": f"#/$defs/{name}", "description": declaration.doc}
    if declaration.form in ("quantity", "series"):
        number = {"type": "number"} | _limits(declaration)
        one = {"anyOf": [number, {"type": "string", "pattern": _NUMBER_TEXT}]}
        several = {"type": "array", "items": one, "minItems": 1}
        schema |= several if declaration.form == "series" else {"anyOf": [*one["anyOf"], several]}
        if declaration.form == "quantity" and declaration.example:
            schema["examples"] = [declaration.example]
    elif declaration.form == "choice":
        schema["enum"] = list(declaration.choices)
    elif declaration.form == "count":
        schema |= {"type": "integer"} | _limits(declaration)
    else:
        schema["type"] = {"flag": "boolean", "text": "string"}[declaration.form]
    if declaration.given and declaration.default is not None:
        schema["default"] = _schema_default(declaration)
    return schema


def _limits(declaration: Declaration) -> dict[str, float]:
    limits = {"minimum": declaration.least, "maximum": declaration.most}
    return {word: limit for word, limit in limits.items() if np.isfinite(limit)}


def _schema_default(declaration: Declaration) -> Any:
    default = declaration.default
    return _written(declaration, default) if declaration.form in ("quantity", "series") else default


def attributes_section(part: type[Ratings]) -> str:
    """Return the ``Attributes`` section of a class of ratings in numpy's docstring form.

    Examples
    --------
    >>> from dataclasses import dataclass
    >>> from fuelsim.fields import Quantity, quantity
    >>> @dataclass(frozen=True)
    ... class Hose(Ratings):
    ...     bore: Quantity = quantity("bore", "Inside diameter.", least=5e-4, most=0.1, example="8 mm")
    >>> print(attributes_section(Hose))
    Attributes
    ----------
    bore : float or array, m
        Inside diameter. Accepted: bore from 0.5 mm to 100 mm, as in '8 mm'.
    """
    lines = ["Attributes", "----------"]
    for name, declaration in declarations(part).items():
        said = f"{declaration.doc} Accepted: {declaration.accepted()}."
        if not declaration.required:
            said += " By default " + ("not given." if declaration.default is None else f"{_said(declaration)}.")
        lines.append(f"{name} : {_type(declaration)}")
        lines += textwrap.wrap(said, WIDTH, initial_indent="    ", subsequent_indent="    ")
    return "\n".join(lines)


def _said(declaration: Declaration) -> str:
    if declaration.form == "table":
        return "its own defaults"
    return _default(declaration, declaration.default).replace('"', "")


def _type(declaration: Declaration) -> str:
    if declaration.form in ("quantity", "series"):
        unit = units.KINDS[declaration.kind].unit
        what = "float or array" if declaration.form == "quantity" else "array"
        kind = what if unit == "1" else f"{what}, {unit}"
    else:
        kind = {"choice": "str", "text": "str", "count": "int", "flag": "bool"}.get(declaration.form, "")
    if declaration.form == "table":
        assert declaration.part is not None
        kind = declaration.part.__name__
    return f"{kind}, or None" if declaration.optional else kind
