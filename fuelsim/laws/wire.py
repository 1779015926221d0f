"""Resistance of copper wire, and what a measured voltage drop says about a circuit."""

from __future__ import annotations

import numpy as np

from fuelsim.typing import FloatArray, FloatLike

__all__ = ["circuit_resistance", "copper_resistivity", "gauge_diameter", "wire_resistance"]

COPPER_RESISTIVITY = 1.724e-8
"""Resistivity of annealed copper at 20 degC, ohm m (International Annealed Copper Standard)."""
COPPER_TEMPERATURE_COEFFICIENT = 0.00393
"""Rise of resistivity per kelvin over that at 20 degC, 1/K (International Annealed Copper Standard)."""
_REFERENCE_TEMPERATURE = 293.15


def gauge_diameter(gauge: FloatLike) -> FloatArray:
    """Return the diameter of an American wire gauge, d = 0.127 mm x 92^((36 - n)/39).

    Parameters
    ----------
    gauge : float or array
        AWG number n; 0 for 1/0, -1 for 2/0.

    Returns
    -------
    array
        Diameter, m.

    Notes
    -----
    Source: ASTM B258.

    Examples
    --------
    >>> round(1e3 * float(gauge_diameter(12)), 3)
    2.053
    """
    return 0.127e-3 * 92.0 ** ((36.0 - np.asarray(gauge, dtype=float)) / 39.0)


def copper_resistivity(temperature: FloatLike) -> FloatArray:
    """Return the resistivity of annealed copper, 1.724e-8 ohm m at 20 degC and 0.393 % more per kelvin.

    Parameters
    ----------
    temperature : float or array
        Temperature of the copper, K.

    Returns
    -------
    array
        Resistivity, ohm m.

    Notes
    -----
    Source: International Annealed Copper Standard.

    Examples
    --------
    >>> float(copper_resistivity(293.15))
    1.724e-08
    """
    return COPPER_RESISTIVITY * (
        1.0 + COPPER_TEMPERATURE_COEFFICIENT * (np.asarray(temperature, dtype=float) - _REFERENCE_TEMPERATURE)
    )


def wire_resistance(length: FloatLike, area: FloatLike, temperature: FloatLike = _REFERENCE_TEMPERATURE) -> FloatArray:
    """Return the resistance of a copper wire, R = rho(T) l / A.

    Parameters
    ----------
    length : float or array
        Length l of the current's path, out and back, m.
    area : float or array
        Copper cross-section A, m2.
    temperature : float or array
        Temperature T of the copper, K.

    Returns
    -------
    array
        Resistance, ohm.

    Examples
    --------
    >>> area = np.pi / 4.0 * gauge_diameter(12) ** 2
    >>> round(1e3 * float(wire_resistance(1.0, area)), 2)  # ohm per km, ASTM B258: 5.21
    5.21
    """
    result: FloatArray = copper_resistivity(temperature) * length / area
    return result


def circuit_resistance(open_voltage: FloatLike, loaded_voltage: FloatLike, current: FloatLike) -> FloatArray:
    """Return the resistance in a circuit from its voltage with and without load, R = (U0 - U)/I.

    Parameters
    ----------
    open_voltage, loaded_voltage : float or array
        Voltages U0 and U at the pump's plug without and with the pump running, V.
    current : float or array
        Current I while the pump runs, A.

    Returns
    -------
    array
        Resistance, ohm.

    Examples
    --------
    >>> round(float(circuit_resistance(12.5, 6.6, 6.0)), 2)
    0.98
    """
    result: FloatArray = (np.asarray(open_voltage) - loaded_voltage) / current
    return result
