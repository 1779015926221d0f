"""Pressure loss of an orifice: quadratic, turning linear where the flow through it is laminar."""

from __future__ import annotations

from math import pi
from typing import NamedTuple

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.laws.link import LawSample, LinkLaw, flows_both_ways
from fuelsim.typing import FloatLike, LinkArray

__all__ = ["CREEPING_LOSS", "LENGTH_LOSS", "ORIFICE", "OrificeCoefficients", "orifice_coefficients", "orifice_loss"]

CREEPING_LOSS = 12.0 * pi
"""Loss coefficient times Reynolds number of creeping flow through a hole in a thin plate: dp = 6 pi mu v/d (Sampson
1891, exact)."""
LENGTH_LOSS = 64.0
"""The same for each diameter of the hole's length (Poiseuille)."""
_TYPICAL_DROP = 1e5
"""Pressure drop whose flow Newton's iteration starts from, Pa."""


class OrificeCoefficients(NamedTuple):
    """Coefficients of `orifice_loss`.

    Attributes
    ----------
    resistance : float or array
        Turbulent resistance R, Pa s2/m6.
    laminar_flow : float or array
        Flow at which the laminar and the turbulent loss are equal, m3/s.
    """

    resistance: FloatLike
    laminar_flow: FloatLike


def orifice_coefficients(
    diameter: FloatLike,
    discharge_coefficient: FloatLike,
    density: FloatLike,
    kinematic_viscosity: FloatLike,
    length: FloatLike = 0.0,
) -> OrificeCoefficients:
    """Return the coefficients of `orifice_loss`.

    Parameters
    ----------
    diameter : float or array (points,)
        Diameter of the hole, m.
    discharge_coefficient : float or array (points,)
        Flow over that of the ideal jet, in turbulent flow.
    density, kinematic_viscosity : float or array (points,)
        Properties of the liquid, kg/m3 and m2/s.
    length : float or array (points,)
        Length of the hole, the thickness of its plate, m.

    Returns
    -------
    OrificeCoefficients

    Notes
    -----
    The laminar and the turbulent loss are equal at Re = C^2 (12 pi + 64 L/d), where K Re = 12 pi + 64 L/d of creeping
    flow meets K = 1/C^2; computed flow fields give K Re 41.8 at L/d 0.10 and 57.7 at 0.37 [orifice_flow_fields].

    Examples
    --------
    R = rho / (2 (C A)^2) with A = 0.25 pi mm2 and C = 0.61:

    >>> f"{orifice_coefficients(1e-3, 0.61, 1000.0, 1e-6).resistance:.4g}"
    '2.178e+15'
    """
    area = 0.25 * pi * diameter * diameter
    resistance = 0.5 * density / (discharge_coefficient * area) ** 2
    reynolds = discharge_coefficient**2 * (CREEPING_LOSS + LENGTH_LOSS * length / diameter)
    return OrificeCoefficients(resistance, reynolds * kinematic_viscosity * area / diameter)


def orifice_loss(flow: LinkArray, c: OrificeCoefficients) -> tuple[LinkArray, LinkArray]:
    """Return the loss of an orifice, R q sqrt(q^2 + q_laminar^2) with R = rho / (2 (C A)^2), and its slope.

    Parameters
    ----------
    flow : array (links, points)
        Volume flow q, m3/s.
    c : OrificeCoefficients

    Returns
    -------
    loss, slope : array (links, points)
        Pa and Pa s/m3.

    Examples
    --------
    A 1 mm hole with C = 0.61 passes C A sqrt(2 dp / rho) = 13.639 mL/s of water at 405 kPa:

    >>> orifice_loss(np.array([13.639e-6]), orifice_coefficients(1e-3, 0.61, 1000.0, 1e-6))[0].round(-3).tolist()
    [405000.0]
    """
    square = flow * flow + c.laminar_flow * c.laminar_flow
    root = np.sqrt(square)
    return c.resistance * flow * root, c.resistance * (square + flow * flow) / root


def _typical_flow(c: OrificeCoefficients) -> LinkArray:
    return np.asarray(np.sqrt(_TYPICAL_DROP / c.resistance))


def _sample() -> tuple[LawSample, ...]:
    """Return holes of 0.3, 1 and 5 mm, from 1e-4 to 100 L/h both ways."""
    holes = (orifice_coefficients(diameter, 0.61, 740.0, 0.6e-6) for diameter in (3e-4, 1e-3, 5e-3))
    flow = flows_both_ways(1e-4 * L_PER_HOUR, 100.0 * L_PER_HOUR, 7e-9)
    return tuple(LawSample(hole, flow) for hole in holes)


ORIFICE = LinkLaw(
    name="orifice",
    coefficients=OrificeCoefficients,
    loss=orifice_loss,
    typical_flow=_typical_flow,
    sample=_sample,
)
