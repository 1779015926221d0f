"""Tables of cold starts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fuelsim.show.tables import Column, Entry, frame

if TYPE_CHECKING:
    import pandas as pd

    from fuelsim.studies.cold_start import ColdStart

__all__ = ["cold_start_table"]


def cold_start_table(result: ColdStart, units: str | None = None) -> pd.DataFrame:
    """Return one row per temperature; the pump is the one with least voltage, the rail the one with least pressure.

    Parameters
    ----------
    result : ColdStart
    units : str, optional
        System of units; the preferred one, if left out.

    Returns
    -------
    pandas.DataFrame
    """
    run = result.run
    rail = np.min([run.gauge_pressure[name] for name in run.plumbing.rails], axis=0)
    pump = np.min([run.pump_voltage[link.name] for link in run.plumbing.pumps], axis=0)
    duty = np.max([each.injector_duty for each in run.by_rail.values()], axis=0)
    return frame(
        [
            Entry("temperature", "temperature", result.temperature).column(units),
            Column("supply_V", result.supply_voltage),
            Column("pump_V", pump),
            Entry("rail", "pressure difference", rail, "gauge").column(units),
            Column("injector_duty", duty),
            Column("richness_asked", result.richness_asked),
            Column("richness", result.richness),
            Column("richness_to_light", result.richness_to_light),
            Column("richness_to_light_surely", result.richness_to_light_surely),
            Column("starts", result.starts),
            Column("limited_by", result.limited_by),
            Column("water_held_computed_percent", 100.0 * np.asarray(result.water.computed)),
            Column("water_held_published_percent", 100.0 * np.asarray(result.water.published)),
        ]
    )
