"""Where heat enters and leaves: the air around each part, films and walls, exhaust, engine metal and the pump.

Everything that does not depend on the flow is computed once for a batch of operating points (`surround`); only the
film inside the lines follows the flow from round to round (`heat_links`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim.car.walls import WallMaterial
from fuelsim.laws.film import internal_coefficient, line_conductance, outside_coefficient
from fuelsim.system.heat import HeatLink

if TYPE_CHECKING:
    from fuelsim.car.car import Car
    from fuelsim.fuel.tables import FuelTables
    from fuelsim.system.layouts import Plumbing

__all__ = ["Exchange", "Wall", "air_around", "heat_links", "moving_share", "surround"]

FUEL_CONDUCTIVITY = 0.115
"""W/m/K: petrol components 0.110 to 0.125 (computed from their correlations)."""
SPEED_SCALE = 10.0
"""m/s of vehicle speed at which 63 % of the way from standing to cruising heat exchange is gone (assumed)."""
AIRSTREAM_SHARE = {"underfloor": 0.30, "bay": 0.10, "ambient": 0.50, "tank": 0.0}
"""Air speed across a part over vehicle speed, by where it is (assumed; a line in moving air sees about 4 m/s)."""
RADIATED_SHARE = 0.5
"""Share of a line's outside that faces the exhaust."""


@dataclass(frozen=True)
class Wall:
    """Wall of a line whose heat conductance is computed.

    Attributes
    ----------
    material : WallMaterial
    bore, thickness, length : float
        m.
    """

    material: WallMaterial
    bore: float
    thickness: float
    length: float

    @property
    def outside_diameter(self) -> float:
        """Outside diameter, m."""
        return self.bore + 2.0 * self.thickness


@dataclass(frozen=True)
class Exchange:
    """Heat exchange of one link with its surroundings.

    Attributes
    ----------
    zone : str
        Air around it: ``"tank"`` (the fuel in it), ``"underfloor"``, ``"bay"``, ``"ambient"``, ``"coolant"``.
    conductance : float
        Heat conductance to that air while the car stands, W/K.
    moving_conductance : float or None
        The same at cruising speed; None for no difference.
    engine_conductance : float
        Heat conductance to the engine's metal, W/K.
    wall : Wall or None
        Where given, films and wall decide instead of `conductance`.
    radiation : float
        Heat radiated onto it, W.
    """

    zone: str = "underfloor"
    conductance: float = 0.0
    moving_conductance: float | None = None
    engine_conductance: float = 0.0
    wall: Wall | None = None
    radiation: float = 0.0


def moving_share(vehicle_speed: Any) -> Any:
    """Return how far heat exchange has gone from that of a standing to that of a cruising car, 0 to 1.

    Parameters
    ----------
    vehicle_speed : float or array
        m/s.

    Examples
    --------
    >>> [round(float(moving_share(speed)), 2) for speed in (0.0, 10.0, 30.0)]
    [0.0, 0.63, 0.95]
    """
    return -np.expm1(-np.asarray(vehicle_speed, dtype=float) / SPEED_SCALE)


def between(standing: Any, moving: Any, share: Any) -> Any:
    """Return a value between those of a standing and a cruising car; `moving` None is no difference."""
    return standing if moving is None else standing + share * (moving - standing)


def air_around(car: Car, points: Mapping[str, Any]) -> dict[str, Any]:
    """Return the temperature of each zone, K.

    Parameters
    ----------
    car : Car
    points : mapping of str to array (points,)
        ``tank_temperature``, ``air_temperature``, ``vehicle_speed``, and where they are set from outside
        ``bay_temperature`` and ``underfloor_temperature``.
    """
    surroundings, air = car.surroundings, points["air_temperature"]
    share = moving_share(points["vehicle_speed"])
    zones = {"tank": points["tank_temperature"], "ambient": air}
    for zone in ("underfloor", "bay"):
        if f"{zone}_temperature" in points:
            zones[zone] = points[f"{zone}_temperature"]
            continue
        standing, cruising = getattr(surroundings, f"{zone}_rise"), getattr(surroundings, f"cruising_{zone}_rise")
        zones[zone] = air + between(standing, cruising, share)
    coolant = None if car.cooler is None else car.cooler.coolant_temperature
    zones["coolant"] = air if coolant is None else np.full(np.shape(air), coolant)
    return zones


def surround(car: Car, plumbing: Plumbing, points: Mapping[str, Any]) -> dict[str, Any]:
    """Return what surrounds the links at each point: ``"around <link>"`` in K and ``"outside <link>"`` in W/K.

    The conductance runs from the surroundings to the inside of the wall; the outside film takes the fuel's temperature
    in the tank for the surface's, which it hardly feels.
    """
    zones = air_around(car, points)
    share = moving_share(points["vehicle_speed"])
    found: dict[str, Any] = {}
    for link in plumbing.links:
        exchange = link.exchange
        around = zones[exchange.zone]
        if exchange.wall is not None:
            wall = exchange.wall
            outside = outside_coefficient(
                wall.outside_diameter,
                AIRSTREAM_SHARE[exchange.zone] * points["vehicle_speed"],
                points["tank_temperature"],
                around,
                wall.material.emissivity,
                points["atmospheric_pressure"],
            )
            per_length = line_conductance(np.inf, outside, wall.bore, wall.outside_diameter, wall.material.conductivity)
            conductance = per_length * wall.length
        else:
            conductance = between(exchange.conductance, exchange.moving_conductance, share)
            if exchange.engine_conductance:
                total = conductance + exchange.engine_conductance
                engine = car.surroundings.engine_temperature
                around = around + exchange.engine_conductance / total * (engine - around)
                conductance = total
        found[f"around {link.name}"] = np.broadcast_to(around, np.shape(share))
        found[f"outside {link.name}"] = np.broadcast_to(conductance, np.shape(share))
    return found


def heat_links(
    plumbing: Plumbing,
    tables: FuelTables,
    points: Mapping[str, Any],
    mass_flow: Mapping[str, Any],
    pressure: Mapping[str, Any],
    pump_heat: Any,
) -> list[HeatLink]:
    """Return every link as the heat balance sees it.

    Parameters
    ----------
    plumbing : Plumbing
    tables : FuelTables
    points : mapping of str to array (points,)
        With what `surround` found.
    mass_flow, pressure : mapping of str to array (points,)
        By link, kg/s; by node, Pa absolute.
    pump_heat : array (points,)
        Electrical power that ends in the fuel, W.
    """
    tank = points["tank_temperature"]
    heat_capacity, viscosity = tables.heat_capacity(tank), tables.viscosity(tank)
    per_pressure = heating_per_pressure_lost(tables, tank)
    found = []
    for link in plumbing.links:
        exchange, flow = link.exchange, mass_flow[link.name]
        conductance = points[f"outside {link.name}"]
        if exchange.wall is not None:
            wall = exchange.wall
            film = internal_coefficient(flow, wall.bore, viscosity, FUEL_CONDUCTIVITY, heat_capacity)
            conductance = 1.0 / (1.0 / conductance + 1.0 / (np.pi * wall.bore * wall.length * film))
        drop = (pressure[link.upstream] - pressure[link.downstream]) * np.sign(flow)
        found.append(
            HeatLink(
                link.name,
                link.upstream,
                link.downstream,
                flow,
                points[f"around {link.name}"],
                conductance,
                power=exchange.radiation + (pump_heat if link.name == "pump" else 0.0),
                pressure_heating=per_pressure * drop,
            )
        )
    return found


def heating_per_pressure_lost(tables: FuelTables, temperature: Any) -> Any:
    """Return how much a liquid warms per pressure lost in throttling, (1 - alpha T) / (rho c), K/Pa.

    From dh = c dT + (1 - alpha T) dp / rho at constant enthalpy; alpha from the density table.
    """
    step = 1.0
    density = tables.density(temperature)
    expansion = (tables.density(temperature - step) - tables.density(temperature + step)) / (2.0 * step * density)
    return (1.0 - expansion * temperature) / (density * tables.heat_capacity(temperature))
