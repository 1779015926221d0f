"""Newton's method on all flows and pressures, for a batch of operating points together.

One step solves, for every point, the linearised link equations and the mass balances, as `fuelsim.network.solver`
states them: the flows are eliminated link by link, which leaves a small system for the pressures. Points leave the
batch when they meet the stop rule.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.network.solver.coefficients import Selection
from fuelsim.network.solver.elimination import SharedSolver
from fuelsim.network.solver.equations import Batch, Evaluation, LinkLosses
from fuelsim.network.solver.plan import Plan
from fuelsim.typing import BoolArray, FloatArray, IndexArray, LinkArray, NodeArray, PointArray

__all__ = [
    "FLOW_TOLERANCE",
    "LEAST_FLOW",
    "LEAST_STEP",
    "PRESSURE_TOLERANCE",
    "Iterate",
    "Solution",
    "evaluate_iterate",
    "keep_freed_memory",
    "limited_step",
    "matrix_values",
    "newton",
    "newton_step",
    "take_secants",
    "typical_start",
]

PRESSURE_TOLERANCE = 1.0
"""Largest error of a link equation at a solution, Pa."""
FLOW_TOLERANCE = 1e-6
"""Largest error of a link equation over its slope, and largest mass imbalance, over the largest flow."""
LEAST_FLOW = 1.0 * L_PER_HOUR
"""Largest flow that the flow tolerance assumes at least, m3/s (1 L/h)."""

AIMED_TOLERANCE_FRACTION = 0.2
"""Fraction of the flow tolerance that iteration aims at, so that two starts agree within the tolerance; at the last
iteration the whole tolerance is accepted."""
_MOST_SECANT = 3.0
"""Conductance by the secant over that by the tangent up to which the secant is taken: that of a loss that grows with
the cube of the flow. Beyond it most of the loss does not depend on the flow, as before a check valve opens."""
_ROUGH_STEPS = 2
"""Steps from a rough start after which errors are first looked at."""
_ROUNDINGS = 4.0
"""Number of rounding errors of the largest pressure that the residual of a link may hold."""
_ROUNDING_FROM = 4
"""Iteration from which rounding is allowed for; before, it would only cost time."""
_LEAST_POINTS_FOR_LOOPS = 5
"""Number of points from which steps are taken by the loops of a network."""
_BALANCED = 1e-12
"""Imbalance of a node over the largest flow that is left to stand as rounding."""
LEAST_STEP = 0.1
"""Least fraction of a step where many valves and regulators would shorten it to next to nothing."""
UNDAMPED_STEPS = 20
"""Number of Newton steps before the fallbacks."""
_SET_ASIDE_FRACTION = 0.12
"""Fraction of a chunk's points below which they are set aside, to be iterated together with those of other chunks."""
_LEAST_FRACTION_TAKEN_OUT = 0.15
_LEAST_VALUES_TAKEN_OUT = 4000
"""Fraction of the points, and links times points, from which converged points are stored and taken out of the arrays;
to iterate fewer along with the others takes less time for some iterations, but not for many."""
_RUNS_OFF_FROM = 3
"""Iteration from which a point with an absurd pressure may be given up."""
_TAKEN_OUT_FROM = 5
"""Iteration from which every converged point is taken out."""


@dataclass
class Solution:
    """Flows, pressures and errors of each point of a batch; filled in as points converge.

    Attributes
    ----------
    flow : array (chains, points)
        Flow unknown of each chain.
    pressure : array (kept nodes, points)
        Pa over the batch's datum.
    losses : list of LinkLosses
        For each group the losses and slopes of its links in chains of several links.
    residual : array (long chains, points)
        Remaining error of each chain of several links, Pa.
    worst : int array (points,)
        The chain whose flow is corrected most by its residual.
    iterations : int array (points,)
    pressure_error, flow_error, mass_error : array (points,)
        Largest errors: Pa, and fractions of the point's largest flow; without what rounding causes.
    converged : bool array (points,)
    """

    flow: LinkArray
    pressure: NodeArray
    losses: list[LinkLosses]
    residual: LinkArray
    worst: IndexArray
    iterations: IndexArray
    pressure_error: PointArray
    flow_error: PointArray
    mass_error: PointArray
    converged: BoolArray

    @classmethod
    def empty(cls, batch: Batch) -> Solution:
        """Return a solution of which no point has converged yet."""
        chains, kept, size = len(batch.plan.up), len(batch.plan.contraction.kept), batch.size
        losses = [
            LinkLosses(np.empty((group.inner.size, size)), np.empty((group.inner.size, size)))
            for group in batch.plan.groups
        ]
        return cls(
            np.empty((chains, size)),
            np.empty((kept, size)),
            losses,
            np.empty((batch.plan.long_chains.size, size)),
            np.zeros(size, dtype=np.intp),
            np.zeros(size, dtype=np.intp),
            np.full(size, np.nan),
            np.full(size, np.nan),
            np.full(size, np.nan),
            np.zeros(size, dtype=bool),
        )

    def store(self, plan: Plan, at: Selection, iterate: Iterate, chosen: Selection, iteration: int) -> None:
        """Store the points `chosen` of an iterate as converged, at the positions `at`."""

        def some(values: FloatArray) -> FloatArray:
            return values if isinstance(chosen, slice) else values.take(chosen, axis=1)

        self.flow[:, at] = some(iterate.flow)
        self.pressure[:, at] = some(iterate.pressure[: len(self.pressure)])
        for group, kept, losses in zip(plan.groups, self.losses, iterate.evaluation.losses, strict=True):
            if losses is not None:
                kept.loss[:, at] = some(losses.loss.take(group.inner, axis=0))
                kept.slope[:, at] = some(losses.slope.take(group.inner, axis=0))
        self.residual[:, at] = some(iterate.evaluation.residual.take(plan.long_chains, axis=0))
        self._store_errors(at, iterate, chosen, iteration)
        self.converged[at] = True

    def store_unconverged(self, at: IndexArray, iterate: Iterate, chosen: IndexArray, iteration: int) -> None:
        """Store the points `chosen` of an iterate at the positions `at`, without calling them converged."""
        self.flow[:, at] = iterate.flow[:, chosen]
        self.pressure[:, at] = iterate.pressure[: len(self.pressure), chosen]
        self._store_errors(at, iterate, chosen, iteration)

    def put(self, at: IndexArray, part: Solution, chosen: IndexArray | None = None) -> None:
        """Put the points of another solution, all or the chosen ones, at the positions `at`."""
        some = slice(None) if chosen is None else chosen
        for kept, losses in zip(self.losses, part.losses, strict=True):
            kept.loss[:, at], kept.slope[:, at] = losses.loss[:, some], losses.slope[:, some]
        for name in ("flow", "pressure", "residual"):
            getattr(self, name)[:, at] = getattr(part, name)[:, some]
        for name in ("worst", "pressure_error", "flow_error", "mass_error", "converged"):
            getattr(self, name)[at] = getattr(part, name)[some]
        if chosen is None:
            self.iterations[at] += part.iterations

    def _store_errors(self, at: Selection, iterate: Iterate, chosen: Selection, iteration: int) -> None:
        correction = iterate.correction if isinstance(chosen, slice) else iterate.correction.take(chosen, axis=1)
        self.worst[at] = np.abs(correction).argmax(axis=0)
        self.iterations[at] += iteration
        self.pressure_error[at] = iterate.pressure_error[chosen]
        self.flow_error[at] = iterate.flow_error[chosen]
        self.mass_error[at] = iterate.mass_error[chosen]


@dataclass
class Iterate:
    """Flows and pressures with the equations evaluated on them, and their errors.

    Attributes
    ----------
    flow : array (chains, points)
        Flow unknown of each chain.
    pressure : array (rows, points)
        Kept nodes, fixed nodes, atmosphere, Pa over the batch's datum.
    evaluation : Evaluation
    conductance : array (chains, points)
        Reciprocal of the slope of each chain's equation in its flow.
    correction : array (chains, points)
        Residual of each chain over that slope, m3/s.
    imbalance : array (kept nodes, points)
        Inflow less outflow and draw, m3/s.
    pressure_error, flow_error, mass_error : array (points,)
        As in `Solution`.
    """

    flow: LinkArray
    pressure: NodeArray
    evaluation: Evaluation
    conductance: LinkArray
    correction: LinkArray
    imbalance: NodeArray
    pressure_error: PointArray
    flow_error: PointArray
    mass_error: PointArray

    def converged(self, fraction: float = AIMED_TOLERANCE_FRACTION) -> BoolArray:
        """Return whether each point meets the stop rule with a fraction of the flow tolerance."""
        return (
            (self.pressure_error < PRESSURE_TOLERANCE)
            & (self.flow_error < fraction * FLOW_TOLERANCE)
            & (self.mass_error < FLOW_TOLERANCE)
        )

    def allow_rounding(self) -> None:
        """Take from the flow errors what the rounding of the pressures causes, which no iteration can reduce.

        A short wide line passes a noticeable flow at a difference in pressure that vanishes beside the pressures
        themselves: a rounding error of 2e-16 of 300 kPa drives 2e-5 L/h through 10 mm of a 100 mm line.
        """
        largest_pressure = np.maximum.reduce(np.abs(self.pressure), axis=0)
        rounding = _ROUNDINGS * np.finfo(float).eps * largest_pressure * self.conductance
        largest = np.maximum(_largest(self.flow), LEAST_FLOW)
        self.flow_error = np.maximum.reduce(np.abs(self.correction) - rounding, axis=0).clip(0.0) / largest

    def points(self, points: IndexArray) -> Iterate:
        """Return the iterate of some of the points, without the losses of its groups."""

        def some(values: FloatArray) -> FloatArray:
            return values.take(points, axis=-1)

        value = self.evaluation
        slopes = [value.up_slope, value.down_slope, value.reference_slope]
        return Iterate(
            some(self.flow),
            some(self.pressure),
            Evaluation(some(value.residual), some(value.flow_slope), [], *(some(s) if len(s) else s for s in slopes)),
            some(self.conductance),
            some(self.correction),
            some(self.imbalance),
            some(self.pressure_error),
            some(self.flow_error),
            some(self.mass_error),
        )


@cache
def keep_freed_memory() -> None:
    """Make the C library's allocator keep freed memory, once per process.

    A block above its threshold (128 kB at first) is mapped and returned to the system with every array, and the page
    faults cost four times the arithmetic. Freeing one large block raises the threshold of glibc for good; elsewhere
    this does nothing.
    """
    np.empty(3 * 1024 * 1024)


def typical_start(batch: Batch, *, limited: bool = False) -> tuple[LinkArray, NodeArray]:
    """Return flows (chains, points) and pressures (rows, points) to start from, from the parts' typical flows.

    Parameters
    ----------
    batch : Batch
    limited : bool, optional
        Whether no link starts above all draws together or the smallest typical flow of a pump, valve or regulator: the
        typical flow of a wide line alone may be thousands of times what those pass.
    """
    flow = np.full((len(batch.plan.up), batch.size), np.inf)
    limit = np.inf
    for group, inputs in zip(batch.plan.groups, batch.groups, strict=True):
        if group.law.typical_flow is None:
            typical = np.full((len(group.links), 1), 10.0 * L_PER_HOUR)
        else:
            typical = group.law.typical_flow(inputs.coefficients)
        if group.law.kinks is not None:
            limit = min(limit, float(typical.min()))
        first = len(group.links) - len(group.shared)
        flow[group.rows] = np.minimum(flow[group.rows], typical[:first])
        for link, chain in group.shared:
            np.minimum(flow[chain], typical[link], out=flow[chain])
    if limited and np.isfinite(limit):
        np.minimum(flow, np.maximum(np.abs(batch.draw).sum(axis=0), max(limit, LEAST_FLOW)), out=flow)
    pressure = np.empty((len(batch.plan.contraction.kept) + len(batch.fixed), batch.size))
    pressure[:] = batch.fixed[:-1].mean(axis=0)
    pressure[-len(batch.fixed) :] = batch.fixed
    return flow, pressure


def _largest(values: FloatArray) -> PointArray:
    largest: PointArray = np.maximum.reduce(np.abs(values), axis=0)
    return largest


def evaluate_iterate(batch: Batch, flow: LinkArray, pressure: NodeArray, *, errors: bool = True) -> Iterate:
    """Evaluate the equations at flows (chains, points) and pressures (rows, points), and their errors.

    Parameters
    ----------
    batch : Batch
    flow, pressure : array
    errors : bool, optional
        Whether to evaluate the errors, which are infinite if not.
    """
    evaluation = batch.evaluate(flow, pressure)
    conductance = 1.0 / evaluation.flow_slope
    correction = evaluation.residual * conductance
    imbalance = batch.plan.balance(flow) - batch.draw
    if not errors:
        unknown = np.full(batch.size, np.inf)
        return Iterate(flow, pressure, evaluation, conductance, correction, imbalance, unknown, unknown, unknown)
    largest = np.maximum(_largest(flow), LEAST_FLOW)
    flow_error = _largest(correction) / largest
    mass_error = _largest(imbalance) / largest if len(imbalance) else np.zeros(batch.size)
    return Iterate(
        flow,
        pressure,
        evaluation,
        conductance,
        correction,
        imbalance,
        _largest(evaluation.residual),
        flow_error,
        mass_error,
    )


def matrix_values(plan: Plan, iterate: Iterate) -> FloatArray:
    """Return the values (width, points) from which the matrix of a Newton step is summed."""
    losses = plan.loss_chains
    if losses == len(plan.up):
        return iterate.conductance
    value, with_equation = iterate.evaluation, iterate.conductance[losses:]
    parts = [iterate.conductance[:losses], with_equation * value.up_slope, with_equation * value.down_slope]
    if plan.referenced_chains.size:
        referenced = plan.referenced_chains - losses
        parts.append(with_equation[referenced] * value.reference_slope[referenced])
    return np.concatenate(parts)


def newton_step(batch: Batch, iterate: Iterate, solve: SharedSolver | None = None) -> tuple[LinkArray, NodeArray]:
    """Return the full Newton step in the chain flows (chains, points) and the kept pressures (kept, points).

    Parameters
    ----------
    batch : Batch
    iterate : Iterate
    solve : SharedSolver, optional
        Solver of the pressures' changes used instead of that with each point's own matrix.
    """
    plan, value = batch.plan, iterate.evaluation
    losses, size = plan.loss_chains, len(plan.contraction.kept)
    conductance = iterate.conductance
    if batch.size == 1 and solve is None and plan.incidence is not None and losses == len(plan.up) and size:
        return _single_step(plan.incidence[:, :size], iterate)
    loops = plan.loops if solve is None and batch.size >= _LEAST_POINTS_FOR_LOOPS else None
    if loops is not None and loops.are_short:
        balanced = bool(iterate.mass_error.max() < _BALANCED)
        return loops.step(1.0 / iterate.conductance, value.residual, iterate.imbalance, balanced=balanced)
    right = plan.balance(iterate.correction)
    np.subtract(iterate.imbalance, right, out=right)
    change = plan.elimination.solve(matrix_values(plan, iterate), right) if solve is None else solve(right)
    rows = np.zeros((len(iterate.pressure), change.shape[1]))
    rows[:size] = change
    flow_change = rows.take(plan.up, axis=0)
    down = rows.take(plan.down, axis=0)
    if losses == len(plan.up):
        flow_change -= down
    else:
        flow_change[:losses] -= down[:losses]
        flow_change[losses:] *= value.up_slope
        flow_change[losses:] -= value.down_slope * down[losses:]
        if plan.referenced_chains.size:
            flow_change[losses:] -= value.reference_slope * rows.take(plan.reference[losses:], axis=0)
    flow_change *= conductance
    flow_change -= iterate.correction
    return flow_change, change


def limited_step(
    batch: Batch, flow: LinkArray, flow_change: LinkArray, change: NodeArray, least: float = 0.0
) -> tuple[LinkArray, NodeArray]:
    """Return a step from some flows cut where it would run far beyond a kink of a law; see `Batch.step_length`."""
    step_length = batch.step_length(flow, flow_change, least)
    if step_length is not None:
        flow_change *= step_length
        change *= step_length
    return flow_change, change


def take_secants(batch: Batch, iterate: Iterate) -> None:
    """Take each chain's loss over its flow as its slope, where both have the same sign, for a step from a rough start.

    A tangent of a loss that grows with the square of the flow keeps half of a flow that should vanish or turn; the
    secant keeps nothing of the start but the resistance.
    """
    plan = batch.plan
    losses = slice(0, plan.loss_chains)
    drop = iterate.pressure.take(plan.up[losses], axis=0)
    drop -= iterate.pressure.take(plan.down[losses], axis=0)
    drop += batch.head[losses]
    loss = iterate.evaluation.residual[losses] + drop
    secant = iterate.flow[losses] / loss
    conductance = iterate.conductance[losses]
    np.copyto(conductance, secant, where=(secant > 0.0) & (secant < _MOST_SECANT * conductance))
    iterate.correction[losses] = iterate.evaluation.residual[losses] * conductance


def _single_step(incidence: FloatArray, iterate: Iterate) -> tuple[LinkArray, NodeArray]:
    """Return the Newton step of a single point whose chains all have a loss, by dense matrices with few operations."""
    conductance, correction = iterate.conductance, iterate.correction
    into = incidence.T
    try:
        solved = np.linalg.solve((into * conductance[:, 0]) @ incidence, iterate.imbalance - into @ correction)
        change = np.asarray(solved, dtype=np.float64)
    except np.linalg.LinAlgError:
        change = np.full(iterate.imbalance.shape, np.nan)
    flow_change: LinkArray = incidence @ change
    flow_change *= -conductance
    flow_change -= correction
    return flow_change, change


def newton(
    batch: Batch,
    flow: LinkArray,
    pressure: NodeArray,
    solution: Solution,
    at: Selection,
    *,
    set_aside: bool = False,
    least_step: float = 0.0,
    steps: int = UNDAMPED_STEPS,
    secant_start: bool = False,
    most_pressure: float = np.inf,
) -> IndexArray:
    """Take Newton steps without a line search until the stop rule is met or the steps are used up.

    Parameters
    ----------
    batch : Batch
        The points to solve.
    flow, pressure : array (chains, points), (rows, points)
        Where to start.
    solution : Solution
        Receives every point that converges.
    at : slice or int array (points,)
        Positions of the batch's points in the solution.
    set_aside : bool, optional
        Whether to stop when few points are left, so that those of several chunks can be iterated together.
    least_step : float, optional
        Least fraction of a step, see `Batch.step_length`.
    steps : int, optional
        Greatest number of steps.
    secant_start : bool, optional
        Whether the start is rough, so that the first step takes secants.
    most_pressure : float, optional
        Pressure, Pa over or below the datum, beyond which a point is given up after the first few steps.

    Returns
    -------
    int array
        Positions of the points that did not converge; the solution holds their last iterate.
    """
    if not len(batch.plan.up):
        # Every flow is known beforehand.
        solution.converged[at] = True
        for error in (solution.pressure_error, solution.flow_error, solution.mass_error):
            error[at] = 0.0
        return np.zeros(0, dtype=np.intp)
    few = _SET_ASIDE_FRACTION * batch.size if set_aside else 0.0
    size, links = len(batch.plan.contraction.kept), len(batch.plan.topology.laws)
    given_up: list[IndexArray] = []
    for iteration in range(steps + 1):
        rough = secant_start and iteration < _ROUGH_STEPS and steps > _ROUGH_STEPS
        iterate = evaluate_iterate(batch, flow, pressure, errors=not rough)
        if iteration >= _ROUNDING_FROM:
            iterate.allow_rounding()
        if rough:
            converged = np.zeros(batch.size, dtype=bool)
        else:
            converged = iterate.converged(AIMED_TOLERANCE_FRACTION if iteration < steps else 1.0)
        count = int(np.count_nonzero(converged))
        if count == batch.size:
            solution.store(batch.plan, at, iterate, slice(None), iteration)
            return np.concatenate([*given_up, np.zeros(0, dtype=np.intp)])
        many = count > _LEAST_FRACTION_TAKEN_OUT * batch.size and count * links > _LEAST_VALUES_TAKEN_OUT
        if count and (many or iteration >= min(_TAKEN_OUT_FROM, steps) or batch.size - count <= few):
            at = _positions(at)
            chosen, remaining = np.flatnonzero(converged), np.flatnonzero(~converged)
            solution.store(batch.plan, at[chosen], iterate, chosen, iteration)
            if iteration == steps or remaining.size <= few:
                solution.store_unconverged(at[remaining], iterate, remaining, iteration)
                return np.concatenate([*given_up, at[remaining]])
            batch = batch.points(remaining, remaining.size)
            at, iterate = at[remaining], iterate.points(remaining)
        if iteration >= _RUNS_OFF_FROM and most_pressure < np.inf:
            runs_off = ~(np.abs(iterate.pressure[:size]) < most_pressure).all(axis=0)
            if runs_off.any():
                at = _positions(at)
                chosen, remaining = np.flatnonzero(runs_off), np.flatnonzero(~runs_off)
                solution.store_unconverged(at[chosen], iterate, chosen, iteration)
                given_up.append(at[chosen])
                if not remaining.size:
                    return np.concatenate(given_up)
                batch = batch.points(remaining, remaining.size)
                at, iterate = at[remaining], iterate.points(remaining)
        if iteration == 0 and secant_start:
            take_secants(batch, iterate)
        if iteration < steps:
            flow_change, change = limited_step(batch, iterate.flow, *newton_step(batch, iterate), least_step)
            flow = iterate.flow + flow_change
            pressure = iterate.pressure
            pressure[:size] += change
    at = _positions(at)
    solution.store_unconverged(at, iterate, np.arange(batch.size), steps)
    return np.concatenate([*given_up, at])


def _positions(at: Selection) -> IndexArray:
    return np.arange(at.start, at.stop) if isinstance(at, slice) else at
