"""From a network at its steady flow to the lines, nodes and boundary values of a run."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from fuelsim.constants import GRAVITY
from fuelsim.laws.friction import LINE, LineCoefficients
from fuelsim.liquid import Liquid
from fuelsim.network.inputs import WaveInputs
from fuelsim.network.network import Network
from fuelsim.network.solver.assemble import stacked_coefficients
from fuelsim.network.solver.coefficients import stacked
from fuelsim.parts.line import Line
from fuelsim.typing import FloatArray, IndexArray
from fuelsim.waves.grid import WaveGrid
from fuelsim.waves.junctions import Junctions, LinkGroup, Links
from fuelsim.waves.line_sweep import LateSections, LineSections, LineSweep
from fuelsim.waves.march import Boundaries
from fuelsim.waves.over_time import OverTime
from fuelsim.waves.unsteady_friction import UnsteadyFriction

__all__ = ["boundaries_of", "junctions_of", "sweep_of"]

_JOINT_VOLUME = 1e-9
"""Liquid in a joint that neither a line nor a damper holds elastic, m3 [assumed]."""


def sweep_of(
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
    along = along[:, None]
    boiling = np.array([given.vapour_pressures.get(name, given.vapour_pressure) for name in node_of])[:, None]
    vapour = boiling[up][line] * (1.0 - along) + boiling[down][line] * along + GRAVITY * density * rises
    pressure = node_pressure[up][line] * (1.0 - along) + node_pressure[down][line] * along
    flow = np.stack([flows[name] for name in waved])[line]
    friction, unsteady = None, None
    if given.friction != "none":
        own = stacked_coefficients(LINE, [lines[name].coefficients(_liquid_in(name, given)) for name in waved])
        whole = LineCoefficients(*(values[line] for values in own))
        scale = _stacked_scale(waved, given)[line]
        whole = whole._replace(reynolds_per_flow=whole.reynolds_per_flow * scale)
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
    late = None
    if given.late_walls:
        compliance = [given.late_walls[name].compliance if name in given.late_walls else 0.0 for name in waved]
        volume = np.array([float(part.volume) for part in parts]) * np.array(compliance) / reaches
        of_section = volume[line]
        of_section[first] *= 0.5
        of_section[last] *= 0.5
        time = np.array([given.late_walls[name].time if name in given.late_walls else 1.0 for name in waved])
        late = LateSections(of_section[:, None], time[line][:, None])
    sections = LineSections(first, last, line, impedance, friction, vapour, unsteady, late)
    return LineSweep(sections, grid.step, pressure, flow)


def _liquid_in(name: str, given: WaveInputs) -> Liquid:
    return given.liquids.get(name, given.liquid)


def _stacked_scale(names: Sequence[str], given: WaveInputs) -> FloatArray:
    """Return what a flow counted at the density of the one liquid is in each link over it, (links, 1 or points)."""
    return stacked([given.liquid.density / _liquid_in(name, given).density for name in names])


def junctions_of(
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
        own = stacked_coefficients(law, [parts[row].coefficients(_liquid_in(lumped[row], given)) for row in members])
        rows = slice(members[0], members[-1] + 1)
        scale = _stacked_scale([lumped[row] for row in members], given)
        groups.append(LinkGroup(law, own, rows, law is LINE and given.friction == "none", scale))
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
        np.array([given.vapour_pressures.get(name, given.vapour_pressure) for name in node_of])[:, None] + heads,
        step,
        node_pressure,
        flow,
        atmosphere,
    )


def boundaries_of(
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
