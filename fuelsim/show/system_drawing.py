"""A layout as it is plumbed, drawn as SVG text: under the car from left to right, through the bay back to the tank."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.car.layouts import VESSEL
from fuelsim.show.network_drawing import USUAL_REGIMES
from fuelsim.system.plumbing import MANIFOLD
from fuelsim.units import shown

if TYPE_CHECKING:
    from fuelsim.parts.part import Part
    from fuelsim.system.plumbing import PlannedLink
    from fuelsim.system.run import Run, System

__all__ = ["system_drawing"]

WIDTH, LEFT, RIGHT = 1000, 70, 930
ROWS = {"floor": 115, "bay": 345, "back": 540}
LEAST_SHOWN = 5.0
"""Gauge pressure below which none is written, Pa: what is left is rounding."""
FONT = "DejaVu Sans, Verdana, sans-serif"
INK, FLOW, HOT = "#1a1a1a", "#0072B2", "#D55E00"


@dataclass(frozen=True)
class _Position:
    """Where something is drawn, in units of the drawing: x to the right, y downwards."""

    x: float
    y: float


class _Line(NamedTuple):
    """A line of text with its font weight and colour."""

    text: str
    weight: str
    colour: str


def system_drawing(system: System, run: Run, point: int = 0) -> str:
    """Return the layout as one SVG element, with pressures, temperatures and flows of one operating point.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    run : Run
        Results of that system.
    point : int
        Number of the operating point.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> system = Car.named("finch").system("return")
    >>> system_drawing(system, system.solve(rpm=[6000])).startswith("<svg")
    True
    """
    positions = _positions(system)
    top = 66 if system.plumbing.has_return else 0
    height = max(position.y for position in positions.values()) + 60 - top
    shapes = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 {top} {WIDTH} {height:.0f}" role="img"'
        f' aria-label="Schematic of the layout {escape(system.layout)}" font-family="{FONT}">',
        '<defs><marker id="tip" viewBox="0 0 10 10" refX="9" refY="5" markerWidth="7" markerHeight="7" orient="auto">'
        f'<path d="M0 0 L10 5 L0 10 z" fill="{FLOW}"/></marker></defs>',
    ]
    shapes += [_link(link, positions, run, point) for link in system.plumbing.links]
    shapes += [_node(name, position, run, point) for name, position in positions.items()]
    return "\n".join([*shapes, "</svg>"])


def _positions(system: System) -> dict[str, _Position]:
    """Return where each node is drawn: supply on the upper row, bay on the lower one, from right to left."""
    plumbing = system.plumbing
    path = plumbing.between(plumbing.vessel, plumbing.rails[0])
    last = max(path.index(link) for link in (*plumbing.pumps, *plumbing.filters) if link in path)
    floor = [plumbing.vessel, *(link.downstream for link in path[: last + 1])]
    bay = [link.downstream for link in path[last + 1 :]]
    regulator = plumbing.regulator
    back = plumbing.between(regulator.downstream, plumbing.vessel) if regulator and plumbing.has_return else ()
    behind = [link.upstream for link in back]
    if plumbing.sweeps_rail:
        bay += behind
    positions = {
        name: _Position(x, ROWS["floor"]) for name, x in zip(floor, np.linspace(LEFT, RIGHT, len(floor)), strict=True)
    }
    far = LEFT + 150 if plumbing.sweeps_rail else LEFT + 230
    positions |= {
        name: _Position(x, ROWS["bay"]) for name, x in zip(bay, np.linspace(RIGHT, far, len(bay)), strict=True)
    }
    if behind and regulator is not None and behind[0] not in positions:
        start = positions[regulator.upstream].x
        middle = 0.5 * (LEFT + RIGHT)
        for index, name in enumerate(behind):
            positions[name] = _Position(start if index == 0 else middle, ROWS["back"])
    rail = positions[plumbing.rails[0]]
    positions[MANIFOLD] = _Position(rail.x, rail.y - 105)
    return positions


def _link(link: PlannedLink[Part], positions: dict[str, _Position], run: Run, point: int) -> str:
    """Return a link as SVG: an arrow along its way, with its words."""
    start, end = positions[link.upstream], positions[link.downstream]
    if link.downstream == VESSEL and start.y > end.y:
        way = f"M{start.x} {start.y} L{LEFT} {start.y} L{LEFT} {end.y + 24}"
        label = _Position(0.5 * (start.x + LEFT), start.y)
        if start.y == ROWS["bay"]:
            label = _Position(LEFT + 8, 0.5 * (start.y + end.y))
            return _arrow(way) + _words(link, label, run, point, anchor="start")
        return _arrow(way) + _words(link, label, run, point)
    if link.downstream == VESSEL:
        way = f"M{start.x} {start.y - 10} L{start.x} 28 L{LEFT} 28 L{LEFT} {end.y - 20}"
        return _arrow(way) + _words(link, _Position(0.5 * (start.x + LEFT), 28), run, point, below=True)
    if abs(start.x - end.x) < 1.0:
        gap = 12 if end.y > start.y else -12
        way = f"M{start.x} {start.y + gap} L{end.x} {end.y - gap}"
        side = "end" if start.x > 0.5 * WIDTH else "start"
        offset = -10 if side == "end" else 10
        middle = _Position(start.x + offset, 0.5 * (start.y + end.y) + 14)
        return _arrow(way) + _words(link, middle, run, point, anchor=side)
    gap = 11 if end.x > start.x else -11
    way = f"M{start.x + gap} {start.y} L{end.x - gap} {end.y}"
    return _arrow(way) + _words(link, _Position(0.5 * (start.x + end.x), start.y), run, point)


def _arrow(way: str) -> str:
    return f'<path d="{way}" fill="none" stroke="{FLOW}" stroke-width="2.2" marker-end="url(#tip)"/>'


def _words(
    link: PlannedLink[Part], at: _Position, run: Run, point: int, *, anchor: str = "middle", below: bool = False
) -> str:
    """Write name, flow and what the part does above its line."""
    flow = shown(float(np.ravel(run.flow[link.name])[point]) + 0.0, "volume flow", digits=3)
    regime = str(np.ravel(run.regime[link.name])[point])
    lines = [_Line(link.name.replace("_", " "), "600", INK), _Line(flow, "400", FLOW)]
    if regime not in USUAL_REGIMES:
        lines.append(_Line(regime, "400", HOT))
    top = at.y + 16 if below else at.y - 8 - 14 * (len(lines) - 1)
    return "".join(
        f'<text x="{at.x:.0f}" y="{top + 14 * row:.0f}" font-size="12.5" font-weight="{line.weight}"'
        f' fill="{line.colour}" text-anchor="{anchor}">{escape(line.text)}</text>'
        for row, line in enumerate(lines)
    )


def _node(name: str, position: _Position, run: Run, point: int) -> str:
    """Return a node as SVG: its shape, with name, pressure and temperature."""
    gauge = float(np.ravel(run.gauge_pressure[name])[point])
    gauge = 0.0 if abs(gauge) < LEAST_SHOWN else gauge
    words = [name.replace("_", " "), shown(gauge, "pressure difference", digits=3)]
    if name in run.temperature:
        words.append(shown(float(np.ravel(run.temperature[name])[point]), "temperature", digits=3))
    if name == VESSEL:
        shape = f'<rect x="{position.x - 22}" y="{position.y - 20}" width="44" height="40" rx="6"'
    elif name == MANIFOLD:
        shape = f'<rect x="{position.x - 14}" y="{position.y - 11}" width="28" height="22" rx="3"'
    else:
        shape = f'<circle cx="{position.x}" cy="{position.y}" r="8"'
    shape += f' fill="#fff" stroke="{INK}" stroke-width="1.8"/>'
    # Beside a vertical line the words go to the side of the node, elsewhere below it.
    x, y, anchor = position.x, position.y + 26, "middle"
    if name == VESSEL:
        x, y, anchor = position.x + 10, position.y + 38, "start"
    elif name == MANIFOLD:
        x, y, anchor = position.x + 22, position.y - 4, "start"
    elif position.x == RIGHT:
        x, anchor = position.x - 12, "end"
    style = f'font-size="11.5" fill="#333" text-anchor="{anchor}"'
    texts = "".join(
        f'<text x="{x:.0f}" y="{y + 13 * row:.0f}" {style}>{escape(line)}</text>' for row, line in enumerate(words)
    )
    return shape + texts
