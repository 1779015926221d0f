"""Margin maps: limits that the exact solution confirms, and the kelvin of the trade."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.errors import InputError
from fuelsim.studies.margins import margin_map


@pytest.fixture(scope="module")
def heron():
    return fs.Car.named("heron")


def test_at_its_limit_each_station_just_begins_to_boil(heron):
    result = margin_map(heron, "return", {"rpm": [700.0, 3000.0, 5400.0]})
    limit = result.limit["pump_inlet"]
    run = heron.system("return").solve(fs.Conditions(rpm=[700.0, 3000.0, 5400.0], load=0.0, tank_temperature=limit))
    assert np.asarray(run.vapour_margin["pump_inlet"]) == pytest.approx(0.0, abs=0.15)


def test_the_tank_itself_boils_at_the_fuel_s_boiling_point(heron):
    result = margin_map(heron, "return", {"altitude": [0.0, 2240.0]})
    fuel = heron.fuel.fuel()
    assert result.limit["tank"] == pytest.approx(fuel.bubble_temperature([101325.0, 77155.0]), abs=0.1)


def test_the_pump_inlet_is_the_weakest_station_of_a_return_layout(heron):
    result = margin_map(heron, "return", {"vapour_pressure": ["50 kPa", "62 kPa"], "altitude": [0.0, 1000.0]})
    least, where = result.weakest()
    assert set(where.ravel()) == {"pump_inlet"}
    assert np.all(least == result.limit["pump_inlet"])


# Kelvin of the trade (computed from AP-42, standard atmosphere): RVP 90 to 62 kPa +12.7 K; a 7 kPa cap +2.4 K; sea
# level to 2240 m -9.5 K.
def test_vapour_pressure_from_ninety_to_sixty_two_gains_about_thirteen_kelvin(heron):
    result = margin_map(heron, "return", {"vapour_pressure": ["62 kPa", "90 kPa"]}, ethanol=0.0)
    low, high = result.limit["pump_inlet"]
    assert low - high == pytest.approx(12.7, abs=1.5)


def test_a_cap_of_seven_kilopascal_gains_about_two_kelvin(heron):
    result = margin_map(heron, "return", {"vapour_space_pressure": [0.0, "7 kPa"]})
    assert np.diff(result.limit["pump_inlet"])[0] == pytest.approx(2.4, abs=0.5)


def test_two_thousand_metres_cost_about_nine_kelvin(heron):
    result = margin_map(heron, "return", {"altitude": [0.0, 2240.0]})
    assert np.diff(result.limit["pump_inlet"])[0] == pytest.approx(-9.5, abs=1.5)


def test_the_hottest_day_is_the_hottest_tank_less_its_rise_where_the_tank_decides(heron):
    tank = margin_map(heron, "return", {"altitude": [0.0]})
    air = margin_map(heron, "return", {"altitude": [0.0]}, limited="air_temperature", tank_rise="8 K")
    assert tank.limit["tank"][0] - air.limit["tank"][0] == pytest.approx(8.0, abs=0.1)


def test_axes_keep_their_order(heron):
    result = margin_map(heron, "return", {"altitude": [0.0, 1000.0, 2000.0], "vapour_pressure": [50e3, 70e3]})
    assert result.limit["rail"].shape == (3, 2)
    assert np.all(np.diff(result.limit["pump_inlet"], axis=0) < 0.0)
    assert np.all(np.diff(result.limit["pump_inlet"], axis=1) < 0.0)


def test_an_unknown_axis_names_the_nearest(heron):
    with pytest.raises(InputError, match="altitude"):
        margin_map(heron, "return", {"altitud": [0.0]})
