"""Air drawn through a hole, level by level, as a table."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fuelsim.show.tables import Entry, frame

if TYPE_CHECKING:
    import pandas as pd

    from fuelsim.studies.boot_hole import BootHole

__all__ = ["boot_hole_table"]


def boot_hole_table(result: BootHole, units: str | None = None) -> pd.DataFrame:
    """Return one row per level of the fuel, which is the index.

    Parameters
    ----------
    result : BootHole
        The levels.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    level = Entry("level", "length", result.level)
    table = frame(
        [
            level,
            Entry("fuel", "volume", result.fuel_volume),
            Entry("air_over_fuel", "number", result.air_ratio),
        ],
        units,
    )
    return table.set_index(level.column(units).name)
