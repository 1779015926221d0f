"""Steady states of the plumbing, tabulated over the states that the tank can take while the engine runs.

Many networks are solved in one batch and interpolated while time runs. The table's axes are time within a phase, the
share of the fuel that has evaporated, the pressure in the tank, and the kelvins by which the supply is below the
boiling point of the tank: along that last one the plumbing's behaviour bends.

Stages of evaporation and times do not depend on how long the drive is: what is known of its first hour is what a drive
of an hour knows. Only where a phase climbs does its table end with it.

A table holds states of a running engine alone. Between those and a stopped engine's there is nothing to interpolate:
a grid point whose engine stops has the state of the nearest cooler one that runs, and whether the engine runs at a
moment is asked of the network solved there (`fuelsim.transients.along`).

Most of the grid is close to boiling, where networks take longest and many a drive never comes: that part is solved when
it is first asked for; so are the stages of evaporation and the times that a drive comes to.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Generic, NamedTuple

import numpy as np

from fuelsim.numerics.cells import cell_of
from fuelsim.numerics.pointwise import least_at_each_point
from fuelsim.system.controller import EngineState
from fuelsim.transients.heat_sources import heat_sources
from fuelsim.transients.tank_fuel import WEATHERED
from fuelsim.transients.weathering_plumbing import stage_weights
from fuelsim.transients.world import DrivingState
from fuelsim.typing import BoolArray, FloatArray, PointArray, Values

if TYPE_CHECKING:
    from fuelsim.system.run import Run
    from fuelsim.transients.tank_fuel import TankFuel
    from fuelsim.transients.weathering_plumbing import WeatheringPlumbing
    from fuelsim.transients.world import World

__all__ = [
    "MARGINS",
    "MARGIN_LIST",
    "PlumbingState",
    "PlumbingTable",
    "near_limit",
    "not_running",
    "tabulate_plumbing",
]

_NEAR = np.concatenate([np.arange(-0.3, 1.5, 0.1), np.arange(1.5, 3.0, 0.25), np.arange(3.0, 6.0, 0.5)])
_FAR = np.concatenate([np.arange(6.0, 10.0, 1.0), np.arange(10.0, 30.0, 4.0), [30.0, 45.0, 70.0]])
MARGINS = np.concatenate([_NEAR, _FAR])
"""Temperatures of the supply below the boiling point of the tank at which the networks are solved, K."""
MARGIN_LIST: list[float] = MARGINS.tolist()
FAR = len(_FAR)
"""Number of those far from boiling."""
AHEAD = 24
"""Times of the grid that are solved at once, in a phase and those after it."""
STEP, SETTLING_TIMES = 3600.0, (0.0, 150.0, 450.0, 1000.0)
"""Times within a phase at which they are solved, s: close while the air around the parts settles, then every `STEP`."""
LEAST_TEMPERATURE, MOST_TEMPERATURE = 238.0, 372.0
"""Temperatures of the tank between which operating conditions are accepted, K."""


class PlumbingState(NamedTuple, Generic[Values]):
    """What the tank gets from the plumbing at one moment, or at many.

    Attributes
    ----------
    supply : float or array
        Mass flow out of the tank, kg/s.
    returned : float or array
        Mass flow back into it, kg/s.
    returned_heat : float or array
        Heat that comes back, above the temperature of the supply, W.
    pump_heat, rail_heat, bay_heat, line_heat, burnt_heat : float or array
        What that heat is made of, W, as `HeatSources`.
    rail_gauge_pressure : float or array
        Pressure above the atmosphere of the rail that has least, Pa.
    near_limit : float or array
        1 where a pump is over its vapour limit or the engine is not fed; between 0 and 1 where this holds at only some
        of the grid points around.
    """

    supply: Values
    returned: Values
    returned_heat: Values
    pump_heat: Values
    rail_heat: Values
    bay_heat: Values
    line_heat: Values
    burnt_heat: Values
    rail_gauge_pressure: Values
    near_limit: Values


AT_REST = PlumbingState(*[0.0] * len(PlumbingState._fields))
"""State while the engine is stopped and nothing flows."""


def not_running(run: Run) -> BoolArray:
    """Return where the engine stops, or the point did not solve.

    Parameters
    ----------
    run : Run
        Results of a system.
    """
    return np.asarray((run.engine_state == EngineState.STOPPED) | ~run.outcome.has_values)


def near_limit(run: Run) -> BoolArray:
    """Return where vapour at a pump's inlet is beyond what it tolerates, or the engine is not fed.

    Parameters
    ----------
    run : Run
        Results of a system.
    """
    near: BoolArray = np.logical_or.reduce([*run.over_vapour_limit.values(), run.engine_state != EngineState.FED])
    return near


def _plumbing_states(run: Run) -> FloatArray:
    """Return the fields of `PlumbingState` at the points of a run, ``(points, fields)``; NaN where none runs."""
    supply = run.supply_mass_flow
    states: PlumbingState[PointArray] = PlumbingState(
        supply=supply,
        returned=supply - run.burnt_mass_flow,
        returned_heat=run.tank_heat_flow,
        **heat_sources(run)._asdict(),
        rail_gauge_pressure=least_at_each_point([rail.gauge_pressure for rail in run.by_rail.values()]),
        near_limit=near_limit(run).astype(float),
    )
    return np.where(not_running(run)[:, None], np.nan, np.column_stack(states))


def times_within(duration: float, *, climbs: bool) -> FloatArray:
    """Return the grid of times for a phase of some duration, s; the last may lie beyond its end.

    Parameters
    ----------
    duration : float
        Duration of the phase, s.
    climbs : bool
        Whether the altitude changes; there is no road beyond the end of a climb, so that the grid ends with it.
    """
    grid = np.concatenate([SETTLING_TIMES, np.arange(SETTLING_TIMES[-1] + STEP, duration + STEP, STEP)])
    grid = grid[: max(int(np.searchsorted(grid, duration)), 1) + 1]
    return np.append(grid[:-1], duration) if climbs else grid


@dataclass(frozen=True)
class _PhaseGrid:
    """Grid of one phase: times, and the world then."""

    times: FloatArray
    driving: DrivingState


@dataclass(frozen=True, eq=False)
class _StageStates:
    """States of the plumbing in every phase, for the fuel at one stage of evaporation.

    Attributes
    ----------
    plumbing : WeatheringPlumbing
        The plumbing.
    stage : int
        Number of the stage in `WEATHERED`.
    pressures : list of float
        Pressures of the grid in the tank above the atmosphere, Pa.
    grids : dict of int to _PhaseGrid
        Grid of each phase with a running engine, by its number.
    """

    plumbing: WeatheringPlumbing
    stage: int
    pressures: list[float]
    grids: dict[int, _PhaseGrid]
    _states: dict[int, FloatArray] = field(default_factory=dict, init=False, repr=False)
    _far: set[tuple[int, int]] = field(default_factory=set, init=False, repr=False)
    _near: set[tuple[int, int]] = field(default_factory=set, init=False, repr=False)

    def states(self, phase: int, time: int, below: int) -> FloatArray:
        """Return the states of a phase; those that have not been asked for are NaN.

        Parameters
        ----------
        phase : int
            Number of the phase.
        time, below : int
            Numbers of the grid points, of time and of `MARGINS`, at which the cell asked for begins.

        Returns
        -------
        array (times, pressures, margins, fields)
            Fields of `PlumbingState`.
        """
        near = below < len(MARGINS) - FAR
        known = self._near if near else self._far
        if (phase, time) not in known or (phase, time + 1) not in known:
            ahead = [at for at in self._ahead(phase, time) if at not in known]
            if near:
                self._add([at for at in ahead if at not in self._far], slice(0, len(MARGINS)))
                self._add([at for at in ahead if at not in self._near], slice(0, len(MARGINS) - FAR))
            else:
                self._add(ahead, slice(len(MARGINS) - FAR, len(MARGINS)))
        return self._states[phase]

    def _ahead(self, phase: int, time: int) -> list[tuple[int, int]]:
        """Return the next times of the grid, each with its phase."""
        times = [(number, at) for number, grid in self.grids.items() for at in range(len(grid.times))]
        return [at for at in times if at >= (phase, time)][:AHEAD]

    def _add(self, wanted: list[tuple[int, int]], part: slice) -> None:
        """Solve the networks of a part of `MARGINS` at some times, each with its phase."""
        if not wanted:
            return
        margins = MARGINS[part]
        driving = DrivingState.joined([self.grids[phase].driving.take(np.array([time])) for phase, time in wanted])
        gauges = np.array(self.pressures)
        absolute = driving.atmospheric_pressure[:, None] + gauges
        boiling = self.plumbing.fuel.boiling_temperatures(absolute, WEATHERED[self.stage])
        tank = np.clip(boiling[..., None] - margins, LEAST_TEMPERATURE, MOST_TEMPERATURE)
        each = np.repeat(np.arange(len(wanted)), gauges.size * margins.size)
        pressure = np.broadcast_to(gauges[:, None], tank.shape).ravel()
        run = self.plumbing.stage(self.stage).solve(driving.take(each).conditions(tank.ravel(), pressure))
        found = _plumbing_states(run).reshape(*tank.shape, -1)
        for (phase, time), values in zip(wanted, found, strict=True):
            if phase not in self._states:
                shape = (len(self.grids[phase].times), gauges.size, len(MARGINS), values.shape[-1])
                self._states[phase] = np.full(shape, np.nan)
            row = self._states[phase][time]
            row[:, part] = values
            row[:, part.start :] = _without_gaps(row[None, :, part.start :])[0]
        if part.start == 0:
            self._near.update(wanted)
        if part.stop == len(MARGINS):
            self._far.update(wanted)


@dataclass(frozen=True, eq=False)
class PlumbingTable:
    """States of the plumbing within one phase.

    Attributes
    ----------
    phase : int
        Number of the phase.
    times : list of float
        Times of the grid since the phase began, s.
    atmosphere : list of float
        Pressure of the atmosphere at those times, Pa absolute.
    pressures : list of float
        Pressures of the grid in the tank above the atmosphere, Pa.
    fuel : TankFuel
        The fuel as the tank sees it.
    stages : list of _StageStates
        States at each stage of evaporation.
    """

    phase: int
    times: list[float]
    atmosphere: list[float]
    pressures: list[float]
    fuel: TankFuel
    stages: list[_StageStates]

    def at(self, time: float, temperature: float, pressure: float, evaporated: float) -> PlumbingState[float]:
        """Return the state at one moment, by linear interpolation along every axis.

        Parameters
        ----------
        time : float
            Time since the phase began, s.
        temperature : float
            Temperature of the supply, K.
        pressure : float
            Pressure in the tank above the atmosphere, Pa.
        evaporated : float
            Mass fraction evaporated.
        """
        i, by_time = cell_of(self.times, time)
        k, by_pressure = cell_of(self.pressures, pressure)
        # The state of a corner is taken at an equal distance to boiling, not at an equal temperature.
        # On a climb the logarithm of the pressure falls evenly.
        outside = self.atmosphere[i] * (self.atmosphere[i + 1] / self.atmosphere[i]) ** by_time
        boils = self.fuel.boiling_temperature(outside + pressure, evaporated)
        below, position = cell_of(MARGIN_LIST, boils - temperature)
        total: FloatArray | float = 0.0
        for number, weight in stage_weights(evaporated):
            values = self.stages[number].states(self.phase, i, below)[i : i + 2, k : k + 2, below : below + 2]
            values = values[0] + by_time * (values[1] - values[0])
            values = values[0] + by_pressure * (values[1] - values[0])
            total = total + weight * (values[0] + position * (values[1] - values[0]))
        return PlumbingState(*np.asarray(total).tolist())


def tabulate_plumbing(plumbing: WeatheringPlumbing, world: World, pressures: list[float]) -> list[PlumbingTable | None]:
    """Return the plumbing of every phase, solved when first asked for.

    Parameters
    ----------
    plumbing : WeatheringPlumbing
        The plumbing, with what its fuel becomes.
    world : World
        Schedule and surroundings.
    pressures : list of float
        Pressures in the tank above the atmosphere, Pa.

    Returns
    -------
    list of PlumbingTable or None
        One per phase; None where the engine is stopped.
    """
    phases = world.schedule.phases
    grids = {}
    for index, (phase, climb) in enumerate(zip(phases, world.climbs(), strict=True)):
        if phase.engine == "running":
            times = times_within(phase.duration, climbs=climb.start != climb.end)
            grids[index] = _PhaseGrid(times, world.at(index, times))
    stages = [_StageStates(plumbing, stage, list(pressures), grids) for stage in range(len(WEATHERED))]
    return [
        PlumbingTable(
            index,
            grids[index].times.tolist(),
            grids[index].driving.atmospheric_pressure.tolist(),
            list(pressures),
            plumbing.fuel,
            stages,
        )
        if index in grids
        else None
        for index in range(len(phases))
    ]


def _without_gaps(states: FloatArray) -> FloatArray:
    """Give points where no engine runs the state of the nearest cooler one where it does, marked as at the limit.

    States are (times, pressures, margins, fields).
    """
    gaps = ~np.all(np.isfinite(states), axis=-1)
    for index in range(states.shape[2] - 2, -1, -1):
        states[:, :, index] = np.where(gaps[:, :, index, None], states[:, :, index + 1], states[:, :, index])
    states = np.nan_to_num(states)
    states[gaps, PlumbingState._fields.index("near_limit")] = 1.0
    return states
