"""The comparison as one self-contained HTML file: no script, no outside request, every user text escaped."""

from __future__ import annotations

import base64
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fuelsim.data_files import write_whole
from fuelsim.show.style import png_bytes
from fuelsim.show.tables import heading

if TYPE_CHECKING:
    import pandas as pd

    from fuelsim.studies.compare import Comparison

__all__ = ["CAUTIONS", "write_report"]

CAUTIONS = (
    "Petrol vapour ignites far from the spill and pools at floor level: work ventilated, away from flames, sparks and"
    " pilot lights, battery disconnected, a class B extinguisher at hand.",
    "The lines hold pressure after the engine stops: release it before opening any joint, and wear eye protection.",
    "Every hose, clamp, connector and filter must be rated for the pump's dead-head pressure at its temperature, not"
    " for the regulator's set pressure only; no worm-drive clamps on injection pressure.",
    "Before the engine runs: prime, look at every joint, hold pressure with the key on, look again hot.",
    "The pump must stop when the engine stops: fit an emergency cut-off (inertia switch or controller cut).",
    "These figures are a design aid. They do not show that a car is safe and do not replace a pressure test; local law"
    " and licensed practice decide.",
)
"""Cautions shown wherever results are handed to a person."""


def write_report(result: Comparison, path: Path | str) -> Path:
    """Write the comparison report and return its path."""
    path = Path(path)
    write_whole(path, report_html(result).encode())
    return path


def report_html(result: Comparison) -> str:
    """Return the comparison report as HTML text."""
    from jinja2 import Environment, PackageLoader

    environment = Environment(
        loader=PackageLoader("fuelsim.show"), autoescape=True, trim_blocks=True, lstrip_blocks=True
    )
    picture = base64.b64encode(png_bytes(result.plot())).decode()
    return environment.get_template("comparison.html").render(
        car=result.car,
        fuel=result.car.fuel,
        sentences=result.sentences(),
        layouts=_cells(result.table().reset_index()),
        vapour=_cells(result.vapour_table()),
        findings={layout: result.findings(layout) for layout in result.layouts},
        outcomes=[(layout, result.full_load[layout].outcome.summary()) for layout in result.layouts],
        picture=picture,
        cautions=CAUTIONS,
    )


def _cells(table: pd.DataFrame) -> dict[str, Any]:
    """Return headings with units in words and cells as short text."""

    def written(value: Any) -> str:
        if isinstance(value, str):
            return value
        if str(value) in ("True", "False"):
            return "yes" if value else "no"
        number = float(value)
        return "–" if number != number else f"{number:.4g}" if abs(number) < 1000 else f"{number:.0f}"

    return {
        "headings": [heading(str(name)) for name in table.columns],
        "rows": [[written(value) for value in row] for row in table.itertuples(index=False)],
    }
