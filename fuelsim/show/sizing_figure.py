"""Two objectives that compete: every combination of a sizing, and the Pareto front of those that meet requirements."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.show.style import LINE_STYLES, caption, label_panel, legend, panel
from fuelsim.studies.measures import MEASURES
from fuelsim.typing import BoolArray, FloatArray, PlotAxes
from fuelsim.units import shown_values

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fuelsim.studies.sizing import Sizing

__all__ = ["pareto_figure"]

ROOM_AROUND = 0.35
"""Room around the combinations that meet the requirements, over their span: those far off would squeeze them."""


class _Objective(NamedTuple):
    """Values of an objective in the unit shown, one per combination, and its label."""

    values: FloatArray
    label: str


def pareto_figure(result: Sizing, first: str, second: str, ax: PlotAxes | None = None) -> Figure:
    """Draw all combinations over two objectives: rejects, those that meet the requirements, and their Pareto front.

    Parameters
    ----------
    result : Sizing
        The combinations.
    first, second : str
        Names of measures, or ``"least_margin"``.
    ax : Axes, optional
        Axes of the user's own.
    """
    fig, axis = panel(ax, width=7.2, height=4.6)
    x, y = _objective(result, first), _objective(result, second)
    meets, rejected = result.meets, result.finished & ~result.meets
    axis.plot(x.values[rejected], y.values[rejected], ".", color="#bbbbbb", markersize=4, label="rejected")
    axis.plot(
        x.values[meets],
        y.values[meets],
        "o",
        color=LINE_STYLES[0]["color"],
        markersize=4,
        alpha=0.5,
        label="meets the requirements",
    )
    front = result.pareto(first, second)
    style = {"color": LINE_STYLES[1]["color"], "marker": "s", "markersize": 6, "linewidth": 1.6}
    axis.plot(x.values[front], y.values[front], drawstyle="steps-post", label="Pareto front", **style)
    label_panel(axis, x.label, y.label)
    legend(axis, loc="center left", anchor=(1.0, 0.5))
    hidden = _show_those_that_meet(axis, x.values, y.values, meets, rejected)
    beyond = f" {hidden} rejected ones lie outside the picture." if hidden else ""
    caption(
        fig,
        f"{result.car.name}, {result.layout}: {int(meets.sum())} of {int(result.finished.sum())}"
        f" combinations meet the requirements; {len(front)} of them are not bettered in both objectives.{beyond}",
        ax,
    )
    return fig


def _show_those_that_meet(axis: Axes, x: FloatArray, y: FloatArray, meets: BoolArray, rejected: BoolArray) -> int:
    """End both axes around what meets the requirements, with room for its neighbours; return how many lie outside."""
    if not meets.any():
        return 0
    inside = rejected & np.isfinite(x) & np.isfinite(y)
    for values, set_ends in ((x, axis.set_xlim), (y, axis.set_ylim)):
        low, high = float(np.nanmin(values[meets])), float(np.nanmax(values[meets]))
        room = max(ROOM_AROUND * (high - low), 0.1 * max(abs(low), abs(high)))
        set_ends(low - room, high + room)
        inside &= (values >= low - room) & (values <= high + room)
    return int(rejected.sum() - inside.sum())


def _objective(result: Sizing, name: str) -> _Objective:
    if name == "least_margin":
        return _Objective(100.0 * result.least_margin, "least margin to the mandatory requirements, %")
    measure = MEASURES[name]
    values, unit = shown_values(result.worst[name], measure.kind)
    return _Objective(np.asarray(values), f"worst {measure.about}, {unit} {measure.suffix}".rstrip(", "))
