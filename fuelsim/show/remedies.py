"""What remedies against vapour gain, as a picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fuelsim.car.layouts import layout_title
from fuelsim.show.style import LINE_STYLES, caption, label_panel, legend, panel
from fuelsim.show.temperatures import difference_unit, differences
from fuelsim.typing import PlotAxes
from fuelsim.units import shown

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from fuelsim.studies.remedies import RemedyGains

__all__ = ["remedy_figure"]


def remedy_figure(result: RemedyGains, ax: PlotAxes | None = None) -> Figure:
    """Draw the gains in margin to boiling as bars, at the pump's inlet and in the rail, the best at the pump on top.

    Parameters
    ----------
    result : RemedyGains
        What each remedy gains.
    ax : Axes, optional
        Axes of the user's own.
    """
    gains = result.remedies
    rows = np.arange(len(gains))[::-1]
    fig, axis = panel(ax, width=8.4, height=1.4 + 0.42 * max(len(gains), 1))
    for shift, hatch, label, kelvin in (
        (0.2, "", "at the pump's inlet", [each.pump_gain for each in gains]),
        (-0.2, "//", "in the rail", [each.rail_gain for each in gains]),
    ):
        colour = LINE_STYLES[1 if hatch else 0]["color"]
        axis.barh(rows + shift, differences(kelvin), height=0.38, color=colour, alpha=0.8, hatch=hatch, label=label)
    axis.axvline(0.0, color="black", linewidth=1.0)
    axis.set_yticks(rows, [each.name for each in gains], fontsize=8)
    label_panel(axis, f"gain in margin to boiling, {difference_unit()}", "")
    legend(axis, loc="center left", anchor=(1.0, 0.5))
    sentence = f"{layout_title(result.layout)}, after {result.hours:.3g} h: "
    if gains:
        most = shown(gains[0].pump_gain, "temperature difference", digits=2)
        margin = shown(abs(result.pump_margin), "temperature difference", digits=2)
        side = "short of" if result.pump_margin >= 0.0 else "past"
        sentence += (
            f"{gains[0].name} gains most at the pump's inlet, {most}; as it is, fuel there is {margin} {side} boiling."
        )
    else:
        sentence += "no remedy applies."
    caption(fig, f"{str(result.completion).capitalize()}. {sentence}" if result.interrupted else sentence, ax)
    return fig
