"""Tables of drives, soaks, margin maps and remedies, with the unit in each column's name."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim.fields import declarations
from fuelsim.show.tables import column
from fuelsim.system.conditions import Conditions
from fuelsim.units import unit_system

if TYPE_CHECKING:
    import pandas as pd

    from fuelsim.studies.climates import ClimateTable
    from fuelsim.studies.margins import MarginMap
    from fuelsim.studies.remedies import Ladder
    from fuelsim.transients.drive import Drive
    from fuelsim.transients.soak import Soak

__all__ = ["climate_table", "drive_table", "ladder_table", "margin_table", "soak_table"]


def _frame(entries: list[tuple[str, str, Any, str]], system: str | None) -> pd.DataFrame:
    import pandas as pd

    chosen = unit_system(system)
    return pd.DataFrame(dict(column(name, kind, value, chosen, suffix) for name, kind, value, suffix in entries))


def drive_table(result: Drive, system: str | None = None) -> pd.DataFrame:
    """Return one row per time shown of a drive."""
    entries: list[tuple[str, str, Any, str]] = [
        ("time", "time", result.time, ""),
        ("air", "temperature", result.air_temperature, ""),
        ("bay", "temperature", result.bay_temperature, ""),
        ("altitude", "altitude", result.altitude, ""),
        ("tank", "temperature", result.tank_temperature, ""),
        ("pick_up", "temperature", result.supply_temperature, ""),
        ("tank_boils_at", "temperature", result.boiling_temperature, ""),
        ("tank", "pressure difference", result.tank_gauge_pressure, "gauge"),
        ("fuel", "mass", result.fuel_mass, ""),
        ("vapour_lost", "mass", result.vapour_lost, ""),
        ("rail", "pressure difference", result.gauge_pressure["rail"], "gauge"),
        ("rail", "temperature", result.temperature["rail"], ""),
        ("pump_inlet_vapour_margin", "temperature difference", result.vapour_margin["pump_inlet"], ""),
        ("rail_vapour_margin", "temperature difference", result.vapour_margin["rail"], ""),
        ("pump_inlet_vapour_liquid_ratio", "number", result.vapour_liquid_ratio["pump_inlet"], ""),
        ("suction_margin", "pressure difference", result.suction_margin, ""),
        ("bypass_flow", "volume flow", result.bypass_flow, ""),
        ("heat_into_tank", "heat flow", result.tank_heat_flow, ""),
    ]
    table = _frame(entries, system)
    table.insert(1, "phase", result.phase)
    table["vapour_lock"] = result.vapour_lock
    return table


def soak_table(soak: Soak, system: str | None = None) -> pd.DataFrame:
    """Return one row per time of a soak."""
    restart = soak.restart
    return _frame(
        [
            ("time", "time", soak.time, ""),
            ("bay", "temperature", soak.bay_temperature, ""),
            ("rail", "temperature", soak.rail_temperature, ""),
            ("rail", "pressure difference", soak.rail_gauge_pressure, "gauge"),
            ("needed_against_boiling", "pressure difference", soak.pressure_needed, "gauge"),
            ("vapour", "volume", soak.vapour_volume, ""),
            ("key_on_to_pressure", "time", restart.seconds_to_pressure, ""),
            ("key_on_to_liquid", "time", restart.seconds_to_liquid, ""),
        ],
        system,
    )


def margin_table(result: MarginMap, system: str | None = None) -> pd.DataFrame:
    """Return one row per point of a margin map: its place on the axes and the limit of each station."""
    known = declarations(Conditions)
    points = list(itertools.product(*(np.asarray(values).tolist() for values in result.axes.values())))
    entries: list[tuple[str, str, Any, str]] = []
    for position, name in enumerate(result.axes):
        kind = "absolute pressure" if name == "vapour_pressure" else known[name].kind
        entries.append((name, kind, np.array([point[position] for point in points]), ""))
    what = "tank" if result.limited == "tank_temperature" else "air"
    entries += [
        (f"{what}_limit_for_{station}", "temperature", np.asarray(limit).reshape(-1), "")
        for station, limit in result.limit.items()
    ]
    return _frame(entries, system)


def ladder_table(ladder: Ladder) -> pd.DataFrame:
    """Return one row per remedy; gains are kelvin of margin."""
    import pandas as pd

    rows = ladder.remedies
    return pd.DataFrame(
        {
            "remedy": [row.name for row in rows],
            "pump_inlet_gain_K": [row.pump_gain for row in rows],
            "rail_gain_K": [row.rail_gain for row in rows],
            "pump_inlet_gain_at_once_K": [row.pump_gain_at_once for row in rows],
            "rail_gain_at_once_K": [row.rail_gain_at_once for row in rows],
            "tank_change_K": [row.tank_change for row in rows],
            "mind": [row.note for row in rows],
        }
    )


def climate_table(result: ClimateTable, system: str | None = None) -> pd.DataFrame:
    """Return one row per place, car and layout: least margins, hottest tank, and what happened first."""
    import pandas as pd

    rows = result.rows
    table = _frame(
        [
            ("hottest_air", "temperature", np.array([row.hottest_air for row in rows]), ""),
            ("hottest_tank", "temperature", np.array([row.hottest_tank for row in rows]), ""),
            (
                "least_pump_inlet_margin",
                "temperature difference",
                np.array([row.least_pump_margin for row in rows]),
                "",
            ),
            ("least_rail_margin", "temperature difference", np.array([row.least_rail_margin for row in rows]), ""),
            ("vapour_lost", "mass", np.array([row.vapour_lost for row in rows]), ""),
        ],
        system,
    )
    names = pd.DataFrame(
        {"place": [row.place for row in rows], "car": [row.car for row in rows], "layout": [row.layout for row in rows]}
    )
    return pd.concat([names, table, pd.DataFrame({"outcome": [row.verdict for row in rows]})], axis=1)
