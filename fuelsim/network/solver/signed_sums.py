"""Sums of rows of an array with signs, for all operating points together."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from fuelsim.typing import FloatArray

if TYPE_CHECKING:
    from scipy.sparse import csr_array

__all__ = ["SignedSums"]

_PRODUCT_SIZE = 30_000
"""Number of multiplications up to which sums are one dense matrix product."""
_FEW_POINTS = 16
"""Number of points up to which sums are taken for all rows at once."""
_SPARSE_ROWS = 40
"""Number of rows from which sums are a sparse matrix product rather than taken row by row."""
_ROWWISE_POINTS = 2000
"""Number of points from which sums row by row take less time than a sparse matrix product."""


class SignedSums:
    """Rows that are each a sum of some rows of an array with signs: ``out[i] = sum(sign * x[index])``.

    Parameters
    ----------
    terms : sequence of list of (int, int)
        For each row of the result its (index, sign).
    width : int
        Number of rows of the array.
    """

    def __init__(self, terms: Sequence[list[tuple[int, int]]], width: int) -> None:
        self._given = terms
        self._width = width
        self._size = len(terms) * width

    def __call__(self, x: FloatArray) -> FloatArray:
        """Return the sums, (rows, points), of an array (width, points)."""
        points = x.shape[1]
        if self._size * points <= _PRODUCT_SIZE:
            product: FloatArray = self._dense @ x
            return product
        if points <= _FEW_POINTS or (len(self._given) >= _SPARSE_ROWS and points < _ROWWISE_POINTS):
            return np.asarray(self._sparse @ x)
        return self._row_by_row(x)

    @cached_property
    def _dense(self) -> FloatArray:
        matrix = np.zeros((len(self._given), self._width))
        for row, pairs in enumerate(self._given):
            for index, sign in pairs:
                matrix[row, index] += sign
        return matrix

    @cached_property
    def _sparse(self) -> csr_array:
        from scipy.sparse import csr_array

        starts = np.cumsum([0, *(len(pairs) for pairs in self._given)])
        indices = np.array([index for pairs in self._given for index, _ in pairs], dtype=np.int32)
        signs = np.array([float(sign) for pairs in self._given for _, sign in pairs])
        return csr_array((signs, indices, starts.astype(np.int32)), shape=(len(self._given), self._width))

    @cached_property
    def _ordered(self) -> list[list[tuple[int, int]]]:
        # A positive term first, so that a row starts as a copy.
        return [sorted(row, key=lambda term: -term[1]) for row in self._given]

    def _row_by_row(self, x: FloatArray) -> FloatArray:
        out = np.empty((len(self._given), x.shape[1]))
        for row, pairs in zip(out, self._ordered, strict=True):
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
