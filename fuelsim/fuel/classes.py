"""Volatility classes of petrol standards: which of them a fuel would pass, and a fuel of a class by name.

Limits and their sources are in ``data/volatility_classes.toml``. A simulated distillation stands in for the test, so
"would pass" is an estimate, and only of the quantities listed there; standards limit much else.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

from fuelsim.data_files import data_path, read_toml
from fuelsim.errors import InputError, nearest
from fuelsim.fuel.calibration import TARGETS
from fuelsim.sources import cite
from fuelsim.units import convert

__all__ = [
    "ClassCheck",
    "LaboratoryReport",
    "Limits",
    "VolatilityClass",
    "check_classes",
    "class_named",
    "first_targets",
    "targets_inside",
    "volatility_classes",
]

READING = 2e-4
"""Relative resolution of a laboratory's reading: a limit is not broken by less."""
BELOW_MOST_PRESSURE = 3e3
"""Vapour pressure by which a petrol made for a class lies below the class's greatest, Pa, where it has no least."""
ABOVE_LEAST_TEMPERATURE = 2.0
"""T(V/L=20) by which a petrol made for a class lies above the class's least, K."""
USUAL_VAPOUR_PRESSURE = 60e3
"""Vapour pressure of a petrol made for a class that does not limit it, Pa."""
FILE = "volatility_classes.toml"


class LaboratoryReport(NamedTuple):
    """Results of the tests that volatility classes limit, in SI; made by `Fuel.laboratory_report`.

    Attributes
    ----------
    vapour_pressure : float
        DVPE by ASTM D5191, Pa.
    t10, t50, t90, end_point : float
        Temperatures at which 10, 50, 90 and 98 vol% have evaporated by ASTM D86, K.
    e70, e100, e150 : float
        Volume fractions evaporated at 70, 100 and 150 degC.
    vapour_liquid_temperature : float
        T(V/L=20) by ASTM D5188, K.
    density : float
        Density at 15 degC, kg/m3.
    ethanol : float
        Volume fraction of ethanol at 15 degC.
    oxygen : float
        Mass fraction of oxygen.
    vapour_lock_index : float
        VLI = 10 DVPE[kPa] + 7 E70[vol%].
    """

    vapour_pressure: float
    t10: float
    t50: float
    t90: float
    end_point: float
    e70: float
    e100: float
    e150: float
    vapour_liquid_temperature: float
    density: float
    ethanol: float
    oxygen: float
    vapour_lock_index: float


_KINDS = {
    "vapour_pressure": "absolute pressure",
    "t10": "temperature",
    "t50": "temperature",
    "t90": "temperature",
    "end_point": "temperature",
    "e70": "fraction",
    "e100": "fraction",
    "e150": "fraction",
    "vapour_liquid_temperature": "temperature",
    "density": "density",
    "ethanol": "fraction",
    "oxygen": "fraction",
    "vapour_lock_index": "number",
}


class Limits(NamedTuple):
    """Least and greatest value that a class allows of one quantity, in SI; None where it sets none.

    Attributes
    ----------
    quantity : str
        A field of `LaboratoryReport`.
    least, most : float or None
    """

    quantity: str
    least: float | None
    most: float | None

    def side_broken(self, value: float) -> float | None:
        """Return the limit that a value breaks by more than a laboratory can read, or None.

        Parameters
        ----------
        value : float
            SI.

        Examples
        --------
        >>> Limits("vapour_pressure", 45e3, 60e3).side_broken(61e3)
        60000.0
        """
        if self.least is not None and value < self.least * (1.0 - READING):
            return self.least
        if self.most is not None and value > self.most * (1.0 + READING):
            return self.most
        return None


@dataclass(frozen=True)
class VolatilityClass:
    """A volatility class of a standard.

    Attributes
    ----------
    standard, name : str
        As in ``"EN 228"`` and ``"A"``.
    limits : tuple of Limits
    source : str
        Citation of the limits, as outputs print it.
    """

    standard: str
    name: str
    limits: tuple[Limits, ...]
    source: str

    @property
    def full_name(self) -> str:
        """Standard and class, such as ``"EN 228 A"``."""
        return f"{self.standard} {self.name}"

    def limits_of(self, quantity: str) -> Limits | None:
        """Return the limits of one quantity, or None where the class does not limit it.

        Parameters
        ----------
        quantity : str
            A field of `LaboratoryReport`.

        Examples
        --------
        >>> class_named("EN 228 A").limits_of("ethanol") is None
        True
        """
        return next((limits for limits in self.limits if limits.quantity == quantity), None)


@dataclass(frozen=True)
class ClassCheck:
    """Whether a fuel would pass a class.

    Attributes
    ----------
    volatility_class : VolatilityClass
    values : dict of str to float
        Values of the fuel by quantity, SI.
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

    Examples
    --------
    >>> [item.name for item in volatility_classes() if item.standard == "ASTM D5798"]
    ['1', '2', '3', '4']
    """
    classes = []
    for entry in read_toml(data_path(FILE))["class"]:
        least, most = entry.get("least", {}), entry.get("most", {})
        limits = []
        for quantity in dict.fromkeys([*least, *most]):
            if quantity not in _KINDS:
                raise InputError("unknown quantity", given=quantity, accepted=nearest(quantity, _KINDS), file=FILE)
            ends = [
                float(convert(side[quantity], _KINDS[quantity])) if quantity in side else None for side in (least, most)
            ]
            limits.append(Limits(quantity, ends[0], ends[1]))
        source = cite(entry["source"], entry.get("note", ""))
        classes.append(VolatilityClass(entry["standard"], str(entry["name"]), tuple(limits), source))
    return tuple(classes)


def class_named(name: str) -> VolatilityClass:
    """Return a class by its full name.

    Parameters
    ----------
    name : str
        Standard and class, such as ``"EN 228 A"``.

    Raises
    ------
    InputError
        For an unknown name, with the nearest one.

    Examples
    --------
    >>> class_named("EN 228 A").limits_of("vapour_pressure")
    Limits(quantity='vapour_pressure', least=45000.0, most=60000.0)
    """
    known = {item.full_name: item for item in volatility_classes()}
    if name not in known:
        raise InputError("no such volatility class", given=name, accepted=nearest(str(name), known))
    return known[name]


def check_classes(report: LaboratoryReport) -> list[ClassCheck]:
    """Return for every class whether a fuel would pass it, and which limits it breaks.

    Parameters
    ----------
    report : LaboratoryReport

    Examples
    --------
    >>> from fuelsim.fuel.fuel import Fuel
    >>> checks = {check.volatility_class.full_name: check for check in check_classes(
    ...     Fuel.named("winter_e10").laboratory_report())}
    >>> checks["EN 228 A"].broken
    ('vapour_pressure', 'e70')
    """
    return [_checked(report, item) for item in volatility_classes()]


def _checked(report: LaboratoryReport, item: VolatilityClass) -> ClassCheck:
    values = {limits.quantity: float(getattr(report, limits.quantity)) for limits in item.limits}
    broken = tuple(limits.quantity for limits in item.limits if limits.side_broken(values[limits.quantity]) is not None)
    return ClassCheck(item, values, broken)


def first_targets(item: VolatilityClass) -> dict[str, float]:
    """Return the first target of a petrol made for a class: its vapour pressure, or else its T(V/L=20), in SI.

    Parameters
    ----------
    item : VolatilityClass

    Examples
    --------
    >>> first_targets(class_named("EN 228 A"))
    {'vapour_pressure': 52500.0}
    """
    pressure, temperature = item.limits_of("vapour_pressure"), item.limits_of("vapour_liquid_temperature")
    if pressure is None and temperature is not None and temperature.least is not None:
        return {"vapour_liquid_temperature": temperature.least + ABOVE_LEAST_TEMPERATURE}
    if pressure is None or pressure.most is None:
        return {"vapour_pressure": USUAL_VAPOUR_PRESSURE}
    if pressure.least is None:
        return {"vapour_pressure": pressure.most - BELOW_MOST_PRESSURE}
    return {"vapour_pressure": (pressure.least + pressure.most) / 2.0}


def targets_inside(item: VolatilityClass, report: LaboratoryReport) -> dict[str, float]:
    """Return a target just inside each limit of a class that a fuel breaks, in SI.

    Parameters
    ----------
    item : VolatilityClass
    report : LaboratoryReport

    Examples
    --------
    >>> from fuelsim.fuel.fuel import Fuel
    >>> targets = targets_inside(class_named("EN 228 A"), Fuel.named("hot_region_summer").laboratory_report())
    >>> {quantity: round(value, 3) for quantity, value in targets.items()}
    {'e70': 0.23}
    """
    targets = {}
    for limits in item.limits:
        limit = limits.side_broken(getattr(report, limits.quantity))
        if limit is not None:
            inside = TARGETS[limits.quantity].tolerance / 2.0
            targets[limits.quantity] = limit + inside if limit == limits.least else limit - inside
    return targets
