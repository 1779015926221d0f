"""Ratings that differ from one operating point to the next: bores, set pressures, resistances on the batch axis.

A car whose ratings are lists runs every entry of them as an operating point of its own, so that sizing and
sensitivity cost no more than a sweep of the engine's speed. Lists broadcast against the conditions like numpy.
"""

from __future__ import annotations

import copy
import dataclasses
from collections.abc import Callable, Iterator
from typing import Any, TypeVar

import numpy as np

from fuelsim.car.engine import Engine
from fuelsim.errors import InputError
from fuelsim.fields import Ratings, declarations
from fuelsim.parts.pump.pump import Pump

__all__ = ["rating_shape", "spread", "taken"]

ONE_VALUE_ONLY = ("fuel", "tank", "cooler", "surge_pot", "surroundings", "supply", "damper")
"""Tables of a car whose ratings hold for all operating points alike; conditions vary what can vary there."""
OWN_LISTS = (Engine, Pump)
"""Their lists are curves and bench rows, never operating points."""

_Rated = TypeVar("_Rated", bound=Ratings)


_VARYING: dict[type, tuple[str, ...]] = {}


def _may_vary(kind: type) -> tuple[str, ...]:
    """Return the names of tables and quantities of a class of ratings; texts, counts and series never vary."""
    if kind not in _VARYING:
        _VARYING[kind] = tuple(n for n, item in declarations(kind).items() if item.form in ("quantity", "table"))
    return _VARYING[kind]


def lists(ratings: Ratings, path: str = "") -> Iterator[tuple[str, Any]]:
    """Yield the dotted key and value of each rating that is a list over operating points."""
    for name in _may_vary(type(ratings)):
        value = getattr(ratings, name)
        if isinstance(value, OWN_LISTS):
            continue
        if isinstance(value, Ratings):
            yield from lists(value, f"{path}{name}.")
        elif np.ndim(value) > 0:
            yield path + name, value


def rating_shape(car: Ratings) -> tuple[int, ...]:
    """Return the shape of the operating points that a car's ratings ask for; () for single values.

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
        if key.split(".")[0] in ONE_VALUE_ONLY or "." not in key:
            raise InputError("a list, where one value is wanted", accepted="one value", key=key)
        try:
            shape = np.broadcast_shapes(shape, np.shape(value))
        except ValueError:
            raise InputError(
                f"{np.size(value)} values, but {shape[-1]} for {first}", accepted=f"one value or {shape[-1]}", key=key
            ) from None
        first = first or key
    return shape


def _changed(ratings: _Rated, change: Callable[[Any], Any]) -> _Rated:
    """Return a copy with every list replaced; what was checked once is not checked again."""
    if isinstance(ratings, OWN_LISTS):
        return ratings
    found: dict[str, Any] = {}
    for name in _may_vary(type(ratings)):
        value = getattr(ratings, name)
        if isinstance(value, Ratings):
            found[name] = _changed(value, change)
        elif np.ndim(value) > 0:
            found[name] = change(value)
    found = {name: value for name, value in found.items() if value is not getattr(ratings, name)}
    return _with(ratings, found) if found else ratings


def _with(record: Any, changes: dict[str, Any]) -> Any:
    """Return a copy of a frozen record without running its checks; cached figures do not come along."""
    made = copy.copy(record)
    own = {item.name for item in dataclasses.fields(record)}
    for cached in set(vars(made)) - own:
        del made.__dict__[cached]
    for name, value in changes.items():
        object.__setattr__(made, name, value)
    return made


def spread(car: _Rated, shape: tuple[int, ...]) -> _Rated:
    """Return the car with each list broadcast to the shape of the operating points and flattened.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> car = Car.named("finch").with_values({"feed.bore": ["6 mm", "8 mm"]})
    >>> spread(car, (2, 2)).feed.bore.tolist()
    [0.006, 0.008, 0.006, 0.008]
    """
    return _changed(car, lambda value: np.broadcast_to(value, shape).reshape(-1))


def taken(record: Any, index: Any) -> Any:
    """Return a dataclass of ratings, plumbing or heat exchange at some of its operating points only.

    Parameters
    ----------
    record : Ratings or dataclass
        Arrays in it are (points,), except the series of a part (bench rows), which stay.
    index : int array
        Which points.
    """
    if isinstance(record, Ratings):
        return _changed(record, lambda value: value[index])
    if isinstance(record, tuple) and not hasattr(record, "_fields"):
        members = tuple(taken(member, index) for member in record)
        return record if all(new is old for new, old in zip(members, record, strict=True)) else members
    if dataclasses.is_dataclass(record) and not isinstance(record, type):
        found = {item.name: taken(getattr(record, item.name), index) for item in dataclasses.fields(record)}
        found = {name: value for name, value in found.items() if value is not getattr(record, name)}
        return _with(record, found) if found else record
    if isinstance(record, np.ndarray) and record.ndim:
        return record[index]
    return record
