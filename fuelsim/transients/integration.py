"""The integration of a drive, phase by phase: tank, pots, and what ends a phase early."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from fuelsim.errors import SolveError
from fuelsim.transients.plumbing_table import PlumbingTable
from fuelsim.transients.pot_equations import vessel_rates
from fuelsim.transients.pot_table import PotTable
from fuelsim.transients.tank_equations import (
    ABSOLUTE_TOLERANCE,
    POT_TOLERANCE,
    PotVector,
    TankEquations,
    TankVector,
    Trajectory,
)
from fuelsim.typing import FloatArray

__all__ = ["EMPTY_LEVEL", "integrate"]

LEAST_FUEL = 0.3
"""Mass of fuel at which the pick-up is bare and the drive ends, kg."""
EMPTY_LEVEL = 1e-3
"""Level at which a pot is empty, as a share of its volume."""
RELATIVE_TOLERANCE = 1e-5
LONGEST_STEP = 300.0
"""Longest step of the integration, s: no phase is stepped over."""
_TANK = len(TankVector._fields)

Table = PlumbingTable | PotTable


@dataclass(frozen=True)
class _Stretch:
    """Part of a phase: times within the phase, states there (states, times), and whether a pot has run empty."""

    times: FloatArray
    values: FloatArray
    out_of_fuel: bool


def integrate(
    equations: TankEquations, start: TankVector[float], tables: Sequence[Table | None], output_step: float
) -> Trajectory:
    """Integrate phase by phase, until the schedule or the fuel is at its end.

    Where a pot runs empty the engine stands until the phase is over; the next one starts it again.

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

    Raises
    ------
    SolveError
        If the integration fails.
    """
    times, phases, within, values, empty = [], [], [], [], []
    y = np.concatenate([start, np.ravel(equations.pots_at_start(start.temperature))])
    starts = equations.world.schedule.starts
    for index, table in enumerate(tables):
        stretches, ended = _Phase(equations, index, output_step).integrate(table, y)
        for stretch in stretches:
            times.append(starts[index] + stretch.times)
            phases.append(np.full(stretch.times.shape, index))
            within.append(stretch.times)
            values.append(stretch.values)
            empty.append(np.full(stretch.times.shape, stretch.out_of_fuel))
        y = values[-1][:, -1]
        if ended:
            break
    states = np.concatenate(values, axis=-1)
    return Trajectory(
        np.concatenate(times),
        np.concatenate(phases),
        np.concatenate(within),
        TankVector(*states[:_TANK]),
        tuple(PotVector(*states[row : row + 2]) for row in range(_TANK, len(states), 2)),
        np.concatenate(empty),
    )


@dataclass(frozen=True)
class _Phase:
    """One phase of a drive to be integrated."""

    equations: TankEquations
    index: int
    output_step: float

    def integrate(self, table: Table | None, start: FloatArray) -> tuple[list[_Stretch], bool]:
        """Return the stretches of the phase, and whether the fuel in the tank came to its end."""
        from scipy.integrate import solve_ivp

        phase = self.equations.world.schedule.phases[self.index]
        grid = np.linspace(0.0, phase.duration, max(int(np.ceil(phase.duration / self.output_step)), 1) + 1)
        stretches: list[_Stretch] = []
        begin, y, out_of_fuel = 0.0, start, False
        if table is not None and self.equations.pots and self._empties_at_once(table, start):
            table, out_of_fuel = None, True
        while True:
            derivative = self._derivative(table)
            events = [_fuel_left()]
            if table is not None and self.equations.pots:
                events.append(self._pot_left())
            answer = solve_ivp(
                derivative,
                (begin, phase.duration),
                y,
                method="LSODA",
                t_eval=np.unique(np.concatenate([[begin], grid[grid > begin]])),
                rtol=RELATIVE_TOLERANCE,
                atol=np.array([*ABSOLUTE_TOLERANCE, *POT_TOLERANCE * len(self.equations.pots)]),
                events=events,
                max_step=LONGEST_STEP,
            )
            if answer.status < 0:
                raise SolveError(f"the drive could not be integrated in phase '{phase.name}': {answer.message}")
            ran_empty = answer.status == 1 and len(events) > 1 and len(answer.t_events[1]) > 0
            if not ran_empty:
                stretches.append(_Stretch(answer.t, answer.y, out_of_fuel))
                return stretches, answer.status == 1
            begin, y = float(answer.t_events[1][0]), answer.y_events[1][0]
            kept = answer.t < begin
            times, values = np.append(answer.t[kept], begin), np.column_stack([answer.y[:, kept], y])
            stretches.append(_Stretch(times, values, out_of_fuel))
            table, out_of_fuel = None, True
            if begin >= phase.duration:
                return stretches, False

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
        return any(
            level <= EMPTY_LEVEL * (1.0 + 1e-6) and gain.mass <= 0.0 for level, gain in zip(levels, gains, strict=True)
        )

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


def _states(y: FloatArray) -> tuple[TankVector[float], list[PotVector[float]]]:
    """Return the states of tank and pots from those that are integrated."""
    values = y.tolist()
    pots = [PotVector[float](*values[row : row + 2]) for row in range(_TANK, len(values), 2)]
    return TankVector[float](*values[:_TANK]), pots


def _fuel_left() -> Callable[[float, FloatArray], float]:
    """Return the event that ends a drive: the fuel above what the pick-up cannot reach, kg, falls to zero."""

    def fuel_left(time: float, y: FloatArray) -> float:
        return TankVector[float](*y[:_TANK].tolist()).liquid - LEAST_FUEL

    fuel_left.terminal = True  # type: ignore[attr-defined]
    return fuel_left
