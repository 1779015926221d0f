"""The comparison of layouts as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim.errors import InputError, nearest
from fuelsim.show.tables import column
from fuelsim.units import unit_system

if TYPE_CHECKING:
    import pandas as pd

    from fuelsim.studies.compare import Comparison

__all__ = ["difference_table", "layout_table", "vapour_table"]

_SUMMARY_COLUMNS = (
    ("least_rail_pressure", "least_rail", "pressure difference", "gauge"),
    ("least_rail_pressure_speed", "at", "engine speed", ""),
    ("least_pressure_difference", "least_injector_difference", "pressure difference", ""),
    ("idle_rail_pressure", "idle_rail", "pressure difference", "gauge"),
    ("least_bypass_flow", "least_bypass", "volume flow", ""),
    ("idle_bypass_flow", "idle_bypass", "volume flow", ""),
    ("shut_speed", "regulator_shuts_at", "engine speed", ""),
    ("greatest_duty", "greatest_duty", "fraction", ""),
    ("least_pump_voltage", "least_pump", "voltage", ""),
    ("greatest_pump_current", "greatest_pump", "current", ""),
    ("tank_heat_flow", "idle_heat_to_tank", "heat flow", ""),
    ("idle_rail_temperature", "idle_rail", "temperature", ""),
)


def layout_table(result: Comparison, system: str | None = None) -> pd.DataFrame:
    """Return one row per layout at the car's own tank temperature.

    Parameters
    ----------
    result : Comparison
        What was compared.
    system : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    import pandas as pd

    system = unit_system(system)
    rows: dict[str, dict[str, Any]] = {}
    for layout in result.layouts:
        summary = result.summary(layout)
        rows[layout] = dict(
            column(name, kind, getattr(summary, key), system, suffix) for key, name, kind, suffix in _SUMMARY_COLUMNS
        )
    table = pd.DataFrame.from_dict(rows, orient="index").astype(float)
    table.index.name = "layout"
    return table


def difference_table(result: Comparison, reference: str, system: str | None = None) -> pd.DataFrame:
    """Return what each layout or variant has more than the reference, one row each.

    Parameters
    ----------
    result : Comparison
        What was compared.
    reference : str
        Name of one of them; its own row is left out.
    system : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    import pandas as pd

    system = unit_system(system)
    if reference not in result.layouts:
        raise InputError("not compared", given=reference, accepted=nearest(reference, result.layouts), key="reference")
    base = result.summary(reference)
    rows: dict[str, dict[str, Any]] = {}
    for name in result.layouts:
        if name == reference:
            continue
        summary = result.summary(name)
        rows[name] = dict(
            column(
                title,
                "temperature difference" if kind == "temperature" else kind,
                getattr(summary, key) - getattr(base, key),
                system,
            )
            for key, title, kind, _ in _SUMMARY_COLUMNS
        )
    table = pd.DataFrame.from_dict(rows, orient="index").astype(float)
    table.index.name = f"against {reference}"
    return table


def vapour_table(result: Comparison, system: str | None = None) -> pd.DataFrame:
    """Return one row per layout and tank temperature: the worst over the rev range and idle.

    Margins are counted from boiling: kelvin at the local pressure, pressure at the local temperature. The suction
    margin is what is left of the pressure margin above the pump's required NPSH: below zero the pump is noisy and
    wears. The flow lost is a threshold of its own: what vapour that is really there takes from the pump's flow.
    """
    import pandas as pd

    system = unit_system(system)
    rows = []
    for layout in result.layouts:
        full, idle = result.full_load[layout], result.idle[layout]

        def worst(mapping: str, station: str, full: Any = full, idle: Any = idle) -> Any:
            loaded = np.asarray(getattr(full, mapping)[station])
            return np.fmin(np.fmin.reduce(loaded, axis=0), getattr(idle, mapping)[station])

        def most(station: str, full: Any = full, idle: Any = idle) -> Any:
            loaded = np.asarray(full.vapour_liquid_ratio[station])
            return np.fmax(np.fmax.reduce(loaded, axis=0), idle.vapour_liquid_ratio[station])

        suction = np.fmin(np.fmin.reduce(np.asarray(full.suction_margin), axis=0), idle.suction_margin)
        inlet_vapour = most("pump_inlet")
        lost = np.fmax(np.fmax.reduce(np.asarray(full.pump_flow_lost), axis=0), idle.pump_flow_lost)
        cells = [
            column("tank", "temperature", result.tank_temperature, system),
            column("pump_inlet_margin", "temperature difference", worst("vapour_margin", "pump_inlet"), system),
            column("pump_inlet_margin", "pressure difference", worst("pressure_margin", "pump_inlet"), system),
            column("pump_inlet_V_L", "number", inlet_vapour, system),
            column("pump_noise_margin", "pressure difference", suction, system),
            ("pump_noisy", suction < 0.0),
            ("pump_flow_lost_percent", 100.0 * lost),
            column("rail_margin", "temperature difference", worst("vapour_margin", "rail"), system),
            column("rail_margin", "pressure difference", worst("pressure_margin", "rail"), system),
            column("rail_V_L", "number", most("rail"), system),
            column("idle_rail", "temperature", idle.temperature["rail"], system),
        ]
        block = pd.DataFrame(dict(cells))
        block.insert(0, "layout", layout)
        rows.append(block)
    return pd.concat(rows, ignore_index=True)
