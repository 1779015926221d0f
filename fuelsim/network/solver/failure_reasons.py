"""What became of each operating point: outcome codes, the part to blame and what to try."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.network.solver.assemble import GRAVITY
from fuelsim.network.solver.equations import Batch, GroupFigures
from fuelsim.network.solver.plan import Group
from fuelsim.network.solver.solve import Fields
from fuelsim.outcome import Outcome, OutcomeCode

__all__ = ["Names", "regime_of", "verdict"]


def _groups(batch: Batch) -> list[tuple[Group, GroupFigures]]:
    plan = batch.plan
    return list(zip((*plan.groups, *plan.end_groups), (*batch.groups, *batch.end_groups), strict=True))


def regime_of(batch: Batch, fields: Fields, link: int) -> Any:
    """Return the regime of a link as indices into the words of its law, (points,)."""
    topology = batch.plan.topology
    law = topology.laws[link]
    if law.regime is None:
        return np.zeros(batch.size, dtype=np.intp)
    group, figures = next(pair for pair in _groups(batch) if link in pair[0].links)
    row = group.links.index(link)
    coefficients = law.coefficients._make(values[..., row : row + 1, :] for values in figures.coefficients)
    flow = fields.flow[link][None]
    if figures.scale is not None:
        flow = flow * figures.scale[row]
    head = figures.head[row]
    p_up, p_down, p_reference = (
        fields.pressure[ends[link]][None] for ends in (topology.up, topology.down, topology.reference)
    )
    if law.head_applied_at == "down":
        p_down = p_down - head
    else:
        p_up = p_up + head
    found = law.regime(flow, p_up, p_down, p_reference, coefficients)
    return np.broadcast_to(found, (1, batch.size))[0]


@dataclass(frozen=True)
class Names:
    """What a verdict calls things by, and what it needs to know beside the batch.

    Attributes
    ----------
    nodes, links : list of str
        Names in the order of the topology.
    heights : list of float
        Of the nodes, m.
    density : float or array (points,)
        Reference density, kg/m3.
    draws : mapping of int to float or array (points,)
        Draws of unknown nodes, m3/s at the reference density.
    """

    nodes: list[str]
    links: list[str]
    heights: list[float]
    density: Any
    draws: Mapping[int, Any]


def verdict(batch: Batch, fields: Fields, names: Names) -> Outcome:
    """Return the outcome of a batch, each array (points,)."""
    solution = fields.solution
    chains = batch.plan.contraction.chains
    worst = np.array([names.links[chain.links[0]] for chain in chains] or [""])[solution.worst]
    said: dict[int, tuple[OutcomeCode, str, str]] = {}
    for point in np.flatnonzero(~solution.converged).tolist():
        said[point] = _unsolved(batch, names, str(worst[point]), point)
    with np.errstate(invalid="ignore"):
        said |= _outside_ratings(batch, fields, names)
    code = np.zeros(batch.size, dtype=np.int8)
    reason = np.zeros(batch.size, dtype="U1")
    if said:
        worst, reason = worst.astype(object), reason.astype(object)
        for point, found in said.items():
            code[point], worst[point], reason[point] = found
        worst, reason = worst.astype(str), reason.astype(str)
    return Outcome(
        code,
        solution.iterations,
        solution.pressure_error,
        solution.flow_error,
        solution.mass_error,
        worst,
        reason,
    )


_LESS = "draw less, fit a larger pump, or draw through injectors, whose flow falls with pressure"


def _outside_ratings(batch: Batch, fields: Fields, names: Names) -> dict[int, tuple[OutcomeCode, str, str]]:
    """Find points with a node below a vacuum, or where fixed draws pull a pump past its run-out."""
    topology, solved = batch.plan.topology, fields.solution.converged
    unknown = fields.pressure[: topology.unknown]
    if not topology.unknown:
        return {}
    below = (unknown.min(axis=0) < 0.0) & solved
    pushed: dict[int, tuple[str, str]] = {}
    if names.draws:
        pushed = _pushed_too_far(batch, fields, names)
    found: dict[int, tuple[OutcomeCode, str, str]] = {}
    for point in np.flatnonzero(below).tolist():
        node = int(unknown[:, point].argmin())
        what = f"'{names.nodes[node]}' would be at {_kilopascals(unknown[node, point])} absolute, below a vacuum"
        if point in pushed:
            what += f": {pushed[point][1]}"
        else:
            what += "; try less flow, a larger bore or a lower lift before it"
        found[point] = (OutcomeCode.OUTSIDE_RATINGS, names.nodes[node], what)
    for point, (node_name, what) in pushed.items():
        if point not in found and solved[point]:
            found[point] = (OutcomeCode.OUTSIDE_RATINGS, node_name, what)
    return found


def _pushed_too_far(batch: Batch, fields: Fields, names: Names) -> dict[int, tuple[str, str]]:
    """Find points where a pump is past its run-out and a node with a fixed draw lies below every reservoir."""
    topology = batch.plan.topology
    found: dict[int, tuple[str, str]] = {}
    lift = [GRAVITY * height * names.density for height in names.heights]
    reservoirs = range(topology.unknown, topology.atmosphere)
    least = np.min([fields.pressure[node] + lift[node] for node in reservoirs], axis=0)
    starved = {
        node: below
        for node, draw in names.draws.items()
        if (below := (fields.pressure[node] + lift[node] < least) & (draw > 0.0)).any()
    }
    pumps = [link for link, law in enumerate(topology.laws) if "past run-out" in law.regimes] if starved else []
    for link in pumps:
        past = regime_of(batch, fields, link) == topology.laws[link].regimes.index("past run-out")
        for node, below in starved.items():
            for point in np.flatnonzero(below & past).tolist():
                found[point] = (
                    names.nodes[node],
                    f"the draw of {_drawn(names.draws, point)} is more than '{names.links[link]}' can push, and "
                    f"'{names.nodes[node]}' would fall to {_kilopascals(fields.pressure[node, point])} absolute; "
                    f"{_LESS}",
                )
    return found


def _kilopascals(pressure: Any) -> str:
    return f"{float(pressure) / 1e3:.4g} kPa"


def _drawn(draws: Mapping[int, Any], point: int) -> str:
    total = sum(float(draw if np.ndim(draw) == 0 else draw[point]) for draw in draws.values())
    return f"{total / L_PER_HOUR:.4g} L/h"


def _unsolved(batch: Batch, names: Names, worst: str, point: int) -> tuple[OutcomeCode, str, str]:
    for group, figures in _groups(batch):
        for name, values in zip(group.law.coefficients._fields, figures.coefficients, strict=True):
            at = 0 if values.shape[-1] == 1 else point
            for row, link in enumerate(group.links):
                if np.isnan(values[..., row, at]).any():
                    part = names.links[link]
                    said = f"the {name.replace('_', ' ')} of '{part}' is not a number; check what it is made from"
                    return OutcomeCode.BAD_INPUT, part, said
    said = (
        f"no solution found from any start, '{worst}' is furthest off; check the ratings of that part, and try the "
        "point with draws nearer to those of a solved one"
    )
    return OutcomeCode.NOT_CONVERGED, worst, said
