"""Pressure loss of filters and strainers: a viscous and an inertial part."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.laws.link import LawSample, LinkLaw, flows_both_ways
from fuelsim.typing import FloatLike, LinkArray

__all__ = ["FILTER", "FilterCoefficients", "filter_coefficients", "filter_loss"]


_LEAST_VISCOUS_SHARE = 1e-5


class FilterCoefficients(NamedTuple):
    """Coefficients of `filter_loss`.

    Attributes
    ----------
    viscous : float or array
        Viscous resistance r, Pa s/m3, positive.
    inertial : float or array
        Inertial resistance s, Pa s2/m6, not negative.
    """

    viscous: FloatLike
    inertial: FloatLike


def filter_loss(flow: LinkArray, c: FilterCoefficients) -> tuple[LinkArray, LinkArray]:
    """Return loss and slope of a filter medium, dp = r q + s q|q| (Darcy and Forchheimer).

    Parameters
    ----------
    flow : array (links, points)
        Volume flow q, m3/s.
    c : FilterCoefficients

    Returns
    -------
    loss, slope : array (links, points)
        Pa and Pa s/m3.

    Examples
    --------
    >>> loss, slope = filter_loss(np.array([-2.0, 0.0, 2.0]), FilterCoefficients(1.0, 0.5))
    >>> loss.tolist(), slope.tolist()
    ([-4.0, 0.0, 4.0], [3.0, 1.0, 3.0])
    """
    inertial = c.inertial * np.abs(flow)
    return flow * (c.viscous + inertial), c.viscous + 2.0 * inertial


def filter_coefficients(
    rated_flow: FloatLike,
    rated_drop: FloatLike,
    viscous_share: FloatLike,
    clogging: FloatLike,
    density: FloatLike,
    dynamic_viscosity: FloatLike,
    rated_density: float,
    rated_dynamic_viscosity: float,
) -> FilterCoefficients:
    """Return the coefficients of `filter_loss` from one rated point, dp = a mu Q + b rho Q^2.

    Parameters
    ----------
    rated_flow : float or array (points,)
        Flow of the rated point, m3/s.
    rated_drop : float or array (points,)
        Drop of the clean filter at the rated flow with the rated liquid, Pa.
    viscous_share : float or array (points,)
        Viscous part of the rated drop over the whole drop; 0.80-0.95 for clean paper [memory], 0 for a purely
        quadratic loss, of which a hundred-thousandth is then kept viscous so that the slope is positive at zero flow.
    clogging : float or array (points,)
        Factor on the viscous part; 1 is clean.
    density, dynamic_viscosity : float or array (points,)
        Properties of the liquid that flows, kg/m3 and Pa s.
    rated_density, rated_dynamic_viscosity : float
        Properties of the liquid of the rating, kg/m3 and Pa s.

    Returns
    -------
    FilterCoefficients

    Examples
    --------
    >>> c = filter_coefficients(1.0, 10.0, 0.8, 2.0, 745.0, 4.5e-4, 745.0, 4.5e-4)
    >>> round(float(c.viscous), 9), round(float(c.inertial), 9)
    (16.0, 2.0)
    """
    linear = np.maximum(viscous_share, _LEAST_VISCOUS_SHARE)
    viscous = clogging * linear * rated_drop / rated_flow * (dynamic_viscosity / rated_dynamic_viscosity)
    inertial = (1.0 - linear) * rated_drop / rated_flow**2 * (density / rated_density)
    return FilterCoefficients(viscous, inertial)


def _sample() -> tuple[LawSample, ...]:
    """Return a paper filter, an almost quadratic and an almost linear one, from 1e-4 to 300 L/h both ways."""
    flow = flows_both_ways(1e-4 * L_PER_HOUR, 300.0 * L_PER_HOUR)
    ratings = ((1e8, 1e13), (1e3, 1e13), (1e10, 0.0))
    return tuple(LawSample(FilterCoefficients(*rating), flow) for rating in ratings)


FILTER = LinkLaw("filter", FilterCoefficients, loss=filter_loss, sample=_sample)
