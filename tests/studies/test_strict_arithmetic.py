"""Nothing overflows, divides by zero or warns on the way to a result, and nothing hangs on assertions."""

from __future__ import annotations

import subprocess
import sys
import warnings
from pathlib import Path

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.transients.schedule import Schedule, typical_phase

STUDIES = {
    "assess": lambda car, layout: fs.assess(car.system(layout)).findings(),
    "findings": lambda car, layout: fs.findings(car.system(layout)),
    "split_drop": lambda car, layout: fs.split_drop(car.system(layout), car.system(layout).solve(rpm=[800.0, 5000.0])),
    "sensitivity": lambda car, layout: fs.sensitivity(car.system(layout), rpm=5000.0, progress=False),
    "what_if": lambda car, layout: fs.what_if(car.system(layout), {"wire": {"wire.size": "10 AWG"}}),
    "drive": lambda car, layout: fs.drive(
        car, layout, Schedule.of([typical_phase(kind, "4 min", car) for kind in ("city", "stop", "jam")])
    ),
    "hot_soak": lambda car, layout: fs.hot_soak(car, layout),
    "margin_map": lambda car, layout: fs.margin_map(car, layout, {"altitude": ["0 m", "2000 m"]}),
    "hand_over": lambda car, layout: fs.hand_over(car, layout),
    "remedies": lambda car, layout: fs.remedies(car, layout),
}
LONG = {
    "compare": lambda car, layout: fs.compare(car),
    "size": lambda car, layout: fs.size(car, layout),
    "over_climates": lambda car, layout: fs.over_climates([car]),
    "lock_temperatures": lambda car, layout: fs.lock_temperatures(car, layout, fs.Conditions(rpm=[800.0, 3000.0])),
}
CASES = [
    *(("heron", "return", name) for name in STUDIES),
    *(
        pytest.param(name, layout, study, marks=pytest.mark.long)
        for name, layout in (("finch", "returnless_bay"), ("plover", "pot"))
        for study in STUDIES | LONG
    ),
]


@pytest.mark.parametrize(("name", "layout", "study"), CASES)
def test_studies_run_without_a_warning_and_without_a_number_out_of_range(name, layout, study):
    """IEEE 754: no overflow, underflow, division by zero or invalid operation that is not expected where it happens."""
    car = fs.Car.named(name)
    with warnings.catch_warnings(), np.errstate(all="raise"):
        warnings.simplefilter("error")
        assert (STUDIES | LONG)[study](car, layout) is not None


@pytest.mark.long
@pytest.mark.parametrize("option", [("-W", "error"), ("-OO",)], ids=["warnings are errors", "no assertions"])
def test_the_comparison_is_the_same_under_strict_interpreters(tmp_path, option):
    def written(*options):
        folder = tmp_path / "_".join(("out", *options))
        command = [sys.executable, *options, "-m", "fuelsim", "--output", str(folder)]
        answer = subprocess.run(command, capture_output=True, text=True, check=False, cwd=Path(fs.__file__).parents[1])
        assert answer.returncode == 0, answer.stderr
        return {path.name: path.read_text(encoding="utf-8") for path in sorted(folder.glob("*.csv"))}

    assert written(*option) == written()
