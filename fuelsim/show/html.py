"""What every HTML page shares: cautions, templates with autoescape, tables as text, and figures inside the file."""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.show.style import png_bytes
from fuelsim.show.tables import heading

if TYPE_CHECKING:
    import pandas as pd
    from jinja2 import Template
    from matplotlib.figure import Figure

__all__ = ["CAUTIONS", "PageTable", "embedded_png", "page_table", "page_template"]

CAUTIONS = (
    "Petrol vapour ignites far from the spill and pools at floor level: work ventilated, away from flames, sparks and"
    " pilot lights, with the battery disconnected and a class B extinguisher at hand.",
    "The lines hold pressure after the engine stops: release it before opening any joint, and wear eye protection.",
    "Every hose, clamp, connector and filter must be rated for the pump's dead-head pressure at its temperature, not"
    " for the regulator's set pressure only; no worm-drive clamps on injection pressure.",
    "Before the engine runs: prime, inspect every joint, hold pressure with the key on, and inspect again hot.",
    "The pump must stop when the engine stops: fit an emergency cut-off (inertia switch or controller cut).",
    "These figures are a design aid. They do not show that a car is safe and do not replace a pressure test; local law"
    " and licensed practice decide.",
)
"""Cautions shown wherever results are handed to a person."""
SMALLEST = 1e-3
"""Numbers below this are shown as zero: what is left of them is rounding."""


class PageTable(NamedTuple):
    """A table as text: headings with units in words, and rows of cells."""

    headings: list[str]
    rows: list[list[str]]


def page_table(table: pd.DataFrame) -> PageTable:
    """Return a table as a page shows it; cells that are not known are dashes.

    Parameters
    ----------
    table : DataFrame
        Columns with the unit in their name; cells are text, flags or numbers.

    Examples
    --------
    >>> import pandas as pd
    >>> page_table(pd.DataFrame({"rail_kPa_gauge": [301.28, float("nan")], "noisy": [True, False]})).rows
    [['301.3', 'yes'], ['–', 'no']]
    """
    rows = [[_cell(value) for value in row] for row in table.itertuples(index=False)]
    return PageTable([heading(str(name)) for name in table.columns], rows)


def _cell(value: object) -> str:
    """Return a cell of a table as short text."""
    if isinstance(value, (bool, np.bool_)):
        return "yes" if value else "no"
    if not isinstance(value, (int, float, np.integer)):
        return str(value)
    number = float(value)
    if number != number:
        return "–"
    if abs(number) < SMALLEST:
        return "0"
    return f"{number:.4g}" if abs(number) < 1000 else f"{number:.0f}"


def page_template(name: str) -> Template:
    """Return a template of this room; every text put into it is escaped.

    Parameters
    ----------
    name : str
        Name of a file in ``templates``.
    """
    from jinja2 import Environment, PackageLoader

    loader = PackageLoader("fuelsim.show")
    return Environment(loader=loader, autoescape=True, trim_blocks=True, lstrip_blocks=True).get_template(name)


def embedded_png(fig: Figure) -> str:
    """Return a figure as the text of a ``data:`` address of an image.

    Parameters
    ----------
    fig : Figure
        The figure.
    """
    return base64.b64encode(png_bytes(fig)).decode()
