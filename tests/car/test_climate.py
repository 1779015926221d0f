"""Hot days of named places."""

from __future__ import annotations

import fluids
import numpy as np
import pytest

from fuelsim.car.climate import Climate, hot_day, places
from fuelsim.errors import InputError

# ASHRAE 0.4 % annual design dry-bulb temperatures, degC, and altitudes, m (public design-day files of 2009).
PUBLISHED = {
    "kuwait": 47.9,
    "abu_dhabi": 44.9,
    "riyadh": 44.2,
    "phoenix": 43.4,
    "las_vegas": 42.4,
    "delhi": 42.0,
    "seville": 39.9,
    "bangkok": 37.2,
    "paris": 30.9,
    "london": 27.2,
}
PUBLISHED_ALTITUDE = {"riyadh": 612, "alice_springs": 550, "denver": 1650, "mexico_city": 2240, "johannesburg": 1700}


def test_design_temperatures_and_altitudes_are_the_published_ones():
    for name, celsius in PUBLISHED.items():
        assert hot_day(name).design_temperature - 273.15 == pytest.approx(celsius)
    for name, altitude in PUBLISHED_ALTITUDE.items():
        assert hot_day(name).altitude == altitude


def test_at_least_twenty_places_are_known_the_hottest_first():
    known = places()
    assert len(known) >= 20
    assert known[0] == "kuwait"


@pytest.mark.parametrize("name", places())
def test_the_day_reaches_its_design_temperature_in_the_afternoon_and_falls_by_its_range(name):
    day = hot_day(name)
    hours = np.arange(0.0, 24.0, 0.25)
    air = day.air_temperature(hours * 3600.0)
    assert air.max() == pytest.approx(day.design_temperature)
    assert np.ptp(air) == pytest.approx(day.daily_range)
    assert 13.0 <= hours[np.argmax(air)] <= 16.0
    assert 3.0 <= hours[np.argmin(air)] <= 7.0


def test_days_repeat_without_a_jump():
    day = hot_day("phoenix")
    assert day.air_temperature("24 h") == pytest.approx(day.air_temperature(0.0))
    around = day.air_temperature(np.linspace(-600.0, 600.0, 25))
    assert np.abs(np.diff(around)).max() < 0.05


def test_pressure_is_that_of_the_standard_atmosphere():
    """Source: US Standard Atmosphere 1976 as in ``fluids.ATMOSPHERE_1976``."""
    for name in ("kuwait", "denver", "mexico_city"):
        day = hot_day(name)
        assert day.pressure == pytest.approx(fluids.ATMOSPHERE_1976(day.altitude).P, rel=1e-3)


def test_a_mistyped_place_names_the_nearest():
    with pytest.raises(InputError, match="did you mean 'phoenix'"):
        hot_day("pheonix")


def test_an_own_climate_takes_units():
    own = Climate(design_temperature="95 degF", altitude="1000 ft", daily_range="20 delta_degF")
    assert own.design_temperature == pytest.approx(308.15)
    assert own.daily_range == pytest.approx(100.0 / 9.0)
