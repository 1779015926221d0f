"""A cooler or any line with a conductance to the air."""

from __future__ import annotations

from typing import Any

import numpy as np

__all__ = ["cooled_temperature", "cooler_heat"]


def cooled_temperature(temperature: Any, air_temperature: Any, conductance: Any, heat_capacity_flow: Any) -> np.ndarray:
    """Return the outlet temperature of fuel that exchanges heat with air of one temperature.

    T = T_air + (T_in - T_air) exp(-UA/C).

    Parameters
    ----------
    temperature, air_temperature : array
        Inlet and air, K.
    conductance : array
        UA, W/K.
    heat_capacity_flow : array
        C, mass flow times heat capacity, W/K.

    Returns
    -------
    array
        K; the air's where nothing flows.

    Examples
    --------
    >>> round(float(cooled_temperature(350.0, 310.0, 12.0, 50.0)), 2)
    341.47
    """
    capacity = np.asarray(heat_capacity_flow, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        units = np.where(capacity > 0.0, np.asarray(conductance) / capacity, np.inf)
    return air_temperature + (np.asarray(temperature, dtype=float) - air_temperature) * np.exp(-units)


def cooler_heat(temperature: Any, air_temperature: Any, conductance: Any, heat_capacity_flow: Any) -> np.ndarray:
    """Return the heat a cooler takes from the fuel, W; arguments as `cooled_temperature`.

    Examples
    --------
    >>> round(float(cooler_heat(350.0, 310.0, 12.0, 50.0)))
    427
    """
    outlet = cooled_temperature(temperature, air_temperature, conductance, heat_capacity_flow)
    return np.asarray(heat_capacity_flow, dtype=float) * (np.asarray(temperature, dtype=float) - outlet)
