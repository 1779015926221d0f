"""An orifice: a bleed, a jet, a restriction."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from fuelsim.arguments import takes
from fuelsim.fields import Quantity, quantity
from fuelsim.laws.link import LinkLaw
from fuelsim.laws.orifice import ORIFICE, OrificeCoefficients, orifice_coefficients
from fuelsim.liquid import Liquid
from fuelsim.parts.part import Part

__all__ = ["Orifice"]


@dataclass(frozen=True)
class Orifice(Part):
    """A hole through which fuel passes, such as a bleed or a jet.

    The discharge coefficient of a sharp-edged hole is 0.61 (pi/(pi + 2) for a free jet through a slot, 0.60 by Rennels
    [rennels_2012]), of a short drilled hole about 0.8; ``fluids.flow_meter`` has values for metering plates.

    Examples
    --------
    >>> Orifice(diameter="0.6 mm").discharge_coefficient
    0.61
    """

    law: ClassVar[LinkLaw] = ORIFICE

    diameter: Quantity = quantity("bore", "Diameter of the hole.", least=0.05e-3, most=0.05, example="0.6 mm")
    discharge_coefficient: Quantity = quantity(
        "number",
        "Discharge coefficient, the ratio of the flow to that of the ideal jet, in turbulent flow.",
        least=0.2,
        most=1.0,
        default=0.61,
        example="0.61",
    )
    length: Quantity = quantity(
        "length",
        "Length of the hole, the thickness of its plate; it matters in laminar flow only.",
        least=0.0,
        most=0.1,
        default=0.0,
        example="1 mm",
    )

    @takes()
    def coefficients(self, liquid: Liquid) -> OrificeCoefficients:
        """Return the coefficients of the orifice law."""
        return orifice_coefficients(
            self.diameter, self.discharge_coefficient, liquid.density, liquid.kinematic_viscosity, self.length
        )
