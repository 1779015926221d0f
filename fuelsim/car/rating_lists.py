"""Ratings that differ from one operating point to the next: bores, set pressures, resistances on the batch axis.

Every entry of a rating that is a list is an operating point of its own, so that sizing and sensitivity cost no more
than a sweep of the engine's speed. Lists broadcast against the conditions like numpy.
"""

from __future__ import annotations

import copy
import dataclasses
from collections.abc import Callable, Iterator
from typing import TypeVar, cast

import numpy as np

from fuelsim.car.engine import Engine
from fuelsim.declaration import declarations
from fuelsim.errors import InputError
from fuelsim.fields import Ratings
from fuelsim.named_tables import NamedTables
from fuelsim.typing import BoolArray, FloatArray, IndexArray

__all__ = ["at_points", "broadcast_ratings", "may_be_listed", "rating_shape"]

ONE_VALUE_ONLY = (
    "fuel",
    "tank",
    "cooler",
    "surge_pot",
    "surroundings",
    "supply",
    "damper",
    "coolers",
    "pots",
    "jet_pumps",
    "dampers",
)
"""Tables of a car whose ratings hold for all operating points alike; conditions vary what can vary there."""
VARYING_THERE = (
    "fuel.vapour_pressure",
    "fuel.ethanol",
    "tank.heat_conductance",
    "surroundings.bay_rise",
    "surroundings.underfloor_rise",
    "surroundings.cruising_bay_rise",
    "surroundings.cruising_underfloor_rise",
)
"""Ratings in these tables that may be lists all the same."""
OWN_LISTS = (Engine,)
"""Their lists are curves, never operating points."""

_Rated = TypeVar("_Rated", bound=Ratings)
_Record = TypeVar("_Record")

_VARYING: dict[type, tuple[str, ...]] = {}


def _may_vary(kind: type) -> tuple[str, ...]:
    """Return the names of tables and quantities of a class of ratings; texts, counts, series and rows never vary."""
    if kind not in _VARYING:
        forms = ("quantity", "table", "tables")
        _VARYING[kind] = tuple(
            name for name, item in declarations(kind).items() if item.form in forms and not item.rows
        )
    return _VARYING[kind]


def lists(ratings: Ratings, path: str = "") -> Iterator[tuple[str, FloatArray]]:
    """Yield the dotted key and value of each rating that is a list over operating points.

    Parameters
    ----------
    ratings : Ratings
        A car or one of its tables.
    path : str
        Dotted key of the table with a dot at its end; empty for the car.

    Yields
    ------
    key : str
        Dotted key.
    value : array
        In SI.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> [key for key, _ in lists(Car.named("finch").with_values({"feed.bore": ["6 mm", "8 mm"]}))]
    ['feed.bore']
    """
    for name in _may_vary(type(ratings)):
        value = getattr(ratings, name)
        if isinstance(value, OWN_LISTS):
            continue
        if isinstance(value, NamedTables):
            for table, each in value.items():
                if not isinstance(each, OWN_LISTS):
                    yield from lists(each, f"{path}{name}.{table}.")
        elif isinstance(value, Ratings):
            yield from lists(value, f"{path}{name}.")
        elif np.ndim(value) > 0:
            yield path + name, value


def may_be_listed(key: str) -> bool:
    """Return whether a quantity in a part of a car may be a list over operating points.

    Parameters
    ----------
    key : str
        Dotted key of the car file.

    Returns
    -------
    bool

    Examples
    --------
    >>> may_be_listed("feed.bore"), may_be_listed("tank.volume"), may_be_listed("surroundings.bay_rise")
    (True, False, True)
    """
    table, dot, _ = key.partition(".")
    return key in VARYING_THERE or (bool(dot) and table not in ONE_VALUE_ONLY)


def rating_shape(car: Ratings) -> tuple[int, ...]:
    """Return the shape of the operating points that a car's ratings ask for; () for single values.

    Parameters
    ----------
    car : Ratings
        A car, or another class of ratings with tables.

    Returns
    -------
    tuple of int

    Raises
    ------
    InputError
        For a rating that must be one value, and for lists of different lengths, naming both.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> rating_shape(Car.named("finch").with_values({"feed.bore": ["6 mm", "8 mm"]}))
    (2,)
    """
    shape: tuple[int, ...] = ()
    first = ""
    for key, value in lists(car):
        if not may_be_listed(key):
            raise InputError("a list, where one value is wanted", accepted="one value", key=key)
        try:
            shape = np.broadcast_shapes(shape, np.shape(value))
        except ValueError:
            raise InputError(
                f"{np.size(value)} values, but {shape[-1]} for {first}", accepted=f"one value or {shape[-1]}", key=key
            ) from None
        first = first or key
    return shape


def _with_lists_changed(ratings: _Rated, change: Callable[[FloatArray], FloatArray]) -> _Rated:
    """Return a copy with every list replaced; ratings that were checked once are not checked again."""
    if isinstance(ratings, OWN_LISTS):
        return ratings
    changes: dict[str, object] = {}
    for name in _may_vary(type(ratings)):
        value = getattr(ratings, name)
        new = value
        if isinstance(value, NamedTables):
            tables = {table: _with_lists_changed(each, change) for table, each in value.items()}
            if any(tables[table] is not each for table, each in value.items()):
                new = NamedTables(tables)
        elif isinstance(value, Ratings):
            new = _with_lists_changed(value, change)
        elif np.ndim(value) > 0:
            new = change(value)
        if new is not value:
            changes[name] = new
    return _replaced(ratings, changes) if changes else ratings


def _replaced(record: _Record, changes: dict[str, object]) -> _Record:
    """Return a copy of a frozen dataclass without running its checks; cached properties are computed anew."""
    made = copy.copy(record)
    fields = {item.name for item in dataclasses.fields(record)}  # type: ignore[arg-type]
    for cached in set(vars(made)) - fields:
        del made.__dict__[cached]
    for name, value in changes.items():
        object.__setattr__(made, name, value)
    return made


def broadcast_ratings(car: _Rated, shape: tuple[int, ...]) -> _Rated:
    """Return the car with each list broadcast to the shape of the operating points and flattened.

    Parameters
    ----------
    car : Ratings
        A car, or another class of ratings with tables.
    shape : tuple of int
        Shape of the batch, to which `rating_shape` broadcasts.

    Returns
    -------
    Ratings
        Lists are (points,); single values stay.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> car = Car.named("finch").with_values({"feed.bore": ["6 mm", "8 mm"]})
    >>> broadcast_ratings(car, (2, 2)).feed.bore.tolist()
    [0.006, 0.008, 0.006, 0.008]
    """
    return _with_lists_changed(car, lambda value: np.broadcast_to(value, shape).reshape(-1))


def at_points(record: _Record, index: IndexArray | BoolArray) -> _Record:
    """Return a dataclass of ratings, plumbing or heat exchange at some of its operating points only.

    Parameters
    ----------
    record : Ratings, dataclass, tuple or array
        Arrays in it are (points,), except the series of a part (bench rows), which stay.
    index : int or bool array
        Which points.

    Returns
    -------
    object
        Of the same class; the record itself where it holds no arrays.

    Examples
    --------
    >>> from fuelsim.parts.line import Line
    >>> at_points(Line(length="3 m", bore=["6 mm", "8 mm", "10 mm"]), np.array([0, 2])).bore.tolist()
    [0.006, 0.01]
    """
    return cast("_Record", _at_points(record, index))


def _at_points(record: object, index: IndexArray | BoolArray) -> object:
    if isinstance(record, Ratings):
        return _with_lists_changed(record, lambda value: value[index])
    if isinstance(record, tuple) and not hasattr(record, "_fields"):
        members = tuple(_at_points(member, index) for member in record)
        return record if all(new is old for new, old in zip(members, record, strict=True)) else members
    if dataclasses.is_dataclass(record) and not isinstance(record, type):
        changes = {item.name: _at_points(getattr(record, item.name), index) for item in dataclasses.fields(record)}
        changes = {name: value for name, value in changes.items() if value is not getattr(record, name)}
        return _replaced(record, changes) if changes else record
    if isinstance(record, np.ndarray) and record.ndim:
        return record[index]
    return record
