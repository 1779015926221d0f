"""A pump in hot fuel: the assumed form, a measured table over V/L or temperature, and superheat at its inlet."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import fuelsim as fs
from fuelsim.car.read import read_car
from fuelsim.car.write import car_text
from fuelsim.data_files import data_path, read_toml
from fuelsim.errors import InputError
from fuelsim.parts import catalogue_parts
from fuelsim.parts.pump.pump import Pump

RATIOS = np.linspace(0.0, 60.0, 601)


def hot(**ratings):
    return Pump.named("in_tank_220").with_values(ratings)


def test_a_pump_that_displaces_the_same_volume_is_met_between_and_beyond_two_rows():
    """A positive-displacement pump takes 1 + V/L volumes for each of liquid: 1/(1 + V/L), by the definition of V/L."""
    pump = hot(hot_vapour_liquid_ratio=[0.5, 2.0], hot_flow_share=[1 / 1.5, 1 / 3.0])
    assert pump.vapour_flow_share(RATIOS) == pytest.approx(1.0 / (1.0 + RATIOS), rel=1e-12)


@given(
    steps=st.lists(st.tuples(st.floats(0.01, 5.0), st.floats(0.05, 1.0)), min_size=1, max_size=8),
)
@settings(max_examples=50, deadline=None)
def test_any_falling_table_is_met_at_its_rows_and_falls_for_ever_without_reaching_nothing(steps):
    ratios = np.cumsum([step for step, _ in steps])
    shares = np.maximum(np.cumprod([factor for _, factor in steps]), 1e-3)
    pump = hot(hot_vapour_liquid_ratio=ratios, hot_flow_share=shares)
    assert pump.vapour_flow_share(ratios) == pytest.approx(shares, rel=1e-9)
    everywhere = pump.vapour_flow_share(RATIOS)
    assert everywhere[0] == 1.0
    assert np.all(np.diff(everywhere) <= 1e-15)
    assert np.all(everywhere > 0.0)
    beyond = ratios[-1] <= RATIOS
    volume = everywhere[beyond] * (1.0 + RATIOS[beyond])
    assert np.all(np.diff(volume) <= 1e-12), "beyond the table it gains on a pump of constant volume"


def test_without_a_table_the_assumed_form_stays():
    pump = Pump.named("in_tank_220")
    assert pump.vapour_flow_share(np.array([0.0, 1.0, 4.0])) == pytest.approx([1.0, 0.5, 0.1])


def test_a_table_over_temperature_is_one_over_vapour_by_the_fuel_of_the_test():
    """Flows made from rigorous flashes of the fuel, not from its tables: 1/(1 + V/L) comes back to 1 %."""
    fuel, pressure = fs.Fuel.named("summer_e10"), 95e3
    celsius = np.array([20.0, 40.0, 50.0, 55.0, 60.0, 65.0])
    ratio = np.array([float(fuel.vapour_liquid_ratio_after_drop(t + 273.15, pressure)) for t in celsius])
    pump = hot(
        hot_temperature=[f"{t} degC" for t in celsius],
        hot_flow_share=1.0 / (1.0 + ratio),
        hot_inlet_pressure="95 kPa absolute",
        hot_fuel="summer_e10",
        hot_flow_loss=0.0,
    )
    assert ratio[-1] > 3.0
    at = np.linspace(ratio[ratio > 0.0][0], ratio[-1], 50)
    assert pump.vapour_flow_share(at) == pytest.approx(1.0 / (1.0 + at), rel=0.01)


def test_what_thinner_fuel_takes_is_not_counted_twice():
    """Shares with and without the 5 % that thin fuel takes by 60 degC make the same table over V/L."""
    ratings = {
        "hot_temperature": ["20 degC", "60 degC"],
        "hot_inlet_pressure": "95 kPa absolute",
        "hot_vapour_pressure": "62 kPa",
    }
    with_loss = hot(**ratings, hot_flow_share=[1.0, 0.5 * 0.95], hot_flow_loss=0.05)
    without = hot(**ratings, hot_flow_share=[1.0, 0.5], hot_flow_loss=0.0)
    assert with_loss.vapour_flow_share(RATIOS) == pytest.approx(without.vapour_flow_share(RATIOS), rel=1e-12)


def test_a_table_says_where_the_flow_begins_to_collapse():
    """By hand: volume share 1 up to V/L 1, then a line in logarithms to 0.25 of the volume at V/L 3."""
    pump = hot(hot_vapour_liquid_ratio=[1.0, 3.0], hot_flow_share=[0.5, 0.0625])
    assert pump.tolerated_vapour == pytest.approx(2.0 * 2.0 ** (np.log(0.9) / np.log(0.25)) - 1.0)
    assert hot(vapour_tolerance=1.5).tolerated_vapour == 1.5


@pytest.mark.parametrize(
    ("ratings", "key"),
    [
        ({"hot_flow_share": [0.5]}, "hot_flow_share"),
        ({"hot_vapour_liquid_ratio": [0.5]}, "hot_vapour_liquid_ratio"),
        ({"hot_flow_share": [0.5, 0.6], "hot_vapour_liquid_ratio": [0.5, 1.0]}, "hot_flow_share"),
        ({"hot_flow_share": [0.9, 0.6], "hot_vapour_liquid_ratio": [0.0, 1.0]}, "hot_flow_share"),
        ({"hot_flow_share": [0.6, 0.5], "hot_vapour_liquid_ratio": [1.0, 1.0]}, "hot_vapour_liquid_ratio"),
        ({"hot_flow_share": [0.6], "hot_vapour_liquid_ratio": [1.0, 2.0]}, "hot_flow_share"),
        ({"hot_flow_share": [0.0], "hot_vapour_liquid_ratio": [1.0]}, "hot_flow_share"),
        ({"hot_flow_share": [1.0], "hot_vapour_liquid_ratio": [0.0]}, "hot_vapour_liquid_ratio"),
        ({"hot_flow_share": [1.0, 0.5], "hot_temperature": ["20 degC", "60 degC"]}, "hot_temperature"),
        ({"inlet_superheat": "8 K"}, "inlet_superheat"),
    ],
)
def test_a_table_that_is_not_whole_or_does_not_fall_is_refused(ratings, key):
    with pytest.raises(InputError, match=key):
        hot(**ratings)


def test_a_test_in_which_nothing_boils_is_refused():
    pump = hot(
        hot_temperature=["20 degC", "30 degC"],
        hot_flow_share=[1.0, 0.5],
        hot_inlet_pressure="95 kPa absolute",
        hot_fuel="summer_e10",
    )
    with pytest.raises(InputError, match="boils at none"):
        pump.vapour_flow_share(1.0)


def test_the_table_is_written_and_read_again(tmp_path):
    car = fs.Car.named("finch").with_values(
        {"pump.hot_vapour_liquid_ratio": [0.3, 1.0], "pump.hot_flow_share": ["70 %", "30 %"]}
    )
    path = tmp_path / "car.toml"
    path.write_text(car_text(car), encoding="utf-8")
    again = read_car(path)
    assert again.pump.vapour_flow_share(RATIOS) == pytest.approx(car.pump.vapour_flow_share(RATIOS), rel=1e-6)


HOT = {"rpm": 2500.0, "load": 0.3, "tank_temperature": "56 degC"}


def test_a_catalogue_entry_may_hold_the_table(monkeypatch):
    """An entry of the file with a table over temperature beside its bench rows; the fuel of the test by name."""
    entries = read_toml(data_path("catalogue", "pumps.toml"))
    table = {
        "hot_temperature": ["20 degC", "60 degC", "70 degC"],
        "hot_flow_share": ["100 %", "60 %", "20 %"],
        "hot_inlet_pressure": "95 kPa absolute",
        "hot_fuel": "summer_e10",
    }
    monkeypatch.setattr(catalogue_parts, "read_toml", lambda path: {"tested": entries["in_tank_220"] | table})
    monkeypatch.setattr(catalogue_parts, "_entries", catalogue_parts._entries.__wrapped__)
    pump = Pump.named("tested")
    by_hand = Pump.named("tested").with_values(table)
    assert pump.hot_flow_share == pytest.approx([1.0, 0.6, 0.2])
    assert float(pump.vapour_flow_share(50.0)) < 0.2 < float(pump.vapour_flow_share(0.1))
    assert pump.vapour_flow_share(1.0) == by_hand.vapour_flow_share(1.0)


def test_a_running_pump_and_a_run_lose_what_the_table_says():
    pump = hot(hot_vapour_liquid_ratio=[0.05, 1.0], hot_flow_share=["60 %", "20 %"])
    assert pump.at(vapour_liquid_ratio=0.05).flow("3 bar") == pytest.approx(0.6 * pump.at().flow("3 bar"))
    run = dataclasses.replace(fs.Car.named("finch"), pump=pump).system("return").solve(**HOT)
    ratio = run.vapour_liquid_ratio["pump_inlet"]
    assert ratio > 0.02
    assert run.pump_flow_lost == pytest.approx(1.0 - pump.vapour_flow_share(ratio))


def test_superheat_moves_the_vapour_at_the_inlet_by_as_many_kelvin():
    """Fuel that boils 2 K later at the inlet holds there what fuel 2 K colder holds without superheat."""
    car = fs.Car.named("finch")
    late = car.with_values({"pump.inlet_superheat": "2 K"}).system("return").solve(**HOT)
    colder = car.system("return").solve(**(HOT | {"tank_temperature": "54 degC"}))
    assert late.vapour_liquid_ratio["pump_inlet"] == pytest.approx(colder.vapour_liquid_ratio["pump_inlet"], rel=0.02)


def test_tolerance_and_superheat_as_lists_give_what_each_value_gives_alone():
    tolerance, superheat = [0.3, 0.6, 1.0], ["0 K", "2 K", "5 K"]
    car = fs.Car.named("heron")
    conditions = {"rpm": [1500.0, 2500.0, 3500.0], "load": 0.4, "tank_temperature": "55 degC"}
    keys = ("pump.vapour_tolerance", "pump.inlet_superheat")
    together = (
        car.with_values(dict(zip(keys, (tolerance, superheat), strict=True))).system("return").solve(**conditions)
    )
    for point, values in enumerate(zip(tolerance, superheat, strict=True)):
        alone = car.with_values(dict(zip(keys, values, strict=True))).system("return")
        run = alone.solve(**(conditions | {"rpm": conditions["rpm"][point]}))
        assert together.flow["pump"][point] == pytest.approx(run.flow["pump"], rel=1e-6)
        assert together.over_vapour_limit["pump"][point] == run.over_vapour_limit["pump"]
