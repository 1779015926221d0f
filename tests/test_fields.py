"""One declaration per rating drives conversion, range check and error text."""

import dataclasses
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fuelsim.declaration import declarations
from fuelsim.errors import InputError
from fuelsim.fields import Quantity, Ratings, choice, count, flag, quantity, series, table, text


@dataclass(frozen=True)
class Hose(Ratings):
    """A hose."""

    bore: Quantity = quantity("bore", "Inside diameter.", least=5e-4, most=0.1, example="8 mm")
    length: Quantity = quantity("length", "Length.", least=0.0, most=50.0, default=1.0)
    burst: Quantity = quantity("pressure difference", "Burst pressure.", default=None)


@dataclass(frozen=True)
class Rig(Ratings):
    """Everything a declaration can be."""

    temperature: Quantity = quantity("temperature", "Fuel.", least=233.15, most=373.15, example="45 degC")
    pressure: Quantity = quantity("absolute pressure", "Node.", least=1e3, most=2e6, default=101325.0)
    flows: Quantity = series("volume flow", "Bench table.", least=0.0, most=1e-3, default=(0.0, 1e-5))
    end: str = choice(("turbine", "roller", "gear"), "Pump end.", default="turbine")
    cylinders: int = count("Cylinders.", least=1, most=16, default=4)
    name: str = text("Name.", default="")
    wet: bool = flag("Submerged.", default=True)
    hose: Hose = table(Hose, "Feed.", default=Hose(bore=0.008))
    spare: Hose | None = table(Hose, "Spare.", default=None)
    note: int = 3

    def check(self):
        if len(self.flows) < 2:
            raise InputError("one row is no table", key="flows")


def refused(**changes):
    with pytest.raises(InputError) as caught:
        Rig(**{"temperature": 300.0, **changes})
    return str(caught.value)


def test_strings_and_numbers_become_si_once_when_the_object_is_made():
    rig = Rig(temperature="45 degC", pressure="14.7 psia", flows=["0 L/h", "36 L/h"])
    assert rig.temperature == pytest.approx(318.15)
    assert rig.pressure == pytest.approx(101352.9, rel=1e-6)
    assert rig.flows.tolist() == pytest.approx([0.0, 1e-5])
    assert dataclasses.replace(rig).temperature == rig.temperature


def test_arrays_over_operating_points_pass():
    rig = Rig(temperature=["20 degC", "40 degC"], pressure=np.full((2, 1), 1e5))
    assert rig.temperature == pytest.approx([293.15, 313.15])
    assert rig.pressure.shape == (2, 1)


def test_ratings_are_frozen():
    with pytest.raises(dataclasses.FrozenInstanceError):
        Rig(temperature=300.0).temperature = 310.0
    with pytest.raises(ValueError, match="read-only"):
        Rig(temperature=300.0).flows[0] = 1.0


def test_unknown_keyword_fails():
    with pytest.raises(InputError, match="key 'colour': unknown rating"):
        Rig(temperature=300.0, colour="red")
    with pytest.raises(InputError, match="did you mean 'temperature'"):
        Rig(temperatur=300.0)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (
            {"temperature": 45},
            "part 'Rig', key 'temperature': outside the plausible range (45 K is -228 degC; write '45 degC'); "
            "given 45; accepted: temperature from -40 degC to 100 degC, as in '45 degC'",
        ),
        ({"pressure": 300}, "(300 Pa is 0.3 kPa; write '300 kPa')"),
        ({"pressure": 14.7}, "(14.7 Pa is 0.0147 kPa; write '14.7 kPa')"),
        ({"temperature": "45 K"}, "outside the plausible range; given '45 K'"),
        ({"temperature": [300.0, 20.0]}, "20 K is -253 degC; write '20 degC'"),
        ({"flows": [0.0, 36.0]}, "write '36 L/h'"),
        ({"pressure": "30 psig"}, "needs the atmospheric pressure"),
        ({"temperature": "45 C"}, "key 'temperature': 'C' is not a unit of temperature; given '45 C'"),
        ({"pressure": -1.0}, "accepted: absolute pressure from 1 kPa to 2000 kPa"),
        ({"flows": 3e-5}, "key 'flows': not a list"),
        ({"flows": np.float32(3e-5)}, "key 'flows': not a list"),
        ({"flows": "36 L/h"}, "key 'flows': not a list"),
        ({"flows": []}, "key 'flows': an empty list"),
        ({"flows": [[0.0, 1e-5]]}, "key 'flows': not a list"),
        ({"flows": [0.0, None]}, "key 'flows': not a number"),
        ({"flows": [1e-5]}, "part 'Rig', key 'flows': one row is no table"),
        ({"end": "rolr"}, "key 'end': not one of the choices; given 'rolr'; accepted: did you mean 'roller'?"),
        ({"end": 3}, "key 'end': not one of the choices"),
        ({"end": None}, "key 'end': not one of the choices"),
        ({"cylinders": 4.0}, "key 'cylinders': not a whole number"),
        ({"cylinders": True}, "key 'cylinders': not a whole number"),
        ({"cylinders": 17}, "accepted: a whole number from 1 to 16"),
        ({"name": 5}, "key 'name': not text"),
        ({"wet": 1}, "key 'wet': not a truth value; given 1; accepted: true or false"),
        ({"wet": "yes"}, "key 'wet': not a truth value"),
        ({"hose": {"bore": "8 mm"}}, "key 'hose': not a table of this part"),
        ({"hose": None}, "key 'hose': not a table of this part"),
        ({"temperature": None}, "key 'temperature': not a number"),
        ({"temperature": float("nan")}, "key 'temperature': not a finite number"),
    ],
)
def test_a_wrong_value_is_one_message_with_place_given_and_accepted(changes, said):
    message = refused(**changes)
    assert said in message
    assert message.startswith("part 'Rig', key '")
    assert "\n" not in message


def test_a_plain_number_out_of_range_gets_the_unit_it_was_meant_in():
    with pytest.raises(InputError, match=r"8 m is 8000 mm; write '8 mm'"):
        Hose(bore=8)
    with pytest.raises(InputError, match=r"0.375 m is 375 mm; write '0.375 in'"):
        Hose(bore=0.375)
    with pytest.raises(InputError, match=r"\(900 m is 900 m; write '900 mm'\)"):
        Hose(bore="8 mm", length=900)


def test_one_sided_ranges_read_well():
    @dataclass(frozen=True)
    class Sided(Ratings):
        low: Quantity = quantity("length", "Low.", least=0.5)
        high: Quantity = quantity("length", "High.", most=2.0)
        free: Quantity = quantity("heat capacity", "Free.")
        tiny: Quantity = quantity("kinematic viscosity", "Tiny.", least=1e-9, most=1e-3)

    known = declarations(Sided)
    assert known["low"].accepted() == "length, at least 0.5 m"
    assert known["high"].accepted() == "length, at most 2 m"
    assert known["free"].accepted() == "heat capacity"
    assert known["tiny"].accepted() == "kinematic viscosity from 0.001 mm2/s to 1000 mm2/s"


def test_limits_themselves_are_accepted():
    assert Hose(bore="0.5 mm").bore == 5e-4
    assert Hose(bore="100 mm").bore == 0.1


def test_none_is_accepted_only_where_it_is_the_default():
    assert Hose(bore="8 mm", burst=None).burst is None
    assert Rig(temperature=300.0).spare is None


def test_declarations_keep_order_defaults_and_need():
    known = declarations(Rig)
    assert list(known)[:3] == ["temperature", "pressure", "flows"]
    assert "note" not in known
    assert known["temperature"].required
    assert not known["pressure"].required
    assert known["pressure"].default == 101325.0
    assert known["hose"].part is Hose
    assert known["spare"].optional


def test_wrong_declarations_fail_where_they_are_written():
    with pytest.raises(TypeError, match="unknown kind"):
        quantity("pressure", "Not a kind.")
    with pytest.raises(TypeError, match="unknown kind"):
        series("pressure", "Not a kind.")
    with pytest.raises(TypeError, match="SI numbers"):
        quantity("length", "Limit as text.", least="1 mm")


# Replacing values.


def test_with_values_reaches_into_tables_and_leaves_the_original():
    rig = Rig(temperature=300.0)
    changed = rig.with_values({"hose.bore": "10 mm", "temperature": "20 degC"})
    assert changed.hose.bore == 0.01
    assert changed.temperature == pytest.approx(293.15)
    assert rig.hose.bore == 0.008
    assert changed.hose.length == rig.hose.length


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("hose.bor", 1, "key 'hose.bor': unknown key; accepted: did you mean 'bore'?"),
        ("hos.bore", 1, "key 'hos.bore': unknown key; accepted: did you mean 'hose'?"),
        ("temprature", 300, "did you mean 'temperature'?"),
        ("temperature.x", 1, "key 'temperature.x': no table of keys here"),
        ("spare.bore", "8 mm", "key 'spare.bore': no table of keys here"),
        ("hose.", 1, "key 'hose': unknown key"),
        ("", 1, "unknown key"),
        (3, 1, "a name that is no text; given 3"),
        ("hose.bore", "8 C", "key 'hose.bore': 'C' is not a unit of bore"),
        ("hose.bore", 8, "part 'Hose', key 'hose.bore': outside the plausible range (8 m is 8000 mm; write '8 mm')"),
    ],
)
def test_with_values_names_the_dotted_key_of_a_wrong_entry(key, value, said):
    with pytest.raises(InputError) as caught:
        Rig(temperature=300.0).with_values({key: value})
    assert said in str(caught.value)


@settings(max_examples=150, derandomize=True, deadline=None)
@given(
    key=st.sampled_from(list(declarations(Rig))),
    value=st.one_of(
        st.none(),
        st.booleans(),
        st.integers(),
        st.floats(),
        st.text(max_size=12),
        st.lists(st.one_of(st.floats(), st.text(max_size=5), st.none()), max_size=4),
        st.dictionaries(st.text(max_size=3), st.integers(), max_size=2),
    ),
)
def test_any_value_for_any_key_is_taken_or_refused_with_its_key(key, value):
    said = ""
    try:
        Rig(**{"temperature": 300.0, key: value})
    except InputError as error:
        said = str(error)
    assert not said or f"key '{key}'" in said


@dataclass(frozen=True)
class Bench(Ratings):
    """A bench table with a hose, for equality."""

    flow: Quantity = series("volume flow", "Flows.", least=0.0, most=1e-2)
    bore: Quantity = quantity("bore", "Bore.", least=5e-4, most=0.1, default=0.008)
    remark: str = text("Remark.", default="")


def test_ratings_with_equal_lists_are_equal_and_hash_alike():
    one, other = Bench(flow=[1e-5, 2e-5]), Bench(flow=np.array(["1e-5 m3/s", "2e-5 m3/s"]), bore="8 mm")
    assert one == other
    assert hash(one) == hash(other)
    assert len({one, other}) == 1


@pytest.mark.parametrize(
    "changes",
    [{"flow": [1e-5, 3e-5]}, {"flow": [1e-5]}, {"bore": "9 mm"}, {"bore": ["8 mm", "8 mm"]}, {"remark": "x"}],
)
def test_ratings_that_differ_in_one_value_are_not_equal(changes):
    assert Bench(flow=[1e-5, 2e-5]) != Bench(**{"flow": [1e-5, 2e-5], **changes})
    assert Bench(**{"flow": [1e-5, 2e-5], **changes}) != Bench(flow=[1e-5, 2e-5])


def test_ratings_of_different_classes_are_never_equal():
    class Other(Bench):
        """The same fields."""

    assert Bench(flow=[1e-5]) != Other(flow=[1e-5])
    assert Bench(flow=[1e-5]) != 3


@pytest.mark.parametrize("given", ["a\nb", "a\x1b[31mb", "a\x00", "a\u202eb", "a\u2028b", "\ufeffa", "x" * 1001])
def test_text_that_a_terminal_would_obey_is_refused(given):
    with pytest.raises(InputError, match=r"control character|too long") as caught:
        Bench(flow=[1e-5], remark=given)
    assert str(caught.value).isprintable()
