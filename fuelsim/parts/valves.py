"""Valves with a position, valves that are open or shut, valves that hold a flow, and losses given by a curve."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from fuelsim.arguments import takes
from fuelsim.constants import L_PER_HOUR
from fuelsim.errors import InputError
from fuelsim.fields import Quantity, choice, flag, quantity, series
from fuelsim.laws.control_valve import (
    FLOW_CONTROL_VALVE,
    LOSS_CURVE,
    FlowControlCoefficients,
    LossCurveCoefficients,
    loss_curve_coefficients,
)
from fuelsim.laws.filter import FILTER, FilterCoefficients
from fuelsim.laws.link import SHUT_SLOPE, LinkLaw
from fuelsim.liquid import Liquid
from fuelsim.parts.check_valve import seat_coefficients
from fuelsim.parts.part import Part
from fuelsim.typing import BoolArray, FloatArray, FloatLike

__all__ = ["FlowControlValve", "LossCurve", "ShutOffValve", "ThrottleValve"]

_WATER_DENSITY = 1000.0
"""Density at which a flow coefficient Kv is defined, kg/m3."""
_KV_PRESSURE = 1e5
"""Loss at which it is defined, Pa."""
_CREEP_REYNOLDS = 100.0
"""Reynolds number in the bore at which the laminar part of a valve's loss equals its turbulent part [assumed]."""


def _valve_coefficients(turbulent: FloatLike, laminar: FloatLike, shut: BoolArray) -> FilterCoefficients:
    """Return the coefficients of an open valve, or of a shut one where `shut`."""
    return FilterCoefficients(np.where(shut, SHUT_SLOPE, laminar), np.where(shut, 0.0, turbulent))


@dataclass(frozen=True)
class ThrottleValve(Part):
    """A valve with a position, as a needle valve or a throttling ball valve.

    Its loss of water is (q/(Kv f))^2 1 bar, and in proportion to density, with f the fraction of Kv at its position:
    the position itself for the linear characteristic, R^(position - 1) for the equal-percentage one, with a
    rangeability R of 50 where none is given [common_practice]. At position 0 it is shut.

    Examples
    --------
    >>> ThrottleValve(flow_coefficient="1 m3/h", position=0.5).flow_fraction
    0.5
    """

    law: ClassVar[LinkLaw] = FILTER

    flow_coefficient: Quantity = quantity(
        "volume flow",
        "Flow coefficient Kv of the fully open valve: flow of water at which it loses 1 bar.",
        least=1.0 * L_PER_HOUR,
        most=1.0,
        example="1 m3/h",
    )
    position: Quantity = quantity(
        "fraction",
        "Fraction of the valve's travel, from 0 (shut) to 1 (open).",
        least=0.0,
        most=1.0,
        default=1.0,
        example="0.5",
    )
    characteristic: str = choice(
        ("linear", "equal percentage"), "Characteristic of the flow coefficient over the position.", default="linear"
    )
    rangeability: Quantity = quantity(
        "number",
        "Ratio R of the largest to the least flow coefficient of the equal-percentage characteristic.",
        least=5.0,
        most=200.0,
        default=50.0,
        example="50",
    )

    @property
    def flow_fraction(self) -> FloatLike:
        """Flow coefficient at the position over that of the fully open valve; 0 where shut."""
        position = np.asarray(self.position, dtype=float)
        share = position if self.characteristic == "linear" else self.rangeability ** (position - 1.0)
        fraction = np.where(position > 0.0, share, 0.0)
        return float(fraction) if fraction.ndim == 0 else fraction

    @takes()
    def coefficients(self, liquid: Liquid) -> FilterCoefficients:
        """Return the coefficients of the filter law, whose loss is linear and quadratic in the flow."""
        fraction = np.asarray(self.flow_fraction)
        shut = fraction <= 0.0
        passed = self.flow_coefficient * np.where(shut, 1.0, fraction)
        turbulent = _KV_PRESSURE * liquid.density / _WATER_DENSITY / passed**2
        # Kv of a bore d without loss beside its outlet is A sqrt(2 bar / rho_w): its size for the Reynolds number.
        bore = np.sqrt(4.0 / np.pi * passed / np.sqrt(2.0 * _KV_PRESSURE / _WATER_DENSITY))
        creep = _CREEP_REYNOLDS * np.pi / 4.0 * bore * liquid.kinematic_viscosity
        return _valve_coefficients(turbulent, turbulent * creep, shut)


@dataclass(frozen=True)
class ShutOffValve(Part):
    """A valve that is open or shut, as a ball valve or a solenoid valve.

    Examples
    --------
    >>> ShutOffValve(bore="8 mm", open=False).open
    False
    """

    law: ClassVar[LinkLaw] = FILTER

    bore: Quantity = quantity("bore", "Bore to whose velocity the loss refers.", least=0.5e-3, most=0.3, example="8 mm")
    loss_coefficient: Quantity = quantity(
        "number",
        "Loss coefficient K of the open valve, on the velocity head in its bore.",
        least=0.01,
        most=1e6,
        default=0.1,
        example="0.1",
    )
    open: bool = flag("Whether the valve is open.", default=True)

    @takes()
    def coefficients(self, liquid: Liquid) -> FilterCoefficients:
        """Return the coefficients of the filter law, whose loss is linear and quadratic in the flow."""
        area = np.pi * self.bore**2 / 4.0
        turbulent = self.loss_coefficient * liquid.density / (2.0 * area**2)
        creep = _CREEP_REYNOLDS * np.pi / 4.0 * self.bore * liquid.kinematic_viscosity
        return _valve_coefficients(turbulent, turbulent * creep, np.asarray(not self.open))


@dataclass(frozen=True)
class FlowControlValve(Part):
    """A valve that passes what the pressures drive, one way, but no more than its set flow.

    Examples
    --------
    >>> FlowControlValve(set_flow="60 L/h").open_pressure
    20000.0
    """

    law: ClassVar[LinkLaw] = FLOW_CONTROL_VALVE

    set_flow: Quantity = quantity("volume flow", "Flow that is not exceeded.", least=0.0, most=10.0, example="60 L/h")
    open_pressure: Quantity = quantity(
        "pressure difference",
        "Loss of the wide-open valve at the open flow of petrol at 740 kg/m3.",
        least=1.0,
        most=1e7,
        default=20e3,
        example="20 kPa",
    )
    open_flow: Quantity = quantity(
        "volume flow",
        "Flow at which the loss of the wide-open valve is given.",
        least=1.0 * L_PER_HOUR,
        most=100.0,
        default=150.0 * L_PER_HOUR,
        example="150 L/h",
    )

    @takes()
    def coefficients(self, liquid: Liquid) -> FlowControlCoefficients:
        """Return the coefficients of the flow control law."""
        seat = seat_coefficients(self.open_pressure, self.open_flow, liquid.density)
        return FlowControlCoefficients(self.set_flow, seat.linear, seat.quadratic)


@dataclass(frozen=True)
class LossCurve(Part):
    """Any part whose loss was measured at some flows, the same in both directions.

    The loss follows a monotone cubic through the points and zero, and goes on straight beyond the last; it is that of
    the liquid with which it was measured.

    Examples
    --------
    >>> LossCurve(flow=["60 L/h", "120 L/h"], pressure=["5 kPa", "18 kPa"]).pressure.tolist()
    [5000.0, 18000.0]
    """

    law: ClassVar[LinkLaw] = LOSS_CURVE

    flow: FloatArray = series(
        "volume flow", "Flows at which the loss was measured, rising.", least=0.0, most=100.0, example="60 L/h"
    )
    pressure: FloatArray = series(
        "pressure difference", "Loss of pressure at each of these flows, rising.", least=0.0, most=1e8, example="5 kPa"
    )

    def check(self) -> None:
        """Refuse points that do not rise, or of which flow and loss do not pair."""
        if np.shape(self.flow) != np.shape(self.pressure):
            raise InputError(
                "as many losses as flows", given=f"{np.size(self.pressure)} and {np.size(self.flow)}", key="pressure"
            )
        for key in ("flow", "pressure"):
            values = np.asarray(getattr(self, key))
            if np.any(np.diff(values) <= 0.0) or values[0] <= 0.0:
                raise InputError("positive values that rise", given=values.tolist(), key=key)

    @takes()
    def coefficients(self, liquid: Liquid) -> LossCurveCoefficients:
        """Return the coefficients of the loss curve law, whatever the liquid."""
        return loss_curve_coefficients(self.flow, self.pressure)
