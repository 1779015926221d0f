"""The way of a batch from its figures to pressures and flows of every node and link."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from fuelsim.laws.link import LinkLaw
from fuelsim.network.solver.equations import Batch, MergedFigures
from fuelsim.network.solver.fallbacks import rescue
from fuelsim.network.solver.initial_guess import LEAST_POINTS, Prediction, principal_components, samples_of
from fuelsim.network.solver.newton import Solution, keep_freed_memory, newton, typical_start

__all__ = ["Fields", "solve_batch"]

_CHUNK_VALUES = 40_000
"""Links times points solved at a time: enough to hide the interpreter, few enough to stay in the processor's cache."""


@dataclass
class Fields:
    """Pressures and flows of everything, and how well they meet the equations.

    Attributes
    ----------
    pressure : array (nodes + 1, points)
        Unknown nodes, fixed nodes, atmosphere, Pa absolute.
    flow : array (links, points)
        Flow unknown of every link, m3/s at the reference density.
    solution : Solution
        Errors, iterations and worst chains.
    """

    pressure: Any
    flow: Any
    solution: Solution


def solve_batch(batch: Batch, start: tuple[Any, Any] | None = None) -> Fields:
    """Solve a batch.

    Parameters
    ----------
    batch : Batch
    start : tuple of array, optional
        Chain flows (chains, points) and kept pressures (kept, points) to start from.

    Returns
    -------
    Fields
        Points that did not converge hold numbers without meaning; `solution.converged` tells.
    """
    keep_freed_memory()
    solution = Solution.empty(batch)
    with np.errstate(all="ignore"):
        if len(batch.plan.up):
            prediction = _predict(batch) if start is None and batch.size >= LEAST_POINTS else None
            chunk = min(max(_CHUNK_VALUES // len(batch.plan.topology.laws), 512), 8192)
            failed = [
                _chunk(batch, slice(first, min(first + chunk, batch.size)), start, prediction, solution)
                for first in range(0, batch.size, chunk)
            ]
            left = np.concatenate(failed)
            if left.size and left.size < batch.size:
                some = batch.points(left, left.size)
                pressure = some.all_pressures(solution.pressure[:, left])
                left = newton(some, solution.flow[:, left], pressure, solution, left)
            left = left[~batch.incomplete(left)] if left.size else left
            if left.size:
                rescue(batch, solution, left)
        else:
            solution.converged[:] = True
            for error in (solution.pressure_error, solution.flow_error, solution.mass_error):
                error[:] = 0.0
        return _spread(batch, solution)


def _predict(batch: Batch) -> Prediction | None:
    """Solve a few points of the batch and return what they predict for the others."""
    components = principal_components(batch)
    if components is None:
        return None
    samples = samples_of(components)
    some = batch.points(samples, samples.size)
    solved = Solution.empty(some)
    newton(some, *typical_start(some), solved, slice(0, samples.size))
    good = np.flatnonzero(solved.converged)
    if good.size < 0.5 * samples.size:
        return None
    values = np.concatenate([solved.flow[:, good], solved.pressure[:, good]])
    return Prediction.of(components, samples[good], values)


def _chunk(
    batch: Batch, points: slice, start: tuple[Any, Any] | None, prediction: Prediction | None, solution: Solution
) -> Any:
    part = batch if points == slice(0, batch.size) else batch.points(points, points.stop - points.start)
    if prediction is not None:
        values = prediction(points)
        chains = len(batch.plan.up)
        flow, pressure = values[:chains], part.all_pressures(values[chains:])
    elif start is None:
        flow, pressure = typical_start(part)
    else:
        flow, pressure = start[0][:, points], part.all_pressures(start[1][:, points])
    return newton(part, flow, pressure, solution, points, put_aside=part.size >= LEAST_POINTS)


def _spread(batch: Batch, solution: Solution) -> Fields:
    """Give every node its pressure and every link its flow."""
    plan = batch.plan
    topology, contraction = plan.topology, plan.contraction
    flow = np.empty((len(topology.laws), batch.size))
    losses: dict[int, Any] = {}
    slopes: dict[int, Any] = {}
    heads: dict[int, Any] = {}
    for group, figures, loss in zip(plan.groups, batch.groups, solution.losses, strict=True):
        chain_flow = solution.flow.take(group.chains, axis=0)
        if group.signs is not None:
            chain_flow *= group.signs
        if figures.offset is not None:
            chain_flow += figures.offset
        flow[list(group.links)] = chain_flow
        if loss is not None:
            inner = [group.links[row] for row in group.inner]
            losses.update(zip(inner, loss[0], strict=True))
            slopes.update(zip(inner, loss[1], strict=True))
        heads.update(zip(group.links, figures.head, strict=True))
    for together in batch.merged:
        _divide(topology.laws[together.links[0]], together, flow, losses, slopes, heads)
    pressure = np.empty((topology.atmosphere + 1, batch.size))
    for node, row in plan.node_row.items():
        kept = len(contraction.kept)
        pressure[node] = solution.pressure[row] if row < kept else batch.fixed[row - kept]
    for number, residual in zip(plan.long_chains, solution.residual, strict=True):
        chain = contraction.chains[number]
        # What is left of the chain's error is shared among its links in proportion to their slopes.
        left = residual / sum(slopes[link] for link in chain.links)
        here = pressure[chain.up]
        for link, sign, node in zip(chain.links, chain.signs, chain.nodes, strict=False):
            here = here - sign * (losses[link] - heads[link]) + left * slopes[link]
            pressure[node] = here
    for group, figures in zip(plan.end_groups, batch.end_groups, strict=True):
        order = {end.link: row for row, end in enumerate(contraction.dead_ends)}
        rows = [order[link] for link in group.links]
        q = np.broadcast_to(batch.end_flows[rows], (len(rows), batch.size))
        flow[list(group.links)] = q
        if figures.scale is not None:
            q = q * figures.scale
        assert group.law.loss is not None
        losses.update(zip(group.links, group.law.loss(q, figures.coefficients)[0], strict=True))
        heads.update(zip(group.links, figures.head, strict=True))
    for end in reversed(contraction.dead_ends):
        change = losses[end.link] - heads[end.link]
        pressure[end.node] = pressure[end.neighbour] - end.sign * change
    return Fields(pressure, flow, solution)


def _divide(
    law: LinkLaw,
    figures: MergedFigures,
    flow: Any,
    losses: dict[int, Any],
    slopes: dict[int, Any],
    heads: dict[int, Any],
) -> None:
    """Give each of some merged links its flow and its part of the loss, of which the first holds the whole."""
    assert law.split is not None
    first = figures.links[0]
    whole = law.coefficients._make(
        values.sum(axis=0) if key in law.series else values[0]
        for key, values in zip(law.coefficients._fields, figures.coefficients, strict=True)
    )
    loss, slope = losses[first], slopes[first]
    for row, link in enumerate(figures.links):
        own = law.coefficients._make(values[row] for values in figures.coefficients)
        flow[link] = flow[first]
        losses[link], slopes[link] = law.split(flow[first], loss, slope, whole, own)
        heads[link] = figures.head[row]
