"""The overflow of a pot: fuel runs out through it, but only air comes in."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.laws.friction import LINE, LineCoefficients, line_loss
from fuelsim.laws.link import LawSample, LinkLaw, Regime
from fuelsim.numerics.smooth import smooth_maximum
from fuelsim.typing import FloatLike, IndexArray, LinkArray

__all__ = ["OVERFLOW", "OverflowCoefficients", "overflow_loss"]

_CORNER = 0.05 * L_PER_HOUR
"""Flow by which the overflowing flow is rounded where it begins, m3/s."""
_AIR_SLOPE = 1e5
"""Loss of the air that comes in, Pa s/m3: 3 Pa at 100 L/h, as good as none."""


class OverflowCoefficients(NamedTuple):
    """Coefficients of `overflow_loss`: those of the line that it runs through, as `LineCoefficients`."""

    reynolds_per_flow: FloatLike
    relative_roughness: FloatLike
    friction_pressure: FloatLike
    fitting_pressure: FloatLike
    laminar_fitting_pressure: FloatLike


def overflow_loss(flow: LinkArray, c: OverflowCoefficients) -> tuple[LinkArray, LinkArray]:
    """Return the loss of an overflow and its slope.

    A full pot stands at the pressure of the tank's vapour space plus what the overflow loses. Where more leaves the pot
    than comes in, its level falls and air takes the place of the fuel: the flow is then negative, the rate at which
    the pot empties, and the pot stands at the pressure of the vapour space.

    Parameters
    ----------
    flow : array (links, points)
        Volume flow q, m3/s; negative is what the pot loses.
    c : OverflowCoefficients

    Returns
    -------
    loss, slope : array (links, points)
        Pa and Pa s/m3.

    Examples
    --------
    >>> from fuelsim.laws.friction import line_coefficients
    >>> line = line_coefficients(1.0, 0.008, 1.5e-6, 0.0, 0.0, 740.0, 0.6e-6)
    >>> loss, _ = overflow_loss(np.array([2e-5, -2e-5]), OverflowCoefficients(*line))
    >>> bool(abs(loss[0] / line_loss(np.array([2e-5]), line)[0][0] - 1.0) < 0.01), round(float(loss[1]))
    (True, -2)
    """
    leaving, share = smooth_maximum(flow, np.zeros_like(flow), _CORNER)
    loss, slope = line_loss(leaving, LineCoefficients(*c))
    return loss + _AIR_SLOPE * flow, slope * share + _AIR_SLOPE


def overflow_regime(
    flow: LinkArray, p_up: LinkArray, p_down: LinkArray, p_reference: LinkArray, c: OverflowCoefficients
) -> IndexArray:
    """Return 0 where fuel runs over, 1 where the pot empties.

    Parameters
    ----------
    flow : array (links, points)
        Volume flow, m3/s.
    p_up, p_down, p_reference : array (links, points)
        Pressures, Pa absolute; without effect.
    c : OverflowCoefficients

    Returns
    -------
    int array (links, points)

    Examples
    --------
    >>> overflow_regime(np.array([[1e-5, -1e-5]]), None, None, None, None).tolist()
    [[0, 1]]
    """
    return np.where(flow < -_CORNER, 1, 0)


def _sample() -> tuple[LawSample, ...]:
    """Return the lines of the line law, with their flows forwards and backwards."""
    lines = () if LINE.sample is None else LINE.sample()
    return tuple(LawSample(OverflowCoefficients(*sample.coefficients), sample.flow) for sample in lines)


OVERFLOW = LinkLaw(
    name="overflow",
    coefficients=OverflowCoefficients,
    loss=overflow_loss,
    typical_flow=LINE.typical_flow,
    regimes=(Regime.FLOWING, Regime.EMPTYING),
    regime=overflow_regime,
    sample=_sample,
)
