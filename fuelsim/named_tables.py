"""Values by names that the user chooses, as in ``[lines.crossover]``: immutable mappings with checked names."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Protocol, Self, TypeVar, runtime_checkable

from fuelsim.errors import InputError, nearest
from fuelsim.typing import Given

__all__ = ["LONGEST_NAME", "NAME_PATTERN", "NamedTables", "NamedValues", "checked_name"]

LONGEST_NAME = 40
"""Characters of the name of a table, a junction or a plumbing."""
NAME_PATTERN = f"^[A-Za-z][A-Za-z0-9_]{{0,{LONGEST_NAME - 1}}}$"
"""Regular expression of such a name."""
ACCEPTED_NAME = f"letters, digits and underscores, beginning with a letter, at most {LONGEST_NAME} characters"

_Value = TypeVar("_Value", covariant=True)


@runtime_checkable
class _Table(Protocol):
    """A class of ratings, as far as it is needed here."""

    def with_values(self, values: Mapping[str, Given]) -> Self: ...


def checked_name(name: Given) -> str:
    """Return a name that a user chose for a table, a junction or a plumbing.

    Parameters
    ----------
    name : str
        As it was given.

    Returns
    -------
    str

    Raises
    ------
    InputError
        For anything but letters, digits and underscores beginning with a letter, or more than 40 characters.

    Examples
    --------
    >>> checked_name("left_rail")
    'left_rail'
    """
    if not isinstance(name, str) or not re.fullmatch(NAME_PATTERN.strip("^$"), name):
        raise InputError("not a name", given=name, accepted=ACCEPTED_NAME)
    return name


class NamedValues(Mapping[str, _Value]):
    """An immutable mapping from names to values, equal and hashed by its content.

    Parameters
    ----------
    values : mapping of str to object, optional
        Kept in their order; the order has no part in what is equal.

    Examples
    --------
    >>> heights = NamedValues({"tee": 0.2, "front": 0.5})
    >>> heights["tee"], heights == NamedValues({"front": 0.5, "tee": 0.2})
    (0.2, True)
    >>> heights
    NamedValues({'tee': 0.2, 'front': 0.5})
    """

    __slots__ = ("_values",)
    _values: Mapping[str, _Value]

    def __init__(self, values: Mapping[str, _Value] = MappingProxyType({})) -> None:
        object.__setattr__(self, "_values", MappingProxyType(dict(values)))

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError(f"a {type(self).__name__} cannot be changed; with_values returns a changed copy")

    def __getitem__(self, name: str) -> _Value:
        return self._values[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)

    def _ipython_key_completions_(self) -> list[str]:
        """Return the names that an editor offers after ``[``."""
        return list(self)

    def __hash__(self) -> int:
        return hash(frozenset(self._values.items()))

    def __repr__(self) -> str:
        return f"{type(self).__name__}({dict(self._values)!r})"

    def __reduce__(self) -> tuple[type[Self], tuple[dict[str, _Value]]]:
        return type(self), (dict(self._values),)

    def with_values(self, values: Mapping[str, Given]) -> dict[str, Given]:
        """Return the values with some replaced, added or taken away, not yet checked.

        Parameters
        ----------
        values : mapping of str to object
            New values by name, None to take one away; dotted keys reach into tables, as in ``"crossover.bore"``.

        Returns
        -------
        dict of str to object
            What the declaration of these values converts and checks.

        Raises
        ------
        InputError
            For a dotted key into a name that is not there, with the nearest one, or a wrong value, with the dotted key.

        Examples
        --------
        >>> NamedValues({"tee": 0.2}).with_values({"front": "0.5 m"})
        {'tee': 0.2, 'front': '0.5 m'}
        """
        changed: dict[str, Given] = dict(self._values)
        nested: dict[str, dict[str, Given]] = {}
        for key, value in values.items():
            name, dot, rest = key.partition(".")
            if dot:
                nested.setdefault(name, {})[rest] = value
            elif value is None and name not in self._values:
                raise InputError("no such name", accepted=nearest(name, self), key=name)
            else:
                changed[name] = value
        for name, below in nested.items():
            key = f"{name}.{next(iter(below))}"
            if name not in changed:
                raise InputError("no table of this name", accepted=nearest(name, changed), key=key)
            table = changed[name]
            if not isinstance(table, _Table):
                raise InputError("no table of keys here", given=table, key=key)
            try:
                changed[name] = table.with_values(below)
            except InputError as error:
                raise error.at(key=name) from None
        return {name: value for name, value in changed.items() if value is not None}


class NamedTables(NamedValues[_Value]):
    """Tables of one kind by their names, as in ``[pumps.left]`` and ``[pumps.right]``.

    Examples
    --------
    >>> from fuelsim.parts.orifice import Orifice
    >>> bleeds = NamedTables({"bleed": Orifice(diameter="0.6 mm")})
    >>> bleeds["bleed"].diameter, hash(bleeds) == hash(NamedTables(dict(bleeds)))
    (0.0006, True)
    """

    __slots__ = ()
