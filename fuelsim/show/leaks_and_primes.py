"""What is left of the pressure after a stop, as tables and pictures."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from fuelsim.show.style import DOTTED, caption, label_panel, legend, line_style, panel
from fuelsim.show.tables import Column, Entry, frame
from fuelsim.typing import PlotAxes, UnitSystem
from fuelsim.units import shown, shown_values

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

    from fuelsim.transients.leak_down import LeakDown
    from fuelsim.transients.leak_fit import LeakFit

__all__ = ["leak_down_figure", "leak_down_table", "leak_fit_table"]

_HOURS_FROM = 3.0 * 3600.0
"""Duration from which the axis of time is in hours, s."""


def leak_down_table(result: LeakDown, units: UnitSystem | None = None) -> pd.DataFrame:
    """Return one row per time: pressure, temperature, vapour, and the fuel that left or came in.

    Parameters
    ----------
    result : LeakDown
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    return frame(
        [
            Entry("time", "time", result.time),
            Entry("rail", "pressure difference", result.gauge_pressure, "gauge"),
            Entry("needed_against_boiling", "pressure difference", result.pressure_needed, "gauge"),
            Entry("rail", "temperature", result.rail_temperature),
            Entry("vapour", "volume", result.vapour_volume),
            *(Column(f"lost_{way}_g", np.asarray(mass) * 1e3) for way, mass in result.lost._asdict().items()),
            Column("drawn_in_g", result.drawn_in * 1e3),
        ],
        units,
    )


def leak_down_figure(results: Sequence[LeakDown], ax: PlotAxes | None = None) -> Figure:
    """Draw pressure against time since the stop, with that below which the fuel boils.

    Parameters
    ----------
    results : sequence of LeakDown
        One per layout.
    ax : Axes, optional
        Axes of the user's own.
    """
    fig, axis = panel(ax, width=6.6, height=3.7)
    long = max(float(result.time[-1]) for result in results) > _HOURS_FROM
    over, unit_of_time = (3600.0, "h") if long else (60.0, "min")
    unit = shown_values(0.0, "pressure difference")[1]
    for number, result in enumerate(results):
        style = line_style(number, len(result.time)) | {"linewidth": 1.5}
        # The step as valves shut is drawn from the running pressure at the same moment.
        time = np.concatenate([[0.0], result.time]) / over
        gauge = np.concatenate([[result.pressure_before], result.gauge_pressure])
        axis.plot(time, shown_values(gauge, "pressure difference")[0], label=result.layout, **style)
        dots = DOTTED | {"color": style["color"], "linewidth": 1.2, "label": "boils below"}
        needed = shown_values(result.pressure_needed, "pressure difference")[0]
        axis.plot(result.time / over, needed, **dots)
    axis.set_xlim(left=0.0, right=max(float(result.time[-1]) for result in results) / over)
    label_panel(axis, f"time since the pump stopped, {unit_of_time}", f"rail, {unit} gauge")
    legend(axis, loc="center left", anchor=(1.0, 0.5))
    first = results[0]
    ends = shown(float(first.gauge_pressure[-1]), "pressure difference", digits=3)
    after = f"{first.time[-1] / over:.3g} {unit_of_time}"
    missed = [limit.name for limit in first.limits if not limit.met]
    verdict = f"missed: {', '.join(missed)}" if missed else "service limits met"
    caption(fig, f"{ends} is left after {after}{'; ' + verdict if first.limits else ''}.", ax)
    return fig


def leak_fit_table(result: LeakFit, units: UnitSystem | None = None) -> pd.DataFrame:
    """Return one row per cause, the best first.

    Parameters
    ----------
    result : LeakFit
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    causes = result.causes
    return frame(
        [
            Column("cause", [cause.name for cause in causes]),
            Column("leak_mL_h", np.array([cause.leak for cause in causes]) * 3.6e9),
            Column("cooled_K", np.array([cause.cooled for cause in causes])),
            Entry("greatest_error", "pressure difference", np.array([cause.error for cause in causes])),
            Column("chi_squared", np.array([cause.chi_squared for cause in causes])),
            Column("told_apart", [cause.name not in result.group for cause in causes]),
        ],
        units,
    ).set_index("cause")
