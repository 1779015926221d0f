"""The plumbing after its engine has stopped: pumps cut, nothing drawn, the manifold at atmosphere.

Nothing flows. Fuel that an open way joins to a vessel stands at the vessel's pressure. Fuel shut in between check
valves, regulators and injectors keeps the pressure that it had when the engine stopped; where it boils at the
temperature of what surrounds it, its pressure rises to the bubble pressure, and at the most to the one at which a
regulator spills it.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping

import numpy as np

from fuelsim.car.car import Car
from fuelsim.car.rating_lists import at_points
from fuelsim.car.tables import PlacedReducer, PlacedRegulator
from fuelsim.constants import GRAVITY
from fuelsim.fuel.tables import FuelTables
from fuelsim.laws.link import Regime
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.part import Part
from fuelsim.parts.pump.pump import Pump
from fuelsim.system.collected import CoupledSolution
from fuelsim.system.heat_exchange import standing_temperatures, surroundings_of_links
from fuelsim.system.operating_points import OperatingPoints
from fuelsim.system.plumbing import MANIFOLD, PlannedLink, Plumbing
from fuelsim.typing import BoolArray, FloatArray, NodeArray, PointArray

__all__ = ["pump_off", "standing_groups"]


def standing_groups(plumbing: Plumbing) -> tuple[frozenset[str], ...]:
    """Return the stations in groups that open ways join while nothing flows; those with a vessel first.

    Parameters
    ----------
    plumbing : Plumbing

    Examples
    --------
    >>> import fuelsim as fs
    >>> groups = standing_groups(fs.Car.named("plover").system("no_pot").plumbing)
    >>> "tank" in groups[0], any("tank" in group for group in groups if "left_rail" in group)
    (True, False)
    """
    group = {name: frozenset((name,)) for name in plumbing.stations}
    for link in plumbing.links:
        if not _shuts(link.part):
            joined = group[link.upstream] | group[link.downstream]
            group |= dict.fromkeys(joined, joined)
    groups = tuple(dict.fromkeys(group.values()))
    return tuple(sorted(groups, key=lambda stations: not stations & plumbing.vessels))


def _shuts(part: Part) -> bool:
    """Return whether nothing passes a part once the pumps are off."""
    if isinstance(part, Pump):
        return part.check_valve
    return isinstance(part, (CheckValve, PlacedRegulator, PlacedReducer, Injectors))


def pump_off(
    car: Car,
    plumbing: Plumbing,
    tables: FuelTables,
    points: OperatingPoints,
    solution: CoupledSolution,
    where: BoolArray,
) -> CoupledSolution:
    """Return a solution whose points of a stopped engine are replaced by those of the plumbing at rest.

    Parameters
    ----------
    car, plumbing : Car, Plumbing
        Ratings that are lists have one value per point.
    tables : FuelTables
    points : OperatingPoints
    solution : CoupledSolution
        As it was when the engine stopped.
    where : bool array (points,)
        Which points stopped.
    """
    index = np.flatnonzero(where)
    if not index.size:
        return solution
    own_car = at_points(car, index)
    own = plumbing if own_car is car else at_points(plumbing, index)
    own_tables = tables.take(index)
    still = _still(
        own_car, own, own_tables, points.take(index), {name: p[index] for name, p in solution.pressure.items()}
    )

    def put(values: PointArray, stopped: FloatArray | float) -> PointArray:
        replaced = np.array(values)
        replaced[index] = stopped
        return replaced

    rows = {name: row for row, name in enumerate(plumbing.stations)}
    density = own_tables.density(still.outlets)
    regimes = {link.name: _regime(link) for link in plumbing.links}
    return dataclasses.replace(
        solution,
        pressure={name: put(p, still.pressure[rows[name]]) for name, p in solution.pressure.items()},
        temperature={name: put(t, still.nodes[rows[name]]) for name, t in solution.temperature.items()},
        vapour_liquid_ratio={name: put(r, still.ratio[rows[name]]) for name, r in solution.vapour_liquid_ratio.items()},
        outlet_temperature={
            link.name: put(solution.outlet_temperature[link.name], still.outlets[row])
            for row, link in enumerate(plumbing.links)
        },
        mass_flow={name: put(flow, 0.0) for name, flow in solution.mass_flow.items()},
        density={link.name: put(solution.density[link.name], density[row]) for row, link in enumerate(plumbing.links)},
        pump={
            name: {key: put(column, 0.0) for key, column in columns.items()} for name, columns in solution.pump.items()
        },
        cycles={name: np.where(where, False, cycles) for name, cycles in solution.cycles.items()},
        regime={name: np.where(where, regimes[name], regime) for name, regime in solution.regime.items()},
    )


@dataclasses.dataclass(frozen=True)
class _Still:
    """The plumbing at rest: pressure, temperature and V/L by station, temperature by link."""

    pressure: NodeArray
    nodes: NodeArray
    outlets: FloatArray
    ratio: NodeArray


def _still(
    car: Car, plumbing: Plumbing, tables: FuelTables, points: OperatingPoints, before: Mapping[str, PointArray]
) -> _Still:
    surroundings = surroundings_of_links(car, plumbing, tables, points)
    temperatures = standing_temperatures(plumbing, surroundings, points, surroundings.temperature)
    rows = {name: row for row, name in enumerate(plumbing.stations)}
    pressure = np.empty(temperatures.nodes.shape)
    bubble = np.asarray(tables.bubble_pressure(temperatures.nodes))
    spills = {link.upstream: link.part.set_pressure for link in plumbing.regulators}
    for group in standing_groups(plumbing):
        vessels = sorted(group & plumbing.vessels)
        for name in group:
            row = rows[name]
            if vessels:
                head = GRAVITY * (plumbing.heights[vessels[0]] - plumbing.heights[name])
                pressure[row] = np.maximum(points.tank_pressure + head * tables.density(temperatures.nodes[row]), 0.0)
            elif name == MANIFOLD:
                pressure[row] = points.atmospheric_pressure
            else:
                highest = np.max([bubble[rows[other]] for other in group], axis=0)
                kept = np.maximum(before[name], highest)
                most = [points.atmospheric_pressure + held for station, held in spills.items() if station in group]
                pressure[row] = np.minimum(kept, np.maximum(np.min(most, axis=0), before[name])) if most else kept
    ratio = np.asarray(tables.vapour_liquid_ratio(temperatures.nodes, pressure))
    return _Still(pressure, temperatures.nodes, temperatures.outlets, ratio)


def _regime(link: PlannedLink[Part]) -> str:
    """Return what a part does while nothing flows."""
    if isinstance(link.part, Pump):
        return Regime.STOPPED
    return Regime.SHUT if _shuts(link.part) else Regime.FLOWING
