"""What is left of the pressure after a stop, and what a start makes of it, as tables and pictures."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from fuelsim.show.style import DOTTED, caption, figure, label_panel, legend, level, line_style, panel
from fuelsim.show.tables import Column, Entry, frame
from fuelsim.transients.prime import arrival
from fuelsim.typing import PlotAxes, UnitSystem
from fuelsim.units import shown, shown_values

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

    from fuelsim.transients.hot_restart import HotRestart
    from fuelsim.transients.leak_down import LeakDown
    from fuelsim.transients.leak_fit import LeakFit
    from fuelsim.transients.prime import Prime

__all__ = [
    "hot_restart_figure",
    "hot_restart_table",
    "leak_down_figure",
    "leak_down_table",
    "leak_fit_table",
    "prime_figure",
    "prime_table",
    "restart_remedy_table",
]

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


def prime_table(result: Prime, units: UnitSystem | None = None) -> pd.DataFrame:
    """Return one row per time: phase, pressure, gas, flow of the pumps and what they have moved.

    Parameters
    ----------
    result : Prime
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    return frame(
        [
            Entry("time", "time", result.time),
            Column("phase", result.phase),
            Entry("rail", "pressure difference", result.gauge_pressure, "gauge"),
            Column("gas_mL", result.gas_volume * 1e6),
            Entry("pump", "volume flow", result.pump_flow),
            Column("pumped_mL", result.pumped * 1e6),
        ],
        units,
    )


def prime_figure(result: Prime) -> Figure:
    """Draw pressure, and below it gas left and volume pumped, against the time since key-on.

    Parameters
    ----------
    result : Prime
    """
    fig, axes = figure(2, 1, width=6.6, height=2.6)
    above, below = axes[0, 0], axes[1, 0]
    style = line_style(0, len(result.time)) | {"linewidth": 1.5}
    values, unit = shown_values(result.gauge_pressure, "pressure difference")
    above.plot(result.time, values, **style)
    level(above, float(shown_values(result.set_pressure, "pressure difference")[0]), "set pressure")
    label_panel(above, "", f"rail, {unit} gauge")
    below.plot(result.time, result.gas_volume * 1e6, label="air and vapour left", **style)
    below.plot(
        result.time, result.pumped * 1e6, label="pumped", **(line_style(1, len(result.time)) | {"linewidth": 1.5})
    )
    label_panel(below, "time since key-on, s", "volume, mL")
    legend(below, loc="center left", anchor=(1.0, 0.5))
    changes = result.time[1:][result.phase[1:] != result.phase[:-1]]
    for axis in (above, below):
        axis.set_xlim(0.0, float(result.time[-1]))
        for change in changes:
            axis.axvline(float(change), color="0.6", linewidth=0.8, linestyle=":")
    bounds = [0.0, *(float(change) for change in changes), float(result.time[-1])]
    for start, end in pairwise(bounds):
        name = str(result.phase[np.searchsorted(result.time, 0.5 * (start + end))])
        at = {"xy": (0.5 * (start + end), 1.0), "xycoords": below.get_xaxis_transform()}
        below.annotate(name, xytext=(0, 3), textcoords="offset points", ha="center", fontsize=8, **at)
    left = shown(result.left_by_prime, "pressure difference", digits=3)
    when = arrival("set pressure", result.seconds_to_pressure, result.time)
    caption(fig, f"Lines {result.lines.replace('_', ' ')}: {when}; the prime leaves {left}.")
    return fig


def hot_restart_table(result: HotRestart, units: UnitSystem | None = None) -> pd.DataFrame:
    """Return one row per time: pressure, vapour, temperature and flow of the pumps.

    Parameters
    ----------
    result : HotRestart
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    return frame(
        [
            Entry("time", "time", result.time),
            Entry("rail", "pressure difference", result.gauge_pressure, "gauge"),
            Entry("rail", "temperature", result.rail_temperature),
            Column("vapour_mL", result.gas_volume * 1e6),
            Entry("pump", "volume flow", result.pump_flow),
        ],
        units,
    )


def restart_remedy_table(result: HotRestart) -> pd.DataFrame:
    """Return one row per change with the seconds of its start, least cranking first.

    Parameters
    ----------
    result : HotRestart
    """
    rungs = result.remedies
    columns = (("key_on_to_pressure_s", "pressure"), ("key_on_to_liquid_s", "liquid"), ("cranked_s", "cranked"))
    return frame(
        [
            Column("change", [rung.name for rung in rungs]),
            *(Column(name, np.array([getattr(rung.times, key) for rung in rungs])) for name, key in columns),
            Column("key_on_to_steady_idle_s", np.array([rung.times.idle for rung in rungs])),
        ]
    ).set_index("change")


def hot_restart_figure(result: HotRestart, ax: PlotAxes | None = None) -> Figure:
    """Draw the pressure after key-on up to a second after the steady idle.

    Parameters
    ----------
    result : HotRestart
    ax : Axes, optional
        Axes of the user's own.
    """
    fig, axis = panel(ax, width=6.6, height=3.7)
    end = result.times.idle + 1.0 if np.isfinite(result.times.idle) else float(result.time[-1])
    shown_times = result.time <= end
    values, unit = shown_values(result.gauge_pressure, "pressure difference")
    axis.plot(
        result.time[shown_times], values[shown_times], **(line_style(0, int(shown_times.sum())) | {"linewidth": 1.5})
    )
    level(axis, float(shown_values(result.set_pressure, "pressure difference")[0]), "set pressure")
    for number, (word, moment) in enumerate(
        (("liquid", result.times.liquid), ("crank", result.prime_time), ("steady idle", result.times.idle))
    ):
        if np.isfinite(moment):
            style = line_style(number + 1) | {"marker": "", "linewidth": 1.2, "label": f"{word}, {moment:.2g} s"}
            axis.axvline(float(moment), **style)
    label_panel(axis, "time since key-on, s", f"rail, {unit} gauge")
    axis.set_xlim(0.0, end)
    axis.set_ylim(bottom=0.0)
    legend(axis, loc="center left", anchor=(1.0, 0.5))
    caption(fig, f"{result.headline.partition('; ')[2][:1].upper()}{result.headline.partition('; ')[2][1:]}.", ax)
    return fig
