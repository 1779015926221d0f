"""What is known of one rating before any value is given: its kind, plausible range, default and meaning.

A `Declaration` converts what was given to SI, checks it, and says in words what it accepts. `fuelsim.fields` declares
them, and one declaration drives conversion, error text, starter file, schema and documentation.
"""

from __future__ import annotations

import dataclasses
import unicodedata
from collections.abc import Mapping
from dataclasses import MISSING, dataclass
from functools import cache
from types import MappingProxyType
from typing import Literal, TypeAlias

import numpy as np

from fuelsim import opener, units
from fuelsim.errors import FuelsimError, InputError, nearest
from fuelsim.kinds import KINDS
from fuelsim.named_tables import NamedTables, NamedValues, checked_name
from fuelsim.typing import FloatLike, Given

__all__ = ["Declaration", "Form", "declarations", "file_keys"]

Form: TypeAlias = Literal[
    "quantity", "series", "choice", "text", "flag", "count", "table", "tables", "runs", "quantities"
]
"""What a rating is: a number with a unit, a list of them, one of a few words, free text, a truth value, a whole number,
a class of ratings of its own, tables of one class by name, runs of names, or numbers with a unit by name."""

LONGEST_TEXT = 1000
"""Characters of a free text."""
MOST_NAMED, MOST_RUNS, LONGEST_RUN = 100, 200, 100
"""Named tables of one kind or named quantities, runs of a plumbing, and names in a run."""
_UNPRINTABLE = ("Cc", "Cf", "Cs", "Zl", "Zp")
"""Unicode categories that a terminal or an editor obeys instead of showing: controls, directions, line breaks."""


@dataclass(frozen=True)
class Declaration:
    """What is known of one rating before any value is given.

    Attributes
    ----------
    form : str
        ``"quantity"``, ``"series"``, ``"choice"``, ``"text"``, ``"flag"``, ``"count"``, ``"table"``, ``"tables"``,
        ``"runs"`` or ``"quantities"``.
    doc : str
        One phrase for docs, starter file and schema: the quantity first, without its unit, which `kind` says.
    kind : str
        Name in `kinds.KINDS` of a quantity or series.
    least, most : float
        Plausible range in SI, both included; of a text the least number of characters that are no blanks.
    choices : tuple of str
        Words that a choice accepts.
    part : type
        Class of ratings that a table holds.
    member : type
        Class of ratings that each of several named tables holds.
    owners : str
        Key of the named tables whose names these named tables bear too, such as the pumps of which they are the wires.
    unless : str
        Key that, where it is given and not empty, makes this one optional.
    optional : bool
        Whether None is accepted.
    example : str
        A typical value as a person writes it.
    operating : bool
        Whether it belongs to an operating point and not to the part, so that no file gives it.
    rows : bool
        Whether a file may give a list of it, one value for each row of a table; a list over operating points is for
        programs only.
    single : bool
        Whether one value is wanted and no list.
    mass_by : str
        Name of the rating, a density, by which a mass flow that is given in place of a volume flow is divided.
    error : type of InputError
        Class of the error for a value outside the plausible range.
    name : str
        Name of the field, which `declarations` fills in.
    default : object
        Value where none is given, as it is written in the class, which `declarations` fills in.
    has_default : bool
        Whether there is a default, which `declarations` fills in.
    """

    form: Form
    doc: str
    kind: str = "number"
    least: float = -np.inf
    most: float = np.inf
    choices: tuple[str, ...] = ()
    part: type | None = None
    member: type | None = None
    owners: str = ""
    unless: str = ""
    optional: bool = False
    example: str = ""
    operating: bool = False
    rows: bool = False
    single: bool = False
    mass_by: str = ""
    error: type[InputError] = InputError
    name: str = ""
    default: Given = None
    has_default: bool = True

    @property
    def required(self) -> bool:
        """Whether a value must be given, whatever else is given."""
        return not self.has_default

    def required_beside(self, given: Mapping[str, Given]) -> bool:
        """Return whether a value must be given beside others.

        Parameters
        ----------
        given : mapping of str to object
            The others by key, as they were given.

        Examples
        --------
        >>> bore = Declaration("quantity", "Bore.", kind="bore", unless="size")
        >>> bore.required_beside({}), bore.required_beside({"size": "3/8 in"})
        (True, False)
        """
        return self.required or bool(self.unless and not given.get(self.unless))

    def missing(self) -> InputError:
        """Return the error for a value that must be given and is not, without its key."""
        return InputError("missing key", accepted=f"{self.accepted()}: {self.doc}")

    def accepted(self) -> str:
        """Return in words what this rating accepts.

        Examples
        --------
        >>> Declaration("quantity", "Inside diameter.", kind="bore", least=5e-4, most=0.1, example="8 mm").accepted()
        "bore from 0.5 mm to 100 mm, as in '8 mm'"
        """
        if self.form in ("quantity", "series"):
            values = f"a list of {self._span()}" if self.form == "series" else self._span()
            return f"{values}, as in '{self.example}'" if self.example else values
        if self.form == "choice":
            return "one of " + ", ".join(f"'{item}'" for item in self.choices)
        if self.form == "count":
            return f"a whole number from {self.least:g} to {self.most:g}"
        if self.form == "quantities":
            return f"a table of names, each with {self._span()}"
        return {
            "flag": "true or false",
            "text": "text",
            "table": "a table of keys",
            "tables": "tables of keys, each with a name of its own",
            "runs": 'a list of runs, each a list of names in the order of flow, as in ["tank", "pump", "rail"]',
        }[self.form]

    def _span(self) -> str:
        """Return kind and plausible range in words."""
        low, high = (self.bound(limit) for limit in (self.least, self.most))
        if low and high:
            return f"{self.kind} from {low} to {high}"
        if low:
            return f"{self.kind}, at least {low}"
        return f"{self.kind}, at most {high}" if high else self.kind

    def bound(self, limit: float) -> str:
        """Return a value of this kind as a person writes it, in the first everyday unit that keeps it short.

        Parameters
        ----------
        limit : float
            In SI; empty text is returned for infinity.
        """
        if not np.isfinite(limit):
            return ""
        kind = KINDS[self.kind]
        for unit in (kind.shown[1], *kind.examples):
            value = float(units.from_si(limit, unit, self.kind))
            if value == 0.0 or 1e-3 <= abs(value) < 1e6:
                return f"{value:.6g} {unit}".removesuffix(" 1")
        return f"{limit:g} {kind.unit}".removesuffix(" 1")

    def convert(self, value: Given) -> object:
        """Return a given value as it is kept: SI for quantities, checked for all.

        Parameters
        ----------
        value : object
            As a user writes it.

        Returns
        -------
        float, array, str, bool, int or ratings
            By the form; arrays cannot be written to.

        Raises
        ------
        InputError
            Where the value is of the wrong form or outside the plausible range; the key is not filled in.

        Examples
        --------
        >>> Declaration("quantity", "Inside diameter.", kind="bore").convert("8 mm")
        0.008
        """
        if value is None and self.optional:
            return None
        if self.form in ("quantity", "series"):
            return self.to_si(value)
        try:
            return self._checked(value)
        except FuelsimError:
            raise
        except Exception as error:  # a class of the user's own that fails when it is read
            raise InputError("not a value that can be read", given=value, accepted=self.accepted()) from error

    def as_volume(self, value: Given, density: Given) -> Given:
        """Return a mass flow divided by a density; a volume flow, or what is neither, as it is.

        Parameters
        ----------
        value : object
            As a user writes it.
        density : object
            Density of the fluid, as a user writes it.

        Returns
        -------
        object

        Raises
        ------
        InputError
            Where a mass flow is given and the density cannot be read.

        Examples
        --------
        >>> flow = Declaration("quantity", "Flow.", kind="injector flow", mass_by="rated_density")
        >>> flow.as_volume("10.8 kg/h", "750 kg/m3"), flow.as_volume("250 mL/min", "750 kg/m3")
        (4e-06, '250 mL/min')
        """
        try:
            units.convert(value, self.kind)
        except InputError:
            try:
                mass_flow = units.convert(value, "mass flow")
            except InputError:
                return value
            return mass_flow / units.convert(density, "density")
        return value

    def _checked(self, value: Given) -> object:
        """Return a value that is neither a quantity nor a series as it is kept."""
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
            text = _printable_text(value)
            if len(text.strip()) < self.least:
                raise InputError("an empty text", given=value, accepted=self.accepted())
            return text
        if self.form == "tables":
            return NamedTables({name: _of_class(table, self.member, name) for name, table in self._named(value)})
        if self.form == "quantities":
            return NamedValues({name: self._one_quantity(name, number) for name, number in self._named(value)})
        if self.form == "runs":
            return _runs(value, self.accepted())
        return _of_class(value, self.part)

    def _named(self, value: Given) -> list[tuple[str, object]]:
        """Return names and values of named tables or named quantities, the names checked."""
        if not isinstance(value, Mapping):
            raise InputError("not a table of names", given=value, accepted=self.accepted())
        if len(value) > MOST_NAMED:
            raise InputError("too many names", given=len(value), accepted=f"at most {MOST_NAMED}")
        for name in value:
            try:
                checked_name(name)
            except InputError as error:
                raise error.at(key=str(name) or '""') from None
        return list(value.items())

    def _one_quantity(self, name: str, value: Given) -> float:
        try:
            number = self.to_si(value)
        except InputError as error:
            raise error.at(key=name) from None
        if np.ndim(number):
            raise InputError("a list, where one value is wanted", given=value, accepted=self._span(), key=name)
        return float(number)

    def to_si(self, value: Given) -> FloatLike:
        """Return a given quantity or series as numbers in SI, checked against the plausible range.

        Parameters
        ----------
        value : float, str, array or list of these
            As a user writes it.

        Returns
        -------
        float or array
            Shaped like `value`; an array cannot be written to.

        Raises
        ------
        InputError
            Where the value is no such quantity or outside the plausible range; the key is not filled in.
        """
        try:
            number = units.convert(self._bore_of_name(value), self.kind)
        except InputError as error:
            accepted = error.accepted or self.accepted()
            raise InputError(error.problem, given=error.given, accepted=accepted) from error
        if isinstance(number, float) and self.form == "quantity" and self.least <= number <= self.most:
            return number
        if self.form == "series" and np.ndim(number) != 1:
            raise InputError("not a list", given=value, accepted=self.accepted())
        if self.rows and np.ndim(number) > 1:
            raise InputError("a list of lists", given=value, accepted=f"one value or a list of {self.kind}")
        if np.size(number) == 0:
            raise InputError("an empty list", given=value, accepted=self.accepted())
        if self.single and np.ndim(number):
            raise InputError("a list, where one value is wanted", given=value, accepted=self.accepted())
        outside = (np.asarray(number) < self.least) | (np.asarray(number) > self.most)
        if np.any(outside):
            first = float(np.asarray(number)[outside].flat[0])
            raise self.error(
                f"outside the plausible range{self._likely_unit(value, first)}",
                given=value,
                accepted=self.accepted(),
            )
        if isinstance(number, np.ndarray):
            number.setflags(write=False)
        return number

    def _bore_of_name(self, value: Given) -> Given:
        """Return the true bore of a tube or hose that is named where a bore is asked, m; anything else as it is."""
        if self.kind != "bore" or not isinstance(value, str) or not value.lstrip()[:1].isalpha():
            return value
        bore = opener.named_bore(value)
        return value if bore is None else bore

    def _likely_unit(self, given: Given, number: float) -> str:
        """Return in brackets what a plain number out of range is in an everyday unit, and the unit it was meant in."""
        kind = KINDS[self.kind]
        if self.kind == "fraction" and not isinstance(given, str) and self.least <= number / 100.0 <= self.most:
            return f" (a fraction; write {number / 100.0:g} for {number:g} %)"
        if isinstance(given, str) or kind.unit == "1":
            return ""
        plain, shown = f"{number:.6g} {kind.unit}", units.shown(number, self.kind)
        reading = f"{plain} is {shown}"
        if self.kind == "temperature":
            reading = f"{number:.6g} K is {float(units.from_si(number, 'degC')):.0f} degC"
        for unit in kind.examples:
            meant = float(units.convert(number, self.kind, unit=unit))
            if self.least <= meant <= self.most:
                return f" ({reading}; write '{number:.6g} {unit}')"
        return "" if plain == shown else f" ({reading})"


def _of_class(value: Given, part: type | None, name: str | None = None) -> object:
    """Return ratings that are of a class, or raise with the name of the table as key."""
    if part is None or not isinstance(value, part):
        wanted = "part" if part is None else part.__name__
        raise InputError("not a table of this part", given=value, accepted=f"a {wanted}", key=name)
    return value


def _runs(value: Given, accepted: str) -> tuple[tuple[str, ...], ...]:
    """Return lists of lists of names as tuples, or raise."""
    if not isinstance(value, (list, tuple)) or not all(isinstance(run, (list, tuple)) for run in value):
        raise InputError("not a list of runs", given=value, accepted=accepted)
    if len(value) > MOST_RUNS:
        raise InputError("too many runs", given=len(value), accepted=f"at most {MOST_RUNS}")
    longest = max(map(len, value), default=0)
    if longest > LONGEST_RUN:
        raise InputError("a run of too many names", given=longest, accepted=f"at most {LONGEST_RUN} names")
    return tuple(tuple(checked_name(name) for name in run) for run in value)


def _printable_text(value: Given) -> str:
    """Return free text that is safe to print, or raise."""
    if not isinstance(value, str):
        raise InputError("not text", given=value, accepted="text in quotes")
    if len(value) > LONGEST_TEXT:
        raise InputError("the text is too long", given=value, accepted=f"at most {LONGEST_TEXT} characters")
    if any(unicodedata.category(character) in _UNPRINTABLE for character in value):
        raise InputError("a control character in the text", given=value, accepted="one line of printable text")
    return value


def declarations(ratings: type) -> Mapping[str, Declaration]:
    """Return the declarations of a class of ratings by name, in order; worked out once for each class.

    Parameters
    ----------
    ratings : type
        A class derived from `fields.Ratings`.

    Examples
    --------
    >>> from fuelsim.parts.line import Line
    >>> declarations(Line)["bore"].required
    True
    """
    return _declarations(ratings)


@cache
def _declarations(ratings: type) -> Mapping[str, Declaration]:
    declared = {}
    for item in dataclasses.fields(ratings):
        declaration = item.metadata.get("declaration")
        if declaration is not None:
            has_default = item.default is not MISSING
            default = item.default if has_default else None
            declared[item.name] = dataclasses.replace(
                declaration, name=item.name, default=default, has_default=has_default
            )
    return MappingProxyType(declared)


def file_keys(ratings: type) -> dict[str, Declaration]:
    """Return the declarations that a file may give: all but those that belong to an operating point.

    Parameters
    ----------
    ratings : type
        A class derived from `fields.Ratings`.
    """
    return {name: item for name, item in declarations(ratings).items() if not item.operating}
