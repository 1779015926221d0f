"""From the solution of the contracted network to the pressure of every node and the flow of every link."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fuelsim.laws.link import LinkLaw
from fuelsim.network.solver.coefficients import GroupCoefficients, MergedCoefficients
from fuelsim.network.solver.equations import Batch
from fuelsim.network.solver.newton import Solution
from fuelsim.network.solver.plan import Group, InnerNodes
from fuelsim.typing import IndexArray, LinkArray, NodeArray, PointArray

__all__ = ["Solved", "expand_to_links", "groups_of", "regime_of", "split_merged_loss"]


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
        flow[group.link_rows] = chain_flow
        inner = [group.links[row] for row in group.inner]
        rows.loss.update(zip(inner, losses.loss, strict=True))
        rows.slope.update(zip(inner, losses.slope, strict=True))
        rows.head.update(zip(group.links, inputs.head, strict=True))
    for merged in batch.merged:
        split_merged_loss(topology.laws[merged.links[0]], merged, flow, rows)
    pressure = np.empty((topology.atmosphere + 1, batch.size))
    pressure[list(contraction.kept)] = solution.pressure
    pressure[topology.unknown :] = batch.fixed
    if batch.size == 1 and plan.inner is not None:
        _expand_single(plan.inner, rows, solution.residual, pressure)
    else:
        _expand_chains(batch, rows, solution.residual, pressure)
    order = {end.link: row for row, end in enumerate(contraction.dead_ends)}
    for group, inputs in zip(plan.end_groups, batch.end_groups, strict=True):
        end_rows = [order[link] for link in group.links]
        q = np.broadcast_to(batch.end_flows[end_rows], (len(end_rows), batch.size))
        flow[group.link_rows] = q
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


def _expand_chains(batch: Batch, rows: _LinkRows, residuals: LinkArray, pressure: NodeArray) -> None:
    """Write the pressures between the links of each chain.

    The remaining residual of a chain is shared among its links in proportion to their slopes.
    """
    for number, residual in zip(batch.plan.long_chains, residuals, strict=True):
        chain = batch.plan.contraction.chains[number]
        per_slope = residual / sum(rows.slope[link] for link in chain.links)
        along = pressure[chain.up]
        for link, sign, node in zip(chain.links, chain.signs, chain.nodes, strict=False):
            along = along - sign * (rows.loss[link] - rows.head[link]) + per_slope * rows.slope[link]
            pressure[node] = along


def _expand_single(inner: InnerNodes, rows: _LinkRows, residuals: LinkArray, pressure: NodeArray) -> None:
    """Do as `_expand_chains` for a single point, by matrix products."""
    loss, slope, head = (
        np.array([values[link][0] for link in inner.links]) for values in (rows.loss, rows.slope, rows.head)
    )
    per_slope = residuals[:, 0] / (inner.chain_sums @ slope)
    change = (inner.path_sums @ slope) * per_slope[inner.chain_of_node] - inner.path_sums @ (
        inner.signs * (loss - head)
    )
    pressure[inner.nodes, 0] = pressure[inner.up, 0] + change


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


def groups_of(batch: Batch) -> list[tuple[Group, GroupCoefficients]]:
    """Return all groups of links with their coefficients, dead ends last."""
    plan = batch.plan
    return list(zip((*plan.groups, *plan.end_groups), (*batch.groups, *batch.end_groups), strict=True))


def regime_of(batch: Batch, solved: Solved, link: int) -> IndexArray:
    """Return the regime of a link as indices into the words of its law, (points,)."""
    topology = batch.plan.topology
    law = topology.laws[link]
    if law.regime is None:
        return np.zeros(batch.size, dtype=np.intp)
    group, inputs = next(pair for pair in groups_of(batch) if link in pair[0].links)
    row = group.links.index(link)
    coefficients = law.coefficients._make(values[..., row : row + 1, :] for values in inputs.coefficients)
    flow = solved.flow[link][None]
    if inputs.scale is not None:
        flow = flow * inputs.scale[row]
    head = inputs.head[row]
    p_up, p_down, p_reference = (
        solved.pressure[ends[link]][None] for ends in (topology.up, topology.down, topology.reference)
    )
    if law.head_applied_at == "down":
        p_down = p_down - head
    else:
        p_up = p_up + head
    regime: IndexArray = law.regime(flow, p_up, p_down, p_reference, coefficients)
    indices: IndexArray = np.broadcast_to(regime, (1, batch.size))[0]
    return indices
