"""Where heat enters and leaves: the air around each part, films and walls, exhaust, engine metal and the pumps.

What does not depend on the flow is computed once for a batch of operating points (`surroundings_of_links`); only the
film inside the lines follows the flow from round to round (`fuel_temperatures`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.fuel.tables import HIGHEST_TEMPERATURE
from fuelsim.laws.film import internal_coefficient, line_conductance, outside_coefficient
from fuelsim.numerics.bracket import illinois
from fuelsim.system.coil_heat import CoilHeat, coil_heat
from fuelsim.system.exchange import AIRSTREAM_SHARE, Exchange, between, moving_share
from fuelsim.system.heat import LinkHeat, NodeHeat, Temperatures, heat_balance
from fuelsim.typing import FloatArray, FloatLike, IndexArray, LinkArray, NodeArray, PointArray

if TYPE_CHECKING:
    from fuelsim.car.car import Car
    from fuelsim.fuel.tables import FuelTables
    from fuelsim.system.operating_points import OperatingPoints
    from fuelsim.system.plumbing import Plumbing

__all__ = [
    "Boiling",
    "SurroundingsOfLinks",
    "TankFuel",
    "air_around",
    "as_liquid_at",
    "boiling_at",
    "fuel_temperatures",
    "heating_per_pressure_lost",
    "standing_temperatures",
    "surroundings_of_links",
]

FUEL_CONDUCTIVITY = 0.115
"""W/m/K: petrol components 0.110 to 0.125 (computed from their correlations)."""

_LEAST_SLOPE = 0.02
"""Least share of its conductance that acts on fuel that boils."""
_LEAST_SPAN = 1e-6
"""K from equilibrium below which fuel counts as having reached it."""
_BLENDED = 1.0
"""K by which boiling has cooled the fuel where the share of the conductance has come to that of boiling fuel."""
_STEPS = 30
"""Most steps of the search for the temperature as if all liquid."""
_TEMPERATURE_TOLERANCE = 1e-4
"""Its tolerance, K."""


class TankFuel(NamedTuple):
    """Properties of the fuel at the tank's temperature; every array is (points,).

    Attributes
    ----------
    heat_capacity : array
        J/kg/K.
    viscosity : array
        Dynamic viscosity, Pa s.
    heating_per_pressure : array
        Warming per pressure lost in throttling, K/Pa.
    """

    heat_capacity: PointArray
    viscosity: PointArray
    heating_per_pressure: PointArray


class Boiling(NamedTuple):
    """What drives the exchange of fuel that may boil, linear in its temperature as if all liquid; (links, points).

    Heat is exchanged by the true temperature, which is lower than that as if all liquid where fuel boils. The balance
    is solved in the latter: the conductance is reduced by a slope, and the fuel tends to the temperature as if all
    liquid that it has when as warm as its surroundings. The exchange is exact at the mean state of each link.

    Attributes
    ----------
    equilibrium : array
        Temperature as if all liquid to which the fuel tends, K.
    slope : array
        Share of the conductance that acts, up to 1.
    """

    equilibrium: LinkArray
    slope: LinkArray


@dataclass(frozen=True)
class SurroundingsOfLinks:
    """What surrounds each link, and what else of its heat exchange the flow does not change.

    Attributes
    ----------
    temperature : array (links, points)
        Mean of air and engine metal, weighted by conductance, K.
    conductance : array (links, points)
        From there to the inside of the wall, W/K.
    radiation : array (links, points)
        Heat radiated onto each link, W.
    lined : array (lines,)
        Numbers of the links whose inside film is computed.
    bore, wetted_area : array (lines, points)
        Bore of those links, m, and surface inside them, m2.
    stations : NodeHeat or None
        Exchange of the stations themselves, (stations, points); None where none exchanges heat.
    coils : CoilHeat or None
        What the heat of the injectors' coils follows from; None where none of it ends in the fuel.
    fuel : TankFuel
    """

    temperature: LinkArray
    conductance: LinkArray
    radiation: LinkArray
    lined: IndexArray
    bore: LinkArray
    wetted_area: LinkArray
    stations: NodeHeat | None
    coils: CoilHeat | None
    fuel: TankFuel

    def take(self, index: IndexArray) -> SurroundingsOfLinks:
        """Return some of the points."""
        return SurroundingsOfLinks(
            self.temperature[:, index],
            self.conductance[:, index],
            self.radiation[:, index],
            self.lined,
            self.bore[:, index],
            self.wetted_area[:, index],
            None if self.stations is None else NodeHeat._make(values[:, index] for values in self.stations),
            None if self.coils is None else self.coils.take(index),
            TankFuel._make(values[index] for values in self.fuel),
        )


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


def surroundings_of_links(
    car: Car, plumbing: Plumbing, tables: FuelTables, points: OperatingPoints
) -> SurroundingsOfLinks:
    """Return what surrounds the links at each point.

    The outside film takes the fuel's temperature in the tank for the surface's, which it hardly feels.

    Parameters
    ----------
    car : Car
    plumbing : Plumbing
        With ratings that are one value or (points,).
    tables : FuelTables
    points : OperatingPoints
    """
    tank = points.tank_temperature
    zones = air_around(
        car,
        points.air_temperature,
        tank,
        points.vehicle_speed,
        points.bay_temperature,
        points.underfloor_temperature,
    )
    shape = (len(plumbing.links), len(points))
    temperature, conductance, radiation = np.empty(shape), np.empty(shape), np.empty(shape)
    walls = {row: link.exchange.wall for row, link in enumerate(plumbing.links) if link.exchange.wall is not None}
    bore, wetted_area = np.empty((len(walls), len(points))), np.empty((len(walls), len(points)))
    for row, link in enumerate(plumbing.links):
        around = zones[link.exchange.zone]
        temperature[row], conductance[row] = _through_the_wall(link.exchange, around, points)
        radiation[row] = link.exchange.radiation
    for line, wall in enumerate(walls.values()):
        bore[line], wetted_area[line] = wall.bore, np.pi * wall.bore * wall.length
    fuel = TankFuel(tables.heat_capacity(tank), tables.viscosity(tank), heating_per_pressure_lost(tables, tank))
    return SurroundingsOfLinks(
        temperature,
        conductance,
        radiation,
        np.array(list(walls), dtype=np.intp),
        bore,
        wetted_area,
        _station_heat(plumbing, zones, points),
        coil_heat(plumbing, np.asarray(tables.density(tank)), points),
        fuel,
    )


def _station_heat(plumbing: Plumbing, zones: Mapping[str, PointArray], points: OperatingPoints) -> NodeHeat | None:
    """Return what the stations exchange themselves, None where none of them does."""
    if not plumbing.station_exchange:
        return None
    shape = (len(plumbing.stations), len(points))
    heat = NodeHeat(np.zeros(shape), np.zeros(shape), np.zeros(shape))
    for name, exchange in plumbing.station_exchange.items():
        row = plumbing.stations.index(name)
        around, conductance = _through_the_wall(exchange, zones[exchange.zone], points)
        heat.surroundings_temperature[row], heat.conductance[row] = around, conductance
        heat.power[row] = exchange.radiation
    return heat


def _through_the_wall(exchange: Exchange, around: PointArray, points: OperatingPoints) -> tuple[FloatLike, FloatLike]:
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
    metal = points.engine_temperature
    return around + exchange.engine_conductance / total * (metal - around), total


def fuel_temperatures(
    plumbing: Plumbing,
    surroundings: SurroundingsOfLinks,
    mass_flow: LinkArray,
    pressure: NodeArray,
    pump_heat: LinkArray,
    tank_temperature: PointArray,
    pot_temperatures: Mapping[str, PointArray],
    boiling: Boiling,
) -> Temperatures:
    """Return the temperature of the fuel at every station and at the outlet of every link, as if all liquid.

    Parameters
    ----------
    plumbing : Plumbing
    surroundings : SurroundingsOfLinks
    mass_flow : array (links, points)
        kg/s; zero where the fuel stands.
    pressure : array (stations, points)
        Pa absolute.
    pump_heat : array (pumps, points)
        Electrical power that ends in the fuel, W.
    tank_temperature : array (points,)
        K.
    pot_temperatures : mapping of str to array (points,)
        Given temperatures of pots, K; a pot that is not there takes the mean of what flows in.
    boiling : Boiling
        What of the fuel's temperature drives its exchange.
    """
    given = {plumbing.vessel: tank_temperature, **pot_temperatures}
    fixed = sorted((plumbing.stations.index(name), name) for name in given)
    upstream, downstream = plumbing.upstream_rows, plumbing.downstream_rows
    balance = heat_balance(
        len(plumbing.stations),
        tuple(upstream.tolist()),
        tuple(downstream.tolist()),
        tuple(row for row, _ in fixed),
    )
    power = surroundings.radiation.copy()
    power[plumbing.pump_rows] += pump_heat
    if surroundings.coils is not None:
        surroundings.coils.add_to(power, plumbing, mass_flow, pressure)
    fuel = surroundings.fuel
    lost = (pressure[upstream] - pressure[downstream]) * np.sign(mass_flow)
    links = LinkHeat(
        mass_flow,
        boiling.equilibrium,
        _conductance(surroundings, mass_flow) * boiling.slope,
        power,
        fuel.heating_per_pressure * lost,
    )
    return balance.solve(
        links,
        np.stack([given[name] for _, name in fixed]),
        fuel.heat_capacity,
        stagnant_temperature=tank_temperature,
        nodes=surroundings.stations,
    )


def standing_temperatures(
    plumbing: Plumbing, surroundings: SurroundingsOfLinks, points: OperatingPoints, equilibrium: LinkArray
) -> Temperatures:
    """Return the temperature of fuel that stands everywhere, without pumps, as if all liquid.

    Parameters
    ----------
    plumbing : Plumbing
    surroundings : SurroundingsOfLinks
    points : OperatingPoints
    equilibrium : array (links, points)
        Temperature to which the fuel in each link tends, K.
    """
    still = np.zeros(equilibrium.shape)
    return fuel_temperatures(
        plumbing,
        surroundings,
        still,
        np.broadcast_to(points.tank_pressure, (len(plumbing.stations), len(points))),
        still[: len(plumbing.pumps)],
        points.tank_temperature,
        points.pot_temperatures,
        Boiling(equilibrium, np.ones(equilibrium.shape)),
    )


def boiling_at(tables: FuelTables, as_liquid: LinkArray, pressure: LinkArray, around: LinkArray) -> Boiling:
    """Return what drives the exchange of fuel that may boil.

    Parameters
    ----------
    tables : FuelTables
    as_liquid, pressure : array (links, points)
        Mean temperature as if all liquid, K, and mean pressure, Pa absolute, in each link.
    around : array (links, points)
        Temperature of the surroundings, K.

    Examples
    --------
    Fuel that boils takes up far more heat until it is as warm as its surroundings; other fuel tends to them:

    >>> from fuelsim.fuel.fuel import Fuel
    >>> tables = Fuel.named("summer_e10").tables()
    >>> at = boiling_at(tables, np.array([[340.0, 300.0]]), np.array([[50e3, 90e3]]), np.array([[330.0, 330.0]]))
    >>> bool(at.equilibrium[0, 0] > 370.0), at.equilibrium[0, 1].item(), at.slope[0, 1].item()
    (True, 330.0, 1.0)
    """
    equilibrium, slope = around.copy(), np.ones(as_liquid.shape)
    boils = pressure < tables.bubble_pressure(np.minimum(as_liquid, HIGHEST_TEMPERATURE))
    if np.any(boils):
        at, p, outside, of = as_liquid[boils], pressure[boils], around[boils], tables.where(boils)
        true = _after_drop(of, at, p)
        tends = as_liquid_at(of, outside, p)
        with np.errstate(divide="ignore", invalid="ignore"):
            secant = np.where(np.abs(tends - at) > _LEAST_SPAN, (outside - true) / (tends - at), 1.0)
        cooled = np.minimum((at - true) / _BLENDED, 1.0)
        slope[boils] = 1.0 - cooled * (1.0 - np.clip(secant, _LEAST_SLOPE, 1.0))
        equilibrium[boils] = at + (outside - true) / slope[boils]
    return Boiling(equilibrium, slope)


def _after_drop(tables: FuelTables, as_liquid: PointArray, pressure: PointArray) -> PointArray:
    """Return the true temperature, K; beyond the tables what has boiled away warms as a vapour."""
    within = np.minimum(as_liquid, HIGHEST_TEMPERATURE)
    return np.asarray(tables.temperature_after_drop(within, pressure)) + (as_liquid - within)


def as_liquid_at(tables: FuelTables, true: FloatArray, pressure: FloatArray) -> FloatArray:
    """Return the temperature as if all liquid of fuel with a true temperature, K: its enthalpy.

    Parameters
    ----------
    tables : FuelTables
    true, pressure : array
        True temperature, K, and pressure, Pa absolute, of one shape.

    Examples
    --------
    >>> from fuelsim.fuel.fuel import Fuel
    >>> tables = Fuel.named("summer_e10").tables()
    >>> boils = as_liquid_at(tables, np.array([300.0, 330.0]), np.array([90e3, 90e3]))
    >>> bool(boils[1] > 335.0), boils[0].item(), round(tables.temperature_after_drop(float(boils[1]), 90e3), 2)
    (True, 300.0, 330.0)
    """
    boils = true > tables.bubble_temperature(pressure)
    result = true.copy()
    if np.any(boils):
        t, p, of = true[boils], pressure[boils], tables.where(boils)
        end = np.maximum(t, HIGHEST_TEMPERATURE)
        low, high = t, end + np.maximum(t - _after_drop(of, end, p), 0.0)
        result[boils] = illinois(
            lambda at: _after_drop(of, at, p) - t, low, high, steps=_STEPS, tolerance=_TEMPERATURE_TOLERANCE
        )
    return result


def _conductance(surroundings: SurroundingsOfLinks, mass_flow: LinkArray) -> LinkArray:
    """Return the conductance from the surroundings to the fuel, (links, points), W/K."""
    lined, fuel = surroundings.lined, surroundings.fuel
    film = internal_coefficient(
        mass_flow[lined], surroundings.bore, fuel.viscosity, FUEL_CONDUCTIVITY, fuel.heat_capacity
    )
    conductance = surroundings.conductance.copy()
    conductance[lined] = 1.0 / (1.0 / conductance[lined] + 1.0 / (surroundings.wetted_area * film))
    return conductance


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
