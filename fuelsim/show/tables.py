"""Results as tables with the unit in each column's name; pressures say gauge or absolute."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from fuelsim import units
from fuelsim.typing import ArrayLike
from fuelsim.units import unit_system

if TYPE_CHECKING:
    import pandas as pd

    from fuelsim.system.run import Run

__all__ = ["Entry", "column", "frame", "heading", "run_table", "unit_system"]

_UNITS = tuple(
    (f"_{written}", printed)
    for written, printed in (
        ("kg_h", "kg/h"),
        ("kg_s", "kg/s"),
        ("lb_h", "lb/h"),
        ("m3_s", "m³/s"),
        ("L_h", "L/h"),
        ("degC", "°C"),
        ("degF", "°F"),
        ("percent", "%"),
        *((unit, unit) for unit in ("kPa", "psi", "gph", "rpm", "Pa")),
        *((unit, unit) for unit in ("V", "A", "K", "W")),
    )
)
"""Units at the end of a column's name, and how they are printed."""


def column(name: str, kind: str, value: Any, system: str, suffix: str = "") -> tuple[str, Any]:
    """Return the name of a column with its unit, and the values in that unit.

    Examples
    --------
    >>> column("rail", "pressure difference", np.array([300e3]), "metric workshop", "gauge")
    ('rail_kPa_gauge', array([300.]))
    """
    unit = units.KINDS[kind].shown[units.SYSTEMS.index(system)]
    words = [name]
    if unit != "1":
        words.append(re.sub(r"[^A-Za-z0-9µ]+", "_", unit.removeprefix("delta_")))
    if suffix:
        words.append(suffix)
    return "_".join(words), units.from_si(value, unit, kind)


class Entry(NamedTuple):
    """One column of a table before its unit is chosen.

    Attributes
    ----------
    name : str
        Name of the column without its unit.
    kind : str
        A name of `units.KINDS`.
    values : array (rows,)
        Values in SI.
    suffix : str
        What follows the unit, such as ``"gauge"``.
    """

    name: str
    kind: str
    values: ArrayLike
    suffix: str = ""


def frame(entries: Iterable[Entry], units: str | None = None) -> pd.DataFrame:
    """Return a table with the unit in each column's name.

    Parameters
    ----------
    entries : iterable of Entry
        The columns.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    import pandas as pd

    chosen = unit_system(units)
    return pd.DataFrame(
        dict(column(each.name, each.kind, np.asarray(each.values), chosen, each.suffix) for each in entries)
    )


def heading(name: str) -> str:
    """Return a column's name as a heading: words, and the unit as it is printed.

    Examples
    --------
    >>> heading("bypass_new_L_h"), heading("rail_degC"), heading("rail_V_L")
    ('bypass new, L/h', 'rail, °C', 'rail V/L')
    """
    if name.endswith("_V_L"):
        return f"{name.removesuffix('_V_L').replace('_', ' ')} V/L"
    for written, printed in _UNITS:
        if name.endswith(written) or f"{written}_" in name:
            words, _, suffix = name.partition(written)
            return f"{words.replace('_', ' ')}, {printed} {suffix.strip('_')}".rstrip()
    return name.replace("_", " ")


def run_table(run: Run, system: str | None = None) -> pd.DataFrame:
    """Return one row per operating point of a run.

    Parameters
    ----------
    run : Run
        The results.
    system : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    import pandas as pd

    system = unit_system(system)
    conditions = run.conditions
    shape = conditions.shape
    columns: dict[str, Any] = {}

    def add(name: str, kind: str, value: Any, suffix: str = "") -> None:
        title, numbers = column(name, kind, value, system, suffix)
        columns[title] = np.broadcast_to(numbers, shape).reshape(-1)

    add("engine", "engine speed", conditions.rpm)
    add("load", "fraction", conditions.load)
    add("tank", "temperature", conditions.tank_temperature)
    add("air", "temperature", conditions.air_temperature)
    add("altitude", "altitude", conditions.altitude)
    add("supply", "voltage", conditions.supply_voltage)
    for node, value in run.gauge_pressure.items():
        add(node, "pressure difference", value, "gauge")
    for link, value in run.flow.items():
        add(f"{link}_flow", "volume flow", value)
    for node, value in run.temperature.items():
        add(node, "temperature", value)
    for node, value in run.vapour_margin.items():
        add(f"{node}_vapour_margin", "temperature difference", value)
    for node, value in run.pressure_margin.items():
        add(f"{node}_vapour_margin", "pressure difference", value)
    for node, value in run.vapour_liquid_ratio.items():
        add(f"{node}_vapour_liquid_ratio", "number", value)
    add("injector_pressure_difference", "pressure difference", run.injector_pressure_difference)
    add("injector_duty", "fraction", run.injector_duty)
    add("pump_terminals", "voltage", run.pump_voltage["pump"])
    add("pump", "current", run.pump_current["pump"])
    add("suction_margin", "pressure difference", run.suction_margin)
    add("pump_flow_lost", "fraction", run.pump_flow_lost)
    for link, regime in run.regime.items():
        columns[f"{link}_regime"] = np.broadcast_to(regime, shape).reshape(-1)
    columns["solved"] = np.broadcast_to(run.outcome.converged, shape).reshape(-1)
    return pd.DataFrame(columns)
