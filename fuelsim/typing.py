"""Names of array types: the shape of an argument is part of its signature.

The last axis of every array holds the operating points of a batch. A type checker sees the element type only; the name
tells people the shape.
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "ArrayLike",
    "BoolArray",
    "FloatArray",
    "FloatLike",
    "IndexArray",
    "LinkArray",
    "NodeArray",
    "PointArray",
    "SpeciesArray",
    "TextArray",
]

FloatArray: TypeAlias = NDArray[np.float64]
"""Real numbers, any shape."""
FloatLike: TypeAlias = float | FloatArray
"""A real number or an array of them: what a law takes and returns element by element."""
BoolArray: TypeAlias = NDArray[np.bool_]
"""True or False, any shape."""
IndexArray: TypeAlias = NDArray[np.intp]
"""Whole numbers that address other arrays."""
TextArray: TypeAlias = NDArray[np.object_]
"""Text, any shape."""
PointArray: TypeAlias = FloatArray
"""Shape (points,)."""
LinkArray: TypeAlias = FloatArray
"""Shape (links, points), or (links, 1) where all points share a value."""
NodeArray: TypeAlias = FloatArray
"""Shape (nodes, points), or (nodes, 1) where all points share a value."""
SpeciesArray: TypeAlias = FloatArray
"""Shape (species, points)."""
