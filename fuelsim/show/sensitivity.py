"""Drop by part, gains of changes and tornado, as tables and a figure."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fuelsim.show.style import LINE_STYLES, caption, figure, legend
from fuelsim.show.tables import Column, Entry, difference_kind, frame, marked
from fuelsim.studies.vary import in_words
from fuelsim.typing import Given
from fuelsim.units import shown, shown_values

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

    from fuelsim.studies.drop_split import DropSplit
    from fuelsim.studies.sensitivity import Sensitivity
    from fuelsim.studies.what_if import Gains

__all__ = ["drop_table", "gains_table", "sensitivity_table", "tornado_figure"]


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


def tornado_figure(result: Sensitivity) -> Figure:
    """Draw one bar per input from its low to its high value, the strongest on top, about the car as it is.

    Parameters
    ----------
    result : Sensitivity
        A measure at the ends of each input's spread.
    """
    inputs, measure = len(result.inputs), result.measure
    fig, axes = figure(width=7.4, height=1.2 + 0.36 * max(inputs, 1))
    axis = axes[0, 0]
    base, unit = shown_values(result.base, measure.kind)
    rows = np.arange(inputs)[::-1]
    for end, values, style, hatch in (
        ("low", result.low, LINE_STYLES[0], "//"),
        ("high", result.high, LINE_STYLES[1], ""),
    ):
        change = shown_values(values, measure.kind)[0] - base
        axis.barh(rows, change, left=base, height=0.62, color=style["color"], alpha=0.8, hatch=hatch, label=end)
    names = [
        f"{key}: {_end(key, low, at_low)} … {_end(key, high, at_high)}"
        for key, low, high, at_low, at_high in zip(
            result.inputs, result.low_input, result.high_input, result.low, result.high, strict=True
        )
    ]
    axis.set_yticks(rows, names, fontsize=8)
    axis.axvline(float(base), color="black", linewidth=1.0)
    suffix = f" {measure.suffix}" if measure.suffix else ""
    axis.set_xlabel(f"{measure.about}, {unit}{suffix}".replace(", ,", ","))
    legend(axis, loc="center left", anchor=(1.0, 0.5))
    if inputs:
        strongest = " of the ".join(reversed(result.inputs[0].replace("_", " ").split("."))).capitalize()
        swing = shown(float(result.swing[0]), difference_kind(measure.kind), digits=2)
        without = [f"{key} {in_words(key, given)}" for key, given in result.ends_without_value]
        none = f" No answer at {', '.join(without)}." if without else ""
        caption(fig, f"{strongest} moves {measure.about} most: by {swing} over its usual spread.{none}")
    return fig


def _end(key: str, given: Given, value: float) -> str:
    """Return one end of an input in words; NaN is marked, since it has no bar."""
    return in_words(key, given) + (" (no answer)" if np.isnan(value) else "")
