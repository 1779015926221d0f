"""What a result was made from: the public function that was called, and what it was given."""

from __future__ import annotations

from typing import ClassVar, NamedTuple

__all__ = ["Made", "MadeBy"]


class MadeBy(NamedTuple):
    """What a result was made from.

    Attributes
    ----------
    function : str
        Name of the public function or method that was called.
    arguments : dict of str to object
        What it was given, numbers in SI; functions and executors are left out. A method's own object stands first, by
        the name of its class.
    """

    function: str
    arguments: dict[str, object]


class Made:
    """A result that keeps what it was made from.

    Attributes
    ----------
    made_by : MadeBy or None
        Public function that returned it, with its arguments; None for what is made otherwise.
    """

    made_by: ClassVar[MadeBy | None] = None
