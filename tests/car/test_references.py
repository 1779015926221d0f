"""Tables of a car file that take their ratings from a generic part, and keys that override them."""

from __future__ import annotations

import tomllib

import jsonschema
import pytest

import fuelsim as fs
from fuelsim.car.car import Car
from fuelsim.car.read import car_schema, origins, read_table
from fuelsim.car.references import catalogue_section, generic_parts
from fuelsim.data_files import data_path, names
from fuelsim.parts.catalogue_parts import catalogue_entry
from fuelsim.parts.pump.pump import Pump

DEMO = tomllib.loads(data_path("cars", "heron.toml").read_text(encoding="utf-8"))
REFERABLE = {
    "anti_siphon",
    "check_valve",
    "engine",
    "strainer",
    "pump",
    "wire",
    "filter",
    "feed",
    "injectors",
    "suction",
    "return_line",
    "bay_line",
    "rail_regulator",
    "tank_regulator",
    "bay_regulator",
    "surroundings",
}


def with_tables(**tables):
    return {**DEMO, **tables}


def part_of(table):
    from fuelsim.declaration import declarations

    return declarations(Car)[table].part


def test_every_table_whose_parts_stand_in_the_catalogue_can_refer_to_them():
    from fuelsim.declaration import declarations

    assert {name for name, found in declarations(Car).items() if found.part and generic_parts(found.part)} == REFERABLE


@pytest.mark.parametrize(
    ("table", "name"), [(table, name) for table in sorted(REFERABLE) for name in generic_parts(part_of(table))]
)
def test_every_generic_part_reads_in_every_table_that_may_refer_to_it(table, name):
    needed = {"injectors": {"count": 8}, "feed": {"length": "3 m"}}
    needed |= {key: {"length": "3 m"} for key in ("suction", "return_line", "bay_line")}
    part = read_table(part_of(table), {"catalogue": name, **needed.get(table, {})})
    for key, value in catalogue_section(part_of(table)).ratings(name).items():
        assert getattr(part, key) is not None, value


def test_a_pump_from_the_catalogue_is_that_pump_and_keys_override_it():
    car = read_table(Car, with_tables(pump={"catalogue": "in_tank_220", "mounting": "external"}))
    assert car.pump.flow.tolist() == Pump.named("in_tank_220").flow.tolist()
    assert car.pump.mounting == "external"
    car = read_table(Car, with_tables(pump={"catalogue": "external_roller", "relief_pressure": "7 bar"}))
    assert car.pump.relief_pressure == pytest.approx(700e3)


@pytest.mark.parametrize(
    ("name", "millimetres", "material"),
    # True bores: 5/16 in tube of 0.028 in wall, computed; dash sizes by family, from memory.
    [("steel_tube 5/16 in", 6.52, "steel"), ("braided_ptfe -6", 7.9, "ptfe"), ("push_on_6", 9.5, "rubber")],
)
def test_lines_by_family_and_size_have_their_true_bore(name, millimetres, material):
    feed = read_table(Car, with_tables(feed={"catalogue": name, "length": "3 m"})).feed
    assert feed.bore * 1e3 == pytest.approx(millimetres, abs=0.01)
    assert feed.material == material


def test_a_size_that_families_share_is_refused_with_the_bore_in_each():
    with pytest.raises(fs.InputError, match=r"feed\.catalogue.*another bore in each family.*7\.90 mm.*9\.50 mm"):
        read_table(Car, with_tables(feed={"catalogue": "-6", "length": "3 m"}))


def test_the_number_of_injectors_is_never_taken_from_the_catalogue():
    with pytest.raises(fs.InputError, match=r"injectors\.count': missing key"):
        read_table(Car, with_tables(injectors={"catalogue": "size_250"}))
    assert read_table(Car, with_tables(injectors={"catalogue": "size_250", "count": 4})).injectors.count == 4
    with pytest.raises(fs.InputError, match=r"injectors\.count': missing key"):
        read_table(Car, with_tables(injectors={"static_flow": "250 mL/min"}))


def test_a_climate_brings_its_hot_day_and_its_altitude_to_the_run():
    car = read_table(Car, with_tables(surroundings={"catalogue": "mexico_city"}))
    assert car.surroundings.altitude == pytest.approx(2240.0)
    run = car.system("return").solve(rpm=3000.0)
    # US Standard Atmosphere: 77.2 kPa at 2240 m.
    assert run.pressure["tank"] == pytest.approx(77.2e3, rel=0.002)
    assert car.system("return").solve(rpm=3000.0, altitude=0.0).pressure["tank"] == pytest.approx(101325.0)


@pytest.mark.parametrize(
    ("table", "values", "said"),
    [
        (
            "pump",
            {"catalogue": "in_tank_222"},
            r"pump\.catalogue.*data/catalogue/pumps\.toml.*did you mean 'in_tank_220'",
        ),
        ("surroundings", {"catalogue": "phenix"}, r"surroundings\.catalogue.*did you mean 'phoenix'"),
        ("feed", {"catalogue": "steel_tube_8mm", "length": 3.0}, r"feed\.catalogue.*did you mean 'steel_tube_8_mm'"),
        ("rail", {"catalogue": "x", "length": 0.4, "bore": 0.01}, r"rail\.catalogue': unknown key"),
        ("pump", {"catalogue": "in_tank_220", "flow": ["1 L/h"]}, r"pump\.pressure.*12 values, but 1.*in_tank_220"),
        ("wire", {"catalogue": 14}, r"wire\.catalogue.*given 14"),
    ],
)
def test_a_wrong_reference_is_one_message_with_the_nearest_name(table, values, said):
    with pytest.raises(fs.InputError, match=said):
        read_table(Car, with_tables(**{table: values}))


def test_origins_tell_file_catalogue_and_default_apart():
    found = origins(with_tables(pump={"catalogue": "in_tank_220", "mounting": "external"}))
    assert found["pump.flow"] == "catalogue in_tank_220"
    assert found["pump.mounting"] == "file"
    assert "pump.hot_flow_loss" not in found
    assert found["name"] == "file"


def test_the_schema_of_a_car_file_knows_references():
    schema = car_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    for name in names("cars"):
        validator.validate(tomllib.loads(data_path("cars", f"{name}.toml").read_text(encoding="utf-8")))
    validator.validate(with_tables(pump={"catalogue": "in_tank_220"}))
    assert "in_tank_220" in schema["$defs"]["Pump"]["properties"]["catalogue"]["examples"]
    assert not validator.is_valid(with_tables(rail={"catalogue": "x", "length": 0.4, "bore": 0.01}))
    assert not validator.is_valid(with_tables(tank={**DEMO["tank"], "depth": ["0.2 m"]}))


def test_the_label_of_a_generic_part_stays_reachable():
    assert catalogue_entry("pumps", "in_tank_220").label == "typical"
