"""Sources: where each figure comes from, one entry per source in ``data/references.toml``.

Code cites a source by its key in square brackets, as in ``[hooper_1981]``, in a comment or docstring; data files cite
it by a ``source`` key; outputs print the short citation that `cite` makes of it. ``memory``, ``assumed``,
``common_practice`` and ``computed`` are sources too, so that a figure without a publication says so. Figures for which
no public source was found stand in ``data/unknown_figures.toml`` with their bands and what to measure instead.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from fuelsim.data_files import data_path, read_toml
from fuelsim.errors import InputError, nearest

__all__ = [
    "KINDS",
    "READ",
    "Reference",
    "UnknownFigure",
    "cite",
    "doubt",
    "reference",
    "references",
    "unknowns",
]

FILE = "references.toml"
UNKNOWN_FILE = "unknown_figures.toml"
KINDS = (
    "standard",
    "law",
    "paper",
    "book",
    "official report",
    "handbook",
    "library",
    "service manual",
    "catalogue",
    "page",
    "common practice",
    "memory",
    "assumption",
    "computed",
    "measurement",
)
"""What a source can be."""
READ = {
    "text": "",
    "scope": "scope read",
    "abstract": "abstract read",
    "catalogue": "as a catalogue gives it",
    "library": "as a library gives it",
    "secondary": "as quoted elsewhere",
    "not read": "from memory",
    "": "",
}
"""How a source was read, and the words that say so in a citation; the text itself needs none."""
_KEYS = ("title", "short", "kind", "read", "year", "section")


@dataclass(frozen=True)
class Reference:
    """One source of figures.

    Attributes
    ----------
    key : str
        As code and data files cite it.
    title : str
        In full, with authors and journal where there are any.
    short : str
        As outputs print it.
    kind : str
        One of `KINDS`.
    read : str
        How it was read, one of `READ`; empty for what is no text.
    year : int or None
        Year of the edition that was read.
    section : str
        Table, page or paragraph.
    """

    key: str
    title: str
    short: str
    kind: str
    read: str = ""
    year: int | None = None
    section: str = ""

    @property
    def citation(self) -> str:
        """Short citation for outputs, with how the source was read unless in its text.

        Examples
        --------
        >>> reference("common_practice").citation
        'common practice, no source'
        """
        return f"{self.short} ({READ[self.read]})" if READ[self.read] else self.short


@cache
def references() -> Mapping[str, Reference]:
    """Return every source of ``data/references.toml`` by its key.

    Raises
    ------
    InputError
        For a missing, unknown or wrong entry, with file and key.

    Examples
    --------
    >>> references()["memory"].kind
    'memory'
    """
    path = data_path(FILE)
    entries = {}
    for key, table in read_toml(path).items():
        problem = None
        if not isinstance(table, dict) or set(table) - set(_KEYS):
            problem = InputError("unknown key", given=key, accepted=", ".join(_KEYS))
        elif not all(isinstance(table.get(name), str) for name in ("title", "short", "kind")):
            problem = InputError("incomplete entry", given=key, accepted="title, short and kind, each a text")
        elif table["kind"] not in KINDS:
            problem = InputError("unknown kind of source", given=table["kind"], accepted=nearest(table["kind"], KINDS))
        elif table.get("read", "") not in READ:
            problem = InputError("unknown way of reading", given=table["read"], accepted=nearest(table["read"], READ))
        if problem is not None:
            raise problem.at(key=key, file=str(path))
        entries[key] = Reference(key, **table)
    return entries


def reference(key: str) -> Reference:
    """Return a source by its key.

    Parameters
    ----------
    key : str
        A table of ``data/references.toml``.

    Raises
    ------
    InputError
        For an unknown key, with the nearest known one.

    Examples
    --------
    >>> reference("assumed").short
    'assumed'
    """
    known = references()
    if key not in known:
        raise InputError("no such source in data/references.toml", given=key, accepted=nearest(str(key), known))
    return known[key]


def cite(keys: str | Sequence[str], note: str = "", rests_on: str = "") -> str:
    """Return the text by which outputs say where a figure comes from.

    Parameters
    ----------
    keys : str or sequence of str
        One source or several.
    note : str
        What of the source was taken, as in "middle of 2-5 kPa".
    rests_on : str
        Figure without a public source that the answer rests on, a table of ``data/unknown_figures.toml``.

    Returns
    -------
    str

    Raises
    ------
    InputError
        For an unknown key.

    Examples
    --------
    >>> cite("memory", "middle of 2-5 kPa")
    'middle of 2-5 kPa, from memory'
    """
    keys = [keys] if isinstance(keys, str) else keys
    parts = [note] if note else []
    citation = ", ".join([*parts, "; ".join(reference(key).citation for key in keys)])
    return f"{citation}; {doubt(rests_on)}" if rests_on else citation


@dataclass(frozen=True)
class UnknownFigure:
    """A figure for which no public source was found.

    Attributes
    ----------
    key : str
        Its table in ``data/unknown_figures.toml``.
    quantity : str
        What it is.
    band : str
        Least to most that is thought possible, from memory.
    used : str
        What is used where the car file does not say.
    measure : str
        What to measure on the car or bench.
    rests : str
        What of the answers rests on it.
    keys : tuple of str
        Keys of the car file that take the owner's own figure.
    looked_in : tuple of str
        Keys of `references` that were read for it in vain, or are known by title or abstract only.
    """

    key: str
    quantity: str
    band: str
    used: str
    measure: str
    rests: str
    keys: tuple[str, ...] = ()
    looked_in: tuple[str, ...] = ()


@cache
def unknowns() -> Mapping[str, UnknownFigure]:
    """Return every figure without a public source, by its key.

    Raises
    ------
    InputError
        For an incomplete entry, with file and key.

    Examples
    --------
    >>> unknowns()["npsh_required"].used
    '15 and 27 kPa'
    """
    path = data_path(UNKNOWN_FILE)
    texts = ("quantity", "band", "used", "measure", "rests")
    entries = {}
    for key, table in read_toml(path).items():
        if not isinstance(table, dict) or set(table) != {*texts, "keys", "looked_in"}:
            accepted = ", ".join((*texts, "keys", "looked_in"))
            raise InputError("incomplete or unknown entry", given=key, accepted=accepted, key=key, file=str(path))
        entries[key] = UnknownFigure(
            key, keys=tuple(table["keys"]), looked_in=tuple(table["looked_in"]), **{name: table[name] for name in texts}
        )
    return entries


def doubt(key: str) -> str:
    """Return the words that say that a finding rests on a figure without a public source.

    Parameters
    ----------
    key : str
        A table of ``data/unknown_figures.toml``.

    Raises
    ------
    InputError
        For an unknown key, with the nearest known one.

    Examples
    --------
    >>> doubt("shortest_pulse")
    'rests on shortest_pulse without a public source: fs.unknown_figures() has its band and what to measure'
    """
    known = unknowns()
    if key not in known:
        raise InputError("no such figure in data/unknown_figures.toml", given=key, accepted=nearest(str(key), known))
    return f"rests on {key} without a public source: fs.unknown_figures() has its band and what to measure"
