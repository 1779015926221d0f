"""The catalogue of generic parts in ``data/catalogue``: each entry with its figures, its label and its sources."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import ClassVar, Self

from fuelsim.arguments import takes
from fuelsim.data_files import data_path, names, read_toml
from fuelsim.errors import InputError, nearest
from fuelsim.fields import origin
from fuelsim.sources import cite
from fuelsim.typing import TomlTable

__all__ = ["LABELS", "CatalogueEntry", "Catalogued", "catalogue_entry", "catalogue_kinds", "catalogue_names"]

LABELS = ("typical", "computed", "constructed", "published", "assumed")
_ABOUT_KEYS = ("about", "label", "source", "sources", "note", "notes")


@dataclass(frozen=True)
class CatalogueEntry:
    """One generic part.

    Attributes
    ----------
    kind, name : str
        File in ``data/catalogue`` and table in it.
    about : str
        Description of the part.
    label : str
        One of `LABELS`: middle of a class, computed from sizes, constructed as a class, published, or assumed.
    source : tuple of str
        Keys of `fuelsim.sources.references` for every figure that `sources` does not name.
    sources : mapping
        Rating to keys, for figures of another source.
    note : str
        What of `source` was taken.
    notes : mapping
        Rating to such a note, for the figures in `sources`.
    values : mapping
        Ratings as the file gives them: text with units.
    """

    kind: str
    name: str
    about: str
    label: str
    source: tuple[str, ...]
    sources: Mapping[str, tuple[str, ...]]
    note: str
    notes: Mapping[str, str]
    values: TomlTable

    def source_of(self, rating: str) -> str:
        """Return the source of one figure, as outputs print it.

        Parameters
        ----------
        rating : str
            Name of a rating.

        Returns
        -------
        str

        Examples
        --------
        >>> catalogue_entry("pumps", "in_tank_220").source_of("relief_band") != ""
        True
        """
        if rating in self.sources:
            return cite(self.sources[rating], self.notes.get(rating, ""))
        return cite(self.source, self.note)


def catalogue_kinds() -> list[str]:
    """Return the kinds of entries there are.

    Examples
    --------
    >>> "pumps" in catalogue_kinds()
    True
    """
    return names("catalogue")


def catalogue_names(kind: str) -> list[str]:
    """Return the names of one kind, in the order of the file.

    Parameters
    ----------
    kind : str
        One of `catalogue_kinds`.

    Returns
    -------
    list of str

    Raises
    ------
    InputError
        For an unknown kind.

    Examples
    --------
    >>> "in_tank_220" in catalogue_names("pumps")
    True
    """
    return list(_entries(kind))


def catalogue_entry(kind: str, name: str) -> CatalogueEntry:
    """Return one entry.

    Parameters
    ----------
    kind : str
        One of `catalogue_kinds`.
    name : str
        One of `catalogue_names`.

    Returns
    -------
    CatalogueEntry

    Raises
    ------
    InputError
        For an unknown kind or name, with the nearest known one.

    Examples
    --------
    >>> entry = catalogue_entry("pumps", "in_tank_220")
    >>> entry.label, entry.source_of("relief_pressure")
    ('typical', 'turbine pumps open at 550 to 850 kPa, service manual, 2000s, A')
    """
    entries = _entries(kind)
    if name not in entries:
        raise InputError(f"no such name in data/catalogue/{kind}.toml", given=name, accepted=nearest(name, entries))
    return entries[name]


def _keys(given: str | list[str]) -> tuple[str, ...]:
    return (given,) if isinstance(given, str) else tuple(given)


@cache
def _entries(kind: str) -> Mapping[str, CatalogueEntry]:
    if kind not in catalogue_kinds():
        raise InputError("no such kind of catalogue entry", given=kind, accepted=nearest(kind, catalogue_kinds()))
    path = data_path("catalogue", f"{kind}.toml")
    found = {}
    for name, table in read_toml(path).items():
        missing = [key for key in ("about", "label", "source") if key not in table]
        if missing:
            raise InputError("missing key", accepted=", ".join(missing), key=f"{name}.{missing[0]}", file=str(path))
        if table["label"] not in LABELS:
            raise InputError(
                "unknown label", given=table["label"], accepted=", ".join(LABELS), key=f"{name}.label", file=str(path)
            )
        values = {key: value for key, value in table.items() if key not in _ABOUT_KEYS}
        found[name] = CatalogueEntry(
            kind,
            name,
            table["about"],
            table["label"],
            _keys(table["source"]),
            {rating: _keys(keys) for rating, keys in table.get("sources", {}).items()},
            table.get("note", ""),
            table.get("notes", {}),
            values,
        )
    return found


@dataclass(frozen=True, eq=False)
class Catalogued:
    """What a class of ratings gains from standing in the catalogue.

    Attributes
    ----------
    catalogue : str or None
        Name of the generic part that it was taken from; a car file that is written refers to it. Ratings may have been
        replaced since, so it has no part in what is equal.
    """

    catalogue_kind: ClassVar[str]
    catalogue: str | None = origin("Name of the generic part that the ratings were taken from.")

    @classmethod
    @takes()
    def named(cls, name: str) -> Self:
        """Return a generic part of the catalogue.

        Its figures are the middle of a class, see `CatalogueEntry.label` and `CatalogueEntry.source_of`; prefer figures
        of your own bench.

        Parameters
        ----------
        name : str
            One of ``catalogue_names`` of this kind.

        Returns
        -------
        part
            Instance of the class on which this is called.

        Raises
        ------
        InputError
            For an unknown name, with the nearest known one.

        Examples
        --------
        >>> from fuelsim.parts.filter import Filter
        >>> Filter.named(catalogue_names("filters")[0]).catalogue == catalogue_names("filters")[0]
        True
        """
        entry = catalogue_entry(cls.catalogue_kind, name)
        try:
            return cls(**entry.values, catalogue=name)
        except InputError as error:
            raise error.at(key=name, file=str(data_path("catalogue", f"{cls.catalogue_kind}.toml"))) from None
