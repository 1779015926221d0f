"""A rail through which nothing flows: how it follows the air of the bay and the metal of the engine."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fuelsim.car.tables import plain_table

if TYPE_CHECKING:
    from fuelsim.car.car import Car
    from fuelsim.fuel.fuel import Fuel

__all__ = [
    "engine_metal_temperature",
    "rail_heat_capacity",
    "rail_volume",
    "rail_warming_rate",
    "stagnant_rail_temperature",
]

ENGINE_DECAY_TIME = 7200.0
"""Time constant with which the engine's metal cools, s [assumed]."""
TYPICAL_TEMPERATURE = 340.0
"""Temperature at which the fuel's properties are taken for the heat capacity of a rail, K."""


def rail_volume(car: Car) -> float:
    """Return the volume of the rail's bore, m3.

    Parameters
    ----------
    car : Car
        The car.
    """
    return float(plain_table(car.rail, "rail").line().volume)


def rail_heat_capacity(car: Car, fuel: Fuel) -> float:
    """Return the heat capacity of rail and fuel together, J/K.

    Parameters
    ----------
    car : Car
        The car.
    fuel : Fuel
        The fuel in its rail.
    """
    mass = rail_volume(car) * fuel.density(TYPICAL_TEMPERATURE)
    return float(plain_table(car.rail, "rail").heat_capacity + mass * fuel.heat_capacity(TYPICAL_TEMPERATURE))


def engine_metal_temperature(car: Car, air_temperature: float, time: float) -> float:
    """Return the temperature of the engine's metal some time after it stopped, K.

    Parameters
    ----------
    car : Car
        The car, whose surroundings say how hot the engine was.
    air_temperature : float
        Temperature of the ambient air, K.
    time : float
        Time since the stop, s.
    """
    hot = float(car.surroundings.engine_temperature)
    return float(air_temperature + (hot - air_temperature) * np.exp(-time / ENGINE_DECAY_TIME))


def rail_warming_rate(
    car: Car, rail_temperature: float, bay_temperature: float, metal_temperature: float, capacity: float
) -> float:
    """Return how fast a rail without flow warms, K/s.

    Parameters
    ----------
    car : Car
        The car, whose rail says how well it exchanges heat.
    rail_temperature, bay_temperature, metal_temperature : float
        Temperatures of the rail, of the air in the bay and of the engine's metal, K.
    capacity : float
        Heat capacity of rail and fuel, J/K.
    """
    rail = plain_table(car.rail, "rail")
    heat = rail.air_conductance * (bay_temperature - rail_temperature)
    heat = heat + rail.engine_conductance * (metal_temperature - rail_temperature)
    return float(heat / capacity)


def stagnant_rail_temperature(
    car: Car,
    rail_temperature: float,
    duration: float,
    bay_temperature: float,
    metal_temperature: float,
    capacity: float,
) -> float:
    """Return the temperature of a rail without flow after some time under constant surroundings, K.

    Parameters
    ----------
    car : Car
        The car, whose rail says how well it exchanges heat.
    rail_temperature : float
        Temperature of the rail at the beginning, K.
    duration : float
        Time that passes, s.
    bay_temperature, metal_temperature : float
        Temperatures of the air in the bay and of the engine's metal, K.
    capacity : float
        Heat capacity of rail and fuel, J/K.

    Notes
    -----
    T = Ta + (T0 - Ta) exp(-t UA/C), the lumped capacity of transient conduction (Incropera et al.), with Ta the mean of
    both surroundings weighted by their conductances.

    Examples
    --------
    >>> import fuelsim as fs
    >>> finch = fs.Car.named("finch")
    >>> round(float(stagnant_rail_temperature(finch, 320.0, 1e6, 350.0, 350.0, 500.0)), 6)
    350.0
    """
    rail = plain_table(car.rail, "rail")
    total = rail.air_conductance + rail.engine_conductance
    if total <= 0.0:
        return rail_temperature
    around = (rail.air_conductance * bay_temperature + rail.engine_conductance * metal_temperature) / total
    return float(around + (rail_temperature - around) * np.exp(-total * duration / capacity))
