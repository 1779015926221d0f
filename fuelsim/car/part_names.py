"""Which names of a car are parts: plain tables such as ``[feed]``, and named ones such as ``[lines.crossover]``."""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

from fuelsim.car.car_tables import CarTables
from fuelsim.car.heat_parts import Pot
from fuelsim.car.layouts import VESSEL, layout_names
from fuelsim.car.tables import Rail
from fuelsim.declaration import Declaration, declarations
from fuelsim.errors import InputError, nearest
from fuelsim.fields import Ratings
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.part import Part
from fuelsim.parts.tank_parts import JetPump

__all__ = ["NamedPart", "check_names", "named_part", "part_names"]

MANIFOLD = "manifold"
"""Station into which the injectors deliver: no name for a part or a junction."""
STATION_ENDINGS = ("_inlet", "_outlet")
"""Endings of the stations of a part."""
PLUMBING = "plumbing"
"""Key of the car's own plumbings."""


class NamedPart(NamedTuple):
    """A part of a car by its name in runs.

    Attributes
    ----------
    kind : str
        Key of the car that holds it: its own where the table is plain, as in ``"feed"``, else that of the named
        tables, as in ``"lines"``.
    table : str
        Dotted key of its table, as in ``"feed"`` or ``"lines.crossover"``.
    part : Ratings
    """

    kind: str
    table: str
    part: Ratings


def _carries_fuel(part: type | None) -> bool:
    """Whether fuel flows through or stands in parts of a class, so that runs may name them."""
    return part is not None and issubclass(part, (Part, Rail, Pot, JetPump)) and not issubclass(part, Injectors)


def _fuel_tables(car: type) -> tuple[tuple[Declaration, ...], tuple[Declaration, ...]]:
    """Return the plain tables and the named tables whose parts runs may name."""
    return _cached_fuel_tables(car)


@cache
def _cached_fuel_tables(car: type) -> tuple[tuple[Declaration, ...], tuple[Declaration, ...]]:
    known = declarations(car).values()
    plain = tuple(item for item in known if _carries_fuel(item.part))
    named = tuple(item for item in known if _carries_fuel(item.member))
    return plain, named


def named_part(car: CarTables, name: str) -> NamedPart | None:
    """Return a part of a car by its name in runs; None for the tank, a junction or a plain table that is left out.

    Parameters
    ----------
    car : Car
        The car.
    name : str
        Name of a plain table or of a named one.

    Returns
    -------
    NamedPart or None

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> named_part(Car.named("finch"), "feed").table
    'feed'
    """
    plain, named = _fuel_tables(type(car))
    for item in plain:
        if item.name == name:
            part: Ratings | None = getattr(car, name)
            return None if part is None else NamedPart(name, name, part)
    for item in named:
        tables = getattr(car, item.name)
        if name in tables:
            return NamedPart(item.name, f"{item.name}.{name}", tables[name])
    return None


def part_names(car: CarTables) -> list[str]:
    """Return the names that are parts in runs: plain tables that the car has, then named ones.

    Parameters
    ----------
    car : Car
        The car.

    Returns
    -------
    list of str

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> part_names(Car.named("finch"))[:3]
    ['strainer', 'pump', 'filter']
    """
    plain, named = _fuel_tables(type(car))
    names = [item.name for item in plain if getattr(car, item.name) is not None]
    return names + [name for item in named for name in getattr(car, item.name)]


def check_names(car: CarTables) -> None:
    """Raise InputError where a name of a named table means two things.

    Parameters
    ----------
    car : Car
        The car.

    Raises
    ------
    InputError
        With the dotted key of the table.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> check_names(Car.named("finch"))
    """
    known = declarations(type(car))
    seen: dict[str, str] = {}
    for item in known.values():
        if item.form != "tables":
            continue
        for name in getattr(car, item.name):
            key = f"{item.name}.{name}"
            if item.owners:
                _check_owner(car, item, name, known[item.owners])
            elif item.name == PLUMBING:
                if name in layout_names():
                    raise InputError("the name of a standard layout", accepted="another name", key=key)
            elif name in (VESSEL, MANIFOLD) or name.endswith(STATION_ENDINGS):
                accepted = f"another name, without {' and '.join(STATION_ENDINGS)} at its end"
                raise InputError("the name of a station", given=name, accepted=accepted, key=key)
            elif name in known:
                raise InputError("a name that the car file uses itself", given=name, accepted="another name", key=key)
            elif name in seen:
                raise InputError(f"a name that is taken by {seen[name]}", given=name, accepted="another name", key=key)
            else:
                seen[name] = key


def _check_owner(car: CarTables, item: Declaration, name: str, owners: Declaration) -> None:
    """Raise for a table that bears the name of no part it could belong to."""
    plain = [
        other.name
        for other in declarations(type(car)).values()
        if other.part is owners.member and getattr(car, other.name) is not None
    ]
    known = [*plain, *getattr(car, owners.name)]
    if name not in known:
        accepted = nearest(name, known) if known else f"a table [{owners.name}.{name}] beside it"
        raise InputError(
            f"a table without a part of that name among {owners.name}",
            given=name,
            accepted=accepted,
            key=f"{item.name}.{name}",
        )
