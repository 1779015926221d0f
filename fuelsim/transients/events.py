"""What happens during a drive that the driver or the engineer should know."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from fuelsim.typing import ArrayLike, BoolArray, PointArray
from fuelsim.units import shown

__all__ = ["Event", "EventName", "Signals", "find_events"]

NEARLY_BOILING = 0.15
"""Distance to its boiling point within which a tank counts as boiling, K: all heat then goes into vapour."""
NO_FUEL = 0.5
"""Mass of fuel below which a drive that has ended ended for want of fuel, kg."""


class EventName(StrEnum):
    """Kind of an event; its value is its name for people."""

    NOISE = "noise"
    PUMP_MARGIN_GONE = "pump margin gone"
    RAIL_MARGIN_GONE = "rail margin gone"
    TANK_BOILS = "tank boils"
    VAPOUR_LOCK = "vapour lock"
    FUEL_EXHAUSTED = "fuel exhausted"


@dataclass(frozen=True)
class Event:
    """One thing that happened.

    Attributes
    ----------
    time : float
        Time since the start, s.
    name : EventName
        What kind of event it is.
    statement : str
        What happened, with its figures, for people.
    """

    time: float
    name: EventName
    statement: str

    def __str__(self) -> str:
        return f"{self.time / 60.0:.0f} min, {self.name}: {self.statement}"


@dataclass(frozen=True)
class Signals:
    """What events are read from; every array is (times,), NaN where nothing is known.

    Attributes
    ----------
    time : array
        Time since the start, s.
    suction_margin : array
        Pressure at the pump's inlet above boiling, beyond the NPSH required, Pa.
    pump_margin, rail_margin : array
        Temperature to boiling at the pump's inlet and in the rail, K.
    tank_temperature, boiling_temperature : array
        Temperature of the tank, and that at which it boils, K.
    vapour_lock : bool array
        Whether the pump is vapour-locked.
    fuel_mass : array
        Mass of fuel on board, kg.
    npsh_required : float
        NPSH that the pump requires, Pa.
    """

    time: PointArray
    suction_margin: PointArray
    pump_margin: PointArray
    rail_margin: PointArray
    tank_temperature: PointArray
    boiling_temperature: PointArray
    vapour_lock: BoolArray
    fuel_mass: PointArray
    npsh_required: float


def find_events(signals: Signals) -> list[Event]:
    """Return the first time of each event, in order of time.

    Parameters
    ----------
    signals : Signals
        What a drive brought.
    """
    needed = shown(signals.npsh_required, "pressure difference", digits=2)
    to_boiling = signals.boiling_temperature - signals.tank_temperature
    # An event happens when its margin falls below zero.
    watched = (
        (
            EventName.NOISE,
            signals.suction_margin,
            f"the pump's inlet has less than the {needed} above boiling that it needs to run quietly",
        ),
        (EventName.PUMP_MARGIN_GONE, signals.pump_margin, "fuel boils at the pump's inlet"),
        (EventName.RAIL_MARGIN_GONE, signals.rail_margin, "fuel boils in the rail"),
        (EventName.TANK_BOILS, to_boiling - NEARLY_BOILING, "the heat goes into vapour that leaves by the vent"),
        (EventName.VAPOUR_LOCK, np.where(signals.vapour_lock, -1.0, 1.0), "the pump starves the engine"),
    )
    events = []
    for name, margin, statement in watched:
        time = first_crossing(signals.time, margin)
        if time is not None:
            kelvin = float(np.interp(time, signals.time, signals.tank_temperature))
            tank = shown(kelvin, "temperature", digits=3)
            events.append(Event(time, name, f"{statement}; the tank is at {tank}"))
    if signals.fuel_mass[-1] < NO_FUEL and signals.time[-1] > 0.0:
        events.append(Event(float(signals.time[-1]), EventName.FUEL_EXHAUSTED, "the pick-up is bare"))
    return sorted(events, key=lambda event: event.time)


def first_crossing(time: ArrayLike, margin: ArrayLike) -> float | None:
    """Return when a margin first falls below zero, on straight lines between the times shown; None if it never does.

    Parameters
    ----------
    time : array (times,)
        Times, s, ascending.
    margin : array (times,)
        The margin, NaN where it is not known.

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
    position = values[index - 1] / (values[index - 1] - values[index])
    return float(times[index - 1] + position * (times[index] - times[index - 1]))
