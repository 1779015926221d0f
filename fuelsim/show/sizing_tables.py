"""Sizing as tables: the best combinations, and what rejects the others."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fuelsim.finding import Severity
from fuelsim.show.tables import Column, Entry, frame, marked
from fuelsim.studies.measures import measure_named

if TYPE_CHECKING:
    import pandas as pd

    from fuelsim.studies.sizing import Sizing

__all__ = ["ranking_table", "reject_table"]

_MEASURES = ("rail_shortfall", "bypass", "injector_duty", "pump_voltage", "pump_current", "inlet_vapour_margin")
"""Measures whose worst value is shown beside each combination."""


def ranking_table(result: Sizing, rows: int = 10, units: str | None = None) -> pd.DataFrame:
    """Return the best combinations, one row each.

    Parameters
    ----------
    result : Sizing
        The combinations.
    rows : int
        Number of rows at most.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    import pandas as pd

    ranked = result.ranking[:rows]
    labels = [result.labels(int(index)) for index in ranked]
    columns: list[Entry | Column] = [Column(axis.key, [label[axis.key] for label in labels]) for axis in result.axes]
    fuses = [result.fuses(int(index)) for index in ranked]
    for table in result.circuit_current:
        name = "fuse_A" if len(result.circuit_current) == 1 else f"{table}.fuse_A"
        columns.append(Column(name, [fuse[table] for fuse in fuses]))
    columns += [
        Entry(f"worst_{name}", measure_named(name).kind, result.worst[name][ranked])
        for name in _MEASURES
        if name in result.worst
    ]
    columns.append(Column("least_margin_percent", 100.0 * result.least_margin[ranked]))
    warnings = [number for number, (rule, _) in enumerate(result.rules) if rule.severity is Severity.WARNING]
    missed = result.margin[ranked][:, warnings] < 0.0
    names = [result.rules[number][0].name for number in warnings]
    columns.append(Column("warnings", [", ".join(np.array(names, dtype=object)[row]) for row in missed]))
    ranking = frame(columns, units).set_axis(pd.RangeIndex(1, len(ranked) + 1, name="rank"), axis="index")
    return marked(ranking, result.completion)


def reject_table(result: Sizing, rows: int | None = None) -> pd.DataFrame:
    """Return the rejected combinations, nearest to meeting the requirements first, with what each misses most.

    Parameters
    ----------
    result : Sizing
        The combinations.
    rows : int, optional
        Number of rows at most; all of them, if left out.
    """
    import pandas as pd

    rejected = np.flatnonzero(result.finished & ~result.meets)
    rejected = rejected[np.argsort(-result.least_margin[rejected], kind="stable")][:rows]
    table = pd.DataFrame(
        [
            result.labels(int(index))
            | {
                "failed_requirement": result.failed_requirement(int(index)),
                "margin_percent": 100.0 * float(result.least_margin[index]),
            }
            for index in rejected
        ]
    )
    return marked(table, result.completion)
