"""The sun over the hours of a clear day in summer."""

from __future__ import annotations

import numpy as np

from fuelsim.typing import ArrayLike, FloatArray

__all__ = ["clear_sky_irradiance", "sun_over_noon"]

_DAY = 86400.0
_LATITUDE, _DECLINATION = np.radians(30.0), np.radians(20.0)
"""Latitude of the hot places, and declination of the sun in late July [assumed]: day of 13.6 h."""


def clear_sky_irradiance(sine_of_elevation: ArrayLike) -> FloatArray:
    """Return the irradiance of sun and sky on level ground under a clear sky, W/m2.

    ``G = 1098 s exp(-0.059/s)`` with s the sine of the sun's elevation [haurwitz_1945].

    Parameters
    ----------
    sine_of_elevation : float or array
        Sine of the sun's height above the horizon; 0 and less is night.

    Examples
    --------
    >>> clear_sky_irradiance([1.0, 0.5, -0.2]).round().tolist()
    [1035.0, 488.0, 0.0]
    """
    sine = np.maximum(np.asarray(sine_of_elevation, dtype=float), 1e-6)
    irradiance: FloatArray = 1098.0 * sine * np.exp(-0.059 / sine)
    return irradiance


def sun_over_noon(time_of_day: ArrayLike) -> FloatArray:
    """Return the irradiance of a clear summer day at 30 degrees of latitude over that of its noon, 0 to 1.

    Parameters
    ----------
    time_of_day : float or array
        Solar time since midnight, s; days repeat.

    Notes
    -----
    sin(elevation) = sin(latitude) sin(declination) + cos(latitude) cos(declination) cos(hour angle).

    Examples
    --------
    >>> sun_over_noon([0.0, 8 * 3600.0, 43200.0]).round(2).tolist()
    [0.0, 0.56, 1.0]
    """
    # The hour angle counts from noon, half a turn after midnight: its cosine is less that of the angle from midnight.
    from_midnight = 2.0 * np.pi * np.asarray(time_of_day, dtype=float) / _DAY
    across, along = np.sin(_LATITUDE) * np.sin(_DECLINATION), np.cos(_LATITUDE) * np.cos(_DECLINATION)
    ratio: FloatArray = clear_sky_irradiance(across - along * np.cos(from_midnight)) / clear_sky_irradiance(
        across + along
    )
    return ratio
