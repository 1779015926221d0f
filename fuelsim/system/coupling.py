"""The coupling: network, heat and vapour of many operating points made to agree.

Each round solves the network with the present temperatures and vapour, carries heat along the flow, and asks the fuel
how much vapour there is where; `fixed_point` says how the next round starts. Points that have converged leave the
batch.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim.car.rating_lists import taken
from fuelsim.laws.liquid import Liquid
from fuelsim.laws.two_phase import VAPOUR_VISCOSITY, mixture_density, mixture_viscosity
from fuelsim.network.network import Network
from fuelsim.outcome import Outcome, OutcomeCode
from fuelsim.system.exchange import heat_links, surround
from fuelsim.system.fixed_point import MOST_VAPOUR, Answer, Guess
from fuelsim.system.gas import gas_liquid_ratio
from fuelsim.system.heat import node_temperatures
from fuelsim.system.layouts import Plumbing

if TYPE_CHECKING:
    from fuelsim.car.car import Car
    from fuelsim.fuel.tables import FuelTables
    from fuelsim.network.state import State
    from fuelsim.parts.pump.running_pump import PumpOperation, RunningPump

__all__ = ["CoupledSolution", "couple"]

ROUNDS = 60
"""Greatest number of rounds; without vapour 2 or 3 are enough."""
UNSETTLED = (
    "temperature and vapour did not settle; the fuel is far above its boiling point: cool it or raise the pressure"
)
_RESIDUALS = ("pressure_residual", "flow_residual", "mass_residual")


@dataclass(frozen=True)
class CoupledSolution:
    """Everything that stands at each operating point; every array is (points,), NaN where the point failed.

    Attributes
    ----------
    pressure : dict of str to array
        Node pressure, Pa absolute.
    temperature : dict of str to array
        Node temperature as if all liquid, K.
    outlet_temperature : dict of str to array
        Temperature at the end of each link, K.
    mass_flow : dict of str to array
        kg/s.
    density : dict of str to array
        Liquid density in each link, kg/m3.
    vapour_liquid_ratio : dict of str to array
        At each node, after an isenthalpic drop from the all-liquid state.
    regime : dict of str to array
        Words.
    pump : object
        Current, terminal voltage and powers of the pump.
    outcome : Outcome
        Worst of network and coupling.
    """

    pressure: dict[str, Any]
    temperature: dict[str, Any]
    outlet_temperature: dict[str, Any]
    mass_flow: dict[str, Any]
    density: dict[str, Any]
    vapour_liquid_ratio: dict[str, Any]
    regime: dict[str, Any]
    pump: dict[str, Any]
    outcome: Outcome


def couple(car: Car, plumbing: Plumbing, tables: FuelTables, points: Mapping[str, Any]) -> CoupledSolution:
    """Solve network, heat and vapour together at every operating point.

    Parameters
    ----------
    car, plumbing : Car, Plumbing
        The car and its layout; ratings that are lists are (points,).
    tables : FuelTables
        Property tables of the fuel.
    points : mapping of str to array (points,)
        What stands in `Conditions`, all filled in, with ``atmospheric_pressure``, ``manifold_pressure``,
        ``fuel_mass_flow`` and ``pump_speed`` (rpm, of a speed-controlled pump), SI; ``bay_temperature`` and
        ``underfloor_temperature`` may be left out.

    Returns
    -------
    CoupledSolution
    """
    count = len(points["tank_temperature"])
    store = _Store(plumbing, count)
    active = np.arange(count)
    surrounded = dict(points) | surround(car, plumbing, points)
    problem = _Problem(car, plumbing, tables, surrounded, _running_pump(car, tables, points))
    guess = Guess.cold(store.nodes, store.links, points["tank_temperature"])
    start: State | None = None
    for number in range(1, ROUNDS + 1):
        mean = problem.mean_temperatures(guess)
        density = problem.tables.density(mean)
        state = problem.network(guess).solve(problem.liquids(guess, mean, density), start=start)
        solved = state.outcome.converged
        if not np.all(solved):
            store.fail(active[~solved], number, state.take(np.flatnonzero(~solved)).outcome)
            staying = np.flatnonzero(solved)
            if not staying.size:
                break
            active, guess = active[staying], guess.take(staying)
            problem, state, density = problem.take(staying), state.take(staying), density[:, staying]
        answer = problem.answer(state, density)
        still = guess.agrees(answer)
        leaving = still | (number == ROUNDS)
        store.write(active, leaving, still, number, state, answer)
        if np.all(leaving):
            break
        staying = np.flatnonzero(~leaving)
        active = active[staying]
        guess = guess.moved(answer).take(staying)
        problem = problem.take(staying)
        start = state.take(staying)
    return store.solution()


def _running_pump(car: Car, tables: FuelTables, points: Mapping[str, Any]) -> RunningPump:
    """Return the pump at every operating point; points with the same supply and wire share one computed curve."""
    drive = np.stack(
        np.broadcast_arrays(points["supply_voltage"], car.wire.resistance, points["pump_duty"], points["pump_speed"])
    )
    kinds, which = np.unique(drive, axis=1, return_inverse=True)
    speed = None if car.pump.speed is None else kinds[3]
    density = float(tables.density(293.15))
    pump = car.pump.at(
        supply_voltage=kinds[0], wire_resistance=kinds[1], duty=kinds[2], speed=speed, fuel_density=density
    )
    return dataclasses.replace(pump.take(which.reshape(-1)), wear=points["pump_wear"])


@dataclass(frozen=True)
class _Answer(Answer):
    """The answer of a round with what is stored of it."""

    node_vapour: dict[str, Any]
    densities: dict[str, Any]
    operation: PumpOperation


@dataclass(frozen=True)
class _Problem:
    """One layout at a batch of operating points."""

    car: Car
    plumbing: Plumbing
    tables: FuelTables
    points: dict[str, Any]
    pump: RunningPump

    def take(self, index: Any) -> _Problem:
        """Return the problem of some points only."""
        points = {name: value[index] for name, value in self.points.items()}
        car, plumbing = taken(self.car, index), taken(self.plumbing, index)
        return _Problem(car, plumbing, self.tables, points, self.pump.take(index))

    def network(self, guess: Guess) -> Network:
        """Return the network with the pump and injectors of these points."""
        points, car = self.points, self.car
        net = Network(atmospheric_pressure=points["atmospheric_pressure"])
        heights = self.plumbing.heights
        tank = points["atmospheric_pressure"] + points["vapour_space_pressure"]
        net.add_reservoir("tank", pressure=tank, height=heights["tank"])
        net.add_reservoir("manifold", pressure=points["manifold_pressure"], height=heights["manifold"])
        for name, height in heights.items():
            if name not in ("tank", "manifold"):
                net.add_node(name, height=height)
        running = self.pump.with_inlet(
            vapour_liquid_ratio=np.expm1(guess.inlet_vapour), fuel_temperature=guess.nodes["pump_inlet"]
        )
        rail = [link.name for link in self.plumbing.links].index("rail_bore")
        injectors = dataclasses.replace(
            car.injectors,
            mass_demand=points["fuel_mass_flow"],
            vapour_liquid_ratio=np.expm1(guess.link_vapour[rail]),
        )
        parts = {"pump": running, "injectors": injectors}
        for link in self.plumbing.links:
            reference = None if link.reference in (None, "atmosphere") else link.reference
            part = parts.get(link.name, link.part)
            net.connect(link.upstream, link.downstream, part, name=link.name, reference=reference)
        return net

    def mean_temperatures(self, guess: Guess) -> Any:
        """Return the mean temperature of each link, (links, points), K."""
        return np.stack([0.5 * (guess.nodes[link.upstream] + guess.outlets[link.name]) for link in self.plumbing.links])

    def liquids(self, guess: Guess, mean: Any, density: Any) -> dict[str, Liquid]:
        """Return what flows in each link: liquid, or a homogeneous mixture where it boils in a line.

        The vapour's own mass, below a percent, is left out of the mixture's density.
        """
        # Pump, regulator and injectors answer vapour in their own way.
        lines = [link.name not in ("pump", "regulator", "injectors") for link in self.plumbing.links]
        ratio = np.where(np.array(lines)[:, None], np.expm1(guess.link_vapour), 0.0)
        mixed_density = mixture_density(density, 0.0, ratio)
        mixed_viscosity = mixture_viscosity(self.tables.viscosity(mean), VAPOUR_VISCOSITY, ratio)
        return {
            link.name: Liquid(density=mixed_density[row], kinematic_viscosity=mixed_viscosity[row] / mixed_density[row])
            for row, link in enumerate(self.plumbing.links)
        }

    def answer(self, state: State, density: Any) -> _Answer:
        """Return the temperatures and vapour that follow from the flows and pressures of a solved network."""
        links, tables = self.plumbing.links, self.tables
        pressure = dict(state.pressure)
        densities = dict(zip((link.name for link in links), density, strict=True))
        rise = pressure["pump_outlet"] - pressure["pump_inlet"]
        pump_mass = state.mass_flow["pump"]
        operation = self.pump.operating(pump_mass / densities["pump"], rise)
        nodes, outlets = self._temperatures(state, pressure, operation)
        names = list(nodes)
        ends = np.stack([nodes[name] for name in names] + [outlets[link.name] for link in links])
        there = np.stack([pressure[name] for name in names] + [pressure[link.downstream] for link in links])
        points = self.points
        ratio = gas_liquid_ratio(
            tables,
            ends,
            there,
            tank_temperature=points["tank_temperature"],
            tank_pressure=pressure["tank"],
            released_air=self.car.tank.released_air,
        )
        logarithm = np.minimum(np.log1p(ratio), MOST_VAPOUR)
        count = len(names)
        node_vapour = dict(zip(names, ratio[:count], strict=True))
        at_inlet = logarithm[names.index("pump_inlet")]
        upstream = logarithm[[names.index(link.upstream) for link in links]]
        return _Answer(
            nodes=nodes,
            outlets=outlets,
            vapour=np.concatenate([at_inlet[None], 0.5 * (upstream + logarithm[count:])]),
            node_vapour=node_vapour,
            densities=densities,
            operation=operation,
        )

    def _temperatures(
        self, state: State, pressure: dict[str, Any], operation: PumpOperation
    ) -> tuple[dict[str, Any], dict[str, Any]]:
        tank = self.points["tank_temperature"]
        links = heat_links(self.plumbing, self.tables, self.points, state.mass_flow, pressure, operation.heat_into_fuel)
        return node_temperatures(links, {"tank": tank}, self.tables.heat_capacity(tank), still=tank)


class _Store:
    """Collects the points as they leave the batch."""

    def __init__(self, plumbing: Plumbing, count: int) -> None:
        self.links = [link.name for link in plumbing.links]
        self.nodes = list(dict.fromkeys(node for link in plumbing.links for node in (link.upstream, link.downstream)))
        columns = dict.fromkeys(("pressure", "temperature", "vapour_liquid_ratio"), self.nodes)
        columns |= dict.fromkeys(("outlet_temperature", "mass_flow", "density"), self.links)
        columns["pump"] = ["current", "terminal_voltage", "electrical_power"]
        self._numbers = {group: {name: np.full(count, np.nan) for name in names} for group, names in columns.items()}
        self._regime = {name: np.full(count, "unsolved", dtype=object) for name in self.links}
        self._code = np.full(count, OutcomeCode.NOT_CONVERGED, dtype=int)
        self._iterations = np.zeros(count, dtype=int)
        self._residuals = {name: np.full(count, np.nan) for name in _RESIDUALS}
        self._worst = np.full(count, "", dtype=object)
        self._reason = np.full(count, "", dtype=object)

    def fail(self, where: Any, number: int, outcome: Outcome) -> None:
        """Write what became of points that the network could not solve; their results stay NaN."""
        self._code[where], self._reason[where] = outcome.code, outcome.reason
        self._worst[where], self._iterations[where] = outcome.worst_part, number
        for name, column in self._residuals.items():
            column[where] = getattr(outcome, name)

    def write(self, active: Any, leaving: Any, still: Any, number: int, state: State, answer: _Answer) -> None:
        """Write the results of the points that leave; those that do not stand still are NaN."""
        where = active[leaving]
        groups = {
            "pressure": dict(state.pressure),
            "temperature": answer.nodes,
            "outlet_temperature": answer.outlets,
            "mass_flow": dict(state.mass_flow),
            "density": answer.densities,
            "vapour_liquid_ratio": answer.node_vapour,
            "pump": vars(answer.operation),
        }
        for group, columns in self._numbers.items():
            for name, column in columns.items():
                column[where] = np.where(still, groups[group][name], np.nan)[leaving]
        outcome = state.outcome
        for name, column in self._regime.items():
            column[where] = np.where(still, state.regime[name], "unsolved")[leaving]
        stuck = ~still
        code = np.where(stuck, int(OutcomeCode.NOT_CONVERGED), outcome.code)
        reason = np.where(stuck, UNSETTLED, outcome.reason)
        self._code[where] = code[leaving]
        self._reason[where] = reason[leaving]
        self._worst[where] = np.where(stuck, "pump", outcome.worst_part)[leaving]
        self._iterations[where] = number
        for name, column in self._residuals.items():
            column[where] = getattr(outcome, name)[leaving]

    def solution(self) -> CoupledSolution:
        """Return everything collected."""
        outcome = Outcome(
            code=self._code,
            iterations=self._iterations,
            worst_part=self._worst,
            reason=self._reason,
            **self._residuals,
        )
        return CoupledSolution(regime=self._regime, outcome=outcome, **self._numbers)
