"""Fallbacks where plain Newton steps did not converge: more and damped steps, continuation in time, then in resistance.

They complement one another: of 178 such points of wide random networks 34 have no solution that any finds, damped
steps solve 139 of the others, continuation in time those where pressures depend on leaks, and added resistance the
rest.

A damped step is halved until either the residual falls, or the projection of the residual on the step has fallen to
half. The first rule alone gets stuck at the kinks of regulators and check valves; the second follows the slope of the
content function, whose minimum is the solution wherever no law refers to a third node.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fuelsim.network.solver.equations import Batch
from fuelsim.network.solver.newton import (
    AIMED_TOLERANCE_FRACTION,
    LEAST_STEP,
    UNDAMPED_STEPS,
    Iterate,
    Solution,
    evaluate_iterate,
    newton,
    newton_step,
    typical_start,
)
from fuelsim.network.solver.pseudo_transient import is_sinking, pseudo_transient
from fuelsim.typing import IndexArray, LinkArray, NodeArray, PointArray

__all__ = ["continuation", "damped_newton", "run_fallbacks"]

_DAMPED_STEPS = 80
_CONTINUATION_STEPS = 30
"""Greatest number of damped steps at each added resistance."""
_STALL_STEPS = 30
"""Steps without the errors falling by the stall factor after which a point is given up."""
_STALL_FACTOR = 0.9
_HALVINGS = 14
_RESISTANCES = (1e11, 1e10, 1e9, 1e8, 1e7, 1e6)
"""Resistances added to every chain during a continuation, Pa s/m3; 1e10 is 28 kPa at 10 L/h."""
_SUFFICIENT_DECREASE = 1e-4
"""Fraction of the decrease predicted by the slope that a step must give (Armijo's rule)."""


def run_fallbacks(batch: Batch, solution: Solution, failed: IndexArray) -> IndexArray:
    """Solve the failed points of a batch again by one fallback after another.

    Parameters
    ----------
    batch : Batch
        The whole batch.
    solution : Solution
        Receives every point that converges.
    failed : int array
        Positions of the points to solve.

    Returns
    -------
    int array
        Positions of the points without a solution within ratings: a pressure sinks far below a vacuum.
    """
    sunk = failed[:0]
    some = batch.points(failed, failed.size)
    start = typical_start(some, limited=True)
    failed = newton(some, *start, solution, failed, least_step=LEAST_STEP, steps=2 * UNDAMPED_STEPS)
    if not failed.size:
        return sunk
    some = batch.points(failed, failed.size)
    failed = damped_newton(some, *typical_start(some, limited=True), solution, failed)
    if failed.size:
        some = batch.points(failed, failed.size)
        failed = pseudo_transient(some, *typical_start(some, limited=True), solution, failed)
    if failed.size:
        sinking = is_sinking(batch.points(failed, failed.size), solution.pressure[:, failed])
        sunk, failed = failed[sinking], failed[~sinking]
    if failed.size:
        continuation(batch.points(failed, failed.size), solution, failed)
    return sunk


def continuation(batch: Batch, solution: Solution, at: IndexArray) -> None:
    """Solve with a large resistance added to every chain, then with less and less.

    A point that does not converge at one resistance goes on to the next from where it last converged.
    """
    flow, pressure = typical_start(batch)
    for resistance in _RESISTANCES:
        easier = replace(batch, added_resistance=resistance)
        intermediate = Solution.empty(batch)
        damped_newton(easier, flow, pressure, intermediate, np.arange(batch.size), steps=_CONTINUATION_STEPS)
        solution.iterations[at] += intermediate.iterations
        converged = np.flatnonzero(intermediate.converged)
        flow[:, converged] = intermediate.flow[:, converged]
        pressure[: len(intermediate.pressure), converged] = intermediate.pressure[:, converged]
    damped_newton(batch, flow, pressure, solution, at)


def damped_newton(
    batch: Batch,
    flow: LinkArray,
    pressure: NodeArray,
    solution: Solution,
    at: IndexArray,
    *,
    steps: int = _DAMPED_STEPS,
) -> IndexArray:
    """Take damped Newton steps; return the positions of the points that did not converge."""
    size = len(batch.plan.contraction.kept)
    iterate = evaluate_iterate(batch, flow, pressure)
    failed: list[IndexArray] = []
    best, improved_at = np.full(at.size, np.inf), np.zeros(at.size, dtype=np.intp)
    for iteration in range(steps):
        iterate.allow_rounding()
        converged = iterate.converged(AIMED_TOLERANCE_FRACTION if iteration < steps - 1 else 1.0)
        if converged.any():
            chosen = np.flatnonzero(converged)
            solution.store(batch.plan, at[chosen], iterate, chosen, iteration)
            remaining = np.flatnonzero(~converged)
            if not remaining.size:
                return np.concatenate([*failed, at[:0]])
            batch, at, iterate = _reduced(batch, at, iterate, remaining)
            best, improved_at = best[remaining], improved_at[remaining]
        error = np.maximum(iterate.flow_error, iterate.mass_error)
        improved = error < _STALL_FACTOR * best
        best[improved], improved_at[improved] = error[improved], iteration
        stalled = iteration - improved_at >= _STALL_STEPS
        if stalled.any():
            chosen, remaining = np.flatnonzero(stalled), np.flatnonzero(~stalled)
            solution.store_unconverged(at[chosen], iterate, chosen, iteration)
            failed.append(at[chosen])
            if not remaining.size:
                return np.concatenate(failed)
            batch, at, iterate = _reduced(batch, at, iterate, remaining)
            best, improved_at = best[remaining], improved_at[remaining]
        flow_change, change = newton_step(batch, iterate)
        # The change of every pressure enters that of a flow.
        usable = np.isfinite(flow_change).all(axis=0)
        flow_change[:, ~usable] = 0.0
        change[:, ~usable] = 0.0
        step_length = _line_search(batch, iterate, flow_change, change)
        pressure = iterate.pressure.copy()
        pressure[:size] += step_length * change
        iterate = evaluate_iterate(batch, iterate.flow + step_length * flow_change, pressure)
    solution.store_unconverged(at, iterate, np.arange(at.size), steps)
    return np.concatenate([*failed, at])


def _reduced(
    batch: Batch, at: IndexArray, iterate: Iterate, remaining: IndexArray
) -> tuple[Batch, IndexArray, Iterate]:
    """Return batch, positions and iterate of the points that remain."""
    batch = batch.points(remaining, remaining.size)
    return batch, at[remaining], evaluate_iterate(batch, iterate.flow[:, remaining], iterate.pressure[:, remaining])


def _line_search(batch: Batch, iterate: Iterate, flow_change: LinkArray, change: NodeArray) -> PointArray:
    """Return the accepted length of each point's step, (points,), as a fraction of the full one."""
    size = len(change)
    weight = iterate.conductance

    def norm_and_projection(at: Iterate) -> tuple[PointArray, PointArray]:
        residual = at.evaluation.residual
        norm = np.sqrt(((residual * weight) ** 2).sum(axis=0) + (at.imbalance**2).sum(axis=0))
        return norm, (residual * flow_change).sum(axis=0)

    norm, projection = norm_and_projection(iterate)
    longest = batch.step_length(iterate.flow, flow_change)
    length = np.ones(batch.size) if longest is None else longest.copy()
    active = np.arange(batch.size)
    best_length = length.copy()
    best_norm = np.full(batch.size, np.inf)
    for _ in range(_HALVINGS):
        pressure = iterate.pressure.copy()
        pressure[:size] += length * change
        trial = evaluate_iterate(batch, iterate.flow + length * flow_change, pressure)
        trial_norm, trial_projection = norm_and_projection(trial)
        decreases = trial_norm < norm * (1.0 - _SUFFICIENT_DECREASE * length)
        flattens = (projection < 0.0) & (trial_projection <= 0.5 * np.abs(projection))
        better = trial_norm < best_norm
        best_length[better] = length[better]
        best_norm[better] = trial_norm[better]
        refused = ~(decreases | flattens)
        active = active[refused[active]]
        if not active.size:
            return length
        length[active] *= 0.5
    length[active] = np.where(np.isfinite(best_norm[active]), best_length[active], 0.0)
    return length
