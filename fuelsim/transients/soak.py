"""Hot soak and restart: the engine stops, the bay heats up, the rail boils or does not, and the key is turned again.

The fuel between check valve and regulator is shut in. As it warms it expands against the regulator, as it cools or
leaks its pressure falls, and where the pressure would fall below the bubble pressure of the rail's fuel, vapour takes
the room of what is missing. At key-on the pump has to fill that room before there is pressure again.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim import opener, units
from fuelsim.car.walls import WALLS
from fuelsim.errors import InputError, SolveError
from fuelsim.laws.atmosphere import standard_pressure
from fuelsim.numerics.smooth import smooth_maximum
from fuelsim.system.conditions import Conditions
from fuelsim.transients.schedule import SOAK_DECAY_TIME, SOAK_PEAK, bay_rise_after_stop
from fuelsim.transients.standing import engine_metal_temperature, rail_heat_capacity, rail_heating, rail_volume

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

    from fuelsim.car.car import Car
    from fuelsim.fuel.fuel import Fuel

__all__ = ["Restart", "Soak", "hot_soak", "residual_pressure_needed"]

RESEAT = 28e3
"""Pa that a system loses at once as pump and regulator reseat: 400 to 372 kPa on a good car (published)."""
GOOD_LEAK = 0.35e-6 / 3600.0
"""m3/s at 300 kPa, laminar: a leak of this size turns 359 into about 310 kPa within 50 minutes, as a good car does
(published), where 0.2 L of fuel are shut in behind a rubber hose."""
LEAK_PRESSURE = 300e3
BLEED_DISCHARGE = 0.65
CRANKING_VOLTAGE = 12.0
"""V at key-on, before the engine turns (11.8 to 12.3, from memory)."""
BACK = 0.95
"""Share of the set pressure at which it counts as back."""


def residual_pressure_needed(fuel: Fuel, rail_temperature: Any, atmospheric_pressure: Any = 101325.0) -> Any:
    """Return the gauge pressure that keeps a rail liquid, Pa; negative where it needs none.

    Parameters
    ----------
    fuel : Fuel
    rail_temperature : float, str or array
        K.
    atmospheric_pressure : float, str or array
        Pa absolute.

    Examples
    --------
    At 90 degC a 62 kPa petrol needs about 158 kPa, with 10 % ethanol about 223 (US EPA AP-42 extrapolated, and
    UNIFAC with a virial vapour; 8 % of absolute pressure):

    >>> from fuelsim.fuel.fuel import Fuel
    >>> round(float(residual_pressure_needed(Fuel.petrol("62 kPa"), "90 degC")) / 1e3, -1)
    160.0
    """
    temperature = units.convert(rail_temperature, "temperature")
    outside = units.convert(atmospheric_pressure, "absolute pressure")
    return fuel.bubble_pressure(temperature) - outside


@dataclass(frozen=True)
class Restart:
    """What happens when the key is turned at each time of a soak; every array is (times,).

    Attributes
    ----------
    seconds_to_pressure : array
        From key-on until 95 % of the set pressure stands, s; infinite where the pump is vapour-bound.
    seconds_to_liquid : array
        Until the injectors get liquid: with a return the flow sweeps the rail, a dead-ended rail has to burn its way
        through what boils, s.
    pump_vapour : array
        V/L at the pump's inlet as it starts.
    """

    seconds_to_pressure: Any
    seconds_to_liquid: Any
    pump_vapour: Any


@dataclass(frozen=True)
class Soak:
    """A hot soak; every array is (times,).

    Attributes
    ----------
    layout : str
    time : array
        Since the engine stopped, s.
    bay_temperature, rail_temperature : array
        K.
    rail_gauge_pressure : array
        Pa.
    pressure_needed : array
        Gauge pressure below which the rail's fuel boils, Pa.
    vapour_volume : array
        m3 between check valve and regulator.
    leaked : array
        Liquid lost through check valve, regulator and bleed since the stop, m3.
    shut_in_volume : float
        Of fuel between check valve and regulator, m3.
    restart : Restart
    """

    layout: str
    time: Any
    bay_temperature: Any
    rail_temperature: Any
    rail_gauge_pressure: Any
    pressure_needed: Any
    vapour_volume: Any
    leaked: Any
    shut_in_volume: float
    restart: Restart

    def table(self, system: str | None = None) -> pd.DataFrame:
        """Return one row per time, with the unit in each column's name."""
        return opener.soak_table(self, system)

    def plot(self) -> Figure:
        """Draw rail temperature, pressure and restart time against soak time."""
        return opener.soak_figure([self])


def hot_soak(
    car: Car,
    layout: str,
    *,
    duration: Any = "2 h",
    air_temperature: Any = None,
    altitude: Any = None,
    tank_temperature: Any = None,
    leak_flow: Any = GOOD_LEAK,
    bleed_diameter: Any = 0.0,
    peak_bay_rise: Any = SOAK_PEAK,
    output_step: Any = 60.0,
) -> Soak:
    """Stop a hot car, let it stand, and ask at every moment what a restart would take.

    Parameters
    ----------
    car : Car
        Its surroundings say how hot the bay was before the stop.
    layout : str
    duration : float or str
    air_temperature, altitude, tank_temperature : optional
        The car's own if left out.
    leak_flow : float or str
        Through check valve and regulator together at 300 kPa, proportional to pressure; m3/s.
    bleed_diameter : float or str
        Of an orifice from the rail to the return that lets vapour out and pressure down; 0 for none.
    peak_bay_rise : float or str
        Greatest rise of the bay's air above ambient after the stop: 50 to 70 K (typical, from memory).
    output_step : float or str

    Returns
    -------
    Soak

    Raises
    ------
    InputError
        For a layout the car has no parts for, or a car that does not run before the stop.

    Examples
    --------
    >>> import fuelsim as fs
    >>> soak = hot_soak(fs.Car.named("finch"), "returnless_tank", duration="30 min")
    >>> bool(soak.rail_temperature[-1] > soak.rail_temperature[0])
    True
    """
    model = _Model(
        car,
        layout,
        air_temperature,
        altitude,
        tank_temperature,
        float(units.convert(peak_bay_rise, "temperature difference")),
    )
    return model.run(
        float(units.convert(duration, "time")),
        float(units.convert(output_step, "time")),
        float(units.convert(leak_flow, "volume flow")),
        float(units.convert(bleed_diameter, "bore")),
    )


class _Model:
    """One stopped car."""

    def __init__(
        self, car: Car, layout: str, air_temperature: Any, altitude: Any, tank_temperature: Any, peak: float
    ) -> None:
        self.car, self.layout, self.peak = car, layout, peak
        system = car.system(layout)
        run = system.solve(
            Conditions(
                rpm=car.engine.idle_speed,
                load=0.0,
                air_temperature=air_temperature,
                altitude=altitude,
                tank_temperature=tank_temperature,
            )
        )
        if not np.all(run.outcome.converged):
            raise InputError("the car does not run before the stop", given=run.outcome.sentence(), part="hot_soak")
        self.run_before, self.fuel, self.tables = run, system.fuel, system.fuel.tables()
        self.air = float(run.conditions.air_temperature)
        self.tank_temperature = float(run.conditions.tank_temperature)
        self.outside = float(standard_pressure(run.conditions.altitude))
        self.rail_volume, self.capacity = rail_volume(car), rail_heat_capacity(car, system.fuel)
        self.feed_volume = 0.25 * math.pi * car.feed.bore**2 * car.feed.length
        self.volume = self.rail_volume + self.feed_volume
        self.start_temperature = float(run.temperature["rail"])
        self.start_pressure = float(run.gauge_pressure["rail"])
        # With the engine at rest a manifold is at the atmosphere, and so is whatever refers to it.
        self.set_pressure = float(_regulator(car, layout).set_pressure)
        stiffness = float(self.fuel.bulk_modulus(self.start_temperature))
        hose = WALLS[car.feed.material].compliance * self.feed_volume / self.volume
        self.compliance = 1.0 / stiffness + hose

    def bay(self, time: Any) -> Any:
        """Air in the bay, K."""
        return self.air + bay_rise_after_stop(time, self.car.surroundings.bay_rise, self.peak)

    def heating(self, time: Any, temperature: Any) -> Any:
        """Return K/s of the rail and its fuel."""
        metal = engine_metal_temperature(self.car, self.air, time)
        return rail_heating(self.car, temperature, self.bay(time), metal, self.capacity)

    def feed_temperature(self, time: Any) -> Any:
        """Return the fuel in the feed line, K: from running to the air under the floor within minutes."""
        surroundings = self.car.surroundings
        floor = self.air + surroundings.cruising_underfloor_rise
        floor = floor + (surroundings.underfloor_rise - surroundings.cruising_underfloor_rise) * np.exp(
            -time / SOAK_DECAY_TIME
        )
        start = float(self.run_before.temperature["pump_outlet"])
        return floor + (start - floor) * np.exp(-time / 600.0)

    def missing_volume(self, time: Any, temperature: Any, leaked: Any) -> Any:
        """Return how much less room the shut-in fuel needs than at the stop, m3."""
        rho = self.tables.density
        rail = self.rail_volume * (rho(self.start_temperature) / rho(temperature) - 1.0)
        feed = self.feed_volume * (rho(self.feed_temperature(0.0)) / rho(self.feed_temperature(time)) - 1.0)
        return leaked - rail - feed

    def pressure(self, time: Any, temperature: Any, leaked: Any) -> tuple[Any, Any]:
        """Return rail pressure, Pa absolute, and vapour volume, m3.

        Vapour holds the bubble pressure as long as there is liquid in the rail to boil; a rail that has run empty
        falls to the atmosphere. Where the bubble pressure is below the atmosphere, the check valve lets fuel in.
        """
        spring = self.compliance * self.volume
        sealed = self.outside + self.start_pressure - self.missing_volume(time, temperature, leaked) / spring
        bubble = self.tables.bubble_pressure(temperature)
        above = np.maximum(bubble - self.outside, 0.0)
        room = np.clip((self.outside + above - sealed) * spring / self.rail_volume, 0.0, 1.0)
        least = self.outside + above * (1.0 - room**4)
        pressure = smooth_maximum(sealed, least, 100.0)[0]
        vapour = np.where(above > 0.0, (pressure - sealed) * spring, 0.0)
        return pressure, np.clip(vapour, 0.0, self.rail_volume)

    def run(self, duration: float, step: float, leak_flow: float, bleed: float) -> Soak:
        """Integrate temperature and leak, then ask for a restart at every moment."""
        from scipy.integrate import solve_ivp

        area = BLEED_DISCHARGE * 0.25 * math.pi * bleed**2
        rho = float(self.tables.density(self.start_temperature))
        reseat = RESEAT * self.compliance * self.volume
        relief = 1e-12  # m3/s/Pa: how readily the regulator passes what expands

        def rates(time: float, y: Any) -> list[float]:
            temperature, leaked = float(y[0]), float(y[1])
            pressure, vapour = (float(value) for value in self.pressure(time, temperature, leaked))
            gauge = max(pressure - self.outside, 0.0)
            # What has left the rail as liquid cannot leave again; vapour passes a leak without moving much liquid.
            flow = leak_flow * gauge / LEAK_PRESSURE
            flow += area * math.sqrt(2.0 * gauge / rho) * gauge / (gauge + 100.0) if area else 0.0
            over = gauge - self.set_pressure
            flow += relief * max(over, 0.0)
            liquid = 1.0 - (vapour / self.rail_volume) ** 4
            return [float(self.heating(time, temperature)), flow * liquid]

        shown = np.linspace(0.0, duration, max(int(np.ceil(duration / step)), 1) + 1)
        answer = solve_ivp(
            rates,
            (0.0, duration),
            [self.start_temperature, reseat],
            method="LSODA",
            t_eval=shown,
            rtol=1e-7,
            atol=[1e-4, 1e-11],
            max_step=60.0,
        )
        if answer.status < 0:
            raise SolveError(f"the soak could not be integrated: {answer.message}")
        temperature, leaked = answer.y
        pressure, vapour = self.pressure(shown, temperature, leaked)
        return Soak(
            layout=self.layout,
            time=shown,
            bay_temperature=self.bay(shown),
            rail_temperature=temperature,
            rail_gauge_pressure=pressure - self.outside,
            pressure_needed=self.tables.bubble_pressure(temperature) - self.outside,
            vapour_volume=vapour,
            leaked=leaked,
            shut_in_volume=self.volume,
            restart=self._restart(shown, temperature, pressure, vapour),
        )

    def _restart(self, time: Any, temperature: Any, pressure: Any, vapour: Any) -> Restart:
        """Fill the vapour's room at the pressure it stands under, then press the fuel until the pressure is back."""
        car, tables = self.car, self.tables
        wanted = self.outside + BACK * self.set_pressure
        tank = self.outside + car.tank.gauge_pressure(0.0)
        suction, hot = 0.0, np.full(time.shape, self.tank_temperature)
        cool = tables.vapour_liquid_ratio_after_drop(hot, np.full(time.shape, tank))
        if car.suction is not None:
            suction, hot = 0.25 * math.pi * car.suction.bore**2 * car.suction.length, self.feed_temperature(time)
        ratio = tables.vapour_liquid_ratio_after_drop(hot, np.full(time.shape, tank))
        pump = car.pump.at(supply_voltage=np.full(time.shape, CRANKING_VOLTAGE), wire=car.wire)
        first = pump.with_inlet(vapour_liquid_ratio=ratio, fuel_temperature=hot)
        later = pump.with_inlet(vapour_liquid_ratio=cool, fuel_temperature=np.full(time.shape, self.tank_temperature))
        bubble = tables.bubble_pressure(temperature)
        filling = np.minimum(np.maximum(bubble, pressure), wanted)
        # The vapour's room is filled first with what stood in the suction line, then with fuel from the tank.
        stood = np.minimum(vapour, suction / (1.0 + ratio))
        seconds = stood / _forward(first.flow(filling - tank)) + (vapour - stood) / _forward(later.flow(filling - tank))
        nodes, weights = np.polynomial.legendre.leggauss(6)
        start = np.minimum(pressure, wanted)
        for node, weight in zip(nodes, weights, strict=True):
            there = start + 0.5 * (1.0 + node) * (wanted - start)
            rise = 0.5 * weight * (wanted - start) * self.compliance * self.volume
            seconds = seconds + rise / _forward(
                np.where(vapour < suction, first.flow(there - tank), later.flow(there - tank))
            )
        if self.layout == "return":
            sweep = self.rail_volume / _forward(later.flow(np.full(time.shape, wanted - tank)))
        else:
            idle = float(self.run_before.flow["injectors"])
            sweep = np.full(time.shape, self.rail_volume / max(idle, 1e-9))
        boils_on = bubble > self.outside + self.set_pressure
        bound = cool > 3.0 * car.pump.tolerated_vapour
        seconds = np.where(bound, np.inf, seconds)
        return Restart(seconds, seconds + np.where(boils_on, sweep, 0.0), ratio)


def _regulator(car: Car, layout: str) -> Any:
    parts = {"return": "rail_regulator", "returnless_tank": "tank_regulator", "returnless_bay": "bay_regulator"}
    return getattr(car, parts[layout])


def _forward(flow: Any) -> Any:
    """Return a flow that is at least a trickle, so that a pump at dead-head takes long but finite time."""
    return np.maximum(flow, 1e-9)
