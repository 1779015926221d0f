"""The circuit of each pump drawn as SVG text: battery, fuse, relay, cut-off, pump and ground, with their volts."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

import numpy as np

from fuelsim.show.symbols import INK
from fuelsim.studies.circuits import circuits, volts_along
from fuelsim.studies.commissioning import FULL_LOAD, KEY_ON
from fuelsim.units import shown

if TYPE_CHECKING:
    from fuelsim.parts.wire import Wire
    from fuelsim.studies.commissioning import HandOver

__all__ = ["wiring_drawing"]

FONT = "DejaVu Sans, Verdana, sans-serif"
COLUMN, LABELS, BOX, ROW, SIZE = 112, 84, 92, 18, 12
"""Distance of the boxes, width of the words before them, width of a box, height of a row and size of letters."""
LINE = f'fill="none" stroke="{INK}" stroke-width="1.4"'


def wiring_drawing(sheet: HandOver) -> str:
    """Return the circuits of all pumps as one SVG element, with the volts at key-on and at full load.

    Parameters
    ----------
    sheet : HandOver
        What is handed over.

    Returns
    -------
    str
        SVG text; names of pumps are escaped.
    """
    drawn: list[str] = []
    pumps = [(name, circuit.wire) for circuit in circuits(sheet.system) for name in circuit.pumps]
    for number, (name, wire) in enumerate(pumps):
        drawn += _circuit(sheet, name, wire, 7 * ROW * number, alone=len(pumps) == 1)
    width, height = LABELS + 6 * COLUMN, 7 * ROW * len(pumps)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" role="img" '
        f'aria-label="Wiring of the pumps with the volts at each place">{"".join(drawn)}</svg>'
    )


def _circuit(sheet: HandOver, name: str, wire: Wire, top: int, *, alone: bool) -> list[str]:
    """Return the boxes of one pump's circuit and, below, one row of volts for each operating point."""
    middle, rows = top + 2.4 * ROW, []
    for point in (KEY_ON, FULL_LOAD):
        at = sheet.points.index(point)
        supply = float(np.broadcast_to(sheet.run.conditions.supply_voltage, sheet.run.conditions.shape)[at])
        current = float(sheet.run.pump_current[name][at])
        rows.append((point.partition(",")[0], volts_along(wire, supply, current)))
    last = LABELS + 5 * COLUMN + BOX
    drawn = [
        f'<path d="M{LABELS} {middle:g} H{last + 12} v{ROW}" {LINE}/>',
        f'<path d="M{last + 4} {middle + ROW:g} h16 m-12 4 h8 m-6 4 h4" {LINE}/>',
    ]
    if not alone:
        drawn.append(_text(name.replace("_", " "), 0, top + 0.9 * ROW, "start"))
    for column, place in enumerate(rows[0][1]):
        x = LABELS + column * COLUMN
        rated = place.name == "fuse" and wire.fuse_rating is not None
        words = f"fuse {shown(float(np.max(wire.fuse_rating)), 'current', digits=3)}" if rated else place.name
        drawn.append(
            f'<rect x="{x}" y="{middle - 0.7 * ROW:g}" width="{BOX}" height="{1.4 * ROW:g}" fill="#fff" '
            f'stroke="{INK}" stroke-width="1.4"/>'
        )
        drawn.append(_text(words, x + BOX / 2, middle + 4, "middle"))
        for row, (_, points) in enumerate(rows):
            volts = shown(points[column].voltage, "voltage", digits=3)
            drawn.append(_text(volts, x + BOX / 2, middle + (2.5 + row) * ROW, "middle"))
    drawn += [_text(words, 0, middle + (2.5 + row) * ROW, "start") for row, (words, _) in enumerate(rows)]
    return drawn


def _text(words: str, x: float, y: float, anchor: str) -> str:
    return (
        f'<text x="{x:g}" y="{y:g}" text-anchor="{anchor}" font-family="{FONT}" font-size="{SIZE}" fill="{INK}">'
        f"{escape(words)}</text>"
    )
