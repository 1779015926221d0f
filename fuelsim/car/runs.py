"""Checks of the runs of a car's own plumbing: each fault is one message that names the run and the way out."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple, TypeAlias

from fuelsim.car.car_tables import CarTables
from fuelsim.car.heat_parts import Pot
from fuelsim.car.layouts import VESSEL, Layout
from fuelsim.car.part_names import MANIFOLD, STATION_ENDINGS, NamedPart, named_part, part_names
from fuelsim.car.tables import PlacedReducer, PlacedRegulator, Rail
from fuelsim.declaration import declarations
from fuelsim.errors import InputError, nearest
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.tank_parts import JetPump

__all__ = ["check_runs", "injector_shares", "unused_tables"]

Runs: TypeAlias = tuple[tuple[str, ...], ...]
ONE_WAY = (Pump, CheckValve, PlacedRegulator, PlacedReducer, JetPump)
"""Classes of parts through which nothing flows backwards."""
DRIVEN = (Pump, JetPump)
"""Classes of parts that an overflow cannot pass."""


class _Step(NamedTuple):
    """One part of a run between the two stations at its ends."""

    upstream: str
    part: str
    downstream: str


class _Runs:
    """The runs of one plumbing with what their names are."""

    def __init__(self, car: CarTables, runs: Runs) -> None:
        self.car = car
        self.runs = runs
        self.uses = Counter(name for run in runs for name in run)
        known = {name: named_part(car, name) for name in self.uses}
        self.parts: dict[str, NamedPart] = {name: part for name, part in known.items() if part is not None}

    def is_vessel(self, name: str) -> bool:
        return name == VESSEL or self.of(name, Pot)

    def of(self, name: str, kind: type | tuple[type, ...]) -> bool:
        """Whether a name is a part of one of some classes."""
        return name in self.parts and isinstance(self.parts[name].part, kind)

    def is_station(self, name: str) -> bool:
        """Whether a name is a single station: a vessel or a junction."""
        return name not in self.parts or self.is_vessel(name)

    def named(self, kind: type) -> list[str]:
        """Return the names that are parts of a class."""
        return [name for name in self.parts if self.of(name, kind)]

    def merged(self) -> dict[str, str]:
        """Return which stations are one because no part stands between them, each with the one it stands for."""
        stands_for = {name: name for name in self.uses if self.is_station(name)}
        for run in self.runs:
            for one, other in itertools.pairwise(run):
                if one in stands_for and other in stands_for:
                    kept, gone = stands_for[one], stands_for[other]
                    if self.is_vessel(gone):
                        kept, gone = gone, kept
                    stands_for = {name: kept if station == gone else station for name, station in stands_for.items()}
        return stands_for

    def steps(self) -> Iterator[_Step]:
        """Yield every part with the stations at its ends; a rail that starts a run is the station itself."""
        stations = self.merged()
        for run in self.runs:
            ends = [stations.get(name, "") for name in run]
            for index, name in enumerate(run):
                if name in stations or (index == 0 and self.of(name, Rail)):
                    continue
                before = self._between(run, ends, index - 1) if index else f"{name} inlet"
                after = self._between(run, ends, index) if index + 1 < len(run) else f"{name} end"
                yield _Step(before, name, after)

    def _between(self, run: Sequence[str], ends: Sequence[str], index: int) -> str:
        """Return the station between one name of a run and the next."""
        if ends[index] or ends[index + 1]:
            return ends[index] or ends[index + 1]
        return f"{run[index]} end"


def check_runs(car: CarTables, name: str) -> None:
    """Raise InputError where the runs of a car's own plumbing describe no working one.

    Parameters
    ----------
    car : Car
        The car.
    name : str
        Name of the plumbing.

    Raises
    ------
    InputError
        With the key ``plumbing.<name>.runs`` or ``plumbing.<name>.heights``.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> runs = [["tank", "strainer", "pmp", "filter", "feed", "rail", "rail_regulator", "tank"]]
    >>> try:
    ...     Car.named("finch").with_plumbing("own", runs=runs)
    ... except InputError as error:
    ...     print(error.key, "|", error.problem, "|", error.accepted.split("?")[0])
    plumbing.own.runs | 'pmp' is no table of the car and stands in the runs once only | did you mean 'pump'
    """
    description = car.plumbing[name]
    runs = _Runs(car, description.runs)
    try:
        for check in (_names, _occurrences, _vessels, _needed, _starts, _dead_ends, _overflows):
            check(runs)
        _shares(car, runs.named(Rail))
    except InputError as error:
        raise error.at(key=f"plumbing.{name}.runs") from None
    _heights(runs, name, description.heights)


def _names(runs: _Runs) -> None:
    known = [VESSEL, *part_names(runs.car)]
    keys = declarations(type(runs.car))
    for name, uses in runs.uses.items():
        if name in runs.parts or name == VESSEL:
            continue
        if name == MANIFOLD:
            raise InputError("the manifold is no part of a run", given=name, accepted=nearest(name, known))
        if name in keys:
            item = keys[name]
            lacking = item.part is not None and getattr(runs.car, name) is None
            problem = f"the car has no table [{name}]" if lacking else f"'{name}' is no part through which fuel flows"
            raise InputError(problem, accepted=nearest(name, known))
        if uses == 1:
            junctions = [junction for junction, count in runs.uses.items() if count > 1 and junction not in known]
            raise InputError(
                f"'{name}' is no table of the car and stands in the runs once only",
                accepted=nearest(name, [*known, *junctions]),
            )
        for ending, at_inlet in zip(STATION_ENDINGS, (True, False), strict=True):
            part = name.removesuffix(ending)
            pair = (name, part) if at_inlet else (part, name)
            if part != name and part in runs.parts and pair not in _neighbours(runs):
                raise InputError(
                    f"a junction with the name of a station of '{part}'", given=name, accepted="another name"
                )


def _neighbours(runs: _Runs) -> set[tuple[str, str]]:
    return {pair for run in runs.runs for pair in itertools.pairwise(run)}


def _occurrences(runs: _Runs) -> None:
    """Raise for a part that stands in two runs, or a name beside itself; a rail may start further runs."""
    uses = Counter(
        name
        for run in runs.runs
        for index, name in enumerate(run)
        if not runs.is_station(name) and not (index == 0 and runs.of(name, Rail))
    )
    for name, count in uses.items():
        if count > 1:
            raise InputError(f"the part '{name}' stands in the runs {count} times", accepted="each part once")
    for one, other in _neighbours(runs):
        if one == other:
            raise InputError(f"'{one}' stands next to itself", accepted="each name once in a row")


def _vessels(runs: _Runs) -> None:
    """Raise where the tank is missing, or two vessels are one station."""
    if not any(run[0] == VESSEL for run in runs.runs):
        raise InputError("a vessel is missing: no run starts at the tank", accepted=f"a run that starts at '{VESSEL}'")
    for name, station in runs.merged().items():
        if runs.is_vessel(name) and name != station:
            raise InputError(
                f"the vessels '{station}' and '{name}' stand next to each other", accepted="a part between them"
            )


def _needed(runs: _Runs) -> None:
    for kind, word in ((Pump, "pump"), (Rail, "rail")):
        if not runs.named(kind):
            raise InputError(f"no {word} in the runs", accepted=f"a {word} in one of them")


def _starts(runs: _Runs) -> None:
    """Raise for a run whose first name no other run reaches."""
    reached = {name for run in runs.runs for name in run[1:] if runs.is_station(name) or runs.of(name, Rail)}
    for number, run in enumerate(runs.runs, start=1):
        if not runs.is_vessel(run[0]) and run[0] not in reached:
            raise InputError(
                f"run {number} starts nowhere: no other run reaches '{run[0]}'",
                accepted="a vessel, or a junction or rail that another run reaches, as its first name",
            )
    supplied = {name for name in runs.uses if runs.is_vessel(name)}
    open_runs = list(enumerate(runs.runs, start=1))
    while open_runs:
        fed = [item for item in open_runs if item[1][0] in supplied]
        if not fed:
            number, run = open_runs[0]
            raise InputError(
                f"run {number} starts nowhere: no run from a vessel leads to '{run[0]}'",
                accepted="a run from a vessel that leads there",
            )
        supplied |= {name for _, run in fed for name in run}
        open_runs = [item for item in open_runs if item not in fed]


def _dead_ends(runs: _Runs) -> None:
    """Raise for a run from whose end fuel can reach no rail and no vessel."""
    steps = list(runs.steps())
    stations = runs.merged()
    for number, run in enumerate(runs.runs, start=1):
        last = run[-1]
        if runs.is_vessel(last) or runs.of(last, Rail):
            continue
        if not runs.is_station(last):
            raise InputError(
                f"run {number} is a dead end without injectors: it ends at the part '{last}'",
                accepted="a rail, a vessel or a junction from which fuel can flow on, as its last name",
            )
        found, waiting = {stations[last]}, [stations[last]]
        ends = runs.is_vessel(stations[last])
        while waiting and not ends:
            here = waiting.pop()
            for step in steps:
                ways = [(step.upstream, step.downstream)]
                if not runs.of(step.part, ONE_WAY):
                    ways.append((step.downstream, step.upstream))
                for one, other in ways:
                    if one == here and other not in found:
                        found.add(other)
                        waiting.append(other)
                    ends = ends or (one == here and (runs.of(step.part, Rail) or runs.is_vessel(other)))
        if not ends:
            raise InputError(
                f"run {number} is a dead end without injectors: from '{last}' fuel can reach no rail and no vessel",
                accepted="a run that leads on from there",
            )


def _overflows(runs: _Runs) -> None:
    """Raise for a pot from which no way without a pump leads to the tank, or into which nothing flows."""
    steps = list(runs.steps())
    for pot in runs.named(Pot):
        if not any(step.downstream == pot for step in steps):
            raise InputError(f"nothing flows into the pot '{pot}'", accepted=f"a run that leads to '{pot}'")
        found, waiting = {pot}, [pot]
        while waiting:
            here = waiting.pop()
            for step in steps:
                if step.upstream == here and step.downstream not in found and not runs.of(step.part, DRIVEN):
                    found.add(step.downstream)
                    waiting.append(step.downstream)
        if VESSEL not in found:
            raise InputError(
                f"the pot '{pot}' has no overflow",
                accepted=f"a run from '{pot}' to '{VESSEL}' without a pump on the way",
            )


def _heights(runs: _Runs, name: str, heights: Iterable[str]) -> None:
    """Raise for a height of what is no station or part of the runs, or has its height from a table."""
    with_height = [*runs.named(Rail), *runs.named(Pot)]
    stations = [each for each in runs.uses if each not in with_height and each != VESSEL]
    stations += [f"{part}{ending}" for part in runs.parts if not runs.is_vessel(part) for ending in STATION_ENDINGS]
    for station in heights:
        if station not in stations:
            key = f"plumbing.{name}.heights.{station}"
            raise InputError("no station whose height is free", accepted=nearest(station, stations), key=key)


def injector_shares(car: CarTables, layout: Layout) -> dict[str, int]:
    """Return how many injectors each rail of a layout has.

    Rails that give no number have equal shares of what is left.

    Parameters
    ----------
    car : Car
        The car.
    layout : Layout
        One of its layouts.

    Returns
    -------
    dict of str to int
        Number of injectors by the rail's name, in the order of flow.

    Raises
    ------
    InputError
        Where the numbers do not add up to ``injectors.count``, or the rest cannot be shared equally.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> from fuelsim.car.layouts import layouts
    >>> injector_shares(Car.named("heron"), layouts()["return"])
    {'rail': 8}
    """
    parts = {name: named_part(car, name) for name in layout.tables}
    return _shares(car, [name for name, part in parts.items() if part is not None and isinstance(part.part, Rail)])


def _shares(car: CarTables, rails: Sequence[str]) -> dict[str, int]:
    """Return how many injectors each rail has."""
    parts = [named_part(car, name) for name in rails]
    numbers = [part.part.injectors for part in parts if part is not None and isinstance(part.part, Rail)]
    total, given = car.injectors.count, sum(number for number in numbers if number is not None)
    open_rails = numbers.count(None)
    rest = total - given
    words = ", ".join(f"{name} {'the rest' if n is None else n}" for name, n in zip(rails, numbers, strict=True))
    if (not open_rails and rest) or (open_rails and rest < open_rails):
        raise InputError(
            "the injectors of the rails do not add up to injectors.count",
            given=words,
            accepted=f"{total} injectors together",
        )
    if open_rails and rest % open_rails:
        raise InputError(
            f"{rest} injectors cannot be shared equally by {open_rails} rails",
            given=words,
            accepted="the number of injectors of each rail, by its key injectors",
        )
    return {name: rest // open_rails if number is None else number for name, number in zip(rails, numbers, strict=True)}


def unused_tables(car: CarTables, layout: Layout | None = None) -> list[str]:
    """Return the named tables that no run of a layout uses.

    Parameters
    ----------
    car : Car
        The car.
    layout : Layout, optional
        Left out, tables that none of the car's own plumbings uses.

    Returns
    -------
    list of str
        Dotted keys such as ``"lines.crossover"``; plain tables belong to the standard layouts and are not among them.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> from fuelsim.parts.orifice import Orifice
    >>> car = Car.named("finch").with_values({"orifices.bleed": Orifice(diameter="0.6 mm")})
    >>> unused_tables(car)
    ['orifices.bleed']
    """
    runs = [run for own in car.plumbing.values() for run in own.runs] if layout is None else layout.runs
    used = {name for run in runs for name in run}
    unused = []
    for item in declarations(type(car)).values():
        if item.form == "tables" and item.name != "plumbing":
            unused += [f"{item.name}.{name}" for name in getattr(car, item.name) if name not in used]
    return unused
