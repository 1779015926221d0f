"""Every wrong entry in a car file is one message with file and key: never another exception, never a silent default."""

from __future__ import annotations

import copy
import random
import tomllib

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import fuelsim as fs
from fuelsim.car.car import Car
from fuelsim.car.file_format import toml_value
from fuelsim.car.read import read_table
from fuelsim.data_files import data_path, names
from fuelsim.declaration import declarations

DEMOS = {name: tomllib.loads(data_path("cars", f"{name}.toml").read_text(encoding="utf-8")) for name in names("cars")}
DEMOS["every optional table"] = {
    **{key: value for key, value in DEMOS["heron"].items() if key != "surroundings"},
    "supply": {"idle_voltage": "13 V", "full_speed": "1600 rpm"},
    "pump_steps": {"demand": ["0 L/h", "40 L/h"], "resistance": ["0.3 ohm", "0 ohm"]},
    "anti_siphon": {"cracking_pressure": "2 kPa"},
    "check_valve": {"open_pressure": "5 kPa", "open_flow": "150 L/h"},
    "damper": {"stored_volume": "0.5 mL", "working_pressure": "690 kPa"},
    "cooler": {"bore": "8 mm"},
    "surge_pot": {"volume": "1.5 L", "lift_flow": "100 L/h"},
    "plan": {"tank_length": "0.8 m", "rail_ahead": "2.5 m"},
}
TABLES = {key for document in DEMOS.values() for key, value in document.items() if isinstance(value, dict)}
CATALOGUED = {"pump": "in_tank_220", "feed": "braided_ptfe_6", "injectors": "size_250", "surroundings": "phoenix"}


def form(value):
    """Return a value as it stands in a file, tables inline."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {form(below)}" for key, below in value.items()) + "}"
    return toml_value(value)


def written(document):
    """Return a document of plain tables as TOML."""
    lines = [f"{key} = {form(value)}" for key, value in document.items() if key not in TABLES]
    for table, values in document.items():
        if table in TABLES:
            lines += [f"[{table}]", *(f"{key} = {form(value)}" for key, value in values.items())]
    return "\n".join(lines)


NAMED = {name for name, item in declarations(Car).items() if item.form == "tables"}


def places(document):
    """Return every (table, key); table None for keys at the top, and dotted for named tables."""
    for key, value in document.items():
        if key in NAMED:
            yield from ((f"{key}.{name}", below) for name, values in value.items() for below in values)
        elif isinstance(value, dict):
            yield from ((key, below) for below in value)
        else:
            yield None, key


def table_at(document, table):
    """Return a table of a document, made where it is missing; the document itself for None."""
    holder = document
    for key in () if table is None else table.split("."):
        holder = holder.setdefault(key, {})
    return holder


def wrong_values(value):
    """Return what can stand in place of a good value and is wrong in every place of that form."""
    wrong = [[[[1.0]]], {"x": 1}, [], True, "", "?", "1e999 m", "12 parsecs per fortnight", float("nan"), float("inf")]
    if isinstance(value, str) and value[:1].isdigit():
        wrong += ["-1e9 " + value.partition(" ")[2]] if value.startswith("0 ") else [f"-{value}"]
        wrong += [value.replace(" ", " k") + "x", value.partition(" ")[0] + " furlong", "9e99 " + value]
        wrong += [[value, "3"], 1e300, -1e300]
    if isinstance(value, list):
        wrong += [[*value[:-1], "x"], [*value[:-1], float("nan")], value[0], [value, value]]
    if isinstance(value, int):
        wrong += [value + 0.5, -1, 10**30, str(value)]
    if isinstance(value, float):
        wrong += [-1e9, 1e12]
    return wrong


# A text may be any words, so that these are wrong only where words are not free.
FREE_TEXT = {(None, "name"), (None, "about")} | {(f"plumbing.{name}", "title") for name in DEMOS["plover"]["plumbing"]}


def mutations(count):
    """Return seeded mutations: name, document and the key that the message must hold."""
    chance = random.Random(20)
    for number in range(count):
        name = chance.choice(sorted(DEMOS))
        document = copy.deepcopy(DEMOS[name])
        table, key = chance.choice(sorted(places(document), key=str))
        holder = table_at(document, table)
        dotted = key if table is None else f"{table}.{key}"
        if key in ("pump_height", "height"):
            holder[key] = "1.50 m" if key == "pump_height" else "2.50 m"  # so that a minus sign is wrong too
        kind = chance.choice(("value", "value", "value", "misspelt", "unknown", "reference"))
        if kind == "value":
            wrong = wrong_values(holder[key])
            if (table, key) in FREE_TEXT:
                wrong = [item for item in wrong if not isinstance(item, str)]
            holder[key] = chance.choice(wrong)
        elif kind == "misspelt":
            at = chance.randrange(len(key))
            dotted = dotted[: len(dotted) - len(key)] + key[:at] + "q" + key[at + 1 :]
            holder[dotted.rpartition(".")[2]] = holder.pop(key)
        elif kind == "unknown":
            dotted = f"{table}.colour" if table else "colour"
            holder["colour"] = "red"
        else:
            table = chance.choice(sorted(CATALOGUED))
            name_of_part = chance.choice(
                (CATALOGUED[table][:-1] + "q", "../pumps", "", 3, ["in_tank_220"], "/etc/passwd")
            )
            document.setdefault(table, {})["catalogue"] = name_of_part
            dotted = f"{table}.catalogue"
        yield number, name, document, dotted


@pytest.mark.parametrize(("number", "name", "document", "dotted"), list(mutations(300)))
def test_a_mutated_demo_car_is_one_message_with_file_and_key(number, name, document, dotted, tmp_path):
    path = tmp_path / "car.toml"
    path.write_text(written(document), encoding="utf-8")
    with pytest.raises(fs.InputError) as caught:
        fs.read_car(path)
    message = str(caught.value)
    table, _, key = dotted.rpartition(".")
    assert "car.toml" in message
    assert dotted in message or (table and f"key '{table}." in message) or f"key '{key}" in message
    assert message.isprintable()
    assert len(message) < 3000


@pytest.mark.parametrize("name", sorted(DEMOS))
def test_every_missing_table_and_key_is_a_message_or_a_declared_default(name):
    for table, key in places(DEMOS[name]):
        document = copy.deepcopy(DEMOS[name])
        del table_at(document, table)[key]
        assert read_or_refused(document), f"{table}.{key}" if table else key
    for table in [key for key, value in DEMOS[name].items() if isinstance(value, dict)]:
        assert read_or_refused({key: value for key, value in DEMOS[name].items() if key != table}), table
        assert read_or_refused({**DEMOS[name], table: {}}), table


def refusal(document):
    """Return the InputError with which a document is refused, None if it reads; anything else raised fails the test."""
    try:
        read_table(Car, document)
    except fs.InputError as error:
        return error
    return None


def read_or_refused(document):
    """Return whether a document reads, as where a key has the default it is declared with, or a key is named."""
    error = refusal(document)
    return error is None or bool(error.key)


ANYTHING = st.recursive(
    st.none().map(lambda _: "")
    | st.booleans()
    | st.integers(-(10**40), 10**40)
    | st.floats()
    | st.text(max_size=20)
    | st.sampled_from(["8 mm", "300 kPa", "../x", "\x1b[2J", "in_tank_220", "-5 degC", "1/0 in", "0x10 m", "１２ mm"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)
PLACES = sorted({place for document in DEMOS.values() for place in places(document)}, key=str)


@settings(max_examples=400, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(st.sampled_from(PLACES), ANYTHING, st.booleans())
def test_anything_anywhere_is_read_or_refused_with_an_input_error(place, value, as_table):
    document = copy.deepcopy(DEMOS["heron"])
    table, key = place
    if as_table and table is not None:
        outer, _, name = table.rpartition(".")
        table_at(document, outer or None)[name] = value
    else:
        table_at(document, table)[key] = value
    error = refusal(document)
    assert error is None or (error.key and str(error).isprintable())


HOSTILE = {
    "a huge integer": "name = 1" + "0" * 5000,
    "a huge hexadecimal integer": "[injectors]\ncount = 0x1" + "0" * 20_000,
    "deep lists": "name = " + "[" * 50_000,
    "deep tables": "[" + ".".join(["a"] * 5000) + "]\nb = 1",
    "deep inline tables": "name = " + "{a=" * 5000,
    "a key twice": 'name = "a"\nname = "b"',
    "a table twice": "[pump]\n[pump]",
    "an array of tables": "[[pump]]\n[[pump]]",
    "a date": "name = 1979-05-27",
    "control characters in a key": '"a\\u001b[2J" = 1',
    "an empty key": '"" = 1',
    "no text at all": "",
    "a null": "name = \x00",
    "a lone surrogate": 'name = "\\ud800"',
    "right-to-left override": 'name = "\\u202Eevil"',
    "a path": 'name = "x"\n[fuel]\nname = "../cars/finch"',
    "an absolute path": 'name = "x"\n[fuel]\nname = "/etc/passwd"',
}


@pytest.mark.parametrize("text", list(HOSTILE.values()), ids=list(HOSTILE))
def test_hostile_text_is_one_printable_message(text, tmp_path):
    path = tmp_path / "car.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(fs.InputError) as caught:
        fs.read_car(path)
    assert str(caught.value).isprintable()
    assert "car.toml" in str(caught.value)
    assert len(str(caught.value)) < 3000


@pytest.mark.parametrize("code", ["__import__('os').system('x')", "{{ 7*7 }}", "${HOME}", "%s%n", "'; DROP TABLE"])
def test_nothing_in_a_car_file_is_executed(code, tmp_path):
    path = tmp_path / "car.toml"
    document = copy.deepcopy(DEMOS["finch"])
    document["name"] = document["about"] = code
    path.write_text(written(document), encoding="utf-8")
    assert fs.read_car(path).name == code
    document["wire"]["size"] = code
    path.write_text(written(document), encoding="utf-8")
    with pytest.raises(fs.InputError, match=r"wire\.size"):
        fs.read_car(path)
