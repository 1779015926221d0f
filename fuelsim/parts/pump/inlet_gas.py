"""Gas at a pump's inlet: how much more the pump displaces for it, over the pressure there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, NamedTuple

import numpy as np

from fuelsim.arguments import takes
from fuelsim.laws.link import LinkLaw
from fuelsim.laws.pump_curve import PumpCoefficients
from fuelsim.laws.pump_with_gas import PUMP_WITH_GAS, PumpWithGasCoefficients
from fuelsim.liquid import Liquid
from fuelsim.parts.part import Part
from fuelsim.parts.pump.running_pump import RunningPump
from fuelsim.typing import BoolArray, FloatLike

__all__ = ["InletGas", "PumpWithGas"]


class InletGas(NamedTuple):
    """Tangent to what a pump displaces over the pressure at its inlet.

    Attributes
    ----------
    displaced : float or array (points,)
        Volume displaced per volume of liquid, 1 or more: one over the share of its flow that gas leaves to the pump.
    displaced_slope : float or array (points,)
        Its slope over the pressure at the inlet, 1/Pa, not positive.
    inlet_pressure : float or array (points,)
        Pressure at the inlet where both hold, Pa absolute.
    """

    displaced: FloatLike
    displaced_slope: FloatLike
    inlet_pressure: FloatLike

    def of_turning(self, stands: BoolArray) -> InletGas:
        """Return the gas that acts on a pump: none on one that stands, through which fuel only passes.

        Parameters
        ----------
        stands : bool array () or (points,)
            Whether the pump stands.

        Returns
        -------
        InletGas

        Examples
        --------
        >>> InletGas(2.0, -2e-5, 90e3).of_turning(np.array([True, False])).displaced.tolist()
        [1.0, 2.0]
        """
        if not np.any(stands):
            return self
        return InletGas(
            np.where(stands, 1.0, self.displaced), np.where(stands, 0.0, self.displaced_slope), self.inlet_pressure
        )


@dataclass(frozen=True, eq=False)
class PumpWithGas(Part):
    """A running pump that takes in gas, by the pressure at its inlet.

    Attributes
    ----------
    pump : RunningPump
        The pump with its fuel's temperature, without vapour.
    gas : InletGas

    Examples
    --------
    As much gas as liquid at 90 kPa leaves half of the flow:

    >>> from fuelsim.parts.pump.pump import Pump
    >>> gassy = PumpWithGas(Pump.named("in_tank_220").at(), InletGas(2.0, -2e-5, 90e3))
    >>> gassy.coefficients(Liquid(density=740.0, kinematic_viscosity=6e-7)).displaced
    2.0
    """

    law: ClassVar[LinkLaw] = PUMP_WITH_GAS

    pump: RunningPump
    gas: InletGas

    @takes()
    def coefficients(self, liquid: Liquid) -> PumpWithGasCoefficients:
        """Return the coefficients of the law of a pump with gas; the liquid does not matter."""
        own = PumpCoefficients._make(self.pump.coefficients(liquid))
        return PumpWithGasCoefficients(*own, *self.gas.of_turning(self.pump.stands))
