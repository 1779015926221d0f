"""Pressure loss of filters and strainers: a viscous and an inertial part."""

from __future__ import annotations

from typing import Any

import numpy as np

from fuelsim.laws.link import LinkLaw

__all__ = ["FILTER", "filter_coefficients", "filter_loss"]


def filter_loss(q: Any, coefficients: tuple[Any, ...]) -> tuple[Any, Any]:
    """Return loss and slope of a filter medium, dp = r q + s q|q| (Darcy and Forchheimer).

    Parameters
    ----------
    q : array
        Volume flow, m3/s.
    coefficients : tuple
        ``(r, s)``: viscous resistance, Pa s/m3, positive; inertial resistance, Pa s2/m6, not negative.

    Returns
    -------
    loss, slope : array
        Pa and Pa s/m3.

    Examples
    --------
    >>> loss, slope = filter_loss(np.array([-2.0, 0.0, 2.0]), (1.0, 0.5))
    >>> loss.tolist(), slope.tolist()
    ([-4.0, 0.0, 4.0], [3.0, 1.0, 3.0])
    """
    viscous, inertial = coefficients
    turbulent = inertial * np.abs(q)
    return q * (viscous + turbulent), viscous + 2.0 * turbulent


def filter_coefficients(
    rated_flow: Any,
    rated_drop: Any,
    viscous_share: Any,
    clogging: Any,
    density: Any,
    dynamic_viscosity: Any,
    rated_density: Any,
    rated_dynamic_viscosity: Any,
) -> tuple[Any, Any]:
    """Return the coefficients of `filter_loss` from one rated point, dp = a mu Q + b rho Q^2.

    Parameters
    ----------
    rated_flow : array
        m3/s.
    rated_drop : array
        Of the clean filter at the rated flow with the rated liquid, Pa.
    viscous_share : array
        Share of the rated drop that is viscous; 0.80-0.95 for clean paper (from memory).
    clogging : array
        Multiplies the viscous part; 1 is clean.
    density, dynamic_viscosity : array
        Of the liquid now, kg/m3 and Pa s.
    rated_density, rated_dynamic_viscosity : array
        Of the liquid of the rating.

    Returns
    -------
    viscous, inertial : array
        Pa s/m3 and Pa s2/m6.

    Examples
    --------
    >>> r, s = filter_coefficients(1.0, 10.0, 0.8, 2.0, 745.0, 4.5e-4, 745.0, 4.5e-4)
    >>> round(float(r), 9), round(float(s), 9)
    (16.0, 2.0)
    """
    viscous = clogging * viscous_share * rated_drop / rated_flow * (dynamic_viscosity / rated_dynamic_viscosity)
    inertial = (1.0 - viscous_share) * rated_drop / rated_flow**2 * (density / rated_density)
    return viscous, inertial


FILTER = LinkLaw("filter", ("viscous", "inertial"), loss=filter_loss)
