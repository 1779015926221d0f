"""A rail as a line with its injectors along it: evenly spaced from one end to the other."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fuelsim.car.car import Car
from fuelsim.car.tables import Rail
from fuelsim.car.walls import WALLS
from fuelsim.parts.line import Line
from fuelsim.system.plumbing import PlannedRail, Plumbing

__all__ = ["RailNodes", "rail_nodes"]


class RailNodes(NamedTuple):
    """One rail.

    Attributes
    ----------
    name : str
        Station at which its pressure is read.
    nodes : tuple of str
        Stations along it, from its inlet to its end.
    injectors : tuple of str
        Station of each injector.
    segments : tuple of Line
        Between the stations.
    compliance : float
        Share of its contents by which it gives way for each pascal, 1/Pa.
    """

    name: str
    nodes: tuple[str, ...]
    injectors: tuple[str, ...]
    segments: tuple[Line, ...]
    compliance: float

    @property
    def links(self) -> tuple[str, ...]:
        """Names of the segments."""
        return tuple(f"{self.name}_bore_{number}" for number in range(1, len(self.nodes)))


def rail_nodes(car: Car, plumbing: Plumbing, rail: PlannedRail, count: int) -> RailNodes:
    """Return the stations of a rail.

    The first injector stands at the inlet and the last at the far end, so that the rail keeps its length and volume;
    one alone stands in the middle of a rail through which fuel passes, else at its end. Where a car file gives no
    places of the injectors, this moves them by at most half a pitch.

    Parameters
    ----------
    car : Car
    plumbing : Plumbing
    rail : PlannedRail
        One of its rails.
    count : int
        Number of injectors.

    Examples
    --------
    >>> car = Car.named("finch")
    >>> plumbing = car.system("return").plumbing
    >>> rail_nodes(car, plumbing, plumbing.planned_rails[0], 4).nodes
    ('rail_inlet', 'rail_2', 'rail_3', 'rail')
    """
    table = car.part(rail.table.rpartition(".")[2])
    if not isinstance(table, Rail):
        raise TypeError(f"{rail.table} is no rail")
    start = rail.inlet.upstream
    end = rail.name if rail.outlet is None else rail.outlet.downstream
    through = rail.outlet is not None
    spaces = max(count - 1, 1)
    if through and count in (1, 2):
        spaces = 2
    nodes = [start, *(f"{rail.name}_{number}" for number in range(2, spaces + 1)), end]
    if rail.name not in (start, end):
        nodes[spaces // 2] = rail.name
    if count == 1:
        injectors = [nodes[len(nodes) // 2] if through else nodes[-1]]
    elif count == 2 and through:
        injectors = [nodes[0], nodes[-1]]
    else:
        injectors = nodes
    whole = table.line()
    segment = whole.with_values({"length": float(table.length) / spaces, "loss_coefficient": 0.0})
    own = float(np.mean(table.compliance)) / float(whole.volume) + WALLS["steel"].compliance
    return RailNodes(rail.name, tuple(nodes), tuple(injectors), (segment,) * spaces, own)
