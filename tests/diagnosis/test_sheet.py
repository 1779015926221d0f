"""The commissioning sheet that comes back with its blanks filled in."""

from __future__ import annotations

import csv
import functools
from pathlib import Path

import pytest

import fuelsim as fs

FINCH = fs.Car.named("finch")


@functools.cache
def healthy_sheet() -> fs.HandOver:
    return fs.hand_over(FINCH, "return")


def filled(folder: Path, car: fs.Car, change: dict[str, str] | None = None) -> Path:
    """A sheet of the healthy car with what a car shows in the workshop written in."""
    path = healthy_sheet().report(folder / "sheet.html").with_name("sheet_commissioning.csv")
    as_shown = healthy_sheet() if car is FINCH else fs.hand_over(car, "return")
    shown = {step.what: step.workshop for step in as_shown.steps if step.taken is not None}
    rows = list(csv.DictReader(path.open(encoding="utf-8")))
    for row in rows:
        row["measured"] = (shown | (change or {})).get(row["check"], "").split(",")[0].removesuffix(" gauge")
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    return path


def test_a_sheet_that_came_back_as_predicted_is_a_healthy_car_s(tmp_path):
    found = healthy_sheet().diagnose(filled(tmp_path, FINCH))
    assert found.healthy
    assert len(found.readings) == 9
    assert abs(found.deviations).max() < 0.5


def test_a_sheet_of_a_faulty_car_names_the_fault_and_is_printed_with_it(tmp_path):
    path = filled(tmp_path, FINCH.with_values({"rail_regulator.set_pressure": "350 kPa"}))
    sheet = healthy_sheet()
    found = sheet.diagnose(path)
    assert "regulator set wrong" in found.group
    written = sheet.report(tmp_path / "signed.html", measured=path)
    page = written.read_text(encoding="utf-8")
    assert "Measured against predicted" in page
    assert "regulator set wrong" in page
    with written.with_name("signed_commissioning.csv").open(encoding="utf-8") as file:
        again = {row["check"]: row["measured"] for row in csv.DictReader(file)}
    assert again["Rail pressure, full load"]


def test_the_hose_is_off_for_the_reading_that_says_so(tmp_path):
    readings = healthy_sheet().diagnose(filled(tmp_path, FINCH)).readings
    assert [dict(reading.changes) for reading in readings if reading.changes] == [
        {"rail_regulator.reference": "atmosphere"}
    ]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"Rail pressure, full load": "three bar"}, "Rail pressure, full load"),
        ({"Return flow, key on": "0 s"}, "Return flow, key on"),
        ({"Rail pressure, full load": "45 psi absolute"}, "Rail pressure, full load"),
    ],
)
def test_a_cell_that_cannot_be_read_names_file_and_check(tmp_path, change, words):
    path = filled(tmp_path, FINCH, change)
    with pytest.raises(fs.InputError, match=words) as caught:
        healthy_sheet().diagnose(path)
    assert "sheet_commissioning.csv" in str(caught.value)


@pytest.mark.parametrize("text", ["", "a,b\n1,2\n", "check,measured\nno such check,3 V\n", "check,measured\nPrime,\n"])
def test_what_is_no_sheet_or_an_empty_one_is_refused(tmp_path, text):
    path = tmp_path / "other.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(fs.InputError, match=r"other\.csv"):
        healthy_sheet().diagnose(path)
