"""Print what was read from a car file, and what a practitioner would object to."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np

from fuelsim.car.car import Car
from fuelsim.car.read import origins, read_car
from fuelsim.cli.console import WIDTH, say, wrapped
from fuelsim.cli.json_text import findings_rows, json_text
from fuelsim.data_files import read_toml
from fuelsim.declaration import Declaration, file_keys
from fuelsim.fields import Ratings
from fuelsim.finding import Finding
from fuelsim.named_tables import NamedTables, NamedValues
from fuelsim.parts.pump.pump import Pump
from fuelsim.show.html import CAUTIONS
from fuelsim.studies.findings import findings
from fuelsim.typing import FloatArray, Given
from fuelsim.units import shown, shown_values

__all__ = ["findings_text", "run", "shared_findings", "understood"]

DIGITS, ROWS = 4, 5
"""Significant digits of what is shown, and numbers of a list in a line."""
KEY_WIDTH, ORIGIN_WIDTH = 32, 10
VALUE_COLUMN = KEY_WIDTH + ORIGIN_WIDTH
VALUE_WIDTH = WIDTH - VALUE_COLUMN - 2
"""Characters for the key, for where its value comes from, for both together, and for the value after an indent."""


def run(car_file: str, layouts: Sequence[str] | None, as_json: bool = False) -> None:
    """Read the car, print every rating with where it comes from, and all findings.

    Parameters
    ----------
    car_file : str
        Path of the car file.
    layouts : sequence of str, optional
        The layouts to check; left out, all that the car has the parts for.
    as_json : bool
        Whether the findings of each layout are printed as JSON.

    Raises
    ------
    FuelsimError
        For a wrong input; nothing is printed then.
    """
    car = read_car(car_file)
    if as_json:
        found = {layout: findings_rows(findings(car.system(layout))) for layout in layouts or car.layouts()}
        say(json_text("check", {"car": car.name, "findings": found}))
        return
    paragraphs = [
        "\n".join(wrapped(f"{car.name}: {car.about}".rstrip(": "))),
        "\n".join(
            wrapped(
                "Understood: every rating, and whether it stands in the file, comes from the catalogue or is a default"
            )
        ),
        "\n".join(understood(car, origins(read_toml(car_file)))),
        findings_text(car, layouts),
        "\n".join(["Cautions", *(line for caution in CAUTIONS for line in wrapped(f"- {caution}"))]),
    ]
    say("\n\n".join(paragraphs))


def understood(ratings: Ratings, origin: Mapping[str, str], prefix: str = "") -> list[str]:
    """Return one line per rating: key, where it comes from, and its value in the preferred units.

    A table taken from the catalogue names its generic part in its head; a pump is followed by what was assumed of it.

    Parameters
    ----------
    ratings : Ratings
        A car or one of its tables.
    origin : mapping of str to str
        As `origins` returns it.
    prefix : str
        Dotted key of the table, with a dot at its end; empty for the car.
    """
    lines, below = [], []
    for name, declaration in file_keys(type(ratings)).items():
        value = getattr(ratings, name)
        if isinstance(value, Ratings):
            below += _table_lines(f"{prefix}{name}", value, origin)
        elif isinstance(value, NamedTables):
            for title, each in value.items():
                below += _table_lines(f"{prefix}{name}.{title}", each, origin)
        elif isinstance(value, NamedValues) and not value:
            continue
        elif value is not None and str(value):
            source = origin.get(f"{prefix}{name}", "default").partition(" ")[0]
            first, *more = in_words(value, declaration)
            lines.append(f"  {name:<{KEY_WIDTH}}{source:<{ORIGIN_WIDTH}}{first}")
            lines += [f"  {'':<{VALUE_COLUMN}}{line}" for line in more]
    if isinstance(ratings, Pump):
        lines += pump_notes(ratings)
    return lines + below


def _table_lines(key: str, ratings: Ratings, origin: Mapping[str, str]) -> list[str]:
    """Return the lines of a table with its head, and with the generic part that it was taken from."""
    table = f"{key}."
    sources = {source for known, source in origin.items() if known.startswith(table) and "." not in known[len(table) :]}
    generic = "".join(f"  {source}" for source in sorted(sources - {"file"}))
    return ["", f"[{key}]{generic}", *understood(ratings, origin, table)]


def pump_notes(pump: Pump) -> list[str]:
    """Return how well the pump's curve meets its bench rows, and what was assumed of it, as lines.

    Parameters
    ----------
    pump : Pump
        With its curve fitted to its bench rows.
    """
    worst = shown(float(np.max(np.abs(pump.fit_error))), "volume flow", digits=2)
    rms = shown(float(np.sqrt(np.mean(pump.fit_error**2))), "volume flow", digits=2)
    reach = shown(pump.dead_head_pressure, "pressure difference")
    notes = [
        f"the curve misses the bench rows by {rms} rms, {worst} at worst; dead-head {reach} ({pump.dead_head_source})",
        *(f"assumed: {assumption}" for assumption in pump.assumptions),
    ]
    return [line for note in notes for line in _wrapped(f"- {note}", "  ")]


def in_words(value: Given, declaration: Declaration) -> list[str]:
    """Return a value in the preferred units, as lines; of a list every element in columns, and the unit once.

    Parameters
    ----------
    value : float, array, str, int, runs or named quantities
        As a rating holds it, in SI.
    declaration : Declaration
        The rating's own.
    """
    if isinstance(value, NamedValues):
        heights = (f"{station} {shown(height, declaration.kind)}" for station, height in value.items())
        return textwrap.wrap(", ".join(heights), VALUE_WIDTH)
    if isinstance(value, tuple):
        runs = (" > ".join(run) for run in value)
        return [line for run in runs for line in textwrap.wrap(run, VALUE_WIDTH, subsequent_indent="  ")]
    if isinstance(value, str) or declaration.form not in ("quantity", "series"):
        return textwrap.wrap(str(value), VALUE_WIDTH)
    given: FloatArray = np.asarray(value, dtype=float)
    numbers, unit = shown_values(given, declaration.kind)
    texts = [f"{number:.{DIGITS}g}" for number in np.ravel(numbers)]
    if given.ndim == 0:
        return [f"{texts[0]} {unit}".rstrip()]
    rows = [texts[start : start + ROWS] for start in range(0, len(texts), ROWS)]
    lines = ["".join(f"{text:<6}" for text in row) for row in rows]
    return [*lines[:-1], f"{lines[-1]}{unit}".rstrip()]


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=f"{indent}  ", break_on_hyphens=False)


def findings_text(car: Car, layouts: Sequence[str] | None) -> str:
    """Return the findings of each layout as text, those that several layouts share once.

    Parameters
    ----------
    car : Car
        The car to check.
    layouts : sequence of str, optional
        The layouts to check; left out, all that the car has the parts for.
    """
    chosen = list(layouts or car.layouts())
    if not chosen:
        return "The car has no regulator, so none of the layouts can be checked."
    lines = []
    for line in shared_findings({layout: findings(car.system(layout)) for layout in chosen}, sources=True):
        lines += ["", *wrapped(line)]
    return "\n".join([*lines[1:], "", f"Checked: {', '.join(chosen)}."])


def shared_findings(found: Mapping[str, Sequence[Finding]], *, sources: bool = False) -> list[str]:
    """Return how many findings there are, and one line each, the gravest first; what layouts share stands once.

    Parameters
    ----------
    found : mapping of str to sequence of Finding
        What was found in each layout.
    sources : bool
        Whether each line ends with its source.
    """
    layouts_of: dict[Finding, list[str]] = {}
    for layout, listed in found.items():
        for finding in listed:
            layouts_of.setdefault(finding, []).append(layout)
    lines = [_counted(list(layouts_of))]
    for finding, concerned in sorted(layouts_of.items(), key=lambda item: -item[0].severity):
        shared = "" if len(concerned) == len(found) else f" [{', '.join(concerned)}]"
        lines.append(f"- {finding}{shared}" + (f" ({finding.source})" if sources and finding.source else ""))
    return lines


def _counted(listed: Sequence[Finding]) -> str:
    """Return the heading of the findings with how many there are of each severity."""
    counts = Counter(finding.severity for finding in listed)
    texts = [
        f"{count} {severity.name.lower()}{'s' if count > 1 else ''}"
        for severity, count in sorted(counts.items(), reverse=True)
    ]
    return f"Findings: {', '.join(texts) or 'none'}"
