"""Candidates for sizing: what may be fitted under one key of a car, from the catalogue or the user's own list."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np

from fuelsim.car.car import Car
from fuelsim.car.tables import PlacedRegulator, PlumbedLine
from fuelsim.constants import L_PER_HOUR
from fuelsim.declaration import declarations
from fuelsim.errors import InputError, nearest
from fuelsim.fields import Ratings
from fuelsim.parts.catalogue_parts import catalogue_names
from fuelsim.parts.filter import Filter
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.line_size import LineSize
from fuelsim.parts.part import Part
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.regulator import ReturnRegulator
from fuelsim.parts.wire import Wire
from fuelsim.shown import same_content
from fuelsim.studies import limits
from fuelsim.studies.circuits import circuits_of
from fuelsim.system.plumb import plumb
from fuelsim.system.plumbing import PlannedLink, Plumbing
from fuelsim.system.plumbing_paths import feeds_rail, pumps_to_rails
from fuelsim.typing import Given, IndexArray

__all__ = [
    "Axis",
    "Candidate",
    "axes_of",
    "catalogue_candidates",
    "changes_of",
    "default_candidates",
    "first_of_each_kind",
]

FittingPart: TypeAlias = Pump | LineSize | ReturnRegulator | Injectors | Wire | Filter
"""A part that can be sized."""

FITTING: dict[type[Ratings], type[FittingPart]] = {
    Pump: Pump,
    PlumbedLine: LineSize,
    PlacedRegulator: ReturnRegulator,
    Injectors: Injectors,
    Wire: Wire,
    Filter: Filter,
}
"""Class of a car's table, and of the part that fits there; in the order in which a key is kept least first when
several designs meet the requirements."""
CLASSES: dict[str, type[FittingPart]] = {
    name: FITTING[item.part] for name, item in declarations(Car).items() if item.part in FITTING
}
"""Tables of a car that can be sized, and the class of part that fits there."""
TUBES = tuple(f"steel_tube_{size}_inch" for size in ("quarter", "five_sixteenths", "three_eighths", "half"))
TUBE_FAMILIES = ("steel_tube", "dash_tube")
"""Families of lines that are tried where nothing meets the requirements: their bores span those of all hoses."""
GAUGES = ("awg_16", "awg_14", "awg_12", "awg_10")
INJECTOR_CHOICES = 3
COMPARED_AT = 300e3
"""Pressure at which pumps and injectors are compared by their flow, Pa."""
NAMED_CLASSES: dict[str, type[FittingPart]] = {
    name: FITTING[item.member] for name, item in declarations(Car).items() if item.member in FITTING
}
"""Named tables of a car that can be sized, as ``lines`` of ``[lines.crossover]``, and the class of part that fits."""
WHOLE_BATCH = (
    *("pump", "pumps", "pump_controls", "pump_stages", "engine", "fuel", "tank", "surroundings"),
    *("pots", "jet_pumps", "coolers", "dampers"),
)
"""Tables of a car whose ratings cannot differ from one operating point to the next."""
FITTED_LAST = ("injectors", "wire", "wires")
"""Tables whose choice makes no other design of a fuel delivery."""
FEW_LINES = 2
"""Number of lines of a plumbing of the car's own up to which each is sized by itself, and more of them alike."""


@dataclass(frozen=True)
class Candidate:
    """One part that may be fitted, or one value of a rating.

    Attributes
    ----------
    label : str
        Name that is shown.
    size : float
        Figure by which the candidates of a key are sorted, least first, in a unit of its own.
    listed : dict of str to float
        Ratings by dotted key that may differ from one operating point to the next, SI.
    fixed : dict of str to object
        Ratings and parts by dotted key that are the same for a whole batch.
    bought : dict of str to object
        Parts by table that a car with this candidate has, where `listed` and `fixed` only stand for them in a batch.

    Examples
    --------
    >>> Candidate("8 mm", size=0.008, listed={"feed.bore": 0.008}, fixed={}).label
    '8 mm'
    """

    label: str
    size: float
    listed: dict[str, float]
    fixed: dict[str, Given]
    bought: dict[str, Given] = field(default_factory=dict)


@dataclass(frozen=True)
class Axis:
    """The candidates of one key of a car.

    Attributes
    ----------
    key : str
        Table of the car, or dotted key of a rating.
    candidates : tuple of Candidate
        The smallest first.

    Examples
    --------
    >>> axes_of(Car.named("finch"), "return", {"feed.bore": ["8 mm", "6 mm"]})[0].groups()
    [0, 0]
    """

    key: str
    candidates: tuple[Candidate, ...]

    def groups(self) -> list[int]:
        """Return a number for each candidate that is equal for those that can share a batch.

        Returns
        -------
        list of int
            In the order of the candidates.
        """
        fixed = [candidate.fixed for candidate in self.candidates]
        return [next(number for number, other in enumerate(fixed) if same_content(own, other)) for own in fixed]


def axes_of(car: Car, layout: str, given: Mapping[str, Iterable[Given]]) -> tuple[Axis, ...]:
    """Return the candidates of each key, least first; keys in the order in which they are kept least.

    Parameters
    ----------
    car : Car
        The car.
    layout : str
        One of its layouts.
    given : mapping
        Table (``"pump"``, ``"feed"``, ``"lines.crossover"``, ``"pumps.lift"``, ...) to names of the catalogue or parts,
        or a dotted key such as ``"feed.bore"`` to values. The name of several tables fits all alike: ``"pumps"`` the
        pumps that feed the rails, ``"lines"`` the feed and return lines, ``"wires"``, ``"filters"``, ``"regulators"``
        those that the layout uses.

    Returns
    -------
    tuple of Axis

    Raises
    ------
    InputError
        For an unknown key, name or value, an empty list, or a pump that is mounted elsewhere than the one it replaces.

    Examples
    --------
    >>> axes = axes_of(Car.named("finch"), "return", {"wire": ["awg_16", "awg_12"], "feed.bore": ["8 mm", "6 mm"]})
    >>> [(axis.key, [candidate.label for candidate in axis.candidates]) for axis in axes]
    [('feed.bore', ['6 mm', '8 mm']), ('wire', ['awg_16', 'awg_12'])]
    """
    plumbing = plumb(car, layout)
    axes = []
    for key, entries in given.items():
        members: list[Given] = [entries] if isinstance(entries, (str, Ratings)) else list(entries)
        if not members:
            raise InputError("no candidates", accepted="names of the catalogue, parts or values", key=key)
        tables = _tables_of(car, plumbing, key)
        candidates = [_candidate(car, key, tables, entry) for entry in members]
        axes.append(Axis(key, tuple(sorted(candidates, key=lambda candidate: candidate.size))))
    return tuple(sorted(axes, key=lambda axis: _rank(axis.key, plumbing.tables)))


def changes_of(axes: Sequence[Axis], picked: IndexArray) -> dict[str, Given]:
    """Return the ratings and parts of one combination by dotted key, without fuses.

    Parameters
    ----------
    axes : sequence of Axis
        Candidates of each key.
    picked : int array (axes,)
        Number of the candidate of each key.

    Returns
    -------
    dict of str to object

    Examples
    --------
    >>> changes_of(axes_of(Car.named("finch"), "return", {"feed.bore": ["8 mm", "6 mm"]}), [1])
    {'feed.bore': 0.008}
    """
    changes: dict[str, Given] = {}
    for axis, index in zip(axes, picked, strict=True):
        candidate = axis.candidates[index]
        changes |= candidate.bought or {**candidate.fixed, **candidate.listed}
    return changes


def first_of_each_kind(axes: Sequence[Axis], chosen: IndexArray, rows: int) -> IndexArray:
    """Return the first combinations of a sorted list that differ in kind.

    First those of each candidate of the first key, usually of each pump, then those of each choice without regard to
    injectors and wire; the others only where there is room for all.

    Parameters
    ----------
    axes : sequence of Axis
        Candidates of each key.
    chosen : int array (combinations, axes)
        Number of the candidate of each key, combinations in their order.
    rows : int
        Greatest number of combinations.

    Returns
    -------
    int array
        Places in the list, rising.

    Examples
    --------
    >>> axes = axes_of(Car.named("finch"), "return", {"feed.bore": ["6 mm", "8 mm"], "wire": ["awg_16", "awg_12"]})
    >>> first_of_each_kind(axes, np.array([[0, 0], [0, 1], [1, 0], [1, 1]]), 2)
    array([0, 2])
    """
    if rows >= len(chosen):
        return np.arange(len(chosen))
    plumbed = [column for column, axis in enumerate(axes) if axis.key.split(".")[0] not in FITTED_LAST]
    places: list[int] = []
    for columns in ([0], plumbed):
        if len(places) < rows and len(chosen) and columns:
            _, firsts = np.unique(chosen[:, columns], axis=0, return_index=True)
            places += [int(place) for place in np.sort(firsts) if int(place) not in places]
    return np.sort(np.array(places[:rows], dtype=np.intp))


def _rank(key: str, tables: tuple[str, ...]) -> tuple[int, int]:
    """Return the rank of a key: by class of part, then in the order of flow."""
    table, classes = key.split(".")[0], list(FITTING.values())
    kind = CLASSES.get(table, NAMED_CLASSES.get(table))
    rank = len(classes) if kind is None else classes.index(kind)
    places = [
        place for place, name in enumerate(tables) if f"{key}.".startswith(f"{name}.") or name.startswith(f"{key}.")
    ]
    return rank, places[0] if places else len(tables)


def _tables_of(car: Car, plumbing: Plumbing, key: str) -> tuple[str, ...]:
    """Return the tables that the candidates of a key go into; none for a key that is one rating.

    Raises where there is nothing to size under the key.
    """
    table, dot, rest = key.partition(".")
    known = [*CLASSES, *NAMED_CLASSES]
    if table not in declarations(Car):
        raise InputError("no such table in a car", accepted=nearest(table, known), key=key)
    if table in NAMED_CLASSES:
        if not dot:
            return _all_alike(car, plumbing, table)
        names = getattr(car, table)
        name = rest.partition(".")[0]
        if name not in names:
            raise InputError("the car has no such part to size", accepted=nearest(name, names), key=key, file=car.file)
        return () if "." in rest else (key,)
    if not dot and table not in CLASSES:
        raise InputError("nothing to choose here", accepted="a dotted key, or " + nearest(table, known), key=key)
    if getattr(car, table) is None:
        raise InputError("the car has no such part to size", accepted=f"a table [{table}]", key=key, file=car.file)
    return () if dot else (key,)


def _all_alike(car: Car, plumbing: Plumbing, kind: str) -> tuple[str, ...]:
    """Return the tables of a kind that are fitted alike; pumps and lines that fill a pot are left out."""
    links: dict[str, Sequence[PlannedLink[Part]]] = {
        "pumps": pumps_to_rails(plumbing),
        "lines": _lines_of_rails(plumbing),
        "filters": plumbing.filters,
        "regulators": plumbing.regulators,
    }
    if kind == "wires":
        tables = [circuit.table for circuit in circuits_of(car, plumbing)]
    else:
        tables = [link.table for link in links[kind]]
    if not tables:
        raise InputError("this layout has no such part to size", accepted="another key", key=kind)
    return tuple(dict.fromkeys(tables))


def _candidate(car: Car, key: str, tables: tuple[str, ...], entry: Given) -> Candidate:
    """Return a candidate of a key, fitted in each of its tables."""
    if not tables:
        return _value(car, key, entry)
    first, *others = [_part(car, key, table, entry) for table in tables]
    listed, fixed, bought = dict(first.listed), dict(first.fixed), dict(first.bought)
    for other in others:
        listed |= other.listed
        fixed |= other.fixed
        bought |= other.bought
    return Candidate(first.label, first.size, listed, fixed, bought)


def _part(car: Car, key: str, table: str, entry: Given) -> Candidate:
    """Return a part that may be fitted in one table of the car."""
    top = table.split(".")[0]
    kind = CLASSES[top] if top in CLASSES else NAMED_CLASSES[top]
    label = entry if isinstance(entry, str) else ""
    part = kind.named(entry) if isinstance(entry, str) else entry
    if not isinstance(part, kind):
        raise InputError("not a part for this table", given=entry, accepted=f"a {kind.__name__} or its name", key=key)
    if isinstance(part, Pump):
        return _pump(car, table, part, label)
    if isinstance(part, LineSize):
        return _line(car, table, part, label)
    if isinstance(part, Injectors):
        return _injectors(car, part, label)
    if isinstance(part, Wire):
        return _wire(car, table, part, label)
    if isinstance(part, Filter):
        names = ("rated_flow", "rated_drop", "viscous_share", "working_pressure")
        return Candidate(
            label or "own filter", float(part.rated_flow / part.rated_drop), *_ratings(car, table, part, names)
        )
    ratings = _ratings(car, table, part, list(declarations(ReturnRegulator)))
    return Candidate(label or f"own, {part.set_pressure / 1e3:g} kPa", float(part.set_pressure), *ratings)


def _ratings(car: Car, key: str, part: Ratings, names: Sequence[str]) -> tuple[dict[str, float], dict[str, Given]]:
    """Return ratings by dotted key: those that may differ within a batch, and those that are the same for all of it."""
    listed: dict[str, float] = {}
    fixed: dict[str, Given] = {}
    present = car.value_of(key)
    for name in names:
        value = getattr(part, name)
        if isinstance(value, float) and isinstance(present, Ratings) and _takes_a_list(present, name, value):
            listed[f"{key}.{name}"] = value
        else:
            fixed[f"{key}.{name}"] = value
    return listed, fixed


def _takes_a_list(present: Ratings, name: str, value: float) -> bool:
    """Return whether a table of the car takes a list for one of its ratings."""
    try:
        present.with_values({name: [value, value]})
    except InputError:
        return False
    return True


def _value(car: Car, key: str, entry: Given) -> Candidate:
    """Return a candidate that is one rating; with_values checks it once."""
    value = car.with_values({key: entry}).value_of(key)
    label = f"{entry:g}" if isinstance(entry, float) else f"{entry}"
    if isinstance(value, float) and key.split(".")[0] not in WHOLE_BATCH:
        return Candidate(label, value, {key: value}, {})
    size = float(value) if isinstance(value, (int, float)) else 0.0
    return Candidate(label, size, {}, {key: entry})


def _pump(car: Car, table: str, pump: Pump, label: str) -> Candidate:
    replaced = car.value_of(table)
    mounting = replaced.mounting if isinstance(replaced, Pump) else pump.mounting
    if pump.mounting != mounting:
        own = "the car's" if table == "pump" else f"that of [{table}]"
        raise InputError(
            f"the pump '{label or 'given'}' is mounted {pump.mounting}, {own} {mounting}",
            accepted="pumps of the same mounting, or another car: car.with_pump_in_tank()",
            key=table,
        )
    flow = float(pump.at(supply_voltage=13.5).flow(COMPARED_AT))
    return Candidate(label or f"own, {flow / L_PER_HOUR:.0f} L/h at 300 kPa", flow, {}, {table: pump})


def _line(car: Car, key: str, size: LineSize, label: str) -> Candidate:
    bore = float(size.inside_diameter)
    listed, unknown = _ratings(car, key, size, ("roughness", "working_pressure"))
    return Candidate(label or f"{size.family} {size.size}", bore, {f"{key}.bore": bore} | listed, unknown)


def _injectors(car: Car, part: Injectors, label: str) -> Candidate:
    """Return injectors as many as the car's; the dead-time table belongs to the whole batch."""
    listed, _ = _ratings(car, "injectors", part, ("static_flow", "rated_pressure", "rated_density"))
    fixed: dict[str, Given] = {
        f"injectors.{name}": value.tolist() if isinstance(value, np.ndarray) else value
        for name in ("dead_time_voltage", "dead_time", "dead_time_pressure", "dead_time_rise", "shortest_pulse")
        if (value := getattr(part, name)) is not None
    }
    size = float(part.static_flow * np.sqrt(COMPARED_AT / part.rated_pressure))
    return Candidate(label or f"{part.static_flow * 6e7:.0f} mL/min", size, listed, fixed)


def _wire(car: Car, table: str, part: Wire, label: str) -> Candidate:
    """Return a circuit of the car's own length; as one resistance, so that circuits share a batch."""
    own = car.value_of(table)
    length = own.length if label and isinstance(own, Wire) else part.length
    circuit = part.with_values({"length": length})
    zero = dict.fromkeys((f"{table}.{name}" for name in ("length", "relay", "fuse", "connectors", "ground")), 0.0)
    known, unknown = _ratings(car, table, part, ("fuse_rating",))
    listed = {**zero, f"{table}.other": float(circuit.resistance), **known}
    return Candidate(label or part.size, circuit.area, listed, unknown, {table: circuit})


def default_candidates(car: Car, layout: str) -> dict[str, list[str]]:
    """Return what is tried where the user gives no list: all catalogue pumps of the same mounting, tubes, wires.

    Of a plumbing of the car's own with several pumps to the rails, or many feed and return lines, all are tried alike
    under one key.

    Of the injectors the three sizes from the least that gives the engine's fuel at sea level, where it takes most, at a
    duty of 0.85 and the layout's set pressure; regulator, filter and strainer stay the car's own.

    Parameters
    ----------
    car : Car
        The car.
    layout : str
        One of its layouts.

    Returns
    -------
    dict of str to list of str
        Table to names of the catalogue.

    Raises
    ------
    InputError
        For a layout that the car has no parts for.

    Examples
    --------
    >>> sorted(default_candidates(Car.named("finch"), "returnless_tank"))
    ['feed', 'injectors', 'pump', 'wire']
    """
    plumbing = plumb(car, layout)
    names: dict[str, list[str]] = {}
    for key in _alike_or_each("pumps", [link.table for link in pumps_to_rails(plumbing)], most=1):
        tables = _tables_of(car, plumbing, key)
        names[key] = [name for name in catalogue_names("pumps") if _usable_pump(car, plumbing, tables, name)]
    lines = [link.table for link in plumbing.lines if car.value_of(link.table) is not None]
    if plumbing.layout.own:
        lines = _alike_or_each("lines", [link.table for link in _lines_of_rails(plumbing)], most=FEW_LINES)
    names |= {key: list(TUBES) for key in lines}
    names |= {link.table: _injector_names(car, plumbing) for link in plumbing.injectors}
    mains = {pump.name for pump in pumps_to_rails(plumbing)}
    return names | {circuit.table: list(GAUGES) for circuit in circuits_of(car, plumbing) if mains & set(circuit.pumps)}


def catalogue_candidates(car: Car, layout: str) -> dict[str, list[str]]:
    """Return every generic part that fits each table of a layout that can be sized, filters and regulators included.

    Parameters
    ----------
    car : Car
        The car.
    layout : str
        One of its layouts.

    Returns
    -------
    dict of str to list of str
        Table to names of the catalogue, the keys of `default_candidates` first.

    Raises
    ------
    InputError
        For a layout that the car has no parts for.

    Examples
    --------
    >>> candidates = catalogue_candidates(Car.named("finch"), "return")
    >>> sorted(set(candidates) - set(default_candidates(Car.named("finch"), "return")))
    ['filter', 'rail_regulator', 'strainer']
    """
    plumbing = plumb(car, layout)
    names = default_candidates(car, layout)
    for key in names:
        kind = CLASSES.get(key.split(".")[0], NAMED_CLASSES.get(key.split(".")[0]))
        if kind is LineSize:
            names[key] = [name for name in catalogue_names("lines") if name.startswith(TUBE_FAMILIES)]
        elif kind is Injectors:
            names[key] = list(catalogue_names("injectors"))
        elif kind is Wire:
            names[key] = list(catalogue_names("wires"))
    for link in (*plumbing.strainers, *plumbing.filters):
        filters = {name: Filter.named(name) for name in catalogue_names("filters")}
        # A part that loses more when clean than where it is to be changed is a blocked one.
        names[link.table] = [
            name for name, part in filters.items() if part.side == link.part.side and part.rated_drop < part.change_drop
        ]
    for regulator in plumbing.regulators:
        if isinstance(car.value_of(regulator.table), PlacedRegulator):
            names[regulator.table] = list(catalogue_names("regulators"))
    return names


def _lines_of_rails(plumbing: Plumbing) -> list[PlannedLink[PlumbedLine]]:
    """Return the lines between the pumps and the rails, and those that bring fuel back."""
    feed = [link for link in plumbing.feed_lines if feeds_rail(plumbing, link.upstream)]
    return [*feed, *plumbing.return_lines]


def _alike_or_each(kind: str, tables: Sequence[str], most: int) -> list[str]:
    """Return the tables themselves while they are few, else the key of all of a kind alike; few keys are tried."""
    return list(dict.fromkeys(tables)) if len(tables) <= most else [kind]


def _usable_pump(car: Car, plumbing: Plumbing, tables: tuple[str, ...], name: str) -> bool:
    """Whether a pump has the mounting of those it replaces and can reach the held pressure at all."""
    pump = Pump.named(name)
    rails = [plumbing.held_at(rail) for rail in plumbing.rails]
    boost = float(np.max(car.engine.boost_pressure))
    reach = max((float(np.max(held.held_pressure(boost))) for held in rails if held.set_pressures), default=0.0)
    mountings = {old.mounting for table in tables if isinstance(old := car.value_of(table), Pump)}
    return mountings == {pump.mounting} and pump.dead_head_pressure > reach


def _injector_names(car: Car, plumbing: Plumbing) -> list[str]:
    held = np.max(plumbing.held_pressure())
    rpm = np.linspace(0.3, 1.0, 15) * car.engine.red_line
    ratio = car.fuel.fuel().stoichiometric_air_fuel_ratio
    demand = float(np.max(car.engine.demand(rpm, 1.0, stoichiometric_air_fuel_ratio=ratio).fuel_mass_flow))
    sizes = sorted(
        (float(part.static_volume_flow(held, 740.0) * 740.0), name)
        for name in catalogue_names("injectors")
        for part in [Injectors.named(name)]
    )
    needed = demand / car.injectors.count / limits.INJECTOR_DUTY.value
    first = next((index for index, (flow, _) in enumerate(sizes) if flow >= needed), len(sizes) - 1)
    return [name for _, name in sizes[first : first + INJECTOR_CHOICES]]
