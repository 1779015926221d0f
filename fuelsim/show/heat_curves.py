"""Pictures of heat: along the path, over a drive, over a soak, and maps of the margin."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.car.layouts import layout_title
from fuelsim.errors import InputError
from fuelsim.show.heat_tables import axis_kind
from fuelsim.show.style import (
    BOILING_COLOUR,
    DOTTED,
    DrawStyle,
    boiling_band,
    caption,
    end_mark,
    figure,
    label_panel,
    legend,
    legend_below,
    level,
    line_style,
    panel,
    tell_coinciding,
)
from fuelsim.show.temperatures import difference_unit, differences, temperature_unit, temperatures, whole_degrees
from fuelsim.system.controller import EngineState
from fuelsim.transients.events import EventName
from fuelsim.typing import ArrayLike, FloatArray, PlotAxes
from fuelsim.units import shown, shown_values

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.contour import ContourSet
    from matplotlib.figure import Figure

    from fuelsim.studies.drive_bands import DriveBand
    from fuelsim.studies.margins import MarginMap
    from fuelsim.system.run import Run
    from fuelsim.transients.drive_results import Drive, DriveSamples
    from fuelsim.transients.soak import Soak

__all__ = ["drive_band_figure", "drive_figure", "margin_figure", "path_figure", "soak_figure"]

PATH = ("tank", "pump_inlet", "pump_outlet", "rail_inlet", "rail")
"""Places along the path, in words that fit every plumbing: of the main pump and the first rail."""
MOST_PANELS = 9
"""Values of the third axis of a map, each a panel."""
PHASE_LETTER = 0.011
"""Width of a letter of a phase's name over that of the panel."""
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


FAILURES = (EventName.LEAN, EventName.ENGINE_STOPS, EventName.VAPOUR_LOCK)
"""Events by which an engine fails."""


class _LeastMargin(NamedTuple):
    """The station of a layout nearest to boiling, and its margin, K."""

    kelvin: float
    layout: str
    station: str


def path_figure(runs: Sequence[Run], point: int = 0) -> Figure:
    """Draw pressure, temperature and margin to boiling along the path from tank to first rail, layouts side by side.

    Parameters
    ----------
    runs : sequence of Run
        One per layout, of the same conditions.
    point : int
        Number of the operating point, the last axis fastest.

    Raises
    ------
    InputError
        For a point that a run does not have.
    """
    shape = runs[0].conditions.shape
    sizes = [int(np.prod(run.conditions.shape)) for run in runs]
    if point >= min(sizes) or any(run.conditions.shape != shape for run in runs):
        accepted = f"0 to {sizes[0] - 1}, and runs of the same shape"
        raise InputError("no such operating point in every run", given=point, accepted=accepted, key="point")
    index = np.unravel_index(point, shape)
    fig, axes = figure(1, 3, width=4.6)
    pressure, warm, margin = axes[0]
    least: list[_LeastMargin] = []
    for number, run in enumerate(runs):
        title = run.plumbing.layout.title
        style = line_style(number) | {"label": title, "markevery": 1}
        stations = run.plumbing.stations_to_rail
        # A rail without a bore before its injectors has no inlet of its own.
        places = range(len(PATH)) if len(stations) == len(PATH) else (*range(len(stations) - 1), len(PATH) - 1)
        kelvin = [float(np.asarray(run.vapour_margin[name])[index]) for name in stations]
        pascals = np.array([np.asarray(run.gauge_pressure[name])[index] for name in stations])
        pressure.plot(places, shown_values(pascals, "pressure difference")[0], **style)
        warm.plot(places, temperatures([np.asarray(run.temperature[name])[index] for name in stations]), **style)
        margin.plot(places, differences(kelvin), **style)
        if np.any(np.isfinite(kelvin)):
            lowest = int(np.nanargmin(kelvin))
            least.append(_LeastMargin(kelvin[lowest], title, stations[lowest]))
    for axis, label in (
        (pressure, f"pressure, {shown_values(0.0, 'pressure difference')[1]} gauge"),
        (warm, f"fuel temperature, {temperature_unit()}"),
        (margin, f"margin to boiling, {difference_unit()}"),
    ):
        axis.set_xticks(range(len(PATH)), [name.replace("_", "\n") for name in PATH])
        axis.set_ylabel(label)
    rail = runs[0].plumbing.rails[0]
    manifold = np.asarray(runs[0].gauge_pressure[rail] - runs[0].by_rail[rail].pressure_difference)[index]
    if np.isfinite(manifold):
        level(pressure, float(shown_values(manifold, "pressure difference")[0]), "manifold", at=0.3)
    _boiling_band(margin)
    tell_coinciding(axes[0])
    legend_below(fig, warm)
    if not least:
        caption(fig, "No operating point was solved here.")
        return fig
    nearest = min(least)
    station = nearest.station.replace("_", " ")
    kelvins = shown(abs(nearest.kelvin), "temperature difference", digits=2)
    side = "short of boiling" if nearest.kelvin >= 0.0 else "past boiling"
    caption(fig, f"Nearest to boiling: {station} of {nearest.layout}, {kelvins} {side}.")
    return fig


def drive_figure(drives: Sequence[Drive]) -> Figure:
    """Draw tank, rail and margin at the pump's inlet against time, with the events marked.

    Parameters
    ----------
    drives : sequence of Drive
        One per layout, over the same schedule.
    """
    fig, axes = figure(3, 1, width=9.0, height=2.7)
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
    if len(drives) == 1 and first.samples is not None and first.samples.drives:
        low, _, high = temperatures(first.samples.tank_temperatures(first.time))
        band: DrawStyle = {"color": line_style(0)["color"], "alpha": 0.2, "linewidth": 0.0}
        tank.fill_between(hours, low, high, label="tank, 90 % of the samples", **band)
        for item in first.samples.events:
            at = float(np.interp(item.times[1] / 3600.0, hours, temperatures(first.tank_temperature)))
            tank.plot(item.times[[0, 2]] / 3600.0, [at, at], color="black", linewidth=1.2, marker="|", zorder=1.5)
    dots = DOTTED | {"color": BOILING_COLOUR, "linewidth": 1.2}
    tank.plot(hours, temperatures(boils), label="tank would boil", **dots)
    tank.set_ylabel(f"tank, {temperature_unit()}")
    rail.set_ylabel(f"rail, {temperature_unit()}")
    label_panel(margin, "time, h", f"margin at pump inlet, {difference_unit()}")
    _boiling_band(margin)
    for axis in axes[:, 0]:
        axis.set_xlim(0.0, max(float(result.time[-1]) for result in drives) / 3600.0)
    tell_coinciding((tank, rail, margin))
    _draw_phases(axes[:, 0], first)
    for axis in (tank, rail):
        legend(axis, fontsize=7.5, loc="center left", anchor=(1.0, 0.5))
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
    stopped = "engine stopped"
    for axis, values in ((rail, temperatures(result.rail_temperature)), (margin, differences(result.pump_margin))):
        shown_part = np.where(driven, values, np.nan)
        axis.plot(hours, shown_part, **style)
        end_mark(axis, hours, shown_part, stopped)
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


def _draw_phases(panels: Iterable[Axes], result: Drive) -> None:
    """Draw a line where each phase begins, and above the first panel its name where there is room for it."""
    hours, phase = result.time / 3600.0, result.phase
    starts = np.flatnonzero(np.concatenate([[True], phase[1:] != phase[:-1]]))
    first, *below = panels
    named_to = -np.inf
    end = first.get_xlim()[1]
    raised = 1.0 if first.get_title(loc="left") == "" else 1.1
    for start in starts:
        for axis in (first, *below):
            axis.axvline(hours[start], color="#cccccc", linewidth=0.8)
        name = str(phase[start])
        length = PHASE_LETTER * len(name) * end
        at = min(float(hours[start]), end - length)
        if at < named_to:
            continue
        first.annotate(
            name,
            (at, raised),
            xycoords=("data", "axes fraction"),
            fontsize=8,
            color="#555555",
            xytext=(0, 2),
            textcoords="offset points",
        )
        named_to = at + length


def _drive_sentence(drives: Sequence[Drive]) -> str:
    parts = []
    for result in drives:
        hottest = whole_degrees(float(np.max(result.tank_temperature)))
        stops = (EventName.VAPOUR_LOCK, EventName.ENGINE_STOPS)
        stop = next((event for event in result.events if event.name in stops), None)
        end = "the engine runs on" if stop is None else f"{stop.name} after {stop.time / 60.0:.0f} min"
        sure = "" if result.samples is None else f"; {_samples_in_words(result.samples)}"
        parts.append(f"{layout_title(result.layout)}: tank to {hottest}, {end}{sure}")
    return "; ".join(parts) + "."


def _samples_in_words(samples: DriveSamples) -> str:
    """Return in how many samples the engine stops or runs lean, or the fuel comes nearest to it."""
    told = [item for item in samples.events if item.name in FAILURES]
    if not told:
        return f"it stops or runs lean in none of {samples.samples} samples"
    return "; ".join(
        f"{item.name} in {100.0 * float(item.happens.value):.0f} % of {samples.samples} samples" for item in told
    )


def soak_figure(soaks: Sequence[Soak]) -> Figure:
    """Draw rail temperature, rail pressure and seconds from key-on to liquid against time since the stop.

    Parameters
    ----------
    soaks : sequence of Soak
        One per layout.
    """
    fig, axes = figure(1, 3, width=4.4, height=3.9)
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
    for axis in (pressure, restart):
        axis.set_ylim(bottom=min(axis.get_ylim()[0], 0.0))
    tell_coinciding(axes[0])
    legend_below(fig, warm)
    hottest = whole_degrees(max(float(np.max(soak.rail_temperature)) for soak in soaks))
    caption(fig, f"Hot soak: the rail reaches up to {hottest}; below the dotted line its fuel boils.")
    return fig


def margin_figure(result: MarginMap, station: str = "pump_inlet", ax: PlotAxes | None = None) -> Figure:
    """Draw the highest temperature that keeps a station liquid: a curve over one axis, contours over two.

    Over three axes there is a panel of contours for each value of the third.

    Parameters
    ----------
    result : MarginMap
        The map, of one to three axes.
    station : str
        Name of the station.
    ax : Axes, optional
        Axes of the user's own, for one or two axes.

    Raises
    ------
    InputError
        For a map of more than three axes, a third of more than `MOST_PANELS` values, or `ax` with three.
    """
    shown_axes = [_shown_axis(name, values) for name, values in result.axes.items()]
    limit = temperatures(result.limit[station])
    limited = "tank" if result.limited == "tank_temperature" else "ambient air"
    label = f"highest {limited}, {temperature_unit()}"
    if len(shown_axes) > 2:
        fig = _margin_panels(shown_axes, limit, label, ax)
    else:
        fig, axis = panel(ax, width=6.4, height=4.4)
        first, *second = shown_axes
        axis.set_xlabel(first.label)
        if second:
            filled = _draw_contours(axis, (first, second[0]), limit, _contour_levels(limit))
            if filled is not None:
                fig.colorbar(filled, ax=axis, label=label)
        else:
            axis.plot(first.values, limit, **line_style(0, limit.size))
            axis.set_ylabel(label)
    caption(fig, _margin_sentence(result, station, limited), ax)
    return fig


def _margin_sentence(result: MarginMap, station: str, limited: str) -> str:
    """Return between which temperatures the limit lies."""
    kelvin = result.limit[station]
    known = kelvin[np.isfinite(kelvin)]
    where = f"{layout_title(result.layout)}: the {station.replace('_', ' ')}"
    if not known.size:
        return f"{where} stays liquid over the whole range."
    low, high = (shown(float(end), "temperature", digits=3) for end in (known.min(), known.max()))
    ends = low if low == high else f"{low} to {high}"
    beyond = "" if known.size == kelvin.size else "; where nothing is drawn it stays liquid over the whole range"
    return f"{where} stays liquid up to {ends} in the {limited}{beyond}."


def _contour_levels(limit: FloatArray) -> FloatArray:
    """Return about ten round levels that cover some limits."""
    from matplotlib.ticker import MaxNLocator

    known = limit[np.isfinite(limit)]
    ends = (float(known.min()), float(known.max())) if known.size else (0.0, 1.0)
    return np.asarray(MaxNLocator(10, steps=[1, 2, 5, 10]).tick_values(*ends))


def _draw_contours(
    axis: Axes, along: tuple[_ShownAxis, _ShownAxis], limit: FloatArray, levels: FloatArray
) -> ContourSet | None:
    """Draw contours (first axis, second axis) on light colours, and return them; None for a single value on an axis."""
    from matplotlib import colormaps
    from matplotlib.colors import ListedColormap

    x, y = along
    axis.set_ylabel(y.label)
    if min(limit.shape) < 2:
        axis.annotate("a single value on an axis: no contours", (0.03, 0.9), xycoords="axes fraction", fontsize=9)
        return None
    light = ListedColormap(colormaps["viridis"](np.linspace(0.4, 1.0, 128)))
    filled = axis.contourf(x.values, y.values, limit.T, levels=levels, cmap=light)
    lines = axis.contour(x.values, y.values, limit.T, levels=levels, colors="black", linewidths=0.6)
    axis.clabel(lines, fontsize=8, fmt="%g")
    return filled


def _margin_panels(along: Sequence[_ShownAxis], limit: FloatArray, label: str, ax: PlotAxes | None) -> Figure:
    """Draw a panel of contours for each value of a third axis, all with the same levels."""
    *two, third = along
    if len(along) > 3 or third.values.size > MOST_PANELS or ax is not None:
        accepted = f"one to three axes, the third of at most {MOST_PANELS} values; `ax` with one or two"
        sizes = " x ".join(str(each.values.size) for each in along)
        raise InputError("a map that is no picture", given=sizes, accepted=accepted, part="plot")
    columns = min(third.values.size, 3)
    rows = -(-third.values.size // columns)
    fig, axes = figure(rows, columns, width=4.0, height=3.4)
    levels, filled = _contour_levels(limit), None
    name, _, unit = third.label.rpartition(", ")
    every: list[Axes] = axes.ravel().tolist()
    for number, axis in enumerate(every):
        if number >= third.values.size:
            axis.set_axis_off()
            continue
        filled = _draw_contours(axis, (two[0], two[1]), limit[..., number], levels) or filled
        axis.set_xlabel(two[0].label)
        axis.set_title(
            f"{name or third.label} {third.values[number]:.4g} {unit if name else ''}", fontsize=9, loc="left"
        )
    if filled is not None:
        fig.colorbar(filled, ax=every, label=label)
    return fig


class _ShownAxis(NamedTuple):
    """Values along an axis in the preferred unit, and its label."""

    values: FloatArray
    label: str


def _shown_axis(name: str, values: ArrayLike) -> _ShownAxis:
    numbers, unit = shown_values(np.asarray(values), axis_kind(name))
    words = {"vapour_pressure": "vapour pressure of the fuel (DVPE)", "rpm": "engine speed"}
    words_of_axis = words.get(name, name.replace("_", " "))
    return _ShownAxis(numbers, f"{words_of_axis}, {unit}" if unit else words_of_axis)


def _boiling_band(axis: Axes) -> None:
    """Hatch what is below a margin of zero, at least so much of it that it can be seen."""
    low, high = axis.get_ylim()
    boiling_band(axis, min(low, -1.0, -0.12 * high), max(high, 1.0))
