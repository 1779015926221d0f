"""Pressure loss of an orifice: quadratic, turning linear where the flow through it is laminar."""

from __future__ import annotations

from math import pi
from typing import Any

import numpy as np

from fuelsim.laws.link import LinkLaw

__all__ = ["LAMINAR_REYNOLDS", "ORIFICE", "orifice_coefficients", "orifice_loss"]

LAMINAR_REYNOLDS = 15.0
"""Reynolds number of the hole at which the laminar and the turbulent loss are equal.

Sharp-edged orifices leave the constant discharge coefficient near Re 10-25 (Merritt, Hydraulic Control Systems,
1967, from memory).
"""


def orifice_coefficients(
    diameter: Any, discharge_coefficient: Any, density: Any, kinematic_viscosity: Any
) -> tuple[Any, ...]:
    """Return the coefficients of `orifice_loss`.

    Parameters
    ----------
    diameter : float or array (points,)
        m.
    discharge_coefficient : float or array (points,)
        Flow over that of the ideal jet, in turbulent flow.
    density, kinematic_viscosity : float or array (points,)
        kg/m3 and m2/s.

    Returns
    -------
    resistance, laminar_flow
        Pa s2/m6 and m3/s.
    """
    area = 0.25 * pi * diameter * diameter
    resistance = 0.5 * density / (discharge_coefficient * area) ** 2
    return resistance, LAMINAR_REYNOLDS * kinematic_viscosity * area / diameter


def orifice_loss(flow: Any, coefficients: tuple[Any, ...]) -> tuple[Any, Any]:
    """Return the loss of an orifice, R q sqrt(q^2 + q_laminar^2) with R = rho / (2 (C A)^2), and its slope.

    Parameters
    ----------
    flow : array (links, points)
        m3/s.
    coefficients : tuple
        ``resistance`` (Pa s2/m6) and ``laminar_flow`` (m3/s), from `orifice_coefficients`.

    Returns
    -------
    loss, slope : array (links, points)
        Pa and Pa s/m3.

    Examples
    --------
    A 1 mm hole with C = 0.61 passes C A sqrt(2 dp / rho) = 13.639 mL/s of water at 405 kPa:

    >>> given = orifice_coefficients(1e-3, 0.61, 1000.0, 1e-6)
    >>> orifice_loss(np.array([13.639e-6]), given)[0].round(-3).tolist()
    [405000.0]
    """
    resistance, laminar_flow = coefficients
    square = flow * flow + laminar_flow * laminar_flow
    root = np.sqrt(square)
    return resistance * flow * root, resistance * (square + flow * flow) / root


def _typical_flow(coefficients: tuple[Any, ...]) -> Any:
    return np.sqrt(1e5 / coefficients[0])


ORIFICE = LinkLaw(
    name="orifice", coefficients=("resistance", "laminar_flow"), loss=orifice_loss, typical_flow=_typical_flow
)
