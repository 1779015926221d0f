"""A car plumbed in one layout: the one owner of what stands where.

Every question about topology is asked of a `Plumbing`: which pumps, rails, pots and regulators there are, what lies
between two stations, what stands under which pump's pressure, what brings fuel back. No other module names a link, a
regulator or a layout. `plumb.plumb` makes one from the runs of a layout.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Generic, NamedTuple, TypeVar, cast

import numpy as np

from fuelsim.car.heat_parts import Pot
from fuelsim.car.layouts import VESSEL, Layout
from fuelsim.car.tables import PlacedReducer, PlacedRegulator, PlumbedLine
from fuelsim.errors import InputError, nearest
from fuelsim.fields import Ratings
from fuelsim.parts.filter import Filter
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.orifice import Orifice
from fuelsim.parts.part import Part
from fuelsim.parts.pump.control import PumpControl, PumpStage
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.wire import Wire
from fuelsim.system.exchange import Exchange
from fuelsim.system.pot_parts import JetSuction, OverflowLine
from fuelsim.system.pressure_rating import HeldPressure, Holder, PressureRating
from fuelsim.typing import BoolArray, FloatLike, IndexArray

__all__ = ["MANIFOLD", "PlannedControl", "PlannedLink", "PlannedRail", "PlannedStage", "Plumbing"]

MANIFOLD = "manifold"
"""Station into which the injectors deliver."""

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
        Key of the car's table that holds its ratings, as in ``"feed"`` or ``"lines.crossover"``.
    upstream, downstream : str
        Stations, in the direction of flow.
    part : Part
    exchange : Exchange
        Its heat exchange with what surrounds it.
    reference : str or None
        What a regulator's spring side is open to, ``"manifold"`` or ``"atmosphere"``; of a pump that is controlled the
        station of the sensor.
    discharge : str or None
        Another name of the downstream station's fluid at this link's own height: the vapour space above a pot, or the
        manifold at another rail.
    """

    name: str
    table: str
    upstream: str
    downstream: str
    part: PartT
    exchange: Exchange = Exchange()
    reference: str | None = None
    discharge: str | None = None


@dataclass(frozen=True)
class PlannedRail:
    """One rail of a layout.

    Attributes
    ----------
    name : str
        Station at which its pressure is read, with the name of its table.
    table : str
        Key of the car's table that holds its ratings.
    injectors : PlannedLink
        Its share of the car's injectors.
    inlet : PlannedLink
        Bore up to the injectors.
    outlet : PlannedLink or None
        Bore behind the injectors; None for a rail that is dead-ended, or whose injectors stand at its end.
    """

    name: str
    table: str
    injectors: PlannedLink[Injectors]
    inlet: PlannedLink[Part]
    outlet: PlannedLink[Part] | None

    @property
    def bores(self) -> tuple[PlannedLink[Part], ...]:
        """The bores, in the direction of flow."""
        return (self.inlet,) if self.outlet is None else (self.inlet, self.outlet)


class PlannedControl(NamedTuple):
    """The controller of one pump.

    Attributes
    ----------
    control : PumpControl
    table : str
        Key of the car's table that holds its ratings.
    """

    control: PumpControl
    table: str


class PlannedStage(NamedTuple):
    """The stage of one pump.

    Attributes
    ----------
    stage : PumpStage
    sensor : str
        Station at which a stage by pressure measures it.
    """

    stage: PumpStage
    sensor: str


@dataclass(frozen=True)
class Plumbing:
    """A car plumbed in one layout.

    Attributes
    ----------
    layout : Layout
    links : tuple of PlannedLink
        In the order of the runs.
    rails : tuple of PlannedRail
        In the order of the runs.
    heights : dict of str to float
        Height of each station above the tank's floor, m.
    attached : dict of str to Ratings
        Parts of the car that stand under rail pressure without being a link, by table, such as a damper.
    pots : dict of str to Pot
        Pots by the name of their station; each exchanges heat with the air around it.
    wires : dict of str to Wire
        Wire of each pump, by the pump's name.
    also_named : dict of str to str
        Other names of stations and links, each with the one that results have.
    controls : dict of str to PlannedControl
        Controller of each pump that holds a pressure, by the pump's name.
    stages : dict of str to PlannedStage
        Stage of each pump that is added where it is needed, by the pump's name.
    """

    layout: Layout
    links: tuple[PlannedLink[Part], ...]
    planned_rails: tuple[PlannedRail, ...]
    heights: dict[str, float]
    attached: dict[str, Ratings]
    pots: dict[str, Pot] = field(default_factory=dict)
    wires: dict[str, Wire] = field(default_factory=dict)
    also_named: dict[str, str] = field(default_factory=dict)
    controls: dict[str, PlannedControl] = field(default_factory=dict)
    stages: dict[str, PlannedStage] = field(default_factory=dict)

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
    def vessels(self) -> frozenset[str]:
        """The tank and the pots: stations with a free surface."""
        return frozenset((VESSEL, *self.pots))

    @cached_property
    def upstream_rows(self) -> IndexArray:
        """Number in `stations` of each link's upstream station, (links,)."""
        return np.array([self.stations.index(link.upstream) for link in self.links])

    @cached_property
    def downstream_rows(self) -> IndexArray:
        """Number in `stations` of each link's downstream station, (links,)."""
        return np.array([self.stations.index(link.downstream) for link in self.links])

    @cached_property
    def station_exchange(self) -> dict[str, Exchange]:
        """Heat exchange of each pot with the air around it, by its station."""
        return {name: Exchange(pot.zone, pot.heat_conductance) for name, pot in self.pots.items()}

    @cached_property
    def pump_rows(self) -> IndexArray:
        """Number in `links` of each pump, (pumps,)."""
        return np.array([self.links.index(link) for link in self.pumps])

    @cached_property
    def overflow_rows(self) -> IndexArray:
        """Number in `links` of each overflow, (overflows,)."""
        return np.array([self.links.index(link) for link in self.overflow_links], dtype=int)

    @cached_property
    def carries_mixture(self) -> BoolArray:
        """Whether vapour flows through a link as a mixture, (links,); pumps, regulators and injectors have own laws."""
        apart = {link.name for link in (*self.pumps, *self._holding, *self.injectors)}
        return np.array([link.name not in apart for link in self.links])

    def link(self, name: str) -> PlannedLink[Part]:
        """Return one link by its name in results.

        Raises
        ------
        InputError
            For an unknown name, with the nearest known one.
        """
        known = self.also_named.get(name, name)
        for link in self.links:
            if link.name == known:
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
        return tuple(rail.injectors for rail in self.planned_rails)

    @property
    def rails(self) -> tuple[str, ...]:
        """The stations at which rail pressure is read."""
        return tuple(rail.name for rail in self.planned_rails)

    @cached_property
    def regulators(self) -> tuple[PlannedLink[PlacedRegulator], ...]:
        """The regulators that spill; a layout may have none."""
        return self._of(PlacedRegulator)

    @cached_property
    def reducers(self) -> tuple[PlannedLink[PlacedReducer], ...]:
        """The regulators that hold the pressure behind them."""
        return self._of(PlacedReducer)

    @cached_property
    def _holding(self) -> tuple[PlannedLink[Part], ...]:
        return (*self.regulators, *self.reducers)

    @cached_property
    def regulator(self) -> PlannedLink[PlacedRegulator] | None:
        """The regulator that spills and holds the rails' pressure; None where the layout has none."""
        with_rails = {self._zones[rail] for rail in self.rails}
        at_rails = [link for link in self.regulators if self._zones[link.upstream] in with_rails]
        return next(iter((*at_rails, *self.regulators)), None)

    @property
    def holders(self) -> tuple[Holder, ...]:
        """The regulators that spill and the controlled pumps: what holds the rails' pressure, that of the rails first.

        A regulator that stands beside a controlled pump comes first.
        """
        first = self.regulator
        regulators = () if first is None else (first, *(link for link in self.regulators if link is not first))
        return (
            *(
                Holder(link.name, link.table, link.part.set_pressure, link.part.droop, link.reference == MANIFOLD)
                for link in regulators
            ),
            *(
                Holder(name, table, control.set_pressure, control.droop, control.reference == MANIFOLD)
                for name, (control, table) in self.controls.items()
            ),
        )

    @cached_property
    def jets(self) -> tuple[PlannedLink[JetSuction], ...]:
        """The suction sides of jet pumps; each is driven by the link of the same table."""
        return self._of(JetSuction)

    def nozzle(self, jet: PlannedLink[JetSuction]) -> PlannedLink[Part]:
        """Return the nozzle that drives the suction of a jet pump.

        Parameters
        ----------
        jet : PlannedLink
            One of `jets`.
        """
        return next(link for link in self.links if link.table == jet.table and link.name != jet.name)

    @cached_property
    def overflow_links(self) -> tuple[PlannedLink[OverflowLine], ...]:
        """Every link through which a pot runs over."""
        return self._of(OverflowLine)

    def overflows(self, pot: str) -> tuple[PlannedLink[OverflowLine], ...]:
        """Return the links through which a pot runs over, those that leave it first.

        Parameters
        ----------
        pot : str
            Name of the pot.
        """
        return tuple(link for link in self.overflow_links if link.upstream == pot)

    @cached_property
    def _apart(self) -> frozenset[str]:
        """Names of the links between which pressures differ on purpose: pumps, regulators, injectors, orifices."""
        own = (*self.pumps, *self._holding, *self.injectors, *self._of(Orifice), *self.jets)
        return frozenset(link.name for link in own)

    @cached_property
    def _sides(self) -> dict[str, str]:
        """Side of each link.

        ``"suction"``, ``"pressure"``, ``"return"`` or ``"overflow"``; of pumps, injectors and regulators: ''.
        """
        sides = dict.fromkeys((link.name for link in self.links), "")
        forward = [link.downstream for link in (*self.regulators, *self._of(Orifice))]
        sides |= dict.fromkeys(self._reached(forward), "return")
        sides |= dict.fromkeys(self._reached([link.upstream for link in self.pumps], backward=True), "suction")
        delivering = [link.downstream for link in (*self.pumps, *self.reducers)]
        sides |= dict.fromkeys(self._reached(delivering), "pressure")
        return sides | {link.name: "overflow" for link in self.overflow_links}

    def _reached(self, stations: Iterable[str], *, backward: bool = False) -> list[str]:
        """Return the links met from some stations on, along or against the flow, up to vessels and links set apart."""
        names: list[str] = []
        open_stations = list(stations)
        while open_stations:
            station = open_stations.pop()
            for link in self.links:
                near, far = (link.downstream, link.upstream) if backward else (link.upstream, link.downstream)
                if near != station or near in self.vessels or link.name in self._apart or link.name in names:
                    continue
                names.append(link.name)
                open_stations.append(far)
        return names

    @cached_property
    def _zones(self) -> dict[str, str]:
        """Zone of each station, by the name of its first: stations joined by links that hold no pressure back."""
        zones = {name: name for name in self.stations}
        for link in self.links:
            ends = (link.upstream, link.downstream)
            if link.name in self._apart or any(end in (*self.vessels, MANIFOLD) for end in ends):
                continue
            kept, joined = (zones[end] for end in ends)
            zones = {name: kept if zone == joined else zone for name, zone in zones.items()}
        return zones

    def zone(self, station: str) -> str:
        """Return the first station of those that links join to a station without holding pressure back."""
        return self._zones[station]

    @cached_property
    def _set_pressures(self) -> dict[str, tuple[tuple[FloatLike, bool], ...]]:
        """Pressures held on purpose in each zone, Pa, each with whether the manifold's adds to it."""
        held: dict[str, tuple[tuple[FloatLike, bool], ...]] = {}
        ends: list[tuple[str, PlacedRegulator | PlacedReducer, str | None]] = [
            *((link.upstream, link.part, link.reference) for link in self.regulators),
            *((link.downstream, link.part, link.reference) for link in self.reducers),
        ]
        for station, part, reference in ends:
            zone = self._zones[station]
            held[zone] = (*held.get(zone, ()), (part.set_pressure, reference == MANIFOLD))
        for name, (control, _) in self.controls.items():
            zone = self._zones[self.link(name).reference or VESSEL]
            held[zone] = (*held.get(zone, ()), (control.set_pressure, control.reference == MANIFOLD))
        return held

    def dead_heads(self, of_pump: Mapping[str, float]) -> dict[str, float]:
        """Return the greatest pressure at each station with every way blocked; pumps in series add up.

        Parameters
        ----------
        of_pump : mapping of str to float
            Dead-head pressure of each pump, Pa.

        Returns
        -------
        dict of str to float
            By station, Pa above the atmosphere; 0 in vessels.
        """
        reached = dict.fromkeys(self.stations, 0.0)
        for _ in self.links:
            before = dict(reached)
            for link in self.links:
                own = reached[link.upstream] + of_pump.get(link.name, 0.0)
                if link.downstream not in self.vessels:
                    reached[link.downstream] = max(reached[link.downstream], own)
            if reached == before:
                break
        return reached

    @cached_property
    def _rated_dead_heads(self) -> dict[str, float]:
        return self.dead_heads({link.name: link.part.dead_head_pressure for link in self.pumps})

    @cached_property
    def _possible_dead_heads(self) -> dict[str, float]:
        return self.dead_heads({link.name: link.part.dead_head_to_withstand for link in self.pumps})

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
    def supply_links(self) -> tuple[PlannedLink[Part], ...]:
        """The links that take fuel out of the tank."""
        return tuple(link for link in self.links if link.upstream == VESSEL)

    @property
    def has_return(self) -> bool:
        """Whether a return line runs back to a vessel."""
        return bool(self.return_lines)

    @property
    def sweeps_rail(self) -> bool:
        """Whether the bypass passes through a rail, and so carries vapour out of it."""
        behind = {link.downstream for rail in self.planned_rails for link in rail.bores}
        behind |= {self.link(name).downstream for name in self._reached(behind)}
        return any(link.upstream in behind for link in self.regulators)

    @property
    def path(self) -> tuple[str, ...]:
        """Links from the tank to the first rail, in order."""
        return tuple(link.name for link in self.between(VESSEL, self.rails[0]))

    @cached_property
    def main_pump(self) -> PlannedLink[Pump]:
        """The last pump on the way to the first rail."""
        on_path = [link for link in self.pumps if link.name in self.path]
        return (on_path or list(self.pumps))[-1]

    def between(self, start: str, end: str) -> tuple[PlannedLink[Part], ...]:
        """Return the links of the shortest way from one station to another, along the flow.

        Raises
        ------
        InputError
            For a station that does not lie on the way to the other.
        """
        start, end = (self.also_named.get(name, name) for name in (start, end))
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
        """Tank, inlet and outlet of the main pump, rail's inlet and rail, of the way to the first rail."""
        pump, rail = self.main_pump, self.planned_rails[0]
        return (VESSEL, pump.upstream, pump.downstream, rail.inlet.upstream, rail.name)

    @cached_property
    def under_pressure(self) -> dict[str, PressureRating]:
        """Every part that a car file can rate and that may see a pump's pressure, by table.

        Parts between a pump and the rails or regulators and those attached to a rail stand under it always; parts of a
        return do where it is pinched or blocked behind them. A rail's own bore has no rating to give.
        """
        bores = {link.name for rail in self.planned_rails for link in rail.bores}
        parts: dict[str, PressureRating] = {}
        for link in self.links:
            side = self._sides[link.name]
            if side in ("pressure", "return") and link.name not in bores:
                parts[link.table] = self._rating(link.part, side == "pressure", link.upstream)
        at_rail = self.rails[0]
        return parts | {table: self._rating(part, True, at_rail) for table, part in self.attached.items()}

    def _rating(self, part: Ratings, always: bool, station: str) -> PressureRating:
        """Return the rating of a part with what acts on it at a station."""
        return PressureRating(
            getattr(part, "working_pressure", None),
            always,
            self._rated_dead_heads[station],
            self._possible_dead_heads[station],
            self.held_at(station),
        )

    def held_at(self, station: str) -> HeldPressure:
        """Return what is held on purpose at a station.

        Parameters
        ----------
        station : str
            Without a regulator a rail stands at the dead-head pressure of its pumps; where a lift pump fills a pot
            nothing is held.
        """
        zone = self._zones[station]
        with_rail = any(self._zones[rail] == zone for rail in self.rails)
        otherwise = self._rated_dead_heads[station] if with_rail else 0.0
        return HeldPressure(self._set_pressures.get(zone, ()), otherwise)

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
        everywhere = tuple(pressure for zone in self._set_pressures.values() for pressure in zone)
        return HeldPressure(everywhere, self.dead_head_pressure).held_pressure(boost)

    @property
    def dead_head_pressure(self) -> float:
        """The highest pressure that the pumps reach with every way blocked, Pa above the atmosphere."""
        return max(self._rated_dead_heads.values())

    @property
    def dead_head_to_withstand(self) -> float:
        """The highest pressure that the pumps may reach by their class, Pa above the atmosphere."""
        return max(self._possible_dead_heads.values())

    @property
    def tables(self) -> tuple[str, ...]:
        """Tables of the car that this layout uses, in the order of flow."""
        return tuple(dict.fromkeys((VESSEL, *(link.table for link in self.links), *self.attached)))
