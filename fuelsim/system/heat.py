"""Steady heat along the flow: what temperature the fuel has at each node of a network.

The temperature carried along is the temperature the fuel would have if it were all liquid, which is its enthalpy
in kelvin: where part of it has boiled, the liquid is cooler and the rest of the heat is in the vapour.

For given flows the balance of energy is linear in the temperatures. Fuel leaves a link at ``T_out = a T_in + b``, and a
node mixes what flows into it:

    (sum C + UA) T = sum C (a T_in + b) + UA T_s + P

with the capacity flow C, mass flow times heat capacity, of each inflow, and the node's own exchange with its
surroundings. This is one equation for each node, solved directly: fuel may flow in circles, either way through a link,
and through links listed in any order.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from fuelsim.network.solver.elimination import Elimination, Term
from fuelsim.network.solver.signed_sums import SignedSums
from fuelsim.typing import BoolArray, FloatArray, FloatLike, LinkArray, NodeArray

__all__ = ["HeatBalance", "LinkHeat", "NodeHeat", "Temperatures", "heat_balance", "outlet_temperature"]


class LinkHeat(NamedTuple):
    """What the links carry and exchange; arrays are (links, points), or (links, 1) where no other shape is given.

    Attributes
    ----------
    mass_flow : array (links, points)
        Mass flow, positive from upstream to downstream, kg/s.
    surroundings_temperature : array
        Mean of the surroundings, weighted by conductance, K.
    conductance : array
        Heat conductance to the surroundings, W/K; zero is adiabatic.
    power : array
        Heat given to the fuel in the link beside the exchange, W.
    pressure_heating : array
        Temperature rise by the pressure drop along the link at constant enthalpy, in the flow's direction, K.
    """

    mass_flow: LinkArray
    surroundings_temperature: LinkArray
    conductance: LinkArray
    power: LinkArray
    pressure_heating: LinkArray


class NodeHeat(NamedTuple):
    """What the nodes exchange themselves, as a pot does; arrays are (nodes, points) or (nodes, 1).

    Attributes
    ----------
    surroundings_temperature : array
        K.
    conductance : array
        Heat conductance to the surroundings, W/K; zero is adiabatic.
    power : array
        Heat given to the fuel in the node, W.
    """

    surroundings_temperature: NodeArray
    conductance: NodeArray
    power: NodeArray


class Temperatures(NamedTuple):
    """Solution of the balance.

    Attributes
    ----------
    nodes : array (nodes, points)
        Temperature of each node, K.
    outlets : array (links, points)
        Temperature at the downwind end of each link, K.
    """

    nodes: NodeArray
    outlets: LinkArray


SMALLEST_CONDUCTANCE = 0.05
"""W/K by which any part loses heat, so that power into still fuel gives a finite temperature."""
_STANDING_SHARE = 1e-6
"""Share of a link's conductance that reaches a node which nothing flows into, so that the node's own exchange, where it
has any, decides there."""
_LEAST_STANDING_CONDUCTANCE = 1e-15
"""Conductance to such a node through an adiabatic link, W/K: felt only where the node has no other exchange."""
_BLOCK_POINTS = 2000
"""Number of points solved at a time: few enough for the arrays of a plumbing to stay in the processor's cache."""
_GROUNDING = 1e-13
"""Share of its inflow by which each node is drawn to the stagnant temperature, so that an adiabatic circle that nothing
enters has an answer."""


def outlet_temperature(
    inlet_temperature: FloatLike,
    surroundings_temperature: FloatLike,
    conductance: FloatLike,
    capacity_flow: FloatLike,
    power: FloatLike = 0.0,
) -> FloatArray:
    """Return the temperature at the end of a duct with constant surroundings.

    Solution of ``C dT/dx = UA (T_s - T) + P`` along the duct: with T_e = T_s + P/UA,
    ``T_out = T_e + (T_in - T_e) exp(-UA/C)`` (internal flow with constant ambient temperature: an exchanger of
    effectiveness 1 - exp(-NTU) at capacity ratio 0 [ht_library]).

    Parameters
    ----------
    inlet_temperature, surroundings_temperature : array
        K.
    conductance : array
        UA of the whole duct, W/K; zero is adiabatic.
    capacity_flow : array
        C, mass flow times specific heat capacity, W/K, not negative. At zero flow the fuel takes T_e.
    power : array
        Heat given to the fuel along the duct, W.

    Returns
    -------
    array
        K.

    Examples
    --------
    >>> round(float(outlet_temperature(320.0, 350.0, 1.0, 1.0)), 3)
    338.964
    >>> float(outlet_temperature(320.0, 350.0, 1.0, 0.0))
    350.0
    """
    share, total = _share_of_the_way(conductance, capacity_flow)
    exchanged = share * (np.asarray(surroundings_temperature) - inlet_temperature)
    adiabatic = np.asarray(conductance) <= 0.0
    outlet: FloatArray = inlet_temperature + np.where(adiabatic, 0.0, exchanged) + share * np.asarray(power) / total
    return outlet


def _share_of_the_way(conductance: FloatLike, capacity_flow: FloatLike) -> tuple[FloatArray, FloatArray]:
    """Return 1 - exp(-UA/C), how far the fuel goes towards equilibrium, and the conductance of it, W/K."""
    total: FloatArray = np.maximum(conductance, SMALLEST_CONDUCTANCE)
    # expm1 keeps the share exact at large flow.
    return -np.expm1(-total / np.maximum(capacity_flow, 1e-12 * total)), total


class HeatBalance:
    """The balance of energy of one topology; the order of its elimination is chosen once, by least degree.

    The matrix dominates by rows, since each node takes a mean of its inflows and its surroundings, so that it needs no
    pivoting; its pattern is symmetric, because links may flow either way, its values are not.

    Parameters
    ----------
    nodes : int
        Number of nodes.
    upstream, downstream : sequence of int
        Nodes of each link, numbered from zero.
    fixed : sequence of int
        Nodes of given temperature, such as a tank.

    Examples
    --------
    Fuel of 300 K and 320 K, three parts to one, in a tee and on through an adiabatic line:

    >>> balance = HeatBalance(4, [0, 1, 2], [2, 2, 3], fixed=[0, 1])
    >>> zeros = np.zeros((3, 1))
    >>> links = LinkHeat(np.array([[0.03], [0.01], [0.04]]), zeros, zeros, zeros, zeros)
    >>> ends = np.array([[300.0], [320.0]])
    >>> solution = balance.solve(links, ends, heat_capacity=2100.0, stagnant_temperature=300.0)
    >>> solution.nodes[:, 0].round(6).tolist()
    [300.0, 320.0, 305.0, 305.0]
    """

    def __init__(self, nodes: int, upstream: Sequence[int], downstream: Sequence[int], fixed: Iterable[int]) -> None:
        links = len(upstream)
        self._size = nodes
        self._fixed = np.array(sorted(set(fixed)), dtype=np.intp)
        self._unknown = np.setdiff1d(np.arange(nodes), self._fixed)
        self._upstream = np.array(upstream, dtype=np.intp)
        self._downstream = np.array(downstream, dtype=np.intp)
        # Each link has two inflows, of which one carries nothing: into its downstream and into its upstream node.
        ends = [*zip(downstream, upstream, strict=True), *zip(upstream, downstream, strict=True)]
        row = {int(node): number for number, node in enumerate(self._unknown)}
        into: list[list[tuple[int, int]]] = [[] for _ in row]
        terms = [Term(number, number, number, 1) for number in row.values()]
        for inflow, (end, origin) in enumerate(ends):
            if end in row:
                into[row[end]].append((inflow, 1))
                if origin in row:
                    terms.append(Term(row[end], row[origin], len(row) + inflow, -1))
        self._into = SignedSums(into, 2 * links)
        self._elimination = Elimination(len(row), terms, len(row) + 2 * links)
        # What is conducted to a fixed node goes into no balance: it may be told any row.
        self._end_rows = np.array([row.get(end, 0) for end, _ in ends], dtype=np.intp)
        self._from_fixed = np.array([inflow for inflow, (_, origin) in enumerate(ends) if origin not in row], np.intp)
        self._origin = np.array([ends[inflow][1] for inflow in self._from_fixed], dtype=np.intp)

    def solve(
        self,
        links: LinkHeat,
        fixed_temperature: NodeArray,
        heat_capacity: FloatLike,
        *,
        stagnant_temperature: FloatLike,
        nodes: NodeHeat | None = None,
    ) -> Temperatures:
        """Return the temperature of every node and at the outlet of every link.

        A node that nothing flows into takes the mean of what the links around it tend to, weighted by conductance.

        Parameters
        ----------
        links : LinkHeat
        fixed_temperature : array (fixed nodes, points)
            Temperature of the fixed nodes, in the order of their numbers, K.
        heat_capacity : float or array (points,)
            J/kg K.
        stagnant_temperature : float or array (points,)
            Temperature of a node that neither flow nor exchange determines, K.
        nodes : NodeHeat, optional
            Exchange of the nodes themselves; none, if left out.

        Returns
        -------
        Temperatures
        """
        points = links.mass_flow.shape[1]
        if points <= _BLOCK_POINTS:
            return self._solve_block(links, fixed_temperature, heat_capacity, stagnant_temperature, nodes)
        blocks = []
        for first in range(0, points, _BLOCK_POINTS):
            block = slice(first, first + _BLOCK_POINTS)
            blocks.append(
                self._solve_block(
                    LinkHeat._make(_in_block(values, block) for values in links),
                    _in_block(fixed_temperature, block),
                    _in_block(heat_capacity, block),
                    _in_block(stagnant_temperature, block),
                    None if nodes is None else NodeHeat._make(_in_block(values, block) for values in nodes),
                )
            )
        return Temperatures._make(np.concatenate(parts, axis=1) for parts in zip(*blocks, strict=True))

    def _solve_block(
        self,
        links: LinkHeat,
        fixed_temperature: FloatLike,
        heat_capacity: FloatLike,
        stagnant_temperature: FloatLike,
        nodes: NodeHeat | None,
    ) -> Temperatures:
        capacity_flow = np.abs(links.mass_flow) * heat_capacity
        share, total = _share_of_the_way(links.conductance, capacity_flow)
        adiabatic = links.conductance <= 0.0
        passed = np.where(adiabatic, 1.0, 1.0 - share)
        added = share * (np.where(adiabatic, 0.0, links.surroundings_temperature) + links.power / total)
        added += links.pressure_heating
        count, points = capacity_flow.shape
        inflow = np.empty((2, count, points))
        np.multiply(capacity_flow, links.mass_flow > 0.0, out=inflow[0])
        np.subtract(capacity_flow, inflow[0], out=inflow[1])
        flat = inflow.reshape(2 * count, points)
        weight = self._into(flat)
        standing = weight <= 0.0
        some_stand = bool(np.any(standing))
        if some_stand:
            conducted = _STANDING_SHARE * np.where(adiabatic, 0.0, links.conductance) + _LEAST_STANDING_CONDUCTANCE
            self._add_conduction(flat, standing, conducted)
            weight = self._into(flat)
        carried = inflow * passed
        gained = inflow * added
        known = np.empty((self._size, points))
        known[self._fixed] = fixed_temperature
        flat_carried, flat_gained = carried.reshape(flat.shape), gained.reshape(flat.shape)
        flat_gained[self._from_fixed] += flat_carried[self._from_fixed] * known[self._origin]
        right = self._into(flat_gained)
        right += _GROUNDING * weight * stagnant_temperature
        weight *= 1.0 + _GROUNDING
        if nodes is not None:
            self._add_node_heat(weight, right, standing, nodes)
        known[self._unknown] = self._elimination.solve(np.concatenate([weight, flat_carried]), right)
        upwind = np.where(links.mass_flow >= 0.0, known[self._upstream], known[self._downstream])
        return Temperatures(known, passed * upwind + added)

    def _add_conduction(self, inflow: LinkArray, standing: BoolArray, conducted: LinkArray) -> None:
        """Add to the inflows what is conducted from each link to an end that nothing flows into, W/K."""
        inflow += standing[self._end_rows] * np.concatenate([conducted, conducted])

    def _add_node_heat(self, weight: NodeArray, right: NodeArray, standing: BoolArray, nodes: NodeHeat) -> None:
        """Add the exchange of the nodes themselves to the diagonal and the right-hand side."""
        around, conductance, power = (np.asarray(values)[self._unknown] for values in nodes)
        heated = standing & (power != 0.0)
        conductance = np.where(heated, np.maximum(conductance, SMALLEST_CONDUCTANCE), conductance)
        weight += conductance
        right += conductance * around + power


def _in_block(values: FloatLike, block: slice) -> FloatArray:
    """Return the values of a block of points, or all where all points share a value."""
    array = np.asarray(values, dtype=float)
    return array if array.ndim == 0 or array.shape[-1] == 1 else array[..., block]


@lru_cache(maxsize=64)
def heat_balance(
    nodes: int, upstream: tuple[int, ...], downstream: tuple[int, ...], fixed: tuple[int, ...]
) -> HeatBalance:
    """Return the balance of a topology, the same one every time it is asked for; see `HeatBalance`."""
    return HeatBalance(nodes, upstream, downstream, fixed)
