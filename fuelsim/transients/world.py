"""The world around a car at every moment of a drive, and the air of its bay after a stop."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.arguments import unchecked
from fuelsim.car.climate import Climate
from fuelsim.laws.atmosphere import standard_pressure
from fuelsim.system.conditions import Conditions
from fuelsim.system.exchange import between, moving_share
from fuelsim.transients.schedule import Phase, Schedule
from fuelsim.transients.sun import sun_over_noon
from fuelsim.typing import ArrayLike, BoolArray, FloatArray, FloatLike, IndexArray, PointArray

if TYPE_CHECKING:
    from fuelsim.car.car import Car

__all__ = ["SOAK_DECAY_TIME", "SOAK_PEAK", "DrivingState", "World", "bay_rise_after_stop"]

BAY_LAG, UNDERFLOOR_LAG = 600.0, 300.0
"""Time constants with which the air in the bay and under the floor follows a change of driving, s [assumed]."""
SOAK_PEAK = 60.0
"""Greatest rise of the bay's air above ambient after a stop, K: 50 to 70, 10 to 25 minutes after it
[memory]."""
SOAK_RISE_TIME, SOAK_DECAY_TIME = 480.0, 2700.0
"""Time constants of that rise and of its decay, s; the decay is 30 to 60 minutes [memory]."""
LAPSE_RATE = 0.0065
"""Fall of the air temperature per metre of climb, K/m [us_standard_atmosphere_1976]."""


@dataclass(frozen=True)
class DrivingState:
    """What driver, weather and road do at some moments of a drive; every array is (times,).

    Attributes
    ----------
    rpm, load, vehicle_speed, pump_duty, altitude, air_temperature, bay_temperature, underfloor_temperature : array
        As in `Conditions`.
    atmospheric_pressure : array
        Pressure of the standard atmosphere at that altitude, Pa absolute.
    """

    rpm: PointArray
    load: PointArray
    vehicle_speed: PointArray
    pump_duty: PointArray
    altitude: PointArray
    atmospheric_pressure: PointArray
    air_temperature: PointArray
    bay_temperature: PointArray
    underfloor_temperature: PointArray

    @staticmethod
    def joined(states: Sequence[DrivingState]) -> DrivingState:
        """Return several states as one, one after the other.

        Parameters
        ----------
        states : sequence of DrivingState
            At least one.
        """
        names = [item.name for item in fields(DrivingState)]
        return DrivingState(*(np.concatenate([getattr(state, name) for state in states]) for name in names))

    def mapped(self, change: Callable[[PointArray], PointArray]) -> DrivingState:
        """Return the state with one change made to every array, such as a selection of times.

        Parameters
        ----------
        change : callable
            From an array (times,) to an array.
        """
        return DrivingState(*(change(getattr(self, item.name)) for item in fields(self)))

    def take(self, points: IndexArray | BoolArray) -> DrivingState:
        """Return the state at some of its times.

        Parameters
        ----------
        points : int or bool array
            Which of the times.
        """
        return self.mapped(lambda values: values[points])

    def conditions(self, tank_temperature: PointArray, vapour_space_pressure: PointArray) -> Conditions:
        """Return operating conditions with the state of the tank at these times.

        Parameters
        ----------
        tank_temperature : array (times,)
            Temperature of the fuel that the plumbing draws, K.
        vapour_space_pressure : array (times,)
            Pressure in the tank above the atmosphere, Pa.
        """
        return Conditions(
            rpm=self.rpm,
            load=self.load,
            vehicle_speed=self.vehicle_speed,
            pump_duty=self.pump_duty,
            altitude=self.altitude,
            air_temperature=self.air_temperature,
            bay_temperature=self.bay_temperature,
            underfloor_temperature=self.underfloor_temperature,
            tank_temperature=tank_temperature,
            vapour_space_pressure=vapour_space_pressure,
        )


def bay_rise_after_stop(time: ArrayLike, rise_at_stop: float, peak: float = SOAK_PEAK) -> FloatArray:
    """Return the temperature of the bay's air above ambient after the engine has stopped, K.

    The hot engine warms air that no fan moves: ``r0 exp(-t/t1) + A (exp(-t/t2) - exp(-t/t1))`` with the amplitude that
    puts the maximum at `peak`, about 17 minutes after the stop.

    Parameters
    ----------
    time : float or array
        Time since the stop, s.
    rise_at_stop : float
        Rise above ambient at the stop, K.
    peak : float
        Greatest rise above ambient, K.

    Examples
    --------
    >>> [round(float(bay_rise_after_stop(60.0 * minute, 40.0))) for minute in (0, 17)]
    [40, 60]
    """
    t = np.asarray(time, dtype=float)
    rise, decay = SOAK_RISE_TIME, SOAK_DECAY_TIME
    at_peak = np.log(decay / rise) / (1.0 / rise - 1.0 / decay)
    shape_at_peak = np.exp(-at_peak / decay) - np.exp(-at_peak / rise)
    amplitude = max((peak - rise_at_stop * np.exp(-at_peak / rise)) / shape_at_peak, 0.0)
    result: FloatArray = rise_at_stop * np.exp(-t / rise) + amplitude * (np.exp(-t / decay) - np.exp(-t / rise))
    return result


class Rises(NamedTuple):
    """Temperatures of the air around the parts above ambient, K."""

    bay: FloatLike
    underfloor: FloatLike


class Climb(NamedTuple):
    """Altitude at the start and at the end of a phase, m."""

    start: float
    end: float


@dataclass(frozen=True)
class World:
    """The surroundings of a car over one drive: everything that does not depend on its fuel.

    Attributes
    ----------
    car : Car
        The car, whose surroundings say how much warmer than ambient bay and underfloor are.
    schedule : Schedule
        The phases of the drive.
    climate : Climate or None
        Weather of the day; None for the car's own air temperature at all hours.
    """

    car: Car
    schedule: Schedule
    climate: Climate | None

    def climbs(self) -> list[Climb]:
        """Return the altitude at the start and end of each phase."""
        of_place = self.car.surroundings.altitude if self.climate is None else self.climate.altitude
        start = float(of_place if self.schedule.start_altitude is None else self.schedule.start_altitude)
        climbs = []
        for phase in self.schedule.phases:
            end = start if phase.end_altitude is None else float(phase.end_altitude)
            climbs.append(Climb(start, end))
            start = end
        return climbs

    def rises_at_start(self) -> list[Rises]:
        """Return how much warmer than ambient bay and underfloor are at the start of each phase."""
        first = self.schedule.phases[0]
        rises = Rises(0.0, 0.0) if first.engine == "stopped" else self._steady_rises(first)
        at_start = []
        for index, phase in enumerate(self.schedule.phases):
            at_start.append(rises)
            end = self._rises(index, rises, phase.duration)
            rises = Rises(float(end.bay), float(end.underfloor))
        return at_start

    def _steady_rises(self, phase: Phase) -> Rises:
        """Return the rises that driving at the speed of a phase leads to in the end."""
        surroundings, share = self.car.surroundings, moving_share(phase.vehicle_speed)
        at_rest = surroundings.bay_rise + phase.air_conditioning * surroundings.air_conditioning_bay_rise
        bay = between(at_rest, surroundings.cruising_bay_rise, share)
        floor = between(surroundings.underfloor_rise, surroundings.cruising_underfloor_rise, share)
        return Rises(float(bay), float(floor))

    def has_run(self, index: int) -> bool:
        """Return whether the engine has run before a phase, so that a stop finds it hot.

        Parameters
        ----------
        index : int
            Number of the phase.
        """
        return any(phase.engine == "running" for phase in self.schedule.phases[:index])

    def _rises(self, index: int, start: Rises, time: ArrayLike) -> Rises:
        """Return the rises some time after a phase began, s."""
        t, phase = np.asarray(time, dtype=float), self.schedule.phases[index]
        if phase.engine == "stopped":
            floor = self.car.surroundings.cruising_underfloor_rise
            return Rises(
                bay_rise_after_stop(t, float(start.bay)) if self.has_run(index) else np.zeros(t.shape),
                floor + (start.underfloor - floor) * np.exp(-t / SOAK_DECAY_TIME),
            )
        steady = self._steady_rises(phase)
        return Rises(
            steady.bay + (start.bay - steady.bay) * np.exp(-t / BAY_LAG),
            steady.underfloor + (start.underfloor - steady.underfloor) * np.exp(-t / UNDERFLOOR_LAG),
        )

    def at(self, index: int, time: ArrayLike) -> DrivingState:
        """Return the world within one phase.

        Parameters
        ----------
        index : int
            Number of the phase.
        time : array (times,)
            Time since the phase began, s.
        """
        phase, t = self.schedule.phases[index], np.asarray(time, dtype=float)
        climbs = self.climbs()
        climb = climbs[index]
        altitude = climb.start + (climb.end - climb.start) * t / phase.duration
        if self.climate is None:
            air = np.full(t.shape, float(self.car.surroundings.air_temperature))
            air = air - LAPSE_RATE * (altitude - climbs[0].start)
        else:
            clock = self.schedule.start_time + self.schedule.starts[index] + t
            air = self.climate.air_temperature(clock) - LAPSE_RATE * (altitude - self.climate.altitude)
        rises = self._rises(index, self.rises_at_start()[index], t)
        rpm = self.car.engine.idle_speed if phase.rpm is None else phase.rpm
        return DrivingState(
            rpm=np.full(t.shape, float(rpm)),
            load=self._load(phase, float(rpm), altitude, air),
            vehicle_speed=np.full(t.shape, float(phase.vehicle_speed)),
            pump_duty=np.full(t.shape, float(phase.pump_duty)),
            altitude=altitude,
            atmospheric_pressure=standard_pressure(altitude),
            air_temperature=air,
            bay_temperature=air + rises.bay,
            underfloor_temperature=air + rises.underfloor,
        )

    def _load(self, phase: Phase, rpm: float, altitude: PointArray, air_temperature: PointArray) -> PointArray:
        """Return the load with what air conditioning and creeping add, (times,)."""
        engine, load = self.car.engine, np.full(altitude.shape, float(phase.load))
        power = float(phase.air_conditioning * engine.air_conditioning_power + phase.creep_power)
        if power == 0.0 or rpm == 0.0 or phase.engine == "stopped":
            return load
        pressure = standard_pressure(altitude)
        return unchecked(engine.load_with)(
            rpm, load, power, atmospheric_pressure=pressure, air_temperature=air_temperature
        )

    def sun(self, index: int, time: ArrayLike) -> PointArray:
        """Return the sun over that of noon within one phase: its height in a climate, noon all day without one.

        Parameters
        ----------
        index : int
            Number of the phase.
        time : array (times,)
            Time since the phase began, s.
        """
        phase, t = self.schedule.phases[index], np.asarray(time, dtype=float)
        if self.climate is None:
            return np.full(t.shape, float(phase.sun))
        over_noon = sun_over_noon(self.schedule.start_time + self.schedule.starts[index] + t)
        return over_noon * float(phase.sun)
