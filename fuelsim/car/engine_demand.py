"""What an engine is asked at an operating point, and what it takes there."""

from __future__ import annotations

from dataclasses import dataclass

from fuelsim.arguments import AIR_TEMPERATURE, ATMOSPHERIC_PRESSURE, number
from fuelsim.constants import STANDARD_ATMOSPHERE
from fuelsim.errors import InputError
from fuelsim.typing import FloatArray

__all__ = ["AT_A_POINT", "EngineDemand", "too_much_air", "usual_power_speed_share"]

_POWER_SPEED_SHARES = {"two_valve": 0.90, "four_valve": 0.92}
_BOOSTED_POWER_SPEED_SHARE = 0.88
"""Engine speed of the greatest power as a share of the red line, by kind of engine [assumed]."""

AT_A_POINT = {
    # The engine itself says which speeds and loads it answers.
    "speed": number("engine speed", -1e5, 1e5, example="3000 rpm"),
    "load": number("fraction", -1e4, 1e4, example="80 %"),
    "atmospheric_pressure": ATMOSPHERIC_PRESSURE,
    "air_temperature": AIR_TEMPERATURE,
}
"""Arguments that describe an operating point of an engine."""


@dataclass(frozen=True)
class EngineDemand:
    """What the engine takes at each operating point; every array has the shape of the batch.

    Attributes
    ----------
    fuel_mass_flow : array
        Fuel that the engine asks for, kg/s.
    air_mass_flow : array
        Air that the engine takes, kg/s.
    manifold_pressure : array
        Pressure in the intake manifold, Pa absolute.
    lambda_demanded : array
        Air-fuel ratio over the fuel's stoichiometric one, below 1 where rich.
    """

    fuel_mass_flow: FloatArray
    air_mass_flow: FloatArray
    manifold_pressure: FloatArray
    lambda_demanded: FloatArray


def usual_power_speed_share(shape: str, *, boosted: bool = False) -> float:
    """Return the engine speed of the greatest power as a share of the red line that is usual for a kind of engine.

    Parameters
    ----------
    shape : str
        Shape of the volumetric efficiency: ``"two_valve"`` or ``"four_valve"``.
    boosted : bool
        Whether the engine is boosted.

    Returns
    -------
    float

    Examples
    --------
    >>> usual_power_speed_share("four_valve"), usual_power_speed_share("two_valve", boosted=True)
    (0.92, 0.88)
    """
    return _BOOSTED_POWER_SPEED_SHARE if boosted else _POWER_SPEED_SHARES[shape]


def too_much_air(
    form: str, efficiency: float, most: float, boost: float, power_speed: float | None, usual_speed: float, there: float
) -> InputError:
    """Return the error of an engine that asks for more air than its cylinders hold, with the cause.

    Parameters
    ----------
    form : str
        Key that gives the full-load curve.
    efficiency, most : float
        Greatest volumetric efficiency that the curve asks for, and the greatest accepted.
    boost : float
        Full-load boost pressure above the atmosphere, Pa.
    power_speed : float or None
        Engine speed of the greatest power, rpm; None where another form gives the curve.
    usual_speed : float
        The same as is usual for the red line, rpm.
    there : float
        Greatest volumetric efficiency if the greatest power were reached there.

    Returns
    -------
    InputError
        For the speed of the greatest power where that alone is the cause, else for the form, with the boost that would
        do.

    Examples
    --------
    >>> too_much_air("peak_power", 1.54, 1.5, 0.0, 5400.0, 6800.0, 1.19).accepted
    'at most 1.5; give the speed of peak power: at 6800 rpm, usual for this red line, it would be 1.19'
    """
    problem = f"the engine cannot take that much air: volumetric efficiency {efficiency:.2f}"
    if power_speed is not None and there <= most and power_speed < usual_speed:
        return InputError(
            f"{problem} for that power at {power_speed:.0f} rpm",
            accepted=f"at most {most:g}; give the speed of peak power: at {usual_speed:.0f} rpm, usual for this red "
            f"line, it would be {there:.2f}",
            key="peak_power_speed",
        )
    needed = efficiency * (STANDARD_ATMOSPHERE + boost) - STANDARD_ATMOSPHERE
    more = "the boost_pressure of a boosted engine" if boost <= 0.0 else "more boost_pressure"
    return InputError(
        problem,
        accepted=f"at most {most:g}; check {form} and displacement, or give {more}: {needed / 1e3:.0f} kPa would do",
        key=form,
    )
