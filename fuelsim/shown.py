"""How results show themselves: one line as text, a sentence and a table in a notebook; and when two are equal."""

from __future__ import annotations

import dataclasses
import html
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from fuelsim import opener
from fuelsim.arguments import takes
from fuelsim.errors import cut
from fuelsim.made_by import Made

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["LONGEST_LINE", "Shown", "cut_short", "html_of", "same_content", "same_fields"]

LONGEST_LINE = 300
"""Characters of the line in which an object shows itself."""
LONGEST_HTML = 18_000
"""Characters of what a notebook shows of an object."""
_ROWS = (24, 12, 6)
_COLUMNS = (24, 12, 6)


class Shown(Made):
    """A result that shows itself in one line as text, and as a sentence with its table in a notebook.

    Two results are equal where they are of one class and everything in them is equal, arrays element by element and a
    missing value equal to another missing one.
    """

    def __init_subclass__(cls) -> None:
        """Keep `dataclass` from writing a repr of all arrays, and an equality that fails on them."""
        super().__init_subclass__()
        for name in ("__repr__", "__eq__"):
            if name not in vars(cls):
                setattr(cls, name, getattr(Shown, name))

    @property
    def headline(self) -> str:
        """Return what is to be known of the result at first sight."""
        return ""

    def __repr__(self) -> str:
        # What Ctrl-C cut short says so first.
        line = "; ".join(text for text in (str(getattr(self, "completion", "")), self.headline) if text)
        return f"<{type(self).__name__}{': ' if line else ''}{cut_short(line)}>"

    def _repr_html_(self) -> str:
        """Return what a notebook shows: the sentence, and the table where there is one."""
        table = getattr(self, "table", None)
        return html_of(repr(self)[1:-1], None if table is None else table())

    @takes()
    def save(self, path: Path | str) -> Path:
        """Write the result to a file of JSON, with the version of fuelsim, its car and all it was made from.

        `fuelsim.load` reads it again.

        Parameters
        ----------
        path : path
            File to be; one that stands there is replaced.

        Returns
        -------
        Path

        Raises
        ------
        InputError
            Where it cannot be written.
        """
        return opener.save_result(self, path)

    def __eq__(self, other: object) -> bool:
        if type(self) is not type(other):
            return NotImplemented
        return same_fields(self, other)

    __hash__ = None  # type: ignore[assignment]  # results hold arrays


def cut_short(text: str, most: int = LONGEST_LINE) -> str:
    """Return a text in one line of limited length.

    Parameters
    ----------
    text : str
    most : int
        Characters.

    Returns
    -------
    str

    Examples
    --------
    >>> cut_short("a long story", 8)
    'a lon...'
    """
    return cut(" ".join(text.split()), most)


def html_of(sentence: str, table: pd.DataFrame | None) -> str:
    """Return a sentence and a table as HTML, of a large table only the beginning and the end of rows and columns.

    Parameters
    ----------
    sentence : str
    table : DataFrame or None

    Returns
    -------
    str

    Examples
    --------
    >>> html_of("3 < 4", None)
    '<p>3 &lt; 4</p>'
    """
    text = f"<p>{html.escape(sentence)}</p>" if sentence else ""
    if table is None:
        return text
    for rows, columns in zip(_ROWS, _COLUMNS, strict=True):
        shown = table.to_html(max_rows=rows, max_cols=columns, float_format=lambda value: f"{value:.4g}", escape=True)
        if len(text) + len(shown) <= LONGEST_HTML:
            break
    return text + shown


def same_content(one: object, other: object) -> bool:
    """Return whether two values are equal: arrays element by element, what is missing equal to what is missing.

    Parameters
    ----------
    one, other : object
        Numbers, text, arrays, or mappings and lists of such, or objects that compare.

    Returns
    -------
    bool

    Examples
    --------
    >>> same_content({"a": np.array([1.0, np.nan])}, {"a": np.array([1.0, np.nan])})
    True
    """
    if one is other:
        return True
    if isinstance(one, np.ndarray) or isinstance(other, np.ndarray):
        first, second = np.asarray(one), np.asarray(other)
        floats = first.dtype.kind in "fc" and second.dtype.kind in "fc"
        return np.array_equal(first, second, equal_nan=floats)
    if isinstance(one, float) and isinstance(other, float):
        return one == other or (one != one and other != other)
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(same_content(one[key], other[key]) for key in one)
    if isinstance(one, Sequence) and isinstance(other, Sequence) and not isinstance(one, str):
        if type(one) is not type(other) or len(one) != len(other):
            return False
        return all(same_content(first, second) for first, second in zip(one, other, strict=True))
    if dataclasses.is_dataclass(one) and type(one) is type(other):
        return same_fields(one, other)
    return bool(one == other)


def same_fields(one: object, other: object) -> bool:
    """Return whether two dataclasses of one class are equal in every field that counts.

    Parameters
    ----------
    one, other : object
        Instances of the same dataclass.

    Returns
    -------
    bool

    Examples
    --------
    >>> from fuelsim.finding import Finding, Severity
    >>> same_fields(Finding(Severity.NOTE, "feed", "long"), Finding(Severity.NOTE, "feed", "short"))
    False
    """
    names = [item.name for item in dataclasses.fields(one) if item.compare]  # type: ignore[arg-type]
    return all(same_content(getattr(one, name), getattr(other, name)) for name in names)
