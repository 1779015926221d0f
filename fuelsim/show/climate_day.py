"""The air of hot days over their hours, as a picture."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from fuelsim.show.style import caption, label_panel, legend, line_style, panel
from fuelsim.show.temperatures import temperature_unit, temperatures, whole_degrees
from fuelsim.typing import PlotAxes
from fuelsim.units import shown

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from fuelsim.car.climate import Climate

__all__ = ["climate_day_figure"]


def climate_day_figure(days: Sequence[Climate], ax: PlotAxes | None = None) -> Figure:
    """Draw the temperature of the air over one day at some places.

    Parameters
    ----------
    days : sequence of Climate
        A line each.
    ax : Axes, optional
        Axes of the user's own.
    """
    hours = np.linspace(0.0, 24.0, 97)
    fig, axis = panel(ax)
    for number, day in enumerate(days):
        style = line_style(number, hours.size) | {"label": day.label or f"day {number + 1}"}
        axis.plot(hours, temperatures(np.asarray(day.air_temperature(3600.0 * hours))), **style)
    axis.set_xlim(0.0, 24.0)
    axis.set_xticks(range(0, 25, 3))
    label_panel(axis, "solar time, h", f"air temperature, {temperature_unit()}")
    legend(axis, loc="center left", anchor=(1.0, 0.5))
    first = days[0]
    air = np.asarray(first.air_temperature(3600.0 * hours))
    sentence = (
        f"{first.label or 'The first day'}: from {whole_degrees(float(air.min()))} at"
        f" {hours[int(air.argmin())]:.0f} h to {whole_degrees(float(air.max()))} at {hours[int(air.argmax())]:.0f} h,"
        f" {shown(first.altitude, 'altitude', digits=3)} above the sea"
    )
    if first.summer_vapour_pressure is not None:
        sentence += f"; summer petrol of {shown(first.summer_vapour_pressure, 'absolute pressure', digits=2)}"
    caption(fig, f"{sentence}.", ax)
    return fig
