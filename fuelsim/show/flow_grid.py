"""Where the stations and links of any plumbing stand on a drawing: columns along the flow, a row for each branch.

Columns count the links from the tank along the longest way. The longest way takes the first row; every branch takes
the nearest row that is free over its columns. What runs back to a vessel takes rows of its own below all others.
Where a branch leaves its row it runs vertically beside a column, on a track of its own, so that no two ways overprint.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

__all__ = ["Edge", "FlowGrid", "Vertical", "flow_grid"]


class Edge(NamedTuple):
    """A link between two stations, in the direction of flow."""

    name: str
    upstream: str
    downstream: str


class Vertical(NamedTuple):
    """A vertical piece of a link's way, beside the column of the station that it leaves or enters.

    Attributes
    ----------
    link, station : str
    column : int
    top, bottom : int
        Rows between which it runs; neither includes the row of a vessel, which it meets from outside.
    """

    link: str
    station: str
    column: int
    top: int
    bottom: int


@dataclass
class FlowGrid:
    """Places in columns and rows.

    Attributes
    ----------
    columns, rows : dict of str to int
        Column and row of each station; rows count downwards.
    link_rows : dict of str to int
        Row of each link.
    tracks : dict of Vertical to int
        Track of each vertical piece, counted from the column to the left; 0 is the column itself.
    """

    columns: dict[str, int] = field(default_factory=dict)
    rows: dict[str, int] = field(default_factory=dict)
    link_rows: dict[str, int] = field(default_factory=dict)
    tracks: dict[Vertical, int] = field(default_factory=dict)

    def track(self, link: str, station: str) -> int:
        """Return the track of a link at one of its stations; 0 where it stays in the station's row."""
        return next((track for each, track in self.tracks.items() if (each.link, each.station) == (link, station)), 0)


def flow_grid(edges: Sequence[Edge], vessels: Iterable[str], start: str) -> FlowGrid:
    """Return where the stations and links of a plumbing stand.

    Parameters
    ----------
    edges : sequence of Edge
        The links, in the order of the runs.
    vessels : iterable of str
        Stations at which ways that run back end.
    start : str
        Vessel from which the flow starts.

    Returns
    -------
    FlowGrid

    Examples
    --------
    >>> loop = [Edge("pump", "tank", "rail"), Edge("injectors", "rail", "end"), Edge("return", "rail", "tank")]
    >>> grid = flow_grid(loop, ["tank"], "tank")
    >>> grid.columns, grid.link_rows
    ({'tank': 0, 'rail': 1, 'end': 2}, {'pump': 0, 'injectors': 0, 'return': 1})
    """
    return _Placing(edges, frozenset(vessels), start).grid


class _Placing:
    """Places the branches one after the other."""

    def __init__(self, edges: Sequence[Edge], vessels: frozenset[str], start: str) -> None:
        self.edges, self.vessels = list(edges), vessels
        self.grid = FlowGrid()
        self._taken: dict[int, list[tuple[int, int]]] = {}
        backward = _backward(self.edges, start)
        chains = [self._chain(edge, backward) for edge in self.edges if edge in backward]
        in_chains = {edge for chain in chains for edge in chain}
        self.forward = [edge for edge in self.edges if edge not in in_chains]
        self.grid.columns = _columns(self.forward, start)
        chains = [self._with_room(chain) for chain in chains]
        self._ahead = _lengths_ahead(self.forward)
        self.grid.rows[start] = 0
        self._place_forward()
        for chain in sorted(chains, key=self._span):
            self._place_back(chain)
        self._choose_tracks()

    def _chain(self, last: Edge, backward: set[Edge]) -> list[Edge]:
        """Return the way that ends with a backward edge, from the last station at which anything else happens."""
        chain = [last]
        while True:
            station = chain[0].upstream
            before = [edge for edge in self.edges if edge.downstream == station]
            after = [edge for edge in self.edges if edge.upstream == station]
            if station in self.vessels or len(before) != 1 or len(after) != 1 or before[0] in backward:
                return chain
            chain.insert(0, before[0])

    def _with_room(self, chain: list[Edge]) -> list[Edge]:
        """Return what of a way back has columns to run back in; the links before it run forward."""
        columns = self.grid.columns
        room = columns[chain[0].upstream] - columns[chain[-1].downstream]
        onward = max(0, (len(chain) - room + 1) // 2)
        for edge in chain[:onward]:
            columns[edge.downstream] = columns[edge.upstream] + 1
            self.forward.append(edge)
        for edge in chain[onward:-1]:
            columns[edge.downstream] = columns[edge.upstream] - 1
        return chain[onward:]

    def _span(self, chain: list[Edge]) -> int:
        return self.grid.columns[chain[0].upstream] - self.grid.columns[chain[-1].downstream]

    def _place_forward(self) -> None:
        open_edges = list(self.forward)
        while open_edges:
            branches = [self._branch(edge, open_edges) for edge in open_edges if edge.upstream in self.grid.rows]
            branch = max(branches, key=len)
            self._place(branch, self._nearest_row(branch))
            open_edges = [edge for edge in open_edges if edge not in branch]

    def _branch(self, first: Edge, open_edges: Sequence[Edge]) -> list[Edge]:
        """Return the longest way along the flow up to a station that is placed, or to the end."""
        branch = [first]
        while branch[-1].downstream not in self.grid.rows:
            onward = [edge for edge in open_edges if edge.upstream == branch[-1].downstream]
            if not onward:
                break
            branch.append(max(onward, key=self._reach))
        return branch

    def _reach(self, edge: Edge) -> tuple[int, bool]:
        """How far an edge leads; what leads back to a station that is placed comes before an end."""
        return self._ahead[edge.downstream], edge.downstream in self.grid.rows

    def _nearest_row(self, branch: Sequence[Edge]) -> int:
        rows, columns = self.grid.rows, self.grid.columns
        ends = [rows[station] for station in (branch[0].upstream, branch[-1].downstream) if station in rows]
        first, last = columns[branch[0].upstream], columns[branch[-1].downstream]
        reach = len(self.edges) + 1
        candidates = [row for row in range(-reach, reach + 1) if self._is_free(row, first, last)]
        return min(candidates, key=lambda row: (sum(abs(row - end) for end in ends), -row))

    def _is_free(self, row: int, first: int, last: int) -> bool:
        return all(last < start or end < first for start, end in self._taken.get(row, []))

    def _place(self, branch: Sequence[Edge], row: int) -> None:
        ends = [self.grid.columns[station] for edge in branch for station in (edge.upstream, edge.downstream)]
        self._taken.setdefault(row, []).append((min(ends), max(ends)))
        for edge in branch:
            self.grid.link_rows[edge.name] = row
            self.grid.rows.setdefault(edge.downstream, row)

    def _place_back(self, chain: Sequence[Edge]) -> None:
        last, first = (self.grid.columns[name] for name in (chain[-1].downstream, chain[0].upstream))
        row = 1 + max(row for row in self._taken if not self._is_free(row, last, first))
        self._place(chain, row)

    def _choose_tracks(self) -> None:
        verticals = [piece for edge in self.edges for piece in self._verticals(edge)]
        # Short pieces nearest to the column.
        for piece in sorted(verticals, key=lambda each: each.bottom - each.top):
            beside = [(other, track) for other, track in self.grid.tracks.items() if other.column == piece.column]
            blocked = {track for other, track in beside if self._overprints(piece, other)}
            if any(self._passes(piece, name) for name in self.grid.rows):
                blocked.add(0)
            self.grid.tracks[piece] = next(track for track in range(len(verticals) + 1) if track not in blocked)

    def _verticals(self, edge: Edge) -> list[Vertical]:
        row = self.grid.link_rows[edge.name]
        pieces = []
        for station in (edge.upstream, edge.downstream):
            own = self.grid.rows[station]
            if own == row:
                continue
            near = own + (1 if row > own else -1) if station in self.vessels else own
            top, bottom = sorted((near, row))
            pieces.append(Vertical(edge.name, station, self.grid.columns[station], top, bottom))
        return pieces

    def _passes(self, piece: Vertical, station: str) -> bool:
        """Whether a vertical piece on its own column would meet another station."""
        in_column = self.grid.columns[station] == piece.column and station != piece.station
        return in_column and piece.top <= self.grid.rows[station] <= piece.bottom

    def _overprints(self, one: Vertical, other: Vertical) -> bool:
        """Whether two pieces on one track would be taken for one; pieces of one junction are one."""
        if one.station == other.station and one.station not in self.vessels:
            return False
        return one.top <= other.bottom and other.top <= one.bottom


def _backward(edges: Sequence[Edge], start: str) -> set[Edge]:
    """Return the edges that close a loop, by a depth-first search from the start."""
    after: dict[str, list[Edge]] = {}
    for edge in edges:
        after.setdefault(edge.upstream, []).append(edge)
    backward: set[Edge] = set()
    seen: set[str] = set()
    for first in dict.fromkeys((start, *after)):
        if first in seen:
            continue
        seen.add(first)
        on_way, stack = {first}, [(first, iter(after.get(first, [])))]
        while stack:
            station, onward = stack[-1]
            following = next(onward, None)
            if following is None:
                on_way.discard(station)
                stack.pop()
            elif following.downstream in on_way:
                backward.add(following)
            elif following.downstream not in seen:
                seen.add(following.downstream)
                on_way.add(following.downstream)
                stack.append((following.downstream, iter(after.get(following.downstream, []))))
    return backward


def _columns(edges: Sequence[Edge], start: str) -> dict[str, int]:
    """Return how many links each station is away from the start, along the longest way."""
    columns = {start: 0} | {name: 0 for edge in edges for name in edge[1:]}
    for _ in range(len(columns)):
        before = dict(columns)
        for edge in edges:
            columns[edge.downstream] = max(columns[edge.downstream], columns[edge.upstream] + 1)
        if columns == before:
            break
    return columns


def _lengths_ahead(edges: Sequence[Edge]) -> dict[str, int]:
    """Return how many links the longest way from each station has."""
    reversed_edges = [Edge(edge.name, edge.downstream, edge.upstream) for edge in edges]
    return _columns(reversed_edges, "")
