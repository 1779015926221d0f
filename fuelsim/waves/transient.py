"""From a network and what is given over time to its pressure waves: lines in reaches, the steady start, the run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from fuelsim import units
from fuelsim.arguments import number
from fuelsim.constants import GRAVITY
from fuelsim.declaration import Declaration
from fuelsim.errors import InputError, nearest
from fuelsim.laws import wave_speed
from fuelsim.network.inputs import WaveInputs
from fuelsim.network.network import Network
from fuelsim.network.solver.assemble import number_of_points
from fuelsim.network.state import ByName, State
from fuelsim.parts.line import Line
from fuelsim.parts.part import Part
from fuelsim.parts.valves import ShutOffValve
from fuelsim.typing import FloatArray, FloatLike, Given
from fuelsim.waves.assembly import boundaries_of, junctions_of, sweep_of
from fuelsim.waves.grid import WaveGrid, wave_grid
from fuelsim.waves.junctions import Junctions
from fuelsim.waves.line_sweep import LineSweep
from fuelsim.waves.march import Boundaries, Record, march
from fuelsim.waves.over_time import OverTime, over_time
from fuelsim.waves.result import LineWave, Transient

__all__ = ["Setup", "check_names", "lines_of", "prepare", "steady_start", "transient_of", "wave_speeds"]

_DRAW = number("volume flow", -100.0, 100.0, example="60 L/h", flat=True)
_PRESSURE = number("absolute pressure", 1.0, 1e9, example="400 kPa absolute", flat=True)
_OPENING = number("fraction", 0.0, 1.0, example="0.5", flat=True)
_SPEED = number("velocity", 1.0, 1e4, example="1000 m/s", single=True)
_COMPLIANCE = number("compliance", 0.0, 1e-4, example="0.00004 1/MPa", single=True)
_NO_LOSS = 1.0
"""Greatest loss of a line without friction in the steady flow, Pa."""
_MOST_STEPS = 20_000_000
_MOST_NUMBERS = 20_000_000
"""Numbers kept over time, above which not every step is kept."""


@dataclass(frozen=True)
class Setup:
    """A network ready to run.

    Attributes
    ----------
    sweep : LineSweep
    nodes : Junctions
    boundaries : Boundaries
    steady : State
        Steady flow of time 0.
    grid : WaveGrid
    waved, lumped : tuple of str
        Names of the lines that carry waves, and of all other links.
    speeds : mapping of str to float
        Wave speed of each line, m/s.
    node_head : array (nodes, 1)
        rho g z of each node, Pa.
    single : bool
        Whether all that was given were single values.
    """

    sweep: LineSweep
    nodes: Junctions
    boundaries: Boundaries
    steady: State
    grid: WaveGrid
    waved: tuple[str, ...]
    lumped: tuple[str, ...]
    speeds: Mapping[str, float]
    node_head: FloatArray
    single: bool


def transient_of(net: Network, given: WaveInputs) -> Transient:
    """Return pressures and flows of a network over time; `Network.transient` says what is given.

    Parameters
    ----------
    net : Network
    given : WaveInputs

    Returns
    -------
    Transient
    """
    setup = prepare(net, given)
    step = setup.grid.step
    steps = max(1, int(np.ceil(given.duration / step - 1e-6)))
    if steps > _MOST_STEPS:
        raise InputError(f"{steps:,} steps of {step:.3g} s", accepted=f"at most {_MOST_STEPS:,} steps", key="duration")
    rows = len(setup.nodes.pressure) + 2 * len(setup.waved) + len(setup.lumped)
    numbers = steps * rows * setup.nodes.pressure.shape[1]
    wanted = numbers / _MOST_NUMBERS if given.output_step is None else given.output_step / step
    keep_every = min(steps, max(1, round(wanted) if given.output_step is not None else int(np.ceil(wanted))))
    before = setup.sweep.volume() + setup.nodes.volume()
    record = march(setup.sweep, setup.nodes, setup.boundaries, steps, keep_every)
    after = setup.sweep.volume() + setup.nodes.volume()
    contents = sum(float(part.volume) for part in (link.part for link in net.links.values()) if isinstance(part, Line))
    mass_error = (record.inflow - (after - before)) / (record.passed + contents)
    return _result(net, given, setup, record, mass_error)


def prepare(net: Network, given: WaveInputs, steady: State | None = None) -> Setup:
    """Return the network at its steady start, ready to run.

    Parameters
    ----------
    net : Network
    given : WaveInputs
    steady : State, optional
        The steady flow, where it is known.

    Raises
    ------
    InputError
        For unknown names and values that are not accepted.
    SolveError
        Without a steady flow.
    """
    liquid = given.liquid
    check_names(net, given)
    draws = {name: over_time(value, _DRAW, name, "draw") for name, value in given.draw.items()}
    pressures = {
        name: over_time(_absolute(value, net), _PRESSURE, name, "pressures") for name, value in given.pressures.items()
    }
    openings = {name: over_time(value, _OPENING, name, "opening") for name, value in given.opening.items()}
    steady = steady_start(net, given, draws, pressures, openings) if steady is None else steady
    lines: dict[str, Line] = {name: link.part for name, link in net.links.items() if isinstance(link.part, Line)}
    speeds = wave_speeds(lines, given)
    for name, line in lines.items():
        if np.ndim(line.length) or np.ndim(line.bore):
            raise InputError("a list of lengths or bores", accepted="one line", part=name)
    travel = np.array([float(line.length) / speeds[name] for name, line in lines.items()])
    grid = wave_grid(travel, given.step)
    waved = tuple(name for name, reaches in zip(lines, grid.reaches.tolist(), strict=True) if reaches)
    # Links of one law stand side by side.
    laws = list(dict.fromkeys(link.part.law for link in net.links.values()))
    others = [name for name in net.links if name not in waved]
    lumped = tuple(sorted(others, key=lambda name: laws.index(net.links[name].part.law)))
    points = number_of_points(
        [
            *steady.pressure.values(),
            *steady.flow.values(),
            *(_points_of(each) for each in _all(draws, pressures, openings)),
        ],
        lambda _: "what is given over time",
    )
    size = 1 if points is None else points
    heads = GRAVITY * float(liquid.density) * np.array(net.elements.heights())[:, None]
    node_pressure = np.stack([np.broadcast_to(value, (size,)) for value in steady.pressure.values()]) + heads
    density = given.liquid.density
    flows = {name: np.broadcast_to(value / density, (size,)) for name, value in steady.mass_flow.items()}
    sweep = sweep_of(net, given, grid, waved, node_pressure, flows, lines)
    nodes = junctions_of(net, given, grid.step, waved, lumped, speeds, node_pressure, heads, flows)
    boundaries = boundaries_of(net, draws, pressures, openings, heads, lumped)
    return Setup(sweep, nodes, boundaries, steady, grid, waved, lumped, speeds, heads, points is None)


def _all(*given: Mapping[str, OverTime]) -> list[OverTime]:
    return [each for group in given for each in group.values()]


def _points_of(values: OverTime) -> FloatLike:
    """Return values at time 0, a float where all points share them."""
    first = values(np.zeros(1))[0]
    return float(first[0]) if len(first) == 1 else first


def check_names(net: Network, given: WaveInputs) -> None:
    """Refuse names that a network does not have where they are given, and lists of liquids.

    Parameters
    ----------
    net : Network
    given : WaveInputs

    Raises
    ------
    InputError
        With the nearest name.
    """
    if np.ndim(given.liquid.density) or np.ndim(given.liquid.kinematic_viscosity):
        raise InputError("a list of liquids", accepted="a liquid of single values", key="liquid")
    lines = [name for name, link in net.links.items() if isinstance(link.part, Line)]
    others = [name for name in net.links if name not in lines]
    if not lines:
        raise InputError("no line in the network", accepted="at least one Line, which carries the waves")
    for key, names, known in (
        ("draw", given.draw, list(net.nodes)),
        ("pressures", given.pressures, list(net.reservoirs)),
        ("opening", given.opening, others),
        ("dampers", given.dampers, list(net.nodes)),
    ):
        for name in names:
            if name not in known:
                raise InputError("not a name that this takes", given=name, accepted=nearest(name, known), key=key)


def _absolute(given: Given, net: Network) -> Given:
    """Return a pressure with gauge text turned into Pa absolute; pairs and functions as they are."""
    if callable(given):
        return given
    single = float(net.atmospheric_pressure) if np.ndim(net.atmospheric_pressure) == 0 else None
    if isinstance(given, tuple) and len(given) == 2 and not (isinstance(given[1], np.ndarray) and given[1].ndim == 2):
        return given[0], units.convert(given[1], "absolute pressure", atmospheric_pressure=single)
    if isinstance(given, tuple):
        return given
    return units.convert(given, "absolute pressure", atmospheric_pressure=single)


def steady_start(
    net: Network,
    given: WaveInputs,
    draws: Mapping[str, OverTime],
    pressures: Mapping[str, OverTime],
    openings: Mapping[str, OverTime],
) -> State:
    """Return the steady flow of time 0.

    Parameters
    ----------
    net : Network
    given : WaveInputs
    draws, pressures, openings : mapping of str to function of time
        Volume drawn at nodes, m3/s, pressures of reservoirs, Pa, and openings of links.

    Raises
    ------
    InputError
        For an opening at time 0 other than 0 and 1.
    SolveError
        Without a steady flow.
    """
    replaced: dict[str, Part] = {}
    if given.friction == "none":
        # So wide that it loses less than 1e-6 Pa.
        lines = [name for name, link in net.links.items() if isinstance(link.part, Line)]
        replaced = dict.fromkeys(lines, ShutOffValve(bore=0.3, loss_coefficient=0.01))
    for name, opening in openings.items():
        first = opening(np.zeros(1))[0]
        if not (np.all(first == 0.0) or np.all(first == 1.0)):
            raise InputError(
                "a steady start is open or shut", given=float(first[0]), accepted="0 or 1 at time 0", part=name
            )
        if np.all(first == 0.0):
            replaced[name] = ShutOffValve(bore=8e-3, open=False)
    start = net.with_parts(replaced, {name: _points_of(values) for name, values in pressures.items()})
    state = start.solve(
        given.liquid, {name: _points_of(values) for name, values in draws.items()}, raise_on_failure=True
    )
    if given.friction == "none":
        heights = dict(zip(net.elements.numbers(), net.elements.heights(), strict=True))
        for name in replaced:
            up, down = net.links[name].up, net.links[name].down
            head = GRAVITY * float(given.liquid.density) * (heights[up] - heights[down])
            if name not in openings and np.any(np.abs(state.pressure[up] - state.pressure[down] + head) > _NO_LOSS):
                raise InputError(
                    "lines without friction join two pressures, and have no steady flow",
                    accepted="friction, or one pressure at both ends",
                    part=name,
                )
    return state


def wave_speeds(lines: Mapping[str, Line], given: WaveInputs) -> dict[str, float]:
    """Return the wave speed of each line, m/s.

    Parameters
    ----------
    lines : mapping of str to Line
    given : WaveInputs
    """
    imposed = _by_line(given.wave_speed, lines, _SPEED, "wave_speed")
    compliance = _by_line(given.wall_compliance, lines, _COMPLIANCE, "wall_compliance")
    density = float(given.liquid.density)
    return {
        name: imposed[name]
        if name in imposed
        else float(wave_speed.wave_speed(density, given.bulk_modulus, compliance.get(name, 0.0)))
        for name in lines
    }


def _by_line(given: Given, lines: Mapping[str, Line], declared: Declaration, key: str) -> dict[str, float]:
    """Return the value of each line from one for all or some by name."""
    if given is None:
        return {}
    values = given if isinstance(given, Mapping) else dict.fromkeys(lines, given)
    found = {}
    for name, value in values.items():
        if name not in lines:
            raise InputError("no line of this name", given=name, accepted=nearest(str(name), lines), key=key)
        try:
            found[name] = float(np.asarray(declared.convert(value), dtype=float))
        except InputError as error:
            raise error.at(part=name, key=key) from None
    return found


def _result(net: Network, given: WaveInputs, setup: Setup, record: Record, mass_error: FloatArray) -> Transient:
    """Return the run by names, at the heights of the nodes."""
    failed = np.flatnonzero(setup.nodes.unsolved)

    def shaped(values: FloatArray) -> FloatArray:
        values = values.copy()
        values[..., failed] = np.nan
        return values[..., 0] if setup.single else values

    def figure(values: FloatArray) -> FloatLike:
        return float(values[0]) if setup.single else values

    node_names, line_names = list(net.elements.numbers()), list(setup.waved)
    pressure = {name: shaped(record.pressure[:, row] - setup.node_head[row, 0]) for row, name in enumerate(node_names)}
    atmosphere = np.asarray(net.atmospheric_pressure, dtype=float)
    flow = {name: shaped(record.inlet_flow[:, row]) for row, name in enumerate(line_names)}
    outflow = {name: shaped(record.outlet_flow[:, row]) for row, name in enumerate(line_names)}
    for row, name in enumerate(setup.lumped):
        flow[name] = outflow[name] = shaped(record.link_flow[:, row])
    sections = setup.sweep.sections
    head = sections.vapour_pressure - given.vapour_pressure
    highest = np.maximum.reduceat(record.highest - head, sections.first)
    lowest = np.minimum.reduceat(record.lowest - head, sections.first)
    cavities = np.maximum.reduceat(record.largest_cavity, sections.first)
    largest = {
        name: figure(values)
        for names, rows in ((line_names, cavities), (node_names, record.largest_node_cavity))
        for name, values in zip(names, rows, strict=True)
        if values.any()
    }
    in_order = list(net.links)
    return Transient(
        time=record.time,
        pressure=ByName.of_values("node", pressure, {}),
        gauge_pressure=ByName.of_values("node", {name: p - atmosphere for name, p in pressure.items()}, {}),
        flow=ByName.of_values("link", {name: flow[name] for name in in_order}, {}),
        outflow=ByName.of_values("link", {name: outflow[name] for name in in_order}, {}),
        highest_pressure=ByName.of_values("line", dict(zip(line_names, map(figure, highest), strict=True)), {}),
        lowest_pressure=ByName.of_values("line", dict(zip(line_names, map(figure, lowest), strict=True)), {}),
        vapour_volume=shaped(record.vapour),
        largest_cavity=largest,
        first_vapour=figure(record.first_vapour),
        vapour_pressure=given.vapour_pressure,
        lines=lines_of(setup, net),
        step=setup.grid.step,
        mass_error=figure(mass_error),
        unsolved=tuple(failed.tolist()),
    )


def lines_of(setup: Setup, net: Network) -> dict[str, LineWave]:
    """Return how each line is computed.

    Parameters
    ----------
    setup : Setup
    net : Network
        The network of the setup.
    """
    order = [name for name, link in net.links.items() if isinstance(link.part, Line)]
    lines = {}
    for name, reaches, shift in zip(order, setup.grid.reaches.tolist(), setup.grid.shift.tolist(), strict=True):
        speed = setup.speeds[name]
        lines[name] = LineWave(speed, speed * (1.0 + shift) if reaches else float("nan"), reaches)
    return lines
