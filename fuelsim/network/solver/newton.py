"""Newton's method on all flows and pressures, for a batch of operating points together.

One step solves, for every point, the linearised link equations and the mass balances (the global gradient method of
Todini and Pilati 1988 [todini_pilati_1988]): the flows are eliminated link by link and a small system remains for the
pressures. Points leave the batch when they meet the stop rule.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.network.solver.equations import Batch, Evaluation
from fuelsim.network.solver.plan import Plan

__all__ = [
    "FLOW_TOLERANCE",
    "LEAST_FLOW",
    "PRESSURE_TOLERANCE",
    "Solution",
    "Step",
    "keep_freed_memory",
    "look",
    "newton",
    "newton_step",
    "typical_start",
]

PRESSURE_TOLERANCE = 1.0
"""Largest error of a link equation at a solution, Pa."""
FLOW_TOLERANCE = 1e-6
"""Largest error of a link equation over its slope, and largest mass imbalance, over the largest flow."""
LEAST_FLOW = 1.0 * L_PER_HOUR
"""Largest flow that the flow tolerance assumes at least, m3/s (1 L/h)."""

AIM = 0.2
"""Share of the flow tolerance that is aimed at, so that two ways to a solution agree within the tolerance; where
rounding stands in the way, the whole tolerance is taken at the end."""
PLAIN_STEPS = 20
_FEW = 0.12
"""Share of a chunk below which its points are put aside."""
_SHRINK = 0.7
"""The batch is made smaller when less than this share of it is left."""


@dataclass
class Solution:
    """What is known of each point of a batch; filled in as points converge.

    Attributes
    ----------
    flow : array (chains, points)
        Flow unknown of each chain.
    pressure : array (kept nodes, points)
        Pa absolute.
    losses : list of (array (links, points), array (links, points)) or None
        For each group the losses, Pa, and slopes of its links in chains of several links; None if it has none.
    residual : array (long chains, points)
        Remaining error of each chain of several links, Pa.
    worst : int array (points,)
        The chain with the largest error.
    iterations : int array (points,)
    pressure_error, flow_error, mass_error : array (points,)
        Worst errors: Pa, and shares of the point's largest flow.
    converged : bool array (points,)
    """

    flow: Any
    pressure: Any
    losses: list[Any]
    residual: Any
    worst: Any
    iterations: Any
    pressure_error: Any
    flow_error: Any
    mass_error: Any
    converged: Any

    @classmethod
    def empty(cls, batch: Batch) -> Solution:
        """Return a solution with nothing in it yet."""
        chains, kept, size = len(batch.plan.up), len(batch.plan.contraction.kept), batch.size

        def array(*shape: int) -> Any:
            return np.empty(shape)

        losses = [
            (array(group.inner.size, size), array(group.inner.size, size)) if group.inner.size else None
            for group in batch.plan.groups
        ]
        return cls(
            array(chains, size),
            array(kept, size),
            losses,
            array(batch.plan.long_chains.size, size),
            np.zeros(size, dtype=np.intp),
            np.zeros(size, dtype=np.intp),
            np.full(size, np.nan),
            np.full(size, np.nan),
            np.full(size, np.nan),
            np.zeros(size, dtype=bool),
        )

    def store(self, plan: Plan, at: Any, step: Step, chosen: Any, iteration: int) -> None:
        """Store the points `chosen` of a step at the places `at`; both are slices or index arrays."""

        def some(values: Any) -> Any:
            return values if isinstance(chosen, slice) else values.take(chosen, axis=-1)

        self.flow[:, at] = some(step.flow)
        self.pressure[:, at] = some(step.pressure[: len(self.pressure)])
        for group, kept, found in zip(plan.groups, self.losses, step.evaluation.losses, strict=True):
            if kept is not None:
                kept[0][:, at] = some(found[0].take(group.inner, axis=0))
                kept[1][:, at] = some(found[1].take(group.inner, axis=0))
        self.residual[:, at] = some(step.evaluation.residual.take(plan.long_chains, axis=0))
        self.worst[at] = np.abs(some(step.evaluation.residual)).argmax(axis=0)
        self.iterations[at] += iteration
        self.pressure_error[at] = step.pressure_error[chosen]
        self.flow_error[at] = step.flow_error[chosen]
        self.mass_error[at] = step.mass_error[chosen]
        self.converged[at] = True

    def leave(self, at: Any, step: Step, chosen: Any, iteration: int) -> None:
        """Keep how far the points `chosen` of a step came, at the places `at`, without calling them converged."""
        self.flow[:, at] = step.flow[:, chosen]
        self.pressure[:, at] = step.pressure[: len(self.pressure), chosen]
        self.iterations[at] += iteration


@dataclass
class Step:
    """An iterate with its errors; arrays as in `Solution`, pressures with all rows."""

    flow: Any
    pressure: Any
    evaluation: Evaluation
    conductance: Any
    correction: Any
    imbalance: Any
    pressure_error: Any
    flow_error: Any
    mass_error: Any

    def converged(self, aim: float = AIM) -> Any:
        """Return whether each point meets the stop rule with a share `aim` of the flow tolerance."""
        return (
            (self.pressure_error < PRESSURE_TOLERANCE)
            & (self.flow_error < aim * FLOW_TOLERANCE)
            & (self.mass_error < FLOW_TOLERANCE)
        )


@cache
def keep_freed_memory() -> None:
    """Make the C library's allocator keep freed memory, once per process.

    A block above its threshold (128 kB at first) is mapped and returned to the system with every array, and the page
    faults cost four times the arithmetic. Freeing one large block raises the threshold of glibc for good; elsewhere
    this does nothing.
    """
    np.empty(3 * 1024 * 1024)


def typical_start(batch: Batch) -> tuple[Any, Any]:
    """Return flows (chains, points) and pressures (rows, points) to start from, from the parts' typical flows."""
    flow = np.full((len(batch.plan.up), batch.size), np.inf)
    for group, figures in zip(batch.plan.groups, batch.groups, strict=True):
        if group.law.typical_flow is None:
            typical: Any = np.full((len(group.links), 1), 10.0 * L_PER_HOUR)
        else:
            typical = group.law.typical_flow(figures.coefficients)
        first = len(group.links) - len(group.shared)
        flow[group.rows] = np.minimum(flow[group.rows], typical[:first])
        for link, chain in group.shared:
            np.minimum(flow[chain], typical[link], out=flow[chain])
    pressure = np.empty((len(batch.plan.contraction.kept) + len(batch.fixed), batch.size))
    pressure[:] = batch.fixed[:-1].mean(axis=0)
    pressure[-len(batch.fixed) :] = batch.fixed
    return flow, pressure


def _largest(values: Any) -> Any:
    return np.maximum.reduce(np.abs(values), axis=0)


def look(batch: Batch, flow: Any, pressure: Any) -> Step:
    """Evaluate the equations and errors at flows (chains, points) and pressures (rows, points)."""
    found = batch.evaluate(flow, pressure)
    conductance = 1.0 / found.flow_slope
    correction = found.residual * conductance
    imbalance = batch.plan.balance(flow) - batch.draw
    largest = np.maximum(_largest(flow), LEAST_FLOW)
    flow_error = _largest(correction) / largest
    if len(imbalance):
        mass_error = _largest(imbalance) / largest
    else:
        mass_error = np.zeros(batch.size)
    return Step(
        flow,
        pressure,
        found,
        conductance,
        correction,
        imbalance,
        _largest(found.residual),
        flow_error,
        mass_error,
    )


def newton_step(batch: Batch, here: Step) -> tuple[Any, Any]:
    """Return the full Newton step in the chain flows (chains, points) and the kept pressures (kept, points)."""
    plan, found = batch.plan, here.evaluation
    plain, size = plan.plain, len(plan.contraction.kept)
    conductance = here.conductance
    if plain == len(plan.up):
        z = conductance
    else:
        late = conductance[plain:]
        parts = [conductance[:plain], late * found.up_slope, late * found.down_slope]
        if plan.looks:
            looks = np.array(plan.looks) - plain
            parts.append(late[looks] * found.reference_slope[looks])
        z = np.concatenate(parts)
    right = plan.balance(here.correction)
    np.subtract(here.imbalance, right, out=right)
    change = plan.elimination.solve(z, right)
    rows = np.zeros((len(here.pressure), change.shape[1]))
    rows[:size] = change
    flow_change = rows.take(plan.up, axis=0)
    down = rows.take(plan.down, axis=0)
    if plain == len(plan.up):
        flow_change -= down
    else:
        flow_change[:plain] -= down[:plain]
        flow_change[plain:] *= found.up_slope
        flow_change[plain:] -= found.down_slope * down[plain:]
        if plan.looks:
            flow_change[plain:] -= found.reference_slope * rows.take(plan.reference[plain:], axis=0)
    flow_change *= conductance
    flow_change -= here.correction
    return flow_change, change


def newton(batch: Batch, flow: Any, pressure: Any, solution: Solution, at: Any, *, put_aside: bool = False) -> Any:
    """Take plain Newton steps until the stop rule is met or the steps are used up.

    Parameters
    ----------
    batch : Batch
        The points to solve.
    flow, pressure : array (chains, points), (rows, points)
        Where to start.
    solution : Solution
        Receives every point that converges.
    at : slice or int array (points,)
        Places of the batch's points in the solution.
    put_aside : bool, optional
        Whether to stop when few points are left, so that those of several chunks can go on together.

    Returns
    -------
    int array
        Places of the points that did not converge; the solution holds how far they came.
    """
    few = _FEW * batch.size if put_aside else 0.0
    size = len(batch.plan.contraction.kept)
    waiting = np.ones(batch.size, dtype=bool)
    for iteration in range(PLAIN_STEPS + 1):
        here = look(batch, flow, pressure)
        converged = here.converged(AIM if iteration < PLAIN_STEPS else 1.0)
        fresh = converged & waiting
        count = np.count_nonzero(fresh)
        if count:
            if count == batch.size:
                solution.store(batch.plan, at, here, slice(None), iteration)
                return np.zeros(0, dtype=np.intp)
            if isinstance(at, slice):
                at = np.arange(at.start, at.stop)
            chosen = np.flatnonzero(fresh)
            solution.store(batch.plan, at[chosen], here, chosen, iteration)
            waiting &= ~fresh
            left = np.flatnonzero(waiting)
            if left.size <= few:
                solution.leave(at[left], here, left, iteration)
                return at[left]
            if left.size < _SHRINK * batch.size:
                batch = batch.points(left, left.size)
                at, waiting = at[left], waiting[left]
                here = _chosen(here, left)
        if iteration < PLAIN_STEPS:
            flow_change, change = newton_step(batch, here)
            share = batch.longest_step(here.flow, flow_change)
            if share is not None:
                flow_change *= share
                change *= share
            flow = here.flow + flow_change
            pressure = here.pressure
            pressure[:size] += change
    if isinstance(at, slice):
        at = np.arange(at.start, at.stop)
    left = np.flatnonzero(waiting)
    solution.leave(at[left], here, left, PLAIN_STEPS)
    return at[left]


def _chosen(step: Step, left: Any) -> Step:
    """Return an iterate of some of the points."""
    found = step.evaluation

    def some(values: Any) -> Any:
        return None if values is None else values.take(left, axis=-1)

    return Step(
        some(step.flow),
        some(step.pressure),
        Evaluation(
            some(found.residual),
            some(found.flow_slope),
            [],
            some(found.up_slope),
            some(found.down_slope),
            some(found.reference_slope),
        ),
        some(step.conductance),
        some(step.correction),
        some(step.imbalance),
        some(step.pressure_error),
        some(step.flow_error),
        some(step.mass_error),
    )
