"""Parts of networks read from a file in EPANET's format; their sizes have no limit but that of the format."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from fuelsim.constants import GRAVITY
from fuelsim.laws.control_valve import (
    FLOW_CONTROL_VALVE,
    LOSS_CURVE,
    FlowControlCoefficients,
    LossCurveCoefficients,
    loss_curve_coefficients,
)
from fuelsim.laws.filter import FILTER, FilterCoefficients
from fuelsim.laws.friction import LINE, LineCoefficients, line_coefficients
from fuelsim.laws.link import SHUT_SLOPE, LinkLaw
from fuelsim.laws.pump_curve import PUMP_CURVE, PumpCoefficients, uniform_table
from fuelsim.laws.regulator import (
    REDUCING_REGULATOR,
    RETURN_REGULATOR,
    ReducingRegulatorCoefficients,
    ReturnRegulatorCoefficients,
)
from fuelsim.laws.valve import CHECK_VALVE, CheckValveCoefficients
from fuelsim.liquid import Liquid
from fuelsim.parts.part import Part

__all__ = ["Closed", "CurvePump", "FlowControl", "HeadLoss", "OneWay", "OpenValve", "Pipe", "Reducing", "Sustaining"]

_DROOP = 1e-4
"""Fall of the pressure that a valve holds, in Pa, over its flow in the unit of one velocity head of its bore."""
_LEAST_LOSS_COEFFICIENT = 1e-3


@dataclass(frozen=True)
class FilePart(Part):
    """A part whose sizes have no limit but that of the format."""


@dataclass(frozen=True)
class Pipe(FilePart):
    law: ClassVar[LinkLaw] = LINE

    length: float
    bore: float
    roughness: float
    loss_coefficient: float

    def coefficients(self, liquid: Liquid) -> LineCoefficients:
        return line_coefficients(
            self.length,
            self.bore,
            self.roughness,
            self.loss_coefficient,
            0.0,
            liquid.density,
            liquid.kinematic_viscosity,
        )


def _velocity_head(bore: float, liquid: Liquid) -> float:
    """Return the velocity head at a flow of 1 m3/s, Pa s2/m6."""
    return float(liquid.density) / (2.0 * (np.pi * bore**2 / 4.0) ** 2)


def _seat(bore: float, loss_coefficient: float, liquid: Liquid) -> tuple[float, float]:
    """Return the linear and the quadratic coefficient of an open valve."""
    head = _velocity_head(bore, liquid)
    # The laminar part keeps the slope at no flow above zero: that of a velocity head at Re 100.
    creep = 100.0 * np.pi / 4.0 * bore * float(liquid.kinematic_viscosity)
    quadratic = max(loss_coefficient, _LEAST_LOSS_COEFFICIENT) * head
    return quadratic * creep, quadratic


@dataclass(frozen=True)
class OpenValve(FilePart):
    law: ClassVar[LinkLaw] = FILTER

    bore: float
    loss_coefficient: float

    def coefficients(self, liquid: Liquid) -> FilterCoefficients:
        return FilterCoefficients(*_seat(self.bore, self.loss_coefficient, liquid))


@dataclass(frozen=True)
class Closed(FilePart):
    law: ClassVar[LinkLaw] = FILTER

    def coefficients(self, liquid: Liquid) -> FilterCoefficients:
        return FilterCoefficients(SHUT_SLOPE, 0.0)


@dataclass(frozen=True)
class OneWay(FilePart):
    law: ClassVar[LinkLaw] = CHECK_VALVE

    bore: float

    def coefficients(self, liquid: Liquid) -> CheckValveCoefficients:
        return CheckValveCoefficients(0.0, *_seat(self.bore, 0.0, liquid))


@dataclass(frozen=True)
class CurvePump(FilePart):
    law: ClassVar[LinkLaw] = PUMP_CURVE

    flow: tuple[float, ...]
    head: tuple[float, ...]

    def coefficients(self, liquid: Liquid) -> PumpCoefficients:
        weight = float(liquid.density) * GRAVITY
        table = uniform_table(np.array(self.flow), weight * np.array(self.head))
        return PumpCoefficients(*table, np.inf, 1.0)


@dataclass(frozen=True)
class Held(FilePart):
    """A pressure valve; `head` above its own node, m."""

    bore: float
    head: float
    loss_coefficient: float

    def _ratings(self, liquid: Liquid) -> tuple[float, float, float, float]:
        linear, quadratic = _seat(self.bore, self.loss_coefficient, liquid)
        droop = _DROOP * float(np.sqrt(_velocity_head(self.bore, liquid)))
        return float(liquid.density) * GRAVITY * self.head, droop, linear, quadratic


@dataclass(frozen=True)
class Reducing(Held):
    law: ClassVar[LinkLaw] = REDUCING_REGULATOR

    def coefficients(self, liquid: Liquid) -> ReducingRegulatorCoefficients:
        return ReducingRegulatorCoefficients(*self._ratings(liquid))


@dataclass(frozen=True)
class Sustaining(Held):
    law: ClassVar[LinkLaw] = RETURN_REGULATOR

    def coefficients(self, liquid: Liquid) -> ReturnRegulatorCoefficients:
        return ReturnRegulatorCoefficients(*self._ratings(liquid), 0.0)


@dataclass(frozen=True)
class FlowControl(FilePart):
    law: ClassVar[LinkLaw] = FLOW_CONTROL_VALVE

    bore: float
    flow: float
    loss_coefficient: float

    def coefficients(self, liquid: Liquid) -> FlowControlCoefficients:
        return FlowControlCoefficients(self.flow, *_seat(self.bore, self.loss_coefficient, liquid))


@dataclass(frozen=True)
class HeadLoss(FilePart):
    law: ClassVar[LinkLaw] = LOSS_CURVE

    flow: tuple[float, ...]
    head: tuple[float, ...]

    def coefficients(self, liquid: Liquid) -> LossCurveCoefficients:
        return loss_curve_coefficients(self.flow, float(liquid.density) * GRAVITY * np.array(self.head))
