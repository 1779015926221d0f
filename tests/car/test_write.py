"""Read, write, read gives an equal car, in units a person would choose."""

from __future__ import annotations

import copy
import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import fuelsim as fs
from fuelsim.__main__ import main
from fuelsim.car.car import Car
from fuelsim.car.floor_plan import Plan
from fuelsim.car.write import write_car, written
from fuelsim.data_files import names
from fuelsim.declaration import declarations
from fuelsim.kinds import KINDS
from fuelsim.units import convert


@pytest.mark.parametrize("name", names("cars"))
def test_read_write_read_gives_an_equal_car(name, tmp_path):
    car = fs.Car.named(name)
    path = write_car(car, tmp_path / "car.toml")
    again = fs.read_car(path)
    assert again == car
    assert hash(again) == hash(car)
    assert again.to_toml() == car.to_toml()


def test_a_changed_car_is_not_equal_and_round_trips_too(tmp_path):
    car = fs.Car.named("heron")
    changed = car.with_values(
        {
            "feed.bore": "3/8 in",
            "rail_regulator.set_pressure": "58 psi",
            "pump.flow": np.array([140.0, 131.0, 121.0, 110.0]) / 3.6e6,
            "surroundings.air_temperature": "109.4 degF",
            "tank.fuel_volume": 1.0 / 30.0,
            "about": 'quotes " and \\ and # and [pump]',
        }
    ).with_plan(Plan(tank_length="0.8 m"))
    assert changed != car
    assert fs.read_car(write_car(changed, tmp_path / "car.toml")) == changed


def test_units_are_those_a_person_would_choose():
    text = fs.Car.named("heron").with_values({"rail_regulator.set_pressure": "58 psi"}).to_toml()
    for line in (
        'displacement = "4.9 L"',
        'bore = "6.52 mm"',
        'flow = ["141 L/h", "132 L/h", "122 L/h", "111 L/h"]',
        'set_pressure = "58 psi"',
        'air_temperature = "43 degC"',
        'size = "16 AWG"',
    ):
        assert line in text


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.sampled_from(sorted(KINDS)), st.floats(1e-9, 1e9))
def test_every_number_of_every_kind_reads_back_exactly(kind, value):
    from fuelsim.declaration import Declaration

    text = written(value, Declaration("quantity", "", kind=kind))
    assert convert(text, kind) == value


def test_nothing_is_overwritten_without_being_told(tmp_path):
    path = tmp_path / "car.toml"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(fs.InputError, match="there already"):
        write_car(fs.Car.named("finch"), path)
    assert path.read_text(encoding="utf-8") == "mine"
    write_car(fs.Car.named("finch"), path, overwrite=True)
    assert fs.read_car(path).name == "Finch"
    with pytest.raises(fs.InputError, match="cannot be written"):
        write_car(fs.Car.named("finch"), tmp_path, overwrite=True)


def test_a_list_over_operating_points_is_no_car_file():
    with pytest.raises(fs.InputError, match=r"feed\.bore': a car file holds one car"):
        fs.Car.named("finch").with_values({"feed.bore": ["6 mm", "8 mm"]}).to_toml()


def test_an_equal_car_solves_equally(tmp_path):
    car = fs.Car.named("finch")
    again = fs.read_car(write_car(car, tmp_path / "car.toml"))
    one, other = (each.system("return").solve(rpm=[1000, 6000]) for each in (car, again))
    assert one.pressure["rail"].tolist() == other.pressure["rail"].tolist()


def test_cars_can_be_keys():
    car = fs.Car.named("finch")
    assert {car: 1}[copy.deepcopy(car)] == 1
    assert "file" in {field.name for field in Car.__dataclass_fields__.values()} - set(declarations(Car))


def test_references_to_generic_parts_are_kept_with_what_was_changed_since(tmp_path):
    main(["new", str(tmp_path / "new.toml"), "--climate", "phoenix"])
    car = fs.read_car(tmp_path / "new.toml")
    changed = car.with_values({"pump.relief_pressure": "720 kPa", "feed.bore": "9 mm", "rail.bore": "12 mm"})
    text = changed.to_toml()
    for line in (
        'catalogue = "in_tank_130"',
        'relief_pressure = "720 kPa"',
        'catalogue = "steel_tube 3/8 in"',
        'bore = "9 mm"',
        'catalogue = "phoenix"',
    ):
        assert line in text.splitlines()
    assert "roughness" not in text
    again = fs.read_car(write_car(changed, tmp_path / "again.toml"))
    assert again == changed
    assert again.pump.catalogue == "in_tank_130"
    assert again.to_toml() == text


def test_a_pump_by_name_is_written_as_a_reference_unless_a_rating_was_taken_away(tmp_path):
    car = dataclasses.replace(fs.Car.named("finch"), pump=fs.Pump.named("in_tank_220"))
    assert 'catalogue = "in_tank_220"' in car.to_toml()
    bare = car.with_values({"pump.relief_pressure": None})
    assert "catalogue" not in bare.to_toml()
    assert fs.read_car(write_car(bare, tmp_path / "car.toml")) == bare
