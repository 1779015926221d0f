"""Variants of one car: named sets of changes, for comparisons, sensitivities and 'what does this buy'."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from typing import Any

from fuelsim import units
from fuelsim.car.car import Car
from fuelsim.errors import InputError, nearest
from fuelsim.fields import declarations
from fuelsim.system.conditions import Conditions
from fuelsim.system.run import Run, System

__all__ = ["Changes", "in_words", "solve_changed", "vary"]

Changes = Mapping[str, Any]
"""Dotted keys of the car file, or names of operating conditions, to new values."""


def vary(key: str, values: Iterable[Any]) -> dict[str, dict[str, Any]]:
    """Return variants of a car by the values of one key: name of each variant to its changes.

    Variants are plain mappings: merge them with ``|``, or write your own with several changes each.

    Parameters
    ----------
    key : str
        Dotted key as in the car file, or a whole table such as ``"pump"``.
    values : iterable
        Numbers in SI, text with a unit, or parts.

    Raises
    ------
    InputError
        For an unknown key, one text instead of a list, or an empty list.

    Examples
    --------
    >>> vary("feed.bore", ["6 mm", 0.008])
    {'feed.bore 6 mm': {'feed.bore': '6 mm'}, 'feed.bore 8 mm': {'feed.bore': 0.008}}
    """
    if key.split(".")[0] not in declarations(Car):
        raise InputError("no such key in a car", accepted=nearest(key.split(".")[0], declarations(Car)), key=key)
    listed = [] if isinstance(values, str) else list(values)
    if not listed:
        raise InputError("nothing to vary", given=values, accepted="a list of values", key=key)
    named = {f"{key} {in_words(key, value)}".rstrip(): {key: value} for value in listed}
    if len(named) < len(listed):
        named = {f"{key} ({number})": {key: value} for number, value in enumerate(listed, start=1)}
    return named


def in_words(key: str, value: Any) -> str:
    """Return a value of a dotted key or of a condition as a person reads it; '' for a part.

    Examples
    --------
    >>> in_words("feed.bore", 0.008), in_words("supply_voltage", 12.0), in_words("wire.size", "12 AWG")
    ('8 mm', '12 V', '12 AWG')
    """
    if isinstance(value, str):
        return value
    kind = declared_kind(key)
    if isinstance(value, (int, float)) and kind:
        return f"{100.0 * value:.3g} %" if kind == "fraction" else units.shown(float(value), kind)
    return f"{value:g}" if isinstance(value, (int, float)) else ""


def declared_kind(key: str) -> str:
    """Return the kind of unit of a dotted key of a car or of a condition; '' where it has none."""
    known = declarations(Conditions)
    owner: Any = Car
    for name in key.split("."):
        if owner is Car and name in known:
            return known[name].kind
        declaration = declarations(owner).get(name) if owner is not None else None
        if declaration is None:
            return ""
        owner = declaration.part
    return declaration.kind if declaration is not None and declaration.form == "quantity" else ""


def solve_changed(system: System, changes: Changes, conditions: Conditions) -> tuple[System, Run]:
    """Solve a system with some of its car's ratings and operating conditions replaced.

    Parameters
    ----------
    system : System
    changes : mapping
        Dotted keys of the car file and names of `Conditions`.
    conditions : Conditions

    Returns
    -------
    system, run : System, Run

    Raises
    ------
    InputError
        For an unknown key or a value that is not plausible.
    """
    around = {key: value for key, value in changes.items() if key in declarations(Conditions)}
    ratings = {key: value for key, value in changes.items() if key not in around}
    changed = system
    if ratings:
        changed = System(system.car.with_values(ratings), system.layout, system.fuel_in_tank)
    if around:
        conditions = dataclasses.replace(conditions, **around)
    return changed, changed.solve(conditions)
