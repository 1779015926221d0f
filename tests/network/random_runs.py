"""Random networks solved, looked at and counted: the work of the test and of the long run."""

from __future__ import annotations

import warnings
from dataclasses import dataclass, field

import numpy as np
from plumbing import ATMOSPHERE, GRAVITY, L_H, PETROL
from random_networks import random_plumbing

from fuelsim.network.network import Network
from fuelsim.network.solver.newton import FLOW_TOLERANCE, PRESSURE_TOLERANCE
from fuelsim.network.state import State
from fuelsim.outcome import OutcomeCode


@dataclass
class Tally:
    """What many random networks came to."""

    networks: int = 0
    points: int = 0
    solved: int = 0
    outside_ratings: int = 0
    not_converged: list[tuple[int, int]] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    iterations: list[int] = field(default_factory=list)
    pressure_residual: float = 0.0
    flow_residual: float = 0.0
    mass_residual: float = 0.0
    between_starts: float = 0.0
    between_orders: float = 0.0

    def add(self, other: Tally) -> None:
        """Add what other networks came to."""
        for name in ("networks", "points", "solved", "outside_ratings", "not_converged", "wrong", "iterations"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        for name in ("pressure_residual", "flow_residual", "mass_residual", "between_starts", "between_orders"):
            setattr(self, name, max(getattr(self, name), getattr(other, name)))

    def sentence(self) -> str:
        """What was found, in words."""
        counts = np.array(self.iterations)
        return (
            f"{self.networks} networks, {self.points} points: {self.solved} solved, {self.outside_ratings} outside "
            f"ratings, {len(self.not_converged)} not converged, {len(self.wrong)} wrong; iterations median "
            f"{np.median(counts):.0f}, 99 % {np.percentile(counts, 99):.0f}, most {counts.max()}; residuals at most "
            f"{self.pressure_residual:.2g} Pa, {self.flow_residual:.2g} of the largest flow, mass "
            f"{self.mass_residual:.2g}; between starts {self.between_starts:.2g}, between orders of links "
            f"{self.between_orders:.2g} of the largest flow"
        )


def difference(first: State, second: State, largest: np.ndarray) -> np.ndarray:
    """Largest flow difference of each point over the largest flow; NaN where neither solved."""
    return np.max([np.abs(first.flow[name] - second.flow[name]) for name in first.flow], axis=0) / largest


def run(seeds: range, points: int = 5, repeat_every: int = 1) -> Tally:
    """Solve the network of each seed.

    Every so many are also solved from another start and in another order of links, and put back into each link's law.
    """
    tally = Tally()
    for seed in seeds:
        made = random_plumbing(seed, points)
        net = made.build()
        others = {}
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            state = net.solve(PETROL, made.draws)
            if seed % repeat_every == 0:
                turned = net.solve(PETROL, {name: draw[::-1].copy() for name, draw in made.draws.items()})
                others["between_starts"] = net.solve(PETROL, made.draws, start=turned)
                shuffled = made.build(np.random.default_rng(seed))
                others["between_orders"] = shuffled.solve(PETROL, made.draws)
        outcome = state.outcome
        solved = np.asarray(outcome.converged) & np.ones(points, dtype=bool)
        code = np.broadcast_to(outcome.code, (points,))
        tally.networks += 1
        tally.points += points
        tally.solved += int(solved.sum())
        tally.outside_ratings += int(np.count_nonzero(code == OutcomeCode.OUTSIDE_RATINGS))
        tally.not_converged += [(seed, int(point)) for point in np.flatnonzero(code >= OutcomeCode.NOT_CONVERGED)]
        tally.iterations += np.broadcast_to(outcome.iterations, (points,)).tolist()
        _check(tally, seed, made.fixed_draws, state, solved, code)
        if not solved.any():
            continue
        if seed % repeat_every == 0:
            _check_every_equation(tally, seed, net, state, solved)
        tally.pressure_residual = max(tally.pressure_residual, float(outcome.pressure_residual[solved].max()))
        tally.flow_residual = max(tally.flow_residual, float(outcome.flow_residual[solved].max()))
        tally.mass_residual = max(tally.mass_residual, float(outcome.mass_residual[solved].max()))
        largest = np.maximum(np.max([np.abs(flow) for flow in state.flow.values()], axis=0), L_H)
        for name, other in others.items():
            if not np.array_equal(other.outcome.code, outcome.code):
                tally.wrong.append(f"seed {seed}: {name} the outcomes differ")
                continue
            apart = float(difference(state, other, largest)[solved].max())
            setattr(tally, name, max(getattr(tally, name), apart))
            if apart > 1e-6:
                tally.wrong.append(f"seed {seed}: {name} the flows differ by {apart:.2g}")
    return tally


def _check(tally: Tally, seed: int, fixed_draws: bool, state: State, solved: np.ndarray, code: np.ndarray) -> None:
    for results in (state.pressure, state.flow):
        for name, values in results.items():
            if not np.array_equal(np.isfinite(values), solved):
                tally.wrong.append(f"seed {seed}: '{name}' is not a number exactly where unsolved")
    reasons = np.broadcast_to(state.outcome.reason, solved.shape)
    if any(bool(reason) == bool(good) for reason, good in zip(reasons, solved, strict=True)):
        tally.wrong.append(f"seed {seed}: a reason is missing or not needed")
    if not fixed_draws and np.any(code == OutcomeCode.OUTSIDE_RATINGS):
        lifts = "below a vacuum" in " ".join(reasons)
        if not lifts:
            tally.wrong.append(f"seed {seed}: outside ratings without a fixed draw")


def _check_every_equation(tally: Tally, seed: int, net: Network, state: State, solved: np.ndarray) -> None:
    """Put the results back into each link's own law, apart from the solver's merging of links and cutting of ends."""
    largest = np.maximum(np.max([np.abs(flow) for flow in state.flow.values()], axis=0), L_H)
    heights = {name: node.height for name, node in (*net.nodes.items(), *net.reservoirs.items())}
    for name, link in net.links.items():
        law = link.part.law
        coefficients = law.coefficients._make(
            np.asarray(value, dtype=float).reshape(len(value), 1, -1)
            if key in law.tables
            else np.asarray(value, dtype=float).reshape(1, -1)
            for key, value in zip(law.coefficients._fields, link.part.coefficients(PETROL), strict=True)
        )
        head = PETROL.density * GRAVITY * (heights[link.up] - heights[link.down])
        flow, p_up, p_down = (
            values[None] for values in (state.flow[name], state.pressure[link.up], state.pressure[link.down])
        )
        p_reference = state.pressure[link.reference][None] if link.reference else np.full(flow.shape, ATMOSPHERE)
        with np.errstate(all="ignore"):
            if law.loss is not None:
                loss, slope = law.loss(flow, coefficients)
                error = loss - (p_up - p_down + head)
            else:
                ends = (p_up, p_down - head) if law.head_applied_at == "down" else (p_up + head, p_down)
                found = law.equation(flow, *ends, p_reference, coefficients)
                error, slope = found.residual, found.flow_slope
        pressure = float(np.max(np.abs(error[0, solved])))
        share = float(np.max(np.abs((error / slope)[0, solved]) / largest[solved]))
        # Rounding of the pressures themselves is no error of the solution.
        rounding = float(np.max(1e-9 / np.broadcast_to(slope, error.shape)[0, solved] / largest[solved]))
        if pressure > PRESSURE_TOLERANCE or share > FLOW_TOLERANCE + rounding:
            tally.wrong.append(f"seed {seed}: '{name}' is off by {pressure:.2g} Pa, {share:.2g} of the largest flow")
