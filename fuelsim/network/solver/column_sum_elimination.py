"""Elimination that keeps the sums of the matrix's columns beside its off-diagonals, for badly scaled systems.

A shut valve passes 1e-16 of what a short wide line does at the same difference in pressure. Where a part of a network
is joined to the rest by shut valves alone, the diagonal of its pressures, a sum of both, has lost what is needed to
find their level. Mass is conserved, so that what a chain between two unknown pressures adds to a column of the matrix
cancels exactly, and the column sums hold the chains to fixed pressures alone. Carried through the elimination by

.. math:: e_j \\leftarrow e_j - \\frac{e_k}{a_{kk}} a_{kj}, \\qquad a_{kk} = e_k - \\sum_{i \\ne k} a_{ik},

they need no subtraction of nearly equal numbers as long as no law refers to a third node (Grassmann, Taksar and Heyman
1985 [grassmann_1985]).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from fuelsim.network.solver.signed_sums import SignedSums
from fuelsim.typing import FloatArray, IndexArray, PointArray

__all__ = ["ColumnSumElimination"]


class _Pivot(NamedTuple):
    """One pivot: its row, the later rows, entries of its column and its row, and the entries that each pair changes."""

    pivot: int
    later: IndexArray
    column: IndexArray
    row: IndexArray
    targets: IndexArray
    of_column: IndexArray
    of_row: IndexArray


class ColumnSumElimination:
    """Solver of (A + ground I) x = b for a fixed pattern, pivot by pivot, with the points on the last axis.

    Parameters
    ----------
    order : sequence of (pivot, later neighbours)
        Order of elimination.
    sources : mapping of (row, column) to list of (source, sign)
        From which values z (width, points) each entry of A is summed.
    width : int
        Number of rows of z.
    """

    def __init__(
        self,
        order: Sequence[tuple[int, Sequence[int]]],
        sources: Mapping[tuple[int, int], Sequence[tuple[int, int]]],
        width: int,
    ) -> None:
        entries = {key: list(pairs) for key, pairs in sources.items() if key[0] != key[1]}
        for _, later in order:
            for i in later:
                for j in later:
                    if i != j:
                        entries.setdefault((i, j), [])
        at = {key: number for number, key in enumerate(entries)}
        columns: list[dict[int, int]] = [{} for _ in order]
        for (_, column), pairs in sources.items():
            for source, sign in pairs:
                columns[column][source] = columns[column].get(source, 0) + sign
        self._off_diagonals = SignedSums(list(entries.values()), width)
        self._column_sums = SignedSums([[pair for pair in column.items() if pair[1]] for column in columns], width)
        self._pivots = []
        for pivot, later in order:
            pairs_of_later = [(m, n) for m in range(len(later)) for n in range(len(later)) if m != n]
            self._pivots.append(
                _Pivot(
                    pivot,
                    np.array(later, dtype=np.intp),
                    np.array([at[i, pivot] for i in later], dtype=np.intp),
                    np.array([at[pivot, j] for j in later], dtype=np.intp),
                    np.array([at[later[m], later[n]] for m, n in pairs_of_later], dtype=np.intp),
                    np.array([m for m, _ in pairs_of_later], dtype=np.intp),
                    np.array([n for _, n in pairs_of_later], dtype=np.intp),
                )
            )

    def solve(self, z: FloatArray, b: FloatArray, ground: PointArray) -> FloatArray:
        """Return x, (size, points).

        Parameters
        ----------
        z : array (width, points)
        b : array (size, points)
            Right-hand side, which is used up.
        ground : array (points,)
            Conductance from every unknown pressure to a fixed one, added to the diagonal.
        """
        a = self._off_diagonals(z)
        sums = self._column_sums(z) + ground
        for step in self._pivots:
            column, row = a[step.column], a[step.row]
            diagonal = sums[step.pivot] - column.sum(axis=0)
            a[step.column] = column = column / diagonal
            a[step.targets] -= column[step.of_column] * row[step.of_row]
            sums[step.later] -= sums[step.pivot] / diagonal * row
            b[step.later] -= column * b[step.pivot]
            b[step.pivot] /= diagonal
            # The row over the diagonal is all that is needed of it from now on.
            a[step.row] = row / diagonal
        for step in reversed(self._pivots):
            b[step.pivot] -= (a[step.row] * b[step.later]).sum(axis=0)
        return b
