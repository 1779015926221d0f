"""From the coefficients of a batch to the pressures and flows of every node and link."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fuelsim.laws.link import LinkLaw
from fuelsim.network.solver.equations import Batch, MergedCoefficients
from fuelsim.network.solver.fallbacks import run_fallbacks
from fuelsim.network.solver.initial_guess import LEAST_POINTS, Prediction, principal_components, samples_of
from fuelsim.network.solver.newton import Solution, keep_freed_memory, newton, typical_start
from fuelsim.typing import IndexArray, LinkArray, NodeArray, PointArray

__all__ = ["Solved", "expand_to_links", "solve_batch"]

_CHUNK_VALUES = 40_000
"""Links times points solved at a time: enough to hide the interpreter, few enough to stay in the processor's cache."""


@dataclass
class Solved:
    """Pressures and flows of all nodes and links, and how well they meet the equations.

    Attributes
    ----------
    pressure : array (nodes + 1, points)
        Unknown nodes, fixed nodes, atmosphere, Pa over the batch's datum.
    flow : array (links, points)
        Flow unknown of every link, m3/s at the reference density.
    solution : Solution
        Errors, iterations and worst chains.
    """

    pressure: NodeArray
    flow: LinkArray
    solution: Solution


def solve_batch(batch: Batch, start: tuple[LinkArray, NodeArray] | None = None) -> Solved:
    """Solve a batch.

    Parameters
    ----------
    batch : Batch
    start : tuple of array, optional
        Chain flows (chains, points) and kept pressures over the datum (kept, points) to start from.

    Returns
    -------
    Solved
        Points that did not converge hold their last iterate; `solution.converged` says which.
    """
    keep_freed_memory()
    solution = Solution.empty(batch)
    with np.errstate(all="ignore"):
        if len(batch.plan.up):
            prediction = _predict(batch) if start is None and batch.size >= LEAST_POINTS else None
            chunk = min(max(_CHUNK_VALUES // len(batch.plan.topology.laws), 512), 8192)
            failed = [
                _solve_chunk(batch, slice(first, min(first + chunk, batch.size)), start, prediction, solution)
                for first in range(0, batch.size, chunk)
            ]
            remaining = np.concatenate(failed)
            if remaining.size and remaining.size < batch.size:
                some = batch.points(remaining, remaining.size)
                pressure = some.all_pressures(solution.pressure[:, remaining])
                remaining = newton(some, solution.flow[:, remaining], pressure, solution, remaining)
            remaining = remaining[~batch.incomplete(remaining)] if remaining.size else remaining
            if remaining.size:
                run_fallbacks(batch, solution, remaining)
        else:
            solution.converged[:] = True
            for error in (solution.pressure_error, solution.flow_error, solution.mass_error):
                error[:] = 0.0
        return expand_to_links(batch, solution)


def _predict(batch: Batch) -> Prediction | None:
    """Solve a few points of the batch and return the interpolation between them."""
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


def _solve_chunk(
    batch: Batch,
    points: slice,
    start: tuple[LinkArray, NodeArray] | None,
    prediction: Prediction | None,
    solution: Solution,
) -> IndexArray:
    """Solve some points of a batch by plain Newton steps; return the positions of those that did not converge."""
    part = batch if points == slice(0, batch.size) else batch.points(points, points.stop - points.start)
    if prediction is not None:
        values = prediction(points)
        chains = len(batch.plan.up)
        flow, pressure = values[:chains], part.all_pressures(values[chains:])
    elif start is None:
        flow, pressure = typical_start(part)
    else:
        flow, pressure = start[0][:, points], part.all_pressures(start[1][:, points])
    return newton(part, flow, pressure, solution, points, set_aside=part.size >= LEAST_POINTS)


@dataclass
class _LinkRows:
    """Loss (Pa), slope (Pa s/m3) and static head (Pa) by link, each (points,)."""

    loss: dict[int, PointArray]
    slope: dict[int, PointArray]
    head: dict[int, PointArray]


def expand_to_links(batch: Batch, solution: Solution) -> Solved:
    """Return the pressure of every node and the flow of every link from the solution of the contracted network."""
    plan = batch.plan
    topology, contraction = plan.topology, plan.contraction
    flow = np.empty((len(topology.laws), batch.size))
    rows = _LinkRows({}, {}, {})
    for group, inputs, losses in zip(plan.groups, batch.groups, solution.losses, strict=True):
        chain_flow = solution.flow.take(group.chains, axis=0)
        if group.signs is not None:
            chain_flow *= group.signs
        if inputs.offset is not None:
            chain_flow += inputs.offset
        flow[list(group.links)] = chain_flow
        if losses is not None:
            inner = [group.links[row] for row in group.inner]
            rows.loss.update(zip(inner, losses.loss, strict=True))
            rows.slope.update(zip(inner, losses.slope, strict=True))
        rows.head.update(zip(group.links, inputs.head, strict=True))
    for merged in batch.merged:
        split_merged_loss(topology.laws[merged.links[0]], merged, flow, rows)
    pressure = np.empty((topology.atmosphere + 1, batch.size))
    for node, row in plan.node_row.items():
        kept = len(contraction.kept)
        pressure[node] = solution.pressure[row] if row < kept else batch.fixed[row - kept]
    for number, residual in zip(plan.long_chains, solution.residual, strict=True):
        chain = contraction.chains[number]
        # The chain's remaining error is shared among its links in proportion to their slopes.
        per_slope = residual / sum(rows.slope[link] for link in chain.links)
        along = pressure[chain.up]
        for link, sign, node in zip(chain.links, chain.signs, chain.nodes, strict=False):
            along = along - sign * (rows.loss[link] - rows.head[link]) + per_slope * rows.slope[link]
            pressure[node] = along
    order = {end.link: row for row, end in enumerate(contraction.dead_ends)}
    for group, inputs in zip(plan.end_groups, batch.end_groups, strict=True):
        end_rows = [order[link] for link in group.links]
        q = np.broadcast_to(batch.end_flows[end_rows], (len(end_rows), batch.size))
        flow[list(group.links)] = q
        if inputs.scale is not None:
            q = q * inputs.scale
        if group.law.loss is None:
            raise TypeError(f"the law '{group.law.name}' of a dead end has no loss")
        rows.loss.update(zip(group.links, group.law.loss(q, inputs.coefficients)[0], strict=True))
        rows.head.update(zip(group.links, inputs.head, strict=True))
    for end in reversed(contraction.dead_ends):
        change = rows.loss[end.link] - rows.head[end.link]
        pressure[end.node] = pressure[end.neighbour] - end.sign * change
    return Solved(pressure, flow, solution)


def split_merged_loss(law: LinkLaw, merged: MergedCoefficients, flow: LinkArray, rows: _LinkRows) -> None:
    """Give each of some merged links its flow and its part of the loss; the first holds the whole before."""
    if law.split is None:
        raise TypeError(f"the law '{law.name}' merges links in series but cannot split their loss")
    first = merged.links[0]
    whole = law.coefficients._make(
        values.sum(axis=0) if key in law.series else values[0]
        for key, values in zip(law.coefficients._fields, merged.coefficients, strict=True)
    )
    loss, slope = rows.loss[first], rows.slope[first]
    for row, link in enumerate(merged.links):
        own = law.coefficients._make(values[row] for values in merged.coefficients)
        flow[link] = flow[first]
        rows.loss[link], rows.slope[link] = law.split(flow[first], loss, slope, whole, own)
        rows.head[link] = merged.head[row]
