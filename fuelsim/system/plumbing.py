"""A car plumbed in one layout: the one owner of what stands where.

`plumb` turns the runs of a layout into links and stations. Every question about topology is asked of the `Plumbing`
that comes out: which pumps, rails and regulators there are, what lies between two stations, what stands under the
pump's pressure, what brings fuel back. No other module names a link, a regulator or a layout.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Generic, NamedTuple, TypeVar, cast

import numpy as np

from fuelsim.car.car import Car
from fuelsim.car.heat_parts import Cooler
from fuelsim.car.layouts import VESSEL, Layout, layout_named
from fuelsim.car.tables import PlacedRegulator, PlumbedLine, Rail, plain_table
from fuelsim.car.walls import WALLS
from fuelsim.errors import InputError, nearest
from fuelsim.fields import Ratings
from fuelsim.laws.film import shield_factor
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.filter import Filter
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.part import Part
from fuelsim.parts.pump.pump import Pump
from fuelsim.system.exchange import RADIATED_SHARE, Exchange, Wall
from fuelsim.typing import BoolArray, FloatLike, IndexArray

__all__ = ["MANIFOLD", "PlannedLink", "Plumbing", "PressureRating", "plumb"]

MANIFOLD = "manifold"
"""Station into which the injectors deliver."""
PUMP_BODY_CONDUCTANCE = 1.0
"""W/K from a pump's fuel through its body to what it stands in [assumed]; felt only when hardly any fuel flows."""
SHORT_BAY_LINE = 0.3
"""Length in metres of the line from the regulator in the bay to the rail where the car gives none."""


PartT = TypeVar("PartT", bound=Part, covariant=True)
KindT = TypeVar("KindT", bound=Part)


@dataclass(frozen=True)
class PlannedLink(Generic[PartT]):
    """One link of a layout.

    Attributes
    ----------
    name : str
        Its name in results.
    table : str
        Table of the car that holds its ratings.
    upstream, downstream : str
        Stations, in the direction of flow.
    part : Part
    exchange : Exchange
        Its heat exchange with what surrounds it.
    reference : str or None
        What a regulator's spring side is open to: ``"manifold"`` or ``"atmosphere"``.
    """

    name: str
    table: str
    upstream: str
    downstream: str
    part: PartT
    exchange: Exchange = Exchange()
    reference: str | None = None


class PressureRating(NamedTuple):
    """Working pressure of a part that may see the pump's pressure.

    Attributes
    ----------
    working_pressure : float, array (points,) or None
        Pa above the atmosphere; None where it is not given.
    always : bool
        Whether the part stands under the regulated pressure while the pump runs; a part of the return sees the pump's
        pressure only where it is pinched or blocked.
    """

    working_pressure: FloatLike | None
    always: bool

    @property
    def least(self) -> float | None:
        """Least working pressure over the operating points, Pa; None where it is not given."""
        return None if self.working_pressure is None else float(np.min(self.working_pressure))


@dataclass(frozen=True)
class Plumbing:
    """A car plumbed in one layout.

    Attributes
    ----------
    layout : Layout
    links : tuple of PlannedLink
        In the order of the runs.
    heights : dict of str to float
        Height of each station above the tank's floor, m.
    attached : dict of str to Ratings
        Parts of the car that stand under rail pressure without being a link, by table, such as a damper.
    """

    layout: Layout
    links: tuple[PlannedLink[Part], ...]
    heights: dict[str, float]
    attached: dict[str, Ratings]

    vessel = VESSEL
    """The vessel from which the runs start."""

    @cached_property
    def stations(self) -> tuple[str, ...]:
        """Every station, in the order of the links."""
        return tuple(dict.fromkeys(name for link in self.links for name in (link.upstream, link.downstream)))

    @cached_property
    def fuel_stations(self) -> tuple[str, ...]:
        """Every station that holds fuel."""
        return tuple(name for name in self.stations if name != MANIFOLD)

    @cached_property
    def upstream_rows(self) -> IndexArray:
        """Number in `stations` of each link's upstream station, (links,)."""
        return np.array([self.stations.index(link.upstream) for link in self.links])

    @cached_property
    def downstream_rows(self) -> IndexArray:
        """Number in `stations` of each link's downstream station, (links,)."""
        return np.array([self.stations.index(link.downstream) for link in self.links])

    @property
    def station_exchange(self) -> dict[str, Exchange]:
        """Heat exchange of the stations that hold fuel of their own, as a pot does; none in the standard layouts."""
        return {}

    @cached_property
    def pump_rows(self) -> IndexArray:
        """Number in `links` of each pump, (pumps,)."""
        return np.array([self.links.index(link) for link in self.pumps])

    @cached_property
    def carries_mixture(self) -> BoolArray:
        """Whether vapour flows through a link as a mixture, (links,); pumps, regulators and injectors have own laws."""
        apart = {link.name for link in (*self.pumps, *self.regulators, *self.injectors)}
        return np.array([link.name not in apart for link in self.links])

    def link(self, name: str) -> PlannedLink[Part]:
        """Return one link by its name in results.

        Raises
        ------
        InputError
            For an unknown name, with the nearest known one.
        """
        for link in self.links:
            if link.name == name:
                return link
        raise InputError("no such link", given=name, accepted=nearest(name, [link.name for link in self.links]))

    def _of(self, kind: type[KindT]) -> tuple[PlannedLink[KindT], ...]:
        return tuple(cast("PlannedLink[KindT]", link) for link in self.links if isinstance(link.part, kind))

    @cached_property
    def pumps(self) -> tuple[PlannedLink[Pump], ...]:
        """The pumps."""
        return self._of(Pump)

    @cached_property
    def injectors(self) -> tuple[PlannedLink[Injectors], ...]:
        """The injectors of each rail; their upstream station is where the rail's pressure is read."""
        return self._of(Injectors)

    @property
    def rails(self) -> tuple[str, ...]:
        """The stations at which rail pressure is read."""
        return tuple(link.upstream for link in self.injectors)

    @cached_property
    def rail_bores(self) -> tuple[PlannedLink[Part], ...]:
        """The bores of the rails, in the order of `rails`."""
        ends = {link.downstream: link for link in self.links if link.table == "rail"}
        return tuple(ends[rail] for rail in self.rails)

    @cached_property
    def regulators(self) -> tuple[PlannedLink[PlacedRegulator], ...]:
        """The regulators; a layout may have none."""
        return self._of(PlacedRegulator)

    @property
    def regulator(self) -> PlannedLink[PlacedRegulator] | None:
        """The regulator that holds the rail's pressure; None where the layout has none."""
        return self.regulators[0] if self.regulators else None

    @cached_property
    def _sides(self) -> dict[str, str]:
        """Side of each link: ``"suction"``, ``"pressure"``, ``"return"``; of pumps, injectors and regulators: ''."""
        apart = {link.name for link, line in zip(self.links, self.carries_mixture, strict=True) if not line}
        sides = dict.fromkeys((link.name for link in self.links), "")
        forward = [link.downstream for link in self.regulators]
        sides |= dict.fromkeys(self._reached(forward, apart), "return")
        sides |= dict.fromkeys(self._reached([link.upstream for link in self.pumps], apart, backward=True), "suction")
        return sides | dict.fromkeys(self._reached([link.downstream for link in self.pumps], apart), "pressure")

    def _reached(self, stations: Iterable[str], apart: set[str], *, backward: bool = False) -> list[str]:
        """Return the links met from some stations on, along or against the flow, up to vessels and links set apart."""
        names: list[str] = []
        open_stations = list(stations)
        while open_stations:
            station = open_stations.pop()
            for link in self.links:
                near, far = (link.downstream, link.upstream) if backward else (link.upstream, link.downstream)
                if near != station or near == VESSEL or link.name in apart or link.name in names:
                    continue
                names.append(link.name)
                open_stations.append(far)
        return names

    def _on(self, side: str, kind: type[KindT]) -> tuple[PlannedLink[KindT], ...]:
        return tuple(link for link in self._of(kind) if self._sides[link.name] == side)

    @property
    def suction_lines(self) -> tuple[PlannedLink[PlumbedLine], ...]:
        """Lines between a vessel and a pump's inlet."""
        return self._on("suction", PlumbedLine)

    @property
    def feed_lines(self) -> tuple[PlannedLink[PlumbedLine], ...]:
        """Lines between a pump's outlet and the rails or regulators."""
        return self._on("pressure", PlumbedLine)

    @property
    def return_lines(self) -> tuple[PlannedLink[PlumbedLine], ...]:
        """Lines behind a regulator; none where it spills inside the tank."""
        return self._on("return", PlumbedLine)

    @property
    def lines(self) -> tuple[PlannedLink[PlumbedLine], ...]:
        """Every line, in the order of the runs."""
        return self._of(PlumbedLine)

    @property
    def strainers(self) -> tuple[PlannedLink[Filter], ...]:
        """Filters before a pump."""
        return self._on("suction", Filter)

    @property
    def filters(self) -> tuple[PlannedLink[Filter], ...]:
        """Filters after a pump."""
        return self._on("pressure", Filter)

    @property
    def return_links(self) -> tuple[PlannedLink[Part], ...]:
        """The links that bring fuel back into the tank."""
        return tuple(link for link in self.links if link.downstream == VESSEL)

    @property
    def has_return(self) -> bool:
        """Whether a return line runs back to the tank."""
        return bool(self.return_lines)

    @property
    def sweeps_rail(self) -> bool:
        """Whether the bypass passes through a rail, and so carries vapour out of it."""
        return any(link.upstream in self.rails for link in self.regulators)

    @property
    def path(self) -> tuple[str, ...]:
        """Links from the tank to the first rail, in order."""
        return tuple(link.name for link in self.between(VESSEL, self.rails[0]))

    def between(self, start: str, end: str) -> tuple[PlannedLink[Part], ...]:
        """Return the links of the shortest way from one station to another, along the flow.

        Raises
        ------
        InputError
            For a station that does not lie on the way to the other.
        """
        ways: dict[str, tuple[PlannedLink[Part], ...]] = {start: ()}
        open_stations = [start]
        while open_stations:
            station = open_stations.pop(0)
            for link in self.links:
                if link.upstream == station and link.downstream not in ways:
                    ways[link.downstream] = (*ways[station], link)
                    if link.downstream != VESSEL:
                        open_stations.append(link.downstream)
        if end not in ways or start == end:
            raise InputError(
                f"no way from '{start}' to '{end}' along the flow",
                given=end,
                accepted=", ".join(name for name in ways if name != start) or "none",
                key="end",
            )
        return ways[end]

    @property
    def stations_to_rail(self) -> tuple[str, ...]:
        """Tank, pump's inlet and outlet, rail's inlet and rail, of the way to the first rail."""
        pump, bore = self.pumps[0], self.rail_bores[0]
        return (VESSEL, pump.upstream, pump.downstream, bore.upstream, self.rails[0])

    @property
    def under_pressure(self) -> dict[str, PressureRating]:
        """Every part that a car file can rate and that may see a pump's pressure, by table.

        Parts between a pump and the rails or regulators and those attached to a rail stand under it always; parts of a
        return do where it is pinched or blocked behind them. A rail's own bore has no rating to give.
        """
        parts: dict[str, tuple[Ratings, bool]] = {}
        for link in self.links:
            side = self._sides[link.name]
            if side in ("pressure", "return") and link.table != "rail":
                parts[link.table] = (link.part, side == "pressure")
        parts |= {table: (part, True) for table, part in self.attached.items()}
        return {
            table: PressureRating(getattr(part, "working_pressure", None), always)
            for table, (part, always) in parts.items()
        }

    def held_pressure(self, boost: FloatLike = 0.0) -> FloatLike:
        """Return the highest pressure held on purpose, Pa above the atmosphere.

        Parameters
        ----------
        boost : float or array
            Manifold pressure above the atmosphere, Pa; a regulator that sees the manifold adds it to its set pressure.

        Returns
        -------
        float or array
            Set pressure with boost; the pumps' dead-head pressure where no regulator limits it.
        """
        held: FloatLike = 0.0
        for link in self.regulators:
            held = np.maximum(held, link.part.set_pressure + (boost if link.reference == MANIFOLD else 0.0))
        return held if self.regulators else self.dead_head_pressure

    @property
    def dead_head_pressure(self) -> float:
        """The highest dead-head pressure of the pumps, Pa."""
        return max(link.part.dead_head_pressure for link in self.pumps)

    @property
    def dead_head_to_withstand(self) -> float:
        """The highest dead-head pressure that the pumps may have by their class, Pa."""
        return max(link.part.dead_head_to_withstand for link in self.pumps)

    @property
    def tables(self) -> tuple[str, ...]:
        """Tables of the car that this layout uses, in the order of flow."""
        return tuple(dict.fromkeys((VESSEL, *(link.table for link in self.links), *self.attached)))


def plumb(car: Car, name: str) -> Plumbing:
    """Return a car plumbed in one layout.

    Parameters
    ----------
    car : Car
    name : str
        Name of a layout.

    Raises
    ------
    InputError
        For an unknown layout, or a part the layout needs and the car lacks.

    Examples
    --------
    >>> plumbing = plumb(Car.named("finch"), "return")
    >>> plumbing.path
    ('strainer', 'pump', 'filter', 'feed', 'rail_bore')
    >>> list(plumbing.under_pressure)
    ['filter', 'feed', 'return_line']
    """
    layout = layout_named(car, name)
    links: list[PlannedLink[Part]] = []
    for run in layout.runs:
        links += _run_links(car, layout, tuple(item for item in run if not _left_out(car, item)))
    attached: dict[str, Ratings] = {} if car.damper is None else {"damper": car.damper}
    return Plumbing(layout, tuple(links), _heights(car, links), attached)


def _part(car: Car, name: str) -> Ratings | None:
    """Return the part of a name, None for a vessel or a junction."""
    if name == VESSEL:
        return None
    if name == "bay_line" and car.bay_line is None:
        return replace(
            plain_table(car.feed, "feed"), length=SHORT_BAY_LINE, loss_coefficient=0.0, fittings="", zone="bay"
        )
    part = getattr(car, name, None)
    return part if isinstance(part, Ratings) else None


def _left_out(car: Car, name: str) -> bool:
    """Whether a name is a table that this car does without."""
    return name in vars(car) and _part(car, name) is None and name != VESSEL


def _run_links(car: Car, layout: Layout, run: tuple[str, ...]) -> list[PlannedLink[Part]]:
    """Return the links of one run."""
    parts = [_part(car, name) for name in run]
    between = [_station(layout, run, parts, index) for index in range(len(run) - 1)]
    links: list[PlannedLink[Part]] = []
    for index, (name, part) in enumerate(zip(run, parts, strict=True)):
        # A rail at the start of a run is the station at which another run begins.
        if part is None or index == 0:
            continue
        upstream = between[index - 1]
        if isinstance(part, Rail):
            links.append(PlannedLink("rail_bore", name, upstream, name, part.line(), _exchange(car, part)))
            links.append(PlannedLink("injectors", "injectors", name, MANIFOLD, car.injectors))
        elif isinstance(part, Part):
            reference = part.reference if isinstance(part, PlacedRegulator) else None
            label = layout.names.get(name, name)
            links.append(PlannedLink(label, name, upstream, between[index], part, _exchange(car, part), reference))
    return links


def _station(layout: Layout, run: tuple[str, ...], parts: list[Ratings | None], index: int) -> str:
    """Return the station between one name of a run and the next."""
    first, second = run[index], run[index + 1]
    if parts[index] is None or isinstance(parts[index], Rail):
        return first
    if parts[index + 1] is None:
        return second
    outlet, inlet = f"{first}_outlet", f"{second}_inlet"
    for name in (outlet, inlet):
        if name in layout.names:
            return layout.names[name]
    before_pump = any(isinstance(part, Pump) for part in parts[index + 1 :])
    return inlet if before_pump or isinstance(parts[index + 1], Rail) else outlet


def _exchange(car: Car, part: Ratings) -> Exchange:
    """Return the heat exchange of a part."""
    if isinstance(part, PlumbedLine):
        return _line_exchange(part)
    if isinstance(part, Pump):
        return Exchange("tank" if part.mounting == "in_tank" else "underfloor", PUMP_BODY_CONDUCTANCE)
    if isinstance(part, Rail):
        return Exchange("bay", part.air_conductance, engine_conductance=part.engine_conductance)
    if isinstance(part, Cooler):
        zone = "ambient" if part.coolant_temperature is None else "coolant"
        return Exchange(zone, part.heat_conductance, moving_conductance=part.moving_heat_conductance)
    return Exchange()


def _line_exchange(line: PlumbedLine) -> Exchange:
    material = WALLS[line.material]
    wall = Wall(
        material, line.bore, material.thickness if line.wall_thickness is None else line.wall_thickness, line.length
    )
    facing = RADIATED_SHARE * math.pi * wall.outside_diameter * line.length
    passed = float(shield_factor(line.exhaust_shields, shield_emissivity=line.shield_emissivity))
    radiation = line.exhaust_flux * passed * facing
    if line.heat_conductance is None:
        return Exchange(line.zone, wall=wall, radiation=radiation)
    return Exchange(line.zone, line.heat_conductance * line.length, radiation=radiation)


def _heights(car: Car, links: list[PlannedLink[Part]]) -> dict[str, float]:
    """Return the height of every station, m above the tank's floor.

    Pumps, rails and coolers (which hang where the pump does) fix the height of their stations; a filter, valve or
    regulator that does not touch the tank has both ends at one height; what is left stands at the height of the next
    station downstream.
    """
    heights = {VESSEL: float(car.tank.fuel_level), MANIFOLD: float(plain_table(car.rail, "rail").height)}
    for link in links:
        if isinstance(link.part, Pump):
            heights |= {link.upstream: car.pump_height, link.downstream: car.pump_height}
        elif isinstance(link.part, Cooler):
            heights[link.downstream] = car.pump_height
        elif link.table == "rail":
            height = plain_table(car.rail, "rail").height
            heights |= {link.upstream: height, link.downstream: height}
    level = [
        link
        for link in links
        if isinstance(link.part, (Filter, CheckValve, PlacedRegulator))
        and VESSEL not in (link.upstream, link.downstream)
    ]
    while True:
        known = len(heights)
        for link in (*level, *reversed(level)):
            for here, there in ((link.upstream, link.downstream), (link.downstream, link.upstream)):
                if here in heights:
                    heights.setdefault(there, heights[here])
        if len(heights) > known:
            continue
        open_links = [link for link in links if link.upstream not in heights]
        below = [link for link in open_links if link.downstream in heights and link.downstream != VESSEL]
        if not open_links:
            return heights
        # A station with nothing downstream but the tank stands where the pump does.
        heights[(below or open_links)[-1].upstream] = heights[below[-1].downstream] if below else car.pump_height
