"""What a practitioner expects of the layouts; common practice, no source, unless a source is named."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs

LITRES_PER_HOUR = 3.6e6


@pytest.fixture(scope="module")
def heron():
    return fs.Car.named("heron")


@pytest.fixture(scope="module")
def finch():
    return fs.Car.named("finch")


def idle(car, layout, **conditions):
    return car.system(layout).solve(rpm=car.engine.idle_speed, load=0.0, raise_on_failure=True, **conditions)


def test_most_fuel_returns_at_idle_and_bypass_falls_with_demand(finch):
    run = finch.system("return").solve(rpm=np.linspace(800, 6500, 20), raise_on_failure=True)
    assert np.all(np.diff(run.bypass_flow) < 0.0)
    at_idle = idle(finch, "return")
    assert at_idle.bypass_flow > 0.9 * at_idle.flow["pump"]


def test_a_return_bore_too_small_takes_the_regulator_its_control_at_idle_first_with_a_low_set_pressure(heron):
    """5 m of 4.93 mm and a valve of 40 kPa at 200 L/h lose control near 170 L/h at a set of 90 kPa."""
    small = heron.with_values({"return_line.length": "5 m", "return_line.bore": "4 mm"})
    high = idle(small, "return")
    low_set = small.with_values({"rail_regulator.set_pressure": "90 kPa"})
    low = idle(low_set, "return")
    assert high.regime["regulator"] == "regulating"
    assert low.regime["regulator"] == "wide open"
    assert low.injector_pressure_difference > 1.1 * 90e3


def test_a_merely_smaller_return_adds_slope_only(heron):
    wide = idle(heron.with_values({"return_line.bore": "8 mm"}), "return")
    narrow = idle(heron.with_values({"return_line.bore": "4.93 mm"}), "return")
    assert narrow.regime["regulator"] == "regulating"
    assert abs(narrow.gauge_pressure["rail"] - wide.gauge_pressure["rail"]) < 2e3


def test_lower_pump_voltage_lowers_the_speed_at_which_the_regulator_shuts(heron):
    speeds = np.linspace(2000, 5600, 60)
    run = heron.system("return").solve(
        fs.Conditions.grid(supply_voltage=[10.5, 11.5, 12.5], rpm=speeds), raise_on_failure=True
    )
    shut = np.asarray(run.regime["regulator"]) == "shut"
    first = [speeds[np.argmax(row)] if row.any() else np.inf for row in shut]
    assert first[0] < first[1] <= first[2]


def test_rail_pressure_rises_with_supply_voltage(heron):
    run = heron.system("return").solve(rpm=5400, supply_voltage=[10.7, 11.4, 12.0, 13.5], raise_on_failure=True)
    assert np.all(np.diff(run.pressure["rail"]) > 0.0)


@pytest.mark.parametrize("name", ["heron", "finch"])
def test_a_returnless_rail_runs_hotter_at_idle_and_its_tank_gets_less_heat(name):
    car = fs.Car.named(name)
    back, dead_ended = idle(car, "return"), idle(car, "returnless_tank")
    assert dead_ended.temperature["rail"] > back.temperature["rail"] + 5.0
    assert dead_ended.tank_heat_flow < back.tank_heat_flow


def test_a_pump_in_the_tank_keeps_more_vapour_margin_than_an_external_one(heron):
    in_tank = heron.with_pump_in_tank()
    outside, inside = (idle(car, "return", tank_temperature="45 degC") for car in (heron, in_tank))
    assert inside.vapour_margin["pump_inlet"] > outside.vapour_margin["pump_inlet"] + 1.0
    assert inside.pressure_margin["pump_inlet"] > outside.pressure_margin["pump_inlet"]


def test_manifold_reference_keeps_the_injector_pressure_difference(finch):
    load = np.linspace(0.0, 1.0, 9)
    referenced = finch.system("return").solve(rpm=3000, load=load, raise_on_failure=True)
    spread = np.ptp(referenced.injector_pressure_difference)
    atmospheric = finch.with_values({"rail_regulator.reference": "atmosphere"})
    open_air = atmospheric.system("return").solve(rpm=3000, load=load, raise_on_failure=True)
    vacuum = np.ptp(open_air.pressure["manifold"])
    assert spread < 3e3
    assert np.ptp(open_air.injector_pressure_difference) == pytest.approx(vacuum, rel=0.1)


def test_mass_is_conserved_from_tank_to_injectors_and_return(heron):
    run = heron.system("return").solve(rpm=np.linspace(700, 5600, 15), raise_on_failure=True)
    pumped, burnt, back = run.mass_flow["pump"], run.mass_flow["injectors"], run.mass_flow["return_line"]
    assert pumped - burnt - back == pytest.approx(0.0, abs=1e-6 * float(np.max(pumped)))


def test_rail_to_injector_demand_equals_what_the_engine_burns(finch):
    run = finch.system("return").solve(rpm=[2000, 4000, 6000], raise_on_failure=True)
    ratio = finch.fuel.fuel().stoichiometric_air_fuel_ratio
    demand = finch.engine.demand(
        [2000, 4000, 6000], stoichiometric_air_fuel_ratio=ratio, air_temperature=finch.surroundings.air_temperature
    )
    assert run.mass_flow["injectors"] == pytest.approx(demand.fuel_mass_flow, rel=1e-6)


def test_a_set_pressure_above_dead_head_is_no_error_and_the_run_says_what_the_rail_reaches(finch):
    car = finch.with_values({"rail_regulator.set_pressure": "900 kPa"})
    run = idle(car, "return")
    assert run.regime["regulator"] == "shut"
    assert 400e3 < run.gauge_pressure["rail"] < 900e3


def test_a_failing_point_keeps_the_rest_of_the_sweep(heron):
    run = heron.system("return").solve(rpm=3000, tank_temperature=["20 degC", "45 degC", "90 degC"])
    assert np.all(np.isfinite(run.pressure["rail"]) == run.outcome.has_values)
    assert run.outcome.converged[0]
    assert run.outcome.converged[1]


def test_altitude_lowers_the_margin_at_the_pump_inlet(heron):
    """A vented 62 kPa tank boils near 52 degC at sea level and 39 degC at 3236 m (AP-42, standard atmosphere)."""
    run = heron.system("return").solve(rpm=2000, altitude=[0.0, 1500.0, 3000.0], tank_temperature="30 degC")
    assert np.all(np.diff(run.vapour_margin["pump_inlet"]) < 0.0)
