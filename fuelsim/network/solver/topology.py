"""The shape of a network without its ratings: which link joins which nodes and follows which law."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fuelsim.laws.link import LinkLaw

__all__ = ["Topology", "incident_links", "one_way_unreachable_nodes", "unreachable_nodes", "unsupplied_reducers"]


@dataclass(frozen=True)
class Topology:
    """Everything of a network that decides how it is solved; hashable, so that plans can be cached by it.

    Nodes are numbered with the unknown ones first, then the fixed ones (reservoirs), then the atmosphere, which only
    serves as a reference.

    Attributes
    ----------
    unknown, fixed : int
        Number of nodes with unknown and with fixed pressure.
    up, down, reference : tuple of int
        Node at each end of every link, and the node to whose pressure its law refers.
    laws : tuple of LinkLaw
        The law of every link.
    """

    unknown: int
    fixed: int
    up: tuple[int, ...]
    down: tuple[int, ...]
    reference: tuple[int, ...]
    laws: tuple[LinkLaw, ...]

    @property
    def atmosphere(self) -> int:
        """Number of the node that stands for the atmosphere."""
        return self.unknown + self.fixed


def incident_links(topology: Topology) -> list[set[int]]:
    """Return the links at each node, fixed nodes included."""
    incident: list[set[int]] = [set() for _ in range(topology.unknown + topology.fixed)]
    for link, ends in enumerate(zip(topology.up, topology.down, strict=True)):
        for node in ends:
            incident[node].add(link)
    return incident


def unsupplied_reducers(topology: Topology) -> list[int]:
    """Return the links that hold the pressure downstream of them but have no fixed pressure upstream of them.

    With its inlet plugged, such a regulator cannot hold its outlet; nothing determines the pressure of its inlet then.
    """
    reducers = [link for link, law in enumerate(topology.laws) if law.wide_open]
    if not reducers:
        return []
    nodes = topology.unknown + topology.fixed
    others = [link for link, law in enumerate(topology.laws) if not law.wide_open]
    up, down = [topology.up[link] for link in others], [topology.down[link] for link in others]
    supplied = set(range(topology.unknown, nodes))
    while True:
        reached = set(range(nodes)) - set(unreachable_nodes(up, down, nodes, sorted(supplied)))
        supplied = reached | {topology.down[link] for link in reducers if topology.up[link] in reached}
        if supplied == reached:
            return [link for link in reducers if topology.up[link] not in supplied]


def one_way_unreachable_nodes(topology: Topology, *, towards_fixed: bool = False) -> list[int]:
    """Return the unknown nodes that no flow from a fixed node can reach, because valves point the other way.

    Parameters
    ----------
    topology : Topology
    towards_fixed : bool, optional
        Whether to return the nodes from which no flow can reach a fixed node instead.
    """
    after: list[list[int]] = [[] for _ in range(topology.unknown + topology.fixed)]
    for up, down, law in zip(topology.up, topology.down, topology.laws, strict=True):
        source, target = (down, up) if towards_fixed else (up, down)
        after[source].append(target)
        if not law.one_way:
            after[target].append(source)
    reached = set(range(topology.unknown, topology.unknown + topology.fixed))
    stack = sorted(reached)
    while stack:
        for node in after[stack.pop()]:
            if node not in reached:
                reached.add(node)
                stack.append(node)
    return [node for node in range(topology.unknown) if node not in reached]


def unreachable_nodes(up: Sequence[int], down: Sequence[int], nodes: int, sources: Sequence[int]) -> list[int]:
    """Return the nodes that no path of links joins to any of the sources.

    Parameters
    ----------
    up, down : sequence of int
        Node at each end of every link.
    nodes : int
        Number of nodes.
    sources : sequence of int
        Nodes to start from.

    Examples
    --------
    >>> unreachable_nodes([0, 2], [1, 3], 4, [0])
    [2, 3]
    """
    neighbours: list[list[int]] = [[] for _ in range(nodes)]
    for a, b in zip(up, down, strict=True):
        neighbours[a].append(b)
        neighbours[b].append(a)
    reached = set(sources)
    stack = list(sources)
    while stack:
        for node in neighbours[stack.pop()]:
            if node not in reached:
                reached.add(node)
                stack.append(node)
    return [node for node in range(nodes) if node not in reached]
