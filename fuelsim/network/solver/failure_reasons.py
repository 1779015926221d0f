"""Outcome of each operating point: code, the part that limits and what to try."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from fuelsim.constants import GRAVITY, L_PER_HOUR
from fuelsim.network.solver.equations import Batch, GroupCoefficients
from fuelsim.network.solver.plan import Group
from fuelsim.network.solver.solve import Solved
from fuelsim.outcome import Outcome, OutcomeCode
from fuelsim.typing import FloatLike, IndexArray

__all__ = ["Labels", "outcome_of", "regime_of"]


def _groups(batch: Batch) -> list[tuple[Group, GroupCoefficients]]:
    plan = batch.plan
    return list(zip((*plan.groups, *plan.end_groups), (*batch.groups, *batch.end_groups), strict=True))


def regime_of(batch: Batch, solved: Solved, link: int) -> IndexArray:
    """Return the regime of a link as indices into the words of its law, (points,)."""
    topology = batch.plan.topology
    law = topology.laws[link]
    if law.regime is None:
        return np.zeros(batch.size, dtype=np.intp)
    group, inputs = next(pair for pair in _groups(batch) if link in pair[0].links)
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


@dataclass(frozen=True)
class Labels:
    """Names and quantities that sentences need beside the batch.

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
    density: FloatLike
    draws: Mapping[int, FloatLike]


class _Failure(NamedTuple):
    """Why one point has no result: its code, the part or node that limits, a sentence."""

    code: OutcomeCode
    part: str
    reason: str


def outcome_of(batch: Batch, solved: Solved, labels: Labels) -> Outcome:
    """Return the outcome of a batch, each array (points,)."""
    solution = solved.solution
    chains = batch.plan.contraction.chains
    worst = np.array([labels.links[chain.links[0]] for chain in chains] or [""])[solution.worst]
    failures: dict[int, _Failure] = {}
    for point in np.flatnonzero(~solution.converged).tolist():
        failures[point] = _unsolved(batch, labels, str(worst[point]), point)
    with np.errstate(invalid="ignore"):
        failures |= _outside_ratings(batch, solved, labels)
    code = np.zeros(batch.size, dtype=np.int8)
    reason = np.zeros(batch.size, dtype="U1")
    if failures:
        parts, reasons = worst.astype(object), reason.astype(object)
        for point, failure in failures.items():
            code[point], parts[point], reasons[point] = failure
        worst, reason = parts.astype(str), reasons.astype(str)
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


def _outside_ratings(batch: Batch, solved: Solved, labels: Labels) -> dict[int, _Failure]:
    """Return points with a node below a vacuum, or where fixed draws take a pump past its run-out."""
    topology, converged = batch.plan.topology, solved.solution.converged
    unknown = solved.pressure[: topology.unknown]
    if not topology.unknown:
        return {}
    absolute = unknown + batch.datum
    below = (absolute.min(axis=0) < 0.0) & converged
    overdrawn = _overdrawn(batch, solved, labels) if labels.draws else {}
    failures: dict[int, _Failure] = {}
    for point in np.flatnonzero(below).tolist():
        node = int(absolute[:, point].argmin())
        reason = f"'{labels.nodes[node]}' would be at {_kilopascals(absolute[node, point])} absolute, below a vacuum"
        if point in overdrawn:
            reason += f": {overdrawn[point].reason}"
        else:
            reason += "; try less flow, a larger bore or a lower lift before it"
        failures[point] = _Failure(OutcomeCode.OUTSIDE_RATINGS, labels.nodes[node], reason)
    return {point: failure for point, failure in overdrawn.items() if converged[point]} | failures


def _overdrawn(batch: Batch, solved: Solved, labels: Labels) -> dict[int, _Failure]:
    """Return points where a pump is past its run-out and a node with a fixed draw lies below every reservoir."""
    topology = batch.plan.topology
    failures: dict[int, _Failure] = {}
    lift = [GRAVITY * height * labels.density for height in labels.heights]
    reservoirs = range(topology.unknown, topology.atmosphere)
    least = np.min([solved.pressure[node] + lift[node] for node in reservoirs], axis=0)
    starved = {
        node: below
        for node, draw in labels.draws.items()
        if (below := (solved.pressure[node] + lift[node] < least) & (draw > 0.0)).any()
    }
    pumps = [link for link, law in enumerate(topology.laws) if "past run-out" in law.regimes] if starved else []
    for link in pumps:
        past = regime_of(batch, solved, link) == topology.laws[link].regimes.index("past run-out")
        for node, below in starved.items():
            for point in np.flatnonzero(below & past).tolist():
                pressure = float(solved.pressure[node, point]) + _at(batch.datum, point)
                failures[point] = _Failure(
                    OutcomeCode.OUTSIDE_RATINGS,
                    labels.nodes[node],
                    f"the draw of {_drawn(labels.draws, point)} is more than '{labels.links[link]}' can push, and "
                    f"'{labels.nodes[node]}' would fall to {_kilopascals(pressure)} absolute; "
                    f"{_LESS}",
                )
    return failures


def _kilopascals(pressure: float) -> str:
    return f"{pressure / 1e3:.4g} kPa"


def _at(value: FloatLike, point: int) -> float:
    """Return a value at one point, which all points may share."""
    return float(value if np.ndim(value) == 0 else np.asarray(value)[point if np.size(value) > 1 else 0])


def _drawn(draws: Mapping[int, FloatLike], point: int) -> str:
    return f"{sum(_at(draw, point) for draw in draws.values()) / L_PER_HOUR:.4g} L/h"


def _unsolved(batch: Batch, labels: Labels, worst: str, point: int) -> _Failure:
    for group, inputs in _groups(batch):
        for name, values in zip(group.law.coefficients._fields, inputs.coefficients, strict=True):
            at = 0 if values.shape[-1] == 1 else point
            for row, link in enumerate(group.links):
                if np.isnan(values[..., row, at]).any():
                    part = labels.links[link]
                    reason = f"the {name.replace('_', ' ')} of '{part}' is not a number; check what it is made from"
                    return _Failure(OutcomeCode.BAD_INPUT, part, reason)
    reason = (
        f"no solution found from any start, '{worst}' is furthest off; check the ratings of that part, and try the "
        "point with draws nearer to those of a solved one"
    )
    return _Failure(OutcomeCode.NOT_CONVERGED, worst, reason)
