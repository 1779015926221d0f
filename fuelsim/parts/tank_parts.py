"""Parts in and around the tank: vent and jet pump."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from fuelsim.fields import Quantity, Ratings, quantity
from fuelsim.laws.jet_pump import entrainment_ratio, vent_pressure
from fuelsim.parts.catalogue_parts import Catalogued
from fuelsim.parts.orifice import Orifice

__all__ = ["JetPump", "TankVent"]

_AIR_DENSITY = 1.15
_NOZZLE_DISCHARGE = 0.9
"""Of a tapered nozzle (from memory)."""


@dataclass(frozen=True, eq=False)
class TankVent(Ratings, Catalogued):
    """The way of air and vapour in and out of the tank: open, through a cap's valves, or all but blocked.

    Parameters
    ----------
    bore : float or str
        Of the narrowest place, m.
    pressure_opening, vacuum_opening : float or str
        Of the cap's valves, Pa; 0 for an open vent.

    Examples
    --------
    >>> open_vent, blocked = TankVent.named("open_vent"), TankVent.named("blocked")
    >>> [round(float(vent.gauge_pressure(draw=100e-3 / 3600.0)), -1) for vent in (open_vent, blocked)]
    [-10.0, -7860.0]
    """

    catalogue_kind: ClassVar[str] = "vents"

    bore: Quantity = quantity("bore", "Of the narrowest place.", least=1e-4, most=0.05, default=4e-3, example="4 mm")
    pressure_opening: Quantity = quantity(
        "pressure difference", "Of the pressure valve.", least=0.0, most=5e4, default=0.0, example="7 kPa"
    )
    vacuum_opening: Quantity = quantity(
        "pressure difference", "Of the vacuum valve.", least=0.0, most=5e4, default=0.0, example="2 kPa"
    )

    def gauge_pressure(self, draw: Any, vapour_formed: Any = 0.0) -> Any:
        """Return the steady pressure of the vapour space over the atmosphere.

        Parameters
        ----------
        draw : array
            Fuel leaving the tank for good, m3/s: what the engine burns.
        vapour_formed : array
            m3/s at tank conditions.

        Returns
        -------
        array
            Pa; negative where the tank is pulled down.
        """
        area = np.pi / 4.0 * self.bore**2
        outflow = np.asarray(vapour_formed, dtype=float) - draw
        return vent_pressure(outflow, self.pressure_opening, self.vacuum_opening, area, _AIR_DENSITY)


@dataclass(frozen=True, eq=False)
class JetPump(Ratings):
    """An ejector that fills a pot with the fuel that returns or bypasses.

    Parameters
    ----------
    nozzle_bore : float or str
        m.
    largest_ratio, stall_pressure_ratio : float
        Suction over motive flow without lift; head ratio at which nothing is sucked (assumed values).

    Examples
    --------
    >>> jet = JetPump(nozzle_bore="0.8 mm")
    >>> round(float(jet.suction_flow(20e-3 / 3600, 60e3, 2e3)) * 3.6e6, 1)
    49.7
    """

    nozzle_bore: Quantity = quantity("bore", "Of the nozzle.", least=2e-4, most=5e-3, default=8e-4, example="0.8 mm")
    largest_ratio: Quantity = quantity(
        "number", "Suction over motive flow without lift.", least=0.1, most=20.0, default=3.0
    )
    stall_pressure_ratio: Quantity = quantity(
        "number", "Head ratio at which nothing is sucked.", least=0.01, most=3.0, default=0.2
    )

    def nozzle(self) -> Orifice:
        """Return the nozzle as a link of the network."""
        return Orifice(diameter=self.nozzle_bore, discharge_coefficient=_NOZZLE_DISCHARGE)

    def suction_flow(self, motive_flow: Any, motive_drop: Any, lift_pressure: Any) -> Any:
        """Return the flow it sucks, m3/s.

        Parameters
        ----------
        motive_flow : array
            Through the nozzle, m3/s.
        motive_drop, lift_pressure : array
            Nozzle inlet, and outlet, over the suction chamber, Pa.
        """
        ratio = entrainment_ratio(motive_drop, lift_pressure, self.largest_ratio, self.stall_pressure_ratio)
        return ratio * np.maximum(np.asarray(motive_flow, dtype=float), 0.0)
