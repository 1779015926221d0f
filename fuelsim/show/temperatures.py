"""Temperatures and differences of temperature in the preferred units, for pictures."""

from __future__ import annotations

import numpy as np

from fuelsim import units
from fuelsim.typing import ArrayLike, FloatArray

__all__ = ["difference_unit", "differences", "temperature_unit", "temperatures", "whole_degrees"]


def temperatures(kelvin: ArrayLike) -> FloatArray:
    """Return temperatures in the preferred unit.

    Parameters
    ----------
    kelvin : float or array
        Temperatures, K.

    Examples
    --------
    >>> float(temperatures(293.15))
    20.0
    """
    return np.asarray(units.shown_values(np.asarray(kelvin, dtype=float), "temperature")[0])


def differences(kelvin: ArrayLike) -> FloatArray:
    """Return differences of temperature in the preferred unit.

    Parameters
    ----------
    kelvin : float or array
        Differences of temperature, such as margins to boiling, K.
    """
    return np.asarray(units.shown_values(np.asarray(kelvin, dtype=float), "temperature difference")[0])


def temperature_unit() -> str:
    """Return the preferred unit of temperature as it is printed."""
    return units.shown_values(0.0, "temperature")[1]


def difference_unit() -> str:
    """Return the preferred unit of differences of temperature as it is printed."""
    return units.shown_values(0.0, "temperature difference")[1]


def whole_degrees(kelvin: float) -> str:
    """Return a temperature rounded to the degree, with its unit.

    Parameters
    ----------
    kelvin : float
        Temperature, K.

    Examples
    --------
    >>> whole_degrees(316.3)
    '43 °C'
    """
    return f"{float(temperatures(kelvin)):.0f} {temperature_unit()}"
