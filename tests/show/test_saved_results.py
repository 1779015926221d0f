"""A result that is saved comes back equal, and the file says what it was made from."""

import json
import tomllib

import pytest

import fuelsim as fs
from fuelsim.show.saved_results import FILE_VERSION
from fuelsim.shown import Shown, same_content
from tests.test_shown import objects

RESULTS = {name: item for name, item in objects().items() if isinstance(item, Shown) or "FindingList" in name}


@pytest.mark.parametrize("name", RESULTS)
def test_every_result_comes_back_equal_and_is_saved_the_same_again(name, tmp_path):
    result = RESULTS[name]
    again = fs.load(result.save(tmp_path / "one.json"))
    assert type(again) is type(result)
    assert again == result
    assert repr(again) == repr(result)
    again.save(tmp_path / "two.json")
    assert (tmp_path / "two.json").read_bytes() == (tmp_path / "one.json").read_bytes()


@pytest.fixture(scope="module")
def saved(tmp_path_factory):
    path = tmp_path_factory.mktemp("results") / "run.json"
    car = fs.Car.named("finch").with_values({"feed.bore": "7 mm"})
    run = car.system("return").solve(rpm=[1000, 6000], altitude="1200 m")
    run.save(path)
    return run, path, json.loads(path.read_text())


def test_the_file_says_version_inputs_and_car(saved):
    run, _, document = saved
    assert document["fuelsim"] == fs.__version__
    assert document["file_version"] == FILE_VERSION
    assert document["result"] == "Run"
    assert document["headline"] == run.headline
    assert document["made_by"] == "System.solve"
    assert document["arguments"]["rpm"] == [1000, 6000]
    assert document["arguments"]["altitude"] == "1200 m"
    assert tomllib.loads(document["car"])["feed"]["bore"] == "7 mm"


def test_the_car_in_the_file_is_a_car_file_that_gives_the_result_again(saved, tmp_path):
    run, _, document = saved
    (tmp_path / "car.toml").write_text(document["car"])
    arguments = fs.load(saved[1]).made_by.arguments
    system = fs.read_car(tmp_path / "car.toml").system(arguments["system"].layout)
    again = system.solve(rpm=arguments["rpm"], altitude=arguments["altitude"])
    assert again.gauge_pressure["rail"] == pytest.approx(run.gauge_pressure["rail"], rel=1e-12)


def test_what_was_loaded_goes_on_working(saved):
    again = fs.load(saved[1])
    assert again.table().equals(saved[0].table())
    assert same_content(again.second_state, saved[0].second_state)
    assert "<p>" in again._repr_html_()


def test_the_inputs_of_a_study_are_kept_without_its_functions():
    car = fs.Car.named("finch")
    soak = fs.hot_soak(car, "return", duration="10 min")
    assert soak.made_by.function == "hot_soak"
    assert soak.made_by.arguments == {"car": car, "layout": "return", "duration": 600.0}
    assert list(fs.over_bands(car, [], lambda car: 1.0, kind="number").made_by.arguments) == ["car", "inputs", "kind"]


def test_values_of_other_libraries_are_kept_as_numbers(tmp_path):
    pd = pytest.importorskip("pandas")
    system = fs.Car.named("finch").system("return")
    run = system.solve(rpm=pd.Series([1000.0, 6000.0]))
    assert fs.load(run.save(tmp_path / "run.json")).made_by.arguments["rpm"].tolist() == [1000.0, 6000.0]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"file_version": 99, "fuelsim": "9.9.0"}, "saved in another form, by version 9.9.0 of fuelsim"),
        ({"file": "recipe"}, "not a saved result"),
        ({"content": {"kind": "object", "class": "system.results.Run"}}, "other fields"),
        ({"content": {"kind": "object", "class": "pathlib.Path"}}, "no class of results"),
        ({"content": {"kind": "object", "class": "cli.size.Work"}}, "no class of results"),
        ({"content": {"kind": "object", "class": "output_files.write_files"}}, "no class of results"),
        ({"content": {"kind": "spell"}}, "no kind of value"),
        ({"content": {"kind": "again", "of": 7}}, "damaged file"),
        ({"content": {"kind": "array", "type": "float64", "shape": [10**12], "values": []}}, "damaged file"),
        ({"content": {"kind": "mapping", "values": {}}}, "not a result"),
        ({"content": None}, "not a result"),
    ],
)
def test_a_file_that_is_no_result_gets_one_message(saved, tmp_path, change, message):
    path = tmp_path / "odd.json"
    path.write_text(json.dumps(saved[2] | change))
    with pytest.raises(fs.InputError, match=message) as caught:
        fs.load(path)
    assert "\n" not in str(caught.value)
    assert str(path) in str(caught.value)


@pytest.mark.parametrize("text", ["", "{", "[" * 100_000, "name = 'finch'", "[1, 2]"])
def test_a_file_that_is_no_json_gets_one_message(text, tmp_path):
    path = tmp_path / "odd.json"
    path.write_text(text)
    with pytest.raises(fs.InputError, match=r"JSON|not a saved result"):
        fs.load(path)


def test_a_result_of_another_version_with_other_fields_names_both_versions(saved, tmp_path):
    document = json.loads(json.dumps(saved[2])) | {"fuelsim": "0.0.1"}
    del document["content"][".trim"]
    path = tmp_path / "old.json"
    path.write_text(json.dumps(document))
    with pytest.raises(fs.InputError, match=rf"version 0\.0\.1 of fuelsim, this is {fs.__version__}.*trim"):
        fs.load(path)
