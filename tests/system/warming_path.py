"""The state that a running car reaches as it warms, by its definition: the judge of the coupling.

Speed, load, voltage, altitude and level stay. Tank, air, engine bay, the air under the floor and the engine's metal go
together along a straight line from 15 degC to where they are asked for, in small steps. At each the state is followed
from that of the step before by pseudo-time steps: temperatures and vapour go part of the way to what they would be, and
what each pump displaces is at rest at every moment. Where the path of solutions ends in a fold, the same steps lead to
whatever lies beyond.
"""

from __future__ import annotations

import dataclasses

import numpy as np

import fuelsim as fs
from fuelsim.system.coupled_problem import CoupledProblem
from fuelsim.system.heat_exchange import air_around
from fuelsim.system.operating_points import OperatingPoints
from fuelsim.system.pump_drive import running_pumps, staged_by_demand, staged_by_pressure
from fuelsim.system.run import System
from fuelsim.typing import BoolArray, FloatArray, PointArray

START = 288.15
PSEUDO_TIME_STEP = 0.5
VAPOUR_STEP = 0.15
MOST_STEPS = 600
SETTLED = 1e-3
_WARMED = ("tank_temperature", "air_temperature", "bay_temperature", "underfloor_temperature", "engine_temperature")


def along_the_line(system: System, conditions: fs.Conditions, share: float) -> fs.Conditions:
    """The conditions some way along the line from 15 degC."""
    filled = system.filled(conditions)
    points = filled.points()
    around = air_around(system.car, points["air_temperature"], points["tank_temperature"], points["vehicle_speed"])
    ends = {"bay_temperature": around["bay"], "underfloor_temperature": around["underfloor"], **points}
    warmed = {name: START + share * (ends[name] - START) for name in _WARMED}
    return fs.Conditions(**(points | warmed))


def points_of(system: System, conditions: fs.Conditions) -> OperatingPoints:
    """The operating points of some conditions."""
    return OperatingPoints.of(system.car, system.fuel, system.filled(conditions))


def problem_of(system: System, conditions: fs.Conditions, staged_on: dict[str, BoolArray]) -> CoupledProblem:
    """The problem that the coupling solves at some conditions with some staged pumps running."""
    points, tables = points_of(system, conditions), system.fuel.tables()
    pumps = running_pumps(system.plumbing, tables, points, staged_on)
    return CoupledProblem.of(system.car, system.plumbing, tables, points, pumps)


def flow_at_the_end_of_the_path(system: System, conditions: fs.Conditions, steps: int = 24) -> FloatArray:
    """Mass flow out of the tank at the end of the path, kg/s; NaN where a network had no solution on the way.

    Pumps staged by a pressure run or rest along the whole path as the pressure at its end asks.
    """
    points = points_of(system, conditions)
    staged_on = staged_by_demand(system.plumbing, system.fuel.tables(), points)
    flow, pressure = _end_of_the_path(system, conditions, steps, staged_on)
    for _ in system.plumbing.stages:
        after = staged_by_pressure(system.plumbing, points, pressure, staged_on)
        changed = np.any([after[name] != staged_on[name] for name in after], axis=0)
        if not np.any(changed):
            break
        staged_on = after
        again, pressures = _end_of_the_path(system, conditions, steps, staged_on)
        flow = np.where(changed, again, flow)
        pressure = {name: np.where(changed, pressures[name], pressure[name]) for name in pressure}
    return flow


def _end_of_the_path(
    system: System, conditions: fs.Conditions, steps: int, staged_on: dict[str, BoolArray]
) -> tuple[FloatArray, dict[str, PointArray]]:
    """Mass flow out of the tank, kg/s, and pressures by station, Pa absolute, at the end of the path."""
    iterate = None
    count = len(np.atleast_1d(system.filled(conditions).points()["rpm"]))
    flow, alive = np.full(count, np.nan), np.arange(count)
    pressure = {name: np.full(count, np.nan) for name in system.plumbing.stations}
    for share in np.linspace(0.0, 1.0, steps + 1)[1:]:
        problem = problem_of(system, along_the_line(system, conditions, share), staged_on).take(alive)
        iterate = problem.all_liquid() if iterate is None else iterate
        state, touched = None, None
        for _ in range(MOST_STEPS):
            mean = problem.mean_temperatures(iterate)
            density = problem.tables.density(mean)
            state = problem.network(iterate, state).solve(problem.liquids(iterate, mean, density, state), start=state)
            good = np.flatnonzero(state.outcome.converged)
            if len(good) < len(alive):
                alive, iterate, problem = alive[good], iterate.take(good), problem.take(good)
                touched = None if touched is None else touched[:, good]
                state, density = state.take(good), density[:, good]
                if not len(alive):
                    return flow, pressure
            update = problem.update(iterate, state, density)
            here = problem.inlet_gas(iterate.nodes[problem.draws.inlets], update.inlet_pressures)
            settled = np.abs(np.log(here.displaced / update.displaced)).max(axis=0) < SETTLED
            move = np.where(settled, PSEUDO_TIME_STEP, 0.0)
            moves = np.abs(update.nodes - iterate.nodes).max(axis=0)
            bubbles = np.abs(update.vapour - iterate.vapour).max(axis=0)
            step = np.where(problem.draws.links[:, None], move, VAPOUR_STEP)
            # Tangents half-way between two rounds: pumps that share a line would take the gas from each other in turn.
            now = update.inlet_pressures
            touched = now if touched is None else 0.5 * (touched + now)
            nodes = iterate.nodes + move * (update.nodes - iterate.nodes)
            iterate = dataclasses.replace(
                iterate,
                nodes=nodes,
                outlets=iterate.outlets + move * (update.outlets - iterate.outlets),
                vapour=iterate.vapour + step * (update.vapour - iterate.vapour),
                standing=update.standing,
                gas=problem.inlet_gas(nodes[problem.draws.inlets], touched),
            )
            if np.all(settled & (moves < 1e-3) & (bubbles < 1e-3)):
                break
    flow[alive] = sum(np.asarray(state.mass_flow[link.name]) for link in system.plumbing.supply_links)
    for name, values in pressure.items():
        values[alive] = state.pressure[name]
    return flow, pressure
