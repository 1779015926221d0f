"""Pictures of heat: along the path, over a drive, over a soak, and maps of the margin."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim import units
from fuelsim.fields import declarations
from fuelsim.show.comparison_figure import readable
from fuelsim.show.style import caption, figure, line_style
from fuelsim.system.conditions import Conditions

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fuelsim.studies.climates import ClimateRow, ClimateTable
    from fuelsim.studies.margins import MarginMap
    from fuelsim.system.run import Run
    from fuelsim.transients.drive import Drive
    from fuelsim.transients.soak import Soak

__all__ = ["climate_figure", "drive_figure", "margin_figure", "path_figure", "soak_figure"]

STATIONS = ("tank", "pump_inlet", "pump_outlet", "rail_inlet", "rail")
_EVENT_MARKS = {
    "noise": ("v", "pump short of quiet running"),
    "pump margin gone": ("s", "fuel boils at the pump"),
    "rail margin gone": ("D", "fuel boils in the rail"),
    "tank boils": ("^", "tank boils"),
    "vapour lock": ("X", "vapour lock"),
    "fuel exhausted": ("P", "fuel exhausted"),
}


def _warm(values: Any) -> Any:
    """Return temperatures in the preferred unit."""
    return units.shown_values(np.asarray(values, dtype=float), "temperature")[0]


def _apart(values: Any) -> Any:
    """Return margins of temperature in the preferred unit."""
    return units.shown_values(np.asarray(values, dtype=float), "temperature difference")[0]


def _degree() -> str:
    return units.shown_values(0.0, "temperature")[1]


def _interval() -> str:
    return units.shown_values(0.0, "temperature difference")[1]


def _in_words(temperature: Any) -> str:
    """Return a temperature to the degree."""
    return f"{float(_warm(temperature)):.0f} {_degree()}"


def path_figure(runs: Sequence[Run], index: Any = ()) -> Figure:
    """Draw temperature and margin to boiling along the path from tank to rail, layouts side by side.

    Parameters
    ----------
    runs : sequence of Run
        One per layout, of the same conditions.
    index : int or tuple
        Which operating point.
    """
    drawn, axes = figure(1, 2)
    warm, margin = axes[0]
    places = np.arange(len(STATIONS))
    worst: list[tuple[float, str, str]] = []
    for number, run in enumerate(runs):
        look = line_style(number) | {"label": readable(run.layout), "markevery": 1}
        kelvin = [float(np.asarray(run.vapour_margin[name])[index]) for name in STATIONS]
        warm.plot(places, _warm([np.asarray(run.temperature[name])[index] for name in STATIONS]), **look)
        margin.plot(places, _apart(kelvin), **look)
        lowest = int(np.argmin(kelvin))
        worst.append((kelvin[lowest], readable(run.layout), STATIONS[lowest]))
    for axis, label in ((warm, f"fuel temperature, {_degree()}"), (margin, f"margin to boiling, {_interval()}")):
        axis.set_xticks(places, [name.replace("_", "\n") for name in STATIONS])
        axis.set_ylabel(label)
    _boiling_band(margin)
    warm.legend(frameon=False, fontsize=8)
    kelvin_least, layout, station = min(worst)
    least = units.shown(kelvin_least, "temperature difference", digits=2)
    caption(drawn, f"Nearest to boiling: {station.replace('_', ' ')} of {layout}, {least} from it.")
    return drawn


def drive_figure(drives: Sequence[Drive]) -> Figure:
    """Draw tank, rail and margin at the pump's inlet against time, with the events marked.

    Parameters
    ----------
    drives : sequence of Drive
        One per layout, over the same schedule.
    """
    drawn, axes = figure(3, 1, width=9.0, height=2.9)
    tank, rail, margin = axes[:, 0]
    first = drives[0]
    hours = np.asarray(first.time) / 3600.0
    air, bay = _warm(first.air_temperature), _warm(first.bay_temperature)
    for axis in (tank, rail):
        axis.plot(hours, air, color="#888888", linewidth=1.0, label="ambient air")
    rail.plot(hours, bay, color="#888888", linewidth=1.0, linestyle=":", label="bay air")
    marked: set[str] = set()
    for number, result in enumerate(drives):
        time = np.asarray(result.time) / 3600.0
        look = line_style(number, len(time)) | {"label": readable(result.layout), "marker": ""}
        in_tank = _warm(result.tank_temperature)
        tank.plot(time, in_tank, **look)
        driven = ~np.asarray(result.vapour_lock)
        rail.plot(time, np.where(driven, _warm(result.temperature["rail"]), np.nan), **look)
        margin.plot(time, np.where(driven, _apart(result.vapour_margin["pump_inlet"]), np.nan), **look)
        for event in result.events:
            mark, words = _EVENT_MARKS[event.name]
            label = "" if event.name in marked else words
            marked.add(event.name)
            at = event.time / 3600.0
            tank.plot(
                [at], [np.interp(at, time, in_tank)], mark, color=look["color"], markeredgecolor="black", label=label
            )
    boils = (
        np.nanmin([np.asarray(result.boiling_temperature) for result in drives], axis=0)
        if len({len(result.time) for result in drives}) == 1
        else np.asarray(first.boiling_temperature)
    )
    tank.plot(hours, _warm(boils), color="#803010", linestyle=(0, (1, 2)), linewidth=1.2, label="tank would boil")
    _phases(tank, first)
    tank.set_ylabel(f"tank, {_degree()}")
    rail.set_ylabel(f"rail, {_degree()}")
    margin.set_ylabel(f"margin at pump inlet, {_interval()}")
    margin.set_xlabel("time, h")
    _boiling_band(margin)
    for axis in axes[:, 0]:
        axis.set_xlim(0.0, hours[-1])
    for axis in (tank, rail):
        axis.legend(frameon=False, fontsize=7, loc="center left", bbox_to_anchor=(1.0, 0.5))
    caption(drawn, _drive_sentence(drives))
    return drawn


def _phases(axis: Axes, result: Drive) -> None:
    time, phase = np.asarray(result.time) / 3600.0, np.asarray(result.phase)
    starts = np.flatnonzero(np.concatenate([[True], phase[1:] != phase[:-1]]))
    for start in starts:
        axis.axvline(time[start], color="#cccccc", linewidth=0.8)
        axis.annotate(
            str(phase[start]),
            (time[start], 1.0),
            xycoords=("data", "axes fraction"),
            fontsize=7,
            color="#666666",
            xytext=(2, -9),
            textcoords="offset points",
        )


def _drive_sentence(drives: Sequence[Drive]) -> str:
    said = []
    for result in drives:
        hottest = _in_words(np.max(result.tank_temperature))
        lock = next((event for event in result.events if event.name == "vapour lock"), None)
        end = f"vapour lock after {lock.time / 60.0:.0f} min" if lock else "no vapour lock"
        said.append(f"{readable(result.layout)}: tank to {hottest}, {end}")
    return "; ".join(said) + "."


def soak_figure(soaks: Sequence[Soak]) -> Figure:
    """Draw rail temperature, rail pressure and seconds from key-on to pressure against time since the stop."""
    drawn, axes = figure(1, 3, width=4.4, height=3.5)
    warm, pressure, restart = axes[0]
    for number, soak in enumerate(soaks):
        minutes = np.asarray(soak.time) / 60.0
        look = line_style(number, len(minutes)) | {"label": readable(soak.layout)}
        warm.plot(minutes, _warm(soak.rail_temperature), **look)
        held, unit = units.shown_values(soak.rail_gauge_pressure, "pressure difference")
        pressure.plot(minutes, held, **look)
        needed = np.where(np.asarray(soak.pressure_needed) > 0.0, soak.pressure_needed, np.nan)
        needed = units.shown_values(needed, "pressure difference")[0]
        pressure.plot(minutes, needed, color=look["color"], linewidth=1.2, linestyle=(0, (1, 2)))
        seconds = np.where(np.isfinite(soak.restart.seconds_to_liquid), soak.restart.seconds_to_liquid, np.nan)
        restart.plot(minutes, seconds, **look)
    warm.plot(
        np.asarray(soaks[0].time) / 60.0,
        _warm(soaks[0].bay_temperature),
        color="#888888",
        linestyle=":",
        label="bay air",
    )
    for axis, label in (
        (warm, f"rail, {_degree()}"),
        (pressure, f"rail, {unit} gauge (dotted: needed)"),
        (restart, "key-on to liquid at the injectors, s"),
    ):
        axis.set_xlabel("time since the stop, min")
        axis.set_ylabel(label)
        axis.set_ylim(bottom=min(axis.get_ylim()[0], 0.0))
    warm.legend(frameon=False, fontsize=8)
    hottest = _in_words(max(float(np.max(soak.rail_temperature)) for soak in soaks))
    caption(drawn, f"Hot soak: the rail reaches up to {hottest}; below the dotted line its fuel boils.")
    return drawn


def margin_figure(result: MarginMap, station: str = "pump_inlet") -> Figure:
    """Draw the highest temperature that keeps a station liquid: curves over one axis, contours over two."""
    drawn, axes = figure(1, 1, width=6.4, height=4.4)
    axis = axes[0, 0]
    names = list(result.axes)
    values = [_shown_axis(name, np.asarray(result.axes[name])) for name in names]
    limit = _warm(result.limit[station])
    what = "tank" if result.limited == "tank_temperature" else "ambient air"
    if len(names) == 1:
        axis.plot(values[0][0], limit, **line_style(0, limit.size))
        axis.set_ylabel(f"highest {what}, {_degree()}")
    elif len(names) == 2:
        drawn_limits = axis.contourf(values[0][0], values[1][0], limit.T, levels=12, cmap="viridis")
        levels = drawn_limits.levels
        lines = axis.contour(values[0][0], values[1][0], limit.T, levels=levels, colors="black", linewidths=0.6)
        axis.clabel(lines, fontsize=8, fmt=f"%.0f {_degree()}")
        axis.set_ylabel(values[1][1])
        drawn.colorbar(drawn_limits, ax=axis, label=f"highest {what}, {_degree()}")
    axis.set_xlabel(values[0][1])
    place = station.replace("_", " ")
    caption(drawn, f"{readable(result.layout)}: the {place} stays liquid up to this temperature of the {what}.")
    return drawn


def _shown_axis(name: str, values: Any) -> tuple[Any, str]:
    kind = "absolute pressure" if name == "vapour_pressure" else declarations(Conditions)[name].kind
    shown, unit = units.shown_values(values, kind)
    words = "vapour pressure of the fuel (DVPE)" if name == "vapour_pressure" else name.replace("_", " ")
    return shown, f"{words}, {unit}" if unit else words


_VERDICTS = (
    ("stays liquid", "#56B4E9"),
    ("liquid, short of quiet running", "#cfe8f7"),
    ("vapour somewhere, engine runs", "#f7e3b0"),
    ("tank boils, engine runs", "#E69F00"),
    ("vapour lock", "#D55E00"),
)


def _verdict_class(verdict: str) -> int:
    starts = ("stays", "liquid", "vapour at", "vapour in", "tank boils", "vapour lock")
    return (0, 1, 2, 2, 3, 4)[next(i for i, start in enumerate(starts) if verdict.startswith(start))]


def climate_figure(result: ClimateTable) -> Figure:
    """Draw what becomes of every car and layout on the hot day of every place, in words and in colour."""
    from matplotlib.colors import ListedColormap
    from matplotlib.patches import Patch

    places = list(dict.fromkeys(row.place for row in result.rows))
    pairs = list(dict.fromkeys((row.car, row.layout) for row in result.rows))
    at = {(row.place, row.car, row.layout): row for row in result.rows}
    classes = np.array([[_verdict_class(at[place, *pair].verdict) for place in places] for pair in pairs])
    drawn, axes = figure(1, 1, width=max(1.3 * len(places) + 3.0, 6.0), height=0.55 * len(pairs) + 1.6)
    axis = axes[0, 0]
    axis.grid(False)
    colours = ListedColormap([colour for _, colour in _VERDICTS])
    axis.imshow(classes, cmap=colours, vmin=-0.5, vmax=len(_VERDICTS) - 0.5, aspect="auto")
    for row, pair in enumerate(pairs):
        for column, place in enumerate(places):
            axis.text(column, row, _cell_text(at[place, *pair]), ha="center", va="center", fontsize=7.5)
    hottest = {row.place: _in_words(row.hottest_air) for row in result.rows}
    names = [f"{place.replace('_', ' ').title()}\n{hottest[place]}" for place in places]
    axis.set_xticks(np.arange(len(places)), names, fontsize=8)
    axis.set_yticks(np.arange(len(pairs)), [f"{car}\n{readable(layout)}" for car, layout in pairs], fontsize=8)
    axis.tick_params(length=0)
    present = [Patch(facecolor=_VERDICTS[k][1], edgecolor="#888888", label=_VERDICTS[k][0]) for k in np.unique(classes)]
    drawn.legend(handles=present, loc="outside lower center", ncols=len(present), frameon=False, fontsize=8)
    locked = int(np.sum(classes == 4))
    caption(drawn, f"Two hours of traffic jam on a hot day: {locked} of {classes.size} cases end in vapour lock.")
    return drawn


def _cell_text(row: ClimateRow) -> str:
    kind = _verdict_class(row.verdict)
    if kind == 4:
        return f"lock at\n{row.lock_time / 60.0:.0f} min"
    if kind == 3:
        return "boils\n" + row.verdict.removeprefix("tank boils ")
    return f"{float(_apart(row.least_pump_margin)):+.1f} {_interval()}"


def _boiling_band(axis: Axes) -> None:
    axis.axhline(0.0, color="black", linewidth=1.0)
    low, high = axis.get_ylim()
    axis.set_ylim(min(low, -1.0), max(high, 1.0))
    axis.axhspan(axis.get_ylim()[0], 0.0, facecolor="#f3d9d0", edgecolor="#b08070", hatch="//", alpha=0.35)
    axis.annotate("boils", (0.01, 0.03), xycoords="axes fraction", fontsize=8, color="#803010", fontstyle="italic")
