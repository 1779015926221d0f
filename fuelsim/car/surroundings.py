"""The table of a car file for weather, supply voltage and the air around the parts."""

from __future__ import annotations

from dataclasses import dataclass

from fuelsim.fields import Quantity, Ratings, origin, quantity
from fuelsim.typing import FloatLike

__all__ = ["SUPPLY_VOLTAGE", "Surroundings"]

SUPPLY_VOLTAGE = 13.5
"""Voltage of an alternator that runs, V: 13.5-14.5, less when its regulator is hot [service_manuals_a]."""


@dataclass(frozen=True)
class Surroundings(Ratings):
    """Weather, supply voltage and the air around the parts, unless the operating conditions say otherwise.

    Examples
    --------
    >>> Surroundings(air_temperature="35 degC", altitude="600 m").supply_voltage
    13.5
    """

    air_temperature: Quantity = quantity(
        "temperature", "Temperature of the ambient air.", least=223.15, most=333.15, default=298.15, example="35 degC"
    )
    tank_temperature: Quantity = quantity(
        "temperature",
        "Temperature of the fuel in the tank; left out, that of the air.",
        least=233.15,
        most=373.15,
        default=None,
        example="45 degC",
    )
    bay_rise: Quantity = quantity(
        "temperature difference",
        "Temperature rise of the air in the engine bay above ambient with the car at rest; cruising 15 to 30 K, in "
        "traffic 30 to 50 K (typical, from memory).",
        least=0.0,
        most=120.0,
        default=35.0,
        example="40 K",
    )
    underfloor_rise: Quantity = quantity(
        "temperature difference",
        "Temperature rise of the air under the floor above ambient with the car at rest, from pavement and exhaust.",
        least=0.0,
        most=100.0,
        default=10.0,
        example="15 K",
    )
    cruising_bay_rise: Quantity = quantity(
        "temperature difference",
        "Temperature rise of the air in the engine bay above ambient at cruising speed.",
        least=0.0,
        most=120.0,
        default=22.0,
        example="22 K",
    )
    cruising_underfloor_rise: Quantity = quantity(
        "temperature difference",
        "Temperature rise of the air under the floor above ambient at cruising speed.",
        least=0.0,
        most=100.0,
        default=5.0,
    )
    air_conditioning_bay_rise: Quantity = quantity(
        "temperature difference",
        "Further temperature rise of the air in the engine bay of a car at rest whose air conditioning runs all the "
        "time, from its condenser; none of it at cruising speed.",
        least=0.0,
        most=40.0,
        default=8.0,
        example="8 K",
    )
    solar_irradiance: Quantity = quantity(
        "heat flux",
        "Heat flux of sun and sky onto level ground at noon of a clear day.",
        least=0.0,
        most=1400.0,
        default=1000.0,
        example="1.0 kW/m2",
    )
    road_rise: Quantity = quantity(
        "temperature difference",
        "Temperature rise of the road's surface above ambient in the sun of noon.",
        least=0.0,
        most=50.0,
        default=25.0,
        example="25 K",
    )
    parked_road_rise: Quantity = quantity(
        "temperature difference",
        "Temperature rise of the road's surface above ambient under a parked car that shades it, in the sun of noon.",
        least=0.0,
        most=50.0,
        default=10.0,
        example="10 K",
    )
    engine_temperature: Quantity = quantity(
        "temperature",
        "Temperature of the engine's metal at the rail.",
        least=223.15,
        most=423.15,
        default=368.15,
        example="95 degC",
    )
    supply_voltage: Quantity = quantity(
        "voltage", "Voltage of battery or alternator.", least=0.0, most=60.0, default=SUPPLY_VOLTAGE, example="13.5 V"
    )
    altitude: Quantity = quantity(
        "altitude", "Altitude above sea level.", least=-450.0, most=6000.0, default=0.0, example="600 m"
    )
    catalogue: str | None = origin("Name of the place whose hot day it was taken from.")

    @property
    def fuel_temperature(self) -> FloatLike:
        """Temperature of the fuel in the tank, K: as given, else that of the air, as after a night."""
        temperature: FloatLike = self.air_temperature if self.tank_temperature is None else self.tank_temperature
        return temperature
