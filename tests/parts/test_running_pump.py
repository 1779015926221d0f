"""A running pump by hand: a pump of straight lines behind its wire, worn, with vapour, cold fuel, in batches."""

import dataclasses

import numpy as np
import pytest

from fuelsim.constants import L_PER_HOUR
from fuelsim.laws.cold_pump import ViscosityCurve
from fuelsim.liquid import Liquid
from fuelsim.network.network import Network
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.pump.running_pump import is_switched_on

# Q = A V - B p - C, the linear form of a brushed motor's pump near its working range (trade practice), in L/h, V and
# kPa, and I = 4 A + 6 A p/700 kPa + E (V - 14 V); the figures are invented, the results are by hand.
A, B, C, E = 24.0, 0.2, 40.0, 0.25
KPA = 1e3
PETROL = Liquid(density=745.0, kinematic_viscosity=0.6e-6)


def flow_by_hand(volts, kpa):
    return (A * volts - B * kpa - C) * L_PER_HOUR


def linear_pump(**ratings):
    """The pump as bench rows at 10, 12 and 14 V; every straight line goes on beyond its rows."""
    pressure, volts = np.tile([700.0, 350.0, 0.0], 3), np.repeat([10.0, 12.0, 14.0], 3)
    return Pump(
        flow=flow_by_hand(volts, pressure),
        pressure=pressure * KPA,
        voltage=volts,
        current=4.0 + 6.0 * pressure / 700.0 + E * (volts - 14.0),
        **ratings,
    )


LINEAR = linear_pump()


def test_flow_current_power_and_heat_of_a_motor_behind_its_wire_are_those_by_hand():
    """U_t = U - R I, I = 7 A + E (d U_t - 14 V) at 350 kPa; both lines meet at U_t = (U - R (7 - 14 E))/(1 + R E d)."""
    supply, wire, duty = 13.0, 0.1, 0.8
    terminal = (supply - wire * (7.0 - 14.0 * E)) / (1.0 + wire * E * duty)
    current = 7.0 + E * (duty * terminal - 14.0)
    flow = flow_by_hand(duty * terminal, 350.0)
    running = linear_pump(mounting="external").at(supply_voltage=supply, wire_resistance=wire, duty=duty)
    assert running.flow("350 kPa") == pytest.approx(flow, rel=1e-4)
    assert running.pressure_rise(flow) == pytest.approx(350e3, rel=1e-4)
    assert running.terminal_voltage("350 kPa") == pytest.approx(terminal, rel=1e-6)
    assert running.current("350 kPa") == pytest.approx(current, rel=1e-6)
    at = running.operating(flow, 350e3)
    assert at.electrical_power == pytest.approx(duty * terminal * current, rel=1e-6)
    assert at.wire_power == pytest.approx(duty * wire * current**2, rel=1e-6)
    assert at.hydraulic_power == pytest.approx(flow * 350e3, rel=1e-9)
    assert at.efficiency == pytest.approx(flow * 350e3 / (duty * terminal * current), rel=1e-6)
    # 15 % of an external pump's power leaves its body to the air (from memory).
    assert at.heat_into_fuel == pytest.approx(0.85 * duty * terminal * current, rel=1e-6)
    assert (at.share, at.stalled) == (duty, False)
    for backwards in (running.operating(-flow, 350e3), running.operating(flow, -350e3)):
        assert backwards.hydraulic_power == 0.0
    off = linear_pump().at(supply_voltage=0.0).operating(0.0, 350e3)
    assert np.isnan(off.efficiency)


def test_the_flow_factor_is_the_product_of_tolerance_warm_fuel_and_vapour():
    """By hand: 10 % better than its table, 5 % lost at 60 degC, half of the volume vapour at V/L 1."""
    running = LINEAR.at(wear=-0.1, fuel_temperature=333.15, vapour_liquid_ratio=1.0)
    assert running.flow_factor == pytest.approx(1.1 * 0.95 * 0.5, rel=1e-9)
    assert running.flow("350 kPa") == pytest.approx(1.1 * 0.95 * 0.5 * flow_by_hand(14.0, 350.0), rel=1e-4)
    # A slope is one of pressure over flow: the same pressure at half of the flow is twice as steep.
    slope = running.coefficients(PETROL).slope / LINEAR.at().coefficients(PETROL).slope
    assert slope == pytest.approx(1.0 / (1.1 * 0.95 * 0.5), rel=1e-9)


def test_cold_fuel_slows_a_turbine_and_raises_its_current_as_its_friction_says():
    """Petrol at -20 degC has 1.6 times its viscosity at 20 degC; three tenths of a turbine's torque are friction that
    goes with its quarter power, and the flow falls as the torque grows [assumed]. Fuel above 20 degC is not cold."""
    curve = ViscosityCurve(np.array([253.15, 293.15]), np.log([1.6, 1.0]))
    torque = 1.0 + 0.3 * (1.6**0.25 - 1.0)
    cold = dataclasses.replace(LINEAR.at(fuel_temperature=253.15), viscosity=curve)
    assert cold.flow_factor == pytest.approx(1.0 / torque, rel=1e-9)
    assert cold.current(350e3) == pytest.approx(7.0 * torque, rel=1e-6)
    without = LINEAR.at(fuel_temperature=253.15)
    assert (without.flow_factor, without.current(350e3)) == (pytest.approx(1.0), pytest.approx(7.0, rel=1e-6))
    both = dataclasses.replace(LINEAR.at(fuel_temperature=[253.15, 303.15]), viscosity=curve)
    assert both.current(np.full(2, 350e3)) == pytest.approx([7.0 * torque, 7.0], rel=1e-6)
    warm = dataclasses.replace(LINEAR.at(fuel_temperature=[303.15, 313.15]), viscosity=curve)
    assert warm.flow_factor == pytest.approx(LINEAR.at(fuel_temperature=[303.15, 313.15]).flow_factor, rel=1e-12)


@pytest.mark.parametrize("wear", [0.0, 0.2])
@pytest.mark.parametrize("ratio", [0.0, 1.0])
def test_the_duty_for_a_flow_is_that_of_the_line_with_leak_and_vapour_added(wear, ratio):
    """By hand: the pump end displaces Q (1 + V/L) and its leak, w Q(p_d/3) p/(p_d/3) with the flow Q(p_d/3) at a third
    of the dead-head pressure p_d = (A 14 V - C)/B; V = (Q + B p + C)/A is the duty times U - R I."""
    dead_head = (A * 14.0 - C) / B
    leak = wear * (A * 14.0 - B * dead_head / 3.0 - C) * 350.0 / (dead_head / 3.0)
    volts = (60.0 * (1.0 + ratio) + leak + B * 350.0 + C) / A
    current = 7.0 + E * (volts - 14.0)
    pump = LINEAR.at(supply_voltage=13.0, wire_resistance=0.1, wear=wear, vapour_liquid_ratio=ratio)
    share = pump.share_delivering(60.0 * L_PER_HOUR, 350e3)
    assert share == pytest.approx(volts / (13.0 - 0.1 * current), rel=1e-3)
    at_full = LINEAR.at(supply_voltage=13.0, wear=wear, vapour_liquid_ratio=ratio).flow("350 kPa")
    assert at_full == pytest.approx((flow_by_hand(13.0, 350.0) - leak * L_PER_HOUR) / (1.0 + ratio), rel=1e-3)


@pytest.mark.parametrize("ratio", [10.0, 1e6, np.inf])
def test_a_pump_full_of_vapour_would_need_the_duty_of_ten_times_its_free_flow(ratio):
    """By hand: V = (10 (A 14 V - C) + B 300 kPa + C)/A, I = 4 A + 6 A 300/700 + E (V - 14 V), no more is searched."""
    volts = (10.0 * (A * 14.0 - C) + B * 300.0 + C) / A
    current = 4.0 + 6.0 * 300.0 / 700.0 + E * (volts - 14.0)
    pump = dataclasses.replace(LINEAR.at(supply_voltage=13.0, wire_resistance=0.1), vapour_liquid_ratio=ratio)
    share = pump.share_delivering(36.0 * L_PER_HOUR, 300e3)
    assert share == pytest.approx(volts / (13.0 - 0.1 * current), rel=1e-3)


def test_a_leak_of_wear_stops_where_there_is_no_pressure_rise():
    """Laminar leak in proportion to the rise: none without one, and a pump better than its table leaks nothing."""
    sound = LINEAR.at(supply_voltage=13.0)
    for wear in (0.0, 0.3, -0.3):
        share = LINEAR.at(supply_voltage=13.0, wear=wear).share_delivering(100.0 * L_PER_HOUR, np.array([-50e3, 0.0]))
        expected = sound.share_delivering(100.0 * L_PER_HOUR / (1.0 - min(wear, 0.0)), np.array([-50e3, 0.0]))
        assert share == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("kpa", [-100.0, 0.0, 400.0, 1400.0, 1480.0, 2500.0])
def test_flow_and_pressure_rise_are_inverse_from_before_run_out_to_beyond_dead_head(kpa):
    """Dead-head is (A 14 V - C)/B = 1480 kPa."""
    running = LINEAR.at()
    flow = running.flow(kpa * KPA)
    assert running.pressure_rise(flow) == pytest.approx(kpa * KPA, abs=1.0)
    assert np.sign(round(float(flow) / L_PER_HOUR, 1)) == np.sign(1480.0 - kpa)


BATCH = {
    "supply_voltage": [10.0, 12.0, 14.0],
    "wire_resistance": [0.0, 0.05, 0.1],
    "duty": [1.0, 0.9, 0.8],
    "wear": [0.0, 0.1, 0.2],
    "vapour_liquid_ratio": [0.0, 0.5, 1.0],
    "fuel_temperature": [263.15, 313.15, 333.15],
}


@pytest.mark.parametrize("kept", [set(BATCH), {"supply_voltage", "wear"}, {"fuel_temperature"}])
def test_points_taken_from_a_batch_are_those_points(kept):
    """Each condition by point, or one for all, or the table of the curve shared by all points."""
    conditions = {key: value if key in kept else value[0] for key, value in BATCH.items()}
    curve = ViscosityCurve(np.array([253.15, 293.15]), np.log([[1.6, 1.8, 2.0], [1.0, 1.0, 1.0]]))
    batch = dataclasses.replace(LINEAR.at(**conditions), viscosity=curve)
    index = np.array([2, 0])
    taken = batch.take(index)
    rise = np.full(3, 250e3)
    for name in ("flow", "current", "terminal_voltage"):
        whole = np.broadcast_to(getattr(batch, name)(rise), (3,))
        assert getattr(taken, name)(rise[:2]) == pytest.approx(whole[index], rel=1e-12), name
    whole, part = batch.operating(np.full(3, 1e-5), rise), taken.operating(np.full(2, 1e-5), rise[:2])
    assert part.electrical_power == pytest.approx(whole.electrical_power[index], rel=1e-12)
    assert taken.fuel_temperature.tolist() == (
        [333.15, 263.15] if "fuel_temperature" in kept else pytest.approx(263.15)
    )


def test_speeds_taken_from_a_batch_are_those_speeds_and_a_share_is_one_of_the_highest():
    pump = Pump.named("brushless_turbine_48_V")
    top = pump.bench_speed
    batch = pump.at(speed=np.array([0.5, 0.75, 1.0]) * top)
    assert batch.share == pytest.approx([0.5, 0.75, 1.0])
    assert batch.take(np.array([2, 0])).share == pytest.approx([1.0, 0.5])
    assert batch.operating(np.full(3, 1e-5), np.full(3, 4e5)).share == pytest.approx([0.5, 0.75, 1.0])
    assert pump.at(supply_voltage=0.0).share == 0.0
    assert LINEAR.at(duty=[0.0, 0.6]).share.tolist() == [0.0, 0.6]


def test_a_pump_too_slow_for_anything_stands_draws_its_locked_current_and_leaves_the_flow_alone():
    """C/A = 1.67 V give no flow at all; Ohm's law for the locked motor."""
    volts = np.array([1.0, 13.0])
    running = LINEAR.at(supply_voltage=volts, wire_resistance=0.05, vapour_liquid_ratio=1.0)
    assert running.stands.tolist() == [True, False]
    assert running.flow_factor == pytest.approx([1.0, 0.5])
    at = running.operating(np.full(2, 1e-5), np.full(2, 100e3))
    assert at.stalled.tolist() == [True, False]
    assert at.current[0] == pytest.approx(1.0 / (0.05 + LINEAR.winding_resistance), rel=1e-9)
    assert LINEAR.at(supply_voltage=[0.0, 13.0]).operating(0.0, 1e5).stalled.tolist() == [False, False]


def test_a_motor_of_a_rotor_is_stalled_where_it_is_a_resistor_and_a_coil_never_is():
    """A solenoid pump's coil has its locked current in use, and turns nothing that could stall."""
    slow = LINEAR.at(supply_voltage=2.0, wire_resistance=0.05)
    assert not slow.stands, "it turns without a pressure rise, 4 A - 12 V E = 1 A, and cannot turn for 7 A at 700 kPa"
    at = slow.operating(np.zeros(2), np.array([0.0, 700e3]))
    assert at.stalled.tolist() == [False, True]
    assert at.current == pytest.approx(
        [4.0 + E * (at.terminal_voltage[0] - 14.0), 2.0 / (0.05 + C / A / 4.0)], rel=1e-3
    )
    coil = Pump.named("lift_solenoid")
    top = float(np.max(coil.pressure))
    for volts in (coil.bench_voltage, 0.8 * coil.bench_voltage):
        at = coil.at(supply_voltage=volts).operating(1e-6, top)
        assert at.current * coil.winding_resistance == pytest.approx(volts, rel=1e-6) or volts < coil.bench_voltage
        assert not at.stalled


def test_a_pump_is_switched_on_by_voltage_duty_and_where_it_has_one_speed_above_the_cut_out():
    on = is_switched_on
    assert [bool(on(*given)) for given in ((13.0, 1.0, None), (0.0, 1.0, None), (13.0, 0.0, None))] == [
        True,
        False,
        False,
    ]
    speeds = on(13.0, 1.0, np.array([0.0, 3000.0]), 4.5)
    assert speeds.tolist() == [False, True]
    assert on(np.array([4.0, 4.5, 5.0]), 1.0, 3000.0, 4.5).tolist() == [False, True, True]
    assert not on(13.0, 0.0, 3000.0, 4.5)


def test_one_pump_takes_many_pressures_and_a_batch_one_for_all():
    one, batch = LINEAR.at(), LINEAR.at(supply_voltage=[12.0, 14.0])
    many = one.flow([100e3, 200e3, 300e3])
    assert many == pytest.approx(flow_by_hand(14.0, np.array([100.0, 200.0, 300.0])), rel=1e-4)
    assert one.flow(1e5).shape == one.pressure_rise(1e-5).shape == ()
    assert one.flow([1e5]).shape == one.pressure_rise([1e-5]).shape == (1,)
    assert batch.flow(300e3) == pytest.approx(flow_by_hand(np.array([12.0, 14.0]), 300.0), rel=1e-4)
    assert batch.flow([300e3]).shape == batch.pressure_rise(1e-5).shape == (2,)


def test_a_pump_relieves_above_the_pressure_of_its_valve_and_never_without_one():
    """The pump end of straight lines passes 700 kPa at 160 L/h; the valve's own line begins there."""
    outlets = 101325.0 + np.array([600.0, 720.0]) * KPA
    regimes = {}
    for relief in (None, 700e3):
        net = Network(101325.0)
        net.add_reservoir("tank", pressure=101325.0)
        net.add_reservoir("rail", pressure=outlets)
        net.connect("tank", "rail", linear_pump(relief_pressure=relief, relief_band=0.08), name="pump")
        regimes[relief] = net.solve(PETROL).regime["pump"].tolist()
    assert regimes == {None: ["pumping", "pumping"], 700e3: ["pumping", "relieving"]}
