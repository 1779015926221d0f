"""Where a vented tank boils: altitude against fuel temperature."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim import units
from fuelsim.laws.atmosphere import standard_pressure

if TYPE_CHECKING:
    from fuelsim.fuel.fuel import Fuel

__all__ = ["boiling_altitude", "boiling_temperature"]


def boiling_temperature(fuel: Fuel, altitude: Any) -> Any:
    """Return the temperature at which fuel in a vented tank begins to boil.

    Parameters
    ----------
    fuel : Fuel
    altitude : float, str or array
        m above sea level, in the standard atmosphere.

    Returns
    -------
    float or array
        K.

    Examples
    --------
    A winter fuel boils some 6 to 8 K sooner at 2240 m:

    >>> from fuelsim.fuel.fuel import Fuel
    >>> sea, high = boiling_temperature(Fuel.named("winter_e10"), [0.0, 2240.0])
    >>> bool(6.0 < sea - high < 10.0)
    True
    """
    height = np.asarray(units.convert(altitude, "altitude"), dtype=float)
    return fuel.bubble_temperature(standard_pressure(height))


def boiling_altitude(fuel: Fuel, temperature: Any) -> Any:
    """Return the lowest altitude at which fuel of a temperature boils in a vented tank.

    Parameters
    ----------
    fuel : Fuel
    temperature : float, str or array
        K.

    Returns
    -------
    float or array
        m above sea level; minus infinity where the fuel boils at -1000 m, infinity where it does not at 11 000 m.
    """
    heights = np.linspace(-1000.0, 11_000.0, 241)
    pressures = standard_pressure(heights)
    bubble = np.asarray(fuel.bubble_pressure(temperature), dtype=float)
    found = np.interp(np.log(bubble), np.log(pressures[::-1]), heights[::-1])
    found = np.where(bubble > pressures[0], -np.inf, np.where(bubble < pressures[-1], np.inf, found))
    return float(found) if found.ndim == 0 else found
