"""Sources and figures without one, as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fuelsim.sources import reference, references, unknowns

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["source_table", "unknown_figures"]


def unknown_figures() -> pd.DataFrame:
    """Return the figures for which no public source was found, with their bands and what to measure instead.

    Returns
    -------
    pandas.DataFrame
        One row per figure; indexed by its key in ``data/unknown_figures.toml``.

    Examples
    --------
    >>> table = unknown_figures()
    >>> table.loc["shortest_pulse", "band"]
    '1.2 to 2.0 ms'
    """
    import pandas as pd

    rows = [
        {
            "figure": item.key,
            "quantity": item.quantity,
            "band": item.band,
            "used": item.used,
            "measure": item.measure,
            "rests on it": item.rests,
            "keys": ", ".join(item.keys),
            "looked in": "; ".join(reference(key).short for key in item.looked_in),
        }
        for item in unknowns().values()
    ]
    return pd.DataFrame(rows).set_index("figure")


def source_table() -> pd.DataFrame:
    """Return every source that code, data and outputs cite, and how it was read.

    Returns
    -------
    pandas.DataFrame
        One row per source; indexed by its key in ``data/references.toml``.

    Examples
    --------
    >>> source_table().loc["sae_j2260", "read"]
    'scope'
    """
    import pandas as pd

    rows = [
        {
            "key": item.key,
            "kind": item.kind,
            "title": item.title,
            "year": item.year,
            "section": item.section,
            "read": item.read,
        }
        for item in references().values()
    ]
    return pd.DataFrame(rows).astype({"year": "Int64"}).set_index("key")
