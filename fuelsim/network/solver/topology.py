"""The shape of a network without its ratings: which link joins which nodes and follows which law."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fuelsim.laws.link import LinkLaw

__all__ = ["Topology", "incident_links", "unreachable_nodes"]


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
