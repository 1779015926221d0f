"""Values by names of the user's own: immutable, equal by content, checked by name."""

from __future__ import annotations

import copy
import pickle
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fuelsim.declaration import LONGEST_RUN, MOST_NAMED, MOST_RUNS
from fuelsim.errors import InputError
from fuelsim.fields import Quantity, Ratings, quantities, quantity, runs, table, tables
from fuelsim.named_tables import LONGEST_NAME, NamedTables, NamedValues


@dataclass(frozen=True)
class Hose(Ratings):
    """A hose."""

    bore: Quantity = quantity("bore", "Inside diameter.", least=5e-4, most=0.1, example="8 mm")


@dataclass(frozen=True)
class Clamp(Ratings):
    """A clamp on a hose."""

    width: Quantity = quantity("length", "Width.", default=0.01)


@dataclass(frozen=True)
class Rig(Ratings):
    """A rig with any number of hoses, or one."""

    main: Hose | None = table(Hose, "Main hose.", unless="hoses")
    hoses: NamedTables[Hose] = tables(Hose, "Hoses of the rig.", example="left")
    clamps: NamedTables[Clamp] = tables(Clamp, "Clamps of the hoses.", owners="hoses", example="left")
    order: tuple[tuple[str, ...], ...] = runs("Order of the hoses.", default=())
    heights: NamedValues[float] = quantities("length", "Height of each end.", least=-1.0, most=2.0, example="0.3 m")


LEFT, RIGHT = Hose(bore="8 mm"), Hose(bore="10 mm")
RIG = Rig(hoses={"left": LEFT, "right": RIGHT}, order=[["left", "right"]], heights={"left": "30 cm"})


def test_order_is_kept_but_has_no_part_in_what_is_equal():
    one, other = NamedTables({"a": LEFT, "b": RIGHT}), NamedTables({"b": RIGHT, "a": LEFT})
    assert list(one) == ["a", "b"]
    assert list(other) == ["b", "a"]
    assert one == other
    assert hash(one) == hash(other)
    assert one != NamedTables({"a": LEFT})
    assert Rig(hoses=one) == Rig(hoses=other)
    assert len({Rig(hoses=one), Rig(hoses=other)}) == 1


def test_tables_with_lists_are_equal_and_hashed_by_their_elements():
    one, other = (NamedTables({"a": Hose(bore=np.array([0.008, 0.01]))}) for _ in range(2))
    assert one == other
    assert hash(one) == hash(other)
    assert one != NamedTables({"a": Hose(bore=[0.008, 0.011])})


def test_nothing_can_be_changed_in_place():
    given_tables = {"left": LEFT}
    held = NamedTables(given_tables)
    given_tables["right"] = RIGHT
    assert list(held) == ["left"]
    with pytest.raises(TypeError):
        held["left"] = RIGHT
    with pytest.raises(AttributeError):
        held._values = {}
    with pytest.raises(AttributeError):
        held.colour = "red"


@pytest.mark.parametrize("again", [copy.copy, copy.deepcopy, lambda each: pickle.loads(pickle.dumps(each))])
def test_copies_and_pickles_are_equal(again):
    assert again(RIG) == RIG
    assert type(again(RIG).hoses) is NamedTables
    assert type(again(RIG).heights) is NamedValues
    assert list(again(RIG).hoses) == list(RIG.hoses)


def test_repr_shows_the_tables():
    assert repr(NamedTables({"a": LEFT})) == "NamedTables({'a': Hose(bore 8 mm)})"


def test_with_values_reaches_into_adds_and_takes_away_tables_and_leaves_the_original():
    changed = RIG.with_values({"hoses.left.bore": "9 mm", "hoses.rear": Hose(bore="6 mm"), "hoses.right": None})
    assert list(changed.hoses) == ["left", "rear"]
    assert changed.hoses["left"].bore == pytest.approx(0.009)
    assert RIG.hoses["left"].bore == 0.008
    assert RIG.with_values({"heights.right": "50 cm"}).heights == {"left": 0.3, "right": 0.5}


@pytest.mark.parametrize(
    ("values", "key", "said"),
    [
        ({"hoses.lft.bore": "9 mm"}, "hoses.lft.bore", "did you mean 'left'"),
        ({"hoses.left.bor": "9 mm"}, "hoses.left.bor", "did you mean 'bore'"),
        ({"hoses.left.bore": 9}, "hoses.left.bore", "write '9 mm'"),
        ({"hoses.lft": None}, "hoses.lft", "did you mean 'left'"),
        ({"hoses.left": 3}, "hoses.left", "a Hose"),
        ({"hoses.left": Clamp()}, "hoses.left", "a Hose"),
        ({"hoses.two words": LEFT}, "hoses.two words", "letters, digits and underscores"),
        ({"hoses": [LEFT]}, "hoses", "not a table of names"),
        ({"hoses": {3: LEFT}}, "hoses.3", "not a name"),
        ({"heights.left.bore": 1.0}, "heights.left.bore", "no table of keys here"),
        ({"heights.left": "4 m"}, "heights.left", "length from -1 m to 2 m"),
        ({"heights.left": "4 kg"}, "heights.left", "not a unit of length"),
        ({"heights.left": [0.1, 0.2]}, "heights.left", "one value"),
        ({"heights": 3}, "heights", "not a table of names"),
        ({"order": "left"}, "order", "not a list of runs"),
        ({"order": ["left", "right"]}, "order", "not a list of runs"),
        ({"order": [["left", 3]]}, "order", "not a name"),
        ({"order": [["left", "9lives"]]}, "order", "not a name"),
        ({"order": [["left", "x" * (LONGEST_NAME + 1)]]}, "order", "at most 40 characters"),
        ({"order": [["left", "right"]] * (MOST_RUNS + 1)}, "order", "at most 200"),
        ({"order": [["left"] * (LONGEST_RUN + 1)]}, "order", "at most 100 names"),
        ({"hoses": {f"h{number}": LEFT for number in range(MOST_NAMED + 1)}}, "hoses", "at most 100"),
    ],
)
def test_a_wrong_entry_is_one_message_with_its_dotted_key(values, key, said):
    with pytest.raises(InputError) as caught:
        RIG.with_values(values)
    assert caught.value.key == key
    assert said in str(caught.value)
    assert len(str(caught.value)) < 600


def test_a_table_must_be_given_unless_the_other_is():
    assert Rig(main=LEFT).hoses == {}
    assert Rig(hoses={"left": LEFT}).main is None
    for empty in ({}, {"hoses": {}}):
        with pytest.raises(InputError, match="key 'main': missing key; accepted: a table of keys: Main hose"):
            Rig(**empty)


@pytest.mark.parametrize(
    ("key", "value"),
    [("hoses.left.bore", 0.008), ("hoses.left", LEFT), ("hoses", RIG.hoses), ("heights.left", 0.3), ("main", None)],
)
def test_value_of_returns_what_a_dotted_key_leads_to(key, value):
    assert RIG.value_of(key) == value


@pytest.mark.parametrize("key", ["hose.left", "hoses.lft", "hoses.left.bor", "heights.left.x", "main.bore", ""])
def test_value_of_refuses_an_unknown_key(key):
    with pytest.raises(InputError, match="unknown key"):
        RIG.value_of(key)


@given(st.text(max_size=45))
def test_a_name_is_taken_only_as_letters_digits_and_underscores(name):
    plain = name.isascii() and name.replace("_", "a").isalnum() and name[0].isalpha() and len(name) <= LONGEST_NAME
    if plain:
        assert list(Rig(hoses={name: LEFT}).hoses) == [name]
        return
    with pytest.raises(InputError) as caught:
        Rig(hoses={name: LEFT})
    assert str(caught.value).isprintable()
