"""The one family of errors: each message says where, what was given, and what is accepted."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches
from typing import Any

__all__ = ["FuelsimError", "InputError", "RangeError", "SolveError", "nearest", "printable"]

LONGEST_NAME = 200
"""Characters of a name that are compared with the known ones."""


class FuelsimError(Exception):
    """Root of every error that fuelsim raises on purpose."""


class InputError(FuelsimError, ValueError):
    """Something given from outside is wrong.

    Parameters
    ----------
    problem : str
        What is wrong, in one clause.
    given : object, optional
        The value as it was given.
    accepted : str, optional
        What would be accepted, with an example where that helps.
    part, key, file : str, optional
        Where: the name of the part, the key (dotted in a car file) and the file.

    Examples
    --------
    >>> str(InputError("the bore must be positive", given="-8 mm", accepted="0.5 mm to 100 mm", key="feed.bore"))
    "key 'feed.bore': the bore must be positive; given '-8 mm'; accepted: 0.5 mm to 100 mm"
    """

    def __init__(
        self,
        problem: str,
        *,
        given: Any = None,
        accepted: str | None = None,
        part: str | None = None,
        key: str | None = None,
        file: str | None = None,
    ) -> None:
        self.problem = problem
        self.given = given
        self.accepted = accepted
        self.part = part
        self.key = key
        self.file = file
        super().__init__(problem)

    def __str__(self) -> str:
        places = [
            f"file {self.file}" if self.file else "",
            f"part '{self.part}'" if self.part else "",
            f"key '{_cut(self.key)}'" if self.key else "",
        ]
        where = ", ".join(place for place in places if place)
        text = f"{where}: {self.problem}" if where else self.problem
        if self.given is not None:
            text += f"; given {shortened(self.given)}"
        if self.accepted:
            text += f"; accepted: {self.accepted}"
        return printable(text)

    def __reduce__(self) -> tuple[Any, ...]:
        return (_rebuild, (type(self), self.problem, self.__dict__.copy()))

    def at(self, *, part: str | None = None, key: str | None = None, file: str | None = None) -> InputError:
        """Return the same error with its place filled in; what is already known stays, keys are joined by dots."""
        joined = f"{key}.{self.key}" if key and self.key else (key or self.key)
        return type(self)(
            self.problem,
            given=self.given,
            accepted=self.accepted,
            part=self.part or part,
            key=joined,
            file=self.file or file,
        )


class RangeError(InputError):
    """A state outside the range in which a law or a fuel property is valid."""


class SolveError(FuelsimError, RuntimeError):
    """Raised on request when an operating point did not solve; ``outcome`` holds the whole report."""

    def __init__(self, message: str, outcome: Any = None) -> None:
        super().__init__(message)
        self.outcome = outcome


def _rebuild(kind: type[InputError], problem: str, state: dict[str, Any]) -> InputError:
    error = kind(problem)
    error.__dict__.update(state)
    return error


def shortened(value: Any, limit: int = 80) -> str:
    """Return ``repr(value)`` cut to ``limit`` characters, so that a message stays one line."""
    try:
        text = repr(value)
    except (ValueError, RecursionError):  # an integer of thousands of digits, tables nested thousands deep
        text = f"a {type(value).__name__} too large to show"
    return _cut(text, limit)


def _cut(text: str, limit: int = 120) -> str:
    return text if len(text) <= limit else text[: limit - 3] + "..."


def printable(text: str) -> str:
    """Return a text with everything a terminal would obey written out, so that a message is one harmless line.

    Examples
    --------
    >>> printable("a name\\n\\x1b[31m")
    'a name\\\\n\\\\x1b[31m'
    """
    return "".join(each if each.isprintable() else each.encode("unicode_escape").decode() for each in text)


def nearest(name: str, known: Iterable[str]) -> str:
    """Return the accepted names as text, the nearest to ``name`` first if there is one.

    Examples
    --------
    >>> nearest("bor", ["bore", "length"])
    "did you mean 'bore'? known: bore, length"
    >>> nearest("xyz", ["bore", "length"])
    'known: bore, length'
    """
    names = [str(item) for item in known]
    close = get_close_matches(str(name)[:LONGEST_NAME], names, n=1, cutoff=0.6)
    listed = "known: " + ", ".join(names[:40]) + (", ..." if len(names) > 40 else "")
    return f"did you mean '{close[0]}'? {listed}" if close else listed
