"""Parts in and around the tank: vent, surge pot, jet pump, cooler."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from fuelsim.fields import Quantity, Ratings, quantity
from fuelsim.laws.cooler import cooled_temperature, cooler_heat
from fuelsim.laws.jet_pump import entrainment_ratio, vent_pressure
from fuelsim.laws.tank import cover_time
from fuelsim.parts.catalogue_parts import Catalogued
from fuelsim.parts.line import Line
from fuelsim.parts.orifice import Orifice

__all__ = ["Cooler", "JetPump", "SurgePot", "TankVent"]

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
class SurgePot(Ratings):
    """A pot or baffle that feeds the main pump while the tank's pick-up is bare.

    Parameters
    ----------
    volume : float or str
        Usable, m3.

    Examples
    --------
    1.5 L, 160 L/h to the rail of which 60 return to the pot:

    >>> round(float(SurgePot(volume="1.5 L").cover(160e-3 / 3600, 60e-3 / 3600)))
    54
    """

    volume: Quantity = quantity("volume", "Usable.", least=1e-5, most=0.05, default=1.5e-3, example="1.5 L")

    def cover(self, pump_flow: Any, returned_flow: Any = 0.0, lift_flow: Any = 0.0) -> Any:
        """Return how long the pot lasts, s; infinite where it does not empty.

        Parameters
        ----------
        pump_flow, returned_flow, lift_flow : array
            Of the main pump, of what returns to the pot, and of what the lift pump still brings, m3/s.
        """
        return cover_time(self.volume, np.asarray(pump_flow, dtype=float) - returned_flow - lift_flow)

    def lift_surplus(self, lift_flow: Any, pump_flow: Any, returned_flow: Any = 0.0) -> Any:
        """Return by how much a lift pump's flow exceeds what the pot needs, m3/s; below zero the pot runs dry."""
        return np.asarray(lift_flow, dtype=float) - (np.asarray(pump_flow, dtype=float) - returned_flow)


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


@dataclass(frozen=True, eq=False)
class Cooler(Ratings):
    """A fuel cooler in the return line.

    Parameters
    ----------
    conductance : float or str
        Heat conductance to the air, W/K; fin coolers 8-15 (from memory).
    length, bore : float or str
        Of its tube, m.
    loss_coefficient : float
        Of its bends and ends.

    Examples
    --------
    100 L/h of petrol at 70 degC in air of 40 degC:

    >>> round(float(Cooler(conductance="12 W/K").heat(343.15, 313.15, 0.0207, 2100.0)))
    315
    """

    conductance: Quantity = quantity(
        "heat conductance", "To the air.", least=0.0, most=200.0, default=12.0, example="12 W/K"
    )
    length: Quantity = quantity("length", "Of its tube.", least=0.01, most=20.0, default=1.5, example="1.5 m")
    bore: Quantity = quantity("bore", "Of its tube.", least=1e-3, most=0.05, default=8e-3, example="8 mm")
    loss_coefficient: Quantity = quantity("number", "Of bends and ends.", least=0.0, most=1e3, default=4.0)

    def line(self) -> Line:
        """Return its tube as a link of the network."""
        return Line(length=self.length, bore=self.bore, loss_coefficient=self.loss_coefficient)

    def outlet_temperature(self, temperature: Any, air_temperature: Any, mass_flow: Any, heat_capacity: Any) -> Any:
        """Return the temperature behind it, K.

        Parameters
        ----------
        temperature, air_temperature : array
            K.
        mass_flow : array
            kg/s.
        heat_capacity : array
            J/kg K.
        """
        return cooled_temperature(temperature, air_temperature, self.conductance, np.asarray(mass_flow) * heat_capacity)

    def heat(self, temperature: Any, air_temperature: Any, mass_flow: Any, heat_capacity: Any) -> Any:
        """Return the heat it takes from the fuel, W; arguments as `outlet_temperature`."""
        return cooler_heat(temperature, air_temperature, self.conductance, np.asarray(mass_flow) * heat_capacity)
