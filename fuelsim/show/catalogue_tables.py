"""The catalogue of generic parts as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fuelsim.arguments import takes
from fuelsim.data_files import data_path, read_text
from fuelsim.parts.catalogue_parts import catalogue_entry, catalogue_kinds, catalogue_names
from fuelsim.sources import cite

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["catalogue"]


@takes()
def catalogue(kind: str | None = None) -> pd.DataFrame:
    """Return the generic parts that a car may be fitted with by name.

    Parameters
    ----------
    kind : str, optional
        One of the kinds, such as ``"pumps"``; left out, the kinds themselves.

    Returns
    -------
    pandas.DataFrame
        Of a kind, one row per part, indexed by the name that a car file, ``with_values`` and ``size`` take: what it is,
        its ratings as text in the units of its file, its label and its source. Else one row per kind.

    Raises
    ------
    InputError
        For an unknown kind, with the nearest known one.

    Examples
    --------
    >>> bool(catalogue().loc["pumps", "parts"] == len(catalogue("pumps")))
    True
    >>> catalogue("wires").loc["awg_10", "size"]
    '10 AWG'
    """
    import pandas as pd

    if kind is None:
        rows = [
            {"kind": each, "parts": len(names), "names": ", ".join(names), "holds": _heading(each)}
            for each in catalogue_kinds()
            for names in [catalogue_names(each)]
        ]
        return pd.DataFrame(rows).set_index("kind")
    entries = [catalogue_entry(kind, name) for name in catalogue_names(kind)]
    rows = [
        {
            "name": entry.name,
            "about": entry.about,
            **{rating: _in_words(value) for rating, value in entry.values.items()},
            "label": entry.label,
            "source": cite(entry.source, entry.note),
        }
        for entry in entries
    ]
    table = pd.DataFrame(rows).set_index("name").fillna("")
    last = ["label", "source"]
    return table[[column for column in table.columns if column not in last] + last]


def _heading(kind: str) -> str:
    """Return the first sentence of the file of a kind."""
    comment = read_text(data_path("catalogue", f"{kind}.toml")).partition("\n[")[0]
    lines = [line.lstrip("# ").rstrip() for line in comment.splitlines() if line.startswith("#")]
    return " ".join(lines).partition(". ")[0].rstrip(".")


def _in_words(value: object) -> str:
    """Return a rating as its file has it; of a table of many rows the first and the last."""
    if not isinstance(value, list):
        return str(value)
    return ", ".join(map(str, value)) if len(value) <= 3 else f"{value[0]} ... {value[-1]} ({len(value)} rows)"
