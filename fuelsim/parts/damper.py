"""A pulsation damper: a diaphragm and a spring that store fuel as the pressure rises."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fuelsim.arguments import number, takes
from fuelsim.fields import Quantity, Ratings, quantity
from fuelsim.typing import FloatArray

__all__ = ["Damper"]


@dataclass(frozen=True, eq=False)
class Damper(Ratings):
    """A pulsation damper on a rail or line; it stores fuel as the pressure rises and passes none.

    It has no effect on steady flows and pressures. Its defaults are a guess [assumed]: measure yours by the volume it
    takes in.

    Examples
    --------
    >>> damper = Damper(stored_volume="0.5 mL", pressure_rise="100 kPa")
    >>> round(damper.compliance * 1e12, 3)  # mm3/kPa
    5.0
    """

    stored_volume: Quantity = quantity(
        "volume",
        "Volume of fuel that the damper takes in over the pressure rise.",
        least=1e-10,
        most=1e-3,
        default=0.5e-6,
        example="0.5 mL",
    )
    pressure_rise: Quantity = quantity(
        "pressure difference",
        "Rise of pressure over which the damper takes in the stored volume.",
        least=1e3,
        most=2e6,
        default=1e5,
        example="100 kPa",
    )
    working_pressure: Quantity = quantity(
        "pressure difference",
        "Rated pressure above the atmosphere; compared with the greatest pressure of the pump.",
        least=1e3,
        most=1e8,
        default=None,
        example="690 kPa",
    )

    @property
    def compliance(self) -> float:
        """Volume taken in for each pascal, m3/Pa."""
        return float(self.stored_volume / self.pressure_rise)

    @takes(
        {
            "pulse_volume": number("volume", 0.0, 1e-4, example="20 mm3"),
            # Of a volume per pressure there is no kind of unit: m3/Pa as it is.
            "other_compliance": number("number", 0.0, 1e-6),
        }
    )
    def pressure_swing(self, pulse_volume: Quantity, other_compliance: Quantity = 0.0) -> FloatArray:
        """Return the peak-to-peak amplitude of the pressure when a pulse is drawn faster than the feed follows, V/C.

        Parameters
        ----------
        pulse_volume : float, str or array
            Volume V of the pulse, such as the fuel of one injection, m3.
        other_compliance : float or array
            Compliance of fuel, rail and hoses, which adds to that of the damper, a number in m3/Pa.

        Returns
        -------
        array
            Pressure amplitude, peak to peak, Pa.

        Examples
        --------
        20 mm3 drawn at once, without and with the 0.3 mm3/kPa of a rail:

        >>> damper = Damper(stored_volume="0.5 mL", pressure_rise="100 kPa")
        >>> [round(float(damper.pressure_swing(20e-9, rail))) for rail in (0.0, 0.3e-12)]
        [4000, 3774]
        """
        swing: FloatArray = np.asarray(pulse_volume) / (self.compliance + np.asarray(other_compliance))
        return swing
