"""Size a car's fuel delivery on the command line: the least parts that meet the requirements."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from fuelsim.car.car import Car
from fuelsim.car.read import read_car
from fuelsim.cli.early_stop import Work
from fuelsim.errors import InputError
from fuelsim.output_files import check_folder, write_folder
from fuelsim.show.html import CAUTIONS
from fuelsim.show.style import png_bytes
from fuelsim.show.tables import STOPPED_EARLY
from fuelsim.studies.size import size
from fuelsim.studies.sizing import Sizing

__all__ = ["run"]


def run(
    car_file: str | None, layout: str | None, candidates: Sequence[str], rows: int = 10, output: str | None = None
) -> None:
    """Read the car, run every combination, print the best ones and, if asked, write tables and figure.

    Parameters
    ----------
    car_file : str, optional
        Path of the car file; left out, the bundled demo car.
    layout : str, optional
        The layout; left out, the first that the car has the parts for.
    candidates : sequence of str
        Each as ``part=name,name`` or ``dotted.key=value,value``; where there are none, the usual ones of the catalogue.
    rows : int
        Rows of the table that is printed.
    output : str, optional
        Folder for tables and figure; left out, none is written.

    Raises
    ------
    FuelsimError
        For a wrong input; nothing is written then.
    KeyboardInterrupt
        After Ctrl-C; `StoppedEarly` where what was finished has been printed and written.
    """
    if rows < 1:
        raise InputError("no rows to print", key="--rows", given=rows, accepted="a whole number from 1")
    car = Car.named("heron") if car_file is None else read_car(car_file)
    chosen = layout or next(iter(car.layouts()), "return")
    given = dict(_candidates(text) for text in candidates)
    if output:
        check_folder(output)
    work = Work()
    result = size(car, chosen, given or None)

    def write() -> str:
        if not output:
            return text(result, rows)
        files = {
            "ranking.csv": result.table(len(result.ranking)).to_csv().encode(),
            "rejects.csv": result.rejects().to_csv(index=False).encode(),
            "front.png": png_bytes(result.plot()),
        }
        said = text(result, rows)
        write_folder(Path(output), files)
        return f"{said}\n\nWritten to {output}: {', '.join(files)}"

    work.finish(result.completion, write)


def _candidates(text: str) -> tuple[str, list[str]]:
    """Return the key and the candidates of one flag.

    Examples
    --------
    >>> _candidates("feed.bore=6 mm, 8 mm")
    ('feed.bore', ['6 mm', '8 mm'])
    """
    key, equals, listed = text.partition("=")
    values = [value.strip() for value in listed.split(",") if value.strip()]
    if not equals or not values:
        raise InputError("not a list of candidates", given=text, accepted="part=name,name as in 'feed.bore=6 mm,8 mm'")
    return key.strip(), values


def text(result: Sizing, rows: int = 10) -> str:
    """Return what is printed: a sentence, the best combinations, and what rejects the others.

    Parameters
    ----------
    result : Sizing
        What is shown.
    rows : int
        Rows of the table.
    """
    import pandas as pd

    parts = [f"{result.car.name}, {result.layout}: {result.sentence()}"]
    with pd.option_context("display.width", 160, "display.max_columns", 40, "display.max_colwidth", 40):
        if result.ranking.size:
            parts.append("Best first: fewest warnings, then the least parts; worst figures over all operating points")
            table = result.table(rows)
            warnings = table.pop("warnings")
            table = table.drop(columns=STOPPED_EARLY, errors="ignore")
            parts.append(table.map(lambda cell: cell if isinstance(cell, str) else f"{cell:.4g}").T.to_string())
            parts.append(f"Warnings of the first: {warnings.iloc[0] or 'none'}")
        rejects = result.rejects()
        if len(rejects):
            parts.append("What rejects the others")
            parts.append(rejects["failed_requirement"].value_counts().to_string(header=False))
    parts.append("Cautions\n" + "\n".join(f"- {caution}" for caution in CAUTIONS))
    return "\n\n".join(parts)
