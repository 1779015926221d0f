"""Pictures of heat: along the path, over a drive, over a soak, and maps of the margin."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.car.layouts import layout_title
from fuelsim.show.heat_tables import axis_kind
from fuelsim.show.style import (
    BOILING_COLOUR,
    DOTTED,
    DrawStyle,
    boiling_band,
    caption,
    figure,
    label_panel,
    legend,
    line_style,
)
from fuelsim.show.temperatures import difference_unit, differences, temperature_unit, temperatures, whole_degrees
from fuelsim.system.controller import EngineState
from fuelsim.transients.events import EventName
from fuelsim.typing import ArrayLike, FloatArray
from fuelsim.units import shown, shown_values

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fuelsim.studies.drive_bands import DriveBand
    from fuelsim.studies.margins import MarginMap
    from fuelsim.system.run import Run
    from fuelsim.transients.drive_results import Drive
    from fuelsim.transients.soak import Soak

__all__ = ["drive_band_figure", "drive_figure", "margin_figure", "path_figure", "soak_figure"]

PATH = ("tank", "pump_inlet", "pump_outlet", "rail_inlet", "rail")
"""Places along the path, in words that fit every plumbing: of the main pump and the first rail."""
_AIR_COLOUR = "#888888"


class _Mark(NamedTuple):
    """Marker of an event and its words in the legend."""

    marker: str
    words: str


_EVENT_MARKS = {
    EventName.NOISE: _Mark("v", "pump short of quiet running"),
    EventName.PUMP_MARGIN_GONE: _Mark("s", "fuel boils at the pump"),
    EventName.RAIL_MARGIN_GONE: _Mark("D", "fuel boils in the rail"),
    EventName.TANK_BOILS: _Mark("^", "tank boils"),
    EventName.OVER_VAPOUR_LIMIT: _Mark("d", "pump over its vapour limit"),
    EventName.LEAN: _Mark("h", "engine runs lean"),
    EventName.ENGINE_STOPS: _Mark("x", "engine stops"),
    EventName.VAPOUR_LOCK: _Mark("X", "vapour lock"),
    EventName.RESTARTS: _Mark("o", "engine fed again"),
    EventName.POT_LOW: _Mark("<", "pot low"),
    EventName.POT_EMPTY: _Mark(">", "pot empty"),
    EventName.FUEL_EXHAUSTED: _Mark("P", "fuel exhausted"),
}


class _LeastMargin(NamedTuple):
    """The station of a layout nearest to boiling, and its margin, K."""

    kelvin: float
    layout: str
    station: str


def path_figure(runs: Sequence[Run], index: int | tuple[int, ...] = ()) -> Figure:
    """Draw temperature and margin to boiling along the path from tank to first rail, layouts side by side.

    Parameters
    ----------
    runs : sequence of Run
        One per layout, of the same conditions.
    index : int or tuple
        Number of the operating point; left out for runs of one point.
    """
    fig, axes = figure(1, 2)
    warm, margin = axes[0]
    least: list[_LeastMargin] = []
    for number, run in enumerate(runs):
        title = run.plumbing.layout.title
        style = line_style(number) | {"label": title, "markevery": 1}
        stations = run.plumbing.stations_to_rail
        # A rail without a bore before its injectors has no inlet of its own.
        places = range(len(PATH)) if len(stations) == len(PATH) else (*range(len(stations) - 1), len(PATH) - 1)
        kelvin = [float(np.asarray(run.vapour_margin[name])[index]) for name in stations]
        warm.plot(places, temperatures([np.asarray(run.temperature[name])[index] for name in stations]), **style)
        margin.plot(places, differences(kelvin), **style)
        lowest = int(np.argmin(kelvin))
        least.append(_LeastMargin(kelvin[lowest], title, stations[lowest]))
    for axis, label in (
        (warm, f"fuel temperature, {temperature_unit()}"),
        (margin, f"margin to boiling, {difference_unit()}"),
    ):
        axis.set_xticks(range(len(PATH)), [name.replace("_", "\n") for name in PATH])
        axis.set_ylabel(label)
    _boiling_band(margin)
    legend(warm)
    nearest = min(least)
    kelvins = shown(nearest.kelvin, "temperature difference", digits=2)
    station = nearest.station.replace("_", " ")
    caption(fig, f"Nearest to boiling: {station} of {nearest.layout}, with a margin of {kelvins}.")
    return fig


def drive_figure(drives: Sequence[Drive]) -> Figure:
    """Draw tank, rail and margin at the pump's inlet against time, with the events marked.

    Parameters
    ----------
    drives : sequence of Drive
        One per layout, over the same schedule.
    """
    fig, axes = figure(3, 1, width=9.0, height=2.9)
    tank, rail, margin = axes[:, 0]
    first = drives[0]
    hours = np.asarray(first.time) / 3600.0
    for axis in (tank, rail):
        axis.plot(hours, temperatures(first.air_temperature), color=_AIR_COLOUR, linewidth=1.0, label="ambient air")
    bay = temperatures(first.bay_temperature)
    rail.plot(hours, bay, color=_AIR_COLOUR, linewidth=1.0, linestyle=":", label="bay air")
    marked: set[EventName] = set()
    for number, result in enumerate(drives):
        _draw_drive((tank, rail, margin), result, number, marked)
    boils = first.boiling_temperature
    if len({len(result.time) for result in drives}) == 1:
        boils = np.nanmin([result.boiling_temperature for result in drives], axis=0)
    dots = DOTTED | {"color": BOILING_COLOUR, "linewidth": 1.2}
    tank.plot(hours, temperatures(boils), label="tank would boil", **dots)
    _draw_phases(tank, first)
    tank.set_ylabel(f"tank, {temperature_unit()}")
    rail.set_ylabel(f"rail, {temperature_unit()}")
    label_panel(margin, "time, h", f"margin at pump inlet, {difference_unit()}")
    _boiling_band(margin)
    for axis in axes[:, 0]:
        axis.set_xlim(0.0, hours[-1])
    for axis in (tank, rail):
        legend(axis, fontsize=7, loc="center left", anchor=(1.0, 0.5))
    caption(fig, _drive_sentence(drives))
    return fig


def drive_band_figure(result: DriveBand) -> Figure:
    """Draw a drive with the band of its tank temperature, and the range of times of each event.

    Parameters
    ----------
    result : DriveBand
        The drive over the bands.
    """
    fig = drive_figure([result.middle])
    tank = fig.axes[0]
    hours = result.middle.time / 3600.0
    sides = [
        np.interp(hours, side.time / 3600.0, temperatures(side.tank_temperature))
        for side in (result.favourable, result.middle, result.adverse)
    ]
    band: DrawStyle = {"color": line_style(0)["color"], "alpha": 0.2, "linewidth": 0.0}
    tank.fill_between(hours, np.min(sides, axis=0), np.max(sides, axis=0), label="tank, over the bands", **band)
    in_tank = temperatures(result.middle.tank_temperature)
    for item in result.events:
        if np.isfinite(item.middle):
            at = float(np.interp(item.middle / 3600.0, hours, in_tank))
            span = np.minimum(np.array([item.earliest, item.latest]) / 3600.0, hours[-1])
            tank.plot(span, [at, at], color="black", linewidth=1.2, marker="|", markersize=7, zorder=1.5)
    legend(tank, fontsize=7, loc="center left", anchor=(1.0, 0.5))
    caption(fig, f"{layout_title(result.middle.layout)}: {result.sentence()}")
    return fig


def _draw_drive(axes: tuple[Axes, Axes, Axes], result: Drive, number: int, marked: set[EventName]) -> None:
    """Draw one drive into its three panels; kinds of events that are in the legend already are in `marked`."""
    tank, rail, margin = axes
    hours = result.time / 3600.0
    style = line_style(number, len(hours)) | {"label": layout_title(result.layout), "marker": ""}
    in_tank = temperatures(result.tank_temperature)
    tank.plot(hours, in_tank, **style)
    # The lines break where the engine has stopped of itself.
    driven = result.engine_state != EngineState.STOPPED
    rail.plot(hours, np.where(driven, temperatures(result.rail_temperature), np.nan), **style)
    margin.plot(hours, np.where(driven, differences(result.pump_margin), np.nan), **style)
    for event in result.events:
        mark = _EVENT_MARKS[event.name]
        tank.plot(
            [event.time / 3600.0],
            [np.interp(event.time / 3600.0, hours, in_tank)],
            mark.marker,
            color=style["color"],
            markeredgecolor="black",
            label="" if event.name in marked else mark.words,
        )
        marked.add(event.name)


def _draw_phases(axis: Axes, result: Drive) -> None:
    hours, phase = result.time / 3600.0, result.phase
    starts = np.flatnonzero(np.concatenate([[True], phase[1:] != phase[:-1]]))
    for start in starts:
        axis.axvline(hours[start], color="#cccccc", linewidth=0.8)
        axis.annotate(
            str(phase[start]),
            (hours[start], 1.0),
            xycoords=("data", "axes fraction"),
            fontsize=7,
            color="#666666",
            xytext=(2, -9),
            textcoords="offset points",
        )


def _drive_sentence(drives: Sequence[Drive]) -> str:
    parts = []
    for result in drives:
        hottest = whole_degrees(float(np.max(result.tank_temperature)))
        stops = (EventName.VAPOUR_LOCK, EventName.ENGINE_STOPS)
        stop = next((event for event in result.events if event.name in stops), None)
        end = "the engine runs on" if stop is None else f"{stop.name} after {stop.time / 60.0:.0f} min"
        parts.append(f"{layout_title(result.layout)}: tank to {hottest}, {end}")
    return "; ".join(parts) + "."


def soak_figure(soaks: Sequence[Soak]) -> Figure:
    """Draw rail temperature, rail pressure and seconds from key-on to liquid against time since the stop.

    Parameters
    ----------
    soaks : sequence of Soak
        One per layout.
    """
    fig, axes = figure(1, 3, width=4.4, height=3.5)
    warm, pressure, restart = axes[0]
    unit = shown_values(0.0, "pressure difference")[1]
    for number, soak in enumerate(soaks):
        minutes = soak.time / 60.0
        style = line_style(number, len(minutes)) | {"label": layout_title(soak.layout)}
        warm.plot(minutes, temperatures(soak.rail_temperature), **style)
        pressure.plot(minutes, shown_values(soak.rail_gauge_pressure, "pressure difference")[0], **style)
        needed = np.where(soak.pressure_needed > 0.0, soak.pressure_needed, np.nan)
        dots = DOTTED | {"color": style["color"], "linewidth": 1.2}
        pressure.plot(minutes, shown_values(needed, "pressure difference")[0], **dots)
        seconds = soak.restart.seconds_to_liquid
        restart.plot(minutes, np.where(np.isfinite(seconds), seconds, np.nan), **style)
    bay = temperatures(soaks[0].bay_temperature)
    warm.plot(soaks[0].time / 60.0, bay, color=_AIR_COLOUR, linestyle=":", label="bay air")
    for axis, label in (
        (warm, f"rail, {temperature_unit()}"),
        (pressure, f"rail, {unit} gauge (dotted: needed)"),
        (restart, "key-on to liquid at the injectors, s"),
    ):
        label_panel(axis, "time since the stop, min", label)
        axis.set_ylim(bottom=min(axis.get_ylim()[0], 0.0))
    legend(warm)
    hottest = whole_degrees(max(float(np.max(soak.rail_temperature)) for soak in soaks))
    caption(fig, f"Hot soak: the rail reaches up to {hottest}; below the dotted line its fuel boils.")
    return fig


def margin_figure(result: MarginMap, station: str = "pump_inlet") -> Figure:
    """Draw the highest temperature that keeps a station liquid: curves over one axis, contours over two.

    Parameters
    ----------
    result : MarginMap
        The map, of one or two axes.
    station : str
        Name of the station.
    """
    fig, axes = figure(1, 1, width=6.4, height=4.4)
    axis = axes[0, 0]
    shown_axes = [_shown_axis(name, values) for name, values in result.axes.items()]
    limit = temperatures(result.limit[station])
    limited = "tank" if result.limited == "tank_temperature" else "ambient air"
    label = f"highest {limited}, {temperature_unit()}"
    if len(shown_axes) == 1:
        axis.plot(shown_axes[0].values, limit, **line_style(0, limit.size))
        axis.set_ylabel(label)
    elif len(shown_axes) == 2:
        x, y = shown_axes
        filled = axis.contourf(x.values, y.values, limit.T, levels=12, cmap="viridis")
        lines = axis.contour(x.values, y.values, limit.T, levels=filled.levels, colors="black", linewidths=0.6)
        axis.clabel(lines, fontsize=8, fmt=f"%.0f {temperature_unit()}")
        axis.set_ylabel(y.label)
        fig.colorbar(filled, ax=axis, label=label)
    axis.set_xlabel(shown_axes[0].label)
    where = station.replace("_", " ")
    caption(fig, f"{layout_title(result.layout)}: the {where} stays liquid up to this temperature of the {limited}.")
    return fig


class _ShownAxis(NamedTuple):
    """Values along an axis in the preferred unit, and its label."""

    values: FloatArray
    label: str


def _shown_axis(name: str, values: ArrayLike) -> _ShownAxis:
    numbers, unit = shown_values(np.asarray(values), axis_kind(name))
    words = "vapour pressure of the fuel (DVPE)" if name == "vapour_pressure" else name.replace("_", " ")
    return _ShownAxis(numbers, f"{words}, {unit}" if unit else words)


def _boiling_band(axis: Axes) -> None:
    """Hatch what is below a margin of zero, at least so much of it that it can be seen."""
    low, high = axis.get_ylim()
    boiling_band(axis, min(low, -1.0, -0.12 * high), max(high, 1.0))
