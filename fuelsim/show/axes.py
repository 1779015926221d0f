"""Which condition varies along which axis of a result, for tables and datasets."""

from __future__ import annotations

import numpy as np

from fuelsim.declaration import declarations
from fuelsim.kinds import KINDS
from fuelsim.system.conditions import Conditions
from fuelsim.typing import FloatArray

__all__ = ["Coordinates", "axes_of", "unit_of_condition"]

Coordinates = dict[str, tuple[tuple[str, ...], FloatArray, str]]
"""Axes, values and SI unit by the name of a condition."""


def axes_of(conditions: Conditions) -> tuple[tuple[str, ...], Coordinates]:
    """Return the name of each axis of some conditions, and the coordinates along them.

    Parameters
    ----------
    conditions : Conditions
        Their shape gives the axes.

    Returns
    -------
    names : tuple of str
        The condition that varies along each axis and no other; ``point``, or ``point_0`` and so on, where none does.
    coordinates : dict of str to tuple
        Axes, values and SI unit of every condition.

    Examples
    --------
    >>> axes_of(Conditions(rpm=[[1000.0], [6000.0]], altitude=["0 m", "2000 m"]))[0]
    ('rpm', 'altitude')
    """
    shape = conditions.shape
    given = {name: np.broadcast_to(values, shape) for name, values in conditions.given.items()}
    coordinates: Coordinates = {}
    names: list[str] = []
    for axis in range(len(shape)):
        along = {name: values for name, values in given.items() if np.ndim(values) and _varies_only_along(values, axis)}
        name = next(iter(along), f"point_{axis}" if len(shape) > 1 else "point")
        names.append(name)
        for other, values in along.items():
            first = tuple(slice(None) if number == axis else 0 for number in range(len(shape)))
            coordinates[other] = ((name,), np.asarray(values[first]), unit_of_condition(other))
    for other, values in given.items():
        if other not in coordinates:
            constant = bool(np.all(values == np.ravel(values)[0])) if values.size else True
            dims = () if constant else tuple(names)
            coordinates[other] = (dims, np.ravel(values)[0] if constant else values, unit_of_condition(other))
    return tuple(names), coordinates


def _varies_only_along(values: FloatArray, axis: int) -> bool:
    """Return whether values change along one axis and along no other."""
    others = tuple(number for number in range(values.ndim) if number != axis)
    return values.shape[axis] > 1 and bool(np.ptp(values, axis=axis).any() and not np.ptp(values, axis=others).any())


def unit_of_condition(name: str) -> str:
    """Return the SI unit of a condition; empty for a name that is none.

    Parameters
    ----------
    name : str

    Examples
    --------
    >>> unit_of_condition("altitude")
    'm'
    """
    declaration = declarations(Conditions).get(name)
    return KINDS[declaration.kind].unit if declaration is not None else ""
