"""What a network is made of: nodes, reservoirs and links."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from fuelsim.network.solver.topology import Topology
from fuelsim.parts.part import Part
from fuelsim.typing import FloatLike

__all__ = ["Elements", "Link", "Node", "Reservoir"]


@dataclass(frozen=True)
class Node:
    """A point of the plumbing whose pressure is unknown; `height` in m."""

    height: float


@dataclass(frozen=True)
class Reservoir:
    """A point of fixed pressure (Pa absolute, a float or an array over points); `height` in m."""

    pressure: FloatLike
    height: float


@dataclass(frozen=True)
class Link:
    """A part between two nodes, and the node to which its law refers (None is the atmosphere)."""

    up: str
    down: str
    part: Part
    reference: str | None


class Elements(NamedTuple):
    """Everything of a network by name.

    Attributes
    ----------
    nodes : mapping of str to Node
    reservoirs : mapping of str to Reservoir
    links : mapping of str to Link
    """

    nodes: Mapping[str, Node]
    reservoirs: Mapping[str, Reservoir]
    links: Mapping[str, Link]

    def numbers(self) -> dict[str, int]:
        """Return the number of each node and reservoir in a topology."""
        return {name: number for number, name in enumerate((*self.nodes, *self.reservoirs))}

    def heights(self) -> list[float]:
        """Return the heights of nodes and reservoirs in the order of their numbers, m."""
        return [element.height for elements in (self.nodes, self.reservoirs) for element in elements.values()]

    def topology(self) -> Topology:
        """Return which link joins which nodes and follows which law."""
        number = self.numbers()
        links = self.links.values()
        return Topology(
            len(self.nodes),
            len(self.reservoirs),
            tuple(number[link.up] for link in links),
            tuple(number[link.down] for link in links),
            tuple(len(number) if link.reference is None else number[link.reference] for link in links),
            tuple(link.part.law for link in links),
        )
