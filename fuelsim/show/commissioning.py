"""The sheet to hand over as one self-contained HTML file with tables beside it: no script, no request, text escaped."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.car.write import car_text
from fuelsim.constants import VERSION
from fuelsim.errors import InputError
from fuelsim.finding import Severity
from fuelsim.output_files import write_files
from fuelsim.show.html import CAUTIONS, embedded_png, page_table, page_template
from fuelsim.show.parts_list import part_rows, purchase_table, purchases
from fuelsim.show.pump_curve_figure import pump_curve_figure
from fuelsim.show.sheet_head import dead_times, facts, summary, weather
from fuelsim.show.style import DOTTED, caption, figure, label_panel, legend, line_style, show_sag
from fuelsim.show.system_drawing import system_drawing
from fuelsim.show.tables import Column, Entry, frame
from fuelsim.show.uncertainty import band_rows
from fuelsim.show.wiring_drawing import wiring_drawing
from fuelsim.studies.commissioning import FULL_LOAD, IDLE, IDLE_POINT
from fuelsim.studies.extremes import least
from fuelsim.studies.measures import measure_named
from fuelsim.typing import PointArray
from fuelsim.units import shown, shown_values

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

    from fuelsim.studies.commissioning import HandOver

__all__ = ["handover_figure", "handover_files", "handover_html", "points_table", "steps_table", "write_handover"]

BANDED = (
    "rail_pressure",
    "injector_pressure_difference",
    "bypass",
    "injector_duty",
    "pump_voltage",
    "pump_current",
    "inlet_vapour_margin",
    "rail_vapour_margin",
)
"""Measures of which the sheet shows bands at its operating points."""
LEAST_SHOWN = 1.0
"""Pressure drop below which none is shown, Pa: what is left is rounding."""


def write_handover(
    sheet: HandOver,
    path: Path | str,
    measured: Mapping[str, str] | None = None,
    diagnosis: Sequence[str] = (),
    readings: pd.DataFrame | None = None,
) -> Path:
    """Write the HTML file and, beside it, points, commissioning sheet and buy list as CSV; all whole, or none.

    Parameters
    ----------
    sheet : HandOver
        What is handed over.
    path : path
        The HTML file; the tables are called after it.
    measured : mapping of str to str, optional
        What was measured, by the name of the check.
    diagnosis : list of str
        What the readings say of the car, in sentences.
    readings : DataFrame, optional
        What was measured beside what was predicted.

    Raises
    ------
    InputError
        Where a file cannot be written.
    """
    path = Path(path)
    sheet_file, points_file, steps_file, purchases_file = handover_files(path)
    write_files(
        {
            purchases_file: purchase_table(sheet).to_csv(index=False).encode(),
            points_file: points_table(sheet).to_csv().encode(),
            steps_file: steps_table(sheet, measured).to_csv(index=False).encode(),
            sheet_file: handover_html(sheet, diagnosis, readings).encode(),
        }
    )
    return path


def handover_files(path: Path | str) -> tuple[Path, Path, Path, Path]:
    """Return the files of a sheet: the HTML file, and beside it points, commissioning sheet and buy list as CSV.

    Parameters
    ----------
    path : path
        The HTML file.

    Raises
    ------
    InputError
        Where the path is a folder.
    """
    path = Path(path)
    if not path.name:
        raise InputError("the output is a folder", given=str(path), accepted="an HTML file, such as sheet.html")
    points, steps, bought = (
        path.with_name(f"{path.stem}_{name}.csv") for name in ("points", "commissioning", "buy_list")
    )
    return path, points, steps, bought


def points_table(sheet: HandOver, units: str | None = None) -> pd.DataFrame:
    """Return one row per named operating point.

    Parameters
    ----------
    sheet : HandOver
        What is handed over.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    import pandas as pd

    run, plumbing = sheet.run, sheet.system.plumbing
    one_pump = len(plumbing.pumps) == 1
    with np.errstate(divide="ignore", invalid="ignore"):
        table = frame(
            [
                Entry("engine", "engine speed", run.conditions.rpm),
                Entry("supply", "voltage", run.conditions.supply_voltage),
                Entry("fuel_burnt", "volume flow", np.maximum(run.burnt_flow, 0.0)),
                *(Entry(rail, "pressure difference", run.gauge_pressure[rail], "gauge") for rail in plumbing.rails),
                Entry("rail_minus_manifold", "pressure difference", run.injector_pressure_difference),
                Entry("bypass", "volume flow", run.bypass_flow),
                *(Entry(f"{pot}_overflow", "volume flow", flow) for pot, flow in run.pot_overflow.items()),
                Column("duty_percent", 100.0 * np.asarray(run.injector_duty)),
                *(Entry(name, "voltage", value) for name, value in run.pump_voltage.items()),
                *(Entry(name, "current", value) for name, value in run.pump_current.items()),
                *(
                    Entry(
                        "pump_inlet_margin" if one_pump else f"{pump.name}_inlet_margin",
                        "temperature difference",
                        run.vapour_margin[pump.upstream],
                    )
                    for pump in plumbing.pumps
                ),
                *(Entry(rail, "temperature", run.temperature[rail]) for rail in plumbing.rails),
                *(
                    Entry(f"{rail}_margin", "temperature difference", run.vapour_margin[rail])
                    for rail in plumbing.rails
                ),
            ],
            units,
        )
    return table.set_axis(pd.Index(sheet.points, name="operating point"), axis="index")


def steps_table(sheet: HandOver, measured: Mapping[str, str] | None = None) -> pd.DataFrame:
    """Return the commissioning sheet with a column for what is measured.

    Parameters
    ----------
    sheet : HandOver
        What is handed over.
    measured : mapping of str to str, optional
        What was measured, by the name of the check; empty where left out.
    """
    import pandas as pd

    return pd.DataFrame(
        [
            {
                "check": step.what,
                "how": step.how,
                "predicted in the workshop": step.workshop,
                "predicted in the car's weather": step.predicted,
                "accepted": step.limit,
                "measured": (measured or {}).get(step.what, ""),
                "by, date": "",
                "note": step.note,
            }
            for step in sheet.steps
        ]
    )


def demand_table(sheet: HandOver, units: str | None = None) -> pd.DataFrame:
    """Return one row per engine speed at full load: fuel asked for, and what the pump still bypasses, new and worn.

    Parameters
    ----------
    sheet : HandOver
        What is handed over.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    return frame(
        [
            Entry("engine", "engine speed", sheet.speeds),
            Entry("fuel_asked", "mass flow", sheet.demand.fuel_mass_flow),
            Entry("fuel_burnt", "volume flow", sheet.new.while_running(sheet.new.burnt_flow)),
            Entry("manifold", "absolute pressure", sheet.demand.manifold_pressure, "absolute"),
            Entry("bypass_new", "volume flow", sheet.new.while_running(sheet.new.bypass_flow)),
            Entry("bypass_worn", "volume flow", sheet.worn.while_running(sheet.worn.bypass_flow)),
            *(
                Entry(f"{rail}_{state}", "pressure difference", run.while_running(run.gauge_pressure[rail]), "gauge")
                for rail in sheet.system.plumbing.rails
                for state, run in (("new", sheet.new), ("worn", sheet.worn))
            ),
        ],
        units,
    )


def banded_points(sheet: HandOver, units: str | None = None) -> pd.DataFrame:
    """Return the operating points of a running engine with the bands of their main figures.

    Parameters
    ----------
    sheet : HandOver
        What is handed over, with samples.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.

    Raises
    ------
    InputError
        Where no samples were asked for.
    """
    import pandas as pd

    if sheet.samples is None:
        raise InputError("no samples", accepted="hand_over(..., uncertainty=True)", part="banded_points")
    columns: dict[str, list[str]] = {"operating point": list(sheet.points[IDLE_POINT:])}
    for name in (name for name in BANDED if name in sheet.samples.values):
        measure = measure_named(name)
        low, high = sheet.samples.quantiles(name, (0.05, 0.95))
        if np.any(np.isfinite([low, high])):
            ends = zip(low, high, strict=True)
            columns[measure.about] = [
                f"{measure.in_words(float(start), units)} to {measure.in_words(float(end), units)}"
                for start, end in ends
            ]
    return pd.DataFrame(columns)


def handover_figure(sheet: HandOver) -> Figure:
    """Draw demand and bypass, and the rail's pressure, over the rev range at full load, new and worn.

    Parameters
    ----------
    sheet : HandOver
        What is handed over.
    """
    fig, axes = figure(1, 2, width=4.6, height=3.0)
    flows, pressures = axes[0]
    speeds = sheet.speeds
    burnt, flow_unit = shown_values(sheet.new.while_running(sheet.new.burnt_flow), "volume flow")
    flows.plot(speeds, burnt, label="burnt by the engine", **line_style(6, len(speeds)))
    for index, (state, run) in enumerate((("as new", sheet.new), ("worn pump, old filter", sheet.worn))):
        style = line_style(index, len(speeds))
        flows.plot(
            speeds,
            shown_values(run.while_running(run.bypass_flow), "volume flow")[0],
            label=f"bypass, {state}",
            **style,
        )
        difference = shown_values(run.while_running(run.injector_pressure_difference), "pressure difference")[0]
        pressures.plot(speeds, difference, label=state, **style)
    pressure_unit = shown_values(0.0, "pressure difference")[1]
    label_panel(flows, "engine speed, rpm", f"flow, {flow_unit}", "Full load: fuel flow")
    label_panel(pressures, "engine speed, rpm", f"pressure, {pressure_unit}", "Full load: rail minus manifold")
    held = sheet.system.plumbing.held_at(sheet.system.plumbing.rails[0])
    levels = []
    if held.set_pressures:
        levels.append(float(np.max(shown_values(held.held_pressure(), "pressure difference")[0])))
        pressures.axhline(levels[0], color="black", linewidth=1.2, label="set pressure", zorder=1.5, **DOTTED)
    show_sag(pressures, levels)
    flows.set_ylim(0.0, 1.05 * flows.get_ylim()[1])
    for axis in (flows, pressures):
        legend(axis, loc="upper left", anchor=(0.0, -0.18))
    ends = [
        shown(least(run.while_running(run.injector_pressure_difference)), "pressure difference", digits=3)
        for run in (sheet.new, sheet.worn)
    ]
    caption(fig, f"At full load the rail stands at least {ends[0]} above the manifold as new, {ends[1]} worn.")
    return fig


def handover_html(sheet: HandOver, diagnosis: Sequence[str] = (), readings: pd.DataFrame | None = None) -> str:
    """Return the sheet as HTML text.

    Parameters
    ----------
    sheet : HandOver
        What is handed over.
    diagnosis : list of str
        What readings that came back say of the car, in sentences.
    readings : DataFrame, optional
        What was measured beside what was predicted.
    """
    from markupsafe import Markup

    full = sheet.points.index(FULL_LOAD)
    return page_template("handover.html").render(
        car=sheet.car,
        facts=facts(sheet),
        cautions=CAUTIONS,
        summary=summary(sheet),
        decision=sheet.decision.sentences() if sheet.decision else [],
        severities=Severity,
        # Made of fixed names and numbers only, and escaped where it is made.
        schematic=Markup(system_drawing(sheet.system, sheet.run, full)),
        schematic_point=sheet.points[full],
        picture=embedded_png(handover_figure(sheet)),
        pump_curve=embedded_png(pump_curve_figure(sheet)),
        # Of fixed words and numbers, names of pumps escaped where it is made.
        wiring=Markup(wiring_drawing(sheet)),
        demand=page_table(demand_table(sheet)),
        points=page_table(points_table(sheet).reset_index()),
        drops=_drops(sheet),
        sure=None if sheet.samples is None else sheet.samples.headline,
        bands=[] if sheet.samples is None else band_rows(sheet.samples),
        banded_points=None if sheet.samples is None else page_table(banded_points(sheet)),
        requirements=sheet.assessment.items,
        outcome=sheet.assessment.run.outcome.summary(),
        findings=sheet.findings,
        parts=part_rows(sheet),
        purchases=purchases(sheet),
        steps=sheet.steps,
        measured=None if readings is None else page_table(readings),
        diagnosis=diagnosis,
        workshop=shown(sheet.workshop_temperature, "temperature", digits=3),
        weather=weather(sheet),
        dead_times=dead_times(sheet),
        version=VERSION,
        inputs=car_text(sheet.car),
    )


class DropRow(NamedTuple):
    """One line of where the pressure goes: drops in words, and the share of the friction at full load in percent."""

    part: str
    at_idle: str
    at_full_load: str
    percent: float


def _drops(sheet: HandOver) -> list[DropRow]:
    """Return the pressure drop of each part from pump to rail, that of the height, and the total."""
    idle, full = sheet.points.index(IDLE), sheet.points.index(FULL_LOAD)
    split = sheet.split

    def row(part: str, drop: PointArray, fraction: float = 0.0) -> DropRow:
        return DropRow(part.replace("_", " "), _drop_in_words(drop[idle]), _drop_in_words(drop[full]), 100.0 * fraction)

    fraction = {part: max(float(values[full]), 0.0) for part, values in split.friction_fraction.items()}
    rows = [row(part, split.friction[part], fraction[part]) for part in split.parts]
    return [*rows, row("height", np.sum(list(split.height.values()), axis=0)), row("in all", split.total)]


def _drop_in_words(pressure: float) -> str:
    return shown(float(pressure) if abs(float(pressure)) > LEAST_SHOWN else 0.0, "pressure difference", digits=3)
