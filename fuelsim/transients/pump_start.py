"""A pump as it starts: how fast its motor comes to speed, and what it then delivers into the rail.

A motor without its full speed has the back-EMF of a lower voltage. What a pump delivers at that moment is taken from
its map at the terminal voltage that would hold this speed, so that a pump at full speed is that of the network.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.pump.running_pump import RunningPump
from fuelsim.parts.wire import Wire
from fuelsim.typing import FloatArray, PointArray

__all__ = ["ARMATURE_INERTIA", "StartingPump", "starting_pump"]

ARMATURE_INERTIA = 6e-6
"""Moment of inertia of armature and impeller, kg m2: a rotor of 80 g and 25 mm, 3 to 12e-6 [assumed]."""
TYPICAL_SPEED = {"turbine": 7000.0, "solenoid": 3000.0}
"""Speed at bench voltage by kind of pump, rpm [assumed]."""
OTHER_SPEED = 3500.0
"""The same of displacement pumps, rpm [assumed]."""
RAMP_TIME = 0.2
"""Time constant with which the controller of a speed-controlled pump brings it to speed, s [assumed]."""
GREATEST_TIME_CONSTANT = 0.2
"""Bound of the spin-up of a pump whose ratings imply a longer one, s (numerical)."""
DRIVES, PRESSURES = 33, 41
LEAST_EMF = 0.2
"""Least back-EMF at bench voltage over that voltage [assumed]."""
OVER_GAUGE = 1.2
"""Greatest pressure at the outlet that is tabulated over the greatest of the rail (numerical)."""


@dataclass(frozen=True)
class StartingPump:
    """Flow of one pump into the rail over its drive and the rail's pressure, and how it comes to speed.

    Attributes
    ----------
    drive : array (drives,)
        Terminal voltage, V, or speed, rpm, evenly spaced from 0.
    gauge : array (pressures,)
        Pressure of the rail above the atmosphere, Pa, evenly spaced from 0.
    flow : array (drives, pressures)
        Volume flow on cool fuel without vapour, m3/s, not negative.
    current : array (pressures,)
        Current that holds a speed at each pressure, A.
    winding_resistance, circuit_resistance : float
        Ohm.
    time_constant : float
        Time constant of the spin-up against winding and circuit, s.
    by_speed : bool
        Whether the drive is a speed.
    """

    drive: FloatArray
    gauge: FloatArray
    flow: FloatArray
    current: FloatArray
    winding_resistance: float
    circuit_resistance: float
    time_constant: float
    by_speed: bool

    def at_rest(self, points: int) -> PointArray:
        """Return the state of a pump at rest, (points,): its back-EMF, V, or speed, rpm."""
        return np.zeros(points)

    def step(
        self, state: PointArray, supply: PointArray, circuit: PointArray, gauge: PointArray, seconds: float
    ) -> tuple[PointArray, PointArray]:
        """Return the state after a step, and the drive at which the map gives the flow.

        Parameters
        ----------
        state : array (points,)
            Back-EMF, V, or speed, rpm.
        supply : array (points,)
            Supply voltage, V; 0 switched off. A speed-controlled pump goes to its greatest speed with any.
        circuit : array (points,)
            Resistance of the circuit, ohm.
        gauge : array (points,)
            Pressure of the rail above the atmosphere, Pa.
        seconds : float
            Length of the step, s.

        Notes
        -----
        J dw/dt = k (I - I0(p)) with k w = V - R I, so that the back-EMF comes to V - R I0(p) with the time constant
        J R/k2, exactly over a step of constant pressure. Without current it runs out in the same way, against I0 alone.
        """
        if self.by_speed:
            target = np.where(supply > 0.0, self.drive[-1], 0.0)
            after = target + (state - target) * math.exp(-seconds / self.time_constant)
            return after, after
        load = np.interp(gauge, self.gauge, self.current)
        total = self.winding_resistance + circuit
        constant = self.time_constant * total / (self.winding_resistance + self.circuit_resistance)
        passed = np.exp(-seconds / constant)
        end = supply - total * load
        driven = end + (state - end) * passed
        # Switched off, the load brakes it: de/dt = -R I0/(time constant).
        coasting = state - total * load * seconds / constant
        after = np.maximum(np.where(supply > 0.0, driven, coasting), 0.0)
        return after, np.where(after > 0.0, after + self.winding_resistance * load, 0.0)

    def settled(self, supply: PointArray, circuit: PointArray, gauge: PointArray) -> PointArray:
        """Return the drive of a pump that has come to speed; parameters as in `step`."""
        if self.by_speed:
            return np.where(supply > 0.0, self.drive[-1], 0.0)
        load = np.interp(gauge, self.gauge, self.current)
        return np.maximum(supply - circuit * load, 0.0)

    def delivered(self, drive: PointArray, gauge: PointArray) -> tuple[PointArray, PointArray]:
        """Return the flow, m3/s, and its slope over the rail's pressure, m3/s/Pa, by bilinear interpolation.

        Parameters
        ----------
        drive : array (points,)
            Terminal voltage, V, or speed, rpm.
        gauge : array (points,)
            Pressure of the rail above the atmosphere, Pa.
        """
        row, along = _cell(self.drive, drive)
        column, across = _cell(self.gauge, gauge)
        low = self.flow[row, column] * (1.0 - along) + self.flow[row + 1, column] * along
        high = self.flow[row, column + 1] * (1.0 - along) + self.flow[row + 1, column + 1] * along
        return low + across * (high - low), (high - low) / self.gauge[1]


def _cell(grid: FloatArray, value: PointArray) -> tuple[FloatArray, PointArray]:
    """Return the cell of an even grid from 0 in which each value lies, and where in it, 0 to 1."""
    position = np.clip(value / grid[1], 0.0, len(grid) - 1.0)
    index = np.minimum(position.astype(int), len(grid) - 2)
    return index, position - index


def starting_pump(
    pump: Pump,
    wire: Wire,
    *,
    greatest_gauge: float,
    greatest_voltage: float,
    tank_gauge: float,
    loss: float,
    head: float,
    fuel_density: float,
    inertia: float = ARMATURE_INERTIA,
) -> StartingPump:
    """Return a pump as it starts.

    Parameters
    ----------
    pump : Pump
        Its ratings.
    wire : Wire
        Its circuit.
    greatest_gauge : float
        Greatest pressure of the rail above the atmosphere, Pa.
    greatest_voltage : float
        Greatest supply voltage, V.
    tank_gauge : float
        Pressure above the fuel that it draws, above the atmosphere, Pa.
    loss : float
        Loss between pump and rail over the square of the flow, Pa s2/m6.
    head : float
        Head from the fuel that it draws up to the rail, Pa.
    fuel_density : float
        Density of the fuel at 20 degC, kg/m3.
    inertia : float
        Moment of inertia of armature and impeller, kg m2.

    Examples
    --------
    >>> started = starting_pump(Pump.named("in_tank_220"), Wire(), greatest_gauge=4e5, greatest_voltage=14.0,
    ...     tank_gauge=0.0, loss=0.0, head=0.0, fuel_density=740.0)
    >>> 0.005 < started.time_constant < 0.2
    True
    """
    by_speed = pump.bench_speed is not None
    drive = np.linspace(0.0, greatest_voltage if pump.bench_speed is None else pump.bench_speed, DRIVES)
    gauge = np.linspace(0.0, greatest_gauge, PRESSURES)
    if by_speed:
        running = pump.at(fuel_density=fuel_density, speed=drive)
    else:
        running = pump.at(fuel_density=fuel_density, supply_voltage=drive)
    # Against pressures at the pump's outlet, then moved to those of the rail by head and loss.
    outlet = np.linspace(0.0, OVER_GAUGE * (greatest_gauge + head), PRESSURES)
    mesh = running.take(np.repeat(np.arange(DRIVES), PRESSURES))
    at_outlet = np.maximum(mesh.flow(np.tile(outlet, DRIVES) - tank_gauge), 0.0).reshape(DRIVES, PRESSURES)
    at_rail = outlet - head - loss * at_outlet**2
    flow = np.array([np.interp(gauge, p, q) for p, q in zip(at_rail, at_outlet, strict=True)])
    flow[np.asarray(running.stands)] = 0.0
    bench = pump.at(fuel_density=fuel_density)
    current = np.array([float(np.max(bench.current(float(p)))) for p in gauge + head])
    winding, circuit = pump.winding_resistance, float(np.max(wire.resistance))
    constant = RAMP_TIME if by_speed else _time_constant(pump, bench, winding, winding + circuit, inertia)
    return StartingPump(drive, gauge, flow, current, winding, circuit, constant, by_speed)


def _time_constant(pump: Pump, bench: RunningPump, winding: float, total: float, inertia: float) -> float:
    """Return J R/k2 of the motor, s, with k from its back-EMF at the speed typical of its kind."""
    speed = TYPICAL_SPEED.get(pump.type, OTHER_SPEED) * math.pi / 30.0
    free = float(np.max(bench.current(0.0)))
    constant = max(pump.bench_voltage - winding * free, LEAST_EMF * pump.bench_voltage) / speed
    return min(max(inertia * total / constant**2, 1e-4), GREATEST_TIME_CONSTANT)
