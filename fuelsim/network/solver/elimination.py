"""The linear system of the pressures, solved in a fixed order for all operating points together.

The matrix has a symmetric pattern, and symmetric values where every chain has a loss; a law that refers to a third node
makes it unsymmetric. Its diagonal dominates, so that no pivoting is needed. How it is solved is chosen by count:

- few points of a small system: LAPACK's dense solver;
- few points of a large system: SuperLU, sparse, point by point;
- otherwise elimination of all points together, whose order is chosen once: pivot by pivot where there are so many
  points that the arithmetic hides the interpreter, else in rounds of pivots that are not neighbours of one another.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.network.solver.column_sum_elimination import ColumnSumElimination
from fuelsim.network.solver.signed_sums import SignedSums
from fuelsim.typing import FloatArray, IndexArray, PointArray

if TYPE_CHECKING:
    from scipy.sparse import csr_array

__all__ = ["Elimination", "SharedSolver", "Term"]

_DENSE_POINTS = 4
"""Number of points up to which LAPACK's dense solver, or SuperLU, takes less time than elimination of all together."""
_DENSE_SIZE = 60
"""Number of unknowns up to which the dense solver takes less time than the sparse one."""
_PIVOTWISE_POINTS = 1000
"""Number of points from which elimination pivot by pivot takes less time than in rounds."""
_BLOCK_POINTS = 200
"""Number of points eliminated in rounds at a time: few enough to stay in the processor's cache."""
_PIVOTWISE_SIZE = 6
"""Number of unknowns up to which it always does."""
_DEGREE_SLACK = 4
"""How far the degree of a pivot may exceed the least one for it to be eliminated in the same round."""

Key = tuple[int, int]
SharedSolver = Callable[[FloatArray], FloatArray]
"""From right-hand sides (size, points) to the solutions x, with one matrix for all points."""


class Term(NamedTuple):
    """The entry (row, column) of the matrix gains sign * z[source]."""

    row: int
    column: int
    source: int
    sign: int


class Elimination:
    """Solver of A x = b for a fixed pattern, with the points on the last axis.

    Parameters
    ----------
    size : int
        Number of unknowns.
    terms : sequence of Term
        From which values z (width, points) the entries of A are summed.
    width : int
        Number of rows of z.
    symmetric : bool, optional
        Whether the values are symmetric.
    """

    def __init__(self, size: int, terms: Sequence[Term], width: int, *, symmetric: bool = False) -> None:
        self.size = size
        self._width = width
        self._symmetric = symmetric
        self._sources: dict[Key, list[tuple[int, int]]] = {(k, k): [] for k in range(size)}
        for row, column, source, sign in terms:
            self._sources.setdefault((row, column), []).append((source, sign))
            self._sources.setdefault((column, row), [])

    def solve(self, z: FloatArray, b: FloatArray) -> FloatArray:
        """Return x, (size, points), for the values z (width, points) and the right-hand side b, which is used up."""
        points = b.shape[1]
        if not self.size:
            return b
        if points <= _DENSE_POINTS:
            return self._dense.solve(z, b) if self.size <= _DENSE_SIZE else self._sparse.solve(z, b)
        if self.size <= _PIVOTWISE_SIZE or points >= _PIVOTWISE_POINTS:
            return self._pivotwise.solve(z, b)
        for first in range(0, points, _BLOCK_POINTS):
            block = slice(first, first + _BLOCK_POINTS)
            b[:, block] = self._in_rounds.solve(z[:, block], b[:, block])
        return b

    def shared_solver(self, z: FloatArray) -> SharedSolver:
        """Return the solver of x, (size, points), for one set of values z (width, 1) and many right-hand sides b."""
        return self._dense.shared_solver(z) if self.size <= _DENSE_SIZE else self._sparse.shared_solver(z)

    def solve_grounded(self, z: FloatArray, b: FloatArray, ground: PointArray) -> FloatArray:
        """Return x, (size, points), with `ground` (points,) added to the diagonal; slow, but for any scales of z."""
        return self._by_column_sums.solve(z, b, ground)

    @cached_property
    def _by_column_sums(self) -> ColumnSumElimination:
        order = [pivot for pivots in self._rounds for pivot in pivots]
        return ColumnSumElimination(order, self._sources, self._width)

    @cached_property
    def _dense(self) -> _Dense:
        return _Dense(self.size, self._sources, self._width)

    @cached_property
    def _sparse(self) -> _Sparse:
        return _Sparse(self.size, self._sources, self._width)

    @cached_property
    def _rounds(self) -> list[list[tuple[int, list[int]]]]:
        return _order(self.size, self._sources)

    @cached_property
    def _pivotwise(self) -> _Pivotwise:
        return _Pivotwise(self._rounds, self._sources, self._width, self._symmetric)

    @cached_property
    def _in_rounds(self) -> _InRounds:
        return _InRounds(self._rounds, self._sources, self._width, self._symmetric)


def _order(size: int, sources: dict[Key, list[tuple[int, int]]]) -> list[list[tuple[int, list[int]]]]:
    """Return rounds of (pivot, later neighbours): pivots of about the least degree, no two of a round neighbours.

    This is Liu's multiple minimum degree with a slack, which trades a little fill-in for far fewer rounds.
    """
    neighbours: list[set[int]] = [set() for _ in range(size)]
    for row, column in sources:
        if row != column:
            neighbours[row].add(column)
    remaining = set(range(size))
    rounds = []
    while remaining:
        degree = {node: len(neighbours[node]) for node in remaining}
        most = min(degree.values()) + _DEGREE_SLACK
        barred: set[int] = set()
        pivots = []
        for node in sorted((node for node in remaining if degree[node] <= most), key=lambda node: (degree[node], node)):
            if node not in barred:
                pivots.append((node, sorted(neighbours[node])))
                barred |= neighbours[node]
        for pivot, later in pivots:
            remaining.discard(pivot)
            for node in later:
                neighbours[node].discard(pivot)
                neighbours[node].update(later)
                neighbours[node].discard(node)
        rounds.append(pivots)
    return rounds


class _Dense:
    """LAPACK's dense solver with pivoting."""

    def __init__(self, size: int, sources: dict[Key, list[tuple[int, int]]], width: int) -> None:
        self._size = size
        self._rows = np.array([row for row, _ in sources], dtype=np.intp)
        self._columns = np.array([column for _, column in sources], dtype=np.intp)
        self._sums = SignedSums(list(sources.values()), width)

    def solve(self, z: FloatArray, b: FloatArray) -> FloatArray:
        matrix = np.zeros((b.shape[1], self._size, self._size))
        matrix[:, self._rows, self._columns] = self._sums(z).T
        try:
            return np.asarray(np.linalg.solve(matrix, b.T[:, :, None])[:, :, 0].T, dtype=np.float64)
        except np.linalg.LinAlgError:
            return np.full(b.shape, np.nan)

    def shared_solver(self, z: FloatArray) -> SharedSolver:
        matrix = np.zeros((self._size, self._size))
        matrix[self._rows, self._columns] = self._sums(z)[:, 0]
        try:
            inverse = np.linalg.inv(matrix)
        except np.linalg.LinAlgError:
            inverse = np.full(matrix.shape, np.nan)
        return lambda b: np.asarray(inverse @ b)


class _Sparse:
    """SuperLU with its own fill-reducing order, point by point."""

    def __init__(self, size: int, sources: dict[Key, list[tuple[int, int]]], width: int) -> None:
        self._size = size
        # Compressed columns: sorted by column, then by row.
        keys = sorted(sources, key=lambda key: (key[1], key[0]))
        self._rows = np.array([row for row, _ in keys], dtype=np.int32)
        counts = np.bincount([column for _, column in keys], minlength=size)
        self._starts = np.concatenate([[0], np.cumsum(counts)]).astype(np.int32)
        self._sums = SignedSums([sources[key] for key in keys], width)

    def solve(self, z: FloatArray, b: FloatArray) -> FloatArray:
        values = self._sums(z)
        solved = [self._solver(values[:, point])(b[:, point]) for point in range(b.shape[1])]
        return np.stack(solved, axis=1)

    def shared_solver(self, z: FloatArray) -> SharedSolver:
        return self._solver(self._sums(z)[:, 0])

    def _solver(self, values: FloatArray) -> SharedSolver:
        from scipy.sparse import csc_array
        from scipy.sparse.linalg import splu

        matrix = csc_array((np.ascontiguousarray(values), self._rows, self._starts), shape=(self._size, self._size))
        try:
            factors = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
        except (RuntimeError, ValueError):
            return lambda b: np.full(b.shape, np.nan)
        return lambda b: np.asarray(factors.solve(b), dtype=np.float64)


class _PivotStep(NamedTuple):
    """One pivot: positions of its diagonal, and for each later row that of its factor and of what it changes."""

    pivot: int
    diagonal: int
    rows: list[tuple[int, int, list[tuple[int, int]]]]
    columns: list[tuple[int, int]]


class _Pivotwise:
    """Elimination of one pivot after the other, each operation on a row of all points."""

    def __init__(
        self,
        rounds: list[list[tuple[int, list[int]]]],
        sources: dict[Key, list[tuple[int, int]]],
        width: int,
        symmetric: bool,
    ) -> None:
        entries = dict(sources)
        order = [pivot for pivots in rounds for pivot in pivots]
        for _, later in order:
            for i in later:
                for j in later:
                    entries.setdefault((i, j), [])
        rank = {pivot: position for position, (pivot, _) in enumerate(order)}
        if symmetric:
            entries = {(i, j): pairs for (i, j), pairs in entries.items() if rank[i] >= rank[j]}
        at = {key: number for number, key in enumerate(entries)}
        self._sums = SignedSums(list(entries.values()), width)
        self._steps = []
        for pivot, later in order:
            rows = []
            for i in later:
                changed = [j for j in later if not symmetric or rank[i] >= rank[j]]
                upper = [at[j, pivot] if symmetric else at[pivot, j] for j in changed]
                rows.append((i, at[i, pivot], [(at[i, j], u) for j, u in zip(changed, upper, strict=True)]))
            columns = [(j, at[j, pivot] if symmetric else at[pivot, j]) for j in later]
            self._steps.append(_PivotStep(pivot, at[pivot, pivot], rows, columns))
        self._symmetric = symmetric

    def solve(self, z: FloatArray, b: FloatArray) -> FloatArray:
        a = self._sums(z)
        product = np.empty(b.shape[1])
        for pivot, diagonal, rows, _ in self._steps:
            inverse = np.reciprocal(a[diagonal], out=a[diagonal])
            for i, lower, pairs in rows:
                # Symmetric rows keep their own values, which the later columns still need.
                factor = a[lower] * inverse if self._symmetric else np.multiply(a[lower], inverse, out=a[lower])
                for target, source in pairs:
                    a[target] -= np.multiply(factor, a[source], out=product)
                b[i] -= np.multiply(factor, b[pivot], out=product)
        for pivot, diagonal, _, columns in reversed(self._steps):
            x = b[pivot]
            for j, entry in columns:
                x -= np.multiply(a[entry], b[j], out=product)
            x *= a[diagonal]
        return b


class _Segments(NamedTuple):
    """Sums of consecutive rows: which rows receive them; `sums` is None where all are single."""

    targets: IndexArray
    sums: csr_array | None

    @classmethod
    def of(cls, sorted_targets: IndexArray) -> _Segments:
        """Return the segments of targets that are sorted."""
        from scipy.sparse import csr_array

        count = sorted_targets.size
        starts = np.flatnonzero(np.concatenate([[True], sorted_targets[1:] != sorted_targets[:-1]]))
        if starts.size == count:
            return cls(sorted_targets, None)
        ends = np.concatenate([starts, [count]]).astype(np.int32)
        ones = (np.ones(count), np.arange(count, dtype=np.int32), ends)
        return cls(sorted_targets[starts], csr_array(ones, shape=(starts.size, count)))

    def subtract(self, values: FloatArray, terms: FloatArray) -> None:
        """Subtract the sums of the terms from the rows of `values` that receive them."""
        values[self.targets] -= terms if self.sums is None else self.sums @ terms


class _Round(NamedTuple):
    """One round; its rows are those of the matrix's stored entries and, behind them, of the right-hand side.

    Attributes
    ----------
    pivots, diagonal, lower, upper : slice
        Rows of the pivots' right-hand side and of their diagonal and off-diagonal entries.
    pivot_of_edge, later_of_edge : int array (edges,)
        For each off-diagonal entry its pivot in the round, and the row of the right-hand side that it leads to.
    update_factor, update_upper : int array (updates,)
        For each product to be subtracted the edge of its factor, and the row of its other factor.
    updates, backward : _Segments
        Which rows the products are subtracted from, and which pivots those of the back substitution.
    """

    pivots: slice
    diagonal: slice
    lower: slice
    upper: slice
    pivot_of_edge: IndexArray
    later_of_edge: IndexArray
    update_factor: IndexArray
    update_upper: IndexArray
    updates: _Segments
    backward: _Segments


class _InRounds:
    """Elimination of all pivots of a round together, with few array operations for all points."""

    def __init__(
        self,
        rounds: list[list[tuple[int, list[int]]]],
        sources: dict[Key, list[tuple[int, int]]],
        width: int,
        symmetric: bool,
    ) -> None:
        order = [pivot for pivots in rounds for pivot, _ in pivots]
        rank = {pivot: position for position, pivot in enumerate(order)}
        self._order, self._size = np.array(order, dtype=np.intp), len(order)
        at: dict[Key, int] = {}
        for pivots in rounds:
            edges = [(rank[later], rank[pivot]) for pivot, neighbours in pivots for later in neighbours]
            keys = [(rank[pivot], rank[pivot]) for pivot, _ in pivots] + edges
            if not symmetric:
                keys += [(pivot, later) for later, pivot in edges]
            for key in keys:
                at[key] = len(at)
        summed: list[list[tuple[int, int]]] = [[] for _ in at]
        for (row, column), pairs in sources.items():
            position = at.get((rank[row], rank[column]))
            if position is not None:
                summed[position] = pairs
        self._sums = SignedSums(summed, width)
        self._rounds = [self._round(pivots, rank, at, symmetric) for pivots in rounds]

    @staticmethod
    def _round(
        pivots: list[tuple[int, list[int]]], rank: dict[int, int], at: dict[Key, int], symmetric: bool
    ) -> _Round:
        right = len(at)
        first = rank[pivots[0][0]]
        edges = [(rank[later], rank[pivot]) for pivot, neighbours in pivots for later in neighbours]
        diagonal = at[first, first]
        lower = diagonal + len(pivots)
        upper = lower if symmetric else lower + len(edges)
        updates = []
        edge = 0
        for pivot, neighbours in pivots:
            ranks = [rank[later] for later in neighbours]
            for i, row in enumerate(ranks):
                updates.append((right + row, edge + i, right + rank[pivot]))
                for j, column in enumerate(ranks):
                    if not symmetric or row >= column:
                        updates.append((at[row, column], edge + i, upper + edge + j))
            edge += len(ranks)
        changed = np.array(sorted(updates), dtype=np.intp).reshape(-1, 3)
        later = np.array([right + row for row, _ in edges], dtype=np.intp)
        pivot_of_edge = np.array([column - first for _, column in edges], dtype=np.intp)
        none = _Segments(np.zeros(0, dtype=np.intp), None)
        return _Round(
            slice(right + first, right + first + len(pivots)),
            slice(diagonal, lower),
            slice(lower, lower + len(edges)),
            slice(upper, upper + len(edges)),
            pivot_of_edge,
            later,
            changed[:, 1].copy(),
            changed[:, 2].copy(),
            _Segments.of(changed[:, 0]) if len(changed) else none,
            _Segments.of(pivot_of_edge) if len(edges) else none,
        )

    def solve(self, z: FloatArray, b: FloatArray) -> FloatArray:
        # The right-hand side is one more column of the matrix.
        a = np.concatenate([self._sums(z), b.take(self._order, axis=0)])
        for step in self._rounds:
            inverse = np.reciprocal(a[step.diagonal], out=a[step.diagonal])
            if step.later_of_edge.size:
                factor = inverse.take(step.pivot_of_edge, axis=0)
                factor *= a[step.lower]
                terms = factor.take(step.update_factor, axis=0)
                terms *= a.take(step.update_upper, axis=0)
                step.updates.subtract(a, terms)
        for step in reversed(self._rounds):
            pivots = a[step.pivots]
            if step.later_of_edge.size:
                terms = a.take(step.later_of_edge, axis=0)
                terms *= a[step.upper]
                step.backward.subtract(pivots, terms)
            pivots *= a[step.diagonal]
        solution = np.empty_like(b)
        solution[self._order] = a[len(a) - self._size :]
        return solution
