"""The main job on the command line: compare the layouts of one car."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from fuelsim.car.car import Car
from fuelsim.car.read import read_car
from fuelsim.cli.early_stop import Work
from fuelsim.output_files import check_folder, write_folder
from fuelsim.show.html import CAUTIONS
from fuelsim.show.report import decision_lines, stopped_early
from fuelsim.show.style import png_bytes
from fuelsim.show.tables import STOPPED_EARLY, marked
from fuelsim.studies.compare import compare
from fuelsim.studies.comparison import Comparison

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["run"]

DEMO_CAR = "heron"


def run(car_file: str | None, output: str | None, layouts: Sequence[str] | None) -> None:
    """Read the car, compare its layouts, print the tables and sentences, write the folder.

    Raises
    ------
    FuelsimError
        For a wrong input; nothing is written then.
    KeyboardInterrupt
        After Ctrl-C; `StoppedEarly` where what was finished has been written.
    """
    car = Car.named(DEMO_CAR) if car_file is None else read_car(car_file)
    folder = Path(output) if output else Path(f"fuelsim_{_file_name(car.name)}")
    check_folder(folder)
    work = Work()
    result = _decided(compare(car, layouts))

    def write() -> str:
        files, said = contents(result), text(result)
        write_folder(folder, files)
        return f"{said}\n\nWritten to {folder}{'/' if not str(folder).endswith('/') else ''}: {', '.join(files)}"

    work.finish(result.completion, write)


def _decided(result: Comparison) -> Comparison:
    """Return the comparison with its decision made; after Ctrl-C, as one that is not complete and has none."""
    if not result.interrupted:
        try:
            _ = result.decision
        except KeyboardInterrupt:
            part = result.completion._replace(of=f"{result.completion.of}, no decision", interrupted=True)
            return replace(result, completion=part)
    return result


def contents(result: Comparison) -> dict[str, bytes]:
    """Return the content of every file of the output folder, so that writing starts only when all is computed."""
    from fuelsim.show.report import report_html

    files = {
        "comparison.png": png_bytes(result.plot()),
        "layouts.csv": result.table().to_csv().encode(),
        "vapour.csv": result.vapour_table().to_csv().encode(),
    }
    for layout in result.layouts:
        for name, run in (("full_load", result.full_load[layout]), ("idle", result.idle[layout])):
            table = marked(run.table(), result.completion)
            files[f"{layout}_{name}.csv"] = table.to_csv(index=table.index.nlevels > 1).encode()
    files["report.html"] = report_html(result).encode()
    return files


def text(result: Comparison) -> str:
    """Return what is printed: tables, sentences, findings and cautions."""
    import pandas as pd

    parts = [f"{result.car.name}: {result.car.about}".rstrip(": ")]
    if result.interrupted:
        parts.append(stopped_early(result))
    with pd.option_context("display.width", 160, "display.max_columns", 40, "display.max_colwidth", 30):
        parts.append("\n".join(["Decision", *decision_lines(result)]))
        parts.append("Pressure, bypass, injectors, electrics; at the car's own tank temperature")
        parts.append(_plain(result.table()).T.round(2).to_string(na_rep="never"))
        parts.append("Vapour over the tank's temperature; the least margin from idle to red line")
        parts.append(_vapour_text(result))
    parts.append("\n".join(result.sentences()))
    parts.append(_findings_text(result))
    parts.append("Cautions\n" + "\n".join(f"- {caution}" for caution in CAUTIONS))
    return "\n\n".join(parts)


def _vapour_text(result: Comparison) -> str:
    table = _plain(result.vapour_table()).reset_index().round(2)
    table["pump_noisy"] = table["pump_noisy"].map({True: "yes", False: "no"})
    headings = {name: name.replace("_margin_", "_").replace("pump_inlet", "inlet") for name in table.columns}
    return table.rename(columns=headings).to_string(index=False, na_rep="-")


def _plain(table: pd.DataFrame) -> pd.DataFrame:
    """Return a table without the column that repeats what the text says at its head."""
    return table.drop(columns=STOPPED_EARLY, errors="ignore")


def _findings_text(result: Comparison) -> str:
    lines = ["Findings; checks at idle and full load, requirements cold to hot and new to worn"]
    for layout in result.layouts:
        lines += [f"{layout}: {finding}" for finding in result.findings(layout)] or [f"{layout}: nothing found"]
    return "\n".join(lines)


def _file_name(name: str) -> str:
    """Return a name that is safe as part of a folder's name."""
    return re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")[:40] or "car"
