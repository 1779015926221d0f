"""Results by name, with the nearest known name where one is mistyped."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from fuelsim.errors import InputError, nearest

__all__ = ["NamedArrays"]


class NamedArrays(Mapping[str, Any]):
    """A read-only mapping from the names of nodes or links to arrays over the operating points.

    Examples
    --------
    >>> flow = NamedArrays("link", {"feed": 1e-5})
    >>> flow["feed"]
    1e-05
    >>> flow["fed"]
    Traceback (most recent call last):
    ...
    fuelsim.errors.InputError: no such link; given 'fed'; accepted: did you mean 'feed'? known: feed
    """

    def __init__(self, what: str, values: Mapping[str, Any]) -> None:
        self._what = what
        self._values = dict(values)

    def __getitem__(self, name: str) -> Any:
        if name not in self._values:
            raise InputError(f"no such {self._what}", given=name, accepted=nearest(name, self._values))
        return self._values[name]

    def __contains__(self, name: object) -> bool:
        return name in self._values

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)

    def __repr__(self) -> str:
        return f"NamedArrays of {self._what}s: {', '.join(self._values)}"
