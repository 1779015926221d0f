r"""The Newton step of a network with fewer loops than nodes, by the flows around its loops.

Where every chain has a loss, a step that keeps mass is the flow :math:`\delta q^0` which takes the imbalance of every
node to a fixed pressure along a tree of chains, and a flow :math:`x_l` around every loop l, which no mass balance
sees. With :math:`C_{jl}` 1 or -1 where loop l passes chain j along or against its direction, the linearised link
equations add up to nothing around every loop:

.. math:: \sum_m \Bigl(\sum_j C_{jl} s_j C_{jm}\Bigr) x_m = - \sum_j C_{jl} (E_j + s_j\, \delta q^0_j).

The change of every pressure then follows along the tree. The step is that of the mass balances; only the linear system
is smaller.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import NamedTuple

from fuelsim.network.solver.elimination import Elimination, Term
from fuelsim.network.solver.signed_sums import SignedSums
from fuelsim.typing import LinkArray, NodeArray

__all__ = ["Cycle", "Loops"]

Cycle = list[tuple[int, int]]
"""Chains of a loop or path, each with 1 or -1 where it is passed along or against its direction."""


class _Step(NamedTuple):
    """A way from a node: the node at the other end of a chain, the chain, and its direction."""

    node: int
    chain: int
    sign: int


class _Sums(NamedTuple):
    """What a step adds up.

    Attributes
    ----------
    to_fixed : SignedSums
        Chain flows that take the imbalance of every node to the fixed ones along the tree.
    along_paths : SignedSums
        Differences of pressure from each node to the fixed ones from those along the chains.
    around_loops : SignedSums
        Sums around each loop from values of the chains.
    of_loops : SignedSums
        Chain flows from the flows around the loops.
    elimination : Elimination
        Solver for the flows around the loops from the slopes of the chains.
    """

    to_fixed: SignedSums
    along_paths: SignedSums
    around_loops: SignedSums
    of_loops: SignedSums
    elimination: Elimination


class Loops:
    """Independent loops of a network, all fixed pressures taken as one node.

    Parameters
    ----------
    size : int
        Number of nodes with unknown pressure; all others are fixed.
    up, down : sequence of int
        Nodes at the ends of each chain.
    """

    def __init__(self, size: int, up: Sequence[int], down: Sequence[int]) -> None:
        self._size, self._up, self._down = size, up, down

    @property
    def count(self) -> int:
        """Number of loops."""
        return len(self._up) - self._size

    def independent_loops(self) -> list[Cycle]:
        """Return the chains of each loop, each with 1 or -1 where it is passed along or against its direction."""
        return self._paths_and_loops[1]

    @cached_property
    def are_short(self) -> bool:
        """Whether a chain lies in two loops on average at most, as in a plane network, so that few loops meet."""
        return sum(len(loop) for loop in self.independent_loops()) <= 2 * len(self._up)

    def step(
        self, slope: LinkArray, residual: LinkArray, imbalance: NodeArray, *, balanced: bool = False
    ) -> tuple[LinkArray, NodeArray]:
        """Return the Newton step in the chain flows (chains, points) and the pressures (size, points).

        Parameters
        ----------
        slope, residual : array (chains, points)
            Slope of each chain's equation in its flow, Pa s/m3, and its residual, Pa.
        imbalance : array (size, points)
            Inflow less outflow and draw of each node, m3/s.
        balanced : bool, optional
            Whether the imbalance is no more than rounding.
        """
        sums = self._sums
        if balanced:
            flow_change = -sums.of_loops(sums.elimination.solve(slope, sums.around_loops(residual)))
        else:
            flow_change = sums.to_fixed(imbalance)
            loss = flow_change * slope
            loss += residual
            flow_change -= sums.of_loops(sums.elimination.solve(slope, sums.around_loops(loss)))
        loss = flow_change * slope
        loss += residual
        return flow_change, sums.along_paths(loss)

    @cached_property
    def _paths_and_loops(self) -> tuple[list[Cycle], list[Cycle]]:
        return _paths_and_loops(self._size, self._up, self._down)

    @cached_property
    def _sums(self) -> _Sums:
        size, chains = self._size, len(self._up)
        paths, loops = self._paths_and_loops
        around = _by_chain(loops, chains)
        terms = [
            Term(row, column, chain, sign * other)
            for chain, passing in enumerate(around)
            for row, sign in passing
            for column, other in passing
        ]
        return _Sums(
            SignedSums(_by_chain(paths, chains), size),
            SignedSums(paths, chains),
            SignedSums(loops, chains),
            SignedSums(around, len(loops)),
            Elimination(len(loops), terms, chains, symmetric=True),
        )


def _by_chain(cycles: Sequence[Cycle], chains: int) -> list[Cycle]:
    """Return for each chain the numbers of the loops or paths that pass it, with their directions."""
    passing: list[Cycle] = [[] for _ in range(chains)]
    for number, cycle in enumerate(cycles):
        for chain, sign in cycle:
            passing[chain].append((number, sign))
    return passing


def _paths_and_loops(size: int, up: Sequence[int], down: Sequence[int]) -> tuple[list[Cycle], list[Cycle]]:
    """Return the path from each node to the fixed ones in a tree of shortest paths, and independent short loops.

    The loop of each chain outside the tree is the shortest one by chains of the tree and those taken before, the
    nearest to the fixed nodes first; each loop so has a chain that none before it has.
    """
    fixed = size
    ends = [(min(a, fixed), min(b, fixed)) for a, b in zip(up, down, strict=True)]
    ways: list[list[_Step]] = [[] for _ in range(size + 1)]
    for chain, (a, b) in enumerate(ends):
        ways[a].append(_Step(b, chain, 1))
        ways[b].append(_Step(a, chain, -1))
    back = _steps_back(ways, fixed)
    tree = {step.chain for step in back.values()}
    order = {node: number for number, node in enumerate(back)}
    ways = [[step for step in steps if step.chain in tree] for steps in ways]
    paths = [_path(back, node) for node in range(size)]
    loops = []
    for chain in sorted(set(range(len(ends))) - tree, key=lambda chain: sorted(order.get(n, -1) for n in ends[chain])):
        a, b = ends[chain]
        loops.append([(chain, 1), *_path(_steps_back(ways, a, b), b)])
        ways[a].append(_Step(b, chain, 1))
        ways[b].append(_Step(a, chain, -1))
    return paths, loops


def _steps_back(ways: list[list[_Step]], start: int, target: int = -1) -> dict[int, _Step]:
    """Return for each node the step back on a shortest path from the start, in the order of their distance."""
    back: dict[int, _Step] = {}
    reached, frontier = {start}, [start]
    while frontier and target not in reached:
        following = []
        for node in frontier:
            for step in ways[node]:
                if step.node not in reached:
                    reached.add(step.node)
                    following.append(step.node)
                    back[step.node] = _Step(node, step.chain, -step.sign)
        frontier = following
    return back


def _path(back: dict[int, _Step], node: int) -> Cycle:
    """Return the chains of a shortest path from a node back to the start."""
    path = []
    while node in back:
        step = back[node]
        path.append((step.chain, step.sign))
        node = step.node
    return path
