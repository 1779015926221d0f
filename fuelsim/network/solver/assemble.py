"""From parts, liquids and draws to the figures of a batch."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from fuelsim.constants import GRAVITY
from fuelsim.errors import InputError
from fuelsim.laws.link import LinkLaw
from fuelsim.laws.liquid import Liquid
from fuelsim.network.solver.equations import Batch, GroupFigures, MergedFigures
from fuelsim.network.solver.plan import Group, Plan, make_plan
from fuelsim.parts.part import Part

__all__ = ["GRAVITY", "Figures", "assemble", "points_of", "stacked"]


_WORTH_MERGING = 16
"""For fewer points, finding and dividing merged lines takes longer than evaluating each."""


def points_of(values: Iterable[Any], name: Callable[[int], str]) -> int | None:
    """Return the number of operating points of arrays (points,) or scalars, None if all are scalars.

    Parameters
    ----------
    values : iterable
        Scalars and arrays.
    name : callable
        Says what the value of a number is, for messages.

    Raises
    ------
    InputError
        Where two lengths do not fit together, naming both.
    """
    size, whose = None, 0
    for number, value in enumerate(values):
        if type(value) is float or not np.ndim(value):
            continue
        shape = np.shape(value)
        if len(shape) > 1:
            raise InputError(
                "operating points lie on one axis",
                given=f"an array of shape {shape} for {name(number)}",
                accepted="a number or a list of numbers",
            )
        if size is None:
            size, whose = shape[0], number
        elif shape[0] != size:
            raise InputError(
                f"{shape[0]} values of {name(number)} do not fit {size} values of {name(whose)}",
                accepted="lists of equal length, one value for each operating point",
            )
    return size


def stacked(rows: Sequence[Any]) -> Any:
    """Stack scalars and arrays (points,) into (rows, 1 or points)."""
    sizes = [row.shape[0] for row in rows if type(row) is not float and np.ndim(row)]
    if not sizes:
        return np.array(rows, dtype=float).reshape(len(rows), 1)
    out = np.empty((len(rows), max(sizes)))
    for target, row in zip(out, rows, strict=True):
        target[:] = row
    return out


def _stacked_tables(tables: Sequence[Any]) -> Any:
    """Stack tables (rows,) or (rows, points) into (rows, links, 1 or points)."""
    tables = [np.asarray(table, dtype=float) for table in tables]
    if all(table.ndim == 1 for table in tables):
        return np.stack(tables, axis=1)[:, :, None]
    size = max(table.shape[1] for table in tables if table.ndim == 2)
    out = np.empty((len(tables[0]), len(tables), size))
    for link, table in enumerate(tables):
        out[:, link] = table if table.ndim == 2 else table[:, None]
    return out


class Figures:
    """What the parts and liquids say about each link, before it is put in the order of a plan.

    Attributes
    ----------
    coefficients : list of NamedTuple
        For each link the coefficients of its law.
    density : list
        For each link its density, kg/m3, a float or an array (points,).
    """

    def __init__(self, names: Sequence[str], parts: Sequence[Part], liquids: Sequence[Liquid]) -> None:
        self.coefficients = [part.coefficients(liquid) for part, liquid in zip(parts, liquids, strict=True)]
        self.density = [liquid.density for liquid in liquids]
        self._names = names

    def check_lengths(self, laws: Sequence[LinkLaw], others: Mapping[str, Any]) -> int | None:
        """Return the number of operating points of all coefficients, densities and other named values."""
        values: list[Any] = list(others.values())
        for link, (law, own) in enumerate(zip(laws, self.coefficients, strict=True)):
            if not isinstance(own, law.coefficients):
                raise TypeError(f"part of '{self._names[link]}' gives {type(own).__name__} to the law {law.name}")
            values.append(self.density[link])
            values += [
                np.asarray(value)[0] if key in law.tables else value
                for key, value in zip(law.coefficients._fields, own, strict=True)
            ]

        def name(number: int) -> str:
            names = list(others)
            for link, law in zip(self._names, laws, strict=True):
                names.append(f"the density in '{link}'")
                names += [f"the {key.replace('_', ' ')} of '{link}'" for key in law.coefficients._fields]
            return names[number]

        return points_of(values, name)


def assemble(
    plan: Plan,
    figures: Figures,
    draws: Mapping[int, Any],
    pressures: Sequence[Any],
    rises: Sequence[float],
    scales: Sequence[Any] | None,
    size: int,
) -> Batch:
    """Return the batch.

    Parameters
    ----------
    plan : Plan
    figures : Figures
    draws : mapping of int to float or array (points,)
        Draw of unknown nodes in units of the flow unknown, m3/s at the reference density.
    pressures : sequence
        Pressure of each fixed node and the atmosphere, Pa absolute.
    rises : sequence of float
        For each link the height of its upstream node over its downstream one, m.
    scales : sequence or None
        For each link the reference density over its own; None where all are equal.
    size : int
        Number of points.
    """
    heads = [GRAVITY * rise * density if rise else 0.0 for rise, density in zip(rises, figures.density, strict=True)]
    offsets = [_sum(draws, pairs) for pairs in plan.contraction.offsets]

    merged = _agreeing(plan, figures, draws) if scales is None and size >= _WORTH_MERGING else ()
    if merged:
        plan = make_plan(plan.topology, merged)
    members = {links[0]: links for links in merged}

    def coefficients_of(links: Sequence[int]) -> NamedTuple:
        law = plan.topology.laws[links[0]]
        own: Sequence[NamedTuple] = [figures.coefficients[link] for link in links]
        if law.align is not None and len(own) > 1:
            own = law.align(own)
        columns = zip(*own, strict=True)
        return law.coefficients._make(
            _stacked_tables(column) if key in law.tables else stacked(column)
            for key, column in zip(law.coefficients._fields, columns, strict=True)
        )

    def group_figures(group: Group) -> GroupFigures:
        law, links = group.law, group.links
        coefficients = coefficients_of(links)
        if members and law.series:
            coefficients = _with_sums(law, links, members, figures, coefficients)
        own = [offsets[link] for link in links]
        return GroupFigures(
            coefficients,
            stacked([0.0 if offset is None else offset for offset in own]) if any(o is not None for o in own) else None,
            None if scales is None else stacked([scales[link] for link in links]),
            stacked([heads[link] for link in links]),
        )

    groups = tuple(group_figures(group) for group in plan.groups)
    chain_heads = []
    for chain in plan.contraction.chains:
        head: Any = 0.0
        for link, sign in zip(chain.links, chain.signs, strict=True):
            head = head + sign * heads[link]
        chain_heads.append(head)
    kept_draws = [_sum(draws, [(node, 1) for node in nodes]) for nodes in plan.contraction.draws]
    end_flows = [_sum(draws, plan.contraction.offsets[end.link]) for end in plan.contraction.dead_ends]
    return Batch(
        plan,
        size,
        groups,
        tuple(group_figures(group) for group in plan.end_groups),
        stacked([0.0 if draw is None else draw for draw in kept_draws]) if kept_draws else np.zeros((0, 1)),
        stacked([0.0 if flow is None else flow for flow in end_flows]) if end_flows else np.zeros((0, 1)),
        stacked(chain_heads) if chain_heads else np.zeros((0, 1)),
        stacked(pressures),
        tuple(
            MergedFigures(links, coefficients_of(links), stacked([heads[link] for link in links])) for links in merged
        ),
        _kinks(plan, groups),
    )


def _agreeing(plan: Plan, figures: Figures, draws: Mapping[int, Any]) -> tuple[tuple[int, ...], ...]:
    """Return the links in series with the same flow that agree in every coefficient but those that add up."""
    found = []
    drawn = [[pair for pair in pairs if pair[0] in draws] for pairs in plan.contraction.offsets]
    for run in plan.runs:
        law = plan.topology.laws[run[0]]
        left = list(run)
        while left:
            first, *others = left
            alike = [
                other
                for other in others
                if drawn[first] == drawn[other]
                and _agree(law, figures.coefficients[first], figures.coefficients[other])
            ]
            if alike:
                found.append((first, *alike))
            left = [other for other in others if other not in alike]
    return tuple(found)


def _agree(law: LinkLaw, one: Sequence[Any], other: Sequence[Any]) -> bool:
    return all(
        a is b or (a == b if type(a) is float and type(b) is float else np.array_equal(a, b))
        for key, a, b in zip(law.coefficients._fields, one, other, strict=True)
        if key not in law.series
    )


def _with_sums(
    law: LinkLaw,
    links: Sequence[int],
    members: Mapping[int, Sequence[int]],
    figures: Figures,
    coefficients: NamedTuple,
) -> NamedTuple:
    """Return a group's coefficients with those of merged links added up."""
    sums = {
        key: stacked(
            [sum(getattr(figures.coefficients[member], key) for member in members.get(link, (link,))) for link in links]
        )
        for key in law.series
    }
    return coefficients._replace(**sums)


def _kinks(plan: Plan, groups: Sequence[GroupFigures]) -> tuple[Any, Any, Any, Any] | None:
    """Return the kinks of the laws in terms of the chains' flows."""
    found: dict[int, tuple[Any, Any, Any]] = {}
    for group, figures in zip(plan.groups, groups, strict=True):
        if group.law.kinks is None:
            continue
        limits = [
            np.full((len(group.links), 1), values) if np.ndim(values) == 0 else np.asarray(values)
            for values in group.law.kinks(figures.coefficients)
        ]
        for row, chain in enumerate(group.chains.tolist()):
            low, high, margin = (values[row] for values in limits)
            if figures.scale is not None:
                low, high, margin = (values / figures.scale[row] for values in (low, high, margin))
            if figures.offset is not None:
                low, high = low - figures.offset[row], high - figures.offset[row]
            if group.signs is not None and group.signs[row, 0] < 0.0:
                low, high = -high, -low
            if chain in found:
                other = found[chain]
                low, high, margin = np.maximum(low, other[0]), np.minimum(high, other[1]), np.minimum(margin, other[2])
            found[chain] = (low, high, margin)
    if not found:
        return None
    low, high, margin = (_widened(values) for values in zip(*found.values(), strict=True))
    return np.array(list(found), dtype=np.intp), low, high, margin


def _widened(rows: Sequence[Any]) -> Any:
    """Stack rows (1 or points,) into (rows, 1 or points)."""
    size = max(row.shape[0] for row in rows)
    return np.array([row if row.shape[0] == size else np.full(size, row[0]) for row in rows])


def _sum(draws: Mapping[int, Any], pairs: Sequence[tuple[int, int]]) -> Any:
    """Return the signed sum of some nodes' draws, None where none of them has any."""
    total: Any = None
    for node, sign in pairs:
        if node in draws:
            term = draws[node] if sign > 0 else -draws[node]
            total = term if total is None else total + term
    return total
