"""The script that changes the code: what it changes, and that it tells a noticed change from one that is not."""

from __future__ import annotations

import ast
import json
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import noticed_changes
from noticed_changes import PROJECT, ROOMS, Known, judged, known_of, order_of, reason_of, reasons, within_budget
from source_changes import (
    KINDS,
    assigned_at,
    changed,
    changes_of,
    drawn,
    functions_reading,
    names_made_of,
    one_per_line,
    readers_of,
)

SOURCE = '''
LIMIT = 2.0
LEAST_STEP = 0.5


def inside(x, y):
    """Say 1 + 1."""
    if not (x < LIMIT) and y is not None:
        raise ValueError(f"{x + 1.0} is too much")
    return -x ** 2 + (x) % y


def area(bore):
    return 0.25 * bore
'''


def keyed(kind):
    return {(change.text, change.old, change.new) for change in changes_of(SOURCE, "a.py") if change.kind == kind}


def test_operators_comparisons_and_signs_are_changed_and_messages_are_not():
    where, result = "if not (x < LIMIT) and y is not None:", "return -x ** 2 + (x) % y"
    assert keyed("operator") == {
        (where, "not (", "("),
        (where, "<", ">="),
        (where, "and", "or"),
        (where, "is not", "is"),
        (result, "-", ""),
        (result, "**", "*"),
        (result, "+", "-"),
        (result, "%", "*"),
        ("return 0.25 * bore", "*", "/"),
    }


def test_numbers_grow_by_a_tenth_and_settings_are_put_apart():
    changes = [change for change in changes_of(SOURCE, "a.py") if change.kind == "number"]
    assert [(change.old, change.new, bool(change.apart)) for change in changes] == [
        ("2.0", "2.2", False),
        ("0.5", "0.55", True),
        ("2", "2.2", False),
        ("0.25", "0.275", False),
    ]


def test_every_change_of_the_rooms_is_a_program_with_one_difference():
    folder = PROJECT / "fuelsim"
    for kind in KINDS:
        for change in drawn(folder, ROOMS, kind, 60, seed=3):
            source = (folder / change.path).read_text(encoding="utf-8")
            assert ast.dump(ast.parse(changed(source, change))) != ast.dump(ast.parse(source))
            assert source[change.start : change.end] == change.old


def test_one_seed_draws_one_set_of_changes():
    folder = PROJECT / "fuelsim"
    first, again, other = (drawn(folder, ROOMS, "operator", 20, seed) for seed in (1, 1, 2))
    assert first == again
    assert first != other


def test_one_change_of_each_line_can_be_drawn():
    changes = changes_of(SOURCE, "a.py")
    some = one_per_line(changes, seed=1)
    assert sorted(change.line for change in some) == sorted({change.line for change in changes})


def test_a_constant_bears_on_the_functions_that_read_it():
    assert readers_of(SOURCE, 2) == set()
    assert assigned_at(SOURCE, 2) == {"LIMIT"}
    assert functions_reading(SOURCE, {"LIMIT"}) == {"inside"}
    assert readers_of(SOURCE, 14) == {"area"}


def test_a_comment_speaks_of_the_constants_below_it_up_to_an_empty_line():
    source = "# Both [assumed].\nHEAD = 2.0\nSHARE = 0.5\n\nBORE = 0.008\n"
    assert [bool(change.apart) for change in changes_of(source, "a.py")] == [True, True, False]


def test_a_constant_bears_on_what_is_made_of_it():
    source = "A = 1.0\nB = {'a': A}\n\n\ndef f():\n    return B['a']\n"
    assert functions_reading(source, names_made_of(source, assigned_at(source, 1))) == {"f"}


def test_a_budget_of_time_keeps_the_first_tests():
    known = Known({}, {"slow": 3.0, "quick": 1.0, "last": 2.0}, [], {}, set())
    assert within_budget(["quick", "last", "slow"], known, 3.0) == ["quick", "last"]
    assert within_budget(["slow", "quick"], known, 1.0) == ["slow"]


def test_listed_reasons_belong_to_changes_that_exist():
    changes = [
        change
        for room in ROOMS
        for path in (PROJECT / "fuelsim" / room).rglob("*.py")
        for change in changes_of(path.read_text(encoding="utf-8"), path.relative_to(PROJECT / "fuelsim").as_posix())
    ]
    idle = {key: why for key, why in reasons().items() if not any(reason_of(one, {key: why}) for one in changes)}
    assert not idle


@pytest.fixture
def small(tmp_path, monkeypatch):
    """A project of one module with two functions, of which one is tested."""
    (tmp_path / "fuelsim" / "laws").mkdir(parents=True)
    (tmp_path / "tests" / "laws").mkdir(parents=True)
    (tmp_path / "fuelsim" / "laws" / "circle.py").write_text(
        "def area(bore):\n    return 0.785 * bore**2\n\n\ndef twice(bore):\n    return 2.0 * bore\n"
    )
    (tmp_path / "tests" / "laws" / "test_circle.py").write_text(
        "import sys\nsys.path.insert(0, 'fuelsim/laws')\nimport circle\n\n\n"
        "def test_area():\n    assert circle.area(4.0) == 12.56\n\n\n"
        "def test_twice():\n    circle.twice(1.0)\n"
    )
    monkeypatch.setattr(noticed_changes, "folders_tested", lambda rooms: ["tests/laws"])
    return tmp_path


@pytest.mark.long
def test_a_change_is_noticed_where_a_test_fails_and_survives_where_none_does(small):
    kept = small / "map.json"
    known = known_of(small, ("laws",), kept)
    assert known.entered["tests/laws/test_circle.py::test_area"] == ["laws/circle.py:area"]
    assert json.loads(kept.read_text())["seconds"].keys() == known.seconds.keys()
    source = (small / "fuelsim" / "laws" / "circle.py").read_text()
    answers = {}
    for change in changes_of(source, "laws/circle.py"):
        assert len(order_of(change, small, known)) == 1
        answers[change.text, change.old] = judged(change, small, known, 60.0)
    assert {key: answer.noticed for key, answer in answers.items()} == {
        ("return 0.785 * bore**2", "0.785"): True,
        ("return 0.785 * bore**2", "*"): True,
        ("return 0.785 * bore**2", "**"): True,
        ("return 0.785 * bore**2", "2"): True,
        ("return 2.0 * bore", "2.0"): False,
        ("return 2.0 * bore", "*"): False,
    }
    assert (small / "fuelsim" / "laws" / "circle.py").read_text() == source
    assert isinstance(known, Known)


@pytest.mark.long
def test_a_test_that_fails_without_the_change_too_says_nothing(small):
    known = known_of(small, ("laws",), None)
    tests = small / "tests" / "laws" / "test_circle.py"
    tests.write_text(tests.read_text().replace("circle.twice(1.0)", "assert circle.twice(1.0) == 3.0"))
    source = (small / "fuelsim" / "laws" / "circle.py").read_text()
    (change,) = (one for one in changes_of(source, "laws/circle.py") if one.old == "2.0")
    assert not judged(change, small, known, 60.0).noticed
