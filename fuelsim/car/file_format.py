"""What the field declarations say to people and editors: starter file, JSON schema, attribute section."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from fuelsim import units
from fuelsim.errors import InputError, nearest
from fuelsim.fields import Declaration, Ratings, declarations, file_keys

__all__ = [
    "REFERENCE_KEY",
    "References",
    "attributes_section",
    "json_schema",
    "no_references",
    "starter_text",
    "toml_value",
]

WIDTH, COMMENT_COLUMN = 120, 34
REFERENCE_KEY = "catalogue"
"""The key with which a table of a file takes its ratings from a generic part."""
References = Callable[[type], Sequence[str]]
"""Returns the names of the generic parts that a class of ratings may refer to, empty where there are none."""
_NUMBER_TEXT = r"^\s*[+\-\u2212]?\s*(\d|\.\d)"


def no_references(part: type) -> Sequence[str]:
    """Return no names: the `References` of files that cannot refer to generic parts."""
    return ()


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


def starter_text(
    part: type[Ratings],
    values: Mapping[str, Any] | None = None,
    *,
    heading: str = "",
    references: References = no_references,
) -> str:
    """Return a commented TOML file with every key of a class of ratings, its meaning, range and default.

    Keys that must be given stand with their example, all others are commented out with their default. What a class of
    ratings means is said once, where it is first used.

    Parameters
    ----------
    part : type
        A class of ratings; its tables become tables of the file.
    values : mapping, optional
        Dotted keys and values to write in place of example or default; a table is written where one of its keys is.
    heading : str, optional
        Comment at the top of the file.
    references : callable, optional
        Which generic parts a table may refer to.

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
    bore = "8 mm"                     # Inside diameter. Must be given. (0.5 mm to 100 mm)
    # length = "1 m"                  # Length. (0 m to 50 m)
    <BLANKLINE>
    """
    writer = _Starter(dict(values or {}), references)
    for key in writer.values:
        writer.check_key(part, key)
    lines = [each for paragraph in heading.splitlines() for each in _comment(paragraph)]
    lines += [""] if heading else []
    lines += writer.table(part, "", None, live=True)
    return "\n".join(lines) + "\n"


@dataclass
class _Starter:
    """Writes the lines of a starter file, and remembers which classes it has explained."""

    values: Mapping[str, Any]
    references: References
    explained: set[type] = field(default_factory=set)

    def check_key(self, part: type, key: str) -> None:
        here = part
        *tables, last = key.split(".")
        for name in tables:
            known = file_keys(here)
            below = known[name].part if name in known else None
            if below is None:
                raise InputError("unknown key", accepted=nearest(name, known), key=key)
            here = below
        known = file_keys(here)
        if last == REFERENCE_KEY and self.references(here):
            return
        if last not in known or known[last].part is not None:
            raise InputError("unknown key", accepted=nearest(last, known), key=key)

    def table(self, part: type, prefix: str, instance: Any, live: bool) -> list[str]:
        """Return the lines of a table without its head, and of the tables below it."""
        known = file_keys(part)
        lines = self._reference(part, prefix)
        referred = f"{prefix}{REFERENCE_KEY}" in self.values
        for name, declaration in known.items():
            if declaration.part is None:
                lines += self._key(declaration, prefix + name, instance, live, referred, part not in self.explained)
        self.explained.add(part)
        lines += [""]
        for name, declaration in known.items():
            if declaration.part is None:
                continue
            key = prefix + name
            below = getattr(instance, name) if instance is not None else declaration.default
            written = live and (declaration.required or any(other.startswith(f"{key}.") for other in self.values))
            said = declaration.doc + ("" if written else " Left out unless the comment signs are removed.")
            lines += [*_comment(said), f"[{key}]" if written else f"# [{key}]"]
            lines += self.table(declaration.part, f"{key}.", below, written)
        return lines

    def _reference(self, part: type, prefix: str) -> list[str]:
        names = self.references(part)
        if not names:
            return []
        key = f"{prefix}{REFERENCE_KEY}"
        written = f"{REFERENCE_KEY} = {toml_value(self.values.get(key, names[0]))}"
        said = "Generic part whose ratings hold where no key is given."
        return _line(written if key in self.values else f"# {written}", said if part not in self.explained else "")

    def _key(
        self, declaration: Declaration, key: str, instance: Any, live: bool, referred: bool, explain: bool
    ) -> list[str]:
        default = getattr(instance, declaration.name) if instance is not None else declaration.default
        given = instance is not None or not declaration.required
        if key in self.values:
            value = toml_value(self.values[key])
        elif given and default is not None:
            value = _default(declaration, default)
        else:
            value = _example(declaration)
        must = not given and not referred
        sign = "" if live and (key in self.values or must) else "# "
        said = declaration.doc + (" Must be given." if must else "") + _range(declaration) if explain else ""
        return _line(f"{sign}{declaration.name} = {value}", said)


def _line(written: str, said: str) -> list[str]:
    """Return a key with its comment behind it, or above it where the line would be too long."""
    if not said:
        return [written]
    line = f"{written:<{COMMENT_COLUMN}}# {said}"
    return [line] if len(line) <= WIDTH and len(written) < COMMENT_COLUMN else [*_comment(said), written]


def _range(declaration: Declaration) -> str:
    """Return what is accepted in brackets, as short as a comment wants it."""
    if declaration.form in ("quantity", "series"):
        low, high = (declaration.bound(limit) for limit in (declaration.least, declaration.most))
        return f" ({low} to {high})" if low and high else ""
    return f" ({declaration.accepted()})" if declaration.form in ("choice", "count", "flag") else ""


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
    return [f"# {line}" for line in textwrap.wrap(said, WIDTH - 2)]


def json_schema(part: type[Ratings], *, title: str = "", references: References = no_references) -> dict[str, Any]:
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
    schema |= _object_schema(part, tables, references)
    if tables:
        schema["$defs"] = tables
    return schema


def _object_schema(part: type, tables: dict[str, Any], references: References) -> dict[str, Any]:
    known = file_keys(part)
    required = [name for name, declaration in known.items() if declaration.required]
    schema: dict[str, Any] = {
        "type": "object",
        "description": (part.__doc__ or "").strip().split("\n")[0],
        "properties": {name: _key_schema(declaration, tables, references) for name, declaration in known.items()},
        "required": required,
        "additionalProperties": False,
    }
    names = references(part)
    if names:
        said = "Generic part whose ratings hold where no key is given."
        schema["properties"] = {
            REFERENCE_KEY: {"type": "string", "description": said, "examples": list(names)}
        } | schema["properties"]
        if required:
            del schema["required"]
            schema["anyOf"] = [{"required": [REFERENCE_KEY]}, {"required": required}]
    return schema


def _key_schema(declaration: Declaration, tables: dict[str, Any], references: References) -> dict[str, Any]:
    accepted = replace(declaration, example="").accepted()
    schema: dict[str, Any] = {"description": f"{declaration.doc} Accepted: {accepted}."}
    if declaration.form == "table":
        assert declaration.part is not None
        name = declaration.part.__name__
        if name not in tables:
            tables[name] = {}  # holds the place while a table refers to itself
            tables[name] = _object_schema(declaration.part, tables, references)
        return {"$ref": f"#/$defs/{name}", "description": declaration.doc}
    if declaration.form in ("quantity", "series"):
        number = {"type": "number"} | _limits(declaration)
        one = {"anyOf": [number, {"type": "string", "pattern": _NUMBER_TEXT}]}
        several = {"type": "array", "items": one, "minItems": 1}
        if declaration.form == "series":
            schema |= several
        else:
            schema |= {"anyOf": [*one["anyOf"], several]} if declaration.rows else one
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
