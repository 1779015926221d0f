"""Speed of a pressure wave in a line: the liquid's own compressibility and the give of the wall."""

from __future__ import annotations

import numpy as np

from fuelsim.typing import FloatLike

__all__ = ["joukowsky_rise", "wall_compliance", "wave_speed"]


def wall_compliance(bore: FloatLike, wall: FloatLike, elastic_modulus: FloatLike) -> FloatLike:
    """Return by which share of its contents a thin-walled tube widens for each pascal, D/(E e).

    Parameters
    ----------
    bore, wall : float or array
        Inside diameter D and wall thickness e, m.
    elastic_modulus : float or array
        Young's modulus E of the wall, Pa.

    Returns
    -------
    float or array
        1/Pa.

    Notes
    -----
    A hoop stress p D/(2 e) widens the bore by p D^2/(2 E e), the contents by twice that share; the length is free. The
    thick wall of a steel tube of 8 x 1 mm gives way by a fifth more, less than 1 % of the liquid's own compressibility.

    Examples
    --------
    >>> f"{wall_compliance(0.008, 0.001, 200e9):.2g}"
    '4e-11'
    """
    return bore / (elastic_modulus * wall)


def wave_speed(density: FloatLike, bulk_modulus: FloatLike, compliance: FloatLike = 0.0) -> FloatLike:
    """Return the speed of a pressure wave in a line, a = 1/sqrt(rho (1/K + c)).

    Parameters
    ----------
    density : float or array
        Density rho of the liquid, kg/m3.
    bulk_modulus : float or array
        Bulk modulus K of the liquid, Pa; the isentropic one, rho times the square of the speed of sound.
    compliance : float or array
        Share c of the contents by which the wall gives way for each pascal, 1/Pa; D/(E e) of a thin wall.

    Returns
    -------
    float or array
        m/s.

    Notes
    -----
    From the balances of mass, d(rho A)/dp = rho A (1/K + c), and of momentum of a short piece of line.

    Examples
    --------
    Petrol in a steel tube of 8 mm with a wall of 1 mm:

    >>> round(float(wave_speed(740.0, 1.0e9, wall_compliance(0.008, 0.001, 200e9))), 1)
    1139.9
    """
    speed: FloatLike = 1.0 / np.sqrt(density * (1.0 / bulk_modulus + compliance))
    return speed


def joukowsky_rise(density: FloatLike, speed: FloatLike, velocity: FloatLike) -> FloatLike:
    """Return the pressure rise where a flow is stopped in less time than a wave takes to return, rho a v.

    Parameters
    ----------
    density : float or array
        Density rho of the liquid, kg/m3.
    speed : float or array
        Wave speed a, m/s.
    velocity : float or array
        Velocity v that is stopped, m/s.

    Returns
    -------
    float or array
        Pa.

    Examples
    --------
    180 L/h of petrol in 8 mm, at a wave speed of 1000 m/s:

    >>> round(float(joukowsky_rise(740.0, 1000.0, 0.99472)) / 1e3, 2)
    736.09
    """
    return density * speed * velocity
