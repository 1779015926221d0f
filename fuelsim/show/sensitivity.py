"""Drop by part, gains of changes and tornado, as tables and a figure."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim.show.style import LINE_STYLES, caption, figure
from fuelsim.show.tables import column
from fuelsim.studies.vary import in_words
from fuelsim.units import shown, shown_values, unit_system

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

    from fuelsim.studies.drop_split import DropSplit
    from fuelsim.studies.sensitivity import Gains, Sensitivity

__all__ = ["drop_table", "gains_table", "sensitivity_table", "tornado_figure"]


def drop_table(split: DropSplit, system: str | None = None) -> pd.DataFrame:
    """Return one row per operating point with the drop of each part."""
    import pandas as pd

    system = unit_system(system)
    conditions = split.run.conditions
    columns: dict[str, Any] = {}

    def add(name: str, kind: str, value: Any) -> None:
        title, numbers = column(name, kind, value, system)
        columns[title] = np.broadcast_to(numbers, conditions.shape).reshape(-1)

    add("engine", "engine speed", conditions.rpm)
    add("load", "fraction", conditions.load)
    for part, drop in split.friction.items():
        add(part, "pressure difference", drop)
    add("height", "pressure difference", sum(split.height.values()))
    add("total", "pressure difference", split.total)
    return pd.DataFrame(columns)


def gains_table(gains: Gains, system: str | None = None) -> pd.DataFrame:
    """Return the car as it is, then what each change adds; means over the operating points."""
    import pandas as pd

    system = unit_system(system)
    points = tuple(range(1, gains.base.ndim))
    rows = np.concatenate([gains.base[None], gains.gain])
    rows = rows.mean(axis=tuple(axis + 1 for axis in points)) if points else rows
    table: dict[str, Any] = {}
    for number, measure in enumerate(gains.measures):
        title, first = column(measure.name, measure.kind, rows[:1, number], system, measure.suffix)
        kind = "temperature difference" if measure.kind == "temperature" else measure.kind
        table[title] = np.concatenate([first, column(measure.name, kind, rows[1:, number], system)[1]])
    return pd.DataFrame(table, index=pd.Index(["as it is", *(f"+ {name}" for name in gains.changes)], name="change"))


def sensitivity_table(result: Sensitivity, system: str | None = None) -> pd.DataFrame:
    """Return one row per input, the strongest first."""
    import pandas as pd

    system = unit_system(system)
    measure = result.measure
    difference = "temperature difference" if measure.kind == "temperature" else measure.kind
    cells = [
        ("low", [in_words(key, value) for key, value in zip(result.inputs, result.low_input, strict=True)]),
        ("high", [in_words(key, value) for key, value in zip(result.inputs, result.high_input, strict=True)]),
        column(f"{measure.name}_at_low", measure.kind, result.low, system, measure.suffix),
        column(f"{measure.name}_at_high", measure.kind, result.high, system, measure.suffix),
        column("swing", difference, result.swing, system),
    ]
    return pd.DataFrame(dict(cells), index=pd.Index(result.inputs, name="input"))


def tornado_figure(result: Sensitivity) -> Figure:
    """Draw one bar per input from its low to its high value, the strongest on top, about the car as it is."""
    inputs = len(result.inputs)
    drawn, axes = figure(width=7.4, height=1.2 + 0.36 * max(inputs, 1))
    axis = axes[0, 0]
    kind = result.measure.kind
    base, unit = shown_values(result.base, kind)
    low, high = shown_values(result.low, kind)[0], shown_values(result.high, kind)[0]
    place = np.arange(inputs)[::-1]
    for values, word, look, hatch in ((low, "low", LINE_STYLES[0], "//"), (high, "high", LINE_STYLES[1], "")):
        axis.barh(place, values - base, left=base, height=0.62, color=look["color"], alpha=0.8, hatch=hatch, label=word)
    names = [
        f"{key}: {in_words(key, below)} … {in_words(key, above)}"
        for key, below, above in zip(result.inputs, result.low_input, result.high_input, strict=True)
    ]
    axis.set_yticks(place, names, fontsize=8)
    axis.axvline(float(base), color="black", linewidth=1.0)
    suffix = f" {result.measure.suffix}" if result.measure.suffix else ""
    axis.set_xlabel(f"{result.measure.about}, {unit}{suffix}".replace(", ,", ","))
    axis.legend(frameon=False, fontsize=8, loc="center left", bbox_to_anchor=(1.0, 0.5))
    if inputs:
        strongest = " of the ".join(reversed(result.inputs[0].replace("_", " ").split("."))).capitalize()
        swing = shown(float(result.swing[0]), "temperature difference" if kind == "temperature" else kind, digits=2)
        caption(drawn, f"{strongest} moves {result.measure.about} most: by {swing} over its usual spread.")
    return drawn
