"""What happens during a drive that the driver or the engineer should know."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim.units import shown

if TYPE_CHECKING:
    from fuelsim.car.car import Car
    from fuelsim.transients.drive import Drive

__all__ = ["Event", "find_events"]

NEARLY_BOILING = 0.15
"""K below its boiling point within which a tank counts as boiling: all heat then goes into vapour."""


@dataclass(frozen=True)
class Event:
    """One thing that happened.

    Attributes
    ----------
    time : float
        Since the start, s.
    name : str
        ``"noise"``, ``"pump margin gone"``, ``"rail margin gone"``, ``"tank boils"``, ``"vapour lock"``,
        ``"fuel exhausted"``.
    statement : str
        What happened, with its figures.
    """

    time: float
    name: str
    statement: str

    def __str__(self) -> str:
        return f"{self.time / 60.0:.0f} min, {self.name}: {self.statement}"


def find_events(result: Drive, car: Car) -> list[Event]:
    """Return the first time of each event, in order of time."""
    found = []
    needed = shown(car.pump.npsh_required, "pressure difference", digits=2)
    looks: list[tuple[str, Any, str]] = [
        (
            "noise",
            result.suction_margin,
            f"the pump's inlet has less than the {needed} above boiling that it needs to run quietly",
        ),
        ("pump margin gone", result.vapour_margin["pump_inlet"], "fuel boils at the pump's inlet"),
        ("rail margin gone", result.vapour_margin["rail"], "fuel boils in the rail"),
        (
            "tank boils",
            np.asarray(result.boiling_temperature) - result.tank_temperature - NEARLY_BOILING,
            "the heat goes into vapour that leaves by the vent",
        ),
        ("vapour lock", np.where(result.vapour_lock, -1.0, 1.0), "the pump starves the engine"),
    ]
    for name, margin, statement in looks:
        time = first_crossing(result.time, margin)
        if time is not None:
            tank = shown(float(np.interp(time, result.time, result.tank_temperature)), "temperature", digits=3)
            found.append(Event(time, name, f"{statement}; the tank stands at {tank}"))
    if result.fuel_mass[-1] < 0.5 and result.time[-1] > 0.0:
        found.append(Event(float(result.time[-1]), "fuel exhausted", "the pick-up is bare"))
    return sorted(found, key=lambda event: event.time)


def first_crossing(time: Any, margin: Any) -> float | None:
    """Return when a margin first falls below zero, on straight lines between the times shown; None if it never does.

    Examples
    --------
    >>> first_crossing([0.0, 10.0, 20.0], [3.0, 1.0, -1.0])
    15.0
    """
    times, values = np.asarray(time, dtype=float), np.asarray(margin, dtype=float)
    negative = np.flatnonzero(values < 0.0)
    if not negative.size:
        return None
    index = int(negative[0])
    if index == 0 or not np.isfinite(values[index - 1]):
        return float(times[index])
    share = values[index - 1] / (values[index - 1] - values[index])
    return float(times[index - 1] + share * (times[index] - times[index - 1]))
