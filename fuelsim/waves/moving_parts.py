r"""Parts whose state lags behind the pressures: regulators with a mass and a damper, pumps with a rotor.

A regulator is an orifice whose lift follows the force on its diaphragm as a mass on a spring with a damper. With the
excess e of the controlled pressure over the one at which it opens, as the lift tells it,

.. math:: \ddot e + 2 \zeta \omega \dot e + \omega^2 e = \omega^2 u, \qquad q = K \sqrt{p_u - p_d},
   \quad K = \frac{e/d}{\sqrt{(p_u - p_d)_0}},

where u is the excess that the pressures make, d the droop and :math:`(p_u - p_d)_0` the difference at the start, at
which the droop counts. At rest e = u and q = u/d, the steady law. Its diaphragm sweeps the volume C e, taken in from
the side that it controls: without that a regulator with a mass would not be stable at a rail as stiff as the fuel (by
Routh's criterion, with a volume of compliance V beside it, :math:`2 \zeta \omega (C + V) > 1/d`). The step in time is
exact for a constant u, which is taken at its end, so that the swept volume is implicit in the pressure; the lift is
that of the step's start.

A pump turned by a motor gives at once no more than its constant-speed curve does, of the slope R; its flow settles on
the steady curve H as the rotor finds its speed,

.. math:: p_d - p_u = H(\bar q) - R (q - \bar q), \qquad \tau \dot{\bar q} = q - \bar q .
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fuelsim.typing import FloatArray, IndexArray, LinkArray
from fuelsim.waves.junctions import LinearGroup, LinkGroup

__all__ = ["RegulatorMotion", "RegulatorRatings", "RotorMotion", "step_matrix"]


def step_matrix(frequency: float, damping_ratio: float, step: float) -> FloatArray:
    """Return the matrix that takes deviation and speed of a damped mass on a spring over one step.

    Parameters
    ----------
    frequency : float
        Natural frequency without damping, Hz.
    damping_ratio : float
        Damping over the critical one.
    step : float
        Time step, s.

    Returns
    -------
    array (2, 2)
        For the deviation from rest and its rate over the angular frequency.

    Examples
    --------
    A quarter of a period without damping turns all deviation into speed:

    >>> abs(step_matrix(10.0, 0.0, 0.025)).round(9).tolist()
    [[0.0, 1.0], [1.0, 0.0]]
    """
    from scipy.linalg import expm

    angle = 2.0 * np.pi * frequency * step
    matrix: FloatArray = expm(angle * np.array([[0.0, 1.0], [-1.0, -2.0 * damping_ratio]]))
    return matrix


@dataclass(frozen=True)
class RegulatorRatings:
    """What is known of regulators, one row each.

    Attributes
    ----------
    set_pressure, droop, coupling : array (regulators, 1 or points)
        As in the steady law, Pa, Pa s/m3 of the flow that the network counts, and a fraction of the back pressure.
    most_conductance : array (regulators, 1 or points)
        Flow of the wide-open seat over the root of its loss, m3/s/Pa^0.5.
    difference : array (regulators, 1 or points)
        Pressure difference at which the droop counts, Pa.
    reducing : bool array (regulators, 1)
        Whether it holds the pressure behind it.
    """

    set_pressure: FloatArray
    droop: FloatArray
    coupling: FloatArray
    most_conductance: FloatArray
    difference: FloatArray
    reducing: FloatArray

    def opens_at(self, down: LinkArray, reference: LinkArray) -> LinkArray:
        """Return the pressure that is held at no flow, Pa."""
        held: LinkArray = reference + self.set_pressure + self.coupling * (down - reference)
        return held


class RegulatorMotion:
    """The lifts of regulators over time, and what their diaphragms sweep.

    Parameters
    ----------
    rows : int array (regulators,)
        Their links.
    ratings : RegulatorRatings
    excess : array (regulators, points)
        Excess of the pressure at the start, Pa.
    frequency : float
        Natural frequency, Hz.
    damping_ratio : float
    swept : float
        Volume swept for each pascal of excess, C, m3/Pa.
    step : float
        Time step, s.

    Attributes
    ----------
    excess : array (regulators, points)
        Excess that the lift tells, Pa.
    taken : array (regulators, points)
        Volume taken in by the diaphragms, m3.
    """

    def __init__(
        self,
        rows: IndexArray,
        ratings: RegulatorRatings,
        excess: FloatArray,
        frequency: float,
        damping_ratio: float,
        swept: float,
        step: float,
    ) -> None:
        self.rows, self.ratings = rows, ratings
        self.excess, self.rate = np.maximum(excess, 0.0), np.zeros_like(excess)
        self.taken = swept * self.excess
        self.controls_up = ~ratings.reducing[:, 0].astype(bool)
        self._sign = np.where(self.controls_up, 1.0, -1.0)[:, None]
        self._matrix = step_matrix(frequency, damping_ratio, step)
        self._swept, self._step = swept, step
        self.rate_at(ratings.difference)

    def rate_at(self, difference: FloatArray) -> None:
        """Let the droop count at another pressure difference.

        Parameters
        ----------
        difference : array (regulators, points)
            Pa.
        """
        # The excess at which the seat stands wide open.
        self._most = self.ratings.droop * self.ratings.most_conductance * np.sqrt(difference)

    def openings(self) -> LinkArray:
        """Return the conductances of the seats over those of the wide-open ones, (regulators, points); 0 where shut."""
        opening: LinkArray = self.excess / self._most
        return opening

    def flow_in(self, down: LinkArray, reference: LinkArray) -> tuple[float, LinkArray]:
        """Return what the diaphragms take in at the controlled pressure p: the slope G and Q of G p + Q.

        Parameters
        ----------
        down, reference : array (regulators, points)
            Pressures, Pa absolute; of one that reduces, the pressure behind it matters only as p.
        """
        matrix = self._matrix
        slope = self._swept * (1.0 - matrix[0, 0]) / self._step
        held = self.ratings.opens_at(down, reference)
        kept = self._swept * (matrix[0, 0] * self.excess + matrix[0, 1] * self.rate) - self.taken
        return slope, self._sign * kept / self._step - slope * held

    def follow(self, controlled: LinkArray, down: LinkArray, reference: LinkArray, flow_in: LinkArray) -> None:
        """Move by one step.

        Parameters
        ----------
        controlled, down, reference : array (regulators, points)
            Pressures, Pa absolute: the controlled one at the end of the step, the others as `flow_in` had them.
        flow_in : array (regulators, points)
            What the diaphragms took in, m3/s.
        """
        matrix = self._matrix
        pushed = self._sign * (controlled - self.ratings.opens_at(down, reference))
        away = self.excess - pushed
        excess = pushed + matrix[0, 0] * away + matrix[0, 1] * self.rate
        rate = matrix[1, 0] * away + matrix[1, 1] * self.rate
        stopped = (excess < 0.0) | (excess > self._most)
        if stopped.any():
            # A stop takes the speed without a rebound.
            rate = np.where(stopped, 0.0, rate)
            excess = np.clip(excess, 0.0, self._most)
        self.excess, self.rate = excess, rate
        self.taken = self.taken + self._step * self._sign * flow_in


class RotorMotion:
    """Pumps of one law with the inertia of their rotors.

    Parameters
    ----------
    group : LinkGroup
        Their steady law.
    linear : LinearGroup
        What takes its place at each step.
    flow : array (pumps, points)
        At the start, m3/s.
    time : float
        Time in which the rotor finds its speed, s.
    step : float
        Time step, s.
    """

    def __init__(self, group: LinkGroup, linear: LinearGroup, flow: LinkArray, time: float, step: float) -> None:
        self.group, self.linear, self.settled = group, linear, flow.copy()
        self._every = max(1, int(time / (_STEPS_OF_ROTOR * step)))
        self._share = -np.expm1(-self._every * step / time)
        self._count = 0

    def advance(self, flow: LinkArray) -> None:
        """Let the rotors follow the flow of the last step.

        Parameters
        ----------
        flow : array (pumps, points)
            m3/s.
        """
        self._count += 1
        if self._count % self._every:
            return
        self.settled = self.settled + self._share * (flow - self.settled)
        self.renew()

    def renew(self) -> None:
        """Put the steady law as it is now into the linear one."""
        self.linear.source[:] = self.linear.resistance * self.settled - steady_loss(self.group, self.settled)[0]


_STEPS_OF_ROTOR = 50
"""Steps of a rotor in its time constant."""


def steady_loss(group: LinkGroup, flow: LinkArray) -> tuple[LinkArray, LinkArray]:
    """Return loss and slope of links by their steady law, at flows as the network counts them.

    Parameters
    ----------
    group : LinkGroup
        Links of a law with a loss.
    flow : array (links, points)
        m3/s.
    """
    if group.law.loss is None:
        raise TypeError(f"{group.law.name} has no loss")
    loss, slope = group.law.loss(flow * group.scale, group.coefficients)
    return loss, slope * group.scale
