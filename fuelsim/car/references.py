"""The key ``catalogue`` of a car file: which tables may refer to a generic part, and what ratings that part brings."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from fuelsim.car.climate import hot_day, places
from fuelsim.car.tables import PlumbedLine, Surroundings
from fuelsim.declaration import declarations
from fuelsim.errors import InputError, nearest
from fuelsim.parts.catalogue_parts import Catalogued, catalogue_entry, catalogue_names
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.line_size import LineSize
from fuelsim.typing import Given

__all__ = ["CatalogueSection", "catalogue_section", "generic_parts"]


@dataclass(frozen=True)
class CatalogueSection:
    """The generic parts that one kind of table may refer to.

    Attributes
    ----------
    file : str
        File in ``data`` that holds them, for messages.
    names : callable
        Returns the names a table may refer to.
    ratings : callable
        Returns the ratings behind a name, for the keys of that table; raises InputError for an unknown name.
    """

    file: str
    names: Callable[[], list[str]]
    ratings: Callable[[Given], Mapping[str, Given]]


def catalogue_section(part: type) -> CatalogueSection | None:
    """Return the generic parts that a class of ratings may refer to, or None where there are none.

    Parameters
    ----------
    part : type
        A class of ratings.

    Returns
    -------
    CatalogueSection or None

    Examples
    --------
    >>> section = catalogue_section(Injectors)
    >>> section.file, section.ratings("size_250")["static_flow"]
    ('data/catalogue/injectors.toml', '250 mL/min')
    >>> catalogue_section(PlumbedLine).ratings("steel_tube 5/16 in")["material"]
    'steel'
    """
    if issubclass(part, PlumbedLine):
        return CatalogueSection("data/catalogue/lines.toml", lambda: catalogue_names("lines"), line_values)
    if issubclass(part, Surroundings):
        return CatalogueSection("data/climates.toml", places, climate_values)
    if issubclass(part, Injectors):
        # An entry is one injector; how many there are is the car's own.
        return _section("injectors", part, without=("count",))
    if issubclass(part, Catalogued):
        return _section(part.catalogue_kind, part, without=())
    return None


def generic_parts(part: type) -> list[str]:
    """Return the names that a table of this class may refer to by its key ``catalogue``; empty where there are none.

    Parameters
    ----------
    part : type
        A class of ratings.

    Returns
    -------
    list of str

    Examples
    --------
    >>> "size_250" in generic_parts(Injectors)
    True
    """
    section = catalogue_section(part)
    return section.names() if section else []


def _section(kind: str, part: type, without: tuple[str, ...]) -> CatalogueSection:
    file = f"data/catalogue/{kind}.toml"

    def ratings(name: Given) -> Mapping[str, Given]:
        values = catalogue_entry(kind, _known_name(name, catalogue_names(kind), file)).values
        return {key: value for key, value in values.items() if key in declarations(part) and key not in without}

    return CatalogueSection(file, lambda: catalogue_names(kind), ratings)


def _known_name(name: Given, known: list[str], file: str) -> str:
    if not isinstance(name, str) or name not in known:
        raise InputError(f"no such name in {file}", given=name, accepted=nearest(name, known))
    return name


def line_values(name: Given) -> dict[str, Given]:
    """Return the ratings of a tube or hose by its entry, its family and size, or its size where one family has it.

    Parameters
    ----------
    name : str
        As in ``"steel_tube 5/16 in"``.

    Returns
    -------
    dict of str to object
        Ratings of a `PlumbedLine`.

    Raises
    ------
    InputError
        For an unknown name, or a size of several families, with the true bore in each.

    Examples
    --------
    >>> line_values("braided_ptfe -6")["material"]
    'ptfe'
    """
    known = catalogue_names("lines")
    if name not in known:
        entries = {entry: catalogue_entry("lines", entry).values for entry in known}
        sized = [
            entry
            for entry, ratings in entries.items()
            if name in (ratings["size"], f"{ratings['family']} {ratings['size']}")
        ]
        if len(sized) > 1:
            bores = ", ".join(f"'{entry}' ({1e3 * LineSize.named(entry).inside_diameter:.2f} mm)" for entry in sized)
            raise InputError("this size has another bore in each family", given=name, accepted=bores)
        sizes = [str(values["size"]) for values in entries.values()]
        names = [*known, *dict.fromkeys(sizes)]
        name = sized[0] if sized else _known_name(name, names, "data/catalogue/lines.toml")
    return LineSize.named(str(name)).line_ratings


def climate_values(name: Given) -> dict[str, Given]:
    """Return the weather of a hot day at its highest temperature, by the name of the place.

    Parameters
    ----------
    name : str
        As `hot_day` takes it.

    Returns
    -------
    dict of str to object
        Ratings of `Surroundings`.

    Examples
    --------
    >>> round(climate_values("riyadh")["air_temperature"] - 273.15, 1)
    44.2
    """
    day = hot_day(_known_name(name, places(), "data/climates.toml"))
    return {"air_temperature": day.design_temperature, "altitude": day.altitude}
