"""Where a vented tank boils: altitude against fuel temperature."""

from __future__ import annotations

import numpy as np

from fuelsim import units
from fuelsim.arguments import takes
from fuelsim.fuel.fuel import Fuel
from fuelsim.laws.atmosphere import standard_pressure
from fuelsim.system.conditions import CONDITIONS
from fuelsim.typing import FloatLike, Given

__all__ = ["boiling_altitude", "boiling_temperature"]

LOWEST, HIGHEST = -1000.0, 11_000.0
"""Range of altitudes searched, m: the standard atmosphere's troposphere."""


@takes({"altitude": CONDITIONS["altitude"]})
def boiling_temperature(fuel: Fuel, altitude: Given) -> FloatLike:
    """Return the temperature at which fuel in a vented tank begins to boil.

    Parameters
    ----------
    fuel : Fuel
        The fuel in the tank.
    altitude : float, str or array
        Altitude above sea level, in the standard atmosphere, m.

    Returns
    -------
    float or array
        Bubble temperature at the pressure of the atmosphere, K.

    Raises
    ------
    InputError
        For an altitude in another kind of unit.

    Examples
    --------
    A winter fuel boils some 6 to 8 K sooner at 2240 m:

    >>> from fuelsim.fuel.fuel import Fuel
    >>> sea, high = boiling_temperature(Fuel.named("winter_e10"), [0.0, 2240.0])
    >>> bool(6.0 < sea - high < 10.0)
    True
    """
    height = np.asarray(units.convert(altitude, "altitude"), dtype=float)
    temperature: FloatLike = fuel.bubble_temperature(standard_pressure(height))
    return temperature


def boiling_altitude(fuel: Fuel, temperature: Given) -> FloatLike:
    """Return the lowest altitude at which fuel of a temperature boils in a vented tank.

    Parameters
    ----------
    fuel : Fuel
        The fuel in the tank.
    temperature : float, str or array
        Temperature of the fuel, K.

    Returns
    -------
    float or array
        Altitude above sea level, m; minus infinity where the fuel boils at -1000 m, infinity where it does not at
        11 000 m.

    Raises
    ------
    InputError
        For a temperature in another kind of unit.

    Examples
    --------
    A fuel boils higher up where it is cooler:

    >>> from fuelsim.fuel.fuel import Fuel
    >>> hot, warm = boiling_altitude(Fuel.named("winter_e10"), ["36 degC", "30 degC"])
    >>> bool(hot < warm)
    True
    """
    heights = np.linspace(LOWEST, HIGHEST, 241)
    pressures = standard_pressure(heights)
    bubble = np.asarray(fuel.bubble_pressure(temperature), dtype=float)
    altitude = np.interp(np.log(bubble), np.log(pressures[::-1]), heights[::-1])
    altitude = np.where(bubble > pressures[0], -np.inf, np.where(bubble < pressures[-1], np.inf, altitude))
    return float(altitude) if altitude.ndim == 0 else altitude
