"""Layouts: the ways in which the parts of a car may be plumbed, each a description of runs in ``data/layouts.toml``.

To add a layout, add a table to that file; nothing else lists them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING

from fuelsim.data_files import data_path, read_toml
from fuelsim.errors import InputError, nearest

if TYPE_CHECKING:
    from fuelsim.fields import Ratings

__all__ = ["VESSEL", "Layout", "layout_names", "layout_title", "layouts", "layouts_of"]

VESSEL = "tank"
"""Name of the vessel in which runs begin and end."""


@dataclass(frozen=True)
class Layout:
    """One way to plumb a car.

    Attributes
    ----------
    name : str
        Name in files and results.
    title : str
        Name for people.
    runs : tuple of tuple of str
        Names of vessels, parts and junctions in the order of flow.
    needs : tuple of str
        Tables that a car may leave out and this layout cannot do without.
    names : dict of str to str
        Name in results of a link (by its part) or of a station (as ``<part>_outlet``), where it is another.
    """

    name: str
    title: str
    runs: tuple[tuple[str, ...], ...]
    needs: tuple[str, ...] = ()
    names: dict[str, str] = field(default_factory=dict, compare=False)

    def missing(self, car: Ratings) -> list[str]:
        """Return the tables that this layout needs and the car lacks.

        Parameters
        ----------
        car : Car
            Any class of ratings with the tables as fields.

        Returns
        -------
        list of str
            Names of tables.

        Examples
        --------
        >>> from fuelsim.car.car import Car
        >>> layouts()["return"].missing(Car.named("finch"))
        []
        """
        return [name for name in self.needs if getattr(car, name) is None]

    @property
    def tables(self) -> tuple[str, ...]:
        """Every name of the runs that is a vessel, a part or a junction, once, in the order of flow."""
        return tuple(dict.fromkeys(name for run in self.runs for name in run))


@cache
def layouts() -> dict[str, Layout]:
    """Return every layout by name, in the order of the file.

    Examples
    --------
    >>> list(layouts())
    ['return', 'returnless_tank', 'returnless_bay']
    >>> layouts()["return"].title
    'return from rail'
    """
    return {
        name: Layout(
            name=name,
            title=table["title"],
            runs=tuple(tuple(run) for run in table["runs"]),
            needs=tuple(table.get("needs", ())),
            names=dict(table.get("names", {})),
        )
        for name, table in read_toml(data_path("layouts.toml")).items()
    }


def layout_names() -> tuple[str, ...]:
    """Return the names of every layout, in the order of the file."""
    return tuple(layouts())


def layout_title(name: str) -> str:
    """Return a layout's name for people; a name that is no layout (a variant's) is returned with spaces.

    Parameters
    ----------
    name : str
        Name of a layout or of a variant.

    Returns
    -------
    str

    Examples
    --------
    >>> layout_title("returnless_tank"), layout_title("feed_8_mm")
    ('returnless, regulator at tank', 'feed 8 mm')
    """
    known = layouts()
    return known[name].title if name in known else name.replace("_", " ")


def layouts_of(car: Ratings) -> list[str]:
    """Return the names of the layouts that a car has the parts for, in the order of the file.

    Parameters
    ----------
    car : Car
        The car.

    Returns
    -------
    list of str

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> "return" in layouts_of(Car.named("finch"))
    True
    """
    return [name for name, layout in layouts().items() if not layout.missing(car)]


def layout_named(car: Ratings, name: str) -> Layout:
    """Return a layout that a car has the parts for.

    Parameters
    ----------
    car : Car
        The car.
    name : str
        Name of the layout.

    Returns
    -------
    Layout

    Raises
    ------
    InputError
        For an unknown layout, with the nearest known one, or a table that the layout needs and the car lacks.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> layout_named(Car.named("finch"), "return").title
    'return from rail'
    """
    known = layouts()
    if name not in known:
        raise InputError("no such layout", given=name, accepted=nearest(name, known))
    missing = known[name].missing(car)
    if missing:
        raise InputError(
            f"the layout '{name}' needs [{missing[0]}], which the car lacks",
            accepted=f"a table [{missing[0]}], or another layout ({', '.join(layouts_of(car)) or 'none'})",
            key=missing[0],
            file=getattr(car, "file", None),
        )
    return known[name]
