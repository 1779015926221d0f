"""Parts of the sheet to hand over: what is fitted, as it is bought, and what to buy or to use again."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.car.references import with_generic_part
from fuelsim.car.tables import PlumbedLine, Rail, Tank
from fuelsim.car.walls import WALLS
from fuelsim.declaration import declarations
from fuelsim.declaration_text import ratings_in_words
from fuelsim.fields import Ratings
from fuelsim.parts.catalogue_parts import Catalogued, catalogue_entry, catalogue_names
from fuelsim.parts.filter import Filter
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.line_size import LineSize
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.regulator import ReturnRegulator
from fuelsim.parts.wire import Wire
from fuelsim.studies.circuits import circuits
from fuelsim.studies.parts_of_layout import parts_of_layout, reuse
from fuelsim.units import shown

if TYPE_CHECKING:
    import pandas as pd

    from fuelsim.studies.commissioning import HandOver
    from fuelsim.system.run import System

__all__ = ["PartRow", "Purchase", "as_bought", "part_rows", "purchase_table", "purchases"]

OWNED = {
    "wires": "wire of ",
    "pump_controls": "controller of ",
    "pump_stages": "stage of ",
    "dampers": "damper of ",
}
"""Named tables that bear the name of the part they belong to, in words."""
CUT_ALLOWANCE = 1.10
"""Length bought over the length plumbed [common_practice]."""
SAME_BORE = 0.15e-3
"""Difference of bores, m, up to which a line is taken for a listed size: the tolerance of tube [sae_j526] moves one by
0.2 mm."""
USUAL_PRESSURE = 300e3
"""Pressure near which a pump is named by its flow, Pa."""
NOT_BOUGHT = ("sharp_entry", "reentrant_entry", "rounded_entry", "exit")
"""Typical fittings that are a loss, but no part."""
SOUND = "if it is sound: no rust, crack, swelling, hardening or chafing"


class PartRow(NamedTuple):
    """One line of the parts list: name, what it is as bought, ratings and working pressure in words."""

    part: str
    bought_as: str
    ratings: str
    working_pressure: str


class Purchase(NamedTuple):
    """One line of the buy list.

    Attributes
    ----------
    part : str
        Part of the car that it is for, in words.
    item : str
        Generic class and size, as it is bought.
    quantity : str
        Pieces, or length with its unit.
    rated : str
        Pressure for which it must be rated at least; empty where none acts on it.
    source : str
        ``"buy"``, ``"use again"``, or ``"buy (not to be used again)"``.
    why : str
        What to mind, or why the part of the car may stay or not.
    """

    part: str
    item: str
    quantity: str
    rated: str
    source: str
    why: str


def part_rows(sheet: HandOver) -> list[PartRow]:
    """Return the parts of this layout, in the order of flow.

    Parameters
    ----------
    sheet : HandOver
        What is handed over.
    """
    under_pressure, rows = sheet.system.plumbing.under_pressure, []
    for table, part in parts_of_layout(sheet.system).items():
        under, known = under_pressure.get(table), ""
        if under is not None:
            known = "not given" if under.least is None else shown(under.least, "pressure difference", digits=3)
        if isinstance(part, Pump):
            known = f"dead-head {shown(part.dead_head_pressure, 'pressure difference', digits=3)}"
            if part.dead_head_to_withstand > part.dead_head_pressure:
                known += f", up to {shown(part.dead_head_to_withstand, 'pressure difference', digits=3)} by its class"
        rows.append(PartRow(_name(table), as_bought(part), ratings_in_words(part), known))
    return rows


def _name(table: str) -> str:
    kind, _, own = table.rpartition(".")
    return OWNED.get(kind, "") + own.replace("_", " ")


def as_bought(part: Ratings) -> str:
    """Return what a part is called in a shop: its generic class and size, without the length of a line.

    Parameters
    ----------
    part : Ratings
        A part of a car.

    Examples
    --------
    >>> import fuelsim as fs
    >>> in_tank = fs.Car.named("finch").with_values({"pump": "in_tank_220"})
    >>> as_bought(fs.Car.named("heron").feed), as_bought(in_tank.pump).partition(",")[0]
    ('steel tube, 5/16 in (bore 6.52 mm)', 'in-tank pump')
    """
    if isinstance(part, PlumbedLine):
        return _line_as_bought(part)
    if isinstance(part, Injectors):
        size = shown(float(np.max(part.static_flow)), "injector flow", digits=3)
        rated = shown(float(np.max(part.rated_pressure)), "pressure difference", digits=3)
        return f"injector, {size} at {rated}, {float(part.coil_resistance):g} Ω"
    if isinstance(part, Wire):
        return f"copper wire, {part.size}"
    listed = _listed(part)
    if listed:
        return listed
    if isinstance(part, Pump):
        pressures, flows = np.ravel(part.pressure), np.ravel(part.flow)
        at = int(np.argmin(np.abs(pressures - USUAL_PRESSURE)))
        bench = shown(float(pressures[at]), "pressure difference", digits=3)
        place = "in-tank" if part.mounting == "in_tank" else "external"
        flow = shown(float(flows[at]), "volume flow", digits=3)
        return f"{place} {part.type} pump, {flow} at {bench} and {shown(part.bench_voltage, 'voltage', digits=3)}"
    if isinstance(part, Filter):
        fineness = "" if part.fineness is None else f", {shown(float(part.fineness), 'particle size', digits=3)}"
        flow = shown(float(np.max(part.rated_flow)), "volume flow", digits=3)
        return f"{'strainer' if part.side == 'suction' else 'filter'} for {flow}{fineness}"
    if isinstance(part, ReturnRegulator):
        held = shown(float(np.max(part.set_pressure)), "pressure difference", digits=3)
        return f"return regulator set to {held} over {getattr(part, 'reference', 'atmosphere')}"
    if isinstance(part, Rail):
        return f"rail of {shown(float(part.bore), 'bore', digits=3)} bore"
    if isinstance(part, Tank):
        return f"tank of {shown(float(part.volume), 'volume', digits=3)}"
    return ""


def _listed(part: Ratings) -> str:
    """Return the entry of the catalogue that a part was taken from, with what has been changed since; else nothing."""
    name = getattr(part, "catalogue", None)
    if not isinstance(part, Catalogued) or not name:
        return ""
    about = catalogue_entry(part.catalogue_kind, name).about
    generic = with_generic_part(type(part), part, name)
    changed = [
        key.replace("_", " ")
        for key in declarations(type(part))
        if not np.array_equal(np.asarray(getattr(part, key)), np.asarray(getattr(generic, key)))
    ]
    changed = [key for key in changed if key not in ("count", "length")]
    text = about[0].lower() + about[1:]
    return text + (f"; own {', '.join(changed)}" if changed else "")


def _line_as_bought(line: PlumbedLine) -> str:
    """Return family and size of a line by its material and bore, whatever its table says it was taken from."""
    bore = float(np.min(line.bore))
    in_words = f"bore {shown(bore, 'bore', digits=3)}"
    sizes = [LineSize.named(name) for name in catalogue_names("lines")]
    metal = line.material.removeprefix("rusty_").removeprefix("painted_")
    near = [size for size in sizes if size.material == metal and abs(size.inside_diameter - bore) < SAME_BORE]
    near.sort(key=lambda size: (size.catalogue != line.catalogue, abs(size.inside_diameter - bore)))
    if near:
        return f"{near[0].family.replace('_', ' ')}, {near[0].size} ({in_words})"
    return f"{metal} {'hose' if metal in ('rubber', 'ptfe') else 'tube'}, {in_words}"


def purchases(sheet: HandOver) -> list[Purchase]:
    """Return what to buy and what may be used again, in the order of flow.

    Parameters
    ----------
    sheet : HandOver
        What is handed over.

    Examples
    --------
    >>> import fuelsim as fs
    >>> rows = purchases(fs.hand_over(fs.Car.named("finch"), reused=["tank"]))
    >>> [(row.part, row.source) for row in rows if row.part in ("tank", "pump")]
    [('tank', 'use again'), ('pump', 'buy')]
    """
    system, rows = sheet.system, []
    for table, part in parts_of_layout(system).items():
        rated = _rated(system, table)
        pieces = _pieces(system, table, part, rated)
        if table not in sheet.reused:
            rows += [Purchase(_name(table), *piece[:3], "buy", piece.why) for piece in pieces]
            continue
        verdict = reuse(system, sheet.findings, table)
        source = "use again" if verdict.permitted else "buy (not to be used again)"
        why = f"{verdict.reason}; {SOUND}" if verdict.permitted else verdict.reason
        if verdict.permitted:
            pieces = [piece for piece in pieces if piece.item == as_bought(part)] or pieces[:1]
        reasons = [why] + [""] * (len(pieces) - 1)
        rows += [
            Purchase(_name(table), *piece[:3], source, reason) for piece, reason in zip(pieces, reasons, strict=True)
        ]
    return rows


class _Piece(NamedTuple):
    """One thing to buy for a part: item, quantity, least rating and what to mind."""

    item: str
    quantity: str
    rated: str
    why: str


def _rated(system: System, table: str) -> str:
    """Return the least pressure for which a part and its joints must be rated."""
    ratings = system.plumbing.under_pressure
    under = [ratings[table]] if table in ratings else []
    if isinstance(system.car.value_of(table), (Rail, Injectors, ReturnRegulator)):
        under = [rating for rating in ratings.values() if rating.always]
    greatest = max((rating.dead_head_to_withstand for rating in under), default=0.0)
    return shown(greatest, "pressure difference", digits=3) if greatest else ""


def _pieces(system: System, table: str, part: Ratings, rated: str) -> list[_Piece]:
    """Return what a part is made of when it is bought."""
    item = as_bought(part) or ratings_in_words(part) or _name(table)
    if isinstance(part, PlumbedLine):
        return _line_pieces(part, item, rated)
    if isinstance(part, Wire):
        return _circuit_pieces(system, table, part, item)
    if isinstance(part, Injectors):
        return [_Piece(item, str(part.count), rated, "with seals of fluoroelastomer for the fuel")]
    return [_Piece(item, "1", rated, "")]


def _line_pieces(line: PlumbedLine, item: str, rated: str) -> list[_Piece]:
    """Return the length of a line with its fittings and clamps."""
    length = shown(CUT_ALLOWANCE * float(np.max(line.length)), "length", digits=3)
    size = item.partition(" (")[0]
    pieces = [_Piece(item, length, rated, "length and a tenth for cuts; rated at the temperature where it lies")]
    for number, name in line.listed_fittings:
        if name not in NOT_BOUGHT:
            about = catalogue_entry("fittings", name).about
            pieces.append(_Piece(f"{about[0].lower()}{about[1:]} for {size}", str(number), rated, ""))
    if not line.listed_fittings:
        minded = f"bends and ends not listed in the car file; K {float(line.loss_coefficient):g} in all was computed"
        pieces.append(_Piece(f"line ends for {size}", "2", rated, minded))
    if line.material == "rubber":
        wall = WALLS["rubber"].thickness if line.wall_thickness is None else float(line.wall_thickness)
        outside = shown(float(np.max(line.bore)) + 2.0 * wall, "bore", digits=3)
        minded = "for injection pressure, no worm drive; size by the hose's own outside diameter"
        pieces.append(_Piece(f"hose clamp for {outside} outside diameter", "2", rated, minded))
    return pieces


def _circuit_pieces(system: System, table: str, wire: Wire, item: str) -> list[_Piece]:
    """Return wire, fuse, relay and cut-off of a circuit, for each pump that has one like it."""
    pumps = next(len(circuit.pumps) for circuit in circuits(system) if circuit.table == table)
    length = shown(pumps * CUT_ALLOWANCE * float(np.max(wire.length)), "length", digits=3)
    rating = "" if wire.fuse_rating is None else shown(float(np.max(wire.fuse_rating)), "current", digits=3)
    fuse = f"fuse of {rating} with holder" if rating else "fuse with holder, rating not given"
    relay = f"relay for {rating} or more, with socket" if rating else "relay with socket"
    return [
        _Piece(item, length, "", "supply and ground together, and a tenth for cuts"),
        _Piece(fuse, str(pumps), "", "close to the battery; never larger than the wire carries"),
        _Piece(relay, str(pumps), "", ""),
        _Piece("inertia switch, or a cut by the controller", "1", "", "stops the pumps when the engine stops"),
    ]


def purchase_table(sheet: HandOver) -> pd.DataFrame:
    """Return the buy list as a table.

    Parameters
    ----------
    sheet : HandOver
        What is handed over.
    """
    import pandas as pd

    columns = ["part", "item", "quantity", "rated at least", "buy or use again", "remark"]
    return pd.DataFrame(purchases(sheet)).set_axis(columns, axis="columns")
