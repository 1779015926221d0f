"""What is done for points on which plain Newton steps did not end: damped steps, a neighbour's solution, continuation.

A step is halved until either the residual falls, or the projection of the residual on the step has fallen to half.
The first alone gets stuck at the kinks of regulators and check valves; the second follows the slope of the content
function, whose minimum is the solution wherever no law looks at a third node.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from fuelsim.network.solver.equations import Batch
from fuelsim.network.solver.newton import AIM, Solution, Step, look, newton_step, typical_start

__all__ = ["rescue"]

_DAMPED_STEPS = 80
_HALVINGS = 14
_RESISTANCES = (1e11, 1e10, 1e9, 1e8, 1e7, 1e6)
"""Resistances added to every chain on the way of a continuation, Pa s/m3; 1e10 is 28 kPa at 10 L/h."""


def rescue(batch: Batch, solution: Solution, failed: Any) -> Any:
    """Try the failed points of a batch again, harder each time; return those that still fail.

    Parameters
    ----------
    batch : Batch
        The whole batch.
    solution : Solution
        Receives every point that converges.
    failed : int array
        Places of the points to try.

    Returns
    -------
    int array
        Places of the points that still fail.
    """
    some = batch.points(failed, failed.size)
    failed = _damped(some, *typical_start(some), solution, failed)
    solved = np.flatnonzero(solution.converged)
    if failed.size and solved.size:
        nearest = solved[np.abs(solved[:, None] - failed[None, :]).argmin(axis=0)]
        some = batch.points(failed, failed.size)
        pressure = some.all_pressures(solution.pressure[:, nearest])
        failed = _damped(some, solution.flow[:, nearest], pressure, solution, failed)
    if failed.size:
        failed = _continued(batch.points(failed, failed.size), solution, failed)
    return failed


def _continued(batch: Batch, solution: Solution, at: Any) -> Any:
    """Solve with a large resistance added to every chain, and take it away by and by; return what still fails.

    A point that does not solve at one resistance goes on to the next from where it last did.
    """
    flow, pressure = typical_start(batch)
    for resistance in _RESISTANCES:
        on_the_way = Solution.empty(batch)
        easier = replace(batch, added_resistance=resistance)
        _damped(easier, flow, pressure, on_the_way, np.arange(batch.size))
        solution.iterations[at] += on_the_way.iterations
        found = np.flatnonzero(on_the_way.converged)
        flow[:, found] = on_the_way.flow[:, found]
        pressure[: len(on_the_way.pressure), found] = on_the_way.pressure[:, found]
    return _damped(batch, flow, pressure, solution, at)


def _damped(batch: Batch, flow: Any, pressure: Any, solution: Solution, at: Any) -> Any:
    """Take damped Newton steps; return the places of the points that did not converge."""
    size = len(batch.plan.contraction.kept)
    here = look(batch, flow, pressure)
    for iteration in range(_DAMPED_STEPS):
        done = here.converged(AIM if iteration < _DAMPED_STEPS - 1 else 1.0)
        if done.any():
            chosen = np.flatnonzero(done)
            solution.store(batch.plan, at[chosen], here, chosen, iteration)
            left = np.flatnonzero(~done)
            if not left.size:
                return at[:0]
            batch, at = batch.points(left, left.size), at[left]
            here = look(batch, here.flow[:, left], here.pressure[:, left])
        flow_change, change = newton_step(batch, here)
        usable = np.isfinite(flow_change).all(axis=0) & np.isfinite(change).all(axis=0)
        flow_change[:, ~usable] = 0.0
        change[:, ~usable] = 0.0
        share = _step_length(batch, here, flow_change, change)
        pressure = here.pressure.copy()
        pressure[:size] += share * change
        here = look(batch, here.flow + share * flow_change, pressure)
    solution.iterations[at] += _DAMPED_STEPS
    return at


def _step_length(batch: Batch, here: Step, flow_change: Any, change: Any) -> Any:
    """Return the accepted share of each point's step, (points,)."""
    size = len(change)
    weight = here.conductance

    def measures(step: Step) -> tuple[Any, Any]:
        residual = step.evaluation.residual
        size_of = np.sqrt(((residual * weight) ** 2).sum(axis=0) + (step.imbalance**2).sum(axis=0))
        return size_of, (residual * flow_change).sum(axis=0)

    size_here, slope_here = measures(here)
    longest = batch.longest_step(here.flow, flow_change)
    share = np.ones(batch.size) if longest is None else longest.copy()
    waiting = np.arange(batch.size)
    best = share.copy()
    best_size = np.full(batch.size, np.inf)
    for _ in range(_HALVINGS):
        pressure = here.pressure.copy()
        pressure[:size] += share * change
        size_there, slope_there = measures(look(batch, here.flow + share * flow_change, pressure))
        falls = size_there < size_here * (1.0 - 1e-4 * share)
        flattens = (slope_here < 0.0) & (slope_there <= 0.5 * np.abs(slope_here))
        better = size_there < best_size
        best[better] = share[better]
        best_size[better] = size_there[better]
        refused = ~(falls | flattens)
        waiting = waiting[refused[waiting]]
        if not waiting.size:
            return share
        share[waiting] *= 0.5
    share[waiting] = np.where(np.isfinite(best_size[waiting]), best[waiting], 0.0)
    return share
