"""Names of array types, so that the shape of an argument is part of its signature, and of values given at the door.

The last axis of every array holds the operating points of a batch. A type checker sees the element type only; the name
tells people the shape.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, TypeAlias, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "ActivityModel",
    "ArrayLike",
    "Basis",
    "BoolArray",
    "FloatArray",
    "FloatLike",
    "Given",
    "IndexArray",
    "IntegerArray",
    "LinkArray",
    "NodeArray",
    "PlotAxes",
    "PointArray",
    "Quantity",
    "SpeciesArray",
    "TextArray",
    "TomlTable",
    "UncertaintyAsked",
    "UnitSystem",
    "Values",
    "VapourModel",
]

FloatArray: TypeAlias = NDArray[np.float64]
"""Real numbers, any shape."""
FloatLike: TypeAlias = float | FloatArray
"""A real number or an array of them: what a law takes and returns element by element."""
Given: TypeAlias = object
"""A value as a user writes it, before it is converted: a number in SI, text with a unit, or an array, list or table
column of these. `units.convert`, `units.si` and every `Declaration` convert it to a float or an array in SI and refuse
anything else, so that nothing is required of it here."""
Quantity: TypeAlias = Any
"""A declared quantity: on the way in a number in SI, text with a unit or a list of these, on the way out (in ratings
and in the body of a function) a float or an array over operating points."""
BoolArray: TypeAlias = NDArray[np.bool_]
"""True or False, any shape."""
IndexArray: TypeAlias = NDArray[np.intp]
"""Whole numbers that address other arrays."""
IntegerArray: TypeAlias = NDArray[np.integer]
"""Whole numbers such as codes and counts, any shape."""
PlotAxes: TypeAlias = object
"""Axes of matplotlib, which is loaded only where something is drawn; `show.style.panel` refuses anything else."""
TextArray: TypeAlias = NDArray[np.object_] | NDArray[np.str_]
"""Text, any shape."""
PointArray: TypeAlias = FloatArray
"""Shape (points,)."""
Values = TypeVar("Values", float, PointArray)
"""A float or an array (points,), the same in all arguments and results of one call, or fields of one record."""
LinkArray: TypeAlias = FloatArray
"""Shape (links, points), or (links, 1) where all points share a value."""
NodeArray: TypeAlias = FloatArray
"""Shape (nodes, points), or (nodes, 1) where all points share a value."""
SpeciesArray: TypeAlias = FloatArray
"""Shape (species, points)."""
TomlTable: TypeAlias = dict[str, Any]
"""A table of a TOML file by its keys: text, numbers, truth values, dates, lists and tables of these."""
UncertaintyAsked: TypeAlias = bool | int | Mapping[str, object]
"""What a study says of how sure it is: nothing (False), by the usual number of samples of the usual inputs (True), by
that number of them, or by the usual number of samples of these inputs: keys of the car file, each with (low, high),
(low, middle, high) or a distribution of `scipy.stats` in SI."""
UnitSystem: TypeAlias = Literal["SI", "metric workshop", "US workshop"]
"""A system of units in which results are shown."""
ActivityModel: TypeAlias = Literal["unifac", "dortmund"]
"""A model of the liquid's activity coefficients: original or modified (Dortmund) UNIFAC."""
VapourModel: TypeAlias = Literal["virial", "ideal"]
"""A model of the vapour."""
Basis: TypeAlias = Literal["volume", "mole", "mass"]
"""What the fractions of a mixture are fractions of."""
