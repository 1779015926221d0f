"""Small changes of source text: an operator, a comparison, a sign or a number, by their place in the syntax tree."""

from __future__ import annotations

import ast
import bisect
import io
import random
import re
import tokenize
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

__all__ = [
    "KINDS",
    "Change",
    "assigned_at",
    "changed",
    "changes_of",
    "drawn",
    "functions_reading",
    "names_made_of",
    "one_per_line",
    "readers_of",
]

KINDS = ("operator", "number")
"""`operator`: arithmetic, comparison, logic and signs. `number`: a numeric literal made 10 % larger."""

_ARITHMETIC: dict[type[ast.operator], tuple[str, str]] = {
    ast.Add: ("+", "-"),
    ast.Sub: ("-", "+"),
    ast.Mult: ("*", "/"),
    ast.Div: ("/", "*"),
    ast.Pow: ("**", "*"),
    ast.FloorDiv: ("//", "*"),
    ast.Mod: ("%", "*"),
    ast.BitAnd: ("&", "|"),
    ast.BitOr: ("|", "&"),
}
# Comparisons are turned round. Whether the limit itself belongs to a range decides nothing where the quantity is a
# float, and is tested where it is a count: `<` is not changed to `<=`.
_COMPARISONS: dict[type[ast.cmpop], tuple[str, str]] = {
    ast.Lt: ("<", ">="),
    ast.LtE: ("<=", ">"),
    ast.Gt: (">", "<="),
    ast.GtE: (">=", "<"),
    ast.Eq: ("==", "!="),
    ast.NotEq: ("!=", "=="),
    ast.Is: ("is", "is not"),
    ast.IsNot: ("is not", "is"),
    ast.In: ("in", "not in"),
    ast.NotIn: ("not in", "in"),
}
_LOGIC: dict[type[ast.boolop], tuple[str, str]] = {ast.And: ("and", "or"), ast.Or: ("or", "and")}
_RANGE_KEYWORDS = {"least", "most", "default", "example", "accepted", "tol", "rtol", "atol", "xtol", "max_step"}
_UNSOURCED = ("[assumed]", "[memory]", "[common_practice]", "Assumed", "umerical")
_RANGE_WORDS = {
    "TOLERANCE",
    "LEAST",
    "MOST",
    "STEPS",
    "ITERATIONS",
    "BISECTIONS",
    "POINTS",
    "KNOTS",
    "SAMPLE",
    "SAMPLED",
}


@dataclass(frozen=True)
class Change:
    """One change of one file.

    Attributes
    ----------
    path : str
        File, from the package's folder.
    scope : str
        Names of the class and function around it, joined by dots; empty at module level.
    line : int
        Line, from 1.
    start, end : int
        Span of the characters that are replaced, counted in the whole text.
    old, new : str
        What stands there, and what takes its place.
    text : str
        Line of source around it.
    column : int
        Number of characters of that line before the change, indentation left out.
    kind : str
        One of `KINDS`.
    apart : str
        Why the change is not counted, known from the syntax alone; empty where it counts.
    """

    path: str
    scope: str
    line: int
    start: int
    end: int
    old: str
    new: str
    text: str
    column: int
    kind: str
    apart: str = ""

    @property
    def key(self) -> str:
        """Name by which the change is found again after lines have moved."""
        return f"{self.path} | {self.scope} | {self.text} | {self.column}: {self.old} -> {self.new or 'nothing'}"


@cache
def changes_of(source: str, path: str) -> tuple[Change, ...]:
    """Return every change that a module allows, in the order of the text.

    Parameters
    ----------
    source : str
        Text of the module.
    path : str
        Name of its file in the changes.

    Returns
    -------
    tuple of Change
    """
    return tuple(sorted(_Finder(source, path).found(), key=lambda change: (change.start, change.new)))


def changed(source: str, change: Change) -> str:
    """Return the text of a module after a change.

    Parameters
    ----------
    source : str
    change : Change
        One of `changes_of` of the same text.

    Returns
    -------
    str

    Examples
    --------
    >>> source = "def f(x):\\n    return 2.0 * x\\n"
    >>> [changed(source, change).splitlines()[1].strip() for change in changes_of(source, "f.py")]
    ['return 2.2 * x', 'return 2.0 / x']
    """
    return source[: change.start] + change.new + source[change.end :]


def drawn(folder: Path, rooms: Sequence[str], kind: str, count: int, seed: int) -> list[Change]:
    """Return changes drawn at random, each place as likely as any other.

    Parameters
    ----------
    folder : Path
        Folder of the package.
    rooms : sequence of str
        Folders in it whose modules are changed.
    kind : str
        One of `KINDS`.
    count, seed : int
        Number of changes, at most as many as there are; seed of the draw.

    Returns
    -------
    list of Change
        Those that the syntax alone puts apart are among them.
    """
    every: list[Change] = []
    for room in rooms:
        for path in sorted((folder / room).rglob("*.py")):
            name = path.relative_to(folder).as_posix()
            every += [change for change in changes_of(path.read_text(encoding="utf-8"), name) if change.kind == kind]
    return random.Random(seed).sample(every, min(count, len(every)))


def one_per_line(changes: Sequence[Change], seed: int) -> list[Change]:
    """Return one change of each line, drawn at random: what no test enters is found with a part of the changes.

    Parameters
    ----------
    changes : sequence of Change
    seed : int
        Seed of the draw.

    Returns
    -------
    list of Change
    """
    of_line: dict[tuple[str, int], list[Change]] = {}
    for change in changes:
        of_line.setdefault((change.path, change.line), []).append(change)
    choice = random.Random(seed)
    return [choice.choice(group) for group in of_line.values()]


def readers_of(source: str, line: int) -> set[str]:
    """Return the functions around a line of a module; none for a line outside functions.

    Parameters
    ----------
    source : str
        Text of the module.
    line : int
        Line of the change.

    Returns
    -------
    set of str
    """
    functions = [node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.FunctionDef)]
    return {node.name for node in functions if node.body[0].lineno <= line <= (node.end_lineno or 0)}


def assigned_at(source: str, line: int) -> set[str]:
    """Return the names that the module, or a class in it, assigns at a line; of a function's signature its own name.

    Parameters
    ----------
    source : str
        Text of the module.
    line : int
        Line of the change.

    Returns
    -------
    set of str

    Examples
    --------
    >>> sorted(assigned_at("LOW, HIGH = (\\n    1.0, 2.0\\n)\\n", 2))
    ['HIGH', 'LOW']
    """
    names: set[str] = set()
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Assign | ast.AnnAssign | ast.FunctionDef | ast.ClassDef):
            continue
        if not node.lineno <= line <= (node.end_lineno or 0):
            continue
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            names.add(node.name)
            continue
        for target in node.targets if isinstance(node, ast.Assign) else [node.target]:
            names |= {found.id for found in ast.walk(target) if isinstance(found, ast.Name)}
    return names


def names_made_of(source: str, names: set[str]) -> set[str]:
    """Return names, and those that a module assigns from them, step by step.

    Parameters
    ----------
    source : str
        Text of the module.
    names : set of str
        Such as those of `assigned_at`.

    Returns
    -------
    set of str

    Examples
    --------
    >>> sorted(names_made_of("A = 1.0\\nB = {'a': A}\\nC = B['a']\\nD = 2.0\\n", {"A"}))
    ['A', 'B', 'C']
    """
    reached = set(names)
    for node in ast.parse(source).body:
        if isinstance(node, ast.Assign | ast.AnnAssign) and node.value is not None:
            read = {found.id for found in ast.walk(node.value) if isinstance(found, ast.Name)}
            if read & reached:
                reached |= assigned_at(source, node.lineno)
    return reached


def functions_reading(source: str, names: set[str]) -> set[str]:
    """Return the functions of a module in which one of some names occurs.

    Parameters
    ----------
    source : str
        Text of the module.
    names : set of str
        Such as those of `assigned_at`.

    Returns
    -------
    set of str
    """
    return {
        node.name
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.FunctionDef)
        and names
        & {
            found.id if isinstance(found, ast.Name) else found.attr
            for found in ast.walk(node)
            if isinstance(found, ast.Name | ast.Attribute)
        }
    }


class _Finder(ast.NodeVisitor):
    """Walks a module with the names around each node."""

    def __init__(self, source: str, path: str) -> None:
        self.source, self.path = source, path
        self.lines = source.splitlines(keepends=True)
        self.begin = [0]
        for line in self.lines:
            self.begin.append(self.begin[-1] + len(line))
        self.tokens = [
            (self._at(*token.start), self._at(*token.end), token.string)
            for token in tokenize.generate_tokens(io.StringIO(source).readline)
            if token.type in (tokenize.OP, tokenize.NAME)
        ]
        self.scope: list[str] = []
        self.apart: list[str] = []
        self.subscript = 0
        self.inside_function = 0
        self.declares = False
        self.changes: list[Change] = []

    def found(self) -> list[Change]:
        self.visit(ast.parse(self.source))
        return self.changes

    def _at(self, line: int, column: int) -> int:
        return self.begin[line - 1] + column

    def _position(self, line: int, column: int) -> int:
        """Return the place of a node, whose columns count bytes."""
        return self.begin[line - 1] + len(self.lines[line - 1].encode()[:column].decode())

    def _span(self, node: ast.expr) -> tuple[int, int]:
        return (
            self._position(node.lineno, node.col_offset),
            self._position(node.end_lineno or node.lineno, node.end_col_offset or 0),
        )

    def _add(self, kind: str, start: int, end: int, new: str) -> None:
        line = bisect.bisect_right(self.begin, start)
        text = self.lines[line - 1]
        before = len(text) - len(text.lstrip())
        self.changes.append(
            Change(
                self.path,
                ".".join(self.scope),
                line,
                start,
                end,
                self.source[start:end],
                new,
                text.strip(),
                start - self.begin[line - 1] - before,
                kind,
                self._why_apart(kind, self.source[start:end]),
            )
        )

    def visit_Module(self, node: ast.Module) -> None:
        """Put apart the constants that say of themselves that no source gives them, in a docstring or comment."""
        for statement, after in zip(node.body, [*node.body[1:], ast.Pass()], strict=True):
            words = ""
            if isinstance(statement, ast.Assign | ast.AnnAssign):
                line = statement.lineno - 1
                # A comment speaks of the statements below it up to an empty line.
                while line > 0 and self.lines[line - 1].strip():
                    line -= 1
                    words += self.lines[line] if self.lines[line].startswith("#") else ""
                if isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant):
                    words += str(after.value.value)
            unsourced = any(mark in words for mark in _UNSOURCED)
            if unsourced:
                self.apart.append("an assumed figure or a numerical setting by its own words")
            self.visit(statement)
            if unsourced:
                self.apart.pop()

    def _why_apart(self, kind: str, text: str) -> str:
        if any(name.startswith("_sample") for name in self.scope):
            return "of the flows at which a law is tested"
        if kind == "operator":
            return ""
        if self.inside_function and re.fullmatch(r"1(\.0)?e-?([3-9]|\d\d)", text):
            return "a guard or tolerance, a bare power of ten"
        if self.path.startswith("network/solver/"):
            return "a setting of the solver, whose answers its stop rule holds"
        return self.apart[-1] if self.apart else ""

    def _between(self, left: ast.expr, right: ast.expr, pair: tuple[str, str], after: str = "") -> None:
        """Add the change of the operator that stands between two operands."""
        begin, end = self._span(left)[1], self._span(right)[0]
        from_here = bisect.bisect_left(self.tokens, (begin,))
        inside = self.tokens[from_here : bisect.bisect_left(self.tokens, (end,))]
        words = pair[0].split()
        for first, token in enumerate(inside):
            if [text for _, _, text in inside[first : first + len(words)]] == words:
                self._add("operator", token[0], inside[first + len(words) - 1][1], pair[1] + after)
                return

    def _within(self, name: str, nodes: Iterator[ast.AST] | Sequence[ast.AST]) -> None:
        self.scope.append(name)
        for node in nodes:
            self.visit(node)
        self.scope.pop()

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        defaults = [value for value in (*node.args.defaults, *node.args.kw_defaults) if value is not None]
        self.inside_function += 1
        self._within(node.name, [*node.decorator_list, *defaults, *node.body])
        self.inside_function -= 1

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        self._within(node.name, [*node.decorator_list, *node.body])

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.declares = bool(self.scope) and not self.inside_function
            self._assigned(node.target, node.value)
            self.declares = False

    def visit_Assign(self, node: ast.Assign) -> None:
        # A union of types is no arithmetic.
        if not self.scope and isinstance(node.value, ast.BinOp) and isinstance(node.value.op, ast.BitOr):
            return
        self._assigned(node.targets[0], node.value)
        for target in node.targets:
            self.visit(target)

    def _assigned(self, target: ast.expr, value: ast.expr) -> None:
        names = [node.id for node in ast.walk(target) if isinstance(node, ast.Name) and node.id.isupper()]
        setting = any(set(name.strip("_").split("_")) & _RANGE_WORDS for name in names)
        if setting:
            self.apart.append("a range, a tolerance or a number of steps by its name")
        self.visit(value)
        if setting:
            self.apart.pop()

    def visit_If(self, node: ast.If) -> None:
        if isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
            return
        self.generic_visit(node)

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        """Leave text alone: what messages say is no result, and places inside it are not exact."""

    def visit_Raise(self, node: ast.Raise) -> None:
        """Leave the making of messages alone."""

    def visit_Subscript(self, node: ast.Subscript) -> None:
        self.visit(node.value)
        self.subscript += 1
        self.visit(node.slice)
        self.subscript -= 1

    def visit_Call(self, node: ast.Call) -> None:
        name = node.func.id if isinstance(node.func, ast.Name) else ""
        self.visit(node.func)
        # Declarations of ratings, and checks of arguments, give their range by position.
        ranged = (self.declares and not self.inside_function) or "within" in name or name == "number"
        if ranged:
            self.apart.append("a range, a default or an example")
        for value in node.args:
            self.visit(value)
        if ranged:
            self.apart.pop()
        for keyword in node.keywords:
            outside = keyword.arg in _RANGE_KEYWORDS
            if outside:
                self.apart.append("a range, a tolerance, a default or an example")
            self.visit(keyword.value)
            if outside:
                self.apart.pop()

    def visit_BinOp(self, node: ast.BinOp) -> None:
        text = isinstance(node.left, ast.Constant | ast.JoinedStr) and not isinstance(
            getattr(node.left, "value", ""), int | float
        )
        pair = _ARITHMETIC.get(type(node.op))
        if pair and not text:
            self._between(node.left, node.right, pair)
        # An exponent of 2 is a number of the law; other whole numbers are counts and indices.
        if isinstance(node.op, ast.Pow | ast.Mult | ast.Div) and not self.subscript:
            for side in (node.left, node.right):
                if isinstance(side, ast.Constant) and type(side.value) is int and side.value > 1:
                    self._add("number", *self._span(side), repr(round(side.value * 1.1, 12)))
        self.generic_visit(node)

    def visit_AugAssign(self, node: ast.AugAssign) -> None:
        pair = _ARITHMETIC.get(type(node.op))
        if pair:
            self._between(node.target, node.value, (pair[0] + "=", pair[1] + "="))
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        for left, right in zip(node.values, node.values[1:], strict=False):
            self._between(left, right, _LOGIC[type(node.op)])
        self.generic_visit(node)

    def visit_Compare(self, node: ast.Compare) -> None:
        for left, op, right in zip([node.left, *node.comparators], node.ops, node.comparators, strict=False):
            self._between(left, right, _COMPARISONS[type(op)])
        self.generic_visit(node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        start = self._span(node)[0]
        operand = self._span(node.operand)[0]
        if isinstance(node.op, ast.USub | ast.Invert):
            self._add("operator", start, start + 1, "")
        elif isinstance(node.op, ast.Not):
            self._add("operator", start, operand, "" if self.source[operand - 1] != "(" else "(")
        self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:
        if type(node.value) is float and node.value != 0.0:
            self._add("number", *self._span(node), repr(float(f"{1.1 * node.value:.12g}")))
