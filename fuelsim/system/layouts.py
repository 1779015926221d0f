"""The layouts: how the parts of one car are plumbed together.

Each layout is a function from a car to a `Plumbing`: nodes with heights and links in the direction of flow. To add a
layout, write one more function and enter it in `LAYOUTS`.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fuelsim.car.walls import WALLS
from fuelsim.errors import InputError, nearest
from fuelsim.laws.film import shield_factor
from fuelsim.parts.part import Part
from fuelsim.system.exchange import RADIATED_SHARE, Exchange, Wall

if TYPE_CHECKING:
    from fuelsim.car.car import Car
    from fuelsim.car.tables import PlumbedLine

__all__ = ["LAYOUTS", "PlannedLink", "Plumbing", "layouts_of", "missing_parts", "plumb"]

STATIONS = ("tank", "pump_inlet", "pump_outlet", "rail_inlet", "rail")
"""Stations every layout has, in the direction of the flow."""

PUMP_BODY_CONDUCTANCE = 1.0
"""W/K from a pump's fuel through its body to what it stands in (assumed); felt only when hardly any fuel flows."""

SHORT_BAY_LINE = 0.3
"""Length in metres of the line from the regulator in the bay to the rail where the car gives none."""


@dataclass(frozen=True)
class PlannedLink:
    """One link of a layout: its name, nodes, part, heat exchange and the node its spring side sees."""

    name: str
    upstream: str
    downstream: str
    part: Part
    exchange: Exchange = Exchange()
    reference: str | None = None


@dataclass(frozen=True)
class Plumbing:
    """A layout of one car: links in the direction of flow and node heights in metres above the tank's floor."""

    layout: str
    links: tuple[PlannedLink, ...]
    heights: dict[str, float]

    @property
    def path(self) -> tuple[str, ...]:
        """Links from the tank to the rail, in order."""
        names, node = [], "tank"
        following = {link.upstream: link for link in self.links if link.name not in ("regulator", "return_line")}
        while node != "rail":
            link = following[node]
            names.append(link.name)
            node = link.downstream
        return tuple(names)


def _exchange(line: PlumbedLine) -> Exchange:
    material = WALLS[line.material]
    wall = Wall(
        material,
        line.bore,
        material.thickness if line.wall_thickness is None else line.wall_thickness,
        line.length,
    )
    facing = RADIATED_SHARE * math.pi * wall.outside_diameter * line.length
    radiation = line.exhaust_flux * float(shield_factor(line.exhaust_shields)) * facing
    if line.heat_conductance is None:
        return Exchange(line.zone, wall=wall, radiation=radiation)
    return Exchange(line.zone, line.heat_conductance * line.length, radiation=radiation)


def _supply(car: Car) -> list[PlannedLink]:
    """Return the links from the tank to the outlet of the filter."""
    first = "anti_siphon_inlet" if car.anti_siphon else "suction_inlet" if car.suction else "pump_inlet"
    links = [PlannedLink("strainer", "tank", first, car.strainer)]
    if car.anti_siphon is not None:
        links.append(PlannedLink("anti_siphon", "anti_siphon_inlet", "suction_inlet", car.anti_siphon))
    if car.suction is not None:
        links.append(PlannedLink("suction", "suction_inlet", "pump_inlet", car.suction, _exchange(car.suction)))
    zone = "tank" if car.pump.mounting == "in_tank" else "underfloor"
    links.append(PlannedLink("pump", "pump_inlet", "pump_outlet", car.pump, Exchange(zone, PUMP_BODY_CONDUCTANCE)))
    outlet = "pump_outlet"
    if car.check_valve is not None:
        outlet = "check_valve_outlet"
        links.append(PlannedLink("check_valve", "pump_outlet", outlet, car.check_valve))
    links.append(PlannedLink("filter", outlet, "filter_outlet", car.filter))
    return links


def _delivery(car: Car, start: str, line_name: str, line: PlumbedLine) -> list[PlannedLink]:
    """Return the links from the last line before the rail to the injectors."""
    rail = Exchange("bay", car.rail.air_conductance, engine_conductance=car.rail.engine_conductance)
    return [
        PlannedLink(line_name, start, "rail_inlet", line, _exchange(line)),
        PlannedLink("rail_bore", "rail_inlet", "rail", car.rail.line(), rail),
        PlannedLink("injectors", "rail", "manifold", car.injectors),
    ]


def _back(car: Car, line: PlumbedLine) -> list[PlannedLink]:
    """Return the links from a regulator in the bay to the tank: the return line, with a cooler before it if any."""
    if car.cooler is None:
        return [PlannedLink("return_line", "return_inlet", "tank", line, _exchange(line))]
    cooler = car.cooler
    zone = "ambient" if cooler.coolant_temperature is None else "coolant"
    heat = Exchange(zone, cooler.heat_conductance, moving_conductance=cooler.moving_heat_conductance)
    return [
        PlannedLink("cooler", "return_inlet", "cooler_outlet", cooler, heat),
        PlannedLink("return_line", "cooler_outlet", "tank", line, _exchange(line)),
    ]


def _return(car: Car) -> Plumbing:
    assert car.rail_regulator is not None
    assert car.return_line is not None
    regulator, back = car.rail_regulator, car.return_line
    links = _supply(car) + _delivery(car, "filter_outlet", "feed", car.feed)
    links += [
        PlannedLink("regulator", "rail", "return_inlet", regulator, Exchange("bay"), regulator.reference),
        *_back(car, back),
    ]
    return Plumbing("return", tuple(links), _heights(car, bay=("rail_inlet", "rail", "return_inlet")))


def _returnless_tank(car: Car) -> Plumbing:
    assert car.tank_regulator is not None
    regulator = car.tank_regulator
    links = _supply(car)
    links.append(PlannedLink("regulator", "filter_outlet", "tank", regulator, Exchange("tank"), regulator.reference))
    links += _delivery(car, "filter_outlet", "feed", car.feed)
    return Plumbing("returnless_tank", tuple(links), _heights(car, bay=("rail_inlet", "rail")))


def _returnless_bay(car: Car) -> Plumbing:
    assert car.bay_regulator is not None
    assert car.return_line is not None
    regulator, back, bay_line = car.bay_regulator, car.return_line, car.bay_line
    if bay_line is None:
        bay_line = dataclasses.replace(car.feed, length=SHORT_BAY_LINE, loss_coefficient=0.0, fittings="", zone="bay")
    links = _supply(car)
    links += [
        PlannedLink("feed", "filter_outlet", "regulator_inlet", car.feed, _exchange(car.feed)),
        PlannedLink("regulator", "regulator_inlet", "return_inlet", regulator, Exchange("bay"), regulator.reference),
        *_back(car, back),
    ]
    links += _delivery(car, "regulator_inlet", "bay_line", bay_line)
    bay = ("regulator_inlet", "rail_inlet", "rail", "return_inlet")
    return Plumbing("returnless_bay", tuple(links), _heights(car, bay=bay))


def _heights(car: Car, bay: tuple[str, ...]) -> dict[str, float]:
    pump = car.pump_height
    optional = {
        "suction_inlet": car.suction,
        "anti_siphon_inlet": car.anti_siphon,
        "check_valve_outlet": car.check_valve,
    }
    near_pump = (name for name, part in optional.items() if part is not None)
    heights = {"tank": car.tank.fuel_level, "manifold": car.rail.height}
    heights |= dict.fromkeys((*near_pump, "pump_inlet", "pump_outlet", "filter_outlet"), pump)
    if "return_inlet" in bay and car.cooler is not None:
        heights["cooler_outlet"] = pump
    return heights | dict.fromkeys(bay, car.rail.height)


LAYOUTS: dict[str, tuple[Callable[[Car], Plumbing], tuple[str, ...]]] = {
    "return": (_return, ("rail_regulator", "return_line")),
    "returnless_tank": (_returnless_tank, ("tank_regulator",)),
    "returnless_bay": (_returnless_bay, ("bay_regulator", "return_line")),
}
"""Name of each layout: the function that plumbs it and the optional tables of a car it needs."""


def missing_parts(car: Car, layout: str) -> list[str]:
    """Return the tables that a layout needs and the car lacks."""
    return [name for name in LAYOUTS[layout][1] if getattr(car, name) is None]


def layouts_of(car: Car) -> list[str]:
    """Return the layouts that a car has the parts for."""
    return [layout for layout in LAYOUTS if not missing_parts(car, layout)]


def plumb(car: Car, layout: str) -> Plumbing:
    """Return a car's plumbing in one layout.

    Raises
    ------
    InputError
        For an unknown layout, or a part the layout needs and the car lacks.
    """
    if layout not in LAYOUTS:
        raise InputError("no such layout", given=layout, accepted=nearest(layout, LAYOUTS))
    missing = missing_parts(car, layout)
    if missing:
        available = layouts_of(car)
        raise InputError(
            f"the layout '{layout}' needs [{missing[0]}], which the car lacks",
            accepted=f"a table [{missing[0]}], or another layout ({', '.join(available) or 'none'})",
            key=missing[0],
            file=car.file,
        )
    return LAYOUTS[layout][0](car)
