"""Starting values for a large batch: a few points are solved first and the others predicted from them.

What varies over the batch (draws, pressures, coefficients) is reduced to its principal components. Along one
component the solved points are joined by local polynomials, in several a polynomial is fitted to them; where that fits
badly, as it does around the corners of regulators and valves, the nearest solved point is taken instead.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from fuelsim.network.solver.equations import Batch

__all__ = ["Prediction", "principal_components", "samples_of"]

LEAST_POINTS = 600
"""Smaller batches are not worth a prediction."""
MOST_COMPONENTS = 6
"""A batch that varies in more ways starts from typical flows."""
_ALONG_ONE = 56
"""Number of points solved first along a single component."""
_MOST_CUBED = 4
"""Up to so many components the fitted polynomial is of the third degree, above of the second."""
_NEAR = 4
"""Number of solved points that a prediction along one component goes through."""
_CANDIDATES = 512
"""Number of points looked at to choose components and the points solved first."""
_NEGLIGIBLE = 1e-10
"""Share of the strongest component's strength below which a component is left out."""
_GOOD_FIT = 0.15
"""Largest error of a fit at the solved points, as a share of the spread of the flow, for the fit to be used."""


def _varying(batch: Batch) -> list[Any]:
    """Return the rows (points,) of everything that varies over the batch; long tables give three rows each."""
    found = []
    for values in (batch.draw, batch.end_flows, batch.head, batch.fixed):
        if values.shape[-1] > 1:
            found += list(values)
    for figures in (*batch.groups, *batch.end_groups):
        for values in (*figures.coefficients, figures.offset, figures.scale):
            if values is not None and values.shape[-1] > 1:
                rows = values.reshape(-1, values.shape[-1]) if values.ndim == 2 else values[:: len(values) // 2, ...]
                found += list(rows.reshape(-1, values.shape[-1]))
    return found


def principal_components(batch: Batch) -> Any:
    """Return the principal components of what varies, (components, points), the strongest first.

    None if nothing varies or too much does. A single component is returned also where everything follows it along a
    curve, as the coefficients of a line follow its bore.
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
    count = int(np.count_nonzero(strength > _NEGLIGIBLE * strength[-1]))
    if count > 1 and _follow_one(directions[:, -1] @ some, some):
        count = 1
    if count > MOST_COMPONENTS:
        return None
    return (directions[:, ::-1][:, :count] / spread[moving, None]).T @ inputs


def _candidates(size: int) -> Any:
    """Return places spread over a batch without any period of their own, since a batch is often a grid."""
    golden = 0.6180339887498949
    return np.unique((size * np.mod(golden * np.arange(min(_CANDIDATES, size)), 1.0)).astype(np.intp))


def _follow_one(along: Any, inputs: Any) -> bool:
    """Return whether all inputs (rows, points) are functions of one value (points,)."""
    order = np.argsort(along)
    along, inputs = along[order], inputs[:, order]
    step = max(along.size // _ALONG_ONE, 2)
    knots = along[::step]
    if knots.size < 2 * _NEAR or np.any(np.diff(knots) <= 0.0):
        return False
    between = slice(step // 2, (knots.size - 1) * step, step)
    predicted = _between(knots, inputs[:, ::step], along[between])
    return bool(np.abs(predicted - inputs[:, between]).max() < 1e-3)


def _between(knots: Any, values: Any, where: Any) -> Any:
    """Return polynomials through the four nearest knots, (rows, points), of values (rows, knots)."""
    first = np.minimum(np.maximum(np.searchsorted(knots, where) - _NEAR // 2, 0), knots.size - _NEAR)
    apart = [where - knots.take(first + k) for k in range(_NEAR)]
    # Lagrange's weights: products of the distances to the other knots, over the same products at the knot.
    before, after = [np.ones_like(where)], [np.ones_like(where)]
    for k in range(_NEAR - 1):
        before.append(before[-1] * apart[k])
        after.append(after[-1] * apart[_NEAR - 1 - k])
    window = knots[np.arange(knots.size - _NEAR + 1)[:, None] + np.arange(_NEAR)]
    gaps = window[:, :, None] - window[:, None, :]
    at_knot = np.where(np.eye(_NEAR, dtype=bool), 1.0, gaps).prod(axis=2)
    # Whole rows of the transposed values are fetched four times as fast as single values.
    rows = np.ascontiguousarray(values.T)
    out = np.zeros((where.size, rows.shape[1]))
    for k in range(_NEAR):
        weight = before[k] * after[_NEAR - 1 - k]
        weight /= at_knot[:, k].take(first)
        term = rows.take(first + k, axis=0)
        term *= weight[:, None]
        out += term
    return np.ascontiguousarray(out.T)


def samples_of(components: Any) -> Any:
    """Return the places of the points to solve first."""
    candidates = _candidates(components.shape[1])
    if len(components) > 1:
        wanted = min(4 * _features(len(components)), 200, candidates.size)
        return np.unique(np.concatenate([candidates[:: max(candidates.size // wanted, 1)], *_extremes(components)]))
    along = components[0]
    candidates = candidates[np.argsort(along[candidates], kind="stable")]
    wanted = np.linspace(along[candidates[0]], along[candidates[-1]], _ALONG_ONE)
    chosen = candidates[np.minimum(np.searchsorted(along[candidates], wanted), candidates.size - 1)]
    return np.unique(np.concatenate([chosen, *_extremes(components)]))


def _extremes(components: Any) -> tuple[Any, Any]:
    return components.argmin(axis=1), components.argmax(axis=1)


def _features(count: int) -> int:
    """Return the number of monomials."""
    return len(_monomials(np.zeros((count, 1))))


def _monomials(components: Any) -> Any:
    """Return the monomials up to the third degree, to the second from four components on, (features, points)."""
    count = len(components)
    rows = [np.ones(components.shape[1]), *components]
    for i in range(count):
        for j in range(i, count):
            rows.append(components[i] * components[j])
            if count <= _MOST_CUBED:
                rows += [rows[-1] * components[k] for k in range(j, count)]
    return np.array(rows)


@dataclass(frozen=True)
class Prediction:
    """Solved points and a way from any point to starting values.

    Attributes
    ----------
    components : array (components, points)
        Where every point of the batch is.
    at : array (components, samples)
        Where the solved points are, sorted along a single component.
    values : array (rows, samples)
        Chain flows and kept pressures of the solved points.
    fit : array (rows, features) or None
        Coefficients of the polynomial, None where the nearest solved point is taken.
    """

    components: Any
    at: Any
    values: Any
    fit: Any

    @classmethod
    def of(cls, components: Any, samples: Any, values: Any) -> Prediction | None:
        """Return a prediction from the values (rows, samples) at some points; None from too few."""
        at = components[:, samples]
        if len(components) == 1:
            order = np.argsort(at[0])
            apart = np.diff(at[0, order]) > 1e-9 * np.ptp(at[0])
            keep = order[np.concatenate([[True], apart])]
            return (
                cls(components, at[:, keep], np.ascontiguousarray(values[:, keep]), None)
                if keep.size >= 2 * _NEAR
                else None
            )
        if samples.size < 1.5 * _features(len(components)):
            return None
        features = _monomials(at)
        fit = np.linalg.lstsq(features.T, values.T, rcond=None)[0].T
        spread = values.max(axis=1) - values.min(axis=1)
        error = np.abs(fit @ features - values).max(axis=1)
        good = bool(np.all(error <= _GOOD_FIT * spread + 1e-12 * np.abs(values).max(axis=1)))
        return cls(components, at, values, fit if good else None)

    def __call__(self, points: slice) -> Any:
        """Return starting values (rows, points) of some points."""
        where = self.components[:, points]
        if self.fit is not None:
            return self.fit @ _monomials(where)
        if len(where) == 1:
            return _between(self.at[0], self.values, where[0])
        distance = (self.at**2).sum(axis=0)[:, None] - 2.0 * (self.at.T @ where)
        return self.values.take(distance.argmin(axis=0), axis=1)
