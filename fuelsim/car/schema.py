"""The JSON schema of a car file, made from the declarations, with which an editor completes and checks the file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TypeAlias

import numpy as np

from fuelsim.car.file_format import REFERENCE_DOC, REFERENCE_KEY, References, no_references, value_with_unit
from fuelsim.declaration import LONGEST_RUN, MOST_NAMED, MOST_RUNS, Declaration, file_keys
from fuelsim.fields import Ratings
from fuelsim.named_tables import NAME_PATTERN
from fuelsim.parts.catalogue_parts import catalogue_entry, catalogue_names

__all__ = ["Schema", "json_schema"]

Schema: TypeAlias = dict[str, object]
"""A JSON schema, or a part of one, as dicts, lists, text and numbers."""
_NUMBER_TEXT = r"^\s*[+\-\u2212]?\s*(\d|\.\d)"


def json_schema(part: type[Ratings], *, title: str = "", references: References = no_references) -> Schema:
    """Return the JSON schema (draft 2020-12) of a class of ratings, with which an editor completes and checks a file.

    The schema checks keys, forms, choices and the range of plain SI numbers; the unit and range of a text are checked
    when the file is read.

    Parameters
    ----------
    part : type
        A class of ratings.
    title : str, optional
        Name of the kind of file; left out, that of the class.
    references : callable, optional
        Which generic parts a table may refer to.

    Returns
    -------
    dict
        As ``json.dumps`` takes it.

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
    tables: dict[str, Schema] = {}
    schema: Schema = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": title or part.__name__,
    }
    schema |= _object_schema(part, tables, references)
    if tables:
        schema["$defs"] = tables
    return schema


def _object_schema(part: type, tables: dict[str, Schema], references: References) -> Schema:
    """Return the schema of one table; those of the tables below it are added to `tables` by the name of their class."""
    known = file_keys(part)
    required = [name for name, declaration in known.items() if declaration.required]
    properties = {name: _key_schema(declaration, tables, references) for name, declaration in known.items()}
    names = references(part)
    needs: Schema = {"required": required}
    if names:
        reference: Schema = {"type": "string", "description": REFERENCE_DOC, "examples": list(names)}
        properties = {REFERENCE_KEY: reference} | properties
        if required:
            needs = {"anyOf": [{"required": [REFERENCE_KEY]}, {"required": required}]}
    conditional = _conditional(known)
    if conditional:
        needs["allOf"] = conditional
    return {
        "type": "object",
        "description": (part.__doc__ or "").strip().split("\n")[0],
        "properties": properties,
        **needs,
        "additionalProperties": False,
    }


def _conditional(known: Mapping[str, Declaration]) -> list[Schema]:
    """Return the schemas of keys that must be given unless another one is."""
    keys: dict[str, list[str]] = {}
    for name, declaration in known.items():
        if declaration.unless:
            keys.setdefault(declaration.unless, []).append(name)
    return [
        {"anyOf": [{"required": names}, {"required": [other], "properties": {other: {"minProperties": 1}}}]}
        for other, names in keys.items()
    ]


def _class_schema(part: type, tables: dict[str, Schema], references: References) -> Schema:
    """Return a reference to the schema of a class of ratings, which is added to `tables`."""
    name = part.__name__
    if name not in tables:
        tables[name] = {}  # holds the place while a table refers to itself
        tables[name] = _object_schema(part, tables, references)
    return {"$ref": f"#/$defs/{name}"}


def _named_schema(each: Schema, doc: str) -> Schema:
    """Return the schema of a table of names that the user chooses."""
    return {
        "type": "object",
        "description": doc,
        "patternProperties": {NAME_PATTERN: each},
        "additionalProperties": False,
        "maxProperties": MOST_NAMED,
    }


def _size_names() -> str:
    """Return the pattern of names of tubes and hoses, which may stand for a bore: a family and what follows it."""
    families = {str(catalogue_entry("lines", name).values["family"]) for name in catalogue_names("lines")}
    return f"^\\s*({'|'.join(sorted(families))})[ _]"


def _key_schema(declaration: Declaration, tables: dict[str, Schema], references: References) -> Schema:
    if declaration.part is not None:
        return {**_class_schema(declaration.part, tables, references), "description": declaration.doc}
    if declaration.member is not None:
        return _named_schema(_class_schema(declaration.member, tables, references), declaration.doc)
    accepted = replace(declaration, example="").accepted()
    schema: Schema = {"description": f"{declaration.doc} Accepted: {accepted}."}
    number: Schema = {"type": "number", **_limits(declaration)}
    single: list[Schema] = [number, {"type": "string", "pattern": _NUMBER_TEXT}]
    if declaration.kind == "bore":
        single.append({"type": "string", "pattern": _size_names()})
    if declaration.form == "quantities":
        return _named_schema({"anyOf": single}, str(schema["description"]))
    if declaration.form == "runs":
        name: Schema = {"type": "string", "pattern": NAME_PATTERN}
        run: Schema = {"type": "array", "items": name, "minItems": 2, "maxItems": LONGEST_RUN}
        return schema | {"type": "array", "items": run, "minItems": 1, "maxItems": MOST_RUNS}
    if declaration.form in ("quantity", "series"):
        several: Schema = {"type": "array", "items": {"anyOf": single}, "minItems": 1}
        if declaration.form == "series":
            schema |= several
        else:
            schema["anyOf"] = [*single, several] if declaration.rows else single
        if declaration.form == "quantity" and declaration.example:
            schema["examples"] = [declaration.example]
    elif declaration.form == "choice":
        schema["enum"] = list(declaration.choices)
    elif declaration.form == "count":
        schema |= {"type": "integer", **_limits(declaration)}
    else:
        schema["type"] = {"flag": "boolean", "text": "string"}[declaration.form]
    if declaration.has_default and declaration.default is not None:
        schema["default"] = _schema_default(declaration)
    return schema


def _limits(declaration: Declaration) -> dict[str, float]:
    limits = {"minimum": declaration.least, "maximum": declaration.most}
    return {word: limit for word, limit in limits.items() if np.isfinite(limit)}


def _schema_default(declaration: Declaration) -> object:
    default = declaration.default
    return value_with_unit(declaration, default) if declaration.form in ("quantity", "series") else default
