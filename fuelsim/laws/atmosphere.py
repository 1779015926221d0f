"""The standard atmosphere: what altitude does to pressure."""

from __future__ import annotations

import numpy as np

from fuelsim.constants import STANDARD_ATMOSPHERE
from fuelsim.errors import InputError
from fuelsim.typing import FloatArray, FloatLike

__all__ = ["standard_pressure"]

LOWEST, HIGHEST = -1000.0, 11_000.0


def standard_pressure(altitude: FloatLike) -> FloatArray:
    """Return the pressure of the standard atmosphere.

    ``p = 101325 (1 - 2.25577e-5 h)^5.25588``.

    Parameters
    ----------
    altitude : float or array
        Altitude above sea level h, from -1000 to 11 000 m.

    Returns
    -------
    array
        Pa absolute.

    Raises
    ------
    InputError
        Outside the lowest layer of the atmosphere, for which the formula holds.

    Notes
    -----
    US Standard Atmosphere 1976, the layer below 11 km.

    Examples
    --------
    >>> round(float(standard_pressure(2240.0)))
    77155
    """
    height = np.asarray(altitude, dtype=float)
    outside = (height < LOWEST) | (height > HIGHEST)
    if np.any(outside):
        raise InputError(
            "the altitude is outside the standard atmosphere",
            given=float(height[outside].flat[0]),
            accepted=f"{LOWEST:g} to {HIGHEST:g} m above sea level",
        )
    return STANDARD_ATMOSPHERE * (1.0 - 2.25577e-5 * height) ** 5.25588
