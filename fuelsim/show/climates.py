"""Cars and layouts on the hot days of many places: a picture, a table, and the verdict on each in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim import units as unit_systems
from fuelsim.car.layouts import layout_title
from fuelsim.show.style import caption, figure
from fuelsim.show.tables import Entry, frame, marked
from fuelsim.show.temperatures import difference_unit, differences, whole_degrees
from fuelsim.show.uncertainty import share_in_words
from fuelsim.studies.climates import Survival, Verdict

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fuelsim.studies.climate_limits import BoilingLimit
    from fuelsim.studies.climates import ClimateRow, ClimateTable, DayResult

__all__ = ["COLOURS", "climate_figure", "climate_sentences", "climate_table", "verdict_in_words"]


class _Colour(NamedTuple):
    """Words of the legend, colour of a cell, and colour of the text on it."""

    words: str
    colour: str
    text: str = "black"


INCHES_OF_VERDICT = 2.3
"""Width of an entry of the legend."""
COLOURS = {
    Survival.LIQUID: _Colour("stays liquid", "#e3f1fa"),
    Survival.VAPOUR: _Colour("vapour somewhere, engine runs", "#f2c864"),
    Survival.TANK_BOILS: _Colour("tank boils, engine runs", "#d9822b"),
    Survival.FAILS: _Colour("runs lean, or stops", "#8c2318", "white"),
}
"""Each is darker than the one before, so that they differ in grey too."""
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
_SHORT = {
    Verdict.SHORT_OF_NPSH: "noise",
    Verdict.VAPOUR_IN_RAIL: "rail",
    Verdict.VAPOUR_AT_PUMP: "pump",
    Verdict.PUMP_OVER_LIMIT: "limit",
    Verdict.TANK_BOILS: "boils",
    Verdict.RUNS_LEAN: "lean",
    Verdict.ENGINE_STOPS: "stops",
    Verdict.VAPOUR_LOCK: "lock",
}


def verdict_in_words(day: DayResult) -> str:
    """Return what happened to one car on one day.

    Parameters
    ----------
    day : DayResult
        The day.
    """
    if day.verdict is Verdict.TANK_BOILS and day.verdict_time == 0.0:
        return "tank boils before the start"
    return _WORDS[day.verdict].format(time=_minutes(day.verdict_time))


def _minutes(seconds: float) -> str:
    return f"{seconds / 60.0:.0f} min"


def _range(row: ClimateRow, verdict: Verdict) -> str:
    """Return when something happens over the bands: "31-44 min", or "31 min" where there is no span."""
    earliest, latest = row.range_of(verdict)
    if not np.isfinite(latest) or f"{earliest / 60.0:.0f}" == f"{latest / 60.0:.0f}":
        return _minutes(earliest)
    return f"{earliest / 60.0:.0f}-{latest / 60.0:.0f} min"


def _pressure(pascal: float) -> str:
    return unit_systems.shown(pascal, "absolute pressure", digits=2)


def _limit_in_words(limit: BoilingLimit) -> str:
    """Return above which vapour pressure fuel boils, and where first."""
    where = limit.station.replace("_", " ")
    if np.isinf(limit.vapour_pressure):
        return "no petrol boils"
    if limit.vapour_pressure == 0.0:
        return f"every petrol boils, first at {where}"
    return f"boils above {_pressure(limit.vapour_pressure)} (first at {where})"


def climate_sentences(result: ClimateTable) -> list[str]:
    """Return the verdict on each cell in words; where it differs over the bands, what it depends on.

    Parameters
    ----------
    result : ClimateTable
        The cells.
    """
    return [_sentence(row) + _sure(row) for row in result.rows]


def _sure(row: ClimateRow) -> str:
    """Return in how many samples the engine fails, and how hot the tank gets in them."""
    if not row.samples:
        return ""
    low, high = (unit_systems.shown(end, "temperature", digits=3) for end in _hottest(row))
    fails = share_in_words(row.share_of(Survival.FAILS))
    return f"; lean or stopped in {fails} % of {len(row.samples)} samples, hottest tank {low} to {high} in 90 % of them"


def _hottest(row: ClimateRow) -> tuple[float, float]:
    """Return between which hottest tanks 90 % of the samples lie, K; those that boil before the start have none."""
    hottest = np.array([day.hottest_tank for day in row.samples if np.isfinite(day.hottest_tank)])
    if not hottest.size:
        return np.nan, np.nan
    low, high = np.quantile(hottest, (0.05, 0.95), method="hazen")
    return float(low), float(high)


def _sentence(row: ClimateRow) -> str:
    if row.favourable is None or row.adverse is None:
        return verdict_in_words(row.middle)
    limit = "" if row.limit is None else f"; {_limit_in_words(row.limit)}"
    if not row.decided:
        ends = f'from "{verdict_in_words(row.favourable)}" to "{verdict_in_words(row.adverse)}" over the bands'
        return f"not decided by what is known: {ends}{limit}"
    if row.survival is Survival.LIQUID:
        kelvin = unit_systems.shown(row.adverse.least_pump_margin, "temperature difference", digits=2)
        return f"stays liquid over the bands, with {kelvin} to boiling at the pump at least{limit}"
    verdicts = {day.verdict for day in row.sides}
    if len(verdicts) == 1:
        earliest, latest = (value / 60.0 for value in row.range_of(row.verdict))
        when = (
            f"between {earliest:.0f} and {latest:.0f} min"
            if round(earliest) < round(latest)
            else f"at {earliest:.0f} min"
        )
        return f"{_SHORT_WORDS[row.verdict]} {when} over the bands{limit}"
    return f'from "{verdict_in_words(row.favourable)}" to "{verdict_in_words(row.adverse)}" over the bands{limit}'


_SHORT_WORDS = {
    Verdict.VAPOUR_IN_RAIL: "vapour in the rail",
    Verdict.VAPOUR_AT_PUMP: "vapour at the pump",
    Verdict.PUMP_OVER_LIMIT: "pump over its vapour limit",
    Verdict.TANK_BOILS: "tank boils",
    Verdict.RUNS_LEAN: "engine runs lean",
    Verdict.ENGINE_STOPS: "engine stops, not by vapour,",
    Verdict.VAPOUR_LOCK: "vapour lock",
}


def climate_figure(result: ClimateTable) -> Figure:
    """Draw what becomes of every car and layout on the hot day of every place, in words and in colour.

    A cell whose verdict is not the same over the bands has the colour of their favourable end on its left and that of
    their adverse end on its right. Below stands the wrong fuel, where it was run.

    Parameters
    ----------
    result : ClimateTable
        At least one row.
    """
    from matplotlib.patches import Patch

    rows = result.rows
    places = list(dict.fromkeys(row.place for row in rows))
    pairs = list(dict.fromkeys((row.car, row.layout) for row in rows))
    with_wrong = any(row.wrong_fuel is not None for row in rows)
    fig, axes = figure(
        2 if with_wrong else 1, 1, width=max(1.3 * len(places) + 3.0, 7.0), height=0.5 * len(pairs) + 1.3
    )
    _draw_cells(axes[0, 0], rows, places, pairs)
    fuel = "the place's summer petrol"
    axes[0, 0].set_title(fuel if rows[0].adverse is None else f"{fuel}, over the bands", fontsize=9, loc="left")
    if with_wrong:
        _draw_cells(axes[1, 0], [row for row in rows if row.wrong_fuel is not None], places, pairs, wrong=True)
        axes[1, 0].set_title("the place's winter petrol on the same day, with a free vent", fontsize=9, loc="left")
    present = sorted({day.survival for row in rows for day in (*row.sides, row.wrong_fuel) if day is not None})
    handles = [
        Patch(facecolor=COLOURS[each].colour, edgecolor="#888888", label=COLOURS[each].words) for each in present
    ]
    columns = max(1, min(len(present), int(fig.get_figwidth() / INCHES_OF_VERDICT)))
    fig.legend(handles=handles, loc="outside lower left", ncols=columns, frameon=False, fontsize=8)
    caption(fig, _caption(result))
    return fig


def _caption(result: ClimateTable) -> str:
    rows = result.rows
    fails = sum(row.survival is Survival.FAILS for row in rows)
    told = f"Two hours of traffic jam on a hot day: the engine runs lean or stops in {fails} of {len(rows)} cases"
    if rows[0].adverse is not None:
        surely = sum(row.decided for row in rows)
        told += (
            f" with every input as it is; in {surely} the verdict is the same over the bands. A cell of two colours "
        )
        told += (
            "shows their favourable end on the left and their adverse end on the right, and the vapour pressure above "
        )
        told += "which fuel boils"
    if rows[0].samples:
        told += f"; fails: share of {len(rows[0].samples)} samples in which it runs lean or stops"
    if result.interrupted:
        told += f"; stopped early, {len(result.missing)} cases not run"
    return f"{told}."


def _draw_cells(
    axis: Axes, rows: Sequence[ClimateRow], places: list[str], pairs: list[tuple[str, str]], *, wrong: bool = False
) -> None:
    """Draw one grid of cells, of the place's petrol or of the wrong one."""
    from matplotlib.patches import Rectangle

    axis.grid(False)
    axis.set_xlim(-0.5, len(places) - 0.5)
    axis.set_ylim(len(pairs) - 0.5, -0.5)
    for row in rows:
        column, line = places.index(row.place), pairs.index((row.car, row.layout))
        days = [row.wrong_fuel] if wrong and row.wrong_fuel is not None else row.sides
        halves = (days[0], days[-1])
        for half, day in enumerate(halves):
            corner = (column - 0.5 + 0.5 * half, line - 0.5)
            axis.add_patch(Rectangle(corner, 0.5, 1.0, facecolor=COLOURS[day.survival].colour, linewidth=0.0))
        axis.add_patch(Rectangle((column - 0.5, line - 0.5), 1.0, 1.0, fill=False, edgecolor="white", linewidth=1.5))
        same = halves[0].survival is halves[1].survival
        words = _day_text(halves[0]) if wrong else _cell_text(row)
        if row.samples and not wrong:
            words += f"\nfails {100.0 * float(row.share_of(Survival.FAILS).value):.0f} %"
        # On two colours black on a white ground reads on both.
        box = None if same else {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1.2}
        colour = COLOURS[halves[0].survival].text if same else "black"
        axis.text(column, line, words, ha="center", va="center", fontsize=7.5, color=colour, bbox=box)
    hottest = {row.place: whole_degrees(row.hottest_air) for row in rows}
    fuels = {row.place: row.wrong_fuel if wrong else row.middle for row in rows}
    names = []
    for place in places:
        sold = fuels.get(place)
        fuel = "" if sold is None else f"\n{_pressure(sold.vapour_pressure)}"
        names.append(f"{place.replace('_', ' ').title()}\n{hottest.get(place, '')}{fuel}")
    axis.set_xticks(np.arange(len(places)), names, fontsize=8)
    axis.set_yticks(np.arange(len(pairs)), [f"{car}\n{layout_title(layout)}" for car, layout in pairs], fontsize=8)
    axis.tick_params(length=0)


def _cell_text(row: ClimateRow) -> str:
    """Return the range of the event over the bands, or what the verdict depends on."""
    if not row.decided and row.limit is not None:
        limit = row.limit.vapour_pressure
        return "boils with\nany petrol" if limit == 0.0 else f"boils above\n{_pressure(limit)}"
    if row.adverse is None or row.survival is Survival.LIQUID:
        return _day_text(row.middle if row.adverse is None else row.adverse)
    verdicts = {day.verdict for day in row.sides}
    if len(verdicts) == 1:
        return f"{_SHORT[row.verdict]}\n{_range(row, row.verdict)}"
    return f"{_SHORT[row.verdict]} or\nworse"


def _day_text(day: DayResult) -> str:
    if day.survival is Survival.LIQUID:
        return f"{float(differences(day.least_pump_margin)):+.1f} {difference_unit()}"
    if day.verdict_time == 0.0 and not np.isfinite(day.hottest_tank):
        return "boils before\nthe start"
    return f"{_SHORT[day.verdict]}\n{_minutes(day.verdict_time)}"


def climate_table(result: ClimateTable, units: str | None = None) -> pd.DataFrame:
    """Return one row per place, car and layout, which are the index, with its verdict.

    Beside it stand margins, what the verdict depends on, and the worst that happened.

    Parameters
    ----------
    result : ClimateTable
        The cells; those an interruption left out are rows without figures.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    rows, nan = result.rows, np.nan
    gone = [nan] * len(result.missing)
    days = [row.middle for row in rows]
    limits = [row.limit for row in rows]
    ranges = [row.range_of(row.verdict) for row in rows]

    def of_limits(name: str) -> list[float]:
        return [nan if limit is None else getattr(limit, name) for limit in limits] + gone

    table = frame(
        [
            Entry("hottest_air", "temperature", [row.hottest_air for row in rows] + gone),
            Entry("fuel_vapour_pressure", "absolute pressure", [day.vapour_pressure for day in days] + gone),
            Entry("hottest_tank", "temperature", [day.hottest_tank for day in days] + gone),
            Entry("least_pump_inlet_margin", "temperature difference", [day.least_pump_margin for day in days] + gone),
            Entry("least_rail_margin", "temperature difference", [day.least_rail_margin for day in days] + gone),
            Entry("vapour_lost", "mass", [day.vapour_lost for day in days] + gone),
            Entry("earliest", "time", [earliest for earliest, _ in ranges] + gone),
            Entry("latest", "time", [latest for _, latest in ranges] + gone),
            Entry("boils_above_vapour_pressure", "absolute pressure", of_limits("vapour_pressure")),
            Entry("boils_above_tank", "temperature", of_limits("tank_temperature")),
            Entry("margin_at_equal_set_pressure", "temperature difference", of_limits("margin")),
            Entry("margin_at_equal_set_pressure", "pressure difference", of_limits("pressure_margin")),
        ],
        units,
    )
    left_out = [""] * len(result.missing)
    names = [(row.place, row.car, row.layout) for row in rows] + list(result.missing)
    for number, column in enumerate(("place", "car", "layout")):
        table.insert(number, column, [name[number] for name in names])
    table = table.set_index(["place", "car", "layout"])
    if any(row.samples for row in rows):
        for number, name in enumerate(("fails_percent", "fails_low_percent", "fails_high_percent")):
            shares = [100.0 * float(row.share_of(Survival.FAILS)[number]) for row in rows]
            table[name] = np.round(shares + gone, 1)
    table["boils_first_at"] = ["" if limit is None else limit.station for limit in limits] + left_out
    table["verdict"] = [row.survival.name.lower() if row.decided else "not decided" for row in rows] + left_out
    for side in ("favourable", "adverse", "wrong_fuel"):
        ends = [getattr(row, side) for row in rows]
        table[side] = ["" if day is None else verdict_in_words(day) for day in ends] + left_out
    table["outcome"] = climate_sentences(result) + ["not run"] * len(result.missing)
    return marked(table, result.completion)
