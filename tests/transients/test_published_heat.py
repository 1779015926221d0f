"""Heat of tanks, lines and fuel beside figures of public reports; the source stands with each."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.transients.schedule import Schedule, typical_phase


@pytest.fixture(scope="module")
def finch():
    return fs.Car.named("finch")


def test_a_parked_tank_goes_to_the_air_at_the_rate_of_a_public_emission_model(finch):
    """dT/dt = 1.4 per hour x (air less tank) [moves_tank_temperature]: a time constant of 43 min, which is 24 W/K at 40
    L (62 kJ/K)."""
    car = finch.with_values(
        {
            "tank.volume": "60 L",
            "tank.fuel_volume": "40 L",
            "tank.heat_conductance": "24 W/K",
            "tank.radiated_heat": "0 W",
            "surroundings.air_temperature": "15 degC",
            "surroundings.underfloor_rise": "0 K",  # long after the stop: no warmth of exhaust and pavement
            "surroundings.cruising_underfloor_rise": "0 K",
        }
    )
    parked = fs.drive(car, "return", Schedule.of([typical_phase("stop", "1 h", car)]), tank_temperature="30 degC")
    above = np.asarray(parked.tank_temperature) - 288.15
    assert above[-1] / above[0] == pytest.approx(np.exp(-1.4), rel=0.10)


def test_lines_in_the_bay_are_as_much_above_the_air_as_those_of_1930(finch):
    """27 cars at 64 km/h: the pump's outlet 22.8 K above the air on average, 40.6 K at worst, and up to 11 K more when
    idling afterwards [sae_310017]."""
    around = finch.surroundings
    default = type(around)()
    assert default.cruising_bay_rise == pytest.approx(22.8, abs=2.0)
    assert default.bay_rise - default.cruising_bay_rise == pytest.approx(11.0, abs=3.0)
    for car in (finch, fs.Car.named("heron")):
        assert 15.0 < car.surroundings.bay_rise < 22.8 + 40.6


def test_a_pump_that_sucks_passes_the_hot_fuel_test_on_summer_petrol_and_not_on_winter_petrol():
    """Suction-lift systems of aircraft are shown by test with fuel at 43.3 degC (110 degF) [cfr_14_27_961]: the tank of
    winter petrol boils there at sea level."""
    heron = fs.Car.named("heron")
    hot = {"surroundings.tank_temperature": "43.3 degC", "suction.bore": "8 mm"}
    summer = heron.with_values(hot).system("return").solve(rpm=[2500.0, 5000.0], load=[0.3, 1.0])
    assert np.all(summer.gauge_pressure["rail"] > 0.9 * 250e3)
    winter = fs.Fuel.named("winter_e10")
    assert winter.bubble_pressure("43.3 degC") > 101325.0
    assert fs.Fuel.named("summer_e10").bubble_pressure("43.3 degC") < 101325.0
