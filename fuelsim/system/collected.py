"""What the coupling found at each operating point, and how it is collected while points leave the batch."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from fuelsim.laws.link import Regime
from fuelsim.network.state import State
from fuelsim.outcome import Outcome, OutcomeCode
from fuelsim.system.coupled_problem import CoupledUpdate
from fuelsim.system.plumbing import Plumbing
from fuelsim.typing import BoolArray, IndexArray, PointArray, TextArray

__all__ = ["Collected", "CoupledSolution"]

NOT_SETTLED = (
    "temperature and vapour did not settle; the fuel is far above its boiling point: cool it or raise the pressure"
)
_RESIDUALS = ("pressure_residual", "flow_residual", "mass_residual")
_PUMP_COLUMNS = ("current", "terminal_voltage", "electrical_power", "heat_into_fuel", "share", "stalled")


@dataclass(frozen=True)
class CoupledSolution:
    """The solution at each operating point; every array is (points,), NaN where the point failed.

    Attributes
    ----------
    pressure : dict of str to array
        By station, Pa absolute.
    temperature : dict of str to array
        By station, as if all liquid, K.
    outlet_temperature : dict of str to array
        At the end of each link, K.
    mass_flow : dict of str to array
        By link, kg/s.
    density : dict of str to array
        Density of the liquid in each link, kg/m3.
    vapour_liquid_ratio : dict of str to array
        By station, after an isenthalpic drop from the all-liquid state.
    pump : dict of str to dict of str to array
        By pump: ``"current"`` (A), ``"terminal_voltage"`` (V), ``"electrical_power"`` and ``"heat_into_fuel"`` (W),
        ``"share"``, of the time switched on or of the highest speed, and ``"stalled"``, 1 where the pump has voltage
        but does not turn.
    cycles : dict of str to bool array
        By staged pump: whether it switches on and off in turn, because its own step of pressure reaches from one
        threshold to the other.
    regime : dict of str to array of str
        By link.
    outcome : Outcome
        Worst of network and coupling.
    """

    pressure: dict[str, PointArray]
    temperature: dict[str, PointArray]
    outlet_temperature: dict[str, PointArray]
    mass_flow: dict[str, PointArray]
    density: dict[str, PointArray]
    vapour_liquid_ratio: dict[str, PointArray]
    pump: dict[str, dict[str, PointArray]]
    cycles: dict[str, BoolArray]
    regime: dict[str, TextArray]
    outcome: Outcome


class Collected:
    """Collects the points as they leave the batch."""

    def __init__(self, plumbing: Plumbing, count: int) -> None:
        self.links = [link.name for link in plumbing.links]
        self.stations = plumbing.stations
        self.pumps = [link.name for link in plumbing.pumps]

        def empty(names: Iterable[str]) -> dict[str, PointArray]:
            return {name: np.full(count, np.nan) for name in names}

        self._by_station = {key: empty(self.stations) for key in ("pressure", "temperature", "vapour_liquid_ratio")}
        self._by_link = {key: empty(self.links) for key in ("outlet_temperature", "mass_flow", "density")}
        self._by_pump = {name: empty(_PUMP_COLUMNS) for name in self.pumps}
        self._regime: dict[str, TextArray] = {
            name: np.full(count, Regime.UNSOLVED, dtype=object) for name in self.links
        }
        self._code = np.full(count, OutcomeCode.NOT_CONVERGED, dtype=int)
        self._iterations = np.zeros(count, dtype=int)
        self._residuals = {name: np.full(count, np.nan) for name in _RESIDUALS}
        self._worst = np.full(count, "", dtype=object)
        self._reason = np.full(count, "", dtype=object)

    @property
    def pressure(self) -> dict[str, PointArray]:
        """Pressure by station, Pa absolute, NaN where the point failed."""
        return self._by_station["pressure"]

    def clear(self, where: IndexArray) -> None:
        """Forget the results of points that are solved anew."""
        for group in (*self._by_station.values(), *self._by_link.values(), *self._by_pump.values()):
            for column in group.values():
                column[where] = np.nan

    def store_failed(self, where: IndexArray, number: int, outcome: Outcome) -> None:
        """Store the outcome of points that the network could not solve; their results stay NaN."""
        self._code[where], self._reason[where] = outcome.code, outcome.reason
        self._worst[where], self._iterations[where] = outcome.worst_part, number
        for name, column in self._residuals.items():
            column[where] = getattr(outcome, name)

    def store(
        self,
        active: IndexArray,
        leaving: BoolArray,
        converged: BoolArray,
        number: int,
        state: State,
        update: CoupledUpdate,
    ) -> None:
        """Store the results of the points that leave; those that have not converged are NaN."""
        where = active[leaving]
        if not where.size:
            return

        def keep(column: PointArray, values: PointArray) -> None:
            column[where] = np.where(converged, values, np.nan)[leaving]

        for row, name in enumerate(self.stations):
            keep(self._by_station["pressure"][name], np.asarray(state.pressure[name]))
            keep(self._by_station["temperature"][name], update.nodes[row])
            keep(self._by_station["vapour_liquid_ratio"][name], update.node_vapour[row])
        for row, name in enumerate(self.links):
            keep(self._by_link["outlet_temperature"][name], update.outlets[row])
            keep(self._by_link["mass_flow"][name], np.asarray(state.mass_flow[name]))
            keep(self._by_link["density"][name], update.densities[row])
            self._regime[name][where] = np.where(converged, state.regime[name], Regime.UNSOLVED)[leaving]
        for name, columns in self._by_pump.items():
            for key, column in columns.items():
                keep(column, getattr(update.operations[name], key))
        outcome, unconverged = state.outcome, ~converged
        self._code[where] = np.where(unconverged, int(OutcomeCode.NOT_CONVERGED), outcome.code)[leaving]
        self._reason[where] = np.where(unconverged, NOT_SETTLED, outcome.reason)[leaving]
        self._worst[where] = np.where(unconverged, self.pumps[0], outcome.worst_part)[leaving]
        self._iterations[where] = number
        for name, column in self._residuals.items():
            column[where] = getattr(outcome, name)[leaving]

    def solution(self, cycles: dict[str, BoolArray]) -> CoupledSolution:
        """Return everything collected, with where staged pumps switch on and off in turn."""
        outcome = Outcome(
            code=self._code,
            iterations=self._iterations,
            worst_part=self._worst,
            reason=self._reason,
            **self._residuals,
        )
        return CoupledSolution(
            **self._by_station, **self._by_link, pump=self._by_pump, cycles=cycles, regime=self._regime, outcome=outcome
        )
