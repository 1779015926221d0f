"""Liquid and vapour that flow together as one: the homogeneous mixture.

Both phases have one velocity, as in fast flow through small lines; the mixture then has one density and one viscosity,
and its loss follows the law of a single fluid. The flow through a link is counted as volume of liquid, so a mixture of
vapour-liquid ratio V/L flows (1 + V/L) times as fast as the liquid alone.
"""

from __future__ import annotations

import numpy as np

from fuelsim.constants import GAS_CONSTANT
from fuelsim.typing import FloatArray, FloatLike

__all__ = ["VAPOUR_VISCOSITY", "mixture_density", "mixture_viscosity", "vapour_density", "vapour_mass_fraction"]

VAPOUR_VISCOSITY = 8e-6
"""Dynamic viscosity of petrol vapour near 50 degC, Pa s: butane 8.0, pentane 7.3, air 19.6, in 1e-6 Pa s [coolprop]; it
hardly matters to a mixture."""


def vapour_density(temperature: FloatLike, pressure: FloatLike, molar_mass: FloatLike) -> FloatArray:
    """Return the density of an ideal vapour, p M / (R T).

    Parameters
    ----------
    temperature, pressure : float or array
        Temperature T, K, and pressure p, Pa absolute.
    molar_mass : float or array
        Molar mass M, kg/mol; the vapour of petrol has 0.062 to 0.068 (US EPA AP-42 sec. 7.1).

    Returns
    -------
    array
        Density, kg/m3.

    Examples
    --------
    >>> round(float(vapour_density(318.15, 101325.0, 0.066)), 2)
    2.53
    """
    return np.asarray(pressure) * molar_mass / (GAS_CONSTANT * np.asarray(temperature))


def mixture_density(liquid_density: FloatLike, vapour_density: FloatLike, vapour_liquid_ratio: FloatLike) -> FloatArray:
    """Return the density of a homogeneous mixture, ``(rho_l + r rho_v) / (1 + r)`` with r = V/L.

    Parameters
    ----------
    liquid_density, vapour_density : float or array
        Densities of both phases, kg/m3; a vapour density of 0 neglects the vapour's mass, which is below one per cent
        for petrol at V/L under 2.
    vapour_liquid_ratio : float or array
        Volume of vapour per volume of liquid, not negative.

    Returns
    -------
    array
        Density, kg/m3.

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


def mixture_viscosity(
    liquid_viscosity: FloatLike, vapour_viscosity: FloatLike, vapour_liquid_ratio: FloatLike
) -> FloatArray:
    """Return the dynamic viscosity of a homogeneous mixture, the mean of both weighted by volume.

    Parameters
    ----------
    liquid_viscosity, vapour_viscosity : float or array
        Dynamic viscosities of both phases, Pa s.
    vapour_liquid_ratio : float or array
        Volume of vapour per volume of liquid, not negative.

    Returns
    -------
    array
        Dynamic viscosity, Pa s.

    Notes
    -----
    Mean by volume, Dukler's rule [fourar_bories_1995]. Other rules give up to 2.5 times the viscosity at V/L 1.5
    (McAdams 0.315, Cicchitti 0.398, Beattie & Whalley 0.405 against 0.165 mPa s); turbulent loss, which goes with its
    fifth root, is up to 20 % more by them.

    Examples
    --------
    >>> round(float(mixture_viscosity(4e-4, 8e-6, 1.0)), 6)
    0.000204
    """
    ratio = np.asarray(vapour_liquid_ratio, dtype=float)
    return (np.asarray(liquid_viscosity) + ratio * vapour_viscosity) / (1.0 + ratio)


def vapour_mass_fraction(
    liquid_density: FloatLike, vapour_density: FloatLike, vapour_liquid_ratio: FloatLike
) -> FloatArray:
    """Return the mass of vapour per mass of mixture, ``r rho_v / (rho_l + r rho_v)``.

    Parameters
    ----------
    liquid_density, vapour_density : float or array
        Densities of both phases, kg/m3.
    vapour_liquid_ratio : float or array
        Volume r of vapour per volume of liquid, not negative.

    Returns
    -------
    array
        From 0 to 1.

    Examples
    --------
    >>> round(float(vapour_mass_fraction(700.0, 2.8, 1.0)), 4)
    0.004
    """
    vapour = np.asarray(vapour_liquid_ratio, dtype=float) * vapour_density
    return vapour / (np.asarray(liquid_density) + vapour)
