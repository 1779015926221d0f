"""Liquid and vapour that flow together as one: the homogeneous mixture.

Both phases have one velocity, as in fast flow through small lines; the mixture then has one density and one viscosity,
and its loss follows the law of a single fluid. What flows through a link is counted as liquid volume, so a mixture that
has swollen (1 + V/L) times moves (1 + V/L) times as fast.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from fuelsim.constants import GAS_CONSTANT

__all__ = ["VAPOUR_VISCOSITY", "mixture_density", "mixture_viscosity", "vapour_density", "vapour_mass_fraction"]

VAPOUR_VISCOSITY = 8e-6
"""Pa s, petrol vapour near 50 degC (typical, from memory: pentane 7.5, air 19.5); it hardly matters to a mixture."""


def vapour_density(temperature: Any, pressure: Any, molar_mass: Any) -> Any:
    """Return the density of an ideal vapour, kg/m3.

    Parameters
    ----------
    temperature, pressure : float or array
        K, Pa absolute.
    molar_mass : float or array
        kg/mol; the vapour of petrol has 0.062 to 0.068 (US EPA AP-42 sec. 7.1).

    Examples
    --------
    >>> round(float(vapour_density(318.15, 101325.0, 0.066)), 2)
    2.53
    """
    return np.asarray(pressure) * molar_mass / (GAS_CONSTANT * np.asarray(temperature))


def mixture_density(liquid_density: Any, vapour_density: Any, vapour_liquid_ratio: Any) -> Any:
    """Return the density of a homogeneous mixture, ``(rho_l + r rho_v) / (1 + r)`` with r = V/L, kg/m3.

    Parameters
    ----------
    liquid_density, vapour_density : float or array
        kg/m3; a vapour density of 0 leaves out the vapour's own mass, below a percent for petrol at V/L under 2.
    vapour_liquid_ratio : float or array
        Volume of vapour per volume of liquid, not negative.

    Notes
    -----
    Source: homogeneous model, volume balance (exact for equal velocities).

    Examples
    --------
    >>> float(mixture_density(700.0, 2.8, 1.0))
    351.4
    """
    ratio = np.asarray(vapour_liquid_ratio, dtype=float)
    return (np.asarray(liquid_density) + ratio * vapour_density) / (1.0 + ratio)


def mixture_viscosity(liquid_viscosity: Any, vapour_viscosity: Any, vapour_liquid_ratio: Any) -> Any:
    """Return the dynamic viscosity of a homogeneous mixture, the mean of both weighted by volume, Pa s.

    Parameters
    ----------
    liquid_viscosity, vapour_viscosity : float or array
        Dynamic, Pa s.
    vapour_liquid_ratio : float or array

    Notes
    -----
    Source: Dukler, Wicks & Cleveland, AIChE J. 10 (1964) 38 (from memory). Other rules differ by up to half in
    viscosity, which turbulent loss feels with its fifth part.

    Examples
    --------
    >>> mixture_viscosity(4e-4, 8e-6, 1.0)
    0.000204
    """
    ratio = np.asarray(vapour_liquid_ratio, dtype=float)
    mean = (np.asarray(liquid_viscosity) + ratio * vapour_viscosity) / (1.0 + ratio)
    return float(mean) if mean.ndim == 0 else mean


def vapour_mass_fraction(liquid_density: Any, vapour_density: Any, vapour_liquid_ratio: Any) -> Any:
    """Return the mass of vapour per mass of mixture, ``r rho_v / (rho_l + r rho_v)``.

    Parameters
    ----------
    liquid_density, vapour_density : float or array
        kg/m3.
    vapour_liquid_ratio : float or array

    Examples
    --------
    >>> round(float(vapour_mass_fraction(700.0, 2.8, 1.0)), 4)
    0.004
    """
    vapour = np.asarray(vapour_liquid_ratio, dtype=float) * vapour_density
    return vapour / (np.asarray(liquid_density) + vapour)
