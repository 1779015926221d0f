"""The main job on the command line: compare the layouts of one car."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from fuelsim.car.car import Car
from fuelsim.car.read import read_car
from fuelsim.cli.check import shared_findings
from fuelsim.cli.console import wrapped
from fuelsim.cli.early_stop import Work
from fuelsim.cli.json_text import findings_rows, json_text, table_rows
from fuelsim.output_files import check_folder, write_folder
from fuelsim.show.html import CAUTIONS
from fuelsim.show.report import decision_lines, sample_sentences, stopped_early
from fuelsim.show.style import png_bytes
from fuelsim.show.tables import STOPPED_EARLY, marked
from fuelsim.show.uncertainty import band_rows, requirement_rows
from fuelsim.studies.compare import compare
from fuelsim.studies.comparison import Comparison
from fuelsim.typing import UncertaintyAsked
from fuelsim.units import shown

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["run"]

DEMO_CAR = "heron"


def run(
    car_file: str | None,
    output: str | None,
    layouts: Sequence[str] | None,
    as_json: bool = False,
    uncertainty: UncertaintyAsked = False,
) -> None:
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
    result = _decided(compare(car, layouts, uncertainty=uncertainty))

    def write() -> str:
        files, said = contents(result), _json(result, folder) if as_json else text(result)
        write_folder(folder, files)
        if as_json:
            return said
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
    if result.samples:
        files["uncertainty.csv"] = result.uncertainty_table().to_csv(index=False).encode()
    for layout in result.layouts:
        for name, run in (("full_load", result.full_load[layout]), ("idle", result.idle[layout])):
            table = marked(run.table(), result.completion)
            files[f"{layout}_{name}.csv"] = table.to_csv(index=table.index.nlevels > 1).encode()
    files["report.html"] = report_html(result).encode()
    return files


def _json(result: Comparison, folder: Path) -> str:
    """Return what is printed as JSON."""
    return json_text(
        "compare",
        {
            "car": result.car.name,
            "decision": list(decision_lines(result)),
            "sentences": result.sentences(),
            "layouts": table_rows(result.table()),
            "vapour": table_rows(result.vapour_table()),
            "uncertainty": {
                layout: [row._asdict() for row in band_rows(samples)] for layout, samples in result.samples.items()
            },
            "findings": {layout: findings_rows(result.findings(layout)) for layout in result.layouts},
            "folder": str(folder),
        },
    )


def text(result: Comparison) -> str:
    """Return what is printed: tables, sentences, findings and cautions."""
    parts = [[f"{result.car.name}: {result.car.about}".rstrip(": ")]]
    if result.interrupted:
        parts.append([stopped_early(result)])
    parts.append(["Decision", *(f"- {line}" for line in decision_lines(result))])
    table = _plain(result.table()).T.round(2).to_string(na_rep="never")
    parts += [["Pressure, bypass, injectors, electrics; at the car's own tank temperature", *table.splitlines()]]
    parts += [["Vapour over the tank's temperature; the least margins to boiling, idle to red line"], *_vapour(result)]
    parts.append(["What limits each layout", *(f"- {sentence}" for sentence in result.sentences())])
    if result.samples:
        parts.append(["How sure", *(f"- {line}" for line in _how_sure(result))])
    heading, *listed = shared_findings({layout: result.findings(layout) for layout in result.layouts})
    judged = "checks at idle and full load, requirements cold to hot and new to worn"
    parts.append([f"{heading}; {judged}", *listed])
    parts.append(["Cautions", *(f"- {caution}" for caution in CAUTIONS)])
    return "\n\n".join("\n".join(line for each in part for line in wrapped(each)) for part in parts)


def _how_sure(result: Comparison) -> list[str]:
    """Return of each layout how often all is met, and each requirement that not every sample meets."""
    lines = sample_sentences(result)
    for layout, samples in result.samples.items():
        for item, row in zip(samples.by_requirement, requirement_rows(samples), strict=True):
            if item.met.value < 1.0:
                lines.append(f"{layout}: {row.requirement}, wanted {row.wanted}: {row.band}, met by {row.met} %")
    return [*lines, "Bands hold 90 % of the samples; shares stand with their 95 % interval of confidence."]


def _vapour(result: Comparison) -> list[list[str]]:
    """Return a narrow table for each layout, without the rows in which the tank itself boils, and what was left out."""
    table = _plain(result.vapour_table())
    impossible = table.pop("tank_boils")
    columns = [
        name for name in table.columns if name.endswith(("margin_K", "margin_degF", "percent")) or "noise" in name
    ]
    names = {name: name.removeprefix("pump_").replace("_percent", "_%") for name in columns}
    table = table[columns].round(1).rename(columns=names)
    blocks = [
        [str(layout), *rows.droplevel("layout").reset_index().to_string(index=False, na_rep="-").splitlines()]
        for layout, rows in table[~impossible].groupby(level="layout", sort=False)
    ]
    if impossible.any():
        boils = shown(result.tank_boiling_temperature, "temperature", digits=3)
        blocks.append([f"Above {boils} the fuel boils in the tank itself: no such rows are printed."])
    return blocks


def _plain(table: pd.DataFrame) -> pd.DataFrame:
    """Return a table without the column that repeats what the text says at its head."""
    return table.drop(columns=STOPPED_EARLY, errors="ignore")


def _file_name(name: str) -> str:
    """Return a name that is safe as part of a folder's name."""
    return re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")[:40] or "car"
