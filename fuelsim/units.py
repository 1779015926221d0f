"""Units at the door: strings or numbers from outside become SI, and SI becomes what a person reads.

Inside fuelsim every value is SI. Every value is of a kind (`kinds.KINDS`), and `convert` turns what was given into SI
numbers of that kind.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sized
from difflib import get_close_matches
from functools import lru_cache
from itertools import islice
from numbers import Real
from typing import NamedTuple, get_args, overload

import numpy as np

from fuelsim.constants import ZERO_CELSIUS
from fuelsim.errors import InputError, nearest, shortened
from fuelsim.kinds import KINDS, Kind
from fuelsim.typing import ArrayLike, FloatArray, FloatLike, Given, UnitSystem
from fuelsim.unit_text import LONGEST_TEXT, carried_unit, label, split_number, unit_ratio

__all__ = [
    "SYSTEMS",
    "convert",
    "from_si",
    "kind_of_unit",
    "prefer_units",
    "shown",
    "shown_values",
    "si",
    "unit_system",
]


DEEPEST_LIST = 8
MOST_VALUES = 1_000_000
"""Values of one argument: beyond it a call would take minutes and gigabytes."""
SYSTEMS = get_args(UnitSystem)
_preferred = ["metric workshop"]
"""The system of units in which tables, plots, findings and sentences are shown; `prefer_units` changes it."""


# Kinds whose units pint cannot tell apart (it takes a turn, a percent and a radian for plain numbers, and a hertz for
# a radian per second), so the accepted units are listed: text to SI factor.
_PURE = {"": 1.0, "1": 1.0, "%": 0.01, "percent": 0.01, "‰": 1e-3, "ppm": 1e-6}
_LISTED: dict[str, dict[str, float]] = {
    "fraction": _PURE,
    "number": _PURE,
    "angle": {"rad": 1.0, "turn": 2.0 * math.pi} | dict.fromkeys(("deg", "degree", "degrees", "°"), math.pi / 180.0),
    "engine speed": {"rad/s": 30.0 / math.pi, "rev/s": 60.0, "krpm": 1000.0}
    | dict.fromkeys(("rpm", "1/min", "min-1", "rev/min", "r/min"), 1.0),
}
_ZERO_POINTS = {"degC": (1.0, ZERO_CELSIUS), "degF": (5.0 / 9.0, 459.67 * 5.0 / 9.0)}
_DEGREES = {
    **dict.fromkeys(("degC", "°C", "℃", "deg C", "° C", "celsius", "Celsius"), "degC"),
    **dict.fromkeys(("degF", "°F", "℉", "deg F", "° F", "fahrenheit", "Fahrenheit"), "degF"),
}
_MEANT = {
    "C": "degC",
    "c": "degC",
    "F": "degF",
    "kg/cm2": "kgf/cm2",
    "kg/cm^2": "kgf/cm2",
    "Mpa": "MPa",
    "mpa": "MPa",
    "Nm3/h": "m3/h",
}
_GAUGE = re.compile(r"(?P<unit>.+?)(?:\s+gauge|\s*\(g\)|\s+g|(?<=psi|bar|kPa)g)")
_ABSOLUTE = re.compile(r"(?P<unit>.+?)(?:\s+(?:absolute|abs)|\s*\(a\)|\s+a|(?<=psi|bar|kPa)a)")


class _Scale(NamedTuple):
    """How a unit reads: SI = number * factor + zero, plus the atmosphere for a gauge pressure."""

    factor: float
    zero: float = 0.0
    gauge: bool = False


@lru_cache(maxsize=4096)
def _scale(unit: str, kind_name: str) -> _Scale:
    kind = KINDS[kind_name]
    if kind_name in _LISTED:
        if unit not in _LISTED[kind_name]:
            raise _no_unit_of(kind, unit)
        return _Scale(_LISTED[kind_name][unit])
    if unit == "":
        wanted = f"a unit of {kind.name} ({', '.join(kind.examples)}), or a plain SI number in {kind.unit}"
        raise InputError("a text without a unit", accepted=wanted)
    if kind_name in ("temperature", "temperature difference"):
        return _temperature_scale(unit, kind)
    if kind_name == "acceleration" and unit == "g":
        unit = "standard_gravity"
    gauge = False
    if kind.unit == "Pa":
        absolute = _ABSOLUTE.fullmatch(unit)
        stated = absolute or _GAUGE.fullmatch(unit)
        if absolute and kind_name == "pressure difference":
            raise InputError("a pressure difference is wanted, not an absolute pressure", accepted="kPa, bar, psi")
        unit = stated["unit"] if stated else unit
        gauge = bool(stated) and not absolute and kind_name == "absolute pressure"
    return _Scale(_ratio(unit, kind), gauge=gauge)


def _temperature_scale(unit: str, kind: Kind) -> _Scale:
    degrees = _DEGREES.get(unit)
    if kind.name == "temperature":
        if unit.startswith(("delta_", "Δ")):
            raise InputError("a temperature is wanted, not a difference", accepted="degC, degF or K")
        if degrees:
            return _Scale(*_ZERO_POINTS[degrees])
    elif degrees:
        raise InputError("a temperature difference has no zero point", accepted=f"K or delta_{degrees}, as in '5 K'")
    return _Scale(_ratio(unit, kind))


def _ratio(unit: str, kind: Kind) -> float:
    try:
        ratio = unit_ratio(unit, kind.unit)
    except InputError as error:
        raise _no_unit_of(kind, unit, error.problem) from None
    if ratio is None:
        raise _no_unit_of(kind, unit)
    return ratio


def _no_unit_of(kind: Kind, unit: str, problem: str = "") -> InputError:
    known = [*kind.examples, *kind.shown, kind.unit]
    meant = _MEANT.get(unit) or next((item for item in known if item.lower() == unit.lower()), "")
    close = [meant] if meant else get_close_matches(unit[:LONGEST_TEXT], known, n=1, cutoff=0.75)
    accepted = f"a unit of {kind.name}, as in {', '.join(kind.examples)}" if kind.examples else "a number without unit"
    if close and close[0] != unit:
        accepted = f"did you mean '{close[0]}'? {accepted}"
    return InputError(problem or f"{shortened(unit)} is not a unit of {kind.name}", accepted=accepted)


def _offset(scale: _Scale, given: Given, atmospheric_pressure: float | None) -> float:
    if not scale.gauge:
        return scale.zero
    if atmospheric_pressure is None:
        raise InputError(
            "a gauge pressure needs the atmospheric pressure, which is not known here",
            given=given,
            accepted="an absolute pressure, as in '101 kPa absolute' or '14.7 psia'",
        )
    return atmospheric_pressure


def _one(text: str, kind: Kind, atmospheric_pressure: float | None) -> float:
    try:
        number, unit = split_number(text)
        scale = _scale(unit, kind.name)
    except InputError as error:
        accepted = (
            f"a number and a unit of {kind.name}, as in {', '.join(kind.examples)}" if kind.examples else "a number"
        )
        raise InputError(error.problem, given=text, accepted=error.accepted or accepted) from None
    return number * scale.factor + _offset(scale, text, atmospheric_pressure)


@overload
def convert(
    value: float | str, kind: str, *, atmospheric_pressure: float | None = None, unit: str | None = None
) -> float: ...
@overload
def convert(
    value: FloatArray, kind: str, *, atmospheric_pressure: float | None = None, unit: str | None = None
) -> FloatArray: ...
@overload
def convert(
    value: Given, kind: str, *, atmospheric_pressure: float | None = None, unit: str | None = None
) -> FloatLike: ...
def convert(
    value: Given, kind: str, *, atmospheric_pressure: float | None = None, unit: str | None = None
) -> FloatLike:
    """Return a given value as SI numbers of one kind.

    Parameters
    ----------
    value : number, str, array or (nested) list of these
        Numbers are SI unless `unit` says otherwise; strings carry their own unit, and so do quantities of pint and
        arrays of xarray with an attribute ``units``. Columns of pandas are arrays.
    kind : str
        A name of `KINDS`, such as ``"absolute pressure"``.
    atmospheric_pressure : float, optional
        Pa absolute; makes gauge units acceptable for an absolute pressure.
    unit : str, optional
        The unit of plain numbers.

    Returns
    -------
    float or array
        SI, shaped like `value`.

    Raises
    ------
    InputError
        For an unknown unit, a unit of another dimension, text that is no number, or a value that is not finite.

    Examples
    --------
    >>> convert("300 kPa", "pressure difference")
    300000.0
    >>> float(convert("-40 degF", "temperature").__round__(6))
    233.15
    >>> convert("2 bar gauge", "absolute pressure", atmospheric_pressure=101325.0)
    301325.0
    """
    meaning = KINDS[kind]
    if type(value) is float and unit is None:
        return _finite(value, value)
    try:
        return _converted(value, meaning, atmospheric_pressure, unit)
    except InputError:
        raise
    except Exception as error:  # a class of the user's own that fails when it is read
        raise InputError("not a number that can be read", given=value, accepted=_accepted(meaning)) from error


def _converted(value: Given, meaning: Kind, atmospheric_pressure: float | None, unit: str | None) -> FloatLike:
    value, unit = carried_unit(value, unit)
    if isinstance(value, str):
        return _finite(_one(value, meaning, atmospheric_pressure), value)
    if isinstance(value, np.ndarray):
        _require_few(value.size)
        if isinstance(value, np.ma.MaskedArray) and np.ma.getmaskarray(value).any():
            raise InputError("an array with masked values", given=value, accepted="values at every point")
    if isinstance(value, np.ndarray) and value.ndim == 0:
        value = value.item()
        if isinstance(value, str):
            return _finite(_one(value, meaning, atmospheric_pressure), value)
    if isinstance(value, bool) or (isinstance(value, np.ndarray) and value.dtype.kind not in "iufOU"):
        raise InputError("not a number", given=value, accepted=_accepted(meaning))
    if isinstance(value, Real):
        try:
            numbers = np.asarray(float(value))
        except (OverflowError, ValueError):
            raise InputError("not a finite number", given=value, accepted="finite numbers") from None
    elif isinstance(value, np.ndarray) and value.dtype.kind in "iuf":
        numbers = np.asarray(value).astype(float)
    else:
        return _listed(value, meaning, atmospheric_pressure, unit)
    if unit is not None:
        scale = _scale(unit, meaning.name)
        with np.errstate(over="ignore"):
            numbers = numbers * scale.factor + _offset(scale, value, atmospheric_pressure)
    return _finite(float(numbers) if numbers.ndim == 0 else numbers, value)


def _listed(
    value: Given, kind: Kind, atmospheric_pressure: float | None, unit: str | None, depth: int = 1
) -> FloatArray:
    """Convert a list, tuple, array of objects, table column or the like, element by element."""
    unlisted = isinstance(value, (dict, set, frozenset, bytes, bytearray, memoryview))
    if unlisted or not (isinstance(value, Sized) and isinstance(value, Iterable)):
        raise InputError("not a number", given=value, accepted=_accepted(kind))
    if depth > DEEPEST_LIST:
        raise InputError("lists nested too deeply", accepted=f"at most {DEEPEST_LIST} levels")
    length = _length(value)
    _require_few(length)
    items: list[FloatLike] = []
    values = 0
    for item in value.tolist() if isinstance(value, np.ndarray) else islice(value, length + 1):
        if isinstance(item, (list, tuple)):
            items.append(_listed(item, kind, atmospheric_pressure, unit, depth + 1))
        else:
            items.append(convert(item, kind.name, atmospheric_pressure=atmospheric_pressure, unit=unit))
        values += np.size(items[-1])
        _require_few(values)
    if len(items) != length:
        raise InputError("a list of another length than it says", given=value, accepted=_accepted(kind))
    try:
        return np.asarray(items, dtype=float)
    except ValueError:
        raise InputError("a list with rows of unequal length", given=value, accepted="equal rows") from None


def _length(value: Sized) -> int:
    try:
        return len(value)
    except OverflowError:  # a range of more than a machine can count
        return MOST_VALUES + 1


def _require_few(values: int) -> None:
    if values > MOST_VALUES:
        few = f"at most {MOST_VALUES:,} values in one call; ask for fewer points, or for some at a time"
        raise InputError("too many values", given=f"{values:,} values", accepted=few)


def _accepted(kind: Kind) -> str:
    if kind.unit == "1":
        return "a number"
    return f"a number in {kind.unit}, or text with a unit ({', '.join(kind.examples)})"


def _finite(number: FloatLike, given: Given) -> FloatLike:
    if not (math.isfinite(number) if isinstance(number, float) else np.isfinite(number).all()):
        accepted = "a finite number" if np.ndim(number) == 0 else "finite numbers; leave out points without a result"
        raise InputError("not a finite number", given=given, accepted=accepted)
    return number


_PREFERRED = (
    "absolute pressure",
    "length",
    "temperature",
    "volume flow",
    "mass flow",
    "volume",
    "time",
    "fraction",
)


def kind_of_unit(unit: str) -> str:
    """Return the kind of value that a unit measures.

    Parameters
    ----------
    unit : str
        Such as ``"psi"``.

    Returns
    -------
    str
        A name of `KINDS`.

    Raises
    ------
    InputError
        If no kind fits.

    Examples
    --------
    >>> kind_of_unit("psi"), kind_of_unit("mm2/s"), kind_of_unit("delta_degC")
    ('absolute pressure', 'kinematic viscosity', 'temperature difference')
    """
    return _kind_of_unit(_text_of_unit(unit))


@lru_cache(maxsize=4096)
def _kind_of_unit(unit: str) -> str:
    if unit.startswith(("delta_", "Δ")):
        _scale(unit, "temperature difference")
        return "temperature difference"
    order = list(_PREFERRED) + [name for name in KINDS if name not in _PREFERRED]
    for name in order:
        if unit in (KINDS[name].unit, *KINDS[name].examples, *KINDS[name].shown):
            return name
    problem = f"unknown unit {shortened(unit)}"
    for name in order:
        try:
            _scale(unit, name)
        except InputError:
            continue
        return name
    known = sorted({example for kind in KINDS.values() for example in kind.examples})
    same = [item for item in known if item.lower() == unit.lower()]
    raise InputError(problem, accepted=nearest(_MEANT.get(unit) or (same[0] if same else unit), known))


@overload
def si(value: float | str, unit: str, *, atmospheric_pressure: Given = None) -> float: ...
@overload
def si(value: FloatArray, unit: str, *, atmospheric_pressure: Given = None) -> FloatArray: ...
@overload
def si(value: Given, unit: str, *, atmospheric_pressure: Given = None) -> FloatLike: ...
def si(value: Given, unit: str, *, atmospheric_pressure: Given = None) -> FloatLike:
    """Return SI numbers from strings with a unit, or from numbers in `unit`.

    Parameters
    ----------
    value : number, str, array or list of these
        A string carries its own unit, which must measure the same as `unit`.
    unit : str
        The unit of plain numbers, such as ``"Pa"``, ``"degC"``, ``"L/h"``.
    atmospheric_pressure : float or str, optional
        Absolute pressure, Pa; needed to read gauge pressures such as ``"30 psig"``.

    Returns
    -------
    float or array
        SI, shaped like `value`.

    Raises
    ------
    InputError
        For an unknown unit, a unit of another dimension, or text that is no number.

    Examples
    --------
    >>> round(si("58 psi", "Pa"), 1)
    399895.9
    >>> si([20, 40], "degC").tolist()
    [293.15, 313.15]
    >>> round(si("1 1/2 in", "m"), 7)
    0.0381
    """
    atmosphere = None
    if atmospheric_pressure is not None:
        given = convert(atmospheric_pressure, "absolute pressure")
        if not isinstance(given, float) or not 0.0 < given <= 1e9:
            accepted = "one absolute pressure, as in '101 kPa'"
            problem = "not a pressure of the atmosphere"
            raise InputError(problem, given=atmospheric_pressure, accepted=accepted, key="atmospheric_pressure")
        atmosphere = given
    return convert(value, kind_of_unit(unit), unit=unit, atmospheric_pressure=atmosphere)


@overload
def from_si(value: float, unit: str, kind: str | None = None) -> float: ...
@overload
def from_si(value: FloatArray, unit: str, kind: str | None = None) -> FloatArray: ...
@overload
def from_si(value: ArrayLike, unit: str, kind: str | None = None) -> FloatLike: ...
def from_si(value: ArrayLike, unit: str, kind: str | None = None) -> FloatLike:
    """Return SI values in another unit, for what is shown to a person.

    Parameters
    ----------
    value : float, array or list of these
        Numbers in SI.
    unit : str
        The unit wanted, such as ``"kPa"`` or ``"degC"``.
    kind : str, optional
        A name of `KINDS`; left out, what the unit measures.

    Returns
    -------
    float or array
        In `unit`, shaped like `value`.

    Raises
    ------
    InputError
        For an unknown unit, a unit of another kind, or a gauge pressure.

    Examples
    --------
    >>> float(round(from_si(313.15, "degC"), 6)), float(from_si(300e3, "kPa"))
    (40.0, 300.0)
    """
    if kind is not None and (not isinstance(kind, str) or kind not in KINDS):
        raise InputError("unknown kind of quantity", given=kind, accepted=nearest(kind, KINDS))
    scale = _scale(_text_of_unit(unit), kind or kind_of_unit(unit))
    if scale.gauge:
        raise InputError("a gauge pressure needs the atmosphere", given=unit, accepted="an absolute unit, as in 'kPa'")
    if type(value) is not float:
        value = _plain_numbers(value)
    with np.errstate(over="ignore"):
        return (np.asarray(value, dtype=float) - scale.zero) / scale.factor


def _text_of_unit(unit: Given) -> str:
    if not isinstance(unit, str):
        raise InputError("a unit is text", given=unit, accepted="text such as 'kPa' or 'L/h'")
    return unit


def _plain_numbers(value: Given) -> FloatArray:
    """Return numbers in SI as an array; NaN and infinity stay as they are."""
    try:
        if isinstance(value, np.ndarray):
            _require_few(value.size)
        elif isinstance(value, Sized):
            _require_few(_length(value))
        if isinstance(value, np.ma.MaskedArray) and np.ma.getmaskarray(value).any():
            raise InputError("an array with masked values", given=value, accepted="values at every point")
        array = np.asarray(value)
        if array.dtype.kind in "iuf":
            return array.astype(float, copy=False)
        if array.dtype.kind == "O" and all(isinstance(item, Real) for item in array.flat):
            return array.astype(float)
    except InputError:
        raise
    except Exception as error:  # whatever numpy and classes of the user's own raise for what is no array of numbers
        raise InputError("not numbers", given=value, accepted="a number or an array of numbers in SI") from error
    raise InputError("not numbers", given=value, accepted="a number or an array of numbers in SI")


def prefer_units(units: UnitSystem) -> None:
    """Choose the units in which tables, plots, findings and sentences are shown from now on.

    What is computed stays SI.

    Parameters
    ----------
    units : str
        System of units: ``"metric workshop"`` (kPa, L/h, degC), ``"US workshop"`` (psi, gph, degF) or ``"SI"``.

    Raises
    ------
    InputError
        For an unknown system, with the nearest known one.

    Examples
    --------
    >>> prefer_units("US workshop"); shown(300e3, "pressure difference")
    '43.51 psi'
    >>> prefer_units("metric workshop"); shown(300e3, "pressure difference")
    '300 kPa'
    """
    _preferred[0] = unit_system(units)


def unit_system(name: str | None = None) -> str:
    """Return the name of a system of units that is known.

    Parameters
    ----------
    name : str, optional
        One of `SYSTEMS`; left out, the preferred one.

    Raises
    ------
    InputError
        For an unknown name, with the nearest known one.
    """
    if name is None:
        return _preferred[0]
    if not isinstance(name, str) or name not in SYSTEMS:
        raise InputError("no such system of units", given=name, accepted=nearest(name, SYSTEMS))
    return name


@overload
def shown_values(value: float, kind: str, units: str | None = None) -> tuple[float, str]: ...
@overload
def shown_values(value: FloatArray, kind: str, units: str | None = None) -> tuple[FloatArray, str]: ...
@overload
def shown_values(value: ArrayLike, kind: str, units: str | None = None) -> tuple[FloatLike, str]: ...
def shown_values(value: ArrayLike, kind: str, units: str | None = None) -> tuple[FloatLike, str]:
    """Return values in the unit a system of units shows them in, and that unit as it is printed.

    Parameters
    ----------
    value : float, array or list of these
        Numbers in SI.
    kind : str
        A name of `kinds.KINDS`.
    units : str, optional
        One of `SYSTEMS`; left out, the preferred one.

    Returns
    -------
    values : float or array
        Shaped like `value`.
    unit : str
        Empty for a number without unit.

    Examples
    --------
    >>> shown_values([293.15, 313.15], "temperature", "US workshop")
    (array([ 68., 104.]), '°F')
    """
    unit = KINDS[kind].shown[SYSTEMS.index(unit_system(units))]
    return from_si(value, unit, kind), "" if unit == "1" else label(unit)


def shown(value: float, kind: str, units: str | None = None, digits: int = 4) -> str:
    """Return one value as text in the unit a system of units shows it in.

    Parameters
    ----------
    value : float
        In SI.
    kind : str
        A name of `kinds.KINDS`.
    units : str, optional
        One of `SYSTEMS`; left out, the preferred one.
    digits : int
        Significant digits.

    Examples
    --------
    >>> shown(0.00652, "bore"), shown(316.15, "temperature"), shown(0.1, "fraction")
    ('6.52 mm', '43 °C', '0.1')
    """
    number, unit = shown_values(value, kind, units)
    return f"{_digits(float(number), digits)} {unit}".rstrip()


def _digits(number: float, digits: int) -> str:
    """Return the number without an exponent where it is of everyday size."""
    whole = 10.0**digits - 0.5
    return f"{number:.0f}" if whole <= abs(number) < 1e7 else f"{number:.{digits}g}"
