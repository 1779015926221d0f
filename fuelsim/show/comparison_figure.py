"""The comparison of layouts as one figure: what happens over the rev range, and what happens in the heat."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fuelsim.car.layouts import layout_title
from fuelsim.show.stations import least_over, pump_inlets
from fuelsim.show.style import boiling_band, caption, figure, label_panel, legend, line_style
from fuelsim.show.temperatures import difference_unit, differences, temperature_unit, temperatures
from fuelsim.typing import FloatArray, PointArray
from fuelsim.units import shown, shown_values

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fuelsim.studies.comparison import Comparison
    from fuelsim.system.run import Run

__all__ = ["comparison_figure", "figure_sentence"]


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
    for index, layout in enumerate(result.layouts):
        at_car = result.at_car[layout]
        # Layouts that behave alike lie on one another: the later ones are thinner, so that all are seen.
        style = line_style(index, len(result.rpm)) | {
            "label": layout_title(layout, result.car),
            "linewidth": max(3.6 - 1.1 * index, 1.2),
        }
        full_load = slice(1, None)
        difference = at_car.injector_pressure_difference[full_load]
        pressure.plot(result.rpm, shown_values(difference, "pressure difference")[0], **style)
        bypass.plot(result.rpm, shown_values(at_car.bypass_flow[full_load], "volume flow")[0], **style)
        style |= {"markevery": 1}
        inlet.plot(tank, differences(_least_inlet_margin(result, layout)), **style)
        rail.plot(tank, differences(_rail_margin(result.idle[layout])), **style)
    speed, tank_label = "engine speed, rpm", f"tank temperature, {temperature_unit()}"
    margin = f"margin to boiling, {difference_unit()}"
    pressure_unit, flow_unit = (shown_values(0.0, kind)[1] for kind in ("pressure difference", "volume flow"))
    label_panel(pressure, speed, f"rail minus manifold, {pressure_unit}", "Full load: injector pressure difference")
    label_panel(bypass, speed, f"bypass flow, {flow_unit}", "Full load: bypass through the regulator")
    label_panel(inlet, tank_label, margin, "Pump inlet: least margin, idle to red line")
    label_panel(rail, tank_label, margin, "Rail at idle")
    pressure.set_ylim(bottom=0.0)
    legend(pressure)
    bypass.set_ylim(bottom=0.0)
    boiling = float(temperatures(result.tank_boiling_temperature))
    for axis in (inlet, rail):
        low, high = axis.get_ylim()
        boiling_band(axis, max(min(low, -3.0), -0.3 * high), high)
        if tank[0] < boiling < tank[-1]:
            _mark_tank_boiling(axis, boiling)
    stopped = f"{str(result.completion).capitalize()}. " if result.interrupted else ""
    caption(fig, stopped + figure_sentence(result))
    return fig


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
    )
