"""What is measured of a run: extremes and traces of pressures, fuel of each injector, over whole cycles."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fuelsim.ripple.car_waves import CarWaves
from fuelsim.typing import FloatArray, PointArray
from fuelsim.waves.march import march

__all__ = ["Measured", "measure"]

_SETTLING = 0.25
"""Time that pulsations take to become periodic, s [assumed]: rotors and hoses forget within it."""
_CYCLES = 2


class Measured(NamedTuple):
    """Figures of the last whole cycles of a run.

    Attributes
    ----------
    highest, lowest, mean : array (stations, points)
        Pressure, Pa absolute.
    injected : array (injectors, points)
        Mean flow of each injector, m3/s.
    time : array (times,)
        s.
    trace : array (times, rails, points)
        Pressure of each rail, Pa absolute, from the end of settling on.
    cycles : array (points,)
        Whole cycles of two turns that are measured.
    measured_time : array (points,)
        Time that they take, s.
    vapour : array (points,)
        Largest volume of vapour in all lines and stations, m3.
    unsolved : bool array (points,)
    mass_error : array (points,)
        What came in less what went out less what is held more, over what passed.
    """

    highest: FloatArray
    lowest: FloatArray
    mean: FloatArray
    injected: FloatArray
    time: FloatArray
    trace: FloatArray
    cycles: PointArray
    measured_time: PointArray
    vapour: PointArray
    unsolved: FloatArray
    mass_error: PointArray


def measure(waves: CarWaves) -> Measured:
    """Run the waves until they are periodic and measure whole cycles.

    Parameters
    ----------
    waves : CarWaves

    Returns
    -------
    Measured
    """
    setup = waves.setup
    nodes, sweep, step = setup.nodes, setup.sweep, setup.grid.step
    period = waves.injection.cycle
    steps = int(np.ceil((_SETTLING + _CYCLES * float(period.max())) / step))
    cycles = np.floor((steps * step - _SETTLING) / period)
    start = steps - cycles * period / step
    names = list(waves.network.elements.numbers())
    rails = np.array([names.index(rail.name) for rail in waves.rails])
    heads = setup.node_head
    first = int(start.min())
    shape = nodes.pressure.shape
    highest, lowest, total = np.full(shape, -np.inf), np.full(shape, np.inf), np.zeros(shape)
    injected = np.zeros_like(nodes.port_flow)
    trace = np.empty((steps - first, len(rails), shape[1]))

    def observe(number: int) -> None:
        if number <= first:
            return
        trace[number - first - 1] = nodes.pressure[rails]
        weight = np.clip(number - start, 0.0, 1.0)
        counted = weight > 0.0
        np.maximum(highest, nodes.pressure, out=highest, where=counted)
        np.minimum(lowest, nodes.pressure, out=lowest, where=counted)
        np.add(total, weight * nodes.pressure, out=total)
        np.add(injected, weight * nodes.port_flow, out=injected)

    before = sweep.volume() + nodes.volume()
    record = march(sweep, nodes, setup.boundaries, steps, steps, observe)
    gained = sweep.volume() + nodes.volume() - before
    weights = steps - start
    return Measured(
        highest - heads,
        lowest - heads,
        total / weights - heads,
        injected / weights,
        np.asarray(np.arange(len(trace)) + first + 1, dtype=float) * step,
        trace - heads[rails],
        cycles,
        cycles * period,
        record.largest_cavity.sum(axis=0) + record.largest_node_cavity.sum(axis=0),
        nodes.unsolved,
        (record.inflow - gained) / record.passed,
    )
