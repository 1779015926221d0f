r"""The same plumbing in the domain of frequencies: small swings, exact lines, no steps in time.

Every line is its exact transmission line, with the walls that widen late as a shunt; regulators, rotors, injectors and
all other parts are the linear forms of the equations by which the waves follow them. The injectors' pulses are a
Fourier series of draws. One linear system of the stations' pressures at each harmonic is left, and its answers, added
up, are the swing of each pressure over a cycle.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from fuelsim.laws.friction import LINE, LineCoefficients, line_loss
from fuelsim.laws.link import LinkLaw
from fuelsim.network.solver.assemble import stacked_coefficients
from fuelsim.parts.line import Line
from fuelsim.ripple.car_waves import CarWaves
from fuelsim.ripple.dynamics import Dynamics
from fuelsim.typing import FloatArray
from fuelsim.waves.junctions import LinearGroup, Links
from fuelsim.waves.moving_parts import RegulatorMotion, steady_loss

__all__ = ["admittances", "swings_by_transfer"]

ComplexArray = NDArray[np.complex128]
_HIGHEST = 4000.0
"""Frequency up to which harmonics are added up, Hz."""
_MOMENTS = 512
"""Moments of a cycle at which the sum is evaluated."""


def admittances(waves: CarWaves, dynamics: Dynamics, point: int, frequency: FloatArray) -> ComplexArray:
    """Return what flows into the stations for each pascal at each of them.

    Parameters
    ----------
    waves : CarWaves
    dynamics : Dynamics
    point : int
        Which of its points.
    frequency : array (frequencies,)
        Hz.

    Returns
    -------
    array (frequencies, stations, stations)
        m3/s/Pa; vessels, which do not swing, are left out.
    """
    net, given, setup = waves.network, waves.given, waves.setup
    node_of = net.elements.numbers()
    omega = 2.0 * np.pi * frequency
    free, size = len(net.nodes), len(node_of) + 1
    matrix: ComplexArray = np.zeros((len(omega), size, size), dtype=complex)
    density = float(given.liquid.density)
    for name, link in net.links.items():
        if isinstance(link.part, Line):
            own, between = _line(waves, name, link.part, point, omega, density)
            up, down = node_of[link.up], node_of[link.down]
            for row, column, value in ((up, up, own), (down, down, own), (up, down, between), (down, up, between)):
                matrix[:, row, column] += value
    for name, damper in given.dampers.items():
        matrix[:, node_of[name], node_of[name]] += 1j * omega * damper.compliance
    nodes, injection = setup.nodes, waves.injection
    pressure = waves_pressures(waves)[:, point]
    if nodes.ports is not None:
        ports = nodes.ports
        push = pressure[ports.node] - pressure[ports.into] - ports.lift[:, 0]
        mean = (injection.conductance * injection.open_fraction)[:, point]
        for node, value in zip(ports.node, 0.5 * mean / np.sqrt(push), strict=True):
            matrix[:, node, node] += value
    links = nodes.links
    regulators = nodes.regulators
    moving = {} if regulators is None else {int(row): number for number, row in enumerate(regulators.rows)}
    for row, name in enumerate(setup.lumped):
        if isinstance(net.links[name].part, Line):
            continue
        if row in moving and isinstance(regulators, RegulatorMotion):
            _add_regulator(matrix, waves, links, regulators, moving[row], row, point, omega, dynamics)
            continue
        by_up, by_down, by_reference = _slopes(waves, links, row, name, point, omega, dynamics)
        up, down, reference = links.up[row], links.down[row], links.reference[row]
        for at, sign in ((up, 1.0), (down, -1.0)):
            matrix[:, at, up] += sign * by_up
            matrix[:, at, down] += sign * by_down
            matrix[:, at, reference] += sign * by_reference
    return matrix[:, :free, :free]


def waves_pressures(waves: CarWaves) -> FloatArray:
    """Return the steady pressures as the waves count them, all at one height, (stations, points), Pa."""
    steady = np.stack([np.atleast_1d(waves.steady.pressure[name]) for name in waves.network.elements.numbers()])
    return steady + waves.setup.node_head


def _line(
    waves: CarWaves, name: str, line: Line, point: int, omega: FloatArray, density: float
) -> tuple[ComplexArray, ComplexArray]:
    """Return the admittance of a line at each end and between its ends, m3/s/Pa."""
    length, area = float(line.length), float(line.cross_section)
    own = stacked_coefficients(LINE, [line.coefficients(waves.given.liquids[name])])
    scale = density / np.atleast_1d(waves.given.liquids[name].density)
    flow = np.atleast_1d(waves.steady.mass_flow[name])[None] / density
    _, slope = line_loss(flow * scale, LineCoefficients(*own))
    resistance = float(np.broadcast_to(slope * scale, flow.shape)[0, point]) / length
    series = resistance + 1j * omega * density / area
    shunt = _complex(1j * omega * area / (density * waves.setup.speeds[name] ** 2))
    late = waves.given.late_walls.get(name)
    if late is not None and name in waves.setup.waved:
        shunt = shunt + 1j * omega * area * late.compliance / (1.0 + 1j * omega * late.time)
    gamma = _complex(np.sqrt(series * shunt) * length)
    impedance = _complex(np.sqrt(series / shunt))
    return 1.0 / (impedance * np.tanh(gamma)), -1.0 / (impedance * np.sinh(gamma))


def _complex(values: object) -> ComplexArray:
    return np.asarray(values, dtype=np.complex128)


def _add_regulator(
    matrix: ComplexArray,
    waves: CarWaves,
    links: Links,
    regulators: RegulatorMotion,
    number: int,
    row: int,
    point: int,
    omega: FloatArray,
    dynamics: Dynamics,
) -> None:
    """Add a regulator whose lift follows the controlled pressure: its flow, and what its diaphragm sweeps."""
    up, down, pressure = links.up[row], links.down[row], waves_pressures(waves)[:, point]
    flow = float(_steady_flow(waves, row)[point])
    ratings = regulators.ratings
    excess = float(ratings.droop[number, point]) * flow
    if excess <= 0.0:
        return
    difference = float(pressure[up] - pressure[down])
    natural = 2.0 * np.pi * float(dynamics.regulator_frequency)
    answer = natural**2 / (natural**2 - omega**2 + 2j * float(dynamics.regulator_damping) * natural * omega)
    by_lift = flow / excess * answer
    swept = 1j * omega * float(dynamics.swept_volume) / 1e5 * answer
    coupling = float(ratings.coupling[number, point])
    direct = 0.5 * flow / difference
    if regulators.controls_up[number]:
        by_up, by_down = direct + by_lift, -direct - coupling * by_lift
        matrix[:, up, up] += swept
        matrix[:, up, down] -= coupling * swept
    else:
        by_up, by_down = direct + 0.0 * omega, -direct - by_lift
        matrix[:, down, down] += swept
    matrix[:, up, up] += by_up
    matrix[:, up, down] += by_down
    matrix[:, down, up] -= by_up
    matrix[:, down, down] -= by_down


def _steady_flow(waves: CarWaves, row: int) -> FloatArray:
    name = waves.setup.lumped[row]
    return np.atleast_1d(waves.steady.mass_flow[name]) / float(waves.given.liquid.density)


def _slopes(
    waves: CarWaves, links: Links, row: int, name: str, point: int, omega: FloatArray, dynamics: Dynamics
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Return by how much a link's flow follows the pressures at both ends and of its reference, m3/s/Pa."""
    flow = _steady_flow(waves, row)[None]
    for group in links.groups:
        if not group.rows.start <= row < group.rows.stop:
            continue
        at = row - group.rows.start
        if isinstance(group, LinearGroup):
            fast = float(np.broadcast_to(group.resistance, (len(group.resistance), flow.shape[1]))[at, point])
            settled = 1.0 / (1.0 + 1j * omega * float(dynamics.rotor_time))
            slow = fast * (1.0 - float(dynamics.rotor_share))
            follows = _complex(1.0 / (fast + (slow - fast) * settled))
            return follows, -follows, 0.0 * follows
        flows = np.broadcast_to(flow, (group.rows.stop - group.rows.start, flow.shape[1]))
        if group.law.loss is not None:
            slope = steady_loss(group, flows)[1]
            follows = _complex(1.0 / np.broadcast_to(slope, flows.shape)[at, point] + 0j * omega)
            return follows, -follows, 0.0 * follows
        return _equation_slopes(waves, links, group.law, group.rows, at, point, omega)
    raise KeyError(name)


def _equation_slopes(
    waves: CarWaves, links: Links, law: LinkLaw, rows: slice, at: int, point: int, omega: FloatArray
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    pressure = waves_pressures(waves)
    with_atmosphere = np.concatenate(
        [pressure, np.broadcast_to(waves.network.atmospheric_pressure, (1, pressure.shape[1]))]
    )
    group = next(each for each in links.groups if each.rows == rows and not isinstance(each, LinearGroup))
    if law.equation is None or isinstance(group, LinearGroup):
        raise TypeError(f"{law.name} has no equation")
    flow = np.stack([_steady_flow(waves, row) for row in range(rows.start, rows.stop)])
    found = law.equation(
        flow * group.scale,
        pressure[links.up[rows]] - links.up_head[rows],
        pressure[links.down[rows]] - links.down_head[rows],
        with_atmosphere[links.reference[rows]] - links.reference_head[rows],
        group.coefficients,
    )
    slope, up, down, reference = (
        float(np.broadcast_to(each, flow.shape)[at, point])
        for each in (found.flow_slope * group.scale, found.up_slope, found.down_slope, found.reference_slope)
    )
    one = _complex(1.0 + 0j * omega)
    return up / slope * one, -down / slope * one, -reference / slope * one


def swings_by_transfer(waves: CarWaves, dynamics: Dynamics) -> Mapping[str, FloatArray]:
    """Return the swing of each station's pressure over a cycle from peak to peak, without the pumps' ripple.

    Parameters
    ----------
    waves : CarWaves
    dynamics : Dynamics

    Returns
    -------
    mapping of str to array (points,)
        Pa.
    """
    nodes, injection = waves.setup.nodes, waves.injection
    if nodes.ports is None:
        raise TypeError("no injectors")
    names = list(waves.network.nodes)
    swings = np.empty((len(names), len(injection.window)))
    node = nodes.ports.node
    angle = 2.0 * np.pi * np.arange(_MOMENTS) / _MOMENTS
    for point, window in enumerate(injection.window.tolist()):
        harmonics = np.arange(1, max(2, int(_HIGHEST * window)) + 1)
        matrix = admittances(waves, dynamics, point, harmonics / window)
        fraction = injection.open_fraction[:, point]
        push = waves.delivered[:, point] / np.maximum(fraction, 1e-12)
        # Of a pulse that begins at -phase and lasts a fraction D of the window.
        k = harmonics[:, None]
        pulses = (
            push
            * (1.0 - np.exp(-2j * np.pi * k * fraction))
            / (2j * np.pi * k)
            * np.exp(2j * np.pi * k * injection.phase)
        )
        drawn = np.zeros((len(harmonics), len(names)), dtype=complex)
        for port, at in enumerate(node):
            drawn[:, at] -= pulses[:, port]
        answer = np.linalg.solve(matrix, drawn[..., None])[..., 0]
        waveform = 2.0 * np.real(np.exp(1j * np.outer(angle, harmonics)) @ answer)
        swings[:, point] = np.ptp(waveform, axis=0)
    return dict(zip(names, swings, strict=True))
