"""Plumbing that several tests share: a pump from a formula, and the looped pump net of `data/checks`."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, ClassVar, NamedTuple

import numpy as np

from fuelsim.fields import Quantity, series
from fuelsim.laws.link import LinkLaw
from fuelsim.laws.pump_curve import PUMP_CURVE, PumpCoefficients, uniform_table
from fuelsim.liquid import Liquid
from fuelsim.network.network import Network
from fuelsim.parts.line import Line
from fuelsim.parts.part import Part
from fuelsim.parts.regulator import ReturnRegulator

PETROL = Liquid(density=740.0, kinematic_viscosity=0.6e-6)
GRAVITY = 9.80665
ATMOSPHERE = 101325.0
L_H = 1.0 / 3.6e6


@dataclass(frozen=True)
class CurvePump(Part):
    """A pump given by its curve alone."""

    law: ClassVar[LinkLaw] = PUMP_CURVE

    flow: Quantity = series("volume flow", "Flows.")
    pressure: Quantity = series("pressure difference", "Pressure rises.")

    @cached_property
    def curve(self) -> PumpCoefficients:
        return PumpCoefficients(*uniform_table(self.flow, self.pressure), np.inf)

    def coefficients(self, liquid: Liquid) -> PumpCoefficients:
        return self.curve


def parabolic_pump(head: float = 80.0, fall: float = 12500.0, density: float = 740.0) -> CurvePump:
    """A pump of `head` - `fall` q^2 metres, q in L/s; the default is that of the looped pump net."""
    run_out = np.sqrt(head / fall)
    flow = np.linspace(0.0, run_out, 65)
    return CurvePump(flow=flow * 1e-3, pressure=np.maximum(density * GRAVITY * (head - fall * flow**2), 0.0))


def looped_net_data() -> dict[str, Any]:
    return json.loads((Path(__file__).parents[2] / "data/checks/looped_pump_net.json").read_text(encoding="utf-8"))


def looped_net() -> tuple[Network, dict[str, float]]:
    """The looped pump net and its draws."""
    data = looped_net_data()
    density = data["liquid"]["density_kg_m3"]
    net = Network(ATMOSPHERE)
    for name, head in data["fixed_heads_m"].items():
        net.add_reservoir(name, pressure=ATMOSPHERE + density * GRAVITY * head)
    for name in data["junctions"]:
        net.add_node(name)
    net.connect("T", "1", parabolic_pump(), name="pump")
    for tube in data["tubes"]:
        part = Line(
            length=tube["length_m"],
            bore=tube["bore_m"],
            roughness=tube["roughness_m"],
            loss_coefficient=tube["loss_coefficient"],
        )
        net.connect(tube["from"], tube["to"], part, name=tube["name"])
    return net, data["demands_m3_s"]


def heads(net: Network, state: Any) -> dict[str, Any]:
    """Gauge heads in metres of petrol."""
    return {name: state.gauge_pressure[name] / (740.0 * GRAVITY) for name in net.nodes}


class SquareCoefficients(NamedTuple):
    resistance: Any


def _square_loss(flow: Any, c: SquareCoefficients) -> tuple[Any, Any]:
    size = np.abs(flow)
    return flow * (c.resistance * size + 1.0), 2.0 * c.resistance * size + 1.0


SQUARE = LinkLaw(name="square", coefficients=SquareCoefficients, loss=_square_loss)


@dataclass(frozen=True)
class FixedFactorPipe(Part):
    """A pipe of constant friction factor, for networks published that way."""

    law: ClassVar[LinkLaw] = SQUARE

    length: float
    bore: float
    factor: float

    def coefficients(self, liquid: Liquid) -> SquareCoefficients:
        area = np.pi * self.bore**2 / 4.0
        return SquareCoefficients(self.factor * self.length / self.bore * liquid.density / (2.0 * area**2))


EPANET_GRAVITY = 32.2 * 0.3048


class SwameeJainCoefficients(NamedTuple):
    reynolds_per_flow: Any
    relative_roughness: Any
    friction: Any
    fittings: Any


def _swamee_jain_loss(flow: Any, coefficients: SwameeJainCoefficients) -> tuple[Any, Any]:
    per_flow, roughness, friction, fittings = coefficients
    signed = flow * per_flow
    reynolds = np.maximum(np.abs(signed), 1e-3)
    inside = roughness / 3.7 + 5.74 / np.maximum(reynolds, 2000.0) ** 0.9
    factor = 0.25 / np.log10(inside) ** 2
    factor_slope = np.where(
        reynolds > 2000.0, 2.0 * factor * 0.9 * 5.74 / reynolds**0.9 / (inside * np.log(inside)), -64.0 / reynolds
    )
    factor = np.where(reynolds > 2000.0, factor, 64.0 / reynolds)
    loss = signed * reynolds * (friction * factor + fittings)
    slope = reynolds * (2.0 * (friction * factor + fittings) + friction * factor_slope) * per_flow
    return loss, slope


SWAMEE_JAIN = LinkLaw(
    name="Swamee-Jain line",
    coefficients=SwameeJainCoefficients,
    loss=_swamee_jain_loss,
    typical_flow=lambda c: 1e4 / c.reynolds_per_flow,
)


@dataclass(frozen=True)
class EpanetLine(Part):
    """A line with EPANET's own friction law and gravity; not for Re 2000-4000."""

    law: ClassVar[LinkLaw] = SWAMEE_JAIN

    length: float
    bore: float
    roughness: float
    loss_coefficient: float

    def coefficients(self, liquid: Liquid) -> SwameeJainCoefficients:
        head = 0.5 * liquid.density * (liquid.kinematic_viscosity / self.bore) ** 2 * GRAVITY / EPANET_GRAVITY
        return SwameeJainCoefficients(
            4.0 / (np.pi * self.bore * liquid.kinematic_viscosity),
            self.roughness / self.bore,
            head * self.length / self.bore,
            head * self.loss_coefficient,
        )


def pump_and_rail(**regulator: Any) -> Network:
    """Tank, pump of the looped net, hose of 3 m x 8 mm with K 1, rail, return regulator straight to the tank."""
    net = Network(ATMOSPHERE)
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    net.add_node("outlet")
    net.add_node("rail")
    net.connect("tank", "outlet", parabolic_pump(), name="pump")
    net.connect("outlet", "rail", Line(length=3.0, bore=0.008, loss_coefficient=1.0), name="feed")
    ratings: dict[str, Any] = {
        "set_pressure": 3e5,
        "droop": 500.0 / (200.0 * L_H),
        "wide_open_pressure": 1e3,
        **regulator,
    }
    net.connect("rail", "tank", ReturnRegulator(**ratings), name="regulator")
    return net
