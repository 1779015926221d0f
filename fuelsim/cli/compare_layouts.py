"""The main job on the command line: compare the layouts of one car."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from fuelsim.car.car import Car
from fuelsim.car.read import read_car
from fuelsim.output_files import check_folder, write_folder
from fuelsim.show.html import CAUTIONS
from fuelsim.show.style import png_bytes
from fuelsim.studies.compare import compare
from fuelsim.studies.comparison import Comparison

__all__ = ["run"]

DEMO_CAR = "heron"


def run(car_file: str | None, output: str | None, layouts: Sequence[str] | None) -> None:
    """Read the car, compare its layouts, print the tables and sentences, write the folder.

    Raises
    ------
    FuelsimError
        For a wrong input; nothing is written then.
    """
    car = Car.named(DEMO_CAR) if car_file is None else read_car(car_file)
    folder = Path(output) if output else Path(f"fuelsim_{_file_name(car.name)}")
    check_folder(folder)
    result = compare(car, layouts)
    files = contents(result)
    print(text(result))
    write_folder(folder, files)
    print(f"Written to {folder}{'/' if not str(folder).endswith('/') else ''}: {', '.join(files)}")


def contents(result: Comparison) -> dict[str, bytes]:
    """Return the content of every file of the output folder, so that writing starts only when all is computed."""
    from fuelsim.show.report import report_html

    files = {
        "comparison.png": png_bytes(result.plot()),
        "layouts.csv": result.table().to_csv().encode(),
        "vapour.csv": result.vapour_table().to_csv(index=False).encode(),
    }
    for layout in result.layouts:
        files[f"{layout}_full_load.csv"] = result.full_load[layout].table().to_csv(index=False).encode()
        files[f"{layout}_idle.csv"] = result.idle[layout].table().to_csv(index=False).encode()
    files["report.html"] = report_html(result).encode()
    return files


def text(result: Comparison) -> str:
    """Return what is printed: tables, sentences, findings and cautions."""
    import pandas as pd

    parts = [f"{result.car.name}: {result.car.about}".rstrip(": ")]
    with pd.option_context("display.width", 160, "display.max_columns", 40, "display.max_colwidth", 30):
        parts.append("\n".join(["Decision", *result.decision.sentences()]))
        parts.append("Pressure, bypass, injectors, electrics; at the car's own tank temperature")
        parts.append(result.table().T.round(2).to_string(na_rep="never"))
        parts.append("Vapour over the tank's temperature; the least margin from idle to red line")
        parts.append(_vapour_text(result))
    parts.append("\n".join(result.sentences()))
    parts.append(_findings_text(result))
    parts.append("Cautions\n" + "\n".join(f"- {caution}" for caution in CAUTIONS))
    return "\n\n".join(parts)


def _vapour_text(result: Comparison) -> str:
    table = result.vapour_table().round(2)
    table["pump_noisy"] = table["pump_noisy"].map({True: "yes", False: "no"})
    headings = {name: name.replace("_margin_", "_").replace("pump_inlet", "inlet") for name in table.columns}
    return table.rename(columns=headings).to_string(index=False, na_rep="-")


def _findings_text(result: Comparison) -> str:
    lines = ["Findings; idle and full load at the car's own tank temperature"]
    for layout in result.layouts:
        lines += [f"{layout}: {finding}" for finding in result.findings(layout)] or [f"{layout}: nothing found"]
    return "\n".join(lines)


def _file_name(name: str) -> str:
    """Return a name that is safe as part of a folder's name."""
    return re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")[:40] or "car"
