"""Starter file and schema come from the same declarations as the checks."""

import re
import tomllib
from dataclasses import dataclass

import jsonschema
import pytest

from fuelsim.car.car import Car
from fuelsim.car.engine import Engine
from fuelsim.car.file_format import starter_text, toml_value
from fuelsim.car.read import car_schema, read_table
from fuelsim.car.schema import json_schema
from fuelsim.data_files import data_path, names, read_toml
from fuelsim.declaration import declarations, file_keys
from fuelsim.errors import InputError
from fuelsim.fields import Quantity, Ratings, choice, count, flag, quantity, series, table, text


@dataclass(frozen=True)
class Hose(Ratings):
    """A hose.

    More on hoses.
    """

    bore: Quantity = quantity("bore", "Inside diameter.", least=5e-4, most=0.1, example="8 mm")
    length: Quantity = quantity("length", "Length.", least=0.0, most=50.0, default=1.0)


@dataclass(frozen=True)
class Pot(Ratings):
    """A surge pot with a hose of its own."""

    volume: Quantity = quantity("volume", "Contents.", least=1e-4, most=1e-2, default=1.5e-3)
    outlet: Hose = table(Hose, "To the main pump.", default=Hose(bore="3/8 in"))


@dataclass(frozen=True)
class Rig(Ratings):
    """Everything a declaration can be."""

    name: str = text("What it is \N{LEFT DOUBLE QUOTATION MARK}called\N{RIGHT DOUBLE QUOTATION MARK}.", example="Rig")
    temperature: Quantity = quantity("temperature", "Fuel.", least=233.15, most=373.15, example="45 degC")
    flows: Quantity = series("volume flow", "Bench table.", least=0.0, most=1e-3, example="['0 L/h', '36 L/h']")
    end: str = choice(("turbine", "roller"), "Pump end.")
    cylinders: int = count("Cylinders.", least=1, most=16, example="8")
    feed: Hose = table(Hose, "Feed.")
    share: Quantity = quantity("fraction", "Share.", least=0.0, most=1.0, default=0.1)
    speeds: Quantity = series("engine speed", "Speeds.", least=0.0, most=1e4, default=(1000.0, 2000.0))
    wet: bool = flag("Submerged.", default=True)
    burst: Quantity = quantity("pressure difference", "Burst.", default=None, example="2 MPa")
    pot: Pot | None = table(Pot, "Surge pot.", default=None)


def uncommented(starter):
    return re.sub(r"^# (?=\[|\w+ = )", "", starter, flags=re.MULTILINE)


def test_starter_reads_back_as_it_stands():
    rig = read_table(Rig, tomllib.loads(starter_text(Rig)))
    assert rig.feed.bore == 0.008
    assert rig.flows.tolist() == pytest.approx([0.0, 1e-5])
    assert rig.pot is None
    assert rig.burst is None


def test_starter_reads_back_with_every_comment_sign_removed():
    rig = read_table(Rig, tomllib.loads(uncommented(starter_text(Rig))))
    assert rig.share == 0.1
    assert rig.speeds.tolist() == [1000.0, 2000.0]
    assert rig.burst == 2e6
    assert rig.pot.volume == pytest.approx(1.5e-3)
    assert rig.pot.outlet.bore == 0.009525, "the default of the table it stands in, not of its class"


def test_starter_names_every_key_with_its_meaning_range_and_need():
    starter = starter_text(Rig)
    flowing = re.sub(r"\s*\n# ", " ", starter)
    for ratings, prefix in ((Rig, ""), (Hose, "feed."), (Pot, "pot."), (Hose, "pot.outlet.")):
        for name, declaration in declarations(ratings).items():
            assert declaration.doc in flowing
            if declaration.part:
                assert f"[{prefix}{name}]" in starter
            else:
                assert re.search(rf"^(# )?{name} = ", starter, flags=re.MULTILINE)
    assert re.search(
        r'^temperature = "45 degC" +# Fuel. Must be given. \(-40 degC to 100 degC\)$', starter, re.MULTILINE
    )
    assert all(line.startswith(("#", "[")) or " = " in line or not line for line in starter.splitlines())
    assert max(map(len, starter.splitlines())) <= 120


def test_starter_explains_a_class_only_where_it_is_first_used():
    assert starter_text(Rig).count("Inside diameter.") == 1


def test_a_table_that_refers_to_a_generic_part_need_not_give_its_ratings():
    def parts(part):
        return ["wide_hose"] if part is Hose else []

    starter = starter_text(Rig, {"feed.catalogue": "wide_hose"}, references=parts)
    assert '\n[feed]\ncatalogue = "wide_hose"' in starter
    assert '\n# bore = "8 mm"' in starter
    validator = jsonschema.Draft202012Validator(json_schema(Rig, references=parts))
    validator.validate(tomllib.loads(starter))
    assert not validator.is_valid({**tomllib.loads(starter), "feed": {}})
    with pytest.raises(InputError, match="unknown key"):
        starter_text(Rig, {"pot.catalogue": "x"}, references=parts)


def test_ratings_of_an_operating_point_are_no_keys_of_a_file():
    assert "mass_demand" not in starter_text(Car)
    assert "mass_demand" not in json_schema(Car)["$defs"]["Injectors"]["properties"]


def test_values_are_written_in_place_of_examples_and_wake_their_table():
    starter = starter_text(Rig, {"feed.bore": "10 mm", "pot.outlet.bore": "12 mm", "share": 0.2, "name": 'a "b"'})
    rig = read_table(Rig, tomllib.loads(starter))
    assert (rig.feed.bore, rig.pot.outlet.bore, rig.share, rig.name) == (0.01, 0.012, 0.2, 'a "b"')


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("feed.bor", "did you mean 'bore'"),
        ("fed.bore", "did you mean 'feed'"),
        ("share.x", "known: name, temperature"),
        ("feed", "unknown key"),
        ("", "unknown key"),
    ],
)
def test_unknown_keys_are_refused(key, said):
    with pytest.raises(InputError, match=said):
        starter_text(Rig, {key: 1})


def test_text_cannot_break_out_of_its_quotes():
    hostile = 'x"\n[pump]\nbore = 1 # \\ \x00 \x7f \u2028'
    assert tomllib.loads(f"a = {toml_value(hostile)}") == {"a": hostile}
    for value in (1e-9, -0.1, 1e300, 3, True, [1, [2.5, "a"]]):
        assert tomllib.loads(f"a = {toml_value(value)}") == {"a": value}
    with pytest.raises(InputError):
        toml_value({"a": 1})


def test_schema_accepts_what_the_reader_accepts():
    schema = json_schema(Rig)
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    for starter in (starter_text(Rig), uncommented(starter_text(Rig))):
        validator.validate(tomllib.loads(starter))


@pytest.mark.parametrize(
    ("changes", "path"),
    [
        ({"feed": {}}, ["feed"]),
        ({"feed": {"bore": 8}}, ["feed", "bore"]),
        ({"feed": {"bore": "wide"}}, ["feed", "bore"]),
        ({"feed": {"bore": "8 mm", "colour": "red"}}, ["feed"]),
        ({"colour": "red"}, []),
        ({"end": "rolr"}, ["end"]),
        ({"cylinders": 4.5}, ["cylinders"]),
        ({"cylinders": 17}, ["cylinders"]),
        ({"wet": "yes"}, ["wet"]),
        ({"flows": []}, ["flows"]),
        ({"flows": [1.0]}, ["flows", 0]),
        ({"name": 3}, ["name"]),
        ({"pot": {"outlet": {}}}, ["pot", "outlet"]),
    ],
)
def test_schema_refuses_what_the_reader_refuses(changes, path):
    document = {**tomllib.loads(starter_text(Rig)), **changes}
    error = jsonschema.exceptions.best_match(jsonschema.Draft202012Validator(json_schema(Rig)).iter_errors(document))
    assert list(error.absolute_path)[: len(path)] == path
    with pytest.raises(InputError):
        read_table(Rig, document)


def test_schema_says_meaning_default_and_example():
    schema = json_schema(Rig, title="Rig file")
    assert schema["title"] == "Rig file"
    assert schema["description"] == "Everything a declaration can be."
    assert schema["properties"]["share"]["default"] == 0.1
    assert schema["properties"]["temperature"]["examples"] == ["45 degC"]
    assert schema["properties"]["speeds"]["default"] == ["1000 rpm", "2000 rpm"]
    assert schema["$defs"]["Hose"]["required"] == ["bore"]
    assert schema["$defs"]["Hose"]["description"] == "A hose."
    assert schema["required"] == ["name", "temperature", "flows", "end", "cylinders", "feed"]


# The real classes.


def test_engine_starter_makes_an_engine_with_a_power_alone():
    values = {
        "peak_power": "92 kW",
        "peak_power_speed": "6000 rpm",
        "brake_specific_fuel_consumption": "292 g/kWh",
    }
    engine = read_table(Engine, tomllib.loads(starter_text(Engine, values)))
    assert engine.peak_power == 92e3


def walk(ratings, prefix=""):
    for name, declaration in file_keys(ratings).items():
        yield f"{prefix}{name}", declaration
        if declaration.part:
            yield from walk(declaration.part, f"{prefix}{name}.")
        if declaration.member:
            yield from walk(declaration.member, f"{prefix}{name}.*.")


@pytest.mark.parametrize(("key", "declaration"), list(walk(Car)), ids=[key for key, _ in walk(Car)])
def test_every_key_of_a_car_has_a_sentence_and_an_example_it_would_accept(key, declaration):
    assert declaration.doc.endswith(".")
    if declaration.part is not None or declaration.member is not None:
        return
    written = re.search(rf"^(?:# )?{declaration.name} = (.*)$", starter_text(_alone(declaration)), flags=re.MULTILINE)
    declaration.convert(tomllib.loads(f"a = {written[1]}")["a"])


def _alone(declaration):
    """Return a class of ratings with this one key."""
    import dataclasses

    default = dataclasses.MISSING if declaration.required else declaration.default
    kind = dataclasses.field(default=default, metadata={"declaration": declaration})
    return dataclasses.make_dataclass("Alone", [(declaration.name, object, kind)], bases=(Ratings,), frozen=True)


def test_schema_of_the_car_accepts_every_demo_car():
    schema = car_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    for name in names("cars"):
        jsonschema.Draft202012Validator(schema).validate(read_toml(data_path("cars", f"{name}.toml")))
