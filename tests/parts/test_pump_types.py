"""Typical figures of kinds of pump against where they come from."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

import fuelsim
from fuelsim.parts.catalogue_parts import catalogue_names
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.pump.pump_types import BRUSHLESS_SPEED_EXPONENT, PUMP_TYPES


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


def test_a_roller_pump_gains_with_the_voltage_what_service_manuals_say():
    """17 to 18 L/h per volt at 0 and 500 kPa alike, of a class of 150 L/h at 12 V: d ln Q/d ln V = 12 x 17.5/150."""
    roller = PUMP_TYPES["roller"]
    assert 12.0 * 17.0 / 150.0 - 0.01 <= roller.voltage_exponent <= 12.0 * 18.0 / 150.0 + 0.01
    assert roller.proportional_share == 0.0


ROLLER_CLASSES = {150.0: {300e3: 6.0, 400e3: 7.0, 500e3: 8.5}, 300.0: {300e3: 9.0, 400e3: 11.0, 500e3: 13.0}}
"""Free flow in L/h at 12 V of the roller class and of the competition one, and their currents in A (from memory)."""


@pytest.mark.parametrize("pressure", [300e3, 400e3, 500e3])
def test_the_power_of_a_roller_pump_is_the_middle_of_its_classes(pressure):
    powers = [12.0 * amps[pressure] / (free * 1e-3 / 3600.0) for free, amps in ROLLER_CLASSES.items()]
    roller = PUMP_TYPES["roller"]
    assert roller.power_at_rest + roller.power_per_pressure * pressure == pytest.approx(sum(powers) / 2.0, rel=0.02)


LIFT_PUMPS = {"vane": (315.0, {0.0: 3.0, 68e3: 5.0}), "solenoid": (105.0, {0.0: 1.0, 28e3: 1.6})}
"""Free flow in L/h at 12 V of the class and its current in A, without a pressure rise and at shut-off (from memory)."""


@pytest.mark.parametrize("kind", LIFT_PUMPS)
def test_the_power_of_a_lift_pump_is_that_of_its_class(kind):
    free, amps = LIFT_PUMPS[kind]
    (at_rest, at_shut_off), pressure = (12.0 * value / (free * 1e-3 / 3600.0) for value in amps.values()), max(amps)
    assert PUMP_TYPES[kind].power_at_rest == pytest.approx(at_rest, rel=0.02)
    assert PUMP_TYPES[kind].power_per_pressure == pytest.approx((at_shut_off - at_rest) / pressure, rel=0.03)


def test_a_turbine_gains_with_its_speed_as_the_plane_through_a_published_map_does():
    """Q = 0.06467 N - 0.1402 p - 53.1 (L/h, rpm, kPa) [pump_map_48_v]: d ln Q/d ln N at 6000 rpm and no pressure."""
    gained = 0.06467 * 6000.0
    assert pytest.approx(gained / (gained - 53.1), rel=0.01) == BRUSHLESS_SPEED_EXPONENT
