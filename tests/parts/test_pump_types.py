"""Typical figures of kinds of pump against where they come from."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

import fuelsim
from fuelsim.parts.catalogue_parts import catalogue_names
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.pump.pump_types import PUMP_TYPES


def test_typical_inlet_heads_and_vapour_tolerances_are_those_named_as_unknown():
    """`data/unknown_figures.toml` holds the bands with what was searched; vane and solenoid pumps span both heads."""
    unknown = tomllib.loads(
        (Path(fuelsim.__file__).parents[1] / "data/unknown_figures.toml").read_text(encoding="utf-8")
    )

    def numbers(text):
        return [float(value) for value in re.findall(r"[0-9.]+", text)]

    heads, vapour = unknown["npsh_required"], unknown["allowed_vapour"]
    bands = {"turbine": PUMP_TYPES["turbine"], "roller": PUMP_TYPES["roller"], "gear": PUMP_TYPES["gear"]}
    for number, kinds in enumerate((("turbine",), ("roller", "gear"))):
        for kind in kinds:
            low, high = numbers(heads["band"])[2 * number : 2 * number + 2]
            middle = numbers(heads["used"])[number]
            assert tuple(bands[kind].inlet_head) == pytest.approx((1e3 * low, 1e3 * middle, 1e3 * high))
            low, high = numbers(vapour["band"])[2 * number : 2 * number + 2]
            middle = numbers(vapour["used"])[number]
            assert tuple(bands[kind].vapour_tolerance) == pytest.approx((low, middle, high))
    for kind in ("vane", "solenoid"):
        head = PUMP_TYPES[kind].inlet_head
        assert (head[0], head[2]) == (bands["turbine"].inlet_head[0], bands["roller"].inlet_head[2])
        assert bands["turbine"].inlet_head[0] < head[1] < bands["roller"].inlet_head[2]


def test_a_gerotor_is_a_gear_pump_and_every_positive_pump_multiplies_its_flow():
    """A gerotor is an internal gear pump; what a positive-displacement pump gains by voltage is in proportion."""
    gear = PUMP_TYPES["gear"]
    assert PUMP_TYPES["gerotor"]._replace(cold=gear.cold) == gear
    vane = PUMP_TYPES["vane"]
    assert (vane.voltage_exponent, vane.proportional_share) == (gear.voltage_exponent, gear.proportional_share)
    assert PUMP_TYPES["solenoid"].proportional_share == gear.proportional_share
    assert PUMP_TYPES["solenoid"].voltage_exponent == 1.0


@pytest.mark.parametrize("name", catalogue_names("pumps")[:3])
def test_a_flow_band_is_the_bench_flow_within_the_tolerance(name):
    pump = Pump.named(name)
    least, greatest = pump.flow_band("2 bar")
    flow = pump.at(supply_voltage=pump.bench_voltage).flow(2e5)
    assert float(least) == pytest.approx(float(flow) * (1.0 - pump.flow_tolerance), rel=1e-3)
    assert float(greatest) == pytest.approx(float(flow) * (1.0 + pump.flow_tolerance), rel=1e-3)
