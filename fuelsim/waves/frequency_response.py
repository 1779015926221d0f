r"""Small pulsations of a network: exact lines in the domain of frequencies, all else linearised at the steady flow.

A line of length l with the resistance R, inertance L = rho/A and compliance C = A/(rho a^2) of each metre has

.. math:: \gamma = \sqrt{(R + i \omega L)\, i \omega C}, \quad Z = \sqrt{(R + i \omega L)/(i \omega C)},

and passes between its ends as much as the admittances coth(gamma l)/Z at each end and -1/(Z sinh(gamma l)) between
them say. Every other link is the linear form of its steady equation, a damper the admittance i omega C. What is left is
one linear system of the nodes' pressures at each frequency.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fuelsim.arguments import number
from fuelsim.constants import GRAVITY
from fuelsim.errors import InputError, nearest
from fuelsim.laws.friction import LINE
from fuelsim.laws.link import LinkLaw
from fuelsim.network.elements import Link
from fuelsim.network.inputs import WaveInputs
from fuelsim.network.network import Network
from fuelsim.network.solver.assemble import stacked_coefficients
from fuelsim.network.state import ByName, State
from fuelsim.parts.line import Line
from fuelsim.typing import FloatArray
from fuelsim.waves.over_time import over_time
from fuelsim.waves.response_result import FrequencyResponse
from fuelsim.waves.transient import check_names, steady_start, wave_speeds

__all__ = ["frequency_response_of"]

ComplexArray = NDArray[np.complex128]
_DRAW = number("volume flow", -100.0, 100.0, example="60 L/h", single=True)


def frequency_response_of(net: Network, given: WaveInputs, node: str, frequency: FloatArray) -> FrequencyResponse:
    """Return the pressures over a small pulsating draw at a node; `Network.frequency_response` says what is given.

    Parameters
    ----------
    net : Network
    given : WaveInputs
    node : str
    frequency : array (frequencies,)
        Hz.

    Returns
    -------
    FrequencyResponse
    """
    if node not in net.nodes:
        raise InputError("no node of this name", given=node, accepted=nearest(node, net.nodes), key="node")
    check_names(net, given)
    draws = {name: over_time(value, _DRAW, name, "draw") for name, value in given.draw.items()}
    steady = steady_start(net, given, draws, {}, {})
    if any(np.ndim(value) for value in steady.pressure.values()):
        raise InputError("values at many points", accepted="a network of single values")
    node_of = net.elements.numbers()
    omega = 2.0 * np.pi * frequency
    nodes = len(node_of)
    # The atmosphere, to which a link may refer, is the last; it does not swing, and neither does a reservoir.
    admittance: ComplexArray = np.zeros((len(omega), nodes + 1, nodes + 1), dtype=complex)
    lines = {name: link.part for name, link in net.links.items() if isinstance(link.part, Line)}
    speeds = wave_speeds(lines, given)
    for name, link in net.links.items():
        up, down = node_of[link.up], node_of[link.down]
        if name in lines:
            own, between = _line_admittances(lines[name], speeds[name], given, float(steady.flow[name]), omega)
            admittance[:, up, up] += own
            admittance[:, down, down] += own
            admittance[:, up, down] += between
            admittance[:, down, up] += between
            continue
        reference = nodes if link.reference is None else node_of[link.reference]
        by_up, by_down, by_reference = _link_slopes(net, link, given, steady, float(steady.flow[name]))
        for row, sign in ((up, 1.0), (down, -1.0)):
            admittance[:, row, up] += sign * by_up
            admittance[:, row, down] += sign * by_down
            admittance[:, row, reference] += sign * by_reference
    for name, damper in given.dampers.items():
        admittance[:, node_of[name], node_of[name]] += 1j * omega * damper.compliance
    free = len(net.nodes)
    drawn = np.zeros(free)
    drawn[node_of[node]] = -1.0
    swing = np.linalg.solve(admittance[:, :free, :free], np.broadcast_to(drawn[:, None], (len(omega), free, 1)))[..., 0]
    return FrequencyResponse(
        frequency=frequency,
        node=node,
        amplitude=ByName.of_values("node", {name: np.abs(swing[:, node_of[name]]) for name in net.nodes}, {}),
        phase=ByName.of_values("node", {name: np.angle(swing[:, node_of[name]]) for name in net.nodes}, {}),
    )


def _line_admittances(
    line: Line, speed: float, given: WaveInputs, flow: float, omega: FloatArray
) -> tuple[ComplexArray, ComplexArray]:
    """Return the admittance of a line at each end and between its ends, m3/s/Pa."""
    length, area = float(line.length), float(line.cross_section)
    density = float(given.liquid.density)
    resistance: float = 0.0
    if given.friction != "none":
        _, slope = _loss(LINE, line.coefficients(given.liquid), flow)
        resistance = slope / length
    series = resistance + 1j * omega * density / area
    shunt = 1j * omega * area / (density * speed**2)
    gamma: ComplexArray = np.asarray(np.sqrt(series * shunt) * length, dtype=complex)
    impedance: ComplexArray = np.asarray(np.sqrt(series / shunt), dtype=complex)
    return 1.0 / (impedance * np.tanh(gamma)), -1.0 / (impedance * np.sinh(gamma))


def _loss(law: LinkLaw, own: object, flow: float) -> tuple[float, float]:
    """Return loss and slope of a law at one flow."""
    if law.loss is None or not isinstance(own, law.coefficients):
        raise TypeError(f"{law.name} has no loss")
    loss, slope = law.loss(np.array([[flow]]), stacked_coefficients(law, [own]))
    return float(np.asarray(loss).item()), float(np.broadcast_to(slope, (1, 1)).item())


def _link_slopes(net: Network, link: Link, given: WaveInputs, steady: State, flow: float) -> tuple[float, float, float]:
    """Return by how much a link's flow follows the pressures at both ends and of its reference, m3/s/Pa."""
    own = link.part.coefficients(given.liquid)
    law = link.part.law
    if law.equation is None:
        _, slope = _loss(law, own, flow)
        return 1.0 / slope, -1.0 / slope, 0.0
    up, down = float(steady.pressure[link.up]), float(steady.pressure[link.down])
    reference = float(net.atmospheric_pressure if link.reference is None else steady.pressure[link.reference])
    height = dict(zip(net.elements.numbers(), net.elements.heights(), strict=True))
    head = GRAVITY * float(given.liquid.density) * (height[link.up] - height[link.down])
    if law.head_applied_at == "down":
        down -= head
    else:
        up += head
    found = law.equation(
        *(np.array([[value]]) for value in (flow, up, down, reference)), stacked_coefficients(law, [own])
    )
    slope, by_up, by_down, by_reference = (
        float(np.broadcast_to(each, (1, 1)).item())
        for each in (found.flow_slope, found.up_slope, found.down_slope, found.reference_slope)
    )
    return by_up / slope, -by_down / slope, -by_reference / slope
