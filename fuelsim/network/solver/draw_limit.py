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
from fuelsim.network.solver.fallbacks import damped_newton, run_fallbacks
from fuelsim.network.solver.newton import LEAST_STEP, Solution, newton, typical_start
from fuelsim.network.solver.pseudo_transient import is_sinking, pseudo_transient
from fuelsim.typing import BoolArray, IndexArray, LinkArray, NodeArray, PointArray

__all__ = ["DrawLimits", "Violations", "find_draw_limits", "limiting_link", "violations"]

_PRECISION = 0.01
"""Relative width to which the largest fraction is bracketed."""
_MOST_ROUNDS = 80
_LEAST_FRACTION = 1e-4
"""Fraction of the draws below which none is said to work: what leaks through shut valves is no supply."""
_WIDEST_STEP = 0.25
"""Ratio of the ends of a bracket above which its middle is their geometric mean."""
_RUN_OFF_PRESSURE = 1e9
"""Pressure that no network of real parts reaches, Pa."""
_TRANSIENT_STEPS = 20
_DAMPED_STEPS = 30
"""Steps in time, then damped ones, with which the upper end of a bracket is tried again."""
_TRIAL_STEPS = 12
"""Newton steps of one trial, which starts from a solution at a smaller draw."""
_LEAST_LEFT = _TRIAL_STEPS + _TRANSIENT_STEPS
"""Iterations that must be left for the upper end of a bracket to be tried again."""


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
    bracketed : bool array (points,)
        Whether the fraction is bracketed to 1 %; else more may work, and the search was given up for its cost.
    """

    fraction: PointArray
    link: IndexArray
    node: IndexArray
    bracketed: BoolArray

    @classmethod
    def empty(cls, size: int) -> DrawLimits:
        """Return limits of which none is known."""
        return cls(
            np.full(size, np.nan),
            np.zeros(size, dtype=np.intp),
            np.zeros(size, dtype=np.intp),
            np.zeros(size, dtype=bool),
        )

    @property
    def found(self) -> BoolArray:
        """Whether the limit of each point is known."""
        return np.isfinite(self.fraction)

    def with_points(self, at: IndexArray, part: DrawLimits) -> DrawLimits:
        """Return the limits with those of some points filled in."""
        self.fraction[at], self.link[at], self.node[at] = part.fraction, part.link, part.node
        self.bracketed[at] = part.bracketed
        return self


class _Trial(NamedTuple):
    """One attempt at a fraction of the draws: which points are within ratings, and which are shown to be outside."""

    solution: Solution
    within: BoolArray
    outside: BoolArray
    link: IndexArray
    node: IndexArray


def _attempt(
    batch: Batch,
    fraction: PointArray,
    flow: LinkArray,
    pressure: NodeArray,
    steps: int,
    *,
    damped: BoolArray | None = None,
    all_fallbacks: bool = False,
) -> _Trial:
    """Solve a batch with a fraction, (points,), of its draws, from given flows and pressures.

    What fails is continued in time from there and, where `damped`, tried by damped steps, or by all fallbacks.
    """
    reduced = batch.with_draws(fraction)
    solution = Solution.empty(reduced)
    start = pressure.copy()
    failed = newton(
        reduced,
        flow,
        pressure,
        solution,
        np.arange(batch.size),
        least_step=LEAST_STEP,
        steps=steps,
        most_pressure=np.inf if all_fallbacks else _RUN_OFF_PRESSURE,
    )
    if damped is not None and failed.size:
        some = reduced.points(failed, failed.size)
        failed = pseudo_transient(some, flow[:, failed], start[:, failed], solution, failed, steps=_TRANSIENT_STEPS)
        sinking = is_sinking(reduced.points(failed, failed.size), solution.pressure[:, failed])
        failed = failed[~sinking & damped[failed]]
        if failed.size:
            some = reduced.points(failed, failed.size)
            damped_newton(some, flow[:, failed], start[:, failed], solution, failed, steps=_DAMPED_STEPS)
    elif all_fallbacks and failed.size:
        run_fallbacks(reduced, solution, failed)
    solved = expand_to_links(reduced, solution)
    worst = violations(reduced, solved)
    # An iterate that runs off towards an infinite suction or pressure has no solution ahead of it.
    kept = solution.pressure
    runs_off = ((kept + batch.datum < 0.0) | ~(np.abs(kept) < _RUN_OFF_PRESSURE)).any(axis=0)
    outside = np.where(solution.converged, worst.any, runs_off)
    return _Trial(solution, solution.converged & ~worst.any, outside, limiting_link(reduced, solved, worst), worst.node)


@dataclass
class _Bracket:
    """Points whose largest fraction is being bracketed; every array has the points on its last axis.

    Attributes
    ----------
    at : int array
        Positions in the whole batch.
    batch : Batch
        Batch of these points alone.
    flow, pressure : array
        Solution at `low`, kept pressures only.
    low, high : array
        Fractions that are within ratings, and that were not solved within.
    proven : bool array
        Whether `high` was solved, and outside ratings: else it may only not have converged.
    outside : bool array
        Whether anything shows that some fraction is outside.
    link, node : int array
        As in `DrawLimits`.
    """

    at: IndexArray
    batch: Batch
    flow: LinkArray
    pressure: NodeArray
    low: PointArray
    high: PointArray
    proven: BoolArray
    outside: BoolArray
    link: IndexArray
    node: IndexArray

    def points(self, points: IndexArray) -> _Bracket:
        """Return the bracket of some of its points."""
        return _Bracket(
            self.at[points],
            self.batch.points(points, points.size),
            self.flow[:, points],
            self.pressure[:, points],
            self.low[points],
            self.high[points],
            self.proven[points],
            self.outside[points],
            self.link[points],
            self.node[points],
        )

    def middle(self) -> PointArray:
        """Return the fractions to try next: geometric means far from the limit, and 1 once it is near."""
        low = np.where(self.low > 0.0, self.low, _WIDEST_STEP**2 * self.high)
        middle = np.where(self.high > _WIDEST_STEP**-1 * low, np.sqrt(low * self.high), 0.5 * (self.low + self.high))
        return np.where((self.low > 1.0 - 4.0 * _PRECISION) & (self.high == 1.0) & ~self.proven, 1.0, middle)

    def narrow(self, middle: PointArray, trial: _Trial) -> None:
        """Take what a trial shows."""
        within, converged = trial.within, trial.solution.converged
        self.low[within], self.high[~within] = middle[within], middle[~within]
        self.flow[:, within] = trial.solution.flow[:, within]
        self.pressure[:, within] = trial.solution.pressure[:, within]
        # The part that limits is told from a solution outside ratings, or else from the last one within.
        telling = converged & (trial.outside | ~self.proven)
        self.link[telling], self.node[telling] = trial.link[telling], trial.node[telling]
        self.proven[~within] = (converged & trial.outside)[~within]
        self.outside |= ~within & trial.outside

    def closed(self) -> BoolArray:
        """Whether each limit is known precisely enough, or is next to nothing."""
        return (self.high - self.low <= _PRECISION * self.high) | (self.high < _LEAST_FRACTION)


def find_draw_limits(
    batch: Batch,
    solved: Solved,
    worst: Violations,
    unconverged: IndexArray,
    limits: DrawLimits,
    most_iterations: float,
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
    most_iterations : float
        Iterations of a point, those before included, after which its bracket is left as it is.
    """
    solution = solved.solution
    at = np.concatenate([np.flatnonzero(solution.converged & worst.any & ~limits.found), unconverged])
    at = at[(np.broadcast_to(batch.node_draw, (len(batch.node_draw), batch.size))[:, at] != 0.0).any(axis=0)]
    if not at.size:
        return
    bracket = _without_draws(batch, solved, worst, at)
    for _ in range(_MOST_ROUNDS):
        if not bracket.at.size:
            return
        middle = bracket.middle()
        trial = _attempt(
            bracket.batch, middle, bracket.flow, bracket.batch.all_pressures(bracket.pressure), _TRIAL_STEPS
        )
        solution.iterations[bracket.at] += trial.solution.iterations
        bracket.narrow(middle, trial)
        whole = trial.within & (middle == 1.0)
        if whole.any():
            solution.put(bracket.at[whole], trial.solution, np.flatnonzero(whole))
        left = most_iterations - solution.iterations[bracket.at]
        narrow = bracket.closed()
        narrow &= bracket.proven | (left >= _LEAST_LEFT)
        closed = bracket.closed() | (left < _TRIAL_STEPS)
        doubtful = np.flatnonzero(narrow & ~whole & ~bracket.proven)
        if doubtful.size:
            damped = left[doubtful] >= _LEAST_LEFT + _DAMPED_STEPS
            closed[doubtful[_advanced(solution, bracket, doubtful, damped)]] = False
        _store(limits, bracket, closed & ~whole & bracket.outside, narrow)
        bracket = bracket.points(np.flatnonzero(~closed & ~whole))
    _store(limits, bracket, bracket.outside, bracket.closed())


def _without_draws(batch: Batch, solved: Solved, worst: Violations, at: IndexArray) -> _Bracket:
    """Return the brackets of the points that are within ratings without any draw."""
    some = batch.points(at, at.size)
    start = typical_start(some, limited=True)
    trial = _attempt(some, np.zeros(at.size), *start, 4 * _TRIAL_STEPS, all_fallbacks=True)
    solved.solution.iterations[at] += trial.solution.iterations
    link, node = np.zeros(at.size, dtype=np.intp), np.zeros(at.size, dtype=np.intp)
    outside = solved.solution.converged[at]
    if outside.any():
        link, node = limiting_link(batch, solved, worst)[at], worst.node[at]
    low, high = np.zeros(at.size), np.ones(at.size)
    bracket = _Bracket(
        at, some, trial.solution.flow, trial.solution.pressure, low, high, outside, outside.copy(), link, node
    )
    return bracket.points(np.flatnonzero(trial.within))


def _advanced(solution: Solution, bracket: _Bracket, points: IndexArray, damped: BoolArray) -> BoolArray:
    """Try again, harder, at the upper ends of some points' brackets; return for which of them it is within after all.

    Their brackets are opened towards the whole draws.
    """
    some = bracket.points(points)
    pressure = some.batch.all_pressures(some.pressure)
    trial = _attempt(some.batch, some.high, some.flow, pressure, _TRIAL_STEPS, damped=damped)
    solution.iterations[some.at] += trial.solution.iterations
    within = trial.within
    opened = points[within]
    bracket.low[opened] = bracket.high[opened]
    bracket.high[opened] = np.minimum(bracket.high[opened] * _WIDEST_STEP**-2, 1.0)
    bracket.flow[:, opened] = trial.solution.flow[:, within]
    bracket.pressure[:, opened] = trial.solution.pressure[:, within]
    return within & (some.high < 1.0)


def _store(limits: DrawLimits, bracket: _Bracket, known: BoolArray, narrow: BoolArray) -> None:
    """Store the limits of some points of a bracket, of which some are narrow."""
    at = bracket.at[known]
    limits.fraction[at] = np.where(bracket.high[known] < _LEAST_FRACTION, 0.0, bracket.low[known])
    limits.link[at], limits.node[at] = bracket.link[known], bracket.node[known]
    limits.bracketed[at] = narrow[known]
