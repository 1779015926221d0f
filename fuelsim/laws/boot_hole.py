"""Air that a pump draws through a hole in the sleeve between strainer and inlet, once fuel no longer covers it."""

from __future__ import annotations

from math import pi

import numpy as np

from fuelsim.constants import GRAVITY
from fuelsim.typing import FloatArray, FloatLike

__all__ = ["hole_flow"]


def hole_flow(
    level: FloatLike,
    height: FloatLike,
    diameter: FloatLike,
    strainer_drop: FloatLike,
    fuel_density: FloatLike,
    air_density: FloatLike,
    discharge_coefficient: FloatLike = 0.61,
) -> FloatArray:
    """Return the volume flow of air through a hole, q = C A sqrt(2 dp / rho_air), m3/s.

    Inside, at the hole, the pressure is below that of the tank's vapour space by what the strainer takes and by the
    column of fuel between its surface and the hole, dp = dp_strainer + rho g (h - level). A covered hole draws fuel.

    Parameters
    ----------
    level : float or array
        Height of the fuel's surface, m.
    height : float or array
        Height h of the hole above the same floor, m.
    diameter : float or array
        Diameter of the hole, m.
    strainer_drop : float or array
        Pressure lost in strainer and sleeve up to the hole, Pa.
    fuel_density, air_density : float or array
        Densities of the fuel and of the air in the tank, kg/m3.
    discharge_coefficient : float or array
        Share of the flow of the ideal jet; 0.61 is a sharp-edged hole, as in `Orifice`.

    Returns
    -------
    array
        m3/s; 0 where fuel covers the hole.

    Notes
    -----
    Bernoulli's equation of a jet; air of some kPa is as good as incompressible.

    Examples
    --------
    A hole of 1 mm, 50 mm above the surface, behind a strainer that takes 1 kPa, in L/h:

    >>> round(float(hole_flow(0.03, 0.08, 1e-3, 1e3, 745.0, 1.15)) * 3.6e6)
    84
    """
    bare = np.asarray(height, dtype=float) - level
    difference = strainer_drop + fuel_density * GRAVITY * np.maximum(bare, 0.0)
    jet = discharge_coefficient * 0.25 * pi * np.asarray(diameter) ** 2 * np.sqrt(2.0 * difference / air_density)
    return np.where(bare > 0.0, jet, 0.0)
