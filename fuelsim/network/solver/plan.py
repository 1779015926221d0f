"""The plan of a solution: index arrays made once per topology and used for every batch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from fuelsim.laws.link import LinkLaw
from fuelsim.network.solver.contraction import Chain, Contraction, contract
from fuelsim.network.solver.elimination import Elimination, Term
from fuelsim.network.solver.loops import Loops
from fuelsim.network.solver.signed_sums import SignedSums
from fuelsim.network.solver.topology import Topology, one_way_unreachable_nodes, unsupplied_reducers
from fuelsim.typing import FloatArray, IndexArray

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
    link_rows : int array (links,)
        The same, to address arrays with all links.
    chains : int array (links,)
        The chain of each link, -1 for a dead end.
    rows : slice or int array
        The chains of the first links, as a slice where they follow one another.
    shared : tuple of (int, int)
        For each further link its position and its chain.
    sums : array (chains, links) or None
        Sign of each link in its chain, so that for few points one matrix product adds up the losses; None without
        shared chains.
    absolute_sums : array (chains, links) or None
        1 for each link in its chain, which adds up the slopes.
    inner : int array
        Positions of the links in chains of several links; their losses give the pressures between them.
    signs : array (links, 1) or None
        Direction of each link in its chain, None where all point along it.
    """

    law: LinkLaw
    links: tuple[int, ...]
    link_rows: IndexArray
    chains: IndexArray
    rows: slice | IndexArray
    shared: tuple[tuple[int, int], ...]
    sums: FloatArray | None
    absolute_sums: FloatArray | None
    inner: IndexArray
    signs: FloatArray | None


@dataclass(frozen=True)
class InnerNodes:
    """Nodes between the links of long chains, for single points.

    Attributes
    ----------
    links : list of int
        Links of the long chains in order.
    signs : array (inner links,)
        Direction of each in its chain.
    nodes, up, chain_of_node : int array (inner nodes,)
        Nodes between them, the node where the chain of each begins, and which of the long chains that is.
    path_sums : array (inner nodes, inner links)
        1 for the links from the start of the chain to the node.
    chain_sums : array (long chains, inner links)
        1 for the links of the chain.
    """

    links: list[int]
    signs: FloatArray
    nodes: IndexArray
    up: IndexArray
    chain_of_node: IndexArray
    path_sums: FloatArray
    chain_sums: FloatArray

    @classmethod
    def of(cls, chains: Sequence[Chain]) -> InnerNodes:
        """Return the nodes between the links of some chains of several links."""
        links = [link for chain in chains for link in chain.links]
        signs = [float(sign) for chain in chains for sign in chain.signs]
        nodes = [(node, number, k) for number, chain in enumerate(chains) for k, node in enumerate(chain.nodes)]
        first = np.cumsum([0, *(len(chain.links) for chain in chains)]).tolist()
        path_sums, chain_sums = np.zeros((len(nodes), len(links))), np.zeros((len(chains), len(links)))
        for row, (_, number, k) in enumerate(nodes):
            path_sums[row, first[number] : first[number] + k + 1] = 1.0
        for number in range(len(chains)):
            chain_sums[number, first[number] : first[number + 1]] = 1.0
        return cls(
            links,
            np.array(signs),
            np.array([node for node, _, _ in nodes], dtype=np.intp),
            np.array([chains[number].up for _, number, _ in nodes], dtype=np.intp),
            np.array([number for _, number, _ in nodes], dtype=np.intp),
            path_sums,
            chain_sums,
        )


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
        Rows of the pressures at the ends of each chain, and of that to which its law refers.
    loss_chains : int
        Number of chains with a loss; they come before those with an equation.
    referenced_chains : int array
        Chains with an equation whose reference is a kept node.
    long_chains : int array
        Chains of several links.
    unfed, undrained : int array
        Unknown nodes that no flow from a fixed node can reach, and from which none can reach a fixed node, because
        valves point the other way.
    unsupplied : tuple of int
        Regulators that cannot hold the pressure of their outlet, since nothing supplies their inlet.
    mergeable_runs : tuple of (tuple of int)
        Links of a chain that point the same way and follow the same law, if links of that law can be merged.
    merged : tuple of (tuple of int)
        Links that are merged into the first of each; only that one is in a group.
    balance : SignedSums
        Inflow minus outflow of the kept nodes from the chain flows.
    elimination : Elimination
        Solver for the pressures.
    loops : Loops or None
        Its like for the flows around the loops, where these are fewer than the pressures and every chain has a loss.
    incidence : array (chains, rows) or None
        1 at the downstream and -1 at the upstream end of each chain, None for a large network.
    inner : InnerNodes or None
        Nodes between the links of long chains, None without any and for a large network.
    """

    topology: Topology
    contraction: Contraction
    groups: tuple[Group, ...]
    end_groups: tuple[Group, ...]
    node_row: dict[int, int]
    up: IndexArray
    down: IndexArray
    reference: IndexArray
    loss_chains: int
    referenced_chains: IndexArray
    long_chains: IndexArray
    unfed: IndexArray
    undrained: IndexArray
    unsupplied: tuple[int, ...]
    mergeable_runs: tuple[tuple[int, ...], ...]
    merged: tuple[tuple[int, ...], ...]
    balance: SignedSums
    elimination: Elimination
    loops: Loops | None
    incidence: FloatArray | None
    inner: InnerNodes | None


_MOST_INNER_LINKS = 100
"""Number of links in long chains up to which the nodes between them are kept as matrices."""
_LOOPS_PER_PRESSURE = 0.9
"""Number of loops per unknown pressure below which steps are taken by loops."""
_MOST_CHAINS_FOR_LOOPS = 1000
"""The same only up to so many chains: in a larger network the paths to the fixed pressures are long."""
_MOST_INCIDENCES = 4000
"""Number of elements up to which the incidence matrix is kept for single points."""


class _Member(NamedTuple):
    """A link, its chain (-1 for a dead end) and its direction in it."""

    link: int
    chain: int
    sign: int


def _members(chains: Sequence[Chain]) -> list[_Member]:
    """Return all links in chains."""
    return [
        _Member(link, number, sign)
        for number, chain in enumerate(chains)
        for link, sign in zip(chain.links, chain.signs, strict=True)
    ]


def _group(law: LinkLaw, members: Sequence[_Member], chains: Sequence[Chain]) -> Group:
    """Return the group of all links of one law."""
    first: list[_Member] = []
    further: list[_Member] = []
    seen: set[int] = set()
    for member in members:
        (further if member.chain in seen and member.chain >= 0 else first).append(member)
        seen.add(member.chain)
    ordered, count = [*first, *further], len(first)
    chain_of = [member.chain for member in ordered]
    signs = np.array([float(member.sign) for member in ordered])
    consecutive = chain_of[:count] == list(range(chain_of[0], chain_of[0] + count))
    sums = None
    if further:
        sums = np.zeros((len(chains), len(ordered)))
        sums[chain_of, range(len(ordered))] = signs
    inner = [at for at, chain in enumerate(chain_of) if chain >= 0 and len(chains[chain].links) > 1]
    return Group(
        law,
        tuple(member.link for member in ordered),
        np.array([member.link for member in ordered], dtype=np.intp),
        np.array(chain_of, dtype=np.intp),
        slice(chain_of[0], chain_of[0] + count) if consecutive else np.array(chain_of[:count], dtype=np.intp),
        tuple((position, chain_of[position]) for position in range(count, len(ordered))),
        sums,
        None if sums is None else np.abs(sums),
        np.array(inner, dtype=np.intp),
        None if signs.min() > 0.0 else signs[:, None],
    )


def _groups(members: list[_Member], laws: tuple[LinkLaw, ...], chains: Sequence[Chain]) -> tuple[Group, ...]:
    """Group links by law, in the order of their chains, of which those with a loss come first."""
    by_law: dict[LinkLaw, list[_Member]] = {}
    for member in sorted(members, key=lambda member: member.chain):
        by_law.setdefault(laws[member.link], []).append(member)
    return tuple(_group(law, own, chains) for law, own in by_law.items())


def _mergeable_runs(chains: Sequence[Chain], laws: tuple[LinkLaw, ...]) -> tuple[tuple[int, ...], ...]:
    """Return the links of each chain that may be merged if no draw lies between and other coefficients agree."""
    runs = []
    for chain in chains:
        alike: dict[tuple[LinkLaw, int], list[int]] = {}
        for link, sign in zip(chain.links, chain.signs, strict=True):
            if laws[link].series:
                alike.setdefault((laws[link], sign), []).append(link)
        runs += [tuple(links) for links in alike.values() if len(links) > 1]
    return tuple(runs)


@lru_cache(maxsize=1024)
def make_plan(topology: Topology, merged: tuple[tuple[int, ...], ...] = ()) -> Plan:
    """Return the plan of a topology; plans are cached, so that an equal network built again reuses its own.

    Parameters
    ----------
    topology : Topology
    merged : tuple of (tuple of int), optional
        Links to be merged into the first of each; they must be among the plan's `mergeable_runs`.
    """
    laws = topology.laws
    if merged:
        plan = make_plan(topology)
        left_out = {link for links in merged for link in links[1:]}
        members = [member for member in _members(plan.contraction.chains) if member.link not in left_out]
        return replace(plan, groups=_groups(members, laws, plan.contraction.chains), merged=merged)
    contraction = contract(topology)
    law_order = {law: number for number, law in enumerate(dict.fromkeys(laws))}
    # Chains with an equation come last, the others sorted so that the links of one law follow one another.
    chains = sorted(
        contraction.chains,
        key=lambda chain: (laws[chain.links[0]].loss is None, len(chain.links) > 1, law_order[laws[chain.links[0]]]),
    )
    contraction = replace(contraction, chains=tuple(chains))
    node_row = {node: row for row, node in enumerate(contraction.kept)}
    size, count = len(contraction.kept), len(chains)
    for node in range(topology.unknown, topology.atmosphere + 1):
        node_row[node] = size + node - topology.unknown
    loss_chains = sum(laws[chain.links[0]].loss is not None for chain in chains)
    up = [node_row[chain.up] for chain in chains]
    down = [node_row[chain.down] for chain in chains]
    # A law with a loss refers to no node, whatever its link was connected with.
    reference = [
        node_row[topology.atmosphere if number < loss_chains else topology.reference[chain.links[0]]]
        for number, chain in enumerate(chains)
    ]
    referenced = [number for number in range(loss_chains, count) if reference[number] < size]
    reference_entry = {number: 2 * count - loss_chains + position for position, number in enumerate(referenced)}

    balance: list[list[tuple[int, int]]] = [[] for _ in range(size)]
    terms: list[Term] = []
    for number, (a, b) in enumerate(zip(up, down, strict=True)):
        by_up = number
        by_down = number if number < loss_chains else count + number - loss_chains
        for row, sign in ((b, 1), (a, -1)):
            if row < size:
                balance[row].append((number, sign))
                if a < size:
                    terms.append(Term(row, a, by_up, -sign))
                if b < size:
                    terms.append(Term(row, b, by_down, sign))
                if number in reference_entry:
                    terms.append(Term(row, reference[number], reference_entry[number], sign))
    long_chains = [chain for chain in chains if len(chain.links) > 1]
    ends = [_Member(end.link, -1, 1) for end in contraction.dead_ends]
    return Plan(
        topology,
        contraction,
        _groups(_members(chains), laws, chains),
        _groups(ends, laws, chains),
        node_row,
        np.array(up, dtype=np.intp),
        np.array(down, dtype=np.intp),
        np.array(reference, dtype=np.intp),
        loss_chains,
        np.array(referenced, dtype=np.intp),
        np.array([number for number, chain in enumerate(chains) if len(chain.links) > 1], dtype=np.intp),
        np.array(one_way_unreachable_nodes(topology), dtype=np.intp),
        np.array(one_way_unreachable_nodes(topology, towards_fixed=True), dtype=np.intp),
        tuple(unsupplied_reducers(topology)),
        _mergeable_runs(chains, laws),
        (),
        SignedSums(balance, count),
        Elimination(size, terms, 2 * count - loss_chains + len(referenced), symmetric=loss_chains == count),
        _loops(size, up, down) if loss_chains == count else None,
        _incidence(up, down, size + topology.atmosphere + 1 - topology.unknown),
        InnerNodes.of(long_chains) if 0 < sum(len(chain.links) for chain in long_chains) <= _MOST_INNER_LINKS else None,
    )


def _loops(size: int, up: list[int], down: list[int]) -> Loops | None:
    """Return the loops of a network where a step by them takes less time than by the pressures."""
    loops = Loops(size, up, down)
    return loops if loops.count < _LOOPS_PER_PRESSURE * size and len(up) <= _MOST_CHAINS_FOR_LOOPS else None


def _incidence(up: list[int], down: list[int], rows: int) -> FloatArray | None:
    """Return 1 at the downstream and -1 at the upstream row of each chain; None where the matrix would be large."""
    chains = len(up)
    if chains * rows > _MOST_INCIDENCES:
        return None
    incidence = np.zeros((chains, rows))
    incidence[range(chains), down] += 1.0
    incidence[range(chains), up] -= 1.0
    return incidence
