"""From a network and what is given over time to its pressure waves: lines in reaches, the steady start, the run."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fuelsim import units
from fuelsim.arguments import number
from fuelsim.constants import GRAVITY
from fuelsim.declaration import Declaration
from fuelsim.errors import InputError, nearest
from fuelsim.laws import wave_speed
from fuelsim.laws.friction import LINE, LineCoefficients
from fuelsim.network.inputs import WaveInputs
from fuelsim.network.network import Network
from fuelsim.network.solver.assemble import number_of_points, stacked_coefficients
from fuelsim.network.state import ByName, State
from fuelsim.parts.line import Line
from fuelsim.parts.part import Part
from fuelsim.parts.valves import ShutOffValve
from fuelsim.typing import FloatArray, FloatLike, Given, IndexArray
from fuelsim.waves.grid import WaveGrid, wave_grid
from fuelsim.waves.junctions import Junctions, LinkGroup, Links
from fuelsim.waves.line_sweep import LineSections, LineSweep
from fuelsim.waves.march import Boundaries, Record, march
from fuelsim.waves.over_time import OverTime, over_time
from fuelsim.waves.result import LineWave, Transient
from fuelsim.waves.unsteady_friction import UnsteadyFriction

__all__ = ["Setup", "check_names", "prepare", "steady_start", "transient_of", "wave_speeds"]

_DRAW = number("volume flow", -100.0, 100.0, example="60 L/h", flat=True)
_PRESSURE = number("absolute pressure", 1.0, 1e9, example="400 kPa absolute", flat=True)
_OPENING = number("fraction", 0.0, 1.0, example="0.5", flat=True)
_SPEED = number("velocity", 1.0, 1e4, example="1000 m/s", single=True)
_COMPLIANCE = number("compliance", 0.0, 1e-4, example="0.00004 1/MPa", single=True)
_JOINT_VOLUME = 1e-9
"""Liquid in a joint that neither a line nor a damper holds elastic, m3 [assumed]."""
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


def prepare(net: Network, given: WaveInputs) -> Setup:
    """Return the network at its steady start, ready to run.

    Parameters
    ----------
    net : Network
    given : WaveInputs

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
    steady = steady_start(net, given, draws, pressures, openings)
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
    flows = {name: np.broadcast_to(value, (size,)) for name, value in steady.flow.items()}
    sweep = _sweep(net, given, grid, waved, node_pressure, flows, lines)
    nodes = _junctions(net, given, grid.step, waved, lumped, speeds, node_pressure, heads, flows)
    boundaries = _boundaries(net, draws, pressures, openings, heads, lumped)
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


def _sweep(
    net: Network,
    given: WaveInputs,
    grid: WaveGrid,
    waved: Sequence[str],
    node_pressure: FloatArray,
    flows: Mapping[str, FloatArray],
    lines: Mapping[str, Line],
) -> LineSweep:
    """Return the lines that carry waves, at the steady start."""
    node_of, heights = net.elements.numbers(), net.elements.heights()
    liquid = given.liquid
    density = float(liquid.density)
    reaches = grid.reaches[grid.reaches > 0]
    last = (np.cumsum(reaches + 1) - 1).astype(np.intp)
    first = (last - reaches).astype(np.intp)
    line = np.repeat(np.arange(len(waved)), reaches + 1)
    along = (np.arange(len(line)) - first[line]) / reaches[line]
    parts = [lines[name] for name in waved]
    up = np.array([node_of[net.links[name].up] for name in waved])
    down = np.array([node_of[net.links[name].down] for name in waved])
    area = np.array([float(part.cross_section) for part in parts])
    # B = rho a/A with the wave speed used, the length of a reach over the step.
    length = np.array([float(part.length) for part in parts])
    impedance = (density * length / (reaches * grid.step) / area)[line][:, None]
    height = np.array(heights)
    rises = (height[up][line] + along * (height[down] - height[up])[line])[:, None]
    vapour = given.vapour_pressure + GRAVITY * density * rises
    along = along[:, None]
    pressure = node_pressure[up][line] * (1.0 - along) + node_pressure[down][line] * along
    flow = np.stack([flows[name] for name in waved])[line]
    friction, unsteady = None, None
    if given.friction != "none":
        own = stacked_coefficients(LINE, [part.coefficients(liquid) for part in parts])
        whole = LineCoefficients(*(values[line] for values in own))
        share = (1.0 / reaches)[line][:, None]
        friction = whole._replace(
            friction_pressure=whole.friction_pressure * share,
            fitting_pressure=whole.fitting_pressure * share,
            laminar_fitting_pressure=whole.laminar_fitting_pressure * share,
        )
    if friction is not None and given.friction == "unsteady":
        viscosity = float(liquid.kinematic_viscosity)
        bore = np.array([float(part.bore) for part in parts])
        reach = 16.0 * density * viscosity * length / reaches / (bore**2 * area)
        reynolds = np.abs(flow).max(axis=1) * np.max(friction.reynolds_per_flow, axis=-1)
        unsteady = UnsteadyFriction(
            grid.step, flow, reach[line][:, None], (4.0 * viscosity / bore**2)[line][:, None], reynolds
        )
    sections = LineSections(first, last, line, impedance, friction, vapour, unsteady)
    return LineSweep(sections, grid.step, pressure, flow)


def _junctions(
    net: Network,
    given: WaveInputs,
    step: float,
    waved: Sequence[str],
    lumped: Sequence[str],
    speeds: Mapping[str, float],
    node_pressure: FloatArray,
    heads: FloatArray,
    flows: Mapping[str, FloatArray],
) -> Junctions:
    """Return the nodes and the links that carry no wave, at the steady start."""
    node_of = net.elements.numbers()
    nodes = len(node_of)
    density = float(given.liquid.density)

    def ends(names: Sequence[str]) -> tuple[IndexArray, IndexArray]:
        up = np.array([node_of[net.links[name].up] for name in names], dtype=np.intp)
        return up, np.array([node_of[net.links[name].down] for name in names], dtype=np.intp)

    line_up, line_down = ends(waved)
    link_up, link_down = ends(lumped)
    elastic = np.zeros((nodes, 1))
    inertia = np.zeros((len(lumped), 1))
    for row, name in enumerate(lumped):
        part = net.links[name].part
        if isinstance(part, Line):
            stored = float(part.volume) / (density * speeds[name] ** 2)
            elastic[[link_up[row], link_down[row]]] += 0.5 * stored
            inertia[row] = density * float(part.length) / float(part.cross_section)
    for name, damper in given.dampers.items():
        elastic[node_of[name]] += damper.compliance
    held = np.zeros(nodes, dtype=bool)
    held[line_up] = held[line_down] = True
    held |= elastic[:, 0] > 0.0
    joint = np.where(held[:, None], 0.0, _JOINT_VOLUME / given.bulk_modulus)
    fixed = np.arange(nodes) >= len(net.nodes)
    groups = []
    parts = [net.links[name].part for name in lumped]
    for law in dict.fromkeys(part.law for part in parts):
        members = [row for row, part in enumerate(parts) if part.law is law]
        own = stacked_coefficients(law, [parts[row].coefficients(given.liquid) for row in members])
        rows = slice(members[0], members[-1] + 1)
        groups.append(LinkGroup(law, own, rows, law is LINE and given.friction == "none"))
    references = np.array(
        [nodes if net.links[name].reference is None else node_of[net.links[name].reference or ""] for name in lumped],
        dtype=np.intp,
    )
    from_up = np.array([part.law.head_applied_at == "down" for part in parts], dtype=bool)
    at = heads[np.where(from_up, link_up, link_down)] if len(lumped) else np.zeros((0, 1))
    reference_head = np.concatenate([heads, np.zeros((1, 1))])[references]
    links = Links(groups, link_up, link_down, references, inertia, at, at, reference_head)
    size = node_pressure.shape[1]
    flow = np.stack([flows[name] for name in lumped]) if lumped else np.zeros((0, size))
    atmosphere = np.broadcast_to(net.atmospheric_pressure, (size,))
    return Junctions(
        links,
        line_up,
        line_down,
        elastic,
        joint,
        fixed,
        given.vapour_pressure + heads,
        step,
        node_pressure,
        flow,
        atmosphere,
    )


def _boundaries(
    net: Network,
    draws: Mapping[str, OverTime],
    pressures: Mapping[str, OverTime],
    openings: Mapping[str, OverTime],
    heads: FloatArray,
    lumped: Sequence[str],
) -> Boundaries:
    """Return what is given over time, by number of node and link."""
    node_of = net.elements.numbers()
    constant = {
        node_of[name]: np.atleast_1d(np.asarray(reservoir.pressure, dtype=float))
        for name, reservoir in net.reservoirs.items()
    }

    def rows_over_time(count: int, given: Mapping[int, OverTime], rest: float) -> Callable[[FloatArray], FloatArray]:
        def at(time: FloatArray) -> FloatArray:
            values = {row: each(time) for row, each in given.items()}
            width = max((value.shape[1] for value in values.values()), default=1)
            out = np.full((len(time), count, width), rest)
            for row, value in values.items():
                out[:, row] = value
            return out

        return at

    def held(values: FloatArray) -> OverTime:
        return lambda time: np.broadcast_to(values, (len(time), len(values)))

    def over_head(values: OverTime, head: float) -> OverTime:
        return lambda time: values(time) + head

    by_node = {row: held(values) for row, values in constant.items()}
    by_node |= {node_of[name]: values for name, values in pressures.items()}
    of_height = {row: over_head(values, float(heads[row, 0])) for row, values in by_node.items()}
    numbers = {name: row for row, name in enumerate(lumped)}
    return Boundaries(
        rows_over_time(len(node_of), of_height, 0.0),
        rows_over_time(len(node_of), {node_of[name]: values for name, values in draws.items()}, 0.0),
        rows_over_time(len(lumped), {numbers[name]: values for name, values in openings.items()}, 1.0)
        if openings
        else None,
    )


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
    lines = {}
    order = [name for name, link in net.links.items() if isinstance(link.part, Line)]
    for name, reaches, shift in zip(order, setup.grid.reaches.tolist(), setup.grid.shift.tolist(), strict=True):
        speed = setup.speeds[name]
        lines[name] = LineWave(speed, speed * (1.0 + shift) if reaches else float("nan"), reaches)
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
        lines=lines,
        step=setup.grid.step,
        mass_error=figure(mass_error),
        unsolved=tuple(failed.tolist()),
    )
