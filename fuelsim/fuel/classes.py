"""Volatility classes of petrol standards: which of them a fuel would pass, and a fuel of a class by name.

Limits and their sources are in ``data/volatility_classes.toml``. A simulated distillation stands in for the test, so
"would pass" is an estimate, and only of the quantities listed there; standards limit much else.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from fuelsim.data_files import data_path, read_toml
from fuelsim.errors import InputError, nearest
from fuelsim.sources import cite
from fuelsim.units import convert

if TYPE_CHECKING:
    from fuelsim.fuel.laboratory_fuel import LaboratoryFuel

__all__ = ["ClassCheck", "VolatilityClass", "check_classes", "class_named", "volatility_classes"]

READING = 2e-4  # relative; a laboratory reads no finer
FILE = "volatility_classes.toml"
_KINDS = {
    "vapour_pressure": "absolute pressure",
    "t10": "temperature",
    "t50": "temperature",
    "t90": "temperature",
    "end_point": "temperature",
    "vapour_liquid_temperature": "temperature",
    "density": "density",
    "e70": "fraction",
    "e100": "fraction",
    "ethanol": "fraction",
    "vapour_lock_index": "number",
}
_READ: dict[str, Callable[[Any], float]] = {
    "vapour_pressure": lambda fuel: fuel.dvpe(),
    "t10": lambda fuel: fuel.distillation().temperature_at(0.10),
    "t50": lambda fuel: fuel.distillation().temperature_at(0.50),
    "t90": lambda fuel: fuel.distillation().temperature_at(0.90),
    "end_point": lambda fuel: fuel.distillation().end_point,
    "vapour_liquid_temperature": lambda fuel: fuel.vapour_liquid_temperature(20.0),
    "density": lambda fuel: fuel.density_at_15,
    "e70": lambda fuel: fuel.distillation().evaporated_at(343.15),
    "e100": lambda fuel: fuel.distillation().evaporated_at(373.15),
    "ethanol": lambda fuel: fuel.ethanol,
    "vapour_lock_index": lambda fuel: fuel.vapour_lock_index,
}


@dataclass(frozen=True)
class VolatilityClass:
    """A class of a standard.

    Attributes
    ----------
    standard, name : str
        As in ``"EN 228"`` and ``"A"``.
    limits : tuple of (str, float or None, float or None)
        Quantity, least and most value in SI.
    source : str
        As outputs print it.
    """

    standard: str
    name: str
    limits: tuple[tuple[str, float | None, float | None], ...]
    source: str

    @property
    def full_name(self) -> str:
        """Standard and class, such as ``"EN 228 A"``."""
        return f"{self.standard} {self.name}"


@dataclass(frozen=True)
class ClassCheck:
    """Whether a fuel would pass a class.

    Attributes
    ----------
    volatility_class : VolatilityClass
    values : dict of str to float
        What the fuel has, SI, by quantity.
    broken : tuple of str
        Quantities outside their limits.
    """

    volatility_class: VolatilityClass
    values: dict[str, float]
    broken: tuple[str, ...]

    @property
    def passed(self) -> bool:
        """Whether every limit is kept."""
        return not self.broken


@cache
def volatility_classes() -> tuple[VolatilityClass, ...]:
    """Return every class of ``data/volatility_classes.toml``.

    Raises
    ------
    InputError
        If the file names an unknown quantity or holds a wrong value.
    """
    classes = []
    for entry in read_toml(data_path(FILE))["class"]:
        least, most = entry.get("least", {}), entry.get("most", {})
        limits = []
        for quantity in dict.fromkeys([*least, *most]):
            if quantity not in _KINDS:
                raise InputError("unknown quantity", given=quantity, accepted=nearest(quantity, _KINDS), file=FILE)
            pair = [
                float(convert(side[quantity], _KINDS[quantity])) if quantity in side else None for side in (least, most)
            ]
            limits.append((quantity, pair[0], pair[1]))
        source = cite(entry["source"], entry.get("note", ""))
        classes.append(VolatilityClass(entry["standard"], str(entry["name"]), tuple(limits), source))
    return tuple(classes)


def class_named(name: str) -> VolatilityClass:
    """Return a class by its full name.

    Examples
    --------
    >>> class_named("EN 228 A").limits[0]
    ('vapour_pressure', 45000.0, 60000.0)
    """
    known = {item.full_name: item for item in volatility_classes()}
    if name not in known:
        raise InputError("no such volatility class", given=name, accepted=nearest(str(name), known))
    return known[name]


def check_classes(fuel: LaboratoryFuel) -> list[ClassCheck]:
    """Return for every class whether a fuel would pass it, and what it breaks."""
    values: dict[str, float] = {}
    checks = []
    for item in volatility_classes():
        broken = []
        for quantity, least, most in item.limits:
            if quantity not in values:
                values[quantity] = float(_READ[quantity](fuel))
            below = least is not None and values[quantity] < least * (1.0 - READING)
            above = most is not None and values[quantity] > most * (1.0 + READING)
            if below or above:
                broken.append(quantity)
        own = {quantity: values[quantity] for quantity, _, _ in item.limits}
        checks.append(ClassCheck(item, own, tuple(broken)))
    return checks
