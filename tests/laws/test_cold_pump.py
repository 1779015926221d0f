"""A pump on cold fuel: limits by hand, signs by type, and the fuel's own viscosity in a system."""

from __future__ import annotations

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

import fuelsim as fs
from fuelsim.laws.cold_pump import PETROL_VISCOSITY_RATIO, ColdPump, ViscosityCurve, cold_pump_factors
from fuelsim.parts.catalogue_parts import catalogue_names
from fuelsim.parts.pump.pump_types import COLD_BANDS, PUMP_TYPES

RATIOS = np.linspace(1.0, 4.0, 13)


@pytest.mark.parametrize("kind", PUMP_TYPES)
def test_at_20_degrees_nothing_changes_and_the_middle_lies_between_low_and_high(kind: str) -> None:
    low, middle, high = (cold_pump_factors(RATIOS, pump) for pump in COLD_BANDS[kind])
    for factors in (low, middle, high):
        assert factors.flow[0] == factors.current[0] == 1.0
        assert np.all(np.diff(factors.current) >= 0.0)
    assert np.all(low.flow[1:] < middle.flow[1:])
    assert np.all(middle.flow[1:] < high.flow[1:])
    assert np.all(high.current <= middle.current)
    assert PUMP_TYPES[kind].cold == COLD_BANDS[kind][1]


def test_a_displacement_pump_delivers_a_little_more_of_cold_petrol_and_a_turbine_less() -> None:
    """Petrol at -20 degC has 1.6 times its viscosity at 20 degC [doe_fuel_properties]: 0.8-1.0 over 0.5-0.6 mm2/s."""
    for kind in ("gear", "gerotor", "roller", "vane"):
        flow, current = cold_pump_factors(1.6, PUMP_TYPES[kind].cold)
        assert 1.0 < flow < 1.05
        assert 1.02 < current < 1.2
    flow, current = cold_pump_factors(1.6, PUMP_TYPES["turbine"].cold)
    assert 0.9 < flow < 1.0 < current < 1.1


def test_without_friction_the_whole_leak_is_the_most_that_can_be_gained() -> None:
    """Laminar gap by hand: at ten times the viscosity nine tenths of the leak are gone; at infinite viscosity all."""
    tight = ColdPump(0.10, 0.0, 1.0, 0.0)
    assert cold_pump_factors(np.array([10.0, 1e12]), tight).flow == pytest.approx([1.09, 1.10])


def test_the_leak_assumed_is_less_than_the_bench_curves_of_displacement_pumps_lose() -> None:
    """What leaks back at pressure cannot exceed what the curve loses from no pressure to its highest bench row."""
    lost = {}
    for name in catalogue_names("pumps"):
        pump = fs.Pump.named(name)
        if pump.type in ("gear", "gerotor", "roller", "vane"):
            at, highest = pump.at(), float(np.max(pump.pressure[pump.flow > 0.0]))
            lost[name] = 1.0 - float(at.flow(highest)) / float(at.flow(0.0))
            assert pump.kind.cold.leak_share < lost[name], name
    assert len(lost) > 3


@pytest.mark.parametrize(
    ("car", "pump", "least", "most"),
    [("finch", "in_tank_220", 0.93, 0.99), ("heron", "external_roller", 1.005, 1.05)],
)
def test_the_running_pump_of_a_system_takes_the_viscosity_of_its_own_fuel(car, pump, least, most) -> None:
    system = fs.Car.named(car).with_values({"pump": fs.Pump.named(pump)}).system("return")
    cold = ["-20 degC", "20 degC"]
    asked = fs.Conditions(rpm=1000.0, load=0.1, tank_temperature=cold, air_temperature=cold, supply_voltage="13.5 V")
    petrol = system.solve(asked)
    ethanol = type(system)(system.car, "return", fs.Fuel.named("neat_ethanol")).solve(asked)
    assert least < petrol.flow["pump"][0] / petrol.flow["pump"][1] < most
    growth = [run.pump_current["pump"][0] / run.pump_current["pump"][1] for run in (petrol, ethanol)]
    assert 1.0 < growth[0] < growth[1] < 1.3


def test_fuel_of_20_degrees_and_more_is_pumped_as_before() -> None:
    running = fs.Pump.named("in_tank_220").at()
    warm = running.with_inlet(vapour_liquid_ratio=0.0, fuel_temperature=np.array([293.15, 333.15]))
    assert warm.flow_factor == pytest.approx([1.0, 0.95])


def test_a_measured_change_takes_the_place_of_the_typical_one() -> None:
    """By hand: at the viscosity of petrol at -20 degC, 1.6 times that at 20 degC, the flow is what was measured."""
    pump = fs.Pump.named("in_tank_220")
    measured = pump.with_values({"cold_flow_change": "-9 %"})
    at_cold = cold_pump_factors(1.6, measured.running_ratings.cold)
    assert at_cold.flow == pytest.approx(0.91)
    assert at_cold.current == cold_pump_factors(1.6, pump.kind.cold).current


def test_petrol_s_viscosity_ratio_is_that_of_heptane():
    """Kinematic viscosity at -20 over that at +20 degC. Judge: CoolProp's n-heptane, whose molar mass is petrol's."""
    cold, warm = (
        PropsSI("V", "T", kelvin, "P", 2e5, "n-Heptane") / PropsSI("D", "T", kelvin, "P", 2e5, "n-Heptane")
        for kelvin in (253.15, 293.15)
    )
    assert pytest.approx(cold / warm, rel=0.05) == PETROL_VISCOSITY_RATIO


def test_one_fuel_per_point_has_the_viscosity_of_each_fuel_alone():
    """Its logarithm is straight between the knots: by hand the root of both ratios in the middle of a cell."""
    knots = np.array([233.15, 253.15, 293.15])
    ratios = np.array([[4.0, 9.0], [2.25, 4.0], [1.0, 1.0]])
    each = ViscosityCurve(knots, np.log(ratios))
    assert each.ratio(np.array([243.15, 273.15])) == pytest.approx([3.0, 2.0])
    assert each.ratio(np.array([200.0, 300.0])) == pytest.approx([4.0, 1.0])
    at = np.array([238.0, 260.0])
    for point in range(2):
        alone = ViscosityCurve(knots, np.log(ratios[:, point])).ratio(at[point])
        assert each.ratio(at)[point] == pytest.approx(float(alone), rel=1e-12)
