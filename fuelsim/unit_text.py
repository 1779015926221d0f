"""Reading of what a person writes: the number in front, and the unit in the notation of the trade.

Numbers and notation are read here and pint is asked only for one unit name at a time. Alone it reads "1 1/2 in" as
0.5 in, "1,5 bar" as 15 bar, "J/kg K" as J K/kg, "5000 1/min" as 796 rpm, and "45 celsius" as a factor of 274.15.
"""

from __future__ import annotations

import math
import re
from functools import cache, lru_cache
from typing import TYPE_CHECKING

from fuelsim.errors import InputError, shortened
from fuelsim.typing import Given

if TYPE_CHECKING:
    from pint import Unit, UnitRegistry

__all__ = ["carried_unit", "label", "split_number", "unit_ratio"]

LONGEST_TEXT = 100

_MIXED = re.compile(r"\s*(?P<whole>[+-]?[0-9]+)(?:-|\s+)(?P<top>[0-9]+)\s*/\s*(?P<bottom>[0-9]+)(?![0-9.])")
_FRACTION = re.compile(r"\s*(?P<top>[+-]?[0-9]+)\s*/\s*(?P<bottom>[0-9]+)(?![0-9.])")
_PLAIN = re.compile(r"\s*(?P<number>[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)")
_COMMA = re.compile(r"\s*[+-]?[0-9.]*,[0-9]")
_TWO_NUMBERS = re.compile(r"(?!1\s*/)[0-9_.,]")
_WRITTEN_OUT_FRACTIONS = "½¼¾⅛⅜⅝⅞⅓⅔⅙⅚⅕⅖⅗⅘⁄"

# Notation of the trade for a whole unit text, in terms of names that pint knows. A column of water is 1000 kg/m3.
_WHOLE = {
    "gph": "gallon/hour",
    "gpm": "gallon/minute",
    "lph": "litre/hour",
    "lpm": "litre/minute",
    "pph": "pound/hour",
    "kph": "km/h",
    "mph": "mile/hour",
    "sq in": "inch^2",
    "cu in": "inch^3",
    "in H2O": "inch standard_gravity g/cm^3",
    "inH2O": "inch standard_gravity g/cm^3",
    "mmH2O": "millimetre standard_gravity g/cm^3",
    "in Hg": "inch_Hg",
    "inHg": "inch_Hg",
    "mm Hg": "mmHg",
    "lb ft": "foot pound_force",
    "lb-ft": "foot pound_force",
    "lb.ft": "foot pound_force",
    "ft lb": "foot pound_force",
    "ft-lb": "foot pound_force",
    "Nm": "newton metre",
    "Pas": "pascal second",
    "mPas": "millipascal second",
    "W/mK": "watt/metre kelvin",
    "W/m2K": "watt/metre^2 kelvin",
    "J/kgK": "joule/kilogram kelvin",
    "kJ/kgK": "kilojoule/kilogram kelvin",
    "deg C": "degC",
    "deg F": "degF",
    "° C": "degC",
    "° F": "degF",
}

# Single names, likewise.
_NAMES = {
    "℃": "degC",
    "°C": "degC",
    "°F": "degF",
    "℉": "degF",
    "celsius": "degC",
    "Celsius": "degC",
    "fahrenheit": "degF",
    "Fahrenheit": "degF",
    "Δ°C": "delta_degC",
    "Δ°F": "delta_degF",
    "K": "kelvin",
    "in": "inch",
    '"': "inch",
    "″": "inch",
    "µin": "microinch",
    "uin": "microinch",
    "um": "micrometre",
    "mil": "thou",
    "kWh": "kilowatt_hour",
    "PS": "metric_horsepower",
    "Ω": "ohm",
    "mΩ": "milliohm",
    "mohm": "milliohm",
    "cSt": "centistokes",
    "cP": "centipoise",
}
_CUBED = {"cc": "cm", "ccm": "cm", "ci": "inch"}
_FACTOR = re.compile(r"(?P<name>[^\W\d]+|°[CF]|℃|℉|Δ°[CF]|\"|″|1)(?:\^?(?P<power>-?[1-4]))?")
_SUPERSCRIPTS = str.maketrans({"²": "2", "³": "3", "⁻": "-", "¹": "1", "⁴": "4", "μ": "µ", "Ω": "Ω"})


def split_number(text: str) -> tuple[float, str]:
    """Split ``"1 1/2 in"`` into the number and the unit text.

    Raises
    ------
    InputError
        If the text does not start with a number, the number is ambiguous (decimal comma, digits in groups), or
        the text is too long to be a quantity.

    Examples
    --------
    >>> split_number("1 1/2 in"), split_number("3/8 in"), split_number("-40degC")
    ((1.5, 'in'), (0.375, 'in'), (-40.0, 'degC'))
    """
    if len(text) > LONGEST_TEXT:
        raise InputError("too long a text for a quantity", given=text)
    text = text.replace("\N{MINUS SIGN}", "-")
    if "," in text and _COMMA.match(text):
        raise InputError(
            "a comma in a number is ambiguous",
            given=text,
            accepted="a decimal point and no thousands sign, as in '1.5 bar'",
        )
    if not text.isascii() and any(character in text for character in _WRITTEN_OUT_FRACTIONS):
        raise InputError("write the fraction out", given=text, accepted="1/2, 3/8 or 1 1/2, as in '3/8 in'")
    if "/" in text:
        match = _MIXED.match(text) or _FRACTION.match(text)
        if match:
            return _fraction(match, text), text[match.end() :].strip()
    match = _PLAIN.match(text)
    if not match:
        raise InputError("no number found", given=text)
    unit = text[match.end() :].strip()
    if unit and _TWO_NUMBERS.match(unit):
        raise InputError(
            "two numbers where one is wanted",
            given=text,
            accepted="one number with its digits together, then a unit, as in '1000 Pa'",
        )
    return float(match["number"]), unit


def _fraction(match: re.Match[str], text: str) -> float:
    bottom = float(match["bottom"])
    if bottom == 0.0:
        raise InputError("a fraction over zero", given=text, accepted="a number and a unit, as in '3/8 in'")
    part = float(match["top"]) / bottom
    whole = match.groupdict().get("whole")
    if whole is None:
        return part
    return float(whole) - part if whole.startswith("-") else float(whole) + part


@cache
def _registry() -> UnitRegistry[float]:
    import pint

    return pint.UnitRegistry(cache_folder=None)


def _strokes(text: str) -> list[str]:
    """Split a unit at the strokes that stand outside brackets: ``kPa/(L/h)`` has one."""
    parts, depth = [""], 0
    for character in text:
        depth += (character == "(") - (character == ")")
        if character == "/" and depth == 0:
            parts.append("")
        else:
            parts[-1] += character
    return parts


def _unit(text: str) -> Unit:
    """Return a pint unit; everything behind the first stroke divides, as the trade writes it."""
    plain = text.translate(_SUPERSCRIPTS)
    plain = _WHOLE.get(plain, plain).replace("**", "^")
    plain = re.sub(r"[*·⋅]|[.-](?=[^\W\d])", " ", plain.replace(" per ", "/"))
    above, *below = _strokes(plain)
    registry = _registry()
    unit = registry.Unit("dimensionless")
    for sign, part in ((1, above), *((-1, part) for part in below)):
        part = part.strip()
        if sign < 0 and part.startswith("(") and part.endswith(")"):
            unit = unit / _unit(part[1:-1])
            continue
        if not part:
            raise InputError(f"unknown unit {shortened(text)}")
        words = part.split()
        for word in words:
            match = _FACTOR.fullmatch(word)
            if not match:
                raise InputError(f"unknown unit {shortened(text)}")
            name, power = match["name"], int(match["power"] or 1) * sign
            if name == "1":
                continue
            if name in _CUBED:
                name, power = _CUBED[name], 3 * power
            name = _NAMES.get(name, name)
            if name in ("degC", "degF") and (below or len(words) > 1):
                name = "delta_" + name  # in W/m2/degC the degree is a difference
            try:
                unit = unit * registry.Unit(name) ** power
            except Exception as error:  # pint raises many kinds for text that is no unit
                raise InputError(f"unknown unit {shortened(text)}") from error
    return unit


@lru_cache(maxsize=4096)
def unit_ratio(text: str, target: str) -> float | None:
    """Return how many `target` one of the units in `text` is, or None where they measure different things.

    Raises
    ------
    InputError
        If the text is no unit, or is a scale with a zero point of its own (degC), which no ratio describes.

    Examples
    --------
    >>> unit_ratio("mm2/s", "m2/s"), unit_ratio("J/kg K", "J/kg/K"), unit_ratio("mm", "kg")
    (1e-06, 1.0, None)
    """
    if len(text) > LONGEST_TEXT:
        raise InputError(f"unknown unit {shortened(text)}")
    import pint

    quantity = _registry().Quantity
    unit = _unit(text)
    wanted = _unit(target)
    if unit.dimensionality != wanted.dimensionality:
        return None
    try:
        zero = float(quantity(0.0, unit).to(wanted).magnitude)
        ratio = float(quantity(1.0, unit).to(wanted).magnitude)
    except pint.PintError as error:
        raise InputError(f"unknown unit {shortened(text)}") from error
    if zero != 0.0:
        raise InputError(f"{shortened(text)} has a zero point of its own")
    rounded = float(f"{ratio:.12g}")  # a litre is 0.001 m3, not 0.1 cubed
    return rounded if math.isclose(rounded, ratio, rel_tol=1e-15) else ratio


def label(unit: str) -> str:
    """Return a unit as it is printed: ``degC`` becomes ``°C``, ``m3`` becomes ``m³``.

    Parameters
    ----------
    unit : str
        As `convert` reads it.

    Examples
    --------
    >>> label("degC"), label("mm2/s"), label("delta_degF")
    ('°C', 'mm²/s', '°F')
    """
    if unit.startswith("delta_"):
        return label(unit.removeprefix("delta_"))
    text = unit.replace("degC", "°C").replace("degF", "°F").replace("ohm", "Ω")
    return re.sub(r"(?<=[A-Za-z])2", "²", re.sub(r"(?<=[A-Za-z])3", "³", text))


_OF_PINT = {
    "degree_Celsius": "degC",
    "degree_Fahrenheit": "degF",
    "delta_degree_Celsius": "delta_degC",
    "delta_degree_Fahrenheit": "delta_degF",
    "dimensionless": "",
    "revolutions_per_minute": "rpm",
    "radian": "rad",
    "radian / second": "rad/s",
    "turn / second": "rev/s",
}
"""Units of which pint writes another name than is read here."""


def carried_unit(value: Given, unit: str | None) -> tuple[Given, str | None]:
    """Return an object of pint, pandas or xarray as plain numbers, and the unit that it carries, if it does.

    Parameters
    ----------
    value : object
        As it was given.
    unit : str or None
        The unit of plain numbers.

    Returns
    -------
    value, unit
        Any other object comes back as it is.

    Examples
    --------
    >>> carried_unit(300.0, "kPa")
    (300.0, 'kPa')
    """
    kind = type(value)
    if hasattr(kind, "magnitude") and hasattr(kind, "units"):
        text = str(getattr(value, "units"))  # noqa: B009  # a class of another library
        return getattr(value, "magnitude"), _OF_PINT.get(text, text.replace(" ** ", "^"))  # noqa: B009
    if hasattr(kind, "to_numpy"):
        stated = getattr(value, "attrs", {}).get("units")
        return getattr(value, "to_numpy")(), stated if isinstance(stated, str) else unit  # noqa: B009
    return value, unit
