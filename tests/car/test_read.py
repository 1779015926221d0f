"""Reading car files: round trip of the demo cars and one clear message for every wrong entry."""

from __future__ import annotations

import pytest

import fuelsim as fs
from fuelsim.data_files import data_path, names

DEMO = data_path("cars", "heron.toml").read_text(encoding="utf-8")


def read(tmp_path, text):
    path = tmp_path / "car.toml"
    path.write_text(text, encoding="utf-8")
    return fs.read_car(path)


@pytest.mark.parametrize("name", names("cars"))
def test_every_demo_car_reads_and_has_all_three_layouts_or_its_own(name):
    car = fs.Car.named(name)
    assert car.layouts() == (list(car.plumbing) or ["return", "returnless_tank", "returnless_bay"])


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('bore = "4.93 mm"', "", r"key 'return_line\.bore': missing key"),
        ('bore = "4.93 mm"', 'boer = "4.93 mm"', r"key 'return_line\.boer': unknown key.*did you mean 'bore'"),
        ('bore = "4.93 mm"', 'bore = "4.93 kPa"', r"key 'return_line\.bore': 'kPa' is not a unit of bore"),
        ('bore = "4.93 mm"', 'bore = "-4.93 mm"', r"key 'return_line\.bore': outside the plausible range"),
        ('bore = "4.93 mm"', "bore = 4.93", r"key 'return_line\.bore'.*write '4.93 mm'"),
        ('name = "summer_e10"', 'name = "sumer_e10"', r"key 'fuel\.name'.*did you mean 'summer_e10'"),
        ('reference = "manifold"', 'reference = "manifolt"', r"reference'.*did you mean 'manifold'"),
        ("count = 8", "count = 8.5", r"key 'injectors\.count': not a whole number"),
        ('fuel_volume = "35 L"', 'fuel_volume = "95 L"', r"key 'tank\.fuel_volume': more fuel than the tank holds"),
        ('"132 L/h", "122 L/h"', '"122 L/h", "132 L/h"', r"key 'pump\."),
    ],
)
def test_a_wrong_entry_gives_one_message_with_file_and_key(tmp_path, old, new, message):
    assert old in DEMO
    with pytest.raises(fs.InputError, match=message) as caught:
        read(tmp_path, DEMO.replace(old, new, 1))
    assert "car.toml" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_car_without_any_regulator_says_so(tmp_path):
    text = DEMO.split("[rail_regulator]")[0] + "[surroundings]" + DEMO.split("[surroundings]")[1]
    car = read(tmp_path, text)
    with pytest.raises(fs.InputError, match="no regulator for any layout"):
        fs.compare(car)
    with pytest.raises(fs.InputError, match=r"car\.toml.*needs \[rail_regulator\]"):
        car.system("return")


def test_an_external_pump_needs_a_suction_line(tmp_path):
    start, end = DEMO.index("[suction]"), DEMO.index("[pump]")
    with pytest.raises(fs.InputError, match="external pump needs a suction line"):
        read(tmp_path, DEMO[:start] + DEMO[end:])


def test_an_unreadable_file_is_one_message(tmp_path):
    (tmp_path / "car.toml").write_bytes(b"\xff\xfe\x00binary")
    with pytest.raises(fs.InputError, match="not text"):
        fs.read_car(tmp_path / "car.toml")
    with pytest.raises(fs.InputError, match="no such file"):
        fs.read_car(tmp_path / "none.toml")
    with pytest.raises(fs.InputError, match="not a TOML file"):
        read(tmp_path, "bore = = 3")


def test_an_unknown_layout_offers_the_nearest():
    with pytest.raises(fs.InputError, match="did you mean 'returnless_tank'"):
        fs.Car.named("finch").system("returnles_tank")


def test_with_values_reaches_into_tables_and_refuses_unknown_keys():
    car = fs.Car.named("heron").with_values({"feed.bore": "10 mm", "surroundings.air_temperature": "30 degC"})
    assert car.feed.bore == pytest.approx(0.010)
    assert car.surroundings.air_temperature == pytest.approx(303.15)
    with pytest.raises(fs.InputError, match=r"key 'feed\.boer'.*did you mean 'bore'"):
        car.with_values({"feed.boer": "10 mm"})


@pytest.mark.parametrize("line", ['name = "summer_e10"', 'vapour_pressure = "60 kPa"\nethanol = "10 %"'])
def test_the_activity_model_of_a_car_file_reaches_its_fuel_and_the_vapour_pressure_holds(tmp_path, line):
    text = DEMO.replace('name = "summer_e10"', f'{line}\nactivity_model = "dortmund"', 1)
    car = read(tmp_path, text)
    fuel = car.system("return").fuel
    assert fuel.activity_model == "dortmund"
    assert fuel.dvpe() == pytest.approx(60e3, abs=10.0)
    assert fs.read_car(fs.write_car(car, tmp_path / "again.toml")) == car
    with pytest.raises(fs.InputError, match=r"fuel\.activity_model'.*'dortmund'"):
        read(tmp_path, text.replace('"dortmund"', '"dortmunt"'))


def test_a_car_file_without_an_activity_model_has_original_unifac():
    assert fs.Car.named("heron").fuel.activity_model == "unifac"
    assert "activity_model" not in fs.Car.named("heron").to_toml()
