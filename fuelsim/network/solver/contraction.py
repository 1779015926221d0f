"""Merging of links: dead ends are cut off and links in series become one chain, so that few unknowns remain.

A node with one link passes on its draw: the flow of that link is known beforehand. A node with two links needs no
pressure of its own: the flows on both sides differ by its draw, and the losses add up. Both only hold for links
whose loss depends on the flow alone, and for nodes that no law looks at.
"""

from __future__ import annotations

from dataclasses import dataclass

from fuelsim.network.solver.topology import Topology, incident_links

__all__ = ["Chain", "Contraction", "DeadEnd", "contract"]


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
    """What is left of a topology.

    Attributes
    ----------
    kept : tuple of int
        Unknown nodes that stay unknowns.
    chains : tuple of Chain
        With the flow of their first link, counted along the chain, as unknown.
    dead_ends : tuple of DeadEnd
        In the order in which they were cut off.
    draws : tuple of (tuple of int)
        For each kept node the nodes whose draws it carries.
    offsets : tuple of (tuple of (int, int))
        For each link the (node, sign) of draws that its flow has beside that of its chain.
    """

    kept: tuple[int, ...]
    chains: tuple[Chain, ...]
    dead_ends: tuple[DeadEnd, ...]
    draws: tuple[tuple[int, ...], ...]
    offsets: tuple[tuple[tuple[int, int], ...], ...]


def contract(topology: Topology) -> Contraction:
    """Return the contraction of a topology."""
    up, down = topology.up, topology.down
    incident = incident_links(topology)
    plain = [law.loss is not None for law in topology.laws]
    looked_at = {node for node, law in zip(topology.reference, topology.laws, strict=True) if law.equation}
    carried: list[list[int]] = [[node] for node in range(topology.unknown)]
    offsets: list[list[tuple[int, int]]] = [[] for _ in topology.laws]

    def mergeable(node: int) -> bool:
        return node < topology.unknown and node not in looked_at and all(plain[link] for link in incident[node])

    dead_ends = []
    ahead = [node for node in range(topology.unknown) if len(incident[node]) == 1 and mergeable(node)]
    while ahead:
        node = ahead.pop()
        if len(incident[node]) != 1:
            continue
        (link,) = incident[node]
        neighbour, sign = (up[link], 1) if down[link] == node else (down[link], -1)
        dead_ends.append(DeadEnd(link, node, neighbour, sign))
        offsets[link] = [(source, sign) for source in carried[node]]
        if neighbour < topology.unknown:
            carried[neighbour] += carried[node]
        incident[node].clear()
        incident[neighbour].discard(link)
        if neighbour < topology.unknown and len(incident[neighbour]) == 1 and mergeable(neighbour):
            ahead.append(neighbour)

    cut = {end.node for end in dead_ends}
    between = {
        node for node in range(topology.unknown) if node not in cut and len(incident[node]) == 2 and mergeable(node)
    }
    # A ring of such nodes alone would have no end; one of them is kept.
    kept = [node for node in range(topology.unknown) if node not in cut and node not in between]
    ends = [*kept, *range(topology.unknown, topology.unknown + topology.fixed)]
    used: set[int] = set()
    chains = []
    for start in ends:
        for first in sorted(incident[start]):
            if first in used:
                continue
            links, signs, nodes, here, link = [first], [], [], start, first
            while True:
                forwards = up[link] == here
                signs.append(1 if forwards else -1)
                here = down[link] if forwards else up[link]
                if here not in between:
                    break
                nodes.append(here)
                (link,) = incident[here] - {link}
                links.append(link)
            used.update(links)
            if sum(signs) < 0:
                chain = Chain(here, start, tuple(links[::-1]), tuple(-sign for sign in signs[::-1]), tuple(nodes[::-1]))
            else:
                chain = Chain(start, here, tuple(links), tuple(signs), tuple(nodes))
            chains.append(chain)
            passed: list[int] = []
            for position, (link, sign) in enumerate(zip(chain.links, chain.signs, strict=True)):
                offsets[link] = [(source, -sign) for source in passed]
                if position < len(chain.nodes):
                    passed += carried[chain.nodes[position]]
            if chain.down < topology.unknown:
                carried[chain.down] += passed
    return Contraction(
        tuple(kept),
        tuple(chains),
        tuple(dead_ends),
        tuple(tuple(carried[node]) for node in kept),
        tuple(tuple(pairs) for pairs in offsets),
    )
