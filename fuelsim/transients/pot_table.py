"""Steady states of a plumbing with pots, tabulated over the temperatures of tank and pots as a drive needs them.

With every pot the table has another axis; of all its cells a drive passes through few. So a cell is solved when it is
first asked for, with its neighbours along the pots' axes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from fuelsim.numerics.cells import cell_of
from fuelsim.transients.plumbing_table import (
    LEAST_TEMPERATURE,
    MARGIN_LIST,
    MARGINS,
    MOST_TEMPERATURE,
    near_limit,
    not_running,
    times_within,
)
from fuelsim.transients.pot_flows import PlannedPot, VesselFlows, columns_of, flows_of, vessel_flows
from fuelsim.transients.tank_fuel import WEATHERED
from fuelsim.transients.weathering_plumbing import stage_weights
from fuelsim.transients.world import DrivingState
from fuelsim.typing import FloatArray

if TYPE_CHECKING:
    from fuelsim.transients.weathering_plumbing import WeatheringPlumbing
    from fuelsim.transients.world import World

__all__ = ["PotTable", "tabulate_pots"]

NEIGHBOURS = (4, 1)
"""Cells to either side solved with the one asked for, along the axis of the only pot, and along those of several."""

WARMER, COOLER = 6, 4
"""Cells of a warmer and of a cooler tank solved with the one asked for."""
AHEAD = 4000.0
"""Grid times so soon after the beginning of the cell are solved with it, s (numerical: longer than any cell)."""

_Key = tuple[int, ...]


@dataclass(frozen=True, eq=False)
class PotTable:
    """States of a plumbing with pots within one phase.

    Attributes
    ----------
    plumbing : WeatheringPlumbing
        The plumbing, with what its fuel becomes.
    pots : tuple of PlannedPot
        Its pots.
    times, pressures : list of float
        Times since the phase began, s, and pressures in the tank above the atmosphere, Pa, of the grid.
    driving : DrivingState
        The world at those times.
    atmosphere : list of float
        Pressure of the atmosphere at those times, Pa absolute.
    """

    plumbing: WeatheringPlumbing
    pots: tuple[PlannedPot, ...]
    times: list[float]
    pressures: list[float]
    driving: DrivingState
    atmosphere: list[float]
    _rows: dict[_Key, FloatArray] = field(default_factory=dict, init=False, repr=False)
    _cells: dict[_Key, FloatArray] = field(default_factory=dict, init=False, repr=False)

    def at(
        self, time: float, temperature: float, pot_temperatures: list[float], pressure: float, evaporated: float
    ) -> VesselFlows[float]:
        """Return the flows at one moment, by linear interpolation along every axis.

        Parameters
        ----------
        time : float
            Time since the phase began, s.
        temperature : float
            Temperature of the tank, K.
        pot_temperatures : list of float
            Temperature of each pot, K.
        pressure : float
            Pressure in the tank above the atmosphere, Pa.
        evaporated : float
            Mass fraction evaporated.
        """
        i, by_time = cell_of(self.times, time)
        k, by_pressure = cell_of(self.pressures, pressure)
        # On a climb the logarithm of the pressure falls evenly.
        outside = self.atmosphere[i] * (self.atmosphere[i + 1] / self.atmosphere[i]) ** by_time
        boils = self.plumbing.fuel.boiling_temperature(outside + pressure, evaporated)
        cells = [cell_of(MARGIN_LIST, boils - own) for own in (temperature, *pot_temperatures)]
        positions = (by_time, by_pressure, *(position for _, position in cells))
        total: FloatArray | float = 0.0
        for number, weight in stage_weights(evaporated):
            values = self._corners((number, i, k, *(cell for cell, _ in cells)))
            for position in positions:
                values = values[0] + position * (values[1] - values[0])
            total = total + weight * values
        return flows_of(np.asarray(total).tolist())

    def _corners(self, key: _Key) -> FloatArray:
        """Return the columns at the corners of a cell, (2, 2, 2 of the tank, 2 of each pot, columns)."""
        if key not in self._cells:
            number, *cell = key
            corners = list(product(*((low, low + 1) for low in cell)))
            if any((number, *corner) not in self._rows for corner in corners):
                self._solve_around(number, cell)
            rows = np.stack([self._filled((number, *corner)) for corner in corners])
            self._cells[key] = rows.reshape(*(2,) * len(cell), -1)
        return self._cells[key]

    def _solve_around(self, number: int, cell: list[int]) -> None:
        """Solve the corners of a cell, of its neighbours, and of those that a tank comes to as it warms."""
        i, k, tank, *pots = cell
        width = NEIGHBOURS[0] if len(pots) == 1 else NEIGHBOURS[1]
        soon = [later for later, time in enumerate(self.times) if later > i and time <= self.times[i] + AHEAD]
        warming = range(max(tank - WARMER, 0), min(tank + COOLER + 2, len(MARGINS)))
        along_pots = [range(max(j - width, 0), min(j + width + 2, len(MARGINS))) for j in pots]
        wanted = product((i, *soon), (k, k + 1), warming, *along_pots)
        self._solve(number, [point for point in wanted if (number, *point) not in self._rows])

    def _solve(self, number: int, points: list[_Key]) -> None:
        """Solve some points of the grid."""
        i, k, tank, *pots = (np.array(column) for column in zip(*points, strict=True))
        fuel, gauge = self.plumbing.fuel, np.array(self.pressures)[k]
        different, which = np.unique(self.driving.atmospheric_pressure[i] + gauge, return_inverse=True)
        boils = fuel.boiling_temperatures(different, WEATHERED[number])[which]
        tank_temperature, *of_pots = (
            np.clip(boils - MARGINS[margin], LEAST_TEMPERATURE, MOST_TEMPERATURE) for margin in (tank, *pots)
        )
        pot_temperatures = {pot.name: own for pot, own in zip(self.pots, of_pots, strict=True)}
        run = self.plumbing.stage(number).solve(
            self.driving.take(i).conditions(tank_temperature, gauge), pot_temperatures=pot_temperatures
        )
        near = near_limit(run).astype(float)
        flows = vessel_flows(run, self.pots, fuel, tank_temperature, pot_temperatures, near)
        rows = np.column_stack([np.asarray(column, dtype=float) for column in columns_of(flows)])
        rows[not_running(run)] = np.nan
        for point, row in zip(points, rows, strict=True):
            self._rows[(number, *point)] = row

    def _filled(self, key: _Key) -> FloatArray:
        """Return a corner's columns; where no engine runs, those of the nearest cooler one where it does."""
        number, i, k, *margins = key
        at_limit = VesselFlows._fields.index("near_limit")
        filled = False
        while True:
            if (number, i, k, *margins) not in self._rows:
                self._solve(number, [(i, k, *margins)])
            row = self._rows[(number, i, k, *margins)]
            if np.all(np.isfinite(row)):
                if filled:
                    row = row.copy()
                    row[at_limit] = 1.0
                return row
            filled = True
            cooler = [min(margin + 1, len(MARGINS) - 1) for margin in margins]
            if cooler == margins:
                row = np.nan_to_num(row)
                row[at_limit] = 1.0
                return row
            margins = cooler


def tabulate_pots(
    plumbing: WeatheringPlumbing, pots: tuple[PlannedPot, ...], world: World, pressures: list[float]
) -> list[PotTable | None]:
    """Return a table for each phase, None where the engine is stopped; nothing is solved yet.

    Parameters
    ----------
    plumbing : WeatheringPlumbing
        The plumbing, with what its fuel becomes.
    pots : tuple of PlannedPot
        Its pots.
    world : World
        Schedule and surroundings.
    pressures : list of float
        Pressures in the tank above the atmosphere, Pa.
    """
    tables: list[PotTable | None] = []
    for index, (phase, climb) in enumerate(zip(world.schedule.phases, world.climbs(), strict=True)):
        if phase.engine != "running":
            tables.append(None)
            continue
        times = times_within(phase.duration, climbs=climb.start != climb.end)
        driving = world.at(index, times)
        atmosphere = driving.atmospheric_pressure.tolist()
        tables.append(PotTable(plumbing, pots, times.tolist(), list(pressures), driving, atmosphere))
    return tables
