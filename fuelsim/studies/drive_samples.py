"""Samples of a drive over the distributions of what is not known.

A drive warms for hours by its own path, so that each sample is a drive of its own, a second or two each: few samples,
spread evenly by a Sobol' sequence, and intervals that say how little that is.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from fuelsim.car.car import Car
from fuelsim.car.climate import Climate
from fuelsim.errors import InputError, SolveError
from fuelsim.interruption import run_steps, whole
from fuelsim.studies.bands import band_inputs
from fuelsim.studies.uncertain_inputs import UncertainInput, inputs_asked
from fuelsim.studies.uncertainty_asked import samples_asked
from fuelsim.studies.uncertainty_samples import cost_in_words, sampled_shares, with_ratings
from fuelsim.system.run import System
from fuelsim.transients.drive import drive
from fuelsim.transients.drive_results import Drive, DriveSamples
from fuelsim.transients.schedule import Schedule
from fuelsim.typing import Given, UncertaintyAsked

__all__ = [
    "DRIVES",
    "drive_cost",
    "drive_inputs",
    "drive_samples",
    "sampled_cars",
]

DRIVES = 16
"""Samples of a drive, unless a number is asked for."""
SECONDS_PER_DRIVE = 3.0
"""Typical time of a drive of some hours on one core, s."""


def drive_inputs(car: Car, layout: str, asked: UncertaintyAsked) -> tuple[tuple[UncertainInput, ...], int]:
    """Return what is varied in the samples of a drive, and how many are asked for.

    Parameters
    ----------
    car : Car
    layout : str
    asked : int, True or mapping

    Returns
    -------
    inputs : tuple of UncertainInput
        Left out, those of the bands of a car that warms.
    samples : int

    Raises
    ------
    InputError
        For an input that is a condition, which a drive has not.

    Examples
    --------
    >>> inputs, samples = drive_inputs(Car.named("finch"), "return", True)
    >>> inputs[-1].name, samples
    ('conductance of the tank', 16)
    """
    given, samples = samples_asked(asked, DRIVES)
    inputs = inputs_asked(System(car, layout), band_inputs(car, warming=True) if given is None else given)
    for item in inputs:
        for key in item.values:
            if "." not in key:
                accepted = "keys of the car file, such as 'pump.inlet_superheat'"
                raise InputError("a condition as an input of a drive", given=key, accepted=accepted, key="uncertainty")
    return inputs, samples


def sampled_cars(car: Car, layout: str, inputs: Sequence[UncertainInput], samples: int) -> list[Car]:
    """Return a car once for every sample of its inputs.

    Parameters
    ----------
    car : Car
    layout : str
    inputs : list of UncertainInput
        Inputs of keys of the car file only.
    samples : int

    Returns
    -------
    list of Car

    Examples
    --------
    >>> car = Car.named("finch")
    >>> inputs, _ = drive_inputs(car, "return", {"tank.heat_conductance": (8.0, 25.0)})
    >>> cars = sampled_cars(car, "return", inputs, 8)
    >>> all(8.0 < each.tank.heat_conductance < 25.0 for each in cars)
    True
    """
    made = []
    for shares in sampled_shares(len(inputs), samples):
        at = {
            key: float(value[0])
            for item, share in zip(inputs, shares, strict=True)
            for key, value in item.at(share).items()
        }
        made.append(with_ratings(System(car, layout), at).car)
    return made


def drive_cost(drives: int) -> str:
    """Return what some drives cost, as it is said before they start.

    Parameters
    ----------
    drives : int

    Returns
    -------
    str

    Examples
    --------
    >>> drive_cost(120)
    '120 drives, about 6 min on one core'
    """
    return f"{drives} drives, {cost_in_words(drives * SECONDS_PER_DRIVE)}"


def drive_samples(
    car: Car,
    layout: str,
    schedule: Schedule,
    asked: UncertaintyAsked,
    *,
    climate: Climate | None,
    tank_temperature: Given | None,
    output_step: Given,
    progress: bool | None = None,
) -> DriveSamples:
    """Return samples of a drive.

    Parameters
    ----------
    car : Car
    layout : str
    schedule : Schedule
    asked : int, True or mapping
    climate, tank_temperature, output_step : optional
        As `drive` takes them.
    progress : bool, optional
        Whether to show a bar; left out, on a terminal only. Unless it is False the cost is printed first.

    Returns
    -------
    DriveSamples
        After Ctrl-C those that are finished.

    Raises
    ------
    InputError
        For an unknown input, or a number of samples that does not suit.

    Examples
    --------
    >>> from fuelsim.transients.schedule import Phase
    >>> idle = Schedule.of([Phase(name="idle", duration="1 min")])
    >>> given = {"climate": None, "tank_temperature": "20 degC", "output_step": 60.0, "progress": False}
    >>> drive_samples(Car.named("finch"), "return", idle, 8, **given).headline
    '8 samples of 5 inputs: no events'
    """
    from tqdm import tqdm

    inputs, samples = drive_inputs(car, layout, asked)
    if progress is not False:
        tqdm.write(f"how sure: {drive_cost(samples)}")

    def driven(changed: Car) -> Drive | str:
        try:
            return whole(
                drive(
                    changed,
                    layout,
                    schedule,
                    climate=climate,
                    tank_temperature=tank_temperature,
                    output_step=output_step,
                )
            )
        except (InputError, SolveError) as error:
            return str(error)

    cars = sampled_cars(car, layout, inputs, samples)
    found, completion = run_steps(cars, driven, doing="how sure", of="samples", progress=progress)
    return DriveSamples(
        inputs=tuple(item.name for item in inputs),
        drives=tuple(each for each in found if isinstance(each, Drive)),
        failed=dict(Counter(each for each in found if isinstance(each, str))),
        completion=completion,
    )
