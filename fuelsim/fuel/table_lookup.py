"""Interpolation in tables on uniform grids, of one substance or of a mixture of several tables at each point.

Curves and surfaces are piecewise cubic with continuous first derivatives. Tables of several fuels on equal grids are
stacked, and each point takes the weighted mean of the polynomials of some of them.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from typing import NamedTuple, TypeVar

import numpy as np

from fuelsim.numerics.cubic import hermite_cell
from fuelsim.typing import BoolArray, FloatArray, IndexArray

__all__ = ["Curve", "Shares", "Surface"]


class Shares(NamedTuple):
    """Which of the stacked tables each point takes, and how much of each.

    Attributes
    ----------
    table : int array (members, ...)
        Numbers of the tables.
    weight : array (members, ...)
        Their weights, which sum to one at each point.
    """

    table: IndexArray
    weight: FloatArray

    def take(self, index: IndexArray | BoolArray) -> Shares:
        """Return the shares of some points only.

        Parameters
        ----------
        index : int or bool array
            Which points.

        Returns
        -------
        Shares

        Examples
        --------
        >>> Shares(np.array([[0, 1, 2]]), np.ones((1, 3))).take(np.array([2, 0])).table.tolist()
        [[2, 0]]
        """
        return Shares(self.table[:, index], self.weight[:, index])

    def where(self, mask: BoolArray) -> Shares:
        """Return the shares of the elements of an array (..., points) that a mask chooses.

        Parameters
        ----------
        mask : bool array (..., points)

        Returns
        -------
        Shares
            Each (members, chosen).

        Examples
        --------
        >>> Shares(np.array([[0, 1]]), np.ones((1, 2))).where(np.array([[True, False], [True, True]])).table.tolist()
        [[0, 0, 1]]
        """
        members = len(self.table)
        at_points, shape = (members, *[1] * (mask.ndim - 1), -1), (members, *mask.shape)
        table = np.broadcast_to(self.table.reshape(at_points), shape)
        weight = np.broadcast_to(self.weight.reshape(at_points), shape)
        return Shares(table[:, mask], weight[:, mask])


def _slopes(values: FloatArray) -> FloatArray:
    """Return the slope per grid step along the first axis: fourth order inside, third order at the ends."""
    slope = np.empty_like(values)
    slope[2:-2] = (8.0 * (values[3:-1] - values[1:-3]) - (values[4:] - values[:-4])) / 12.0
    for end, sign in ((0, 1.0), (-1, -1.0)):
        v = values if end == 0 else values[::-1]
        first = (-11.0 * v[0] + 18.0 * v[1] - 9.0 * v[2] + 2.0 * v[3]) / 6.0
        second = (-2.0 * v[0] - 3.0 * v[1] + 6.0 * v[2] - v[3]) / 6.0
        slope[end], slope[end + (1 if end == 0 else -1)] = sign * first, sign * second
    return slope


def _cells(values: FloatArray) -> FloatArray:
    """Return polynomial coefficients of each cell along the first axis: ``(cells, 4, ...)``."""
    slope = _slopes(values)
    return np.stack(hermite_cell(values[:-1], values[1:], slope[:-1], slope[1:]), axis=1)


class Curve:
    """A function of one variable on a uniform grid, C1 cubic, clipped at the ends."""

    def __init__(self, start: float, stop: float, values: FloatArray) -> None:
        self.start, self.scale = start, (values.shape[0] - 1) / (stop - start)
        self.count = values.shape[0] - 1
        self.cells = np.ascontiguousarray(_cells(values))

    @classmethod
    def stacked(cls, curves: Sequence[Curve]) -> Curve:
        """Return several curves on one grid as one.

        Parameters
        ----------
        curves : list of Curve

        Returns
        -------
        Curve
            To be called with `Shares`.

        Examples
        --------
        >>> line = np.linspace(0.0, 4.0, 5)
        >>> rising, falling = Curve(0.0, 4.0, line), Curve(0.0, 4.0, line[::-1])
        >>> half = Shares(np.array([[0], [1]]), np.full((2, 1), 0.5))
        >>> Curve.stacked([rising, falling])(np.array([0.5, 3.0]), half).tolist()
        [2.0, 2.0]
        """
        return _stacked(curves)

    def __call__(self, x: FloatArray, shares: Shares | None = None) -> FloatArray:
        """Return the value of the curve.

        Parameters
        ----------
        x : array (..., points)
        shares : Shares, optional
            Which of the stacked curves each point takes.
        """
        position = np.clip((x - self.start) * self.scale, 0.0, float(self.count))
        index = np.minimum(position.astype(np.intp), self.count - 1)
        u = position - index
        c = _mixed(self.cells, index, self.count, shares)
        value: FloatArray = c[..., 0] + u * (c[..., 1] + u * (c[..., 2] + u * c[..., 3]))
        return value


class Surface:
    """A function of two variables, both scaled to 0..1, on a uniform grid, C1 bicubic."""

    def __init__(self, values: FloatArray) -> None:
        along_first = _cells(values)  # (cells1, 4, n2)
        along_second = _cells(np.moveaxis(along_first, 2, 0))  # (cells2, 4, cells1, 4)
        coefficients = np.transpose(along_second, (2, 0, 3, 1))  # (cells1, cells2, 4, 4)
        self.shape = coefficients.shape[:2]
        self.count = self.shape[0] * self.shape[1]
        self.cells = np.ascontiguousarray(coefficients).reshape(-1, 16)

    @classmethod
    def stacked(cls, surfaces: Sequence[Surface]) -> Surface:
        """Return several surfaces on one grid as one.

        Parameters
        ----------
        surfaces : list of Surface

        Returns
        -------
        Surface
            To be called with `Shares`.

        Examples
        --------
        >>> rising = np.indices((5, 5))[0].astype(float)
        >>> flat, sloping = Surface(0.0 * rising), Surface(rising)
        >>> second = Shares(np.array([[1]]), np.ones((1, 1)))
        >>> Surface.stacked([flat, sloping])(np.array([0.5]), np.array([0.2]), second).tolist()
        [2.0]
        """
        return _stacked(surfaces)

    def __call__(self, first: FloatArray, second: FloatArray, shares: Shares | None = None) -> FloatArray:
        """Return the value of the surface.

        Parameters
        ----------
        first, second : array (..., points)
            From 0 to 1.
        shares : Shares, optional
            Which of the stacked surfaces each point takes.
        """
        n1, n2 = self.shape
        position1, position2 = first * n1, second * n2
        index1 = np.minimum(position1.astype(np.intp), n1 - 1)
        index2 = np.minimum(position2.astype(np.intp), n2 - 1)
        u, v = position1 - index1, position2 - index2
        c = _mixed(self.cells, index1 * n2 + index2, self.count, shares)
        value: FloatArray = np.zeros(c.shape[:-1])
        for row in (12, 8, 4, 0):  # Horner's rule in u, of polynomials in v
            inner = c[..., row] + v * (c[..., row + 1] + v * (c[..., row + 2] + v * c[..., row + 3]))
            value = value * u + inner
        return value


_Table = TypeVar("_Table", Curve, Surface)


def _stacked(tables: Sequence[_Table]) -> _Table:
    made = copy.copy(tables[0])
    made.cells = np.concatenate([table.cells for table in tables])
    return made


def _mixed(cells: FloatArray, index: IndexArray, count: int, shares: Shares | None) -> FloatArray:
    """Return the polynomial of each element's cell: that of one table, or the weighted mean of several."""
    if shares is None:
        return np.asarray(cells.take(index, axis=0))
    if len(shares.table) == 1:
        return np.asarray(cells.take(shares.table[0] * count + index, axis=0))
    # Member by member, in place: an array of all members would not stay in the cache.
    mixed = np.asarray(shares.weight[0][..., None] * cells.take(shares.table[0] * count + index, axis=0))
    for table, weight in zip(shares.table[1:], shares.weight[1:], strict=True):
        part = cells.take(table * count + index, axis=0)
        part *= weight[..., None]
        mixed += part
    return mixed
