"""Values given over time: one value, a pair of times and values, or a function of time."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fuelsim.arguments import number
from fuelsim.declaration import Declaration
from fuelsim.errors import FuelsimError, InputError
from fuelsim.typing import FloatArray, Given

__all__ = ["OverTime", "over_time"]

OverTime = Callable[[FloatArray], FloatArray]
"""Function from times (times,), s, to values (times, 1 or points) in SI."""
_TIME = number("time", 0.0, 3600.0, example="2 ms", flat=True)
_ACCEPTED = "one value, (times, values), or a function of the time in s"


def over_time(given: Given, declared: Declaration, name: str, key: str) -> OverTime:
    """Return the function from time to values of what a user gave.

    A pair (times, values) is joined by straight lines and kept constant outside; a time that stands twice is a jump,
    before which the first value holds. Values of a pair may be an array (times, points) in SI.

    Parameters
    ----------
    given : quantity, pair or function
    declared : Declaration
        Kind and range of the values.
    name, key : str
        Part or node, and argument, for messages.

    Raises
    ------
    InputError
        For anything else, times that fall, or values that are not accepted.
    """
    try:
        if callable(given) and not isinstance(given, type):
            return _of_function(given, declared, name, key)
        if isinstance(given, tuple) and len(given) == 2 and isinstance(given[0], (list, tuple, np.ndarray)):
            return _of_pair(given, declared)
        if given is None:
            raise InputError("no value", given=given, accepted=_ACCEPTED)
        constant = np.atleast_1d(np.asarray(declared.convert(given), dtype=float))
    except InputError as error:
        raise error.at(part=name, key=key) from None
    return lambda time: np.broadcast_to(constant, (len(time), len(constant)))


def _of_pair(given: tuple[Given, Given], declared: Declaration) -> OverTime:
    times = np.asarray(_TIME.convert(given[0]), dtype=float)
    if np.any(np.diff(times) < 0.0):
        raise InputError("times do not rise", given=given[0], accepted="times in order")
    values = given[1] if isinstance(given[1], np.ndarray) and given[1].ndim == 2 else None
    if values is None:
        columns = np.atleast_1d(np.asarray(declared.convert(given[1]), dtype=float))[:, None]
    else:
        columns = np.stack([np.asarray(declared.convert(column.tolist()), dtype=float) for column in values.T], axis=1)
    if len(columns) != len(times):
        raise InputError(f"{len(columns)} values do not fit {len(times)} times", accepted="one value for each time")

    def at(time: FloatArray) -> FloatArray:
        # At a jump the first value holds until its time is over: the side is left of the later entry.
        after = np.clip(np.searchsorted(times, time, side="left"), 0, len(times) - 1)
        before = np.maximum(after - 1, 0)
        span = times[after] - times[before]
        share = np.where(span > 0.0, (time - times[before]) / np.where(span > 0.0, span, 1.0), 1.0)
        share = np.clip(share, 0.0, 1.0)[:, None]
        value: FloatArray = columns[before] + share * (columns[after] - columns[before])
        value[time > times[-1]] = columns[-1]
        return value

    return at


def _of_function(function: Callable[[FloatArray], Given], declared: Declaration, name: str, key: str) -> OverTime:
    def read(time: FloatArray) -> FloatArray:
        try:
            values = np.asarray(function(time[:, None]), dtype=float)
        except FuelsimError:
            raise
        except Exception as error:
            raise InputError(f"the function given ended in {type(error).__name__}", accepted=_ACCEPTED) from error
        if values.ndim == 1 and len(values) == len(time):
            values = values[:, None]
        if values.ndim > 2 or (values.ndim == 2 and len(values) not in (1, len(time))):
            raise InputError("the function gives values of the wrong shape", given=values.shape, accepted=_ACCEPTED)
        if values.size:
            declared.convert([float(values.min()), float(values.max())])
        return np.broadcast_to(values, (len(time), values.shape[-1] if values.ndim == 2 else max(1, values.size)))

    def at(time: FloatArray) -> FloatArray:
        try:
            return read(time)
        except InputError as error:
            raise error.at(part=name, key=key) from None

    return at
