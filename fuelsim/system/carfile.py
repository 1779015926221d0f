"""Reading a car file: TOML in, a `Car` out, or one message that names file and key."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from pathlib import Path
from typing import Any, TypeVar

from fuelsim.catalogue import read_toml
from fuelsim.errors import InputError, nearest
from fuelsim.fields import Ratings, declarations
from fuelsim.system.car import Car

__all__ = ["read_car", "read_table"]

AnyRatings = TypeVar("AnyRatings", bound=Ratings)


def read_car(path: Path | str) -> Car:
    """Return the car that a TOML file describes.

    Parameters
    ----------
    path : path
        The file; ``data/cars`` holds commented examples.

    Raises
    ------
    InputError
        For an unreadable file, a missing or unknown key, a wrong unit or a value outside its plausible range; the
        message names file, key, what was given and what is accepted.
    """
    try:
        car = read_table(Car, read_toml(path))
    except InputError as error:
        raise error.at(file=str(path)) from None
    return dataclasses.replace(car, file=str(path))


def read_table(part: type[AnyRatings], values: Mapping[str, Any]) -> AnyRatings:
    """Return one class of ratings from a table of a file, nested tables included.

    Raises
    ------
    InputError
        With the dotted key, for a missing or unknown key or a wrong value.
    """
    known = declarations(part)
    for key in values:
        if key not in known:
            raise InputError("unknown key", accepted=nearest(key, known), key=key)
    for key, declaration in known.items():
        if declaration.required and key not in values:
            raise InputError("missing key", accepted=declaration.accepted() + f": {declaration.doc}", key=key)
    converted: dict[str, Any] = {}
    for key, value in values.items():
        below = known[key].part
        if below is None:
            converted[key] = value
            continue
        if not isinstance(value, Mapping):
            raise InputError("not a table", given=value, accepted=f"a table [{key}]", key=key)
        try:
            converted[key] = read_table(below, value)
        except InputError as error:
            raise InputError(
                error.problem,
                given=error.given,
                accepted=error.accepted,
                key=f"{key}.{error.key}" if error.key else key,
            ) from None
    try:
        return part(**converted)
    except InputError as error:
        raise InputError(error.problem, given=error.given, accepted=error.accepted, key=error.key) from None
