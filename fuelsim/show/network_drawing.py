"""A schematic drawing of any network, from the tank on the left to the far end on the right."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.show.style import panel
from fuelsim.typing import FloatArray, PlotAxes
from fuelsim.units import shown

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from matplotlib.text import Text

    from fuelsim.network.elements import Link
    from fuelsim.network.network import Network
    from fuelsim.network.state import State

__all__ = ["USUAL_REGIMES", "draw_network", "layers"]

_FLOWING_COLOUR = "#0072B2"
_STAGNANT_COLOUR = "#888888"
USUAL_REGIMES = ("flowing", "pumping", "metering")
"""What a link does without its being written."""
_ACROSS, _DOWN = 2.5, 1.7
"""Distance between neighbours, in units of the drawing."""
_INCHES = 0.8
"""Size of a unit of the drawing, in."""
_MOVE, _MOST_MOVES = 0.08, 100
"""Step by which a label is moved off another, in units of the drawing, and number of steps."""
_STAGNANT_FLOW = 0.01 * L_PER_HOUR
"""Flow below which a link is drawn without flow, m3/s."""


def layers(net: Network) -> dict[str, int]:
    """Return for each node how many links it is away from the first reservoir, along the direction of the links.

    Nodes that no way along the links reaches count from the nearest node that is reached.

    Parameters
    ----------
    net : Network
        The network.

    Examples
    --------
    >>> from fuelsim.network.network import Network
    >>> from fuelsim.parts.line import Line
    >>> net = Network()
    >>> net.add_reservoir("tank", pressure=101325.0)
    >>> net.add_node("rail")
    >>> net.connect("tank", "rail", Line(length=1.0, bore=0.008), name="feed")
    >>> layers(net)
    {'tank': 0, 'rail': 1}
    """
    links = [(link.up, link.down) for link in net.links.values()]
    start = next(iter(net.reservoirs), next(iter(net.nodes), ""))
    layer = {start: 0}
    _number_onward(layer, links)
    _number_onward(layer, links + [(down, up) for up, down in links])
    for name in (*net.nodes, *net.reservoirs):
        layer.setdefault(name, 0)
    return layer


def _number_onward(layer: dict[str, int], links: list[tuple[str, str]]) -> None:
    """Number every node that the links reach from those that have a layer (breadth-first search)."""
    after: dict[str, list[str]] = {}
    for up, down in links:
        after.setdefault(up, []).append(down)
    queue = deque(sorted(layer, key=lambda name: layer[name]))
    while queue:
        node = queue.popleft()
        for neighbour in after.get(node, []):
            if neighbour not in layer:
                layer[neighbour] = layer[node] + 1
                queue.append(neighbour)


def _positions(net: Network) -> dict[str, FloatArray]:
    """Return where each node is drawn, (2,); within a layer nodes are ordered as their neighbours to the left."""
    layer = layers(net)
    columns: dict[int, list[str]] = {}
    for name in sorted(layer, key=lambda item: layer[item]):
        columns.setdefault(layer[name], []).append(name)
    height: dict[str, float] = {}
    for number in sorted(columns):
        preferred = {}
        for name in columns[number]:
            heights = [
                height[other]
                for link in net.links.values()
                for node, other in ((link.up, link.down), (link.down, link.up))
                if node == name and other in height
            ]
            preferred[name] = float(np.mean(heights)) if heights else 0.0
        ordered = sorted(columns[number], key=lambda name: -preferred[name])
        middle = float(np.mean([preferred[name] for name in ordered]))
        for rank, name in enumerate(ordered):
            height[name] = middle + 0.5 * (len(ordered) - 1) - rank
    return {name: np.array([_ACROSS * layer[name], _DOWN * height[name]]) for name in layer}


@dataclass(frozen=True)
class _Solved:
    """One operating point of a state."""

    state: State
    point: int

    def flow(self, link: str) -> float:
        return float(np.atleast_1d(self.state.flow[link])[self.point])

    def regime(self, link: str) -> str:
        return str(np.atleast_1d(self.state.regime[link])[self.point])

    def gauge_pressure(self, node: str) -> float:
        return float(np.atleast_1d(self.state.gauge_pressure[node])[self.point])


def draw_network(net: Network, state: State | None = None, *, point: int = 0, ax: PlotAxes | None = None) -> Figure:
    """Draw a network, with pressures and flows if it is solved.

    Parameters
    ----------
    net : Network
        The network.
    state : State, optional
        Its solution; gauge pressures and flows are written beside nodes and links, arrows point along the flow whatever
        its sign, and links without flow are grey and dashed.
    point : int, optional
        Number of the operating point, where the state has many.
    ax : Axes, optional
        Axes of the user's own.

    Returns
    -------
    Figure
        A matplotlib figure that shows itself in a notebook; `savefig` writes it to a file.
    """
    positions = _positions(net)
    solved = None if state is None else _Solved(state, point)
    across, down = np.array(list(positions.values())).T
    fig, axis = panel(ax)
    axis.set_axis_off()
    drawn_between: Counter[frozenset[str]] = Counter()
    lowest = float(down.min())
    for name, link in net.links.items():
        pair = frozenset((link.up, link.down))
        lowest = min(lowest, _draw_link(axis, name, link, positions, drawn_between[pair], solved))
        drawn_between[pair] += 1
    of_links = list(axis.texts)
    for name, position in positions.items():
        _draw_node(axis, name, position, name in net.reservoirs, solved)
    of_nodes = axis.texts[len(of_links) :]
    left, right = float(across.min()) - 1.2, float(across.max()) + 1.2
    bottom, top = lowest - 0.8, float(down.max()) + 0.6
    axis.set_xlim(left, right)
    axis.set_ylim(bottom, top)
    # Bends are drawn in inches, so one unit must be as long across as it is down for labels to be on them.
    axis.set_aspect("equal")
    if ax is None:
        fig.set_layout_engine("none")
        axis.set_position((0.0, 0.0, 1.0, 1.0))
        fig.set_size_inches(_INCHES * (right - left), _INCHES * (top - bottom))
        _separate(fig, axis, of_nodes, of_links)
    return fig


def _separate(fig: Figure, axis: Axes, fixed: Sequence[Text], movable: Sequence[Text]) -> None:
    """Move labels of links down until none lies on another text, and widen the figure until it holds all."""
    renderer = cast("FigureCanvasAgg", fig.canvas).get_renderer()  # type: ignore[no-untyped-call]
    per_unit = _INCHES * fig.dpi
    boxes = [text.get_window_extent(renderer) for text in fixed]
    for text in movable:
        for _ in range(_MOST_MOVES):
            box = text.get_window_extent(renderer)
            if not any(box.padded(1.0).overlaps(other) for other in boxes):
                break
            x, y = text.get_position()
            text.set_position((x, y - _MOVE))
        boxes.append(text.get_window_extent(renderer))
    to_data = axis.transData.inverted()
    ends = np.array([to_data.transform(corner) for box in boxes for corner in (box.min, box.max)])
    margin = 4.0 / per_unit
    (left, right), (bottom, top) = axis.get_xlim(), axis.get_ylim()
    left, right = min(left, ends[:, 0].min() - margin), max(right, ends[:, 0].max() + margin)
    bottom, top = min(bottom, ends[:, 1].min() - margin), max(top, ends[:, 1].max() + margin)
    axis.set_xlim(left, right)
    axis.set_ylim(bottom, top)
    fig.set_size_inches(_INCHES * (right - left), _INCHES * (top - bottom))


def _draw_link(
    axis: Axes, name: str, link: Link, positions: dict[str, FloatArray], parallel: int, solved: _Solved | None
) -> float:
    """Draw a link and its label, bent clear of parallel links drawn before it; return how low it reaches."""
    from matplotlib.patches import FancyArrowPatch

    start, end = positions[link.up], positions[link.down]
    words, flowing = [name], True
    if solved is not None:
        flow = solved.flow(name)
        flowing = abs(flow) > _STAGNANT_FLOW
        words.append(shown(abs(flow) if flowing else 0.0, "volume flow"))
        if solved.regime(name) not in USUAL_REGIMES:
            words.append(solved.regime(name))
        if flow < -_STAGNANT_FLOW:
            start, end = end, start
    along = end - start
    level = abs(along[1]) < 0.1
    far = abs(along[0]) > 1.5 * _ACROSS or (along[0] < 0.0 and level)
    bend = (0.28 if far else 0.0) + 0.22 * parallel
    # A bend is towards the lower side of the picture for lines that run back or skip a layer.
    sign = 1.0 if along[0] > 0.0 else -1.0
    arrow = FancyArrowPatch(
        tuple(start),
        tuple(end),
        connectionstyle=f"arc3,rad={sign * bend}",
        arrowstyle="-|>",
        mutation_scale=13,
        shrinkA=11,
        shrinkB=11,
        linewidth=1.8 if flowing else 1.2,
        linestyle="-" if flowing else "--",
        color=_FLOWING_COLOUR if flowing else _STAGNANT_COLOUR,
        zorder=1,
    )
    axis.add_patch(arrow)
    middle = 0.5 * (start + end) + 0.5 * sign * bend * np.array([along[1], -along[0]])
    # Above a level line, below a bent one, where names of nodes are not in the way, and on any other.
    side, gap = ("top", -0.08) if bend else ("bottom", 0.08) if level else ("center", 0.0)
    axis.text(
        middle[0],
        middle[1] + gap,
        "\n".join(words),
        ha="center",
        va=side,
        fontsize=7.5,
        bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 0.8},
        zorder=2,
        parse_math=False,
    )
    return float(middle[1])


def _draw_node(axis: Axes, name: str, position: FloatArray, reservoir: bool, solved: _Solved | None) -> None:
    axis.plot(
        *position,
        marker="s" if reservoir else "o",
        markersize=12 if reservoir else 8,
        markerfacecolor="#f3e3c3" if reservoir else "white",
        markeredgecolor="black",
        zorder=3,
    )
    words = [name]
    if solved is not None:
        pressure = solved.gauge_pressure(name)
        words.append(f"{shown(pressure, 'pressure difference')} gauge" if np.isfinite(pressure) else "unsolved")
    axis.text(
        position[0],
        position[1] - 0.2,
        "\n".join(words),
        ha="center",
        va="top",
        fontsize=8,
        bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.7, "pad": 0.5},
        zorder=4,
        parse_math=False,
    )
