"""Resistance of copper wire, and what a measured voltage drop says about a circuit."""

from __future__ import annotations

import numpy as np

from fuelsim.typing import FloatArray, FloatLike

__all__ = [
    "circuit_resistance",
    "copper_resistivity",
    "gauge_diameter",
    "gauge_stranding",
    "metric_stranding",
    "wire_resistance",
]

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


# Largest resistance at 20 degC of class 5 conductors, plain, ohm/km, by cross-section, mm2 [iec_60228].
_METRIC_SECTIONS = np.array([0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0, 10.0])
_METRIC_RESISTANCES = np.array([39.0, 26.0, 19.5, 13.3, 7.98, 4.95, 3.30, 1.91])
# Copper of car wire by gauge, mm2: 18 is 16 strands of 30 AWG, 16 to 8 are 19 strands of 29, 27, 25, 23, 21
# [sae_j1128].
_CAR_GAUGES = np.array([8.0, 10.0, 12.0, 14.0, 16.0, 18.0])
_CAR_SECTIONS = np.array([7.80, 4.90, 3.08, 1.94, 1.22, 0.81])


def metric_stranding(area: FloatLike) -> FloatArray:
    """Return the resistance of a stranded conductor over that of solid copper of its nominal cross-section.

    Parameters
    ----------
    area : float or array
        Nominal cross-section, m2.

    Returns
    -------
    array
        1.11 to 1.16: straight between the sizes of IEC 60228, its ends beyond them.

    Notes
    -----
    Source: largest permitted resistance of class 5, flexible conductors [iec_60228]; car wire of 1.5 mm2 is seen with
    12.7 ohm/km [iso_6722_1].

    Examples
    --------
    >>> round(float(metric_stranding(4e-6)), 2)
    1.15
    """
    solid = 1e9 * COPPER_RESISTIVITY / _METRIC_SECTIONS
    result: FloatArray = np.interp(1e6 * np.asarray(area, dtype=float), _METRIC_SECTIONS, _METRIC_RESISTANCES / solid)
    return result


def gauge_stranding(gauge: FloatLike) -> FloatArray:
    """Return the resistance of car wire of a gauge over that of the solid gauge of ASTM B258.

    Parameters
    ----------
    gauge : float or array
        AWG number.

    Returns
    -------
    array
        1.02 at 18, about 1.07 from 16 to 8: straight between the gauges, its ends beyond them.

    Notes
    -----
    Source: strandings of primary wire [sae_j1128].

    Examples
    --------
    >>> gauge_stranding(np.array([12.0, 18.0])).round(2).tolist()
    [1.07, 1.02]
    """
    solid = 0.25e6 * np.pi * gauge_diameter(_CAR_GAUGES) ** 2
    result: FloatArray = np.interp(gauge, _CAR_GAUGES, solid / _CAR_SECTIONS)
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
