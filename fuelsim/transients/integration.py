"""The integration of a drive, phase by phase: tank, pots, what stops the engine, and what starts it again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.errors import SolveError
from fuelsim.interruption import Interruption
from fuelsim.transients.along import Along, Judged, Table
from fuelsim.transients.plumbing_table import PlumbingTable
from fuelsim.transients.pot_equations import vessel_rates
from fuelsim.transients.pot_table import PotTable
from fuelsim.transients.tank_equations import (
    ABSOLUTE_TOLERANCE,
    LEAST_FUEL,
    POT_TOLERANCE,
    PotVector,
    Stop,
    TankEquations,
    TankVector,
    Trajectory,
)
from fuelsim.transients.weathering_plumbing import WeatheringPlumbing
from fuelsim.typing import FloatArray, PointArray

if TYPE_CHECKING:
    from scipy.optimize import OptimizeResult

__all__ = ["EMPTY_LEVEL", "forward_jacobian", "integrate"]

EMPTY_LEVEL = 1e-3
"""Level at which a pot is empty, as a share of its volume (numerical)."""
RELATIVE_TOLERANCE = 1e-5
FINER = 32
"""Parts of an output step within which an engine's stop is bracketed."""
FIRST_REACH = 30
"""Output steps, beside the next, integrated at once after a stop or a restart; doubled while nothing happens."""
RELATIVE_DIFFERENCE = 1e-9
"""Step of forward differences over the value of the state: below 1 mPa in the tank (numerical)."""
LONGEST_STEP = 300.0
"""Longest step of the integration, s: no phase is stepped over."""
_TANK = len(TankVector._fields)


class _EventTimes(NamedTuple):
    """When the events of an integration happened, or the states there: the end of the fuel, an empty pot, Ctrl-C."""

    fuel_left: FloatArray
    pot_left: FloatArray
    interruption: FloatArray


@dataclass(frozen=True)
class _Stretch:
    """Part of a phase: times within the phase, states there (states, times), and why no engine runs, if so."""

    times: FloatArray
    values: FloatArray
    out_of_fuel: bool
    stopped: bool

    def until(self, time: float, state: FloatArray) -> _Stretch:
        """Return the stretch up to a time, with the state at that time as its last."""
        kept = self.times < time
        times, values = np.append(self.times[kept], time), np.column_stack([self.values[:, kept], state])
        return replace(self, times=times, values=values)


def integrate(
    equations: TankEquations,
    start: TankVector[float],
    tables: Sequence[Table | None],
    output_step: float,
    plumbing: WeatheringPlumbing,
    interruption: Interruption,
    *,
    judged: bool = True,
) -> Trajectory:
    """Integrate phase by phase, until the schedule or the fuel is at its end, or until Ctrl-C.

    Where a pot runs empty the engine stands until the phase is over; the next one starts it again. Where the engine
    stops of itself it stands until the plumbing would feed it again from where it is.

    Parameters
    ----------
    equations : TankEquations
        The car in its world.
    start : TankVector
        The first state.
    tables : sequence of PlumbingTable, PotTable or None
        Plumbing of each phase.
    output_step : float
        Time between the states kept, s.
    plumbing : WeatheringPlumbing
        The plumbing with the fuel of each moment, to judge the engine by.
    interruption : Interruption
        Whether Ctrl-C came; what is integrated by then is returned.
    judged : bool, optional
        Whether the engine may stop of itself; an engine that never does has the same trajectory without.

    Raises
    ------
    SolveError
        If the integration fails.
    """
    parts: list[tuple[int, _Stretch]] = []
    stops: list[Stop] = []
    y = np.concatenate([start, np.ravel(equations.pots_at_start(start.temperature))])
    starts = equations.world.schedule.starts
    for index, table in enumerate(tables):
        stretches, ended = _Phase(equations, index, output_step, plumbing, stops, interruption, judged).integrate(
            table, y
        )
        parts += [(index, stretch) for stretch in stretches]
        y = stretches[-1].values[:, -1]
        if ended or interruption.came:
            break
    return _trajectory(parts, starts, tuple(stops))


def _trajectory(parts: list[tuple[int, _Stretch]], starts: PointArray, stops: tuple[Stop, ...]) -> Trajectory:
    """Return stretches, each with the number of its phase, as one trajectory."""
    states = np.concatenate([stretch.values for _, stretch in parts], axis=1)
    each = [(index, stretch, np.ones(stretch.times.shape)) for index, stretch in parts]
    return Trajectory(
        np.concatenate([starts[index] + stretch.times for index, stretch, _ in each]),
        np.concatenate([np.full(ones.shape, index) for index, _, ones in each]),
        np.concatenate([stretch.times for _, stretch, _ in each]),
        TankVector(*states[:_TANK]),
        tuple(PotVector(*states[row : row + 2]) for row in range(_TANK, len(states), 2)),
        np.concatenate([ones * stretch.out_of_fuel > 0.0 for _, stretch, ones in each]),
        np.concatenate([ones * stretch.stopped > 0.0 for _, stretch, ones in each]),
        stops,
    )


@dataclass(frozen=True)
class _Phase:
    """One phase of a drive to be integrated; `stops` holds those of the phases before, and takes up its own."""

    equations: TankEquations
    index: int
    output_step: float
    plumbing: WeatheringPlumbing
    stops: list[Stop]
    interruption: Interruption
    judged: bool

    @property
    def stopped(self) -> bool:
        """Whether the engine has stopped of itself and has not been restarted."""
        return bool(self.stops) and np.isinf(self.stops[-1].restart)

    def integrate(self, table: Table | None, start: FloatArray) -> tuple[list[_Stretch], bool]:
        """Return the stretches of the phase, and whether the end of the fuel in the tank, or Ctrl-C, cut it short."""
        duration = self.equations.world.schedule.phases[self.index].duration
        grid = np.linspace(0.0, duration, max(int(np.ceil(duration / self.output_step)), 1) + 1)
        stretches: list[_Stretch] = []
        begin, y, out_of_fuel, reach = 0.0, start, False, len(grid)
        if table is not None and self.equations.pots and self._empties_at_once(table, start):
            table, out_of_fuel = None, True
        if table is not None and self.judged:
            self._judge_start(table, start)
        while True:
            end = grid[min(int(np.searchsorted(grid, begin, side="right")) + reach, len(grid) - 1)]
            runs_on = None if self.stopped else table
            answer = self._solved(runs_on, begin, float(end), y, grid)
            stretch = _Stretch(answer.t, answer.y, out_of_fuel, self.stopped)
            at = _EventTimes(*answer.t_events)
            ran_empty = answer.status == 1 and len(at.pot_left) > 0
            ended = answer.status == 1 and not ran_empty
            for times, states in zip(at[:2], answer.y_events[:2], strict=True):
                if len(times):
                    stretch = stretch.until(float(times[0]), states[0])
            changed = None if table is None or not self.judged else self._change(table, stretch, answer.sol)
            if changed is not None:
                stretch, ran_empty, ended, reach = changed, False, False, FIRST_REACH
            elif ran_empty:
                table, out_of_fuel = None, True
            else:
                reach *= 2
            begin, y = float(stretch.times[-1]), stretch.values[:, -1]
            if ended or begin >= duration:
                return [*stretches, stretch], ended
            if changed is None and not ran_empty:
                # The next stretch begins with what this one ends with.
                stretch = replace(stretch, times=stretch.times[:-1], values=stretch.values[:, :-1])
            stretches.append(stretch)

    def _solved(self, table: Table | None, begin: float, end: float, y: FloatArray, grid: FloatArray) -> OptimizeResult:
        """Return the integration from one time of the phase to another."""
        from scipy.integrate import solve_ivp

        pot_left = self._pot_left() if table is not None and self.equations.pots else _never
        events = (_fuel_left(), pot_left, self.interruption.event())
        pots = len(self.equations.pots)
        tolerance = np.array([*ABSOLUTE_TOLERANCE, *POT_TOLERANCE * pots])
        columns = [*self.equations.driving_states, *range(_TANK, _TANK + len(POT_TOLERANCE) * pots)]
        answer = solve_ivp(
            derivative := self._derivative(table),
            (begin, end),
            y,
            method="LSODA",
            jac=forward_jacobian(derivative, columns, tolerance),
            t_eval=np.concatenate([[begin], grid[(grid > begin) & (grid <= end)]]),
            rtol=RELATIVE_TOLERANCE,
            atol=tolerance,
            events=events,
            max_step=LONGEST_STEP,
            dense_output=True,
        )
        if answer.status < 0:
            phase = self.equations.world.schedule.phases[self.index]
            raise SolveError(f"the drive could not be integrated in phase '{phase.name}': {answer.message}")
        return answer

    def _along(self, times: FloatArray, values: FloatArray) -> Along:
        """Return what the plumbing finds at some times of this phase."""
        part = _Stretch(times, values, False, False)
        return Along(
            self.equations, self.plumbing, _trajectory([(self.index, part)], self.equations.world.schedule.starts, ())
        )

    def _judge_start(self, table: Table, y: FloatArray) -> None:
        """Note whether the engine stops, or is restarted, as the phase begins."""
        along, first = self._along(np.zeros(1), y[:, None]), np.zeros(1, dtype=int)
        if self.stopped and along.judge(first, from_locked=True).fed[0]:
            self._restart(0.0)
        if not self.stopped and along.near_limit(table, first).size:
            judged = along.judge(first)
            if judged.stopped[0]:
                self._note_stop(0.0, judged, 0)

    def _change(self, table: Table, stretch: _Stretch, state: Callable[[FloatArray], FloatArray]) -> _Stretch | None:
        """Return a stretch up to where the engine stops in it, or is restarted; None if neither happens."""
        if len(stretch.times) < 2:
            return None
        later = np.arange(1, len(stretch.times))
        along = self._along(stretch.times, stretch.values)
        if self.stopped:
            fed = later[along.judge(later, from_locked=True).fed]
            if not fed.size:
                return None
            self._restart(float(stretch.times[fed[0]]))
            return stretch.until(float(stretch.times[fed[0]]), stretch.values[:, fed[0]])
        # Where every grid point around runs within its limits the engine does.
        asked = along.near_limit(table, later)
        stops = asked[along.judge(asked).stopped] if asked.size else asked
        if not stops.size:
            return None
        first = int(stops[0])
        times = np.linspace(stretch.times[first - 1], stretch.times[first], FINER + 1)
        values = state(times)
        values[:, -1] = stretch.values[:, first]
        judged = self._along(times, values).judge(np.arange(1, FINER + 1))
        # The end of the step stops, whatever a later digit of the solution makes of it.
        before = int(np.argmax(np.append(judged.stopped[:-1], True)))
        self._note_stop(float(times[before]), judged, before)
        # The last time at which the engine runs.
        return stretch.until(float(times[before]), values[:, before])

    def _note_stop(self, time: float, judged: Judged, point: int) -> None:
        """Put down a stop and its reason, as it is at one of the points judged."""
        starts = self.equations.world.schedule.starts
        self.stops.append(
            Stop(float(starts[self.index]) + time, bool(judged.by_vapour[point]), str(judged.reason[point]))
        )

    def _restart(self, time: float) -> None:
        starts = self.equations.world.schedule.starts
        self.stops[-1] = self.stops[-1]._replace(restart=float(starts[self.index]) + time)

    def _derivative(self, table: Table | None) -> Callable[[float, FloatArray], Sequence[float]]:
        equations, index, outside = self.equations, self.index, self.equations.outside(self.index)
        if equations.pots:
            of_pots = table if isinstance(table, PotTable) else None

            def with_pots(time: float, y: FloatArray) -> Sequence[float]:
                tank, pots = _states(y)
                rates = vessel_rates(equations, index, of_pots, time, tank, pots, outside.at(time))
                return [*rates.tank, *(value for pot in rates.pots for value in pot)]

            return with_pots
        plain = table if isinstance(table, PlumbingTable) else None

        def of_tank(time: float, y: FloatArray) -> Sequence[float]:
            return equations.rates(index, plain, time, TankVector(*y.tolist()), outside.at(time))

        return of_tank

    def _empties_at_once(self, table: Table, y: FloatArray) -> bool:
        """Return whether a pot that is empty at the start of the phase gains nothing."""
        _, pots = _states(y)
        gains = _states(np.array(self._derivative(table)(0.0, y)))[1]
        levels = [self.equations.level(*pair) for pair in zip(self.equations.pots, pots, strict=True)]
        return any(level - EMPTY_LEVEL <= 1e-9 and gain.mass <= 0.0 for level, gain in zip(levels, gains, strict=True))

    def _pot_left(self) -> Callable[[float, FloatArray], float]:
        """Return the event that a pot runs empty: the least level less `EMPTY_LEVEL` falls to zero."""
        equations = self.equations

        def pot_left(time: float, y: FloatArray) -> float:
            _, pots = _states(y)
            levels = [equations.level(*pair) for pair in zip(equations.pots, pots, strict=True)]
            return min(levels) - EMPTY_LEVEL

        pot_left.terminal = True  # type: ignore[attr-defined]
        pot_left.direction = -1.0  # type: ignore[attr-defined]
        return pot_left


def forward_jacobian(
    derivative: Callable[[float, FloatArray], Sequence[float]], columns: Sequence[int], tolerance: FloatArray
) -> Callable[[float, FloatArray], FloatArray]:
    """Return the Jacobian matrix of a derivative by forward differences.

    Most states of a drive are sums over time on which no rate depends: of 22 columns 5 are not zero, and 2 of each pot.
    The step is small, because a tank breathes in or out at hundredths of a pascal, and the two differ in slope.

    Parameters
    ----------
    derivative : callable
        From time and states to their rates.
    columns : sequence of int
        States on which rates depend; the columns of all others are zero.
    tolerance : array (states,)
        Absolute tolerance of each state: the step is at least a share of it.

    Returns
    -------
    callable
        From time and states to the matrix.
    """

    def jacobian(time: float, y: FloatArray) -> FloatArray:
        matrix, start = np.zeros((len(y), len(y))), np.array(derivative(time, y))
        for column in columns:
            step = RELATIVE_DIFFERENCE * max(abs(float(y[column])), float(tolerance[column]))
            moved = y.copy()
            moved[column] += step
            matrix[:, column] = (np.array(derivative(time, moved)) - start) / step
        return matrix

    return jacobian


def _states(y: FloatArray) -> tuple[TankVector[float], list[PotVector[float]]]:
    """Return the states of tank and pots from those that are integrated."""
    values = y.tolist()
    pots = [PotVector[float](*values[row : row + 2]) for row in range(_TANK, len(values), 2)]
    return TankVector[float](*values[:_TANK]), pots


def _never(_time: float, _y: FloatArray) -> float:
    """Return the event that does not happen."""
    return np.inf


def _fuel_left() -> Callable[[float, FloatArray], float]:
    """Return the event that ends a drive: the fuel above what the pick-up cannot reach, kg, falls to zero."""

    def fuel_left(time: float, y: FloatArray) -> float:
        return TankVector[float](*y[:_TANK].tolist()).liquid - LEAST_FUEL

    fuel_left.terminal = True  # type: ignore[attr-defined]
    return fuel_left
