"""A rail through which nothing flows: how it follows the air of the bay and the metal of the engine."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fuelsim.car.tables import Rail
from fuelsim.errors import InputError

if TYPE_CHECKING:
    from fuelsim.car.car import Car
    from fuelsim.fuel.fuel import Fuel
    from fuelsim.system.run import System

__all__ = [
    "engine_metal_temperature",
    "rail_heat_capacity",
    "rail_warming_rate",
    "rails_of",
    "stagnant_rail_temperature",
]

ENGINE_DECAY_TIME = 7200.0
"""Time constant with which the engine's metal cools, s [assumed]."""
TYPICAL_TEMPERATURE = 340.0
"""Temperature at which the fuel's properties are taken for the heat capacity of a rail, K [assumed]: 30 K more make it
2 % larger."""


def rails_of(system: System) -> dict[str, Rail]:
    """Return the ratings of each rail, by the station at which its pressure is read.

    Parameters
    ----------
    system : System
        The car in its layout.
    """
    rails = {}
    for planned in system.plumbing.planned_rails:
        part = system.car.part(planned.table.rpartition(".")[2])
        if not isinstance(part, Rail):
            raise InputError("no such rail", given=planned.table, accepted="a table of a rail", file=system.car.file)
        rails[planned.name] = part
    return rails


def rail_heat_capacity(rail: Rail, fuel: Fuel) -> float:
    """Return the heat capacity of rail and fuel together, J/K.

    Parameters
    ----------
    rail : Rail
        The rail.
    fuel : Fuel
        The fuel in it.
    """
    mass = rail.line().volume * fuel.density(TYPICAL_TEMPERATURE)
    return float(rail.heat_capacity + mass * fuel.heat_capacity(TYPICAL_TEMPERATURE))


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
    rail: Rail, rail_temperature: float, bay_temperature: float, metal_temperature: float, capacity: float
) -> float:
    """Return how fast a rail without flow warms, K/s.

    Parameters
    ----------
    rail : Rail
        The rail, which says how well it exchanges heat.
    rail_temperature, bay_temperature, metal_temperature : float
        Temperatures of the rail, of the air in the bay and of the engine's metal, K.
    capacity : float
        Heat capacity of rail and fuel, J/K.
    """
    heat = rail.air_conductance * (bay_temperature - rail_temperature)
    heat = heat + rail.engine_conductance * (metal_temperature - rail_temperature)
    return float(heat / capacity)


def stagnant_rail_temperature(
    rail: Rail,
    rail_temperature: float,
    duration: float,
    bay_temperature: float,
    metal_temperature: float,
    capacity: float,
) -> float:
    """Return the temperature of a rail without flow after some time under constant surroundings, K.

    Parameters
    ----------
    rail : Rail
        The rail, which says how well it exchanges heat.
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
    >>> rail = fs.Car.named("finch").rail
    >>> round(float(stagnant_rail_temperature(rail, 320.0, 1e6, 350.0, 350.0, 500.0)), 6)
    350.0
    """
    total = rail.air_conductance + rail.engine_conductance
    if total <= 0.0:
        return rail_temperature
    around = (rail.air_conductance * bay_temperature + rail.engine_conductance * metal_temperature) / total
    return float(around + (rail_temperature - around) * np.exp(-total * duration / capacity))
