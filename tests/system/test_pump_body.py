"""Heat at the body of a pump: contact with hot parts, and the conductance of its mount."""

import numpy as np
import pytest

import fuelsim as fs

WARM = {"rpm": 3000.0, "tank_temperature": "35 degC"}


def heat_taken(car):
    """Return the heat that the fuel carries out of the pump, W, by its temperatures, with 2.09 kJ/kg/K (petrol)."""
    run = car.system("return").solve(**WARM)
    warming = run.temperature["pump_outlet"] - run.temperature["pump_inlet"]
    return float(run.mass_flow["pump"] * 2090.0 * warming)


def test_heat_from_a_hot_part_ends_in_the_fuel_that_flows_through_the_pump():
    """50 W into 90 kg/h of petrol warm it by 0.95 K; the little that the warmer body loses is within 3 %."""
    heron = fs.Car.named("heron")
    bolted = heron.with_values({"pump.contact_heat": "50 W"})
    assert heat_taken(bolted) - heat_taken(heron) == pytest.approx(50.0, rel=0.03)


def test_the_mount_decides_what_the_air_gives():
    """Q = G (air - fuel), with the air under the floor somewhere between that at rest and that at cruising speed."""
    heron = fs.Car.named("heron")
    foam, bare = (heron.with_values({"pump.body_conductance": value}) for value in ("0 W/K", "10 W/K"))
    run = foam.system("return").solve(**WARM)
    fuel = 0.5 * float(run.temperature["pump_inlet"] + run.temperature["pump_outlet"])
    place = heron.surroundings
    rises = (float(place.underfloor_rise), float(place.cruising_underfloor_rise))
    given = heat_taken(bare) - heat_taken(foam)
    least, most = (10.0 * (float(place.air_temperature) + rise - fuel) for rise in sorted(rises))
    assert least * 0.9 - 2.0 <= given <= most * 1.1 + 2.0


def test_the_ledger_of_a_drive_closes_with_a_hot_pump():
    car = fs.Car.named("heron").with_values({"pump.contact_heat": "50 W"})
    jam = fs.Schedule.of([fs.typical_phase("jam", "15 min", car)])
    hot, plain = (
        fs.drive(each, "return", jam, tank_temperature="30 degC").ledger for each in (car, fs.Car.named("heron"))
    )
    assert abs(hot.error) < 1e-3
    assert abs(hot.source_error) < 1e-3
    # 15 minutes of 50 W are 45 kJ, less what the warmer fuel loses in the pump.
    assert hot.pump_heat - plain.pump_heat == pytest.approx(45e3, rel=0.05)


def test_a_submerged_pump_gives_the_fuel_around_it_what_does_not_flow_on():
    """Contact heat of a submerged pump that conducts freely goes to the tank: what is shed rises with it."""
    finch = fs.Car.named("finch")
    for heat in ("0 W", "30 W"):
        run = finch.with_values({"pump.contact_heat": heat}).system("return").solve(**WARM)
        assert np.isfinite(run.shed_heat)
        assert run.shed_heat >= 0.0
