"""Layouts: the ways in which the parts of a car may be plumbed, each a description of runs.

The standard ones stand in ``data/layouts.toml``: to add one, add a table to that file; nothing else lists them. A car
file may describe others for its own car.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache

from fuelsim.car.car_tables import CarTables
from fuelsim.data_files import data_path, read_toml
from fuelsim.declaration import declarations
from fuelsim.errors import InputError, nearest
from fuelsim.named_tables import NamedValues

__all__ = ["VESSEL", "Layout", "layout_named", "layout_names", "layout_title", "layouts", "layouts_of"]

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
    heights : NamedValues of float
        Height of stations above the tank's floor that the description gives, m.
    injectors_at_rail_end : bool
        Whether the injectors draw at the downstream end of the rail's bore, and not at its middle.
    own : bool
        Whether it is described in the car's own file.
    """

    name: str
    title: str
    runs: tuple[tuple[str, ...], ...]
    needs: tuple[str, ...] = ()
    names: dict[str, str] = field(default_factory=dict, compare=False)
    heights: NamedValues[float] = NamedValues()
    injectors_at_rail_end: bool = False
    own: bool = False

    def missing(self, car: CarTables) -> list[str]:
        """Return the tables that this layout needs and the car lacks.

        Parameters
        ----------
        car : Car

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
        if self.own:
            return []
        # Tables that a car may leave out because it has a plumbing of its own; a pump comes with its wire.
        named = {*self.tables, "wire"} if "pump" in self.tables else {*self.tables}
        needed = [name for name, item in declarations(type(car)).items() if item.unless and name in named]
        if car.pump is not None and car.pump.mounting == "external" and "suction" in named:
            needed.append("suction")
        return [name for name in dict.fromkeys((*needed, *self.needs)) if getattr(car, name) is None]

    @property
    def tables(self) -> tuple[str, ...]:
        """Every name of the runs that is a vessel, a part or a junction, once, in the order of flow."""
        return tuple(dict.fromkeys(name for run in self.runs for name in run))


@cache
def layouts() -> dict[str, Layout]:
    """Return every standard layout by name, in the order of the file.

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
            injectors_at_rail_end=table.get("injectors_at_rail_end", False),
        )
        for name, table in read_toml(data_path("layouts.toml")).items()
    }


def layout_names() -> tuple[str, ...]:
    """Return the names of every standard layout, in the order of the file."""
    return tuple(layouts())


def layout_title(name: str, car: CarTables | None = None) -> str:
    """Return a layout's name for people; a name that is no layout (a variant's) is returned with spaces.

    Parameters
    ----------
    name : str
        Name of a layout or of a variant.
    car : Car, optional
        Car whose own plumbings have titles too.

    Returns
    -------
    str

    Examples
    --------
    >>> layout_title("returnless_tank"), layout_title("feed_8_mm")
    ('returnless, regulator at tank', 'feed 8 mm')
    """
    if car is not None and name in car.plumbing and car.plumbing[name].title:
        return car.plumbing[name].title
    known = layouts()
    return known[name].title if name in known else name.replace("_", " ")


def _own_layout(car: CarTables, name: str) -> Layout:
    """Return a plumbing that the car's own file describes."""
    description = car.plumbing[name]
    return Layout(name, layout_title(name, car), description.runs, heights=description.heights, own=True)


def layouts_of(car: CarTables) -> list[str]:
    """Return the names of the layouts that a car has the parts for: the standard ones, then its own.

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
    return [*(name for name, layout in layouts().items() if not layout.missing(car)), *car.plumbing]


def layout_named(car: CarTables, name: str) -> Layout:
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
    if name in car.plumbing:
        return _own_layout(car, name)
    known = layouts()
    if name not in known:
        raise InputError("no such layout", given=name, accepted=nearest(name, [*known, *car.plumbing]))
    missing = known[name].missing(car)
    if missing:
        raise InputError(
            f"the layout '{name}' needs [{missing[0]}], which the car lacks",
            accepted=f"a table [{missing[0]}], or another layout ({', '.join(layouts_of(car)) or 'none'})",
            key=missing[0],
            file=car.file,
        )
    return known[name]
