"""Two wishes that compete: every combination of a sizing, and the front of those that meet the requirements."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim.show.style import LINE_STYLES, caption, figure
from fuelsim.studies.measures import MEASURES
from fuelsim.units import shown_values

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from fuelsim.studies.size import Sizing

__all__ = ["pareto_figure"]


def pareto_figure(result: Sizing, first: str, second: str) -> Figure:
    """Draw all combinations over two wishes: rejects, those that meet the requirements, and their front.

    Parameters
    ----------
    result : Sizing
    first, second : str
        Measures, or ``"least_margin"``.
    """
    drawn, axes = figure(width=7.2, height=4.6)
    axis = axes[0, 0]
    (x, x_label), (y, y_label) = _shown(result, first), _shown(result, second)
    meets, rejected = result.meets, result.finished & ~result.meets
    axis.plot(x[rejected], y[rejected], ".", color="#bbbbbb", markersize=4, label="rejected")
    axis.plot(x[meets], y[meets], "o", color=LINE_STYLES[0]["color"], markersize=4, alpha=0.5, label="meets")
    front = result.pareto(first, second)
    look = {"color": LINE_STYLES[1]["color"], "marker": "s", "markersize": 6, "linewidth": 1.6}
    axis.plot(x[front], y[front], drawstyle="steps-post", label="front", **look)
    axis.set_xlabel(x_label)
    axis.set_ylabel(y_label)
    axis.legend(frameon=False, fontsize=8)
    low = float(np.min(y[np.isfinite(y)], initial=0.0))
    if second == "least_margin" and low < -100.0:
        axis.set_ylim(bottom=-100.0)
    caption(
        drawn,
        f"{result.car.name}, {result.layout}: {int(meets.sum())} of {int(result.finished.sum())}"
        f" combinations meet the requirements; {len(front)} of them are not bettered in both wishes.",
    )
    return drawn


def _shown(result: Sizing, name: str) -> tuple[Any, str]:
    """Return a wish in the unit shown, and its label."""
    if name == "least_margin":
        return 100.0 * result.least_margin, "least margin of what must hold, %"
    measure = MEASURES[name]
    values, unit = shown_values(result.worst[name], measure.kind)
    return np.asarray(values), f"worst {measure.about}, {unit} {measure.suffix}".rstrip(", ")
