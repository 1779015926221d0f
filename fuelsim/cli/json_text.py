"""Results of the command line as JSON: one object a command, tables as lists of rows."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import fields
from typing import TYPE_CHECKING

import numpy as np

from fuelsim.finding import Finding
from fuelsim.typing import Given
from fuelsim.units import unit_system

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["findings_rows", "flat_table", "json_text", "table_rows"]


def json_text(command: str, content: Mapping[str, object]) -> str:
    """Return a result as JSON.

    Parameters
    ----------
    command : str
        The subcommand.
    content : mapping
        What it found; what is not known or infinite becomes null.

    Returns
    -------
    str

    Examples
    --------
    >>> json_text("power", {"flow": float("nan")})
    '{"command": "power", "units": "metric workshop", "flow": null}'
    """
    return json.dumps({"command": command, "units": unit_system(), **_plain_mapping(content)}, ensure_ascii=True)


def flat_table(table: pd.DataFrame) -> pd.DataFrame:
    """Return a table whose index stands in columns, where it has a name.

    Parameters
    ----------
    table : pandas.DataFrame

    Returns
    -------
    pandas.DataFrame

    Examples
    --------
    >>> import pandas as pd
    >>> list(flat_table(pd.DataFrame({"flow_L_h": [60.0]}, index=pd.Index(["london"], name="place"))))
    ['place', 'flow_L_h']
    """
    return table.reset_index() if any(name is not None for name in table.index.names) else table


def table_rows(table: pd.DataFrame) -> list[dict[str, object]]:
    """Return the rows of a table, with its index where that has a name.

    Parameters
    ----------
    table : pandas.DataFrame
        With the unit in each column's name.

    Returns
    -------
    list of dict

    Examples
    --------
    >>> import pandas as pd
    >>> table_rows(pd.DataFrame({"flow_L_h": [60.0]}))
    [{'flow_L_h': 60.0}]
    """
    flat = flat_table(table)
    return [{str(name): value for name, value in row.items()} for row in flat.to_dict(orient="records")]


def findings_rows(findings: Iterable[Finding]) -> list[dict[str, object]]:
    """Return findings as rows.

    Parameters
    ----------
    findings : iterable of Finding

    Returns
    -------
    list of dict

    Examples
    --------
    >>> from fuelsim.finding import Severity
    >>> findings_rows([Finding(Severity.NOTE, "wire", "long")])[0]["severity"]
    'note'
    """
    return [
        {each.name: getattr(finding, each.name) for each in fields(finding)}
        | {"severity": finding.severity.name.lower()}
        for finding in findings
    ]


def _plain_mapping(mapping: Mapping[str, object]) -> dict[str, Given]:
    return {str(key): _plain(value) for key, value in mapping.items()}


def _plain(value: object) -> Given:
    """Return a value as JSON has it."""
    if isinstance(value, Mapping):
        return _plain_mapping(value)
    if isinstance(value, (list, tuple)):
        return [_plain(each) for each in value]
    if isinstance(value, np.ndarray):
        return _plain(value.tolist())
    if isinstance(value, np.generic):
        return _plain(value.item())
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value if value is None or isinstance(value, (bool, int, str)) else str(value)
