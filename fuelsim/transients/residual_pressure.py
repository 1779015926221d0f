"""The pressure that a hot rail has to keep so that its fuel stays liquid."""

from __future__ import annotations

from fuelsim import units
from fuelsim.arguments import ATMOSPHERIC_PRESSURE, takes
from fuelsim.constants import STANDARD_ATMOSPHERE
from fuelsim.fuel.arguments import TEMPERATURE
from fuelsim.fuel.fuel import Fuel
from fuelsim.typing import FloatLike, Given

__all__ = ["residual_pressure_needed"]


@takes({"rail_temperature": TEMPERATURE, "atmospheric_pressure": ATMOSPHERIC_PRESSURE})
def residual_pressure_needed(
    fuel: Fuel, rail_temperature: Given, atmospheric_pressure: Given = STANDARD_ATMOSPHERE
) -> FloatLike:
    """Return the gauge pressure that keeps a rail liquid, Pa; negative where it needs none.

    Parameters
    ----------
    fuel : Fuel
        The fuel in the rail.
    rail_temperature : float, str or array
        Temperature of the rail, K.
    atmospheric_pressure : float, str or array
        Pressure outside, Pa absolute.

    Returns
    -------
    float or array
        Shaped like temperature and pressure together.

    Raises
    ------
    InputError
        For values that are no temperature or pressure.

    Examples
    --------
    At 90 degC a 62 kPa petrol needs about 158 kPa, with 10 % ethanol about 223 (US EPA AP-42 extrapolated, and
    UNIFAC with a virial vapour; 8 % of absolute pressure):

    >>> from fuelsim.fuel.fuel import Fuel
    >>> round(float(residual_pressure_needed(Fuel.petrol("62 kPa"), "90 degC")) / 1e3, -1)
    160.0
    """
    temperature = units.convert(rail_temperature, "temperature")
    outside = units.convert(atmospheric_pressure, "absolute pressure")
    needed: FloatLike = fuel.bubble_pressure(temperature) - outside
    return needed
