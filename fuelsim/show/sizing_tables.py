"""Sizing as tables: the best combinations, and what rejects the others."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim.finding import Severity
from fuelsim.show.tables import column
from fuelsim.studies.measures import measure_named
from fuelsim.units import unit_system

if TYPE_CHECKING:
    import pandas as pd

    from fuelsim.studies.size import Sizing

__all__ = ["ranking_table", "reject_table"]

_SHOWN = ("rail_shortfall", "bypass", "injector_duty", "pump_voltage", "pump_current", "inlet_vapour_margin")


def ranking_table(result: Sizing, rows: int = 10, system: str | None = None) -> pd.DataFrame:
    """Return the best combinations, one row each."""
    import pandas as pd

    system = unit_system(system)
    ranked = result.ranking[:rows]
    table: dict[str, Any] = {}
    for place in (axis.place for axis in result.axes):
        table[place] = [result.labels(int(index))[place] for index in ranked]
    table["fuse_A"] = [result.fuse(int(index)) for index in ranked]
    for name in _SHOWN:
        if name in result.worst:
            title, values = column(f"worst_{name}", measure_named(name).kind, result.worst[name][ranked], system)
            table[title] = values
    table["least_margin_percent"] = 100.0 * result.least_margin[ranked]
    should = [number for number, (rule, _) in enumerate(result.rules) if rule.severity is Severity.WARNING]
    missed = result.margin[np.ix_(ranked, should)] < 0.0
    table["warnings"] = [", ".join(result.rules[should[j]][0].name for j in np.flatnonzero(row)) for row in missed]
    return pd.DataFrame(table, index=pd.RangeIndex(1, len(ranked) + 1, name="rank"))


def reject_table(result: Sizing, rows: int | None = None) -> pd.DataFrame:
    """Return the rejected combinations, nearest to meeting the requirements first, with what each misses most."""
    import pandas as pd

    rejected = np.flatnonzero(result.finished & ~result.meets)
    rejected = rejected[np.argsort(-result.least_margin[rejected], kind="stable")][:rows]
    return pd.DataFrame(
        [
            result.labels(int(index))
            | {
                "failed_requirement": result.failed_requirement(int(index)),
                "margin_percent": 100.0 * float(result.least_margin[index]),
            }
            for index in rejected
        ]
    )
