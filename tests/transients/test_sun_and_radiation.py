"""Sun over the day, and what a tank absorbs from sun and road."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

import fuelsim as fs
from fuelsim.transients.radiation import onto_tank
from fuelsim.transients.sun import clear_sky_irradiance, sun_over_noon

STEFAN_BOLTZMANN = 5.670374419e-8


def test_a_clear_sky_by_haurwitz_falls_faster_than_the_sine_and_night_is_dark():
    """1098 s exp(-0.059/s), worked out by hand [haurwitz_1945]: 1035, 888 and 488 W/m2 at 0, 30 and 60 degrees from
    the zenith."""
    sines = np.array([1.0, np.sqrt(0.75), 0.5, 0.0, -0.5])
    assert clear_sky_irradiance(sines) == pytest.approx([1035.1, 888.3, 487.9, 0.0, 0.0], abs=0.1)


def test_the_sun_stands_at_the_hour_angle_of_its_time_of_day():
    """At 30 degrees north with a declination of 20 degrees: sin h = 0.171 + 0.814 cos(15 degrees an hour), by hand:
    0.985 at noon, 0.578 at 8 h; over that of noon by Haurwitz 0.562."""
    noon, eight = 0.1710 + 0.8138, 0.1710 + 0.8138 * 0.5
    ratio = eight * np.exp(-0.059 / eight) / (noon * np.exp(-0.059 / noon))
    hours = np.array([12.0, 8.0, 16.0, 0.0, 32.0])
    assert sun_over_noon(hours * 3600.0) == pytest.approx([1.0, ratio, ratio, 0.0, ratio], abs=2e-4)
    light = np.flatnonzero(sun_over_noon(np.arange(0.0, 86400.0, 60.0)) > 1e-6)
    # cos H = -tan 30 tan 20: 102.1 degrees, 13.6 h of day; in its last minutes a clear sky gives nothing.
    assert len(light) / 60.0 == pytest.approx(13.6, abs=0.2)


def test_a_summer_day_gives_two_thirds_of_noon_s_sun_over_its_light():
    """Judge: quadrature of Haurwitz's law over the hour angle, by scipy."""

    def irradiance(angle):
        sine = np.sin(np.radians(30.0)) * np.sin(np.radians(20.0))
        sine += np.cos(np.radians(30.0)) * np.cos(np.radians(20.0)) * np.cos(angle)
        return 1098.0 * sine * np.exp(-0.059 / sine) if sine > 1e-4 else 0.0

    share = quad(irradiance, -np.pi, np.pi, limit=400)[0] / (2.0 * np.pi) / irradiance(0.0)
    assert float(np.mean(sun_over_noon(np.arange(0.0, 86400.0, 20.0)))) == pytest.approx(share, rel=1e-3)


@pytest.fixture(scope="module")
def car():
    return fs.Car.named("finch").with_values(
        {
            "tank.sunlit_area": "0.1 m2",
            "tank.road_facing_area": "0.4 m2",
            "surroundings.solar_irradiance": "900 W/m2",
            "surroundings.road_rise": "25 K",
            "surroundings.parked_road_rise": "12 K",
        }
    )


@pytest.mark.parametrize("sun", [0.0, 0.5, 1.0])
@pytest.mark.parametrize(("parked", "rise"), [(False, 25.0), (True, 12.0)])
def test_a_tank_absorbs_area_times_irradiance_and_what_the_road_radiates_beyond_the_floor_s_air(car, sun, parked, rise):
    """A G, and sigma A (T_road^4 - T_floor^4) (Stefan and Boltzmann), with the road's rise following the sun."""
    heat = onto_tank(car, sun, parked=parked, air_temperature=300.0, underfloor_temperature=302.0)
    assert float(heat.sun) == pytest.approx(0.1 * 900.0 * sun)
    road = 300.0 + sun * rise
    expected = STEFAN_BOLTZMANN * 0.4 * (road**4 - 302.0**4) if road > 302.0 else 0.0
    assert float(heat.road) == pytest.approx(expected, rel=1e-6)


def test_heat_of_many_moments_is_that_of_each(car):
    heat = onto_tank(
        car,
        np.array([0.2, 1.0]),
        parked=False,
        air_temperature=np.array([300.0, 310.0]),
        underfloor_temperature=np.array([301.0, 312.0]),
    )
    last = onto_tank(car, 1.0, parked=False, air_temperature=310.0, underfloor_temperature=312.0)
    assert np.asarray(heat.road)[1] == pytest.approx(float(last.road))
    assert np.asarray(heat.sun).tolist() == pytest.approx([18.0, 90.0])
