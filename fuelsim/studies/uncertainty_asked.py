"""What other studies ask of uncertainty: how many samples of which inputs, and what they cost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from fuelsim.interruption import whole
from fuelsim.studies.requirements import Requirements
from fuelsim.studies.uncertain_inputs import InputsGiven
from fuelsim.studies.uncertainty import Uncertainty, uncertainty
from fuelsim.studies.uncertainty_samples import SECONDS_PER_POINT, cost_in_words, sampled_shares
from fuelsim.system.conditions import Conditions
from fuelsim.system.run import System
from fuelsim.typing import UncertaintyAsked

__all__ = ["SAMPLES", "WORTH_SAYING", "samples_asked", "say_cost", "uncertainty_of", "uncertainty_wanted"]

SAMPLES = 512
"""Samples of a study of steady operating points, unless a number is asked for."""
WORTH_SAYING = 10.0
"""Time from which the cost of samples is printed before they start, s."""


def uncertainty_wanted(asked: UncertaintyAsked) -> bool:
    """Return whether samples are asked for at all.

    Parameters
    ----------
    asked : bool, int or mapping

    Returns
    -------
    bool

    Examples
    --------
    >>> uncertainty_wanted(False), uncertainty_wanted(64), uncertainty_wanted({"feed.bore": ("5 mm", "7 mm")})
    (False, True, True)
    """
    return asked is not False


def samples_asked(asked: UncertaintyAsked, usual: int) -> tuple[InputsGiven | None, int]:
    """Return the inputs that were given, and how many samples are asked for.

    Parameters
    ----------
    asked : bool, int or mapping
    usual : int
        Number of samples, unless one was given.

    Returns
    -------
    inputs : mapping or None
        None for the usual ones.
    samples : int

    Raises
    ------
    InputError
        For a number that does not suit.

    Examples
    --------
    >>> samples_asked(True, 512), samples_asked(64, 512)
    ((None, 512), (None, 64))
    """
    if isinstance(asked, Mapping):
        return asked, usual
    if isinstance(asked, bool):
        return None, usual
    sampled_shares(1, asked)
    return None, asked


def uncertainty_of(
    system: System, asked: UncertaintyAsked, conditions: Conditions, requirements: Requirements | None = None
) -> Uncertainty | None:
    """Return samples of a system as part of another study; None where none are asked for.

    Parameters
    ----------
    system : System
    asked : bool, int or mapping
    conditions : Conditions
        Operating points.
    requirements : Requirements, optional

    Returns
    -------
    Uncertainty or None

    Raises
    ------
    InputError
        For an unknown input, or a number of samples that does not suit.
    KeyboardInterrupt
        On Ctrl-C before the last sample is finished.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> samples = uncertainty_of(Car.named("finch").system("return"), 8, Conditions(rpm=[800, 6000]))
    >>> samples.samples
    8
    """
    if not uncertainty_wanted(asked):
        return None
    inputs, samples = samples_asked(asked, SAMPLES)
    return whole(uncertainty(system, inputs, conditions, requirements=requirements, samples=samples, progress=False))


def say_cost(asked: UncertaintyAsked, runs: Sequence[Conditions], progress: bool | None) -> None:
    """Print what samples of steady operating points cost, if that is worth saying.

    Parameters
    ----------
    asked : bool, int or mapping
    runs : list of Conditions
        Operating points of each system.
    progress : bool or None
        False for no word.

    Examples
    --------
    >>> say_cost(512, [Conditions(rpm=[800, 6000])], None)
    """
    from tqdm import tqdm

    if not uncertainty_wanted(asked) or progress is False:
        return
    _, samples = samples_asked(asked, SAMPLES)
    points = samples * sum(int(np.prod(conditions.shape)) for conditions in runs)
    seconds = points * SECONDS_PER_POINT
    if seconds >= WORTH_SAYING:
        tqdm.write(f"how sure: {samples} samples, {points} points, {cost_in_words(seconds)}")
