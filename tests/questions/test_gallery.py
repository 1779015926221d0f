"""The gallery as a whole: every question is answered, briefly and through the public door."""

import ast
from pathlib import Path

import pytest

import fuelsim as fs

FOLDER = Path(__file__).parent
ANSWERED = (
    2,
    3,
    5,
    6,
    8,
    9,
    10,
    11,
    12,
    14,
    15,
    17,
    18,
    20,
    21,
    22,
    23,
    25,
    26,
    27,
    28,
    29,
    32,
    36,
    37,
    38,
    39,
    40,
    43,
    44,
    45,
)
MOST_LINES = 10


def asked():
    for path in sorted(FOLDER.glob("test_*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and node.name.startswith("ask_"):
                yield node, path


def number_of(node):
    return int(node.name.split("_")[1])


def test_every_question_is_answered():
    assert {number_of(node) for node, _ in asked()} == set(ANSWERED)


@pytest.mark.parametrize(("node", "path"), list(asked()), ids=lambda value: getattr(value, "name", "")[:30])
def test_a_question_is_asked_in_ten_lines_through_the_public_door(node, path):
    assert ast.get_docstring(node).rstrip().endswith(("?", "losses.")), "the docstring is the question"
    body = node.body[1:]
    statements = [inner for part in body for inner in ast.walk(part) if isinstance(inner, ast.stmt)]
    assert len(statements) <= MOST_LINES
    names = {
        inner.attr
        for inner in ast.walk(node)
        if isinstance(inner, ast.Attribute) and isinstance(inner.value, ast.Name) and inner.value.id == "fs"
    }
    assert names <= set(fs.__all__)


def test_the_gallery_imports_the_public_door_only():
    for _, path in asked():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom):
                assert not (node.module or "").startswith("fuelsim")
