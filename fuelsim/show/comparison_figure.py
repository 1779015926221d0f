"""The comparison of layouts as one figure: what happens over the rev range, and what happens in the heat."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim.car.layouts import layout_title
from fuelsim.show.style import caption, figure, line_style
from fuelsim.units import shown, shown_values

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fuelsim.studies.compare import Comparison

__all__ = ["comparison_figure", "readable"]


def readable(layout: str) -> str:
    """Return a layout's name for people.

    Examples
    --------
    >>> readable("feed_8_mm")
    'feed 8 mm'
    """
    return layout_title(layout)


def comparison_figure(result: Comparison) -> Figure:
    """Draw four panels: injector pressure difference, bypass, margin at the pump's inlet, margin at the rail.

    The title sentences come from the numbers drawn. Lines differ by dashes and markers as well as by colour.
    """
    drawn, axes = figure(2, 2)
    (pressure, bypass), (inlet, rail) = axes
    tank, degrees = shown_values(result.tank_temperature, "temperature")
    for index, layout in enumerate(result.layouts):
        at_car = result.at_car[layout]
        # Layouts that do the same lie on one another: the later ones are thinner, so that all are seen.
        look = line_style(index, len(result.rpm)) | {
            "label": readable(layout),
            "linewidth": max(3.6 - 1.1 * index, 1.2),
        }
        difference, kilopascal = shown_values(at_car.injector_pressure_difference[1:], "pressure difference")
        flow, per_hour = shown_values(at_car.bypass_flow[1:], "volume flow")
        pressure.plot(result.rpm, difference, **look)
        bypass.plot(result.rpm, flow, **look)
        look |= {"markevery": 1}
        margin, kelvin = shown_values(_worst(result, layout, "pump_inlet"), "temperature difference")
        inlet.plot(tank, margin, **look)
        rail.plot(tank, shown_values(result.idle[layout].vapour_margin["rail"], "temperature difference")[0], **look)
    _panel(
        pressure, "Full load: injector pressure difference", "engine speed, rpm", f"rail minus manifold, {kilopascal}"
    )
    pressure.set_ylim(bottom=0.0)
    pressure.legend(frameon=False, fontsize=8)
    _panel(bypass, "Full load: bypass through the regulator", "engine speed, rpm", f"bypass flow, {per_hour}")
    bypass.set_ylim(bottom=0.0)
    _panel(
        inlet,
        "Pump inlet: least margin, idle to red line",
        f"tank temperature, {degrees}",
        f"margin to boiling, {kelvin}",
    )
    _panel(rail, "Rail at idle", f"tank temperature, {degrees}", f"margin to boiling, {kelvin}")
    boiling, _ = shown_values(result.tank_boiling_temperature, "temperature")
    for axis in (inlet, rail):
        low, high = axis.get_ylim()
        axis.set_ylim(max(min(low, -3.0), -0.3 * high), high)
        axis.axhline(0.0, color="black", linewidth=1.0)
        axis.axhspan(axis.get_ylim()[0], 0.0, facecolor="#f3d9d0", edgecolor="#b08070", hatch="//", alpha=0.35)
        axis.annotate("boils", (0.02, 0.03), xycoords="axes fraction", fontsize=9, color="#803010", fontstyle="italic")
        if tank[0] < boiling < tank[-1]:
            axis.axvline(boiling, color="black", linewidth=1.0, linestyle=(0, (2, 2)))
            axis.annotate(
                "the tank boils",
                (float(boiling), 0.97),
                xycoords=("data", "axes fraction"),
                rotation=90,
                ha="right",
                va="top",
                fontsize=8,
            )
    caption(drawn, figure_sentence(result))
    return drawn


def _worst(result: Comparison, layout: str, station: str) -> Any:
    loaded = np.fmin.reduce(np.asarray(result.full_load[layout].vapour_margin[station]), axis=0)
    return np.fmin(loaded, result.idle[layout].vapour_margin[station])


def _panel(axis: Axes, title: str, x: str, y: str) -> None:
    axis.set_title(title, fontsize=10, loc="left")
    axis.set_xlabel(x)
    axis.set_ylabel(y)


def figure_sentence(result: Comparison) -> str:
    """Say what the figure shows: where pressure falls first, and which rail runs nearest to boiling at idle."""
    said = []
    shut = {layout: result.summary(layout).shut_speed for layout in result.layouts}
    falling = {layout: speed for layout, speed in shut.items() if np.isfinite(speed)}
    if falling:
        first = min(falling, key=lambda layout: falling[layout])
        said.append(f"{readable(first)} loses its bypass first, at {falling[first]:.0f} rpm")
    else:
        said.append("every layout keeps some bypass to red line")
    margins = {layout: float(result.at_car[layout].vapour_margin["rail"][0]) for layout in result.layouts}
    nearest_boiling = min(margins, key=lambda layout: margins[layout])
    tank = float(np.ravel(result.at_car[nearest_boiling].conditions.tank_temperature)[0])
    said.append(
        f"at idle with a {shown(tank, 'temperature', digits=2)} tank the rail of {readable(nearest_boiling)} stands"
        f" nearest to boiling ({shown(margins[nearest_boiling], 'temperature difference', digits=2)})"
    )
    return f"{result.car.name}: " + "; ".join(said) + "."
