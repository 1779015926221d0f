"""Say what was understood of a car file, and what a practitioner would object to."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from fuelsim.car.car import Car
from fuelsim.car.read import origins, read_car
from fuelsim.data_files import read_toml
from fuelsim.fields import Declaration, Ratings, file_keys
from fuelsim.finding import Finding, Severity
from fuelsim.parts.pump.pump import Pump
from fuelsim.show.html import CAUTIONS
from fuelsim.studies.findings import findings
from fuelsim.units import shown, shown_values

__all__ = ["findings_text", "run", "understood"]

DIGITS, WIDTH, ROWS = 4, 110, 12
"""Significant digits of what is shown, characters in a line, and numbers of a list in a line."""


def run(car_file: str, layouts: Sequence[str] | None) -> None:
    """Read the car, print every rating with where it comes from, and all findings.

    Raises
    ------
    FuelsimError
        For a wrong input; nothing is printed then.
    """
    car = read_car(car_file)
    said = [
        f"{car.name}: {car.about}".rstrip(": "),
        "Understood: every rating, and whether it stands in the file, comes from the catalogue or is a default",
        "\n".join(understood(car, origins(read_toml(car_file)))),
        findings_text(car, layouts),
        "\n".join(["Cautions", *(line for caution in CAUTIONS for line in _wrapped(f"- {caution}"))]),
    ]
    print("\n\n".join(said))


def understood(ratings: Ratings, origin: Mapping[str, str], prefix: str = "") -> list[str]:
    """Return one line per rating: key, where it comes from, and its value in the preferred units.

    A table taken from the catalogue names its generic part in its head; behind a pump stands what was assumed.
    """
    lines, below = [], []
    for name, declaration in file_keys(type(ratings)).items():
        value = getattr(ratings, name)
        if isinstance(value, Ratings):
            here = f"{prefix}{name}."
            used = {where for key, where in origin.items() if key.startswith(here) and "." not in key[len(here) :]}
            generic = "".join(f"  {where}" for where in sorted(used) if where != "file")
            below += ["", f"[{prefix}{name}]{generic}", *understood(value, origin, here)]
        elif value is not None and str(value):
            where = origin.get(f"{prefix}{name}", "default").partition(" ")[0]
            first, *more = in_words(value, declaration)
            lines += [f"  {name:<32}{where:<11}{first}", *(f"  {'':<43}{each}" for each in more)]
    if isinstance(ratings, Pump):
        lines += pump_notes(ratings)
    return lines + below


def pump_notes(pump: Pump) -> list[str]:
    """Return how well the pump's curve meets its bench rows, and what was assumed of it."""
    worst = shown(float(np.max(np.abs(pump.fit_error))), "volume flow", digits=2)
    rms = shown(float(np.sqrt(np.mean(pump.fit_error**2))), "volume flow", digits=2)
    reach = shown(pump.dead_head_pressure, "pressure difference")
    notes = [
        f"the curve misses the bench rows by {rms} rms, {worst} at worst; dead-head {reach} ({pump.dead_head_source})",
        *(f"assumed: {said}" for said in pump.assumptions),
    ]
    return [line for note in notes for line in _wrapped(f"- {note}", "  ")]


def in_words(value: Any, declaration: Declaration) -> list[str]:
    """Return a value in the preferred units; of a list every element in columns, and the unit once."""
    if declaration.form not in ("quantity", "series"):
        return textwrap.wrap(str(value), WIDTH - 43)
    numbers, unit = shown_values(value, declaration.kind)
    texts = [f"{number:.{DIGITS}g}" for number in np.ravel(numbers)]
    if np.ndim(value) == 0:
        return [f"{texts[0]} {unit}".rstrip()]
    rows = [texts[start : start + ROWS] for start in range(0, len(texts), ROWS)]
    lines = ["".join(f"{text:<6}" for text in row) for row in rows]
    return [*lines[:-1], f"{lines[-1]}{unit}".rstrip()]


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=f"{indent}  ", break_on_hyphens=False)


def findings_text(car: Car, layouts: Sequence[str] | None) -> str:
    """Return the findings of each layout, those that several layouts share once."""
    chosen = list(layouts or car.layouts())
    if not chosen:
        return "The car has no regulator, so none of the layouts can be checked."
    where: dict[Finding, list[str]] = {}
    for layout in chosen:
        for finding in findings(car.system(layout)):
            where.setdefault(finding, []).append(layout)
    lines = [_counted(list(where))]
    for finding, found_in in sorted(where.items(), key=lambda item: -item[0].severity):
        shared = "" if len(found_in) == len(chosen) else f" [{', '.join(found_in)}]"
        lines += ["", *_wrapped(f"- {finding}{shared}" + (f" ({finding.source})" if finding.source else ""))]
    return "\n".join([*lines, "", f"Checked: {', '.join(chosen)}."])


def _counted(found: Sequence[Finding]) -> str:
    """Return the heading of the findings with how many there are of each severity."""
    counts = [(severity, sum(each.severity == severity for each in found)) for severity in sorted(Severity)[::-1]]
    said = [f"{count} {severity.name.lower()}{'s' if count > 1 else ''}" for severity, count in counts if count]
    return f"Findings: {', '.join(said) or 'none'}"
