"""A simple rail to be filled, by which fillings are worked out by hand: one substance, a pump of a straight curve."""

from __future__ import annotations

import dataclasses

import numpy as np

from fuelsim.constants import GAS_CONSTANT
from fuelsim.transients.pump_start import StartingPump
from fuelsim.transients.rail_filling import FilledRail, Filling, Phase, PumpAtWork

ATMOSPHERE = 101325.0
SET = 300e3
VOLUME, RAIL = 200e-6, 50e-6
DENSITY, HEAT_CAPACITY = 700.0, 2200.0
HEAT = 30e3
"""Heat of vaporisation of the single substance below, J/mol."""
WARM = 350.0


@dataclasses.dataclass(frozen=True)
class SingleSubstance:
    """A liquid whose bubble pressure, given at 350 K, follows Clausius and Clapeyron, with its expansion, 1/K."""

    at_warm: float
    expansion: float = 0.0

    def bubble_pressure(self, temperature):
        return self.at_warm * np.exp(-HEAT / GAS_CONSTANT * (1.0 / np.asarray(temperature) - 1.0 / WARM))

    def density(self, temperature):
        return DENSITY * (1.0 - self.expansion * (np.asarray(temperature) - WARM))

    def heat_capacity(self, temperature):
        return HEAT_CAPACITY + 0.0 * np.asarray(temperature)


VOLATILE, INERT = SingleSubstance(200e3), SingleSubstance(1.0)


def filling_with(**changes):
    values = {
        "volume": VOLUME, "rail_volume": RAIL, "elastic_volume": 1e-12, "film_area": 0.01, "set_pressure": SET,
        "droop": 0.0, "vents_rail": True, "spills": True, "bleed_area": 0.0, "reseat_step": 28e3,
        "atmospheric_pressure": ATMOSPHERE, "feed_temperature": np.array([WARM]), "density": DENSITY,
        "film": np.array([1000.0]), "tables": INERT,
    }  # fmt: skip
    return Filling(**(values | changes))


def pump_with(flow=0.0, zero_flow_pressure=1e6, constant=np.nan, **changes):
    """A pump at speed at once, whose flow falls along a straight line, or one of constant flow."""
    start = StartingPump(
        drive=np.array([0.0, 6.0, 12.0]),
        gauge=np.linspace(0.0, zero_flow_pressure, 3),
        flow=flow * np.outer([0.0, 0.5, 1.0], [1.0, 0.5, 0.0]),
        current=np.zeros(3),
        winding_resistance=0.5,
        circuit_resistance=0.1,
        time_constant=0.05,
        by_speed=False,
    )
    one = np.ones(1)
    values = {
        "first_share": one, "later_share": one, "suction_volume": 0.0 * one, "circuit": 0.1 * one,
        "spins_up": np.array([False]), "constant_flow": constant * one,
    }  # fmt: skip
    return PumpAtWork(start=start, **(values | changes))


def inside(filling, gauge=0.0, air=0.0, vapour=0.0, temperature=WARM):
    return filling.of_volumes(*(np.array([float(value)]) for value in (gauge, air, vapour, temperature)))


def on(seconds, demand=0.0):
    return Phase(seconds, np.array([12.0]), demand, cranking=demand > 0.0)


def off(seconds, demand=0.0):
    return Phase(seconds, np.zeros(1), demand, cranking=demand > 0.0)


def filled_with(gauge, time, phase=None, **columns):
    """A run whose gauge pressure is given, (times, points); what is not given is zero."""
    shape = np.shape(gauge)
    values = {
        name: np.zeros(shape)
        for name in ("gas", "gas_share", "flow", "pumped", "spilled", "injected", "vented", "temperature")
    }
    return FilledRail(
        time=np.asarray(time),
        gauge=np.asarray(gauge),
        phase=np.zeros(len(time), int) if phase is None else np.asarray(phase),
        mass_error=1e-10,
        **(values | columns),
    )
