"""Margin maps: the hottest tank, or the hottest day, at which the fuel stays liquid at each station.

Below its boiling point a fuel's volatility does not act on flows and temperatures, so the plumbing is solved with a
fuel that hardly boils, over tank temperature and the other axes; where each fuel would begin to boil is then read from
its bubble pressure alone. That makes a map of hundreds of points as cheap as a sweep.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim import opener, units
from fuelsim.errors import InputError, nearest
from fuelsim.fields import declarations
from fuelsim.fuel.fuel import Fuel
from fuelsim.system.conditions import Conditions
from fuelsim.system.run import System

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

    from fuelsim.car.car import Car

__all__ = ["MarginMap", "calm_fuel", "margin_map"]

STATIONS = ("tank", "pump_inlet", "pump_outlet", "rail_inlet", "rail")
CALM_VAPOUR_PRESSURES = (25e3, 32e3, 40e3, 50e3, 65e3, 90e3)
"""DVPE in Pa of the fuel with which the plumbing is solved: the first that can be blended with the ethanol."""
TEMPERATURES = np.linspace(258.0, 362.0, 14)
"""Tank temperatures solved, K."""
VAPOUR_TEMPERATURES = np.linspace(240.0, 420.0, 37)


@dataclass(frozen=True)
class MarginMap:
    """The highest temperature that keeps each station liquid.

    Attributes
    ----------
    layout : str
    axes : dict of str to array
        In order; SI, vapour pressure in Pa.
    limited : str
        ``"tank_temperature"`` or ``"air_temperature"``.
    limit : dict of str to array
        By station, K, shape of the axes; NaN where it stays liquid over the whole range solved.
    """

    layout: str
    axes: dict[str, Any]
    limited: str
    limit: dict[str, Any]

    def weakest(self) -> Any:
        """Return the lowest limit of all stations, K, and the station it belongs to."""
        stacked = np.stack([np.where(np.isfinite(x), x, np.inf) for x in self.limit.values()])
        names = np.array(list(self.limit))
        return stacked.min(axis=0), names[stacked.argmin(axis=0)]

    def table(self, system: str | None = None) -> pd.DataFrame:
        """Return one row per point of the map."""
        return opener.margin_table(self, system)

    def plot(self, station: str = "pump_inlet") -> Figure:
        """Draw a map of two axes, or curves of one."""
        return opener.margin_figure(self, station)


def margin_map(
    car: Car,
    layout: str,
    axes: Mapping[str, Any],
    *,
    limited: str = "tank_temperature",
    ethanol: Any = None,
    tank_rise: Any = 5.0,
    rpm: Any = None,
    load: Any = 0.0,
) -> MarginMap:
    """Map the highest tank or ambient temperature that keeps each station liquid.

    Parameters
    ----------
    car : Car
    layout : str
    axes : mapping of str to list
        At most one ``"vapour_pressure"`` (DVPE of a petrol with the ethanol stated) and any names of `Conditions`, such
        as ``"altitude"``, ``"rpm"``, ``"vapour_space_pressure"`` (the cap) or ``"vehicle_speed"``.
    limited : str
        ``"tank_temperature"``, with the air as the car has it, or ``"air_temperature"``, with the tank warmer than the
        air by `tank_rise`.
    ethanol : float or str, optional
        Volume fraction in the petrol of the axis ``vapour_pressure``; the car's own if left out.
    tank_rise : float or str
        K.
    rpm, load : float or str
        Where no axis gives them; the car idles if left out.

    Returns
    -------
    MarginMap

    Raises
    ------
    InputError
        For an axis that is not known.

    Examples
    --------
    >>> import fuelsim as fs
    >>> finch = fs.Car.named("finch")
    >>> found = margin_map(finch, "return", {"vapour_pressure": ["50 kPa", "90 kPa"], "altitude": [0.0, 2000.0]})
    >>> low, high = found.limit["pump_inlet"][:, 0]
    >>> bool(14.0 < low - high < 22.0)
    True
    """
    if limited not in ("tank_temperature", "air_temperature"):
        raise InputError("not a limit", given=limited, accepted="'tank_temperature' or 'air_temperature'")
    rise = float(units.convert(tank_rise, "temperature difference"))
    grid = _converted(axes, limited)
    own = car.fuel.fuel()
    share = own.ethanol if ethanol is None else float(units.convert(ethanol, "fraction"))
    fuels = [own]
    if "vapour_pressure" in grid:
        fuels = [Fuel.petrol(pressure, share) for pressure in grid["vapour_pressure"]]
    flat = {name: values for name, values in grid.items() if name != "vapour_pressure"}
    if rpm is None:
        rpm = car.engine.idle_speed
    given = {"rpm": rpm, "load": load} | flat
    shape = tuple(len(values) for values in flat.values())
    solved = _solve(car, layout, given, list(flat), shape, limited, rise, share)
    limits: dict[str, Any] = {}
    for station in STATIONS:
        temperature, pressure = (values.reshape(len(TEMPERATURES), -1) for values in solved[station])
        columns = [_first_boiling(fuel, temperature, pressure) for fuel in fuels]
        stacked = np.stack([column.reshape(shape) for column in columns])
        limits[station] = _ordered(stacked, list(grid))
    offset = rise if limited == "air_temperature" else 0.0
    return MarginMap(layout, grid, limited, {name: value - offset for name, value in limits.items()})


def _converted(axes: Mapping[str, Any], limited: str) -> dict[str, Any]:
    known = declarations(Conditions)
    names = [item.name for item in fields(Conditions) if item.name in known]
    found: dict[str, Any] = {}
    for name, values in axes.items():
        if name == "vapour_pressure":
            found[name] = np.atleast_1d(units.convert(values, "absolute pressure"))
        elif name in known and name not in ("tank_temperature", limited):
            found[name] = np.atleast_1d(known[name].convert(values))
        else:
            raise InputError("no such axis", given=name, accepted=nearest(name, ["vapour_pressure", *names]))
    if not found:
        raise InputError("no axes", accepted="such as {'vapour_pressure': [...], 'altitude': [...]}")
    return found


def _solve(
    car: Car,
    layout: str,
    given: dict[str, Any],
    names: Sequence[str],
    shape: tuple[int, ...],
    limited: str,
    rise: float,
    ethanol: float,
) -> dict[str, tuple[Any, Any]]:
    """Return temperature and pressure of each station over tank temperature and the axes, ``(temperatures, ...)``."""
    calm = calm_fuel(ethanol)
    points = list(itertools.product(range(len(TEMPERATURES)), *(range(n) for n in shape)))
    index = np.array(points).T
    tank = TEMPERATURES[index[0]]
    values = dict(given)
    for axis, name in enumerate(names):
        values[name] = np.asarray(given[name])[index[axis + 1]]
    values["tank_temperature"] = tank
    if limited == "air_temperature":
        values["air_temperature"] = np.clip(tank - rise, 224.0, 333.0)
    run = System(car, layout, calm).solve(Conditions(**values))
    liquid = {name: np.asarray(run.vapour_liquid_ratio[name]) < 1e-9 for name in STATIONS}
    found = {}
    for name in STATIONS:
        temperature = np.asarray(run.temperature[name]).reshape(len(TEMPERATURES), *shape)
        pressure = np.asarray(run.pressure[name]).reshape(len(TEMPERATURES), *shape)
        valid = (liquid[name] & liquid["tank"]).reshape(temperature.shape)
        found[name] = (np.where(valid, temperature, np.nan), np.where(valid, pressure, np.nan))
    return found


@lru_cache(maxsize=16)
def calm_fuel(ethanol: float) -> Fuel:
    """Return a petrol with a volume fraction of ethanol that boils as little as can be blended.

    Examples
    --------
    >>> calm_fuel(0.10).dvpe() < 45e3
    True
    """
    problem = InputError("no petrol with this much ethanol", given=ethanol, accepted="0 to 0.95", key="ethanol")
    for vapour_pressure in CALM_VAPOUR_PRESSURES:
        try:
            return Fuel.petrol(vapour_pressure, ethanol)
        except InputError as error:
            problem = error
    raise problem


def _first_boiling(fuel: Fuel, temperature: Any, pressure: Any) -> Any:
    """Return the tank temperature at which fuel begins to boil, ``(points,)``; arrays are (temperatures, points)."""
    bubble = np.log(fuel.bubble_pressure(VAPOUR_TEMPERATURES))
    with np.errstate(invalid="ignore"):
        # ln of the ratio of bubble pressure to pressure rises almost straight with 1/T of the tank.
        excess = np.interp(1.0 / temperature, 1.0 / VAPOUR_TEMPERATURES[::-1], bubble[::-1]) - np.log(pressure)
    inverse = 1.0 / TEMPERATURES
    limit = np.full(temperature.shape[1], np.nan)
    for point in range(temperature.shape[1]):
        column = excess[:, point]
        usable = np.flatnonzero(np.isfinite(column))
        above = usable[column[usable] > 0.0]
        if not above.size:
            if usable.size < 2:
                continue
            low, high = usable[-2], usable[-1]  # boils beyond the last state solved: follow the straight line
        else:
            high = above[0]
            low = max(high - 1, 0)
            if low == high:
                continue
        slope = (column[high] - column[low]) / (inverse[high] - inverse[low])
        found = 1.0 / (inverse[high] - column[high] / slope)
        if TEMPERATURES[0] - 30.0 < found < TEMPERATURES[-1] + 60.0:
            limit[point] = found
    return limit


def _ordered(stacked: Any, names: list[str]) -> Any:
    """Move the axis of vapour pressure, first in `stacked`, to its place among the axes."""
    if "vapour_pressure" not in names:
        return stacked[0]
    return np.moveaxis(stacked, 0, names.index("vapour_pressure"))
