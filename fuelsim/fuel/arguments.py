"""Arguments of the methods of a fuel: numbers and text become checked SI arrays, and results take their shape."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fuelsim.errors import InputError, RangeError
from fuelsim.typing import FloatArray, FloatLike, Given, PointArray
from fuelsim.units import convert, shown

__all__ = ["fraction_given", "pressure_given", "pressures", "shaped", "target_given", "temperatures"]

TEMPERATURE_RANGE = (230.0, 420.0)
PRESSURE_RANGE = (100.0, 1.0e6)


def _checked(value: Given, kind: str, limits: tuple[float, float], accepted: str, hint: str = "") -> FloatArray:
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


def temperatures(value: Given) -> FloatArray:
    """Return temperatures in K.

    Parameters
    ----------
    value : float, str or array
        Numbers are K; NaN stays NaN.

    Raises
    ------
    RangeError
        Outside 230 to 420 K.

    Examples
    --------
    >>> float(temperatures("45 degC"))
    318.15
    """
    hint = " (a plain number is kelvin; write '45 degC')"
    return _checked(value, "temperature", TEMPERATURE_RANGE, "230 to 420 K (-43 to 147 degC)", hint)


def pressures(value: Given) -> FloatArray:
    """Return pressures in Pa absolute.

    Parameters
    ----------
    value : float, str or array
        Numbers are Pa absolute; NaN stays NaN.

    Raises
    ------
    RangeError
        Outside 100 Pa to 1 MPa.

    Examples
    --------
    >>> float(pressures("1 bar"))
    100000.0
    """
    hint = " (a plain number is Pa absolute)"
    return _checked(value, "absolute pressure", PRESSURE_RANGE, "0.1 to 1000 kPa absolute", hint)


def pressure_given(value: Given, key: str = "vapour_pressure") -> float:
    """Return one vapour pressure in Pa, for an argument of a constructor.

    Parameters
    ----------
    value : float or str
    key : str
        Name of the argument, for messages.

    Raises
    ------
    RangeError
        Outside 100 Pa to 1 MPa.

    Examples
    --------
    >>> pressure_given("60 kPa")
    60000.0
    """
    pressure = _one(value, "absolute pressure", key)
    if not 100.0 <= pressure <= 1e6:
        accepted = "0.1 to 1000 kPa, as in '60 kPa' (a plain number is Pa)"
        raise RangeError("not a plausible vapour pressure", given=value, accepted=accepted, key=key)
    return pressure


def target_given(value: Given, key: str) -> float | None:
    """Return one target of a petrol in SI, or None where it is not given.

    Parameters
    ----------
    value : float, str or None
    key : str
        Name of the target, a key of `fuelsim.fuel.calibration.TARGETS`.

    Raises
    ------
    RangeError
        For a value that no petrol has.

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


def _one(value: Given, kind: str, key: str) -> float:
    try:
        return float(convert(value, kind))
    except InputError as error:
        raise error.at(key=key) from error
    except TypeError as error:
        raise InputError("one value is wanted", given=value, key=key) from error


def fraction_given(value: Given, key: str) -> float:
    """Return one fraction between 0 and 1; text may be in per cent.

    Parameters
    ----------
    value : float or str
    key : str
        Name of the argument, for messages.

    Raises
    ------
    InputError
        Outside 0 to 1.

    Examples
    --------
    >>> fraction_given("10 %", "ethanol")
    0.1
    """
    fraction = _one(value, "fraction", key)
    if not 0.0 <= fraction <= 1.0:
        raise InputError("not a fraction", given=value, accepted="0 to 1, or text as in '10 %'", key=key)
    return fraction


def shaped(function: Callable[..., PointArray], *values: FloatArray) -> FloatLike:
    """Apply a function of ``(points,)`` arrays to values of any shape; the result has their broadcast shape.

    Parameters
    ----------
    function : function
        Takes and returns arrays ``(points,)``; sees finite values only, and the result is NaN elsewhere.
    *values : array
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
        shapes = ", ".join(str(value.shape) for value in values)
        raise InputError("shapes that do not broadcast", given=shapes, accepted="equal shapes, or scalars") from error
    shape = arrays[0].shape
    flat = [array.ravel() for array in arrays]
    finite = np.logical_and.reduce([np.isfinite(array) for array in flat])
    result = np.full(flat[0].shape, np.nan)
    if finite.any():
        result[finite] = function(*[array[finite] for array in flat])
    return float(result[0]) if shape == () else result.reshape(shape)
