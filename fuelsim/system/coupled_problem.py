"""The problem that the coupling solves: network, heat and gas of one plumbing at a batch of operating points."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from fuelsim.arguments import unchecked
from fuelsim.car.car import Car
from fuelsim.car.rating_lists import at_points
from fuelsim.constants import GRAVITY, L_PER_HOUR
from fuelsim.fuel.tables import FuelTables
from fuelsim.laws.pump_with_gas import MOST_DISPLACED, displaced
from fuelsim.laws.two_phase import VAPOUR_VISCOSITY, mixture_density, mixture_viscosity, vapour_density
from fuelsim.liquid import Liquid, computed_liquid
from fuelsim.network.network import Network
from fuelsim.network.state import State
from fuelsim.numerics.bracket import bisect
from fuelsim.parts.part import Part
from fuelsim.parts.pump.controlled_pump import ControlledRunningPump
from fuelsim.parts.pump.inlet_gas import InletGas, PumpWithGas
from fuelsim.parts.pump.running_pump import PumpOperation, RunningPump
from fuelsim.system.controller import Controller, mass_demand
from fuelsim.system.fixed_point import MOST_UNSETTLED, MOST_VAPOUR, SETTLED, SETTLING_SHARE, Draws, Iterate, Update
from fuelsim.system.gas import gas_liquid_ratio
from fuelsim.system.heat_exchange import (
    SurroundingsOfLinks,
    as_liquid_at,
    boiling_at,
    fuel_temperatures,
    standing_temperatures,
    surroundings_of_links,
)
from fuelsim.system.operating_points import OperatingPoints
from fuelsim.system.plumbing import MANIFOLD, PlannedLink, Plumbing
from fuelsim.system.plumbing_paths import drawn_from, links_before
from fuelsim.system.pot_parts import JetSuction
from fuelsim.system.pump_drive import inlet_superheat
from fuelsim.typing import BoolArray, FloatArray, FloatLike, IndexArray, LinkArray, NodeArray, PointArray, TextArray

__all__ = ["CoupledProblem", "CoupledUpdate"]

_STANDING_FLOW = 740.0 * 1e-4 * L_PER_HOUR
"""Mass flow below which fuel stands and takes the temperature around it, kg/s (1e-4 L/h of liquid; a shut regulator
leaks less): by mass, so that all links in series stand together, whatever vapour is in them."""
_LEAST_MOVING_FLOW = 10.0 * _STANDING_FLOW
"""The same of a link that stood in the round before, so that none stands and moves in turn."""
VAPOUR_MOLAR_MASS = 0.066
"""kg/mol: 0.062 to 0.068 for petrol [ap_42_7_1]; at V/L 1 the vapour is 0.3 % of the mixture's mass."""
STARVED = 0.5
"""Share of the least fuel on which an engine runs below which its stop is beyond doubt."""
_PRESSURE_STEP = 1e-3
"""Share of the pressure at a pump's inlet over which the slope of what it displaces is taken."""
_LOSS_EXPONENT = 1.8
"""Power of the flow with which the loss before a pump goes, between laminar and turbulent."""
_BISECTIONS = 16
"""Halvings of the range of pressures in which the first tangents are placed."""
JET_TOLERANCE = 1e-5
"""Greatest relative change of what drives a jet pump from one round to the next."""


class JetDrive(NamedTuple):
    """What drives a jet pump: flow through its nozzle, m3/s, and pressure before it above the tank's, Pa; (points,)."""

    motive_flow: PointArray
    motive_drop: PointArray


@dataclass(frozen=True)
class CoupledUpdate(Update):
    """The update of a round with what is kept of it."""

    inlet_pressures: FloatArray
    node_vapour: NodeArray
    densities: LinkArray
    operations: dict[str, PumpOperation]


@dataclass(frozen=True)
class CoupledProblem:
    """One plumbing at a batch of operating points."""

    car: Car
    plumbing: Plumbing
    tables: FuelTables
    points: OperatingPoints
    surroundings: SurroundingsOfLinks
    pumps: dict[str, RunningPump | ControlledRunningPump]
    draws: Draws
    controller: Controller

    @classmethod
    def of(
        cls,
        car: Car,
        plumbing: Plumbing,
        tables: FuelTables,
        points: OperatingPoints,
        pumps: dict[str, RunningPump | ControlledRunningPump],
    ) -> CoupledProblem:
        """Return the problem of a plumbing.

        Parameters
        ----------
        car, plumbing : Car, Plumbing
            The car and its plumbing; ratings that are lists are (points,).
        tables : FuelTables
            Property tables of the fuel.
        points : OperatingPoints
        pumps : dict of str to RunningPump or ControlledRunningPump
            Every pump at every point.
        """
        drawn = {link.name for pump in plumbing.pumps for link in links_before(plumbing, pump.upstream)}
        draws = Draws.of(
            len(plumbing.stations),
            plumbing.upstream_rows[plumbing.pump_rows],
            plumbing.downstream_rows,
            np.array([link.name in drawn for link in plumbing.links]),
        )
        surroundings = surroundings_of_links(car, plumbing, tables, points)
        controller = Controller.of(car.engine, plumbing, points)
        return cls(car, plumbing, tables, points, surroundings, pumps, draws, controller)

    def take(self, index: IndexArray) -> CoupledProblem:
        """Return the problem of some points only."""
        car = at_points(self.car, index)
        return CoupledProblem(
            car,
            # A car without lists of ratings has none in its plumbing either.
            self.plumbing if car is self.car else at_points(self.plumbing, index),
            self.tables.take(index),
            self.points.take(index),
            self.surroundings.take(index),
            {name: pump.take(index) for name, pump in self.pumps.items()},
            self.draws,
            self.controller.take(index),
        )

    def network(self, iterate: Iterate, before: State | None) -> Network:
        """Return the network with pumps and injectors as they are at the iterate, jet pumps as last driven."""
        return unchecked(self._plumbed.with_parts)(self._running_parts(iterate) | self._driven_jets(before))

    @cached_property
    def _plumbed(self) -> Network:
        """The network with every part as it is rated.

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
        for link in plumbing.links:
            reference = None if link.reference in (None, "atmosphere") else link.reference
            part = self.pumps.get(link.name, link.part)
            net.connect(link.upstream, link.discharge or link.downstream, part, name=link.name, reference=reference)
        return net

    def _running_parts(self, iterate: Iterate) -> dict[str, Part]:
        """Return pumps and injectors with the fuel that the iterate brings to them."""
        plumbing = self.plumbing
        rows = {link.name: row for row, link in enumerate(plumbing.links)}
        parts: dict[str, Part] = {**self._pumps_at(iterate)}
        density = self.tables.density(self.mean_temperatures(iterate))
        for rail in plumbing.planned_rails:
            demand = mass_demand(self.plumbing, self.points, rail)
            openings = self.controller.openings(rail, demand, density[rows[rail.injectors.name]])
            parts[rail.injectors.name] = dataclasses.replace(
                rail.injectors.part,
                mass_demand=demand,
                longest_opening=openings.longest,
                shortest_opening=openings.shortest,
                vapour_liquid_ratio=np.expm1(iterate.vapour[rows[rail.bores[0].name]]),
            )
        return parts

    def starved(self, state: State) -> BoolArray:
        """Return where a rail gets less than `STARVED` of the least fuel on which the engine runs, (points,).

        Parameters
        ----------
        state : State
            A solution of the network.
        """
        least = STARVED * self.points.lambda_demanded / self.car.engine.lean_limit
        starving = [
            np.asarray(state.mass_flow[rail.injectors.name]) < least * mass_demand(self.plumbing, self.points, rail)
            for rail in self.plumbing.planned_rails
        ]
        return np.asarray(np.any(starving, axis=0))

    def _pumps_at(self, iterate: Iterate) -> dict[str, Part]:
        """Return the pumps with the fuel that the iterate brings to them; those without gas keep their plain law."""
        temperatures = iterate.nodes[self.draws.inlets]
        parts: dict[str, Part] = {}
        for row, link in enumerate(self.plumbing.pumps):
            gas = InletGas._make(np.asarray(values)[row] for values in iterate.gas)
            pump = self.pumps[link.name].with_inlet(vapour_liquid_ratio=0.0, fuel_temperature=temperatures[row])
            if np.all(gas.displaced == 1.0) and not np.any(gas.displaced_slope):
                parts[link.name] = pump
            elif isinstance(pump, ControlledRunningPump):
                parts[link.name] = dataclasses.replace(pump, gas=gas)
            else:
                parts[link.name] = PumpWithGas(pump, gas)
        return parts

    @cached_property
    def _superheat(self) -> NodeArray:
        """Kelvins above its bubble point up to which fuel stays liquid at each station, (stations, 1 or points)."""
        return inlet_superheat(self.plumbing)

    def gas_ratio(self, temperature: FloatArray, pressure: FloatArray) -> FloatArray:
        """Return the volume of gas per volume of liquid, air first and vapour with it, after a drop without heat.

        Parameters
        ----------
        temperature, pressure : array (..., points)
            K as if all liquid, Pa absolute.
        """
        return gas_liquid_ratio(
            self.tables,
            temperature,
            pressure,
            tank_temperature=self.points.tank_temperature,
            tank_pressure=self.points.tank_pressure,
            released_air=self.car.tank.released_air,
        )

    def _displaced(self, ratio: FloatArray) -> FloatArray:
        """Return the volume that each pump displaces per volume of liquid at V/L at its inlet, (pumps, points)."""
        return np.stack(
            [1.0 / unchecked(link.part.vapour_flow_share)(ratio[row]) for row, link in enumerate(self.plumbing.pumps)]
        )

    def inlet_gas(self, temperatures: FloatArray, pressures: FloatArray) -> InletGas:
        """Return the tangents to what the pumps displace, (pumps, points).

        Parameters
        ----------
        temperatures, pressures : array (pumps, points)
            At the pumps' inlets, K as if all liquid and Pa absolute.
        """
        lower = pressures * (1.0 - _PRESSURE_STEP)
        boiling = temperatures - self._superheat[self.draws.inlets]
        ratio = self.gas_ratio(np.concatenate([boiling] * 2), np.concatenate([pressures, lower]))
        at, below = (np.minimum(self._displaced(own), MOST_DISPLACED) for own in np.split(ratio, 2))
        slope = np.minimum(at - below, 0.0) / (_PRESSURE_STEP * pressures)
        return InletGas(at, np.where(at > 1.0, slope, 0.0), pressures)

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

    def all_liquid(self) -> Iterate:
        """Return the iterate without vapour, everything at the tank's temperature: the start from below."""
        plumbing, tank = self.plumbing, self.points.tank_temperature
        shape = (len(plumbing.pumps), len(tank))
        gas = InletGas(np.ones(shape), np.zeros(shape), np.broadcast_to(self.points.tank_pressure, shape))
        nodes = np.broadcast_to(tank, (len(plumbing.stations), len(tank)))
        return Iterate.of(nodes, np.broadcast_to(tank, (len(plumbing.links), len(tank))), gas)

    def standing(self) -> Iterate:
        """Return the iterate with stopped pumps and fuel as warm as what is around: the start from above."""
        iterate, plumbing = self.all_liquid(), self.plumbing
        around = self.surroundings.temperature
        equilibrium = as_liquid_at(self.tables, around, np.broadcast_to(self.points.tank_pressure, around.shape))
        equilibrium = np.maximum(equilibrium, self.points.tank_temperature)
        temperatures = standing_temperatures(plumbing, self.surroundings, self.points, equilibrium)
        most = np.full(np.shape(iterate.gas.displaced), MOST_DISPLACED)
        return Iterate.of(
            temperatures.nodes, temperatures.outlets, iterate.gas._replace(displaced=most), from_above=True
        )

    def mean_temperatures(self, iterate: Iterate) -> LinkArray:
        """Return the mean temperature of each link, (links, points), K."""
        return 0.5 * (iterate.nodes[self.plumbing.upstream_rows] + iterate.outlets)

    def liquids(self, iterate: Iterate, mean: LinkArray, density: LinkArray, before: State | None) -> dict[str, Liquid]:
        """Return what flows in each link: liquid, or a homogeneous mixture where it boils in a line.

        The vapour has the density of an ideal gas at the pressures of the round before.
        """
        plumbing = self.plumbing
        ratio = np.where(plumbing.carries_mixture[:, None], np.expm1(iterate.vapour), 0.0)
        vapour: FloatLike = 0.0
        if before is not None and np.any(ratio > 0.0):
            at_stations = np.stack([np.asarray(before.pressure[name]) for name in plumbing.stations])
            pressure = 0.5 * (at_stations[plumbing.upstream_rows] + at_stations[plumbing.downstream_rows])
            vapour = vapour_density(mean, pressure, VAPOUR_MOLAR_MASS)
        mixed_density = mixture_density(density, vapour, ratio)
        mixed_viscosity = mixture_viscosity(self.tables.viscosity(mean), VAPOUR_VISCOSITY, ratio)
        return {
            link.name: computed_liquid(
                density=mixed_density[row], kinematic_viscosity=mixed_viscosity[row] / mixed_density[row]
            )
            for row, link in enumerate(plumbing.links)
        }

    def update(self, iterate: Iterate, state: State, density: LinkArray) -> CoupledUpdate:
        """Return the temperatures and vapour that follow from the flows and pressures of the network at an iterate."""
        plumbing = self.plumbing
        pressure, mass_flow = (
            {name: np.asarray(values) for name, values in results.items()}
            for results in (state.pressure, state.mass_flow)
        )
        at_stations = np.stack([pressure[name] for name in plumbing.stations])
        at_inlets = at_stations[self.draws.inlets]
        at_pumps = self.gas_ratio(iterate.nodes[self.draws.inlets] - self._superheat[self.draws.inlets], at_inlets)
        operations = self._operations(iterate, state, density, at_pumps)
        mass = np.stack([mass_flow[link.name] for link in plumbing.links])
        standing = np.abs(mass) < np.where(iterate.standing, _LEAST_MOVING_FLOW, _STANDING_FLOW)
        # Where a pot empties it is air that comes in through its overflow.
        standing[plumbing.overflow_rows] |= mass[plumbing.overflow_rows] < 0.0
        tank = self.points.tank_temperature
        temperatures = fuel_temperatures(
            plumbing,
            self.surroundings,
            np.where(standing, 0.0, mass),
            at_stations,
            np.stack([operations[link.name].heat_into_fuel for link in plumbing.pumps]),
            tank,
            self.points.pot_temperatures,
            boiling_at(
                self.tables,
                self.mean_temperatures(iterate),
                0.5 * (at_stations[plumbing.upstream_rows] + at_stations[plumbing.downstream_rows]),
                self.surroundings.temperature,
            ),
        )
        ratio = self.gas_ratio(
            np.concatenate([temperatures.nodes - self._superheat, temperatures.outlets]),
            np.concatenate([at_stations, at_stations[plumbing.downstream_rows]]),
        )
        count = len(plumbing.stations)
        return CoupledUpdate(
            nodes=temperatures.nodes,
            outlets=temperatures.outlets,
            vapour=_mean_vapour(ratio[plumbing.upstream_rows], ratio[count:]),
            drawn_vapour=self._drawn_vapour(iterate, at_stations),
            standing=standing,
            displaced=displaced(at_inlets, *iterate.gas)[0],
            inlet_pressures=at_inlets,
            node_vapour=ratio[:count],
            densities=density,
            operations=operations,
        )

    def _drawn_vapour(self, iterate: Iterate, pressure: NodeArray) -> LinkArray:
        """Return x in the links that pumps draw through at the iterate's temperatures, (links, points); else 0."""
        plumbing, rows = self.plumbing, np.flatnonzero(self.draws.links)
        upstream, downstream = plumbing.upstream_rows[rows], plumbing.downstream_rows[rows]
        ratio = self.gas_ratio(
            np.concatenate([iterate.nodes[upstream] - self._superheat[upstream], iterate.outlets[rows]]),
            np.concatenate([pressure[upstream], pressure[downstream]]),
        )
        drawn = np.zeros(iterate.vapour.shape)
        drawn[rows] = _mean_vapour(*np.split(ratio, 2))
        return drawn

    def _operations(
        self, iterate: Iterate, state: State, density: LinkArray, ratio: FloatArray
    ) -> dict[str, PumpOperation]:
        """Return current, power and heat of each pump with the gas at its inlet."""
        operations = {}
        for row, link in enumerate(self.plumbing.pumps):
            pump = self.pumps[link.name].with_inlet(
                vapour_liquid_ratio=ratio[row], fuel_temperature=iterate.nodes[self.draws.inlets[row]]
            )
            flow = np.asarray(state.mass_flow[link.name]) / density[self.plumbing.pump_rows[row]]
            rise = np.asarray(state.pressure[link.downstream]) - np.asarray(state.pressure[link.upstream])
            operations[link.name] = _operating(pump, flow, rise, np.asarray(state.regime[link.name]))
        return operations

    def following(self, iterate: Iterate, update: CoupledUpdate) -> Iterate:
        """Return the iterate of the next round, with tangents where it and the pressures of this round are."""
        here = self.inlet_gas(iterate.nodes[self.draws.inlets], update.inlet_pressures)
        # Far from the solution less will do: what the tangents leave out makes a step of the temperatures shorter.
        warming = np.abs(update.nodes[self.draws.inlets] - iterate.nodes[self.draws.inlets]).max(axis=0)
        tolerance = np.clip(SETTLING_SHARE * warming, SETTLED, MOST_UNSETTLED)
        drawn = np.abs(update.drawn_vapour - iterate.vapour)[self.draws.links].max(axis=0, initial=0.0)
        settled = np.maximum(dataclasses.replace(iterate, gas=here).gas_error(update), drawn) < tolerance
        following = iterate.next(update, self.draws, settled)
        temperatures, pressures = following.nodes[self.draws.inlets], update.inlet_pressures
        if iterate.rounds == 0 and not iterate.from_above and np.any(here.displaced > 1.0):
            pressures = self._expected_pressures(temperatures, pressures)
        return dataclasses.replace(following, gas=self.inlet_gas(temperatures, pressures))

    def _expected_pressures(self, temperatures: FloatArray, without_gas: FloatArray) -> FloatArray:
        """Return the pressure at each pump's inlet as gas would leave it, from that without gas, (pumps, points), Pa.

        The loss from vessel to inlet goes with the flow to the power of `_LOSS_EXPONENT`. It is where the first
        tangents touch.
        """
        heads = np.array([[self._suction_head(link.upstream)] for link in self.plumbing.pumps])
        still = np.maximum(self.points.tank_pressure + heads * self.tables.density(temperatures), without_gas)

        def above(pressure: FloatArray) -> BoolArray:
            displaced = self._displaced(self.gas_ratio(temperatures - self._superheat[self.draws.inlets], pressure))
            return still - (still - without_gas) * displaced**-_LOSS_EXPONENT > pressure

        return bisect(above, without_gas, still, _BISECTIONS)

    def _suction_head(self, station: str) -> float:
        """Return gravity times the height of a station's vessel above it, m2/s2."""
        heights = self.plumbing.heights
        return GRAVITY * (heights[drawn_from(self.plumbing, station)] - heights[station])


def _mean_vapour(inlet_ratio: LinkArray, outlet_ratio: LinkArray) -> LinkArray:
    """Return x = ln(1 + V/L) of links, the mean of both ends."""
    inlet, outlet = (np.minimum(np.log1p(ratio), MOST_VAPOUR) for ratio in (inlet_ratio, outlet_ratio))
    mean: LinkArray = 0.5 * (inlet + outlet)
    return mean


def _operating(
    pump: RunningPump | ControlledRunningPump, flow: PointArray, rise: PointArray, regime: TextArray
) -> PumpOperation:
    if isinstance(pump, ControlledRunningPump):
        return pump.operating(flow, rise, regime)
    return pump.operating(flow, rise)
