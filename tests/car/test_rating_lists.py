"""Ratings on the batch axis: a list of bores gives what each car alone gives."""

import numpy as np
import pytest

import fuelsim as fs

VARIED = {
    "suction.bore": ["5 mm", "6.52 mm", "8 mm"],
    "feed.bore": ["5 mm", "6.52 mm", "8 mm"],
    "return_line.bore": ["6 mm", "7 mm", "8 mm"],
    "wire.other": ["0 ohm", "0.1 ohm", "0.2 ohm"],
    "filter.rated_drop": ["8 kPa", "12 kPa", "16 kPa"],
    "injectors.static_flow": ["250 mL/min", "270 mL/min", "300 mL/min"],
    "rail_regulator.set_pressure": ["250 kPa", "300 kPa", "310 kPa"],
    "bay_regulator.droop": ["0.05 kPa h/L", "0.08 kPa h/L", "0.2 kPa h/L"],
}


@pytest.fixture(scope="module")
def car():
    # Without a given conductance films and walls decide, which feel the bore too.
    return fs.Car.named("heron").with_values({"feed.heat_conductance": None, "suction.heat_conductance": None})


@pytest.mark.parametrize("layout", ["return", "returnless_tank", "returnless_bay"])
def test_a_list_of_ratings_gives_what_each_car_alone_gives(car, layout):
    grid = {"rpm": [800, 5400], "tank_temperature": "50 degC", "filter_clogging": 4.0}
    many = car.with_values(VARIED).system(layout).solve(fs.Conditions.grid(**grid, pump_wear=[0.0, 0.1, 0.2]))
    for column, wear in enumerate((0.0, 0.1, 0.2)):
        alone = car.with_values({key: values[column] for key, values in VARIED.items()}).system(layout)
        one = alone.solve(fs.Conditions.grid(**grid, pump_wear=wear))
        for group in ("pressure", "flow", "temperature", "vapour_margin", "vapour_liquid_ratio"):
            for name, values in getattr(one, group).items():
                # The coupling stops at 1 mK and 1e-4 of vapour, wherever it started.
                found = getattr(many, group)[name][:, column]
                assert np.allclose(found, values, rtol=2e-5, atol=2e-4, equal_nan=True), (group, name)
        assert np.allclose(many.injector_duty[:, column], one.injector_duty, rtol=1e-5)


def test_lists_of_ratings_make_operating_points_of_one_speed(car):
    run = car.with_values({"feed.bore": ["5 mm", "8 mm"]}).system("return").solve(rpm=5400)
    assert run.gauge_pressure["rail"].shape == (2,)
    assert run.flow["regulator"][0] < run.flow["regulator"][1]
    assert len(run.table()) == 2


def test_lists_that_do_not_broadcast_are_refused_with_both_shapes(car):
    many = car.with_values({"feed.bore": ["5 mm", "8 mm"]}).system("return")
    with pytest.raises(fs.InputError, match=r"\(2,\).*\(3,\)"):
        many.solve(rpm=[1000, 2000, 3000])
    with pytest.raises(fs.InputError, match=r"suction\.bore.*2 values, but 3 for feed\.bore"):
        car.with_values({"suction.bore": ["5 mm", "8 mm"], "feed.bore": [5e-3, 6e-3, 7e-3]}).system("return").solve(
            rpm=1000
        )


def test_a_list_where_one_value_is_wanted_names_the_key(car):
    with pytest.raises(fs.InputError, match=r"surroundings.road_rise.*one value"):
        car.with_values({"surroundings.road_rise": ["20 K", "30 K"]}).system("return").solve(rpm=1000)


def test_a_worn_pump_loses_bypass_and_a_clogged_filter_loses_pressure_before_it(car):
    system = car.system("return")
    fresh, worn, clogged = (
        system.solve(fs.Conditions(rpm=2000, pump_wear=wear, filter_clogging=clogging))
        for wear, clogging in ((0.0, None), (0.2, None), (0.0, 8.0))
    )
    assert worn.bypass_flow < fresh.bypass_flow
    drop = [float(run.pressure["pump_outlet"] - run.pressure["filter_outlet"]) for run in (fresh, clogged)]
    assert drop[1] > 5.0 * drop[0]
