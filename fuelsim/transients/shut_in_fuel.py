"""The fuel shut in between check valve and regulator after the engine has stopped.

As it warms it expands against the regulator; as it cools or leaks its pressure falls; and where the pressure would fall
below the bubble pressure of the rail's fuel, vapour takes the room of what is missing. As long as there is liquid
behind the check valve, the pressure does not fall below that at which the valve opens inwards: tank pressure less the
cracking pressure and the head up to the rail. Several rails share one pressure; each has its own temperature, and the
hottest boils first.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.car.tables import Rail
from fuelsim.constants import GRAVITY
from fuelsim.laws.atmosphere import standard_pressure
from fuelsim.numerics.smooth import smooth_maximum
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.damper import Damper
from fuelsim.system.plumbing_paths import drawn_from, pumps_to_rails, way_to_rail
from fuelsim.transients.stagnant_rail import (
    engine_metal_temperature,
    rail_heat_capacity,
    rail_warming_rate,
    rails_of,
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

ALIKE = 2e3
"""Difference of bubble pressure over which the vapour of a warmer rail outweighs that of a cooler one by e, Pa
(numerical: about 0.5 K)."""


class ShutInState(NamedTuple):
    """Rail pressure, Pa absolute, volume of vapour in all rails, m3, and in each rail, (rails, ...), m3."""

    pressure: FloatArray
    vapour_volume: FloatArray
    vapour_in_rail: FloatArray


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
    system : System
        The car in its layout.
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
    rails : dict of str to Rail
        The rails, by the station at which their pressure is read.
    feed_volume : float
        Volume of the lines under rail pressure, m3.
    compliance : float
        Share of the volume by which fuel, line, rail and damper give way per pressure, 1/Pa.
    opens_inwards_at : float
        Pressure in the rail at which the check valve lets fuel in, Pa absolute; 0 where the inlet is dry or blocked.
    constant_temperature : float or None
        Temperature that everything keeps, K; None for a hot car, whose bay and engine warm and cool the fuel.
    """

    system: System
    run_before: Run
    tables: FuelTables
    set_pressure: float
    peak_bay_rise: float
    air_temperature: float
    tank_temperature: float
    atmospheric_pressure: float
    rails: dict[str, Rail]
    feed_volume: float
    compliance: float
    opens_inwards_at: float
    constant_temperature: float | None = None

    @classmethod
    def after(
        cls,
        system: System,
        run: Run,
        peak_bay_rise: float,
        *,
        constant_temperature: float | None = None,
        inlet_dry: bool = False,
    ) -> ShutInFuel:
        """Return the fuel that a run at one operating point leaves shut in when the engine stops.

        Parameters
        ----------
        system : System
            The car in its layout.
        run : Run
            Its steady state before the stop.
        peak_bay_rise : float
            Greatest rise of the bay's air above ambient after the stop, K.
        constant_temperature : float, optional
            Temperature that everything keeps, K; left out, the car is hot.
        inlet_dry : bool
            Whether no liquid stands behind the check valve.
        """
        plumbing, rails = system.plumbing, rails_of(system)
        with_rails = {plumbing.zone(name) for name in rails}
        lines = [link.part for link in plumbing.feed_lines if plumbing.zone(link.upstream) in with_rails]
        feed_volume = float(sum(line.volume for line in lines))
        volume = sum(float(rail.line().volume) for rail in rails.values())
        hottest = constant_temperature or max(float(run.temperature[name]) for name in rails)
        bulk_modulus = float(system.fuel.bulk_modulus(hottest))
        outside = float(standard_pressure(run.conditions.altitude))
        elastic = sum(float(rail.compliance) for rail in rails.values())
        elastic += sum(float(line.wall_compliance * line.volume) for line in lines)
        elastic += sum(float(part.compliance) for part in plumbing.attached.values() if isinstance(part, Damper))
        return cls(
            system=system,
            run_before=run,
            tables=system.fuel.tables(),
            set_pressure=max(float(np.max(plumbing.held_at(rail).held_pressure())) for rail in plumbing.rails),
            peak_bay_rise=peak_bay_rise,
            air_temperature=float(run.conditions.air_temperature),
            tank_temperature=float(run.conditions.tank_temperature),
            atmospheric_pressure=outside,
            rails=rails,
            feed_volume=feed_volume,
            compliance=1.0 / bulk_modulus + elastic / (volume + feed_volume),
            opens_inwards_at=0.0 if inlet_dry else outside + _opens_inwards(system, hottest),
            constant_temperature=constant_temperature,
        )

    @property
    def car(self) -> Car:
        """The car."""
        return self.system.car

    @cached_property
    def rail_volumes(self) -> FloatArray:
        """Volume of each rail, (rails,), m3."""
        return np.array([float(rail.line().volume) for rail in self.rails.values()])

    @cached_property
    def rail_volume(self) -> float:
        """Volume of all rails, m3."""
        return float(self.rail_volumes.sum())

    @cached_property
    def rail_capacities(self) -> list[float]:
        """Heat capacity of each rail and the fuel in it, J/K."""
        return [rail_heat_capacity(rail, self.system.fuel) for rail in self.rails.values()]

    @property
    def volume(self) -> float:
        """Volume of fuel between check valve and regulator, m3."""
        return self.rail_volume + self.feed_volume

    @cached_property
    def elastic_volume(self) -> float:
        """Volume by which fuel and hose give way per pressure, m3/Pa."""
        return self.compliance * self.volume

    @cached_property
    def start_temperatures(self) -> FloatArray:
        """Temperature of each rail at the stop, (rails,), K."""
        if self.constant_temperature is not None:
            return np.full(len(self.rails), self.constant_temperature)
        return np.array([float(self.run_before.temperature[name]) for name in self.rails])

    @cached_property
    def start_pressure(self) -> float:
        """Pressure of the rail that has most, above the atmosphere at the stop, Pa."""
        return max(float(self.run_before.gauge_pressure[name]) for name in self.rails)

    def bay_temperature(self, time: FloatLike) -> FloatLike:
        """Return the temperature of the air in the bay, K.

        Parameters
        ----------
        time : float or array
            Time since the stop, s.
        """
        return self.air_temperature + bay_rise_after_stop(time, self.car.surroundings.bay_rise, self.peak_bay_rise)

    def warming_rates(self, time: float, temperatures: list[float]) -> list[float]:
        """Return how fast each rail warms, K/s.

        Parameters
        ----------
        time : float
            Time since the stop, s.
        temperatures : list of float
            Temperature of each rail, K.
        """
        if self.constant_temperature is not None:
            return [0.0 for _ in temperatures]
        metal = engine_metal_temperature(self.car, self.air_temperature, time)
        bay = float(self.bay_temperature(time))
        rails = zip(self.rails.values(), temperatures, self.rail_capacities, strict=True)
        return [rail_warming_rate(rail, temperature, bay, metal, capacity) for rail, temperature, capacity in rails]

    def floor_temperature(self, time: FloatLike) -> FloatLike:
        """Return the temperature of the air under the floor, K.

        Parameters
        ----------
        time : float or array
            Time since the stop, s.
        """
        surroundings = self.car.surroundings
        floor: FloatLike = self.air_temperature + surroundings.cruising_underfloor_rise
        floor = floor + (surroundings.underfloor_rise - surroundings.cruising_underfloor_rise) * np.exp(
            -time / SOAK_DECAY_TIME
        )
        return floor

    def feed_temperature(self, time: FloatLike) -> FloatLike:
        """Return the temperature of the fuel in the feed line, K: within minutes that of the air under the floor.

        Parameters
        ----------
        time : float or array
            Time since the stop, s.
        """
        if self.constant_temperature is not None:
            kept: FloatLike = np.full(np.shape(time), self.constant_temperature)[()]
            return kept
        floor = self.floor_temperature(time)
        start = float(self.run_before.temperature[self.system.plumbing.main_pump.downstream])
        temperature: FloatLike = floor + (start - floor) * np.exp(-time / FEED_COOLING_TIME)
        return temperature

    def pot_temperature(self, pot: str, time: FloatArray) -> FloatArray:
        """Return the temperature of the fuel in a full pot without flow, K.

        Parameters
        ----------
        pot : str
            Name of the pot.
        time : array (times,)
            Time since the stop, s, ascending from 0.

        Notes
        -----
        Lumped capacity, m c dT/dt = UA (T_air - T), solved exactly from time to time with the mean of the air.
        """
        ratings = self.system.plumbing.pots[pot]
        around = {
            "bay": np.asarray(self.bay_temperature(time)),
            "underfloor": np.asarray(self.floor_temperature(time)),
            "tank": np.full(time.shape, self.tank_temperature),
        }[ratings.zone]
        start = float(self.run_before.temperature[pot])
        capacity = float(ratings.volume * self.tables.density(start) * self.tables.heat_capacity(start))
        temperature = np.full(time.shape, start)
        for point in range(1, len(time)):
            passed = np.exp(-ratings.heat_conductance * (time[point] - time[point - 1]) / capacity)
            air = 0.5 * (around[point] + around[point - 1])
            temperature[point] = air + (temperature[point - 1] - air) * passed
        return temperature

    def full_mass(self, time: FloatLike, temperatures: FloatArray) -> FloatLike:
        """Return the mass of liquid that fills the room of the stop at its pressure, kg.

        Parameters
        ----------
        time : float or array
            Time since the stop, s.
        temperatures : array (rails, ...)
            Temperature of each rail, K.
        """
        mass: FloatLike = self.feed_volume * self.tables.density(self.feed_temperature(time))
        for volume, temperature in zip(self.rail_volumes, temperatures, strict=True):
            mass = mass + volume * self.tables.density(temperature)
        return mass

    def mean_density(self, time: FloatLike, temperatures: FloatArray) -> FloatLike:
        """Return the mean density of the liquid in rails and lines, kg/m3.

        Parameters
        ----------
        time, temperatures : float or array
            As in `full_mass`.
        """
        density: FloatLike = self.full_mass(time, temperatures) / self.volume
        return density

    def pressure_per_kelvin(self, temperature: float) -> float:
        """Return by how much the pressure rises where everything warms by one kelvin without a leak or vapour, Pa/K.

        Parameters
        ----------
        temperature : float
            Temperature of the fuel, K.

        Notes
        -----
        dp/dT = beta/(1/K + c), with beta = -(d rho/dT)/rho, K the bulk modulus of the fuel and c the give of the walls.
        """
        warmer, cooler = (float(self.tables.density(temperature + step)) for step in (0.5, -0.5))
        return 2.0 * (cooler - warmer) / (cooler + warmer) / self.compliance

    @cached_property
    def start_mass(self) -> float:
        """Mass of the fuel shut in at the stop, before any valve reseats, kg."""
        return float(self.full_mass(0.0, self.start_temperatures))

    def mass(self, time: FloatLike, temperatures: FloatArray, state: ShutInState) -> FloatLike:
        """Return the mass of the liquid shut in, kg; that of the vapour, below 1 % of what it replaces, is left out.

        Parameters
        ----------
        time, temperatures : float or array
            As in `full_mass`.
        state : ShutInState
            Pressure and vapour.
        """
        vapour = self.mean_density(time, temperatures) * state.vapour_volume
        mass: FloatLike = self.mass_at(state.pressure, time, temperatures) - vapour
        return mass

    def mass_at(self, pressure: FloatLike, time: FloatLike, temperatures: FloatArray) -> FloatLike:
        """Return the mass of liquid that fills rails and lines at a pressure, kg.

        Parameters
        ----------
        pressure : float or array
            Pressure, Pa absolute.
        time, temperatures : float or array
            As in `full_mass`.
        """
        grown = self.elastic_volume * (pressure - self.atmospheric_pressure - self.start_pressure)
        mass: FloatLike = self.mean_density(time, temperatures) * (self.volume + grown)
        return mass

    def missing_volume(self, time: FloatLike, temperatures: FloatArray, lost: FloatLike) -> FloatLike:
        """Return how much less room the shut-in fuel needs than at the stop, m3.

        Parameters
        ----------
        time, temperatures : float or array
            As in `full_mass`.
        lost : float or array
            Mass of liquid lost, less that which the check valve let in, kg.
        """
        full = self.full_mass(time, temperatures)
        missing: FloatLike = (full - self.start_mass + lost) * self.volume / full
        return missing

    def state(self, time: FloatLike, temperatures: FloatArray, lost: FloatLike) -> ShutInState:
        """Return rail pressure and vapour volume.

        Without vapour the pressure falls by what is missing over the elastic volume. Vapour holds the bubble pressure
        of the hottest rail as long as there is liquid in it to boil, then that of the next; rails that have run empty
        fall to the atmosphere (`liquid_factor`).

        Parameters
        ----------
        time, temperatures, lost : float or array
            As in `missing_volume`.
        """
        outside, elastic = self.atmospheric_pressure, self.elastic_volume
        missing = np.asarray(self.missing_volume(time, temperatures, lost))
        all_liquid = outside + self.start_pressure - missing / elastic
        bubble_gauge = np.stack(
            [np.asarray(self.tables.bubble_pressure(temperature)) - outside for temperature in temperatures]
        )
        order = np.argsort(-bubble_gauge, axis=0, kind="stable")
        held = np.broadcast_to(outside + np.minimum(bubble_gauge.max(axis=0), 0.0), all_liquid.shape)
        dry_before = np.zeros(all_liquid.shape)
        for rank in order:
            bubble = np.take_along_axis(bubble_gauge, rank[None], axis=0)[0]
            volume = self.rail_volumes[rank]
            vapour_fraction = np.clip(((outside + bubble - all_liquid) * elastic - dry_before) / volume, 0.0, 1.0)
            held = np.maximum(held, outside + bubble * np.asarray(liquid_factor(vapour_fraction)))
            dry_before = dry_before + volume
        pressure = smooth_maximum(all_liquid, held, 100.0)[0]
        vapour = np.clip((pressure - all_liquid) * elastic, 0.0, self.rail_volume)
        return ShutInState(pressure, vapour, self._shared_out(vapour, bubble_gauge))

    def _shared_out(self, vapour: FloatArray, bubble_gauge: FloatArray) -> FloatArray:
        """Return the vapour in each rail, (rails, ...), m3: the hottest is filled first, rails alike fill alike."""
        volumes = self.rail_volumes.reshape(-1, *(1,) * np.ndim(vapour))
        weight = volumes * np.exp((bubble_gauge - bubble_gauge.max(axis=0)) / ALIKE)
        inside = np.zeros(bubble_gauge.shape)
        for _ in range(len(volumes)):
            open_weight = np.where(inside < volumes, weight, 0.0)
            left = vapour - inside.sum(axis=0)
            share = open_weight / np.maximum(open_weight.sum(axis=0), 1e-300)
            inside = np.minimum(inside + left * share, volumes)
        return inside


def _opens_inwards(system: System, temperature: float) -> float:
    """Return the pressure in the highest rail at which fuel is drawn in from tank or pot, Pa above the atmosphere."""
    plumbing = system.plumbing
    pump = next(iter(pumps_to_rails(plumbing)), plumbing.main_pump)
    rail = max(plumbing.rails, key=lambda name: plumbing.heights[name])
    valves = [link.part for link in way_to_rail(plumbing, rail) if isinstance(link.part, CheckValve)]
    if pump.part.check_valve:
        valves.append(CheckValve())
    cracking = sum(float(valve.cracking_pressure) for valve in valves)
    lift = plumbing.heights[rail] - plumbing.heights[drawn_from(plumbing, pump.upstream)]
    head = GRAVITY * lift * float(system.fuel.density(temperature))
    return float(system.car.tank.gauge_pressure(0.0)) - cracking - head
