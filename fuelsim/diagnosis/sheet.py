"""The commissioning sheet that comes back: what was measured against what was predicted, and what that says."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from fuelsim import units
from fuelsim.diagnosis.diagnose import Diagnosis, diagnose
from fuelsim.diagnosis.readings import Reading, quantity_named
from fuelsim.errors import InputError, nearest
from fuelsim.studies.commissioning import CAN, HandOver, Taken
from fuelsim.typing import Given

__all__ = ["ReturnedSheet", "measured_cells", "readings_of_sheet", "returned_sheet"]

CHECK, MEASURED = "check", "measured"
"""Columns of the sheet that are read."""


def measured_cells(sheet: HandOver, measured: Path | str) -> dict[str, str]:
    """Return what stands in the column for what was measured, by the name of the check.

    Parameters
    ----------
    sheet : HandOver
    measured : path
        The commissioning CSV.

    Returns
    -------
    dict of str to str
        Without empty cells.

    Raises
    ------
    InputError
        For a file that is no such sheet, or a check that the sheet does not have.

    Examples
    --------
    >>> import tempfile
    >>> from fuelsim.car.car import Car
    >>> from fuelsim.studies.commissioning import hand_over
    >>> path = Path(tempfile.mkdtemp()) / "sheet.csv"
    >>> _ = path.write_text("check,measured\\nDead-head,\\nLeak check,10 kPa\\n")
    >>> measured_cells(hand_over(Car.named("finch")), path)
    {'Leak check': '10 kPa'}
    """
    path = Path(measured)
    try:
        rows = list(csv.DictReader(path.read_text(encoding="utf-8-sig").splitlines()))
    except (OSError, UnicodeDecodeError) as error:
        raise InputError("no sheet", given=str(error), accepted="the commissioning CSV", file=str(path)) from None
    if not rows or not {CHECK, MEASURED} <= set(rows[0]):
        given = ", ".join(str(name) for name in rows[0]) if rows else "no rows"
        raise InputError("no commissioning sheet", given=given, accepted=f"columns '{CHECK}' and '{MEASURED}'",
                         file=str(path))  # fmt: skip
    known, cells = {step.what for step in sheet.steps}, {}
    for row in rows:
        check, cell = (row.get(CHECK) or "").strip(), (row.get(MEASURED) or "").strip()
        if not cell:
            continue
        if check not in known:
            raise InputError("no such check", given=check, accepted=nearest(check, known), file=str(path))
        cells[check] = cell
    return cells


def readings_of_sheet(sheet: HandOver, cells: Mapping[str, str], file: str) -> tuple[Reading, ...]:
    """Return the readings of a sheet that came back, at the points and in the weather of the workshop.

    Parameters
    ----------
    sheet : HandOver
    cells : mapping of str to str
        What was measured, by the name of the check.
    file : str
        Named in messages.

    Returns
    -------
    tuple of Reading

    Raises
    ------
    InputError
        For a cell that cannot be read, or a sheet without readings.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> from fuelsim.studies.commissioning import hand_over
    >>> cells = {"Return flow, key on": "20 s"}
    >>> readings_of_sheet(hand_over(Car.named("finch")), cells, "sheet.csv")[0].headline.split(" at ")[0]
    'bypass 90 L/h'
    """
    made = []
    for step in sheet.steps:
        if step.taken is None or step.what not in cells:
            continue
        kind = quantity_named(step.taken.quantity, sheet.system).kind
        value = _value(cells[step.what], kind, step.what, file)
        changes: dict[str, Given] = {}
        if step.taken.hose_off:
            changes = {f"{holder.table}.reference": "atmosphere" for holder in sheet.system.plumbing.holders}
        made.append(Reading(step.taken.quantity, value, at=_point(sheet, step.taken), changes=changes))
    if not made:
        raise InputError("no readings", accepted=f"values in the column '{MEASURED}'", file=file)
    return tuple(made)


def _value(cell: str, kind: str, check: str, file: str) -> float:
    """Return a cell in SI; a flow may be given as the time for half a litre."""
    text = cell.removesuffix("gauge").strip()
    try:
        return float(units.convert(text, kind))
    except InputError as error:
        if kind == "volume flow":
            try:
                return CAN / float(units.convert(text, "time"))
            except (InputError, ZeroDivisionError):
                pass
        raise error.at(file=file, key=check) from None


def _point(sheet: HandOver, taken: Taken) -> dict[str, Given]:
    """Return the conditions of the workshop at the point of a step."""
    at = sheet.points.index(taken.point)
    return {name: float(values[at]) for name, values in sheet.workshop.conditions.points().items()}


class ReturnedSheet(NamedTuple):
    """A commissioning sheet that came back.

    Attributes
    ----------
    cells : dict of str to str
        What was measured, by the name of the check.
    diagnosis : Diagnosis
        What that says of the car.
    """

    cells: dict[str, str]
    diagnosis: Diagnosis


def returned_sheet(sheet: HandOver, measured: Path | str) -> ReturnedSheet:
    """Return a commissioning sheet that came back, and what its readings say of the car.

    Parameters
    ----------
    sheet : HandOver
    measured : path
        The commissioning CSV with its column "measured" filled in.

    Returns
    -------
    ReturnedSheet

    Raises
    ------
    InputError
        For a cell that cannot be read, or a sheet without readings.

    Examples
    --------
    >>> import tempfile
    >>> from fuelsim.car.car import Car
    >>> from fuelsim.studies.commissioning import hand_over
    >>> path = Path(tempfile.mkdtemp()) / "sheet.csv"
    >>> _ = path.write_text('check,measured\\n"Return flow, key on",60 s\\n')
    >>> returned_sheet(hand_over(Car.named("finch")), path).cells
    {'Return flow, key on': '60 s'}
    """
    cells = measured_cells(sheet, measured)
    return ReturnedSheet(cells, diagnose(sheet.system, list(readings_of_sheet(sheet, cells, str(measured)))))
