"""Heat of the injectors' coils, as far as it ends in the fuel of their rail."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fuelsim.arguments import unchecked
from fuelsim.system.plumbing import MANIFOLD
from fuelsim.typing import IndexArray, LinkArray, NodeArray, PointArray

if TYPE_CHECKING:
    from fuelsim.system.operating_points import OperatingPoints
    from fuelsim.system.plumbing import Plumbing

__all__ = ["CoilHeat", "coil_heat"]


@dataclass(frozen=True)
class CoilHeat:
    """What the duty of the injectors follows from, beside flow and pressure; every array is (points,).

    Attributes
    ----------
    rpm : array
        Engine speed, rpm.
    voltage : array
        Voltage at the injectors, V.
    density : array
        Density of the fuel at the tank's temperature, kg/m3.
    """

    rpm: PointArray
    voltage: PointArray
    density: PointArray

    def take(self, index: IndexArray) -> CoilHeat:
        """Return some of the points."""
        return CoilHeat(self.rpm[index], self.voltage[index], self.density[index])

    def add_to(self, power: LinkArray, plumbing: Plumbing, mass_flow: LinkArray, pressure: NodeArray) -> None:
        """Add the heat to the first bore of each rail.

        Parameters
        ----------
        power : array (links, points)
            Heat given to the fuel in each link, W; changed in place.
        plumbing : Plumbing
        mass_flow : array (links, points)
            kg/s.
        pressure : array (stations, points)
            Pa absolute.
        """
        names = [link.name for link in plumbing.links]
        manifold = pressure[plumbing.stations.index(MANIFOLD)]
        for rail in plumbing.planned_rails:
            injectors = rail.injectors.part
            if not np.any(injectors.coil_heat_share):
                continue
            difference = np.maximum(pressure[plumbing.stations.index(rail.name)] - manifold, 1e3)
            flow = np.maximum(mass_flow[names.index(rail.injectors.name)], 0.0)
            duty = unchecked(injectors.duty)(flow, difference, self.density, self.rpm, self.voltage)
            heat = np.minimum(duty, 1.0) * injectors.count * unchecked(injectors.coil_power)(self.voltage)
            power[names.index(rail.bores[0].name)] += injectors.coil_heat_share * heat


def coil_heat(plumbing: Plumbing, density: PointArray, points: OperatingPoints) -> CoilHeat | None:
    """Return what the heat of the coils follows from; None where none of it ends in the fuel.

    Parameters
    ----------
    plumbing : Plumbing
    density : array (points,)
        Density of the fuel at the tank's temperature, kg/m3.
    points : OperatingPoints
    """
    if not any(np.any(link.part.coil_heat_share) for link in plumbing.injectors):
        return None
    return CoilHeat(points.rpm, points.supply_voltage, density)
