"""A rail through which nothing flows: how it follows the air of the bay and the metal of the engine."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from fuelsim.car.car import Car
    from fuelsim.fuel.fuel import Fuel

__all__ = ["after_standing", "engine_metal_temperature", "rail_heat_capacity", "rail_heating", "rail_volume"]

ENGINE_DECAY_TIME = 7200.0
"""s over which the engine's metal cools (assumed)."""
TYPICAL_TEMPERATURE = 340.0


def rail_volume(car: Car) -> float:
    """Return the volume of the rail's bore, m3."""
    return float(0.25 * math.pi * car.rail.bore**2 * car.rail.length)


def rail_heat_capacity(car: Car, fuel: Fuel) -> float:
    """Return the heat capacity of rail and fuel together, J/K."""
    mass = rail_volume(car) * fuel.density(TYPICAL_TEMPERATURE)
    return float(car.rail.heat_capacity + mass * fuel.heat_capacity(TYPICAL_TEMPERATURE))


def engine_metal_temperature(car: Car, air_temperature: Any, time: Any) -> Any:
    """Return the temperature of the engine's metal some time after it stopped, K.

    Parameters
    ----------
    car : Car
    air_temperature : float or array
        K.
    time : float or array
        Since the stop, s.
    """
    hot = car.surroundings.engine_temperature
    return air_temperature + (hot - air_temperature) * np.exp(-np.asarray(time) / ENGINE_DECAY_TIME)


def rail_heating(car: Car, rail_temperature: Any, bay_temperature: Any, metal_temperature: Any, capacity: float) -> Any:
    """Return how fast a standing rail warms, K/s; temperatures in K, capacity in J/K."""
    rail = car.rail
    heat = rail.air_conductance * (bay_temperature - rail_temperature)
    heat = heat + rail.engine_conductance * (metal_temperature - rail_temperature)
    return heat / capacity


def after_standing(
    car: Car, rail_temperature: Any, step: Any, bay_temperature: Any, metal_temperature: Any, capacity: float
) -> Any:
    """Return the temperature of a standing rail after a step of time under constant surroundings, K.

    Examples
    --------
    >>> import fuelsim as fs
    >>> finch = fs.Car.named("finch")
    >>> round(float(after_standing(finch, 320.0, 1e6, 350.0, 350.0, 500.0)), 6)
    350.0
    """
    rail = car.rail
    total = rail.air_conductance + rail.engine_conductance
    if total <= 0.0:
        return rail_temperature
    around = (rail.air_conductance * bay_temperature + rail.engine_conductance * metal_temperature) / total
    return around + (rail_temperature - around) * np.exp(-total * np.asarray(step) / capacity)
