"""Sizing as tables: the best combinations, and what rejects the others."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fuelsim.finding import Severity
from fuelsim.show.tables import Column, Entry, frame, marked
from fuelsim.studies.candidates import first_of_each_kind
from fuelsim.studies.measures import measure_named

if TYPE_CHECKING:
    import pandas as pd

    from fuelsim.studies.sizing import Sizing
    from fuelsim.studies.sizing_steps import SizingReasons

__all__ = ["ranking_table", "reasons_table", "reject_table"]

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

    places = first_of_each_kind(result.axes, result.chosen[result.ranking], rows)
    ranked = result.ranking[places]
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
    ranking = frame(columns, units).set_axis(pd.Index(places + 1, name="rank"), axis="index")
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

    rejected = result.nearest_misses[:rows]
    table = pd.DataFrame(
        [
            result.labels(int(index))
            | {
                "failed_requirement": result.failed_requirement(int(index)),
                "fails": ", ".join(result.missed(int(index))),
                "without_result": str(result.unsolved_reason[index]),
                "margin_percent": 100.0 * float(result.least_margin[index]),
            }
            for index in rejected
        ]
    )
    return marked(table, result.completion)


def reasons_table(reasons: SizingReasons) -> pd.DataFrame:
    """Return what the nearest miss misses without each assumption and after each change, one row each.

    Parameters
    ----------
    reasons : SizingReasons
        Assumptions, the best change of each table, and changes in turn.
    """
    import pandas as pd

    steps = [
        *(("assumption", step) for step in reasons.assumptions),
        *(("single change", step) for step in reasons.single),
        *((f"change {number} in turn", step) for number, step in enumerate(reasons.in_turn, start=1)),
    ]
    return pd.DataFrame(
        {
            "kind": [kind for kind, _ in steps],
            "change": [step.change for _, step in steps],
            "misses": [", ".join(step.missed) for _, step in steps],
            "points_without_result": [step.unsolved for _, step in steps],
            "least_margin_percent": [100.0 * step.least_margin for _, step in steps],
        }
    )
