"""Two objectives that compete: every combination of a sizing, and the Pareto front of those that meet requirements."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.show.style import LINE_STYLES, caption, figure, label_panel, legend
from fuelsim.studies.measures import MEASURES
from fuelsim.typing import FloatArray
from fuelsim.units import shown_values

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from fuelsim.studies.sizing import Sizing

__all__ = ["pareto_figure"]

LEAST_SHOWN_MARGIN = -100.0
"""Least margin shown, %: beyond it the combinations that matter would lie on one line."""


class _Objective(NamedTuple):
    """Values of an objective in the unit shown, one per combination, and its label."""

    values: FloatArray
    label: str


def pareto_figure(result: Sizing, first: str, second: str) -> Figure:
    """Draw all combinations over two objectives: rejects, those that meet the requirements, and their Pareto front.

    Parameters
    ----------
    result : Sizing
        The combinations.
    first, second : str
        Names of measures, or ``"least_margin"``.
    """
    fig, axes = figure(width=7.2, height=4.6)
    axis = axes[0, 0]
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
    legend(axis)
    low = float(np.min(y.values[np.isfinite(y.values)], initial=0.0))
    if second == "least_margin" and low < LEAST_SHOWN_MARGIN:
        axis.set_ylim(bottom=LEAST_SHOWN_MARGIN)
    caption(
        fig,
        f"{result.car.name}, {result.layout}: {int(meets.sum())} of {int(result.finished.sum())}"
        f" combinations meet the requirements; {len(front)} of them are not bettered in both objectives.",
    )
    return fig


def _objective(result: Sizing, name: str) -> _Objective:
    if name == "least_margin":
        return _Objective(100.0 * result.least_margin, "least margin to the mandatory requirements, %")
    measure = MEASURES[name]
    values, unit = shown_values(result.worst[name], measure.kind)
    return _Objective(np.asarray(values), f"worst {measure.about}, {unit} {measure.suffix}".rstrip(", "))
