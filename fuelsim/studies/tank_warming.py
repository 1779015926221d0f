"""How warm a tank becomes in steady driving, by the heat that the plumbing brings and its exchange with the air."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from fuelsim import units
from fuelsim.errors import InputError
from fuelsim.laws.atmosphere import standard_pressure
from fuelsim.studies.margins import calm_fuel
from fuelsim.system.conditions import Conditions
from fuelsim.system.exchange import between, moving_share
from fuelsim.system.heat_exchange import air_around
from fuelsim.system.run import System
from fuelsim.transients.radiation import onto_tank
from fuelsim.typing import FloatLike, Given

if TYPE_CHECKING:
    from fuelsim.car.car import Car

__all__ = ["at_tank_temperature", "tank_after"]

BELOW_BOILING = (25.0, 8.0)
"""Temperatures below the tank's boiling point at which the heat brought is calculated, K: there it is linear."""


def at_tank_temperature(conditions: Mapping[str, Given], tank_temperature: FloatLike) -> Conditions:
    """Return conditions with a tank temperature.

    Parameters
    ----------
    conditions : mapping of str to object
        Names and values of `Conditions`, the engine speed among them.
    tank_temperature : float or array
        Temperature of the fuel in the tank, K.

    Returns
    -------
    Conditions

    Raises
    ------
    InputError
        For an unknown name, a value that is not plausible, or no engine speed.

    Examples
    --------
    >>> at_tank_temperature({"rpm": 700, "load": 0.0}, 310.0).tank_temperature
    310.0
    """
    if "rpm" not in conditions:
        raise InputError("no engine speed", accepted="'rpm' among the conditions", key="rpm")
    return Conditions(rpm=conditions["rpm"]).with_values({**conditions, "tank_temperature": tank_temperature})


def tank_after(car: Car, layout: str, hours: float, start: float, conditions: Mapping[str, Given]) -> float:
    """Return the temperature of a tank after some hours of steady driving, short of boiling.

    ``C dT/dt = Q(T) + UA (T_air - T) + radiation`` with the heat Q that the plumbing brings, linear between two tank
    temperatures, and the sun at noon: an exponential. Fuel burnt and light ends lost on the way are left to
    `fuelsim.transients.drive`.

    Parameters
    ----------
    car : Car
        The car.
    layout : str
        One of its layouts.
    hours : float
        Time of steady driving, h.
    start : float
        Temperature of the tank at the start, K.
    conditions : mapping of str to object
        Names and values of `Conditions`, the engine speed among them.

    Returns
    -------
    float
        Temperature of the tank, K.

    Raises
    ------
    InputError
        For an unknown layout or condition.

    Examples
    --------
    A tank warms while the engine idles:

    >>> import fuelsim as fs
    >>> car = fs.Car.named("heron")
    >>> early, late = (tank_after(car, "return", hours, 298.15, {"rpm": 700, "load": 0.0}) for hours in (0.5, 1.0))
    >>> 298.15 < early < late
    True
    """
    fuel = car.fuel.fuel()
    system, tank = System(car, layout, calm_fuel(fuel.ethanol)), car.tank
    boiling = float(fuel.tables().bubble_temperature(_tank_pressure(car, conditions)))
    temperatures = boiling - np.array(BELOW_BOILING)
    run = system.solve(at_tank_temperature(conditions, temperatures))
    heat = np.asarray(run.tank_heat_flow)
    slope = (heat[1] - heat[0]) / (temperatures[1] - temperatures[0])
    points = run.conditions.points()
    zones = air_around(
        car,
        points["air_temperature"],
        points["tank_temperature"],
        points["vehicle_speed"],
        points.get("bay_temperature"),
        points.get("underfloor_temperature"),
    )
    floor = float(zones["underfloor"][0])
    moving = 2.0 * tank.heat_conductance if tank.moving_heat_conductance is None else tank.moving_heat_conductance
    conductance = float(between(tank.heat_conductance, moving, moving_share(float(points["vehicle_speed"][0]))))
    rate = conductance - slope
    air = float(points["air_temperature"][0])
    absorbed = onto_tank(car, 1.0, parked=False, air_temperature=air, underfloor_temperature=floor)
    radiation = tank.radiated_heat + absorbed.sun + absorbed.road
    at_rest = (heat[0] - slope * temperatures[0] + conductance * floor + radiation) / rate
    capacity = tank.fuel_volume * float(system.fuel.density(start)) * float(system.fuel.heat_capacity(start))
    return float(at_rest + (start - at_rest) * np.exp(-rate * hours * 3600.0 / capacity))


def _tank_pressure(car: Car, conditions: Mapping[str, Given]) -> float:
    """Return the pressure in the tank's vapour space, Pa."""
    altitude = units.convert(conditions.get("altitude", car.surroundings.altitude), "altitude")
    gauge = units.convert(conditions.get("vapour_space_pressure", car.tank.gauge_pressure(0.0)), "pressure difference")
    return float(standard_pressure(altitude)) + float(gauge)
