"""The plan of a solution: index arrays worked out once per topology and used for every batch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np

from fuelsim.laws.link import LinkLaw
from fuelsim.network.solver.contraction import Chain, Contraction, contract
from fuelsim.network.solver.elimination import Elimination, SignedSums
from fuelsim.network.solver.topology import Topology

__all__ = ["Group", "Plan", "make_plan"]


@dataclass(frozen=True)
class Group:
    """All links of one law, evaluated in a single call.

    Attributes
    ----------
    law : LinkLaw
        The law.
    links : tuple of int
        Links in the order of evaluation: first one for each chain, then those that share a chain with them.
    chains : int array (links,)
        The chain of each link, -1 for a dead end.
    rows : slice or int array
        The chains of the first links, as a slice where they follow one another.
    shared : tuple of (int, int)
        For each further link its position and its chain.
    sums : array (chains, links) or None
        Sign of each link in its chain, so that for few points one product adds up the losses; None without shared
        chains.
    inner : int array
        Positions of the links in chains of several links, whose losses are needed for the pressures between them.
    signs : array (links, 1) or None
        Direction of each link in its chain, None where all point along it.
    """

    law: LinkLaw
    links: tuple[int, ...]
    chains: Any
    rows: Any
    shared: tuple[tuple[int, int], ...]
    sums: Any
    inner: Any
    signs: Any


@dataclass(frozen=True)
class Plan:
    """Everything about a topology that the solution needs.

    Rows of pressures are the kept nodes, then the fixed nodes, then the atmosphere.

    Attributes
    ----------
    topology : Topology
    contraction : Contraction
    groups : tuple of Group
        Links in chains, those with a loss first, then those with an equation.
    end_groups : tuple of Group
        Links of dead ends.
    node_row : dict of int to int
        Row of each kept or fixed node and of the atmosphere.
    up, down, reference : int array (chains,)
        Rows of the pressures at the ends of each chain, and that its law looks at.
    plain : int
        Number of chains with a loss; they come before those with an equation.
    looks : tuple of int
        Chains with an equation whose reference is a kept node.
    long_chains : int array
        Chains of several links.
    runs : tuple of (tuple of int)
        Links of a chain that point the same way and follow the same law, one whose links in series can be merged.
    merged : tuple of (tuple of int)
        Links that are merged into the first of each; only that one is in a group.
    balance : SignedSums
        Inflow minus outflow of the kept nodes from the chain flows.
    elimination : Elimination
        Solver for the pressures.
    """

    topology: Topology
    contraction: Contraction
    groups: tuple[Group, ...]
    end_groups: tuple[Group, ...]
    node_row: dict[int, int]
    up: Any
    down: Any
    reference: Any
    plain: int
    looks: tuple[int, ...]
    long_chains: Any
    runs: tuple[tuple[int, ...], ...]
    merged: tuple[tuple[int, ...], ...]
    balance: SignedSums
    elimination: Elimination


def _grouped(
    members: list[tuple[int, int, int]], laws: tuple[LinkLaw, ...], chains_of: Sequence[Chain]
) -> tuple[Group, ...]:
    """Group (link, chain, sign) by law."""
    by_law: dict[LinkLaw, list[tuple[int, int, int]]] = {}
    for member in sorted(members, key=lambda item: item[1]):
        by_law.setdefault(laws[member[0]], []).append(member)
    groups = []
    for law, found in by_law.items():
        seen: set[int] = set()
        first: list[tuple[int, int, int]] = []
        shared: list[tuple[int, int, int]] = []
        for member in found:
            (shared if member[1] in seen and member[1] >= 0 else first).append(member)
            seen.add(member[1])
        links, chains, signs = zip(*first, *shared, strict=True)
        start, count = chains[0], len(first)
        consecutive = chains[:count] == tuple(range(start, start + count))
        groups.append(
            Group(
                law,
                links,
                np.array(chains, dtype=np.intp),
                slice(start, start + count) if consecutive else np.array(chains[:count], dtype=np.intp),
                tuple((position, chains[position]) for position in range(count, len(chains))),
                _sums(chains, signs, len(chains_of)) if shared else None,
                np.array(
                    [at for at, chain in enumerate(chains) if chain >= 0 and len(chains_of[chain].links) > 1],
                    dtype=np.intp,
                ),
                None if min(signs) > 0 else np.array(signs, dtype=float)[:, None],
            )
        )
    return tuple(groups)


def _sums(chains: Sequence[int], signs: Sequence[int], count: int) -> Any:
    found = np.zeros((count, len(chains)))
    found[list(chains), range(len(chains))] = signs
    return found


def _members(chains: Sequence[Chain]) -> list[tuple[int, int, int]]:
    """Return (link, chain, sign) of all links in chains."""
    return [
        (link, number, sign)
        for number, chain in enumerate(chains)
        for link, sign in zip(chain.links, chain.signs, strict=True)
    ]


def _groups(
    members: list[tuple[int, int, int]], laws: tuple[LinkLaw, ...], chains: Sequence[Chain]
) -> tuple[Group, ...]:
    """Group links by law, laws with a loss first."""
    return tuple(sorted(_grouped(members, laws, chains), key=lambda group: group.law.loss is None))


def _runs(found: Contraction, laws: tuple[LinkLaw, ...]) -> tuple[tuple[int, ...], ...]:
    """Return the links of each chain that may be merged if no draw lies between and other coefficients agree."""
    runs = []
    for chain in found.chains:
        alike: dict[Any, list[int]] = {}
        for link, sign in zip(chain.links, chain.signs, strict=True):
            if laws[link].series:
                alike.setdefault((laws[link], sign), []).append(link)
        runs += [tuple(links) for links in alike.values() if len(links) > 1]
    return tuple(runs)


@lru_cache(maxsize=1024)
def make_plan(topology: Topology, merged: tuple[tuple[int, ...], ...] = ()) -> Plan:
    """Return the plan of a topology; plans are kept, so that a network made anew with other parts finds its own.

    Parameters
    ----------
    topology : Topology
    merged : tuple of (tuple of int), optional
        Links to be merged into the first of each; they must be among the plan's `runs`.
    """
    if merged:
        plan = make_plan(topology)
        left_out = {link for links in merged for link in links[1:]}
        members = [member for member in _members(plan.contraction.chains) if member[0] not in left_out]
        return replace(plan, groups=_groups(members, topology.laws, plan.contraction.chains), merged=merged)
    found = contract(topology)
    laws = topology.laws
    law_order = {law: number for number, law in enumerate(dict.fromkeys(laws))}
    # Chains with an equation come last, the others sorted so that the links of one law follow one another.
    chains = sorted(
        found.chains,
        key=lambda chain: (laws[chain.links[0]].loss is None, len(chain.links) > 1, law_order[laws[chain.links[0]]]),
    )
    found = Contraction(found.kept, tuple(chains), found.dead_ends, found.draws, found.offsets)
    node_row = {node: row for row, node in enumerate(found.kept)}
    for node in range(topology.unknown, topology.atmosphere + 1):
        node_row[node] = len(found.kept) + node - topology.unknown
    size, count = len(found.kept), len(chains)
    plain = sum(laws[chain.links[0]].loss is not None for chain in chains)
    up = [node_row[chain.up] for chain in chains]
    down = [node_row[chain.down] for chain in chains]
    reference = [node_row[topology.reference[chain.links[0]]] for chain in chains]
    looks = tuple(number for number in range(plain, count) if reference[number] < size)

    balance: list[list[tuple[int, int]]] = [[] for _ in range(size)]
    terms: list[tuple[int, int, int, int]] = []
    for number, (a, b) in enumerate(zip(up, down, strict=True)):
        by_up = number
        by_down = number if number < plain else count + number - plain
        for row, sign in ((b, 1), (a, -1)):
            if row < size:
                balance[row].append((number, sign))
                if a < size:
                    terms.append((row, a, by_up, -sign))
                if b < size:
                    terms.append((row, b, by_down, sign))
                if number in looks:
                    terms.append((row, reference[number], 2 * count - plain + looks.index(number), sign))
    width = 2 * count - plain + len(looks)
    return Plan(
        topology,
        found,
        _groups(_members(chains), laws, chains),
        _grouped([(end.link, -1, 1) for end in found.dead_ends], laws, chains),
        node_row,
        np.array(up, dtype=np.intp),
        np.array(down, dtype=np.intp),
        np.array(reference, dtype=np.intp),
        plain,
        looks,
        np.array([number for number, chain in enumerate(chains) if len(chain.links) > 1], dtype=np.intp),
        _runs(found, laws),
        (),
        SignedSums(balance, count),
        Elimination(size, terms, width),
    )
