"""Pulsation as tables and pictures: ripple and spread over engine speed, spectra, cycles, what dampers buy."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from fuelsim.ripple.events import PressureEvent
from fuelsim.ripple.remedies import RippleRemedies
from fuelsim.ripple.result import Pulsation
from fuelsim.show.style import caption, figure, label_panel, legend, line_style, panel
from fuelsim.show.tables import Column, Entry, frame, marked
from fuelsim.typing import PlotAxes, UnitSystem
from fuelsim.units import shown, shown_values

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = [
    "cycle_figure",
    "event_figure",
    "event_table",
    "injectors_table",
    "pulsation_figure",
    "pulsation_table",
    "ripple_remedies_figure",
    "ripple_remedies_table",
    "waterfall_figure",
]

_MOST_SPECTRA = 24
"""Lines of a waterfall."""


def pulsation_table(result: Pulsation, units: UnitSystem | None = None) -> pd.DataFrame:
    """Return one row per engine speed: ripple by both methods, mean pressure, spread."""
    columns: list[Entry | Column] = [Column("rpm", result.rpm)]
    for name, rail in result.rails.items():
        columns.append(Entry(f"{name}_ripple", "pressure difference", rail.ripple))
        columns.append(Entry(f"{name}_ripple_by_transfer", "pressure difference", rail.ripple_by_transfer))
        columns.append(Entry(f"{name}_mean", "absolute pressure", rail.mean_pressure, "absolute"))
    columns.append(Column("spread_percent", 100.0 * result.spread))
    if len(result.rails) > 1:
        columns.append(Column("spread_between_rails_percent", 100.0 * result.spread_between_rails))
    return marked(frame(columns, units), result.completion)


def injectors_table(result: Pulsation) -> pd.DataFrame:
    """Return one row per engine speed: what each injector delivers over the mean of all, less 1, in percent."""
    import pandas as pd

    share = 100.0 * (result.injected / result.injected.mean(axis=0) - 1.0)
    names = [f"{name}_{number}" for name, rail in result.rails.items() for number in range(1, len(rail.injected) + 1)]
    columns = {"rpm": result.rpm} | {f"{name}_percent": row for name, row in zip(names, share, strict=True)}
    return pd.DataFrame(columns)


def pulsation_figure(result: Pulsation) -> Figure:
    """Draw ripple of each rail by both methods, and spread of delivered fuel, against engine speed."""
    fig, axes = figure(2, 1, width=7.5, height=2.7)
    above, below = axes[0, 0], axes[1, 0]
    unit = ""
    count = len(result.rpm)
    for number, (name, rail) in enumerate(result.rails.items()):
        style = line_style(number, points=count)
        values, unit = shown_values(rail.ripple, "pressure difference")
        above.plot(result.rpm, values, label=f"{name}, waves in time", **style)
        small, _ = shown_values(rail.ripple_by_transfer, "pressure difference")
        thin = {**style, "linewidth": 0.9, "linestyle": ":", "marker": ""}
        above.plot(result.rpm, small, label=f"{name}, by frequencies", **thin)
    label_panel(above, "", f"ripple, {unit}")
    above.set_ylim(bottom=0.0)
    below.plot(result.rpm, 100.0 * result.spread, label="between injectors", **line_style(0, points=count))
    if len(result.rails) > 1:
        between = 100.0 * result.spread_between_rails
        below.plot(result.rpm, between, label="between rails", **line_style(1, points=count))
    label_panel(below, "engine speed, rpm", "spread of fuel, %")
    below.set_ylim(bottom=0.0)
    for each in (above, below):
        legend(each, loc="center left", anchor=(1.0, 0.5))
        each.set_xlim(*_ends(result))
    caption(fig, f"{result.car}, {result.headline}.")
    return fig


def _ends(result: Pulsation) -> tuple[float, float]:
    low, high = float(result.rpm.min()), float(result.rpm.max())
    return (low, high) if high > low else (low - 1.0, high + 1.0)


def waterfall_figure(result: Pulsation, rail: str, ax: PlotAxes | None = None) -> Figure:
    """Draw the spectrum of a rail's pressure at each engine speed, one line above the other."""
    own = result.rails[rail]
    solved = np.flatnonzero(np.isfinite(own.ripple))
    kept = solved[np.unique(np.linspace(0, len(solved) - 1, min(len(solved), _MOST_SPECTRA)).astype(int))]
    fig, axis = panel(ax, width=7.5, height=5.2)
    amplitude, unit = shown_values(own.amplitude, "pressure difference")
    if not len(kept):
        label_panel(axis, "frequency, Hz", "engine speed, rpm")
        caption(fig, f"{result.car}, {rail}: no result.", ax)
        return fig
    speeds = result.rpm[kept]
    spacing = float(np.ptp(speeds)) / max(len(kept) - 1, 1) or 100.0
    tallest = float(np.nanmax(amplitude[:, kept])) or 1.0
    scale = 2.5 * spacing / tallest
    orders = 0.5 * np.arange(1, len(amplitude) + 1)
    for point in kept[np.argsort(-result.rpm[kept], kind="stable")]:
        frequency = np.repeat(orders * result.rpm[point] / 60.0, 3)
        height = np.zeros((len(orders), 3))
        height[:, 1] = amplitude[:, point]
        line = result.rpm[point] + scale * height.ravel()
        axis.fill_between(frequency, result.rpm[point], line, color="white", zorder=2, linewidth=0)
        axis.plot(frequency, line, color="black", linewidth=0.9, zorder=2)
    axis.set_xlim(0.0, min(1000.0, float(orders[-1] * result.rpm[kept].max() / 60.0)))
    # A bar tells how tall a given amplitude is drawn.
    bar = float(f"{0.5 * tallest:.1g}")
    axis.annotate(
        "", (0.985, speeds.max() + scale * bar), (0.985, speeds.max()), xycoords=("axes fraction", "data"),
        arrowprops={"arrowstyle": "|-|", "shrinkA": 0, "shrinkB": 0},
    )  # fmt: skip
    axis.annotate(
        f"amplitude {bar:g} {unit}", (0.97, speeds.max() + 0.5 * scale * bar), xycoords=("axes fraction", "data"),
        ha="right", va="center", fontsize=8,
    )  # fmt: skip
    label_panel(axis, "frequency, Hz", "engine speed, rpm")
    at = np.unravel_index(int(np.nanargmax(own.amplitude)), own.amplitude.shape)
    strongest = f"{orders[at[0]] * result.rpm[at[1]] / 60.0:.0f} Hz"
    largest = shown(float(np.nanmax(own.amplitude)), "pressure difference", digits=3)
    caption(
        fig,
        f"{result.car}, {rail}: the strongest swing is {largest} at {strongest} and {result.rpm[at[1]]:.0f} rpm, "
        f"{orders[at[0]]:g} times in each turn.",
        ax,
    )
    return fig


def cycle_figure(result: Pulsation, rpm: Sequence[float] | None) -> Figure:
    """Draw the pressure of each rail over two turns of the crankshaft at some engine speeds."""
    ripple = result.rails[result.worst_rail].ripple
    solved = np.flatnonzero(np.isfinite(ripple))
    if rpm is None:
        points = [solved[0], solved[np.argmax(ripple[solved])], solved[-1]] if len(solved) else []
    else:
        points = [solved[np.argmin(np.abs(result.rpm[solved] - each))] for each in rpm]
    points = list(dict.fromkeys(int(point) for point in points))
    fig, axes = figure(max(len(points), 1), 1, width=7.5, height=2.1)
    for row, point in enumerate(points):
        axis, unit = axes[row, 0], ""
        for number, (name, rail) in enumerate(result.rails.items()):
            values, unit = shown_values(rail.cycle[:, point], "absolute pressure")
            axis.plot(result.crank_angle, values, label=name, **line_style(number, points=len(values)))
        last = row == len(points) - 1
        label_panel(axis, "crank angle, deg" if last else "", f"{unit} absolute", f"{result.rpm[point]:.0f} rpm")
        axis.set_xlim(0.0, 720.0)
        axis.set_xticks(range(0, 721, 90))
        if len(result.rails) > 1:
            legend(axis, loc="center left", anchor=(1.0, 0.5))
    caption(fig, f"{result.car}, '{result.layout}': pressure of the rails over two turns of the crankshaft.")
    return fig


def ripple_remedies_table(result: RippleRemedies, units: UnitSystem | None = None) -> pd.DataFrame:
    """Return one row per change, the best first: greatest and mean ripple, and how they compare with none."""
    rows = (result.remedies[0], *result.ranked)
    ripple = np.stack([row.ripple for row in rows])
    greatest, mean = np.nanmax(ripple, axis=1), np.nanmean(ripple, axis=1)
    columns: list[Entry | Column] = [
        Column("change", [row.change for row in rows]),
        Entry("greatest_ripple", "pressure difference", greatest),
        Column("at_rpm", result.rpm[np.nanargmax(ripple, axis=1)]),
        Entry("mean_ripple", "pressure difference", mean),
        Column("greatest_percent", 100.0 * greatest / greatest[0]),
        Column("mean_percent", 100.0 * mean / mean[0]),
        Column("where_least_help_percent", 100.0 * np.nanmax(ripple / ripple[0], axis=1)),
    ]
    return marked(frame(columns, units), result.completion)


def ripple_remedies_figure(result: RippleRemedies, ax: PlotAxes | None = None) -> Figure:
    """Draw the ripple over engine speed as it is, with the three best changes and with the worst."""
    fig, axis = panel(ax, width=8.5, height=4.0)
    ranked = result.ranked
    drawn = [result.remedies[0], *ranked[:3], *ranked[3:][-1:]]
    unit = ""
    for number, row in enumerate(drawn):
        values, unit = shown_values(row.ripple, "pressure difference")
        label = textwrap.fill(row.change, 28)
        axis.plot(result.rpm, values, label=label, **line_style(number, points=len(result.rpm)))
    label_panel(axis, "engine speed, rpm", f"ripple of the worst rail, {unit}")
    axis.set_ylim(bottom=0.0)
    legend(axis, loc="center left", anchor=(1.0, 0.5))
    caption(fig, f"{result.car}, {result.headline}.", ax)
    return fig


def event_table(result: PressureEvent, units: UnitSystem | None = None) -> pd.DataFrame:
    """Return one row per time: manifold and every station, there and the other way."""
    columns: list[Entry | Column] = [
        Column("time_ms", 1e3 * result.time),
        Entry("manifold", "absolute pressure", result.manifold_pressure, "absolute"),
    ]
    columns += [Entry(name, "absolute pressure", values, "absolute") for name, values in result.pressure.items()]
    columns += [
        Entry(f"{name}_other_way", "absolute pressure", values, "absolute") for name, values in result.back.items()
    ]
    return frame(columns, units)


def event_figure(result: PressureEvent, ax: PlotAxes | None = None) -> Figure:
    """Draw the pressure of the rail that swings most and of the manifold over time, there and the other way."""
    fig, axis = panel(ax, width=8.0, height=4.2)
    unit = ""
    swings = {name: float(np.ptp(values)) for name, values in result.pressure.items()}
    inner = [name for name in swings if "_bore" not in name]
    first = max(inner, key=lambda name: swings[name])
    drawn = {
        f"{first}, there": result.pressure[first],
        f"{first}, the other way": result.back[first],
        "manifold, there": result.manifold_pressure,
    }
    for number, (label, pressures) in enumerate(drawn.items()):
        values, unit = shown_values(pressures, "absolute pressure")
        axis.plot(1e3 * result.time, values, label=label, **line_style(number, points=len(result.time)))
    label_panel(axis, "time, ms", f"{unit} absolute")
    axis.set_xlim(0.0, 1e3 * float(result.time[-1]))
    legend(axis, loc="center left", anchor=(1.0, 0.5))
    caption(fig, f"{result.headline}.", ax)
    return fig
