"""Say what was understood of a car file, and what a practitioner would object to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from fuelsim.catalogue import read_toml
from fuelsim.fields import Declaration, Ratings, file_keys
from fuelsim.finding import Finding
from fuelsim.show.report import CAUTIONS
from fuelsim.studies.findings import findings
from fuelsim.system.car import Car
from fuelsim.system.carfile import origins, read_car
from fuelsim.units import shown_values

__all__ = ["findings_text", "run", "understood"]

SHORTEST = 4
"""Significant digits of what is shown."""


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
        "Findings",
        findings_text(car, layouts),
        "Cautions\n" + "\n".join(f"- {caution}" for caution in CAUTIONS),
    ]
    print("\n\n".join(said))


def understood(ratings: Ratings, origin: Mapping[str, str], prefix: str = "") -> list[str]:
    """Return one line per rating: key, value in the preferred units, and where it comes from."""
    lines, below = [], []
    for name, declaration in file_keys(type(ratings)).items():
        value = getattr(ratings, name)
        if isinstance(value, Ratings):
            below += ["", f"[{prefix}{name}]", *understood(value, origin, f"{prefix}{name}.")]
        elif value is not None and str(value):
            where = origin.get(f"{prefix}{name}", "default")
            lines.append(f"  {name:<32}{in_words(value, declaration):<38}  {where}")
    return lines + below


def in_words(value: Any, declaration: Declaration) -> str:
    """Return a value in the preferred units; of a list every element, and the unit once."""
    if declaration.form not in ("quantity", "series"):
        return str(value)
    numbers, unit = shown_values(value, declaration.kind)
    return f"{', '.join(f'{number:.{SHORTEST}g}' for number in np.ravel(numbers))} {unit}".rstrip()


def findings_text(car: Car, layouts: Sequence[str] | None) -> str:
    """Return the findings of each layout, those that several layouts share once."""
    chosen = list(layouts or car.layouts())
    if not chosen:
        return "The car has no regulator, so none of the layouts can be checked."
    where: dict[Finding, list[str]] = {}
    for layout in chosen:
        for finding in findings(car.system(layout)):
            where.setdefault(finding, []).append(layout)
    lines = []
    for finding, found_in in sorted(where.items(), key=lambda item: -item[0].severity):
        shared = "" if len(found_in) == len(chosen) else f" [{', '.join(found_in)}]"
        lines.append(f"- {finding}{shared}" + (f" ({finding.source})" if finding.source else ""))
    checked = f"Checked: {', '.join(chosen)}."
    return "\n".join([*lines, checked] if lines else [f"Nothing found. {checked}"])
