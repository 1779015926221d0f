"""A pump slowed to hold a pressure, a pump that is switched off, and a second pump that is staged."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fuelsim.errors import InputError
from fuelsim.liquid import Liquid
from fuelsim.network.network import Network
from fuelsim.parts.line import Line
from fuelsim.parts.pump.control import PumpControl, PumpStage
from fuelsim.parts.pump.controlled_pump import ControlledPump
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.regulator import ReturnRegulator

L_H = 1.0 / 3.6e6
KPA = 1e3
ATMOSPHERE = 101325.0
PETROL = Liquid(density=745.0, kinematic_viscosity=0.6e-6)
# Q = A V - B p - C, the linear form of a brushed motor's pump near its working range (trade practice), in L/h, V and
# kPa; the figures are invented.
A, B, C = 24.0, 0.2, 40.0


def linear_pump(**more):
    """A pump of the linear form between 0 and 700 kPa, with bench rows at 10 and 14 V."""
    pressure = np.array([700.0, 350.0, 0.0])
    voltage = np.repeat([10.0, 14.0], 3)
    flow = A * voltage - B * np.tile(pressure, 2) - C
    return Pump.from_curve(
        flow * L_H, np.tile(pressure, 2) * KPA, voltage=voltage, current=np.tile([10.0, 7.0, 4.0], 2), **more
    )


def controlled_net(pump, *, tank=ATMOSPHERE, line=None):
    net = Network()
    net.add_reservoir("tank", pressure=tank)
    net.add_node("rail")
    if line is None:
        net.connect("tank", "rail", pump, name="pump", reference="rail")
        return net
    net.add_node("outlet")
    net.connect("tank", "outlet", pump, name="pump", reference="rail")
    net.connect("outlet", "rail", line, name="feed")
    return net


def operation(state, pump, down="rail"):
    rise = np.asarray(state.pressure[down]) - state.pressure["tank"]
    return pump.operating(np.asarray(state.flow["pump"]), rise, state.regime["pump"])


def test_least_duty_that_holds_the_set_pressure_is_that_of_the_linear_pump():
    """Closed form: without flow the duty is (B p_set + C)/(A U)."""
    control = PumpControl(set_pressure="300 kPa")
    pump = control.running(linear_pump(), supply_voltage=13.0, base_pressure=ATMOSPHERE)
    state = controlled_net(pump).solve(PETROL, {"rail": np.array([1e-3, 1e-3]) * L_H})
    assert operation(state, pump).share == pytest.approx((B * 300.0 + C) / (A * 13.0), rel=1e-4)
    assert linear_pump().least_drive("300 kPa") / 13.0 == pytest.approx((B * 300.0 + C) / (A * 13.0), rel=1e-6)


def test_duty_at_every_demand_is_that_of_the_linear_pump_behind_its_wire():
    """Closed form: V = (Q + B p + C)/A with p = p_set - droop Q, I = 4 A + 6 p/700 kPa, duty = V/(U - R I)."""
    control = PumpControl(set_pressure="300 kPa", droop="0.1 kPa h/L")
    pump = control.running(linear_pump(), supply_voltage=13.0, wire_resistance=0.1, base_pressure=ATMOSPHERE)
    demand = np.array([5.0, 40.0, 90.0, 150.0])
    state = controlled_net(pump).solve(PETROL, {"rail": demand * L_H})
    held = 300.0 - 0.1 * demand
    assert state.gauge_pressure["rail"] == pytest.approx(held * KPA, abs=2.0)
    at, current = operation(state, pump), 4.0 + 6.0 * held / 700.0
    assert at.share == pytest.approx((demand + B * held + C) / A / (13.0 - 0.1 * current), rel=1e-4)
    assert at.current == pytest.approx(current, rel=1e-4)
    assert at.electrical_power == pytest.approx(at.share * (13.0 - 0.1 * current) * current, rel=1e-4)


def test_a_speed_controlled_pump_holds_its_pressure_within_the_droop_and_its_power_falls_with_its_speed():
    """Speed by the plane of the bench rows, Q = 0.065 N - 0.14 p - 53 (L/h, rpm, kPa), which a published map of 35
    points has within 2.3 L/h [pump_map_48_v]; at one pressure a motor's torque is constant and its power goes with its
    speed."""
    plain = Pump.named("brushless_turbine_48_V")
    pump = PumpControl(set_pressure="550 kPa", droop="0.05 kPa h/L").running(plain, base_pressure=ATMOSPHERE)
    demand = np.linspace(10.0, 240.0, 12)
    state = controlled_net(pump, line=Line(length="3 m", bore="8 mm")).solve(PETROL, {"rail": demand * L_H})
    held = state.gauge_pressure["rail"] / KPA
    assert np.all(state.regime["pump"] == "regulating")
    assert np.all((held <= 550.0 + 1e-3) & (held >= 550.0 - 0.05 * 240.0 - 1e-3))
    at = operation(state, pump, "outlet")
    rise = (state.pressure["outlet"] - state.pressure["tank"]) / KPA
    assert at.share * plain.bench_speed == pytest.approx((demand + 0.14 * rise + 53.0) / 0.065, abs=5.0)
    assert np.all(np.diff(at.share) > 0.0)
    assert np.all(np.diff(at.electrical_power) > 0.0)
    full = plain.at().operating(demand * L_H, rise * KPA).electrical_power
    assert at.electrical_power == pytest.approx(at.share * full, rel=1e-6)


def test_a_pressure_above_the_manifold_is_held_whatever_the_tank_has_and_one_above_the_inlet_follows_the_tank():
    """By definition of the reference; no outside figure."""
    manifold, tank = np.array([40.0, 100.0, 180.0]) * KPA, ATMOSPHERE + np.array([-3.0, 0.0, 5.0]) * KPA
    demand = np.full(3, 60.0) * L_H
    control = PumpControl(set_pressure="300 kPa", droop="0.05 kPa h/L")
    pump = control.running(linear_pump(), supply_voltage=14.0, base_pressure=manifold)
    line = Line(length="3 m", bore="6 mm")
    state = controlled_net(pump, tank=tank, line=line).solve(PETROL, {"rail": demand})
    assert state.pressure["rail"] - manifold == pytest.approx(np.full(3, 297.0) * KPA, abs=2.0)
    assert state.regime["pump"].tolist() == ["regulating"] * 3
    inlet = PumpControl(set_pressure="300 kPa", droop="0.05 kPa h/L", reference="inlet")
    state = controlled_net(inlet.running(linear_pump(), supply_voltage=14.0), tank=tank).solve(PETROL, {"rail": demand})
    assert state.pressure["rail"] - tank == pytest.approx(np.full(3, 297.0) * KPA, abs=2.0)


def test_a_controlled_pump_of_a_bare_network_holds_its_pressure_above_a_given_base():
    pump = ControlledPump(pump=linear_pump(), set_pressure="300 kPa", droop="0.05 kPa h/L", base_pressure=80 * KPA)
    state = controlled_net(pump, tank=95 * KPA).solve(PETROL, {"rail": 60.0 * L_H})
    assert state.pressure["rail"] == pytest.approx(377.0 * KPA, abs=2.0)


def test_below_its_least_duty_the_pump_stays_at_it_and_the_pressure_rises():
    """Closed form: at 60 % of 13 V the linear pump has (A 7.8 V - C - Q)/B, above the set pressure at low demand."""
    control = PumpControl(set_pressure="300 kPa", droop="0.05 kPa h/L", least_share="60 %")
    pump = control.running(linear_pump(), supply_voltage=13.0, base_pressure=ATMOSPHERE)
    demand = np.array([5.0, 40.0, 120.0])
    state = controlled_net(pump).solve(PETROL, {"rail": demand * L_H})
    at_least = (A * 7.8 - C - demand) / B
    assert at_least[0] > at_least[1] > 300.0 > at_least[2]
    assert state.gauge_pressure["rail"][:2] == pytest.approx(at_least[:2] * KPA, rel=1e-4)
    assert state.gauge_pressure["rail"][2] == pytest.approx(294.0 * KPA, abs=2.0)
    assert state.regime["pump"].tolist() == ["least speed", "least speed", "regulating"]
    share = operation(state, pump).share
    assert share[:2] == pytest.approx([0.6, 0.6])
    assert share[2] == pytest.approx((120.0 + B * 294.0 + C) / (A * 13.0), rel=1e-4)


def test_beyond_its_greatest_duty_the_pressure_falls_along_the_pumps_curve():
    control = PumpControl(set_pressure="300 kPa", most_share="80 %")
    pump = control.running(linear_pump(), supply_voltage=13.0, base_pressure=ATMOSPHERE)
    state = controlled_net(pump).solve(PETROL, {"rail": 180.0 * L_H})
    assert state.regime["pump"] == "full speed"
    assert state.gauge_pressure["rail"] == pytest.approx((A * 0.8 * 13.0 - C - 180.0) / B * KPA, rel=1e-3)
    assert operation(state, pump).share == pytest.approx(0.8)


def test_a_controlled_pump_without_voltage_stands():
    pump = PumpControl(set_pressure="300 kPa").running(linear_pump(), supply_voltage=0.0, base_pressure=ATMOSPHERE)
    net = controlled_net(pump)
    net.add_reservoir("bottle", pressure=ATMOSPHERE + 100 * KPA)
    net.connect("bottle", "rail", Line(length="1 m", bore="6 mm"), name="filling")
    state = net.solve(PETROL, {"rail": 20.0 * L_H})
    at = operation(state, pump)
    assert state.regime["pump"] == "stopped"
    assert abs(state.flow["pump"]) < 1e-2 * L_H
    assert (at.share, at.current, at.electrical_power, at.heat_into_fuel) == (0.0, 0.0, 0.0, 0.0)


@given(st.floats(0.0, 16.0), st.floats(0.0, 0.5), st.floats(0.0, 1.0), st.floats(0.0, 9e5))
@settings(max_examples=200, derandomize=True, deadline=None)
def test_no_voltage_and_no_duty_draw_no_current_and_no_power_is_negative(supply, resistance, duty, rise):
    running = Pump.named("in_tank_220").at(supply_voltage=supply, wire_resistance=resistance, duty=duty)
    at = running.operating(1e-5, rise)
    for value in (at.current, at.terminal_voltage, at.electrical_power, at.heat_into_fuel, at.wire_power):
        assert value >= 0.0
    assert at.terminal_voltage <= supply
    assert duty * supply * at.current == pytest.approx(at.electrical_power + at.wire_power, rel=1e-9, abs=1e-9)
    for off in ({"supply_voltage": 0.0}, {"supply_voltage": supply, "duty": 0.0}):
        stood = Pump.named("in_tank_220").at(wire_resistance=resistance, **off).operating(0.0, rise)
        assert (stood.current, stood.terminal_voltage, stood.electrical_power, stood.heat_into_fuel) == (0, 0, 0, 0)


def test_a_stalled_motor_draws_the_supply_over_all_resistance():
    """Ohm's law: a motor at rest is its winding."""
    pump = linear_pump()
    volts = 0.5 * pump.winding_resistance * 7.0
    at = pump.at(supply_voltage=volts, wire_resistance=0.1).operating(0.0, 350 * KPA)
    assert at.current == pytest.approx(volts / (0.1 + pump.winding_resistance))
    # At the least voltage of free delivery, C/A, the motor turns nearly no more: R is at most C/A over 4 A.
    assert pump.winding_resistance <= C / A / 4.0 * 1.001


def two_pumps(second_check_valve, supply_voltage):
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    net.add_node("rail")
    net.connect("tank", "rail", linear_pump().at(supply_voltage=13.0), name="first")
    second = linear_pump().with_values({"check_valve": second_check_valve}).at(supply_voltage=supply_voltage)
    net.connect("tank", "rail", second, name="second")
    net.connect("rail", "tank", ReturnRegulator(set_pressure="300 kPa"), name="regulator")
    return net


def test_a_pump_that_is_switched_off_passes_fuel_forwards_at_a_loss():
    """By the rating: 3 kPa h/L of the standing pump at 50 L/h are 150 kPa."""
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    net.add_node("between")
    net.add_node("rail")
    net.connect("tank", "between", linear_pump().at(supply_voltage=13.0), name="lift")
    net.connect("between", "rail", linear_pump().at(supply_voltage=np.array([0.0, 13.0])), name="main")
    state = net.solve(PETROL, {"rail": 50.0 * L_H})
    alone = (A * 13.0 - C - 50.0) / B
    assert state.gauge_pressure["rail"] == pytest.approx([(alone - 150.0) * KPA, 2.0 * alone * KPA], rel=1e-3)
    assert state.regime["main"].tolist() == ["stopped", "pumping"]


def test_a_pump_that_is_switched_off_passes_nothing_backwards_with_a_check_valve():
    state = two_pumps(True, 0.0).solve(PETROL, {"rail": 50.0 * L_H})
    assert abs(state.flow["second"]) < 1e-2 * L_H
    assert two_pumps(False, 0.0).solve(PETROL, {"rail": 50.0 * L_H}).flow["second"] < -1.0 * L_H


def test_two_staged_pumps_change_over_with_the_hysteresis_set_and_the_rail_steps_by_droop_times_bypass():
    """By hand: the thresholds are the ones given; the regulator holds 300 kPa + droop x bypass, 0.08 kPa h/L."""
    stage = PumpStage(demand_on="100 L/h", demand_off="70 L/h")
    demand = np.concatenate([np.arange(50.5, 131.0), np.arange(129.5, 50.0, -1.0)])
    running, on = False, []
    for value in demand:
        running = bool(stage.staged_on(value * L_H, running))
        on.append(running)
    changes = np.flatnonzero(np.diff(on)) + 1
    assert demand[changes].tolist() == [100.5, 69.5]
    state = two_pumps(True, np.where(on, 13.0, 0.0)).solve(PETROL, {"rail": demand * L_H})
    bypass, rail = state.flow["regulator"] / L_H, state.gauge_pressure["rail"] / KPA
    assert rail == pytest.approx(300.0 + 0.08 * bypass, abs=0.06)
    steps = np.diff(rail)[changes - 1]
    assert steps == pytest.approx(0.08 * np.diff(bypass)[changes - 1], abs=0.06)
    assert steps[0] > 5.0
    assert steps[1] < -5.0


def test_each_measure_switches_on_its_own_side():
    by_pressure = PumpStage(pressure_on="280 kPa", pressure_off="310 kPa")
    gauge = np.array([270.0, 295.0, 320.0]) * KPA
    assert by_pressure.staged_on(gauge, False).tolist() == [True, False, False]
    assert by_pressure.staged_on(gauge, True).tolist() == [True, True, False]
    by_manifold = PumpStage(manifold_pressure_on="120 kPa", manifold_pressure_off="105 kPa")
    absolute = np.array([100.0, 110.0, 130.0]) * KPA
    assert by_manifold.staged_on(absolute, False).tolist() == [False, False, True]
    assert by_manifold.staged_on(absolute, True).tolist() == [False, True, True]
    assert (by_pressure.measure, by_manifold.measure) == ("pressure", "manifold_pressure")
    history = np.array([True, False, True])
    assert by_manifold.staged_on(np.full(3, 110.0) * KPA, history).tolist() == history.tolist()


@pytest.mark.parametrize(
    ("made", "changes", "key"),
    [
        (PumpStage, {}, "demand_on"),
        (PumpStage, {"demand_on": "100 L/h"}, "demand_on"),
        (PumpStage, {"demand_on": "100 L/h", "pressure_off": "300 kPa"}, "demand_on"),
        (
            PumpStage,
            {"demand_on": "9 L/h", "demand_off": "8 L/h", "pressure_on": "2 bar", "pressure_off": "3 bar"},
            "demand_on",
        ),
        (PumpStage, {"demand_on": "70 L/h", "demand_off": "100 L/h"}, "demand_on"),
        (PumpStage, {"pressure_on": "310 kPa", "pressure_off": "280 kPa"}, "pressure_on"),
        (PumpStage, {"manifold_pressure_on": "100 kPa", "manifold_pressure_off": "100 kPa"}, "manifold_pressure_on"),
        (PumpControl, {"set_pressure": "3 bar", "least_share": 0.6, "most_share": 0.5}, "most_share"),
        (PumpControl, {"set_pressure": "3 bar", "reference": "rail"}, "reference"),
    ],
)
def test_wrong_ratings_are_one_clear_error(made, changes, key):
    with pytest.raises(InputError) as caught:
        made(**changes)
    assert (caught.value.part, caught.value.key) == (made.__name__, key)


def test_a_reference_whose_pressure_is_not_given_is_refused():
    with pytest.raises(InputError, match="no pressure of the manifold"):
        PumpControl(set_pressure="3 bar", reference="manifold").running(linear_pump())
