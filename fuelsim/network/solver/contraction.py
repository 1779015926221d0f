"""Contraction: dead ends are removed and links in series become one chain, so that few unknowns remain.

The flow of a link to a node that has no other link equals that node's draw, so it is known beforehand. A node with two
links needs no pressure unknown: the flows on both sides differ by its draw, and the losses add up. Both hold only for
links whose loss depends on the flow alone, and for nodes to whose pressure no law refers.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import zip_longest

from fuelsim.network.solver.topology import Topology, incident_links
from fuelsim.typing import FloatLike

__all__ = ["CarriedDraws", "Chain", "Contraction", "DeadEnd", "carry_draws", "contract"]


@dataclass(frozen=True)
class Chain:
    """Links one after the other, from the node `up` to the node `down`.

    Attributes
    ----------
    up, down : int
        End nodes, kept or fixed.
    links : tuple of int
        Links in order.
    signs : tuple of int
        1 where a link points along the chain, -1 where it points against it.
    nodes : tuple of int
        Nodes between the links.
    """

    up: int
    down: int
    links: tuple[int, ...]
    signs: tuple[int, ...]
    nodes: tuple[int, ...]


@dataclass(frozen=True)
class DeadEnd:
    """A link to a node that has no other: `sign` is 1 where the link points to `node`, whose draw it carries."""

    link: int
    node: int
    neighbour: int
    sign: int


@dataclass(frozen=True)
class Contraction:
    """The reduced topology that is solved.

    Attributes
    ----------
    kept : tuple of int
        Unknown nodes whose pressure stays an unknown.
    chains : tuple of Chain
        Links in series; the flow of the first, counted along the chain, is the unknown.
    dead_ends : tuple of DeadEnd
        In the order in which they were removed.
    """

    kept: tuple[int, ...]
    chains: tuple[Chain, ...]
    dead_ends: tuple[DeadEnd, ...]


@dataclass(frozen=True)
class CarriedDraws:
    """Draws of a topology carried over to its contraction; None stands for no draw.

    Attributes
    ----------
    kept : list of (float, array (points,) or None)
        Draw of each kept node, together with those of the removed nodes that it feeds.
    offsets : list of (float, array (points,) or None)
        For each link by how much its flow differs from that of its chain; the whole flow for a dead end.
    stretches : list of int
        For each link the stretch without draws in which it lies; links of one stretch of a chain carry the same flow.
    """

    kept: list[FloatLike | None]
    offsets: list[FloatLike | None]
    stretches: list[int]


def carry_draws(contraction: Contraction, topology: Topology, draws: Mapping[int, FloatLike]) -> CarriedDraws:
    """Carry the draws of all unknown nodes over to the kept nodes and the links.

    Parameters
    ----------
    contraction : Contraction
    topology : Topology
        The topology that was contracted.
    draws : mapping of int to float or array (points,)
        Draw of unknown nodes, m3/s at the reference density.
    """
    total = dict(draws)
    offsets: list[FloatLike | None] = [None] * len(topology.laws)
    stretches = [0] * len(topology.laws)
    for end in contraction.dead_ends:
        flow = total.get(end.node)
        if flow is not None:
            offsets[end.link] = flow if end.sign > 0 else -flow
            if end.neighbour < topology.unknown:
                total[end.neighbour] = total[end.neighbour] + flow if end.neighbour in total else flow
    at_kept = {node: total.get(node) for node in contraction.kept}
    for chain in contraction.chains:
        passed: FloatLike | None = None
        stretch = 0
        for link, sign, node in zip_longest(chain.links, chain.signs, chain.nodes):
            stretches[link] = stretch
            if passed is not None:
                offsets[link] = -passed if sign > 0 else passed
            if node in total:
                passed = total[node] if passed is None else passed + total[node]
                stretch += 1
        if passed is not None and chain.down in at_kept:
            before = at_kept[chain.down]
            at_kept[chain.down] = passed if before is None else before + passed
    return CarriedDraws(list(at_kept.values()), offsets, stretches)


def contract(topology: Topology) -> Contraction:
    """Return the contraction of a topology.

    Parameters
    ----------
    topology : Topology
        Every unknown node must be joined to a fixed one.
    """
    up, down = topology.up, topology.down
    incident = incident_links(topology)
    plain = [law.loss is not None for law in topology.laws]
    referred_to = {node for node, law in zip(topology.reference, topology.laws, strict=True) if law.equation}

    def mergeable(node: int) -> bool:
        return node < topology.unknown and node not in referred_to and all(plain[link] for link in incident[node])

    dead_ends = []
    stack = [node for node in range(topology.unknown) if len(incident[node]) == 1 and mergeable(node)]
    while stack:
        node = stack.pop()
        if len(incident[node]) != 1:
            continue
        (link,) = incident[node]
        neighbour, sign = (up[link], 1) if down[link] == node else (down[link], -1)
        dead_ends.append(DeadEnd(link, node, neighbour, sign))
        incident[node].clear()
        incident[neighbour].discard(link)
        if neighbour < topology.unknown and len(incident[neighbour]) == 1 and mergeable(neighbour):
            stack.append(neighbour)

    removed = {end.node for end in dead_ends}
    between = {
        node for node in range(topology.unknown) if node not in removed and len(incident[node]) == 2 and mergeable(node)
    }
    kept = [node for node in range(topology.unknown) if node not in removed and node not in between]
    ends = [*kept, *range(topology.unknown, topology.unknown + topology.fixed)]
    used: set[int] = set()
    chains = []
    for start in ends:
        for first in sorted(incident[start]):
            if first in used:
                continue
            links, signs, nodes, end, link = [first], [], [], start, first
            while True:
                forwards = up[link] == end
                signs.append(1 if forwards else -1)
                end = down[link] if forwards else up[link]
                if end not in between:
                    break
                nodes.append(end)
                (link,) = incident[end] - {link}
                links.append(link)
            used.update(links)
            if sum(signs) < 0:
                chain = Chain(end, start, tuple(links[::-1]), tuple(-sign for sign in signs[::-1]), tuple(nodes[::-1]))
            else:
                chain = Chain(start, end, tuple(links), tuple(signs), tuple(nodes))
            chains.append(chain)
    return Contraction(tuple(kept), tuple(chains), tuple(dead_ends))
