"""Cars and layouts on the hot days of many places: a picture, a table, and the verdict on each in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.car.layouts import layout_title
from fuelsim.show.style import caption, figure
from fuelsim.show.tables import Entry, frame
from fuelsim.show.temperatures import difference_unit, differences, whole_degrees
from fuelsim.studies.climates import Verdict

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

    from fuelsim.studies.climates import ClimateRow, ClimateTable

__all__ = ["climate_figure", "climate_table", "verdict_in_words"]


class _Colour(NamedTuple):
    """Words of the legend and colour of a cell."""

    words: str
    colour: str


_LIQUID = _Colour("stays liquid", "#56B4E9")
_NOISY = _Colour("liquid, short of quiet running", "#cfe8f7")
_VAPOUR = _Colour("vapour somewhere, engine runs", "#f7e3b0")
_BOILS = _Colour("tank boils, engine runs", "#E69F00")
_LEAN = _Colour("engine runs lean", "#E8A0BF")
_STOPS = _Colour("engine stops, not by vapour", "#999999")
_LOCK = _Colour("vapour lock", "#D55E00")
_COLOURS = {
    Verdict.STAYS_LIQUID: _LIQUID,
    Verdict.SHORT_OF_NPSH: _NOISY,
    Verdict.VAPOUR_IN_RAIL: _VAPOUR,
    Verdict.VAPOUR_AT_PUMP: _VAPOUR,
    Verdict.PUMP_OVER_LIMIT: _VAPOUR,
    Verdict.TANK_BOILS: _BOILS,
    Verdict.RUNS_LEAN: _LEAN,
    Verdict.ENGINE_STOPS: _STOPS,
    Verdict.VAPOUR_LOCK: _LOCK,
}
_WORDS = {
    Verdict.STAYS_LIQUID: "stays liquid",
    Verdict.SHORT_OF_NPSH: "liquid, short of quiet running from {time}",
    Verdict.VAPOUR_IN_RAIL: "vapour in the rail from {time}",
    Verdict.VAPOUR_AT_PUMP: "vapour at the pump from {time}",
    Verdict.PUMP_OVER_LIMIT: "pump over its vapour limit from {time}",
    Verdict.TANK_BOILS: "tank boils from {time}",
    Verdict.RUNS_LEAN: "engine runs lean from {time}",
    Verdict.ENGINE_STOPS: "engine stops after {time}, not by vapour",
    Verdict.VAPOUR_LOCK: "vapour lock after {time}",
}


def verdict_in_words(row: ClimateRow) -> str:
    """Return what happened to one car on one day.

    Parameters
    ----------
    row : ClimateRow
        One cell of a climate table.
    """
    return _WORDS[row.verdict].format(time=_minutes(row.verdict_time))


def _minutes(seconds: float) -> str:
    return f"{seconds / 60.0:.0f} min"


def climate_figure(result: ClimateTable) -> Figure:
    """Draw what becomes of every car and layout on the hot day of every place, in words and in colour.

    Parameters
    ----------
    result : ClimateTable
        One row per place, car and layout, every combination of them once.
    """
    from matplotlib.colors import ListedColormap
    from matplotlib.patches import Patch

    places = list(dict.fromkeys(row.place for row in result.rows))
    pairs = list(dict.fromkeys((row.car, row.layout) for row in result.rows))
    cells = {(row.place, row.car, row.layout): row for row in result.rows}
    colours = list(dict.fromkeys(_COLOURS.values()))
    numbers = np.array([[colours.index(_COLOURS[cells[place, *pair].verdict]) for place in places] for pair in pairs])
    fig, axes = figure(1, 1, width=max(1.3 * len(places) + 3.0, 6.0), height=0.55 * len(pairs) + 1.6)
    axis = axes[0, 0]
    axis.grid(False)
    colour_map = ListedColormap([each.colour for each in colours])
    axis.imshow(numbers, cmap=colour_map, vmin=-0.5, vmax=len(colours) - 0.5, aspect="auto")
    for row, pair in enumerate(pairs):
        for column, place in enumerate(places):
            axis.text(column, row, _cell_text(cells[place, *pair]), ha="center", va="center", fontsize=7.5)
    hottest = {row.place: whole_degrees(row.hottest_air) for row in result.rows}
    names = [f"{place.replace('_', ' ').title()}\n{hottest[place]}" for place in places]
    axis.set_xticks(np.arange(len(places)), names, fontsize=8)
    axis.set_yticks(np.arange(len(pairs)), [f"{car}\n{layout_title(layout)}" for car, layout in pairs], fontsize=8)
    axis.tick_params(length=0)
    present = [colours[number] for number in np.unique(numbers)]
    handles = [Patch(facecolor=each.colour, edgecolor="#888888", label=each.words) for each in present]
    fig.legend(handles=handles, loc="outside lower center", ncols=len(present), frameon=False, fontsize=8)
    locked = sum(row.verdict is Verdict.VAPOUR_LOCK for row in result.rows)
    caption(fig, f"Two hours of traffic jam on a hot day: {locked} of {numbers.size} cases end in vapour lock.")
    return fig


def _cell_text(row: ClimateRow) -> str:
    if row.verdict is Verdict.VAPOUR_LOCK:
        return f"lock at\n{_minutes(row.verdict_time)}"
    if row.verdict is Verdict.TANK_BOILS:
        return f"boils\nfrom {_minutes(row.verdict_time)}"
    if row.verdict is Verdict.RUNS_LEAN:
        return f"lean\nfrom {_minutes(row.verdict_time)}"
    if row.verdict is Verdict.ENGINE_STOPS:
        return f"stops at\n{_minutes(row.verdict_time)}"
    return f"{float(differences(row.least_pump_margin)):+.1f} {difference_unit()}"


def climate_table(result: ClimateTable, units: str | None = None) -> pd.DataFrame:
    """Return one row per place, car and layout: least margins, hottest tank, and the worst that happened.

    Parameters
    ----------
    result : ClimateTable
        One row per place, car and layout.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    rows = result.rows
    table = frame(
        [
            Entry("hottest_air", "temperature", [row.hottest_air for row in rows]),
            Entry("hottest_tank", "temperature", [row.hottest_tank for row in rows]),
            Entry("least_pump_inlet_margin", "temperature difference", [row.least_pump_margin for row in rows]),
            Entry("least_rail_margin", "temperature difference", [row.least_rail_margin for row in rows]),
            Entry("vapour_lost", "mass", [row.vapour_lost for row in rows]),
        ],
        units,
    )
    table.insert(0, "place", [row.place for row in rows])
    table.insert(1, "car", [row.car for row in rows])
    table.insert(2, "layout", [row.layout for row in rows])
    table["outcome"] = [verdict_in_words(row) for row in rows]
    return table
