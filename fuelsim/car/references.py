"""The key ``catalogue`` of a car file: which tables may refer to a generic part, and what ratings that part brings."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from fuelsim.car.climate import hot_day, places
from fuelsim.car.tables import PlumbedLine, Surroundings
from fuelsim.errors import InputError, nearest
from fuelsim.fields import declarations
from fuelsim.parts.catalogue_parts import Catalogued, catalogue_entry, catalogue_names
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.line_size import LineSize

__all__ = ["Shelf", "generic_parts", "shelf_of"]


@dataclass(frozen=True)
class Shelf:
    """Where the generic parts of one kind of table stand.

    Attributes
    ----------
    where : str
        File in ``data``, for messages.
    names : callable
        Returns the names a table may refer to.
    values : callable
        Returns the ratings behind a name, for the keys of that table.
    """

    where: str
    names: Callable[[], list[str]]
    values: Callable[[str], Mapping[str, Any]]


def shelf_of(part: type) -> Shelf | None:
    """Return where the generic parts of a class of ratings stand, or None where there are none.

    Examples
    --------
    >>> shelf = shelf_of(Injectors)
    >>> shelf.where, shelf.values("size_250")["static_flow"]
    ('data/catalogue/injectors.toml', '250 mL/min')
    >>> shelf_of(PlumbedLine).values("steel_tube 5/16 in")["material"]
    'steel'
    """
    if issubclass(part, PlumbedLine):
        return Shelf("data/catalogue/lines.toml", lambda: catalogue_names("lines"), line_values)
    if issubclass(part, Surroundings):
        return Shelf("data/climates.toml", places, climate_values)
    if issubclass(part, Injectors):
        # An entry is one injector; how many there are is the car's own.
        return _shelf("injectors", part, without=("count",))
    if issubclass(part, Catalogued):
        return _shelf(part.catalogue_kind, part, without=())
    return None


def generic_parts(part: type) -> list[str]:
    """Return the names that a table of this class may refer to by its key ``catalogue``; empty where there are none."""
    shelf = shelf_of(part)
    return shelf.names() if shelf else []


def _shelf(kind: str, part: type, without: tuple[str, ...]) -> Shelf:
    def values(name: str) -> Mapping[str, Any]:
        found = catalogue_entry(kind, _named(name, catalogue_names(kind), f"data/catalogue/{kind}.toml")).values
        return {key: value for key, value in found.items() if key in declarations(part) and key not in without}

    return Shelf(f"data/catalogue/{kind}.toml", lambda: catalogue_names(kind), values)


def _named(name: Any, known: list[str], where: str) -> str:
    if not isinstance(name, str) or name not in known:
        raise InputError(f"no such name in {where}", given=name, accepted=nearest(name, known))
    return name


def line_values(name: str) -> dict[str, Any]:
    """Return the ratings of a tube or hose by its entry, its family and size, or its size where one family has it.

    Raises
    ------
    InputError
        For an unknown name, or a size of several families, with the true bore in each.
    """
    known = catalogue_names("lines")
    if name not in known:
        entries = {each: catalogue_entry("lines", each).values for each in known}
        sized = [each for each, of in entries.items() if name in (of["size"], f"{of['family']} {of['size']}")]
        if len(sized) > 1:
            bores = ", ".join(f"'{each}' ({1e3 * LineSize.named(each).inside_diameter:.2f} mm)" for each in sized)
            raise InputError("this size has another bore in each family", given=name, accepted=bores)
        sizes = [str(values["size"]) for values in entries.values()]
        name = sized[0] if sized else _named(name, [*known, *dict.fromkeys(sizes)], "data/catalogue/lines.toml")
    return LineSize.named(name).line_ratings


def climate_values(name: str) -> dict[str, Any]:
    """Return the weather of a hot day by the name of the place, the highest temperature of the day."""
    day = hot_day(_named(name, places(), "data/climates.toml"))
    return {"air_temperature": day.design_temperature, "altitude": day.altitude}
