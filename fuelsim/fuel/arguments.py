"""Arguments of the methods of a fuel: their declarations, and functions of points for values of any shape."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from fuelsim.arguments import choice, number, whole
from fuelsim.errors import InputError, RangeError
from fuelsim.typing import FloatLike, PointArray

__all__ = [
    "ACTIVITY_MODEL",
    "FRACTION",
    "MOST_RICHNESS",
    "PRESSURE",
    "RICHNESS",
    "SATURATION",
    "TANK_HISTORY",
    "TARGETS",
    "TEMPERATURE",
    "shaped",
]

TEMPERATURE = number("temperature", 230.0, 420.0, example="45 degC", error=RangeError)
PRESSURE = number("absolute pressure", 100.0, 1e6, example="101 kPa absolute", error=RangeError)
"""Ranges of the fuel model."""
FRACTION = number("fraction", 0.0, 1.0, example="10 %", single=True)
SATURATION = {"saturation_temperature": replace(TEMPERATURE, optional=True), "saturation_pressure": PRESSURE}
"""At what the fuel has dissolved its air."""
TANK_HISTORY = {
    "temperature": TEMPERATURE,
    "vapour_space": number("number", 0.0, 1e3, single=True),
    "pressure": replace(PRESSURE, single=True),
    "repeats": whole(1, 10_000),
}
"""Temperatures of a vented tank, and how often they are run through."""
_TARGET_TEMPERATURE = number(
    "temperature", 290.0, 500.0, example="55 degC", single=True, optional=True, error=RangeError
)
_TARGET_FRACTION = replace(FRACTION, optional=True)
TARGETS = {
    "vapour_pressure": replace(PRESSURE, example="60 kPa", single=True, optional=True),
    "density": number("density", 600.0, 900.0, example="745 kg/m3", single=True, optional=True, error=RangeError),
    "t10": _TARGET_TEMPERATURE,
    "t50": _TARGET_TEMPERATURE,
    "t90": _TARGET_TEMPERATURE,
    "vapour_liquid_temperature": _TARGET_TEMPERATURE,
    "e70": _TARGET_FRACTION,
    "e100": _TARGET_FRACTION,
    "e150": _TARGET_FRACTION,
    "aromatics": _TARGET_FRACTION,
}
"""Targets of a petrol."""
ACTIVITY_MODEL = choice(("unifac", "dortmund"))
MOST_RICHNESS = 50.0
RICHNESS = number("number", 1e-3, MOST_RICHNESS)
"""Fuel supplied over the stoichiometric fuel of the air."""


def shaped(function: Callable[..., PointArray], *values: FloatLike) -> FloatLike:
    """Apply a function of ``(points,)`` arrays to values of any shape; the result has their broadcast shape.

    Parameters
    ----------
    function : function
        Takes and returns arrays ``(points,)``; sees finite values only, and the result is NaN elsewhere.
    *values : float or array
        SI values, broadcast against each other.

    Raises
    ------
    InputError
        For shapes that do not broadcast.

    Examples
    --------
    >>> shaped(np.add, np.array([[1.0], [2.0]]), np.array([10.0, np.nan])).tolist()
    [[11.0, nan], [12.0, nan]]
    """
    try:
        arrays = np.broadcast_arrays(*values)
    except ValueError as error:
        shapes = ", ".join(str(np.shape(value)) for value in values)
        raise InputError("shapes that do not broadcast", given=shapes, accepted="equal shapes, or scalars") from error
    shape = arrays[0].shape
    flat = [array.ravel() for array in arrays]
    finite = np.logical_and.reduce([np.isfinite(array) for array in flat])
    result = np.full(flat[0].shape, np.nan)
    if finite.any():
        result[finite] = function(*[array[finite] for array in flat])
    return float(result[0]) if shape == () else result.reshape(shape)
