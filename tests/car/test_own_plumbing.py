"""A car file's own plumbings: named tables and runs, read, written, varied, and refused with the run's own fault."""

from __future__ import annotations

import copy
import pickle
import random
import re
import tomllib

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import fuelsim as fs
from fuelsim.__main__ import main
from fuelsim.car.car import Car
from fuelsim.car.file_format import starter_text
from fuelsim.car.layouts import layout_named, layout_title, layouts, layouts_of
from fuelsim.car.rating_lists import broadcast_ratings, lists, rating_shape
from fuelsim.car.read import car_schema, origins, read_table
from fuelsim.car.references import generic_parts
from fuelsim.car.runs import injector_shares, unused_tables
from fuelsim.car.write import write_car
from fuelsim.data_files import data_path
from fuelsim.declaration import declarations
from fuelsim.parts.damper import Damper

# The twin rails with crossover of a V8 with two pumps, which a lift pump and a pot feed.
TWIN = """
name = "Twin"

[fuel]
name = "summer_e10"

[engine]
displacement = "4.9 L"
cylinders = 8
red_line = "5800 rpm"
peak_power = "225 kW"
peak_power_speed = "5400 rpm"
brake_specific_fuel_consumption = "305 g/kWh"

[tank]
volume = "70 L"
fuel_volume = "35 L"

[injectors]
catalogue = "size_250"
count = 8

[wire]
size = "12 AWG"

[plumbing.twin]
title = "twin rails with crossover, two pumps from a surge pot"
runs = [
    ["tank", "lift_strainer", "lift", "pot"],
    ["pot", "left_pump", "left_check", "tee"],
    ["pot", "right_pump", "right_check", "tee"],
    ["tee", "fine_filter", "long_feed", "front"],
    ["front", "left_feed", "left_rail", "left_rear"],
    ["front", "right_feed", "right_rail", "right_rear"],
    ["left_rear", "crossover", "right_rear"],
    ["left_rear", "end_regulator", "long_return", "pot"],
    ["pot", "overflow", "tank"],
]
heights = { tee = "0.2 m", front = "0.6 m" }

[pumps.lift]
catalogue = "in_tank_130"

[pumps.left_pump]
catalogue = "in_tank_220"

[pumps.right_pump]
catalogue = "in_tank_220"

[wires.right_pump]
catalogue = "awg_10"

[filters.lift_strainer]
catalogue = "sock_small"

[filters.fine_filter]
catalogue = "canister_large"

[lines.long_feed]
catalogue = "steel_tube 3/8 in"
length = "3.5 m"

[lines.long_return]
length = "3.5 m"
bore = "8 mm"

[lines.left_feed]
length = "0.4 m"
bore = "8 mm"

[lines.right_feed]
length = "0.5 m"
bore = "8 mm"

[lines.crossover]
length = "0.4 m"
bore = "8 mm"

[lines.overflow]
length = "1.5 m"
bore = "8 mm"

[rails.left_rail]
length = "0.4 m"
bore = "14 mm"
injectors = 4

[rails.right_rail]
length = "0.4 m"
bore = "14 mm"

[check_valves.left_check]
catalogue = "pump_outlet"

[check_valves.right_check]

[regulators.end_regulator]
set_pressure = "300 kPa"
reference = "manifold"

[pots.pot]
volume = "1.5 L"

[dampers.left_rail]
stored_volume = "0.5 mL"
"""
DOCUMENT = tomllib.loads(TWIN)


def twin(**changes):
    return read_table(Car, {**copy.deepcopy(DOCUMENT), **changes})


def runs_of(document):
    return document["plumbing"]["twin"]["runs"]


def refused(runs, car=None):
    """Return the error with which runs are refused."""
    car = car or twin()
    with pytest.raises(fs.InputError) as caught:
        car.with_plumbing("other", runs=runs)
    assert caught.value.key == "plumbing.other.runs"
    assert str(caught.value).isprintable()
    return str(caught.value)


def with_run(*added, without=()):
    """Return the twin's runs without some (by number) and with others."""
    return [run for number, run in enumerate(runs_of(DOCUMENT)) if number not in without] + [list(run) for run in added]


# Reading and writing.


def test_a_car_of_named_tables_alone_reads_with_its_parts_by_name():
    car = twin()
    assert car.pump is None
    assert car.layouts() == ["twin"]
    assert car.pumps["left_pump"].catalogue == "in_tank_220"
    assert car.lines["crossover"].bore == 0.008
    assert car.plumbing["twin"].heights["front"] == 0.6
    assert car.plumbing["twin"].runs[-1] == ("pot", "overflow", "tank")


def test_a_car_of_named_tables_round_trips_with_its_references(tmp_path):
    car = twin()
    path = write_car(car, tmp_path / "twin.toml")
    again = fs.read_car(path)
    assert again == car
    assert hash(again) == hash(car)
    assert pickle.loads(pickle.dumps(again)) == car
    text = path.read_text(encoding="utf-8")
    assert again.to_toml() == text
    for line in (
        "[plumbing.twin]",
        '    ["left_rear", "crossover", "right_rear"],',
        'heights = { tee = "0.2 m", front = "0.6 m" }',
        "[pumps.left_pump]",
        'catalogue = "in_tank_220"',
        "[check_valves.right_check]",
        "injectors = 4",
    ):
        assert line in text.splitlines()


def test_standard_layouts_and_own_ones_stand_side_by_side():
    heron = fs.Car.named("heron")
    loop = ["tank", "strainer", "suction", "pump", "filter", "feed", "rail", "rail_regulator", "return_line", "tank"]
    car = heron.with_plumbing("loop", runs=[loop], title="plain loop")
    assert car.layouts() == [*heron.layouts(), "loop"]
    assert layout_title("loop", car) == "plain loop"
    assert layout_title("loop") == "loop"
    own, standard = layout_named(car, "loop"), layout_named(car, "return")
    assert (own.injectors_at_rail_end, standard.injectors_at_rail_end) == (False, True)
    assert own.title == "plain loop"
    assert "loop" not in heron.layouts()


def test_a_title_left_out_is_the_name_with_spaces():
    car = twin().with_plumbing("no_crossover", runs=runs_of(DOCUMENT))
    assert layout_title("no_crossover", car) == "no crossover"


def test_every_standard_layout_draws_at_the_end_of_the_rail():
    assert all(layout.injectors_at_rail_end for layout in layouts().values())


@pytest.mark.parametrize("name", list(layouts()))
def test_a_standard_layout_can_be_written_as_runs_of_ones_own(name):
    car = fs.Car.named("heron")
    present = [
        [
            each
            for each in run
            if each not in Car.__dataclass_fields__ or getattr(car, each) is not None or each == "tank"
        ]
        for run in layouts()[name].runs
    ]
    present = [[each for each in run if each != "bay_line" or car.bay_line is not None] for run in present]
    assert layout_named(car.with_plumbing("own", runs=present), "own").runs == tuple(map(tuple, present))


@pytest.mark.parametrize("table", ["strainer", "pump", "wire", "filter", "feed", "rail"])
def test_a_plain_table_must_be_given_unless_the_car_has_a_plumbing_of_its_own(table):
    heron = tomllib.loads(data_path("cars", "heron.toml").read_text(encoding="utf-8"))
    short = {key: value for key, value in heron.items() if key != table}
    with pytest.raises(fs.InputError, match=rf"key '{table}': missing key; accepted: a table of keys: [A-Z]"):
        read_table(Car, short)
    with pytest.raises(fs.InputError, match=f"key '{table}': missing key"):
        read_table(Car, {**short, "plumbing": {}})
    own = {**{key: value for key, value in DOCUMENT.items() if key not in heron}, **short}
    car = read_table(Car, own)
    assert layouts_of(car) == ["twin"]
    with pytest.raises(fs.InputError, match=rf"the layout 'return' needs \[{table}\]"):
        layout_named(car, "return")


def test_the_schema_accepts_and_refuses_what_the_reader_does():
    validator = jsonschema.Draft202012Validator(car_schema())
    validator.check_schema(car_schema())
    assert validator.is_valid(DOCUMENT)
    without = {key: value for key, value in DOCUMENT.items() if key != "plumbing"}
    wrong = [
        without,
        {**DOCUMENT, "plumbing": {}},
        {**DOCUMENT, "lines": {"9a": {"length": "1 m", "bore": "8 mm"}}},
        {**DOCUMENT, "lines": {"crossover": {"length": "1 m"}}},
        {**DOCUMENT, "lines": {"crossover": {"length": "1 m", "bore": "8 mm", "colour": "red"}}},
        {**DOCUMENT, "lines": 3},
        {**DOCUMENT, "plumbing": {"twin": {"runs": []}}},
        {**DOCUMENT, "plumbing": {"twin": {"runs": [["tank"]]}}},
        {**DOCUMENT, "plumbing": {"twin": {"runs": [["tank", "two words"]]}}},
        {**DOCUMENT, "plumbing": {"twin": {"runs": runs_of(DOCUMENT), "heights": {"tee": 9.0}}}},
        {**DOCUMENT, "plumbing": {"twin": {}}},
    ]
    for document in wrong:
        assert not validator.is_valid(document)
        with pytest.raises(fs.InputError):
            read_table(Car, document)


def test_origins_reach_into_named_tables():
    known = origins(DOCUMENT)
    assert known["pumps.lift.catalogue"] == "file"
    assert known["pumps.lift.flow"] == "catalogue in_tank_130"
    assert known["lines.long_feed.bore"] == "catalogue steel_tube 3/8 in"
    assert known["lines.long_feed.length"] == "file"
    assert known["plumbing.twin.runs"] == "file"


# Starter.


@pytest.mark.parametrize("kind", [item.name for item in declarations(Car).values() if item.form == "tables"])
def test_the_starter_shows_one_table_of_each_kind_that_reads_when_it_is_uncommented(kind):
    text = starter_text(Car, references=generic_parts)
    lines = text.splitlines()
    start = next(number for number, line in enumerate(lines) if line.startswith(f"# [{kind}."))
    end = lines.index("", start)
    read = tomllib.loads("\n".join(line.removeprefix("# ") for line in lines[start:end]))
    ((_, values),) = read[kind].items()
    assert isinstance(read_table(declarations(Car)[kind].member, values), declarations(Car)[kind].member)


def test_the_starter_writes_named_tables_and_runs_that_it_is_given():
    values = {"plumbing.twin.runs": runs_of(DOCUMENT), "plumbing.twin.title": "twin"}
    for kind, tables in DOCUMENT.items():
        if kind not in Car.__dataclass_fields__ or declarations(Car)[kind].form != "tables" or kind == "plumbing":
            continue
        values |= {f"{kind}.{name}.{key}": value for name, table in tables.items() for key, value in table.items()}
    values |= {"check_valves.right_check.cracking_pressure": "3 kPa"}
    plain = {
        f"{table}.{key}": value
        for table in ("fuel", "engine", "tank", "injectors")
        for key, value in DOCUMENT[table].items()
    }
    car = read_table(
        Car,
        tomllib.loads(
            starter_text(Car, {"name": "Twin", "wire.size": "12 AWG", **plain, **values}, references=generic_parts)
        ),
    )
    assert car.pump is None
    assert car.lines == twin().lines
    assert car.plumbing["twin"].runs == twin().plumbing["twin"].runs
    with pytest.raises(fs.InputError, match="did you mean 'lines'"):
        starter_text(Car, {"line.crossover.bore": "8 mm"})
    with pytest.raises(fs.InputError, match="did you mean 'bore'"):
        starter_text(Car, {"lines.crossover.bor": "8 mm"})


def test_check_prints_named_tables_and_runs(capsys, tmp_path):
    heron = fs.Car.named("heron").with_values({"orifices.bleed": fs.Orifice(diameter="0.6 mm")})
    path = write_car(heron, tmp_path / "heron.toml")
    main(["check", str(path), "--layout", "return"])
    printed = capsys.readouterr().out
    assert "[orifices.bleed]" in printed
    assert "0.6 mm" in printed


# Replacing values, and lists over operating points.


def test_with_values_reaches_into_named_tables_and_adds_whole_ones():
    car = twin()
    wide = car.with_values({"lines.crossover.bore": "10 mm"})
    assert wide.lines["crossover"].bore == 0.01
    assert car.lines["crossover"].bore == 0.008
    more = car.with_values({"lines.spare": fs.PlumbedLine(length="1 m", bore="6 mm")})
    assert more.lines["spare"].length == 1.0
    assert unused_tables(more) == ["lines.spare"]
    with pytest.raises(fs.InputError, match=r"key 'lines.crosover.bore'.*did you mean 'crossover'"):
        car.with_values({"lines.crosover.bore": "10 mm"})


def test_lists_in_named_tables_ride_on_the_operating_points():
    car = twin().with_values({"lines.crossover.bore": ["6 mm", "8 mm"], "wires.right_pump.length": ["4 m", "6 m"]})
    assert rating_shape(car) == (2,)
    assert sorted(key for key, _ in lists(car)) == ["lines.crossover.bore", "wires.right_pump.length"]
    spread = broadcast_ratings(car, (3, 2))
    assert spread.lines["crossover"].bore.tolist() == [0.006, 0.008] * 3
    assert spread.lines["overflow"] is car.lines["overflow"]
    assert broadcast_ratings(twin(), (3,)).lines is not None
    with pytest.raises(fs.InputError, match="one car, not a list"):
        car.to_toml()


@pytest.mark.parametrize("key", ["pots.pot.volume", "dampers.left_rail.stored_volume"])
def test_a_list_where_one_value_is_wanted_names_the_dotted_key(key):
    with pytest.raises(fs.InputError, match=f"key '{key}'.*one value"):
        rating_shape(twin().with_values({key: ["1 L", "2 L"] if "pot" in key else ["0.4 mL", "0.5 mL"]}))


# Names.


def test_a_part_is_known_by_its_name_in_runs():
    car = twin()
    assert car.part("crossover") is car.lines["crossover"]
    assert (car.kind_of("crossover"), car.table_of("crossover")) == ("lines", "lines.crossover")
    assert car.kind_of("pot") == "pots"
    for name in ("tank", "tee", "wire", "feed", "injectors", "engine", "manifold"):
        assert car.part(name) is None
        assert car.kind_of(name) is None


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("lines.tank", "the name of a station"),
        ("lines.manifold", "the name of a station"),
        ("lines.crossover_inlet", "the name of a station"),
        ("lines.crossover_outlet", "the name of a station"),
        ("lines.feed", "a name that the car file uses itself"),
        ("lines.engine", "a name that the car file uses itself"),
        ("lines.left_rail", "taken by"),
        ("wires.lft_pump", "did you mean 'left_pump'"),
        ("dampers.crossover", "known: left_rail, right_rail"),
    ],
)
def test_a_name_means_one_thing_only(key, said):
    kinds = {"lines": fs.PlumbedLine(length="1 m", bore="6 mm"), "wires": fs.Wire(), "dampers": Damper()}
    kind = key.partition(".")[0]
    with pytest.raises(fs.InputError, match=said) as caught:
        twin().with_values({key: kinds[kind]})
    assert caught.value.key == key or (kind == "lines" and caught.value.key == "rails.left_rail")


def test_a_plumbing_cannot_have_the_name_of_a_standard_layout():
    with pytest.raises(fs.InputError, match=r"key 'plumbing.return': the name of a standard layout"):
        twin().with_plumbing("return", runs=runs_of(DOCUMENT))


# Faults of runs.

FAULTS = {
    "an unknown name": (with_run(["tank", "lift_strainr", "lift", "pot"], without=[0]), "did you mean 'lift_strainer'"),
    "a name that stands once only": (with_run(["tee", "stub"]), "'stub' is no table of the car and stands in the runs"),
    "a table that the car lacks": (
        with_run(["tank", "strainer", "lift", "pot"], without=[0]),
        r"no table \[strainer\]",
    ),
    "a table that is no part": (with_run(["tank", "wire", "lift", "pot"], without=[0]), "'wire' is no part through"),
    "the manifold": (with_run(["tee", "manifold"]), "the manifold is no part"),
    "a run that starts nowhere": (
        with_run(["nowhere", "crossover", "right_rear"], ["nowhere", "overflow", "tank"], without=[6, 8]),
        "starts nowhere: no other run reaches 'nowhere'",
    ),
    "a run that starts at a part": (
        with_run(["left_pump", "left_check", "tee"], without=[1]),
        "run 9 starts nowhere: no other run reaches 'left_pump'",
    ),
    "runs that feed each other": (
        [
            ["tank", "lift", "left_rail", "end_regulator", "tank"],
            ["a", "crossover", "b"],
            ["b", "overflow", "a"],
        ],
        "run 2 starts nowhere: no run from a vessel leads to 'a'",
    ),
    "a part in two runs": (with_run(["tee", "crossover", "front"]), "the part 'crossover' stands in the runs 2 times"),
    "a part twice in a run": (with_run(["pot", "overflow", "overflow", "tank"], without=[8]), "stands in the runs 2"),
    "a junction beside itself": (with_run(["pot", "overflow", "end", "end", "tank"], without=[8]), "next to itself"),
    "a dead end at a part": (
        [["tank", "lift", "tee", "left_rail"], ["tee", "crossover"]],
        "run 2 is a dead end without injectors: it ends at the part 'crossover'",
    ),
    "a dead end at a junction": (
        [["tank", "lift_strainer", "lift", "a"], ["tank", "left_pump", "a"], ["tank", "right_pump", "left_rail"]],
        "run 1 is a dead end without injectors: from 'a' fuel can reach no rail",
    ),
    "no run from the tank": (
        [["pot", "left_pump", "left_rail", "end_regulator", "pot"], ["pot", "overflow", "tank"]],
        "a vessel is missing",
    ),
    "two vessels side by side": (with_run(["pot", "tank"], without=[8]), "'tank' and 'pot' stand next to each other"),
    "two vessels through a junction": (with_run(["pot", "end"], ["end", "tank"], without=[8]), "next to each other"),
    "a run of one name": (with_run(["tank"]), "fewer than two names"),
    "no runs": ([], "no runs"),
    "no pump": ([["tank", "long_feed", "left_rail", "end_regulator", "tank"]], "no pump in the runs"),
    "no rail": ([["tank", "lift", "end_regulator", "tank"]], "no rail in the runs"),
    "a pot without overflow": (with_run(without=[8]), "the pot 'pot' has no overflow"),
    "a pot that overflows through a pump": (
        [["tank", "lift", "pot"], ["pot", "left_pump", "left_rail", "end_regulator", "tank"]],
        "the pot 'pot' has no overflow",
    ),
    "a pot into which nothing flows": (
        [["tank", "lift", "left_rail", "end_regulator", "tank"], ["pot", "overflow", "tank"]],
        "nothing flows into the pot 'pot'",
    ),
    "a junction named as a station": (
        with_run(["pot", "overflow", "lift_outlet", "tank"], ["tee", "lift_outlet"], without=[8]),
        "a junction with the name of a station of 'lift'",
    ),
    "injectors that do not add up": (
        [["tank", "lift", "left_rail", "end_regulator", "tank"]],
        "given 'left_rail 4'; accepted: 8 injectors together",
    ),
}


@pytest.mark.parametrize("fault", list(FAULTS))
def test_a_fault_of_the_runs_is_one_message_with_file_and_key(fault):
    runs, said = FAULTS[fault]
    message = refused(runs)
    assert re.search(said, message), message


def test_a_fault_of_the_runs_names_the_file(tmp_path):
    path = tmp_path / "car.toml"
    path.write_text(TWIN.replace('"left_rear", "crossover"', '"left_rear", "crosover"'), encoding="utf-8")
    with pytest.raises(fs.InputError, match=r"car.toml, key 'plumbing.twin.runs': 'crosover' is no table"):
        fs.read_car(path)


@pytest.mark.parametrize("number", range(len(runs_of(DOCUMENT))))
def test_a_run_left_out_is_refused_or_its_tables_are_named_as_unused(number):
    """A pump or the regulator may go; without another run a junction stands once only or the pot has no overflow."""
    document = copy.deepcopy(DOCUMENT)
    gone = runs_of(document).pop(number)
    car = judged(document)
    assert (car is None) == (number not in (1, 2, 7))
    if car is not None:
        unused = {key.rpartition(".")[2] for key in unused_tables(car, layout_named(car, "twin"))}
        assert unused == {name for name in gone if car.part(name) is not None} - {"pot"}


def test_a_rail_may_start_the_run_of_its_regulator_and_end_another():
    car = twin().with_values({"rails.left_rail.injectors": None})
    runs = [["tank", "lift", "long_feed", "left_rail"], ["left_rail", "end_regulator", "long_return", "tank"]]
    assert car.with_plumbing("one", runs=runs).plumbing["one"].runs[1][0] == "left_rail"
    dead_ended = [["tank", "lift", "tee", "long_feed", "left_rail"], ["tee", "end_regulator", "tank"]]
    assert "dead" in car.with_plumbing("dead", runs=dead_ended).layouts()


def test_heights_belong_to_stations_of_the_runs():
    with pytest.raises(fs.InputError, match=r"key 'plumbing.twin.heights.te'.*did you mean 'tee'"):
        twin().with_values({"plumbing.twin.heights.te": "0.3 m"})
    assert twin().with_values({"plumbing.twin.heights.lift_outlet": "0.3 m"}).plumbing["twin"].heights["front"] == 0.6


# Shares of the injectors, and tables that no run uses.


def test_rails_share_the_injectors_by_count_equally_where_none_is_given():
    car = twin()
    layout = layout_named(car, "twin")
    assert injector_shares(car, layout) == {"left_rail": 4, "right_rail": 4}
    uneven = car.with_values({"rails.left_rail.injectors": 3})
    assert injector_shares(uneven, layout) == {"left_rail": 3, "right_rail": 5}
    with pytest.raises(fs.InputError, match="do not add up"):
        car.with_values({"rails.right_rail.injectors": 3})
    with pytest.raises(fs.InputError, match="do not add up"):
        car.with_values({"rails.left_rail.injectors": 8})
    with pytest.raises(fs.InputError, match="7 injectors cannot be shared equally by 2 rails"):
        car.with_values({"rails.left_rail.injectors": None, "injectors.count": 7})


def test_the_only_rail_of_a_standard_layout_has_all_injectors():
    heron = fs.Car.named("heron")
    assert heron.with_values({"rail.injectors": 8}).rail.injectors == 8
    with pytest.raises(fs.InputError, match=r"key 'rail.injectors': the only rail has all injectors"):
        heron.with_values({"rail.injectors": 4})


def test_a_table_that_no_run_uses_is_named_with_its_kind():
    car = twin()
    assert unused_tables(car, layout_named(car, "twin")) == []
    assert unused_tables(car) == []
    short = [["tank", "lift", "left_rail"], ["tank", "left_pump", "right_rail"]]
    both = car.with_plumbing("short", runs=short)
    assert {"lines.crossover", "pots.pot", "wires.right_pump"} < set(unused_tables(both, layout_named(both, "short")))
    assert unused_tables(both) == []


# Anything else.

NAMES = sorted({name for run in runs_of(DOCUMENT) for name in run})


def refusal(document):
    """Return the error with which a document is refused, None where it reads."""
    try:
        read_table(Car, document)
    except fs.InputError as error:
        return error
    return None


def judged(document):
    """Return the car of a document, or None where it is refused with one printable message that has a key."""
    error = refusal(document)
    if error is None:
        return read_table(Car, document)
    assert error.key
    assert str(error).isprintable()
    assert len(str(error)) < 3000
    return None


@settings(max_examples=300, derandomize=True)
@given(st.lists(st.lists(st.sampled_from([*NAMES, "a", "b", "feed", "manifold"]), max_size=7), max_size=9))
def test_any_runs_are_read_or_refused_with_an_input_error(runs):
    document = copy.deepcopy(DOCUMENT)
    document["plumbing"]["twin"] = {"runs": runs}
    car = judged(document)
    if car is not None:
        used = [name for run in runs for name in run]
        assert any(name in car.pumps for name in used)
        assert any(name in car.rails for name in used)


@pytest.mark.parametrize("seed", range(60))
def test_runs_with_one_name_swapped_left_out_or_doubled_are_read_or_refused(seed):
    chance = random.Random(seed)
    document = copy.deepcopy(DOCUMENT)
    run = chance.choice(runs_of(document))
    at = chance.randrange(len(run))
    change = chance.choice(("swap", "drop", "double", "misspell"))
    if change == "swap":
        run[at] = chance.choice(NAMES)
    elif change == "drop":
        del run[at]
    elif change == "double":
        run.insert(at, run[at])
        assert judged(document) is None
    else:
        run[at] = run[at] + "q"
        assert judged(document) is None
    judged(document)


WRONG = (
    [[[1.0]]],
    {"x": 1},
    True,
    "?",
    float("nan"),
    float("inf"),
    -1e9,
    10**30,
    "12 parsecs",
    ["a", 1],
    "\x1b[2J",
    [],
)


def leaves(table, path=()):
    """Yield the path of every key below the named tables."""
    for key, value in table.items():
        yield (*path, key)
        if isinstance(value, dict):
            yield from leaves(value, (*path, key))


NAMED = [
    path
    for path in leaves(DOCUMENT)
    if path[0] in Car.__dataclass_fields__ and len(path) > 1 and declarations(Car)[path[0]].form == "tables"
]


@pytest.mark.parametrize("path", NAMED, ids=".".join)
def test_every_wrong_value_below_a_named_table_is_refused_with_its_dotted_key(path):
    for wrong in WRONG:
        if path[-1] == "title" and isinstance(wrong, str) and wrong.isprintable():
            continue
        document = copy.deepcopy(DOCUMENT)
        holder = document
        for key in path[:-1]:
            holder = holder[key]
        holder[path[-1]] = wrong
        with pytest.raises(fs.InputError) as caught:
            read_table(Car, document)
        assert (caught.value.key or "").startswith(".".join(path))
        assert str(caught.value).isprintable()


@pytest.mark.parametrize("path", NAMED, ids=".".join)
def test_every_key_below_a_named_table_misspelt_or_missing_is_refused_or_has_a_default(path):
    for new in (None, path[-1] + "q"):
        document = copy.deepcopy(DOCUMENT)
        holder = document
        for key in path[:-1]:
            holder = holder[key]
        value = holder.pop(path[-1])
        if new:
            holder[new] = value
        car = judged(document)
        if new and len(path) > 2:
            assert car is None, "a misspelt key is never taken"


HOSTILE = {
    "thousands of tables": {"lines": {f"line{number}": {} for number in range(5000)}},
    "thousands of runs": {"plumbing": {"twin": {"runs": [["tank", "lift"]] * 5000}}},
    "a run of thousands of names": {"plumbing": {"twin": {"runs": [["tank", "lift"] * 5000]}}},
    "thousands of plumbings": {"plumbing": {f"p{number}": {"runs": runs_of(DOCUMENT)} for number in range(5000)}},
    "a name of thousands of characters": {"lines": {"x" * 5000: {"length": "1 m", "bore": "8 mm"}}},
    "control characters in a name": {"lines": {"\x1b[2J": {"length": "1 m", "bore": "8 mm"}}},
    "an empty name": {"lines": {"": {"length": "1 m", "bore": "8 mm"}}},
    "a path as a name": {"lines": {"../x": {"length": "1 m", "bore": "8 mm"}}},
    "a list of tables": {"lines": [{"length": "1 m"}]},
    "a reference to a path": {"pumps": {"lift": {"catalogue": "../cars/heron"}}},
    "names that are tables": {"plumbing": {"twin": {"runs": [[{"a": 1}, "lift"]]}}},
}


@pytest.mark.parametrize("changes", list(HOSTILE.values()), ids=list(HOSTILE))
def test_hostile_tables_get_one_clear_error(changes):
    assert judged({**copy.deepcopy(DOCUMENT), **changes}) is None
