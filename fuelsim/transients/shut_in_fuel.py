"""The fuel shut in between check valve and regulator after the engine has stopped.

As it warms it expands against the regulator; as it cools or leaks its pressure falls; and where the pressure would fall
below the bubble pressure of the rail's fuel, vapour takes the room of what is missing.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.car.tables import plain_table
from fuelsim.laws.atmosphere import standard_pressure
from fuelsim.numerics.smooth import smooth_maximum
from fuelsim.transients.stagnant_rail import (
    engine_metal_temperature,
    rail_heat_capacity,
    rail_volume,
    rail_warming_rate,
)
from fuelsim.transients.world import SOAK_DECAY_TIME, bay_rise_after_stop
from fuelsim.typing import FloatArray, FloatLike

if TYPE_CHECKING:
    from fuelsim.car.car import Car
    from fuelsim.fuel.tables import FuelTables
    from fuelsim.system.run import Run, System

__all__ = ["ShutInFuel", "ShutInState", "liquid_factor"]

FEED_COOLING_TIME = 600.0
"""Time constant with which the fuel in the feed line takes the temperature of the air under the floor, s [assumed]."""


class ShutInState(NamedTuple):
    """Rail pressure, Pa absolute, and volume of vapour in the rail, m3."""

    pressure: FloatArray
    vapour_volume: FloatArray


def liquid_factor(vapour_fraction: FloatLike) -> FloatLike:
    """Return 1 - x**4 of the fraction x of the rail that is vapour: 1 for a rail full of liquid, 0 for a dry one.

    As long as there is liquid in the rail, it boils at its bubble pressure and a leak passes liquid: a step from 1 to 0
    at x = 1. (Vapour that fills a rail weighs less than 2 % of the liquid it replaces, so the rest boils as before.)
    The fourth power is a smooth fall in place of the step, which the integration in time can follow (numerical, without
    a source): 0.94 in a rail half full, 0.34 in one nine tenths empty. The choice matters only in a rail that runs dry:
    in soaks of the demo cars without a bleed, a power of 8 or 16 moves the pressure by 0.1 kPa and the time to
    pressure by less than 0.01 s.

    Parameters
    ----------
    vapour_fraction : float or array
        Volume of vapour over volume of the rail, 0 to 1.

    Examples
    --------
    >>> [round(liquid_factor(x), 2) for x in (0.0, 0.5, 0.9, 1.0)]
    [1.0, 0.94, 0.34, 0.0]
    """
    return 1.0 - vapour_fraction**4


@dataclass(frozen=True)
class ShutInFuel:
    """What is known of a stopped car before time runs.

    Attributes
    ----------
    car : Car
        The car.
    run_before : Run
        The steady state at idle before the stop.
    tables : FuelTables
        Properties of the fuel.
    set_pressure : float
        Set pressure of the regulator, Pa: with the engine at rest a manifold is at the atmosphere, and so is whatever
        refers to it.
    peak_bay_rise : float
        Greatest rise of the bay's air above ambient after the stop, K.
    air_temperature, tank_temperature : float
        Temperatures of the ambient air and of the tank, K.
    atmospheric_pressure : float
        Pressure outside, Pa absolute.
    rail_volume, feed_volume : float
        Volumes of the rail and of the feed line, m3.
    rail_capacity : float
        Heat capacity of the rail and the fuel in it, J/K.
    compliance : float
        Share of the volume by which fuel, line, rail and damper give way per pressure, 1/Pa.
    """

    car: Car
    run_before: Run
    tables: FuelTables
    set_pressure: float
    peak_bay_rise: float
    air_temperature: float
    tank_temperature: float
    atmospheric_pressure: float
    rail_volume: float
    feed_volume: float
    rail_capacity: float
    compliance: float

    @classmethod
    def after(cls, system: System, run: Run, set_pressure: float, peak_bay_rise: float) -> ShutInFuel:
        """Return the fuel that a run at one operating point leaves shut in when the engine stops.

        Parameters
        ----------
        system : System
            The car in its layout.
        run : Run
            Its steady state before the stop.
        set_pressure : float
            Set pressure of the regulator that shuts the fuel in, Pa.
        peak_bay_rise : float
            Greatest rise of the bay's air above ambient after the stop, K.
        """
        car, lines = system.car, [link.part for link in system.plumbing.feed_lines]
        feed_volume = float(sum(line.volume for line in lines))
        volume = rail_volume(car)
        bulk_modulus = float(system.fuel.bulk_modulus(float(run.temperature["rail"])))
        elastic = float(plain_table(car.rail, "rail").compliance) + sum(
            float(line.wall_compliance * line.volume) for line in lines
        )
        if car.damper is not None:
            elastic += float(car.damper.compliance)
        return cls(
            car=car,
            run_before=run,
            tables=system.fuel.tables(),
            set_pressure=set_pressure,
            peak_bay_rise=peak_bay_rise,
            air_temperature=float(run.conditions.air_temperature),
            tank_temperature=float(run.conditions.tank_temperature),
            atmospheric_pressure=float(standard_pressure(run.conditions.altitude)),
            rail_volume=volume,
            feed_volume=feed_volume,
            rail_capacity=rail_heat_capacity(car, system.fuel),
            compliance=1.0 / bulk_modulus + elastic / (volume + feed_volume),
        )

    @property
    def volume(self) -> float:
        """Volume of fuel between check valve and regulator, m3."""
        return self.rail_volume + self.feed_volume

    @cached_property
    def elastic_volume(self) -> float:
        """Volume by which fuel and hose give way per pressure, m3/Pa."""
        return self.compliance * self.volume

    @cached_property
    def start_temperature(self) -> float:
        """Temperature of the rail at the stop, K."""
        return float(self.run_before.temperature["rail"])

    @cached_property
    def start_pressure(self) -> float:
        """Pressure of the rail above the atmosphere at the stop, Pa."""
        return float(self.run_before.gauge_pressure["rail"])

    def bay_temperature(self, time: FloatLike) -> FloatLike:
        """Return the temperature of the air in the bay, K.

        Parameters
        ----------
        time : float or array
            Time since the stop, s.
        """
        return self.air_temperature + bay_rise_after_stop(time, self.car.surroundings.bay_rise, self.peak_bay_rise)

    def warming_rate(self, time: float, temperature: float) -> float:
        """Return how fast the rail warms, K/s.

        Parameters
        ----------
        time : float
            Time since the stop, s.
        temperature : float
            Temperature of the rail, K.
        """
        metal = engine_metal_temperature(self.car, self.air_temperature, time)
        bay = float(self.bay_temperature(time))
        return rail_warming_rate(self.car, temperature, bay, metal, self.rail_capacity)

    def feed_temperature(self, time: FloatLike) -> FloatLike:
        """Return the temperature of the fuel in the feed line, K: within minutes that of the air under the floor.

        Parameters
        ----------
        time : float or array
            Time since the stop, s.
        """
        surroundings = self.car.surroundings
        floor = self.air_temperature + surroundings.cruising_underfloor_rise
        floor = floor + (surroundings.underfloor_rise - surroundings.cruising_underfloor_rise) * np.exp(
            -time / SOAK_DECAY_TIME
        )
        start = float(self.run_before.temperature["pump_outlet"])
        temperature: FloatLike = floor + (start - floor) * np.exp(-time / FEED_COOLING_TIME)
        return temperature

    def missing_volume(self, time: FloatLike, temperature: FloatLike, leaked: FloatLike) -> FloatLike:
        """Return how much less room the shut-in fuel needs than at the stop, m3.

        Parameters
        ----------
        time : float or array
            Time since the stop, s.
        temperature : float or array
            Temperature of the rail, K.
        leaked : float or array
            Volume of liquid lost, m3.
        """
        density = self.tables.density
        rail = self.rail_volume * (density(self.start_temperature) / density(temperature) - 1.0)
        cool, warm = density(self.feed_temperature(time)), density(self.feed_temperature(0.0))
        feed = self.feed_volume * (warm / cool - 1.0)
        missing: FloatLike = leaked - rail - feed
        return missing

    def state(self, time: FloatLike, temperature: FloatLike, leaked: FloatLike) -> ShutInState:
        """Return rail pressure and vapour volume.

        Without vapour the pressure falls by what is missing over the elastic volume. Vapour holds the bubble pressure
        as long as there is liquid in the rail to boil; a rail that has run empty falls to the atmosphere
        (`liquid_factor`). Where the bubble pressure is below the atmosphere, the check valve lets fuel in.

        Parameters
        ----------
        time, temperature, leaked : float or array
            As in `missing_volume`.
        """
        outside, elastic = self.atmospheric_pressure, self.elastic_volume
        missing = np.asarray(self.missing_volume(time, temperature, leaked))
        all_liquid = outside + self.start_pressure - missing / elastic
        bubble_gauge = np.maximum(self.tables.bubble_pressure(temperature) - outside, 0.0)
        vapour_fraction = np.clip((outside + bubble_gauge - all_liquid) * elastic / self.rail_volume, 0.0, 1.0)
        held = outside + bubble_gauge * np.asarray(liquid_factor(vapour_fraction))
        pressure = smooth_maximum(all_liquid, held, 100.0)[0]
        vapour = np.where(bubble_gauge > 0.0, (pressure - all_liquid) * elastic, 0.0)
        return ShutInState(pressure, np.clip(vapour, 0.0, self.rail_volume))
