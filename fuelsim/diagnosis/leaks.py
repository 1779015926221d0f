"""Pressure left some time after the pump has stopped, as a reading: a cold car's `leak_down` under each cause.

Leaks are keys of their own, ``leak_down.check_valve_leak`` and so on; of all other causes only those in what holds the
pressure move it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from fuelsim import units
from fuelsim.arguments import number
from fuelsim.errors import InputError, SolveError
from fuelsim.studies.uncertainty_samples import with_ratings
from fuelsim.system.run import System
from fuelsim.transients.leak_down import leak_down
from fuelsim.transients.shut_in_course import GOOD_LEAK
from fuelsim.typing import Given, PointArray

__all__ = ["LEAKS", "Left", "left_after", "pressure_left"]

AFTER = "rail_pressure after "
"""Beginning of the name of such a reading, as in ``rail_pressure after 20 min, feed clamped``."""
LEAKS = {"leak_down.check_valve_leak": GOOD_LEAK, "leak_down.regulator_leak": 0.0, "leak_down.injector_leak": 0.0}
"""Leak past each seat at 300 kPa of a sound car, m3/s."""
_NAME = re.compile(r"rail_pressure after (?P<time>[^,]+)(?:, (?P<clamped>feed|return|both) clamped)?")
_TIME = number("time", 1.0, 86_400.0, example="20 min", single=True)


class Left(NamedTuple):
    """When the pressure is read, s since the stop, and which hose was clamped: feed, return, both or none ('')."""

    time: float
    clamped: str


def left_after(name: str) -> Left | None:
    """Return when the pressure left is read; None for another quantity.

    Parameters
    ----------
    name : str
        Such as ``rail_pressure after 20 min`` or ``rail_pressure after 300 s, feed clamped``.

    Returns
    -------
    Left or None

    Raises
    ------
    InputError
        For a time that is none.

    Examples
    --------
    >>> left_after("rail_pressure after 20 min, feed clamped"), left_after("bypass")
    (Left(time=1200.0, clamped='feed'), None)
    """
    if not name.startswith(AFTER):
        return None
    match = _NAME.fullmatch(name)
    if match is None:
        accepted = "'rail_pressure after 20 min', or ', feed clamped', ', return clamped', ', both clamped' after it"
        raise InputError("no reading of a leak-down", given=name, accepted=accepted, key="quantity")
    return Left(float(_TIME.to_si(units.convert(match["time"].strip(), "time"))), match["clamped"] or "")


def pressure_left(
    system: System, names: Sequence[str], changes: Mapping[str, Given], values: Mapping[str, float]
) -> PointArray:
    """Return what gauges show after the stop of a cold car.

    Parameters
    ----------
    system : System
        The car in its layout, as it should be.
    names : list of str
        Names of readings of the pressure left.
    changes : mapping of str to value
        Keys that are set, and what to.
    values : mapping of str to float
        Keys of the car file and leaks that are numbers, SI.

    Returns
    -------
    array (readings,)
        Pa above the atmosphere; NaN where the car does not run before the stop.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> after = ["rail_pressure after 20 min"]
    >>> sound, leaking = (
    ...     pressure_left(Car.named("finch").system("return"), after, {}, values)[0]
    ...     for values in ({}, {"leak_down.check_valve_leak": 1e-9})
    ... )
    >>> bool(leaking < sound - 50e3)
    True
    """
    leaks = {key.partition(".")[2]: values.get(key, sound) for key, sound in LEAKS.items()}
    ratings = {key: value for key, value in values.items() if key not in LEAKS}
    if changes:
        system = System(system.car.with_values(dict(changes)), system.layout, system.fuel_in_tank)
    changed = with_ratings(system, ratings)
    asked = [left_after(name) for name in names]
    shown = np.full(len(names), np.nan)
    for clamped in dict.fromkeys(item.clamped for item in asked if item is not None):
        rows = [row for row, item in enumerate(asked) if item is not None and item.clamped == clamped]
        times = np.array([item.time for item in asked if item is not None and item.clamped == clamped])
        try:
            course = leak_down(changed, duration=max(float(times.max()), 60.0), clamped=clamped, **leaks)  # type: ignore[arg-type]  # words of the pattern
        except (InputError, SolveError):
            continue
        shown[rows] = course.pressure_at(times)
    return shown
