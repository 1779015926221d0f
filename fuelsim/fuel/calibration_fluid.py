"""Pure fluids of the test bench, live from CoolProp: n-heptane for injectors and pumps."""

from __future__ import annotations

import numpy as np

from fuelsim.constants import STANDARD_ATMOSPHERE
from fuelsim.errors import InputError, nearest
from fuelsim.liquid import Liquid
from fuelsim.typing import Given
from fuelsim.units import convert

__all__ = ["CALIBRATION_FLUIDS", "calibration_fluid"]

CALIBRATION_FLUIDS = {
    "n-heptane": "n-Heptane",
    "n-octane": "n-Octane",
    "n-decane": "n-Decane",
    "n-dodecane": "n-Dodecane",
    "ethanol": "Ethanol",
    "toluene": "Toluene",
    "water": "Water",
}


def calibration_fluid(name: str, temperature: Given = 293.15, pressure: Given = STANDARD_ATMOSPHERE) -> Liquid:
    """Return density and viscosity of a pure test fluid, from CoolProp's reference equation.

    Importing CoolProp takes about 2 s the first time.

    Parameters
    ----------
    name : str
        A name of `CALIBRATION_FLUIDS`.
    temperature : float, str or array
        K.
    pressure : float, str or array
        Pa absolute; the fluid must be liquid at temperature and pressure.

    Returns
    -------
    Liquid
        With arrays in the broadcast shape of temperature and pressure.

    Raises
    ------
    InputError
        For an unknown name, or where the fluid is not a liquid that CoolProp knows.

    Examples
    --------
    >>> round(calibration_fluid("n-heptane", "20 degC", "300 kPa").density, 1)
    684.0
    """
    if name not in CALIBRATION_FLUIDS:
        raise InputError("no such calibration fluid", given=name, accepted=nearest(str(name), CALIBRATION_FLUIDS))
    from CoolProp.CoolProp import PropsSI

    t, p = np.broadcast_arrays(convert(temperature, "temperature"), convert(pressure, "absolute pressure"))
    try:
        density, viscosity = (
            np.asarray(PropsSI(key, "T|liquid", t.ravel(), "P", p.ravel(), CALIBRATION_FLUIDS[name])).reshape(t.shape)
            for key in ("D", "V")
        )
    except ValueError as error:
        raise InputError(f"{name} is no liquid there ({error})", given=(temperature, pressure)) from error
    if not np.all(np.isfinite(density)) or np.any(density < 100.0):
        raise InputError(f"{name} is no liquid there", given=(temperature, pressure), accepted="a state below boiling")
    return Liquid(density=density, kinematic_viscosity=viscosity / density)
