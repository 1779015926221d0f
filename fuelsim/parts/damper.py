"""A pulsation damper: a diaphragm and a spring that give way to pressure pulses."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from fuelsim.fields import Quantity, Ratings, quantity

__all__ = ["Damper"]


@dataclass(frozen=True, eq=False)
class Damper(Ratings):
    """A pulsation damper on a rail or line; it stores fuel as the pressure rises and passes none.

    Steady flows and pressures do not feel it. Its defaults are assumed: measure yours by how much fuel it takes in.

    Parameters
    ----------
    stored_volume, pressure_rise : float or str
        Fuel it takes in, m3, while the pressure rises by so much, Pa.
    working_pressure : float or str, optional
        Rated, above the atmosphere, Pa; compared with what the pump can reach.

    Examples
    --------
    >>> damper = Damper(stored_volume="0.5 mL", pressure_rise="100 kPa")
    >>> round(damper.compliance * 1e12, 3)  # mm3/kPa
    5.0
    """

    stored_volume: Quantity = quantity(
        "volume", "Fuel it takes in.", least=1e-10, most=1e-3, default=0.5e-6, example="0.5 mL"
    )
    pressure_rise: Quantity = quantity(
        "pressure difference", "Rise of pressure meanwhile.", least=1e3, most=2e6, default=1e5, example="100 kPa"
    )
    working_pressure: Quantity = quantity(
        "pressure difference",
        "Rated, above the atmosphere.",
        least=1e3,
        most=1e8,
        default=None,
        example="690 kPa",
    )

    @property
    def compliance(self) -> float:
        """Volume taken in for each pascal, m3/Pa."""
        return float(self.stored_volume / self.pressure_rise)

    def pressure_swing(self, pulse_volume: Any, other_compliance: Any = 0.0) -> Any:
        """Return the swing of the pressure, peak to peak, when a pulse is drawn faster than the feed follows, V/C.

        Parameters
        ----------
        pulse_volume : float or array
            Such as the fuel of one injection, m3.
        other_compliance : float or array
            Of fuel, rail and hoses beside the damper, m3/Pa.

        Returns
        -------
        float or array
            Pa.

        Examples
        --------
        20 mm3 drawn at once, without and with the 0.3 mm3/kPa of a rail:

        >>> damper = Damper(stored_volume="0.5 mL", pressure_rise="100 kPa")
        >>> [round(float(damper.pressure_swing(20e-9, rail))) for rail in (0.0, 0.3e-12)]
        [4000, 3774]
        """
        return np.asarray(pulse_volume) / (self.compliance + np.asarray(other_compliance))
