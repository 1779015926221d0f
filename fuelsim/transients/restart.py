"""A hot restart: how long the pump takes to fill the room that vapour has taken, and to bring the pressure back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fuelsim.car.tables import plain_table
from fuelsim.system.plumbing import Plumbing
from fuelsim.transients.shut_in_fuel import ShutInFuel, ShutInState
from fuelsim.typing import FloatArray, PointArray

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
class Restart:
    """What happens when the key is turned at each time of a soak; every array is (times,).

    Attributes
    ----------
    seconds_to_pressure : array
        Time from key-on until 95 % of the set pressure is there, s; infinite where the pump is vapour-bound.
    seconds_to_liquid : array
        Time until the injectors get liquid, s: with a return the flow sweeps the rail, a dead-ended rail has to burn
        its way through what boils.
    pump_vapour : array
        V/L at the pump's inlet as it starts.
    """

    seconds_to_pressure: PointArray
    seconds_to_liquid: PointArray
    pump_vapour: PointArray


def restart_times(
    fuel: ShutInFuel, plumbing: Plumbing, time: PointArray, rail_temperature: PointArray, state: ShutInState
) -> Restart:
    """Return what a restart takes at each time of a soak.

    The vapour's room is filled at the pressure it is under, first with what was in the suction line, then with fuel
    from the tank; then the fuel is pressed until the pressure is back, dt = C dp / Q(p).

    Parameters
    ----------
    fuel : ShutInFuel
        The stopped car.
    plumbing : Plumbing
        The layout: it says whether the rail is swept or dead-ended.
    time : array (times,)
        Time since the stop, s.
    rail_temperature : array (times,)
        Temperature of the rail, K.
    state : ShutInState
        Pressure and vapour of the rail, (times,).
    """
    car, tables = fuel.car, fuel.tables
    pressure, vapour = state
    restored = fuel.atmospheric_pressure + RESTORED_FRACTION * fuel.set_pressure
    tank = fuel.atmospheric_pressure + car.tank.gauge_pressure(0.0)
    at_tank_pressure = np.full(time.shape, tank)
    tank_temperature = np.full(time.shape, fuel.tank_temperature)
    tank_ratio = tables.vapour_liquid_ratio_after_drop(tank_temperature, at_tank_pressure)
    suction_volume, inlet_temperature = 0.0, tank_temperature
    if plumbing.suction_lines:
        suction_volume = float(np.sum([link.part.volume for link in plumbing.suction_lines]))
        inlet_temperature = np.asarray(fuel.feed_temperature(time))
    inlet_ratio = tables.vapour_liquid_ratio_after_drop(inlet_temperature, at_tank_pressure)
    pump = plain_table(car.pump, "pump").at(supply_voltage=np.full(time.shape, KEY_ON_VOLTAGE), wire=car.wire)
    on_suction = pump.with_inlet(vapour_liquid_ratio=inlet_ratio, fuel_temperature=inlet_temperature)
    on_tank = pump.with_inlet(vapour_liquid_ratio=tank_ratio, fuel_temperature=tank_temperature)

    def seconds_per_volume(of_suction: bool, at_pressure: FloatArray) -> FloatArray:
        flow: FloatArray = (on_suction if of_suction else on_tank).flow(at_pressure - tank)
        return 1.0 / np.maximum(flow, LEAST_FLOW)

    bubble = tables.bubble_pressure(rail_temperature)
    filling = np.minimum(np.maximum(bubble, pressure), restored)
    from_suction = np.minimum(vapour, suction_volume / (1.0 + inlet_ratio))
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
    seconds = np.where(tank_ratio > BOUND_RATIO * plain_table(car.pump, "pump").tolerated_vapour, np.inf, seconds)
    return Restart(seconds, seconds + np.where(boils_on, sweep, 0.0), inlet_ratio)
