"""A hole in the sleeve between strainer and pump: from which level on the pump draws air, and how much."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fuelsim import opener
from fuelsim.arguments import number, takes
from fuelsim.constants import GAS_CONSTANT
from fuelsim.laws.boot_hole import hole_flow
from fuelsim.numerics.bracket import bisect
from fuelsim.shown import Shown
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.run import System
from fuelsim.typing import BoolArray, FloatArray, PointArray, Quantity, UnitSystem
from fuelsim.units import shown

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["BootHole", "boot_hole"]

_LEVELS = 13
_HALVINGS = 40
_AIR_MOLAR_MASS = 28.9647e-3
"""Molar mass of dry air, kg/mol [us_standard_atmosphere_1976]."""


@dataclass(frozen=True)
class BootHole(Shown):
    """What a hole in the sleeve of a pump does as the tank empties.

    Attributes
    ----------
    layout : str
        Name of the layout.
    height, diameter : float
        Height of the hole above the tank's floor and its diameter, m.
    level : array (levels,)
        Height of the fuel's surface, m, from the hole down.
    fuel_volume : array (levels,)
        Fuel in the tank there, m3, in a tank with upright walls.
    air_ratio : array (levels,)
        Volume of air over that of fuel that the pump takes in; infinite where it takes in air alone.
    tolerated : float
        Ratio that the pump tolerates.
    starving_level : float
        Height of the surface at which that is reached, m; 0 where it never is.
    starving_volume : float
        Fuel that is left then, m3.
    """

    layout: str
    height: float
    diameter: float
    level: PointArray
    fuel_volume: PointArray
    air_ratio: PointArray
    tolerated: float
    starving_level: float
    starving_volume: float

    @property
    def headline(self) -> str:
        """Return from where on air is drawn, and where it is more than the pump tolerates."""
        bare, left = shown(self.height, "length", digits=3), shown(float(self.fuel_volume[0]), "volume", digits=3)
        text = f"'{self.layout}': the pump draws air below {bare} ({left} of fuel)"
        if self.starving_level <= 0.0:
            return f"{text}, never more than it tolerates"
        starving = shown(self.starving_volume, "volume", digits=3)
        return f"{text}, more than it tolerates with less than {starving}"

    @takes()
    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per level.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.

        Returns
        -------
        pandas.DataFrame

        Examples
        --------
        >>> import fuelsim as fs
        >>> fs.boot_hole(fs.Car.named("finch"), "return", "1 mm", "80 mm").table().columns.tolist()
        ['fuel_L', 'air_over_fuel']
        """
        return opener.boot_hole_table(self, units)


@system_or_car
@takes(
    {
        "diameter": number("bore", 1e-4, 0.02, example="1 mm", single=True),
        "height": number("length", 0.0, 1.5, example="80 mm", single=True),
        "strainer_drop": number("pressure difference", 0.0, 50e3, example="1 kPa", single=True),
        "rpm": number("engine speed", 0.0, 25_000.0, example="3000 rpm", single=True, optional=True),
    }
)
def boot_hole(
    system: System, diameter: Quantity, height: Quantity, *, strainer_drop: Quantity = 0.0, rpm: Quantity = None
) -> BootHole:
    """Return what a hole in the sleeve between strainer and pump does as the tank empties.

    While fuel covers the hole the pump draws some fuel past its strainer, and nothing else shows. Below, it draws air
    with its fuel: the car runs well on half a tank and starves on a quarter.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    diameter : float or str
        Diameter of the hole, m.
    height : float or str
        Height of the hole above the tank's floor, m.
    strainer_drop : float or str
        Pressure lost in strainer and sleeve up to the hole, Pa.
    rpm : float or str, optional
        Engine speed at full load, rpm; left out, the red line.

    Returns
    -------
    BootHole

    Examples
    --------
    >>> import fuelsim as fs
    >>> hole = boot_hole(fs.Car.named("finch").system("return"), "2 mm", "80 mm")
    >>> bool(hole.air_ratio[0] == 0.0), bool(hole.air_ratio[-1] > hole.air_ratio[1])
    (True, True)
    """
    car, pump = system.car, system.plumbing.main_pump
    run = system.solve(rpm=car.engine.red_line if rpm is None else rpm)
    fuel = system.fuel.liquid(run.conditions.tank_temperature)
    displaced = float(run.flow[pump.name])
    pressure = float(run.pressure["tank"])
    air = pressure * _AIR_MOLAR_MASS / (GAS_CONSTANT * float(run.conditions.tank_temperature))

    def ratio_at(level: FloatArray) -> FloatArray:
        drawn = hole_flow(level, height, diameter, strainer_drop, fuel.density, air)
        fuel_flow = displaced - drawn
        return np.where(fuel_flow > 0.0, drawn / np.where(fuel_flow > 0.0, fuel_flow, 1.0), np.inf)

    def lies_above(level: FloatArray) -> BoolArray:
        return np.asarray(ratio_at(level) > tolerated)

    tolerated = float(pump.part.tolerated_vapour)
    level = np.linspace(height, 0.0, _LEVELS)
    starving = float(bisect(lies_above, 0.0, height, _HALVINGS)) if float(ratio_at(np.zeros(1))[0]) > tolerated else 0.0
    volume = car.tank.volume * np.minimum(level / car.tank.depth, 1.0)
    return BootHole(
        layout=system.layout,
        height=height,
        diameter=diameter,
        level=level,
        fuel_volume=volume,
        air_ratio=ratio_at(level),
        tolerated=tolerated,
        starving_level=starving,
        starving_volume=float(car.tank.volume * min(starving / car.tank.depth, 1.0)),
    )
