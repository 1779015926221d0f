"""Write the sheet to hand over for one car on the command line."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from fuelsim.cli.console import say, wrapped
from fuelsim.cli.flags import car_given, layout_given
from fuelsim.cli.json_text import findings_rows, json_text
from fuelsim.errors import InputError
from fuelsim.output_files import check_files
from fuelsim.show.commissioning import handover_files
from fuelsim.studies.commissioning import USUALLY_REUSED, WORKSHOP_TEMPERATURE, hand_over
from fuelsim.studies.compare import compare
from fuelsim.studies.parts_of_layout import reused_tables
from fuelsim.studies.uncertainty_asked import SAMPLES, samples_asked
from fuelsim.system.conditions import ONE_CONDITION
from fuelsim.typing import UncertaintyAsked

__all__ = ["run"]


def run(
    car_file: str | None,
    layout: str | None,
    output: str | None = None,
    workshop: str | None = None,
    reused: Sequence[str] = USUALLY_REUSED,
    as_json: bool = False,
    uncertainty: UncertaintyAsked = False,
) -> None:
    """Read the car, compute the sheet, write it, and print its findings.

    Parameters
    ----------
    car_file : str, optional
        Path of the car file; left out, the bundled demo car.
    layout : str, optional
        The layout; left out, the first that the car has the parts for.
    output : str, optional
        HTML file; left out, ``fuelsim_handover.html`` here.
    workshop : str, optional
        Temperature of air and fuel in the workshop; left out, 20 degC.
    reused : sequence of str
        Parts that the car has already and that are to stay.
    as_json : bool
        Whether findings and files are printed as JSON.
    uncertainty : bool or int
        Whether bands stand beside the predicted values, or of how many samples.

    Raises
    ------
    FuelsimError
        For a wrong input; nothing is written then.
    """
    car = car_given(car_file)
    path = Path(output or "fuelsim_handover.html")
    check_files(handover_files(path))
    if car_file is not None and path.exists() and path.samefile(car_file):
        raise InputError("the output is the car file", given=str(path), accepted="an HTML file, such as sheet.html")
    layout = layout_given(car, layout)
    reused_tables(car.system(layout), reused)  # What is wrong is refused before layouts are compared.
    temperature = _workshop_temperature(workshop)
    samples_asked(uncertainty, SAMPLES)
    sheet = hand_over(
        car,
        layout,
        decision=compare(car).decision,
        workshop_temperature=temperature,
        reused=reused,
        uncertainty=uncertainty,
    )
    written = sheet.report(path)
    if as_json:
        files = [str(file) for file in handover_files(written)]
        content = {"car": car.name, "layout": layout, "findings": findings_rows(sheet.findings), "files": files}
        say(json_text("report", content))
        return
    beside = ", ".join(file.name for file in handover_files(written)[1:])
    lines = [*(f"- {finding}" for finding in sheet.findings), f"Written: {written}, and beside it {beside}"]
    say("\n".join(cut for line in lines for cut in wrapped(line)))


def _workshop_temperature(text: str | None) -> float:
    """Return the temperature of the workshop, K, checked before anything is computed."""
    try:
        return float(np.asarray(ONE_CONDITION["tank_temperature"].convert(text or WORKSHOP_TEMPERATURE), dtype=float))
    except InputError as error:
        raise InputError(error.problem, given=error.given, accepted=error.accepted, key="--workshop") from None
