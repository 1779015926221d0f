"""What a pressure gauge reads: the pressure over that inside its case, which a sealed case carries along.

A gauge shows by how much the pressure at its inlet exceeds that in its case. An open case has the pressure of the
atmosphere. A sealed one keeps the air that was in it when it was closed: a bubble over the liquid that damps the
pointer. When the gauge warms, the liquid takes room from the bubble and the bubble follows the law of ideal gases, so
that the gauge reads low. Carried up a mountain it reads low too, by what the atmosphere has lost.
"""

from __future__ import annotations

import numpy as np

from fuelsim.typing import FloatArray, FloatLike

__all__ = ["LIQUID_EXPANSION", "case_pressure"]

LIQUID_EXPANSION = 5.0e-4
"""Volume expansion of glycerol, which fills cases, 1/K: mean of 20 to 80 degC [thermo_library]."""


def case_pressure(
    temperature: FloatLike, filled_pressure: FloatLike, filled_temperature: FloatLike, bubble: FloatLike
) -> FloatArray:
    """Return the pressure in a sealed case, p = p_0 (T/T_0) b/(b - (1 - b) beta (T - T_0)).

    Parameters
    ----------
    temperature : float or array
        Temperature T of the gauge, K.
    filled_pressure, filled_temperature : float or array
        Pressure p_0 and temperature T_0 at which the case was closed, Pa absolute and K.
    bubble : float or array
        Fraction b of the case's volume that the bubble of air had then; 1 is a case without liquid.

    Returns
    -------
    array
        Pa absolute; NaN where the liquid would fill the whole case.

    Examples
    --------
    A case with a bubble of 15 %, closed at 20 degC and now at 60 degC:

    >>> round(float(case_pressure(333.15, 101325.0, 293.15, 0.15)) / 1e3, 1)
    129.9
    """
    warming = np.asarray(temperature, dtype=float) - filled_temperature
    room = bubble - (1.0 - np.asarray(bubble)) * LIQUID_EXPANSION * warming
    shrunk = np.asarray(bubble) / np.where(room > 0.0, room, np.nan)
    return np.asarray(filled_pressure * (np.asarray(temperature) / filled_temperature) * shrunk, dtype=float)
