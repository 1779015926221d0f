r"""Pseudo-transient continuation: Newton steps with every pressure held by a conductance that is taken away.

Where almost everything is shut, pressures depend on leaks and a full Newton step ends at absurd pressures, from which
no later step comes back. Here every node is thought to be compliant, so that a step is one implicit step in time of

.. math:: C \frac{dp_i}{dt} = F_i(q), \qquad \Big(A + \frac{C}{\Delta t} I\Big)\, \delta p = b,

with the mass balances F and the linear system A, b of `fuelsim.network.solver` (Kelley and Keyes 1998
[kelley_keyes_1998]). The steps in time grow until C / Δt is below the conductance of any leak. Where no law refers to a
third node, an inflow lost by one node is gained by another, so that such a network in time can only come to rest, if it
has a solution at all.
"""

from __future__ import annotations

import numpy as np

from fuelsim.network.solver.equations import Batch
from fuelsim.network.solver.newton import (
    AIMED_TOLERANCE_FRACTION,
    LEAST_FLOW,
    Iterate,
    Solution,
    evaluate_iterate,
    matrix_values,
    newton_step,
)
from fuelsim.typing import BoolArray, IndexArray, LinkArray, NodeArray, PointArray

__all__ = ["is_sinking", "pseudo_transient"]

_STEPS = 60
"""Greatest number of steps; all but a few points need fewer."""
_GROWTH = 8.0
"""By what factor the step in time grows at each step, and shrinks where a pressure would change too much."""
_MOST_SHORTENINGS = 20
_LARGEST_CHANGE = 1e6
"""Change of a pressure in one step beyond which the step in time is taken shorter, Pa."""
_REFERENCE_PRESSURE = 1e5
"""Pressure over which the first conductance passes all draws together, Pa."""
_LEAST_DRAW = 100.0 * LEAST_FLOW
"""Sum of the draws that the first conductance assumes at least, m3/s."""
_LEAST_GROUND = 1e-21
"""Conductance below that of every leak, 1e-16 m3/(s Pa), from which it is not taken smaller."""
_DEEPEST_SUCTION = -3e6
"""Pressure at which a point is given up, Pa absolute: three steps away at least, and of the points of wide random
networks that came there, no other method or start found a solution above a vacuum."""
_ROUNDING_FROM = 4
"""Iteration from which rounding is allowed for."""


def pseudo_transient(
    batch: Batch,
    flow: LinkArray,
    pressure: NodeArray,
    solution: Solution,
    at: IndexArray,
    *,
    steps: int = _STEPS,
) -> IndexArray:
    """Continue a batch in time; return the positions of the points that did not converge.

    A point is given up where a pressure sinks so far that no solution within ratings can lie ahead.

    Parameters
    ----------
    batch : Batch
        The points to solve.
    flow, pressure : array (chains, points), (rows, points)
        Where to start.
    solution : Solution
        Receives every point that converges, and the last iterate of the others.
    at : int array (points,)
        Positions of the batch's points in the solution.
    """
    size = len(batch.plan.contraction.kept)
    ground = np.maximum(np.abs(batch.draw).sum(axis=0), _LEAST_DRAW) / _REFERENCE_PRESSURE * np.ones(batch.size)
    given_up: list[IndexArray] = []
    for step in range(steps + 1):
        iterate = evaluate_iterate(batch, flow, pressure)
        if step >= _ROUNDING_FROM:
            iterate.allow_rounding()
        converged = iterate.converged(AIMED_TOLERANCE_FRACTION if step < steps else 1.0)
        if converged.any():
            chosen, remaining = np.flatnonzero(converged), np.flatnonzero(~converged)
            solution.store(batch.plan, at[chosen], iterate, chosen, step)
            if not remaining.size:
                return np.concatenate([*given_up, at[:0]])
            batch, at, ground = batch.points(remaining, remaining.size), at[remaining], ground[remaining]
            iterate = iterate.points(remaining)
        sinking = is_sinking(batch, iterate.pressure[:size])
        if sinking.any():
            chosen, remaining = np.flatnonzero(sinking), np.flatnonzero(~sinking)
            solution.store_unconverged(at[chosen], iterate, chosen, step)
            given_up.append(at[chosen])
            if not remaining.size:
                return np.concatenate(given_up)
            batch, at, ground = batch.points(remaining, remaining.size), at[remaining], ground[remaining]
            iterate = iterate.points(remaining)
        if step < steps:
            flow_change, change = _limited_step(batch, iterate, ground)
            batch.step_length(iterate.flow, flow_change, 1.0)
            flow = iterate.flow + flow_change
            pressure = iterate.pressure
            pressure[:size] += change
            ground = np.maximum(ground / _GROWTH, _LEAST_GROUND)
    solution.store_unconverged(at, iterate, np.arange(at.size), steps)
    return np.concatenate([*given_up, at])


def is_sinking(batch: Batch, pressure: NodeArray) -> BoolArray:
    """Return whether a pressure of each point, (kept nodes, points), is far below a vacuum."""
    below: BoolArray = (pressure + batch.datum).min(axis=0, initial=0.0) < _DEEPEST_SUCTION
    return below


def _limited_step(batch: Batch, iterate: Iterate, ground: PointArray) -> tuple[LinkArray, NodeArray]:
    """Return the step in the chain flows and the kept pressures; `ground` is raised where it would be too long."""
    flow_change, change = _grounded_step(batch, iterate, ground)
    active = np.arange(batch.size)
    for _ in range(_MOST_SHORTENINGS):
        active = active[~(np.abs(change[:, active]).max(axis=0, initial=0.0) < _LARGEST_CHANGE)]
        if not active.size:
            break
        ground[active] *= _GROWTH
        part = _grounded_step(batch.points(active, active.size), iterate.points(active), ground[active])
        flow_change[:, active], change[:, active] = part
    return np.nan_to_num(flow_change), np.nan_to_num(change)


def _grounded_step(batch: Batch, iterate: Iterate, ground: PointArray) -> tuple[LinkArray, NodeArray]:
    """Return the Newton step with a conductance from every unknown pressure to where it is now."""
    values = matrix_values(batch.plan, iterate)
    return newton_step(batch, iterate, lambda right: batch.plan.elimination.solve_grounded(values, right, ground))
