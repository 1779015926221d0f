r"""Friction of a flow whose profile follows its changes with delay.

Beside steady friction a line loses

.. math:: \frac{dp}{dx} = \frac{16 \mu}{D^2} \int_0^t \frac{dv}{dt'} W(\tau - \tau')\,dt', \quad \tau = 4 \nu t/D^2

in the form of Zielke (1968). Laminar flow has :math:`W = \sum_j e^{-z_j^2 \tau}` over the zeros of the Bessel function
J2, which follows from the Laplace transform of the flow in a round tube; turbulent flow in a smooth
line :math:`W = e^{-B^* \tau} / (2 \sqrt{\pi \tau})` with B* = Re^k/12.86, k = log10(15.29 Re^-0.0567) (Vardy &
Brown 2003 [vardy_brown_2003]), with Re of the flow at the start. Both are sums of exponentials,

.. math:: \frac{1}{2 \sqrt{\pi \tau}} = \int_0^\infty e^{-x^2 \tau} \frac{dx}{\pi} ,

by a midpoint rule in ln x on cells whose ends have a ratio of 1.5; of the zeros of J2, which lie pi apart,
the first are taken one by one. Each exponential remembers the past in one number for a section.
"""

from __future__ import annotations

import numpy as np

from fuelsim.laws.friction import LAMINAR_LIMIT
from fuelsim.typing import FloatArray

__all__ = ["UnsteadyFriction", "weights_of_memory"]

_ZEROS = 3
"""Zeros of J2 taken one by one."""
_RATIO = 1.5
"""Upper over lower end of each cell."""
_CELLS = 17
_FIRST_CELL = 1.0
"""Width of the first cell of turbulent flow, whose W is smooth below."""


def weights_of_memory(reynolds: float) -> tuple[FloatArray, FloatArray]:
    """Return m and n of W = sum m exp(-n tau).

    Parameters
    ----------
    reynolds : float
        Reynolds number of the flow at the start.

    Returns
    -------
    weights, rates : array (terms,)
        m and n, dimensionless.

    Examples
    --------
    Zielke's series gives 1.6865 at tau = 0.01:

    >>> weights, rates = weights_of_memory(0.0)
    >>> bool(abs(np.sum(weights * np.exp(-0.01 * rates)) - 1.6865) < 0.01)
    True
    """
    width = np.log(_RATIO)
    if reynolds <= LAMINAR_LIMIT:
        from scipy.special import jn_zeros

        zeros = jn_zeros(2, _ZEROS)
        edges = (zeros[-1] + 0.5 * np.pi) * _RATIO ** np.arange(_CELLS)
        middle = np.sqrt(edges[:-1] * edges[1:])
        return np.concatenate([np.ones(_ZEROS), width * middle / np.pi]), np.concatenate([zeros**2, middle**2])
    decay = reynolds ** np.log10(15.29 * reynolds**-0.0567) / 12.86
    edges = _FIRST_CELL * _RATIO ** np.arange(_CELLS + 6)
    middle = np.concatenate([[0.5 * _FIRST_CELL], np.sqrt(edges[:-1] * edges[1:])])
    widths = np.concatenate([[_FIRST_CELL], width * middle[1:]])
    return widths / np.pi, middle**2 + decay


class UnsteadyFriction:
    """Memory of the flow's changes at every section.

    Parameters
    ----------
    step : float
        Time step, s.
    flow : array (sections, points)
        Flow at the start, m3/s.
    loss : array (sections, 1)
        16 rho nu dx / (D^2 A) of one reach, Pa s/m3.
    rate : array (sections, 1)
        4 nu / D^2, 1/s.
    reynolds : array (sections,)
        Reynolds number at the start, of the fastest point.

    Attributes
    ----------
    resistance : array (sections, 1)
        What a change of flow during the step costs, Pa s/m3.
    """

    def __init__(self, step: float, flow: FloatArray, loss: FloatArray, rate: FloatArray, reynolds: FloatArray) -> None:
        terms = [weights_of_memory(float(each)) for each in reynolds]
        longest = max(len(weights) for weights, _ in terms)
        weights, rates = np.zeros((longest, len(terms), 1)), np.ones((longest, len(terms), 1))
        for section, (own_weights, own_rates) in enumerate(terms):
            weights[: len(own_weights), section, 0] = own_weights
            rates[: len(own_rates), section, 0] = own_rates
        exponent = rates * rate * step
        self._decay = np.exp(-exponent)
        # The mean over a step during which the flow changes evenly.
        self._weight = weights * -np.expm1(-exponent) / exponent
        self._loss = loss
        self._memory = np.zeros((longest, *flow.shape))
        self._flow = flow
        self.resistance = loss * self._weight.sum(axis=0)

    def remembered(self) -> FloatArray:
        """Return the loss of a reach at no new flow, from the changes so far, (sections, points), Pa."""
        self._memory *= self._decay
        past: FloatArray = self._loss * self._memory.sum(axis=0) - self.resistance * self._flow
        return past

    def follow(self, flow: FloatArray) -> None:
        """Remember the change to a new flow.

        Parameters
        ----------
        flow : array (sections, points)
            m3/s.
        """
        self._memory += self._weight * (flow - self._flow)
        self._flow = flow
