r"""Nodes where lines end, and what joins them without a wave of its own: valves, pumps, regulators, short pieces.

What arrives at the lines' ends, what a damper holds and what is drawn give each node Y p = I + (flows of the links in
less out), with Y the sum of 1/B' of its lines, 2C/dt of what is elastic there and C/dt of the liquid in the joint. A
link is the steady equation of its part, E(q, p_up, p_down) = 0, with the inertia L = rho l/A of a lumped line added.
Elastic pieces and inertia follow the trapezoidal rule, which neither gains nor loses energy: it is that of a stub that
a wave crosses in half a step. The flows of the links are found by Newton's iteration.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple, Protocol

import numpy as np

from fuelsim.laws.link import SHUT_SLOPE, Kinks, LinkEquation, LinkLaw
from fuelsim.typing import BoolArray, FloatArray, FloatLike, IndexArray, LinkArray, NodeArray, PointArray

__all__ = ["Junctions", "LinearGroup", "LinkGroup", "Links", "Ports"]

_MOST_ITERATIONS = 80
_ROUND, _DAMPED_FROM = 20, 12
"""Of so many iterations those from this number on are halved, which brings an iteration between two states to rest."""
_SMALL_FLOW = 1e-6 / 3600.0
"""1 mL/h, m3/s."""
_CLOSE = 1e-6
"""Change of a flow, over it and `_SMALL_FLOW`, at which the iteration ends."""
_CLOSE_MOVING = 0.02
_SHARE_OF_LARGEST = 0.1
"""The same where parts move by themselves, over the flow and this share of the largest flow at the start."""
_LEAST_PUSH = 1.0
"""Pressure difference below which a port passes nothing, Pa."""
_LEAST_OPENING = 1e-6
"""Opening below which a link that is not shut opens no less."""


class LinkGroup(NamedTuple):
    """Links of one law.

    Attributes
    ----------
    law : LinkLaw
    coefficients : NamedTuple
        Stacked over the links.
    rows : slice
        Their numbers among the links.
    frictionless : bool
        Whether the law is left out, as of a lumped line without friction.
    scale : float or array (links, 1 or points)
        Volume flow in each link over that which the network counts, where densities differ.
    """

    law: LinkLaw
    coefficients: NamedTuple
    rows: slice
    frictionless: bool = False
    scale: FloatLike = 1.0


class LinearGroup(NamedTuple):
    """Links of p_up - p_down = R q - S.

    Attributes
    ----------
    rows : slice
        Their numbers among the links.
    resistance : array (links, 1 or points)
        R, Pa s/m3.
    source : array (links, points)
        S, Pa; what moves writes into it.
    """

    rows: slice
    resistance: FloatArray
    source: FloatArray


class Ports(NamedTuple):
    """Orifices through which nodes deliver into reservoirs, such as injectors.

    Attributes
    ----------
    node, into : int array (ports,)
        Node of each, and reservoir into which it delivers.
    lift : array (ports, 1)
        What is added to the reservoir's pressure so that both are counted at the same height, Pa.
    """

    node: IndexArray
    into: IndexArray
    lift: FloatArray


class Regulators(Protocol):
    """Links whose openings move by themselves."""

    rows: IndexArray
    controls_up: BoolArray
    taken: FloatArray

    def openings(self) -> LinkArray:
        """Return the openings."""

    def flow_in(self, down: LinkArray, reference: LinkArray) -> tuple[float, LinkArray]:
        """Return slope and constant of what is taken in at the controlled pressure."""

    def follow(self, controlled: LinkArray, down: LinkArray, reference: LinkArray, flow_in: LinkArray) -> None:
        """Move by one step."""


class Rotors(Protocol):
    """Links whose linear law moves by itself."""

    linear: LinearGroup

    def advance(self, flow: LinkArray) -> None:
        """Let the law follow the flows of the last step."""


@dataclass(frozen=True)
class Links:
    """Links that carry no wave.

    Attributes
    ----------
    groups : sequence of LinkGroup
    up, down, reference : int array (links,)
        Nodes; the atmosphere is the last.
    inertia : array (links, 1)
        L = rho l/A, Pa s2/m3; 0 but for a lumped line.
    up_head, down_head, reference_head : array (links, 1)
        What is taken from the pressures at one height so that a law sees those at its own, Pa.
    """

    groups: Sequence[LinkGroup | LinearGroup]
    up: IndexArray
    down: IndexArray
    reference: IndexArray
    inertia: FloatArray
    up_head: FloatArray
    down_head: FloatArray
    reference_head: FloatArray


class Junctions:
    """All nodes and the links between them.

    Parameters
    ----------
    links : Links
    line_up, line_down : int array (lines,)
        Node at the first and at the last section of each line.
    elastic : array (nodes, 1)
        What dampers and lumped lines take in for each pascal, m3/Pa.
    joint : array (nodes, 1)
        The same of the liquid in a joint that nothing else holds, m3/Pa.
    fixed : bool array (nodes,)
        Reservoirs.
    vapour_pressure : array (nodes, 1)
        Vapour pressure at the height from which pressures are counted, Pa.
    step : float
        Time step, s.
    pressure : array (nodes, points)
        At the start, Pa.
    flow : array (links, points)
        At the start, m3/s.
    atmosphere : array (points,)
        Pa; what a link without a reference refers to.

    Attributes
    ----------
    pressure : array (nodes, points)
    flow : array (links, points)
    cavity : array (nodes, points)
        Volume of vapour at each node, m3.
    cavitates : bool
        Whether there is any.
    line_up, line_down : int array (lines,)
    outflow : array (nodes, points)
        Flow out of each reservoir into what is joined to it, m3/s.
    unsolved : bool array (points,)
        Points at which a link's equation was not met at some step.
    """

    def __init__(
        self,
        links: Links,
        line_up: IndexArray,
        line_down: IndexArray,
        elastic: FloatArray,
        joint: FloatArray,
        fixed: BoolArray,
        vapour_pressure: FloatArray,
        step: float,
        pressure: NodeArray,
        flow: LinkArray,
        atmosphere: PointArray,
    ) -> None:
        nodes = len(elastic)
        self.links, self.step = links, step
        self.line_up, self.line_down = line_up, line_down
        self._at_ends = np.concatenate([_incidence(line_up, nodes), _incidence(line_down, nodes)], axis=1)
        self._into = _incidence(links.down, nodes) - _incidence(links.up, nodes)
        with_atmosphere = np.concatenate([self._into, np.zeros((1, len(flow)))])
        self._into_up, self._into_down = self._into[links.up][:, :, None], self._into[links.down][:, :, None]
        self._into_reference = with_atmosphere[links.reference][:, :, None]
        # Links that have no free node in common and refer to none are solved one by one.
        joined = np.abs(self._into[~fixed]).sum(axis=1)
        self._separate = not (joined > 1.0).any() and not self._into_reference.any()
        self._free = ~fixed[:, None]
        self._elastic = 2.0 * elastic / step
        self._joint = joint / step
        self._held = np.where(fixed[:, None], 1.0, self._elastic + self._joint)
        self._no_lines = np.where(fixed[:, None], 0.0, 1.0)
        # A reservoir has no vapour pressure of its own.
        self._floor = np.where(fixed[:, None], -np.inf, vapour_pressure)
        self._inertia = 2.0 * links.inertia / step
        self._atmosphere = np.broadcast_to(atmosphere, (1, pressure.shape[1]))
        # What the links refer to where all refer to the atmosphere.
        self._reference = np.broadcast_to(self._atmosphere, flow.shape)
        self._kinks = _kinks_of(links, len(flow))
        self._plain = all(isinstance(each, LinearGroup) or each.law.equation is None for each in links.groups)
        self._refers = bool((links.reference < nodes).any())
        self._inertial = bool(links.inertia.any())
        self.pressure, self.flow = pressure.copy(), flow.copy()
        self._start_before: NodeArray = self.pressure
        self._equation_before: LinkEquation | None = None
        self._stub = 0.5 * pressure * np.ones_like(elastic)
        self._push = np.zeros_like(flow)
        self._ones, self._zeros = np.ones_like(flow), np.zeros_like(flow)
        self._both_elastic, self._diagonal = 2.0 * self._elastic, np.arange(len(flow))
        # What follows from B' alone is kept as long as the lines give the same.
        self._met: FloatArray | None = None
        self._by_line = self._by_node = self._by_lines = np.zeros(0)
        self.cavity = np.zeros_like(pressure)
        self.cavitates = False
        self.outflow = np.zeros_like(pressure)
        self.unsolved = np.zeros(pressure.shape[1], dtype=bool)
        self.ports: Ports | None = None
        self.port_flow = np.zeros((0, pressure.shape[1]))
        self.linear: LinearGroup | None = None
        self._at_ports = np.zeros((nodes, 0))
        self.regulators: Regulators | None = None
        self.rotors: tuple[Rotors, ...] = ()
        self._close, self._predicts = _CLOSE, True
        self._least_flow = _SMALL_FLOW
        self._solve_one = _solver_of_one() if pressure.shape[1] == 1 and len(flow) > 1 else None

    def add_ports(self, ports: Ports) -> None:
        """Add orifices that open and shut; `solve` is given their conductances.

        Parameters
        ----------
        ports : Ports
        """
        self.ports, self._at_ports = ports, _incidence(ports.node, len(self.pressure))
        self.port_flow = np.zeros((len(ports.node), self.pressure.shape[1]))

    def move(
        self, groups: Sequence[LinkGroup | LinearGroup], regulators: Regulators | None, rotors: Sequence[Rotors]
    ) -> None:
        """Put links that move in the place of steady ones.

        Parameters
        ----------
        groups : sequence of LinkGroup or LinearGroup
            All groups of links.
        regulators : Regulators or None
            Move openings, and take in fuel.
        rotors : sequence of Rotors
            Move linear laws.
        """
        self.links = replace(self.links, groups=groups)
        self.regulators, self.rotors = regulators, tuple(rotors)
        # What is left of an error after a Newton step is its square: one step is enough while flows change by little.
        self._close, self._predicts = _CLOSE_MOVING, False
        self._least_flow = np.maximum(_SMALL_FLOW, _SHARE_OF_LARGEST * np.abs(self.flow).max(axis=0))
        if regulators is not None:
            links = self.links
            rows = regulators.rows
            self._controlled = np.where(regulators.controls_up, links.up[rows], links.down[rows])
            self._at_controlled = _incidence(self._controlled, len(self.pressure))
            self._controls = self._at_controlled.sum(axis=1)[:, None]
            self._controlled_head = np.where(
                regulators.controls_up[:, None], links.up_head[rows], links.down_head[rows]
            )
        self._kinks = _kinks_of(self.links, len(self.flow))
        laws = [group for group in groups if isinstance(group, LinkGroup)]
        self._plain = all(group.law.equation is None for group in laws)

    def solve(
        self,
        arrives: FloatArray,
        met: FloatArray,
        given_pressure: NodeArray,
        draw: NodeArray,
        opening: LinkArray | None,
        conductance: FloatArray | None = None,
    ) -> None:
        """Find pressures and flows of the next step.

        Parameters
        ----------
        arrives, met : array (2 lines, points)
            What arrives at the first and then at the last sections of all lines, Pa, and the B' it has met, Pa s/m3.
        given_pressure : array (nodes, points)
            Pressure of each reservoir, Pa.
        draw : array (nodes, points)
            m3/s.
        opening : array (links, points) or None
            Flow of each link over that of the same link fully open; None where all are open.
        conductance : array (ports, points) or None
            Flow of each port over the root of its pressure difference, m3/s/Pa^0.5.
        """
        regulators = self.regulators
        if regulators is not None:
            down, reference = self._at_regulators(regulators)
            opened = np.ones_like(self.flow) if opening is None else np.broadcast_to(opening, self.flow.shape).copy()
            opened[regulators.rows] *= regulators.openings()
            opening = opened
        for rotor in self.rotors:
            rotor.advance(self.flow[rotor.linear.rows])
        if met is not self._met:
            self._met, self._by_line = met, 1.0 / met
            self._by_node = self._at_ends @ self._by_line
            self._by_lines = self._by_node * self._no_lines + self._held
        by_node, lines_in, admittance = self._by_node, self._at_ends @ (arrives * self._by_line), self._by_lines
        known = lines_in + self._both_elastic * self._stub + self._joint * self.pressure - draw
        ports, slope = self.ports, None
        if ports is not None and conductance is not None:
            # Linear in the pressure about that of the last step.
            before = self.pressure[ports.node]
            push = before - given_pressure[ports.into] - ports.lift
            np.maximum(push, _LEAST_PUSH, out=push)
            passed = conductance * np.sqrt(push)
            slope = 0.5 * passed / push
            admittance = admittance + self._at_ports @ slope
            known = known + self._at_ports @ (slope * before - passed)
        if regulators is not None:
            taking, constant = regulators.flow_in(down, reference)
            admittance = admittance + taking * self._controls
            known = known - self._at_controlled @ (constant - taking * self._controlled_head)
        if self.cavitates:
            known = known - self.cavity / self.step
        yields = self._no_lines / admittance
        start = np.where(self._free, yields * known, given_pressure)
        if len(self.flow):
            flow = self._newton(start, yields, opening)
            into = self._into @ flow
            pressure = np.maximum(start + yields * into, self._floor)
        else:
            flow, into, pressure = self.flow, np.zeros_like(start), np.maximum(start, self._floor)
        holds = pressure <= self._floor
        self.cavitates = bool(holds.any())
        if self.cavitates:
            grown = self.step * (admittance * pressure - known - into)
            self.cavity = np.where(holds, np.maximum(grown, 0.0), 0.0)
        elif self.cavity.any():
            self.cavity = np.zeros_like(pressure)
        self.outflow = np.where(self._free, 0.0, by_node * pressure - lines_in - into)
        if ports is not None and slope is not None:
            self.port_flow = passed + slope * (pressure[ports.node] - before)
        if regulators is not None:
            controlled = pressure[self._controlled] - self._controlled_head
            regulators.follow(controlled, down, reference, taking * controlled + constant)
        self._stub = pressure - self._stub
        if self._inertial:
            # The pressure that inertia bears: what is left of the difference when the part has taken its loss.
            self._push = np.where(self._inertia > 0.0, self._inertia * (flow - self.flow) - self._push, 0.0)
        self.pressure, self.flow = pressure, flow

    def _at_regulators(self, regulators: Regulators) -> tuple[LinkArray, LinkArray]:
        """Return the pressures behind regulators and of what they refer to, Pa."""
        links, rows = self.links, regulators.rows
        down = self.pressure[links.down[rows]] - links.down_head[rows]
        reference = self._reference[rows]
        if self._refers:
            with_atmosphere = np.concatenate([self.pressure, self._atmosphere])
            reference = with_atmosphere[links.reference[rows]] - links.reference_head[rows]
        return down, reference

    def _newton(self, start: NodeArray, yields: NodeArray, opening: LinkArray | None) -> LinkArray:
        """Return the flows of the links that meet their equations with the pressures that they make."""
        flow = self._predicted(start, yields)
        change: PointArray = np.ones(flow.shape[1])
        for iteration in range(_MOST_ITERATIONS):
            pressure = np.maximum(start + yields * (self._into @ flow), self._floor)
            equation = self._equations(flow, pressure, opening)
            step = -self._divided(equation, np.where(pressure <= self._floor, 0.0, yields))
            if iteration % _ROUND >= _DAMPED_FROM:
                step = 0.5 * step
            if self._kinks is not None:
                step = _shortened(flow, step, self._kinks)
            flow = flow + step
            change = (np.abs(step) / (np.abs(flow) + self._least_flow)).max(axis=0)
            if change.max() < self._close:
                self._start_before, self._equation_before = start, equation
                return flow
        self.unsolved |= change > self._close
        self._equation_before = None
        return flow

    def _predicted(self, start: NodeArray, yields: NodeArray) -> LinkArray:
        """Return the flows to start from: those of the last step, moved by its slopes as the nodes have changed."""
        before, links = self._equation_before, self.links
        if before is None or not self._predicts:
            return self.flow
        moved = start - self._start_before
        residual = before.down_slope * moved[links.down] - before.up_slope * moved[links.up]
        if self._inertial:
            residual = residual - 2.0 * self._push
        return self.flow - self._divided(before._replace(residual=residual), yields)

    def _divided(self, equation: LinkEquation, yields: NodeArray) -> LinkArray:
        """Return residuals over their slopes in the flows, through the pressures of the nodes as well."""
        links, residual = self.links, equation.residual
        at_up, at_down = equation.up_slope * yields[links.up], equation.down_slope * yields[links.down]
        if self._separate:
            return residual / (equation.flow_slope + at_up + at_down)
        matrix = at_down[:, None] * self._into_down - at_up[:, None] * self._into_up
        if self._refers:
            at_reference = np.concatenate([yields, np.zeros((1, yields.shape[1]))])[links.reference]
            matrix = matrix + (equation.reference_slope * at_reference)[:, None] * self._into_reference
        matrix[self._diagonal, self._diagonal] += equation.flow_slope
        if self._solve_one is not None:
            found: LinkArray = self._solve_one(matrix[:, :, 0], residual)[2]
            return found
        solved = np.linalg.solve(matrix.transpose(2, 0, 1), residual.T[:, :, None])[:, :, 0].T
        result: LinkArray = np.asarray(solved, dtype=float)
        return result

    def _equations(self, flow: LinkArray, pressure: NodeArray, opening: LinkArray | None) -> LinkEquation:
        """Return residual and slopes of all links, with the inertia of lumped lines."""
        links = self.links
        p_up, p_down = pressure[links.up], pressure[links.down]
        opened = None if opening is None else np.maximum(opening, _LEAST_OPENING)
        through = flow if opened is None else flow / opened
        residual, slope = p_down - p_up, np.zeros_like(flow)
        up_slope, down_slope, reference_slope = self._ones, self._ones, self._zeros
        if not self._plain:
            up_slope, down_slope, reference_slope = up_slope.copy(), down_slope.copy(), reference_slope.copy()
        for group in links.groups:
            rows = group.rows
            if isinstance(group, LinearGroup):
                residual[rows] += group.resistance * flow[rows] - group.source
                slope[rows] = group.resistance
                continue
            if group.frictionless:
                continue
            scale = group.scale
            if group.law.loss is not None:
                loss, steep = group.law.loss(through[rows] * scale, group.coefficients)
                residual[rows] += loss
                slope[rows] = steep * scale
            elif group.law.equation is not None:
                p_reference = self._reference
                if self._refers:
                    p_reference = np.concatenate([pressure, self._atmosphere])[links.reference] - links.reference_head
                found = group.law.equation(
                    through[rows] * scale,
                    p_up[rows] - links.up_head[rows],
                    p_down[rows] - links.down_head[rows],
                    p_reference[rows],
                    group.coefficients,
                )
                residual[rows], slope[rows] = found.residual, found.flow_slope * scale
                up_slope[rows], down_slope[rows] = found.up_slope, found.down_slope
                reference_slope[rows] = found.reference_slope
        if opened is not None:
            slope /= opened
        if self._inertial:
            residual = residual + self._inertia * (flow - self.flow) - self._push
            slope = slope + self._inertia
        if opening is not None:
            shut = opening <= 0.0
            if not shut.any():
                return LinkEquation(residual, slope, up_slope, down_slope, reference_slope)
            residual, slope = np.where(shut, SHUT_SLOPE * flow, residual), np.where(shut, SHUT_SLOPE, slope)
            up_slope, down_slope = np.where(shut, 0.0, up_slope), np.where(shut, 0.0, down_slope)
            reference_slope = np.where(shut, 0.0, reference_slope)
        return LinkEquation(residual, slope, up_slope, down_slope, reference_slope)

    def volume(self) -> PointArray:
        """Return the volume that joints, dampers and lumped lines hold, less vapour, (points,), m3."""
        held = self.step * (self._elastic * self._stub + self._joint * self.pressure) * self._free - self.cavity
        volume: PointArray = held.sum(axis=0)
        if self.regulators is not None:
            sign = np.where(self.regulators.controls_up, 1.0, -1.0)[:, None]
            volume = volume + (sign * self.regulators.taken).sum(axis=0)
        return volume

    def energy(self) -> PointArray:
        """Return the energy of dampers and lumped lines, elastic and of motion, from zero pressure, (points,), J."""
        elastic = (self.step * self._elastic * self._stub**2 * self._free).sum(axis=0)
        moving: FloatLike = 0.0
        if self._inertial:
            # The stub of an inertia: what it bears and carries is one wave, which returns turned round a step later.
            safe = np.where(self._inertia > 0.0, self._inertia, 1.0)
            wave = 0.5 * (self._push + safe * self.flow) * (self._inertia > 0.0)
            moving = (self.step * wave**2 / safe).sum(axis=0)
        energy: PointArray = elastic + moving
        return energy


def _solver_of_one() -> Callable[[FloatArray, LinkArray], tuple[FloatArray, IndexArray, LinkArray, int]]:
    """Return LAPACK's solver for the equations of one point, without what numpy's does for many."""
    from scipy.linalg.lapack import dgesv

    solver: Callable[[FloatArray, LinkArray], tuple[FloatArray, IndexArray, LinkArray, int]] = dgesv
    return solver


def _kinks_of(links: Links, count: int) -> Kinks | None:
    """Return the flows at which the laws of the links turn steep, (links, 1 or points), None where none does."""
    rows: list[tuple[FloatArray, ...]] = []
    some = False
    for group in links.groups:
        size = group.rows.stop - group.rows.start
        kinks = Kinks(-np.inf, np.inf, 0.0)
        if not isinstance(group, LinearGroup) and group.law.kinks is not None:
            kinks, some = group.law.kinks(group.coefficients), True
        rows.append(tuple(np.broadcast_to(each, (size, np.shape(each)[-1] if np.ndim(each) else 1)) for each in kinks))
    if not some:
        return None
    width = max(each.shape[1] for row in rows for each in row)
    wide = [[np.broadcast_to(each, (len(each), width)) for each in row] for row in rows]
    return Kinks(*(np.concatenate(each)[:count] for each in zip(*wide, strict=True)))


def _shortened(flow: LinkArray, step: LinkArray, kinks: Kinks) -> LinkArray:
    """Return a step of which no link's part goes further into where its law is steep than the margin of that law.

    All links of a point are held back together, so that their nodes stay in balance.
    """
    new = flow + step
    if not ((new < kinks.low - kinks.margin) | (new > kinks.high + kinks.margin)).any():
        return step
    least, most = np.minimum(flow, kinks.low) - kinks.margin, np.maximum(flow, kinks.high) + kinks.margin
    beyond = (new < least) | (new > most)
    if not beyond.any():
        return step
    kept = np.where(beyond, (np.clip(new, least, most) - flow) / np.where(beyond, step, 1.0), 1.0)
    shortened: LinkArray = step * kept.min(axis=0)
    return shortened


def _incidence(node: IndexArray, nodes: int) -> FloatArray:
    """Return a matrix (nodes, ends) with 1 where an end is at a node."""
    matrix = np.zeros((nodes, len(node)))
    matrix[node, np.arange(len(node))] = 1.0
    return matrix
