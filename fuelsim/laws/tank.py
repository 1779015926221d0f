"""Fuel in a tank that accelerates: tilted surface, uncovered pick-up, pressure along a line, time a pot covers."""

from __future__ import annotations

from typing import Any

import numpy as np

from fuelsim.constants import GRAVITY
from fuelsim.numerics.bracket import bisect
from fuelsim.typing import BoolArray, FloatArray

__all__ = ["acceleration_pressure", "cover_time", "tilted_level", "uncovering_acceleration"]

_BISECTIONS = 60
_MOST_ACCELERATION = 5.0 * GRAVITY


def acceleration_pressure(density: Any, acceleration: Any, distance: Any) -> Any:
    """Return the pressure that accelerating a column of fuel costs, rho a l.

    Parameters
    ----------
    density : array
        kg/m3.
    acceleration : array
        Of the car in the direction from the start to the end of the line, m/s2.
    distance : array
        By which the line's end lies further in that direction, m.

    Returns
    -------
    array
        Pa lost from start to end; negative while braking.

    Examples
    --------
    One g over 0.4 m of fuel:

    >>> round(float(acceleration_pressure(740.0, 9.80665, 0.4)))
    2903
    """
    return np.asarray(density) * acceleration * distance


def tilted_level(volume: Any, length: Any, width: Any, depth: Any, position: Any, acceleration: Any) -> Any:
    """Return the depth of fuel at one place of a box-shaped tank while the car accelerates.

    The surface stands at right angles to gravity and acceleration together, dh/dx = -a/g; floor and roof cut it off,
    and the volume stays.

    Parameters
    ----------
    volume : array
        Of the fuel, m3, at most the tank's.
    length, width, depth : array
        Of the tank: along the acceleration, across it, and upwards, m.
    position : array
        Place along the acceleration, from the tank's middle, m; the fuel runs towards negative positions.
    acceleration : array
        m/s2, of either sign.

    Returns
    -------
    array
        m, from 0 to the depth.

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
    middle = bisect(lambda level: ~(_area_below(level, half, length, depth) > area), -half, depth + half, _BISECTIONS)
    return np.clip(middle - slope * position, 0.0, depth)


def _area_below(level: np.ndarray, half: np.ndarray, length: np.ndarray, depth: np.ndarray) -> np.ndarray:
    """Return the side area of fuel under a surface whose ends stand `half` above and below the level in the middle."""

    def filled(end: np.ndarray) -> np.ndarray:
        inside = np.clip(end, 0.0, depth)
        return 0.5 * inside**2 + depth * np.maximum(end - depth, 0.0)

    flat = half < 1e-9 * depth
    safe = np.where(flat, 1.0, half)
    tilted = (filled(level + half) - filled(level - half)) / (2.0 * safe) * length
    return np.where(flat, np.clip(level, 0.0, depth) * length, tilted)


def uncovering_acceleration(
    volume: Any, length: Any, width: Any, depth: Any, position: Any, pick_up_height: Any
) -> Any:
    """Return the least steady acceleration that uncovers a pick-up in a box-shaped tank without baffles.

    Parameters
    ----------
    volume, length, width, depth : array
        As `tilted_level`.
    position : array
        Of the pick-up on the side the fuel runs away from, m, not negative.
    pick_up_height : array
        Above the floor, m.

    Returns
    -------
    array
        m/s2; 0 where it is bare at rest, infinite where 5 g do not uncover it.

    Examples
    --------
    >>> limit = uncovering_acceleration(0.02, 0.5, 0.4, 0.25, 0.2, 0.01)
    >>> round(float(limit) / 9.80665, 2)
    0.45
    """
    shape = np.broadcast_shapes(*(np.shape(x) for x in (volume, length, width, depth, position, pick_up_height)))

    def covered(acceleration: FloatArray) -> BoolArray:
        return ~(tilted_level(volume, length, width, depth, position, acceleration) <= pick_up_height)

    limit = bisect(covered, np.zeros(shape), np.full(shape, _MOST_ACCELERATION), _BISECTIONS)
    return np.where(limit > 0.999 * _MOST_ACCELERATION, np.inf, np.where(limit < 1e-6, 0.0, limit))


def cover_time(volume: Any, net_outflow: Any) -> Any:
    """Return how long a surge pot or baffle feeds the pump while nothing flows in.

    Parameters
    ----------
    volume : array
        Usable, m3.
    net_outflow : array
        Pump flow less what returns to the pot, m3/s.

    Returns
    -------
    array
        s; infinite where the pot does not empty.

    Examples
    --------
    >>> round(float(cover_time(1.5e-3, 100e-3 / 3600.0)))
    54
    """
    net = np.asarray(net_outflow, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(net > 0.0, np.asarray(volume, dtype=float) / net, np.inf)
