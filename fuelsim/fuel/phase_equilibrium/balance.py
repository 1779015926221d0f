"""The flash equation at given equilibrium ratios, and bounds of the Newton steps that solve it."""

from __future__ import annotations

import numpy as np

from fuelsim.fuel.phase_equilibrium.equilibrium import (
    HIGHEST_LOG_PRESSURE,
    HIGHEST_TEMPERATURE,
    LOWEST_LOG_PRESSURE,
    LOWEST_TEMPERATURE,
)
from fuelsim.typing import FloatArray, PointArray, SpeciesArray

__all__ = ["FlashBalance", "clipped_pressure", "clipped_temperature", "limited", "rachford_rice", "to_points"]


class FlashBalance:
    """Sums of the flash equation at given K: residual G = ln(sum y) - ln(sum x), with its slopes.

    x_i = z_i/(1 + b (K_i - 1)) and y_i = K_i x_i are not normalised; G is zero at equilibrium.

    Attributes
    ----------
    x, y : array (species, points)
        Amounts in liquid and vapour, per mole of that phase.
    residual : array (points,)
        G.
    weight : array (species, points)
        Slope of G in the ln K of each species.
    by_fraction : array (points,)
        Slope of G in the vapour fraction b.
    """

    def __init__(self, z: SpeciesArray, k: SpeciesArray, fraction: PointArray) -> None:
        self.divisor = 1.0 + fraction * (k - 1.0)
        self.x: SpeciesArray = z / self.divisor
        self.y: SpeciesArray = k * self.x
        self.sum_x: PointArray = self.x.sum(axis=0)
        self.sum_y: PointArray = self.y.sum(axis=0)
        self.residual: PointArray = np.log(self.sum_y / self.sum_x)
        self.weight: SpeciesArray = self.y / self.divisor * ((1.0 - fraction) / self.sum_y + fraction / self.sum_x)
        ratio = (k - 1.0) / self.divisor
        self.by_fraction: PointArray = (
            -(self.y * ratio).sum(axis=0) / self.sum_y + (self.x * ratio).sum(axis=0) / self.sum_x
        )


def rachford_rice(z: SpeciesArray, k: SpeciesArray, fraction: PointArray) -> PointArray:
    """Return the vapour fraction that solves sum z(K-1)/(1+b(K-1)) = 0, or 0 or 1 where only one phase exists.

    Parameters
    ----------
    z, k : array (species, points)
        Mole fractions of the feed and equilibrium ratios.
    fraction : array (points,)
        Vapour fraction to start from.

    Returns
    -------
    array (points,)

    Notes
    -----
    Newton's method inside a bracket. Source: [rachford_rice_1952].

    Examples
    --------
    Two species in equal parts with K of 2 and 1/2: half is vapour.

    >>> k = np.array([[2.0], [0.5]])
    >>> round(float(rachford_rice(np.full((2, 1), 0.5), k, np.array([0.1]))[0]), 12)
    0.5
    """
    low, high = np.zeros(z.shape[1]), np.ones(z.shape[1])
    surplus = k - 1.0
    zs = z * surplus
    liquid = zs.sum(axis=0) <= 0.0
    vapour = (zs / k).sum(axis=0) >= 0.0
    b = np.clip(fraction, 1e-6, 1.0 - 1e-6)
    for _ in range(60):
        term = surplus / (1.0 + b * surplus)
        weighted = z * term
        value = weighted.sum(axis=0)
        slope = (weighted * term).sum(axis=0)
        positive = value > 0.0
        low = np.where(positive, b, low)
        high = np.where(positive, high, b)
        with np.errstate(divide="ignore", invalid="ignore"):
            new = b + value / slope
        new = np.where((new > low) & (new < high), new, 0.5 * (low + high))
        change = np.abs(new - b)
        b = new
        if np.all((change < 1e-15) | liquid | vapour):
            break
    return np.where(liquid, 0.0, np.where(vapour, 1.0, b))


def limited(change: FloatArray, largest: float) -> FloatArray:
    """Return a change cut at a largest magnitude.

    Parameters
    ----------
    change : array
        Any shape.
    largest : float
        Largest magnitude, in the unit of the change.

    Examples
    --------
    >>> limited(np.array([-3.0, 0.5]), 1.0).tolist()
    [-1.0, 0.5]
    """
    cut: FloatArray = np.minimum(np.maximum(change, -largest), largest)
    return cut


def clipped_temperature(temperature: PointArray) -> PointArray:
    """Return temperatures, K, kept within 180 to 520 K, the bounds of the iterates.

    Parameters
    ----------
    temperature : array (points,)
        K.

    Examples
    --------
    >>> clipped_temperature(np.array([100.0, 300.0])).tolist()
    [180.0, 300.0]
    """
    clipped: PointArray = np.minimum(np.maximum(temperature, LOWEST_TEMPERATURE), HIGHEST_TEMPERATURE)
    return clipped


def clipped_pressure(log_pressure: PointArray) -> PointArray:
    """Return pressures, Pa, from their logarithms, kept within 1 mPa to 20 MPa, the bounds of the iterates.

    Parameters
    ----------
    log_pressure : array (points,)
        Natural logarithm of the pressure in Pa.

    Examples
    --------
    >>> clipped_pressure(np.array([np.log(1e5)])).round(6).tolist()
    [100000.0]
    """
    pressure: PointArray = np.exp(np.minimum(np.maximum(log_pressure, LOWEST_LOG_PRESSURE), HIGHEST_LOG_PRESSURE))
    return pressure


def to_points(feed: SpeciesArray, *values: FloatArray | float) -> tuple[FloatArray, ...]:
    """Broadcast a feed and values to the same points.

    Parameters
    ----------
    feed : array (species, points or 1)
    *values : float or array (points,)

    Returns
    -------
    tuple of array
        The feed ``(species, points)``, then each value ``(points,)``, all copies.

    Examples
    --------
    >>> feed, pressure = to_points(np.ones((1, 1)), np.array([1e5, 2e5]))
    >>> feed.shape, pressure.shape
    ((1, 2), (2,))
    """
    arrays = np.broadcast_arrays(feed[0], *[np.asarray(value, dtype=float) for value in values])
    points = arrays[0].shape
    return (np.ascontiguousarray(np.broadcast_to(feed, (feed.shape[0], *points))), *[a.copy() for a in arrays[1:]])
