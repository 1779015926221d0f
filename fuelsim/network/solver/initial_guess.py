"""Initial guesses for a large batch: a few points are solved first and the others interpolated from them.

Everything that varies over the batch (draws, pressures, coefficients) is reduced to its principal components. Along a
single component the solved points are interpolated by local cubics; in several dimensions a polynomial is fitted to
them. Where that fits badly, as around the kinks of regulators and valves, the nearest solved point is used instead.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fuelsim.network.solver.equations import Batch
from fuelsim.typing import FloatArray, IndexArray, PointArray

__all__ = ["Prediction", "principal_components", "samples_of"]

LEAST_POINTS = 600
"""Number of points from which a prediction saves time."""
MOST_COMPONENTS = 6
"""Number of components above which a batch starts from typical flows."""
_SAMPLES_ALONG_ONE = 56
"""Number of points solved first along a single component."""
_MOST_CUBIC_COMPONENTS = 4
"""Number of components up to which the fitted polynomial is of the third degree, else of the second."""
_STENCIL = 4
"""Number of solved points that a local polynomial along one component goes through."""
_CANDIDATE_POINTS = 512
"""Number of points from which the components and the points solved first are chosen."""
_NEGLIGIBLE_VARIANCE = 1e-10
"""Fraction of the strongest component's variance below which a component is left out."""
_GOOD_FIT_FRACTION = 0.15
"""Largest error of a usable fit at the solved points, as a fraction of the range of the flow."""


def _varying(batch: Batch) -> list[PointArray]:
    """Return the rows (points,) of everything that varies over the batch; long tables give three rows each."""
    varying: list[PointArray] = []
    for values in (batch.draw, batch.end_flows, batch.head, batch.fixed):
        if values.shape[-1] > 1:
            varying += list(values)
    for group in (*batch.groups, *batch.end_groups):
        for given in (*group.coefficients, group.offset, group.scale):
            if given is not None and given.shape[-1] > 1:
                rows = given if given.ndim == 2 else given[:: len(given) // 2, ...]
                varying += list(rows.reshape(-1, given.shape[-1]))
    return varying


def principal_components(batch: Batch) -> FloatArray | None:
    """Return the principal components of what varies, (components, points), the strongest first.

    None if nothing varies, or in too many independent ways. A single component is returned also where everything is a
    function of it though not a linear one, as the coefficients of a line are functions of its bore.
    """
    rows = _varying(batch)
    if not rows:
        return None
    inputs = np.array(rows)
    some = inputs.take(_candidates(batch.size), axis=1)
    spread = some.std(axis=1)
    moving = np.ptp(some, axis=1) > 1e-12 * np.abs(some).max(axis=1)
    if not moving.any() or not np.isfinite(inputs).all():
        return None
    some = (some[moving] - some[moving].mean(axis=1, keepdims=True)) / spread[moving, None]
    inputs = inputs[moving]
    strength, directions = np.linalg.eigh(some @ some.T)
    count = int(np.count_nonzero(strength > _NEGLIGIBLE_VARIANCE * strength[-1]))
    if count > 1 and _are_functions_of(directions[:, -1] @ some, some):
        count = 1
    if count > MOST_COMPONENTS:
        return None
    components: FloatArray = (directions[:, ::-1][:, :count] / spread[moving, None]).T @ inputs
    return components


def _candidates(size: int) -> IndexArray:
    """Return quasi-random (golden-ratio) positions: a batch is often a grid, and a regular stride would alias."""
    golden = 0.6180339887498949
    return np.unique((size * np.mod(golden * np.arange(min(_CANDIDATE_POINTS, size)), 1.0)).astype(np.intp))


def _are_functions_of(along: PointArray, inputs: FloatArray) -> bool:
    """Return whether all inputs (rows, points) are functions of one value (points,)."""
    order = np.argsort(along)
    along, inputs = along[order], inputs[:, order]
    step = max(along.size // _SAMPLES_ALONG_ONE, 2)
    knots = along[::step]
    if knots.size < 2 * _STENCIL or np.any(np.diff(knots) <= 0.0):
        return False
    between = slice(step // 2, (knots.size - 1) * step, step)
    predicted = _interpolate(knots, inputs[:, ::step], along[between])
    return bool(np.abs(predicted - inputs[:, between]).max() < 1e-3)


def _interpolate(knots: PointArray, values: FloatArray, where: PointArray) -> FloatArray:
    """Return Lagrange polynomials through the four nearest knots, (rows, points), of values (rows, knots)."""
    first = np.minimum(np.maximum(np.searchsorted(knots, where) - _STENCIL // 2, 0), knots.size - _STENCIL)
    apart = [where - knots.take(first + k) for k in range(_STENCIL)]
    # Weight of a knot: product of the distances to the other knots, over the same product at the knot itself.
    before, after = [np.ones_like(where)], [np.ones_like(where)]
    for k in range(_STENCIL - 1):
        before.append(before[-1] * apart[k])
        after.append(after[-1] * apart[_STENCIL - 1 - k])
    window = knots[np.arange(knots.size - _STENCIL + 1)[:, None] + np.arange(_STENCIL)]
    gaps = window[:, :, None] - window[:, None, :]
    at_knot = np.where(np.eye(_STENCIL, dtype=bool), 1.0, gaps).prod(axis=2)
    # Whole rows of the transposed values are fetched four times as fast as single values.
    rows = np.ascontiguousarray(values.T)
    out = np.zeros((where.size, rows.shape[1]))
    for k in range(_STENCIL):
        weight = before[k] * after[_STENCIL - 1 - k]
        weight /= at_knot[:, k].take(first)
        term = rows.take(first + k, axis=0)
        term *= weight[:, None]
        out += term
    return np.ascontiguousarray(out.T)


def samples_of(components: FloatArray) -> IndexArray:
    """Return the positions of the points to solve first."""
    candidates = _candidates(components.shape[1])
    if len(components) > 1:
        wanted = min(4 * _features(len(components)), 200, candidates.size)
        return np.unique(np.concatenate([candidates[:: max(candidates.size // wanted, 1)], *_extremes(components)]))
    along = components[0]
    candidates = candidates[np.argsort(along[candidates], kind="stable")]
    levels = np.linspace(along[candidates[0]], along[candidates[-1]], _SAMPLES_ALONG_ONE)
    chosen = candidates[np.minimum(np.searchsorted(along[candidates], levels), candidates.size - 1)]
    return np.unique(np.concatenate([chosen, *_extremes(components)]))


def _extremes(components: FloatArray) -> tuple[IndexArray, IndexArray]:
    return components.argmin(axis=1), components.argmax(axis=1)


def _features(count: int) -> int:
    """Return the number of monomials."""
    return len(_monomials(np.zeros((count, 1))))


def _monomials(components: FloatArray) -> FloatArray:
    """Return the monomials up to the third degree, to the second from four components on, (features, points)."""
    count = len(components)
    rows = [np.ones(components.shape[1]), *components]
    for i in range(count):
        for j in range(i, count):
            rows.append(components[i] * components[j])
            if count <= _MOST_CUBIC_COMPONENTS:
                rows += [rows[-1] * components[k] for k in range(j, count)]
    return np.array(rows)


@dataclass(frozen=True)
class Prediction:
    """Interpolation of initial guesses between solved points.

    Attributes
    ----------
    components : array (components, points)
        Components of every point of the batch.
    at : array (components, samples)
        Components of the solved points, sorted if there is one component only.
    values : array (rows, samples)
        Chain flows and kept pressures of the solved points.
    fit : array (rows, features) or None
        Coefficients of the polynomial, None where the nearest solved point is used.
    """

    components: FloatArray
    at: FloatArray
    values: FloatArray
    fit: FloatArray | None

    @classmethod
    def of(cls, components: FloatArray, samples: IndexArray, values: FloatArray) -> Prediction | None:
        """Return a prediction from the values (rows, samples) at some points; None from too few."""
        at = components[:, samples]
        if len(components) == 1:
            order = np.argsort(at[0])
            apart = np.diff(at[0, order]) > 1e-9 * np.ptp(at[0])
            keep = order[np.concatenate([[True], apart])]
            return (
                cls(components, at[:, keep], np.ascontiguousarray(values[:, keep]), None)
                if keep.size >= 2 * _STENCIL
                else None
            )
        if samples.size < 1.5 * _features(len(components)):
            return None
        features = _monomials(at)
        fit = np.asarray(np.linalg.lstsq(features.T, values.T, rcond=None)[0].T, dtype=np.float64)
        spread = values.max(axis=1) - values.min(axis=1)
        error = np.abs(fit @ features - values).max(axis=1)
        good = bool(np.all(error <= _GOOD_FIT_FRACTION * spread + 1e-12 * np.abs(values).max(axis=1)))
        return cls(components, at, values, fit if good else None)

    def __call__(self, points: slice) -> FloatArray:
        """Return the initial guess (rows, points) of some points."""
        where = self.components[:, points]
        if self.fit is not None:
            fitted: FloatArray = self.fit @ _monomials(where)
            return fitted
        if len(where) == 1:
            return _interpolate(self.at[0], self.values, where[0])
        distance: FloatArray = (self.at**2).sum(axis=0)[:, None] - 2.0 * (self.at.T @ where)
        nearest: FloatArray = self.values.take(distance.argmin(axis=0), axis=1)
        return nearest
