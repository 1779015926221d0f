"""Air dissolved in fuel: the volume a fuel dissolves, and the volume of gas released at a lower pressure.

Equilibrium is an upper bound of the release: nucleation takes seconds, and fuel passes a pump in less.
"""

from __future__ import annotations

import numpy as np

from fuelsim.typing import FloatArray, FloatLike

__all__ = ["AIR_MOLAR_MASS", "ostwald_coefficient", "released_gas_ratio"]

AIR_MOLAR_MASS = 0.0289647
"""Molar mass of dry air, kg/mol."""


def ostwald_coefficient(temperature: FloatArray, density_at_15: FloatLike) -> FloatArray:
    """Return the volume of air that a volume of petrol dissolves, at the temperature and partial pressure of the air.

    Parameters
    ----------
    temperature : array (points,)
        K.
    density_at_15 : float or array (points,)
        Density of the fuel at 15 degC, kg/m3.

    Returns
    -------
    array (points,)
        Ostwald coefficient.

    Notes
    -----
    L = 0.300 exp(0.639 (700 - T)/T ln(3.333 L0)) with L0 = 0.098 for air, times 7.70 (0.980 - d) for a fuel of
    density d in kg/L.

    Source: [astm_d2779], whose scope is petroleum liquids of 630 to 900 kg/m3 from 228 to 423 K; the equation is from
    [memory]. Alcohols are outside its scope, and outside that of its sister method ASTM D3827; it is used for blends
    with alcohol all the same.

    Examples
    --------
    >>> ostwald_coefficient(np.array([273.15, 313.15]), 740.0).round(3).tolist()
    [0.181, 0.229]
    """
    at_reference = 0.300 * np.exp(0.639 * (700.0 - temperature) / temperature * np.log(3.333 * 0.098))
    coefficient: FloatArray = at_reference * 7.70 * np.maximum(0.980 - np.asarray(density_at_15) / 1000.0, 0.05)
    return coefficient


def released_gas_ratio(
    ostwald: FloatLike,
    saturation_pressure: FloatLike,
    pressure: FloatLike,
    vapour_pressure: FloatLike,
) -> FloatArray:
    """Return the volume of gas released per volume of liquid when the pressure on air-saturated fuel falls.

    Parameters
    ----------
    ostwald : float or array
        From `ostwald_coefficient`.
    saturation_pressure : float or array
        Total pressure at which the fuel dissolved its air, Pa absolute.
    pressure : float or array
        Present pressure, Pa absolute; above the vapour pressure.
    vapour_pressure : float or array
        Bubble pressure of the air-free fuel, Pa absolute.

    Returns
    -------
    array
        Free gas (air with its share of vapour) per liquid volume; zero at or above the saturation pressure.

    Notes
    -----
    G = L (p0 - p)/(p - pv), an upper bound, for an ideal gas. Source: mass balance with Henry's law.

    Examples
    --------
    20 degC, L 0.205, 36 kPa petrol saturated at 101.3 kPa, now at 90 kPa:

    >>> float(released_gas_ratio(0.205, 101.3e3, 90e3, 36e3).round(3))
    0.043
    """
    above = np.maximum(np.subtract(pressure, vapour_pressure), 1e-12)
    ratio: FloatArray = ostwald * np.maximum(np.subtract(saturation_pressure, pressure), 0.0) / above
    return ratio
