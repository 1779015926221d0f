"""A hot restart: how long the pump takes to fill the room that vapour has taken, and to bring the pressure back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fuelsim.numerics.pointwise import greatest_at_each_point
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.pump.running_pump import RunningPump
from fuelsim.shown import Shown
from fuelsim.system.plumbing import PlannedLink, Plumbing
from fuelsim.system.vessels import vessels_before
from fuelsim.transients.shut_in_fuel import ShutInFuel, ShutInState
from fuelsim.typing import BoolArray, FloatArray, PointArray

__all__ = ["Restart", "restart_times"]

KEY_ON_VOLTAGE = 12.0
"""Voltage at key-on, before the engine turns, V (11.8 to 12.3) [memory]."""
RESTORED_FRACTION = 0.95
"""Share of the set pressure at which the pressure counts as restored."""
LEAST_FLOW = 1e-9
"""Flow of a pump at dead-head, m3/s: a trickle, so that filling takes long but finite time."""
BOUND_RATIO = 3.0
"""V/L over that tolerated, with cool fuel from the tank, from which a pump is vapour-bound and never fills the rail
[assumed]."""
QUADRATURE_POINTS = 6


@dataclass(frozen=True)
class Restart(Shown):
    """What happens when the key is turned at each time of a soak; every array is (times,).

    Attributes
    ----------
    seconds_to_pressure : array
        Time from key-on until 95 % of the set pressure is there, s; infinite where the pump is vapour-bound.
    seconds_to_liquid : array
        Time until the injectors get liquid, s: with a return the flow sweeps the rail, a dead-ended rail has to burn
        its way through what boils.
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


def restart_times(fuel: ShutInFuel, time: PointArray, rail_temperatures: FloatArray, state: ShutInState) -> Restart:
    """Return what a restart takes at each time of a soak, with every pump that feeds a rail at work.

    The vapour's room is filled at the pressure it is under, first with what was in the suction line, then with fuel
    from the tank or pot; then the fuel is pressed until the pressure is back, dt = C dp / Q(p).

    Parameters
    ----------
    fuel : ShutInFuel
        The stopped car.
    time : array (times,)
        Time since the stop, s.
    rail_temperatures : array (rails, times)
        Temperature of each rail, K.
    state : ShutInState
        Pressure and vapour of the rails, (times,).
    """
    plumbing, pressure, vapour = fuel.system.plumbing, state.pressure, state.vapour_volume
    restored = fuel.atmospheric_pressure + RESTORED_FRACTION * fuel.set_pressure
    tank = fuel.atmospheric_pressure + float(fuel.car.tank.gauge_pressure(0.0))
    pumps = [_StartingPump.after(fuel, link, time, tank) for link in _pumps_of_rails(plumbing)]
    inlets = {link.upstream for link in _pumps_of_rails(plumbing)}
    suction_volume = float(
        sum(
            link.part.volume
            for link in plumbing.suction_lines
            if plumbing.zone(link.downstream) in {plumbing.zone(inlet) for inlet in inlets}
        )
    )

    def seconds_per_volume(of_suction: bool, at_pressure: FloatArray) -> FloatArray:
        flow = sum(np.where(pump.bound, 0.0, pump.flow(of_suction, at_pressure - tank)) for pump in pumps)
        return 1.0 / np.maximum(flow, LEAST_FLOW)

    bubble = fuel.tables.bubble_pressure(rail_temperatures.max(axis=0))
    suction_ratio = greatest_at_each_point([pump.suction_ratio for pump in pumps])
    filling = np.minimum(np.maximum(bubble, pressure), restored)
    from_suction = np.minimum(vapour, suction_volume / (1.0 + suction_ratio))
    seconds = from_suction * seconds_per_volume(True, filling)
    seconds = seconds + (vapour - from_suction) * seconds_per_volume(False, filling)
    # Gauss-Legendre quadrature of C dp / Q(p) from the pressure left to the pressure restored
    nodes, weights = np.polynomial.legendre.leggauss(QUADRATURE_POINTS)
    start = np.minimum(pressure, restored)
    for node, weight in zip(nodes, weights, strict=True):
        between = start + 0.5 * (1.0 + node) * (restored - start)
        volume = 0.5 * weight * (restored - start) * fuel.elastic_volume
        per_volume = np.where(
            vapour < suction_volume, seconds_per_volume(True, between), seconds_per_volume(False, between)
        )
        seconds = seconds + volume * per_volume
    if plumbing.sweeps_rail:
        sweep = fuel.rail_volume * seconds_per_volume(False, np.full(time.shape, restored))
    else:
        idle = float(fuel.run_before.burnt_flow)
        sweep = np.full(time.shape, fuel.rail_volume / max(idle, LEAST_FLOW))
    boils_on = bubble > fuel.atmospheric_pressure + fuel.set_pressure
    all_bound = np.all([pump.bound for pump in pumps], axis=0)
    seconds = np.where(all_bound, np.inf, seconds)
    return Restart(seconds, seconds + np.where(boils_on, sweep, 0.0), suction_ratio)


def _pumps_of_rails(plumbing: Plumbing) -> list[PlannedLink[Pump]]:
    """Return the pumps that deliver into the rails; where a reducer stands between, those before it."""
    with_rails = {plumbing.zone(rail) for rail in plumbing.rails}
    ends = with_rails | {
        plumbing.zone(link.upstream) for link in plumbing.reducers if plumbing.zone(link.downstream) in with_rails
    }
    return [link for link in plumbing.pumps if plumbing.zone(link.downstream) in ends] or [plumbing.main_pump]


@dataclass(frozen=True)
class _StartingPump:
    """One pump at key-on, with what stands in its suction line and with fuel from the tank or pot behind it.

    Attributes
    ----------
    on_suction, on_vessel : RunningPump
        The pump with each of both fuels.
    suction_ratio : array (times,)
        V/L of what stands at its inlet.
    bound : bool array (times,)
        Whether even the fuel from the tank or pot vapour-binds it.
    """

    on_suction: RunningPump
    on_vessel: RunningPump
    suction_ratio: PointArray
    bound: BoolArray

    @classmethod
    def after(cls, fuel: ShutInFuel, link: PlannedLink[Pump], time: PointArray, tank: float) -> _StartingPump:
        """Return a pump at each time of a soak.

        Parameters
        ----------
        fuel : ShutInFuel
            The stopped car.
        link : PlannedLink
            The pump.
        time : array (times,)
            Time since the stop, s.
        tank : float
            Pressure in tank and pots, Pa absolute.
        """
        plumbing, tables = fuel.system.plumbing, fuel.tables
        pots = [name for name in vessels_before(plumbing, link.upstream) if name in plumbing.pots]
        # A pump that draws from several pots at once starts with the hottest.
        of_pots = [fuel.pot_temperature(pot, time) for pot in pots]
        of_vessel = greatest_at_each_point(of_pots) if of_pots else np.full(time.shape, fuel.tank_temperature)
        of_suction = of_vessel
        if any(plumbing.zone(line.downstream) == plumbing.zone(link.upstream) for line in plumbing.suction_lines):
            of_suction = np.asarray(fuel.feed_temperature(time))
        pressure = np.full(time.shape, tank)
        ratios = [tables.vapour_liquid_ratio_after_drop(own, pressure) for own in (of_suction, of_vessel)]
        pump = link.part.at(supply_voltage=np.full(time.shape, KEY_ON_VOLTAGE), wire=plumbing.wires[link.name])
        on_suction, on_vessel = (
            pump.with_inlet(vapour_liquid_ratio=ratio, fuel_temperature=own)
            for ratio, own in zip(ratios, (of_suction, of_vessel), strict=True)
        )
        bound = ratios[1] > BOUND_RATIO * link.part.tolerated_vapour
        return cls(on_suction, on_vessel, np.asarray(ratios[0]), np.asarray(bound))

    def flow(self, of_suction: bool, rise: FloatArray) -> FloatArray:
        """Return the flow at a pressure rise, Pa, m3/s."""
        flow: FloatArray = (self.on_suction if of_suction else self.on_vessel).flow(rise)
        return flow
