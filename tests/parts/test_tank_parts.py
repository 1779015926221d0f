"""Supply, stepped pump control, and the parts around the tank."""

import numpy as np
import pytest

from fuelsim.errors import InputError
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.supply import PumpSteps, Supply
from fuelsim.parts.tank_parts import JetPump, TankVent


@pytest.mark.parametrize(
    ("celsius", "least", "most"), [(-20.0, 14.0, 15.1), (20.0, 13.7, 14.6), (60.0, 13.2, 14.3), (80.0, 12.9, 14.1)]
)
def test_an_alternator_gives_less_as_its_regulator_warms(celsius, least, most):
    """Regulated voltage by the regulator's temperature [service_manuals_a]."""
    volts = float(Supply().voltage(3000.0, regulator_temperature=celsius + 273.15))
    assert volts == pytest.approx(0.5 * (least + most), abs=0.06)


@pytest.mark.parametrize(
    ("celsius", "least"), [(20.0, 9.6), (10.0, 9.4), (-1.0, 9.1), (-7.0, 8.9), (-12.0, 8.7), (-18.0, 8.5)]
)
def test_a_cold_battery_cranks_at_fewer_volts_but_above_the_least_of_a_load_test(celsius, least):
    """Least under half of the cold-cranking current for 15 s [service_manuals_b]."""
    volts = float(Supply().voltage(200.0, battery_temperature=celsius + 273.15))
    assert least < volts < least + 0.5
    # The battery of 10 V at 20 degC falls with temperature as the least voltages do.
    assert volts == pytest.approx(10.0 * least / 9.6, rel=1e-3)


def test_a_battery_at_rest_has_12_7_volts_full_and_12_5_at_four_fifths():
    """Makers' and other pages, alike within 0.1 V [battery_pages]."""
    assert 12.5 <= Supply().rest_voltage <= 12.7


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


def test_jet_pump_ratios_are_tied_as_the_momentum_balance_ties_them():
    """Nozzle over throat area 0.05 to 0.30, rough mouldings and well made [karassik_pump_handbook]: M_0 and N_0."""
    moulded = [(5.5, 0.09), (3.3, 0.19), (2.4, 0.30), (1.8, 0.42), (1.2, 0.68)]
    well_made = [(7.9, 0.10), (4.7, 0.22), (3.3, 0.35), (2.5, 0.50), (1.6, 0.87)]
    for largest, stall in moulded + well_made:
        assert JetPump(largest_ratio=largest, stall_pressure_ratio=stall).stall_ratio == stall
    for largest, stall in moulded:
        assert JetPump(largest_ratio=largest).stall_ratio == pytest.approx(stall, rel=0.3)
    with pytest.raises(InputError, match="no jet pump has so large"):
        JetPump(largest_ratio=5.0, stall_pressure_ratio=0.4)


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


def test_air_enters_a_vent_at_the_density_of_warm_air():
    """dp = rho/2 (Q/(0.6 A))^2 with the ideal gas at 30 degC (R = 287.05 J/kg/K, US Standard Atmosphere 1976)."""
    flow, area = 100e-3 / 3600.0, np.pi / 4.0 * 0.002**2
    loss = 0.5 * 101325.0 / (287.05 * 303.15) * (flow / (0.6 * area)) ** 2
    assert float(TankVent(bore="2 mm").gauge_pressure(draw=flow)) == pytest.approx(-loss, rel=0.03)


def test_a_jet_pump_s_nozzle_passes_what_its_loss_coefficient_says():
    """C = 1/sqrt(1 + K) with K 0.23 (energy balance)."""
    assert JetPump(nozzle_bore="1 mm").nozzle().discharge_coefficient == pytest.approx(1.23**-0.5, rel=0.01)
