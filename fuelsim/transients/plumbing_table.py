"""Steady states of the plumbing, tabulated over the states that the tank can take while the engine runs.

Many networks are solved in one batch and interpolated while time runs. The table's axes are time within a phase, the
share of the fuel that has evaporated, the pressure in the tank, and the kelvins by which the supply is below the
boiling point of the tank: along that last one the plumbing's behaviour bends.

A table holds states of a running engine alone. Between those and a stopped engine's there is nothing to interpolate:
a grid point whose engine stops has the state of the nearest cooler one that runs, and whether the engine runs at a
moment is asked of the network solved there (`fuelsim.transients.along`).

Most of the grid is close to boiling, where networks take longest and many a drive never comes: that part is solved when
it is first asked for.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Generic, NamedTuple

import numpy as np

from fuelsim.numerics.pointwise import least_at_each_point
from fuelsim.system.controller import EngineState
from fuelsim.transients.heat_sources import heat_sources
from fuelsim.transients.world import DrivingState
from fuelsim.typing import BoolArray, FloatArray, PointArray, Values

if TYPE_CHECKING:
    from fuelsim.system.run import Run, System
    from fuelsim.transients.tank_fuel import TankFuel
    from fuelsim.transients.world import World

__all__ = [
    "MARGINS",
    "MARGIN_LIST",
    "PlumbingState",
    "PlumbingTable",
    "cell_of",
    "join_stages",
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
    return np.where(not_running(run)[:, None], np.nan, np.stack(states, axis=-1))


class Cell(NamedTuple):
    """Lower grid point of the cell around a value, and the value's position in the cell, 0 to 1."""

    low: int
    position: float


def cell_of(grid: list[float], value: float) -> Cell:
    """Return the cell of a grid around a value; the nearest end beyond the grid.

    Parameters
    ----------
    grid : list of float
        At least two, ascending.
    value : float
        The value.
    """
    below = min(max(bisect_right(grid, value) - 1, 0), len(grid) - 2)
    position = (value - grid[below]) / (grid[below + 1] - grid[below])
    return Cell(below, min(max(position, 0.0), 1.0))


def times_within(duration: float) -> FloatArray:
    """Return the grid of times for a phase of some duration, s.

    Parameters
    ----------
    duration : float
        Duration of the phase, s.
    """
    first = [time for time in SETTLING_TIMES if time < 0.9 * duration]
    count = int(np.ceil(max(duration - first[-1], 1.0) / STEP))
    return np.unique(np.concatenate([first, np.linspace(first[-1], duration, count + 1)]))


@dataclass(frozen=True)
class _PhaseGrid:
    """Grid of one phase: times, the world then, and boiling temperature of the tank (times, pressures), K."""

    times: FloatArray
    driving: DrivingState
    boiling: FloatArray


@dataclass(frozen=True, eq=False)
class _StageStates:
    """States of the plumbing in every phase, for the fuel at one stage of evaporation.

    Attributes
    ----------
    system : System
        The plumbing with the fuel as it is at that stage.
    pressures : list of float
        Pressures of the grid in the tank above the atmosphere, Pa.
    grids : dict of int to _PhaseGrid
        Grid of each phase with a running engine, by its number.
    """

    system: System
    pressures: list[float]
    grids: dict[int, _PhaseGrid]
    _states: dict[int, FloatArray] = field(default_factory=dict, init=False, repr=False)
    _near: dict[int, int] = field(default_factory=dict, init=False, repr=False)

    def states(self, phase: int, time: int, below: int) -> FloatArray:
        """Return the states of a phase; those that have not been asked for are NaN.

        Parameters
        ----------
        phase : int
            Number of the phase.
        time, below : int
            Numbers of the grid points of time and of `MARGINS` from which on states are asked for.

        Returns
        -------
        array (times, pressures, margins, fields)
            Fields of `PlumbingState`.
        """
        if not self._states:
            for number, values in self._solve(dict.fromkeys(self.grids, slice(None)), MARGINS[-FAR:]).items():
                whole = np.full((*values.shape[:2], len(MARGINS), values.shape[3]), np.nan)
                whole[:, :, -FAR:] = _without_gaps(values)
                self._states[number], self._near[number] = whole, len(values)
        if below < len(MARGINS) - FAR and time < self._near[phase]:
            # A tank that is near boiling stays there for what follows.
            wanted = {phase: slice(time, self._near[phase])}
            wanted |= {number: slice(0, self._near[number]) for number in self.grids if number > phase}
            wanted = {number: rows for number, rows in wanted.items() if rows.start < rows.stop}
            for number, values in self._solve(wanted, MARGINS[:-FAR]).items():
                whole, rows = self._states[number], wanted[number]
                whole[rows] = _without_gaps(np.concatenate([values, whole[rows, :, -FAR:]], axis=2))
                self._near[number] = rows.start
        return self._states[phase]

    def _solve(self, wanted: dict[int, slice], margins: FloatArray) -> dict[int, FloatArray]:
        """Solve the networks of some times of some phases in one batch; NaN where no engine runs."""
        pressures = np.array(self.pressures)[None, :, None]
        temperatures, gauges, driving = [], [], []
        for phase, rows in wanted.items():
            grid = self.grids[phase]
            temperature = np.clip(grid.boiling[rows, :, None] - margins, LEAST_TEMPERATURE, MOST_TEMPERATURE)
            temperatures.append(temperature)
            gauges.append(np.broadcast_to(pressures, temperature.shape).ravel())
            times = np.arange(len(grid.times))[rows, None, None]
            driving.append(grid.driving.take(np.broadcast_to(times, temperature.shape).ravel()))
        tank = np.concatenate([temperature.ravel() for temperature in temperatures])
        run = self.system.solve(DrivingState.joined(driving).conditions(tank, np.concatenate(gauges)))
        ends = np.cumsum([temperature.size for temperature in temperatures])[:-1]
        each = zip(wanted, temperatures, np.split(_plumbing_states(run), ends), strict=True)
        return {phase: flat.reshape(*temperature.shape, -1) for phase, temperature, flat in each}


@dataclass(frozen=True, eq=False)
class PlumbingTable:
    """States of the plumbing within one phase.

    Attributes
    ----------
    phase : int
        Number of the phase.
    times : list of float
        Times of the grid since the phase began, s.
    evaporated : list of float
        Mass fractions evaporated of the grid.
    pressures : list of float
        Pressures of the grid in the tank above the atmosphere, Pa.
    boiling : list of array (times, pressures)
        Boiling temperature of the tank at each stage of evaporation, K.
    stages : list of _StageStates
        States at each stage of evaporation.
    """

    phase: int
    times: list[float]
    evaporated: list[float]
    pressures: list[float]
    boiling: list[FloatArray]
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
        weights = [(0, 1.0)]
        if len(self.stages) > 1:
            low, by_stage = cell_of(self.evaporated, evaporated)
            weights = [(n, w) for n, w in ((low, 1.0 - by_stage), (low + 1, by_stage)) if w > 0.0]
        # The state of a corner is taken at an equal distance to boiling, not at an equal temperature.
        boils = 0.0
        for number, weight in weights:
            corner = self.boiling[number][i : i + 2, k : k + 2]
            along = corner[0] + by_time * (corner[1] - corner[0])
            boils += weight * float(along[0] + by_pressure * (along[1] - along[0]))
        below, position = cell_of(MARGIN_LIST, boils - temperature)
        total: FloatArray | float = 0.0
        for number, weight in weights:
            values = self.stages[number].states(self.phase, i, below)[i : i + 2, k : k + 2, below : below + 2]
            values = values[0] + by_time * (values[1] - values[0])
            values = values[0] + by_pressure * (values[1] - values[0])
            total = total + weight * (values[0] + position * (values[1] - values[0]))
        return PlumbingState(*np.asarray(total).tolist())


def tabulate_plumbing(
    system: System, evaporated: float, fuel: TankFuel, world: World, pressures: list[float]
) -> list[PlumbingTable | None]:
    """Return the plumbing of every phase for the fuel at one stage of evaporation; solved when first asked for.

    Parameters
    ----------
    system : System
        The plumbing with the fuel as it is at that stage.
    evaporated : float
        Mass fraction evaporated.
    fuel : TankFuel
        The fuel as the tank sees it.
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
    for index, phase in enumerate(phases):
        if phase.engine == "running":
            times = times_within(phase.duration)
            driving = world.at(index, times)
            absolute = driving.atmospheric_pressure[:, None] + np.array(pressures)
            grids[index] = _PhaseGrid(times, driving, fuel.boiling_temperatures(absolute, evaporated))
    stage = _StageStates(system, list(pressures), grids)
    return [
        PlumbingTable(
            index, grids[index].times.tolist(), [evaporated], list(pressures), [grids[index].boiling], [stage]
        )
        if index in grids
        else None
        for index in range(len(phases))
    ]


def join_stages(first: list[PlumbingTable | None], second: list[PlumbingTable | None]) -> list[PlumbingTable | None]:
    """Return the tables of two stages of evaporation, the first less evaporated, as one per phase.

    Parameters
    ----------
    first, second : list of PlumbingTable or None
        One per phase.
    """
    return [
        None
        if a is None or b is None
        else PlumbingTable(
            a.phase, a.times, a.evaporated + b.evaporated, a.pressures, a.boiling + b.boiling, a.stages + b.stages
        )
        for a, b in zip(first, second, strict=True)
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
