"""Fuel in a tank that accelerates: tilted surface, uncovered pick-up, pressure along a line, time a pot lasts."""

from __future__ import annotations

import numpy as np

from fuelsim.constants import GRAVITY
from fuelsim.numerics.bracket import bisect
from fuelsim.typing import BoolArray, FloatArray, FloatLike

__all__ = ["acceleration_pressure", "cover_time", "tilted_level", "uncovering_acceleration"]

_BISECTIONS = 60
_MOST_ACCELERATION = 5.0 * GRAVITY


def acceleration_pressure(density: FloatLike, acceleration: FloatLike, distance: FloatLike) -> FloatArray:
    """Return the pressure difference along a column of fuel that is accelerated, rho a l.

    Parameters
    ----------
    density : float or array
        Density rho of the fuel, kg/m3.
    acceleration : float or array
        Acceleration a of the car in the direction from the start to the end of the line, m/s2.
    distance : float or array
        Distance l of the line's end from its start in that direction, m.

    Returns
    -------
    array
        Pressure lost from start to end, Pa; negative while braking.

    Examples
    --------
    One g over 0.4 m of fuel:

    >>> round(float(acceleration_pressure(740.0, 9.80665, 0.4)))
    2903
    """
    result: FloatArray = np.asarray(density) * acceleration * distance
    return result


def tilted_level(
    volume: FloatLike,
    length: FloatLike,
    width: FloatLike,
    depth: FloatLike,
    position: FloatLike,
    acceleration: FloatLike,
) -> FloatArray:
    """Return the depth of fuel at one position in a box-shaped tank while the car accelerates.

    The surface is at right angles to the sum of gravity and acceleration, dh/dx = -a/g, within floor and roof; the
    volume of the fuel is constant.

    Parameters
    ----------
    volume : float or array
        Volume of the fuel, m3, at most the tank's.
    length, width, depth : float or array
        Inside dimensions of the tank along the acceleration, across it, and upwards, m.
    position : float or array
        Position along the acceleration, from the tank's middle, m; the fuel moves towards negative positions.
    acceleration : float or array
        Acceleration a of the car, of either sign, m/s2.

    Returns
    -------
    array
        Depth of the fuel, from 0 to the depth of the tank, m.

    Examples
    --------
    >>> round(float(tilted_level(0.02, 0.5, 0.4, 0.25, 0.2, 0.25 * 9.80665)), 3)  # 0.1 - 0.25 x 0.2
    0.05
    """
    area = np.asarray(volume, dtype=float) / width
    slope = np.asarray(acceleration, dtype=float) / GRAVITY
    length, depth, position = (np.asarray(x, dtype=float) for x in (length, depth, position))
    area, slope, length, depth, position = np.broadcast_arrays(area, slope, length, depth, position)
    half = 0.5 * np.abs(slope) * length

    def lies_above(level: FloatArray) -> BoolArray:
        return np.logical_not(_area_below(level, half, length, depth) > area)

    middle = bisect(lies_above, -half, depth + half, _BISECTIONS)
    result: FloatArray = np.clip(middle - slope * position, 0.0, depth)
    return result


def _area_below(level: FloatArray, half: FloatArray, length: FloatArray, depth: FloatArray) -> FloatArray:
    """Return the side area of fuel whose surface ends `half` above and below the level in the middle."""

    def filled(end: FloatArray) -> FloatArray:
        inside = np.clip(end, 0.0, depth)
        return 0.5 * inside**2 + depth * np.maximum(end - depth, 0.0)

    flat = half < 1e-9 * depth
    tilted = (filled(level + half) - filled(level - half)) / (2.0 * np.where(flat, np.nan, half)) * length
    return np.where(flat, np.clip(level, 0.0, depth) * length, tilted)


def uncovering_acceleration(
    volume: FloatLike,
    length: FloatLike,
    width: FloatLike,
    depth: FloatLike,
    position: FloatLike,
    pick_up_height: FloatLike,
) -> FloatArray:
    """Return the least steady acceleration that uncovers a pick-up in a box-shaped tank without baffles.

    Parameters
    ----------
    volume, length, width, depth : float or array
        As `tilted_level`.
    position : float or array
        Position of the pick-up, on the side from which the fuel moves away, m, not negative.
    pick_up_height : float or array
        Height of the pick-up above the floor, m.

    Returns
    -------
    array
        Acceleration, m/s2; 0 where the pick-up is uncovered at rest, infinite where 5 g do not uncover it.

    Examples
    --------
    >>> limit = uncovering_acceleration(0.02, 0.5, 0.4, 0.25, 0.2, 0.01)
    >>> round(float(limit) / 9.80665, 2)
    0.45
    """
    shape = np.broadcast_shapes(*(np.shape(x) for x in (volume, length, width, depth, position, pick_up_height)))

    def covered(acceleration: FloatArray) -> BoolArray:
        level = tilted_level(volume, length, width, depth, position, acceleration)
        return np.logical_not(level <= np.asarray(pick_up_height))

    limit = bisect(covered, np.zeros(shape), np.full(shape, _MOST_ACCELERATION), _BISECTIONS)
    return np.where(limit > 0.999 * _MOST_ACCELERATION, np.inf, np.where(limit < 1e-6, 0.0, limit))


def cover_time(volume: FloatLike, net_outflow: FloatLike) -> FloatArray:
    """Return how long a surge pot or baffle feeds the pump while no fuel flows in.

    Parameters
    ----------
    volume : float or array
        Usable volume, m3.
    net_outflow : float or array
        Pump flow less the flow that returns to the pot, m3/s.

    Returns
    -------
    array
        Time, s; infinite where the pot does not empty.

    Examples
    --------
    >>> round(float(cover_time(1.5e-3, 100e-3 / 3600.0)))
    54
    """
    net = np.asarray(net_outflow, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(net > 0.0, np.asarray(volume, dtype=float) / net, np.inf)
