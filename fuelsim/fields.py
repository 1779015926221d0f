"""Declaring ratings: one declaration drives conversion, error text, starter file, schema and documentation.

A class of ratings is a frozen dataclass derived from `Ratings`, whose fields are declared by
`quantity`, `series`, `choice`, `text`, `flag`, `count` or `table`, or by names of the user's own by `tables`,
`quantities` or `runs`. Conversion to SI and the range check happen
once, when the object is made; nothing else is computed there. Its Parameters section in ``help`` comes from the
declarations.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import MISSING, dataclass, field
from typing import Any, Self

import numpy as np

from fuelsim.arguments import takes
from fuelsim.declaration import Declaration, declarations
from fuelsim.declaration_text import rating_rows, ratings_in_words, with_parameters
from fuelsim.errors import InputError, nearest
from fuelsim.kinds import KINDS
from fuelsim.named_tables import NamedTables, NamedValues
from fuelsim.shown import cut_short, html_of, same_fields
from fuelsim.typing import Given, Quantity

__all__ = [
    "Quantity",
    "Ratings",
    "choice",
    "count",
    "flag",
    "origin",
    "quantities",
    "quantity",
    "runs",
    "series",
    "table",
    "tables",
    "text",
]


def _declared(declaration: Declaration, default: Given) -> Any:
    metadata = {"declaration": declaration}
    if default is MISSING:
        return field(metadata=metadata)
    return field(default=default, metadata=metadata)


def _limit(value: Given, kind: str, missing: float) -> float:
    if kind not in KINDS:
        raise TypeError(f"unknown kind of quantity {kind!r}; {nearest(kind, KINDS)}")
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
    default: Given = MISSING,
    optional: bool = False,
    example: str = "",
    operating: bool = False,
    rows: bool = False,
    mass_by: str = "",
) -> Any:
    """Declare a rating with a unit.

    Parameters
    ----------
    kind : str
        A name of `kinds.KINDS`, such as ``"bore"`` or ``"pressure difference"``.
    doc : str
        One phrase: the quantity first, without its unit.
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
    mass_by : str
        Name of the rating, a density, by which a mass flow that is given in place of the volume flow is divided.

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
        mass_by=mass_by,
    )
    return _declared(declaration, default)


def series(
    kind: str,
    doc: str,
    *,
    least: float | None = None,
    most: float | None = None,
    default: Given = MISSING,
    example: str = "",
) -> Any:
    """Declare a rating that is a list of quantities, such as the flows of a bench table.

    Parameters
    ----------
    kind : str
        A name of `kinds.KINDS`.
    doc : str
        One phrase: the quantity first, without its unit.
    least, most : float, optional
        Plausible range of each element in SI, both included.
    default : sequence of float or None, optional
        In SI; without it the rating must be given.
    example : str
        How a person would write it.
    """
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


def choice(choices: Sequence[str], doc: str, *, default: Given = MISSING) -> Any:
    """Declare a rating that is one of a few words.

    Parameters
    ----------
    choices : sequence of str
        The words that are accepted.
    doc : str
        One phrase.
    default : str or None, optional
        Without it the rating must be given.
    """
    return _declared(Declaration("choice", doc, choices=tuple(choices), optional=default is None), default)


def count(doc: str, *, least: int = 0, most: int = 10_000, default: Given = MISSING, example: str = "") -> Any:
    """Declare a whole number.

    Parameters
    ----------
    doc : str
        One phrase.
    least, most : int
        Plausible range, both included.
    default : int or None, optional
        Without it the rating must be given.
    example : str
        How a person would write it.
    """
    declaration = Declaration("count", doc, least=least, most=most, optional=default is None, example=example)
    return _declared(declaration, default)


def text(doc: str, *, default: Given = MISSING, example: str = "", empty: bool = True) -> Any:
    """Declare free text; it is data and never executed.

    Parameters
    ----------
    doc : str
        One phrase.
    default : str or None, optional
        Without it the rating must be given.
    example : str
        How a person would write it.
    empty : bool
        Whether it may be empty or blank.
    """
    least = -np.inf if empty else 1
    return _declared(Declaration("text", doc, least=least, optional=default is None, example=example), default)


def flag(doc: str, *, default: Given = MISSING) -> Any:
    """Declare a truth value.

    Parameters
    ----------
    doc : str
        One phrase.
    default : bool, optional
        Without it the rating must be given.
    """
    return _declared(Declaration("flag", doc), default)


def table(part: type, doc: str, *, default: Given = MISSING, unless: str = "") -> Any:
    """Declare a nested class of ratings.

    Parameters
    ----------
    part : type
        The class of ratings, a table of the car file.
    doc : str
        One phrase.
    default : Ratings or None, optional
        Without it the rating must be given.
    unless : str, optional
        Field that, where it is given and not empty, lets this table be left out (None); otherwise it must be given.
    """
    if unless:
        # Keyword only, so that fields without a default may follow.
        declaration = Declaration("table", doc, part=part, optional=True, unless=unless)
        return field(default=None, kw_only=True, metadata={"declaration": declaration})
    declaration = Declaration("table", doc, part=part, optional=default is None)
    return _declared(declaration, default)


def tables(part: type, doc: str, *, owners: str = "", example: str = "") -> Any:
    """Declare any number of tables of one class of ratings, each with a name; none by default.

    The field holds `NamedTables`.

    Parameters
    ----------
    part : type
        The class of ratings of each, as in ``[lines.crossover]`` of a car file.
    doc : str
        One phrase.
    owners : str, optional
        Field of the named tables whose names these bear too, such as ``"pumps"`` for their wires; left out, the names
        are their own.
    example : str
        A name that a person would choose.

    Examples
    --------
    >>> from fuelsim.parts.orifice import Orifice
    >>> @dataclass(frozen=True)
    ... class Rig(Ratings):
    ...     bleeds: NamedTables[Orifice] = tables(Orifice, "Bleeds of the rig.", example="bleed")
    >>> rig = Rig(bleeds={"bleed": Orifice(diameter="0.6 mm")})
    >>> rig.with_values({"bleeds.bleed.diameter": "1 mm"}).bleeds["bleed"].diameter
    0.001
    """
    return _declared(Declaration("tables", doc, member=part, owners=owners, example=example), NamedTables())


def runs(doc: str, *, default: Given = MISSING) -> Any:
    """Declare runs: lists of names in the order of flow, kept as a tuple of tuples.

    Parameters
    ----------
    doc : str
        One phrase.
    default : list of list of str, optional
        Without it the runs must be given.
    """
    return _declared(Declaration("runs", doc), default)


def quantities(kind: str, doc: str, *, least: float | None = None, most: float | None = None, example: str = "") -> Any:
    """Declare any number of quantities of one kind, each with a name; none by default.

    The field holds `NamedValues` of floats.

    Parameters
    ----------
    kind : str
        A name of `kinds.KINDS`.
    doc : str
        One phrase: the quantity first, without its unit.
    least, most : float, optional
        Plausible range of each in SI, both included.
    example : str
        How a person would write one of them.

    Examples
    --------
    >>> @dataclass(frozen=True)
    ... class Rig(Ratings):
    ...     heights: NamedValues[float] = quantities("length", "Height of each station.", least=0.0, most=2.0)
    >>> Rig(heights={"tee": "40 cm"}).heights["tee"]
    0.4
    """
    declaration = Declaration(
        "quantities",
        doc,
        kind=kind,
        least=_limit(least, kind, -np.inf),
        most=_limit(most, kind, np.inf),
        example=example,
    )
    return _declared(declaration, NamedValues())


def origin(doc: str) -> Any:
    """Declare where ratings come from: a name that is no rating, has no part in what is equal, and may be left out.

    Parameters
    ----------
    doc : str
        One phrase.
    """
    return field(default=None, kw_only=True, compare=False, repr=False, metadata={"doc": doc})


class _Docstring:
    """Docstring of a class of ratings, to which the declarations are added when somebody asks for it.

    Put together at import it would cost time that nobody who computes needs to spend.
    """

    def __init__(self, written: str) -> None:
        self.written = written

    def __get__(self, instance: object, owner: type) -> str:
        # `dataclass` asks for the docstring before it has finished the class; its last step sets __match_args__.
        return with_parameters(owner, self.written) if "__match_args__" in vars(owner) else self.written


def _compared(ratings: type) -> list[str]:
    return [item.name for item in dataclasses.fields(ratings) if item.compare]


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
        """Add the declarations to the docstring, and keep `dataclass` from writing an equality that fails on arrays."""
        super().__init_subclass__()
        if isinstance(cls.__doc__, str):
            type.__setattr__(cls, "__doc__", _Docstring(cls.__doc__))
        for name in ("__eq__", "__hash__", "__repr__"):
            if name != "__repr__" or name not in vars(cls):
                setattr(cls, name, getattr(Ratings, name))

    def __eq__(self, other: object) -> bool:
        if self.__class__ is not other.__class__:
            return NotImplemented
        return same_fields(self, other)

    def __hash__(self) -> int:
        values = (getattr(self, name) for name in _compared(type(self)))
        return hash((type(self), *(tuple(np.ravel(v).tolist()) if isinstance(v, np.ndarray) else v for v in values)))

    def __new__(cls, *args: object, **given: object) -> Self:
        """Raise InputError for a name that is no rating, with the nearest one."""
        if given.keys() - (known := cls.__dataclass_fields__.keys()):
            unknown = next(name for name in given if name not in known)
            ratings = [item.name for item in dataclasses.fields(cls) if item.init]
            raise InputError("unknown rating", accepted=nearest(unknown, ratings), part=cls.__name__, key=unknown)
        return super().__new__(cls)

    def __repr__(self) -> str:
        return f"{type(self).__name__}({cut_short(ratings_in_words(self))})"

    def _repr_html_(self) -> str:
        """Return what a notebook shows: the ratings that differ from their default, one row each."""
        import pandas as pd

        rows = [
            {"rating": name, "value": cut_short(value), "what it is": about} for name, value, about in rating_rows(self)
        ]
        return html_of(type(self).__name__, pd.DataFrame(rows).set_index("rating") if rows else None)

    def __post_init__(self) -> None:
        for name, declaration in declarations(type(self)).items():
            value = getattr(self, name)
            try:
                if value is None and declaration.unless and not getattr(self, declaration.unless):
                    raise declaration.missing()
                if declaration.mass_by:
                    value = declaration.as_volume(value, getattr(self, declaration.mass_by))
                object.__setattr__(self, name, declaration.convert(value))
            except InputError as error:
                raise error.at(part=type(self).__name__, key=name) from None
        try:
            self.check()
        except InputError as error:
            raise error.at(part=type(self).__name__) from None

    def check(self) -> None:
        """Check how the ratings fit together; called when the object is made. A class of ratings may have its own.

        Raises
        ------
        InputError
            Where ratings contradict each other, with the key filled in.
        """

    @takes()
    def value_of(self, key: str) -> object:
        """Return a rating, a table or named tables by key.

        Parameters
        ----------
        key : str
            As `with_values` takes it: dotted keys reach into tables, as in ``"feed.bore"`` or ``"lines.crossover"``.

        Returns
        -------
        object
            As the field holds it; None for what is left out.

        Raises
        ------
        InputError
            For an unknown key, with the nearest known one.

        Examples
        --------
        >>> from fuelsim.parts.orifice import Orifice
        >>> Orifice(diameter="0.8 mm").value_of("diameter")
        0.0008
        """
        value: object = self
        for name in key.split("."):
            known: Mapping[str, object] = {}
            if isinstance(value, Ratings):
                known = {item: getattr(value, item) for item in declarations(type(value))}
            elif isinstance(value, NamedValues):
                known = value
            if name not in known:
                raise InputError("unknown key", accepted=nearest(name, known) if known else "a key of a table", key=key)
            value = known[name]
        return value

    @takes()
    def with_values(self, values: Mapping[str, Given]) -> Self:
        """Return a copy with some ratings replaced.

        Parameters
        ----------
        values : mapping of str to object
            New values by key, as a user writes them; dotted keys reach into tables, as in ``"feed.bore"``.

        Returns
        -------
        Ratings
            Of the same class; this one stays as it is.

        Raises
        ------
        InputError
            For an unknown key, with the nearest known one, or a value that is not accepted.

        Examples
        --------
        >>> from fuelsim.parts.orifice import Orifice
        >>> Orifice(diameter="0.8 mm").with_values({"diameter": "1 mm"}).diameter
        0.001
        """
        known = declarations(type(self))
        direct: dict[str, Given] = {}
        nested: dict[str, dict[str, Given]] = {}
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
            if not isinstance(current, (Ratings, NamedValues)):
                raise InputError("no table of keys here", given=current, key=f"{head}.{next(iter(below))}")
            try:
                direct[head] = current.with_values(below)
            except InputError as error:
                raise error.at(key=head) from None
        return dataclasses.replace(self, **direct)
