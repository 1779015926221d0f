"""The curve of a pump, what a system asks of it and where it works; and those of each pump that feeds rails."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fuelsim.arguments import unchecked
from fuelsim.show.style import caption, figure, label_panel, legend, line_style, panel
from fuelsim.studies.commissioning import FULL_LOAD, IDLE
from fuelsim.studies.system_curve import system_curve
from fuelsim.system.plumbing_paths import pumps_side_by_side, pumps_to_rails
from fuelsim.typing import PlotAxes
from fuelsim.units import shown, shown_values

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fuelsim.parts.pump.pump import Pump
    from fuelsim.studies.commissioning import HandOver
    from fuelsim.system.run import System

__all__ = ["pump_curve_figure", "pump_figure"]

VOLTAGES = (12.0, 13.5)
"""Volts at the terminals of the curves: battery and alternator."""
ROOM = 293.15
"""Temperature at which the volume of the demand is told, K."""
OF_A_CAR = (9.0, 16.0)
"""Bench voltages, V, of pumps that run on a battery's voltage."""


def pump_curve_figure(sheet: HandOver) -> Figure:
    """Draw each pump's pressure over flow at 12 and 13.5 V, what the engine asks of it, and where it works.

    Parameters
    ----------
    sheet : HandOver
        What is handed over.
    """
    plumbing = sheet.system.plumbing
    mains = pumps_to_rails(plumbing)
    fig, axes = figure(1, len(mains), width=5.4, height=3.2)
    boost = float(np.max(sheet.car.engine.boost_pressure))
    held = max(float(np.max(plumbing.held_at(rail).held_pressure(boost))) for rail in plumbing.rails)
    sharing = {name: len(group.pumps) for group in pumps_side_by_side(plumbing) for name in group.pumps}
    asked = float(np.max(sheet.demand.fuel_mass_flow)) / float(np.ravel(sheet.system.fuel.density(ROOM))[0])
    for number, link in enumerate(mains):
        axis = axes[0, number]
        _draw_curves(axis, link.part, link.name.replace("_", " ") if len(mains) > 1 else "")
        _mark(axis, asked / sharing.get(link.name, 1), held, "X", "greatest demand at set pressure")
        for marker, name in (("o", IDLE), ("s", FULL_LOAD)):
            at = sheet.points.index(name)
            rise = np.asarray(sheet.run.pressure[link.downstream] - sheet.run.pressure[link.upstream])[at]
            _mark(axis, float(np.asarray(sheet.run.flow[link.name])[at]), float(rise), marker, name)
        axis.set_ylim(0.0, 1.6 * axis.get_ylim()[1])
        legend(axis, loc="upper right")
    most, at_set = shown(asked, "volume flow", digits=3), shown(held, "pressure difference", digits=3)
    caption(fig, f"The engine asks for {most} at most; the regulators hold up to {at_set}.")
    return fig


def pump_figure(
    pump: Pump, system: System | None = None, rpm: float | None = None, load: float = 1.0, ax: PlotAxes | None = None
) -> Figure:
    """Draw a pump's pressure over flow at two voltages, and in a system the system curve and the operating point.

    Parameters
    ----------
    pump : Pump
    system : System, optional
        A car with this pump.
    rpm, load : float
        Engine speed, rpm, that of the greatest power if left out, and load of the operating point.
    ax : Axes, optional
        Axes of the user's own.
    """
    fig, axis = panel(ax, width=6.4, height=4.2)
    _draw_curves(axis, pump)
    lasts = shown(pump.dead_head_pressure, "pressure difference", digits=3)
    sentence = f"With its outlet shut the pump reaches {lasts}"
    if system is not None:
        curve = system_curve(system, pump, rpm, load)
        flow, rise = shown_values(curve.flow, "volume flow")[0], shown_values(curve.rise, "pressure difference")[0]
        axis.plot(flow, rise, label="system curve", **(line_style(2, curve.flow.size) | {"marker": ""}))
        speed = f"{curve.rpm:.0f} rpm"
        if np.isfinite(curve.operating.flow):
            _mark(axis, *curve.operating, "o", f"operating point, {speed}")
            at = shown(curve.operating.flow, "volume flow", digits=3)
            against = shown(curve.operating.rise, "pressure difference", digits=3)
            sentence += f"; at {speed} it delivers {at} against {against}"
        else:
            sentence += f"; at {speed} the engine does not run"
    legend(axis, loc="center left", anchor=(1.0, 0.5))
    caption(fig, f"{sentence}.", ax)
    return fig


def _draw_curves(axis: Axes, pump: Pump, title: str = "") -> None:
    """Draw pressure over flow at two voltages."""
    for index, volts in enumerate(_voltages(pump)):
        running = pump.at(supply_voltage=volts)
        flows = np.linspace(0.0, float(np.ravel(unchecked(running.flow)(0.0))[0]), 60)
        flow, flow_unit = shown_values(flows, "volume flow")
        pressure, pressure_unit = shown_values(unchecked(running.pressure_rise)(flows), "pressure difference")
        axis.plot(flow, pressure, label=f"{shown(volts, 'voltage', digits=3)} at the pump", **line_style(index, 60))
    label_panel(axis, f"flow, {flow_unit}", f"pressure rise, {pressure_unit}", title)
    axis.set_xlim(left=0.0)
    axis.set_ylim(bottom=0.0)


def _mark(axis: Axes, flow: float, pressure: float, marker: str, label: str) -> None:
    """Draw one point of flow and pressure."""
    colour = "#b03a2e" if marker == "X" else "#1a1a1a"
    axis.plot(
        shown_values([flow], "volume flow")[0],
        shown_values([pressure], "pressure difference")[0],
        marker=marker,
        markersize=8,
        fillstyle="full" if marker == "X" else "none",
        linestyle="none",
        color=colour,
        label=label,
    )


def _voltages(pump: Pump) -> tuple[float, float]:
    """Return the voltages of a pump's curves: those of a car, else its bench voltage and a tenth less."""
    if OF_A_CAR[0] <= pump.bench_voltage <= OF_A_CAR[1]:
        return VOLTAGES
    return 0.9 * pump.bench_voltage, pump.bench_voltage
