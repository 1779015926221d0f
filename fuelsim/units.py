"""Units at the door: strings or numbers from outside become SI, and SI becomes what a person reads.

Inside fuelsim every value is SI. A `Kind` says what a value is (an absolute pressure and a pressure
difference are two kinds, and so are a temperature and a temperature difference), and `convert`
turns what was given into SI numbers of that kind. The number is parsed here and only the unit text
is handed to pint, because pint reads "1 1/2 in" as 0.5 in and "1,5 bar" as 15 bar without a word.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from fuelsim.errors import InputError, nearest

__all__ = ["KINDS", "SYSTEMS", "Kind", "convert", "from_si", "kind_of_unit", "shown", "si"]


@dataclass(frozen=True)
class Kind:
    """What a value is.

    Attributes
    ----------
    name : str
        The kind in words.
    unit : str
        The unit values have inside fuelsim (SI; revolutions per minute for engine speed).
    shown : tuple of str
        The units tables and plots use, one for each of `SYSTEMS`.
    examples : tuple of str
        Units a person may write, the likeliest first; used in messages and hints.
    """

    name: str
    unit: str
    shown: tuple[str, str, str]
    examples: tuple[str, ...]


SYSTEMS = ("SI", "metric workshop", "US workshop")


def _kind(name: str, unit: str, shown: tuple[str, str, str], *examples: str) -> tuple[str, Kind]:
    return name, Kind(name, unit, shown, examples)


KINDS: dict[str, Kind] = dict(
    [
        _kind("length", "m", ("m", "m", "ft"), "mm", "m", "in", "ft"),
        _kind("bore", "m", ("mm", "mm", "in"), "mm", "in"),
        _kind("roughness", "m", ("µm", "µm", "µin"), "µm", "mm"),
        _kind("altitude", "m", ("m", "m", "ft"), "m", "ft"),
        _kind("area", "m2", ("m2", "mm2", "in2"), "mm2", "cm2", "m2"),
        _kind("volume", "m3", ("m3", "L", "gal"), "L", "mL", "gal"),
        _kind("displacement", "m3", ("m3", "L", "in3"), "L", "cm3", "in3"),
        _kind("absolute pressure", "Pa", ("kPa", "kPa", "psi"), "kPa", "bar", "psi", "kPa absolute", "psia"),
        _kind("pressure difference", "Pa", ("kPa", "kPa", "psi"), "kPa", "bar", "psi"),
        _kind("temperature", "K", ("degC", "degC", "degF"), "degC", "degF", "K"),
        _kind("temperature difference", "K", ("K", "K", "delta_degF"), "K", "delta_degC", "delta_degF"),
        _kind("volume flow", "m3/s", ("m3/s", "L/h", "gph"), "L/h", "mL/min", "gph"),
        _kind("injector flow", "m3/s", ("m3/s", "mL/min", "mL/min"), "mL/min", "cc/min"),
        _kind("mass flow", "kg/s", ("kg/s", "kg/h", "lb/h"), "kg/h", "g/s", "lb/h"),
        _kind("density", "kg/m3", ("kg/m3", "kg/m3", "lb/ft3"), "kg/m3", "g/cm3"),
        _kind("dynamic viscosity", "Pa s", ("mPa s", "mPa s", "cP"), "mPa s", "cP"),
        _kind("kinematic viscosity", "m2/s", ("mm2/s", "mm2/s", "cSt"), "mm2/s", "cSt"),
        _kind("voltage", "V", ("V", "V", "V"), "V"),
        _kind("current", "A", ("A", "A", "A"), "A"),
        _kind("resistance", "ohm", ("ohm", "mohm", "mohm"), "mohm", "ohm"),
        _kind("power", "W", ("W", "kW", "hp"), "kW", "W", "hp"),
        _kind("torque", "N m", ("N m", "N m", "lbf ft"), "N m", "lbf ft"),
        _kind("engine speed", "rpm", ("rpm", "rpm", "rpm"), "rpm"),
        _kind("specific fuel consumption", "kg/J", ("kg/J", "g/kWh", "lb/hp/h"), "g/kWh", "lb/hp/h"),
        _kind("time", "s", ("s", "s", "s"), "s", "ms", "min", "h"),
        _kind("pulse time", "s", ("s", "ms", "ms"), "ms", "s"),
        _kind("fraction", "1", ("1", "1", "1"), "%"),
        _kind("number", "1", ("1", "1", "1")),
        _kind("angle", "rad", ("rad", "deg", "deg"), "deg", "rad"),
        _kind("speed", "m/s", ("m/s", "km/h", "mph"), "m/s", "km/h", "mph"),
        _kind("acceleration", "m/s2", ("m/s2", "m/s2", "m/s2"), "m/s2"),
        _kind("heat conductance", "W/K", ("W/K", "W/K", "W/K"), "W/K"),
        _kind("heat conductance per length", "W/m/K", ("W/m/K", "W/m/K", "W/m/K"), "W/m/K"),
        _kind("heat transfer coefficient", "W/m2/K", ("W/m2/K", "W/m2/K", "W/m2/K"), "W/m2/K"),
        _kind("heat flux", "W/m2", ("W/m2", "W/m2", "W/m2"), "W/m2", "kW/m2"),
        _kind("energy", "J", ("J", "kJ", "kJ"), "kJ", "J"),
        _kind("specific energy", "J/kg", ("J/kg", "kJ/kg", "kJ/kg"), "kJ/kg"),
        _kind("specific heat capacity", "J/kg/K", ("J/kg/K", "kJ/kg/K", "kJ/kg/K"), "J/kg/K", "kJ/kg/K"),
        _kind("heat capacity", "J/K", ("J/K", "kJ/K", "kJ/K"), "kJ/K"),
        _kind("molar mass", "kg/mol", ("kg/mol", "g/mol", "g/mol"), "g/mol"),
    ]
)

# Unit texts pint does not know, or reads as something else than the trade does.
_SPELLINGS = {
    "": "dimensionless",
    "1": "dimensionless",
    "%": "percent",
    "°C": "degC",
    "°F": "degF",
    "deg C": "degC",
    "deg F": "degF",
    "° C": "degC",
    "K": "kelvin",
    "Δ°C": "delta_degC",
    "gph": "gallon/hour",
    "gpm": "gallon/minute",
    "lph": "litre/hour",
    "lpm": "litre/minute",
    "cc": "cm**3",
    "ccm": "cm**3",
    "cc/min": "cm**3/minute",
    "lb/h": "pound/hour",
    "lb/hr": "pound/hour",
    "pph": "pound/hour",
    "lb/hp/h": "pound/horsepower/hour",
    "lb/(hp h)": "pound/horsepower/hour",
    "lb/hp h": "pound/horsepower/hour",
    "g/kWh": "gram/kilowatt_hour",
    "PS": "metric_horsepower",
    "ohm": "ohm",
    "mohm": "milliohm",
    "µin": "microinch",
    "um": "micrometre",
    "mph": "mile/hour",
    "rpm": "revolutions_per_minute",
    "inHg": "inHg",
    "lbf ft": "foot*pound_force",
    "lb ft": "foot*pound_force",
    "lb-ft": "foot*pound_force",
    "ft lb": "foot*pound_force",
    "ft-lb": "foot*pound_force",
    "N m": "newton*metre",
    "Nm": "newton*metre",
    "Pa s": "pascal*second",
    "mPa s": "millipascal*second",
    "Pa.s": "pascal*second",
    "mPa.s": "millipascal*second",
    "in": "inch",
    '"': "inch",
    "″": "inch",
    "thou": "thou",
    "mil": "thou",
    "cSt": "centistokes",
    "cP": "centipoise",
}
_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_MIXED = re.compile(r"^\s*(?P<whole>[+-]?\d+)[ -](?P<top>\d+)\s*/\s*(?P<bottom>\d+)(?![\d.])\s*(?P<unit>.*?)\s*$")
_FRACTION = re.compile(r"^\s*(?P<top>[+-]?\d+)\s*/\s*(?P<bottom>\d+)(?![\d.])\s*(?P<unit>.*?)\s*$")
_PLAIN = re.compile(rf"^\s*(?P<number>{_NUMBER})\s*(?P<unit>.*?)\s*$")
_COMMA = re.compile(r"^\s*[+-]?\d+,\d")
_GAUGE = re.compile(r"^(?:psig|(?P<unit>.+?)(?:\s+gauge|\(g\)|\s+g))$")
_ABSOLUTE = re.compile(r"^(?:psia|(?P<unit>.+?)(?:\s+(?:absolute|abs)|\(a\)))$")
_OFFSET_UNITS = {"degC": 273.15, "degF": 459.67 * 5.0 / 9.0}


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(cache_folder=None)


@cache
def _factor(text: str, kind_name: str) -> tuple[float, float]:
    """Return ``(factor, offset)`` such that SI = number * factor + offset."""
    kind = KINDS[kind_name]
    spelling = _SPELLINGS.get(text, text)
    if kind_name == "acceleration" and text == "g":
        spelling = "standard_gravity"
    if kind_name in ("length", "bore") and text == "m3":
        spelling = "m**3"
    registry = _registry()
    import pint

    if kind_name == "temperature difference" and spelling in _OFFSET_UNITS:
        raise InputError(
            "a temperature difference has no zero point",
            given=text,
            accepted=f"K or delta_{spelling}, as in '5 K'",
        )
    if kind_name == "temperature":
        if spelling.startswith("delta_"):
            raise InputError("a temperature is wanted, not a difference", given=text, accepted="degC, degF or K")
        if spelling in _OFFSET_UNITS:
            return (1.0 if spelling == "degC" else 5.0 / 9.0), _OFFSET_UNITS[spelling]
    powers = re.sub(r"(?<=[A-Za-zµ])\^?([23])(?!\d)", r"**\1", spelling).replace("²", "**2").replace("³", "**3")
    target = re.sub(r"(?<=[A-Za-z])([23])(?!\d)", r"**\1", _SPELLINGS.get(kind.unit, kind.unit))
    accepted = "a unit of " + kind.name + ", as in " + ", ".join(kind.examples or ("no unit",))
    try:
        unit = registry.Unit(powers)
        return float(registry.Quantity(1.0, unit).to(target).magnitude), 0.0
    except pint.DimensionalityError as error:
        hint = " (for a temperature write 'degC')" if text == "C" else ""
        raise InputError(f"'{text}' is not a unit of {kind.name}{hint}", accepted=accepted) from error
    except pint.OffsetUnitCalculusError as error:
        raise InputError(f"'{text}' is not a unit of {kind.name}", accepted=accepted) from error
    except Exception as error:  # pint raises many kinds for text that is no unit
        raise InputError(f"unknown unit '{text}'", accepted=accepted) from error


def split_number(text: str) -> tuple[float, str]:
    """Split ``"1 1/2 in"`` into the number and the unit text.

    Raises
    ------
    InputError
        If the text does not start with a number, or the number is ambiguous (decimal comma).

    Examples
    --------
    >>> split_number("1 1/2 in"), split_number("3/8 in"), split_number("-40degC")
    ((1.5, 'in'), (0.375, 'in'), (-40.0, 'degC'))
    """
    if _COMMA.match(text):
        raise InputError(
            "a comma in a number is ambiguous",
            given=text,
            accepted="a decimal point and no thousands sign, as in '1.5 bar'",
        )
    if any(character in text for character in "½¼¾⅛⅜⅝⅞⅓⅔"):
        raise InputError("write the fraction out", given=text, accepted="1/2, 3/8 or 1 1/2, as in '3/8 in'")
    for pattern in (_MIXED, _FRACTION):
        match = pattern.match(text)
        if match:
            bottom = float(match["bottom"])
            if bottom == 0.0:
                raise InputError("a fraction over zero", given=text, accepted="a number and a unit")
            part = float(match["top"]) / bottom
            whole = match.groupdict().get("whole")
            if whole is None:
                return part, match["unit"]
            return (float(whole) - part if whole.startswith("-") else float(whole) + part), match["unit"]
    match = _PLAIN.match(text)
    if not match:
        raise InputError("no number found", given=text, accepted="a number and a unit, as in '8 mm'")
    return float(match["number"]), match["unit"]


def _one(text: str, kind: Kind, atmospheric_pressure: float | None) -> float:
    number, unit = split_number(text)
    if unit == "" and kind.unit != "1":
        raise InputError(
            "a text without a unit",
            given=text,
            accepted=f"a unit of {kind.name} ({', '.join(kind.examples)}), or a plain SI number in {kind.unit}",
        )
    offset = 0.0
    if kind.unit == "Pa":
        gauge, absolute = _GAUGE.match(unit), _ABSOLUTE.match(unit)
        if gauge or absolute:
            if kind.name == "pressure difference":
                if absolute:
                    raise InputError(
                        "a pressure difference is wanted, not an absolute pressure",
                        given=text,
                        accepted="kPa, bar, psi",
                    )
            elif gauge:
                if atmospheric_pressure is None:
                    raise InputError(
                        "a gauge pressure needs the atmospheric pressure, which is not known here",
                        given=text,
                        accepted="an absolute pressure, as in '101 kPa absolute' or '14.7 psia'",
                    )
                offset = atmospheric_pressure
            found = gauge or absolute
            unit = (found["unit"] if found else None) or "psi"
    try:
        factor, zero = _factor(unit, kind.name)
    except InputError as error:
        raise InputError(error.problem, given=text, accepted=error.accepted) from error
    return number * factor + zero + offset


def convert(value: Any, kind: str, *, atmospheric_pressure: float | None = None, unit: str | None = None) -> Any:
    """Turn what was given into SI numbers of one kind.

    Parameters
    ----------
    value : number, str, array or (nested) list of these
        Numbers are SI unless `unit` says otherwise; strings carry their own unit.
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
    if isinstance(value, str):
        return _finite(_one(value, meaning, atmospheric_pressure), value)
    if isinstance(value, bool) or value is None or isinstance(value, (dict, set, bytes)):
        raise InputError("not a number", given=value, accepted=_accepted(meaning))
    if isinstance(value, np.ndarray) and value.dtype.kind in "iuf":
        numbers = value.astype(float)
    elif isinstance(value, (int, float, np.integer, np.floating)):
        numbers = np.asarray(float(value))
    elif isinstance(value, Iterable):
        items = [
            convert(item, kind, atmospheric_pressure=atmospheric_pressure, unit=unit)
            for item in (value.tolist() if isinstance(value, np.ndarray) else value)
        ]
        try:
            return np.asarray(items, dtype=float)
        except ValueError as error:
            raise InputError("a list with rows of unequal length", given=value, accepted="equal rows") from error
    else:
        raise InputError("not a number", given=value, accepted=_accepted(meaning))
    if unit is not None:
        factor, zero = _factor(unit, kind)
        numbers = numbers * factor + zero
    return _finite(float(numbers) if numbers.ndim == 0 else numbers, value)


def _accepted(kind: Kind) -> str:
    if kind.unit == "1":
        return "a number"
    return f"a number in {kind.unit}, or text with a unit ({', '.join(kind.examples)})"


def _finite(number: Any, given: Any) -> Any:
    if not np.all(np.isfinite(number)):
        raise InputError("not a finite number", given=given, accepted="finite numbers")
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


@cache
def kind_of_unit(unit: str) -> str:
    """Return the kind of value that a unit measures.

    Raises
    ------
    InputError
        If no kind fits.

    Examples
    --------
    >>> kind_of_unit("psi"), kind_of_unit("mm2/s"), kind_of_unit("delta_degC")
    ('absolute pressure', 'kinematic viscosity', 'temperature difference')
    """
    if unit.startswith("delta_"):
        return "temperature difference"
    order = list(_PREFERRED) + [name for name in KINDS if name not in _PREFERRED]
    for name in order:
        try:
            _factor(unit, name)
        except InputError:
            continue
        return name
    known = sorted({example for kind in KINDS.values() for example in kind.examples})
    raise InputError(f"unknown unit '{unit}'", accepted=nearest(unit, known))


def si(value: Any, unit: str, *, atmospheric_pressure: Any = None) -> Any:
    """Return SI numbers from strings with a unit, or from numbers in `unit`.

    Parameters
    ----------
    value : number, str, array or list of these
        A string carries its own unit, which must measure the same as `unit`.
    unit : str
        The unit of plain numbers, such as ``"Pa"``, ``"degC"``, ``"L/h"``.
    atmospheric_pressure : float or str, optional
        Absolute; needed to read gauge pressures such as ``"30 psig"``.

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
    atmosphere = None if atmospheric_pressure is None else convert(atmospheric_pressure, "absolute pressure")
    return convert(value, kind_of_unit(unit), unit=unit, atmospheric_pressure=atmosphere)


def from_si(value: Any, unit: str, kind: str | None = None) -> Any:
    """Return SI values in another unit, for what is shown to a person.

    Examples
    --------
    >>> float(round(from_si(313.15, "degC"), 6)), float(from_si(300e3, "kPa"))
    (40.0, 300.0)
    """
    factor, zero = _factor(unit, kind or kind_of_unit(unit))
    return (np.asarray(value, dtype=float) - zero) / factor


def shown(value: float, kind: str, system: str = "metric workshop") -> str:
    """Return one value as text in the unit a system of units shows it in.

    Examples
    --------
    >>> shown(0.00652, "bore"), shown(316.15, "temperature"), shown(0.1, "fraction")
    ('6.52 mm', '43 °C', '0.1')
    """
    unit = KINDS[kind].shown[SYSTEMS.index(system)]
    number = f"{float(from_si(value, unit, kind)):.4g}"
    return number if unit == "1" else f"{number} {label(unit)}"


def label(unit: str) -> str:
    """Return a unit as it is printed: ``degC`` becomes ``°C``, ``m3`` becomes ``m³``.

    Examples
    --------
    >>> label("degC"), label("mm2/s"), label("delta_degF")
    ('°C', 'mm²/s', '°F (difference)')
    """
    if unit.startswith("delta_"):
        return label(unit.removeprefix("delta_")) + " (difference)"
    text = unit.replace("degC", "°C").replace("degF", "°F").replace("ohm", "Ω")
    return re.sub(r"(?<=[A-Za-z])2", "²", re.sub(r"(?<=[A-Za-z])3", "³", text))
