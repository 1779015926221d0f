"""Electrics of every catalogue pump at the low end of the voltage: no negative power, locked rotors, pumps at rest."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fuelsim.constants import L_PER_HOUR
from fuelsim.laws.motor import delivers, running_curve
from fuelsim.parts.catalogue_parts import catalogue_names
from fuelsim.parts.pump.pump import Pump

PUMPS = catalogue_names("pumps")
BRUSHED = [name for name in PUMPS if Pump.named(name).speed is None]


def _drive(pump, share):
    return {"duty": share} if pump.speed is None else {"speed": share * pump.bench_speed}


@pytest.mark.parametrize("name", PUMPS)
@given(
    supply=st.floats(0.0, 16.0),
    share=st.floats(0.0, 1.0),
    wire=st.floats(0.0, 1.0),
    flow=st.floats(-0.5, 2.0),
)
@settings(max_examples=30, derandomize=True, deadline=None)
def test_no_current_voltage_or_power_is_negative_anywhere(name, supply, share, wire, flow):
    """Second law: a motor that is driven takes power. Energy: what the supply gives is what wire and pump take."""
    pump = Pump.named(name)
    running = pump.at(supply_voltage=supply, wire_resistance=wire, **_drive(pump, share))
    at = flow * pump.map.free_flow
    operation = running.operating(at, running.pressure_rise(at))
    for value in (
        operation.current,
        operation.terminal_voltage,
        operation.electrical_power,
        operation.hydraulic_power,
        operation.wire_power,
        operation.heat_into_fuel,
        operation.share,
    ):
        assert np.all(np.isfinite(value))
        assert np.all(value >= 0.0)
    duty = share if pump.speed is None else 1.0
    given_power = duty * supply * operation.current
    assert operation.electrical_power + operation.wire_power == pytest.approx(given_power, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("name", PUMPS)
def test_without_voltage_or_share_no_current_flows_and_nothing_is_stalled(name):
    pump = Pump.named(name)
    for given_share, volts in ((1.0, 0.0), (0.0, 13.5)):
        operation = pump.at(supply_voltage=volts, wire_resistance=0.1, **_drive(pump, given_share)).operating(0.0, 3e5)
        assert (operation.current, operation.electrical_power, operation.wire_power) == (0.0, 0.0, 0.0)
        assert not operation.stalled


@pytest.mark.parametrize("name", BRUSHED)
def test_a_locked_motor_is_a_resistor(name):
    """Ohm's law without back-EMF: current as the voltage, the whole voltage across winding and wire."""
    pump, wire = Pump.named(name), 0.2
    volts = np.array([0.004, 0.008])
    operation = pump.at(supply_voltage=volts, wire_resistance=wire).operating(np.zeros(2), np.zeros(2))
    assert np.all(operation.stalled)
    assert operation.current == pytest.approx(volts / (pump.winding_resistance + wire), rel=1e-9)


@pytest.mark.parametrize("name", PUMPS)
def test_no_pump_is_stalled_at_bench_voltage_and_working_pressure(name):
    pump = Pump.named(name)
    running = pump.at()
    rise = np.linspace(0.0, float(np.max(pump.pressure)), 5)
    for each in rise:
        assert not running.operating(running.flow(each), each).stalled


@pytest.mark.parametrize("name", BRUSHED)
def test_a_pump_too_slow_to_deliver_hinders_fuel_as_one_at_rest_does(name):
    """It is the same pump end, not turning: by its standing loss, whatever little voltage it has."""
    pump = Pump.named(name)
    flow = 0.5 * pump.map.free_flow
    for volts in (0.0, 0.004, 0.008):
        running = pump.at(supply_voltage=volts)
        assert -running.pressure_rise(flow) == pytest.approx(pump.standing_loss * flow, rel=1e-6)
    if pump.type == "turbine":
        assert -pump.at(supply_voltage=0.5).pressure_rise(flow) == pytest.approx(pump.standing_loss * flow, rel=1e-6)


@pytest.mark.parametrize("rows", [["100 L/h", "150 L/h"], ["140 L/h", "150 L/h"]])
@pytest.mark.parametrize("exponent", [0.5, 0.9, 1.0, 1.2, 2.0])
@pytest.mark.parametrize("kind", ["turbine", "gear", "solenoid"])
def test_own_bench_rows_give_no_negative_voltage_whatever_the_exponent(rows, exponent, kind):
    """An exponent of 1 and less lets the flow reach zero volts only, so that the curve sets no winding."""
    bench = Pump.from_curve(rows, ["4 bar", "2 bar"], current=[6.0, 4.0], type=kind)
    pump = bench.with_values({"voltage_exponent": exponent})
    volts = np.linspace(0.0, 16.0, 33)
    for wire in (0.0, 0.3, 1.0):
        running = pump.at(supply_voltage=volts, wire_resistance=wire)
        operation = running.operating(np.full(33, 30.0 * L_PER_HOUR), np.full(33, 3e5))
        assert np.all(operation.terminal_voltage >= 0.0)
        assert operation.current[0] == 0.0
        assert np.all(operation.current <= volts / (pump.winding_resistance + wire) * (1.0 + 1e-9))


def test_a_speed_controlled_pump_takes_many_voltages_and_cuts_out_at_a_third():
    """Cut-out voltage: assumed."""
    pump = Pump.named("brushless_turbine_48_V")
    running = pump.at(supply_voltage=[0.1, 15.9, 16.1, 48.0])
    operation = running.operating(np.zeros(4), np.full(4, 4e5))
    assert operation.stalled.tolist() == [True, True, False, False]
    assert operation.current[:2].tolist() == [0.0, 0.0]
    assert operation.electrical_power[2] == pytest.approx(operation.electrical_power[3], rel=1e-9)


def test_volts_flow_and_current_of_a_solenoid_pump_agree_behind_a_wire():
    pump = Pump.named("lift_solenoid")
    running = pump.at(supply_voltage=12.0, wire_resistance=0.5)
    flow = 40.0 * L_PER_HOUR
    rise = running.pressure_rise(flow)
    at_terminals = pump.at(supply_voltage=float(running.terminal_voltage(rise)))
    assert at_terminals.flow(rise) == pytest.approx(flow, rel=1e-3)


def test_a_pump_delivers_as_soon_as_it_has_more_than_the_flow_that_stands_for_none():
    """Without a voltage the curve keeps a flow that stands for none; 5 % more than that is a flow."""
    pump = Pump.named("in_tank_220").map
    none, _, _ = running_curve(pump, np.array([0.0]), 0.0, 1.0, knots=33)
    assert none[0] < 2e-3 * pump.free_flow
    assert delivers(pump, none[0] * np.array([1.0, 1.05, 2.0])).tolist() == [False, True, True]
