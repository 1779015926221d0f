"""The comparison of layouts as one figure: what happens over the rev range, and what happens in the heat."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fuelsim.car.layouts import layout_title
from fuelsim.show.stations import least_over, pump_inlets
from fuelsim.show.style import (
    DOTTED,
    DrawStyle,
    boiling_band,
    caption,
    end_mark,
    figure,
    label_panel,
    legend_below,
    line_style,
    show_sag,
    tell_coinciding,
)
from fuelsim.show.temperatures import difference_unit, differences, temperature_unit, temperatures
from fuelsim.typing import FloatArray, PointArray
from fuelsim.units import shown, shown_values

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fuelsim.studies.comparison import Comparison
    from fuelsim.system.run import Run

__all__ = ["comparison_figure", "figure_sentence"]

SHOWN_ENDS = (0.05, 0.95)
"""Ends of the bands that are drawn: 90 % of the samples."""


def comparison_figure(result: Comparison) -> Figure:
    """Draw four panels: injector pressure difference, bypass, margin at the pump's inlet, margin at the rail.

    The title sentences come from the numbers drawn. Lines differ by dashes and markers as well as by colour.

    Parameters
    ----------
    result : Comparison
        What was compared.
    """
    fig, axes = figure(2, 2)
    (pressure, bypass), (inlet, rail) = axes
    tank = temperatures(result.tank_temperature)
    set_pressures = []
    stops = [False] * 4
    for name, style in _styles(result).items():
        at_car = result.at_car[name]
        style["label"] = layout_title(name, result.car)
        full_load = slice(1, None)
        difference = at_car.while_running(at_car.injector_pressure_difference)[full_load]
        for number, (axis, values) in enumerate(
            (
                (pressure, shown_values(difference, "pressure difference")[0]),
                (bypass, shown_values(at_car.while_running(at_car.bypass_flow)[full_load], "volume flow")[0]),
            )
        ):
            axis.plot(result.rpm, values, **style)
            stops[number] |= end_mark(axis, result.rpm, np.asarray(values))
        if name in result.samples:
            _draw_bands((pressure, bypass), result, name, style)
        style |= {"markevery": 1}
        for number, (axis, kelvin) in enumerate(
            ((inlet, _least_inlet_margin(result, name)), (rail, _rail_margin(result.idle[name])))
        ):
            axis.plot(tank, differences(kelvin), **style)
            stops[2 + number] |= end_mark(axis, tank, differences(kelvin))
        held = at_car.plumbing.held_at(at_car.plumbing.rails[0])
        if held.set_pressures:
            set_pressures.append(float(np.max(shown_values(held.held_pressure(), "pressure difference")[0])))
    for number, value in enumerate(sorted(set(set_pressures))):
        label = "" if number else "set pressure"
        pressure.axhline(value, color="black", linewidth=1.2, label=label, zorder=1.5, **DOTTED)
    show_sag(pressure, set_pressures)
    bypass.set_ylim(bottom=0.0)
    boiling = float(temperatures(result.tank_boiling_temperature))
    for axis in (inlet, rail):
        low, high = axis.get_ylim()
        boiling_band(axis, min(max(low, -0.3 * high), -3.0, -0.1 * high), high)
        if tank[0] < boiling < tank[-1]:
            _mark_tank_boiling(axis, boiling)
    speed, tank_label = "engine speed, rpm", f"tank temperature, {temperature_unit()}"
    margin = f"margin to boiling, {difference_unit()}"
    pressure_unit, flow_unit = (shown_values(0.0, kind)[1] for kind in ("pressure difference", "volume flow"))
    beyond = ("faster", "faster", "hotter", "hotter")
    stopped = [f" (✖: engine stops if {word})" if each else "" for word, each in zip(beyond, stops, strict=True)]
    pressure_label = f"rail minus manifold, {pressure_unit}"
    label_panel(pressure, speed, pressure_label, f"Full load: injector pressure difference{stopped[0]}")
    label_panel(bypass, speed, f"bypass flow, {flow_unit}", f"Full load: bypass through the regulator{stopped[1]}")
    label_panel(inlet, tank_label, margin, f"Pump inlet: least margin, idle to red line{stopped[2]}")
    label_panel(rail, tank_label, margin, f"Rail at idle{stopped[3]}")
    tell_coinciding((pressure, bypass, inlet, rail))
    legend_below(fig, pressure)
    early = f"{str(result.completion).capitalize()}. " if result.interrupted else ""
    caption(fig, early + figure_sentence(result))
    return fig


def _styles(result: Comparison) -> dict[str, DrawStyle]:
    """Return how each line is drawn: layouts by colour, variants of several layouts by dashes and markers."""
    layouts = list(dict.fromkeys(result.systems[name].layout for name in result.layouts))
    variants = 1 < len(layouts) < len(result.layouts)
    numbers = dict.fromkeys(layouts, 0)
    styles = {}
    for index, name in enumerate(result.layouts):
        layout = result.systems[name].layout
        style = line_style(numbers[layout] if variants else index, len(result.rpm))
        styles[name] = style | ({"color": line_style(layouts.index(layout))["color"]} if variants else {})
        numbers[layout] += 1
    return styles


def _draw_bands(axes: tuple[Axes, Axes], result: Comparison, layout: str, style: DrawStyle) -> None:
    """Shade between which values 90 % of a layout's samples lie, with an edge in the dashes of its line."""
    from matplotlib.colors import to_rgba

    for axis, (name, kind) in zip(
        axes, (("injector_pressure_difference", "pressure difference"), ("bypass", "volume flow")), strict=True
    ):
        low, high = shown_values(result.samples[layout].quantiles(name, SHOWN_ENDS), kind)[0][:, 1:]
        axis.fill_between(
            result.rpm,
            low,
            high,
            facecolor=to_rgba(style["color"], 0.15),
            edgecolor=style["color"],
            linestyle=style["linestyle"],
            linewidth=0.7,
        )


def _mark_tank_boiling(axis: Axes, temperature: float) -> None:
    """Mark the tank temperature, in the preferred unit, at which the tank boils."""
    axis.axvline(temperature, color="black", linewidth=1.0, linestyle=(0, (2, 2)))
    axis.annotate(
        "the tank boils",
        (temperature, 0.97),
        xycoords=("data", "axes fraction"),
        rotation=90,
        ha="right",
        va="top",
        fontsize=8,
    )


def _rail_margin(run: Run) -> FloatArray:
    """Return the margin to boiling of the rail that has least, K."""
    return least_over(run.vapour_margin, run.plumbing.rails)


def _least_inlet_margin(result: Comparison, layout: str) -> PointArray:
    """Return the least margin to boiling at a pump's inlet over the rev range and idle, K, (tank temperatures,)."""
    full, idle = (
        least_over(run.vapour_margin, pump_inlets(run.plumbing))
        for run in (result.full_load[layout], result.idle[layout])
    )
    least: PointArray = np.fmin(np.fmin.reduce(full, axis=0), idle)
    return least


def figure_sentence(result: Comparison) -> str:
    """Return what the figure shows: where pressure falls first, and which rail is nearest to boiling at idle.

    Parameters
    ----------
    result : Comparison
        What was compared.
    """
    shut = {layout: result.summary(layout).shut_speed for layout in result.layouts}
    falling = {layout: speed for layout, speed in shut.items() if np.isfinite(speed)}
    bypass = "every layout keeps some bypass to red line"
    if falling:
        first = min(falling, key=lambda layout: falling[layout])
        bypass = f"{layout_title(first, result.car)} loses its bypass first, at {falling[first]:.0f} rpm"
    margins = {layout: float(_rail_margin(result.at_car[layout])[0]) for layout in result.layouts}
    nearest = min(margins, key=lambda layout: margins[layout])
    tank = float(np.ravel(result.at_car[nearest].conditions.tank_temperature)[0])
    least = shown(margins[nearest], "temperature difference", digits=2)
    return (
        f"{result.car.name}: {bypass}; at idle with a tank at {shown(tank, 'temperature', digits=2)} the rail of"
        f" {layout_title(nearest, result.car)} is nearest to boiling ({least})."
        + (" Bands hold 90 % of the samples of what is not known." if result.samples else "")
    )
