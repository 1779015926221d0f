"""What a pot needs as links of a network: the line it runs over through, and the suction of a jet pump."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.fields import Quantity, quantity, table
from fuelsim.laws.link import LinkLaw
from fuelsim.laws.overflow import OVERFLOW, OverflowCoefficients
from fuelsim.laws.pump_curve import PUMP_CURVE, PumpCoefficients
from fuelsim.liquid import Liquid
from fuelsim.parts.line import Line
from fuelsim.parts.part import Part
from fuelsim.parts.tank_parts import JetPump

__all__ = ["JetSuction", "OverflowLine"]

_KNOTS = 9
_LEAST_SUCTION, _LEAST_LIFT = 1e-3 * L_PER_HOUR, 1.0
"""Run-out flow, m3/s, and stalling lift, Pa, of a jet pump that is not driven."""


@dataclass(frozen=True)
class OverflowLine(Part):
    """A line through which a pot runs over into the tank's vapour space, and takes air in while it empties.

    Examples
    --------
    >>> OverflowLine(line=Line(length="1 m", bore="10 mm")).law.name
    'overflow'
    """

    law: ClassVar[LinkLaw] = OVERFLOW

    line: Line = table(Line, "Line or cooler with its fittings.")

    def coefficients(self, liquid: Liquid) -> OverflowCoefficients:
        """Return the coefficients of the overflow law."""
        return OverflowCoefficients(*self.line.coefficients(liquid))


@dataclass(frozen=True, eq=False)
class JetSuction(Part):
    """The suction side of a jet pump, driven by the fuel that passes its nozzle: a pump with a straight characteristic.

    Examples
    --------
    >>> driven = JetSuction(jet=JetPump(nozzle_bore="0.8 mm"), motive_flow="20 L/h", motive_drop="60 kPa")
    >>> driven.law.name
    'pump curve'
    """

    law: ClassVar[LinkLaw] = PUMP_CURVE

    jet: JetPump = table(JetPump, "Ratings of the jet pump.")
    motive_flow: Quantity = quantity("volume flow", "Flow through the nozzle.", default=0.0, operating=True)
    motive_drop: Quantity = quantity(
        "pressure difference", "Pressure before the nozzle above that of the tank.", default=0.0, operating=True
    )

    def coefficients(self, liquid: Liquid) -> PumpCoefficients:
        """Return the coefficients of the pump curve law: M = M_0 (1 - N/N_0) with N = lift/(motive drop - lift)."""
        jet, drop = self.jet, np.maximum(self.motive_drop, _LEAST_LIFT)
        largest = np.maximum(jet.largest_ratio * np.asarray(self.motive_flow), _LEAST_SUCTION)
        share = np.linspace(0.0, 1.0, _KNOTS).reshape(-1, *(1,) * np.ndim(drop))
        head_ratio = jet.stall_ratio * (1.0 - share)
        return PumpCoefficients(
            largest_flow=largest,
            rise=drop * head_ratio / (1.0 + head_ratio),
            slope=-drop * jet.stall_ratio / ((1.0 + head_ratio) ** 2 * largest),
            relief_pressure=np.inf,
            check_valve=1.0,
        )
