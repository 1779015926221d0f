"""The house rules of the source tree: which room may import which, and how long a module may be."""

import ast
from pathlib import Path

import pytest

import fuelsim
from fuelsim import opener
from fuelsim.lazy_names import modules_in_stub

PACKAGE = Path(fuelsim.__file__).resolve().parent
ROOMS = (
    "lazy_names",
    "opener",
    "typing",
    "constants",
    "errors",
    "unit_text",
    "kinds",
    "units",
    "named_tables",
    "declaration",
    "made_by",
    "arguments",
    "shown",
    "declaration_text",
    "fields",
    "liquid",
    "outcome",
    "finding",
    "band",
    "interruption",
    "data_files",
    "output_files",
    "sources",
    "numerics",
    "laws",
    "fuel",
    "parts",
    "network",
    "waves",
    "car",
    "system",
    "ripple",
    "transients",
    "studies",
    "diagnosis",
    "show",
    "cli",
    "__init__",
    "__main__",
)
LONGEST_MODULE = 600
MODULES = sorted(PACKAGE.rglob("*.py"))


def room_of(path):
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imported_rooms(path):
    """Yield room and line of every import from within the package, those inside functions too."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
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


MODULE_OF = {
    path: ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts).removesuffix(".__init__") for path in MODULES
}


def imported_modules(path):
    """Return the modules that a module imports, those inside functions and for type checkers alone included."""
    known = set(MODULE_OF.values())
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            found |= {f"{node.module}.{alias.name}" for alias in node.names} | {node.module}
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return found & known - {"fuelsim"}


def circles(imports):
    """Return the sets of modules of which each reaches every other by imports."""

    def reached(start):
        seen, waiting = set(), [start]
        while waiting:
            new = imports[waiting.pop()] - seen
            seen |= new
            waiting += new
        return seen

    below = {module: reached(module) for module in imports}
    return {
        tuple(sorted({module, *(other for other in below[module] if module in below[other])}))
        for module in imports
        if module in below[module]
    }


def test_no_imports_run_in_a_circle():
    """The doors `opener` and ``fuelsim.__init__`` read their names from stubs, which are no imports."""
    assert circles({MODULE_OF[path]: imported_modules(path) for path in MODULES}) == set()


def test_a_circle_is_seen():
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}, "e": {"e"}}) == {("a", "b", "c"), ("e",)}


WITH_ANY = {"fields", "typing", "show/style"}
"""Modules with `Any`: a rating may be of any type, and so may a value of a TOML file and an option of a line drawn."""


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_types_are_named_where_a_value_is_not_truly_of_any_type(path):
    if path.relative_to(PACKAGE).with_suffix("").as_posix() in WITH_ANY:
        return
    names = {node.id for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, ast.Name)}
    assert "Any" not in names, f"{path} holds Any; fuelsim/typing.py has names for values given, arrays and tables"


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_a_system_is_a_plumbed_car_and_a_system_of_units_is_called_units(path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.arg) and node.arg == "system" and node.annotation is not None:
            assert "str" not in ast.unparse(node.annotation), f"{path}:{node.lineno}: name the parameter units"


def test_only_methods_go_through_the_door_upward():
    for path in MODULES:
        tree = ast.parse(path.read_text(encoding="utf-8"))
        methods = [
            inner
            for node in ast.walk(tree)
            if isinstance(node, ast.ClassDef)
            for method in node.body
            if isinstance(method, ast.FunctionDef)
            for inner in ast.walk(method)
        ]
        for node in ast.walk(tree):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "opener":
                assert any(node is inner for inner in methods), f"{path}:{node.lineno} uses opener outside a method"


def test_every_door_upward_opens():
    for name in modules_in_stub(PACKAGE / "opener.pyi"):
        assert callable(getattr(opener, name))


@pytest.mark.parametrize("room", ["numerics", "laws"])
def test_numerics_and_laws_know_no_units_files_or_pictures(room):
    forbidden = {"units", "unit_text", "fields", "data_files"}
    for path in PACKAGE.joinpath(room).rglob("*.py"):
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
    """A wrapper that forwards the arguments of another function, ``_P.kwargs``, has the names of that one."""
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)) and node.args.kwarg:
                if ast.unparse(node.args.kwarg.annotation) == "_P.kwargs":
                    continue
                # Ratings look at the names before `dataclass` does, to answer a misspelt one with the nearest.
                assert node.name in ("grid", "__new__"), (
                    f"{path}:{node.lineno}: {node.name} takes **{node.args.kwarg.arg}"
                )
