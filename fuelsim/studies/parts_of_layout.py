"""The parts of a car in one layout, and which of those that a car has already may stay in it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from fuelsim.declaration import declarations
from fuelsim.errors import InputError, nearest
from fuelsim.fields import Ratings
from fuelsim.finding import FindingList, Severity
from fuelsim.parts.part import Part
from fuelsim.studies.circuits import circuits
from fuelsim.system.run import System
from fuelsim.units import shown

__all__ = ["Reuse", "parts_of_layout", "reuse", "reused_tables"]

OF_STANDARD_LAYOUTS = ("pump", "wire", "rail", "pump_steps", "surge_pot", "damper")
"""Tables that belong to the parts of the standard layouts; a plumbing of the car's own lists those that it uses."""
NOT_PARTS = ("fuel", "engine", "plan", "surroundings")
"""Tables of a car that are no part of its fuel delivery."""


class Reuse(NamedTuple):
    """Whether a part that the car has already may stay, as far as the computation says.

    Attributes
    ----------
    permitted : bool
        Whether it is rated for what acts on it and nothing is found against it.
    reason : str
        Why, in words.
    """

    permitted: bool
    reason: str


def parts_of_layout(system: System) -> dict[str, Ratings]:
    """Return the parts by the key of their table: in the order of flow, then wires, supply and controllers.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.

    Returns
    -------
    dict of str to Ratings
        Parts of other layouts are left out.

    Examples
    --------
    >>> import fuelsim as fs
    >>> list(parts_of_layout(fs.Car.named("finch").system("returnless_tank")))[:4]
    ['tank', 'strainer', 'pump', 'filter']
    """
    car, plumbing = system.car, system.plumbing
    tables = {name: item.part for name, item in declarations(type(car)).items() if item.form == "table"}
    apart = [name for name, kind in tables.items() if name not in NOT_PARTS and not issubclass(kind or object, Part)]
    if plumbing.layout.own:
        apart = [name for name in apart if name not in OF_STANDARD_LAYOUTS]
    apart += [f"pots.{name}" for name in plumbing.pots]
    apart += [circuit.table for circuit in circuits(system)]
    apart += [table for _, table in plumbing.controls.values()]
    apart += [f"pump_stages.{name}" for name in plumbing.stages]
    parts = {name: car.value_of(name) for name in dict.fromkeys((*plumbing.tables, *apart))}
    return {name: part for name, part in parts.items() if isinstance(part, Ratings)}


def reused_tables(system: System, names: Iterable[str]) -> tuple[str, ...]:
    """Return the keys of the tables of parts that are to be used again.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    names : iterable of str
        Their keys or, where that is clear, the last part of them.

    Returns
    -------
    tuple of str

    Raises
    ------
    InputError
        For a name that no part of this layout has.

    Examples
    --------
    >>> import fuelsim as fs
    >>> reused_tables(fs.Car.named("plover").system("pot"), ["tank", "left_feed"])
    ('tank', 'lines.left_feed')
    """
    parts = parts_of_layout(system)
    keys = {name.rpartition(".")[2]: name for name in parts} | {name: name for name in parts}
    chosen = []
    for name in names:
        if name not in keys:
            raise InputError("no such part in this layout", given=name, accepted=nearest(name, keys), key="reused")
        chosen.append(keys[name])
    return tuple(dict.fromkeys(chosen))


def reuse(system: System, findings: FindingList, table: str) -> Reuse:
    """Return whether a part that the car has already may stay.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    findings : FindingList
        What checks and requirements object to in it.
    table : str
        Key of the part's table.

    Returns
    -------
    Reuse

    Examples
    --------
    >>> import fuelsim as fs
    >>> system = fs.Car.named("finch").with_values({"feed.working_pressure": "500 kPa"}).system("return")
    >>> reuse(system, fs.findings(system), "feed").permitted
    False
    """
    own = {table, table.rpartition(".")[2]}
    against = [
        finding.statement
        for finding in findings
        if finding.severity > Severity.NOTE and own & {name.strip() for name in finding.subject.split(",")}
    ]
    if against:
        return Reuse(False, against[0])
    rating = system.plumbing.under_pressure.get(table)
    if rating is None:
        return Reuse(True, "no pump's pressure acts on it, and nothing is found against it")
    reaches = shown(rating.dead_head_to_withstand, "pressure difference", digits=3)
    if rating.least is None:
        return Reuse(False, f"its rating is not known, and a blocked way puts {reaches} on it")
    rated = shown(rating.least, "pressure difference", digits=3)
    if rating.least < rating.dead_head_to_withstand:
        return Reuse(False, f"rated {rated}, and a blocked way puts {reaches} on it")
    return Reuse(True, f"rated {rated} where dead-head is {reaches}, and nothing is found against it")
