"""Requirements and what became of them, as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

    from fuelsim.studies.assessment import Assessment

__all__ = ["assessment_table"]

_MET = {True: "yes", False: "no", None: "-"}


def assessment_table(result: Assessment, units: str | None = None) -> pd.DataFrame:
    """Return one row per requirement; values carry their units, since each row has its own.

    Parameters
    ----------
    result : Assessment
        The requirements with the worst of each.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    import pandas as pd

    return pd.DataFrame(
        [
            {
                "requirement": item.rule.measure.about,
                "wanted": ("at least " if item.rule.sense > 0 else "at most ") + item.in_words(item.limit, units),
                "worst": "does not apply or not known" if item.met is None else item.in_words(item.worst, units),
                "met": _MET[item.met],
                "severity": item.rule.severity.name.lower(),
                "at": item.where,
                "source": item.rule.source,
            }
            for item in result.items
        ]
    )
