"""Tables of drives, soaks, margin maps and remedies, with the unit in each column's name."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

import numpy as np

from fuelsim.fields import declarations
from fuelsim.show.tables import Entry, frame
from fuelsim.system.conditions import Conditions

if TYPE_CHECKING:
    import pandas as pd

    from fuelsim.studies.margins import MarginMap
    from fuelsim.studies.remedies import Ladder
    from fuelsim.transients.drive_results import Drive
    from fuelsim.transients.soak import Soak

__all__ = ["drive_table", "ladder_table", "margin_table", "soak_table"]


def drive_table(result: Drive, system: str | None = None) -> pd.DataFrame:
    """Return one row per time shown of a drive."""
    entries: list[Entry] = [
        Entry("time", "time", result.time),
        Entry("air", "temperature", result.air_temperature),
        Entry("bay", "temperature", result.bay_temperature),
        Entry("altitude", "altitude", result.altitude),
        Entry("tank", "temperature", result.tank_temperature),
        Entry("pick_up", "temperature", result.supply_temperature),
        Entry("tank_boils_at", "temperature", result.boiling_temperature),
        Entry("tank", "pressure difference", result.tank_gauge_pressure, "gauge"),
        Entry("fuel", "mass", result.fuel_mass),
        Entry("vapour_lost", "mass", result.vapour_lost),
        Entry("rail", "pressure difference", result.gauge_pressure["rail"], "gauge"),
        Entry("rail", "temperature", result.temperature["rail"]),
        Entry("pump_inlet_vapour_margin", "temperature difference", result.vapour_margin["pump_inlet"]),
        Entry("rail_vapour_margin", "temperature difference", result.vapour_margin["rail"]),
        Entry("pump_inlet_vapour_liquid_ratio", "number", result.vapour_liquid_ratio["pump_inlet"]),
        Entry("suction_margin", "pressure difference", result.suction_margin),
        Entry("bypass_flow", "volume flow", result.bypass_flow),
        Entry("heat_into_tank", "heat flow", result.tank_heat_flow),
    ]
    table = frame(entries, system)
    table.insert(1, "phase", result.phase)
    table["vapour_lock"] = result.vapour_lock
    return table


def soak_table(soak: Soak, system: str | None = None) -> pd.DataFrame:
    """Return one row per time of a soak."""
    restart = soak.restart
    return frame(
        [
            Entry("time", "time", soak.time),
            Entry("bay", "temperature", soak.bay_temperature),
            Entry("rail", "temperature", soak.rail_temperature),
            Entry("rail", "pressure difference", soak.rail_gauge_pressure, "gauge"),
            Entry("needed_against_boiling", "pressure difference", soak.pressure_needed, "gauge"),
            Entry("vapour", "volume", soak.vapour_volume),
            Entry("key_on_to_pressure", "time", restart.seconds_to_pressure),
            Entry("key_on_to_liquid", "time", restart.seconds_to_liquid),
        ],
        system,
    )


def margin_table(result: MarginMap, system: str | None = None) -> pd.DataFrame:
    """Return one row per point of a margin map: its place on the axes and the limit of each station."""
    known = declarations(Conditions)
    points = list(itertools.product(*(np.asarray(values).tolist() for values in result.axes.values())))
    entries: list[Entry] = []
    for position, name in enumerate(result.axes):
        kind = "absolute pressure" if name == "vapour_pressure" else known[name].kind
        entries.append(Entry(name, kind, [point[position] for point in points]))
    what = "tank" if result.limited == "tank_temperature" else "air"
    entries += [
        Entry(f"{what}_limit_for_{station}", "temperature", np.asarray(limit).reshape(-1))
        for station, limit in result.limit.items()
    ]
    return frame(entries, system)


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
