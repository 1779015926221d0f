"""What sun and road bring into the fuel of a tank, with pots and without."""

from __future__ import annotations

import pytest

import fuelsim as fs
from fuelsim.transients.drive import drive
from fuelsim.transients.schedule import Phase, Schedule


@pytest.mark.parametrize(("name", "layout"), [("finch", "return"), ("plover", "pot")])
@pytest.mark.parametrize(("key", "source"), [("tank.road_facing_area", "road"), ("tank.sunlit_area", "sun")])
def test_sun_and_road_warm_the_tank_s_fuel(name, layout, key, source):
    """Heat balance: their heat over m c, of which up to a sixth goes out again or into vapour; the sun's
    is area times 700 to 1000 W/m2 near noon, the road's sigma A (T_road^4 - T_floor^4) by the Stefan-Boltzmann law."""
    car = fs.Car.named(name).with_values(
        {"surroundings.underfloor_rise": 2.0, "surroundings.air_temperature": "25 degC"}
    )
    noon = Schedule.of([Phase(name="jam", duration="10 min", vehicle_speed="5 km/h")], start_time="12 h")
    plain, heated = (
        drive(car.with_values({key: area}), layout, noon, tank_temperature="20 degC", output_step="10 min")
        for area in (0.0, 0.6)
    )
    heat = getattr(heated.ledger, source)
    around = car.surroundings
    floor = around.air_temperature + 2.0
    flux = (
        around.solar_irradiance
        if source == "sun"
        else 5.67e-8 * ((around.air_temperature + around.road_rise) ** 4 - floor**4)
    )
    assert heat == pytest.approx(0.6 * flux * 600.0, rel=0.02)
    warmed = heated.tank_temperature[-1] - plain.tank_temperature[-1]
    assert warmed == pytest.approx(heat / (heated.fuel_mass[0] * 2.1e3), rel=0.2)
