"""Reading a car file: TOML in, a `Car` out, or one message that names file and key."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from pathlib import Path
from typing import TypeVar

from fuelsim.arguments import takes
from fuelsim.car.car import Car
from fuelsim.car.file_format import REFERENCE_KEY
from fuelsim.car.references import catalogue_section, generic_parts
from fuelsim.car.schema import Schema, json_schema
from fuelsim.data_files import read_toml
from fuelsim.declaration import MOST_NAMED, Declaration, file_keys
from fuelsim.errors import InputError, nearest
from fuelsim.fields import Ratings
from fuelsim.typing import Given

__all__ = ["car_schema", "origins", "read_car", "read_table"]

AnyRatings = TypeVar("AnyRatings", bound=Ratings)


@takes()
def read_car(path: Path | str) -> Car:
    """Return the car that a TOML file describes.

    A table may take its ratings from a generic part by the key ``catalogue``; its other keys override them. The text
    of a car file is data: nothing in it is executed, and it names no file. Beside itself only ``data`` is read (the
    catalogue, climates and fuels by their names).

    Parameters
    ----------
    path : path
        The file; ``data/cars`` holds commented examples, and ``python -m fuelsim new`` writes one.

    Returns
    -------
    Car

    Raises
    ------
    InputError
        For an unreadable file, a missing or unknown key, a wrong unit or a value outside its plausible range; the
        message names file, key, what was given and what is accepted.

    Examples
    --------
    >>> from fuelsim.data_files import data_path
    >>> read_car(data_path("cars", "finch.toml")).name
    'Finch'
    """
    try:
        car = read_table(Car, read_toml(path))
    except InputError as error:
        raise error.at(file=str(path)) from None
    return dataclasses.replace(car, file=str(path))


def read_table(part: type[AnyRatings], values: Mapping[str, Given]) -> AnyRatings:
    """Return one class of ratings from a table of a file, nested tables and references to generic parts included.

    Parameters
    ----------
    part : type
        The class of ratings.
    values : mapping of str to object
        The table as a TOML reader gives it.

    Returns
    -------
    Ratings
        Of the class `part`.

    Raises
    ------
    InputError
        With the dotted key, for a missing or unknown key or a wrong value.

    Examples
    --------
    >>> from fuelsim.parts.filter import Filter
    >>> fine = read_table(Filter, {"catalogue": "sock_small", "fineness": "60 µm"})
    >>> fine.side, round(1e6 * fine.fineness)
    ('suction', 60)
    """
    known = file_keys(part)
    generic = _generic_ratings(part, values)
    written = {key: value for key, value in values.items() if key != REFERENCE_KEY or not generic_parts(part)}
    for key in written:
        if key not in known:
            raise InputError("unknown key", accepted=nearest(key, [*known, *_reference_key(part)]), key=key or '""')
    given = {**generic, **written}
    for key, declaration in known.items():
        if key not in given and declaration.required_beside(given):
            raise declaration.missing().at(key=key)
    arguments = {key: _value_or_part(key, known[key], value) for key, value in given.items()}
    try:
        return part(**arguments, **({REFERENCE_KEY: values[REFERENCE_KEY]} if generic else {}))
    except InputError as error:
        accepted = error.accepted
        if (error.key or "").partition(".")[0] in generic.keys() - written.keys():
            accepted = f"{accepted or 'another value'} (this one is from {values[REFERENCE_KEY]!r} of the catalogue)"
        raise InputError(error.problem, given=error.given, accepted=accepted, key=error.key) from None


def _reference_key(part: type) -> list[str]:
    return [REFERENCE_KEY] if generic_parts(part) else []


def _generic_ratings(part: type, values: Mapping[str, Given]) -> dict[str, Given]:
    """Return the ratings of the generic part that a table refers to, none if it refers to none."""
    section = catalogue_section(part)
    if section is None or REFERENCE_KEY not in values:
        return {}
    try:
        return dict(section.ratings(values[REFERENCE_KEY]))
    except InputError as error:
        raise InputError(error.problem, given=error.given, accepted=error.accepted, key=REFERENCE_KEY) from None


def _value_or_part(key: str, declaration: Declaration, value: Given) -> Given:
    """Return a value as it is, or the ratings that a table below holds."""
    if declaration.member is not None and isinstance(value, Mapping):
        # A wrong name or too many of them is a message of the declaration, which sees the tables unread.
        few = len(value) <= MOST_NAMED
        member = declaration.member
        return {name: _table(f"{key}.{name}", member, table) for name, table in value.items()} if few else value
    part = declaration.part
    if part is None:
        if isinstance(value, list) and declaration.form == "quantity" and not declaration.rows:
            raise InputError("a list, where one value is wanted", given=value, accepted=declaration.accepted(), key=key)
        return value
    return _table(key, part, value)


def _table(key: str, part: type[Ratings], value: Given) -> Ratings:
    """Return the ratings of a table below, by its key in the table above."""
    if not isinstance(value, Mapping):
        raise InputError("not a table", given=value, accepted=f"a table [{key}]", key=key)
    try:
        return read_table(part, value)
    except InputError as error:
        raise InputError(
            error.problem,
            given=error.given,
            accepted=error.accepted,
            key=f"{key}.{error.key}" if error.key else key,
        ) from None


def origins(values: Mapping[str, Given]) -> dict[str, str]:
    """Return where each rating of a car comes from.

    Parameters
    ----------
    values : mapping of str to object
        Tables of a car file that `read_table` accepts.

    Returns
    -------
    dict of str to str
        Dotted key to ``"file"`` or ``"catalogue <name>"``; a key that is missing here has its default.

    Examples
    --------
    >>> origins({"pump": {"catalogue": "in_tank_220"}, "feed": {"bore": "8 mm"}})["feed.bore"]
    'file'
    """
    return dict(_origins(Car, values, ""))


def _origins(part: type, values: Mapping[str, Given], prefix: str) -> list[tuple[str, str]]:
    known = file_keys(part)
    pairs = [(f"{prefix}{key}", f"catalogue {values[REFERENCE_KEY]}") for key in _generic_ratings(part, values)]
    for key, value in values.items():
        below, member = (known[key].part, known[key].member) if key in known else (None, None)
        if below is not None and isinstance(value, Mapping):
            pairs += _origins(below, value, f"{prefix}{key}.")
        elif member is not None and isinstance(value, Mapping):
            for name, table in value.items():
                pairs += _origins(member, table, f"{prefix}{key}.{name}.")
        else:
            pairs.append((f"{prefix}{key}", "file"))
    return pairs


def car_schema() -> Schema:
    """Return the JSON schema of a car file, with which an editor completes and checks it.

    Returns
    -------
    dict
        As ``json.dumps`` takes it.
    """
    return json_schema(Car, title="fuelsim car file", references=generic_parts)
