"""How much heat the fuel takes in along each link, so that what comes back to the tank can be told by its sources."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fuelsim.system.heat_exchange import heating_per_pressure_lost
from fuelsim.system.plumbing import Plumbing
from fuelsim.typing import PointArray

if TYPE_CHECKING:
    from fuelsim.fuel.tables import FuelTables
    from fuelsim.system.collected import CoupledSolution
    from fuelsim.system.operating_points import OperatingPoints

__all__ = ["burnt_heat_flow", "heat_flows"]


def heat_flows(
    plumbing: Plumbing, tables: FuelTables, points: OperatingPoints, solution: CoupledSolution
) -> dict[str, PointArray]:
    """Return the heat that the fuel takes in along each link, by link, W.

    The gain of enthalpy, ``m c (T_out - T_in + k (p_out - p_in))`` with k the kelvins by which a liquid warms per
    pressure lost: zero along an adiabatic line, and in a pump the part of its power that goes along with the fuel.

    Parameters
    ----------
    plumbing : Plumbing
    tables : FuelTables
        Property tables of the fuel.
    points : OperatingPoints
    solution : CoupledSolution
    """
    capacity, per_pressure = _of_tank_fuel(tables, points)
    heat = {}
    for link in plumbing.links:
        mass = solution.mass_flow[link.name]
        ends = (link.upstream, link.downstream)
        temperature = np.where(mass >= 0.0, *(solution.temperature[end] for end in ends))
        rise = np.sign(mass) * (solution.pressure[link.downstream] - solution.pressure[link.upstream])
        warmed = solution.outlet_temperature[link.name] - temperature + per_pressure * rise
        heat[link.name] = np.abs(mass) * capacity * warmed
    return heat


def burnt_heat_flow(
    plumbing: Plumbing, tables: FuelTables, points: OperatingPoints, solution: CoupledSolution
) -> PointArray:
    """Return the heat that the burnt fuel takes along from the plumbing, above fuel of the tank, W.

    Parameters
    ----------
    plumbing : Plumbing
    tables : FuelTables
        Property tables of the fuel.
    points : OperatingPoints
    solution : CoupledSolution
    """
    capacity, per_pressure = _of_tank_fuel(tables, points)
    heat = np.zeros(len(points))
    for link in plumbing.injectors:
        above = solution.temperature[link.upstream] - points.tank_temperature
        above = above + per_pressure * (solution.pressure[link.upstream] - points.tank_pressure)
        heat = heat + solution.mass_flow[link.name] * capacity * above
    return heat


def _of_tank_fuel(tables: FuelTables, points: OperatingPoints) -> tuple[PointArray, PointArray]:
    """Return heat capacity, J/kg/K, and warming per pressure lost, K/Pa, which the balance of heat takes for all."""
    tank = points.tank_temperature
    return np.asarray(tables.heat_capacity(tank)), heating_per_pressure_lost(tables, tank)
