"""What passes through the walls of hoses, as a table."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fuelsim.show.tables import Column, Entry, frame
from fuelsim.studies.permeation import GRAMS_PER_DAY

if TYPE_CHECKING:
    import pandas as pd

    from fuelsim.studies.permeation import Permeation

__all__ = ["permeation_table"]


def permeation_table(result: Permeation, units: str | None = None) -> pd.DataFrame:
    """Return one row per line; grams a day in every system of units.

    Parameters
    ----------
    result : Permeation
        The lines.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    lines = result.lines
    return frame(
        [
            Column("line", [item.line for item in lines]),
            Column("material", [item.material for item in lines]),
            Entry("inside", "area", [item.area for item in lines]),
            Column("permeated_g_day", np.array([item.permeated for item in lines]) * GRAMS_PER_DAY),
        ],
        units,
    ).set_index("line")
