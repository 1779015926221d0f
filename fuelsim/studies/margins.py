"""Margin maps: the hottest tank, or the hottest day, at which the fuel stays liquid at each station.

Below its boiling point a fuel's volatility does not act on flows and temperatures, so the plumbing is solved with a
fuel that hardly boils, over tank temperature and the other axes; where each fuel would begin to boil is then read from
its bubble pressure alone. That makes a map of hundreds of points as cheap as a sweep.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Literal, NamedTuple, TypeAlias

import numpy as np

from fuelsim import opener, units
from fuelsim.arguments import number, takes
from fuelsim.car.car import Car
from fuelsim.declaration import declarations
from fuelsim.errors import InputError, nearest
from fuelsim.fuel.fuel import Fuel
from fuelsim.interruption import WHOLE, Completion, Interruptible, run_steps
from fuelsim.shown import Shown
from fuelsim.system.conditions import ONE_CONDITION, Conditions
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.plumbing import Plumbing
from fuelsim.system.run import System
from fuelsim.typing import FloatArray, Given, PlotAxes, PointArray, TextArray, UnitSystem

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr
    from matplotlib.figure import Figure

__all__ = ["MarginMap", "WeakestStation", "calm_fuel", "margin_map"]

Limited: TypeAlias = Literal["tank_temperature", "air_temperature"]
"""Temperature whose highest value is sought."""
VAPOUR_PRESSURE = "vapour_pressure"
"""Axis of the fuel's vapour pressure, the only one that is no name of `Conditions`."""
CALM_VAPOUR_PRESSURES = (32e3, 40e3, 50e3, 65e3, 90e3)
"""DVPE in Pa of the fuel with which the plumbing is solved: the first that can be blended with the ethanol."""
TEMPERATURES = np.linspace(258.0, 362.0, 14)
"""Tank temperatures solved, K."""
AIR_TEMPERATURES = (224.0, 333.0)
"""Range of the air's temperature where it follows the tank's, K: just inside what `Conditions` accepts."""
POINTS_AT_ONCE = 12_000
"""Operating points of one solution: enough to make the cost of a call negligible, few enough for a quick Ctrl-C."""
VAPOUR_TEMPERATURES = np.linspace(240.0, 420.0, 37)
"""Temperatures at which a fuel's bubble pressure is calculated, K."""


class WeakestStation(NamedTuple):
    """The lowest limit of all stations, and the station it belongs to.

    Attributes
    ----------
    limit : array
        Temperature, K, shape of the axes; infinite where no station has a limit.
    station : str array
        Name of the station, shape of the axes.

    Examples
    --------
    >>> weakest = WeakestStation(np.array([318.0]), np.array(["pump_inlet"], dtype=object))
    >>> weakest.station[0]
    'pump_inlet'
    """

    limit: FloatArray
    station: TextArray


class _States(NamedTuple):
    """Temperature, K, and pressure, Pa, of one station, (temperatures, ...); NaN where the fuel is not liquid."""

    temperature: FloatArray
    pressure: FloatArray


@dataclass(frozen=True)
class MarginMap(Interruptible, Shown):
    """The highest temperature that keeps each station liquid.

    Attributes
    ----------
    layout : str
        The layout of the car.
    axes : dict of str to array
        Values of each axis, SI, in order.
    limited : str
        What the limit is a temperature of: ``"tank_temperature"`` or ``"air_temperature"``.
    limit : dict of str to array
        Limit of each station, K, shape of the axes; NaN where it stays liquid over the whole range solved.
    pump_inlet : str
        Station of the main pump's inlet.
    completion : Completion
        How many values of the first axis were tried before the end or before Ctrl-C; `axes` holds these only.

    Examples
    --------
    >>> import fuelsim as fs
    >>> result = fs.margin_map(fs.Car.named("heron"), "return", {"altitude": [0.0, 2000.0]})
    >>> result.weakest().station.tolist()
    ['pump_inlet', 'pump_inlet']
    """

    layout: str
    axes: dict[str, FloatArray]
    limited: str
    limit: dict[str, FloatArray]
    pump_inlet: str = "pump_inlet"
    completion: Completion = WHOLE

    @property
    def headline(self) -> str:
        """Return what is limited, and over what."""
        axes = " and ".join(f"{name} ({values.size})" for name, values in self.axes.items())
        return f"'{self.layout}', highest {self.limited.replace('_', ' ')} over {axes}"

    def weakest(self) -> WeakestStation:
        """Return the lowest limit of all stations, and the station it belongs to.

        Returns
        -------
        WeakestStation
        """
        limits = np.stack([np.where(np.isfinite(limit), limit, np.inf) for limit in self.limit.values()])
        names = np.array(list(self.limit), dtype=object)
        return WeakestStation(limits.min(axis=0), names[limits.argmin(axis=0)])

    def to_xarray(self) -> xr.Dataset:
        """Return the result with its axes and one of stations, in SI with units; needs xarray.

        Returns
        -------
        xarray.Dataset

        Raises
        ------
        InputError
            Where xarray is not installed.
        """
        return opener.margin_dataset(self)

    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per point of the map.

        Parameters
        ----------
        units : str, optional
            A name of `units.SYSTEMS`; left out, the preferred one.

        Returns
        -------
        pandas.DataFrame

        Examples
        --------
        >>> import fuelsim as fs
        >>> result = fs.margin_map(fs.Car.named("heron"), "return", {"altitude": [0.0, 2000.0]})
        >>> len(result.table())
        2
        """
        return opener.margin_table(self, units)

    @takes()
    def plot(self, station: str | None = None, *, ax: PlotAxes | None = None) -> Figure:
        """Draw a curve over one axis, contours over two, or panels of contours for each value of a third.

        Parameters
        ----------
        station : str, optional
            One of the stations of `limit`; left out, the main pump's inlet.
        ax : Axes, optional
            Axes of your own, for one or two axes of the map.

        Returns
        -------
        matplotlib.figure.Figure

        Examples
        --------
        >>> import fuelsim as fs
        >>> result = fs.margin_map(fs.Car.named("heron"), "return", {"altitude": [0.0, 2000.0]})
        >>> len(result.plot("rail").axes)
        1
        """
        return opener.margin_figure(self, self.pump_inlet if station is None else station, ax)


@system_or_car
@takes(
    {
        "ethanol": number("fraction", 0.0, 1.0, example="10 %", single=True, optional=True),
        "tank_rise": number("temperature difference", -50.0, 100.0, example="5 K", single=True),
        "rpm": ONE_CONDITION["rpm"],
        "load": ONE_CONDITION["load"],
    }
)
def margin_map(
    car: Car,
    layout: str,
    axes: Mapping[str, Given],
    *,
    limited: Limited = "tank_temperature",
    ethanol: Given | None = None,
    tank_rise: Given = 5.0,
    rpm: Given | None = None,
    load: Given = 0.0,
) -> MarginMap:
    """Map the highest tank or ambient temperature that keeps each station liquid.

    Parameters
    ----------
    car : Car
        The car.
    layout : str
        One of its layouts.
    axes : mapping of str to list
        At most one ``"vapour_pressure"`` (DVPE of a petrol with the ethanol stated) and any names of `Conditions`, such
        as ``"altitude"``, ``"rpm"``, ``"vapour_space_pressure"`` (the cap) or ``"vehicle_speed"``.
    limited : str
        ``"tank_temperature"``, with the air as the car has it, or ``"air_temperature"``, with the tank warmer than the
        air by `tank_rise`.
    ethanol : float or str, optional
        Volume fraction in the petrol of the axis ``vapour_pressure``; left out, the car's own.
    tank_rise : float or str
        Temperature of the tank above that of the air, K.
    rpm : float or str, optional
        Engine speed where no axis gives it, rpm; left out, idle.
    load : float or str
        Fraction of the full-load air charge where no axis gives it.

    Returns
    -------
    MarginMap

    Raises
    ------
    InputError
        For an axis that is not known.
    KeyboardInterrupt
        After Ctrl-C before the first values of the first axis are finished; later it ends the study with those.

    Examples
    --------
    >>> import fuelsim as fs
    >>> finch = fs.Car.named("finch")
    >>> result = margin_map(finch, "return", {"vapour_pressure": ["50 kPa", "90 kPa"], "altitude": [0.0, 2000.0]})
    >>> mild, volatile = result.limit["pump_inlet"][:, 0]
    >>> bool(14.0 < mild - volatile < 22.0)
    True
    """
    rise = float(units.convert(tank_rise, "temperature difference"))
    grid = _converted(axes, limited)
    fuel = car.fuel.fuel()
    ethanol_fraction = fuel.ethanol if ethanol is None else float(units.convert(ethanol, "fraction"))
    single = {"rpm": car.engine.idle_speed if rpm is None else rpm, "load": load}
    single = {name: value for name, value in single.items() if name not in grid}
    offset = rise if limited == "air_temperature" else None
    system = System(car, layout, calm_fuel(ethanol_fraction))

    @cache
    def fuel_of(pressure: float) -> Fuel:
        return Fuel.petrol(pressure, ethanol_fraction, activity_model=fuel.activity_model)

    @lru_cache(maxsize=1)
    def states_of(first: int, last: int) -> dict[str, _States]:
        return _solve(system, _operating(_part_of(grid, first, last)), single, offset)

    def limits_of(part: tuple[int, int]) -> dict[str, FloatArray]:
        axes_of_part = _part_of(grid, *part)
        fuels = [fuel_of(float(pressure)) for pressure in axes_of_part.get(VAPOUR_PRESSURE, ())] or [fuel]
        states = states_of(0, 0) if first_axis == VAPOUR_PRESSURE else states_of(*part)
        limits = {}
        for station, state in states.items():
            temperature, pressure = (values.reshape(len(TEMPERATURES), -1) for values in state)
            shape = state.temperature.shape[1:]
            by_fuel = np.stack([_first_boiling(each, temperature, pressure).reshape(shape) for each in fuels])
            limits[station] = _ordered(by_fuel, list(grid)) - (0.0 if offset is None else offset)
        return limits

    first_axis = next(iter(grid))
    parts = _parts(grid)
    results, completion = run_steps(parts, limits_of, doing="margin map", of=f"values of {first_axis}", progress=False)
    if not results:
        raise KeyboardInterrupt
    finished = parts[len(results) - 1][1]
    limits = {station: np.concatenate([each[station] for each in results]) for station in results[0]}
    return MarginMap(
        layout,
        _part_of(grid, 0, finished),
        limited,
        limits,
        system.plumbing.main_pump.upstream,
        completion._replace(finished=finished, planned=len(grid[first_axis])),
    )


def _parts(grid: Mapping[str, FloatArray]) -> list[tuple[int, int]]:
    """Return where parts of the first axis begin and end: a fuel each, or as many points as are solved at once."""
    first_axis, first = next((name, len(values)) for name, values in grid.items())
    others = [len(values) for name, values in _operating(grid).items() if name != first_axis]
    points = len(TEMPERATURES) * int(np.prod(others, dtype=int))
    step = 1 if first_axis == VAPOUR_PRESSURE else max(1, POINTS_AT_ONCE // points)
    return [(begin, min(begin + step, first)) for begin in range(0, first, step)]


def _part_of(grid: Mapping[str, FloatArray], first: int, last: int) -> dict[str, FloatArray]:
    """Return the axes with some values of the first one only."""
    return {name: values if number else values[first:last] for number, (name, values) in enumerate(grid.items())}


def _operating(grid: Mapping[str, FloatArray]) -> dict[str, FloatArray]:
    """Return the axes that are operating conditions."""
    return {name: values for name, values in grid.items() if name != VAPOUR_PRESSURE}


def _converted(axes: Mapping[str, Given], limited: str) -> dict[str, FloatArray]:
    """Return the values of each axis, SI."""
    known = declarations(Conditions)
    # What is limited is an answer, no axis.
    answers = ("tank_temperature", limited)
    names = [item.name for item in fields(Conditions) if item.name in known and item.name not in answers]
    converted: dict[str, FloatArray] = {}
    for name, values in axes.items():
        if name == VAPOUR_PRESSURE:
            converted[name] = np.atleast_1d(units.convert(values, "absolute pressure"))
        elif name in names:
            converted[name] = np.atleast_1d(np.asarray(known[name].convert(values), dtype=float))
        else:
            raise InputError("no such axis", given=name, accepted=nearest(name, [VAPOUR_PRESSURE, *names]))
    if not converted:
        raise InputError("no axes", accepted="such as {'vapour_pressure': [...], 'altitude': [...]}")
    return converted


def _solve(
    system: System, axes: Mapping[str, FloatArray], single: Mapping[str, Given], tank_rise: float | None
) -> dict[str, _States]:
    """Return the state of each station over tank temperature and the axes of operating conditions.

    Parameters
    ----------
    system : System
        With a fuel that hardly boils.
    axes : mapping of str to array
        Names of `Conditions` to values.
    single : mapping of str to object
        Conditions that are the same at all points.
    tank_rise : float or None
        Temperature of the tank above that of the air, K; None for the car's own air.
    """
    shape = (len(TEMPERATURES), *(len(values) for values in axes.values()))
    tank, *columns = (values.reshape(-1) for values in np.meshgrid(TEMPERATURES, *axes.values(), indexing="ij"))
    values: dict[str, Given] = {**single, **dict(zip(axes, columns, strict=True)), "tank_temperature": tank}
    if tank_rise is not None:
        values["air_temperature"] = np.clip(tank - tank_rise, *AIR_TEMPERATURES)
    run = system.solve(Conditions(rpm=values.pop("rpm")).with_values(values))
    stations = _stations(system.plumbing)
    liquid = {name: np.asarray(run.vapour_liquid_ratio[name]) < 1e-9 for name in stations}
    states = {}
    for name in stations:
        valid = liquid[name] & liquid[system.plumbing.vessel]
        states[name] = _States(
            np.where(valid, run.temperature[name], np.nan).reshape(shape),
            np.where(valid, run.pressure[name], np.nan).reshape(shape),
        )
    return states


def _stations(plumbing: Plumbing) -> tuple[str, ...]:
    """Return the tank, the pots, both ends of every pump, and every rail with its inlet."""
    pumps = [station for pump in plumbing.pumps for station in (pump.upstream, pump.downstream)]
    rails = [rail.inlet.upstream for rail in plumbing.planned_rails]
    return tuple(dict.fromkeys((plumbing.vessel, *plumbing.pots, *pumps, *rails, *plumbing.rails)))


@lru_cache(maxsize=16)
def calm_fuel(ethanol: float) -> Fuel:
    """Return a petrol with a volume fraction of ethanol that boils as little as can be blended.

    Parameters
    ----------
    ethanol : float
        Volume fraction.

    Returns
    -------
    Fuel

    Raises
    ------
    InputError
        Where no petrol with this much ethanol can be blended.

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


def _first_boiling(fuel: Fuel, temperature: FloatArray, pressure: FloatArray) -> PointArray:
    """Return the tank temperature at which fuel begins to boil, K, (points,).

    Parameters
    ----------
    fuel : Fuel
    temperature, pressure : array (temperatures, points)
        State of a station over the tank temperatures solved, K and Pa.
    """
    bubble = np.log(fuel.bubble_pressure(VAPOUR_TEMPERATURES))
    with np.errstate(invalid="ignore"):
        # ln of the ratio of bubble pressure to pressure rises almost linearly with 1/T of the tank.
        excess = np.interp(1.0 / temperature, 1.0 / VAPOUR_TEMPERATURES[::-1], bubble[::-1]) - np.log(pressure)
    return np.array([_zero_of(column) for column in excess.T])


def _zero_of(excess: FloatArray) -> float:
    """Return the tank temperature at which an excess (temperatures,) first becomes positive, K; NaN if it does not."""
    known = np.flatnonzero(np.isfinite(excess))
    positive = known[excess[known] > 0.0]
    if positive.size:
        low, high = int(positive[0]) - 1, int(positive[0])
    elif known.size >= 2:
        low, high = int(known[-2]), int(known[-1])  # boils beyond the last state solved: extrapolated linearly
    else:
        return np.nan
    if low < 0:
        return np.nan
    inverse = 1.0 / TEMPERATURES
    slope = (excess[high] - excess[low]) / (inverse[high] - inverse[low])
    temperature = float(1.0 / (inverse[high] - excess[high] / slope))
    return temperature if TEMPERATURES[0] - 30.0 < temperature < TEMPERATURES[-1] + 60.0 else np.nan


def _ordered(by_fuel: FloatArray, names: list[str]) -> FloatArray:
    """Move the axis of vapour pressure, first in `by_fuel`, to its place among the axes."""
    if VAPOUR_PRESSURE not in names:
        first: FloatArray = by_fuel[0]
        return first
    return np.moveaxis(by_fuel, 0, names.index(VAPOUR_PRESSURE))
