"""A round line: tube or hose, with the fittings that sit on it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from fuelsim.arguments import takes
from fuelsim.fields import Quantity, quantity
from fuelsim.laws.friction import LINE, LineCoefficients, line_coefficients
from fuelsim.laws.link import LinkLaw
from fuelsim.liquid import Liquid
from fuelsim.parts.part import Part
from fuelsim.typing import FloatLike

__all__ = ["Line"]


@dataclass(frozen=True)
class Line(Part):
    """A tube or hose of constant bore, with loss coefficients for its bends and fittings.

    The default roughness is that of drawn tube (Moody 1944, as tabulated in ``fluids``).

    Examples
    --------
    >>> Line(length="3 m", bore="8 mm").bore
    0.008
    """

    law: ClassVar[LinkLaw] = LINE

    length: Quantity = quantity("length", "Length of the line.", least=1e-3, most=1000.0, example="3.5 m")
    bore: Quantity = quantity(
        "bore",
        "Inside diameter of the line, or the name of a tube or hose that has it, as in 'steel_tube 3/8 in'.",
        least=0.5e-3,
        most=0.3,
        example="8 mm",
    )
    roughness: Quantity = quantity(
        "roughness",
        "Roughness of the wall.",
        least=0.0,
        most=1e-3,
        default=1.5e-6,
        example="1.5 µm",
    )
    loss_coefficient: Quantity = quantity(
        "number",
        "Sum of the loss coefficients K of bends and fittings, on the velocity head in this bore.",
        least=0.0,
        most=1e6,
        default=0.0,
        example="4",
    )
    laminar_loss_coefficient: Quantity = quantity(
        "number",
        "Sum of the laminar parts K1 of the fittings' loss coefficients, K + K1/Re.",
        least=0.0,
        most=1e6,
        default=0.0,
        example="800",
    )
    working_pressure: Quantity = quantity(
        "pressure difference",
        "Rated pressure above the atmosphere; compared with the greatest pressure of the pump.",
        least=1e3,
        most=1e8,
        default=None,
        example="1000 kPa",
    )

    @property
    def cross_section(self) -> FloatLike:
        """Area of the bore, m2."""
        area: FloatLike = 0.25 * np.pi * self.bore**2
        return area

    @property
    def volume(self) -> FloatLike:
        """Volume of the liquid that the line holds, m3."""
        volume: FloatLike = self.cross_section * self.length
        return volume

    @takes()
    def coefficients(self, liquid: Liquid) -> LineCoefficients:
        """Return the coefficients of the line law."""
        return line_coefficients(
            self.length,
            self.bore,
            self.roughness,
            self.loss_coefficient,
            self.laminar_loss_coefficient,
            liquid.density,
            liquid.kinematic_viscosity,
        )
