"""One declaration per rating: it drives conversion, error text, starter file, schema and documentation.

A class of ratings is a frozen dataclass derived from `Ratings`, whose fields are declared by
`quantity`, `series`, `choice`, `text`, `flag` or `table`. Conversion to SI and the range check happen
once, when the object is made; nothing else is computed there.
"""

from __future__ import annotations

import dataclasses
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import MISSING, dataclass, field
from functools import cache
from types import MappingProxyType
from typing import Any, Self, TypeAlias

import numpy as np

from fuelsim import units
from fuelsim.errors import InputError, nearest

__all__ = [
    "Declaration",
    "Quantity",
    "Ratings",
    "choice",
    "count",
    "declarations",
    "file_keys",
    "flag",
    "quantity",
    "ratings_in_words",
    "same",
    "series",
    "table",
    "text",
]

Quantity: TypeAlias = Any
"""On the way in a number in SI or text with a unit, on the way out a float or an array over operating points."""

LONGEST_WORDS = 1000
_UNPRINTABLE = ("Cc", "Cf", "Cs", "Zl", "Zp")
"""Unicode categories that a terminal or an editor obeys instead of showing: controls, directions, line breaks."""


@dataclass(frozen=True)
class Declaration:
    """What is known of one rating before any value is given.

    Attributes
    ----------
    form : str
        ``"quantity"``, ``"series"``, ``"choice"``, ``"text"``, ``"flag"``, ``"count"`` or ``"table"``.
    doc : str
        One sentence for docs, starter file and schema.
    kind : str
        For quantities and series: a name of `units.KINDS`.
    least, most : float
        Plausible range, SI, both included.
    choices : tuple of str
        For choices.
    part : type
        For tables: the class of ratings below this key.
    optional : bool
        Whether None is accepted.
    example : str
        How a person would write a typical value.
    operating : bool
        Whether it belongs to an operating point and not to the part, so that no file gives it.
    rows : bool
        Whether a file may give a list of it, one value for each row of a table; a list over operating points is for
        programs only.
    name, default, given
        Filled in by `declarations`; `given` says whether there is a default.
    """

    form: str
    doc: str
    kind: str = "number"
    least: float = -np.inf
    most: float = np.inf
    choices: tuple[str, ...] = ()
    part: type | None = None
    optional: bool = False
    example: str = ""
    operating: bool = False
    rows: bool = False
    name: str = ""
    default: Any = None
    given: bool = True

    @property
    def required(self) -> bool:
        """Whether a value must be given."""
        return not self.given

    def accepted(self) -> str:
        """Return in words what this rating accepts."""
        if self.form in ("quantity", "series"):
            low, high = (self.bound(limit) for limit in (self.least, self.most))
            what = f"{self.kind} from {low} to {high}" if low and high else self.kind
            if low and not high:
                what = f"{self.kind}, at least {low}"
            if high and not low:
                what = f"{self.kind}, at most {high}"
            what = f"a list of {what}" if self.form == "series" else what
            return f"{what}, as in '{self.example}'" if self.example else what
        if self.form == "choice":
            return "one of " + ", ".join(f"'{item}'" for item in self.choices)
        if self.form == "count":
            return f"a whole number from {self.least:g} to {self.most:g}"
        return {"flag": "true or false", "text": "text", "table": "a table of keys"}[self.form]

    def bound(self, limit: float) -> str:
        """Return a value of this kind as a person writes it, in the first everyday unit that keeps it short."""
        if not np.isfinite(limit):
            return ""
        kind = units.KINDS[self.kind]
        for unit in (kind.shown[1], *kind.examples):
            value = float(units.from_si(limit, unit, self.kind))
            if value == 0.0 or 1e-3 <= abs(value) < 1e6:
                return f"{value:.6g} {unit}".removesuffix(" 1")
        return f"{limit:g} {kind.unit}".removesuffix(" 1")

    def convert(self, value: Any) -> Any:
        """Turn a given value into its inside form.

        Raises
        ------
        InputError
            Where the value is of the wrong form or outside the plausible range; the key is not filled in.
        """
        if value is None and self.optional:
            return None
        if self.form in ("quantity", "series"):
            return self._convert_quantity(value)
        if self.form == "choice":
            if not isinstance(value, str) or value not in self.choices:
                raise InputError("not one of the choices", given=value, accepted=nearest(value, self.choices))
            return value
        if self.form == "flag":
            if not isinstance(value, bool):
                raise InputError("not a truth value", given=value, accepted=self.accepted())
            return value
        if self.form == "count":
            if isinstance(value, bool) or not isinstance(value, (int, np.integer)):
                raise InputError("not a whole number", given=value, accepted=self.accepted())
            if not self.least <= value <= self.most:
                raise InputError("outside the plausible range", given=value, accepted=self.accepted())
            return int(value)
        if self.form == "text":
            return _words(value)
        assert self.part is not None
        if not isinstance(value, self.part):
            raise InputError("not a table of this part", given=value, accepted=f"a {self.part.__name__}")
        return value

    def _convert_quantity(self, value: Any) -> Any:
        try:
            number = units.convert(value, self.kind)
        except InputError as error:
            accepted = error.accepted or self.accepted()
            raise InputError(error.problem, given=error.given, accepted=accepted) from error
        if self.form == "series" and np.ndim(number) != 1:
            raise InputError("not a list", given=value, accepted=self.accepted())
        if self.rows and np.ndim(number) > 1:
            raise InputError("a list of lists", given=value, accepted=f"one value or a list of {self.kind}")
        if np.size(number) == 0:
            raise InputError("an empty list", given=value, accepted=self.accepted())
        bad = (np.asarray(number) < self.least) | (np.asarray(number) > self.most)
        if np.any(bad):
            worst = float(np.asarray(number)[bad].flat[0])
            raise InputError(
                f"outside the plausible range{self._hint(value, worst)}",
                given=value,
                accepted=self.accepted(),
            )
        if isinstance(number, np.ndarray):
            number.setflags(write=False)
        return number

    def _hint(self, given: Any, number: float) -> str:
        """Say what a plain number out of range was probably meant to be."""
        kind = units.KINDS[self.kind]
        if isinstance(given, str) or kind.unit == "1":
            return ""
        plain, shown = f"{number:.6g} {kind.unit}", units.shown(number, self.kind)
        said = f"{plain} is {shown}"
        if self.kind == "temperature":
            said = f"{number:.6g} K is {float(units.from_si(number, 'degC')):.0f} degC"
        for unit in kind.examples:
            meant = units.convert(number, self.kind, unit=unit)
            if self.least <= meant <= self.most:
                return f" ({said}; write '{number:.6g} {unit}')"
        return "" if plain == shown else f" ({said})"


def _words(value: Any) -> str:
    """Return free text that is safe to print, or raise."""
    if not isinstance(value, str):
        raise InputError("not text", given=value, accepted="text in quotes")
    if len(value) > LONGEST_WORDS:
        raise InputError("the text is too long", given=value, accepted=f"at most {LONGEST_WORDS} characters")
    if any(unicodedata.category(character) in _UNPRINTABLE for character in value):
        raise InputError("a control character in the text", given=value, accepted="one line of printable text")
    return value


def _declared(declaration: Declaration, default: Any) -> Any:
    metadata = {"declaration": declaration}
    if default is MISSING:
        return field(metadata=metadata)
    return field(default=default, metadata=metadata)


def _limit(value: Any, kind: str, missing: float) -> float:
    if kind not in units.KINDS:
        raise TypeError(f"unknown kind of quantity {kind!r}; {nearest(kind, units.KINDS)}")
    if value is None:
        return missing
    # A limit that is a plain number or needs no pint keeps `import fuelsim` light.
    if isinstance(value, (int, float)):
        return float(value)
    raise TypeError(f"limits of a declaration are SI numbers; given {value!r} for {kind}")


def quantity(
    kind: str,
    doc: str,
    *,
    least: float | None = None,
    most: float | None = None,
    default: Any = MISSING,
    optional: bool = False,
    example: str = "",
    operating: bool = False,
    rows: bool = False,
) -> Any:
    """Declare a rating with a unit.

    Parameters
    ----------
    kind : str
        A name of `units.KINDS`, such as ``"bore"`` or ``"pressure difference"``.
    doc : str
        One sentence.
    least, most : float, optional
        Plausible range in SI, both included.
    default : float or None, optional
        In SI; without it the rating must be given.
    optional : bool
        Whether None is accepted.
    example : str
        How a person would write it.
    operating : bool
        Whether it belongs to an operating point and not to the part.
    rows : bool
        Whether a file may give a list of it, one value for each row of a table.

    Examples
    --------
    >>> @dataclass(frozen=True)
    ... class Tube(Ratings):
    ...     bore: Quantity = quantity("bore", "Inside diameter.", least=5e-4, most=0.1, example="8 mm")
    >>> Tube(bore="8 mm").bore
    0.008
    >>> Tube(bore=8)
    Traceback (most recent call last):
    ...
    fuelsim.errors.InputError: part 'Tube', key 'bore': outside the plausible range (8 m is 8000 mm; write '8 mm'); \
given 8; accepted: bore from 0.5 mm to 100 mm, as in '8 mm'
    """
    declaration = Declaration(
        "quantity",
        doc,
        kind=kind,
        least=_limit(least, kind, -np.inf),
        most=_limit(most, kind, np.inf),
        optional=optional or default is None,
        example=example,
        operating=operating,
        rows=rows,
    )
    return _declared(declaration, default)


def series(
    kind: str,
    doc: str,
    *,
    least: float | None = None,
    most: float | None = None,
    default: Any = MISSING,
    example: str = "",
) -> Any:
    """Declare a rating that is a list of quantities, such as the flows of a bench table."""
    declaration = Declaration(
        "series",
        doc,
        kind=kind,
        least=_limit(least, kind, -np.inf),
        most=_limit(most, kind, np.inf),
        optional=default is None,
        example=example,
    )
    return _declared(declaration, default)


def choice(choices: Sequence[str], doc: str, *, default: Any = MISSING) -> Any:
    """Declare a rating that is one of a few words."""
    return _declared(Declaration("choice", doc, choices=tuple(choices), optional=default is None), default)


def count(doc: str, *, least: int = 0, most: int = 10_000, default: Any = MISSING, example: str = "") -> Any:
    """Declare a whole number."""
    declaration = Declaration("count", doc, least=least, most=most, optional=default is None, example=example)
    return _declared(declaration, default)


def text(doc: str, *, default: Any = MISSING, example: str = "") -> Any:
    """Declare free text; it is data and never executed."""
    return _declared(Declaration("text", doc, optional=default is None, example=example), default)


def flag(doc: str, *, default: Any = MISSING) -> Any:
    """Declare a truth value."""
    return _declared(Declaration("flag", doc), default)


def table(part: type, doc: str, *, default: Any = MISSING) -> Any:
    """Declare a nested class of ratings."""
    declaration = Declaration("table", doc, part=part, optional=default is None)
    return _declared(declaration, default)


def declarations(ratings: type) -> Mapping[str, Declaration]:
    """Return the declarations of a class of ratings by name, in order; worked out once for each class.

    Examples
    --------
    >>> @dataclass(frozen=True)
    ... class Tube(Ratings):
    ...     bore: Quantity = quantity("bore", "Inside diameter.", least=5e-4, most=0.1)
    >>> declarations(Tube)["bore"].required
    True
    """
    return _declarations(ratings)


@cache
def _declarations(ratings: Any) -> Mapping[str, Declaration]:
    found = {}
    for item in dataclasses.fields(ratings):
        declaration = item.metadata.get("declaration")
        if declaration is not None:
            given = item.default is not MISSING
            default = item.default if given else None
            found[item.name] = dataclasses.replace(declaration, name=item.name, default=default, given=given)
    return MappingProxyType(found)


def file_keys(ratings: type) -> dict[str, Declaration]:
    """Return the declarations that a file may give: all but those that belong to an operating point."""
    return {name: found for name, found in declarations(ratings).items() if not found.operating}


def _compared(ratings: type) -> list[str]:
    return [item.name for item in dataclasses.fields(ratings) if item.compare]


def same(one: Any, other: Any) -> bool:
    """Return whether two ratings are equal, lists element by element."""
    if isinstance(one, np.ndarray) or isinstance(other, np.ndarray):
        return np.array_equal(one, other)
    return bool(one == other)


@dataclass(frozen=True, eq=False)
class Ratings:
    """Base of every class of ratings: converts and checks each declared field when the object is made.

    Two objects are equal where they are of one class and every field is equal, lists element by element; equal objects
    have the same hash.

    Raises
    ------
    InputError
        With the name of the class as part and the name of the field as key.
    """

    def __init_subclass__(cls) -> None:
        """Keep `dataclass` from writing an equality of its own, which would stumble over arrays."""
        super().__init_subclass__()
        for name in ("__eq__", "__hash__"):
            setattr(cls, name, getattr(Ratings, name))

    def __eq__(self, other: object) -> bool:
        if self.__class__ is not other.__class__:
            return NotImplemented
        return all(same(getattr(self, name), getattr(other, name)) for name in _compared(type(self)))

    def __hash__(self) -> int:
        values = (getattr(self, name) for name in _compared(type(self)))
        return hash((type(self), *(tuple(np.ravel(v).tolist()) if isinstance(v, np.ndarray) else v for v in values)))

    def __post_init__(self) -> None:
        for name, declaration in declarations(type(self)).items():
            try:
                object.__setattr__(self, name, declaration.convert(getattr(self, name)))
            except InputError as error:
                raise error.at(part=type(self).__name__, key=name) from None
        try:
            self.check()
        except InputError as error:
            raise error.at(part=type(self).__name__) from None

    def check(self) -> None:
        """Check how the ratings fit together; raise InputError with the key filled in. Nothing to check here."""

    def with_values(self, values: Mapping[str, Any]) -> Self:
        """Return a copy with some ratings replaced; dotted keys reach into tables.

        Raises
        ------
        InputError
            For an unknown key, with the nearest known one.
        """
        known = declarations(type(self))
        direct: dict[str, Any] = {}
        nested: dict[str, dict[str, Any]] = {}
        for key, value in values.items():
            head, dot, rest = str(key).partition(".")
            if head not in known:
                raise InputError("unknown key", accepted=nearest(head, known), key=str(key))
            if dot:
                nested.setdefault(head, {})[rest] = value
            else:
                direct[head] = value
        for head, below in nested.items():
            current = direct.get(head, getattr(self, head))
            if not isinstance(current, Ratings):
                raise InputError("no table of keys here", given=current, key=f"{head}.{next(iter(below))}")
            try:
                direct[head] = current.with_values(below)
            except InputError as error:
                raise error.at(key=head) from None
        return dataclasses.replace(self, **direct)


def ratings_in_words(part: Ratings) -> str:
    """Return the ratings of a part that differ from their default, with units.

    Examples
    --------
    >>> from fuelsim.parts.line import Line
    >>> ratings_in_words(Line(length="3 m", bore="8 mm"))
    'length 3 m, bore 8 mm'
    """
    words = []
    for name, declaration in declarations(type(part)).items():
        value = getattr(part, name)
        if value is None or (declaration.given and np.array_equal(value, declaration.default)):
            continue
        words.append(f"{name.replace('_', ' ')} {_in_words(value, declaration)}")
    return ", ".join(words)


def _in_words(value: Any, declaration: Declaration) -> str:
    if isinstance(value, Ratings):
        return f"{type(value).__name__}({ratings_in_words(value)})"
    if declaration.form not in ("quantity", "series"):
        return str(value)
    if np.ndim(value) == 0:
        return units.shown(float(value), declaration.kind)
    low, high = (units.shown(float(limit), declaration.kind) for limit in (np.min(value), np.max(value)))
    return f"{low} to {high} ({np.size(value)} values)"
