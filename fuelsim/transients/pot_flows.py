"""What flows into and out of the tank and the pots of a plumbing at moments of a drive."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, NamedTuple

import numpy as np

from fuelsim.numerics.pointwise import least_at_each_point
from fuelsim.system.vessels import overflow_paths, vessels_before
from fuelsim.typing import FloatLike, PointArray, Values

if TYPE_CHECKING:
    from fuelsim.car.heat_parts import Pot
    from fuelsim.system.plumbing import Plumbing
    from fuelsim.system.results import Run
    from fuelsim.transients.tank_fuel import TankFuel

__all__ = [
    "PlannedPot",
    "PotFlows",
    "VesselFlows",
    "at_rest",
    "columns_of",
    "enthalpy",
    "flows_of",
    "overflow_flows",
    "planned_pots",
    "vessel_flows",
]

SPILLING_LEVEL = 0.98
"""Level from which a pot runs over, as a share of its volume: what runs over rises to all that comes in surplus when it
is full (numerical: a step would stop the integration)."""


@dataclass(frozen=True)
class PlannedPot:
    """One pot of a layout.

    Attributes
    ----------
    name : str
        Its station.
    pot : Pot
        Its ratings.
    overflow : tuple of tuple of str
        Links through which it runs over, way by way.
    ends_in : int or None
        Number of the pot into which it runs over; None for the tank.
    """

    name: str
    pot: Pot
    overflow: tuple[tuple[str, ...], ...]
    ends_in: int | None


def planned_pots(plumbing: Plumbing) -> tuple[PlannedPot, ...]:
    """Return the pots of a layout, each after those that run over into it.

    Parameters
    ----------
    plumbing : Plumbing
        The layout.
    """
    paths = {name: overflow_paths(plumbing, name) for name in plumbing.pots}
    ends = {name: plumbing.link(ways[0][-1]).downstream for name, ways in paths.items()}

    def pots_behind(name: str) -> int:
        return 0 if name not in ends else 1 + pots_behind(ends[name])

    names = sorted(plumbing.pots, key=pots_behind, reverse=True)
    return tuple(
        PlannedPot(name, plumbing.pots[name], paths[name], names.index(ends[name]) if ends[name] in names else None)
        for name in names
    )


class PotFlows(NamedTuple, Generic[Values]):
    """What flows into and out of one pot, without what runs over.

    Attributes
    ----------
    lifted : float or array
        Mass flow from the tank, kg/s.
    lifted_heat : float or array
        Heat that it brings above the pot's temperature, W.
    others : float or array
        Mass flow from elsewhere less all that leaves, kg/s.
    others_heat : float or array
        Heat that what comes from elsewhere brings above the pot's temperature, W.
    overflow_heating : float or array
        Heat that what runs over takes up on its way, J/kg.
    """

    lifted: Values
    lifted_heat: Values
    others: Values
    others_heat: Values
    overflow_heating: Values


class VesselFlows(NamedTuple, Generic[Values]):
    """What flows into and out of tank and pots, without what runs over.

    Attributes
    ----------
    supply, returned : float or array
        Mass flow out of the tank and back into it, kg/s.
    returned_heat : float or array
        Heat that comes back with it above the tank's temperature, with what submerged pumps shed, W.
    burnt : float or array
        Mass flow of fuel burnt, kg/s.
    rail_gauge_pressure : float or array
        Pressure above the atmosphere of the rail that has least, Pa.
    near_limit : float or array
        As `PlumbingState.near_limit`.
    pots : tuple of PotFlows
        Flows of each pot.
    """

    supply: Values
    returned: Values
    returned_heat: Values
    burnt: Values
    rail_gauge_pressure: Values
    near_limit: Values
    pots: tuple[PotFlows[Values], ...]


def flows_of(columns: list[Values]) -> VesselFlows[Values]:
    """Return flows from their values one after the other.

    Parameters
    ----------
    columns : list of float or array
        As `columns_of` returns them.
    """
    own, each = len(VesselFlows._fields) - 1, len(PotFlows._fields)
    supply, returned, returned_heat, burnt, rail, near = columns[:own]
    pots = tuple(PotFlows(*columns[start : start + each]) for start in range(own, len(columns), each))
    return VesselFlows(supply, returned, returned_heat, burnt, rail, near, pots)


def columns_of(flows: VesselFlows[Values]) -> list[Values]:
    """Return the values of flows one after the other, pot by pot at the end.

    Parameters
    ----------
    flows : VesselFlows
        Flows of tank and pots.
    """
    columns = [flows.supply, flows.returned, flows.returned_heat, flows.burnt]
    columns += [flows.rail_gauge_pressure, flows.near_limit]
    for pot in flows.pots:
        columns += list(pot)
    return columns


def at_rest(pots: int) -> VesselFlows[float]:
    """Return the flows while no pump runs.

    Parameters
    ----------
    pots : int
        Number of pots.
    """
    nothing = PotFlows(*[0.0] * len(PotFlows._fields))
    return VesselFlows(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, (nothing,) * pots)


class _Stream(NamedTuple):
    """Fuel that flows into a vessel: mass flow, kg/s, heat above the vessel's temperature, W, and where it is from."""

    mass: PointArray
    heat: PointArray
    sources: tuple[str, ...]


@dataclass(frozen=True)
class _Vessels:
    """A run and the temperatures of its vessels."""

    run: Run
    pots: tuple[PlannedPot, ...]
    fuel: TankFuel
    temperatures: dict[str, PointArray]

    def apart(self, link: str) -> PointArray | float:
        """Return the part of a link's mass flow that runs over from a pot, kg/s."""
        over: PointArray | float = 0.0
        for pot in self.pots:
            for way in pot.overflow:
                if link in (way[0], way[-1]):
                    over = over + np.asarray(self.run.mass_flow[way[0]])
        return over

    def streams(self, vessel: str) -> tuple[list[_Stream], PointArray]:
        """Return what flows into a vessel, and the mass flow out of it, kg/s."""
        plumbing = self.run.solved.plumbing
        entering, leaving = [], np.zeros(len(self.temperatures[vessel]))
        for link in plumbing.links:
            if vessel not in (link.upstream, link.downstream):
                continue
            mass = np.asarray(self.run.mass_flow[link.name]) - self.apart(link.name)
            inward, far = (mass, link.upstream) if link.downstream == vessel else (-mass, link.downstream)
            leaving = leaving + np.maximum(-inward, 0.0)
            sources = vessels_before(plumbing, far) if link.downstream == vessel else (vessel,)
            entering.append(self._stream(link.name, np.maximum(inward, 0.0), sources, vessel))
        return entering, leaving

    def _stream(self, link: str, mass: PointArray, sources: tuple[str, ...], vessel: str) -> _Stream:
        """Return what a link brings; the network heats fuel with the heat capacity at the tank's temperature."""
        source = self.temperatures[sources[0] if sources else vessel]
        solved = self.run.solved
        capacity = solved.fuel.tables().heat_capacity(self.temperatures[solved.plumbing.vessel])
        warming = capacity * (np.asarray(self.run.outlet_temperature[link]) - source)
        excess = enthalpy(self.fuel, source) - enthalpy(self.fuel, self.temperatures[vessel])
        return _Stream(mass, mass * (warming + excess), sources)


def enthalpy(fuel: TankFuel, temperature: PointArray) -> PointArray:
    """Return `TankFuel.enthalpy` of an array of temperatures, J/kg."""
    values: PointArray = np.asarray(fuel.enthalpy(temperature))  # type: ignore[arg-type]  # a polynomial
    return values


def vessel_flows(
    run: Run,
    pots: tuple[PlannedPot, ...],
    fuel: TankFuel,
    tank_temperature: PointArray,
    pot_temperatures: dict[str, PointArray],
    near_limit: PointArray,
) -> VesselFlows[PointArray]:
    """Return the flows of tank and pots at the points of a run.

    Parameters
    ----------
    run : Run
        Solved with the given temperatures of the pots.
    pots : tuple of PlannedPot
        The pots of the plumbing.
    fuel : TankFuel
        The fuel as the tank sees it.
    tank_temperature : array (points,)
        K.
    pot_temperatures : dict of str to array (points,)
        By pot, K.
    near_limit : array (points,)
        1 where a pump is over its vapour limit or the engine is not fed.
    """
    plumbing = run.solved.plumbing
    temperatures = {plumbing.vessel: tank_temperature, **pot_temperatures}
    vessels = _Vessels(run, pots, fuel, temperatures)
    back, supply = vessels.streams(plumbing.vessel)
    capacity = run.solved.fuel.tables().heat_capacity(tank_temperature)
    of_pots = []
    for pot in pots:
        entering, leaving = vessels.streams(pot.name)
        # What comes from the tank alone; where fuel from a pot joins it, it counts as from elsewhere.
        lifted = [stream for stream in entering if stream.sources == (plumbing.vessel,)]
        others = [stream for stream in entering if stream.sources != (plumbing.vessel,)]
        way = pot.overflow[0]
        over = np.asarray(run.mass_flow[way[0]]) > 0.0
        warmed = np.asarray(run.outlet_temperature[way[-1]]) - pot_temperatures[pot.name]
        of_pots.append(
            PotFlows(
                lifted=_total([stream.mass for stream in lifted], leaving),
                lifted_heat=_total([stream.heat for stream in lifted], leaving),
                others=_total([stream.mass for stream in others], leaving) - leaving,
                others_heat=_total([stream.heat for stream in others], leaving),
                overflow_heating=np.where(over, capacity * warmed, 0.0),
            )
        )
    return VesselFlows(
        supply=supply,
        returned=_total([stream.mass for stream in back], supply),
        returned_heat=_total([stream.heat for stream in back], supply) + run.shed_heat,
        burnt=run.burnt_mass_flow,
        rail_gauge_pressure=least_at_each_point([np.asarray(run.gauge_pressure[rail]) for rail in plumbing.rails]),
        near_limit=near_limit,
        pots=tuple(of_pots),
    )


def _total(values: list[PointArray], like: PointArray) -> PointArray:
    """Return the sum of arrays, of the shape of another where there are none."""
    return np.asarray(sum(values, np.zeros_like(like)))


class Overflow(NamedTuple):
    """What a pot gains, and what of it runs over, kg/s."""

    gain: FloatLike
    over: FloatLike


def overflow_flows(
    pots: tuple[PlannedPot, ...], flows: VesselFlows[Values], levels: list[Values], lift_share: FloatLike
) -> list[Overflow]:
    """Return what each pot gains and what of it runs over.

    Parameters
    ----------
    pots : tuple of PlannedPot
        Each after those that run over into it.
    flows : VesselFlows
        Flows without what runs over.
    levels : list of float or array
        Fuel in each pot over its volume.
    lift_share : float or array
        Share of the time that the lift pumps suck fuel.

    Notes
    -----
    Surplus fills a pot until it is full; it runs over from `SPILLING_LEVEL` on, all of it at level 1:
    a = max(g, 0) (L - 0.98)/0.02. A pot that loses fuel takes in air instead.
    """
    result: list[Overflow] = []
    incoming: list[FloatLike] = [0.0] * len(pots)
    for number, (pot, own, level) in enumerate(zip(pots, flows.pots, levels, strict=True)):
        gain = lift_share * own.lifted + own.others + incoming[number]
        filled = np.minimum(np.maximum((level - SPILLING_LEVEL) / (1.0 - SPILLING_LEVEL), 0.0), 2.0)
        over = np.maximum(gain, 0.0) * filled
        if pot.ends_in is not None:
            incoming[pot.ends_in] = incoming[pot.ends_in] + over
        result.append(Overflow(gain, over))
    return result
