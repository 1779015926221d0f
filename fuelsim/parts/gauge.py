"""A pressure gauge, and what it reads when it is hot or high up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fuelsim.arguments import number, takes
from fuelsim.constants import STANDARD_ATMOSPHERE
from fuelsim.errors import InputError
from fuelsim.fields import Quantity, Ratings, choice, quantity
from fuelsim.laws.atmosphere import standard_pressure
from fuelsim.laws.gauge_case import case_pressure
from fuelsim.typing import FloatArray, FloatLike

__all__ = ["Gauge"]

_PRESSURE = number("pressure difference", -1e5, 1e7, example="300 kPa")
_TEMPERATURE = number("temperature", 233.15, 423.15, example="70 degC")
_ALTITUDE = number("altitude", -450.0, 6000.0, example="600 m")


@dataclass(frozen=True, eq=False)
class Gauge(Ratings):
    """A pressure gauge in the engine bay: how far its reading is from the pressure above the atmosphere.

    A sealed case, such as one filled with liquid whose vent is shut, reads low when hot, since the air that is shut in
    with the liquid presses against the tube. To read right, let it cool, or open its vent for a moment.

    Examples
    --------
    A liquid-filled gauge in a bay of 70 degC on a rail of 300 kPa:

    >>> round(float(Gauge(case="sealed").reading("300 kPa", "70 degC")) / 1e3)
    263
    """

    case: str = choice(("open", "sealed"), "Case: open to the air, or sealed.", default="open")
    bubble: Quantity = quantity(
        "fraction",
        "Fraction of a sealed case that the bubble of air had when it was closed; 100 % is a case without liquid.",
        least=0.02,
        most=1.0,
        default=0.15,
        example="15 %",
    )
    filled_temperature: Quantity = quantity(
        "temperature",
        "Temperature at which a sealed case was closed.",
        least=263.15,
        most=323.15,
        default=293.15,
        example="20 degC",
    )
    filled_pressure: Quantity = quantity(
        "absolute pressure",
        "Pressure of the air when a sealed case was closed, absolute.",
        least=50e3,
        most=110e3,
        default=STANDARD_ATMOSPHERE,
        example="101 kPa",
    )
    reading_per_kelvin: Quantity = quantity(
        "number",
        "Number by which the reading is multiplied less 1, for each kelvin above 20 degC: the tube grows softer as it "
        "warms; from the gauge's data sheet.",
        least=-2e-3,
        most=2e-3,
        default=0.0,
        example="0.0004",
    )

    @takes({"pressure": _PRESSURE, "temperature": _TEMPERATURE, "altitude": _ALTITUDE})
    def reading(self, pressure: Quantity, temperature: Quantity, altitude: Quantity = 0.0) -> FloatArray:
        """Return what the gauge reads.

        Parameters
        ----------
        pressure : float, str or array
            Pressure above the atmosphere, Pa.
        temperature : float, str or array
            Temperature of the gauge, K.
        altitude : float, str or array
            Altitude above sea level, m.

        Returns
        -------
        array
            Pa.

        Raises
        ------
        InputError
            Where the liquid would fill the whole case.

        Examples
        --------
        An open gauge reads the same hot and cold:

        >>> float(Gauge().reading("300 kPa", "90 degC"))
        300000.0
        """
        return np.asarray((pressure - self._lift(temperature, altitude)) * self._growth(temperature))

    @takes({"reading": _PRESSURE, "temperature": _TEMPERATURE, "altitude": _ALTITUDE})
    def pressure(self, reading: Quantity, temperature: Quantity, altitude: Quantity = 0.0) -> FloatArray:
        """Return the pressure above the atmosphere behind a reading.

        Parameters
        ----------
        reading : float, str or array
            What the gauge reads, Pa.
        temperature : float, str or array
            Temperature of the gauge, K.
        altitude : float, str or array
            Altitude above sea level, m.

        Returns
        -------
        array
            Pa.

        Raises
        ------
        InputError
            Where the liquid would fill the whole case.

        Examples
        --------
        >>> gauge = Gauge(case="sealed")
        >>> round(float(gauge.pressure(gauge.reading("300 kPa", "70 degC"), "70 degC")), 6)
        300000.0
        """
        return np.asarray(reading / self._growth(temperature) + self._lift(temperature, altitude))

    def _growth(self, temperature: FloatLike) -> FloatArray:
        """Return the factor of the tube's stiffness on the reading."""
        return np.asarray(1.0 + self.reading_per_kelvin * (np.asarray(temperature) - 293.15))

    def _lift(self, temperature: FloatLike, altitude: FloatLike) -> FloatArray:
        """Return the pressure in the case over that of the atmosphere, Pa."""
        if self.case == "open":
            return np.zeros(np.broadcast_shapes(np.shape(temperature), np.shape(altitude)))
        inside = case_pressure(temperature, self.filled_pressure, self.filled_temperature, self.bubble)
        if np.any(np.isnan(inside)):
            given = f"a bubble of {100.0 * self.bubble:g} %"
            raise InputError("the liquid would fill the whole case", given=given, key="bubble", part="Gauge")
        lift: FloatArray = inside - standard_pressure(altitude)
        return lift
