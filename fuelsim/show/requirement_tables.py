"""Requirements and what became of them, as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

    from fuelsim.studies.requirements import Assessment

__all__ = ["assessment_table"]


def assessment_table(result: Assessment) -> pd.DataFrame:
    """Return one row per requirement; values carry their units, since each row has its own."""
    import pandas as pd

    rows = []
    for item in result.items:
        rule = item.rule
        rows.append(
            {
                "requirement": rule.measure.about,
                "wanted": ("at least " if rule.sense > 0 else "at most ") + item.in_words(item.limit),
                "worst": "does not apply or not known" if item.met is None else item.in_words(item.worst),
                "met": {True: "yes", False: "no", None: "-"}[item.met],
                "severity": rule.severity.name.lower(),
                "at": item.where,
                "source": rule.source,
            }
        )
    return pd.DataFrame(rows)
