"""What is computed from a coupled solution: flows, duties, margins, heat and outcome, one value per operating point."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from fuelsim.arguments import unchecked
from fuelsim.car.car import Car
from fuelsim.constants import L_PER_HOUR
from fuelsim.fuel.tables import FuelTables
from fuelsim.laws.link import Regime
from fuelsim.numerics.pointwise import least_at_each_point
from fuelsim.outcome import Outcome, OutcomeCode
from fuelsim.system.collected import CoupledSolution
from fuelsim.system.heat_exchange import heating_per_pressure_lost
from fuelsim.system.judgement import judge
from fuelsim.system.operating_points import OperatingPoints
from fuelsim.system.plumbing import MANIFOLD, PlannedLink, Plumbing
from fuelsim.system.pump_off import pump_off
from fuelsim.typing import BoolArray, FloatArray, IntegerArray, PointArray, TextArray
from fuelsim.units import shown

if TYPE_CHECKING:
    from fuelsim.parts.pump.pump import Pump

__all__ = ["RunValues"]

LEAST_POT_LOSS = 1e-4
"""Share of what leaves a pot by which it must empty to count as running dry."""
LEAST_EMPTYING = 0.01 * L_PER_HOUR
"""Flow by which a pot must empty to count as running dry, m3/s: pots of litres last for days at less."""
SOME_VAPOUR = 1e-3
"""V/L at a pump's inlet from which it counts as ingesting vapour."""


class RunValues:
    """One coupled solution and what is computed from it; every array is (points,)."""

    def __init__(
        self,
        car: Car,
        plumbing: Plumbing,
        tables: FuelTables,
        points: OperatingPoints,
        solution: CoupledSolution,
        pumps_cut: bool,
    ) -> None:
        self.car, self.plumbing, self.tables, self.points = car, plumbing, tables, points
        self.judgement, self.judged = judge(car, plumbing, points, solution), solution
        self.at_rest = self.judgement.stopped & pumps_cut
        self.solution = pump_off(car, plumbing, tables, points, solution, self.at_rest)
        self.converged: BoolArray = solution.outcome.has_values
        self.flow = {name: mass / self.solution.density[name] for name, mass in self.solution.mass_flow.items()}

    def looked_up(self, table: Callable[..., FloatArray], *values: FloatArray) -> FloatArray:
        """Look up converged points only; failed ones are NaN and stay so."""
        asked = (np.where(self.converged, value, 0.0) for value in values)
        return np.where(self.converged, table(*asked), np.nan)

    def bypass_flow(self) -> PointArray:
        """Return the flow through all regulators that are not shut, m3/s."""
        bypass = np.where(self.converged, 0.0, np.nan)
        for link in self.plumbing.regulators:
            bypass = bypass + np.where(self.solution.regime[link.name] == Regime.SHUT, 0.0, self.flow[link.name])
        return bypass

    def injector_duties(self) -> dict[str, PointArray]:
        """Return the duty of the injectors of each rail."""
        solution, points = self.solution, self.points
        duties = {}
        for link in self.plumbing.injectors:
            vapour = np.nan_to_num(solution.vapour_liquid_ratio[link.upstream])
            injectors = replace(link.part, vapour_liquid_ratio=vapour)
            difference = solution.pressure[link.upstream] - solution.pressure[MANIFOLD]
            mass, density = solution.mass_flow[link.name], solution.density[link.name]
            duties[link.upstream] = unchecked(injectors.duty)(
                mass, difference, density, points.rpm, points.supply_voltage
            )
        return duties

    @cached_property
    def pot_overflow(self) -> dict[str, PointArray]:
        """What runs over from each pot, m3/s; negative where it empties."""
        return {
            pot: np.asarray(sum(self.flow[link.name] for link in self.plumbing.overflows(pot)))
            for pot in self.plumbing.pots
        }

    @cached_property
    def pot_times(self) -> dict[str, PointArray]:
        """Time until each full pot is empty, s; infinite where it stays full."""
        times = {}
        for pot, overflow in self.pot_overflow.items():
            emptying = overflow < -np.maximum(LEAST_POT_LOSS * self.through_pot(pot), LEAST_EMPTYING)
            with np.errstate(divide="ignore"):
                lasts = self.plumbing.pots[pot].volume / np.where(emptying, -overflow, 0.0)
            times[pot] = np.where(self.converged, lasts, np.nan)
        return times

    def through_pot(self, pot: str) -> PointArray:
        """Return the flow out of a pot without what runs over, m3/s."""
        over = {link.name for link in self.plumbing.overflows(pot)}
        leaving = [link.name for link in self.plumbing.links if link.upstream == pot and link.name not in over]
        return np.asarray(sum(np.abs(self.flow[name]) for name in leaving))

    def hysteresis(self) -> PointArray:
        """Return half the regulator's hysteresis where it regulates, 0 elsewhere, NaN where the point failed; Pa."""
        link = self.plumbing.regulator
        half = 0.0 if link is None else 0.5 * np.asarray(link.part.hysteresis)
        regulates = link is not None and self.solution.regime[link.name] == Regime.REGULATING
        return np.where(self.converged, np.where(regulates, half, 0.0), np.nan)

    def suction_margin(self, beyond_bubble: Mapping[str, PointArray]) -> PointArray:
        """Return what the pump with least has at its inlet beyond boiling and the NPSH it requires, Pa."""
        return least_at_each_point(
            [beyond_bubble[link.upstream] - link.part.npsh_required for link in self.plumbing.pumps]
        )

    def tank_heat_flow(self) -> PointArray:
        """Return the heat that comes back into the tank, with what submerged pumps give to the fuel around them, W."""
        solution, tank = self.solution, self.points.tank_temperature
        heat = np.where(self.converged, 0.0, np.nan)
        for link in self.plumbing.return_links:
            back = solution.outlet_temperature[link.name]
            # At the tank's temperature, as in the balance of heat, so that none of it is lost on the way.
            capacity = self.looked_up(self.tables.heat_capacity, tank)
            heat = heat + solution.mass_flow[link.name] * capacity * (back - tank)
        return heat + self.shed_heat()

    def shed_heat(self) -> PointArray:
        """Return the heat that submerged pumps give to the fuel around them, W."""
        heat = np.where(self.converged, 0.0, np.nan)
        for pump in self.plumbing.pumps:
            if pump.part.mounting == "in_tank":
                heat = heat + self._shed_by(pump)
        return heat

    def _shed_by(self, pump: PlannedLink[Pump]) -> PointArray:
        """Return the heat that a submerged pump's body gives to the fuel around it, W."""
        solution, tank = self.solution, self.points.tank_temperature
        rise = solution.pressure[pump.downstream] - solution.pressure[pump.upstream]
        warming = solution.outlet_temperature[pump.name] - solution.temperature[pump.upstream]
        by_heat = warming + heating_per_pressure_lost(self.tables, tank) * rise
        carried = solution.mass_flow[pump.name] * self.tables.heat_capacity(tank) * by_heat
        shed: PointArray = solution.pump[pump.name]["heat_into_fuel"] + pump.exchange.radiation - carried
        return shed

    def over_vapour_limit(self) -> dict[str, BoolArray]:
        """Return by pump where it takes in more vapour than it tolerates."""
        return {
            link.name: self.converged
            & (np.nan_to_num(self.judged.vapour_liquid_ratio[link.upstream]) > link.part.tolerated_vapour)
            for link in self.plumbing.pumps
        }

    def while_running(self, values: FloatArray) -> FloatArray:
        """Return values of a running engine; NaN where it is stopped and the pumps are cut."""
        return np.where(self.at_rest, np.nan, values)

    def outcome(self, over_limit: Mapping[str, BoolArray]) -> Outcome:
        """Return the outcome, whose reason says what vapour does, where the engine stops and where a pot runs dry."""
        reason = np.array(self.solution.outcome.reason, dtype=object)
        for link in self.plumbing.pumps:
            ratio = np.nan_to_num(self.judged.vapour_liquid_ratio[link.upstream])
            for point in np.flatnonzero(self.converged & (ratio > SOME_VAPOUR)):
                amount = f"{ratio[point]:.2g} volumes of gas per volume of fuel at the inlet of '{link.name}'"
                beyond = ", more than it tolerates" if over_limit[link.name][point] else ""
                reason[point] = f"vapour takes flow from the pump: {amount}{beyond}"
        code, worst = np.array(self.solution.outcome.code), np.array(self.solution.outcome.worst_part, dtype=object)
        for pot, time in self.pot_times.items():
            leaving, overflow = self.through_pot(pot), self.pot_overflow[pot]
            for point in np.flatnonzero(np.isfinite(time)):
                out, come = (shown(flow[point], "volume flow") for flow in (leaving, leaving + overflow))
                reason[point] = (
                    f"the pot '{pot}' runs dry in {shown(time[point], 'time', digits=3)}: {out} leave it and {come} "
                    "come in; a lift pump that brings more, or more return into the pot"
                )
                code[point], worst[point] = OutcomeCode.RUNS_DRY, pot
        self._add_stops(code, worst, reason)
        return replace(self.solution.outcome, code=code, worst_part=worst, reason=reason)

    def _add_stops(self, code: IntegerArray, worst: TextArray, reason: TextArray) -> None:
        """Put in where the engine stops, with the rail, and what vapour has to do with it."""
        judgement = self.judgement
        rails = list(judgement.by_rail)
        for point in np.flatnonzero(self.at_rest):
            mixtures = [judgement.by_rail[rail].mixture[point] for rail in rails]
            percent = 100.0 / judgement.mixture[point]
            share = f"{percent:.2g} % of the fuel it asks for" if percent >= 1.0 else "hardly any fuel"
            rail = shown(judgement.at_stop.rail_pressure_difference[point], "pressure difference", digits=3)
            cause = f"; {reason[point]}" if judgement.locked[point] else ""
            reason[point] = f"the engine stops: it gets {share}, with the rail {rail} above the manifold{cause}"
            code[point], worst[point] = OutcomeCode.ENGINE_STOPPED, rails[int(np.argmax(mixtures))]
