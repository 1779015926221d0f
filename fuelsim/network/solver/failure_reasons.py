"""Outcome of each operating point: code, the part that limits and what to try."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.network.solver.draw_limit import Violations
from fuelsim.network.solver.equations import Batch
from fuelsim.network.solver.expansion import groups_of
from fuelsim.network.solver.solve import BatchResult
from fuelsim.outcome import Outcome, OutcomeCode
from fuelsim.typing import FloatLike

__all__ = ["Labels", "outcome_of"]

_LESS = "draw less, fit a larger pump, or draw through injectors, whose flow falls with pressure"


@dataclass(frozen=True)
class Labels:
    """Names that sentences need beside the batch.

    Attributes
    ----------
    nodes, links : list of str
        Names in the order of the topology.
    density : float or array (points,)
        Reference density, kg/m3.
    """

    nodes: list[str]
    links: list[str]
    density: FloatLike


class _Failure(NamedTuple):
    """Why one point has no result: its code, the part or node that limits, a sentence."""

    code: OutcomeCode
    part: str
    reason: str


def outcome_of(batch: Batch, result: BatchResult, labels: Labels) -> Outcome:
    """Return the outcome of a batch, each array (points,)."""
    solution = result.solved.solution
    outside = result.outside
    worst = _worst_links(batch, result, labels)
    code = np.zeros(batch.size, dtype=np.int8)
    reason = np.zeros(batch.size, dtype="U1")
    failed = np.flatnonzero(~solution.converged | outside.any)
    if failed.size:
        parts, reasons = worst.astype(object), reason.astype(object)
        for point in failed.tolist():
            code[point], parts[point], reasons[point] = _failure(
                batch, result, labels, outside, str(worst[point]), point
            )
        worst, reason = parts.astype(str), reasons.astype(str)
    return Outcome(
        code,
        solution.iterations,
        solution.pressure_error,
        solution.flow_error,
        solution.mass_error,
        worst,
        reason,
        result.limits.fraction,
    )


def _worst_links(batch: Batch, result: BatchResult, labels: Labels) -> np.ndarray[tuple[int], np.dtype[np.str_]]:
    """Return the name of the link with the largest residual at each point; of a chain that of the steepest link."""
    chains = batch.plan.contraction.chains
    return np.array([labels.links[chain.links[0]] for chain in chains] or [""])[result.solved.solution.worst]


def _failure(
    batch: Batch, result: BatchResult, labels: Labels, outside: Violations, worst: str, point: int
) -> _Failure:
    """Return why a point has no result."""
    if result.cut_off[point]:
        return _cut_off(batch, labels, point)
    if not result.solved.solution.converged[point]:
        bad = _bad_input(batch, labels, point)
        if bad is not None:
            return bad
    if result.limits.found[point]:
        return _overdrawn(batch, result, labels, outside, point)
    if result.solved.solution.converged[point]:
        return _outside_ratings(batch, result, labels, outside, point)
    if result.sunk[point]:
        return _sunk(labels, outside, point)
    return _not_converged(result, worst, point)


def _cut_off(batch: Batch, labels: Labels, point: int) -> _Failure:
    """Return the failure of a point whose draw no flow can reach."""
    unfed = [node for node in batch.plan.unfed.tolist() if _at(batch.node_draw[node], point) > 0.0]
    if unfed:
        node = unfed[0]
        what = f"the {_flow(_at(batch.node_draw[node], point))} drawn from '{labels.nodes[node]}' cannot reach it"
    else:
        node = next(node for node in batch.plan.undrained.tolist() if _at(batch.node_draw[node], point) < 0.0)
        what = f"the {_flow(-_at(batch.node_draw[node], point))} fed to '{labels.nodes[node]}' cannot leave it"
    topology = batch.plan.topology
    barred = [
        labels.links[link]
        for link, law in enumerate(topology.laws)
        if law.one_way and node in (topology.up[link], topology.down[link])
    ]
    part = barred[0] if barred else labels.nodes[node]
    return _Failure(
        OutcomeCode.CUT_OFF,
        part,
        f"{what}: '{part}' and every other way from a reservoir pass the other way only; turn a valve round, or add a "
        "way to it",
    )


def _overdrawn(batch: Batch, result: BatchResult, labels: Labels, outside: Violations, point: int) -> _Failure:
    """Return the failure of a point whose draws are more than the network can supply."""
    limits, solved = result.limits, result.solved
    draw = float(sum(max(_at(values, point), 0.0) for values in batch.node_draw))
    link, node = labels.links[limits.link[point]], labels.nodes[limits.node[point]]
    if solved.solution.converged[point]:
        lowest = int(outside.node[point])
        node = labels.nodes[lowest]
        pressure = float(solved.pressure[lowest, point]) + _at(batch.datum, point)
        below = ", below a vacuum" if pressure < 0.0 else ""
        needed = f"'{node}' would have to be at {_kilopascals(pressure)} absolute{below}"
    else:
        needed = f"no suction at '{node}' would be enough"
    largest = "the largest that works is" if limits.bracketed[point] else "the largest found to work, more may, is"
    works = f"{largest} {_flow(limits.fraction[point] * draw)} ({limits.fraction[point]:.3g} of it)"
    if result.limits.fraction[point] == 0.0:
        works = "no draw at all works" if limits.bracketed[point] else "no draw was found to work"
    return _Failure(
        OutcomeCode.OUTSIDE_RATINGS,
        link,
        f"the draw of {_flow(draw)} is more than '{link}' can {'push' if outside.pump[point] >= 0 else 'pass'}: "
        f"{needed}; {works}; {_LESS}",
    )


def _outside_ratings(batch: Batch, result: BatchResult, labels: Labels, outside: Violations, point: int) -> _Failure:
    """Return the failure of a point that is outside ratings whatever it draws."""
    lowest = int(outside.node[point])
    node = labels.nodes[lowest]
    pressure = float(result.solved.pressure[lowest, point]) + _at(batch.datum, point)
    return _Failure(
        OutcomeCode.OUTSIDE_RATINGS,
        node,
        f"'{node}' would be at {_kilopascals(pressure)} absolute, below a vacuum; try less flow, a larger bore or a "
        "lower lift before it",
    )


def _sunk(labels: Labels, outside: Violations, point: int) -> _Failure:
    """Return the failure of a point of which a pressure sinks without end, and no smaller draw is known to work."""
    node = labels.nodes[int(outside.node[point])]
    return _Failure(
        OutcomeCode.OUTSIDE_RATINGS,
        node,
        f"'{node}' would be far below a vacuum, and no smaller draw was found to work; try less flow, a larger bore or "
        "a lower lift before it",
    )


def _bad_input(batch: Batch, labels: Labels, point: int) -> _Failure | None:
    """Return the failure of a point with a coefficient that is not a number."""
    for group, inputs in groups_of(batch):
        for name, values in zip(group.law.coefficients._fields, inputs.coefficients, strict=True):
            at = 0 if values.shape[-1] == 1 else point
            for row, link in enumerate(group.links):
                if np.isnan(values[..., row, at]).any():
                    part = labels.links[link]
                    reason = f"the {name.replace('_', ' ')} of '{part}' is not a number; check what it is made from"
                    return _Failure(OutcomeCode.BAD_INPUT, part, reason)
    return None


def _not_converged(result: BatchResult, worst: str, point: int) -> _Failure:
    """Return the failure of a point that no start solved, though nothing says that it has no solution."""
    solution = result.solved.solution
    return _Failure(
        OutcomeCode.NOT_CONVERGED,
        worst,
        f"the iteration did not converge from any start; the largest residual is that of '{worst}', "
        f"{solution.pressure_error[point]:.2g} Pa or {solution.flow_error[point]:.2g} of the largest flow; try the "
        "point with draws nearer to those of a solved one",
    )


def _kilopascals(pressure: float) -> str:
    return f"{pressure / 1e3:.4g} kPa"


def _flow(flow: float) -> str:
    return f"{flow / L_PER_HOUR:.4g} L/h"


def _at(value: FloatLike, point: int) -> float:
    """Return a value at one point, which all points may share."""
    values = np.atleast_1d(value)
    return float(values[point if values.size > 1 else 0])
