"""What passes through the walls of hoses: grams of fuel a day, by line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fuelsim import opener
from fuelsim.arguments import takes
from fuelsim.car.tables import PlumbedLine
from fuelsim.shown import Shown
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.run import System
from fuelsim.typing import UnitSystem

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["LinePermeation", "Permeation", "permeation"]

GRAMS_PER_DAY = 1e3 * 86_400.0
"""One kilogram per second in grams per day."""


@dataclass(frozen=True)
class LinePermeation:
    """What passes through the wall of one line.

    Attributes
    ----------
    line : str
        Table of the car.
    material : str
        Material of the wall.
    area : float
        Area of the inside of the wall, m2.
    permeated : float
        Mass flow of fuel through the wall, kg/s; NaN where it is not known.
    """

    line: str
    material: str
    area: float
    permeated: float


@dataclass(frozen=True)
class Permeation(Shown):
    """What passes through the walls of the lines of a layout; fittings, injectors and the tank itself are left out.

    Attributes
    ----------
    layout : str
        Name of the layout.
    lines : tuple of LinePermeation
        Lines in the order of flow.
    """

    layout: str
    lines: tuple[LinePermeation, ...]

    @property
    def total(self) -> float:
        """Mass flow through all walls of which it is known, kg/s."""
        return float(np.nansum([item.permeated for item in self.lines]))

    @property
    def unknown(self) -> tuple[str, ...]:
        """Lines of hose or plastic whose permeation is not known."""
        return tuple(item.line for item in self.lines if np.isnan(item.permeated))

    @property
    def headline(self) -> str:
        """Return grams a day, and the lines of which nothing is known."""
        beside = f", beside {', '.join(self.unknown)}, of which it is not known" if self.unknown else ""
        return f"{self.total * GRAMS_PER_DAY:.3g} g a day through the lines of '{self.layout}'{beside}"

    @takes()
    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per line.

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
        >>> fs.permeation(fs.Car.named("finch"), "return").table().columns.tolist()
        ['material', 'inside_mm2', 'permeated_g_day']
        """
        return opener.permeation_table(self, units)


@system_or_car
@takes()
def permeation(system: System) -> Permeation:
    """Return the fuel that passes through the walls of hoses, by line.

    A class of hose has a flux per area of its inside, such as 15 g/m2 a day for SAE J30 R9 and some thirty times as
    much for R7 [hose_trade_note]. Fittings and joints are not counted.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.

    Returns
    -------
    Permeation

    Examples
    --------
    Of 2.5 m of R7 hose of 8 mm some 28 g a day:

    >>> import fuelsim as fs
    >>> hose = {"feed": "hose_r7_five_sixteenths_inch", "feed.length": "2.5 m", "feed.bore": "8 mm"}
    >>> result = permeation(fs.Car.named("finch").with_values(hose).system("return"))
    >>> {item.line: round(item.permeated * 86.4e6) for item in result.lines}["feed"]
    28
    """
    found = []
    for link in system.plumbing.lines:
        line = link.part
        if isinstance(line, PlumbedLine):
            area = float(np.pi * line.bore * line.length)
            found.append(LinePermeation(link.table, line.material, area, float(line.permeated)))
    return Permeation(system.layout, tuple(found))
