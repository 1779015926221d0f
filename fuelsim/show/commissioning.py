"""The sheet to hand over as one self-contained HTML file with tables beside it: no script, no request, text escaped."""

from __future__ import annotations

import base64
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim.data_files import write_whole
from fuelsim.fields import Ratings, declarations
from fuelsim.finding import Severity
from fuelsim.network.words import ratings_in_words
from fuelsim.parts.part import Part
from fuelsim.parts.pump.pump import Pump
from fuelsim.show.comparison_figure import readable
from fuelsim.show.report import CAUTIONS
from fuelsim.show.style import figure, line_style, png_bytes
from fuelsim.show.system_drawing import system_drawing
from fuelsim.show.tables import column, heading
from fuelsim.units import shown, shown_values, unit_system

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

    from fuelsim.studies.commissioning import HandOver

__all__ = ["handover_figure", "handover_html", "points_table", "steps_table", "write_handover"]

NOT_PARTS = ("fuel", "engine", "plan", "surroundings")
"""Tables of a car that are no part of its fuel delivery."""


def write_handover(sheet: HandOver, path: Path | str) -> Path:
    """Write the HTML file and, beside it, the operating points and the commissioning sheet as CSV."""
    path = Path(path)
    content = handover_html(sheet).encode()
    points = points_table(sheet).to_csv().encode()
    steps = steps_table(sheet).to_csv(index=False).encode()
    write_whole(path.with_name(f"{path.stem}_points.csv"), points)
    write_whole(path.with_name(f"{path.stem}_commissioning.csv"), steps)
    write_whole(path, content)
    return path


def points_table(sheet: HandOver, system: str | None = None) -> pd.DataFrame:
    """Return one row per named operating point."""
    import pandas as pd

    system = unit_system(system)
    run = sheet.run
    with np.errstate(divide="ignore", invalid="ignore"):
        cells = [
            column("engine", "engine speed", run.conditions.rpm, system),
            column("supply", "voltage", run.conditions.supply_voltage, system),
            column("fuel_burnt", "volume flow", np.maximum(run.flow["injectors"], 0.0), system),
            column("rail", "pressure difference", run.gauge_pressure["rail"], system, "gauge"),
            column("rail_minus_manifold", "pressure difference", run.injector_pressure_difference, system),
            column("bypass", "volume flow", run.bypass_flow, system),
            ("duty_percent", 100.0 * np.asarray(run.injector_duty)),
            column("pump", "voltage", run.pump_voltage["pump"], system),
            column("pump", "current", run.pump_current["pump"], system),
            column("pump_inlet_to_boiling", "temperature difference", run.vapour_margin["pump_inlet"], system),
            column("rail", "temperature", run.temperature["rail"], system),
            column("rail_to_boiling", "temperature difference", run.vapour_margin["rail"], system),
        ]
    return pd.DataFrame(dict(cells), index=pd.Index(sheet.points, name="operating point"))


def steps_table(sheet: HandOver) -> pd.DataFrame:
    """Return the commissioning sheet with empty columns for what is measured."""
    import pandas as pd

    rows = [
        {
            "check": step.what,
            "how": step.how,
            "predicted": step.predicted,
            "accepted": step.limit,
            "measured": "",
            "by, date": "",
            "note": step.note,
        }
        for step in sheet.steps
    ]
    return pd.DataFrame(rows)


def demand_table(sheet: HandOver, system: str | None = None) -> pd.DataFrame:
    """Return one row per engine speed at full load: fuel asked for, and what the pump still bypasses, new and worn."""
    import pandas as pd

    system = unit_system(system)
    cells = [
        column("engine", "engine speed", sheet.speeds, system),
        column("fuel_asked", "mass flow", sheet.demand.fuel_mass_flow, system),
        column("fuel_burnt", "volume flow", sheet.new.flow["injectors"], system),
        column("manifold", "absolute pressure", sheet.demand.manifold_pressure, system, "absolute"),
        column("bypass_new", "volume flow", sheet.new.bypass_flow, system),
        column("bypass_worn", "volume flow", sheet.worn.bypass_flow, system),
        column("rail_new", "pressure difference", sheet.new.gauge_pressure["rail"], system, "gauge"),
        column("rail_worn", "pressure difference", sheet.worn.gauge_pressure["rail"], system, "gauge"),
    ]
    return pd.DataFrame(dict(cells))


def handover_figure(sheet: HandOver) -> Figure:
    """Draw demand and bypass, and the rail's pressure, over the rev range at full load, new and worn."""
    drawn, axes = figure(1, 2, width=4.6, height=3.0)
    flows, pressures = axes[0]
    runs = (("as new", sheet.new), ("worn pump, old filter", sheet.worn))
    asked, per_hour = shown_values(sheet.new.flow["injectors"], "volume flow")
    flows.plot(sheet.speeds, asked, label="burnt by the engine", **line_style(6, len(sheet.speeds)))
    unit = ""
    for index, (word, run) in enumerate(runs):
        look = line_style(index, len(sheet.speeds))
        flows.plot(sheet.speeds, shown_values(run.bypass_flow, "volume flow")[0], label=f"bypass, {word}", **look)
        values, unit = shown_values(run.injector_pressure_difference, "pressure difference")
        pressures.plot(sheet.speeds, values, label=word, **look)
    for axis, title, label in (
        (flows, "Full load: fuel flow", f"flow, {per_hour}"),
        (pressures, "Full load: rail minus manifold", f"pressure, {unit}"),
    ):
        axis.set_title(title, fontsize=10, loc="left")
        axis.set_xlabel("engine speed, rpm")
        axis.set_ylabel(label)
        axis.set_ylim(0.0, 1.25 * axis.get_ylim()[1])
        axis.legend(frameon=False, fontsize=8, loc="upper left")
    return drawn


def handover_html(sheet: HandOver) -> str:
    """Return the sheet as HTML text."""
    from jinja2 import Environment, PackageLoader
    from markupsafe import Markup

    environment = Environment(
        loader=PackageLoader("fuelsim.show"), autoescape=True, trim_blocks=True, lstrip_blocks=True
    )
    full = sheet.points.index("full load, peak power")
    counts = {severity: sum(f.severity is severity for f in sheet.findings) for severity in Severity}
    return environment.get_template("handover.html").render(
        car=sheet.car,
        layout=readable(sheet.system.layout),
        weather=_weather(sheet),
        fuel=_fuel(sheet),
        cautions=CAUTIONS,
        verdict=_verdict(sheet),
        counts=counts,
        severities=Severity,
        # Made of fixed names and numbers only, and escaped where it is made.
        schematic=Markup(system_drawing(sheet.system, sheet.run, full)),
        schematic_point=sheet.points[full],
        picture=base64.b64encode(png_bytes(handover_figure(sheet))).decode(),
        demand=_cells(demand_table(sheet)),
        points=_cells(points_table(sheet).reset_index()),
        drops=_drops(sheet, full),
        requirements=sheet.assessment.items,
        outcome=sheet.assessment.run.outcome.summary(),
        findings=sheet.findings,
        parts=_parts(sheet),
        steps=sheet.steps,
    )


def _verdict(sheet: HandOver) -> str:
    missed = [item for item in sheet.assessment.items if item.met is False]
    must = [item.rule.measure.about for item in missed if item.rule.severity is Severity.FAILURE]
    should = [item.rule.measure.about for item in missed if item.rule.severity is Severity.WARNING]
    points = int(np.size(sheet.assessment.run.outcome.code))
    said = (
        f"Held to {len(sheet.assessment.items)} requirements on {points} operating points, cold to hot, new to worn: "
    )
    said += f"not met: {'; '.join(must)}." if must else "all that must hold holds in the computation."
    return said + (f" Should be better: {'; '.join(should)}." if should else "")


def _weather(sheet: HandOver) -> str:
    around, run = sheet.car.surroundings, sheet.run
    tank = shown(float(np.ravel(run.conditions.tank_temperature)[0]), "temperature", digits=3)
    return f"air {shown(around.air_temperature, 'temperature', digits=3)}, tank {tank}"


def _fuel(sheet: HandOver) -> str:
    fuel = sheet.system.fuel
    name = sheet.car.fuel.name or "petrol"
    pressure = shown(float(fuel.dvpe()), "absolute pressure", digits=3)
    return f"{name.replace('_', ' ')}, vapour pressure (DVPE) {pressure} absolute"


def _parts(sheet: HandOver) -> list[tuple[str, str, str]]:
    """Return place, ratings and working pressure of each part of this layout."""
    car, plumbing = sheet.car, sheet.system.plumbing
    tables = {name: item.part for name, item in declarations(type(car)).items() if item.form == "table"}
    # In the order of flow, then what is no link (wire, supply, controller); parts of other layouts are left out.
    apart = [name for name, kind in tables.items() if name not in NOT_PARTS and not issubclass(kind or object, Part)]
    rows = []
    for name in dict.fromkeys((*plumbing.tables, *apart)):
        part = getattr(car, name, None)
        if not isinstance(part, Ratings):
            continue
        under, known = plumbing.under_pressure.get(name), ""
        if under is not None:
            known = "not given" if under.least is None else shown(under.least, "pressure difference", digits=3)
        if isinstance(part, Pump):
            known = f"dead-head {shown(part.dead_head_pressure, 'pressure difference', digits=3)}"
        rows.append((name.replace("_", " "), ratings_in_words(part), known))
    return rows


def _drops(sheet: HandOver, full: int) -> list[tuple[str, str, str, float]]:
    """Return part, drop at idle, drop at full load and its share of the friction there, in percent."""
    idle = sheet.points.index("idle")
    split = sheet.split
    rows = []
    for part in split.parts:
        drop = split.friction[part]
        share = 100.0 * float(split.share[part][full])
        rows.append((part.replace("_", " "), _pressure(drop[idle]), _pressure(drop[full]), max(share, 0.0)))
    height = sum(split.height.values())
    rows.append(("height", _pressure(height[idle]), _pressure(height[full]), 0.0))
    rows.append(("in all", _pressure(split.total[idle]), _pressure(split.total[full]), 0.0))
    return rows


def _pressure(value: Any) -> str:
    return shown(float(value) if abs(float(value)) > 1.0 else 0.0, "pressure difference", digits=3)


def _cells(table: pd.DataFrame) -> dict[str, Any]:
    """Return headings in words and cells as short text."""

    def written(value: Any) -> str:
        if isinstance(value, str):
            return value
        number = float(value) if abs(float(value)) > 1e-3 else 0.0 * float(value)
        return "–" if number != number else f"{number + 0.0:.4g}" if abs(number) < 1000 else f"{number:.0f}"

    return {
        "headings": [heading(str(name)) for name in table.columns],
        "rows": [[written(value) for value in row] for row in table.itertuples(index=False)],
    }
