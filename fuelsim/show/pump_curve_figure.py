"""The curve of each pump that feeds rails, with what is asked of it and where it works."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fuelsim.arguments import unchecked
from fuelsim.show.style import caption, figure, label_panel, legend, line_style
from fuelsim.studies.commissioning import FULL_LOAD, IDLE
from fuelsim.system.plumbing_paths import pumps_side_by_side, pumps_to_rails
from fuelsim.units import shown, shown_values

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fuelsim.parts.pump.pump import Pump
    from fuelsim.studies.commissioning import HandOver

__all__ = ["pump_curve_figure"]

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
        for index, volts in enumerate(_voltages(link.part)):
            running = link.part.at(supply_voltage=volts)
            flows = np.linspace(0.0, float(np.ravel(unchecked(running.flow)(0.0))[0]), 60)
            flow, flow_unit = shown_values(flows, "volume flow")
            pressure, pressure_unit = shown_values(unchecked(running.pressure_rise)(flows), "pressure difference")
            axis.plot(flow, pressure, label=f"{shown(volts, 'voltage', digits=3)} at the pump", **line_style(index, 60))
        _mark(axis, asked / sharing.get(link.name, 1), held, "X", "greatest demand at set pressure")
        for marker, name in (("o", IDLE), ("s", FULL_LOAD)):
            at = sheet.points.index(name)
            rise = np.asarray(sheet.run.pressure[link.downstream] - sheet.run.pressure[link.upstream])[at]
            _mark(axis, float(np.asarray(sheet.run.flow[link.name])[at]), float(rise), marker, name)
        title = link.name.replace("_", " ") if len(mains) > 1 else ""
        label_panel(axis, f"flow, {flow_unit}", f"pressure rise, {pressure_unit}", title)
        axis.set_xlim(left=0.0)
        axis.set_ylim(0.0, 1.6 * axis.get_ylim()[1])
        legend(axis, loc="upper right")
    most, at_set = shown(asked, "volume flow", digits=3), shown(held, "pressure difference", digits=3)
    caption(fig, f"The engine asks for {most} at most; the regulators hold up to {at_set}.")
    return fig


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
