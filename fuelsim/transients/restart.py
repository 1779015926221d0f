"""A hot restart: prime and cranking against the vapour that a soak has left in rail, suction line and pump.

Vapour is pressed together and collapses as fast as it gives off its heat (`rail_filling`); the pump spins up, at the
volts of key-on and of cranking, and pumps first what stands in its hot suction line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fuelsim.car.car import Car
from fuelsim.numerics.pointwise import greatest_at_each_point
from fuelsim.parts.supply import Supply
from fuelsim.shown import Shown
from fuelsim.transients.rail_filling import FILMS, FilledRail, Filling, Phase, fill
from fuelsim.transients.shut_in_course import RESEAT
from fuelsim.transients.shut_in_fuel import ShutInFuel, ShutInState
from fuelsim.transients.start_of_pumps import (
    PRIME_TIME,
    DrawnFuel,
    drawn_fuel,
    filling_of,
    pumps_at_work,
    stopped_pumps,
)
from fuelsim.typing import FloatArray, PointArray

__all__ = ["Restart", "Restarted", "Starting", "restart_times", "restarted"]

CRANK, LONGEST_CRANK = 3.0, 60.0
"""Time after the prime from which the engine is taken to run, and beyond which a start counts as failed, s
[assumed]."""


@dataclass(frozen=True)
class Restart(Shown):
    """What happens when the key is turned at each time of a soak; every array is (times,).

    Attributes
    ----------
    seconds_to_pressure : array
        Time from key-on until 95 % of the set pressure is there, s; infinite where a minute of cranking does not bring
        it, or the pump is vapour-bound.
    seconds_to_liquid : array
        Time until the injectors have liquid at that pressure, s: less than 5 % of the rail is vapour.
    pump_vapour : array
        V/L at a pump's inlet as it starts; of the pump that has most.
    """

    seconds_to_pressure: PointArray
    seconds_to_liquid: PointArray
    pump_vapour: PointArray

    @property
    def headline(self) -> str:
        """Return how many times there are."""
        return f"{np.size(self.seconds_to_pressure)} times of a soak"


@dataclass(frozen=True)
class Starting:
    """How a start is made.

    Attributes
    ----------
    prime_time : float
        Duration of the pump's run at key-on, s.
    voltage, crank_voltage, idle_voltage : float
        Supply voltage at key-on, while cranking and once the engine runs, V.
    bleed_area : float
        Area of a bleed at the rail times its discharge coefficient, m2.
    """

    prime_time: float
    voltage: float
    crank_voltage: float
    idle_voltage: float
    bleed_area: float = 0.0

    @classmethod
    def of(
        cls,
        car: Car,
        *,
        prime_time: float = PRIME_TIME,
        voltage: float | None = None,
        crank_voltage: float | None = None,
        bleed_area: float = 0.0,
    ) -> Starting:
        """Return how a car is started, at the voltages of its own supply where none are given.

        Parameters
        ----------
        car : Car
            The car; a typical battery where it has no table of its supply.
        prime_time, voltage, crank_voltage, bleed_area : float, optional
            As the attributes.

        Examples
        --------
        >>> import fuelsim as fs
        >>> Starting.of(fs.Car.named("finch")).crank_voltage
        10.0
        """
        supply = car.supply or Supply()
        return cls(
            prime_time=prime_time,
            voltage=float(np.max(supply.key_on_voltage)) if voltage is None else voltage,
            crank_voltage=float(np.max(supply.cranking_voltage)) if crank_voltage is None else crank_voltage,
            idle_voltage=float(np.max(supply.idle_voltage)),
            bleed_area=bleed_area,
        )


@dataclass(frozen=True)
class Restarted:
    """Starts at some points.

    Attributes
    ----------
    filling : Filling
        What was filled.
    filled : FilledRail
        Pressures and volumes over time.
    pump_vapour : array (points,)
        V/L at a pump's inlet as it starts.
    """

    filling: Filling
    filled: FilledRail
    pump_vapour: PointArray


def restarted(
    fuel: ShutInFuel,
    time: PointArray,
    rail_temperatures: FloatArray,
    state: ShutInState,
    starting: Starting,
    films: tuple[float, ...] = (FILMS[1],),
    *,
    not_before: float = 0.0,
) -> Restarted:
    """Start at each time of a soak, with every pump that feeds a rail at work; points are films times times.

    Parameters
    ----------
    fuel : ShutInFuel
        The stopped car.
    time : array (times,)
        Time since the stop, s.
    rail_temperatures : array (rails, times)
        Temperature of each rail, K; vapour stands in the hottest.
    state : ShutInState
        Pressure and vapour of the rails, (times,).
    starting : Starting
        How the start is made.
    films : tuple of float
        Heat transfer from condensing vapour, W/m2/K.
    not_before : float
        As in `fill`; it ends when every point has liquid at the injectors.
    """
    times, points = len(time), len(time) * len(films)

    def spread(values: PointArray) -> PointArray:
        return np.tile(values, len(films))

    pumps = stopped_pumps(fuel)
    drawn = [drawn_fuel(fuel, pump, time) for pump in pumps]
    ratio = greatest_at_each_point([own.first_ratio for own in drawn])
    spread_drawn = [DrawnFuel._make(spread(np.broadcast_to(values, (times,))) for values in own) for own in drawn]
    filling = filling_of(
        fuel,
        spread(np.asarray(fuel.feed_temperature(time))),
        np.repeat(films, times),
        bleed_area=starting.bleed_area,
        reseat_step=RESEAT,
    )
    none = np.zeros(points)
    vapour = spread(np.asarray(state.vapour_volume))
    gauge = spread(np.asarray(state.pressure)) - fuel.atmospheric_pressure
    inside = filling.of_volumes(gauge, none, vapour, spread(rail_temperatures.max(axis=0)))
    demand = float(fuel.run_before.burnt_flow)
    phases = [
        Phase(starting.prime_time, np.full(points, starting.voltage), 0.0, cranking=False),
        Phase(CRANK, np.full(points, starting.crank_voltage), demand, cranking=True),
        Phase(LONGEST_CRANK - CRANK, np.full(points, starting.idle_voltage), demand, cranking=True),
    ]
    at_work = pumps_at_work(pumps, spread_drawn, points)
    filled = fill(filling, at_work, inside, phases, until_liquid=True, not_before=not_before)
    return Restarted(filling, filled, ratio)


def restart_times(fuel: ShutInFuel, time: PointArray, rail_temperatures: FloatArray, state: ShutInState) -> Restart:
    """Return what a restart takes at each time of a soak.

    Parameters
    ----------
    fuel, time, rail_temperatures, state
        As in `restarted`.
    """
    start = restarted(fuel, time, rail_temperatures, state, Starting.of(fuel.car))
    held = start.filling.set_pressure
    return Restart(start.filled.seconds_to_pressure(held), start.filled.seconds_to_liquid(held), start.pump_vapour)
