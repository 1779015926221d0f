"""What a fuel is asked with: numbers or text become checked SI arrays, and answers take their shape."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from fuelsim.errors import InputError, RangeError
from fuelsim.units import convert, shown

__all__ = ["fraction_given", "pressure_given", "pressures", "shaped", "target_given", "temperatures"]

TEMPERATURE_RANGE = (230.0, 420.0)
PRESSURE_RANGE = (100.0, 1.0e6)


def _checked(value: Any, kind: str, limits: tuple[float, float], accepted: str, hint: str = "") -> np.ndarray:
    if isinstance(value, (float, int, np.ndarray)) and not isinstance(value, bool):
        array = np.asarray(value, dtype=float)
    else:
        array = np.asarray(convert(value, kind), dtype=float)
    slack = 1e-9 * limits[1]
    outside = (array < limits[0] - slack) | (array > limits[1] + slack)  # NaN passes and stays NaN
    if outside.any():
        worst = float(array[outside].flat[0]) if array.ndim else float(array)
        text = f"{shown(worst, kind)}" + (f" ({worst:g} K)" if kind == "temperature" else "")
        raise RangeError(f"outside the range of the fuel model{hint}", given=text, accepted=accepted, key=kind)
    return array


def temperatures(value: Any) -> np.ndarray:
    """Return temperatures in K, or raise `RangeError` outside 230 to 420 K.

    Examples
    --------
    >>> float(temperatures("45 degC"))
    318.15
    """
    hint = " (a plain number is kelvin; write '45 degC')"
    return _checked(value, "temperature", TEMPERATURE_RANGE, "230 to 420 K (-43 to 147 degC)", hint)


def pressures(value: Any) -> np.ndarray:
    """Return pressures in Pa absolute, or raise `RangeError` outside 100 Pa to 1 MPa.

    Examples
    --------
    >>> float(pressures("1 bar"))
    100000.0
    """
    hint = " (a plain number is Pa absolute)"
    return _checked(value, "absolute pressure", PRESSURE_RANGE, "0.1 to 1000 kPa absolute", hint)


def pressure_given(value: Any, key: str = "vapour_pressure") -> float:
    """Return one vapour pressure in Pa, for a key of a constructor."""
    pressure = _one(value, "absolute pressure", key)
    if not 100.0 <= pressure <= 1e6:
        accepted = "0.1 to 1000 kPa, as in '60 kPa' (a plain number is Pa)"
        raise RangeError("not a plausible vapour pressure", given=value, accepted=accepted, key=key)
    return pressure


def target_given(value: Any, key: str) -> float | None:
    """Return one target of a petrol in SI, or None where it is not given.

    Examples
    --------
    >>> target_given("55 degC", "t10"), target_given("30 %", "e70"), target_given(None, "t50")
    (328.15, 0.3, None)
    """
    if value is None:
        return None
    if key == "density":
        density = _one(value, "density", key)
        if not 600.0 <= density <= 900.0:
            raise RangeError("not a plausible density of petrol", given=value, accepted="600 to 900 kg/m3", key=key)
        return density
    if key in ("t10", "t50", "t90", "vapour_liquid_temperature"):
        temperature = _one(value, "temperature", key)
        if not 290.0 <= temperature <= 500.0:
            accepted = "17 to 227 degC (a plain number is kelvin; write '55 degC')"
            raise RangeError("not a plausible temperature", given=value, accepted=accepted, key=key)
        return temperature
    return fraction_given(value, key)


def _one(value: Any, kind: str, key: str) -> float:
    try:
        return float(convert(value, kind))
    except InputError as error:
        raise error.at(key=key) from error
    except TypeError as error:
        raise InputError("one value is wanted", given=value, key=key) from error


def fraction_given(value: Any, key: str) -> float:
    """Return one fraction between 0 and 1; text may be in per cent.

    Examples
    --------
    >>> fraction_given("10 %", "ethanol")
    0.1
    """
    fraction = _one(value, "fraction", key)
    if not 0.0 <= fraction <= 1.0:
        raise InputError("not a fraction", given=value, accepted="0 to 1, or text as in '10 %'", key=key)
    return fraction


def shaped(function: Callable[..., np.ndarray], *values: np.ndarray) -> Any:
    """Broadcast, flatten, run a function of ``(points,)`` arrays, and give the answer the broadcast shape.

    NaN goes in and comes out; the function sees only finite points.
    """
    try:
        arrays = np.broadcast_arrays(*values)
    except ValueError as error:
        shapes = ", ".join(str(value.shape) for value in values)
        raise InputError("shapes that do not broadcast", given=shapes, accepted="equal shapes, or scalars") from error
    shape = arrays[0].shape
    flat = [array.ravel() for array in arrays]
    finite = np.logical_and.reduce([np.isfinite(array) for array in flat])
    found = np.full(flat[0].shape, np.nan)
    if finite.any():
        found[finite] = function(*[array[finite] for array in flat])
    return float(found[0]) if shape == () else found.reshape(shape)
