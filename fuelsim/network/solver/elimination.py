"""Gaussian elimination in a fixed order, chosen once per topology and carried out for all operating points together.

The matrix has a symmetric pattern but need not have symmetric values, because a law may refer to a third node; so it is
a factorisation into L and U, without pivoting since the diagonal dominates.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from fuelsim.typing import FloatArray

__all__ = ["Elimination", "SignedSums"]

_DENSE_POINTS = 4
"""Up to so many points the dense solver of LAPACK takes less time than the many small steps of the elimination."""
_DENSE_SIZE = 250
_PRODUCT_SIZE = 30_000
"""Sums up to this many multiplications are done as one matrix product."""
_ROWWISE_ABOVE_POINTS = 16
"""Up to so many points sums are taken for all rows at once, for more points row by row."""


class SignedSums:
    """Rows that are each a sum of some rows of an array with signs: ``out[i] = sum(sign * x[index])``.

    Parameters
    ----------
    terms : iterable of list of (int, int)
        For each row of the result its (index, sign).
    width : int
        Number of rows of the array.
    """

    def __init__(self, terms: Iterable[list[tuple[int, int]]], width: int) -> None:
        # A positive term first, so that a row starts as a copy.
        self.terms = [sorted(row, key=lambda term: -term[1]) for row in terms]
        self._small = len(self.terms) * width <= _PRODUCT_SIZE
        self._size = len(self.terms) * width
        if self._small:
            self._matrix = np.zeros((len(self.terms), width))
            for row, pairs in enumerate(self.terms):
                for index, sign in pairs:
                    self._matrix[row, index] += sign
        self._filled = [row for row, pairs in enumerate(self.terms) if pairs]
        flat = [pair for pairs in self.terms for pair in pairs]
        self._indices = np.array([index for index, _ in flat], dtype=np.intp)
        self._signs = np.array([float(sign) for _, sign in flat])[:, None]
        lengths = [len(self.terms[row]) for row in self._filled]
        self._starts = np.cumsum([0, *lengths[:-1]], dtype=np.intp) if lengths else None

    def __call__(self, x: FloatArray) -> FloatArray:
        """Return the sums, (rows, points), of an array (width, points)."""
        points = x.shape[1]
        if self._size * points <= _PRODUCT_SIZE:
            product: FloatArray = self._matrix @ x
            return product
        if points <= _ROWWISE_ABOVE_POINTS and self._starts is not None:
            out = np.zeros((len(self.terms), points))
            out[self._filled] = np.add.reduceat(x.take(self._indices, axis=0) * self._signs, self._starts, axis=0)
            return out
        out = np.empty((len(self.terms), points))
        for row, pairs in zip(out, self.terms, strict=True):
            if not pairs:
                row[:] = 0.0
                continue
            (first, sign), *rest = pairs
            if rest:
                second, second_sign = rest[0]
                if sign > 0:
                    (np.add if second_sign > 0 else np.subtract)(x[first], x[second], out=row)
                else:
                    np.add(x[first], x[second], out=row)
                    np.negative(row, out=row)
                for index, next_sign in rest[1:]:
                    if next_sign > 0:
                        row += x[index]
                    else:
                        row -= x[index]
            elif sign > 0:
                row[:] = x[first]
            else:
                np.negative(x[first], out=row)
        return out


class Elimination:
    """Solver of A x = b for a fixed pattern, with the points on the last axis.

    Parameters
    ----------
    size : int
        Number of unknowns.
    terms : list of (int, int, int, int)
        (row, column, index, sign): the entry (row, column) of A gains sign * z[index].
    width : int
        Number of rows of z.
    """

    def __init__(self, size: int, terms: list[tuple[int, int, int, int]], width: int) -> None:
        self.size = size
        neighbours: list[set[int]] = [set() for _ in range(size)]
        for row, column, _, _ in terms:
            if row != column:
                neighbours[row].add(column)
                neighbours[column].add(row)
        entries: dict[tuple[int, int], list[tuple[int, int]]] = {(k, k): [] for k in range(size)}
        for row, column, index, sign in terms:
            entries.setdefault((row, column), []).append((index, sign))
            entries.setdefault((column, row), [])
        self._order_and_fill(neighbours, entries)
        self._entry = {key: number for number, key in enumerate(entries)}
        self._rows = np.array([row for row, _ in entries], dtype=np.intp)
        self._columns = np.array([column for _, column in entries], dtype=np.intp)
        self._sums = SignedSums(entries.values(), width)
        self._steps = [
            (
                pivot,
                self._entry[pivot, pivot],
                [
                    (i, self._entry[i, pivot], [(self._entry[i, j], self._entry[pivot, j]) for j in later])
                    for i in later
                ],
                [(j, self._entry[pivot, j]) for j in later],
            )
            for pivot, later in self._order
        ]

    def _order_and_fill(
        self, neighbours: list[set[int]], entries: dict[tuple[int, int], list[tuple[int, int]]]
    ) -> None:
        """Choose pivots by least degree and add the entries that elimination fills in."""
        self._order: list[tuple[int, list[int]]] = []
        left = set(range(self.size))
        while left:
            pivot = min(left, key=lambda node: (len(neighbours[node]), node))
            left.remove(pivot)
            later = sorted(neighbours[pivot])
            self._order.append((pivot, later))
            for i in later:
                neighbours[i].discard(pivot)
                for j in later:
                    if i != j:
                        neighbours[i].add(j)
                        entries.setdefault((i, j), [])

    def solve(self, z: FloatArray, b: FloatArray) -> FloatArray:
        """Return x, (size, points), for the values z (width, points) and the right-hand side b, which is used up."""
        if not self.size:
            return b
        if b.shape[1] <= _DENSE_POINTS and self.size <= _DENSE_SIZE:
            matrix = np.zeros((b.shape[1], self.size, self.size))
            matrix[:, self._rows, self._columns] = self._sums(z).T
            try:
                return np.asarray(np.linalg.solve(matrix, b.T[:, :, None])[:, :, 0].T, dtype=np.float64)
            except np.linalg.LinAlgError:
                return np.full(b.shape, np.nan)
        a = self._sums(z)
        for pivot, diagonal, rows, _ in self._steps:
            inverse = np.reciprocal(a[diagonal], out=a[diagonal])
            for i, lower, pairs in rows:
                factor = a[lower]
                factor *= inverse
                for target, source in pairs:
                    a[target] -= factor * a[source]
                b[i] -= factor * b[pivot]
        for pivot, diagonal, _, columns in reversed(self._steps):
            x = b[pivot]
            for j, entry in columns:
                x -= a[entry] * b[j]
            x *= a[diagonal]
        return b
