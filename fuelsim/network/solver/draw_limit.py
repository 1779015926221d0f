"""Which draws a network can supply: points outside ratings, and the largest fraction of their draws that is within.

A point is outside ratings where a node would be below a vacuum, or where a pump is past its run-out and a node with a
draw lies below every reservoir. All draws of such a point are reduced together until it is within: the solution without
draws is continued towards the whole draws by bisection, which also solves some points that other starts do not.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from fuelsim.laws.link import Regime
from fuelsim.network.solver.equations import Batch
from fuelsim.network.solver.expansion import Solved, expand_to_links, regime_of
from fuelsim.network.solver.newton import LEAST_STEP, Solution, newton, typical_start
from fuelsim.typing import BoolArray, IndexArray, LinkArray, NodeArray, PointArray

__all__ = ["DrawLimits", "Violations", "find_draw_limits", "limiting_link", "violations"]

_PRECISION = 0.005
"""Relative width to which the largest fraction is bracketed."""
_MOST_ROUNDS = 16
_RUN_OFF_PRESSURE = 1e9
"""Pressure that no network of real parts reaches, Pa."""
_TRIAL_STEPS = 12
"""Newton steps of one trial, which starts from a solution at a smaller draw."""


class Violations(NamedTuple):
    """Where points are outside ratings.

    Attributes
    ----------
    below_vacuum : bool array (points,)
        Whether a node is below a vacuum.
    overdrawn : bool array (points,)
        Whether a pump is past its run-out and a node with a draw lies below every reservoir.
    pump : int array (points,)
        Link of a pump past its run-out, -1 for none.
    node : int array (points,)
        Unknown node of lowest pressure; of those with a draw where overdrawn but not below a vacuum.
    """

    below_vacuum: BoolArray
    overdrawn: BoolArray
    pump: IndexArray
    node: IndexArray

    @property
    def any(self) -> BoolArray:
        """Whether each point is outside ratings."""
        return self.below_vacuum | self.overdrawn


def violations(batch: Batch, solved: Solved) -> Violations:
    """Return where the points of a solved batch are outside ratings; meaningless where they did not converge."""
    topology, size = batch.plan.topology, batch.size
    below, overdrawn = np.zeros(size, dtype=bool), np.zeros(size, dtype=bool)
    pump, node = np.full(size, -1, dtype=np.intp), np.zeros(size, dtype=np.intp)
    if not topology.unknown:
        return Violations(below, overdrawn, pump, node)
    unknown = solved.pressure[: topology.unknown]
    below = unknown.min(axis=0) < -batch.datum
    drawn = np.flatnonzero((batch.node_draw > 0.0).any(axis=1))
    starved = np.zeros((0, size), dtype=bool)
    if drawn.size:
        lowest = (solved.pressure[topology.unknown : -1] + batch.node_head[topology.unknown :]).min(axis=0)
        starved = (unknown[drawn] < lowest - batch.node_head[drawn]) & (batch.node_draw[drawn] > 0.0)
    if starved.any():
        for link, law in enumerate(topology.laws):
            if Regime.PAST_RUN_OUT in law.regimes:
                past = regime_of(batch, solved, link) == law.regimes.index(Regime.PAST_RUN_OUT)
                pump[past & (pump < 0)] = link
        overdrawn = starved.any(axis=0) & (pump >= 0)
    if below.any() or overdrawn.any():
        node = unknown.argmin(axis=0)
        if drawn.size:
            lowest_drawn = drawn[np.where(starved, unknown[drawn], np.inf).argmin(axis=0)]
            node = np.where(overdrawn & ~below, lowest_drawn, node)
    return Violations(below, overdrawn, pump, node)


def limiting_link(batch: Batch, solved: Solved, worst: Violations) -> IndexArray:
    """Return the link that limits the draws of each point: a pump past its run-out, else the one of greatest loss."""
    topology = batch.plan.topology
    up, down = np.array(topology.up, dtype=np.intp), np.array(topology.down, dtype=np.intp)
    total = solved.pressure[: topology.atmosphere] + batch.node_head
    loss = (total[up] - total[down]) * np.sign(solved.flow)
    greatest = np.nan_to_num(loss, nan=-np.inf).argmax(axis=0)
    return np.where(worst.pump >= 0, worst.pump, greatest)


@dataclass
class DrawLimits:
    """Largest draws of the points that are outside ratings because of their draws.

    Attributes
    ----------
    fraction : array (points,)
        Largest fraction of all draws that is within ratings; NaN where draws are not the cause, or it is not known.
    link, node : int array (points,)
        Link that limits, and node that would fall outside ratings beyond that fraction.
    """

    fraction: PointArray
    link: IndexArray
    node: IndexArray

    @classmethod
    def empty(cls, size: int) -> DrawLimits:
        """Return limits of which none is known."""
        return cls(np.full(size, np.nan), np.zeros(size, dtype=np.intp), np.zeros(size, dtype=np.intp))

    @property
    def found(self) -> BoolArray:
        """Whether the limit of each point is known."""
        return np.isfinite(self.fraction)

    def with_points(self, at: IndexArray, part: DrawLimits) -> DrawLimits:
        """Return the limits with those of some points filled in."""
        self.fraction[at], self.link[at], self.node[at] = part.fraction, part.link, part.node
        return self


class _Trial(NamedTuple):
    """One attempt at a fraction of the draws: which points are within ratings, and which proved to be outside."""

    solution: Solution
    within: BoolArray
    outside: BoolArray
    link: IndexArray
    node: IndexArray


def _attempt(batch: Batch, fraction: PointArray, flow: LinkArray, pressure: NodeArray, steps: int) -> _Trial:
    """Solve a batch with a fraction, (points,), of its draws."""
    reduced = batch.with_draws(fraction)
    solution = Solution.empty(reduced)
    newton(reduced, flow, pressure, solution, np.arange(batch.size), least_step=LEAST_STEP, steps=steps)
    solved = expand_to_links(reduced, solution)
    worst = violations(reduced, solved)
    # An iterate that runs off towards an infinite suction or pressure has no solution ahead of it.
    kept = solution.pressure
    runs_off = ((kept + batch.datum < 0.0) | ~(np.abs(kept) < _RUN_OFF_PRESSURE)).any(axis=0)
    outside = np.where(solution.converged, worst.any, runs_off)
    return _Trial(solution, solution.converged & ~worst.any, outside, limiting_link(reduced, solved, worst), worst.node)


def find_draw_limits(
    batch: Batch, solved: Solved, worst: Violations, unconverged: IndexArray, limits: DrawLimits
) -> None:
    """Find the largest fraction of the draws that is within ratings, of points outside whose limit is not known yet.

    Parameters
    ----------
    batch : Batch
    solved : Solved
        Its solution. A point that had not converged and is within ratings with its whole draws is stored.
    worst : Violations
        Where its points are outside ratings.
    unconverged : int array
        Positions of points that have not converged, whose limit is looked for too.
    limits : DrawLimits
        Receives what is found.
    """
    solution = solved.solution
    at = np.concatenate([np.flatnonzero(solution.converged & worst.any & ~limits.found), unconverged])
    at = at[(np.broadcast_to(batch.node_draw, (len(batch.node_draw), batch.size))[:, at] != 0.0).any(axis=0)]
    if not at.size:
        return
    some = batch.points(at, at.size)
    trial = _attempt(some, np.zeros(at.size), *typical_start(some, limited=True), 4 * _TRIAL_STEPS)
    solution.iterations[at] += trial.solution.iterations
    at, some, flow, pressure = _kept(at, some, trial, trial.within)
    low, high = np.zeros(at.size), np.ones(at.size)
    outside = solution.converged[at]
    link, node = np.zeros(at.size, dtype=np.intp), np.zeros(at.size, dtype=np.intp)
    if outside.any():
        link, node = limiting_link(batch, solved, worst)[at], worst.node[at]
    seen = outside.copy()
    for _ in range(_MOST_ROUNDS):
        if not at.size:
            return
        # The whole draws are tried once the fraction is near them.
        middle = np.where((low > 1.0 - 4.0 * _PRECISION) & (high == 1.0), 1.0, 0.5 * (low + high))
        trial = _attempt(some, middle, flow, some.all_pressures(pressure), _TRIAL_STEPS)
        solution.iterations[at] += trial.solution.iterations
        within = trial.within
        low[within], high[~within] = middle[within], middle[~within]
        flow[:, within], pressure[:, within] = trial.solution.flow[:, within], trial.solution.pressure[:, within]
        # The part that limits is told from a solution outside ratings, or else from the last one within.
        telling = trial.solution.converged & (trial.outside | ~seen)
        link[telling], node[telling] = trial.link[telling], trial.node[telling]
        seen |= trial.solution.converged & trial.outside
        outside |= ~within & trial.outside
        whole = within & (middle == 1.0)
        if whole.any():
            solution.put(at[whole], trial.solution, np.flatnonzero(whole))
        done = whole | (high - low <= _PRECISION * high)
        known = done & ~whole & outside
        limits.fraction[at[known]] = low[known]
        limits.link[at[known]], limits.node[at[known]] = link[known], node[known]
        active = np.flatnonzero(~done)
        at, some = at[active], some.points(active, active.size)
        low, high, link, node = low[active], high[active], link[active], node[active]
        outside, seen = outside[active], seen[active]
        flow, pressure = flow[:, active], pressure[:, active]
    limits.fraction[at[outside]] = low[outside]
    limits.link[at[outside]], limits.node[at[outside]] = link[outside], node[outside]


def _kept(
    at: IndexArray, some: Batch, trial: _Trial, keep: BoolArray
) -> tuple[IndexArray, Batch, LinkArray, NodeArray]:
    """Return positions, batch, flows and pressures of the points that are kept."""
    points = np.flatnonzero(keep)
    flow, pressure = trial.solution.flow[:, points], trial.solution.pressure[:, points]
    return at[points], some.points(points, points.size), flow, pressure
