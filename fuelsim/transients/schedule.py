"""A drive as a list of phases, and the world around the car at every moment of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim import units
from fuelsim.car.climate import Climate
from fuelsim.errors import InputError
from fuelsim.fields import Quantity, Ratings, choice, quantity, text
from fuelsim.laws.atmosphere import standard_pressure
from fuelsim.system.exchange import between, moving_share

if TYPE_CHECKING:
    from fuelsim.car.car import Car

__all__ = ["Phase", "Schedule", "World", "bay_rise_after_stop", "typical_phase"]

BAY_LAG, UNDERFLOOR_LAG = 600.0, 300.0
"""Time constants with which the air in bay and under the floor follows a change of driving, s (assumed)."""
SOAK_PEAK = 60.0
"""K above ambient that the bay reaches after a stop: 50 to 70, 10 to 25 minutes after it (typical, from memory)."""
SOAK_RISE_TIME, SOAK_DECAY_TIME = 480.0, 2700.0
"""Time constants of that rise and of the decay, s; the decay is 30 to 60 minutes (typical, from memory)."""
LAPSE_RATE = 0.0065
"""K by which the air cools per metre of climb (US Standard Atmosphere 1976)."""


@dataclass(frozen=True)
class Phase(Ratings):
    """One stretch of a drive under steady conditions.

    Examples
    --------
    >>> Phase(name="jam", duration="45 min", rpm="700 rpm").duration
    2700.0
    """

    name: str = text("What it is called.")
    duration: Quantity = quantity("time", "How long it lasts.", least=1.0, most=864e3, example="30 min")
    rpm: Quantity = quantity(
        "engine speed", "Engine speed; the car's idle if left out.", least=0.0, most=25e3, default=None
    )
    load: Quantity = quantity("fraction", "Share of the full-load air charge.", least=0.0, most=1.0, default=0.0)
    vehicle_speed: Quantity = quantity("speed", "Of the car.", least=0.0, most=120.0, default=0.0, example="50 km/h")
    end_altitude: Quantity = quantity(
        "altitude", "Height reached at its end; unchanged if left out.", least=-450.0, most=6000.0, default=None
    )
    pump_duty: Quantity = quantity(
        "fraction", "Share of the time its controller switches the pump on.", least=0.05, most=1.0, default=1.0
    )
    engine: str = choice(("running", "stopped"), "Whether engine and pump run.", default="running")


# Speed over red line, load, vehicle speed in km/h: assumed, for a car of ordinary gearing.
_TYPICAL = {
    "city": (0.32, 0.22, 25.0),
    "motorway": (0.50, 0.42, 110.0),
    "climb": (0.55, 0.75, 50.0),
    "jam": (None, 0.0, 2.0),
}


def typical_phase(kind: str, duration: Any, car: Car, *, end_altitude: Any = None, pump_duty: Any = 1.0) -> Phase:
    """Return a phase of ordinary driving.

    Parameters
    ----------
    kind : str
        ``"city"``, ``"motorway"``, ``"climb"``, ``"jam"`` or ``"stop"``.
    duration : float or str
    car : Car
    end_altitude : float or str, optional
    pump_duty : float

    Examples
    --------
    >>> import fuelsim as fs
    >>> typical_phase("motorway", "1 h", fs.Car.named("finch")).rpm
    3250.0
    """
    if kind == "stop":
        return Phase(name="stop", duration=duration, engine="stopped", end_altitude=end_altitude)
    if kind not in _TYPICAL:
        raise InputError("no such kind of driving", given=kind, accepted=", ".join([*_TYPICAL, "stop"]))
    share, load, speed = _TYPICAL[kind]
    engine = car.engine
    return Phase(
        name=kind,
        duration=duration,
        rpm=engine.idle_speed if share is None else max(share * engine.red_line, engine.idle_speed),
        load=load,
        vehicle_speed=speed / 3.6,
        end_altitude=end_altitude,
        pump_duty=pump_duty,
    )


@dataclass(frozen=True)
class Schedule:
    """Phases one after the other.

    Attributes
    ----------
    phases : tuple of Phase
    start_time : float
        Solar time of the day at the start, s.
    start_altitude : float or None
        m; that of the climate's place if None.
    """

    phases: tuple[Phase, ...]
    start_time: float = 36_000.0
    start_altitude: float | None = None

    @classmethod
    def of(cls, phases: Sequence[Phase], *, start_time: Any = "10 h", start_altitude: Any = None) -> Schedule:
        """Make a schedule; times and heights may carry units."""
        if not phases:
            raise InputError("no phases", accepted="at least one Phase", part="Schedule")
        altitude = None if start_altitude is None else float(units.convert(start_altitude, "altitude"))
        return cls(tuple(phases), float(units.convert(start_time, "time")), altitude)

    @property
    def starts(self) -> Any:
        """Time at which each phase begins, and the end of the last, s, ``(phases + 1,)``."""
        return np.concatenate([[0.0], np.cumsum([phase.duration for phase in self.phases])])

    @property
    def duration(self) -> float:
        """Of the whole, s."""
        return float(self.starts[-1])


def bay_rise_after_stop(time: Any, rise_at_stop: Any, peak: float = SOAK_PEAK) -> Any:
    """Return the temperature of the bay's air above ambient after the engine has stopped, K.

    The hot engine warms air that no fan moves: ``r0 exp(-t/t1) + A (exp(-t/t2) - exp(-t/t1))`` with the amplitude that
    puts the maximum at `peak`, about 17 minutes after the stop.

    Parameters
    ----------
    time : float or array
        Since the stop, s.
    rise_at_stop : float
        K.
    peak : float
        K.

    Examples
    --------
    >>> [round(float(bay_rise_after_stop(60.0 * minute, 40.0))) for minute in (0, 17)]
    [40, 60]
    """
    t = np.asarray(time, dtype=float)
    rise, decay = SOAK_RISE_TIME, SOAK_DECAY_TIME
    at_peak = np.log(decay / rise) / (1.0 / rise - 1.0 / decay)
    shape_there = np.exp(-at_peak / decay) - np.exp(-at_peak / rise)
    amplitude = max((peak - rise_at_stop * np.exp(-at_peak / rise)) / shape_there, 0.0)
    return rise_at_stop * np.exp(-t / rise) + amplitude * (np.exp(-t / decay) - np.exp(-t / rise))


@dataclass(frozen=True)
class World:
    """The surroundings of a car over one drive: everything that does not depend on its fuel.

    Attributes
    ----------
    car : Car
    schedule : Schedule
    climate : Climate or None
        None for the car's own air temperature at all hours.
    """

    car: Car
    schedule: Schedule
    climate: Climate | None

    def altitude_ends(self) -> list[tuple[float, float]]:
        """Return the height at start and end of each phase, m."""
        place = self.car.surroundings.altitude if self.climate is None else self.climate.altitude
        here = place if self.schedule.start_altitude is None else self.schedule.start_altitude
        ends = []
        for phase in self.schedule.phases:
            there = here if phase.end_altitude is None else phase.end_altitude
            ends.append((float(here), float(there)))
            here = there
        return ends

    def rises_at_start(self) -> list[tuple[float, float]]:
        """Return how much warmer than ambient bay and underfloor are at the start of each phase, K."""
        first = self.schedule.phases[0]
        now = (0.0, 0.0) if first.engine == "stopped" else self._targets(first)
        found = []
        for phase in self.schedule.phases:
            found.append(now)
            bay, floor = self._rises(phase, now, phase.duration)
            now = (float(bay), float(floor))
        return found

    def _targets(self, phase: Phase) -> tuple[float, float]:
        surroundings, share = self.car.surroundings, moving_share(phase.vehicle_speed)
        bay = between(surroundings.bay_rise, surroundings.cruising_bay_rise, share)
        floor = between(surroundings.underfloor_rise, surroundings.cruising_underfloor_rise, share)
        return float(bay), float(floor)

    def _rises(self, phase: Phase, start: tuple[float, float], time: Any) -> tuple[Any, Any]:
        t = np.asarray(time, dtype=float)
        if phase.engine == "stopped":
            floor = self.car.surroundings.cruising_underfloor_rise
            return (
                bay_rise_after_stop(t, start[0]),
                floor + (start[1] - floor) * np.exp(-t / SOAK_DECAY_TIME),
            )
        bay, floor = self._targets(phase)
        return bay + (start[0] - bay) * np.exp(-t / BAY_LAG), floor + (start[1] - floor) * np.exp(-t / UNDERFLOOR_LAG)

    def at(self, index: int, time: Any) -> dict[str, Any]:
        """Return the world within one phase.

        Parameters
        ----------
        index : int
            Of the phase.
        time : array (times,)
            Since the phase began, s.

        Returns
        -------
        dict of str to array (times,)
            Names as in `Conditions`, with ``atmospheric_pressure``, Pa absolute.
        """
        phase, t = self.schedule.phases[index], np.asarray(time, dtype=float)
        begin, end = self.altitude_ends()[index]
        altitude = begin + (end - begin) * t / phase.duration
        if self.climate is None:
            air = np.full(t.shape, float(self.car.surroundings.air_temperature))
            air = air - LAPSE_RATE * (altitude - self.altitude_ends()[0][0])
        else:
            clock = self.schedule.start_time + self.schedule.starts[index] + t
            air = self.climate.air_temperature(clock) - LAPSE_RATE * (altitude - self.climate.altitude)
        bay, floor = self._rises(phase, self.rises_at_start()[index], t)
        rpm = self.car.engine.idle_speed if phase.rpm is None else phase.rpm
        steady = {
            "rpm": rpm,
            "load": phase.load,
            "vehicle_speed": phase.vehicle_speed,
            "pump_duty": phase.pump_duty,
        }
        return {name: np.full(t.shape, float(value)) for name, value in steady.items()} | {
            "altitude": altitude,
            "atmospheric_pressure": standard_pressure(altitude),
            "air_temperature": air,
            "bay_temperature": air + bay,
            "underfloor_temperature": air + floor,
        }
