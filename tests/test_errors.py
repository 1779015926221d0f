"""One family of errors, each message with place, given and accepted."""

import copy
import pickle

import pytest

from fuelsim.errors import FuelsimError, InputError, RangeError, SolveError, nearest, shortened


def test_every_error_belongs_to_one_family_and_to_its_python_kin():
    assert issubclass(InputError, FuelsimError)
    assert issubclass(InputError, ValueError)
    assert issubclass(RangeError, InputError)
    assert issubclass(SolveError, FuelsimError)
    assert issubclass(SolveError, RuntimeError)


def test_message_says_where_what_and_what_is_accepted():
    error = InputError("too thin", given="0 mm", accepted="0.5 mm to 100 mm", part="Line", key="bore", file="car.toml")
    assert str(error) == ("file car.toml, part 'Line', key 'bore': too thin; given '0 mm'; accepted: 0.5 mm to 100 mm")
    assert str(InputError("too thin")) == "too thin"


def test_place_is_filled_in_on_the_way_out_and_never_overwritten():
    inner = RangeError("too thin", given=0.0, key="bore", part="Line")
    outer = inner.at(part="Car", key="feed", file="car.toml")
    assert isinstance(outer, RangeError)
    assert (outer.part, outer.key, outer.file) == ("Line", "feed.bore", "car.toml")
    assert outer.given == 0.0
    assert outer.at(file="other.toml", key="car").key == "car.feed.bore"
    assert outer.at(file="other.toml").file == "car.toml"
    assert InputError("missing").at(key="feed").key == "feed"


def test_errors_travel_between_processes():
    error = RangeError("too thin", given=0.0, accepted="more", part="Line", key="bore", file="car.toml")
    for twin in (pickle.loads(pickle.dumps(error)), copy.copy(error)):
        assert type(twin) is RangeError
        assert str(twin) == str(error)
    assert str(pickle.loads(pickle.dumps(SolveError("no solution", None)))) == "no solution"


def test_solve_error_carries_the_outcome():
    assert SolveError("no", outcome={"code": 2}).outcome == {"code": 2}


@pytest.mark.parametrize("value", ["x" * 10_000, list(range(10_000)), "line\nbreak", "tab\tand\x00"])
def test_a_long_or_odd_value_is_shown_on_one_short_line(value):
    text = shortened(value)
    assert len(text) <= 80
    assert "\n" not in text
    assert str(InputError("wrong", given=value)) == f"wrong; given {text}"


def test_nearest_name_comes_first():
    assert nearest("flter", ["filter", "feed"]).startswith("did you mean 'filter'?")
    assert nearest("zzz", ["filter", "feed"]) == "known: filter, feed"
    assert nearest("a", [str(number) for number in range(50)]).endswith(", ...")
    assert nearest("a", []) == "known: "


def test_nothing_in_a_message_can_move_the_cursor_or_fill_the_screen():
    message = str(InputError("unknown key", key="a\x1b[2J" + "b" * 10_000, file="x\r\ny", given="\x07"))
    assert message.isprintable()
    assert len(message) < 300
    assert "too large to show" in str(InputError("wrong", given=1 << 100_000))
