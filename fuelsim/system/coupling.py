"""The coupling: network, heat and vapour of many operating points made to agree.

Each round solves the network with the present temperatures and vapour, carries heat along the flow, and asks the fuel
how much vapour there is where; `fixed_point` says how the next round starts, and which solution the rounds come to.
Points that have converged leave the batch.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from fuelsim.arguments import unchecked
from fuelsim.car.car import Car
from fuelsim.fuel.tables import FuelTables
from fuelsim.network.state import State
from fuelsim.system.collected import Collected, CoupledSolution
from fuelsim.system.coupled_problem import CoupledProblem
from fuelsim.system.fixed_point import Iterate
from fuelsim.system.operating_points import OperatingPoints
from fuelsim.system.plumbing import Plumbing
from fuelsim.system.pump_drive import running_pumps, staged_by_demand, staged_by_pressure
from fuelsim.typing import IndexArray

__all__ = ["couple"]

ROUNDS = 200
"""Greatest number of rounds; without vapour 2 or 3 are enough, and near a fold some tens."""

LEFT_SHARE, MOST_LEFT = 0.2, 200
"""Share and number of points that have converged above which a batch is made smaller."""
STARVING_ROUNDS = 15
"""Rounds after which the pumps need settle only, where the engine gets far too little fuel to run."""


def couple(
    car: Car, plumbing: Plumbing, tables: FuelTables, points: OperatingPoints, *, from_above: bool = False
) -> CoupledSolution:
    """Solve network, heat and vapour together at every operating point.

    Parameters
    ----------
    car, plumbing : Car, Plumbing
        The car and its plumbing; ratings that are lists are (points,).
    tables : FuelTables
        Property tables of the fuel.
    points : OperatingPoints
    from_above : bool, optional
        Whether to come from pumps that gas has stopped to the solution of least flow, in place of the one that a
        running car reaches as it warms.

    Returns
    -------
    CoupledSolution
    """
    solved = Collected(plumbing, len(points))
    staged_on = staged_by_demand(plumbing, tables, points)
    problem = CoupledProblem.of(car, plumbing, tables, points, running_pumps(plumbing, tables, points, staged_on))
    _solve(problem, np.arange(len(points)), solved, from_above)
    for _ in plumbing.stages:
        after = staged_by_pressure(plumbing, points, solved.pressure, staged_on)
        changed = np.flatnonzero(np.any([after[name] != staged_on[name] for name in after], axis=0))
        if not changed.size:
            break
        staged_on = after
        problem = dataclasses.replace(problem, pumps=running_pumps(plumbing, tables, points, staged_on))
        solved.clear(changed)
        _solve(problem.take(changed), changed, solved, from_above)
    after = staged_by_pressure(plumbing, points, solved.pressure, staged_on)
    return solved.solution({name: after[name] != staged_on[name] for name in after})


def _solve(problem: CoupledProblem, active: IndexArray, solved: Collected, from_above: bool) -> None:
    """Solve a problem, whose points are those of some numbers, and collect what comes out."""
    iterate: Iterate = problem.standing() if from_above else problem.all_liquid()
    start: State | None = None
    pending = np.ones(len(active), dtype=bool)
    for number in range(1, ROUNDS + 1):
        mean = problem.mean_temperatures(iterate)
        density = problem.tables.density(mean)
        state = unchecked(problem.network(iterate, start).solve)(
            problem.liquids(iterate, mean, density, start), start=start
        )
        flowing = state.outcome.converged
        if not np.all(flowing):
            failed = pending & ~flowing
            solved.store_failed(active[failed], number, unchecked(state.take)(np.flatnonzero(failed)).outcome)
            staying = np.flatnonzero(pending & flowing)
            if not staying.size:
                break
            active, iterate, pending = active[staying], iterate.take(staying), pending[staying]
            problem, state, density = problem.take(staying), unchecked(state.take)(staying), density[:, staying]
            start = None if start is None else unchecked(start.take)(staying)
        update = problem.update(iterate, state, density)
        following = problem.following(iterate, update)
        converged = iterate.converged(update, following) & problem.jets_converged(start, state)
        if number > STARVING_ROUNDS:
            # An engine that gets next to nothing is stopped, whatever becomes of the vapour in its rails.
            converged |= iterate.pumps_converged(update, following) & problem.starved(state)
        leaving = pending & (converged | (number == ROUNDS))
        solved.store(active, leaving, converged, number, state, update)
        pending &= ~leaving
        if not np.any(pending):
            break
        iterate, start = following, state
        staying = np.flatnonzero(pending)
        # A few points that have left cost less than a smaller batch takes to make.
        if len(pending) - len(staying) > min(MOST_LEFT, LEFT_SHARE * len(pending)):
            active, iterate, pending = active[staying], iterate.take(staying), pending[staying]
            problem, start = problem.take(staying), unchecked(start.take)(staying)
