"""What happens during a drive that the driver or the engineer should know."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

import numpy as np

from fuelsim.system.controller import EngineState
from fuelsim.transients.tank_equations import Stop
from fuelsim.typing import ArrayLike, BoolArray, PointArray, TextArray
from fuelsim.units import shown

__all__ = ["Event", "EventName", "Signals", "find_events"]

NEARLY_BOILING = 0.15
"""Distance to its boiling point within which a tank counts as boiling, K: all heat then goes into vapour."""
LOW_LEVEL = 0.25
"""Level of a pot that is low, as a share of its volume."""


class EventName(StrEnum):
    """Kind of an event; its value is its name for people.

    A pump over its vapour limit is loud and loses flow fast, while the engine may run; a lean engine runs with the
    controller's trim used up; an engine stops for want of fuel. Only a stop of which vapour at a pump's inlet is the
    cause is a vapour lock.
    """

    NOISE = "noise"
    PUMP_MARGIN_GONE = "pump margin gone"
    RAIL_MARGIN_GONE = "rail margin gone"
    TANK_BOILS = "tank boils"
    OVER_VAPOUR_LIMIT = "over vapour limit"
    LEAN = "lean"
    ENGINE_STOPS = "engine stops"
    VAPOUR_LOCK = "vapour lock"
    RESTARTS = "restarts"
    POT_LOW = "pot low"
    POT_EMPTY = "pot empty"
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
    part : str
        Pump, rail, pot or tank that it happened to; '' for the car.
    """

    time: float
    name: EventName
    statement: str
    part: str = ""

    def __str__(self) -> str:
        return f"{self.time / 60.0:.0f} min, {self.name}: {self.statement}"


@dataclass(frozen=True)
class Signals:
    """What events are read from; every array is (times,), NaN where nothing is known.

    Attributes
    ----------
    time : array
        Time since the start, s.
    suction_margin : dict of str to array
        By pump outside the tank: pressure at its inlet above boiling, beyond the NPSH required, Pa. A submerged pump
        has little more than the tank's own margin; its noise begins with vapour, at V/L 0.1 to 0.3.
    pump_margin, rail_margin : dict of str to array
        Temperature to boiling at the inlet of each pump and in each rail, K.
    tank_temperature, boiling_temperature : array
        Temperature of the tank, and that at which it boils, K.
    over_vapour_limit : dict of str to bool array
        By pump: whether it takes in more vapour than it tolerates.
    engine_state : array of str
        Words of `EngineState`; empty where the engine is switched off.
    stops : tuple of Stop
        When the engine stopped of itself and was restarted.
    pick_up_bare : bool
        Whether the drive ended for want of fuel in the tank.
    npsh_required : dict of str to float
        NPSH that each pump requires, Pa.
    pot_level : dict of str to array
        Fuel in each pot over its volume.
    pot_empty : dict of str to bool array
        Whether each pot has run empty.
    """

    time: PointArray
    suction_margin: dict[str, PointArray]
    pump_margin: dict[str, PointArray]
    rail_margin: dict[str, PointArray]
    tank_temperature: PointArray
    boiling_temperature: PointArray
    over_vapour_limit: dict[str, BoolArray]
    engine_state: TextArray
    stops: tuple[Stop, ...]
    pick_up_bare: bool
    npsh_required: dict[str, float]
    pot_level: dict[str, PointArray]
    pot_empty: dict[str, BoolArray]


class _Watched(NamedTuple):
    """An event that happens when its margin falls below zero: kind, part, margin and statement."""

    name: EventName
    part: str
    margin: PointArray
    statement: str


def find_events(signals: Signals) -> list[Event]:
    """Return the first time of each event at each part, and every stop and restart of the engine, in order of time.

    Parameters
    ----------
    signals : Signals
        What a drive brought.
    """
    events = []
    for name, part, margin, statement in _watched(signals):
        time = first_crossing(signals.time, margin)
        if time is not None:
            events.append(Event(time, name, f"{statement}; {_tank(signals, time)}", part))
    for stop in signals.stops:
        name = EventName.VAPOUR_LOCK if stop.by_vapour else EventName.ENGINE_STOPS
        events.append(Event(stop.time, name, f"{stop.reason}; {_tank(signals, stop.time)}"))
        if np.isfinite(stop.restart):
            waited = f"{(stop.restart - stop.time) / 60.0:.0f} min"
            fed = f"the engine would be fed again after {waited}; {_tank(signals, stop.restart)}"
            events.append(Event(stop.restart, EventName.RESTARTS, fed))
    for pot, empty in signals.pot_empty.items():
        if np.any(empty):
            gone = f"{_of('pot', pot)} is empty: the pumps behind it have nothing to draw, and the engine stops"
            events.append(Event(float(signals.time[int(np.argmax(empty))]), EventName.POT_EMPTY, gone, pot))
    if signals.pick_up_bare:
        events.append(Event(float(signals.time[-1]), EventName.FUEL_EXHAUSTED, "the pick-up is bare"))
    return sorted(events, key=lambda event: event.time)


def _tank(signals: Signals, time: float) -> str:
    """Return how warm the tank is at some time, in words."""
    kelvin = float(np.interp(time, signals.time, signals.tank_temperature))
    return f"the tank is at {shown(kelvin, 'temperature', digits=3)}"


def _watched(signals: Signals) -> list[_Watched]:
    """Return every event that is watched for."""
    to_boiling = signals.boiling_temperature - signals.tank_temperature
    vapour = "the heat goes into vapour that leaves by the vent"
    watched = [_Watched(EventName.TANK_BOILS, "tank", to_boiling - NEARLY_BOILING, vapour)]
    several = len(signals.pump_margin) > 1
    for pump, margin in signals.pump_margin.items():
        inlet = f"the inlet of {_of('pump', pump)}" if several else "the pump's inlet"
        needed = shown(signals.npsh_required[pump], "pressure difference", digits=2)
        noisy = f"{inlet} has less than the {needed} above boiling that it needs to run quietly"
        loud = f"{inlet} takes in more vapour than the pump tolerates: it is loud, and its flow falls fast"
        if pump in signals.suction_margin:
            watched.append(_Watched(EventName.NOISE, pump, signals.suction_margin[pump], noisy))
        watched += [
            _Watched(EventName.PUMP_MARGIN_GONE, pump, margin, f"fuel boils at {inlet}"),
            _Watched(EventName.OVER_VAPOUR_LIMIT, pump, _below_zero(signals.over_vapour_limit[pump]), loud),
        ]
    lean = _below_zero(np.asarray(signals.engine_state == EngineState.LEAN))
    watched.append(_Watched(EventName.LEAN, "", lean, "the controller's trim is used up, and the mixture goes lean"))
    for rail, margin in signals.rail_margin.items():
        where = _of("rail", rail) if len(signals.rail_margin) > 1 else "the rail"
        watched.append(_Watched(EventName.RAIL_MARGIN_GONE, rail, margin, f"fuel boils in {where}"))
    for pot, level in signals.pot_level.items():
        low = f"{_of('pot', pot)} is down to {LOW_LEVEL:.0%} of its volume"
        watched.append(_Watched(EventName.POT_LOW, pot, level - LOW_LEVEL, low))
    return watched


def _below_zero(happens: BoolArray) -> PointArray:
    """Return a margin that is below zero where something happens; NaN elsewhere, so that it crosses zero there."""
    return np.where(happens, -1.0, np.nan)


def _of(kind: str, name: str) -> str:
    """Return a part in words, as in "the pump 'left_pump'"; a name that says the kind is enough by itself."""
    return f"the {kind}" if name == kind else f"the {kind} '{name}'"


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
