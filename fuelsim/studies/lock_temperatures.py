"""At what tank temperature a car locks as it warms, at what it lets go as it cools, and when it starts again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fuelsim.arguments import takes
from fuelsim.car.car import Car
from fuelsim.car.rating_lists import broadcast_ratings, rating_shape
from fuelsim.declaration import declarations
from fuelsim.errors import InputError
from fuelsim.fuel.tables import FuelTables
from fuelsim.laws.atmosphere import standard_pressure
from fuelsim.shown import Shown
from fuelsim.studies.bands import Banded, BandInput, over_bands
from fuelsim.system.conditions import Conditions
from fuelsim.system.controller import EngineState
from fuelsim.system.heat_exchange import air_around
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.plumbing_paths import pumps_to_rails
from fuelsim.system.run import Run, System
from fuelsim.typing import BoolArray, FloatArray, PointArray
from fuelsim.units import shown

__all__ = ["LockTemperatures", "lock_temperatures"]

START = 288.15
"""Temperature from which everything warms along a line, K: all liquid."""
GRID = 33
"""Points along the line in each of the steps of the search."""
STEPS = 3
"""Steps of the search; each divides the range by `GRID` - 1."""
CRANKING_SPEED = 200.0
"""Engine speed of the starter, rpm [common_practice]."""
FOLD = 0.1
"""Share by which the flow falls within a step of the search at the least where the flowing solution ends in a fold."""
_WARMED = ("tank_temperature", "air_temperature", "bay_temperature", "underfloor_temperature", "engine_temperature")


@dataclass(frozen=True)
class LockTemperatures(Shown):
    """Tank temperatures at which a running car locks and lets go; every array has the shape of the conditions.

    Tank, air, engine bay, the air under the floor and the engine's metal warm together along a straight line, from
    15 degC to the conditions and beyond; speed, load, voltage, altitude and level are those of the conditions.

    Attributes
    ----------
    layout : str
        Name of the layout.
    locks : array
        Least tank temperature at which the warming car's engine stops because of vapour, K; NaN where it does not stop
        below the boiling point of the tank.
    lets_go : array
        Greatest tank temperature at which the locked car, as it cools, is fed again, K; NaN where it does not lock.
    restarts : array
        Greatest tank temperature at which the pump, switched on with vapour before it at cranking speed, brings the
        rail within the trim, K; NaN where it does not lock.
    folds : bool array
        Whether the flowing solution ends in a fold where it locks; where not, the engine stops on a falling curve.
    boils : array
        Boiling temperature of the tank, K.
    wait : array
        Time with the engine off until the standing tank has cooled from `locks` to `restarts`, s; infinite where the
        air is warmer than that. It leaves out what the stopped engine does to the lines, which at first become warmer.
    locks_band, lets_go_band : Banded or None
        The first two over the bands of inputs, infinite where the car does not lock; None where no inputs were given.

    Examples
    --------
    >>> import fuelsim as fs
    >>> car = fs.Car.named("heron").with_values({"suction.bore": "5.2 mm", "suction.length": "3 m"})
    >>> found = fs.lock_temperatures(car, "return", fs.Conditions(rpm=2500, load=0.3, underfloor_temperature="80 degC"))
    >>> bool(found.folds)
    True
    """

    layout: str
    locks: FloatArray
    lets_go: FloatArray
    restarts: FloatArray
    folds: BoolArray
    boils: FloatArray
    wait: FloatArray
    locks_band: Banded | None = None
    lets_go_band: Banded | None = None

    @property
    def headline(self) -> str:
        """Return at which tank it locks."""
        if np.ndim(self.locks) == 0:
            return self.sentence()
        locked = int(np.count_nonzero(np.isfinite(self.locks)))
        return f"'{self.layout}' locks at {locked} of {self.locks.size} conditions"

    @takes()
    def sentence(self, index: int | tuple[int, ...] = ()) -> str:
        """Return what happens at one of the conditions.

        Parameters
        ----------
        index : int or tuple of int
            Which, as numpy indexes an array of the shape of the conditions; left out for a single one.

        Returns
        -------
        str

        Examples
        --------
        >>> import fuelsim as fs
        >>> found = fs.lock_temperatures(fs.Car.named("finch"), "return", fs.Conditions(rpm=2500, load=0.3))
        >>> found.sentence()
        "'return' does not lock below 51.8 °C, where its tank boils."
        """
        locks, lets_go, restarts, boils, wait = (
            float(np.asarray(values)[index])
            for values in (self.locks, self.lets_go, self.restarts, self.boils, self.wait)
        )
        if np.isnan(locks):
            return f"'{self.layout}' does not lock below {shown(boils, 'temperature', digits=3)}, where its tank boils."
        text = f"'{self.layout}' locks at a tank of {shown(locks, 'temperature', digits=3)}"
        text += "" if self.locks_band is None else f" ({self.locks_band.sentence('no lock')})"
        text += f", as a locked car lets go at {shown(lets_go, 'temperature', digits=3)}" if lets_go < locks else ""
        text += f" and starts again at {shown(restarts, 'temperature', digits=3)}"
        if np.isinf(wait):
            return f"{text}; waiting does not help, because the air is warmer."
        return f"{text}: after {shown(wait, 'time', digits=2)} with the engine off, by its tank alone."


@system_or_car
@takes()
def lock_temperatures(
    car: Car, layout: str, conditions: Conditions, inputs: Sequence[BandInput] = ()
) -> LockTemperatures:
    """Return the tank temperatures at which a car locks as it warms, and lets go as it cools.

    Parameters
    ----------
    car : Car
        Ratings that are lists broadcast with the conditions.
    layout : str
        One of the car's own layouts.
    conditions : Conditions
        Any shape; their tank must be warmer than 15 degC, from which everything warms.
    inputs : list of BandInput, optional
        Inputs such as ``fs.band_inputs(car)``, over whose bands both temperatures are found too.

    Returns
    -------
    LockTemperatures
        Within a few thousandths of a kelvin.

    Raises
    ------
    InputError
        For an unknown layout, or a tank that is not warmer than 15 degC.

    Examples
    --------
    >>> import fuelsim as fs
    >>> car = fs.Car.named("heron").with_values({"suction.bore": "5.2 mm", "suction.length": "3 m"})
    >>> found = fs.lock_temperatures(car, "return", fs.Conditions(rpm=2500, load=0.3, underfloor_temperature="80 degC"))
    >>> bool(found.lets_go <= found.locks <= found.boils)
    True
    """
    system = System(car, layout)
    filled = system.filled(conditions)
    shape = np.broadcast_shapes(filled.shape, rating_shape(car))
    line = _Line.of(system, filled.spread(shape))
    if np.any(line.end["tank_temperature"] <= START):
        raise InputError(
            "the tank is not warmer than where the warming begins",
            given=shown(float(np.min(line.end["tank_temperature"])), "temperature"),
            accepted="a tank above 15 degC",
            part="lock_temperatures",
            key="tank_temperature",
        )
    start = np.full(len(line), START)

    def stopped(tank: FloatArray) -> BoolArray:
        return np.asarray(system.solve(line.at(tank)).vapour_lock)

    def stays_locked(tank: FloatArray) -> BoolArray:
        return np.asarray(system.solve(line.at(tank), from_locked=True).engine_state != EngineState.FED)

    def does_not_start(tank: FloatArray) -> BoolArray:
        cranking = replace(line.at(tank), rpm=CRANKING_SPEED, load=0.0)
        return np.asarray(system.solve(cranking, from_locked=True).engine_state != EngineState.FED)

    before, locks = _change(stopped, start, line.highest())
    below = np.where(np.isnan(locks), START, locks)
    lets_go, restarts = (
        np.where(np.isnan(locks), np.nan, _change(condition, start, below, last=True)[0])
        for condition in (stays_locked, does_not_start)
    )
    pumped = [_pumped(system.solve(line.at(tank[None]))) for tank in (np.where(np.isnan(locks), START, before), below)]
    folds = ~np.isnan(locks) & (pumped[1] < (1.0 - FOLD) * pumped[0])[0]
    wait = _wait(car, line.fuel, line.values_at(below)["air_temperature"], below, restarts)

    def shaped(values: FloatArray) -> FloatArray:
        return np.reshape(values, shape)[()]

    found = LockTemperatures(
        layout,
        locks=shaped(locks),
        lets_go=shaped(lets_go),
        restarts=shaped(restarts),
        folds=np.reshape(folds, shape)[()],
        boils=shaped(line.boils),
        wait=shaped(wait),
    )
    if not inputs:
        return found

    def both(changed: Car) -> FloatArray:
        own = lock_temperatures(changed, layout, conditions)
        return np.nan_to_num(np.stack([own.locks, own.lets_go]), nan=np.inf)

    bands = over_bands(car, inputs, both, kind="temperature", batched=True)
    return replace(found, locks_band=_one_of(bands, 0), lets_go_band=_one_of(bands, 1))


def _one_of(bands: Banded, which: int) -> Banded:
    """Return one of several answers over the same bands."""
    return replace(
        bands,
        middle=bands.middle[which],
        at_low=bands.at_low[:, which],
        at_high=bands.at_high[:, which],
        adverse=bands.adverse[which],
        favourable=bands.favourable[which],
    )


@dataclass(frozen=True)
class _Line:
    """The line along which everything warms: the conditions at its end and the temperatures there, (points,), K.

    `fuel` holds the tables of each point's fuel.
    """

    conditions: Conditions
    end: dict[str, PointArray]
    boils: PointArray
    fuel: FuelTables

    @classmethod
    def of(cls, system: System, conditions: Conditions) -> _Line:
        points = conditions.points()
        car = broadcast_ratings(system.car, conditions.shape)
        around = air_around(car, points["air_temperature"], points["tank_temperature"], points["vehicle_speed"])
        zones = {"bay_temperature": around["bay"], "underfloor_temperature": around["underfloor"]}
        end = {name: points.get(name, zones.get(name)) for name in _WARMED}
        run = system.solve(conditions)
        space = run.conditions.vapour_space_pressure
        pressure = standard_pressure(points["altitude"]) + np.broadcast_to(space, conditions.shape).reshape(-1)
        fuel = run.solved.fuel.tables()
        boils = np.asarray(fuel.bubble_temperature(pressure))
        return cls(conditions, {name: np.asarray(values) for name, values in end.items()}, boils, fuel)

    def __len__(self) -> int:
        return len(self.boils)

    def values_at(self, tank: FloatArray) -> dict[str, FloatArray]:
        """Return every temperature where the tank has one, shaped as `tank`, (..., points), K."""
        share = (tank - START) / (self.end["tank_temperature"] - START)
        return {name: START + share * (values - START) for name, values in self.end.items()}

    def at(self, tank: FloatArray) -> Conditions:
        """Return the conditions where the tank has a temperature, (..., points), K."""
        return self.conditions.with_values({**self.conditions.points(), **self.values_at(tank)})

    def highest(self) -> PointArray:
        """Return the tank temperature up to which locks are searched, (points,), K.

        It is where the tank boils, or where another temperature comes to the end of its range.
        """
        share = (self.boils - START) / (self.end["tank_temperature"] - START)
        for name, values in self.end.items():
            most = declarations(Conditions)[name].most
            share = np.where(
                values > START, np.minimum(share, (most - START) / np.maximum(values - START, 1e-9)), share
            )
        return START + share * (self.end["tank_temperature"] - START)


def _change(
    condition: Callable[[FloatArray], BoolArray], low: PointArray, high: PointArray, *, last: bool = False
) -> tuple[PointArray, PointArray]:
    """Return between which temperatures a condition becomes true, the first time or the last; (points,), K.

    The upper one is NaN where it does not become true; where it is true everywhere both are the lower end.
    """
    for _ in range(STEPS):
        grid = np.linspace(low, high, GRID)
        true = condition(grid)
        if last:
            # The row after the last that is false.
            row = GRID - np.argmin(true[::-1], axis=0)
            row = np.where(np.all(true, axis=0), 0, row)
        else:
            row = np.where(np.any(true, axis=0), np.argmax(true, axis=0), GRID)
        below, above = (np.clip(row + shift, 0, GRID - 1) for shift in (-1, 0))
        low, high = (np.take_along_axis(grid, index[None], axis=0)[0] for index in (below, above))
        never = row == GRID
        high = np.where(never, np.take_along_axis(grid, np.full(len(row), GRID - 1)[None], axis=0)[0], high)
        if np.all(never):
            break
    return low, np.where(never, np.nan, high)


def _pumped(run: Run) -> FloatArray:
    """Return what the pumps bring to the rails, or brought as the engine stopped, m3/s."""
    flows = sum(run.flow[pump.name] for pump in pumps_to_rails(run.plumbing))
    return np.where(run.engine_state == EngineState.STOPPED, run.at_stop.flow, flows)


def _wait(car: Car, fuel: FuelTables, air: PointArray, hot: PointArray, cool: PointArray) -> PointArray:
    """Return the time in which the standing tank cools from one temperature to another, (points,), s."""
    capacity = car.tank.fuel_volume * fuel.density(hot) * fuel.heat_capacity(hot)
    with np.errstate(divide="ignore", invalid="ignore"):
        wait = capacity / car.tank.heat_conductance * np.log((hot - air) / (cool - air))
    return np.where(np.isnan(cool), np.nan, np.where(cool <= air, np.inf, np.maximum(wait, 0.0)))
