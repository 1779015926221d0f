"""Where the heat that the plumbing brings to the tank comes from: pumps, rails, lines, less the burnt fuel's share."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.typing import PointArray

if TYPE_CHECKING:
    from fuelsim.system.results import Run

__all__ = ["HeatSources", "heat_sources"]


class HeatSources(NamedTuple):
    """Heat that goes into the fuel of the plumbing, W; every array is (points,).

    Attributes
    ----------
    pump_heat : array
        Heat of the pumps: the part of their electrical power that ends in the fuel, with what their bodies exchange.
    rail_heat : array
        Picked up in the rails, from the bay's air, the engine's metal and the injectors' coils.
    bay_heat : array
        Picked up in other parts of the engine bay.
    line_heat : array
        Picked up in all other parts, under the floor and in the tank; a cooler takes heat away.
    burnt_heat : array
        Taken along by the burnt fuel, above fuel of the tank.
    """

    pump_heat: PointArray
    rail_heat: PointArray
    bay_heat: PointArray
    line_heat: PointArray
    burnt_heat: PointArray

    @property
    def returned(self) -> PointArray:
        """What comes back to the tank, W."""
        return self.pump_heat + self.rail_heat + self.bay_heat + self.line_heat - self.burnt_heat


def heat_sources(run: Run) -> HeatSources:
    """Return where the heat that the plumbing brings to the tank comes from.

    Parameters
    ----------
    run : Run
        Results of a system; conditions that are a list.
    """
    plumbing = run.plumbing
    pumps = {link.name for link in plumbing.pumps}
    rails = {link.name for rail in plumbing.planned_rails for link in rail.bores}
    in_bay = {link.name for link in plumbing.links if link.exchange.zone == "bay"}

    def summed(names: set[str]) -> PointArray:
        return sum((np.asarray(run.heat_flow[name]) for name in names), np.zeros(run.conditions.shape))

    return HeatSources(
        pump_heat=summed(pumps) + run.shed_heat,
        rail_heat=summed(rails),
        bay_heat=summed(in_bay - rails - pumps),
        line_heat=summed(set(run.heat_flow) - in_bay - rails - pumps),
        burnt_heat=np.asarray(run.burnt_heat_flow),
    )
