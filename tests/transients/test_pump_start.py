"""A pump as it starts: its motor against the closed form, its map against the pump itself."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

import fuelsim as fs
from fuelsim.parts.wire import Wire
from fuelsim.transients import pump_start
from fuelsim.transients.pump_start import DRIVES, PRESSURES, RAMP_TIME, StartingPump, starting_pump

GIVEN = {
    "greatest_gauge": 400e3, "greatest_voltage": 16.0, "tank_gauge": 5e3, "loss": 4e12, "head": 3e3,
    "fuel_density": 740.0,
}  # fmt: skip


def motor(**changes):
    """0.5 ohm of winding behind 0.25 of circuit, 2 A at rest and 6 A at 400 kPa, a time constant of 30 ms; a flow
    that is bilinear, 1e-5 + 2e-6 V - 1e-11 p - 1e-12 V p."""
    drive, gauge = np.linspace(0.0, 16.0, 5), np.linspace(0.0, 400e3, 5)
    volts, pressure = drive[:, None], gauge[None]
    values = {
        "drive": drive, "gauge": gauge, "flow": 1e-5 + 2e-6 * volts - 1e-11 * pressure - 1e-12 * volts * pressure,
        "current": 2.0 + 1e-5 * gauge, "winding_resistance": 0.5, "circuit_resistance": 0.25, "time_constant": 0.03,
        "by_speed": False,
    }  # fmt: skip
    return StartingPump(**(values | changes))


def one(value):
    return np.array([float(value)])


def test_a_motor_at_rest_comes_to_its_back_emf_with_its_time_constant():
    """12 V less 0.75 ohm times 3 A at 100 kPa, 9.75 V; after a time constant 1 - 1/e of it. The terminals hold that
    and the winding's 1.5 V more."""
    state, drive = motor().step(motor().at_rest(1), one(12.0), one(0.25), one(100e3), 0.03)
    assert state == pytest.approx(9.75 * (1.0 - np.exp(-1.0)))
    assert drive == pytest.approx(state + 1.5)


def test_more_wire_takes_volts_and_makes_the_spin_up_longer_in_proportion():
    """1 ohm of circuit: 1.5 ohm in all, twice as slow, and up to 12 V less 4.5 V."""
    state, _ = motor().step(one(0.0), one(12.0), one(1.0), one(100e3), 0.06)
    assert state == pytest.approx(7.5 * (1.0 - np.exp(-1.0)))


def test_a_motor_switched_off_is_braked_by_its_load_until_it_stands():
    """de/dt = -R I0/tau = -75 V/s at 100 kPa."""
    state, drive = motor().step(one(5.0), one(0.0), one(0.25), one(100e3), 0.04)
    assert state == pytest.approx(2.0)
    assert drive == pytest.approx(3.5)
    state, drive = motor().step(one(1.0), one(0.0), one(0.25), one(100e3), 0.04)
    assert state == 0.0
    assert drive == 0.0


def test_a_motor_that_volts_cannot_turn_stands():
    state, drive = motor().step(one(0.0), one(2.0), one(0.25), one(100e3), 0.01)
    assert state == 0.0
    assert drive == 0.0


def test_at_speed_the_terminals_have_the_supply_less_the_circuit():
    assert motor().settled(one(12.0), one(0.25), one(100e3)) == pytest.approx(12.0 - 0.75)
    assert motor().settled(one(0.0), one(0.25), one(100e3)) == 0.0


def test_a_long_spin_up_ends_at_speed():
    _, drive = motor().step(one(0.0), one(12.0), one(0.25), one(100e3), 10.0)
    assert drive == pytest.approx(motor().settled(one(12.0), one(0.25), one(100e3)))


def test_a_controlled_pump_ramps_to_its_greatest_speed_at_any_voltage_and_back():
    pump = motor(drive=np.linspace(0.0, 6000.0, 5), by_speed=True, time_constant=0.2)
    for volts in (9.0, 14.0):
        state, drive = pump.step(one(0.0), one(volts), one(0.25), one(100e3), 0.2)
        assert state == drive == pytest.approx(6000.0 * (1.0 - np.exp(-1.0)))
        assert pump.settled(one(volts), one(0.25), one(100e3)) == 6000.0
    state, _ = pump.step(one(6000.0), one(0.0), one(0.25), one(100e3), 0.2)
    assert state == pytest.approx(6000.0 * np.exp(-1.0))
    assert pump.settled(one(0.0), one(0.25), one(100e3)) == 0.0


def test_a_bilinear_flow_and_its_slope_are_exact_anywhere_in_the_table():
    volts, gauge = np.array([0.0, 3.0, 7.9, 12.0, 16.0]), np.array([0.0, 350e3, 120e3, 200e3, 400e3])
    flow, slope = motor().delivered(volts, gauge)
    assert flow == pytest.approx(1e-5 + 2e-6 * volts - 1e-11 * gauge - 1e-12 * volts * gauge)
    assert slope == pytest.approx(-1e-11 - 1e-12 * volts)


def test_beyond_the_table_its_ends_hold():
    for volts, gauge, nearest in ((20.0, 500e3, (16.0, 400e3)), (-1.0, -5e3, (0.0, 0.0))):
        flow, _ = motor().delivered(one(volts), one(gauge))
        assert flow == pytest.approx(motor().delivered(*(one(value) for value in nearest))[0])


@pytest.fixture(scope="module")
def turbine():
    return fs.Pump.named("in_tank_220")


@pytest.fixture(scope="module")
def started(turbine):
    return starting_pump(turbine, Wire(), **GIVEN)


@pytest.mark.parametrize("head", [3e3, 120e3])
def test_the_map_holds_the_flow_into_the_rail_against_head_loss_and_what_presses_on_the_tank(turbine, head):
    """q = Q(V, p + head + loss q2 - tank), solved for the pump itself by scipy."""
    started = starting_pump(turbine, Wire(), **(GIVEN | {"head": head}))
    for volts in (9.0, 13.5):
        running = turbine.at(supply_voltage=volts, fuel_density=740.0)
        for gauge in (0.0, 150e3, 350e3):

            def surplus(q, running=running, gauge=gauge):
                return float(running.flow(gauge + head + 4e12 * q**2 - 5e3)) - q

            exact = brentq(surplus, 0.0, 1e-3)
            assert started.delivered(one(volts), one(gauge))[0] == pytest.approx(exact, rel=5e-3, abs=2e-7)


def test_the_current_is_that_of_the_pressure_at_the_pump_which_the_head_adds_to(turbine, started):
    """At bench voltage, against the rail's pressure and the head up to it."""
    lifted = starting_pump(turbine, Wire(), **(GIVEN | {"head": 40e3}))
    bench = turbine.at(fuel_density=740.0)
    by_hand = [float(bench.current(pressure + 40e3)) for pressure in (0.0, 200e3, 400e3)]
    assert np.interp([0.0, 200e3, 400e3], lifted.gauge, lifted.current) == pytest.approx(by_hand, rel=5e-3)
    assert np.all(lifted.current > started.current)


def test_the_map_spans_the_drives_and_pressures_asked_for_and_stands_where_the_pump_does(turbine, started):
    assert started.drive == pytest.approx(np.linspace(0.0, 16.0, DRIVES))
    assert started.gauge == pytest.approx(np.linspace(0.0, 400e3, PRESSURES))
    assert started.flow.shape == (DRIVES, PRESSURES)
    assert np.all(np.diff(started.flow, axis=1) <= 1e-15)
    assert np.all(started.flow >= 0.0)
    assert np.all(started.flow[0] == 0.0)
    stands = np.asarray(turbine.at(fuel_density=740.0, supply_voltage=started.drive).stands)
    assert stands.any()
    assert np.all(started.flow[stands] == 0.0)
    assert np.all(started.flow[-1] > 0.0)
    assert not started.by_speed


def test_a_pump_that_cannot_hold_the_pressure_delivers_nothing_rather_than_backwards(turbine):
    weak = starting_pump(turbine, Wire(), **(GIVEN | {"greatest_gauge": 2e6}))
    assert np.all(weak.flow[:, -1] == 0.0)


def test_the_current_is_that_of_the_bench_against_rail_and_head(turbine, started):
    bench = turbine.at(fuel_density=740.0)
    for gauge in (0.0, 200e3, 400e3):
        assert np.interp(gauge, started.gauge, started.current) == pytest.approx(float(bench.current(gauge + 3e3)))
    assert started.winding_resistance == turbine.winding_resistance
    assert started.circuit_resistance == pytest.approx(float(Wire().resistance))


def test_the_time_constant_is_that_of_its_torque(turbine, started):
    """An unloaded motor at rest has the torque k V/R and would reach the speed V/k with it in J R/k2. Here a rotor of
    6e-6 kg m2 with 7000 rpm at the back-EMF of 13.5 V less 3.8 A through 0.587 ohm: k = 15.37 mV s/rad."""
    resistance = turbine.winding_resistance + float(Wire().resistance)
    assert turbine.winding_resistance == pytest.approx(0.587, rel=1e-3)
    constant = (13.5 - 3.8 * 0.587) / 733.04
    torque, no_load_speed = constant * 13.5 / resistance, 13.5 / constant
    assert started.time_constant == pytest.approx(6e-6 * no_load_speed / torque, rel=2e-3)
    heavy = starting_pump(turbine, Wire(), **GIVEN, inertia=12e-6)
    assert heavy.time_constant == pytest.approx(2.0 * started.time_constant)


def test_a_winding_that_would_take_all_volts_leaves_a_fifth_of_them(turbine):
    """k = 0.2 x 13.5 V/733 rad/s; 1e-6 kg m2, 2 ohm."""
    bench = turbine.at(fuel_density=740.0)
    constant = pump_start._time_constant(turbine, bench, 10.0, 2.0, 1e-6)
    assert constant == pytest.approx(1e-6 * 2.0 / (2.7 / 733.04) ** 2, rel=1e-4)


def test_a_brushless_pump_is_tabulated_over_its_speed():
    pump = fs.Pump.named("brushless_turbine_300")
    started = starting_pump(pump, Wire(), **(GIVEN | {"loss": 0.0}))
    assert started.by_speed
    assert started.drive[-1] == pump.bench_speed
    assert started.time_constant == RAMP_TIME
    exact = float(pump.at(fuel_density=740.0).flow(300e3 - 2e3))
    assert started.delivered(started.drive[-1:], one(300e3))[0] == pytest.approx(exact, rel=2e-3)
