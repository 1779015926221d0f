"""Starting values for a large batch: a few points are solved first and the others predicted from them.

What varies over the batch (draws, pressures, coefficients) is reduced to its principal components. Along one
component the solved points are joined by local cubics, in several by a quadratic fitted to them; where that fits
badly, as it does around the corners of regulators and valves, the nearest solved point is taken instead.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from fuelsim.network.batch import Batch

__all__ = ["Prediction", "principal_components", "samples_of"]

LEAST_POINTS = 600
"""Smaller batches are not worth a prediction."""
MOST_COMPONENTS = 6
_ALONG_ONE = 64
_CANDIDATES = 512
_NEGLIGIBLE = 1e-10
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

    None if nothing varies or there are too many.
    """
    rows = _varying(batch)
    if not rows:
        return None
    inputs = np.array(rows)
    inputs -= inputs.mean(axis=1, keepdims=True)
    spread = np.sqrt(np.einsum("ij,ij->i", inputs, inputs) / batch.size)
    moving = spread > 0.0
    if not moving.any() or not np.isfinite(spread).all():
        return None
    inputs = inputs[moving]
    inputs /= spread[moving, None]
    if len(inputs) == 1:
        return inputs
    some = inputs[:, :: max(batch.size // _CANDIDATES, 1)]
    strength, directions = np.linalg.eigh(some @ some.T)
    count = int(np.count_nonzero(strength > _NEGLIGIBLE * strength[-1]))
    if count > 1:
        count = int(np.count_nonzero(strength > 1e-4 * strength[-1]))
    if count > MOST_COMPONENTS:
        return None
    return directions[:, ::-1][:, :count].T @ inputs


def samples_of(components: Any) -> Any:
    """Return the places of the points to solve first."""
    size = components.shape[1]
    candidates = np.arange(0, size, max(size // _CANDIDATES, 1))
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
    return 1 + count + count * (count + 1) // 2


def _quadratic(components: Any) -> Any:
    """Return the monomials up to the second degree, (features, points)."""
    rows = [np.ones(components.shape[1]), *components]
    for i in range(len(components)):
        rows += [components[i] * components[j] for j in range(i, len(components))]
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
        Coefficients of the quadratic, None where the nearest solved point is taken.
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
            keep = order[np.concatenate([[True], np.diff(at[0, order]) > 1e-9])]
            return cls(components, at[:, keep], np.ascontiguousarray(values[:, keep]), None) if keep.size >= 8 else None
        if samples.size < 1.5 * _features(len(components)):
            return None
        features = _quadratic(at)
        fit = np.linalg.lstsq(features.T, values.T, rcond=None)[0].T
        spread = values.max(axis=1) - values.min(axis=1)
        error = np.abs(fit @ features - values).max(axis=1)
        good = bool(np.all(error <= _GOOD_FIT * spread + 1e-12))
        return cls(components, at, values, fit if good else None)

    def __call__(self, points: slice) -> Any:
        """Return starting values (rows, points) of some points."""
        where = self.components[:, points]
        if self.fit is not None:
            return self.fit @ _quadratic(where)
        if len(where) == 1:
            return self._along_one(where[0])
        distance = (self.at**2).sum(axis=0)[:, None] - 2.0 * (self.at.T @ where)
        return self.values.take(distance.argmin(axis=0), axis=1)

    def _along_one(self, where: Any) -> Any:
        """Return local cubics through the four solved points around each."""
        knots = self.at[0]
        first = np.minimum(np.maximum(np.searchsorted(knots, where) - 2, 0), knots.size - 4)
        near = [knots.take(first + k) for k in range(4)]
        from_near = [where - knot for knot in near]
        out = None
        for k in range(4):
            others = [i for i in range(4) if i != k]
            weight = from_near[others[0]] * from_near[others[1]] * from_near[others[2]]
            weight /= (near[k] - near[others[0]]) * (near[k] - near[others[1]]) * (near[k] - near[others[2]])
            term = self.values.take(first + k, axis=1)
            term *= weight
            if out is None:
                out = term
            else:
                out += term
        return out
