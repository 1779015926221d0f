"""Wide random networks solved, judged and counted: the work of the test and of the long run.

Solved points are put back into each link's own law and each node's balance, apart from the solver's merging of links.
Every point that did not converge and a share of all others are put to scipy from several starts, which know nothing of
the solver, and the largest draw that is said to work to a bisection on the draw.
"""

from __future__ import annotations

import warnings
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from plumbing import ATMOSPHERE, GRAVITY, L_H
from scipy_judge import ScipyJudge
from wide_networks import WideNetwork, wide_network

from fuelsim.network.network import Network
from fuelsim.network.solver.newton import FLOW_TOLERANCE, PRESSURE_TOLERANCE
from fuelsim.network.state import State
from fuelsim.outcome import OutcomeCode

MOST_LINKS_JUDGED = 40
"""Larger networks are not put to scipy, which rarely ends on them."""


CLASSES = {
    OutcomeCode.SOLVED: "solved",
    OutcomeCode.CUT_OFF: "cut off",
    OutcomeCode.NOT_CONVERGED: "not converged",
    OutcomeCode.OUTSIDE_RATINGS: "outside ratings",
}


@dataclass
class WideTally:
    """What many wide networks came to; lists hold (seed, point)."""

    points: int = 0
    solved: int = 0
    cut_off: int = 0
    overdrawn: int = 0
    outside_ratings: int = 0
    not_converged: list[tuple[int, int]] = field(default_factory=list)
    too_large_to_judge: int = 0
    judged: Counter[str] = field(default_factory=Counter)
    found_by_judge: Counter[str] = field(default_factory=Counter)
    missed: list[tuple[int, int]] = field(default_factory=list)
    differing: list[tuple[int, int]] = field(default_factory=list)
    limits_checked: int = 0
    limits_wrong: list[tuple[int, int]] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    iterations: list[int] = field(default_factory=list)

    def add(self, other: WideTally) -> None:
        """Add what other networks came to."""
        for name, value in vars(other).items():
            setattr(self, name, getattr(self, name) + value)

    def verdicts(self) -> str:
        """What scipy found, by class."""
        return ", ".join(f"{name} {self.found_by_judge[name]} of {self.judged[name]}" for name in sorted(self.judged))

    def sentence(self) -> str:
        """The counts in words."""
        return (
            f"{self.points} points: {self.solved} solved, {self.cut_off} cut off, {self.overdrawn} overdrawn with the "
            f"largest draw said, {self.outside_ratings} otherwise outside ratings, {len(self.not_converged)} not "
            f"converged ({self.too_large_to_judge} of them too large for scipy); solved by scipy: {self.verdicts()}; "
            f"{len(self.missed)} without a result solved by scipy, {len(self.differing)} solved otherwise by it; "
            f"{self.limits_checked} largest draws bisected, {len(self.limits_wrong)} wrong by more than 2 %; "
            f"{len(self.wrong)} wrong; iterations median {np.median(self.iterations):.0f}, "
            f"99 % {np.percentile(self.iterations, 99):.0f}, most {max(self.iterations)}"
        )


def run_wide(seeds: range, *, judged_share: float = 0.0, bisect_every: int = 0) -> WideTally:
    """Solve the network of each seed at all its draws.

    Parameters
    ----------
    seeds : range
    judged_share : float, optional
        Share of the points of networks to 40 links that are put to scipy, drawn by lot; those that did not converge are
        put to it unless it is 0.
    bisect_every : int, optional
        Every so many largest draws are bisected; 0 for none.
    """
    tally = WideTally()
    for seed in seeds:
        made = wide_network(seed)
        net = made.build()
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            state = net.solve(made.liquid, made.draws)
        size = next(iter(made.draws.values())).size
        code = np.broadcast_to(state.outcome.code, (size,))
        tally.points += size
        tally.iterations += np.broadcast_to(state.outcome.iterations, (size,)).tolist()
        _check_solved(tally, seed, made, net, state, code == OutcomeCode.SOLVED)
        if made.cut_off and np.any(code != OutcomeCode.CUT_OFF):
            tally.wrong.append(f"seed {seed}: '{made.cut_off}' is cut off and not said to be")
        lot = np.random.default_rng(seed)
        for point in range(size):
            name = CLASSES[OutcomeCode(code[point])]
            if code[point] != OutcomeCode.SOLVED:
                name = _classify(tally, seed, point, made, net, state, bisect_every)
            if judged_share and (lot.random() < judged_share or code[point] == OutcomeCode.NOT_CONVERGED):
                _judge(tally, seed, point, made, net, state, name)
        tally.solved += int(np.count_nonzero(code == OutcomeCode.SOLVED))
    return tally


def _classify(
    tally: WideTally, seed: int, point: int, made: WideNetwork, net: Network, state: State, bisect_every: int
) -> str:
    """Count a point without a result, bisect its largest draw where its turn has come, and return its class."""
    code = OutcomeCode(int(np.atleast_1d(state.outcome.code)[point]))
    limit = float(np.atleast_1d(state.outcome.largest_draw)[point])
    if not str(np.atleast_1d(state.outcome.reason)[point]):
        tally.wrong.append(f"seed {seed}, point {point}: no reason")
    if code == OutcomeCode.CUT_OFF:
        tally.cut_off += 1
    elif code == OutcomeCode.NOT_CONVERGED:
        tally.not_converged.append((seed, point))
    elif np.isfinite(limit):
        tally.overdrawn += 1
        if bisect_every and tally.overdrawn % bisect_every == 0:
            tally.limits_checked += 1
            if not _limit_is_right(made, net, point, limit):
                tally.limits_wrong.append((seed, point))
        return "overdrawn"
    else:
        tally.outside_ratings += 1
    return CLASSES[code]


def _judge(tally: WideTally, seed: int, point: int, made: WideNetwork, net: Network, state: State, name: str) -> None:
    """Put a point to scipy and count its verdict."""
    if len(net.links) > MOST_LINKS_JUDGED:
        tally.too_large_to_judge += name == CLASSES[OutcomeCode.NOT_CONVERGED]
        return
    draws = {node: float(draw[point]) for node, draw in made.draws.items()}
    flow = ScipyJudge(made, _at_point(net, point), draws).solution(np.random.default_rng(seed))
    tally.judged[name] += 1
    if flow is None:
        return
    tally.found_by_judge[name] += 1
    if name != CLASSES[OutcomeCode.SOLVED]:
        tally.missed.append((seed, point))
        return
    size = next(iter(made.draws.values())).size
    own = np.array([np.broadcast_to(state.flow[link], (size,))[point] for link in net.links])
    if np.abs(own - flow).max() > 1e-3 * max(np.abs(own).max(), L_H):
        tally.differing.append((seed, point))


def _limit_is_right(made: WideNetwork, net: Network, point: int, limit: float) -> bool:
    """Whether 98 % of the draws said to work are within ratings and 102 % are not; for none, 2e-4 of the draws."""
    single = _at_point(net, point)
    works = []
    for fraction in (0.98 * limit, max(1.02 * limit, 2e-4)):
        draws = {name: float(draw[point]) * fraction for name, draw in made.draws.items()}
        works.append(bool(single.solve(made.liquid, draws).outcome.converged))
    return works == [True, False]


def _at_point(net: Network, point: int) -> Network:
    """The network with the injectors' demand of one point."""
    import dataclasses

    parts = {
        name: dataclasses.replace(link.part, mass_demand=float(np.atleast_1d(link.part.mass_demand)[point]))
        for name, link in net.links.items()
        if hasattr(link.part, "mass_demand")
    }
    return net.with_parts(parts)


def _equations(net: Network, made: WideNetwork) -> list[tuple[Any, Any, float]]:
    """Law, coefficients and static head of each link."""
    heights = {name: node.height for name, node in (*net.nodes.items(), *net.reservoirs.items())}
    listed = []
    for link in net.links.values():
        law = link.part.law
        own = link.part.coefficients(made.liquid)
        shaped = law.coefficients._make(
            np.asarray(value, dtype=float).reshape(len(value), 1, -1)
            if key in law.tables
            else np.asarray(value, dtype=float).reshape(1, -1)
            for key, value in zip(law.coefficients._fields, own, strict=True)
        )
        listed.append((law, shaped, made.liquid.density * GRAVITY * (heights[link.up] - heights[link.down])))
    return listed


def _errors(
    net: Network, equations: list[tuple[Any, Any, float]], flow: dict[str, Any], pressure: dict[str, Any]
) -> dict[str, tuple[Any, Any]]:
    """Residual (Pa) and slope (Pa s/m3) of each link at flows and absolute pressures, each (points,)."""
    found = {}
    for (name, link), (law, coefficients, head) in zip(net.links.items(), equations, strict=True):
        q = np.atleast_2d(flow[name])
        p_up, p_down = np.atleast_2d(pressure[link.up]), np.atleast_2d(pressure[link.down])
        p_reference = np.atleast_2d(pressure[link.reference] if link.reference else np.full(q.shape[1], ATMOSPHERE))
        with np.errstate(all="ignore"):
            if law.loss is not None:
                loss, slope = law.loss(q, coefficients)
                residual = loss - (p_up - p_down + head)
            else:
                ends = (p_up, p_down - head) if law.head_applied_at == "down" else (p_up + head, p_down)
                value = law.equation(q, *ends, p_reference, coefficients)
                residual, slope = value.residual, value.flow_slope
        found[name] = (residual[0], np.broadcast_to(slope, q.shape)[0])
    return found


def _check_solved(
    tally: WideTally, seed: int, made: WideNetwork, net: Network, state: State, solved: np.ndarray
) -> None:
    """Put the results of solved points back into each link's own law and each node's balance."""
    if not solved.any():
        return
    flow = {name: np.broadcast_to(state.flow[name], solved.shape) for name in net.links}
    pressure = {name: np.broadcast_to(state.pressure[name], solved.shape) for name in (*net.nodes, *net.reservoirs)}
    largest = np.maximum(np.max([np.abs(values) for values in flow.values()], axis=0), L_H)
    highest = np.max([np.abs(values) for values in pressure.values()], axis=0)
    unsupplied = {list(net.links)[link] for link in net.plan.unsupplied}
    for name, (residual, slope) in _errors(net, _equations(net, made), flow, pressure).items():
        if name in unsupplied:
            continue
        # Absolute pressures are rounded to 2e-16 of themselves, which through a wide line is a flow.
        rounding = 1e-15 * highest
        error = np.maximum(np.abs(residual) - rounding, 0.0)
        share = error / slope / largest
        if np.any(error[solved] > PRESSURE_TOLERANCE) or np.any(share[solved] > FLOW_TOLERANCE):
            tally.wrong.append(
                f"seed {seed}: '{name}' is off by {error[solved].max():.2g} Pa, {share[solved].max():.2g} of the flow"
            )
    for node in net.nodes:
        balance = -np.broadcast_to(made.draws.get(node, 0.0), solved.shape)
        for name, link in net.links.items():
            balance = balance + flow[name] * ((link.down == node) * 1.0 - (link.up == node) * 1.0)
        if np.any(np.abs(balance / largest)[solved] > FLOW_TOLERANCE):
            tally.wrong.append(f"seed {seed}: '{node}' does not balance")
    if any(np.any(values[solved] < -1.0) for values in pressure.values()):
        tally.wrong.append(f"seed {seed}: a solved point is below a vacuum")
