"""Drop by part, gains of changes and tornado, as tables and a figure."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fuelsim.show.style import LINE_STYLES, DrawStyle, caption, label_panel, legend, panel
from fuelsim.show.tables import Column, Entry, difference_kind, frame, marked
from fuelsim.studies.vary import in_words
from fuelsim.typing import FloatArray, Given, PlotAxes
from fuelsim.units import shown, shown_values

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

    from fuelsim.studies.drop_split import DropSplit
    from fuelsim.studies.sensitivity import Sensitivity
    from fuelsim.studies.what_if import Gains

__all__ = ["drop_figure", "drop_table", "gains_table", "sensitivity_table", "tornado_figure"]

HATCHES = ("", "//", "..", "xx", "\\\\", "++", "oo")
"""Patterns of areas, so that they are told apart in grey."""
LEAST_BAR = 0.005
"""Swing of an input over the largest, from which a bar is seen."""


def drop_table(split: DropSplit, units: str | None = None) -> pd.DataFrame:
    """Return one row per operating point with the pressure drop of each part.

    Parameters
    ----------
    split : DropSplit
        Where pressure is lost.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    conditions = split.run.conditions
    entries = [
        Entry("engine", "engine speed", conditions.rpm),
        Entry("load", "fraction", conditions.load),
        *(Entry(part, "pressure difference", drop) for part, drop in split.friction.items()),
        Entry("height", "pressure difference", sum(split.height.values())),
        Entry("total", "pressure difference", split.total),
    ]
    flat = (np.broadcast_to(np.asarray(entry.values), conditions.shape).reshape(-1) for entry in entries)
    return frame([entry._replace(values=values) for entry, values in zip(entries, flat, strict=True)], units)


def drop_figure(split: DropSplit, ax: PlotAxes | None = None) -> Figure:
    """Draw how much pressure each part loses: as bars at one operating point, else stacked over the points.

    Parameters
    ----------
    split : DropSplit
        Where pressure is lost.
    ax : Axes, optional
        Axes of the user's own.
    """
    unit = shown_values(0.0, "pressure difference")[1]
    drops = {part: np.ravel(np.asarray(values)) for part, values in split.friction.items()}
    drops["height"] = np.ravel(np.asarray(sum(split.height.values())))
    drops = {
        part.replace("_", " "): np.asarray(shown_values(values, "pressure difference")[0])
        for part, values in drops.items()
    }
    points = np.size(split.total)
    fig, axis = panel(ax, width=7.2, height=1.3 + 0.36 * len(drops) if points == 1 else 4.2)
    if points == 1:
        rows = np.arange(len(drops))[::-1]
        values = np.array([float(each[0]) for each in drops.values()])
        axis.barh(rows, values, height=0.62, color=LINE_STYLES[0]["color"], alpha=0.8)
        for row, value in zip(rows, values, strict=True):
            where: DrawStyle = {"xytext": (4, 0), "textcoords": "offset points", "va": "center", "fontsize": 8}
            axis.annotate(f"{value:.3g}", (max(value, 0.0), row), **where)
        axis.set_yticks(rows, list(drops))
        axis.margins(x=0.12)
        label_panel(axis, f"pressure lost, {unit}", "")
    else:
        along, label = _along(split)
        below = np.zeros(points)
        for number, (part, values) in enumerate(drops.items()):
            top = below + values
            colour, hatch = LINE_STYLES[number % len(LINE_STYLES)]["color"], HATCHES[number % len(HATCHES)]
            style: DrawStyle = {"alpha": 0.55, "facecolor": colour, "edgecolor": colour, "hatch": hatch}
            axis.fill_between(along, below, top, label=part, linewidth=0.8, **style)
            below = top
        label_panel(axis, label, f"pressure lost, {unit}")
        axis.set_xlim(float(along.min()), float(along.max()))
        legend(axis, loc="center left", anchor=(1.0, 0.5))
    caption(fig, _drop_sentence(split), ax)
    return fig


def _along(split: DropSplit) -> tuple[FloatArray, str]:
    """Return what the operating points are drawn over: engine speed where it varies, else their number."""
    speed = np.ravel(np.broadcast_to(np.asarray(split.run.conditions.rpm, dtype=float), split.run.conditions.shape))
    if np.all(np.diff(speed) > 0.0):
        return speed, "engine speed, rpm"
    return np.arange(speed.size, dtype=float), "operating point"


def _drop_sentence(split: DropSplit) -> str:
    """Return where most pressure is lost, at the point that loses most."""
    total = np.ravel(np.asarray(split.total))
    if not np.any(np.isfinite(total)):
        return "No operating point was solved here."
    at = int(np.nanargmax(total))
    friction = {part: float(np.ravel(np.asarray(values))[at]) for part, values in split.friction.items()}
    most = max(friction, key=lambda part: friction[part])
    lost, whole = (shown(value, "pressure difference", digits=2) for value in (friction[most], float(total[at])))
    return (
        f"From {split.start.replace('_', ' ')} to {split.end.replace('_', ' ')} {whole} are lost, most of it in"
        f" {most.replace('_', ' ')}: {lost}."
    )


def gains_table(gains: Gains, units: str | None = None) -> pd.DataFrame:
    """Return the car as it is, then what each change adds; means over the operating points.

    Parameters
    ----------
    gains : Gains
        What changes buy.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    import pandas as pd

    rows = np.concatenate([gains.base[None], gains.gain])  # (1 + changes, measures, points ...)
    rows = rows.reshape(*rows.shape[:2], -1).mean(axis=-1)
    columns = []
    for number, measure in enumerate(gains.measures):
        base = Entry(measure.name, measure.kind, rows[:1, number], measure.suffix).column(units)
        added = Entry(measure.name, difference_kind(measure.kind), rows[1:, number]).column(units)
        columns.append(Column(base.name, np.concatenate([np.asarray(base.values), np.asarray(added.values)])))
    names = ["as it is", *(f"+ {name}" for name in gains.changes)]
    return marked(frame(columns).set_axis(pd.Index(names, name="change"), axis="index"), gains.completion)


def sensitivity_table(result: Sensitivity, units: str | None = None) -> pd.DataFrame:
    """Return one row per input, the strongest first.

    Parameters
    ----------
    result : Sensitivity
        A measure at the ends of each input's spread.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    import pandas as pd

    measure = result.measure
    columns: list[Entry | Column] = [
        Column("low", [in_words(key, value) for key, value in zip(result.inputs, result.low_input, strict=True)]),
        Column("high", [in_words(key, value) for key, value in zip(result.inputs, result.high_input, strict=True)]),
        Entry(f"{measure.name}_at_low", measure.kind, result.low, measure.suffix),
        Entry(f"{measure.name}_at_high", measure.kind, result.high, measure.suffix),
        Entry("swing", difference_kind(measure.kind), result.swing),
    ]
    table = frame(columns, units).set_axis(pd.Index(result.inputs, name="input"), axis="index")
    return marked(table, result.completion)


def tornado_figure(result: Sensitivity, ax: PlotAxes | None = None) -> Figure:
    """Draw one bar per input from its low to its high value, the strongest on top, about the car as it is.

    Inputs whose bar could not be seen are named below the picture instead.

    Parameters
    ----------
    result : Sensitivity
        A measure at the ends of each input's spread.
    ax : Axes, optional
        Axes of the user's own.
    """
    measure = result.measure
    swings = np.asarray(result.swing, dtype=float)
    largest = float(np.nanmax(swings, initial=0.0))
    visible = np.isnan(swings) | (swings > LEAST_BAR * largest)
    inputs = int(visible.sum())
    fig, axis = panel(ax, width=7.8, height=1.4 + 0.36 * max(inputs, 1))
    base, unit = shown_values(result.base, measure.kind)
    rows = np.arange(inputs)[::-1]
    furthest = np.zeros(inputs)
    for end, values, style, hatch in (
        ("low", result.low, LINE_STYLES[0], "//"),
        ("high", result.high, LINE_STYLES[1], ""),
    ):
        change = np.asarray(shown_values(values, measure.kind)[0] - base)[visible]
        axis.barh(rows, change, left=base, height=0.62, color=style["color"], alpha=0.8, hatch=hatch, label=end)
        furthest = np.fmax(furthest, change)
    for row, swing, furthest_end in zip(rows, swings[visible], furthest, strict=True):
        if np.isfinite(swing):
            words = shown(float(swing), difference_kind(measure.kind), digits=2)
            where: DrawStyle = {"xytext": (4, 0), "textcoords": "offset points", "va": "center", "fontsize": 8}
            axis.annotate(words, (float(base + furthest_end), row), **where)
    axis.margins(x=0.2)
    names = [
        f"{key}: {_end(key, low, at_low)} … {_end(key, high, at_high)}"
        for key, low, high, at_low, at_high, seen in zip(
            result.inputs, result.low_input, result.high_input, result.low, result.high, visible, strict=True
        )
        if seen
    ]
    axis.set_yticks(rows, names, fontsize=8)
    axis.axvline(float(base), color="black", linewidth=1.0)
    suffix = f" {measure.suffix}" if measure.suffix else ""
    axis.set_xlabel(f"{measure.about}, {unit}{suffix}".replace(", ,", ","))
    legend(axis, loc="center left", anchor=(1.04, 0.5))
    if len(result.inputs):
        strongest = " of the ".join(reversed(result.inputs[0].replace("_", " ").split("."))).capitalize()
        swing = shown(float(result.swing[0]), difference_kind(measure.kind), digits=2)
        without = [f"{key} {in_words(key, given)}" for key, given in result.ends_without_value]
        none = f" No answer at {', '.join(without)}." if without else ""
        unseen = int(np.size(visible) - inputs)
        least = shown(LEAST_BAR * largest, difference_kind(measure.kind), digits=2)
        small = f" {unseen} inputs move it by less than {least} and are not drawn." if unseen else ""
        caption(fig, f"{strongest} moves {measure.about} most: by {swing} over its usual spread.{none}{small}", ax)
    return fig


def _end(key: str, given: Given, value: float) -> str:
    """Return one end of an input in words; NaN is marked, since it has no bar."""
    return in_words(key, given) + (" (no answer)" if np.isnan(value) else "")
