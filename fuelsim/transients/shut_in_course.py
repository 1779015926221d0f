"""Fuel shut in after a stop, over time: what leaks out, what the check valve lets in, what warms and cools.

The pressure follows at every moment from temperatures and mass (`shut_in_fuel`). Only these are integrated.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from fuelsim.errors import InputError, SolveError
from fuelsim.interruption import Interruption
from fuelsim.system.conditions import Conditions
from fuelsim.system.run import Run, System
from fuelsim.transients.shut_in_fuel import ShutInFuel, liquid_factor
from fuelsim.typing import FloatArray, Given, PointArray

__all__ = [
    "GOOD_LEAK",
    "LEAK_PRESSURE",
    "RESEAT",
    "Leaks",
    "ShutInCourse",
    "WaysOut",
    "bleed_area",
    "idle_before_stop",
    "shut_in_course",
]

RESEAT = 28e3
"""Pressure that a system loses at once as pump and regulator reseat, Pa: 400 to 372 kPa on a good car
[service_manuals_d]."""
GOOD_LEAK = 0.42e-6 / 3600.0
"""Leak at 300 kPa, laminar, m3/s: with 0.2 L shut in behind a rubber hose it turns 372 into 359 kPa within 10 minutes
and 310 within an hour, as a good car does [service_manuals_d]; a least-squares fit, 2 kPa off at most."""
LEAK_PRESSURE = 300e3
"""Gauge pressure to which a leak refers, Pa."""
BLEED_DISCHARGE = 0.65
"""Discharge coefficient of a bleed orifice."""
BLEED_ROUNDING = 100.0
"""Gauge pressure below which the bleed's square root is rounded off, Pa (numerical)."""
STEEP = 1e-12
"""Flow that the regulator passes per pressure above its set pressure, m3/s/Pa: steep beside expansion (numerical)."""


class WaysOut(NamedTuple):
    """Flow at one moment, m3/s, or mass lost over time, kg, by the way that the fuel takes.

    Attributes
    ----------
    check_valve, regulator, injectors, bleed, relief : float or array
        Back to the tank past the check valve; past the seat of the regulator; through the injectors; through the bleed;
        through the regulator above its set pressure.
    """

    check_valve: float | PointArray
    regulator: float | PointArray
    injectors: float | PointArray
    bleed: float | PointArray
    relief: float | PointArray


@dataclass(frozen=True)
class Leaks:
    """Leaks of the shut-in fuel: past a seat, laminar, m3/s at 300 kPa; a bleed, as its effective area, m2.

    Attributes
    ----------
    check_valve, regulator, injectors : float
        Flow past the seats at 300 kPa, in proportion to the pressure, m3/s.
    bleed_area : float
        Area of a bleed orifice times its discharge coefficient, m2.
    """

    check_valve: float = 0.0
    regulator: float = 0.0
    injectors: float = 0.0
    bleed_area: float = 0.0

    def clamped(self, *, feed: bool, back: bool) -> Leaks:
        """Return the leaks that are left with hoses clamped.

        Parameters
        ----------
        feed, back : bool
            Whether the hose is clamped behind the check valve, and behind the regulator.
        """
        return replace(
            self,
            check_valve=0.0 if feed else self.check_valve,
            regulator=0.0 if back else self.regulator,
            bleed_area=0.0 if back else self.bleed_area,
        )

    def with_bleed(self, diameter: float) -> Leaks:
        """Return the same leaks with a bleed orifice, m.

        Parameters
        ----------
        diameter : float
            Diameter of the orifice, m.
        """
        return replace(self, bleed_area=bleed_area(diameter))

    def at(self, gauge: float, density: float, set_pressure: float) -> WaysOut:
        """Return the flow by each way with liquid there, m3/s.

        Parameters
        ----------
        gauge : float
            Pressure of the rail above the atmosphere, Pa.
        density : float
            Density of the liquid, kg/m3.
        set_pressure : float
            Gauge pressure above which the regulator opens, Pa.
        """
        share = gauge / LEAK_PRESSURE
        bleed = 0.0
        if self.bleed_area:
            # C A sqrt(2 dp/rho), rounded off near zero
            bleed = self.bleed_area * math.sqrt(2.0 * gauge / density) * gauge / (gauge + BLEED_ROUNDING)
        relief = STEEP * max(gauge - set_pressure, 0.0)
        return WaysOut(self.check_valve * share, self.regulator * share, self.injectors * share, bleed, relief)


def bleed_area(diameter: float) -> float:
    """Return the area of a bleed orifice times its discharge coefficient, m2.

    Parameters
    ----------
    diameter : float
        m.

    Examples
    --------
    0.65 of a circle of 0.5 mm, pi/4 0.25 mm2:

    >>> round(bleed_area(0.5e-3) * 1e6, 4)  # mm2
    0.1276
    """
    return BLEED_DISCHARGE * 0.25 * math.pi * diameter**2


def idle_before_stop(
    system: System,
    air_temperature: Given | None = None,
    altitude: Given | None = None,
    tank_temperature: Given | None = None,
) -> Run:
    """Return a car at idle, from which it is stopped.

    Parameters
    ----------
    system : System
        The car in its layout.
    air_temperature, altitude, tank_temperature : float or str, optional
        As in `Conditions`; the car's own if left out.

    Raises
    ------
    InputError
        For a car that does not run.
    """
    run = system.solve(
        Conditions(
            rpm=system.car.engine.idle_speed,
            load=0.0,
            air_temperature=air_temperature,
            altitude=altitude,
            tank_temperature=tank_temperature,
        )
    ).before_stop
    if not np.all(run.outcome.has_values):
        raise InputError("the car does not run before the stop", given=run.outcome.sentence(), part=system.layout)
    return run


class ShutInCourse(NamedTuple):
    """What was integrated, at each time up to the end or Ctrl-C.

    Attributes
    ----------
    temperatures : array (rails, times)
        Temperature of each rail, K.
    lost : WaysOut
        Mass that left by each way since the stop, kg.
    drawn_in : array (times,)
        Mass that the check valve let in since the stop, kg.
    reseat : float
        Mass that left at once as valves reseated, kg.
    """

    temperatures: FloatArray
    lost: WaysOut
    drawn_in: PointArray
    reseat: float

    @property
    def net_lost(self) -> PointArray:
        """Mass lost less that drawn in, (times,), kg."""
        lost: PointArray = self.reseat + np.sum(np.asarray(self.lost), axis=0) - self.drawn_in
        return lost


def shut_in_course(
    fuel: ShutInFuel, leaks: Leaks, time: PointArray, interruption: Interruption, *, reseat_step: float = RESEAT
) -> ShutInCourse:
    """Return temperatures and masses at each time up to Ctrl-C.

    Parameters
    ----------
    fuel : ShutInFuel
        The stopped car.
    leaks : Leaks
        Its leaks.
    time : array (times,)
        Time since the stop, s.
    interruption : Interruption
        Whether Ctrl-C came.
    reseat_step : float
        Pressure that is lost at once as valves reseat, Pa.

    Raises
    ------
    SolveError
        If the integration fails.
    """
    start = fuel.start_temperatures
    density = float(fuel.tables.density(float(start.max())))
    reseat = reseat_step * fuel.elastic_volume * float(fuel.mean_density(0.0, start))
    equations = _Equations(fuel, leaks, density, reseat)
    unknowns = len(start) + len(WaysOut._fields)
    values, drawn_in = np.empty((unknowns, 0)), np.empty(0)
    y, begin, valve_open, drawn = np.concatenate([start, np.zeros(len(WaysOut._fields))]), 0.0, False, 0.0
    for _ in range(_MOST_TURNS):
        inside = equations.with_valve(valve_open, drawn)
        later = time[len(drawn_in) :]
        piece = inside.integrated(begin, y, later, interruption)
        values = np.concatenate([values, piece.values], axis=1)
        drawn_in = np.concatenate([drawn_in, inside.drawn_in(piece.times, piece.values)])
        if piece.turned is None or len(drawn_in) == len(time):
            break
        begin, y = piece.turned
        valve_open = not valve_open
        drawn = float(equations.with_valve(True, drawn).drawn_in(np.array([begin]), y[:, None])[0])
    rails = len(start)
    return ShutInCourse(values[:rails], WaysOut(*values[rails:]), drawn_in, reseat)


_MOST_TURNS = 50
"""Greatest number of times that the check valve opens and shuts (numerical)."""


class _Piece(NamedTuple):
    """Times asked for, unknowns at them, and time and unknowns at which the check valve opened or shut."""

    times: PointArray
    values: FloatArray
    turned: tuple[float, PointArray] | None


@dataclass(frozen=True)
class _Equations:
    """Rates of the temperature of each rail and of the mass lost by each way, with the check valve shut or open.

    An open valve keeps the pressure at which it opens; what it has let in follows from the room that is to be filled.
    """

    fuel: ShutInFuel
    leaks: Leaks
    density: float
    reseat: float
    valve_open: bool = False
    drawn: float = 0.0

    def with_valve(self, valve_open: bool, drawn: float) -> _Equations:
        """Return the equations with the check valve open, or shut after it has let in a mass, kg."""
        return replace(self, valve_open=valve_open, drawn=drawn)

    def drawn_in(self, time: PointArray, values: FloatArray) -> PointArray:
        """Return the mass that the check valve has let in, (times,), kg."""
        if not self.valve_open:
            return np.full(np.shape(time), self.drawn)
        rails = len(self.fuel.rails)
        needed = self.fuel.mass_at(self.fuel.opens_inwards_at, time, values[:rails])
        lost = self.reseat + values[rails:].sum(axis=0)
        drawn: PointArray = np.maximum(needed - self.fuel.start_mass + lost, self.drawn)
        return drawn

    def pressure_and_liquid(self, t: float, y: FloatArray) -> tuple[float, float]:
        """Return the pressure, Pa absolute, and the density of what leaks, kg/m3."""
        fuel, rails = self.fuel, len(self.fuel.rails)
        if self.valve_open:
            return fuel.opens_inwards_at, self.density
        state = fuel.state(t, y[:rails], self.reseat + float(y[rails:].sum()) - self.drawn)
        # What has left the rail as liquid cannot leave again; vapour passes a leak without moving much liquid.
        share = float(liquid_factor(float(state.vapour_volume) / fuel.rail_volume))
        return float(state.pressure), self.density * share

    def rates(self, t: float, y: FloatArray) -> list[float]:
        """Return the rate of every unknown, K/s and kg/s."""
        fuel, rails = self.fuel, len(self.fuel.rails)
        pressure, liquid = self.pressure_and_liquid(t, y)
        ways = self.leaks.at(max(pressure - fuel.atmospheric_pressure, 0.0), self.density, fuel.set_pressure)
        return [*fuel.warming_rates(t, y[:rails].tolist()), *(float(np.asarray(flow)) * liquid for flow in ways)]

    def turns(self, t: float, y: FloatArray) -> float:
        """Return what falls through zero as the valve opens, or as it shuts."""
        if not self.valve_open:
            return self.pressure_and_liquid(t, y)[0] - self.fuel.opens_inwards_at
        rates = np.asarray(self.rates(t, y))
        now, soon = (float(self.drawn_in(np.array([at]), (y + (at - t) * rates)[:, None])[0]) for at in (t, t + _SHORT))
        return soon - now

    def integrated(self, begin: float, y: PointArray, time: PointArray, interruption: Interruption) -> _Piece:
        """Integrate from a beginning up to the last of some times, to where the valve turns, or to Ctrl-C."""
        from scipy.integrate import solve_ivp

        def turn(t: float, unknowns: FloatArray) -> float:
            return self.turns(t, unknowns)

        turn.terminal, turn.direction = True, -1.0  # type: ignore[attr-defined]  # as `solve_ivp` reads them
        stop = interruption.event()
        answer = solve_ivp(
            self.rates,
            (begin, float(time[-1])),
            y,
            method="LSODA",
            t_eval=time,
            rtol=1e-7,
            atol=[*(1e-4 for _ in self.fuel.rails), *(1e-8 for _ in WaysOut._fields)],
            max_step=60.0,
            events=[stop, turn],
        )
        if answer.status < 0:
            raise SolveError(f"the shut-in fuel could not be integrated: {answer.message}")
        turned = None
        if answer.t_events[1].size:
            turned = (float(answer.t_events[1][0]), np.asarray(answer.y_events[1][0]))
        return _Piece(answer.t, answer.y, turned)


_SHORT = 1.0
"""Step over which the mass that an open valve lets in is differenced, s (numerical)."""
