"""Parts a car may have or not: supply, pump steps, vent, valves, damper, and the band of its regulator."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.car.car import Car
from fuelsim.car.read import read_table
from fuelsim.data_files import data_path, read_toml
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.damper import Damper
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.supply import PumpSteps, Supply
from fuelsim.parts.tank_parts import TankVent
from fuelsim.studies.findings import findings

FINCH = read_toml(data_path("cars", "finch.toml"))


def finch(**tables):
    return read_table(Car, {**FINCH, **tables})


def without(table, key):
    return {name: value for name, value in FINCH[table].items() if name != key}


def test_a_table_supply_gives_each_engine_speed_its_voltage():
    car = finch(supply={}, surroundings=without("surroundings", "supply_voltage"))
    run = car.system("return").solve(fs.Conditions(rpm=[800.0, 1150.0, 4000.0], bay_temperature="45 degC"))
    # 13.2 V at idle, 13.9 from 1500 rpm on with the regulator at 45 degC; 0.0105 V less per kelvin [service_manuals_a].
    hot = car.system("return").solve(fs.Conditions(rpm=[4000.0], bay_temperature="80 degC"))
    assert hot.conditions.supply_voltage == pytest.approx([13.9 - 35.0 * 0.0105])
    assert run.conditions.supply_voltage == pytest.approx([13.2, 13.55, 13.9])
    assert np.all(np.diff(run.pump_voltage["pump"]) > 0.0)
    given = car.system("return").solve(rpm=[800.0, 4000.0], supply_voltage=12.0)
    assert given.conditions.supply_voltage == pytest.approx(12.0)


def test_a_supply_given_twice_is_refused():
    surroundings = {**FINCH["surroundings"], "supply_voltage": "14 V"}
    with pytest.raises(fs.InputError, match=r"surroundings\.supply_voltage': the supply is given twice"):
        finch(supply={}, surroundings=surroundings)


def test_a_two_speed_pump_runs_slower_at_low_demand_and_warms_the_tank_less():
    steps = {"demand": ["0 L/h", "15 L/h"], "resistance": ["0.4 ohm", "0 ohm"]}
    slowed, plain = (car.system("return").solve(rpm=[800.0, 6000.0]) for car in (finch(pump_steps=steps), finch()))
    assert slowed.pump_voltage["pump"][0] < plain.pump_voltage["pump"][0] - 1.0
    assert slowed.bypass_flow[0] < plain.bypass_flow[0]
    assert slowed.tank_heat_flow[0] < plain.tank_heat_flow[0]
    for name in ("pump", "injectors"):
        assert slowed.flow[name][1] == pytest.approx(plain.flow[name][1], rel=1e-9)


def test_duty_steps_multiply_the_duty_that_is_asked():
    car = finch(pump_steps={"demand": ["0 L/h", "15 L/h"], "duty": ["75 %", "100 %"]})
    run = car.system("return").solve(fs.Conditions(rpm=[800.0, 6000.0], pump_duty=[0.9, 1.0]))
    assert run.pump_duty == pytest.approx([0.675, 1.0])
    alone = finch().system("return").solve(fs.Conditions(rpm=800.0, pump_duty=0.675))
    assert run.flow["pump"][0] == pytest.approx(float(alone.flow["pump"]), rel=1e-9)


def test_a_brushless_pump_follows_its_speed_steps():
    pump = {"catalogue": "brushless_turbine_300"}
    car = finch(pump=pump, pump_steps={"demand": ["0 L/h", "15 L/h"], "speed": ["5500 rpm", "7000 rpm"]})
    run = car.system("returnless_tank").solve(rpm=[800.0, 6000.0])
    density = float(car.fuel.fuel().density(293.15))
    at = Pump.named("brushless_turbine_300").at(speed=np.array([5500.0, 7000.0]), fuel_density=density)
    rise = run.pressure["pump_outlet"] - run.pressure["pump_inlet"]
    warm = at.with_inlet(vapour_liquid_ratio=0.0, fuel_temperature=run.temperature["pump_inlet"])
    assert run.flow["pump"] == pytest.approx(warm.flow(rise), rel=1e-3)


@pytest.mark.parametrize(
    ("pump", "steps", "key"),
    [
        (FINCH["pump"], {"speed": ["3000 rpm", "6000 rpm"]}, "pump_steps.speed"),
        ({"catalogue": "brushless_turbine_300"}, {"duty": [0.5, 1.0]}, "pump_steps.duty"),
    ],
)
def test_steps_the_pump_cannot_follow_are_refused(pump, steps, key):
    with pytest.raises(fs.InputError, match="speed control") as caught:
        finch(pump=pump, pump_steps={"demand": ["0 L/h", "15 L/h"], **steps})
    assert caught.value.key == key


def test_a_blocked_vent_pulls_the_tank_down_and_is_found():
    car = finch(tank={**FINCH["tank"], "vent": {"catalogue": "blocked"}})
    system = car.system("return")
    run = system.solve(rpm=[800.0, 6000.0])
    burnt = run.flow["injectors"][1]
    assert run.gauge_pressure["tank"][1] == pytest.approx(
        float(TankVent.named("blocked").gauge_pressure(burnt)), rel=0.02
    )
    open_run = finch().system("return").solve(rpm=[800.0, 6000.0])
    assert run.vapour_margin["pump_inlet"][1] < open_run.vapour_margin["pump_inlet"][1]
    assert -30.0 < open_run.gauge_pressure["tank"][1] <= 0.0
    thirsty = dataclasses.replace(
        car, engine=fs.Engine(displacement="5 L", cylinders=4, red_line=6500.0, shape="four_valve")
    )
    assert any(found.subject == "tank" and "vent" in found.statement for found in findings(thirsty.system("return")))


def test_a_given_pressure_in_the_tank_wins_over_its_vent():
    car = finch(tank={**FINCH["tank"], "vapour_space_pressure": "5 kPa", "vent": {"catalogue": "blocked"}})
    assert car.system("return").solve(rpm=6000.0).gauge_pressure["tank"] == pytest.approx(5e3)


def test_an_anti_siphon_valve_costs_suction_and_needs_a_suction_line():
    car = fs.Car.named("heron")
    plain = car.system("return").solve(rpm=5000.0, tank_temperature="20 degC")
    fitted = dataclasses.replace(car, anti_siphon=CheckValve.named("anti_siphon"))
    run = fitted.system("return").solve(rpm=5000.0, tank_temperature="20 degC")
    cracking = float(CheckValve.named("anti_siphon").cracking_pressure)
    assert plain.pressure["pump_inlet"] - run.pressure["pump_inlet"] > cracking
    with pytest.raises(fs.InputError, match="belongs to a suction line"):
        dataclasses.replace(fs.Car.named("finch"), anti_siphon=CheckValve())


@pytest.mark.parametrize("layout", ["return", "returnless_tank", "returnless_bay"])
def test_a_check_valve_at_the_pump_costs_pressure_between_pump_and_filter(layout):
    car = finch(check_valve={"catalogue": "pump_outlet", "working_pressure": "500 kPa"})
    system = car.system(layout)
    run = system.solve(rpm=[800.0, 6000.0])
    assert np.all(run.outcome.converged)
    lost = run.pressure["pump_outlet"] - run.pressure["check_valve_outlet"]
    assert np.all(lost > float(car.check_valve.cracking_pressure))
    assert any(found.subject == "check_valve" for found in findings(system))


def test_a_dampers_rating_is_judged_like_any_other():
    car = dataclasses.replace(fs.Car.named("finch"), damper=Damper(working_pressure="200 kPa"))
    found = findings(car.system("return"))
    assert (found[0].subject, found[0].severity) == ("damper", fs.Severity.FAILURE)


def test_hysteresis_is_a_band_about_the_solved_rail_pressure():
    car = finch(rail_regulator={**FINCH["rail_regulator"], "hysteresis": "4 kPa"})
    run = car.system("return").solve(rpm=[800.0, 6000.0])
    assert run.rail_pressure_band == pytest.approx(2e3)
    edges = [
        dataclasses.replace(car, rail_regulator=branch).system("return").solve(rpm=[800.0, 6000.0])
        for branch in car.rail_regulator.branches
    ]
    for edge, sign in zip(edges, (1.0, -1.0), strict=True):
        moved = edge.pressure["rail"] - run.pressure["rail"]
        # A little less than the edge: the pump gives less flow against more pressure, and droop follows the flow.
        assert moved == pytest.approx(sign * 2e3, rel=0.06)
        assert edge.rail_pressure_band == pytest.approx(0.0)


def test_a_regulator_that_is_shut_has_no_band():
    run = finch(pump={**FINCH["pump"], "flow": ["60 L/h", "50 L/h", "40 L/h", "28 L/h", "15 L/h"]}).system("return")
    solved = run.solve(rpm=6000.0)
    assert solved.regime["regulator"] == "shut"
    assert solved.rail_pressure_band == 0.0


def test_a_car_with_every_optional_part_round_trips(tmp_path):
    car = dataclasses.replace(
        fs.Car.named("heron"),
        supply=Supply(idle_voltage="13 V"),
        pump_steps=PumpSteps(demand=["0 L/h", "40 L/h"], duty=["66 %", 1.0]),
        anti_siphon=CheckValve.named("anti_siphon"),
        check_valve=CheckValve(),
        damper=Damper(),
    )
    assert fs.read_car(fs.write_car(car, tmp_path / "car.toml")) == car


def test_fittings_by_name_add_their_loss_to_a_line():
    named = finch(feed={**FINCH["feed"], "fittings": "2 bend_90_swept, quick_connector"})
    summed = finch(feed={**FINCH["feed"], "loss_coefficient": 3.0 + 2 * 0.45 + 1.0})
    pressures = [car.system("returnless_tank").solve(rpm=6000.0).pressure["rail"] for car in (named, summed)]
    assert pressures[0] == pytest.approx(pressures[1], rel=1e-9)
    assert pressures[0] < finch().system("returnless_tank").solve(rpm=6000.0).pressure["rail"]


@pytest.mark.parametrize(
    ("fittings", "said"),
    [
        ("2 bend_90_swpt", "did you mean 'bend_90_swept'"),
        ("0 banjo", "not a number of fittings"),
        ("2", "no such typical fitting"),
        ("9" * 5000 + " banjo", "too long"),
        ("9" * 900 + " banjo", "not a number of fittings"),
    ],
)
def test_a_wrong_fitting_is_one_message(fittings, said):
    with pytest.raises(fs.InputError, match=said) as caught:
        finch(feed={**FINCH["feed"], "fittings": fittings})
    assert caught.value.key == "feed.fittings"
