"""A layout as it is plumbed, drawn as SVG text: the flow from left to right, branches below one another."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from functools import cached_property
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.arguments import takes
from fuelsim.car.heat_parts import Pot
from fuelsim.car.tables import PlacedReducer, PlacedRegulator
from fuelsim.errors import InputError
from fuelsim.output_files import write_files
from fuelsim.parts.line import Line
from fuelsim.parts.orifice import Orifice
from fuelsim.show.flow_grid import Edge, FlowGrid, flow_grid
from fuelsim.show.network_drawing import USUAL_REGIMES
from fuelsim.show.symbols import HALF_HEIGHT, INK, symbol
from fuelsim.system.plumbing import MANIFOLD
from fuelsim.system.pot_parts import OverflowLine
from fuelsim.typing import ArrayLike
from fuelsim.units import shown

if TYPE_CHECKING:
    from fuelsim.parts.part import Part
    from fuelsim.system.plumbing import PlannedLink
    from fuelsim.system.run import Run, System

__all__ = ["Drawing", "draw_system", "system_drawing"]

LEAST_SHOWN = 10.0
"""Gauge pressure below which none is written, Pa: what is left is rounding."""
LEAST_FLOW = 1e-4
"""Share of the greatest flow below which a link is drawn without flow."""
FONT = "DejaVu Sans, Verdana, sans-serif"
FLOW, HOT, STILL = "#0072B2", "#9a3d00", "#777777"
SIZE, LINE_HEIGHT = 12, 14
"""Size of letters and distance of lines of text, in units of the drawing."""
LETTER_WIDTHS = ((" .,:;'|!iIjl()[]-", 0.42), ("frt", 0.45), ("mwMW%@", 1.02), ("ABCDEFGHKNOPQRUVX", 0.79))
OTHER_LETTER, SYMBOL, BOLDER = 0.66, 1.1, 1.1
"""Widths over the size of letters, rounded up, of the font and of those that viewers take in its place; bold on top."""
LONGEST = 14
"""Letters of a name from which it goes on in a second line."""
TRACK, CLEAR, LEAST_GAP, VESSEL_HEIGHT = 9, 8, 62, 22
"""Distances of tracks and of texts, least distance of columns, and half the height of a vessel."""


class _Line(NamedTuple):
    """A line of text with its font weight and colour."""

    text: str
    weight: int
    colour: str

    @property
    def width(self) -> float:
        width = sum(_letter_width(letter) for letter in self.text)
        return SIZE * width * (BOLDER if self.weight > 400 else 1.0)


def _letter_width(letter: str) -> float:
    if ord(letter) > 255:
        return SYMBOL
    return next((width for letters, width in LETTER_WIDTHS if letter in letters), OTHER_LETTER)


@dataclass(frozen=True)
class Drawing:
    """A drawing that shows itself in a notebook and is saved as SVG.

    Attributes
    ----------
    svg : str
        One SVG element.

    Examples
    --------
    >>> Drawing("<svg/>")
    <Drawing: 6 characters of SVG>
    """

    svg: str

    def __repr__(self) -> str:
        return f"<Drawing: {len(self.svg)} characters of SVG>"

    def _repr_svg_(self) -> str:
        return self.svg

    @takes()
    def save(self, path: Path | str) -> Path:
        """Write the drawing to a file.

        Parameters
        ----------
        path : path
            Ending in ``.svg``.

        Returns
        -------
        Path

        Raises
        ------
        InputError
            For another ending, or a file that cannot be written.
        """
        path = Path(path)
        if path.suffix.lower() != ".svg":
            raise InputError("no file of a drawing", given=str(path), accepted="a file .svg", key="path")
        write_files({path: self.svg.encode()})
        return path


def draw_system(system: System, run: Run, point: int = 0) -> Drawing:
    """Return the layout as a drawing that shows itself.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    run : Run
        Results of that system.
    point : int
        Number of the operating point.

    Raises
    ------
    InputError
        For a run of another layout, or a point that it does not have.
    """
    points = int(np.prod(run.conditions.shape))
    if run.layout != system.layout:
        raise InputError("a run of another layout", given=run.layout, accepted=system.layout, key="run")
    if point >= points:
        raise InputError("no such operating point", given=point, accepted=f"0 to {points - 1}", key="point")
    return Drawing(system_drawing(system, run, point))


def system_drawing(system: System, run: Run, point: int = 0) -> str:
    """Return the layout as one SVG element, with pressures, temperatures and flows of one operating point.

    Lines carry length and bore, rails, pots and junctions their height.

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
    return _Drawing(system, run, point).svg()


@dataclass(frozen=True)
class _Terms:
    """The words of the drawing."""

    system: System
    run: Run
    point: int

    def at_point(self, values: ArrayLike) -> float:
        """Return a result or rating at the operating point."""
        flat = np.ravel(values)
        return float(flat[self.point if flat.size > 1 else 0])

    def flow(self, link: str) -> float:
        return self.at_point(self.run.flow[link]) + 0.0

    @cached_property
    def greatest_flow(self) -> float:
        return max(float(np.nan_to_num(abs(self.flow(name)))) for name in self.run.flow)

    def still(self, link: str) -> bool:
        """Whether no more flows through a link than the solver's rounding."""
        return not abs(self.flow(link)) > LEAST_FLOW * self.greatest_flow

    def of_link(self, link: PlannedLink[Part]) -> list[_Line]:
        """Return name, size, flow and what the part does if that is unusual."""
        lines = [_Line(text, 700, INK) for text in _name_lines(link.name)]
        lines += [_Line(text, 400, "#333") for text in self._size(link.part)]
        flow = self.flow(link.name)
        colour = STILL if self.still(link.name) else FLOW
        lines.append(_Line(shown(flow, "volume flow", digits=3) if np.isfinite(flow) else "unsolved", 400, colour))
        regime = str(np.ravel(self.run.regime[link.name])[self.point])
        if regime not in USUAL_REGIMES and np.isfinite(flow):
            lines.append(_Line(regime, 400, HOT))
        return lines

    def _size(self, part: Part) -> list[str]:
        """Return the size that a part has beside its name."""
        if isinstance(part, OverflowLine):
            part = part.line
        if isinstance(part, Line):
            return [
                shown(self.at_point(part.length), "length", digits=3),
                f"bore {shown(self.at_point(part.bore), 'bore', digits=3)}",
            ]
        if isinstance(part, Orifice):
            return [f"bore {shown(self.at_point(part.diameter), 'bore', digits=3)}"]
        if isinstance(part, PlacedRegulator | PlacedReducer):
            return [f"set {shown(self.at_point(part.set_pressure), 'pressure difference', digits=3)}"]
        return []

    def of_station(self, station: str, name: str) -> list[_Line]:
        """Return name, pressure, temperature and height of a station; and what is attached to it."""
        plumbing = self.system.plumbing
        gauge = self.at_point(self.run.gauge_pressure[station])
        gauge = 0.0 if abs(gauge) < LEAST_SHOWN else gauge
        words = [shown(gauge, "pressure difference", digits=3)] if np.isfinite(gauge) else ["unsolved"]
        if station in self.run.temperature:
            temperature = self.at_point(self.run.temperature[station])
            words += [shown(temperature, "temperature", digits=3)] if np.isfinite(temperature) else []
        if station in plumbing.rails or station in plumbing.pots or station in self._junctions():
            words.append(f"height {shown(self.at_point(plumbing.heights[station]), 'length', digits=3)}")
        if station in plumbing.rails:
            words += [table.rpartition(".")[0].rstrip("s") or table for table in self._attached(station)]
        return [*(_Line(text, 400, INK) for text in _name_lines(name)), *(_Line(text, 400, "#444") for text in words)]

    def _attached(self, rail: str) -> list[str]:
        """Return the tables of what is attached to a rail; a plain table belongs to the first."""
        first = rail == self.system.plumbing.rails[0]
        return [
            table
            for table in self.system.plumbing.attached
            if table.rpartition(".")[2] == rail or ("." not in table and first)
        ]

    def _junctions(self) -> set[str]:
        """Return the names of the runs that are junctions."""
        car, names = self.system.car, self.system.plumbing.layout.tables
        return {name for name in names if car.part(name) is None or isinstance(car.part(name), Pot)}


def _name_lines(name: str) -> list[str]:
    """Return a name with spaces, long ones in several lines."""
    return textwrap.wrap(name.replace("_", " "), LONGEST, break_long_words=False) or [name]


class _Drawing:
    """One drawing: texts first, because columns and rows are as wide as they need, then the shapes."""

    def __init__(self, system: System, run: Run, point: int) -> None:
        self.system, self.terms = system, _Terms(system, run, point)
        self.plumbing = system.plumbing
        self.links = {link.name: link for link in self.plumbing.links}
        self.edges = [Edge(link.name, link.upstream, self._far_end(link)) for link in self.plumbing.links]
        self.grid: FlowGrid = flow_grid(self.edges, self.plumbing.vessels, self.plumbing.vessel)
        self.station_lines = {name: self.terms.of_station(*self._station_and_name(name)) for name in self.grid.columns}
        self.link_lines = {link.name: self.terms.of_link(link) for link in self.plumbing.links}
        self.gaps: dict[str, int] = {}
        self.x = self._columns()
        self.y, self.height = self._rows()

    def _far_end(self, link: PlannedLink[Part]) -> str:
        """Return where a link ends; every rail's injectors deliver into the manifold at a point of their own."""
        return f"{link.upstream} {MANIFOLD}" if link.downstream == MANIFOLD else link.downstream

    def _station_and_name(self, place: str) -> tuple[str, str]:
        known = place in self.plumbing.stations
        return (place, place) if known else (MANIFOLD, MANIFOLD)

    def _offset(self, station: str) -> float:
        """Return how far to the right of its column a station's texts begin."""
        return 18 if station in self.plumbing.vessels else 9

    def _channel(self, column: int) -> float:
        """Return the width that vertical pieces and vessels need to the left of a column."""
        tracks = [track for piece, track in self.grid.tracks.items() if piece.column == column]
        vessel = any(self.grid.columns[name] == column for name in self.plumbing.vessels)
        return TRACK * max(tracks, default=0) + (24 if vessel else 8)

    def _columns(self) -> list[float]:
        """Return where each column stands, and choose in which gap each link has its texts and symbol."""
        columns = self.grid.columns
        count = max(columns.values()) + 1
        widths = [0.0] * count
        for name, column in columns.items():
            widest = max(line.width for line in self.station_lines[name])
            widths[column] = max(widths[column], self._offset(name) + widest + CLEAR)
        needed = {name: 18 + max(line.width for line in lines) + CLEAR for name, lines in self.link_lines.items()}
        spans = {edge.name: sorted((columns[edge.upstream], columns[edge.downstream])) for edge in self.edges}
        for name, (first, last) in sorted(spans.items(), key=lambda item: item[1][1] - item[1][0]):
            gap = max(range(first, max(last, first + 1)), key=lambda each: widths[each])
            self.gaps[name] = gap
            widths[gap] = max(widths[gap], needed[name])
        x = [CLEAR + self._channel(0)]
        for column in range(count):
            right = self._channel(column + 1) if column + 1 < count else 0.0
            x.append(x[-1] + max(widths[column] + right, LEAST_GAP if column + 1 < count else 0.0))
        return x

    def _rows(self) -> tuple[dict[int, float], float]:
        """Return where each row stands, and the height of the drawing."""
        above: dict[int, float] = {}
        below: dict[int, float] = {}
        for name, row in self.grid.link_rows.items():
            above[row] = max(above.get(row, 0.0), HALF_HEIGHT + 4 + LINE_HEIGHT * len(self.link_lines[name]))
        for name, row in self.grid.rows.items():
            below[row] = max(below.get(row, 0.0), HALF_HEIGHT + LINE_HEIGHT * len(self.station_lines[name]))
        y: dict[int, float] = {}
        bottom = CLEAR * 0.5
        for row in sorted({*above, *below}):
            y[row] = bottom + max(above.get(row, 0.0), VESSEL_HEIGHT + 4)
            bottom = y[row] + max(below.get(row, 0.0), VESSEL_HEIGHT) + CLEAR
        return y, bottom

    def svg(self) -> str:
        """Return the drawing."""
        layout = escape(self.system.plumbing.layout.title)
        width = self.x[-1] + CLEAR
        shapes = [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {self.height:.0f}" width="{width:.0f}"'
            f' height="{self.height:.0f}" role="img" aria-label="Schematic: {layout}" font-family="{FONT}">'
        ]
        shapes += [self._way(edge) for edge in self.edges]
        shapes += self._joints()
        shapes += [self._mark(edge) for edge in self.edges]
        shapes += [self._station(name) for name in self.grid.columns]
        return "\n".join([*shapes, "</svg>"])

    def _track_x(self, link: str, station: str) -> float:
        return self.x[self.grid.columns[station]] - TRACK * self.grid.track(link, station)

    def _corners(self, edge: Edge) -> list[tuple[float, float]]:
        """Return the corners of a link's way, from station to station."""
        level = self.y[self.grid.link_rows[edge.name]]
        ends = []
        for station in (edge.upstream, edge.downstream):
            x, y = self._track_x(edge.name, station), self.y[self.grid.rows[station]]
            column = self.x[self.grid.columns[station]]
            beside = [] if station in self.plumbing.vessels else [(column, y)]
            ends.append([*beside, (x, y), (x, level)])
        return [*ends[0], *reversed(ends[1])]

    def _way(self, edge: Edge) -> str:
        """Return the way of a link as a line."""
        corners = self._corners(edge)
        way = " ".join(f"{'L' if index else 'M'}{x:.0f} {y:.0f}" for index, (x, y) in enumerate(corners))
        style = f'stroke="{FLOW}" stroke-width="2.2"'
        if self.terms.still(edge.name):
            style = f'stroke="{STILL}" stroke-width="1.6" stroke-dasharray="6 4"'
        return f'<path d="{way}" fill="none" stroke-linejoin="round" {style}/>'

    def _joints(self) -> list[str]:
        """Return dots where vertical pieces of one junction meet away from it, so that crossings are told from them."""
        dots = set()
        for piece, track in self.grid.tracks.items():
            if piece.station in self.plumbing.vessels:
                continue
            x, own = self.x[piece.column] - TRACK * track, self.grid.rows[piece.station]
            if track:
                dots.add((x, self.y[own]))
            far = piece.top if piece.bottom == own else piece.bottom
            beside = [other for other, its in self.grid.tracks.items() if its == track and other != piece]
            if any(other.station == piece.station and other.top < far < other.bottom for other in beside):
                dots.add((x, self.y[far]))
        return [f'<circle cx="{x:.0f}" cy="{y:.0f}" r="3" fill="{INK}"/>' for x, y in sorted(dots)]

    def _middle(self, name: str) -> float:
        """Return where a link's symbol and the middle of its texts are, between two columns."""
        gap = self.gaps[name]
        right = self._channel(gap + 1) if gap + 2 < len(self.x) else 0.0
        return 0.5 * (self.x[gap] + 18 + self.x[gap + 1] - right)

    def _mark(self, edge: Edge) -> str:
        """Return the symbol of a link, the arrow of its flow and its texts."""
        x, y = self._middle(edge.name), self.y[self.grid.link_rows[edge.name]]
        onward = 1 if self.grid.columns[edge.downstream] >= self.grid.columns[edge.upstream] else -1
        drawn = symbol(self.links[edge.name].part, x, y, onward)
        flows = onward if self.terms.flow(edge.name) >= 0.0 else -onward
        shapes = [drawn]
        if not self.terms.still(edge.name):
            tip = x + flows * (22 if drawn else 6)
            back = tip - flows * 9
            shapes.append(f'<path d="M{tip:.0f} {y:.0f} L{back:.0f} {y - 4:.0f} V{y + 4:.0f} z" fill="{FLOW}"/>')
        lines = self.link_lines[edge.name]
        top = y - HALF_HEIGHT - 4 - LINE_HEIGHT * (len(lines) - 1)
        return "".join([*shapes, *_texts(lines, x, top, "middle")])

    def _station(self, name: str) -> str:
        """Return a station as SVG: its shape, with its texts below and to the right."""
        x, y = self.x[self.grid.columns[name]], self.y[self.grid.rows[name]]
        plumbing = self.plumbing
        if name in plumbing.vessels:
            left, right = x - self._channel(self.grid.columns[name]) + 4, x + 13
            top, bottom = y - VESSEL_HEIGHT, y + VESSEL_HEIGHT
            shape = (
                f'<rect x="{left:.0f}" y="{top + 6:.0f}" width="{right - left:.0f}" height="{bottom - top - 6:.0f}"'
                f' fill="#e8eef4"/><path d="M{left:.0f} {top:.0f} V{bottom:.0f} H{right:.0f} V{top:.0f}"'
                f' fill="none" stroke="{INK}" stroke-width="2"/>'
            )
        elif name in plumbing.rails:
            shape = f'<rect x="{x - 5:.0f}" y="{y - 9:.0f}" width="10" height="18" fill="{INK}"/>'
        elif name not in plumbing.stations:
            shape = f'<path d="M{x:.0f} {y - 10:.0f} V{y + 10:.0f}" stroke="{INK}" stroke-width="4"/>'
        else:
            shape = f'<circle cx="{x:.0f}" cy="{y:.0f}" r="4" fill="#fff" stroke="{INK}" stroke-width="1.6"/>'
        return shape + "".join(_texts(self.station_lines[name], x + self._offset(name), y + 29, "start"))


def _texts(lines: list[_Line], x: float, top: float, anchor: str) -> list[str]:
    """Return lines of text as SVG, the first with its foot at the top given."""
    return [
        f'<text x="{x:.0f}" y="{top + LINE_HEIGHT * row:.0f}" font-size="{SIZE}" font-weight="{line.weight}"'
        f' fill="{line.colour}" text-anchor="{anchor}">{escape(line.text)}</text>'
        for row, line in enumerate(lines)
    ]
