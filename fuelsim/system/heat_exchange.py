"""Where heat enters and leaves: the air around each part, films and walls, exhaust, engine metal and the pumps.

What does not depend on the flow is computed once for a batch of operating points (`surroundings_of_links`); only the
film inside the lines follows the flow from round to round (`heat_links`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fuelsim.laws.film import internal_coefficient, line_conductance, outside_coefficient
from fuelsim.system.exchange import AIRSTREAM_SHARE, Exchange, between, moving_share
from fuelsim.system.heat import HeatLink
from fuelsim.typing import FloatLike, IndexArray, LinkArray, PointArray

if TYPE_CHECKING:
    from fuelsim.car.car import Car
    from fuelsim.fuel.tables import FuelTables
    from fuelsim.system.operating_points import OperatingPoints
    from fuelsim.system.plumbing import Plumbing

__all__ = ["SurroundingsOfLinks", "air_around", "heat_links", "heating_per_pressure_lost", "surroundings_of_links"]

FUEL_CONDUCTIVITY = 0.115
"""W/m/K: petrol components 0.110 to 0.125 (computed from their correlations)."""


@dataclass(frozen=True)
class SurroundingsOfLinks:
    """What surrounds each link; both arrays are (links, points).

    Attributes
    ----------
    temperature : array
        Mean of air and engine metal, weighted by conductance, K.
    conductance : array
        From there to the inside of the wall, W/K.
    """

    temperature: LinkArray
    conductance: LinkArray

    def take(self, index: IndexArray) -> SurroundingsOfLinks:
        """Return some of the points."""
        return SurroundingsOfLinks(self.temperature[:, index], self.conductance[:, index])


def air_around(
    car: Car,
    air_temperature: PointArray,
    tank_temperature: PointArray,
    vehicle_speed: PointArray,
    bay_temperature: PointArray | None = None,
    underfloor_temperature: PointArray | None = None,
) -> dict[str, PointArray]:
    """Return the temperature of each zone, K.

    Parameters
    ----------
    car : Car
    air_temperature, tank_temperature : array (points,)
        K.
    vehicle_speed : array (points,)
        m/s.
    bay_temperature, underfloor_temperature : array (points,), optional
        K; where they follow from the air's temperature and the car's own rises, left out.
    """
    around = car.surroundings
    share = moving_share(vehicle_speed)
    coolant = None if car.cooler is None else car.cooler.coolant_temperature
    if underfloor_temperature is None:
        underfloor_temperature = air_temperature + between(
            around.underfloor_rise, around.cruising_underfloor_rise, share
        )
    if bay_temperature is None:
        bay_temperature = air_temperature + between(around.bay_rise, around.cruising_bay_rise, share)
    return {
        "tank": tank_temperature,
        "ambient": air_temperature,
        "underfloor": underfloor_temperature,
        "bay": bay_temperature,
        "coolant": air_temperature if coolant is None else np.full(np.shape(air_temperature), coolant),
    }


def surroundings_of_links(car: Car, plumbing: Plumbing, points: OperatingPoints) -> SurroundingsOfLinks:
    """Return what surrounds the links at each point.

    The outside film takes the fuel's temperature in the tank for the surface's, which it hardly feels.

    Parameters
    ----------
    car : Car
    plumbing : Plumbing
        With ratings that are one value or (points,).
    points : OperatingPoints
    """
    zones = air_around(
        car,
        points.air_temperature,
        points.tank_temperature,
        points.vehicle_speed,
        points.bay_temperature,
        points.underfloor_temperature,
    )
    shape = (len(plumbing.links), len(points))
    temperature, conductance = np.empty(shape), np.empty(shape)
    for row, link in enumerate(plumbing.links):
        around = zones[link.exchange.zone]
        temperature[row], conductance[row] = _through_the_wall(car, link.exchange, around, points)
    return SurroundingsOfLinks(temperature, conductance)


def _through_the_wall(
    car: Car, exchange: Exchange, around: PointArray, points: OperatingPoints
) -> tuple[FloatLike, FloatLike]:
    """Return the temperature outside, K, and the conductance from there to the inside of the wall, W/K."""
    wall = exchange.wall
    if wall is not None:
        outside = outside_coefficient(
            wall.outside_diameter,
            AIRSTREAM_SHARE[exchange.zone] * points.vehicle_speed,
            points.tank_temperature,
            around,
            wall.material.emissivity,
            points.atmospheric_pressure,
        )
        per_length = line_conductance(np.inf, outside, wall.bore, wall.outside_diameter, wall.material.conductivity)
        return around, per_length * wall.length
    conductance = between(exchange.conductance, exchange.moving_conductance, moving_share(points.vehicle_speed))
    if not np.any(exchange.engine_conductance):
        return around, conductance
    total = conductance + exchange.engine_conductance
    metal = car.surroundings.engine_temperature
    return around + exchange.engine_conductance / total * (metal - around), total


def heat_links(
    plumbing: Plumbing,
    tables: FuelTables,
    tank_temperature: PointArray,
    surroundings: SurroundingsOfLinks,
    mass_flow: Mapping[str, PointArray],
    pressure: Mapping[str, PointArray],
    pump_heat: Mapping[str, PointArray],
) -> list[HeatLink]:
    """Return every link as the heat balance sees it.

    Parameters
    ----------
    plumbing : Plumbing
    tables : FuelTables
    tank_temperature : array (points,)
        K.
    surroundings : SurroundingsOfLinks
    mass_flow, pressure : mapping of str to array (points,)
        By link, kg/s; by station, Pa absolute.
    pump_heat : mapping of str to array (points,)
        Electrical power that ends in the fuel, by pump, W.
    """
    heat_capacity, viscosity = tables.heat_capacity(tank_temperature), tables.viscosity(tank_temperature)
    per_pressure = heating_per_pressure_lost(tables, tank_temperature)
    seen = []
    for row, link in enumerate(plumbing.links):
        flow, wall = mass_flow[link.name], link.exchange.wall
        conductance: FloatLike = surroundings.conductance[row]
        if wall is not None:
            film = internal_coefficient(flow, wall.bore, viscosity, FUEL_CONDUCTIVITY, heat_capacity)
            conductance = 1.0 / (1.0 / conductance + 1.0 / (np.pi * wall.bore * wall.length * film))
        lost = (pressure[link.upstream] - pressure[link.downstream]) * np.sign(flow)
        seen.append(
            HeatLink(
                link.name,
                link.upstream,
                link.downstream,
                flow,
                surroundings.temperature[row],
                conductance,
                power=link.exchange.radiation + pump_heat.get(link.name, 0.0),
                pressure_heating=per_pressure * lost,
            )
        )
    return seen


def heating_per_pressure_lost(tables: FuelTables, temperature: PointArray) -> PointArray:
    """Return how much a liquid warms per pressure lost in throttling, (1 - alpha T) / (rho c), K/Pa.

    From dh = c dT + (1 - alpha T) dp / rho at constant enthalpy; alpha from the density table.

    Parameters
    ----------
    tables : FuelTables
    temperature : array (points,)
        K.
    """
    step = 1.0
    density = np.asarray(tables.density(temperature))
    expansion = (tables.density(temperature - step) - tables.density(temperature + step)) / (2.0 * step * density)
    warming: PointArray = (1.0 - expansion * temperature) / (density * tables.heat_capacity(temperature))
    return warming
