r"""A pump that takes in gas with its fuel: it displaces the mixture, whose volume depends on the pressure at its inlet.

A pump displaces one volume, whatever fills it. With the volume u of mixture per volume of liquid at its inlet, of which
what the pump tolerates less than its size is counted as more, it follows its curve r of `fuelsim.laws.pump_curve` at
the flow u q of the mixture:

.. math:: E = -r(u\,q) - (p_{up} - p_{down}) = 0, \qquad u = \max(1, u_0 + u' (p_{up} - p_0))

u rises where the pressure at the inlet falls, and less flow means less loss before the inlet and so less gas: taken
into the equation, this feedback leaves one solution at given temperatures, which Newton's iteration finds at once. The
tangent at p_0 takes the place of the true u(p), which curves upwards, so that a tangent asks for too little gas:
successive tangents come to the solution from the side of more flow.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fuelsim.laws.link import Kinks, LawSample, LinkEquation, LinkLaw
from fuelsim.laws.pump_curve import PUMP_CURVE, PumpCoefficients, pump_loss, pump_regime, with_equal_knots
from fuelsim.typing import FloatArray, FloatLike, IndexArray, LinkArray

__all__ = [
    "MOST_DISPLACED",
    "PUMP_WITH_GAS",
    "PumpWithGasCoefficients",
    "displaced",
    "pump_with_gas_equation",
    "pump_with_gas_regime",
]

MOST_DISPLACED = 1e6
"""Greatest volume of mixture per volume of liquid: a pump that takes in no more than traces of liquid."""


class PumpWithGasCoefficients(NamedTuple):
    """Coefficients of `pump_with_gas_equation`.

    Attributes
    ----------
    largest_flow, rise, slope, relief_pressure, check_valve
        Those of the pump without gas, as `PumpCoefficients`.
    displaced : float or array
        Volume displaced per volume of liquid at the inlet pressure below, u_0, 1 or more.
    displaced_slope : float or array
        Its slope over the pressure at the inlet, u', 1/Pa, not positive.
    inlet_pressure : float or array
        Pressure p_0 at the inlet where both hold, Pa, counted as the other pressures are.
    """

    largest_flow: FloatLike
    rise: FloatArray
    slope: FloatArray
    relief_pressure: FloatLike
    check_valve: FloatLike
    displaced: FloatLike
    displaced_slope: FloatLike
    inlet_pressure: FloatLike

    @property
    def without_gas(self) -> PumpCoefficients:
        """Coefficients of the pump without gas."""
        return PumpCoefficients(self.largest_flow, self.rise, self.slope, self.relief_pressure, self.check_valve)


def displaced(
    pressure: FloatLike, at_pressure: FloatLike, slope: FloatLike, inlet_pressure: FloatLike
) -> tuple[FloatArray, FloatArray]:
    """Return the volume that a pump displaces per volume of liquid, by a tangent, and its slope.

    Parameters
    ----------
    pressure : float or array
        Pressure at the inlet, Pa.
    at_pressure, slope, inlet_pressure : float or array
        Volume per volume of liquid where the tangent touches, its slope, 1/Pa, and the pressure there, Pa.

    Returns
    -------
    displaced, slope : array
        1 and more, and 1/Pa.

    Examples
    --------
    >>> [float(x) for x in displaced(9e4, 1.5, -1e-4, 8.8e4)]
    [1.3, -0.0001]
    """
    linear = np.asarray(at_pressure + slope * (np.asarray(pressure, dtype=float) - inlet_pressure))
    inside = (linear > 1.0) & (linear < MOST_DISPLACED)
    return np.clip(linear, 1.0, MOST_DISPLACED), np.where(inside, slope, 0.0)


def pump_with_gas_equation(
    flow: LinkArray, p_up: LinkArray, p_down: LinkArray, p_reference: LinkArray, c: PumpWithGasCoefficients
) -> LinkEquation:
    """Return the equation of a pump that takes in gas with its fuel.

    Parameters
    ----------
    flow : array (links, points)
        Volume flow of the liquid q, m3/s.
    p_up, p_down, p_reference : array (links, points)
        Pressures of inlet and outlet, and of the reference, which does not matter, Pa.
    c : PumpWithGasCoefficients

    Returns
    -------
    LinkEquation
        Its slope in the inlet pressure is 1 and more, because less pressure there means more gas.

    Examples
    --------
    A pump with 400 kPa at no flow and none at 100 mL/s, with as much gas as liquid, gives 200 kPa at 25 mL/s:

    >>> rise, slope = np.array([4e5, 0.0])[:, None, None], np.full((2, 1, 1), -4e9)
    >>> c = PumpWithGasCoefficients(1e-4, rise, slope, np.inf, 0.0, 2.0, -1e-4, 9e4)
    >>> E = pump_with_gas_equation(np.array([[2.5e-5]]), 9e4, 2.9e5, 0.0, c)
    >>> abs(float(E.residual[0, 0])) < 1e-6, float(E.up_slope[0, 0]) > 1.0
    (True, True)
    """
    volume, slope = displaced(p_up, c.displaced, c.displaced_slope, c.inlet_pressure)
    # Fuel that flows backwards comes from the outlet, without gas.
    forwards = np.maximum(flow, 0.0)
    loss, loss_slope = pump_loss(flow + (volume - 1.0) * forwards, c.without_gas)
    return LinkEquation(
        residual=loss - (p_up - p_down),
        flow_slope=loss_slope * np.where(flow > 0.0, volume, 1.0),
        up_slope=1.0 - loss_slope * forwards * slope,
        down_slope=1.0,
        reference_slope=0.0,
    )


def pump_with_gas_regime(
    flow: LinkArray, p_up: LinkArray, p_down: LinkArray, p_reference: LinkArray, c: PumpWithGasCoefficients
) -> IndexArray:
    """Return the index of the pump's state, as `pump_regime`.

    Parameters
    ----------
    flow, p_up, p_down, p_reference, c
        As `pump_with_gas_equation`.

    Returns
    -------
    int array (links, points)

    Examples
    --------
    >>> rise, slope = np.array([4e5, 0.0])[:, None, None], np.full((2, 1, 1), -4e9)
    >>> c = PumpWithGasCoefficients(1e-4, rise, slope, np.inf, 0.0, 2.0, -1e-4, 9e4)
    >>> pump_with_gas_regime(np.array([[2.5e-5]]), 9e4, 2.9e5, 0.0, c).tolist()
    [[0]]
    """
    volume, _ = displaced(p_up, c.displaced, c.displaced_slope, c.inlet_pressure)
    return pump_regime(flow + (volume - 1.0) * np.maximum(flow, 0.0), p_up, p_down, p_reference, c.without_gas)


def _with_equal_knots(pumps: list[PumpWithGasCoefficients]) -> list[PumpWithGasCoefficients]:
    aligned = with_equal_knots([pump.without_gas for pump in pumps])
    return [pump._replace(rise=own.rise, slope=own.slope) for pump, own in zip(pumps, aligned, strict=True)]


def _typical_flow(c: PumpWithGasCoefficients) -> LinkArray:
    return np.asarray(0.6 * c.largest_flow / c.displaced)


def _kinks(c: PumpWithGasCoefficients) -> Kinks:
    own = PUMP_CURVE.kinks(c.without_gas) if PUMP_CURVE.kinks else Kinks(0.0, np.inf, 0.0)
    return own._replace(high=c.largest_flow / c.displaced)


def _sample() -> tuple[LawSample, ...]:
    """Return the samples of the pump curve with half as much gas as liquid at 500 kPa, and with little."""
    samples = []
    for own in PUMP_CURVE.sample() if PUMP_CURVE.sample else ():
        for gas in ((1.5, -1e-6, 5e5), (1.05, -2e-7, 5e5)):
            without = PumpCoefficients._make(own.coefficients)
            samples.append(own._replace(coefficients=PumpWithGasCoefficients(*without, *gas)))
    return tuple(samples)


PUMP_WITH_GAS = LinkLaw(
    name="pump with gas",
    coefficients=PumpWithGasCoefficients,
    tables=("rise", "slope"),
    absolute=("inlet_pressure",),
    align=_with_equal_knots,
    equation=pump_with_gas_equation,
    typical_flow=_typical_flow,
    kinks=_kinks,
    regimes=PUMP_CURVE.regimes,
    regime=pump_with_gas_regime,
    sample=_sample,
)
