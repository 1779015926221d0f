"""Pressure against time and place: lines one above the other, and a moving picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fuelsim.ripple.along import WaveAlong
from fuelsim.show.animation import Animation
from fuelsim.show.style import caption, figure, label_panel, legend, panel
from fuelsim.show.tables import Column, Entry, frame
from fuelsim.typing import PlotAxes, UnitSystem
from fuelsim.units import shown_values

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["MovingLine", "wave_along_figure", "wave_along_table", "wave_animation"]

_LINES = 16
_FRAMES = 60


def wave_along_table(result: WaveAlong, units: UnitSystem | None = None) -> pd.DataFrame:
    """Return one row per place: swing, highest, lowest and steady pressure, and the station there."""
    names = {round(station.place, 9): station.name for station in result.stations}
    columns: list[Entry | Column] = [
        Entry("place", "length", result.place),
        Column("station", [names.get(round(float(place), 9), "") for place in result.place]),
        Entry("swing", "pressure difference", np.ptp(result.pressure, axis=0)),
        Entry("highest", "absolute pressure", result.pressure.max(axis=0), "absolute"),
        Entry("lowest", "absolute pressure", result.pressure.min(axis=0), "absolute"),
        Entry("steady", "absolute pressure", result.steady, "absolute"),
    ]
    return frame(columns, units)


def wave_along_figure(result: WaveAlong, ax: PlotAxes | None = None) -> Figure:
    """Draw what the pressure is above the steady one against place, at times of a cycle one above the other."""
    fig, axis = panel(ax, width=8.0, height=5.6)
    over, unit = shown_values(result.pressure - result.steady, "pressure difference")
    rows = np.unique(np.linspace(0, len(result.time) - 1, _LINES).astype(int))
    spacing = 1e3 * float(result.time[-1]) / max(len(rows) - 1, 1)
    largest = float(np.abs(over).max()) or 1.0
    scale = 1.2 * spacing / largest
    for row in rows:
        level = 1e3 * result.time[row]
        axis.axhline(level, color="#cccccc", linewidth=0.6)
        axis.plot(result.place, level + scale * over[row], color="black", linewidth=1.1)
    bar = float(f"{largest:.1g}")
    axis.plot([0.0, 0.0], [0.0, scale * bar], color="#d55e00", linewidth=3.0, label=f"{bar:g} {unit}")
    legend(axis, loc="center left", anchor=(1.0, 0.5))
    _mark_stations(axis, result)
    label_panel(axis, "distance along the lines, m", "time within two turns, ms")
    caption(fig, f"{result.car}, {result.headline}.", ax)
    return fig


def _mark_stations(axis: Axes, result: WaveAlong) -> None:
    """Mark the stations by a dashed line; those far enough apart by their names."""
    span = float(result.place[-1]) or 1.0
    axis.set_xlim(0.0, span)
    last = -span
    for station in result.stations:
        axis.axvline(station.place, color="#0072b2", linewidth=0.8, linestyle="--")
        if station.place - last > 0.05 * span:
            axis.annotate(
                station.name,
                (station.place, 1.01),
                xycoords=("data", "axes fraction"),
                rotation=90,
                fontsize=7,
                va="bottom",
                ha="center",
                color="#0072b2",
            )
            last = station.place


class MovingLine(Animation):
    """A line that moves with time: pressure against place.

    Parameters
    ----------
    result : WaveAlong
    """

    def __init__(self, result: WaveAlong) -> None:
        fig, axes = figure(1, 1, width=8.0, height=4.2)
        axis = axes[0, 0]
        rows = np.unique(np.linspace(0, len(result.time) - 1, _FRAMES).astype(int))
        self._values, unit = shown_values(result.pressure[rows], "absolute pressure")
        steady, _ = shown_values(result.steady, "absolute pressure")
        axis.plot(result.place, steady, color="#888888", linestyle=":", label="steady flow")
        (self._line,) = axis.plot(result.place, self._values[0], color="black", label="now")
        low, high = float(self._values.min()), float(self._values.max())
        margin = 0.05 * max(high - low, 1e-6)
        axis.set_ylim(low - margin, high + margin)
        _mark_stations(axis, result)
        label_panel(axis, "distance along the lines, m", f"{unit} absolute")
        legend(axis, loc="center left", anchor=(1.0, 0.5))
        caption(fig, f"{result.car}, '{result.layout}' at {result.rpm:.0f} rpm: two turns of the crankshaft.")
        self._clock = axis.text(0.02, 0.03, "", transform=axis.transAxes, fontsize=9)
        super().__init__(fig, [axis], (1e3 * result.time[rows]).tolist())
        self.show_until(0.0)

    def show_until(self, moment: float) -> None:
        """Draw the line as it is at a moment.

        Parameters
        ----------
        moment : float
            Time within the cycle, ms.
        """
        row = min(int(np.searchsorted(self.moments, moment)), len(self.moments) - 1)
        self._line.set_ydata(self._values[row])
        self._clock.set_text(f"{self.moments[row]:.1f} ms")


def wave_animation(result: WaveAlong) -> Animation:
    """Return pressure against place as it moves over a cycle.

    Parameters
    ----------
    result : WaveAlong
    """
    return MovingLine(result)
