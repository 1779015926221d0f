"""What became of each operating point: outcome codes, the part to blame and what to try."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from fuelsim.network.assemble import GRAVITY
from fuelsim.network.batch import Batch, GroupFigures
from fuelsim.network.plan import Group
from fuelsim.network.solve import Fields
from fuelsim.outcome import Outcome, OutcomeCode

__all__ = ["regime_of", "verdict"]


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
    coefficients = tuple(values[..., row : row + 1, :] for values in figures.coefficients)
    flow = fields.flow[link][None]
    if figures.scale is not None:
        flow = flow * figures.scale[row]
    head = figures.head[row]
    p_up, p_down, p_reference = (
        fields.pressure[ends[link]][None] for ends in (topology.up, topology.down, topology.reference)
    )
    if law.senses == "up":
        p_down = p_down - head
    else:
        p_up = p_up + head
    found = law.regime(flow, p_up, p_down, p_reference, coefficients)
    return np.broadcast_to(found, (1, batch.size))[0]


def verdict(
    batch: Batch,
    fields: Fields,
    node_names: Sequence[str],
    link_names: Sequence[str],
    heights: Sequence[float],
    density: Any,
    draws: Mapping[int, Any],
) -> Outcome:
    """Return the outcome of a batch, each array (points,).

    Parameters
    ----------
    batch, fields
        The batch and what was found.
    node_names, link_names : sequence of str
    heights : sequence of float
        Of the nodes, m.
    density : float or array
        Reference density, kg/m3.
    draws : mapping of int to float or array (points,)
        Draws of unknown nodes, m3/s at the reference density.
    """
    solution = fields.solution
    topology, contraction = batch.plan.topology, batch.plan.contraction
    code = np.where(solution.converged, OutcomeCode.SOLVED, OutcomeCode.NOT_CONVERGED).astype(np.int8)
    worst = np.full(batch.size, "", dtype=object)
    reason = np.full(batch.size, "", dtype=object)
    if contraction.chains:
        size = np.abs(solution.residual)
        names = np.array([link_names[chain.links[0]] for chain in contraction.chains], dtype=object)
        worst = names[size.argmax(axis=0)]
    unknown = fields.pressure[: topology.unknown]
    with np.errstate(invalid="ignore"):
        if topology.unknown:
            below = (unknown.min(axis=0) < 0.0) & solution.converged
            for point in np.flatnonzero(below).tolist():
                node = int(unknown[:, point].argmin())
                code[point] = OutcomeCode.OUTSIDE_RATINGS
                worst[point] = node_names[node]
                reason[point] = _vacuum(batch, fields, node_names[node], unknown[node, point], link_names, draws, point)
        if draws:
            _find_pushed_too_far(batch, fields, node_names, link_names, heights, density, draws, code, worst, reason)
    for point in np.flatnonzero(~solution.converged).tolist():
        code[point], worst[point], reason[point] = _unsolved(batch, link_names, str(worst[point]), point)
    return Outcome(
        code,
        solution.iterations,
        solution.pressure_error,
        solution.flow_error,
        solution.mass_error,
        worst.astype(str),
        reason.astype(str),
    )


def _pumps(batch: Batch) -> list[int]:
    return [link for link, law in enumerate(batch.plan.topology.laws) if "past run-out" in law.regimes]


def _past_run_out(batch: Batch, fields: Fields) -> dict[int, Any]:
    """Return for each pump whether it is past its run-out flow, (points,)."""
    laws = batch.plan.topology.laws
    return {link: regime_of(batch, fields, link) == laws[link].regimes.index("past run-out") for link in _pumps(batch)}


def _draw_words(draws: Mapping[int, Any], point: int) -> str:
    total = sum(
        float(np.broadcast_to(draw, (point + 1,) if np.ndim(draw) == 0 else draw.shape)[point])
        for draw in draws.values()
    )
    return f"{total * 3.6e6:.4g} L/h"


def _vacuum(
    batch: Batch,
    fields: Fields,
    node: str,
    pressure: float,
    link_names: Sequence[str],
    draws: Mapping[int, Any],
    point: int,
) -> str:
    found = f"'{node}' would be at {pressure / 1e3:.4g} kPa absolute, below a vacuum"
    blamed = [link_names[link] for link, past in _past_run_out(batch, fields).items() if past[point]]
    if blamed and draws:
        return f"{found}: the draw of {_draw_words(draws, point)} is more than '{blamed[0]}' can push; {_LESS}"
    return f"{found}; try less flow, a larger bore or a lower lift before it"


_LESS = "draw less, fit a larger pump, or draw through injectors, whose flow falls with pressure"


def _find_pushed_too_far(
    batch: Batch,
    fields: Fields,
    node_names: Sequence[str],
    link_names: Sequence[str],
    heights: Sequence[float],
    density: Any,
    draws: Mapping[int, Any],
    code: Any,
    worst: Any,
    reason: Any,
) -> None:
    """Mark points where fixed draws pull a pump past its run-out, to a node below every reservoir."""
    topology = batch.plan.topology
    past = _past_run_out(batch, fields)
    if not any(flags.any() for flags in past.values()):
        return
    lift = [GRAVITY * height * density for height in heights]
    least = np.min(
        [fields.pressure[node] + lift[node] for node in range(topology.unknown, topology.atmosphere)], axis=0
    )
    for node, draw in draws.items():
        starved = (fields.pressure[node] + lift[node] < least) & (draw > 0.0) & (code == OutcomeCode.SOLVED)
        for link, flags in past.items():
            for point in np.flatnonzero(starved & flags).tolist():
                code[point] = OutcomeCode.OUTSIDE_RATINGS
                worst[point] = node_names[node]
                reason[point] = (
                    f"the draw of {_draw_words(draws, point)} is more than '{link_names[link]}' can push; "
                    f"'{node_names[node]}' would fall to {fields.pressure[node, point] / 1e3:.4g} kPa absolute; {_LESS}"
                )


def _unsolved(batch: Batch, link_names: Sequence[str], worst: str, point: int) -> tuple[OutcomeCode, str, str]:
    for group, figures in _groups(batch):
        for name, values in zip(group.law.coefficients, figures.coefficients, strict=True):
            at = 0 if values.shape[-1] == 1 else point
            for row, link in enumerate(group.links):
                if np.isnan(values[..., row, at]).any():
                    link_name = link_names[link]
                    said = f"the {name.replace('_', ' ')} of '{link_name}' is not a number; check what it is made from"
                    return OutcomeCode.BAD_INPUT, link_name, said
    said = (
        f"no solution found from any start, '{worst}' is furthest off; try the point with a draw nearer to a solved "
        "one, and check the ratings of that part"
    )
    return OutcomeCode.NOT_CONVERGED, worst, said
