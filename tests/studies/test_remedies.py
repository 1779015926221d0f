"""What remedies gain, against the kelvin of the trade (computed there from stated inputs unless said otherwise)."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.car.heat_parts import Cooler
from fuelsim.studies.remedies import remedies
from fuelsim.studies.tank_warming import tank_after
from fuelsim.system.conditions import Conditions


@pytest.fixture(scope="module")
def heron():
    return fs.Car.named("heron")


@pytest.fixture(scope="module")
def gains(heron):
    return {remedy.name: remedy for remedy in remedies(heron, "return").remedies}


def test_a_pump_in_the_tank_gains_one_to_six_kelvin(gains):
    assert 1.0 < gains["pump into the tank"].pump_gain < 6.0


def test_a_half_inch_suction_gains_about_two_kelvin(gains):
    """5/16 to 1/2 in at 200 L/h and 1.5 m: +2 K; here 2.2 m at 130 L/h."""
    assert gains["suction line of 10.9 mm"].pump_gain == pytest.approx(2.0, abs=1.0)


def test_a_higher_set_pressure_helps_the_rail_and_not_the_pump(gains):
    """300 to 400 kPa: +10 to 14 K at the rail, none at the pump; with ethanol the bubble curve is steeper, 8.7 K for
    the atmospheric regulator of 300 to 400 kPa."""
    remedy = gains["set pressure 100 kPa higher"]
    assert remedy.rail_gain_at_once == pytest.approx(9.5, abs=1.5)
    assert abs(remedy.pump_gain) < 1.0


def test_with_plain_petrol_the_higher_set_pressure_gains_ten_to_fourteen_kelvin(heron):
    plain = heron.with_values({"fuel.name": None, "fuel.vapour_pressure": "62 kPa", "fuel.ethanol": 0.0})
    result = {remedy.name: remedy for remedy in remedies(plain, "return").remedies}
    assert 10.0 < result["set pressure 100 kPa higher"].rail_gain_at_once < 14.0


def test_ten_kilopascal_less_vapour_pressure_gain_four_to_five_kelvin(gains):
    """90 to 62 kPa gain 12.7 K: 4.5 K for 10 kPa."""
    assert gains["fuel of 10 kPa lower vapour pressure"].pump_gain == pytest.approx(4.5, abs=0.8)


def test_a_cap_of_seven_kilopascal_gains_two_kelvin(gains):
    assert gains["pressure cap of 7 kPa"].pump_gain == pytest.approx(2.4, abs=0.5)


def test_a_regulator_at_the_tank_cools_the_tank_and_heats_the_rail(gains):
    remedy = gains["regulator at the tank"]
    assert remedy.tank_change < -1.0
    assert remedy.rail_gain < -5.0


def test_more_fuel_warms_more_slowly(gains):
    assert gains["tank filled up"].tank_change < -2.0
    assert gains["tank half as large again"].tank_change < -1.0


def test_a_shield_appears_only_where_an_exhaust_radiates(heron, gains):
    assert not any("shield" in name for name in gains)
    hot = heron.with_values({"feed.exhaust_flux": "1.5 kW/m2", "suction.exhaust_flux": "1.5 kW/m2"})
    result = {remedy.name: remedy for remedy in remedies(hot, "return").remedies}
    assert result["one more foil shield at the exhaust"].pump_gain > 0.5


def test_a_cooler_that_takes_a_hundred_watts_cools_a_tank_of_twelve_watts_per_kelvin_by_eight_kelvin(heron):
    """100 W over 12 W/K, at rest (heat balance)."""
    conditions = {"rpm": 700.0, "load": 0.0}
    start = heron.surroundings.air_temperature
    cooled = dataclasses.replace(heron, cooler=Cooler(heat_conductance=12.0))
    without, with_it = (tank_after(car, "return", 200.0, start, conditions) for car in (heron, cooled))
    run = cooled.system("return").solve(Conditions(tank_temperature=min(with_it, 323.0), **conditions))
    flow = float(run.mass_flow["cooler"]) * heron.fuel.fuel().heat_capacity(320.0)
    taken = flow * (float(run.temperature["return_inlet"]) - float(run.temperature["cooler_outlet"]))
    assert taken > 50.0
    assert without - with_it == pytest.approx(taken / 12.0, rel=0.5)


def test_tank_after_follows_the_drive(heron):
    """The exponential of constant coefficients against the integrated drive, before anything boils."""
    from fuelsim.transients.drive import drive
    from fuelsim.transients.schedule import Phase, Schedule

    idle = Schedule.of([Phase(name="idle", duration="30 min")])
    cool = heron.with_values({"surroundings.air_temperature": "25 degC"})
    quick = tank_after(cool, "return", 0.5, 298.15, {"rpm": 700.0, "load": 0.0})
    exact = drive(cool, "return", idle, tank_temperature=298.15).tank_temperature[-1]
    assert quick == pytest.approx(exact, abs=0.7)


def test_every_gain_is_a_number(gains):
    for remedy in gains.values():
        assert np.isfinite([remedy.pump_gain, remedy.rail_gain, remedy.tank_change]).all()
