"""Size a car's fuel delivery on the command line: the least parts that meet the requirements."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from fuelsim.cli.console import wrapped
from fuelsim.cli.early_stop import Work
from fuelsim.cli.flags import car_given, layout_given
from fuelsim.cli.json_text import json_text, table_rows
from fuelsim.errors import InputError
from fuelsim.finding import Severity
from fuelsim.outcome import OutcomeCode
from fuelsim.output_files import check_folder, write_folder
from fuelsim.show.html import CAUTIONS
from fuelsim.show.style import png_bytes
from fuelsim.studies.candidates import first_of_each_kind
from fuelsim.studies.measures import measure_named, value_in_words
from fuelsim.studies.size import size
from fuelsim.studies.sizing import Sizing
from fuelsim.studies.sizing_reasons import rejected_by

__all__ = ["run"]


def run(
    car_file: str | None,
    layout: str | None,
    candidates: Sequence[str],
    rows: int = 10,
    output: str | None = None,
    as_json: bool = False,
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
    as_json : bool
        Whether the result is printed as JSON.

    Raises
    ------
    FuelsimError
        For a wrong input; nothing is written then.
    KeyboardInterrupt
        After Ctrl-C; `StoppedEarly` where what was finished has been printed and written.
    """
    if rows < 1:
        raise InputError("no rows to print", key="--rows", given=rows, accepted="a whole number from 1")
    car = car_given(car_file)
    chosen = layout_given(car, layout)
    given = dict(_candidates(text) for text in candidates)
    if output:
        check_folder(output)
    work = Work()
    result = size(car, chosen, given or None)

    def printed() -> str:
        return _json(result, rows) if as_json else text(result, rows)

    def write() -> str:
        if not output:
            return printed()
        files = {
            "ranking.csv": result.table(len(result.ranking)).to_csv().encode(),
            "rejects.csv": result.rejects().to_csv(index=False).encode(),
            "front.png": png_bytes(result.plot()),
        }
        said = printed()
        write_folder(Path(output), files)
        if as_json:
            return said
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


def _json(result: Sizing, rows: int) -> str:
    """Return the result as JSON: the best of each kind, the nearest misses, and where nothing meets, what would."""
    reasons = result.reasons() if not result.meets.any() and result.nearest_misses.size else None
    return json_text(
        "size",
        {
            "car": result.car.name,
            "layout": result.layout,
            "sentence": result.sentence(),
            "best": table_rows(result.table(rows)),
            "nearest_misses": table_rows(result.rejects(rows)),
            "what_next": [] if reasons is None else table_rows(reasons.table()),
        },
    )


NEAREST = 3
"""Rejected combinations that are printed."""
WORST = ("rail_shortfall", "bypass", "injector_duty", "pump_voltage", "pump_current", "inlet_vapour_margin")
"""Measures whose worst value is printed with each combination."""


def text(result: Sizing, rows: int = 10) -> str:
    """Return what is printed: candidates, the best combinations that differ in kind, why others fail, what next.

    Parameters
    ----------
    result : Sizing
        What is shown.
    rows : int
        Combinations printed.
    """
    parts = [[f"{result.car.name}, {result.layout}: {result.sentence()}"], _candidates_tried(result)]
    places = first_of_each_kind(result.axes, result.chosen[result.ranking], rows)
    if places.size:
        parts.append(
            ["Best of each kind: fewest warnings, then the least parts; worst figures over all operating points"]
        )
        parts += [_combination(result, int(place)) for place in places]
    if result.nearest_misses.size:
        parts += _why_and_what_next(result)
    parts.append(["Cautions", *(f"- {caution}" for caution in CAUTIONS)])
    return "\n\n".join("\n".join(line for each in part for line in wrapped(each)) for part in parts)


def _candidates_tried(result: Sizing) -> list[str]:
    """Return the candidates of each key."""
    lines = [f"- {axis.key}: {', '.join(candidate.label for candidate in axis.candidates)}" for axis in result.axes]
    return ["Candidates, least first", *lines]


def _parts_of(result: Sizing, combination: int) -> str:
    return ", ".join(f"{key} {label}" for key, label in result.labels(combination).items())


def _combination(result: Sizing, place: int) -> list[str]:
    """Return one of the combinations that meet the requirements, with its worst figures and warnings."""
    combination = int(result.ranking[place])
    fuses = result.fuses(combination)
    named = ", ".join(f"{fuse:g} A" + (f" for {table}" if len(fuses) > 1 else "") for table, fuse in fuses.items())
    worst = []
    for name in WORST:
        measure = measure_named(name)
        value = float(result.worst[name][combination]) if name in result.worst else float("nan")
        if value == value:
            worst.append(f"{name} {value_in_words(value, measure.kind, digits=3)}")
    warnings = [
        rule.name
        for number, (rule, _) in enumerate(result.rules)
        if rule.severity is Severity.WARNING and result.margin[combination, number] < 0.0
    ]
    return [
        f"{place + 1:>3}. {_parts_of(result, combination)}, fuse {named}",
        f"     worst: {', '.join(worst)}; least margin {100.0 * result.least_margin[combination]:.2g} %",
        f"     warnings: {', '.join(warnings) or 'none'}",
    ]


def _why_and_what_next(result: Sizing) -> list[list[str]]:
    """Return what rejects the others, the nearest misses, and where nothing meets the requirements what would."""
    reasons = result.reasons() if not result.meets.any() else None
    counts = rejected_by(result)
    why = [
        f"- {each.name} rejects {each.rejects}" + (f", {each.alone} of them alone" if each.alone else "")
        for each in counts
    ]
    codes = Counter(int(code) for code in result.unsolved_code[result.finished] if code)
    why += [f"- {count} without a result at every point: {OutcomeCode(code).in_words}" for code, count in codes.items()]
    if codes:
        first = str(result.unsolved_reason[np.flatnonzero(result.unsolved_code)[0]])
        why.append(f"  as in: {first}")
    misses = result.nearest_misses
    nearest = [
        f"- {_parts_of(result, int(number))}: "
        + "; ".join([*result.missed(int(number)), *filter(None, [str(result.unsolved_reason[number])])])
        for number in misses[first_of_each_kind(result.axes, result.chosen[misses], NEAREST)]
    ]
    parts = [["What rejects the others", *why], ["Nearest misses, and all that each fails", *nearest]]
    if reasons is None:
        return parts
    parts.append(["The nearest in figures", *(f"- {item.statement}" for item in reasons.misses)])
    if reasons.assumptions:
        parts.append(
            [
                "The same on other operating points: what is missed only with an assumption is a limit of it",
                *(f"- {step.change}: {step.outcome}" for step in reasons.assumptions),
            ]
        )
    single = [f"- {step.change}: {step.outcome}" for step in reasons.single]
    parts.append(["What one change of the nearest would do, from the whole catalogue", *(single or ["- none helps"])])
    if len(reasons.in_turn) > 1:
        turns = ", then ".join(step.change for step in reasons.in_turn)
        parts.append([f"Changes in turn: {turns}: {reasons.in_turn[-1].outcome}"])
    return parts
