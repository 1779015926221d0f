"""A schematic drawing of any network, from the tank on the left to the far end on the right."""

from __future__ import annotations

from collections import Counter, deque
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.show.style import figure

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fuelsim.network.network import Link, Network
    from fuelsim.network.state import State

__all__ = ["draw_network", "layers"]

_FLOWING = "#0072B2"
_STILL = "#888888"
_QUIET = {"flowing", "pumping"}
_ACROSS, _DOWN = 2.3, 1.7
_INCHES = 0.8
_STILL_FLOW = 0.01 * L_PER_HOUR


def layers(net: Network) -> dict[str, int]:
    """Return for each node how many links it lies from the first reservoir, along the direction of the links.

    Nodes that no way along the links reaches count from the nearest node that is reached.

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
    ways = [(link.up, link.down) for link in net.links.values()]
    start = next(iter(net.reservoirs), next(iter(net.nodes), ""))
    found = {start: 0}
    _spread(found, ways)
    _spread(found, ways + [(b, a) for a, b in ways])
    for name in (*net.nodes, *net.reservoirs):
        found.setdefault(name, 0)
    return found


def _spread(found: dict[str, int], ways: list[tuple[str, str]]) -> None:
    after: dict[str, list[str]] = {}
    for a, b in ways:
        after.setdefault(a, []).append(b)
    ahead = deque(sorted(found, key=lambda name: found[name]))
    while ahead:
        here = ahead.popleft()
        for there in after.get(here, []):
            if there not in found:
                found[there] = found[here] + 1
                ahead.append(there)


def _places(net: Network) -> dict[str, tuple[float, float]]:
    """Return a place for each node; within a layer nodes are ordered as their neighbours to the left."""
    layer = layers(net)
    rows: dict[int, list[str]] = {}
    for name in sorted(layer, key=lambda item: layer[item]):
        rows.setdefault(layer[name], []).append(name)
    height: dict[str, float] = {}
    for number in sorted(rows):
        wish = {}
        for name in rows[number]:
            known = [
                height[other]
                for link in net.links.values()
                for here, other in ((link.up, link.down), (link.down, link.up))
                if here == name and other in height
            ]
            wish[name] = float(np.mean(known)) if known else 0.0
        ordered = sorted(rows[number], key=lambda name: -wish[name])
        middle = float(np.mean([wish[name] for name in ordered]))
        for place, name in enumerate(ordered):
            height[name] = middle + 0.5 * (len(ordered) - 1) - place
    return {name: (_ACROSS * layer[name], _DOWN * height[name]) for name in layer}


def draw_network(net: Network, state: State | None = None, *, point: int = 0) -> Figure:
    """Draw a network, with pressures and flows if it is solved.

    Parameters
    ----------
    net : Network
    state : State, optional
        Its solution; gauge pressures (kPa) and flows (L/h) are written beside nodes and links, arrows point along the
        flow whatever its sign, and links without flow are grey and dashed.
    point : int, optional
        Which operating point, where the state has many.

    Returns
    -------
    Figure
        A matplotlib figure that shows itself in a notebook; `savefig` writes it to a file.
    """
    places = _places(net)
    across = [x for x, _ in places.values()]
    down = [y for _, y in places.values()]
    drawn, axes = figure()
    axis = axes[0, 0]
    axis.set_axis_off()
    seen: Counter[frozenset[str]] = Counter()
    lowest = min(down)
    for name, link in net.links.items():
        pair = frozenset((link.up, link.down))
        lowest = min(lowest, _draw_link(axis, name, link, places, seen[pair], state, point))
        seen[pair] += 1
    for name, place in places.items():
        _draw_node(axis, name, place, name in net.reservoirs, state, point)
    left, right, bottom, top = min(across) - 0.9, max(across) + 0.9, lowest - 0.8, max(down) + 0.6
    axis.set_xlim(left, right)
    axis.set_ylim(bottom, top)
    # Bends are drawn in inches, so one unit must be as long across as it is down for labels to sit on them.
    axis.set_aspect("equal")
    drawn.set_size_inches(_INCHES * (right - left), _INCHES * (top - bottom))
    return drawn


def _draw_link(
    axis: Axes, name: str, link: Link, places: dict[str, Any], before: int, state: State | None, point: int
) -> float:
    """Draw a link and its label; return how low it reaches."""
    from matplotlib.patches import FancyArrowPatch

    start, end = (np.array(places[node]) for node in (link.up, link.down))
    said, flow = [name], None
    if state is not None:
        flow = float(np.atleast_1d(state.flow[name])[point])
        said.append(f"{abs(flow) / L_PER_HOUR:.4g} L/h" if abs(flow) > _STILL_FLOW else "0 L/h")
        regime = str(np.atleast_1d(state.regime[name])[point])
        if regime not in _QUIET:
            said.append(regime)
    moving = flow is None or abs(flow) > _STILL_FLOW
    if flow is not None and flow < -_STILL_FLOW:
        start, end = end, start
    along = end - start
    far = abs(along[0]) > 1.5 * _ACROSS or (along[0] < 0.0 and abs(along[1]) < 0.1)
    bend = (0.28 if far else 0.0) + 0.22 * before
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
        linewidth=1.8 if moving else 1.2,
        linestyle="-" if moving else "--",
        color=_FLOWING if moving else _STILL,
        zorder=1,
    )
    axis.add_patch(arrow)
    middle = 0.5 * (start + end) + 0.5 * sign * bend * np.array([along[1], -along[0]])
    axis.text(
        middle[0],
        middle[1] + (0.08 if not bend and abs(along[1]) < 0.1 else 0.0),
        "\n".join(said),
        ha="center",
        va="bottom" if not bend and abs(along[1]) < 0.1 else "center",
        fontsize=7.5,
        bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 0.8},
        zorder=2,
        parse_math=False,
    )
    return float(middle[1])


def _draw_node(
    axis: Axes, name: str, place: tuple[float, float], reservoir: bool, state: State | None, point: int
) -> None:
    axis.plot(
        *place,
        marker="s" if reservoir else "o",
        markersize=12 if reservoir else 8,
        markerfacecolor="#f3e3c3" if reservoir else "white",
        markeredgecolor="black",
        zorder=3,
    )
    said = name
    if state is not None:
        pressure = float(np.atleast_1d(state.gauge_pressure[name])[point])
        said += f"\n{pressure / 1e3:.4g} kPa gauge" if np.isfinite(pressure) else "\nunsolved"
    axis.text(
        place[0],
        place[1] - 0.2,
        said,
        ha="center",
        va="top",
        fontsize=8,
        bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.7, "pad": 0.5},
        zorder=4,
        parse_math=False,
    )
