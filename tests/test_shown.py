"""Every public object shows itself in one line and in a short piece of HTML, and compares and pickles."""

import pickle
import re
from enum import Enum
from functools import cache

import numpy as np
import public_values
import pytest

import fuelsim as fs
from fuelsim.shown import LONGEST_HTML, Shown, cut_short, html_of, same_content

LONGEST_REPR, MOST_HTML = 400, 20_000


@cache
def objects():
    car = fs.Car.named("finch")
    system = car.system("return")
    run = system.solve(rpm=np.linspace(1000.0, 6000.0, 60))
    jam = fs.Schedule.of([fs.typical_phase("jam", "10 min", car)])
    net = fs.Network()
    net.add_reservoir("tank", "110 kPa")
    net.add_reservoir("outlet", "100 kPa")
    net.connect("tank", "outlet", fs.Line(length=1.0, bore=0.006), name="feed")
    at_idle = fs.Conditions(rpm=800, load=0.0)
    found = [
        car,
        fs.Car.named("heron"),
        system,
        run,
        run.by_rail["rail"],
        run.outcome,
        run.conditions,
        fs.compare(car, rpm=[1000, 6000], tank_temperature=["20 degC", "40 degC"]),
        fs.assess(system),
        fs.findings(system),
        fs.sensitivity(system, rpm=6000),
        fs.what_if(system, {"worn": {"pump_wear": 0.1}}, rpm=6000),
        fs.split_drop(system, run),
        fs.remedies(car, "return"),
        fs.hot_soak(car, "return", duration="20 min"),
        fs.leak_down(car, "return", duration="20 min"),
        fs.drive(car, "return", jam),
        fs.tank_difference(car, jam, inputs=[]),
        fs.hand_over(car),
        fs.lock_temperatures(car, "return", at_idle),
        fs.uncertainty(system, conditions=fs.Conditions(rpm=3000), samples=32, progress=False),
        fs.can_stay(car, "return", "return_line"),
        fs.power_of_pump(fs.Pump.named("in_tank_220"), "300 kPa"),
        fs.line_for_loss("20 kPa", "150 L/h", "3 m"),
        fs.permeation(car, "return"),
        fs.boot_hole(car, "return", "2 mm", "80 mm"),
        fs.margin_map(car, "return", {"altitude": [0.0, 2000.0]}),
        fs.cold_start(car, "return", ["0 degC"]),
        fs.size(car, candidates={"wire": ["awg_12", "awg_10"]}),
        fs.over_bands(car, fs.band_inputs(car)[:1], lambda car: car.feed.bore, kind="length"),
        fs.manoeuvre(fs.Car.named("heron"), "braking", "0.5 g") if fs.Car.named("heron").plan else jam,
        fs.Fuel.petrol("60 kPa"),
        net.solve(fs.Liquid(density=740.0, kinematic_viscosity=0.6e-6)),
        jam,
        jam.phases[0],
        fs.Requirements(),
        fs.hot_day("phoenix"),
        *(getattr(car, name) for name in ("engine", "pump", "feed", "rail", "tank", "injectors", "wire", "filter")),
    ]
    return {f"{number} {type(item).__name__}": item for number, item in enumerate(found)}


def test_every_object_shows_itself_in_one_short_line():
    for name, item in objects().items():
        line = repr(item)
        assert "\n" not in line, name
        assert len(line) < LONGEST_REPR, name
        assert " at 0x" not in line, name


def test_every_class_that_shows_itself_says_something_of_its_own():
    objects()
    for kind in Shown.__subclasses__():
        assert kind.headline is not Shown.headline, kind


def test_every_object_shows_itself_in_a_notebook_in_a_few_kilobytes():
    for name, item in objects().items():
        page = item._repr_html_()
        assert page.startswith("<p>"), name
        assert len(page) < MOST_HTML, name


def test_every_object_equals_itself_after_pickling():
    for name, item in objects().items():
        again = pickle.loads(pickle.dumps(item))
        assert again == item, name


def test_results_of_other_conditions_are_not_equal():
    system = fs.Car.named("finch").system("return")
    assert system.solve(rpm=3000) == system.solve(rpm=3000)
    assert system.solve(rpm=3000) != system.solve(rpm=3100)
    assert system.solve(rpm=3000) != "a run"


def test_what_a_user_wrote_is_text_in_the_html():
    page = html_of("<script>alert(1)</script>", None)
    assert "<script>" not in page
    phase = fs.typical_phase("jam", "10 min", fs.Car.named("finch")).with_values({"name": "<b>jam</b>"})
    assert "<b>jam" not in phase._repr_html_()
    assert "<b>jam" not in fs.Schedule.of([phase])._repr_html_()


def test_a_large_table_is_cut():
    import pandas as pd

    table = pd.DataFrame(np.random.default_rng(0).normal(size=(5000, 300)))
    assert len(html_of("large", table)) < MOST_HTML
    assert LONGEST_HTML < MOST_HTML


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        (np.array([1.0, np.nan]), np.array([1.0, np.nan]), True),
        (np.array([1.0]), np.array([1.0, 1.0]), False),
        ({"a": [1, 2]}, {"a": [1, 2]}, True),
        ({"a": 1}, {"b": 1}, False),
        (float("nan"), float("nan"), True),
        ("text", "text", True),
        ([1], (1,), False),
    ],
)
def test_content_is_compared_element_by_element(one, other, same):
    assert same_content(one, other) is same


def test_a_line_is_cut_with_dots():
    assert cut_short("one\ntwo", 20) == "one two"
    assert len(cut_short("x" * 1000)) <= 300


@cache
def tables():
    """Return every object that has a table of values with units; findings are text and have none."""
    return {name: item for name, item in objects().items() if hasattr(item, "table") and "FindingList" not in name}


AS_WRITTEN = {
    "Assessment": ["at", "source"],
    "Banded": ["source"],
    "RemedyGains": ["remedy"],
    "Sensitivity": ["low", "high"],
}
"""Columns of text: where the worst point was, citations, names, and what the user gave."""


def test_every_table_takes_units_by_one_name():
    assert len(tables()) >= 15
    for name, item in tables().items():
        for units, foreign in (("SI", "psi|gph|degF|°F"), ("US workshop", "kPa|L/h|L_h|degC|°C")):
            written = AS_WRITTEN.get(type(item).__name__, [])
            table = item.table(units=units).drop(columns=written, errors="ignore")
            shown = " ".join([*map(str, table.columns), *map(str, table.index.names), table.to_string()])
            assert not re.search(foreign, shown), name
        with pytest.raises(fs.InputError, match="known: SI"):
            item.table(units="imperial")


def test_a_grid_of_operating_points_has_its_axes_as_index():
    system = fs.Car.named("finch").system("return")
    run = system.solve(rpm=[[800.0], [3000.0], [6000.0]], altitude=["0 m", "2000 m"])
    table = run.table()
    assert table.index.names == ["engine_rpm", "altitude_m"]
    assert table.loc[(3000.0, 2000.0), "rail_kPa_gauge"] == pytest.approx(run.gauge_pressure["rail"][1, 1] / 1e3)
    unstacked = table["rail_kPa_gauge"].unstack("altitude_m")
    assert unstacked.to_numpy() == pytest.approx(run.gauge_pressure["rail"] / 1e3)
    assert list(unstacked.index) == [800.0, 3000.0, 6000.0]
    assert system.solve(rpm=[800.0, 3000.0]).table().index.tolist() == [0, 1]
    in_feet = run.table("US workshop")
    assert in_feet.index.names[1] == "altitude_ft"
    assert in_feet.index.get_level_values("altitude_ft")[1] == pytest.approx(2000.0 / 0.3048)


def test_an_axis_along_which_no_single_condition_varies_is_numbered():
    system = fs.Car.named("finch").system("return")
    table = system.solve(rpm=[[800.0, 3000.0], [900.0, 6000.0]]).table()
    assert table.index.names == ["point_0", "point_1"]
    assert table.loc[(1, 0), "engine_rpm"] == pytest.approx(900.0)


def test_an_axis_that_no_column_shows_is_in_the_index_all_the_same():
    system = fs.Car.named("finch").system("return")
    table = system.solve(fs.Conditions(rpm=[[800.0], [3000.0]], bay_temperature=["40 degC", "80 degC"])).table()
    assert table.index.names == ["engine_rpm", "bay_temperature_degC"]
    assert table.index.get_level_values(1).tolist() == pytest.approx([40.0, 80.0, 40.0, 80.0])


def test_studies_over_axes_have_them_as_index():
    names = {name.split()[1]: item for name, item in objects().items()}
    assert names["MarginMap"].table().index.names == ["altitude_m"]
    assert names["Comparison"].vapour_table().index.names == ["layout", "tank_degC"]


def public_classes():
    """Return every public class whose objects users hold; errors and enumerations show themselves as Python does."""
    classes = [name for name in fs.__all__ if isinstance(getattr(fs, name), type)]
    return [name for name in classes if not issubclass(getattr(fs, name), (BaseException, Enum))]


@pytest.mark.parametrize("name", public_classes())
def test_an_object_of_every_public_class_shows_itself_in_one_line_and_in_a_notebook(name):
    item = public_values.object_of(name)
    line, page = repr(item), item._repr_html_()
    assert "\n" not in line
    assert len(line) < LONGEST_REPR
    assert " at 0x" not in line
    assert page.startswith("<p>")
    assert len(page) < MOST_HTML
