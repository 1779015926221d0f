"""From step to step: waves arrive, the nodes take their pressures, waves leave; what is kept on the way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fuelsim.typing import FloatArray, LinkArray, NodeArray, PointArray
from fuelsim.waves.junctions import Junctions
from fuelsim.waves.line_sweep import LineSweep

__all__ = ["Boundaries", "Record", "march"]

_BLOCK = 512
"""Steps whose boundary conditions are evaluated at once."""


@dataclass(frozen=True)
class Boundaries:
    """What is given over time: each a function from times (times,), s, to an array.

    Attributes
    ----------
    pressure : callable
        (times, nodes, 1 or points), Pa: of the reservoirs.
    draw : callable
        (times, nodes, 1 or points), m3/s.
    opening : callable or None
        (times, links, 1 or points), share of the flow.
    conductance : callable or None
        (times, ports, points), m3/s/Pa^0.5: of the ports, the mean over the step that ends at each time.
    """

    pressure: Callable[[FloatArray], FloatArray]
    draw: Callable[[FloatArray], FloatArray]
    opening: Callable[[FloatArray], FloatArray] | None
    conductance: Callable[[FloatArray], FloatArray] | None = None


@dataclass
class Record:
    """What is kept of a run; times first, points last.

    Attributes
    ----------
    time : array (times,)
        s.
    pressure : array (times, nodes, points)
        At one height, Pa.
    inlet_flow, outlet_flow : array (times, lines, points)
        Flow into and out of each line, m3/s.
    link_flow : array (times, links, points)
        m3/s.
    vapour : array (times, points)
        Volume of all cavities, m3.
    highest, lowest : array (sections, points)
        Extremes of each section's pressure at any step, Pa.
    largest_cavity : array (sections, points)
        m3.
    largest_node_cavity : array (nodes, points)
        m3.
    first_vapour : array (points,)
        Time at which the first cavity opens, s; NaN where none does.
    inflow : array (points,)
        Volume that came in from reservoirs less what was drawn, m3.
    passed : array (points,)
        Sum of the sizes of these volumes, m3.
    """

    time: FloatArray
    pressure: FloatArray
    inlet_flow: FloatArray
    outlet_flow: FloatArray
    link_flow: FloatArray
    vapour: FloatArray
    highest: FloatArray
    lowest: FloatArray
    largest_cavity: FloatArray
    largest_node_cavity: FloatArray
    first_vapour: PointArray
    inflow: PointArray
    passed: PointArray


def march(
    sweep: LineSweep,
    nodes: Junctions,
    boundaries: Boundaries,
    steps: int,
    keep_every: int,
    observe: Callable[[int], None] | None = None,
) -> Record:
    """Go through all steps.

    Parameters
    ----------
    sweep : LineSweep
    nodes : Junctions
    boundaries : Boundaries
    steps : int
    keep_every : int
        Steps from one that is kept to the next.
    observe : callable, optional
        Called after each step with its number.

    Returns
    -------
    Record
    """
    record = _empty(sweep, nodes, steps // keep_every + 1)
    _keep(record, 0, sweep, nodes)
    step = sweep.step
    up, down = nodes.line_up, nodes.line_down
    come, sizes, delivered = np.zeros_like(nodes.outflow), np.zeros_like(nodes.outflow), np.zeros_like(nodes.port_flow)
    for first in range(1, steps + 1, _BLOCK):
        numbers = np.arange(first, min(first + _BLOCK, steps + 1))
        times: FloatArray = numbers.astype(float) * step
        pressures, draws = boundaries.pressure(times), boundaries.draw(times)
        openings = None if boundaries.opening is None else boundaries.opening(times)
        conductances = None if boundaries.conductance is None else boundaries.conductance(times)
        for row, number in enumerate(numbers.tolist()):
            draw: NodeArray = draws[row]
            opening: LinkArray | None = None if openings is None else openings[row]
            conductance = None if conductances is None else conductances[row]
            nodes.solve(*sweep.meet(), pressures[row], draw, opening, conductance)
            sweep.leave(nodes.pressure[up], nodes.pressure[down])
            np.maximum(record.highest, sweep.pressure, out=record.highest)
            np.minimum(record.lowest, sweep.pressure, out=record.lowest)
            # Added up by node and port, and over these once at the end.
            come += nodes.outflow
            come -= draw
            sizes += np.abs(nodes.outflow)
            sizes += np.abs(draw)
            delivered += nodes.port_flow
            if sweep.cavitates or nodes.cavitates:
                np.maximum(record.largest_cavity, sweep.cavity, out=record.largest_cavity)
                np.maximum(record.largest_node_cavity, nodes.cavity, out=record.largest_node_cavity)
                opened = np.isnan(record.first_vapour) & (sweep.cavity.any(axis=0) | nodes.cavity.any(axis=0))
                record.first_vapour[opened] = number * step
            if observe is not None:
                observe(number)
            if number % keep_every == 0:
                _keep(record, number // keep_every, sweep, nodes)
    record.inflow += step * (come.sum(axis=0) - delivered.sum(axis=0))
    record.passed += step * (sizes.sum(axis=0) + delivered.sum(axis=0))
    record.time[:] = np.arange(len(record.time)) * (keep_every * step)
    return record


def _empty(sweep: LineSweep, nodes: Junctions, times: int) -> Record:
    points = sweep.pressure.shape[1]
    lines = len(sweep.sections.first)
    return Record(
        time=np.zeros(times),
        pressure=np.empty((times, *nodes.pressure.shape)),
        inlet_flow=np.empty((times, lines, points)),
        outlet_flow=np.empty((times, lines, points)),
        link_flow=np.empty((times, *nodes.flow.shape)),
        vapour=np.zeros((times, points)),
        highest=sweep.pressure.copy(),
        lowest=sweep.pressure.copy(),
        largest_cavity=np.zeros_like(sweep.pressure),
        largest_node_cavity=np.zeros_like(nodes.pressure),
        first_vapour=np.full(points, np.nan),
        inflow=np.zeros(points),
        passed=np.zeros(points),
    )


def _keep(record: Record, row: int, sweep: LineSweep, nodes: Junctions) -> None:
    s = sweep.sections
    record.pressure[row] = nodes.pressure
    record.inlet_flow[row] = sweep.flow[s.first]
    record.outlet_flow[row] = sweep.flow[s.last]
    record.link_flow[row] = nodes.flow
    if sweep.cavitates or nodes.cavitates:
        record.vapour[row] = sweep.cavity.sum(axis=0) + nodes.cavity.sum(axis=0)
