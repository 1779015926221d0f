"""The one family of errors: each message says where, what was given, and what is accepted."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

__all__ = ["FuelsimError", "InputError", "RangeError", "SolveError", "nearest", "printable"]

LONGEST_NAME = 200
"""Characters of a name that are compared with the known ones."""
LONGEST_PATH = 240
"""Characters of the path of a file that a message shows."""
LONGEST_LIST = 360
"""Characters of the accepted names that a message lists, so that it stays one that a person reads."""


class FuelsimError(Exception):
    """Root of every error that fuelsim raises on purpose.

    Examples
    --------
    >>> import fuelsim as fs
    >>> try:
    ...     fs.si("8 kg", "m")
    ... except fs.FuelsimError as error:
    ...     print(error)
    'kg' is not a unit of length; given '8 kg'; accepted: a unit of length, as in mm, m, in, ft
    """


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
    function : str, optional
        The function whose argument is wrong; `key` is then the argument.

    Examples
    --------
    >>> str(InputError("the bore must be positive", given="-8 mm", accepted="0.5 mm to 100 mm", key="feed.bore"))
    "key 'feed.bore': the bore must be positive; given '-8 mm'; accepted: 0.5 mm to 100 mm"
    """

    def __init__(
        self,
        problem: str,
        *,
        given: object = None,
        accepted: str | None = None,
        part: str | None = None,
        key: str | None = None,
        file: str | None = None,
        function: str | None = None,
    ) -> None:
        self.problem = problem
        self.given = given
        self.accepted = accepted
        self.part = part
        self.key = key
        self.file = file
        self.function = function
        super().__init__(problem)

    def __str__(self) -> str:
        location = [
            f"file {cut(self.file, LONGEST_PATH)}" if self.file else "",
            f"part '{self.part}'" if self.part else "",
            f"{self.function}()" if self.function else "",
            f"{'argument' if self.function else 'key'} '{cut(self.key)}'" if self.key else "",
        ]
        where = ", ".join(filter(None, location))
        text = f"{where}: {self.problem}" if where else self.problem
        if self.given is not None:
            text += f"; given {shortened(self.given)}"
        if self.accepted:
            text += f"; accepted: {self.accepted}"
        return printable(text)

    def __reduce__(self) -> tuple[object, ...]:
        return (_rebuild, (type(self), self.problem, self.__dict__.copy()))

    def at(
        self,
        *,
        part: str | None = None,
        key: str | None = None,
        file: str | None = None,
        function: str | None = None,
    ) -> InputError:
        """Return the same error with where it happened filled in; what is known already stays.

        Parameters
        ----------
        part, key, file, function : str, optional
            Name of the part, key, file and function. A key is put before the one that is known, joined by a dot.

        Returns
        -------
        InputError
            A new one of the same class.
        """
        joined = f"{key}.{self.key}" if key and self.key else (key or self.key)
        return type(self)(
            self.problem,
            given=self.given,
            accepted=self.accepted,
            part=self.part or part,
            key=joined,
            file=self.file or file,
            function=self.function or function,
        )


class RangeError(InputError):
    """A state outside the range in which a law or a fuel property is valid; its parameters are those of `InputError`.

    Examples
    --------
    >>> str(RangeError("too hot for the property's fit", given="800 K", accepted="230 K to 420 K"))
    "too hot for the property's fit; given '800 K'; accepted: 230 K to 420 K"
    """


class SolveError(FuelsimError, RuntimeError):
    """Raised on request when an operating point did not solve.

    Parameters
    ----------
    message : str
        What happened and what to try.
    outcome : Outcome, optional
        The report on all operating points of the batch.

    Examples
    --------
    >>> str(SolveError("1 of 2 operating points did not solve"))
    '1 of 2 operating points did not solve'
    """

    def __init__(self, message: str, outcome: object = None) -> None:
        super().__init__(message)
        self.outcome = outcome


def _rebuild(kind: type[InputError], problem: str, state: dict[str, object]) -> InputError:
    error = kind(problem)
    error.__dict__.update(state)
    return error


def shortened(value: object, limit: int = 80) -> str:
    """Return ``repr(value)`` cut to a number of characters, so that a message stays one line.

    Parameters
    ----------
    value : object
        Anything, as it was given.
    limit : int
        Characters of the text.
    """
    try:
        text = repr(value)
    except (ValueError, RecursionError):  # an integer of thousands of digits, tables nested thousands deep
        text = f"a {type(value).__name__} too large to show"
    except Exception:  # the class of the value fails at showing it
        text = f"a {type(value).__name__} that cannot be shown"
    return cut(text, limit)


def cut(text: str, limit: int = 120) -> str:
    """Return a text of limited length, with dots where it was cut.

    Parameters
    ----------
    text : str
    limit : int
        Characters of the text.

    Returns
    -------
    str

    Examples
    --------
    >>> cut("a long story", 8)
    'a lon...'
    """
    return text if len(text) <= limit else text[: limit - 3] + "..."


def printable(text: str) -> str:
    """Return a text with everything a terminal would obey written out, so that a message is one harmless line.

    Parameters
    ----------
    text : str
        Any text.

    Examples
    --------
    >>> printable("a name\\n\\x1b[31m")
    'a name\\\\n\\\\x1b[31m'
    """
    return "".join(each if each.isprintable() else each.encode("unicode_escape").decode() for each in text)


def nearest(name: object, known: Iterable[str]) -> str:
    """Return the accepted names as text, the nearest to the given one first if there is one.

    Parameters
    ----------
    name : object
        What was given; anything but text is compared as it prints.
    known : iterable of str
        The accepted names; the first 40 of them are listed, fewer where they are long.

    Examples
    --------
    >>> nearest("bor", ["bore", "length"])
    "did you mean 'bore'? known: bore, length"
    >>> nearest("xyz", ["bore", "length"])
    'known: bore, length'
    """
    names = [str(item) for item in known]
    given = name if isinstance(name, str) else shortened(name)
    close = get_close_matches(given[:LONGEST_NAME], names, n=1, cutoff=0.6)
    first = 0
    while first < min(len(names), 40) and len(", ".join(names[: first + 1])) <= LONGEST_LIST:
        first += 1
    listed = "known: " + ", ".join(names[:first]) + (", ..." if first < len(names) else "")
    return f"did you mean '{close[0]}'? {listed}" if close else listed
