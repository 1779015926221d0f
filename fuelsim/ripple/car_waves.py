"""The pressure waves of a car's own plumbing: its lines and rails, with the steady flow of a run as their start."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from fuelsim.arguments import unchecked
from fuelsim.car.car import Car
from fuelsim.car.tables import PlumbedLine
from fuelsim.car.walls import SOFT_WALLS
from fuelsim.constants import L_PER_HOUR
from fuelsim.errors import InputError, nearest
from fuelsim.fuel.fuel import Fuel
from fuelsim.laws.orifice import ORIFICE, OrificeCoefficients
from fuelsim.laws.pump_curve import PUMP_CURVE
from fuelsim.laws.regulator import (
    REDUCING_REGULATOR,
    RETURN_REGULATOR,
    ReducingRegulatorCoefficients,
    ReturnRegulatorCoefficients,
)
from fuelsim.laws.wave_speed import wave_speed
from fuelsim.liquid import Liquid
from fuelsim.network.inputs import LateWall, WaveInputs
from fuelsim.network.network import Network
from fuelsim.network.state import State
from fuelsim.parts.damper import Damper
from fuelsim.parts.filter import Filter
from fuelsim.parts.line import Line
from fuelsim.parts.pump.pump import Pump
from fuelsim.ripple.dynamics import Dynamics
from fuelsim.ripple.injection import Injection, firing_phases
from fuelsim.ripple.rail_nodes import RailNodes, rail_nodes
from fuelsim.system.controller import EngineState
from fuelsim.system.plumbing import MANIFOLD, Plumbing
from fuelsim.system.results import Run
from fuelsim.system.solved_network import solved_network
from fuelsim.typing import FloatArray, IndexArray
from fuelsim.waves.junctions import LinearGroup, LinkGroup, Links, Ports
from fuelsim.waves.moving_parts import RegulatorMotion, RegulatorRatings, RotorMotion, steady_loss
from fuelsim.waves.over_time import OverTime
from fuelsim.waves.transient import Setup, prepare

__all__ = ["CarWaves", "car_waves", "stations_of"]

_CLEAR_OF_BOILING = 0.98
"""Share of the steady pressure above which no vapour pressure is taken: where a run says that fuel boils, the waves
take it as liquid."""
_TYPICAL_SEAT_FLOW = 30.0 * L_PER_HOUR
"""Flow at which a wide-open seat is taken as an orifice, m3/s."""
_FRICTION_EVERY = 4
"""Steps over which the resistances of lines are kept: the flow changes by little within 0.4 ms."""
_SLIGHT = 1e-6
"""Flow of an orifice below which it is laminar, over the typical one (numerical)."""


@dataclass(frozen=True)
class CarWaves:
    """A car's plumbing ready to run at some engine speeds at once.

    Attributes
    ----------
    network : Network
        Lines, rails with their injectors, and what joins them; vessels are reservoirs.
    given : WaveInputs
    setup : Setup
        At the steady flow.
    rails : tuple of RailNodes
    injection : Injection
        Conductance of every injector, in the order of the rails.
    steady : State
        Steady flow, which is the run's.
    delivered : array (injectors, points)
        Steady flow of each injector, m3/s at the density of the waves' liquid.
    boils : tuple of str
        Stations at which the run has vapour, or nearly so.
    """

    network: Network
    given: WaveInputs
    setup: Setup
    rails: tuple[RailNodes, ...]
    injection: Injection
    steady: State
    delivered: FloatArray
    boils: tuple[str, ...]


def points_of(run: Run) -> IndexArray:
    """Return the points of a run at which the engine runs.

    Parameters
    ----------
    run : Run
    """
    states = np.reshape(run.engine_state, -1)
    return np.flatnonzero((states == EngineState.FED) | (states == EngineState.LEAN))


def car_waves(
    run: Run,
    points: IndexArray,
    *,
    dynamics: Dynamics,
    step: float,
    firing_order: Sequence[int] | None,
    dampers: Mapping[str, Damper],
    steady_injectors: bool = False,
    ripple: bool = True,
    joins: Mapping[str, tuple[str, str, Line]] = MappingProxyType({}),
) -> CarWaves:
    """Return the waves of a car at some points of a run.

    Parameters
    ----------
    run : Run
    points : int array
        Numbers of points at which the engine runs.
    dynamics : Dynamics
    step : float
        Greatest time step, s.
    firing_order : sequence of int or None
    dampers : mapping of str to Damper
        Dampers beside those of the car, by station.
    steady_injectors : bool, optional
        Whether all injectors are held partly open in place of pulsing.
    ripple : bool, optional
        Whether the pumps' flow ripples.
    joins : mapping of str to tuple of str, str, Line, optional
        Lines between two stations each that the car has not.
    """
    car, plumbing, fuel, _, _ = run.solved
    if not isinstance(fuel, Fuel):
        raise InputError("a list of fuels", accepted="a car with one fuel")
    made = solved_network(run, points)
    counts = {rail.name: rail.injectors.part.count for rail in plumbing.planned_rails}
    rails = tuple(rail_nodes(car, plumbing, rail, counts[rail.name]) for rail in plumbing.planned_rails)
    net, links_of_liquid = _network(made.network, plumbing, run, points, rails)
    for name, (up, down, line) in joins.items():
        net.connect(up, down, line, name=name)
        links_of_liquid[name] = plumbing.planned_rails[0].bores[0].name
    liquids = {name: made.liquids[own] for name, own in links_of_liquid.items()}
    rows = {link.name: row for row, link in enumerate(plumbing.links)}
    warm = {name: float(made.temperature[rows[own]].mean()) for name, own in links_of_liquid.items()}
    first = liquids[rails[0].links[0]]
    density = float(np.mean(first.density))
    liquid = Liquid(density=density, kinematic_viscosity=float(np.mean(first.kinematic_viscosity)))
    draws, per_injector = {}, []
    for rail, planned in zip(rails, plumbing.planned_rails, strict=True):
        each = np.reshape(run.as_solved.mass_flow[planned.injectors.name], -1)[points] / len(rail.injectors)
        for node in rail.injectors:
            draws[node] = each
            per_injector.append(each / density)
    steady = unchecked(net.solve)(liquids, mass_draw=draws, raise_on_failure=True)
    speeds, late = _walls(net, plumbing, rails, fuel, warm, dynamics)
    floor, boils = _vapour_pressures(net, plumbing, rails, fuel, run, points, steady)
    given = WaveInputs(
        liquid,
        _ripple(net, liquid, steady, dynamics) if ripple else {},
        _elastic(net, car, plumbing, dynamics, fuel, warm, dampers),
        density * float(np.mean(list(speeds.values()))) ** 2,
        None,
        speeds,
        "quasi-steady",
        vapour_pressure=0.0,
        step=step,
        liquids=liquids,
        vapour_pressures=floor,
        late_walls=late,
    )
    setup = prepare(net, given, steady)
    setup.sweep.friction_every = _FRICTION_EVERY
    delivered = np.stack(per_injector)
    injection = _ports(setup, net, run, plumbing, rails, points, delivered, firing_order, steady_injectors, density)
    _move(setup, net, steady, dynamics)
    setup = replace(setup, boundaries=replace(setup.boundaries, conductance=injection))
    return CarWaves(net, given, setup, rails, injection, steady, delivered, boils)


def stations_of(waves: CarWaves) -> tuple[str, ...]:
    """Return the stations of a network of waves that are no vessels."""
    return tuple(waves.network.nodes)


def _network(
    solved: Network, plumbing: Plumbing, run: Run, points: IndexArray, rails: Sequence[RailNodes]
) -> tuple[Network, dict[str, str]]:
    """Return the network of lines and rails, and for each of its links the one of the run whose liquid is in it."""
    net = Network(solved.atmospheric_pressure)
    for name, reservoir in solved.reservoirs.items():
        net.add_reservoir(name, reservoir.pressure, height=reservoir.height)
    for pot in plumbing.pots:
        pressure = np.reshape(run.as_solved.pressure[pot], -1)[points]
        net.add_reservoir(pot, pressure, height=plumbing.heights[pot])
    replaced = {link.name for rail in plumbing.planned_rails for link in (*rail.bores, rail.injectors)}
    kept = {name: link for name, link in solved.links.items() if name not in replaced}
    beside: dict[str, list[str]] = {}
    for name, link in kept.items():
        for end in (link.up, link.down):
            beside.setdefault(end, []).append(name)
    reached = {node for rail in rails for node in rail.nodes}
    waiting = list(reached)
    used: set[str] = set()
    while waiting:
        for name in beside.get(waiting.pop(), []):
            used.add(name)
            for end in (kept[name].up, kept[name].down):
                if end not in reached and end not in net.reservoirs:
                    reached.add(end)
                    waiting.append(end)
    heights = dict(plumbing.heights)
    for rail in rails:
        heights |= {node: heights[rail.name] for node in rail.nodes if node not in heights}
    for name in (*plumbing.stations, *(node for rail in rails for node in rail.nodes)):
        if name in reached and name not in net.nodes:
            net.add_node(name, height=heights[name])
    own = {}
    for name, link in kept.items():
        if name in used:
            net.connect(link.up, link.down, link.part, name=name, reference=link.reference)
            own[name] = name
    for rail, planned in zip(rails, plumbing.planned_rails, strict=True):
        for name, up, down, part in zip(rail.links, rail.nodes, rail.nodes[1:], rail.segments, strict=False):
            net.connect(up, down, part, name=name)
            own[name] = planned.bores[0].name
    joined = {end for link in net.links.values() for end in (link.up, link.down, link.reference)}
    for name in [name for name in net.reservoirs if name not in joined and name != MANIFOLD]:
        del net.reservoirs[name]
    return net, own


def _walls(
    net: Network,
    plumbing: Plumbing,
    rails: Sequence[RailNodes],
    fuel: Fuel,
    warm: Mapping[str, float],
    dynamics: Dynamics,
) -> tuple[dict[str, float], dict[str, LateWall]]:
    """Return the wave speed of each line at once, m/s, and what of the walls of hoses comes late."""
    speeds, late = {}, {}
    of_rail = {name: rail for rail in rails for name in rail.links}
    planned = {link.name: link for link in plumbing.links}
    for name, link in net.links.items():
        if not isinstance(link.part, Line):
            continue
        density = float(fuel.liquid(warm[name]).density)
        bulk_modulus = density * float(fuel.sound_speed(warm[name])) ** 2
        part = planned[name].part if name in planned else link.part
        compliance = of_rail[name].compliance if name in of_rail else 0.0
        if isinstance(part, PlumbedLine):
            compliance = float(np.mean(part.wall_compliance))
        # A rail gives way by its rubber pieces, which damp as hoses do.
        soft = part.material in SOFT_WALLS if isinstance(part, PlumbedLine) else name in of_rail
        if soft and dynamics.wall_damping > 0.0:
            late[name] = unchecked(dynamics.late_wall)(compliance)
            compliance -= late[name].compliance
        speeds[name] = float(wave_speed(density, bulk_modulus, compliance))
    return speeds, late


def _vapour_pressures(
    net: Network,
    plumbing: Plumbing,
    rails: Sequence[RailNodes],
    fuel: Fuel,
    run: Run,
    points: IndexArray,
    steady: State,
) -> tuple[dict[str, float], tuple[str, ...]]:
    """Return the vapour pressure at each station, Pa, and the stations at which the steady flow is not clear of it."""
    station = {node: rail.name for rail in rails for node in rail.nodes}
    floor, boils = {}, []
    for name in net.nodes:
        at = name if name in plumbing.stations else station[name]
        temperature = float(run.as_solved.temperature[at][points].mean())
        bubble = float(fuel.bubble_pressure(temperature))
        least = _CLEAR_OF_BOILING * float(np.min(steady.pressure[name]))
        if bubble > least:
            boils.append(name)
        floor[name] = min(bubble, least)
    return floor | dict.fromkeys(net.reservoirs, 0.0), tuple(boils)


def _elastic(
    net: Network,
    car: Car,
    plumbing: Plumbing,
    dynamics: Dynamics,
    fuel: Fuel,
    warm: Mapping[str, float],
    dampers: Mapping[str, Damper],
) -> dict[str, Damper]:
    """Return what takes in fuel at each station: dampers of the car and others, housings of filters and pumps."""
    compliance: dict[str, float] = {}

    def add(station: str, value: float) -> None:
        if station in net.nodes:
            compliance[station] = compliance.get(station, 0.0) + value

    for table, part in plumbing.attached.items():
        if isinstance(part, Damper):
            rail = table.partition(".")[2] or plumbing.rails[0]
            add(rail, part.compliance)
    for name, damper in dampers.items():
        known = plumbing.also_named.get(name, name)
        if known not in net.nodes:
            raise InputError("no station for a damper", given=name, accepted=nearest(name, net.nodes), key="dampers")
        add(known, damper.compliance)
    suction = {link.name for link in plumbing.strainers}
    for link in plumbing.links:
        if link.name not in net.links:
            continue
        density = float(fuel.liquid(warm[link.name]).density)
        per_volume = 1.0 / (density * float(fuel.sound_speed(warm[link.name])) ** 2)
        if isinstance(link.part, Filter) and link.name not in suction:
            add(link.upstream, 0.5 * dynamics.filter_volume * per_volume)
            add(link.downstream, 0.5 * dynamics.filter_volume * per_volume)
        elif isinstance(link.part, Pump):
            add(link.upstream, 0.5 * dynamics.pump_volume * per_volume)
            add(link.downstream, dynamics.pump_volume * per_volume)
    return {name: _damper(value) for name, value in compliance.items() if value > 0.0}


def _damper(compliance: float) -> Damper:
    return Damper(stored_volume=max(1e-10, min(1e-3, compliance * 1e5)), pressure_rise=1e5)


def _ripple(net: Network, liquid: Liquid, steady: State, dynamics: Dynamics) -> dict[str, OverTime]:
    """Return what the pumps' flows add to their means, as draws at their ends."""
    draws: dict[str, list[tuple[float, FloatArray]]] = {}
    for name, link in net.links.items():
        if link.part.law.name.startswith("pump"):
            swing = 0.5 * float(dynamics.pump_ripple) * np.atleast_1d(steady.mass_flow[name]) / float(liquid.density)
            draws.setdefault(link.up, []).append((1.0, swing))
            draws.setdefault(link.down, []).append((-1.0, swing))
    angular = 2.0 * np.pi * float(dynamics.ripple_frequency)

    def over_time(parts: list[tuple[float, FloatArray]]) -> OverTime:
        def ripple(time: FloatArray) -> FloatArray:
            phases = [np.sin(angular * np.reshape(time, (-1, 1)) + number) for number in range(len(parts))]
            terms = [sign * swing * phase for (sign, swing), phase in zip(parts, phases, strict=True)]
            return np.asarray(np.sum(terms, axis=0), dtype=float)

        return ripple

    return {name: over_time(parts) for name, parts in draws.items() if name in net.nodes}


def _ports(
    setup: Setup,
    net: Network,
    run: Run,
    plumbing: Plumbing,
    rails: Sequence[RailNodes],
    points: IndexArray,
    delivered: FloatArray,
    firing_order: Sequence[int] | None,
    steady_injectors: bool,
    density: float,
) -> Injection:
    """Add the injectors to the nodes and return what they do."""
    node_of, rows = net.elements.numbers(), []
    head = setup.node_head
    for rail in rails:
        rows += [node_of[node] for node in rail.injectors]
    node = np.array(rows, dtype=np.intp)
    into = np.full(len(node), node_of[MANIFOLD], dtype=np.intp)
    setup.nodes.add_ports(Ports(node, into, head[node] - head[into]))
    pressure = setup.nodes.pressure
    push = pressure[node] - pressure[into] - (head[node] - head[into])
    conductance = []
    for rail, planned in zip(rails, plumbing.planned_rails, strict=True):
        own = planned.injectors.part
        fuel_density = np.reshape(run.as_solved.density[planned.injectors.name], -1)[points]
        # All of a rail at 100 kPa; liquid is counted at the density of the waves.
        all_open = unchecked(own.static_volume_flow)(1e5, fuel_density) / np.sqrt(1e5)
        conductance += [np.broadcast_to(all_open * fuel_density / density / own.count, push.shape[1:])] * len(
            rail.injectors
        )
    open_conductance = np.stack(conductance)
    fraction = np.clip(delivered / (open_conductance * np.sqrt(np.maximum(push, 1.0))), 0.0, 1.0)
    part = plumbing.planned_rails[0].injectors.part
    rpm = np.reshape(np.broadcast_to(run.conditions.rpm, run.conditions.shape), -1)[points]
    window = 120.0 / np.maximum(rpm, 1.0) / part.injections_per_cycle
    phase = firing_phases(len(node), firing_order, part.injections_per_cycle)
    per_cycle, step = part.injections_per_cycle, setup.grid.step
    return Injection(phase, window, fraction, open_conductance, per_cycle, step, steady_injectors)


def _move(setup: Setup, net: Network, steady: State, dynamics: Dynamics) -> None:
    """Put regulators with mass and pumps with rotors in the place of steady ones."""
    nodes, step = setup.nodes, setup.grid.step
    links = nodes.links
    groups: list[LinkGroup | LinearGroup] = []
    moving, ratings, excess, rotors = [], [], [], []
    for group in links.groups:
        if isinstance(group, LinearGroup):
            groups.append(group)
            continue
        flow = nodes.flow[group.rows]
        if group.law is PUMP_CURVE:
            _, slope = steady_loss(group, flow)
            linear = LinearGroup(group.rows, slope / (1.0 - float(dynamics.rotor_share)), np.zeros_like(flow))
            linear.source[:] = linear.resistance * flow - steady_loss(group, flow)[0]
            rotors.append(RotorMotion(group, linear, flow, float(dynamics.rotor_time), step))
            groups.append(linear)
        elif group.law in (RETURN_REGULATOR, REDUCING_REGULATOR):
            own = _regulator_ratings(group, nodes.pressure, links, flow)
            ratings.append(own)
            excess.append(np.maximum(own.droop * flow, 0.0))
            moving += list(range(group.rows.start, group.rows.stop))
            seat = OrificeCoefficients(
                own.most_conductance**-2.0, np.full_like(own.most_conductance, _SLIGHT * _TYPICAL_SEAT_FLOW)
            )
            groups.append(LinkGroup(ORIFICE, seat, group.rows))
        else:
            groups.append(group)
    regulators = None
    if moving:
        together = RegulatorRatings(
            *(
                np.concatenate([np.broadcast_to(part, (len(part), nodes.flow.shape[1])) for part in parts])
                for parts in zip(*(vars(own).values() for own in ratings), strict=True)
            )
        )
        regulators = RegulatorMotion(
            np.array(moving, dtype=np.intp),
            together,
            np.concatenate(excess),
            float(dynamics.regulator_frequency),
            float(dynamics.regulator_damping),
            float(dynamics.swept_volume) / 1e5,
            step,
        )
    nodes.move(groups, regulators, rotors)


def _regulator_ratings(group: LinkGroup, pressure: FloatArray, links: Links, flow: FloatArray) -> RegulatorRatings:
    """Return the ratings of regulators of one law, in flows as the network counts them."""
    own, scale = group.coefficients, np.asarray(group.scale)
    if not isinstance(own, (ReturnRegulatorCoefficients, ReducingRegulatorCoefficients)):
        raise TypeError(f"{group.law.name} is no regulator")
    reducing = isinstance(own, ReducingRegulatorCoefficients)
    coupling = np.zeros((1, 1)) if isinstance(own, ReducingRegulatorCoefficients) else own.back_pressure_coupling
    at_typical = np.asarray(own.open_quadratic) + np.asarray(own.open_linear) / _TYPICAL_SEAT_FLOW
    conductance = 1.0 / np.sqrt(at_typical) / scale
    rows = group.rows
    difference = (pressure[links.up] - links.up_head)[rows] - (pressure[links.down] - links.down_head)[rows]
    # One that stands wide open passes what it passes.
    conductance = np.maximum(conductance, np.maximum(flow, 0.0) / np.sqrt(np.maximum(difference, 1.0)))
    shape = conductance.shape
    return RegulatorRatings(
        np.broadcast_to(own.set_pressure, shape),
        np.broadcast_to(own.droop * scale, shape),
        np.broadcast_to(coupling, shape),
        conductance,
        np.where(flow > 0.0, np.maximum(difference, 1.0), own.set_pressure),
        np.full(shape, reducing),
    )
