"""The key ``catalogue`` of a car file: which tables may refer to a generic part, and what ratings that part brings."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from fuelsim.car.car_tables import CarTables
from fuelsim.car.climate import hot_day, places
from fuelsim.car.file_format import REFERENCE_KEY
from fuelsim.car.fuel_choice import FuelChoice
from fuelsim.car.surroundings import Surroundings
from fuelsim.car.tables import PlumbedLine
from fuelsim.declaration import declarations
from fuelsim.errors import InputError, nearest
from fuelsim.fields import Ratings
from fuelsim.parts.catalogue_parts import Catalogued, catalogue_entry, catalogue_names
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.line_size import LineSize, entry_of_line
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.wire import Wire
from fuelsim.typing import Given

__all__ = ["CatalogueSection", "catalogue_section", "generic_parts", "with_generic_part", "with_parts_by_name"]


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


def with_generic_part(
    part: type[Ratings], present: Ratings | None, name: str, beside: Mapping[str, Given] = MappingProxyType({})
) -> Ratings:
    """Return a table with the ratings of a generic part, and everything else as it is in the car.

    A line keeps its length, its zone and its fittings, a wire its length, relay and ground, injectors their number; a
    pump is another pump, with nothing of the one it replaces.

    Parameters
    ----------
    part : type
        Class of ratings of the table.
    present : Ratings or None
        The table as it is in the car; None where it has none.
    name : str
        One of `generic_parts`, or a fuel of ``data/fuels``.
    beside : mapping of str to object
        Further ratings, which win over those of the generic part.

    Returns
    -------
    Ratings

    Raises
    ------
    InputError
        For a table without generic parts, an unknown name, or a rating that is missing beside those of the part.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> feed = with_generic_part(PlumbedLine, Car.named("finch").feed, "braided_ptfe -8")
    >>> feed.material, feed.length, feed.catalogue
    ('ptfe', 3.0, 'braided_ptfe_8')
    """
    if issubclass(part, FuelChoice):
        model = {"activity_model": present.activity_model} if isinstance(present, FuelChoice) else {}
        return FuelChoice(**{"name": name, **model, **beside})  # type: ignore[arg-type]  # converted by it
    section = catalogue_section(part)
    if section is None:
        raise InputError("no generic parts for this table", given=name, accepted=f"a {part.__name__}")
    ratings = dict(section.ratings(name))
    kept: dict[str, Given] = {}
    if present is not None and not isinstance(present, Pump):
        of_the_part = {key for each in section.names() for key in section.ratings(each)}
        if isinstance(present, Wire):
            # The catalogue's length is an example, for a circuit that has none.
            of_the_part.discard("length")
            ratings.pop("length", None)
        kept = {key: getattr(present, key) for key in declarations(part) if key not in of_the_part}
    entry = entry_of_line(name) if issubclass(part, PlumbedLine) else name
    for key, declaration in declarations(part).items():
        if declaration.required_beside({**kept, **ratings, **beside}) and key not in {**kept, **ratings, **beside}:
            raise declaration.missing().at(key=key)
    return part(**{**kept, **ratings, **beside}, **{REFERENCE_KEY: entry})


def with_parts_by_name(car: CarTables, values: Mapping[str, Given]) -> dict[str, Given]:
    """Return new values of a car in which names of generic parts have become the tables they stand for.

    Parameters
    ----------
    car : CarTables
        The car as it is.
    values : mapping of str to object
        New values by key as in the car file.

    Returns
    -------
    dict of str to object

    Raises
    ------
    InputError
        For a table without generic parts or an unknown name, with the key.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> with_parts_by_name(Car.named("finch"), {"pump": "in_tank_220", "feed.bore": "8 mm"})["pump"].catalogue
    'in_tank_220'
    """
    changed = dict(values)
    for key, value in values.items():
        top, _, name = key.partition(".")
        declaration = declarations(type(car)).get(top)
        part = None if declaration is None else declaration.member if name else declaration.part
        if not isinstance(value, str) or part is None or "." in name:
            continue
        present = getattr(car, top).get(name) if name else getattr(car, top)
        beside = {other.removeprefix(f"{key}."): values[other] for other in values if other.startswith(f"{key}.")}
        # Ratings below a table that is new come with it; those of a table that is there replace single values of it.
        beside = {} if present is not None else beside
        try:
            changed[key] = with_generic_part(part, present, value, beside)
        except InputError as error:
            raise error.at(key=key) from None
    return changed


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
