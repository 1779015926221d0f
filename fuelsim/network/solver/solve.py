"""The order in which a batch is solved: structure, plain steps in chunks, limits of the draws, fallbacks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fuelsim.network.solver.draw_limit import DrawLimits, Violations, find_draw_limits, violations
from fuelsim.network.solver.equations import Batch
from fuelsim.network.solver.expansion import Solved, expand_to_links
from fuelsim.network.solver.fallbacks import run_fallbacks
from fuelsim.network.solver.initial_guess import LEAST_POINTS, Prediction, principal_components, samples_of
from fuelsim.network.solver.newton import (
    LEAST_STEP,
    Solution,
    evaluate_iterate,
    keep_freed_memory,
    newton,
    typical_start,
)
from fuelsim.network.solver.pseudo_transient import pseudo_transient
from fuelsim.network.solver.shared_start import SharedStart, shared_start
from fuelsim.typing import BoolArray, IndexArray, LinkArray, NodeArray

__all__ = ["BatchResult", "solve_batch"]

_LEAST_POINTS_FOR_SHARED_START = 50
"""Number of points from which the mean of all points is solved first."""
_MOST_TIMES_A_SOLVED_POINT = 17.0
"""Iterations of a point outside ratings over the median of the batch's solved ones, beyond which no new trial begins.

The last one may add some, so that nearly all come to less than 20 times."""
_TYPICAL = 8.0
"""Iterations of a point solved from a cold start where the batch has none."""
_LEAST_TYPICAL, _MOST_TYPICAL = 5.0, 15.0
"""Iterations that a solved point is taken to need at least and at most."""
_LIMITED_STEPS = 20
_TRANSIENT_STEPS = 30
"""Steps from a limited start: Newton steps, then steps in time, which solve points whose pressures depend on leaks."""
_CHUNK_VALUES = 40_000
"""Links times points solved at a time: enough to hide the interpreter, few enough to stay in the processor's cache."""


@dataclass
class BatchResult:
    """A solved batch.

    Attributes
    ----------
    solved : Solved
        Points that did not converge hold their last iterate.
    outside : Violations
        Where points are outside ratings; meaningless where they did not converge.
    limits : DrawLimits
        Largest draws of points that are outside ratings.
    cut_off : bool array (points,)
        Whether a node with a draw is cut off from every fixed pressure; such points are not iterated.
    sunk : bool array (points,)
        Whether a point has no solution within ratings, because a pressure sinks without end whatever is drawn.
    """

    solved: Solved
    outside: Violations
    limits: DrawLimits
    cut_off: BoolArray
    sunk: BoolArray


def solve_batch(batch: Batch, start: tuple[LinkArray, NodeArray] | None = None) -> BatchResult:
    """Solve a batch.

    Parameters
    ----------
    batch : Batch
    start : tuple of array, optional
        Chain flows (chains, points) and kept pressures over the datum (kept, points) to start from.
    """
    keep_freed_memory()
    cut_off = _cut_off(batch)
    with np.errstate(all="ignore"):
        if not cut_off.any():
            return _solve(batch, start)
        solution, limits = Solution.empty(batch), DrawLimits.empty(batch.size)
        _store_start(batch, solution, np.flatnonzero(cut_off))
        connected = np.flatnonzero(~cut_off)
        sunk = np.zeros(batch.size, dtype=bool)
        if connected.size:
            some = batch.points(connected, connected.size)
            part = _solve(some, None if start is None else (start[0][:, connected], start[1][:, connected]))
            limits = limits.with_points(connected, part.limits)
            sunk[connected] = part.sunk
            solution.put(connected, part.solved.solution)
        solved = expand_to_links(batch, solution)
        return BatchResult(solved, violations(batch, solved), limits, cut_off, sunk)


def _cut_off(batch: Batch) -> BoolArray:
    """Return whether each point draws from a node that no flow can reach, or feeds one that none can leave."""
    cut_off = np.zeros(batch.size, dtype=bool)
    unfed, undrained = batch.node_draw[batch.plan.unfed], batch.node_draw[batch.plan.undrained]
    # A node that is fed (a negative draw) is a source of its own, so that the structure alone decides nothing.
    if len(unfed) and not (batch.node_draw < 0.0).any():
        cut_off |= (unfed > 0.0).any(axis=0)
    if len(undrained):
        cut_off |= (undrained < 0.0).any(axis=0) & ~(batch.node_draw > 0.0).any(axis=0)
    return cut_off


def _store_start(batch: Batch, solution: Solution, at: IndexArray) -> None:
    """Store the typical start and its errors for points that are not iterated."""
    some = batch.points(at, at.size)
    if not len(batch.plan.up):
        newton(some, *typical_start(some), solution, at)
        solution.converged[at] = False
        return
    solution.store_unconverged(at, evaluate_iterate(some, *typical_start(some)), np.arange(at.size), 0)


def _solve(batch: Batch, start: tuple[LinkArray, NodeArray] | None) -> BatchResult:
    """Solve all points of a batch of which none is cut off."""
    solution = Solution.empty(batch)
    predictable = start is None and batch.size >= LEAST_POINTS and len(batch.plan.up) > 0
    prediction = _predict(batch) if predictable else None
    shared = None
    if start is None and prediction is None and _worth_a_shared_start(batch):
        shared = shared_start(batch)
    chunk = min(max(_CHUNK_VALUES // len(batch.plan.topology.laws), 256), 8192)
    failed = [
        _solve_chunk(batch, slice(first, min(first + chunk, batch.size)), start, prediction, shared, solution)
        for first in range(0, batch.size, chunk)
    ]
    remaining = np.concatenate(failed)
    if remaining.size and remaining.size < batch.size:
        some = batch.points(remaining, remaining.size)
        pressure = some.all_pressures(solution.pressure[:, remaining])
        remaining = newton(some, solution.flow[:, remaining], pressure, solution, remaining)
    remaining = remaining[~batch.incomplete(remaining)] if remaining.size else remaining
    if remaining.size:
        some = batch.points(remaining, remaining.size)
        limited = typical_start(some, limited=True)
        remaining = newton(some, *limited, solution, remaining, least_step=LEAST_STEP, steps=_LIMITED_STEPS)
    if remaining.size:
        some = batch.points(remaining, remaining.size)
        limited = typical_start(some, limited=True)
        remaining = pseudo_transient(some, *limited, solution, remaining, steps=_TRANSIENT_STEPS)
    solved = expand_to_links(batch, solution)
    outside = violations(batch, solved)
    limits, sunk = DrawLimits.empty(batch.size), np.zeros(batch.size, dtype=bool)
    if remaining.size or outside.any.any():
        cold = start is None and prediction is None
        most_iterations = _most_iterations(solution.iterations[solution.converged & ~outside.any], cold=cold)
        find_draw_limits(batch, solved, outside, remaining, limits, most_iterations)
        remaining = remaining[~solution.converged[remaining] & ~limits.found[remaining]]
        if remaining.size:
            sunk[run_fallbacks(batch, solution, remaining)] = True
        solved = expand_to_links(batch, solution)
        outside = violations(batch, solved)
        late = remaining[solution.converged[remaining]]
        if outside.any[late].any():
            find_draw_limits(batch, solved, outside, late[:0], limits, most_iterations)
    ends = [end.node for end in batch.plan.contraction.dead_ends]
    if ends:
        # Dead ends play no part in the iteration: a loss that is not a number shows in their pressures alone.
        solution.converged &= ~np.isnan(solved.pressure[ends]).any(axis=0)
    return BatchResult(solved, outside, limits, np.zeros(batch.size, dtype=bool), sunk)


def _most_iterations(of_solved: IndexArray, *, cold: bool) -> float:
    """Return after how many iterations the limit of a point's draws is no longer searched for.

    Parameters
    ----------
    of_solved : int array (points,)
        Iterations of the solved points.
    cold : bool
        Whether these started from typical flows.
    """
    typical = float(np.median(of_solved)) if of_solved.size and cold else _TYPICAL
    return _MOST_TIMES_A_SOLVED_POINT * min(max(typical, _LEAST_TYPICAL), _MOST_TYPICAL)


def _worth_a_shared_start(batch: Batch) -> bool:
    """Return whether solving the mean of all points first saves time."""
    return batch.size >= _LEAST_POINTS_FOR_SHARED_START and batch.plan.elimination.size > 0


def _predict(batch: Batch) -> Prediction | None:
    """Solve a few points of the batch and return the interpolation between them."""
    components = principal_components(batch)
    if components is None:
        return None
    samples = samples_of(components)
    some = batch.points(samples, samples.size)
    solution = Solution.empty(some)
    newton(some, *typical_start(some), solution, slice(0, samples.size), secant_start=True)
    good = np.flatnonzero(solution.converged)
    if good.size < 0.5 * samples.size:
        return None
    values = np.concatenate([solution.flow[:, good], solution.pressure[:, good]])
    return Prediction.of(components, samples[good], values)


def _solve_chunk(
    batch: Batch,
    points: slice,
    start: tuple[LinkArray, NodeArray] | None,
    prediction: Prediction | None,
    shared: SharedStart | None,
    solution: Solution,
) -> IndexArray:
    """Solve some points of a batch by plain Newton steps; return the positions of those that did not converge."""
    part = batch if points == slice(0, batch.size) else batch.points(points, points.stop - points.start)
    if prediction is not None:
        values = prediction(points)
        chains = len(batch.plan.up)
        flow, pressure = values[:chains], part.all_pressures(values[chains:])
    elif shared is not None:
        flow, pressure = shared(part)
    elif start is None:
        flow, pressure = typical_start(part)
    else:
        flow, pressure = start[0][:, points], part.all_pressures(start[1][:, points])
    secant = start is None and prediction is None and shared is None
    return newton(part, flow, pressure, solution, points, set_aside=part.size >= LEAST_POINTS, secant_start=secant)
