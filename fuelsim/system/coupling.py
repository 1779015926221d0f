"""The coupling: network, heat and vapour of many operating points made to agree.

Each round solves the network with the present temperatures and vapour, carries heat along the flow, and asks the fuel
how much vapour there is where; `fixed_point` says how the next round starts. Points that have converged leave the
batch.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from fuelsim.car.car import Car
from fuelsim.car.rating_lists import at_points
from fuelsim.constants import L_PER_HOUR
from fuelsim.fuel.tables import FuelTables
from fuelsim.laws.link import Regime
from fuelsim.laws.liquid import Liquid
from fuelsim.laws.two_phase import VAPOUR_VISCOSITY, mixture_density, mixture_viscosity
from fuelsim.network.network import Network
from fuelsim.network.state import State
from fuelsim.outcome import Outcome, OutcomeCode
from fuelsim.parts.part import Part
from fuelsim.parts.pump.controlled_pump import ControlledRunningPump
from fuelsim.parts.pump.running_pump import PumpOperation, RunningPump
from fuelsim.system.fixed_point import MOST_VAPOUR, Iterate, Update
from fuelsim.system.gas import gas_liquid_ratio
from fuelsim.system.heat_exchange import SurroundingsOfLinks, fuel_temperatures, surroundings_of_links
from fuelsim.system.operating_points import OperatingPoints
from fuelsim.system.plumbing import MANIFOLD, PlannedLink, Plumbing
from fuelsim.system.pot_parts import JetSuction
from fuelsim.system.pump_drive import inlet_superheat, running_pumps, staged_by_demand, staged_by_pressure
from fuelsim.typing import BoolArray, IndexArray, LinkArray, NodeArray, PointArray, TextArray

__all__ = ["CoupledSolution", "couple"]

ROUNDS = 60
"""Greatest number of rounds; without vapour 2 or 3 are enough."""
NOT_SETTLED = (
    "temperature and vapour did not settle; the fuel is far above its boiling point: cool it or raise the pressure"
)
_STANDING_FLOW = 740.0 * 1e-4 * L_PER_HOUR
"""Mass flow below which fuel stands and takes the temperature around it, kg/s (1e-4 L/h of liquid; a shut regulator
leaks less): by mass, so that all links in series stand together, whatever vapour is in them."""
JET_TOLERANCE = 1e-5
"""Greatest relative change of what drives a jet pump from one round to the next."""
_RESIDUALS = ("pressure_residual", "flow_residual", "mass_residual")
_PUMP_COLUMNS = ("current", "terminal_voltage", "electrical_power", "heat_into_fuel", "share", "stalled")


class JetDrive(NamedTuple):
    """What drives a jet pump: flow through its nozzle, m3/s, and pressure before it above the tank's, Pa; (points,)."""

    motive_flow: PointArray
    motive_drop: PointArray


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


def couple(car: Car, plumbing: Plumbing, tables: FuelTables, points: OperatingPoints) -> CoupledSolution:
    """Solve network, heat and vapour together at every operating point.

    Parameters
    ----------
    car, plumbing : Car, Plumbing
        The car and its plumbing; ratings that are lists are (points,).
    tables : FuelTables
        Property tables of the fuel.
    points : OperatingPoints

    Returns
    -------
    CoupledSolution
    """
    solved = _Collected(plumbing, len(points))
    staged_on = staged_by_demand(plumbing, tables, points)
    problem = _Problem(
        car,
        plumbing,
        tables,
        points,
        surroundings_of_links(car, plumbing, tables, points),
        running_pumps(plumbing, tables, points, staged_on),
    )
    _solve(problem, np.arange(len(points)), solved)
    for _ in plumbing.stages:
        after = staged_by_pressure(plumbing, points, solved.pressure, staged_on)
        changed = np.flatnonzero(np.any([after[name] != staged_on[name] for name in after], axis=0))
        if not changed.size:
            break
        staged_on = after
        problem = dataclasses.replace(problem, pumps=running_pumps(plumbing, tables, points, staged_on))
        solved.clear(changed)
        _solve(problem.take(changed), changed, solved)
    after = staged_by_pressure(plumbing, points, solved.pressure, staged_on)
    return solved.solution({name: after[name] != staged_on[name] for name in after})


def _solve(problem: _Problem, active: IndexArray, solved: _Collected) -> None:
    """Solve a problem, whose points are those of some numbers, and collect what comes out."""
    plumbing, points, tables = problem.plumbing, problem.points, problem.tables
    iterate = Iterate.all_liquid(
        len(plumbing.stations), len(plumbing.links), len(plumbing.pumps), points.tank_temperature
    )
    start: State | None = None
    for number in range(1, ROUNDS + 1):
        mean = problem.mean_temperatures(iterate)
        density = tables.density(mean)
        state = problem.network(iterate, start).solve(problem.liquids(iterate, mean, density), start=start)
        flowing = state.outcome.converged
        if not np.all(flowing):
            solved.store_failed(active[~flowing], number, state.take(np.flatnonzero(~flowing)).outcome)
            staying = np.flatnonzero(flowing)
            if not staying.size:
                break
            active, iterate = active[staying], iterate.take(staying)
            problem, state, density = problem.take(staying), state.take(staying), density[:, staying]
            start = None if start is None else start.take(staying)
        update = problem.update(iterate, state, density)
        converged = iterate.converged(update) & problem.jets_converged(start, state)
        leaving = converged | (number == ROUNDS)
        solved.store(active, leaving, converged, number, state, update)
        if np.all(leaving):
            break
        staying = np.flatnonzero(~leaving)
        active = active[staying]
        iterate = iterate.next(update).take(staying)
        problem = problem.take(staying)
        start = state.take(staying)


@dataclass(frozen=True)
class _CoupledUpdate(Update):
    """The update of a round with what is kept of it."""

    node_vapour: NodeArray
    densities: LinkArray
    operations: dict[str, PumpOperation]


@dataclass(frozen=True)
class _Problem:
    """One plumbing at a batch of operating points."""

    car: Car
    plumbing: Plumbing
    tables: FuelTables
    points: OperatingPoints
    surroundings: SurroundingsOfLinks
    pumps: dict[str, RunningPump | ControlledRunningPump]

    def take(self, index: IndexArray) -> _Problem:
        """Return the problem of some points only."""
        car = at_points(self.car, index)
        return _Problem(
            car,
            # A car without lists of ratings has none in its plumbing either.
            self.plumbing if car is self.car else at_points(self.plumbing, index),
            self.tables,
            self.points.take(index),
            self.surroundings.take(index),
            {name: pump.take(index) for name, pump in self.pumps.items()},
        )

    def network(self, iterate: Iterate, before: State | None) -> Network:
        """Return the network with pumps and injectors as they are at the iterate, jet pumps as the last round drives.

        Overflows end in the vapour space above their pot, and injectors in the manifold at the height of their rail.
        """
        points, plumbing = self.points, self.plumbing
        net = Network(atmospheric_pressure=points.atmospheric_pressure)
        fixed = {plumbing.vessel: points.tank_pressure, MANIFOLD: points.manifold_pressure}
        for name, pressure in fixed.items():
            net.add_reservoir(name, pressure=pressure, height=plumbing.heights[name])
        ends = {link.discharge: link for link in plumbing.links if link.discharge is not None}
        for name, link in ends.items():
            net.add_reservoir(name, pressure=fixed[link.downstream], height=plumbing.heights[link.upstream])
        for name in plumbing.stations:
            if name not in fixed:
                net.add_node(name, height=plumbing.heights[name])
        parts = self._running_parts(iterate) | self._driven_jets(before)
        for link in plumbing.links:
            reference = None if link.reference in (None, "atmosphere") else link.reference
            part = parts.get(link.name, link.part)
            net.connect(link.upstream, link.discharge or link.downstream, part, name=link.name, reference=reference)
        return net

    def _running_parts(self, iterate: Iterate) -> dict[str, Part]:
        """Return pumps and injectors with the fuel that the iterate brings to them."""
        plumbing = self.plumbing
        rows = {link.name: len(plumbing.pumps) + row for row, link in enumerate(plumbing.links)}
        parts: dict[str, Part] = {**self._pumps_at(iterate)}
        total = sum(link.part.count for link in plumbing.injectors)
        for rail in plumbing.planned_rails:
            injectors = rail.injectors.part
            parts[rail.injectors.name] = dataclasses.replace(
                injectors,
                mass_demand=self.points.fuel_mass_flow * (injectors.count / total),
                vapour_liquid_ratio=np.expm1(iterate.vapour[rows[rail.bores[0].name]]),
            )
        return parts

    def _pumps_at(self, iterate: Iterate) -> dict[str, RunningPump | ControlledRunningPump]:
        """Return the pumps with the fuel that the iterate brings to them."""
        plumbing = self.plumbing
        inlets = iterate.nodes[plumbing.upstream_rows[plumbing.pump_rows]]
        return {
            link.name: self.pumps[link.name].with_inlet(
                vapour_liquid_ratio=np.expm1(iterate.vapour[row]), fuel_temperature=inlets[row]
            )
            for row, link in enumerate(plumbing.pumps)
        }

    def _driven_jets(self, before: State | None) -> dict[str, Part]:
        """Return the suction of each jet pump, driven by what passed its nozzle in the round before."""
        if before is None:
            return {}
        return {
            jet.name: dataclasses.replace(jet.part, **self._jet_drive(jet, before)._asdict())
            for jet in self.plumbing.jets
        }

    def _jet_drive(self, jet: PlannedLink[JetSuction], state: State) -> JetDrive:
        nozzle = self.plumbing.nozzle(jet)
        drop = np.asarray(state.pressure[nozzle.upstream]) - self.points.tank_pressure
        return JetDrive(np.maximum(state.flow[nozzle.name], 0.0), np.clip(drop, 0.0, 1e7))

    def jets_converged(self, before: State | None, state: State) -> BoolArray:
        """Return where every jet pump is driven as it was in the round before, (points,)."""
        converged = np.ones(len(self.points), dtype=bool)
        for jet in self.plumbing.jets:
            if before is None:
                return ~converged
            for was, now in zip(self._jet_drive(jet, before), self._jet_drive(jet, state), strict=True):
                converged &= np.abs(now - was) <= JET_TOLERANCE * np.maximum(np.abs(now), 1e-12)
        return converged

    def mean_temperatures(self, iterate: Iterate) -> LinkArray:
        """Return the mean temperature of each link, (links, points), K."""
        return 0.5 * (iterate.nodes[self.plumbing.upstream_rows] + iterate.outlets)

    def liquids(self, iterate: Iterate, mean: LinkArray, density: LinkArray) -> dict[str, Liquid]:
        """Return what flows in each link: liquid, or a homogeneous mixture where it boils in a line.

        The vapour's own mass, below a percent, is left out of the mixture's density.
        """
        plumbing = self.plumbing
        ratio = np.where(plumbing.carries_mixture[:, None], np.expm1(iterate.vapour[len(plumbing.pumps) :]), 0.0)
        mixed_density = mixture_density(density, 0.0, ratio)
        mixed_viscosity = mixture_viscosity(self.tables.viscosity(mean), VAPOUR_VISCOSITY, ratio)
        return {
            link.name: Liquid(density=mixed_density[row], kinematic_viscosity=mixed_viscosity[row] / mixed_density[row])
            for row, link in enumerate(plumbing.links)
        }

    def update(self, iterate: Iterate, state: State, density: LinkArray) -> _CoupledUpdate:
        """Return the temperatures and vapour that follow from the flows and pressures of the network at an iterate."""
        plumbing, tables = self.plumbing, self.tables
        pressure, mass_flow = (
            {name: np.asarray(values) for name, values in results.items()}
            for results in (state.pressure, state.mass_flow)
        )
        densities = {link.name: density[row] for row, link in enumerate(plumbing.links)}
        pumps = self._pumps_at(iterate)
        operations = {
            link.name: _operating(
                pumps[link.name],
                mass_flow[link.name] / densities[link.name],
                pressure[link.downstream] - pressure[link.upstream],
                np.asarray(state.regime[link.name]),
            )
            for link in plumbing.pumps
        }
        mass = np.stack([mass_flow[link.name] for link in plumbing.links])
        standing = np.abs(mass) < _STANDING_FLOW
        # Where a pot empties it is air that comes in through its overflow.
        standing[plumbing.overflow_rows] |= mass[plumbing.overflow_rows] < 0.0
        at_stations = np.stack([pressure[name] for name in plumbing.stations])
        tank = self.points.tank_temperature
        temperatures = fuel_temperatures(
            plumbing,
            self.surroundings,
            np.where(standing, 0.0, mass),
            at_stations,
            np.stack([operations[link.name].heat_into_fuel for link in plumbing.pumps]),
            tank,
            self.points.pot_temperatures,
        )
        ratio = gas_liquid_ratio(
            tables,
            np.concatenate([temperatures.nodes - inlet_superheat(plumbing), temperatures.outlets]),
            np.concatenate([at_stations, at_stations[plumbing.downstream_rows]]),
            tank_temperature=tank,
            tank_pressure=self.points.tank_pressure,
            released_air=self.car.tank.released_air,
        )
        logarithm = np.minimum(np.log1p(ratio), MOST_VAPOUR)
        count = len(plumbing.stations)
        upstream = logarithm[plumbing.upstream_rows]
        return _CoupledUpdate(
            nodes=temperatures.nodes,
            outlets=temperatures.outlets,
            vapour=np.concatenate([upstream[plumbing.pump_rows], 0.5 * (upstream + logarithm[count:])]),
            node_vapour=ratio[:count],
            densities=density,
            operations=operations,
        )


def _operating(
    pump: RunningPump | ControlledRunningPump, flow: PointArray, rise: PointArray, regime: TextArray
) -> PumpOperation:
    if isinstance(pump, ControlledRunningPump):
        return pump.operating(flow, rise, regime)
    return pump.operating(flow, rise)


class _Collected:
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
        update: _CoupledUpdate,
    ) -> None:
        """Store the results of the points that leave; those that have not converged are NaN."""
        where = active[leaving]

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
