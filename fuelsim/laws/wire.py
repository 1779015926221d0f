"""Resistance of copper wire, and what a measured voltage drop says about a circuit."""

from __future__ import annotations

from typing import Any

import numpy as np

__all__ = ["circuit_resistance", "copper_resistivity", "gauge_diameter", "wire_resistance"]

COPPER_RESISTIVITY = 1.724e-8
COPPER_TEMPERATURE_COEFFICIENT = 0.00393
_REFERENCE_TEMPERATURE = 293.15


def gauge_diameter(gauge: Any) -> Any:
    """Return the diameter of an American wire gauge, d = 0.127 mm x 92^((36 - n)/39).

    Parameters
    ----------
    gauge : array
        AWG number n; 0 for 1/0, -1 for 2/0.

    Returns
    -------
    array
        m.

    Notes
    -----
    Source: ASTM B258.

    Examples
    --------
    >>> round(1e3 * float(gauge_diameter(12)), 3)
    2.053
    """
    return 0.127e-3 * 92.0 ** ((36.0 - np.asarray(gauge, dtype=float)) / 39.0)


def copper_resistivity(temperature: Any) -> Any:
    """Return the resistivity of annealed copper, 1.724e-8 ohm m at 20 degC and 0.393 % more per kelvin.

    Parameters
    ----------
    temperature : array
        K.

    Returns
    -------
    array
        ohm m.

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


def wire_resistance(length: Any, area: Any, temperature: Any = _REFERENCE_TEMPERATURE) -> Any:
    """Return the resistance of a copper wire, R = rho(T) l / A.

    Parameters
    ----------
    length : array
        The whole way of the current, out and back, m.
    area : array
        Copper cross-section, m2.
    temperature : array
        Of the copper, K.

    Returns
    -------
    array
        ohm.

    Examples
    --------
    >>> area = np.pi / 4.0 * gauge_diameter(12) ** 2
    >>> round(1e3 * float(wire_resistance(1.0, area)), 2)  # ohm per km, ASTM B258: 5.21
    5.21
    """
    return copper_resistivity(temperature) * np.asarray(length, dtype=float) / np.asarray(area, dtype=float)


def circuit_resistance(open_voltage: Any, loaded_voltage: Any, current: Any) -> Any:
    """Return the resistance in a circuit from its voltage with and without load, R = (U0 - U)/I.

    Parameters
    ----------
    open_voltage, loaded_voltage : array
        At the pump's plug, V.
    current : array
        While loaded, A.

    Returns
    -------
    array
        ohm.

    Examples
    --------
    >>> round(float(circuit_resistance(12.5, 6.6, 6.0)), 2)
    0.98
    """
    return (np.asarray(open_voltage, dtype=float) - np.asarray(loaded_voltage, dtype=float)) / np.asarray(
        current, dtype=float
    )
