"""Readings that a workshop can take, each with the uncertainty of its gauge and the point it was taken at."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd

from fuelsim import units
from fuelsim.arguments import check_of
from fuelsim.declaration import declarations
from fuelsim.diagnosis.leaks import left_after
from fuelsim.errors import InputError, nearest, shortened
from fuelsim.shown import Shown
from fuelsim.studies.measures import MEASURES_IN_ANY_STATE
from fuelsim.system.conditions import Conditions
from fuelsim.system.run import Run, System
from fuelsim.typing import FloatArray, FloatLike, Given

__all__ = [
    "FLOORS",
    "Quantity",
    "Reading",
    "kind_of_reading",
    "numbers_of_column",
    "quantity_named",
    "read_table",
    "readings_asked",
    "split_head",
]

RELATIVE = 0.02
"""Standard uncertainty of a reading over its value, unless it is given [assumed]."""
FLOORS = {"pressure difference": 3e3, "volume flow": 1.0 / 3.6e6, "voltage": 0.1, "current": 0.2, "temperature": 2.0,
          "fraction": 0.01, "pulse time": 0.1e-3, "heat flow": 10.0, "temperature difference": 2.0}  # fmt: skip
"""Least standard uncertainty of a reading by kind, SI [assumed]."""
PLAUSIBLE = {"pressure difference": (-1.2e5, 5e6), "volume flow": (-2e-3, 2e-3), "voltage": (-1.0, 100.0),
             "current": (-1.0, 500.0), "temperature": (200.0, 500.0)}  # fmt: skip
"""Least and greatest value that a gauge on a car's fuel delivery shows by kind, SI; a wider range of others."""
ANY = (-1e6, 1e6)
LONGEST = 100_000
"""Rows of a table of readings."""
_PLACES = {
    "pressure at": ("pressure difference", lambda run, place: run.gauge_pressure[place]),
    "temperature at": ("temperature", lambda run, place: run.temperature[place]),
    "flow in": ("volume flow", lambda run, place: run.flow[place]),
    "current of": ("current", lambda run, place: run.pump_current[place]),
    "voltage of": ("voltage", lambda run, place: run.pump_voltage[place]),
}
_NO_READING = {"manifold_pressure": "absolute pressure", "time": "time"}
"""Columns of logs that are neither conditions nor readings."""
_HEAD = re.compile(r"\s*(?P<name>[^\[\]]+?)\s*(?:\[\s*(?P<unit>[^\[\]]*?)\s*\])?\s*")
UNCERTAINTY_OF = "uncertainty of "
GAUGE = "gauge"


class Quantity(NamedTuple):
    """A quantity that can be read.

    Attributes
    ----------
    name : str
    kind : str
        Kind of its unit, a name of `units.KINDS`.
    of : callable
        From a system and its run to an array with the shape of the conditions, SI.
    """

    name: str
    kind: str
    of: Callable[[System, Run], FloatArray]

    @property
    def is_pressure(self) -> bool:
        """Whether a pressure gauge shows it, whose offset and scale count."""
        return self.kind == "pressure difference"


_BATTERY = Quantity("supply_voltage", "voltage", lambda system, run: np.asarray(run.conditions.supply_voltage))
_MIXTURE = Quantity("mixture", "number", lambda system, run: np.asarray(run.mixture))


def quantity_named(name: str, system: System) -> Quantity:
    """Return a quantity that can be read on a car.

    Parameters
    ----------
    name : str
        A measure (`fuelsim.studies.measures`), ``"supply_voltage"``, ``"mixture"``, or ``"pressure at"`` and
        ``"temperature at"`` a station, ``"flow in"`` a link, ``"current of"`` and ``"voltage of"`` a pump; or
        ``"rail_pressure after 20 min"``, the pressure left since a cold engine stopped, ``", feed clamped"`` after it
        where a hose was clamped.
    system : System
        The car in its layout.

    Returns
    -------
    Quantity
        Pressures are gauge.

    Raises
    ------
    InputError
        For an unknown name.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> quantity_named("pressure at filter_outlet", Car.named("finch").system("return")).kind
    'pressure difference'
    """
    for own in (_BATTERY, _MIXTURE):
        if name == own.name:
            return own
    if left_after(name) is not None:
        # Not of a steady run: `leaks.pressure_left` follows it.
        return Quantity(name, "pressure difference", lambda _system, run: np.full(run.conditions.shape, np.nan))
    if name in MEASURES_IN_ANY_STATE:
        measure = MEASURES_IN_ANY_STATE[name]
        return Quantity(name, measure.kind, measure.at_points)
    for words, (kind, of) in _PLACES.items():
        if name.startswith(f"{words} "):
            place = name.removeprefix(f"{words} ")
            plumbing = system.plumbing
            known = {
                "flow in": [link.name for link in plumbing.links],
                "current of": [pump.name for pump in plumbing.pumps],
                "voltage of": [pump.name for pump in plumbing.pumps],
            }.get(words, list(plumbing.fuel_stations))
            if place not in known:
                raise InputError("no such place", given=name, accepted=nearest(place, known), key="quantity")
            return Quantity(name, kind, _PlaceRead(of, place))
    raise _unknown(name)


@dataclass(frozen=True)
class _PlaceRead:
    """Reads a run at one place."""

    of: Callable[[Run, str], FloatArray]
    place: str

    def __call__(self, _system: System, run: Run, /) -> FloatArray:
        return np.asarray(self.of(run, self.place))


@dataclass(frozen=True)
class Reading(Shown):
    """What a gauge showed.

    Attributes
    ----------
    quantity : str
        What was read, as `quantity_named` takes it; pressures are gauge.
    value : float or str
        SI, or text with a unit.
    uncertainty : float or str, optional
        Standard uncertainty of the reading (two thirds of readings are nearer than that), SI or text with a unit; left
        out, 2 % of the reading and at least 3 kPa, 1 L/h, 0.1 V, 0.2 A or 2 K [assumed].
    at : mapping of str to float or str
        Operating point: names of `Conditions`, each in SI or text with a unit, such as ``{"rpm": 3000, "load": 1.0}``.
    changes : mapping of str to value
        Dotted keys of the car file that were changed for the reading, as with a hose pulled off.
    gauge : str
        Name of the gauge: pressures read by one share its offset and scale.

    Examples
    --------
    >>> Reading("rail_pressure", "285 kPa", at={"rpm": 6000}).value
    285000.0
    """

    quantity: str
    value: FloatLike
    uncertainty: FloatLike | None = None
    at: Mapping[str, Given] = field(default_factory=dict)
    changes: Mapping[str, Given] = field(default_factory=dict)
    gauge: str = GAUGE

    @property
    def headline(self) -> str:
        """Return what was read, and where."""
        kind = kind_of_reading(self.quantity)
        value = units.shown(self.number, kind, digits=4) if kind and kind != "fraction" else f"{self.value}"
        where = ", ".join(f"{name} {at}" for name, at in self.at.items())
        return f"{self.quantity} {value}{f' at {where}' if where else ''}"

    @property
    def number(self) -> float:
        """The value, SI."""
        return float(self.value)

    @property
    def sigma(self) -> float:
        """The standard uncertainty, SI."""
        return float(self.uncertainty or 0.0)

    def __post_init__(self) -> None:
        if not isinstance(self.quantity, str):
            raise InputError(
                "no name of a quantity", given=self.quantity, accepted="text", part="Reading", key="quantity"
            )
        try:
            object.__setattr__(self, "gauge", check_of(str)(self.gauge))
        except InputError as error:
            raise error.at(part="Reading", key="gauge") from None
        for name in ("at", "changes"):
            if not isinstance(getattr(self, name), Mapping):
                accepted = "a mapping, such as {'rpm': 3000}"
                raise InputError("no mapping", given=getattr(self, name), accepted=accepted, part="Reading", key=name)
        try:
            check_of(str)(self.gauge)
        except InputError as error:
            raise error.at(part="Reading", key="gauge") from None
        for name in self.changes:
            if not isinstance(name, str) or "." not in name:
                accepted = "dotted keys of the car file, such as 'rail_regulator.reference'"
                raise InputError("no key of the car file", given=name, accepted=accepted, part="Reading", key="changes")
        conditions = declarations(Conditions)
        for name in self.at:
            if name not in conditions:
                accepted = nearest(str(name), conditions)
                raise InputError("no such condition", given=name, accepted=accepted, part="Reading", key="at")
        kind = kind_of_reading(self.quantity)
        if kind is None:
            raise _unknown(self.quantity)
        value = float(_one(self.value, kind, "value"))
        least, most = PLAUSIBLE.get(kind, ANY)
        if not least <= value <= most:
            accepted = f"{units.shown(least, kind, digits=3)} to {units.shown(most, kind, digits=3)}"
            given = units.shown(value, kind, digits=4)
            raise InputError("no plausible reading", given=given, accepted=accepted, part="Reading", key="value")
        object.__setattr__(self, "value", value)
        if self.uncertainty is None:
            floor = FLOORS.get(kind, 0.0) if kind != "number" else 0.01
            about = 0.0 if kind == "temperature" else RELATIVE * abs(value)
            object.__setattr__(self, "uncertainty", max(about, floor))
        else:
            spread = "temperature difference" if kind == "temperature" else kind
            own = float(_one(self.uncertainty, spread, "uncertainty"))
            if not 0.0 < own <= most - least:
                accepted = f"above zero, up to {units.shown(most - least, spread, digits=3)}"
                raise InputError(
                    "no uncertainty", given=self.uncertainty, accepted=accepted, part="Reading", key="uncertainty"
                )
            object.__setattr__(self, "uncertainty", own)


def kind_of_reading(name: str) -> str | None:
    """Return the kind of a quantity's unit without a car; None for an unknown name.

    Parameters
    ----------
    name : str
        As `quantity_named` takes it.

    Returns
    -------
    str or None

    Examples
    --------
    >>> kind_of_reading("voltage of pump"), kind_of_reading("noise")
    ('voltage', None)
    """
    if name in MEASURES_IN_ANY_STATE:
        return MEASURES_IN_ANY_STATE[name].kind
    if left_after(name) is not None:
        return "pressure difference"
    known = {own.name: own.kind for own in (_BATTERY, _MIXTURE)}
    return known.get(name) or next((kind for words, (kind, _) in _PLACES.items() if name.startswith(f"{words} ")), None)


def _unknown(name: str) -> InputError:
    """Return the message for a quantity that cannot be read."""
    known = [*MEASURES_IN_ANY_STATE, _BATTERY.name, _MIXTURE.name, *(f"{words} ..." for words in _PLACES)]
    return InputError("no such quantity to read", given=name, accepted=nearest(name, known), key="quantity")


def _one(value: object, kind: str, key: str) -> FloatLike:
    try:
        number = units.convert(value, kind)
    except InputError as error:
        raise error.at(part="Reading", key=key) from None
    if np.ndim(number) != 0:
        raise InputError("not one value", given=shortened(value), accepted="one value", part="Reading", key=key)
    return number


def readings_asked(readings: object, system: System) -> tuple[Reading, ...]:
    """Return readings as a user gave them.

    Parameters
    ----------
    readings : list of Reading, mapping, DataFrame or path
        A table has one row per operating point. Its columns are names of `Conditions` and of quantities, with a unit in
        brackets where they have one, as in ``rail_pressure [kPa]``; ``uncertainty of rail_pressure [kPa]`` beside them
        where it is known. Empty cells are no readings. A mapping has such names as keys.
    system : System
        The car in its layout.

    Returns
    -------
    tuple of Reading

    Raises
    ------
    InputError
        For an unknown column, a cell that is no number, or a table without readings.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> table = {"rpm": [800, 6000], "rail_pressure [kPa]": [300, 280]}
    >>> [reading.value for reading in readings_asked(table, Car.named("finch").system("return"))]
    [300000.0, 280000.0]
    """
    if isinstance(readings, Sequence) and not isinstance(readings, str):
        made = tuple(itertools.islice(readings, LONGEST + 1))
        if len(made) > LONGEST:
            raise InputError("too many readings", accepted=f"at most {LONGEST:,}", key="readings")
    else:
        made = _from_table(read_table(readings, LONGEST), str(readings) if isinstance(readings, (str, Path)) else "")
    if not made:
        raise InputError("no readings", accepted="at least one reading", key="readings")
    for reading in made:
        if not isinstance(reading, Reading):
            raise InputError("no reading", given=shortened(reading), accepted="a Reading", key="readings")
        quantity_named(reading.quantity, system)
    return made


def read_table(given: object, longest: int) -> pd.DataFrame:
    """Return a table that a user gave as a mapping of columns, a DataFrame or the path of a CSV file.

    Parameters
    ----------
    given : object
    longest : int
        Greatest number of rows.

    Returns
    -------
    DataFrame

    Raises
    ------
    InputError
        For anything else, a file that cannot be read, or too many rows.

    Examples
    --------
    >>> len(read_table({"rpm": [800, 3000]}, 10))
    2
    """
    if isinstance(given, (str, Path)):
        table = _read(Path(given))
    elif isinstance(given, Mapping):
        table = _columns(given)
    elif isinstance(given, pd.DataFrame):
        table = given
    else:
        accepted = "a list of Reading, a mapping of columns, a DataFrame or the path of a CSV file"
        raise InputError("no table", given=shortened(given), accepted=accepted)
    if len(table) > longest:
        accepted = f"at most {longest:,}; `fs.steady_stretches` makes few readings of a log"
        raise InputError(f"{len(table)} rows", accepted=accepted)
    return table


def _columns(readings: Mapping[str, object]) -> pd.DataFrame:
    """Return a mapping of columns, lists or single values, as a table."""
    columns = {str(key): np.atleast_1d(np.asarray(value)).reshape(-1) for key, value in readings.items()}
    rows = {len(column) for column in columns.values()} - {1}
    if len(rows) > 1:
        raise InputError("columns of different lengths", given=sorted(rows), accepted="one length", key="readings")
    count = max(rows, default=1)
    return pd.DataFrame({key: np.resize(column, count) for key, column in columns.items()})


def _read(path: Path) -> pd.DataFrame:
    try:
        return pd.read_csv(path, comment="#", skipinitialspace=True)
    except (OSError, ValueError) as error:
        raise InputError("no table of readings", given=str(error), accepted="a CSV file", file=str(path)) from None


def _from_table(table: pd.DataFrame, file: str) -> tuple[Reading, ...]:
    """Return the readings of a table, row by row."""
    conditions = declarations(Conditions)
    heads = [split_head(str(column), file) for column in table.columns]
    double = [name for name in {head for head, _ in heads} if sum(head == name for head, _ in heads) > 1]
    if double:
        raise InputError("two columns of one name", given=double[0], accepted="each once", file=file)
    columns = {name: numbers_of_column(table.iloc[:, at], name, unit, file) for at, (name, unit) in enumerate(heads)}
    made = []
    for row in range(len(table)):
        # The volts of the battery are a reading: they may be what is wrong.
        at = {n: float(values[row]) for n, values in columns.items() if n in conditions and n != _BATTERY.name}
        if any(np.isnan(value) for value in at.values()):
            accepted = "a number in each of " + ", ".join(at)
            raise InputError("no operating point", given=f"row {row + 1}", accepted=accepted, file=file)
        for name, values in columns.items():
            if name in at:
                continue
            if name.startswith(UNCERTAINTY_OF) or np.isnan(values[row]):
                continue
            spread = columns.get(UNCERTAINTY_OF + name)
            own = None if spread is None or np.isnan(spread[row]) else float(spread[row])
            made.append(Reading(name, float(values[row]), own, at))
    return tuple(made)


def split_head(column: str, file: str) -> tuple[str, str]:
    """Return name and unit of a column.

    Parameters
    ----------
    column : str
        Such as ``rail_pressure [kPa]``.
    file : str
        Named in messages.

    Returns
    -------
    name, unit : str

    Examples
    --------
    >>> split_head("rail_pressure [kPa]", "")
    ('rail_pressure', 'kPa')
    """
    match = _HEAD.fullmatch(column)
    if match is None:
        raise InputError("no name of a column", given=column, accepted="'rail_pressure [kPa]'", file=file)
    return match["name"], match["unit"] or ""


def numbers_of_column(cells: pd.Series, name: str, unit: str, file: str) -> FloatArray:
    """Return the numbers of a column in SI.

    Parameters
    ----------
    cells : Series
        Numbers; or texts with their units where the column has none.
    name : str
        Name of a condition or quantity.
    unit : str
        Unit of the column; empty where it has none.
    file : str
        Named in messages.

    Returns
    -------
    array (rows,)
        NaN where a cell is empty.

    Raises
    ------
    InputError
        For an unknown name, a missing unit, or a cell that is no number.

    Examples
    --------
    >>> numbers_of_column(pd.Series([300.0, 280.0]), "rail_pressure", "kPa", "").tolist()
    [300000.0, 280000.0]
    """
    quantity = name.removeprefix(UNCERTAINTY_OF)
    declared = declarations(Conditions).get(quantity)
    kind = declared.kind if declared is not None else _NO_READING.get(quantity) or kind_of_reading(quantity)
    if not kind:
        known = [*declarations(Conditions), *MEASURES_IN_ANY_STATE, _BATTERY.name, _MIXTURE.name]
        raise InputError("no such column", given=name, accepted=nearest(quantity, known), file=file, key="readings")
    if quantity != name and kind == "temperature":
        kind = "temperature difference"
    numbers = pd.to_numeric(cells, errors="coerce")
    bad = cells[numbers.isna() & cells.notna() & (cells.astype(str).str.strip() != "")]
    if len(bad):
        if not unit:
            return np.array([float(_one(cell, kind, name)) for cell in cells])
        given = f"row {bad.index[0]}: {shortened(bad.iloc[0])}"
        raise InputError("no number", given=given, accepted="a number, or an empty cell", file=file, key=name)
    if not unit and kind in FLOORS and kind != "fraction":
        accepted = f"'{name} [{_example(kind)}]'"
        raise InputError("a column without its unit", given=name, accepted=accepted, file=file, key="readings")
    values = np.asarray(numbers, dtype=float)
    if np.any(np.isinf(values)):
        row = int(np.flatnonzero(np.isinf(values))[0])
        raise InputError(
            "no number", given=f"row {row}: infinite", accepted="a number, or an empty cell", file=file, key=name
        )
    known_cells = np.isfinite(values)
    converted = np.full(values.shape, np.nan)
    if np.any(known_cells):
        converted[known_cells] = units.convert(values[known_cells], kind, unit=unit or None)
    return converted


def _example(kind: str) -> str:
    return units.shown_values(0.0, kind)[1]
