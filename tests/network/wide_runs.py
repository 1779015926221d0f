"""Wide random networks solved, judged and counted: the work of the test and of the long run.

Solved points are put back into each link's own law and each node's balance, apart from the solver's merging of links.
Points without a result are judged by scipy's hybrid method from several starts on all flows and pressures, and the
largest draw that is said to work by a bisection on the draw.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from plumbing import ATMOSPHERE, GRAVITY, L_H
from scipy.optimize import root
from wide_networks import WideNetwork, wide_network

from fuelsim.network.network import Network
from fuelsim.network.solver.newton import FLOW_TOLERANCE, PRESSURE_TOLERANCE
from fuelsim.network.state import State
from fuelsim.outcome import OutcomeCode

STARTS = 20
MOST_LINKS_JUDGED = 40
"""Larger networks are not put to scipy, which takes minutes for each and rarely ends."""


@dataclass
class WideTally:
    """What many wide networks came to; lists hold (seed, point)."""

    points: int = 0
    solved: int = 0
    cut_off: int = 0
    overdrawn: int = 0
    outside_ratings: int = 0
    not_converged: list[tuple[int, int]] = field(default_factory=list)
    judged: int = 0
    found_by_judge: list[tuple[int, int]] = field(default_factory=list)
    limits_checked: int = 0
    limits_wrong: list[tuple[int, int]] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    iterations: list[int] = field(default_factory=list)

    def add(self, other: WideTally) -> None:
        """Add what other networks came to."""
        for name, value in vars(other).items():
            setattr(self, name, getattr(self, name) + value)

    def sentence(self) -> str:
        """The counts in words."""
        return (
            f"{self.points} points: {self.solved} solved, {self.cut_off} cut off, {self.overdrawn} overdrawn with the "
            f"largest draw said, {self.outside_ratings} otherwise outside ratings, {len(self.not_converged)} not "
            f"converged; {self.judged} put to scipy, which solved {len(self.found_by_judge)}; "
            f"{self.limits_checked} largest draws bisected, {len(self.limits_wrong)} wrong by more than 2 %; "
            f"{len(self.wrong)} wrong; iterations median {np.median(self.iterations):.0f}, "
            f"99 % {np.percentile(self.iterations, 99):.0f}, most {max(self.iterations)}"
        )


def run_wide(seeds: range, *, judge_every: int = 0, bisect_every: int = 0) -> WideTally:
    """Solve the network of each seed at all its draws.

    Parameters
    ----------
    seeds : range
    judge_every, bisect_every : int, optional
        Every so many points that are outside ratings are put to scipy, and every so many largest draws are bisected; 0
        for none. Points that did not converge are always put to scipy unless it is 0.
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
        for point in np.flatnonzero(code != OutcomeCode.SOLVED).tolist():
            _judge(tally, seed, point, made, net, state, judge_every, bisect_every)
        tally.solved += int(np.count_nonzero(code == OutcomeCode.SOLVED))
    return tally


def _judge(
    tally: WideTally,
    seed: int,
    point: int,
    made: WideNetwork,
    net: Network,
    state: State,
    judge_every: int,
    bisect_every: int,
) -> None:
    """Count a point without a result, and judge it where its turn has come."""
    code = int(np.atleast_1d(state.outcome.code)[point])
    limit = float(np.atleast_1d(state.outcome.largest_draw)[point])
    if not str(np.atleast_1d(state.outcome.reason)[point]):
        tally.wrong.append(f"seed {seed}, point {point}: no reason")
    if code == OutcomeCode.CUT_OFF:
        tally.cut_off += 1
        return
    if code == OutcomeCode.NOT_CONVERGED:
        tally.not_converged.append((seed, point))
    elif np.isfinite(limit):
        tally.overdrawn += 1
        if bisect_every and tally.overdrawn % bisect_every == 0:
            tally.limits_checked += 1
            if not _limit_is_right(made, net, point, limit):
                tally.limits_wrong.append((seed, point))
    else:
        tally.outside_ratings += 1
    turn = code == OutcomeCode.NOT_CONVERGED or (tally.overdrawn + tally.outside_ratings) % max(judge_every, 1) == 0
    if judge_every and turn and len(net.links) <= MOST_LINKS_JUDGED:
        tally.judged += 1
        if solved_by_scipy(made, net, point, np.random.default_rng(seed)):
            tally.found_by_judge.append((seed, point))


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


def solved_by_scipy(made: WideNetwork, net: Network, point: int, random: np.random.Generator) -> bool:
    """Whether scipy's hybrid method finds a solution within ratings from any of its starts.

    Pressures are unknown in 100 kPa, flows through the inverse hyperbolic sine of their value in L/h, so that both the
    leak of a shut valve and a full flow are of order one.
    """
    single = _at_point(net, point)
    equations = _equations(single, made)
    links, nodes = list(single.links), list(single.nodes)
    fixed = {name: float(reservoir.pressure) for name, reservoir in single.reservoirs.items()}
    draws = {name: float(draw[point]) for name, draw in made.draws.items()}
    largest = max(*draws.values(), L_H)

    def unpack(x: np.ndarray) -> tuple[dict[str, Any], dict[str, Any]]:
        flow = dict(zip(links, np.sinh(np.clip(x[: len(links)], -40.0, 40.0)) * 1e-3 * L_H, strict=True))
        return flow, fixed | dict(zip(nodes, x[len(links) :] * 1e5, strict=True))

    def residuals(x: np.ndarray) -> np.ndarray:
        flow, pressure = unpack(x)
        errors = _errors(single, equations, flow, pressure)
        values = [float(np.arcsinh(residual[0] / 1e3)) for residual, _ in errors.values()]
        for node in nodes:
            balance = -draws.get(node, 0.0)
            for name, link in single.links.items():
                balance += flow[name] * ((link.down == node) * 1.0 - (link.up == node) * 1.0)
            values.append(balance / L_H)
        return np.array(values)

    for _ in range(STARTS):
        start = np.concatenate(
            [
                np.arcsinh(random.uniform(-1.0, 1.0, len(links)) * largest / L_H * 1e3),
                random.uniform(0.5, 6.0, len(nodes)),
            ]
        )
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")
            found = root(residuals, start, method="hybr", options={"maxfev": 200 * start.size, "xtol": 1e-12})
        flow, pressure = unpack(found.x)
        errors = _errors(single, equations, flow, pressure)
        close = all(abs(residual[0]) < 10.0 for residual, _ in errors.values())
        balanced = bool(np.all(np.abs(residuals(found.x)[len(links) :]) * L_H < 1e-5 * largest))
        if close and balanced and min(pressure.values()) >= 0.0:
            return True
    return False
