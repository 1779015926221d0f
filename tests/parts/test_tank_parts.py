"""Supply, stepped pump control, and the parts around the tank."""

import numpy as np
import pytest

from fuelsim.errors import InputError
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.supply import PumpSteps, Supply
from fuelsim.parts.tank_parts import JetPump, TankVent


def test_supply_voltage_stays_in_the_typical_ranges():
    """Battery 11.8-12.3 V key-on, 9-11 cranking; alternator 13.2-14.4 (from memory)."""
    key_on, cranking, idle, cruise = Supply().voltage([0.0, 250.0, 800.0, 2500.0])
    assert 11.8 <= key_on <= 12.3
    assert 9.0 <= cranking <= 11.0
    assert 13.2 <= idle <= cruise <= 14.4


def test_two_speed_control_slows_the_pump_at_low_demand():
    pump = Pump.named("in_tank_220")
    steps = PumpSteps(demand=["0 L/h", "40 L/h"], resistance=["0.4 ohm", "0 ohm"])
    demand = np.array([5.0, 39.9, 40.1, 100.0]) / 3.6e6
    running = pump.at(supply_voltage=13.5, wire_resistance=0.06 + steps.resistance_at(demand))
    flow = running.flow(np.full(4, 300e3))
    assert flow[0] == pytest.approx(flow[1])
    assert flow[2] == pytest.approx(flow[3])
    assert flow[0] < 0.75 * flow[2]
    assert steps.duty_at(demand).tolist() == [1.0] * 4


def test_duty_steps_save_power():
    pump = Pump.named("in_tank_220")
    steps = PumpSteps(demand=[0.0, 2e-5], duty=["66 %", "100 %"])
    running = pump.at(supply_voltage=13.5, duty=steps.duty_at([1e-6, 4e-5]))
    power = running.operating(running.flow([3e5, 3e5]), np.array([3e5, 3e5])).electrical_power
    assert power[0] == pytest.approx(0.66 * power[1])


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"demand": [1e-5, 2e-5], "duty": [0.5, 1.0]}, "demand"),
        ({"demand": [0.0, 2e-5], "duty": [0.5]}, "duty"),
        ({"demand": [0.0, 2e-5]}, "duty"),
    ],
)
def test_steps_that_do_not_fit_are_refused(changes, key):
    with pytest.raises(InputError) as caught:
        PumpSteps(**changes)
    assert (caught.value.part, caught.value.key) == ("PumpSteps", key)


def test_a_lift_pump_brings_less_against_a_higher_pot():
    """95-115 L/h free flow, shut-off 20-35 kPa (from memory)."""
    lift = Pump.named("lift_solenoid").at().flow([0.0, 10e3, 20e3, 35e3]) * 3.6e6
    assert 95.0 <= lift[0] <= 115.0
    assert np.all(np.diff(lift) < 0.0)
    assert lift[3] < 0.0


def test_a_blocked_vent_pulls_the_tank_down_by_some_5_kpa_and_an_open_one_does_not():
    draw = 80.0 / 3.6e6
    assert TankVent.named("blocked").gauge_pressure(draw) == pytest.approx(-5e3, rel=0.05)
    assert abs(TankVent.named("open_vent").gauge_pressure(draw)) < 50.0
    cap = TankVent.named("pressure_cap")
    assert cap.gauge_pressure(draw) < -2e3
    assert cap.gauge_pressure(draw, vapour_formed=2e-4) > 7e3


def test_jet_pump_is_a_nozzle_and_a_suction():
    jet = JetPump(nozzle_bore="0.8 mm")
    assert jet.nozzle().diameter == 0.8e-3
    assert jet.suction_flow(5e-6, 60e3, 2e3) > 5e-6
    assert jet.suction_flow(-5e-6, 60e3, 2e3) == 0.0


def test_lost_manifold_reference_makes_an_open_loop_controller_10_percent_rich_at_35_kpa():
    """366/300 in pressure difference, less what dead time takes (computed)."""
    bank = Injectors(count=8, static_flow="300 mL/min")
    assert bank.mixture_error(0.004, 366e3, 300e3, 745.0, 2500.0, 13.5) == pytest.approx(0.10, abs=0.02)
    assert np.isnan(bank.mixture_error(0.0, 366e3, 300e3, 745.0, 2500.0, 13.5))
