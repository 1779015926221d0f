"""The house rules of the source tree: which room may import which, and how long a module may be."""

import ast
from pathlib import Path

import pytest

import fuelsim

PACKAGE = Path(fuelsim.__file__).resolve().parent
ROOMS = (
    "errors",
    "unit_text",
    "units",
    "fields",
    "fields_document",
    "outcome",
    "finding",
    "catalogue",
    "laws",
    "fuel",
    "parts",
    "network",
    "system",
    "transients",
    "studies",
    "show",
    "cli",
    "__init__",
    "__main__",
)
SHOWS_ITSELF = {"network", "system", "transients", "studies"}
"""Rooms whose results open the show room, but only when a table, plot or report is asked for."""

LONGEST_MODULE = 600
MODULES = sorted(PACKAGE.rglob("*.py"))


def room_of(path):
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imported_rooms(path):
    """Yield room and line of every import from within the package, those inside functions too."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    when_asked = {id(inner) for node in functions for inner in ast.walk(node)}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            opens_show = (node.module or "").startswith("fuelsim.show.")
            if opens_show and id(node) in when_asked and room_of(path) in SHOWS_ITSELF:
                continue
            if node.level:
                yield "a relative import", node.lineno
            elif node.module == "fuelsim":
                yield from ((alias.name, node.lineno) for alias in node.names)
            elif node.module and node.module.startswith("fuelsim."):
                yield node.module.split(".")[1], node.lineno
        elif isinstance(node, ast.Import):
            for alias in node.names:
                if alias.name == "fuelsim":
                    yield "__init__", node.lineno
                elif alias.name.startswith("fuelsim."):
                    yield alias.name.split(".")[1], node.lineno


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_each_room_imports_only_rooms_above_it(path):
    room = room_of(path)
    assert room in ROOMS, f"{room} has no place in the order of rooms"
    for imported, line in imported_rooms(path):
        assert imported in ROOMS, f"{path}:{line} imports {imported}, which is no room"
        if room in ("__init__", "__main__"):
            continue
        assert ROOMS.index(imported) <= ROOMS.index(room), f"{path}:{line}: {room} imports {imported}"


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_no_module_is_too_long_to_read(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST_MODULE


def test_laws_know_no_units_files_or_pictures():
    forbidden = {"units", "unit_text", "fields", "catalogue"}
    for path in PACKAGE.joinpath("laws").rglob("*.py"):
        for imported, line in imported_rooms(path):
            assert imported not in forbidden, f"{path}:{line} imports {imported}"
        tree = ast.parse(path.read_text(encoding="utf-8"))
        names = {
            node.func.id for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
        }
        assert not names & {"open", "print", "eval", "exec"}, path


def test_no_module_executes_text():
    for path in MODULES:
        tree = ast.parse(path.read_text(encoding="utf-8"))
        names = {
            node.func.id for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
        }
        assert not names & {"eval", "exec", "compile", "__import__"}, path


def test_no_function_takes_options_it_does_not_name():
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)) and node.args.kwarg:
                assert node.name == "grid", f"{path}:{node.lineno}: {node.name} takes **{node.args.kwarg.arg}"
