"""Steady states of the plumbing, tabulated over the states that the tank can take while the engine runs.

Many networks are solved in one batch and interpolated while time runs. The table's axes are time within a phase, the
share of the fuel that has evaporated, the pressure in the tank, and the kelvins by which the supply is below the
boiling point of the tank: along that last one the plumbing's behaviour bends.

A table holds states of a running engine alone. Between those and a stopped engine's there is nothing to interpolate:
a grid point whose engine stops has the state of the nearest cooler one that runs, and whether the engine runs at a
moment is asked of the network solved there (`fuelsim.transients.along`).
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
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

__all__ = ["PlumbingState", "PlumbingTable", "join_stages", "near_limit", "not_running", "tabulate_plumbing"]

_NEAR = np.concatenate([np.arange(-0.3, 1.5, 0.1), np.arange(1.5, 3.0, 0.25), np.arange(3.0, 6.0, 0.5)])
_FAR = np.concatenate([np.arange(6.0, 10.0, 1.0), np.arange(10.0, 30.0, 4.0), [30.0, 45.0, 70.0]])
MARGINS = np.concatenate([_NEAR, _FAR])
"""Temperatures of the supply below the boiling point of the tank at which the networks are solved, K."""
_MARGIN_LIST: list[float] = MARGINS.tolist()
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


@dataclass(frozen=True, eq=False)
class PlumbingTable:
    """States of the plumbing within one phase.

    Attributes
    ----------
    times : list of float
        Times of the grid since the phase began, s.
    evaporated : list of float
        Mass fractions evaporated of the grid.
    pressures : list of float
        Pressures of the grid in the tank above the atmosphere, Pa.
    boiling : array (times, evaporated, pressures)
        Boiling temperature of the tank, K.
    states : array (times, evaporated, pressures, margins, fields)
        Fields of `PlumbingState`.
    """

    times: list[float]
    evaporated: list[float]
    pressures: list[float]
    boiling: FloatArray
    states: FloatArray

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
        corners = [
            (i, j, k, weight_t * weight_w * weight_p)
            for i, weight_t in _neighbours(self.times, time)
            for j, weight_w in _neighbours(self.evaporated, evaporated)
            for k, weight_p in _neighbours(self.pressures, pressure)
        ]
        # The state of a corner is taken at an equal distance to boiling, not at an equal temperature.
        margin = sum(weight * float(self.boiling[i, j, k]) for i, j, k, weight in corners) - temperature
        below = min(max(bisect_right(_MARGIN_LIST, margin) - 1, 0), len(_MARGIN_LIST) - 2)
        low, high = _MARGIN_LIST[below], _MARGIN_LIST[below + 1]
        position = min(max((margin - low) / (high - low), 0.0), 1.0)
        total = np.zeros(len(PlumbingState._fields))
        for i, j, k, weight in corners:
            states = self.states[i, j, k]
            total = total + weight * (states[below] + position * (states[below + 1] - states[below]))
        return PlumbingState(*total.tolist())


def _neighbours(grid: list[float], value: float) -> list[tuple[int, float]]:
    """Return the two grid points around a value with their weights; the nearest end beyond the grid."""
    if len(grid) == 1 or value <= grid[0]:
        return [(0, 1.0)]
    if value >= grid[-1]:
        return [(len(grid) - 1, 1.0)]
    below = bisect_right(grid, value) - 1
    position = (value - grid[below]) / (grid[below + 1] - grid[below])
    return [(below, 1.0 - position), (below + 1, position)]


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
    """Grid of one phase: times, boiling temperature (times, pressures), and the batch to solve, flat."""

    times: FloatArray
    boiling: FloatArray
    driving: DrivingState
    tank_temperature: FloatArray
    gauge_pressure: FloatArray


def _phase_grid(index: int, evaporated: float, fuel: TankFuel, world: World, pressures: list[float]) -> _PhaseGrid:
    times, gauge = times_within(world.schedule.phases[index].duration), np.array(pressures)
    driving = world.at(index, times)
    boiling = fuel.boiling_temperatures(driving.atmospheric_pressure[:, None] + gauge, evaporated)
    temperature = np.clip(boiling[:, :, None] - MARGINS, LEAST_TEMPERATURE, MOST_TEMPERATURE)
    shape = temperature.shape
    return _PhaseGrid(
        times,
        boiling,
        driving.mapped(lambda values: np.broadcast_to(values[:, None, None], shape).ravel()),
        temperature.ravel(),
        np.broadcast_to(gauge[None, :, None], shape).ravel(),
    )


def tabulate_plumbing(
    system: System, evaporated: float, fuel: TankFuel, world: World, pressures: list[float]
) -> list[PlumbingTable | None]:
    """Solve the networks of every phase in one batch, for the fuel at one stage of evaporation.

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
    tables: list[PlumbingTable | None] = [None] * len(phases)
    running = [index for index, phase in enumerate(phases) if phase.engine == "running"]
    if not running:
        return tables
    grids = [_phase_grid(index, evaporated, fuel, world, pressures) for index in running]
    run = system.solve(
        DrivingState.joined([grid.driving for grid in grids]).conditions(
            np.concatenate([grid.tank_temperature for grid in grids]),
            np.concatenate([grid.gauge_pressure for grid in grids]),
        )
    )
    ends = np.cumsum([grid.tank_temperature.size for grid in grids])[:-1]
    for index, grid, flat in zip(running, grids, np.split(_plumbing_states(run), ends), strict=True):
        states = _without_gaps(flat.reshape(len(grid.times), len(pressures), len(MARGINS), -1))
        tables[index] = PlumbingTable(
            grid.times.tolist(), [evaporated], list(pressures), grid.boiling[:, None], states[:, None]
        )
    return tables


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
            a.times,
            a.evaporated + b.evaporated,
            a.pressures,
            np.concatenate([a.boiling, b.boiling], axis=1),
            np.concatenate([a.states, b.states], axis=1),
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
