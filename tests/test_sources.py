"""Sources: every cited key exists, every entry is cited, and fewer figures rest on memory from year to year."""

from __future__ import annotations

import ast
import csv
import io
import re
import tokenize
import tomllib
from functools import cache
from pathlib import Path

import pytest

import fuelsim
from fuelsim import data_files
from fuelsim.declaration import declarations
from fuelsim.errors import InputError
from fuelsim.finding import Finding
from fuelsim.fuel.classes import volatility_classes
from fuelsim.parts.catalogue_parts import catalogue_entry, catalogue_kinds, catalogue_names
from fuelsim.sources import KINDS, READ, cite, doubt, reference, references, unknowns
from fuelsim.studies import limits
from fuelsim.studies.requirements import RULES

PACKAGE = Path(fuelsim.__file__).resolve().parent
DATA = data_files.data_path("README.md").parent
TESTS = Path(__file__).resolve().parent
CODE = sorted(PACKAGE.rglob("*.py"))

# A key in square brackets within a comment or docstring: not an index (a word, bracket or quote stands before it) and
# not a table of a car file (written in backquotes or quotes).
CITED = re.compile(r"(?<![\w\])`'\"])\[([a-z][a-z0-9]*(?:_[a-z0-9]+)+|memory|assumed|computed|invented|nominal)\]")
NAMED = re.compile(
    r"\[(?:[a-z][a-z0-9]*(?:_[a-z0-9]+)+|memory|assumed|computed|invented|nominal)\]|\b(?:cite|reference|Limit)\("
)
"""Without one of these a module cites nothing, and need not be parsed."""
FREE_TEXT = re.compile(r"from\s+memory", re.IGNORECASE)

# How many figures of each room rest on memory: in code a mark [memory], a call that cites "memory", or the words "from
# memory"; in data a figure whose source is memory; a publication that was not read counts as memory. A
# number here may only go down.
FROM_MEMORY = {
    "car": 8,
    "fuel": 5,
    "laws": 3,
    "network": 0,
    "numerics": 1,
    "parts": 14,
    "studies": 9,
    "system": 0,
    "ripple": 1,
    "transients": 3,
    "waves": 1,
    "data": 164,
}


@cache
def tree_of(path):
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def texts_of(path):
    """Return every comment and docstring of a module, the string under an assignment too."""
    source = path.read_text(encoding="utf-8")
    tokens = tokenize.generate_tokens(io.StringIO(source).readline)
    comments = [token.string for token in tokens if token.type == tokenize.COMMENT]
    return comments + [
        node.value.value
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)
    ]


def calls_of(path):
    """Yield every call of a module with the name of what is called."""
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Call):
            name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            yield name, node


def strings_in(node):
    return [item.value for item in ast.walk(node) if isinstance(item, ast.Constant) and isinstance(item.value, str)]


@cache
def keys_in_code(path):
    """Return the keys a module cites: in square brackets, as the first argument of `cite`, as the source of a limit."""
    if not NAMED.search(path.read_text(encoding="utf-8")):
        return []
    keys = [key for text in texts_of(path) for key in CITED.findall(text)]
    for name, call in calls_of(path):
        if name in ("cite", "reference") and call.args:
            given = call.args[0]
            keys += strings_in(given) if isinstance(given, (ast.Constant, ast.List, ast.Tuple)) else []
        if name == "Limit":
            for given in call.keywords:
                if given.arg == "source":
                    keys += strings_in(given.value)
    return keys


def tables_with_sources(value):
    """Yield every table of a data file that says where its figures come from, however deep."""
    if isinstance(value, dict):
        if "source" in value or "sources" in value:
            yield value
        for inner in value.values():
            yield from tables_with_sources(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from tables_with_sources(inner)


def as_list(given):
    return [given] if isinstance(given, str) else list(given)


def keys_in_data():
    """Yield file and key of every citation in the data folder."""
    for path in sorted(DATA.rglob("*.toml")):
        if path.name != "references.toml":
            for table in tables_with_sources(tomllib.loads(path.read_text(encoding="utf-8"))):
                for given in [table.get("source", []), *table.get("sources", {}).values()]:
                    yield from ((path, key) for key in as_list(given))


def room_of(path):
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def rests_on_memory(key):
    """Whether a source was recalled, a publication that was not read included."""
    return key == "memory" or reference(key).read == "not read"


def from_memory():
    """Return how many figures of each room rest on memory."""
    counts = dict.fromkeys(FROM_MEMORY, 0)
    for path in CODE:
        if path.name == "sources.py":
            continue
        marks = sum(rests_on_memory(key) for key in keys_in_code(path))
        marks += len(FREE_TEXT.findall(path.read_text(encoding="utf-8")))
        if marks:
            counts[room_of(path)] = counts.get(room_of(path), 0) + marks
    counts["data"] = sum(rests_on_memory(key) for _, key in keys_in_data())
    return counts


@pytest.mark.parametrize("path", CODE, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_every_source_cited_in_code_has_an_entry(path):
    assert set(keys_in_code(path)) <= set(references())


def test_every_source_cited_in_tests_has_an_entry():
    paths = [path for path in TESTS.rglob("*.py") if path.name != "test_sources.py"]
    assert {key for path in paths for key in keys_in_code(path)} <= set(references())


def test_every_source_cited_in_data_has_an_entry_and_none_is_free_text():
    for path, key in keys_in_data():
        assert key in references(), f"{path.name}: {key}"


def test_every_species_names_its_sources():
    with open(DATA / "species.csv", encoding="utf-8", newline="") as file:
        assert {key for row in csv.DictReader(file) for key in row["source"].split()} <= set(references())


def test_every_entry_is_cited():
    cited = {key for _, key in keys_in_data()} | {key for item in unknowns().values() for key in item.looked_in}
    for path in [*CODE, *(path for path in TESTS.rglob("*.py") if path.name != "test_sources.py")]:
        cited.update(keys_in_code(path))
    with open(DATA / "species.csv", encoding="utf-8", newline="") as file:
        cited.update(key for row in csv.DictReader(file) for key in row["source"].split())
    assert set(references()) <= cited, sorted(set(references()) - cited)


def test_every_entry_says_what_it_is_and_how_it_was_read():
    for entry in references().values():
        assert entry.kind in KINDS
        assert entry.read in READ
        unread = entry.kind in ("common practice", "memory", "assumption", "computed", "measurement")
        assert bool(entry.read) != unread, entry.key


def test_manuals_and_pages_are_named_by_kind_and_decade_only():
    for entry in references().values():
        if entry.kind == "service manual":
            assert re.fullmatch(r"service_(manual|bulletin|chart)_\d{4}s_[a-z]|service_manuals_[a-z]", entry.key)
            assert re.fullmatch(
                r"service (manual|bulletin|chart), \d{4}s, [A-Z]|service manuals, several decades, [A-Z]", entry.short
            )
            assert entry.title.lower().startswith(entry.short.lower())


@pytest.mark.parametrize("path", CODE, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_no_source_is_written_out_where_a_finding_or_a_limit_is_made(path):
    for name, call in calls_of(path):
        for given in call.keywords:
            if given.arg == "source" and name != "Limit":
                assert not isinstance(given.value, (ast.Constant, ast.JoinedStr)) or given.value.value == "", (
                    f"{path}:{given.value.lineno}: use cite(...)"
                )


def test_every_limit_and_rule_cites_its_source():
    found = [item for item in vars(limits).values() if isinstance(item, limits.Limit)]
    assert len(found) > 5
    for limit in found:
        assert reference(limit.source).citation in limit.citation
    for rule in RULES:
        assert any(entry.citation in rule.source for entry in references().values())


def test_catalogue_and_classes_print_the_citation():
    for kind in catalogue_kinds():
        for name in catalogue_names(kind):
            entry = catalogue_entry(kind, name)
            assert set(entry.notes) <= set(entry.sources)
            for rating in entry.values:
                for key in entry.sources.get(rating, entry.source):
                    assert reference(key).citation in entry.source_of(rating)
    for item in volatility_classes():
        assert any(entry.citation in item.source for entry in references().values())


def test_figures_from_memory_only_become_fewer():
    counts = from_memory()
    more = {room: f"{count}, at most {FROM_MEMORY.get(room, 0)}" for room, count in counts.items()
            if count > FROM_MEMORY.get(room, 0)}  # fmt: skip
    assert not more, f"read the source and cite it, or replace another such figure: {more}"


def test_an_unknown_key_offers_the_nearest():
    with pytest.raises(InputError, match="did you mean 'memory'"):
        cite("memry")


def test_a_citation_says_how_the_source_was_read():
    assert cite("sae_j2045").endswith("(scope read)")
    assert cite(["memory", "assumed"], "a note") == "a note, from memory; assumed"
    assert "no source" in Finding(0, "x", "y", source=cite("common_practice")).source


def test_figures_without_a_source_name_keys_of_a_car_file():
    car = fuelsim.Car.named("heron")
    tables = {item.name: item.part for item in declarations(type(car)).values() if item.form == "table"}
    for item in unknowns().values():
        assert all(len(text) > 2 for text in (item.quantity, item.band, item.used, item.measure, item.rests))
        for key in item.looked_in:
            reference(key)
        for key in item.keys:
            table, _, name = key.partition(".")
            assert name in declarations(tables[table]), key


def test_a_finding_that_rests_on_a_figure_without_a_source_says_where_its_band_stands():
    assert "rests on allowed_vapour without a public source: fs.unknown_figures()" in doubt("allowed_vapour")
    assert cite("computed", rests_on="soak_peak") == f"computed; {doubt('soak_peak')}"
    table = fuelsim.unknown_figures()
    assert "0.3 to 1" in table.loc["allowed_vapour", "band"]
    assert "flow into a can" in table.loc["allowed_vapour", "measure"]
    with pytest.raises(InputError, match="did you mean 'dead_time'"):
        doubt("dead_tim")


def test_the_tables_for_users_hold_every_entry():
    assert list(fuelsim.unknown_figures().index) == list(unknowns())
    assert list(fuelsim.source_table().index) == list(references())
