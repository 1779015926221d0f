r"""The lines: what arrives at each section, and what leaves it.

All sections of all lines stand one after the other on the first axis, the operating points on the last. With the
impedance B = rho a / A of a line, and pressures counted at one height (rho g z added), the waves

.. math:: c^+ = p + B q, \qquad c^- = p - B q

leave a section and arrive at its neighbour one step later. A section lies in the middle of a resistance r (Pa s/m3), of
one reach's friction, so that what arrives meets B' = B + r/2 on each side:

.. math:: q_{in} = (c^+ - p)/B', \quad q_{out} = (p - c^-)/B', \quad p = (c^+ + c^-)/2 .

Where p would fall below the vapour pressure a cavity opens and the flows differ; it is closed by the equation

.. math:: p = \max(p_v, (c^+ + c^-)/2 - V B'/(2 \Delta t)), \quad V \leftarrow V + \Delta t (q_{out} - q_{in}),

which takes exactly the volume V that was opened (discrete vapour cavity, implicit in time). What
leaves is c+ = c- + 2 B q_out downstream and c- = c+ - 2 B q_in upstream. The sum of all waves under way is then the
volume that the line holds, and changes by nothing but the flows through its ends and its cavities.

A wall that widens late by C w takes in :math:`C \dot w = C (p - w)/\tau`, implicit in time, in the middle of a section;
then :math:`p = (c^+ + c^- + B' g w)/(2 + B' g)` with :math:`g = C/(\tau + \Delta t)`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from fuelsim.laws.friction import LineCoefficients, line_resistance
from fuelsim.typing import FloatArray, FloatLike, IndexArray, PointArray
from fuelsim.waves.unsteady_friction import UnsteadyFriction

__all__ = ["LateSections", "LineSections", "LineSweep"]


class LateSections(NamedTuple):
    """What of the walls widens late, by section; at the ends half of a reach's.

    Attributes
    ----------
    compliance : array (sections, 1)
        C, m3/Pa.
    time : array (sections, 1)
        Time constant, s.
    """

    compliance: FloatArray
    time: FloatArray


@dataclass(frozen=True)
class LineSections:
    """Where the sections of each line stand, and what they are made of.

    Attributes
    ----------
    first, last : int array (lines,)
        First and last section of each line.
    line : int array (sections,)
        Line of each section.
    impedance : array (sections, 1)
        B = rho a / A, Pa s/m3.
    friction : LineCoefficients or None
        Coefficients of one reach, (sections, 1 or points); None without friction.
    vapour_pressure : array (sections, 1)
        Vapour pressure, at the height from which all pressures are counted, Pa.
    unsteady : UnsteadyFriction or None
        Friction of a changing profile.
    late : LateSections or None
        Walls that widen late.
    """

    first: IndexArray
    last: IndexArray
    line: IndexArray
    impedance: FloatArray
    friction: LineCoefficients | None
    vapour_pressure: FloatArray
    unsteady: UnsteadyFriction | None = None
    late: LateSections | None = None


class LineSweep:
    """Waves under way in all lines, and the cavities between them.

    Parameters
    ----------
    sections : LineSections
    step : float
        Time step, s.
    pressure : array (sections, points)
        Pressures of the steady flow from which it starts, Pa.
    flow : array (sections, points)
        Its flow, m3/s.

    Attributes
    ----------
    forward, backward : array (sections, points)
        Waves c+ and c- that arrive at each section, Pa; that of an end from outside the line is of no meaning.
    pressure, flow : array (sections, points)
        Pressure, Pa, and flow that arrives from upstream, m3/s, at the last step; at a first section the flow that
        leaves.
    met : array (sections, points)
        B' = B + r/2, Pa s/m3.
    push : array (sections, points) or float
        Half of the unsteady friction that does not depend on the new flow, Pa.
    cavity : array (sections, points)
        Volume of the cavity at each section, m3.
    cavitates : bool
        Whether any cavity is open.
    friction_every : int
        Steps from one evaluation of the resistances to the next.
    """

    def __init__(self, sections: LineSections, step: float, pressure: FloatArray, flow: FloatArray) -> None:
        self.sections, self.step = sections, step
        self.pressure, self.flow = pressure.copy(), flow.copy()
        impedance = sections.impedance
        self.met = impedance + 0.5 * self._resistance()
        self.push: FloatLike = 0.0
        self.forward = pressure + self.met * flow
        self.backward = pressure - self.met * flow
        self.cavity = np.zeros_like(pressure)
        self.cavitates = False
        self.friction_every, self._steps = 1, 0
        self._ends = np.concatenate([sections.first, sections.last])
        self._bounds = sections.vapour_pressure[self._ends]
        self._late_flow: FloatArray | None = None
        if sections.late is not None:
            self._late_flow = sections.late.compliance / (sections.late.time + step)
            self._late_end = self._late_flow[self._ends]
            self._follows = step / (sections.late.time + step)
            self.late_pressure = pressure.copy()
        self._take_resistance()

    def _take_resistance(self) -> None:
        """Work out once what follows from B' until the friction is found anew."""
        self._met_ends = self.met[self._ends]
        if self._late_flow is not None:
            self._met_late = self.met * self._late_flow
            self._halves = 2.0 + self._met_late
            # What the walls at the ends take in is counted among the line's own admittance.
            self._met_late_ends = self._met_ends * self._late_end
            self._together = 1.0 + self._met_late_ends
            self._met_ends = self._met_ends / self._together

    def _resistance(self) -> FloatLike:
        """Return the resistance of one reach's steady friction at the flows, Pa s/m3."""
        return 0.0 if self.sections.friction is None else line_resistance(self.flow, self.sections.friction)

    def meet(self) -> tuple[FloatArray, FloatArray]:
        """Find the friction at the flow that the arriving waves make, and return what arrives at the lines' ends.

        That flow is taken with the resistance of the step before, which is exact in steady flow and leaves an error of
        second order in a changing one; at the ends it is the flow of the step before.

        Returns
        -------
        arrives, met : array (2 lines, points)
            What arrives at the first and then at the last sections, Pa, and the B' it has met, Pa s/m3.
        """
        s = self.sections
        self._steps += 1
        if s.friction is not None and self._steps % self.friction_every == 0:
            flow = (self.forward - self.backward - 2.0 * self.push) / (2.0 * self.met)
            flow[self._ends] = self.flow[self._ends]
            self.flow = flow
            self.met = s.impedance + 0.5 * self._resistance()
            if s.unsteady is not None:
                self.met = self.met + 0.5 * s.unsteady.resistance
                self.push = 0.5 * s.unsteady.remembered()
            self._take_resistance()
        if s.unsteady is None:
            arrives = np.concatenate([self.backward[s.first], self.forward[s.last]])
        else:
            arrives = np.concatenate([(self.backward + self.push)[s.first], (self.forward - self.push)[s.last]])
        if self._late_flow is not None:
            arrives = (arrives + self._met_late_ends * self.late_pressure[self._ends]) / self._together
        return arrives, self._met_ends

    def leave(self, up: FloatArray, down: FloatArray) -> None:
        """Send all waves on to the next section, with the pressures that the ends have taken.

        Parameters
        ----------
        up, down : array (lines, points)
            Pressure at the first and at the last section of each line, Pa.
        """
        s, met = self.sections, self.met
        forward, backward = self.forward - self.push, self.backward + self.push
        late = self._late_flow
        halves: FloatLike = 2.0
        pressure = forward + backward
        if late is None:
            pressure *= 0.5
        else:
            halves = self._halves
            pressure += self._met_late * self.late_pressure
            pressure /= halves
        pressure[self._ends] = self._bounds
        if self.cavitates or bool((pressure < s.vapour_pressure).any()):
            pressure = np.maximum(pressure - self.cavity * met / (halves * self.step), s.vapour_pressure)
            pressure[s.first], pressure[s.last] = up, down
            flow_in, flow_out = (forward - pressure) / met, (pressure - backward) / met
            taken = 0.0 if late is None else late * (pressure - self.late_pressure)
            opened = self.cavity + self.step * (flow_out + taken - flow_in)
            self.cavity = np.where(pressure > s.vapour_pressure, 0.0, np.maximum(opened, 0.0))
            self.cavity[self._ends] = 0.0
            self.cavitates = bool(self.cavity.any())
            flow_in[s.first] = flow_out[s.first]
            flow_out[s.last] = flow_in[s.last]
        else:
            pressure[s.first], pressure[s.last] = up, down
            flow_in = (forward - backward) / (2.0 * met) if late is None else (forward - pressure) / met
            flow_in[s.first] = (up - backward[s.first]) / met[s.first]
            flow_in[s.last] = (forward[s.last] - down) / met[s.last]
            flow_out = flow_in
            if late is not None:
                flow_out = flow_in - late * (pressure - self.late_pressure)
                flow_out[self._ends] = flow_in[self._ends]
        gone_forward = self.backward + 2.0 * s.impedance * flow_out
        gone_backward = self.forward - 2.0 * s.impedance * flow_in
        if s.unsteady is not None:
            s.unsteady.follow(flow_in)
        if late is not None:
            self.late_pressure += self._follows * (pressure - self.late_pressure)
        self.pressure, self.flow = pressure, flow_in
        self.forward, self.backward = np.empty_like(forward), np.empty_like(backward)
        self.forward[1:], self.backward[:-1] = gone_forward[:-1], gone_backward[1:]
        # From outside a line nothing arrives; what stands there instead keeps the numbers bounded.
        self.forward[s.first], self.backward[s.last] = up, down

    def volume(self) -> PointArray:
        """Return the volume that all lines hold over that at zero pressure, less their cavities, (points,), m3."""
        s = self.sections
        forward, backward = self.forward.copy(), self.backward.copy()
        forward[s.first] = 0.0
        backward[s.last] = 0.0
        held: PointArray = (0.5 * self.step / s.impedance * (forward + backward) - self.cavity).sum(axis=0)
        if s.late is not None:
            held = held + (s.late.compliance * self.late_pressure).sum(axis=0)
        return held

    def energy(self) -> PointArray:
        """Return the energy of all waves under way, elastic and of motion, from zero pressure, (points,), J."""
        s = self.sections
        forward, backward = self.forward.copy(), self.backward.copy()
        forward[s.first] = 0.0
        backward[s.last] = 0.0
        held: PointArray = (0.25 * self.step / s.impedance * (forward**2 + backward**2)).sum(axis=0)
        return held
