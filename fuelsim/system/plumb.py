"""From the runs of a layout to links and stations.

Every part of a run has two ends, ``<part>_inlet`` and ``<part>_outlet``; a vessel, a pot or a junction is one point.
Ends that meet are one station, whose name in results is that of the vessel, pot or junction there, else that of one of
the parts; the other names lead to it too.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from itertools import pairwise

from fuelsim.car.car import Car
from fuelsim.car.heat_parts import Cooler, Pot
from fuelsim.car.layouts import VESSEL, Layout, layout_named
from fuelsim.car.runs import injector_shares
from fuelsim.car.tables import PlacedReducer, PlacedRegulator, PlumbedLine, Rail
from fuelsim.car.walls import WALLS
from fuelsim.errors import InputError
from fuelsim.fields import Ratings
from fuelsim.laws.film import shield_factor
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.filter import Filter
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.line import Line
from fuelsim.parts.part import Part
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.tank_parts import JetPump
from fuelsim.parts.wire import Wire
from fuelsim.system.exchange import RADIATED_SHARE, Exchange, Wall
from fuelsim.system.plumbing import MANIFOLD, PlannedLink, PlannedRail, Plumbing
from fuelsim.system.pot_parts import JetSuction, OverflowLine
from fuelsim.system.pump_sensors import planned_stages, with_sensors

__all__ = ["plumb"]

SHORT_BAY_LINE = 0.3
"""Length in metres of the line from the regulator in the bay to the rail where the car gives none."""


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
    runs = [tuple(item for item in run if not _left_out(car, item)) for run in layout.runs]
    stations = _stations(car, layout, runs)
    built = _Links(car, layout, stations)
    for run in runs:
        built.add_run(run, {other[0] for other in runs})
    pots = {item: part for run in runs for item in run if isinstance(part := car.part(item), Pot)}
    links = _with_overflows(car, built.links, pots)
    rails = tuple(_with_own_manifold(rail, rails_first=built.rails[0], car=car) for rail in built.rails)
    injectors = {rail.injectors.name: rail.injectors for rail in rails}
    links = [injectors.get(link.name, link) for link in links]
    stations_of_rails = [rail.name for rail in rails]
    links, controls = with_sensors(car, links, built.pump_names, stations_of_rails)
    return Plumbing(
        layout,
        tuple(links),
        rails,
        _heights(car, layout, links, pots, stations),
        _attached(car, layout, rails),
        pots,
        {link.name: built.wire(link) for link in links if isinstance(link.part, Pump)},
        stations.also_named | built.also_named | ({"injectors": rails[0].injectors.name} if len(rails) == 1 else {}),
        controls,
        planned_stages(car, links, built.pump_names, stations_of_rails),
    )


def _left_out(car: Car, name: str) -> bool:
    """Whether a name is a table that this car does without."""
    return name in vars(car) and _part(car, name) is None and name != VESSEL


def _part(car: Car, name: str) -> Ratings | None:
    """Return the part of a name, None for a vessel or a junction."""
    if name == "bay_line" and car.bay_line is None and car.feed is not None:
        return replace(car.feed, length=SHORT_BAY_LINE, loss_coefficient=0.0, fittings="", zone="bay")
    return car.part(name)


@dataclass
class _Stations:
    """Stations by the names of the ends that meet there.

    Attributes
    ----------
    of_end : dict of str to str
        Station of each end, junction and vessel.
    """

    of_end: dict[str, str] = field(default_factory=dict)

    @property
    def also_named(self) -> dict[str, str]:
        """Names that are not those of results, each with the one that is."""
        return {name: station for name, station in self.of_end.items() if name != station}


def _ends(part: Ratings | None, name: str, layout: Layout) -> tuple[str, str]:
    """Return the inlet and the outlet of a name of a run."""
    if part is None or isinstance(part, Pot):
        return name, name
    if isinstance(part, Rail) and layout.injectors_at_rail_end:
        return f"{name}_inlet", name
    return f"{name}_inlet", f"{name}_outlet"


def _stations(car: Car, layout: Layout, runs: Iterable[tuple[str, ...]]) -> _Stations:
    """Join the ends that meet in the runs, and name each station."""
    groups: dict[str, list[str]] = {}
    preferred: dict[str, str] = {}
    for run in runs:
        parts = [_part(car, name) for name in run]
        ends = [_ends(part, name, layout) for part, name in zip(parts, run, strict=True)]
        for name in (end for pair in ends for end in pair):
            groups.setdefault(name, [name])
        for index, ((_, outlet), (inlet, _)) in enumerate(pairwise(ends)):
            if groups[outlet] is not groups[inlet]:
                groups[outlet].extend(groups[inlet])
                for name in groups[inlet]:
                    groups[name] = groups[outlet]
            before_pump = any(isinstance(part, Pump) for part in parts[index + 1 :])
            preferred[outlet] = inlet if before_pump or isinstance(parts[index + 1], Rail) else outlet
    points = {name for run in runs for name in run if _part(car, name) is None or isinstance(_part(car, name), Pot)}
    rails = {name for run in runs for name in run if isinstance(_part(car, name), Rail)}
    of_end: dict[str, str] = {}
    for members in groups.values():
        if members[0] in of_end:
            continue
        vessels = [name for name in members if name == VESSEL or isinstance(car.part(name), Pot)]
        renamed = [layout.names[name] for name in members if name in layout.names]
        named = [*vessels, *(name for name in members if name in points or name in rails), *renamed]
        station = named[0] if named else next((preferred[name] for name in members if name in preferred), members[0])
        of_end |= dict.fromkeys(members, station)
        of_end.setdefault(station, station)
    return _Stations(of_end)


class _Links:
    """Makes the links of the runs one by one."""

    def __init__(self, car: Car, layout: Layout, stations: _Stations) -> None:
        self.car, self.layout, self.station = car, layout, stations.of_end
        self.links: list[PlannedLink[Part]] = []
        self.rails: list[PlannedRail] = []
        self.also_named: dict[str, str] = {}
        self.shares = injector_shares(car, layout)
        self.pump_names: dict[str, str] = {}

    def add_run(self, run: tuple[str, ...], starts: set[str]) -> None:
        """Add the links of one run; a rail at which another run starts does not end here."""
        # A rail at which a run starts belongs to the run that leads to it.
        for name in run[1:]:
            part = _part(self.car, name)
            if isinstance(part, Rail):
                self._add_rail(part, name, last=name == run[-1] and name not in starts)
            elif isinstance(part, JetPump):
                self._add_jet(part, name)
            elif isinstance(part, Part):
                self._add(part, name)

    def _table(self, name: str) -> str:
        return self.car.table_of(name) or name

    def wire(self, pump: PlannedLink[Part]) -> Wire:
        """Return the wire of a pump, by its link."""
        name = self.pump_names[pump.name]
        wire = self.car.wires.get(name, self.car.wire)
        if wire is None:
            raise InputError(
                f"the pump '{name}' has no wire",
                accepted=f"a table [wires.{name}], or [wire] for every pump without one",
                key=f"wires.{name}",
                file=self.car.file,
            )
        return wire

    def _add(self, part: Part, name: str) -> None:
        reference = part.reference if isinstance(part, PlacedRegulator | PlacedReducer) else None
        label = self.layout.names.get(name, name)
        if label != name:
            self.also_named[name] = label
        if isinstance(part, Pump):
            self.pump_names[label] = name
        inlet, outlet = (self.station[end] for end in _ends(part, name, self.layout))
        table = self._table(name)
        self.links.append(PlannedLink(label, table, inlet, outlet, part, _exchange(self.car, part), reference))

    def _add_jet(self, part: JetPump, name: str) -> None:
        """Add the nozzle, and the suction from the tank to where the nozzle delivers."""
        inlet, outlet = self.station[f"{name}_inlet"], self.station[f"{name}_outlet"]
        table = self._table(name)
        if outlet == VESSEL:
            raise InputError(
                f"the jet pump '{name}' delivers into the tank that it draws from",
                accepted="a run in which it delivers into a pot",
                key=table,
                file=self.car.file,
            )
        self.links.append(PlannedLink(name, table, inlet, outlet, part.nozzle()))
        self.links.append(PlannedLink(f"{name}_suction", table, VESSEL, outlet, JetSuction(jet=part)))

    def _add_rail(self, part: Rail, name: str, *, last: bool) -> None:
        table = self._table(name)
        exchange = _exchange(self.car, part)
        if self.layout.injectors_at_rail_end:
            bore = PlannedLink[Part]("rail_bore", table, self.station[f"{name}_inlet"], name, part.line(), exchange)
            self._add_injected(part, name, "injectors", bore, None)
            return
        half = part.line().with_values({"length": 0.5 * part.length})
        if not last:
            exchange = replace(
                exchange,
                conductance=0.5 * exchange.conductance,
                engine_conductance=0.5 * exchange.engine_conductance,
            )
        station = self.station[f"{name}_inlet"]
        inlet = PlannedLink[Part](f"{name}_inlet_bore", table, station, name, half, exchange)
        outlet = None
        if not last:
            station = self.station[f"{name}_outlet"]
            outlet = PlannedLink[Part](f"{name}_outlet_bore", table, name, station, half, exchange)
        self._add_injected(part, name, f"{name}_injectors", inlet, outlet)

    def _add_injected(
        self, part: Rail, name: str, label: str, inlet: PlannedLink[Part], outlet: PlannedLink[Part] | None
    ) -> None:
        own = replace(self.car.injectors, count=self.shares[name])
        injectors = PlannedLink[Injectors](label, "injectors", name, MANIFOLD, own)
        self.links += [link for link in (inlet, injectors, outlet) if link is not None]
        self.rails.append(PlannedRail(name, self._table(name), injectors, inlet, outlet))


def _with_overflows(car: Car, links: list[PlannedLink[Part]], pots: dict[str, Pot]) -> list[PlannedLink[Part]]:
    """Return the links with those through which a pot runs over as overflows into the tank's vapour space.

    They are the ways from a pot to the tank without a pump; their far end stands at the pot's own height, since the
    fuel falls through the vapour space and no column of it draws on the pot.
    """
    changed = {link.name: link for link in links}
    for pot in pots:
        for name in _overflow_ways(links, pot):
            link = changed[name]
            if not isinstance(link.part, Line):
                raise InputError(
                    f"a pot runs over through lines and coolers only, and '{name}' stands between '{pot}' and the tank",
                    given=name,
                    accepted="a line from the pot to the tank",
                    key=link.table,
                    file=car.file,
                )
            end = f"{pot}_vapour_space" if link.downstream == VESSEL else None
            changed[name] = replace(link, part=OverflowLine(line=link.part), discharge=end)
    return [changed[link.name] for link in links]


def _overflow_ways(links: list[PlannedLink[Part]], pot: str) -> list[str]:
    """Return the names of the links on a way from a pot to the tank without a pump."""

    def onward(station: str, passed: tuple[str, ...]) -> list[str]:
        if station == VESSEL:
            return list(passed)
        ways = []
        for link in links:
            if link.upstream == station and link.name not in passed and not isinstance(link.part, Pump | Injectors):
                ways += onward(link.downstream, (*passed, link.name))
        return ways

    return list(dict.fromkeys(onward(pot, ())))


def _with_own_manifold(rail: PlannedRail, rails_first: PlannedRail, car: Car) -> PlannedRail:
    """Return a rail whose injectors deliver at its own height, where that is not the first rail's."""
    heights = [_rail_height(car, each.name) for each in (rail, rails_first)]
    if heights[0] == heights[1]:
        return rail
    return replace(rail, injectors=replace(rail.injectors, discharge=f"{rail.name}_{MANIFOLD}"))


def _rail_height(car: Car, name: str) -> float:
    part = car.part(name)
    return float(part.height) if isinstance(part, Rail) else 0.0


def _attached(car: Car, layout: Layout, rails: Iterable[PlannedRail]) -> dict[str, Ratings]:
    """Return the dampers of the rails, by table."""
    attached: dict[str, Ratings] = {} if car.damper is None else {"damper": car.damper}
    return attached | {f"dampers.{rail.name}": car.dampers[rail.name] for rail in rails if rail.name in car.dampers}


def _exchange(car: Car, part: Ratings) -> Exchange:
    """Return the heat exchange of a part."""
    if isinstance(part, PlumbedLine):
        return _line_exchange(part)
    if isinstance(part, Pump):
        zone = "tank" if part.mounting == "in_tank" else "underfloor"
        return Exchange(zone, part.body_conductance, radiation=part.contact_heat)
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


def _heights(
    car: Car, layout: Layout, links: list[PlannedLink[Part]], pots: dict[str, Pot], stations: _Stations
) -> dict[str, float]:
    """Return the height of every station, m above the tank's floor.

    Heights that the layout gives hold. Pumps, rails, pots and coolers (which hang where the pump does) fix the height
    of their stations, and injectors deliver at the height of their rail; a filter, valve or regulator that does not
    touch the tank has both ends at one height; what is left stands at the height of the next station downstream.
    """
    fixed = {
        stations.of_end[end]: float(height)
        for name, height in layout.heights.items()
        for end in (name, f"{name}_inlet", f"{name}_outlet")
        if end in stations.of_end
    }
    heights = {VESSEL: float(car.tank.fuel_level)} | {pot: float(part.height) for pot, part in pots.items()} | fixed
    # A pump that draws from a vessel leaves the surface of that vessel where it is.
    kept = {VESSEL, *pots, *fixed}
    for link in links:
        given: dict[str, float] = {}
        part = car.part(link.table.rpartition(".")[2])
        if isinstance(link.part, Pump):
            given = {link.upstream: car.pump_height, link.downstream: car.pump_height}
        elif isinstance(link.part, Cooler):
            given = {link.downstream: car.pump_height}
        elif isinstance(part, Rail):
            given = {link.upstream: part.height, link.downstream: part.height}
        elif link.downstream == MANIFOLD and link.discharge is None:
            given = {MANIFOLD: _rail_height(car, link.upstream)}
        elif isinstance(link.part, OverflowLine) and link.upstream in heights and link.downstream != VESSEL:
            given = {link.downstream: heights[link.upstream]}
        heights |= {station: float(height) for station, height in given.items() if station not in kept}
    level = [
        link
        for link in links
        if isinstance(link.part, (Filter, CheckValve, PlacedRegulator, PlacedReducer))
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
