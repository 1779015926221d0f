"""Pictures of heat: along the path, over a drive, over a soak, and maps of the margin."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from fuelsim import units
from fuelsim.fields import declarations
from fuelsim.show.comparison_figure import readable
from fuelsim.show.style import caption, figure, line_style
from fuelsim.show.temperatures import difference_unit, differences, temperature_unit, temperatures, whole_degrees
from fuelsim.system.conditions import Conditions
from fuelsim.transients.events import EventName

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fuelsim.studies.margins import MarginMap
    from fuelsim.system.run import Run
    from fuelsim.transients.drive_results import Drive
    from fuelsim.transients.soak import Soak

__all__ = ["drive_figure", "margin_figure", "path_figure", "soak_figure"]

STATIONS = ("tank", "pump_inlet", "pump_outlet", "rail_inlet", "rail")


class _Mark(NamedTuple):
    """Marker of an event and its words in the legend."""

    marker: str
    words: str


_EVENT_MARKS = {
    EventName.NOISE: _Mark("v", "pump short of quiet running"),
    EventName.PUMP_MARGIN_GONE: _Mark("s", "fuel boils at the pump"),
    EventName.RAIL_MARGIN_GONE: _Mark("D", "fuel boils in the rail"),
    EventName.TANK_BOILS: _Mark("^", "tank boils"),
    EventName.VAPOUR_LOCK: _Mark("X", "vapour lock"),
    EventName.FUEL_EXHAUSTED: _Mark("P", "fuel exhausted"),
}


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
        warm.plot(places, temperatures([np.asarray(run.temperature[name])[index] for name in STATIONS]), **look)
        margin.plot(places, differences(kelvin), **look)
        lowest = int(np.argmin(kelvin))
        worst.append((kelvin[lowest], readable(run.layout), STATIONS[lowest]))
    for axis, label in (
        (warm, f"fuel temperature, {temperature_unit()}"),
        (margin, f"margin to boiling, {difference_unit()}"),
    ):
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
    air, bay = temperatures(first.air_temperature), temperatures(first.bay_temperature)
    for axis in (tank, rail):
        axis.plot(hours, air, color="#888888", linewidth=1.0, label="ambient air")
    rail.plot(hours, bay, color="#888888", linewidth=1.0, linestyle=":", label="bay air")
    marked: set[str] = set()
    for number, result in enumerate(drives):
        time = np.asarray(result.time) / 3600.0
        look = line_style(number, len(time)) | {"label": readable(result.layout), "marker": ""}
        in_tank = temperatures(result.tank_temperature)
        tank.plot(time, in_tank, **look)
        driven = ~np.asarray(result.vapour_lock)
        rail.plot(time, np.where(driven, temperatures(result.temperature["rail"]), np.nan), **look)
        margin.plot(time, np.where(driven, differences(result.vapour_margin["pump_inlet"]), np.nan), **look)
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
    tank.plot(
        hours, temperatures(boils), color="#803010", linestyle=(0, (1, 2)), linewidth=1.2, label="tank would boil"
    )
    _phases(tank, first)
    tank.set_ylabel(f"tank, {temperature_unit()}")
    rail.set_ylabel(f"rail, {temperature_unit()}")
    margin.set_ylabel(f"margin at pump inlet, {difference_unit()}")
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
        hottest = whole_degrees(np.max(result.tank_temperature))
        lock = next((event for event in result.events if event.name is EventName.VAPOUR_LOCK), None)
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
        warm.plot(minutes, temperatures(soak.rail_temperature), **look)
        held, unit = units.shown_values(soak.rail_gauge_pressure, "pressure difference")
        pressure.plot(minutes, held, **look)
        needed = np.where(np.asarray(soak.pressure_needed) > 0.0, soak.pressure_needed, np.nan)
        needed = units.shown_values(needed, "pressure difference")[0]
        pressure.plot(minutes, needed, color=look["color"], linewidth=1.2, linestyle=(0, (1, 2)))
        seconds = np.where(np.isfinite(soak.restart.seconds_to_liquid), soak.restart.seconds_to_liquid, np.nan)
        restart.plot(minutes, seconds, **look)
    warm.plot(
        np.asarray(soaks[0].time) / 60.0,
        temperatures(soaks[0].bay_temperature),
        color="#888888",
        linestyle=":",
        label="bay air",
    )
    for axis, label in (
        (warm, f"rail, {temperature_unit()}"),
        (pressure, f"rail, {unit} gauge (dotted: needed)"),
        (restart, "key-on to liquid at the injectors, s"),
    ):
        axis.set_xlabel("time since the stop, min")
        axis.set_ylabel(label)
        axis.set_ylim(bottom=min(axis.get_ylim()[0], 0.0))
    warm.legend(frameon=False, fontsize=8)
    hottest = whole_degrees(max(float(np.max(soak.rail_temperature)) for soak in soaks))
    caption(drawn, f"Hot soak: the rail reaches up to {hottest}; below the dotted line its fuel boils.")
    return drawn


def margin_figure(result: MarginMap, station: str = "pump_inlet") -> Figure:
    """Draw the highest temperature that keeps a station liquid: curves over one axis, contours over two."""
    drawn, axes = figure(1, 1, width=6.4, height=4.4)
    axis = axes[0, 0]
    names = list(result.axes)
    values = [_shown_axis(name, np.asarray(result.axes[name])) for name in names]
    limit = temperatures(result.limit[station])
    what = "tank" if result.limited == "tank_temperature" else "ambient air"
    if len(names) == 1:
        axis.plot(values[0][0], limit, **line_style(0, limit.size))
        axis.set_ylabel(f"highest {what}, {temperature_unit()}")
    elif len(names) == 2:
        drawn_limits = axis.contourf(values[0][0], values[1][0], limit.T, levels=12, cmap="viridis")
        levels = drawn_limits.levels
        lines = axis.contour(values[0][0], values[1][0], limit.T, levels=levels, colors="black", linewidths=0.6)
        axis.clabel(lines, fontsize=8, fmt=f"%.0f {temperature_unit()}")
        axis.set_ylabel(values[1][1])
        drawn.colorbar(drawn_limits, ax=axis, label=f"highest {what}, {temperature_unit()}")
    axis.set_xlabel(values[0][1])
    place = station.replace("_", " ")
    caption(drawn, f"{readable(result.layout)}: the {place} stays liquid up to this temperature of the {what}.")
    return drawn


def _shown_axis(name: str, values: Any) -> tuple[Any, str]:
    kind = "absolute pressure" if name == "vapour_pressure" else declarations(Conditions)[name].kind
    shown, unit = units.shown_values(values, kind)
    words = "vapour pressure of the fuel (DVPE)" if name == "vapour_pressure" else name.replace("_", " ")
    return shown, f"{words}, {unit}" if unit else words


def _boiling_band(axis: Axes) -> None:
    axis.axhline(0.0, color="black", linewidth=1.0)
    low, high = axis.get_ylim()
    axis.set_ylim(min(low, -1.0), max(high, 1.0))
    axis.axhspan(axis.get_ylim()[0], 0.0, facecolor="#f3d9d0", edgecolor="#b08070", hatch="//", alpha=0.35)
    axis.annotate("boils", (0.01, 0.03), xycoords="axes fraction", fontsize=8, color="#803010", fontstyle="italic")
