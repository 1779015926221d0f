"""Steady heat along the flow: what temperature the fuel has at each node of a network.

The temperature carried along is the temperature the fuel would have if it were all liquid, which is its enthalpy
in kelvin: where part of it has boiled, the liquid is cooler and the rest of the heat is in the vapour.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fuelsim.typing import FloatArray, FloatLike, PointArray

__all__ = ["HeatLink", "node_temperatures", "outlet_temperature"]


@dataclass(frozen=True)
class HeatLink:
    """One link as the heat balance sees it; arrays are (points,).

    Attributes
    ----------
    name, upstream, downstream : str
        The link and its nodes.
    mass_flow : array
        kg/s, positive from upstream to downstream.
    surroundings_temperature : array or float
        K, mean of the surroundings weighted by conductance.
    conductance : array or float
        W/K in all.
    power : array or float
        Heat given to the fuel in the link beside the exchange, W.
    pressure_heating : array or float
        Temperature rise by the pressure drop along the link at constant enthalpy, K, in the flow's direction.
    """

    name: str
    upstream: str
    downstream: str
    mass_flow: PointArray
    surroundings_temperature: FloatLike
    conductance: FloatLike
    power: FloatLike = 0.0
    pressure_heating: FloatLike = 0.0


SMALLEST_CONDUCTANCE = 0.05
"""W/K by which any part loses heat, so that power into still fuel gives a finite temperature."""


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
    total = np.maximum(conductance, SMALLEST_CONDUCTANCE)
    transfer_units = total / np.maximum(capacity_flow, 1e-12 * total)
    # (1 - exp(-N)) is the share of the way to equilibrium; expm1 keeps it exact at large flow.
    share = -np.expm1(-transfer_units)
    exchanged = share * (np.asarray(surroundings_temperature) - inlet_temperature)
    adiabatic = np.asarray(conductance) <= 0.0
    outlet: FloatArray = inlet_temperature + np.where(adiabatic, 0.0, exchanged) + share * np.asarray(power) / total
    return outlet


def node_temperatures(
    links: Sequence[HeatLink],
    fixed: Mapping[str, PointArray],
    heat_capacity: FloatLike,
    *,
    stagnant_temperature: PointArray,
    sweeps: int = 12,
) -> tuple[dict[str, PointArray], dict[str, PointArray]]:
    """Return the temperature of every node and at the outlet of every link.

    A node takes the mean of what flows into it, weighted by mass flow; where nothing flows, it takes what the links
    around it would tend to. Links are visited in order, again and again until nothing moves: one visit is enough
    where they are listed in the direction of flow.

    Parameters
    ----------
    links : sequence of HeatLink
        Best listed in the direction of the flow.
    fixed : mapping of str to array
        Nodes of given temperature (tank, manifold), K.
    heat_capacity : float or array (points,)
        J/kg K.
    stagnant_temperature : array (points,)
        Temperature of a node that no flow reaches, K.
    sweeps : int
        Greatest number of visits.

    Returns
    -------
    nodes : dict of str to array
        K.
    outlets : dict of str to array
        Temperature at the downwind end of each link, K.
    """
    shape = np.shape(stagnant_temperature)
    names = dict.fromkeys(name for link in links for name in (link.upstream, link.downstream))
    nodes = {
        name: np.broadcast_to(np.asarray(fixed.get(name, stagnant_temperature), dtype=float), shape) for name in names
    }
    touching = {name: [link for link in links if name in (link.upstream, link.downstream)] for name in names}
    outlets: dict[str, PointArray] = {}
    for _ in range(sweeps):
        change = 0.0
        for link in links:
            forward = np.asarray(link.mass_flow) >= 0.0
            one_way = bool(np.all(forward))
            inlet = nodes[link.upstream]
            if not one_way:
                inlet = np.where(forward, inlet, nodes[link.downstream])
            capacity_flow = np.abs(link.mass_flow) * heat_capacity
            exchanged = outlet_temperature(
                inlet, link.surroundings_temperature, link.conductance, capacity_flow, link.power
            )
            outlets[link.name] = exchanged + link.pressure_heating
            for node in (link.downstream,) if one_way else (link.downstream, link.upstream):
                if node not in fixed:
                    mixed = _mixed(node, touching[node], outlets, nodes[node])
                    change = max(change, float(np.max(np.abs(mixed - nodes[node]), initial=0.0)))
                    nodes[node] = mixed
        if change < 1e-9:
            break
    return nodes, outlets


def _mixed(node: str, links: Sequence[HeatLink], outlets: Mapping[str, PointArray], present: PointArray) -> PointArray:
    """Return the mean of the temperatures flowing into a node, weighted by mass flow."""
    weights, total = np.zeros(np.shape(present)), np.zeros(np.shape(present))
    for link in links:
        if link.name not in outlets:
            continue
        inflow = np.maximum(link.mass_flow if link.downstream == node else -np.asarray(link.mass_flow), 0.0)
        weights = weights + inflow
        total = total + inflow * outlets[link.name]
    if np.all(weights > 0.0):
        return total / weights
    # A node that nothing flows into takes the temperature to which the link that exchanges most there tends.
    around = [link for link in links if link.name in outlets]
    tendency, most = present, np.full(np.shape(present), -1.0)
    for link in around:
        more = np.asarray(link.conductance) > most
        tendency, most = np.where(more, outlets[link.name], tendency), np.where(more, link.conductance, most)
    return np.where(weights > 0.0, total / np.where(weights > 0.0, weights, 1.0), tendency)
