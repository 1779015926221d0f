"""What an engine is asked at an operating point, and what it takes there."""

from __future__ import annotations

from dataclasses import dataclass

from fuelsim.arguments import AIR_TEMPERATURE, ATMOSPHERIC_PRESSURE, number
from fuelsim.typing import FloatArray

__all__ = ["AT_A_POINT", "EngineDemand"]

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
