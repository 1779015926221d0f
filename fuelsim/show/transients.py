"""Pressure waves as tables and pictures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from fuelsim.errors import InputError, nearest
from fuelsim.show.style import caption, figure, label_panel, legend, line_style, panel
from fuelsim.show.tables import Column, Entry, frame
from fuelsim.typing import FloatArray, PlotAxes, UnitSystem
from fuelsim.units import shown, shown_values
from fuelsim.waves.response_result import FrequencyResponse
from fuelsim.waves.result import Transient

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["response_figure", "response_table", "transient_figure", "transient_table"]

_MOST_STATIONS = 5


def transient_table(result: Transient, units: UnitSystem | None = None) -> pd.DataFrame:
    """Return one row per time: pressures of nodes, flows at the links' upstream ends, vapour."""
    columns: list[Entry | Column] = [Column("time_ms", result.time * 1e3)]

    def add(name: str, kind: str, values: FloatArray, suffix: str = "") -> None:
        if values.ndim == 1:
            columns.append(Entry(name, kind, values, suffix))
            return
        columns.extend(Entry(f"{name}_{point}", kind, values[:, point], suffix) for point in range(values.shape[1]))

    for name, values in result.gauge_pressure.items():
        add(name, "pressure difference", values, "gauge")
    for name, values in result.flow.items():
        add(name, "volume flow", values)
    for point, vapour in enumerate(
        result.vapour_volume.T if result.vapour_volume.ndim == 2 else [result.vapour_volume]
    ):
        name = "vapour" if result.vapour_volume.ndim == 1 else f"vapour_{point}"
        columns.append(Column(f"{name}_mm3", vapour * 1e9))
    return frame(columns, units)


def transient_figure(
    result: Transient, stations: Sequence[str] | None, point: int, ax: PlotAxes | None = None
) -> Figure:
    """Draw pressure against time at some nodes, and where there is vapour its volume below.

    Parameters
    ----------
    result : Transient
    stations : sequence of str or None
        Nodes, or None for those that swing most.
    point : int
        Which point.
    ax : Axes, optional
        Axes of the user's own; the volume of vapour is left out there.

    Raises
    ------
    InputError
        For an unknown node or point.
    """
    points = 1 if result.vapour_volume.ndim == 1 else result.vapour_volume.shape[1]
    if not 0 <= point < points:
        raise InputError("no such point", given=point, accepted=f"0 to {points - 1}", key="point")

    def at_point(values: FloatArray) -> FloatArray:
        return values if values.ndim == 1 else values[:, point]

    swings = {name: float(np.ptp(at_point(values))) for name, values in result.gauge_pressure.items()}
    if stations is None:
        by_swing = sorted(swings, key=lambda name: -swings[name])
        stations = [name for name in by_swing[:_MOST_STATIONS] if swings[name] > 0.0] or by_swing[:1]
    _require_nodes(stations, swings)
    boils = bool(at_point(result.vapour_volume).any())
    below: Axes | None = None
    if boils and ax is None:
        fig, axes = figure(2, 1, width=7.5, height=2.6)
        above, below = axes[:, 0]
    else:
        fig, above = panel(ax, width=7.5, height=3.7)
    time = result.time * 1e3
    unit = ""
    for number, name in enumerate(stations):
        values, unit = shown_values(at_point(result.gauge_pressure[name]), "pressure difference")
        above.plot(time, values, label=name, **(line_style(number, points=len(time)) | {"linewidth": 1.3}))
    label_panel(above, "" if below else "time, ms", f"gauge pressure, {unit}")
    above.set_xlim(time[0], time[-1])
    legend(above, loc="center left", anchor=(1.0, 0.5))
    if below is not None:
        below.plot(time, at_point(result.vapour_volume) * 1e9, color="black", linewidth=1.3)
        label_panel(below, "time, ms", "vapour in all cavities, mm³")
        below.set_xlim(time[0], time[-1])
    caption(fig, _sentence(result, stations, swings, boils), ax)
    return fig


def _sentence(result: Transient, stations: Sequence[str], swings: dict[str, float], boils: bool) -> str:
    name = max(stations, key=lambda each: swings[each])
    text = f"The pressure at {name} swings over {shown(swings[name], 'pressure difference')}"
    if not boils:
        return f"{text}."
    pressure = shown(result.vapour_pressure, "absolute pressure")
    return f"{text}; the liquid boils at {pressure} absolute, and later peaks are a band rather than figures."


def response_table(result: FrequencyResponse, units: UnitSystem | None = None) -> pd.DataFrame:
    """Return one row per frequency: amplitude of each pressure over that of the draw, and its phase."""
    columns: list[Entry | Column] = [Entry("frequency", "frequency", result.frequency)]
    columns += [Entry(name, "pressure per flow", values) for name, values in result.amplitude.items()]
    columns += [Entry(f"{name}_phase", "angle", values) for name, values in result.phase.items()]
    return frame(columns, units)


def response_figure(result: FrequencyResponse, stations: Sequence[str] | None, ax: PlotAxes | None = None) -> Figure:
    """Draw amplitudes of pressure over that of the draw against frequency, on a logarithmic scale.

    Parameters
    ----------
    result : FrequencyResponse
    stations : sequence of str or None
        Nodes, or None for those that swing most.
    ax : Axes, optional
        Axes of the user's own.

    Raises
    ------
    InputError
        For an unknown node.
    """
    most = {name: float(values.max()) for name, values in result.amplitude.items()}
    if stations is None:
        others = sorted((name for name in most if name != result.node), key=lambda name: -most[name])
        stations = [result.node, *others[: _MOST_STATIONS - 1]]
    _require_nodes(stations, most)
    fig, axis = panel(ax, width=7.5, height=3.7)
    unit = ""
    for number, name in enumerate(stations):
        values, unit = shown_values(result.amplitude[name], "pressure per flow")
        axis.plot(result.frequency, values, label=name, **line_style(number, points=len(result.frequency)))
    axis.set_yscale("log")
    # The usual labels of a logarithmic axis are formulas, which figures here do not set.
    axis.yaxis.set_major_formatter(lambda value, _: f"{value:g}")
    axis.yaxis.set_minor_formatter(lambda value, _: "")
    label_panel(axis, "frequency, Hz", f"pressure over draw, {unit}")
    axis.set_xlim(result.frequency[0], result.frequency[-1])
    legend(axis, loc="center left", anchor=(1.0, 0.5))
    caption(fig, f"{result.headline[:1].upper()}{result.headline[1:]}.", ax)
    return fig


def _require_nodes(stations: Sequence[str], known: Mapping[str, float]) -> None:
    for name in stations:
        if name not in known:
            raise InputError("no node of this name", given=name, accepted=nearest(name, known), key="stations")
