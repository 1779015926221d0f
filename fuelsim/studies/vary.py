"""Variants of one car: named sets of changes, for comparisons, sensitivities and 'what does this buy'."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TypeAlias

from fuelsim.arguments import takes
from fuelsim.car.car import Car
from fuelsim.declaration import Declaration, declarations
from fuelsim.errors import InputError, nearest
from fuelsim.studies.measures import value_in_words
from fuelsim.system.conditions import Conditions
from fuelsim.system.run import Run, System
from fuelsim.typing import Given

__all__ = ["Changes", "declaration_of", "declared_kind", "in_words", "points_asked", "solve_changed", "vary"]

Changes: TypeAlias = Mapping[str, Given]
"""Dotted keys of the car file, or names of operating conditions, to new values."""


@takes()
def vary(key: str, values: Iterable[Given]) -> dict[str, dict[str, Given]]:
    """Return variants of a car by the values of one key: name of each variant to its changes.

    Variants are plain mappings: merge them with ``|``, or write your own with several changes each.

    Parameters
    ----------
    key : str
        Dotted key as in the car file, or a whole table such as ``"pump"``.
    values : iterable
        Numbers in SI, text with a unit, or parts.

    Returns
    -------
    dict of str to dict
        Name of each variant to its changes, dotted key to value.

    Raises
    ------
    InputError
        For an unknown key, one text instead of a list, an empty list, or a value that the key does not accept.

    Examples
    --------
    >>> vary("feed.bore", ["6 mm", 0.008])
    {'feed.bore 6 mm': {'feed.bore': '6 mm'}, 'feed.bore 8 mm': {'feed.bore': 0.008}}
    """
    table = key.split(".")[0]
    if table not in declarations(Car):
        raise InputError("no such key in a car", accepted=nearest(table, declarations(Car)), key=key)
    listed = [] if isinstance(values, str) else list(values)
    if not listed:
        raise InputError("nothing to vary", given=values, accepted="a list of values", key=key)
    declaration = declaration_of(key)
    for value in listed:
        try:
            by_name = isinstance(value, str) and declaration is not None and declaration.form in ("table", "tables")
            if declaration is not None and not by_name:
                # Only the order of magnitude of the fluid's density matters for what is plausible.
                declaration.convert(declaration.as_volume(value, 700.0) if declaration.mass_by else value)
        except InputError as error:
            raise error.at(key=key, function="vary") from None
    named = {f"{key} {in_words(key, value)}".rstrip(): {key: value} for value in listed}
    if len(named) < len(listed):
        named = {f"{key} ({number})": {key: value} for number, value in enumerate(listed, start=1)}
    return named


def in_words(key: str, value: Given) -> str:
    """Return a value of a dotted key or of a condition as a person reads it.

    Parameters
    ----------
    key : str
        Dotted key of a car, or name of a condition.
    value : float, str or part
        In SI, or text with a unit.

    Returns
    -------
    str
        Empty for a part.

    Examples
    --------
    >>> in_words("feed.bore", 0.008), in_words("supply_voltage", 12.0), in_words("wire.size", "12 AWG")
    ('8 mm', '12 V', '12 AWG')
    """
    if isinstance(value, str):
        return value
    if not isinstance(value, (int, float)):
        return ""
    kind = declared_kind(key)
    if not kind:
        return f"{value:g}"
    return value_in_words(float(value), kind)


def declared_kind(key: str) -> str:
    """Return the kind of unit of a dotted key of a car or of a condition.

    Parameters
    ----------
    key : str
        Dotted key of a car, or name of a condition.

    Returns
    -------
    str
        A name of `units.KINDS`; empty where the key has no unit, or is not known.

    Examples
    --------
    >>> declared_kind("feed.bore"), declared_kind("lines.crossover.bore"), declared_kind("wire.size")
    ('bore', 'bore', '')
    """
    declaration = declaration_of(key)
    return declaration.kind if declaration is not None and declaration.form == "quantity" else ""


def declaration_of(key: str) -> Declaration | None:
    """Return the declaration of a dotted key of a car or of a condition, or None where it is not known.

    Parameters
    ----------
    key : str
        Dotted key of a car, or name of a condition.

    Returns
    -------
    Declaration or None

    Examples
    --------
    >>> declaration_of("feed.bore").kind, declaration_of("feed.boar") is None
    ('bore', True)
    """
    conditions = declarations(Conditions)
    if key in conditions:
        return conditions[key]
    table: type | None = Car
    declaration = None
    for name in key.split("."):
        if declaration is not None and declaration.member is not None:
            # The name of one of several tables of a kind.
            table, declaration = declaration.member, None
            continue
        declaration = None if table is None else declarations(table).get(name)
        if declaration is None:
            return None
        table = declaration.part
    return declaration


def solve_changed(system: System, changes: Changes, conditions: Conditions) -> tuple[System, Run]:
    """Solve a system with some of its car's ratings and operating conditions replaced.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    changes : mapping
        Dotted keys of the car file and names of `Conditions`.
    conditions : Conditions
        The operating points before the changes.

    Returns
    -------
    system, run : System, Run

    Raises
    ------
    InputError
        For an unknown key or a value that is not plausible.

    Examples
    --------
    >>> system = Car.named("finch").system("return")
    >>> wide, run = solve_changed(system, {"feed.bore": "10 mm", "load": 0.5}, Conditions(rpm=[3000.0]))
    >>> float(wide.car.feed.bore), float(run.conditions.load)
    (0.01, 0.5)
    """
    operating = {key: value for key, value in changes.items() if key in declarations(Conditions)}
    ratings = {key: value for key, value in changes.items() if key not in operating}
    changed = system
    if ratings:
        changed = System(system.car.with_values(ratings), system.layout, system.fuel_in_tank)
    return changed, changed.solve(conditions.with_values(operating) if operating else conditions)


def points_asked(system: System, conditions: Conditions | None, rpm: Given | None, load: Given) -> Conditions:
    """Return the operating points of a study: conditions as they are, or a speed and a load.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    conditions : Conditions, optional
        The operating points; then no speed is given.
    rpm : float, str or array, optional
        Engine speed, rpm; left out, the red line.
    load : float, str or array
        Fraction of the full-load air charge.

    Returns
    -------
    Conditions

    Raises
    ------
    InputError
        For conditions and a speed together, or values that are not accepted.

    Examples
    --------
    >>> float(points_asked(Car.named("finch").system("return"), None, "3000 rpm", 1.0).rpm)
    3000.0
    """
    if conditions is None:
        return Conditions(rpm=system.car.engine.red_line if rpm is None else rpm, load=load)
    if rpm is not None:
        raise InputError("conditions and rpm together", accepted="one or the other", key="rpm")
    return conditions
