"""Logs of an engine controller: steady stretches of many rows become a few readings.

Columns are always mapped by the user: each controller names and scales its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from fuelsim import opener
from fuelsim.arguments import number, takes, unchecked
from fuelsim.diagnosis.readings import Reading, numbers_of_column, quantity_named, read_table, split_head
from fuelsim.errors import InputError, nearest
from fuelsim.laws.atmosphere import standard_pressure
from fuelsim.shown import Shown
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.run import System
from fuelsim.typing import FloatArray, IndexArray, PointArray, Quantity, UnitSystem

__all__ = ["SteadyStretches", "steady_stretches"]

TIME, MANIFOLD = "time", "manifold_pressure"
"""Columns that are no reading: when a row was taken, and the pressure from which the load follows."""
_LOADS = np.linspace(0.0, 1.0, 21)
"""Loads between which a manifold pressure is interpolated."""
MOST_ROWS = 2_000_000
"""Rows of one log."""


@dataclass(frozen=True)
class SteadyStretches(Shown):
    """Stretches of a log in which speed and load hold still; what is read in them are their means.

    Attributes
    ----------
    readings : tuple of Reading
        To be given to `diagnose`.
    first, last : int array (stretches,)
        Rows at which each begins and ends.
    rpm, load : array (stretches,)
        Means, rpm and fraction.
    rows : int
        Rows of the log.
    """

    readings: tuple[Reading, ...]
    first: IndexArray
    last: IndexArray
    rpm: PointArray
    load: PointArray
    rows: int

    @property
    def headline(self) -> str:
        """Return how much of the log is steady."""
        steady = int(np.sum(self.last - self.first + 1))
        return f"{len(self.first)} steady stretches with {steady} of {self.rows} rows, {len(self.readings)} readings"

    @takes()
    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per stretch: rows, speed, load, and the means of what was read.

        Parameters
        ----------
        units : str, optional
            A name of `units.SYSTEMS`; left out, the preferred one.

        Returns
        -------
        pandas.DataFrame
            Readings carry their units.

        Examples
        --------
        >>> import fuelsim as fs
        >>> log = {"n": [3000.0] * 50, "p": [300.0] * 50, "l": [1.0] * 50}
        >>> columns = {"rpm": "n", "load": "l", "rail_pressure [kPa]": "p"}
        >>> fs.steady_stretches(fs.Car.named("finch"), "return", log, columns).table()["rail_pressure"].tolist()
        ['300 kPa']
        """
        return opener.stretches_table(self, units)


@system_or_car
@takes(
    {
        "least_rows": number("number", 2, 1e6, single=True),
        "rpm_band": number("engine speed", 1.0, 2000.0, example="100 rpm", single=True),
        "load_band": number("fraction", 0.001, 1.0, example="5 %", single=True),
    }
)
def steady_stretches(
    system: System,
    log: object,
    columns: Mapping[str, str],
    *,
    least_rows: Quantity = 20,
    rpm_band: Quantity = 100.0,
    load_band: Quantity = 0.05,
) -> SteadyStretches:
    """Return the steady stretches of a log as readings.

    Parameters
    ----------
    system : System
        The car in its layout; or a car, and the name of a layout after it.
    log : DataFrame, mapping or path
        One row per moment; a path is of a CSV file.
    columns : mapping of str to str
        What is read, with its unit in brackets, to the name of its column: ``rpm``, ``load`` or
        ``manifold_pressure [kPa absolute]``, and quantities as `Reading` takes them, such as ``rail_pressure [kPa]``,
        ``supply_voltage [V]``, ``injector_duty [%]`` and ``mixture``.
    least_rows : int
        Least number of rows of a stretch.
    rpm_band : float or str
        Greatest distance of the speed from the stretch's mean, rpm.
    load_band : float or str
        Greatest distance of the load from the stretch's mean, fraction.

    Returns
    -------
    SteadyStretches
        Rows with a missing number in speed or load are left out. The uncertainty of a mean is that of its rows, and at
        least half of that of a single reading, since what a gauge reads wrong does not average out.

    Raises
    ------
    InputError
        For an unknown column, no speed, or no steady stretch.

    Examples
    --------
    >>> import numpy as np
    >>> from fuelsim.car.car import Car
    >>> log = {"n": np.repeat([1000.0, 5000.0], 100), "p": np.repeat([300.0, 290.0], 100), "l": np.ones(200)}
    >>> columns = {"rpm": "n", "load": "l", "rail_pressure [kPa]": "p"}
    >>> [round(reading.number) for reading in steady_stretches(Car.named("finch"), "return", log, columns).readings]
    [300000, 290000]
    """
    table = read_table(log, MOST_ROWS)
    taken = {}
    for head, column in columns.items():
        if column not in table.columns:
            accepted = nearest(str(column), [str(name) for name in table.columns])
            raise InputError("no such column in the log", given=column, accepted=accepted, key=str(head))
        name, unit = split_head(str(head), "")
        taken[name] = numbers_of_column(table[column], name, unit, "")
    if "rpm" not in taken or not {"load", MANIFOLD} & set(taken):
        accepted = "columns for 'rpm' and for 'load' or 'manifold_pressure [kPa absolute]'"
        raise InputError("no operating point in the log", given=sorted(taken), accepted=accepted, key="columns")
    rpm = taken.pop("rpm")
    load = taken.pop("load") if "load" in taken else _load_of(system, rpm, taken[MANIFOLD])
    taken.pop(MANIFOLD, None)
    taken.pop(TIME, None)
    for name in taken:
        quantity_named(name, system)
    stretches = _stretches(rpm, load, int(least_rows), float(rpm_band), float(load_band))
    if not stretches:
        accepted = f"{int(least_rows)} rows within {float(rpm_band):g} rpm and {100 * float(load_band):g} % of load"
        raise InputError("no steady stretch in the log", accepted=accepted, key="log")
    readings, means = [], []
    for first, last in stretches:
        part = slice(first, last + 1)
        # The engine pumps with its throttle shut below any load that a controller shows.
        point = {"rpm": float(np.mean(rpm[part])), "load": float(np.clip(np.mean(load[part]), 0.0, 1.0))}
        means.append(tuple(point.values()))
        for name, values in taken.items():
            own = values[part][np.isfinite(values[part])]
            if len(own) < int(least_rows):
                continue
            single = Reading(name, float(np.mean(own)), at=point)
            scatter = float(np.std(own, ddof=1)) / np.sqrt(len(own))
            readings.append(Reading(name, single.number, max(scatter, 0.5 * single.sigma), at=point))
    if not readings:
        raise InputError(
            "no readings in the steady stretches", accepted="a quantity beside speed and load", key="columns"
        )
    ends = np.array(stretches)
    points = np.array(means)
    return SteadyStretches(tuple(readings), ends[:, 0], ends[:, 1], points[:, 0], points[:, 1], len(table))


def _load_of(system: System, rpm: FloatArray, manifold: FloatArray) -> FloatArray:
    """Return the load at which the engine has a manifold pressure at a speed, at the car's altitude."""
    engine, around = system.car.engine, system.car.surroundings
    outside = float(standard_pressure(around.altitude))
    speeds = np.linspace(max(float(np.nanmin(rpm)), 1.0), float(np.nanmax(rpm)), 8)
    demand = unchecked(engine.demand)(
        speeds[:, None],
        _LOADS,
        stoichiometric_air_fuel_ratio=system.fuel.stoichiometric_air_fuel_ratio,
        atmospheric_pressure=outside,
        air_temperature=float(around.air_temperature),
    )
    pressure = np.broadcast_to(demand.manifold_pressure, (len(speeds), len(_LOADS)))
    nearest_speed = np.abs(np.nan_to_num(rpm)[:, None] - speeds).argmin(axis=1)
    load = np.full(rpm.shape, np.nan)
    for at in range(len(speeds)):
        rows = nearest_speed == at
        load[rows] = np.interp(manifold[rows], np.maximum.accumulate(pressure[at]), _LOADS)
    return load


def _stretches(
    rpm: FloatArray, load: FloatArray, least: int, rpm_band: float, load_band: float
) -> list[tuple[int, int]]:
    """Return first and last row of each stretch in which speed and load stay within their bands of its mean."""
    found: list[tuple[int, int]] = []
    first, speed_sum, load_sum = 0, 0.0, 0.0
    for row, (speed, share) in enumerate(zip(rpm.tolist(), load.tolist(), strict=True)):
        count = row - first
        known = np.isfinite(speed) and np.isfinite(share)
        steady = known and (
            count == 0 or (abs(speed - speed_sum / count) <= rpm_band and abs(share - load_sum / count) <= load_band)
        )
        if not steady:
            if count >= least:
                found.append((first, row - 1))
            first, speed_sum, load_sum = (row, 0.0, 0.0) if known else (row + 1, 0.0, 0.0)
        if known:
            speed_sum, load_sum = speed_sum + speed, load_sum + share
    if len(rpm) - first >= least:
        found.append((first, len(rpm) - 1))
    return found
