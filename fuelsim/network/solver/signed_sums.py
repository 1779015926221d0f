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

_PRODUCT_SIZE = 150_000
"""Number of multiplications up to which sums are one dense matrix product, else a sparse one."""
_FEW_ROWS = 16
_PRODUCT_SIZE_OF_FEW_ROWS = 500_000
"""The same for a result of few rows, of which a dense product takes less time per point."""


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
        most = _PRODUCT_SIZE_OF_FEW_ROWS if len(self._given) <= _FEW_ROWS else _PRODUCT_SIZE
        if self._size * x.shape[1] <= most:
            product: FloatArray = self._dense @ x
            return product
        return np.asarray(self._sparse @ x)

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
