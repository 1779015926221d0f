"""The time step of a set of lines: what is a whole number of reaches to within 1 %, and what is too short for it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fuelsim.errors import InputError
from fuelsim.typing import FloatArray, IntegerArray

__all__ = ["GREATEST_SHIFT", "WaveGrid", "wave_grid"]

GREATEST_SHIFT = 0.01
"""Share by which the wave speed of a line may be moved so that a whole number of steps crosses it."""
_CANDIDATES = 20_000
"""Steps tried."""
_REACHES_OF_ANY_LINE = 51
"""Reaches from which on any travel time is a whole number of steps to within 1 %."""
_EXACT = 1e-9
"""Share by which a travel time that is meant to be a whole number of steps may differ from it by rounding."""


@dataclass(frozen=True)
class WaveGrid:
    """Time step and number of reaches of each line.

    Attributes
    ----------
    step : float
        Time step, s.
    reaches : int array (lines,)
        Reaches of each line, 0 for one that is lumped.
    shift : array (lines,)
        Wave speed used over the true one, less 1; 0 for a lumped line.
    """

    step: float
    reaches: IntegerArray
    shift: FloatArray


def wave_grid(travel_time: FloatArray, greatest_step: float) -> WaveGrid:
    """Return the longest time step that suits all lines.

    A line that a wave crosses in less than the greatest step is lumped, if the step that is chosen does not suit it.

    Parameters
    ----------
    travel_time : array (lines,)
        Time in which a wave crosses each line, s.
    greatest_step : float
        Greatest time step, s.

    Returns
    -------
    WaveGrid

    Raises
    ------
    InputError
        Where no line is long enough for the greatest step.

    Examples
    --------
    Lines of 3 ms and 2 ms, and a stub of 10 µs that is too short for 0.1 ms:

    >>> grid = wave_grid(np.array([3e-3, 2e-3, 1e-5]), 1e-4)
    >>> round(grid.step * 1e3, 6), grid.reaches.tolist()
    (0.1, [30, 20, 0])
    """
    long = travel_time >= greatest_step * (1.0 - _EXACT)
    if not long.any():
        raise InputError(
            "a wave crosses every line in less than one time step",
            given=f"{greatest_step:.3g} s, and {travel_time.max(initial=0.0):.3g} s for the longest line",
            accepted="a shorter greatest step",
            key="step",
        )
    times = travel_time[long]
    # Whole fractions of the travel times come first: lines of commensurate lengths are then not shifted at all.
    fractions = np.concatenate([time / np.arange(1, 400) for time in times])
    spread = np.geomspace(greatest_step, min(greatest_step, times.min() / _REACHES_OF_ANY_LINE), _CANDIDATES)
    candidates = np.concatenate([fractions[(fractions <= greatest_step * (1.0 + _EXACT))], spread])
    shift = np.abs(_shift(times[:, None], candidates)).max(axis=0)
    candidates, shift = candidates[shift <= GREATEST_SHIFT], shift[shift <= GREATEST_SHIFT]
    # Of the steps within a tenth of the longest that suits, the one that moves the wave speeds least.
    near = candidates >= 0.9 * candidates.max()
    order = np.lexsort((-candidates[near], np.round(shift[near], 12)))
    step = float(candidates[near][order[0]])
    reaches = np.rint(travel_time / step).astype(int)
    fits = (reaches > 0) & (np.abs(_shift(travel_time, step)) <= GREATEST_SHIFT)
    return WaveGrid(step, np.where(fits, reaches, 0), np.where(fits, _shift(travel_time, step), 0.0))


def _shift(travel_time: FloatArray, step: FloatArray | float) -> FloatArray:
    """Return the wave speed used over the true one, less 1."""
    shift: FloatArray = travel_time / (np.maximum(np.rint(travel_time / step), 1.0) * step) - 1.0
    return shift
