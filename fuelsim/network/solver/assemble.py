"""From parts, liquids and draws to the coefficients of a batch."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from fuelsim.arguments import unchecked
from fuelsim.constants import GRAVITY
from fuelsim.errors import InputError
from fuelsim.laws.link import LinkLaw
from fuelsim.liquid import Liquid
from fuelsim.network.solver.coefficients import ChainKinks, GroupCoefficients, MergedCoefficients, chain_kinks, stacked
from fuelsim.network.solver.contraction import carry_draws
from fuelsim.network.solver.equations import Batch
from fuelsim.network.solver.plan import Group, Plan, make_plan
from fuelsim.parts.part import Part
from fuelsim.typing import FloatArray, FloatLike, LinkArray, NodeArray, PointArray

__all__ = ["LinkInputs", "assemble", "number_of_points", "stacked_coefficients"]


_LEAST_POINTS_TO_MERGE = 16
"""For fewer points, merging and dividing lines in series takes longer than evaluating each."""


def number_of_points(values: Iterable[FloatLike], name: Callable[[int], str]) -> int | None:
    """Return the number of operating points of arrays (points,) or scalars, None if all are scalars.

    Parameters
    ----------
    values : iterable
        Scalars and arrays.
    name : callable
        Name of the value of a number, for messages.

    Raises
    ------
    InputError
        Where two lengths do not fit together, naming both.
    """
    size, first = None, 0
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
            size, first = shape[0], number
        elif shape[0] != size:
            raise InputError(
                f"{shape[0]} values of {name(number)} do not fit {size} values of {name(first)}",
                accepted="lists of equal length, one value for each operating point",
            )
    return size


def _stacked_tables(tables: Sequence[FloatLike]) -> FloatArray:
    """Stack tables (rows,) or (rows, points) into (rows, links, 1 or points)."""
    arrays = [np.asarray(table, dtype=float) for table in tables]
    if all(table.ndim == 1 for table in arrays):
        return np.stack(arrays, axis=1)[:, :, None]
    size = max(table.shape[1] for table in arrays if table.ndim == 2)
    out = np.empty((len(arrays[0]), len(arrays), size))
    for link, table in enumerate(arrays):
        out[:, link] = table if table.ndim == 2 else table[:, None]
    return out


def stacked_coefficients(law: LinkLaw, own: Sequence[NamedTuple]) -> NamedTuple:
    """Return the coefficients of several links of one law as that law is evaluated with.

    Parameters
    ----------
    law : LinkLaw
    own : sequence of NamedTuple
        Coefficients of each link, as its part gives them.

    Returns
    -------
    NamedTuple
        Each field an array (links, 1 or points), tables (rows, links, 1 or points).
    """
    if law.align is not None and len(own) > 1:
        own = law.align(own)
    return law.coefficients._make(
        _stacked_tables(column) if key in law.tables else stacked(column)
        for key, column in zip(law.coefficients._fields, zip(*own, strict=True), strict=True)
    )


class LinkInputs:
    """Coefficients and densities of each link as parts and liquids give them, before they are put in a plan's order.

    Parameters
    ----------
    names : sequence of str
        Names of the links.
    parts, liquids : sequence
        Part and liquid of each link.

    Attributes
    ----------
    coefficients : list of NamedTuple
        For each link the coefficients of its law.
    density : list
        For each link its density, kg/m3, a float or an array (points,).
    templates : dict
        Templates of the batches assembled so far, by the links that are merged in them.
    """

    def __init__(self, names: Sequence[str], parts: Sequence[Part], liquids: Sequence[Liquid]) -> None:
        self.coefficients: list[NamedTuple] = [
            unchecked(part.coefficients)(liquid) for part, liquid in zip(parts, liquids, strict=True)
        ]
        self.density: list[FloatLike] = [liquid.density for liquid in liquids]
        self.templates: dict[tuple[tuple[int, ...], ...], Template] = {}
        self._names = names
        self._all_scalar: bool | None = None

    @property
    def all_scalar(self) -> bool:
        """Whether all coefficients and densities were found to be the same at all points by `check_lengths`."""
        return self._all_scalar is True

    def check_lengths(self, laws: Sequence[LinkLaw], others: Mapping[str, FloatLike]) -> int | None:
        """Return the number of operating points of all coefficients, densities and other named values.

        Raises
        ------
        InputError
            Where two lengths do not fit together, naming both.
        """
        if self.all_scalar:
            return number_of_points(others.values(), list(others).__getitem__)
        values: list[FloatLike] = list(others.values())
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

        self._all_scalar = all(np.ndim(value) == 0 for value in values[len(others) :])
        return number_of_points(values, name)


@dataclass(frozen=True)
class Template:
    """Everything of a batch that neither draws nor fixed pressures change.

    Attributes
    ----------
    plan : Plan
        With the links that are merged.
    groups, end_groups : tuple of GroupCoefficients
        Without the offsets of the draws.
    head, node_head : array
        As in `Batch`.
    merged : tuple of MergedCoefficients
    kinks : ChainKinks or None
        Without the offsets of the draws.
    """

    plan: Plan
    groups: tuple[GroupCoefficients, ...]
    end_groups: tuple[GroupCoefficients, ...]
    head: LinkArray
    node_head: NodeArray
    merged: tuple[MergedCoefficients, ...]
    kinks: ChainKinks | None

    @classmethod
    def of(
        cls,
        plan: Plan,
        inputs: LinkInputs,
        heights: Sequence[float],
        density: FloatLike,
        scales: Sequence[FloatLike] | None,
    ) -> Template:
        """Return the template of a plan; see `assemble` for the parameters."""
        topology = plan.topology
        heads: list[FloatLike] = []
        for up, down, own_density in zip(topology.up, topology.down, inputs.density, strict=True):
            rise = heights[up] - heights[down]
            heads.append(GRAVITY * rise * own_density if rise else 0.0)
        members = {links[0]: links for links in plan.merged}

        def own_coefficients(link: int) -> NamedTuple:
            wide_open = topology.laws[link].wide_open if link in plan.unsupplied else None
            return inputs.coefficients[link] if wide_open is None else wide_open(inputs.coefficients[link])

        def coefficients_of(links: Sequence[int]) -> NamedTuple:
            return stacked_coefficients(topology.laws[links[0]], [own_coefficients(link) for link in links])

        def group_coefficients(group: Group) -> GroupCoefficients:
            coefficients = coefficients_of(group.links)
            if members and group.law.series:
                coefficients = _with_sums(group.law, group.links, members, inputs, coefficients)
            return GroupCoefficients(
                coefficients,
                None,
                None if scales is None else stacked([scales[link] for link in group.links]),
                stacked([heads[link] for link in group.links]),
            )

        groups = tuple(group_coefficients(group) for group in plan.groups)
        chain_heads: list[FloatLike] = []
        for chain in plan.contraction.chains:
            head: FloatLike = 0.0
            for link, sign in zip(chain.links, chain.signs, strict=True):
                head = head + sign * heads[link]
            chain_heads.append(head)
        return cls(
            plan,
            groups,
            tuple(group_coefficients(group) for group in plan.end_groups),
            _stacked_or_empty(chain_heads),
            stacked([GRAVITY * height * density for height in heights]),
            tuple(
                MergedCoefficients(links, coefficients_of(links), stacked([heads[link] for link in links]))
                for links in plan.merged
            ),
            chain_kinks(plan, groups),
        )


def assemble(
    plan: Plan,
    inputs: LinkInputs,
    draws: Mapping[int, FloatLike],
    pressures: Sequence[FloatLike],
    heights: Sequence[float],
    density: FloatLike,
    scales: Sequence[FloatLike] | None,
    size: int,
) -> Batch:
    """Return the batch.

    Parameters
    ----------
    plan : Plan
    inputs : LinkInputs
    draws : mapping of int to float or array (points,)
        Draw of unknown nodes in units of the flow unknown, m3/s at the reference density.
    pressures : sequence
        Pressure of each fixed node and the atmosphere, Pa absolute.
    heights : sequence of float
        Heights of the unknown and the fixed nodes, m.
    density : float or array (points,)
        Reference density, kg/m3.
    scales : sequence or None
        For each link the reference density over its own; None where all are equal.
    size : int
        Number of points.
    """
    carried = carry_draws(plan.contraction, plan.topology, draws)
    merging = scales is None and size >= _LEAST_POINTS_TO_MERGE
    merged = _mergeable_links(plan, inputs, carried.stretches) if merging else ()
    template = inputs.templates.get(merged)
    if template is None:
        merged_plan = make_plan(plan.topology, merged) if merged else plan
        template = inputs.templates[merged] = Template.of(merged_plan, inputs, heights, density, scales)
    plan, groups, kinks = template.plan, template.groups, template.kinks
    if any(offset is not None for offset in carried.offsets):
        before, groups = groups, _with_offsets(plan.groups, groups, carried.offsets)
        shifted = [own is not old for own, old in zip(groups, before, strict=True)]
        if any(moved and group.law.kinks is not None for moved, group in zip(shifted, plan.groups, strict=True)):
            kinks = chain_kinks(plan, groups)
    end_flows = [carried.offsets[end.link] for end in plan.contraction.dead_ends]
    fixed = stacked(pressures)
    if any(group.law.absolute for group in plan.groups):
        groups = tuple(_over_datum(group.law, own, fixed[0]) for group, own in zip(plan.groups, groups, strict=True))
    return Batch(
        plan,
        size,
        groups,
        template.end_groups,
        _stacked_or_empty([0.0 if draw is None else draw for draw in carried.kept]),
        _stacked_or_empty([0.0 if flow is None else flow for flow in end_flows]),
        template.head,
        fixed - fixed[0],
        fixed[0],
        template.node_head,
        _stacked_or_empty([draws.get(node, 0.0) for node in range(plan.topology.unknown)]),
        template.merged,
        kinks,
    )


def _over_datum(law: LinkLaw, own: GroupCoefficients, datum: PointArray) -> GroupCoefficients:
    """Return the coefficients of a group with its absolute pressures counted from the datum."""
    if not law.absolute:
        return own
    over_datum = {key: getattr(own.coefficients, key) - datum for key in law.absolute}
    return replace(own, coefficients=own.coefficients._replace(**over_datum))


def _with_offsets(
    groups: Sequence[Group], coefficients: Sequence[GroupCoefficients], offsets: Sequence[FloatLike | None]
) -> tuple[GroupCoefficients, ...]:
    """Return the coefficients of the groups with the offsets that draws add to the flows of their links."""
    result = []
    for group, own in zip(groups, coefficients, strict=True):
        values = [offsets[link] for link in group.links]
        if any(value is not None for value in values):
            offset = stacked([0.0 if value is None else value for value in values])
            own = GroupCoefficients(own.coefficients, offset, own.scale, own.head)
        result.append(own)
    return tuple(result)


def _stacked_or_empty(rows: Sequence[FloatLike]) -> FloatArray:
    return stacked(rows) if rows else np.zeros((0, 1))


def _mergeable_links(plan: Plan, inputs: LinkInputs, stretches: Sequence[int]) -> tuple[tuple[int, ...], ...]:
    """Return the links in series with the same flow that agree in every coefficient but those that add up."""
    merged = []
    for run in plan.mergeable_runs:
        law = plan.topology.laws[run[0]]
        remaining = list(run)
        while remaining:
            first, *others = remaining
            alike = [
                other
                for other in others
                if stretches[first] == stretches[other]
                and _agree(law, inputs.coefficients[first], inputs.coefficients[other])
            ]
            if alike:
                merged.append((first, *alike))
            remaining = [other for other in others if other not in alike]
    return tuple(merged)


def _agree(law: LinkLaw, one: Sequence[FloatLike], other: Sequence[FloatLike]) -> bool:
    """Return whether two links have equal coefficients, those that add up in series left out."""
    return all(
        a is b or (a == b if isinstance(a, float) and isinstance(b, float) else np.array_equal(a, b))
        for key, a, b in zip(law.coefficients._fields, one, other, strict=True)
        if key not in law.series
    )


def _with_sums(
    law: LinkLaw,
    links: Sequence[int],
    members: Mapping[int, Sequence[int]],
    inputs: LinkInputs,
    coefficients: NamedTuple,
) -> NamedTuple:
    """Return a group's coefficients with those of merged links added up."""
    sums = {
        key: stacked(
            [sum(getattr(inputs.coefficients[member], key) for member in members.get(link, (link,))) for link in links]
        )
        for key in law.series
    }
    return coefficients._replace(**sums)
