"""The networks solved exactly at times of a drive, and whether the engine runs there.

A table says how the tank warms; what a drive shows, and whether its engine runs, is asked of the plumbing itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from fuelsim.constants import GAS_CONSTANT
from fuelsim.system.controller import EngineState
from fuelsim.system.run import Run
from fuelsim.transients.plumbing_table import PlumbingTable
from fuelsim.transients.pot_table import PotTable
from fuelsim.transients.tank import vapour_space
from fuelsim.transients.tank_equations import PotVector, TankEquations, Trajectory
from fuelsim.transients.weathering_plumbing import WeatheringPlumbing
from fuelsim.transients.world import DrivingState
from fuelsim.typing import BoolArray, IndexArray, PointArray, TextArray

__all__ = ["Along", "InTable", "Judged", "Table"]

Table = PlumbingTable | PotTable


class Judged(NamedTuple):
    """Whether the engine runs at some times, (points,): words of `EngineState`, stopped by vapour, and why."""

    engine_state: TextArray
    by_vapour: BoolArray
    reason: TextArray

    @property
    def stopped(self) -> BoolArray:
        """Whether the engine is stopped."""
        return np.asarray(self.engine_state == EngineState.STOPPED)

    @property
    def fed(self) -> BoolArray:
        """Whether the engine gets the mixture asked for."""
        return np.asarray(self.engine_state == EngineState.FED)


class InTable(NamedTuple):
    """Least rail pressure above the atmosphere, Pa, and `PlumbingState.near_limit`, as a table has them."""

    rail_gauge_pressure: float
    near_limit: float


@dataclass(frozen=True)
class Along:
    """What the plumbing finds at every time of a trajectory; every array is (times,)."""

    equations: TankEquations
    plumbing: WeatheringPlumbing
    trajectory: Trajectory

    @cached_property
    def world(self) -> DrivingState:
        """The world."""
        trajectory, world = self.trajectory, self.equations.world
        return DrivingState.joined(
            [world.at(int(i), trajectory.within[trajectory.phase == i]) for i in np.unique(trajectory.phase)]
        )

    @cached_property
    def network_temperature(self) -> PointArray:
        """Temperature of the fuel that the plumbing draws from the tank, K."""
        states = self.trajectory.states
        return states.supply_temperature if self.equations.supply_mass else states.temperature

    @cached_property
    def pot_temperatures(self) -> dict[str, PointArray]:
        """Temperature of the fuel in each pot, K."""
        pots = zip(self.equations.pots, self.trajectory.pots, strict=True)
        return {planned.name: pot.temperature for planned, pot in pots}

    @cached_property
    def pot_levels(self) -> dict[str, PointArray]:
        """Fuel in each pot over its volume."""
        return {
            planned.name: np.array(
                [self.equations.level(planned, PotVector(*state)) for state in zip(*pot, strict=True)]
            )
            for planned, pot in zip(self.equations.pots, self.trajectory.pots, strict=True)
        }

    @cached_property
    def tank_pressure(self) -> PointArray:
        """Pressure in the vapour space, Pa absolute."""
        fuel, volume, states = self.equations.fuel, self.equations.car.tank.volume, self.trajectory.states
        points = zip(states.air, states.temperature, states.liquid, states.evaporated, strict=True)
        return np.array(
            [
                air * GAS_CONSTANT * t / vapour_space(fuel, volume, t, liquid) + fuel.bubble_pressure(t, w).pressure
                for air, t, liquid, w in points
            ]
        )

    @property
    def tank_gauge_pressure(self) -> PointArray:
        """Pressure of the vapour space above the atmosphere, Pa."""
        return self.tank_pressure - self.world.atmospheric_pressure

    @cached_property
    def supply_gauge_pressure(self) -> PointArray:
        """Pressure of the vapour space above the atmosphere with the head of the fuel's level, Pa.

        Pots stand at the pressure of the vapour space, so that with pots the head is left out.
        """
        if self.equations.pots:
            return self.tank_gauge_pressure
        states = self.trajectory.states
        points = zip(states.temperature.tolist(), states.liquid.tolist(), strict=True)
        head = np.array([self.equations.head(temperature, liquid) for temperature, liquid in points])
        gauge: PointArray = self.tank_gauge_pressure + head
        return gauge

    def supplies(self, points: IndexArray) -> tuple[PointArray, dict[str, PointArray]]:
        """Return the temperatures of tank and pots, K.

        Parameters
        ----------
        points : int array (points,)
            Which of the times.
        """
        return self.network_temperature[points], {
            name: values[points] for name, values in self.pot_temperatures.items()
        }

    def solve(self, points: IndexArray, *, from_locked: bool = False) -> Run:
        """Return the networks solved at some of the times, each with the fuel that is left by then.

        Parameters
        ----------
        points : int array (points,)
            Which of the times.
        from_locked : bool, optional
            Whether the pumps stand in vapour and are stopped by it, as after a vapour lock.
        """
        system = self.plumbing.at(self.trajectory.states.evaporated[points])
        tank, pots = self.supplies(points)
        conditions = self.world.take(points).conditions(tank, self.supply_gauge_pressure[points])
        return system.solve(conditions, pot_temperatures=pots, from_locked=from_locked)

    def in_table(self, table: Table | None, point: int) -> InTable:
        """Return what a table of the plumbing says at one of the times.

        Parameters
        ----------
        table : PlumbingTable, PotTable or None
            Plumbing of the phase.
        point : int
            Number of the time.
        """
        trajectory = self.trajectory
        time, temperature = float(trajectory.within[point]), float(self.network_temperature[point])
        gauge, evaporated = float(self.supply_gauge_pressure[point]), float(trajectory.states.evaporated[point])
        if isinstance(table, PlumbingTable):
            plain = table.at(time, temperature, gauge, evaporated)
            return InTable(plain.rail_gauge_pressure, plain.near_limit)
        if isinstance(table, PotTable):
            of_pots = [float(values[point]) for values in self.pot_temperatures.values()]
            flows = table.at(time, temperature, of_pots, gauge, evaporated)
            return InTable(flows.rail_gauge_pressure, flows.near_limit)
        return InTable(np.nan, 0.0)

    def near_limit(self, table: Table, points: IndexArray) -> IndexArray:
        """Return at which of some points a grid point of the table around them is at its limit.

        Parameters
        ----------
        table : PlumbingTable or PotTable
            Plumbing of the phase.
        points : int array (points,)
            Numbers of times.
        """
        return points[[self.in_table(table, int(point)).near_limit > 0.0 for point in points]]

    def judge(self, points: IndexArray, *, from_locked: bool = False) -> Judged:
        """Return whether the engine runs at some of the times.

        Parameters
        ----------
        points : int array (points,)
            Which of the times.
        from_locked : bool, optional
            Whether the pumps stand in vapour and are stopped by it, as after a vapour lock.
        """
        run = self.solve(points, from_locked=from_locked)
        return Judged(run.engine_state, run.vapour_lock, run.outcome.reason)
