"""Ways through a plumbing: from which vessel a pump draws, whom it feeds, which pumps work side by side."""

from __future__ import annotations

from typing import NamedTuple

from fuelsim.car.tables import PlacedReducer, PlacedRegulator
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.orifice import Orifice
from fuelsim.parts.part import Part
from fuelsim.parts.pump.pump import Pump
from fuelsim.system.plumbing import MANIFOLD, PlannedLink, Plumbing

__all__ = [
    "PumpsSideBySide",
    "drawn_from",
    "feeds_rail",
    "filling_links",
    "links_before",
    "pumps_behind",
    "pumps_side_by_side",
    "pumps_to_rails",
    "regulator_groups",
    "way_to_rail",
    "ways_back",
]


def _reach(plumbing: Plumbing, start: str, *, backward: bool = False, up_to: tuple[type[Part], ...] = ()) -> list[str]:
    """Return the stations that are reached along or against the flow, the nearest first, the start among them.

    Vessels are reached and not passed; parts of the classes `up_to` are not passed.
    """
    reached = [start]
    for station in reached:
        if station == MANIFOLD or (station in plumbing.vessels and station != start):
            continue
        for link in plumbing.links:
            near, far = (link.downstream, link.upstream) if backward else (link.upstream, link.downstream)
            if near == station and far not in reached and not isinstance(link.part, up_to):
                reached.append(far)
    return reached


def drawn_from(plumbing: Plumbing, station: str) -> str:
    """Return the vessel from which the fuel of a station comes: the tank or a pot, the nearest upstream.

    Parameters
    ----------
    plumbing : Plumbing
    station : str
        Such as a pump's inlet.

    Examples
    --------
    >>> import fuelsim as fs
    >>> plumbing = fs.Car.named("plover").system("pot").plumbing
    >>> [drawn_from(plumbing, pump.upstream) for pump in plumbing.pumps]
    ['tank', 'pot', 'pot']
    """
    up_to = (PlacedRegulator, PlacedReducer)
    vessels = (name for name in _reach(plumbing, station, backward=True, up_to=up_to) if name in plumbing.vessels)
    return next(vessels, plumbing.vessel)


def links_before(plumbing: Plumbing, station: str) -> list[PlannedLink[Part]]:
    """Return the links through which fuel comes from a vessel to a station, without those behind a regulator.

    Parameters
    ----------
    plumbing : Plumbing
    station : str
        Such as a pump's inlet; nothing lies before one that is a vessel itself.

    Examples
    --------
    >>> import fuelsim as fs
    >>> plumbing = fs.Car.named("plover").system("no_pot").plumbing
    >>> [link.name for link in links_before(plumbing, plumbing.pumps[0].upstream)]
    ['strainer_of_mains', 'mains_suction']
    """
    if station in plumbing.vessels:
        return []
    up_to = (PlacedRegulator, PlacedReducer)
    reached = _reach(plumbing, station, backward=True, up_to=up_to)
    return [
        link
        for link in plumbing.links
        if link.downstream in reached and link.upstream in reached and link.downstream not in plumbing.vessels
    ]


def feeds_rail(plumbing: Plumbing, station: str) -> bool:
    """Whether fuel flows from a station to a rail without passing a vessel or a return regulator.

    Parameters
    ----------
    plumbing : Plumbing
    station : str
        Such as a pump's outlet; False for that of a lift pump.
    """
    reached = _reach(plumbing, station, up_to=(PlacedRegulator, Orifice))
    return any(rail in reached for rail in plumbing.rails)


def pumps_to_rails(plumbing: Plumbing) -> tuple[PlannedLink[Pump], ...]:
    """Return the pumps that feed the rails, without those that fill a pot.

    Parameters
    ----------
    plumbing : Plumbing

    Examples
    --------
    >>> import fuelsim as fs
    >>> [pump.name for pump in pumps_to_rails(fs.Car.named("plover").system("pot").plumbing)]
    ['left_pump', 'right_pump']
    """
    return tuple(pump for pump in plumbing.pumps if feeds_rail(plumbing, pump.downstream))


def way_to_rail(plumbing: Plumbing, rail: str) -> tuple[PlannedLink[Part], ...]:
    """Return the links from the outlet of the last pump before a rail to the rail, in the order of flow.

    Parameters
    ----------
    plumbing : Plumbing
    rail : str
        One of its rails.

    Examples
    --------
    >>> import fuelsim as fs
    >>> plumbing = fs.Car.named("plover").system("pot").plumbing
    >>> [link.name for link in way_to_rail(plumbing, "right_rail")]
    ['left_check', 'main_filter', 'feed_line', 'right_feed', 'right_rail_inlet_bore']
    """
    way = plumbing.between(plumbing.vessel, rail)
    pumps = [number for number, link in enumerate(way) if isinstance(link.part, Pump)]
    return way[pumps[-1] + 1 :] if pumps else way


def pumps_behind(plumbing: Plumbing, link: PlannedLink[Part]) -> list[PlannedLink[Pump]]:
    """Return the pumps that draw through a link.

    Parameters
    ----------
    plumbing : Plumbing
    link : PlannedLink
        A part of a suction side.

    Examples
    --------
    >>> import fuelsim as fs
    >>> plumbing = fs.Car.named("plover").system("pot").plumbing
    >>> [pump.name for pump in pumps_behind(plumbing, plumbing.link("lift_strainer"))]
    ['lift']
    """
    if link.downstream in plumbing.vessels:
        return []
    reached = _reach(plumbing, link.downstream, up_to=(Pump,))
    return [pump for pump in plumbing.pumps if pump.upstream in reached]


class PumpsSideBySide(NamedTuple):
    """Pumps whose flows meet, none of which draws from another.

    Attributes
    ----------
    pumps : tuple of str
        Their names, in the order of flow.
    unprotected : tuple of str
        Those through which another can push fuel back: no check valve in the pump or on the way to where they meet.
    """

    pumps: tuple[str, ...]
    unprotected: tuple[str, ...]


def pumps_side_by_side(plumbing: Plumbing) -> tuple[PumpsSideBySide, ...]:
    """Return the groups of pumps in parallel.

    Parameters
    ----------
    plumbing : Plumbing

    Examples
    --------
    >>> import fuelsim as fs
    >>> pumps_side_by_side(fs.Car.named("plover").system("pot").plumbing)
    (PumpsSideBySide(pumps=('left_pump', 'right_pump'), unprotected=()),)
    """
    ends = plumbing.vessels | {MANIFOLD}
    behind, open_behind = {}, {}
    for pump in plumbing.pumps:
        # What a regulator spills has left the pumps' pressure.
        reach = _reach(plumbing, pump.downstream, up_to=(PlacedRegulator,))
        behind[pump.name] = set(reach) - ends
        blocked = (PlacedRegulator, PlacedReducer, CheckValve, Pump)
        open_behind[pump.name] = set(_reach(plumbing, pump.downstream, up_to=blocked)) - ends
    groups: list[list[PlannedLink[Pump]]] = []
    for pump in plumbing.pumps:
        for group in groups:
            if any(_beside(pump, other, behind) for other in group):
                group.append(pump)
                break
        else:
            groups.append([pump])
    return tuple(
        PumpsSideBySide(
            tuple(pump.name for pump in group),
            tuple(
                pump.name
                for pump in group
                if not pump.part.check_valve
                and any(open_behind[pump.name] & behind[other.name] for other in group if other is not pump)
            ),
        )
        for group in groups
        if len(group) > 1
    )


def _beside(one: PlannedLink[Pump], other: PlannedLink[Pump], behind: dict[str, set[str]]) -> bool:
    """Whether the flows of two pumps meet, and neither draws from the other."""
    in_series = one.upstream in behind[other.name] or other.upstream in behind[one.name]
    return bool(behind[one.name] & behind[other.name]) and not in_series


def filling_links(plumbing: Plumbing, pot: str) -> list[PlannedLink[Part]]:
    """Return the links that fill a pot from the tank, without those that bring fuel back behind a regulator or orifice.

    Parameters
    ----------
    plumbing : Plumbing
    pot : str
        Name of a pot.

    Examples
    --------
    >>> import fuelsim as fs
    >>> [link.name for link in filling_links(fs.Car.named("plover").system("pot").plumbing, "pot")]
    ['lift_line']
    """
    returning = (PlacedRegulator, Orifice)
    return [
        link
        for link in plumbing.links
        if link.downstream == pot
        and not isinstance(link.part, returning)
        and plumbing.vessel in _reach(plumbing, link.upstream, backward=True, up_to=returning)
    ]


def regulator_groups(plumbing: Plumbing) -> tuple[tuple[PlannedLink[PlacedRegulator], ...], ...]:
    """Return the return regulators that serve the rails, those that stand at one pressure together.

    Parameters
    ----------
    plumbing : Plumbing

    Examples
    --------
    >>> import fuelsim as fs
    >>> groups = regulator_groups(fs.Car.named("plover").system("pot").plumbing)
    >>> [[link.name for link in group] for group in groups]
    [['rail_end']]
    """
    fed = set()
    for pump in pumps_to_rails(plumbing):
        fed.update(_reach(plumbing, pump.downstream, up_to=(PlacedRegulator,)))
    groups: dict[str, list[PlannedLink[PlacedRegulator]]] = {}
    for link in plumbing.regulators:
        if link.upstream in fed:
            groups.setdefault(plumbing.zone(link.upstream), []).append(link)
    return tuple(tuple(group) for group in groups.values())


def ways_back(plumbing: Plumbing) -> tuple[PlannedLink[Part], ...]:
    """Return the links by which fuel leaves the rails' pressure other than through injectors and reducers.

    Parameters
    ----------
    plumbing : Plumbing

    Examples
    --------
    >>> import fuelsim as fs
    >>> [link.name for link in ways_back(fs.Car.named("plover").system("pot").plumbing)]
    ['rail_end']
    """
    fed = set()
    for pump in pumps_to_rails(plumbing):
        fed.update(_reach(plumbing, pump.downstream, up_to=(PlacedRegulator, Orifice)))
    jets = {plumbing.nozzle(jet).name for jet in plumbing.jets}
    apart = (PlacedRegulator, Orifice)
    ways = [link for link in plumbing.links if isinstance(link.part, apart) or link.name in jets]
    return tuple(link for link in ways if link.upstream in fed)
