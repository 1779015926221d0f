r"""A pump on cold fuel: what its viscosity does to flow and current.

With the kinematic viscosity over that at 20 degC, m,

.. math::
    q/q_{20} = \left(1 + s\,(1 - 1/m)\right) \left(1 + f\,(m^n - 1)\right)^{-r}, \qquad
    I/I_{20} = 1 + f\,(m^n - 1).

s is the fraction of the flow that leaks back through the clearances: laminar flow between parallel plates is in inverse
proportion to the viscosity. f is the fraction of the motor's torque that viscous friction takes. In the narrow gaps of
gears, rollers and vanes that is Couette flow, torque in proportion to viscosity, n = 1; on the disc of a turbine the
boundary layer is turbulent, and its friction goes with the quarter power, as Blasius' law has it. The motor draws more
and turns slower, so that the flow falls with the power r of its torque; a controller that holds the speed makes r zero.

So the flow of a displacement pump rises a little as long as the leak outweighs the slower motor, and that of a turbine
falls. The exponents follow from the laws; s, f and r have a band, `fuelsim.parts.pump.pump_types.COLD_BANDS` [assumed].
The density of the cold fuel, 3 to 4 % at -20 degC, is left out.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fuelsim.constants import ZERO_CELSIUS
from fuelsim.numerics.cells import cells_of
from fuelsim.typing import FloatArray, FloatLike, IndexArray, PointArray

__all__ = [
    "COLD_BELOW",
    "PETROL_VISCOSITY_RATIO",
    "ColdFactors",
    "ColdPump",
    "ViscosityCurve",
    "cold_pump_factors",
    "with_flow_change",
]

COLD_BELOW = 20.0 + ZERO_CELSIUS
"""Temperature below which fuel is cold, K; above it `fuelsim.laws.motor.hot_flow_factor` holds."""


PETROL_VISCOSITY_RATIO = 1.6
"""Kinematic viscosity of petrol at -20 degC over that at 20 degC: 0.8-1.0 over 0.5-0.6 mm2/s [doe_fuel_properties]."""


class ColdPump(NamedTuple):
    """How a pump takes to viscous fuel.

    Attributes
    ----------
    leak_share : float
        Fraction s of the flow that leaks back through the clearances.
    friction_share : float
        Fraction f of the motor's torque that viscous friction takes.
    friction_exponent : float
        Exponent n of that friction over viscosity.
    flow_per_torque : float
        Relative fall r of the flow per relative rise of the motor's torque.
    """

    leak_share: float
    friction_share: float
    friction_exponent: float
    flow_per_torque: float


class ColdFactors(NamedTuple):
    """Flow and current of a pump on cold fuel over those at 20 degC."""

    flow: FloatArray
    current: FloatArray


def cold_pump_factors(viscosity_ratio: FloatLike, pump: ColdPump) -> ColdFactors:
    """Return flow and current of a pump on cold fuel over those at 20 degC.

    Parameters
    ----------
    viscosity_ratio : float or array
        Kinematic viscosity of the fuel over its own at 20 degC, m; below 1 it counts as 1.
    pump : ColdPump

    Returns
    -------
    ColdFactors

    Notes
    -----
    Source: laminar leak, Couette friction and Blasius' law for the turbulent disc; shares [assumed].

    Examples
    --------
    By hand, m = 2: a leak of a tenth halves, and friction of a tenth of the torque doubles:

    >>> flow, current = cold_pump_factors(2.0, ColdPump(0.1, 0.1, 1.0, 0.5))
    >>> round(float(flow), 5), round(float(current), 5)  # 1.05 / 1.1**0.5
    (1.00114, 1.1)
    """
    ratio = np.maximum(np.asarray(viscosity_ratio, dtype=float), 1.0)
    torque: FloatArray = 1.0 + pump.friction_share * (ratio**pump.friction_exponent - 1.0)
    flow: FloatArray = (1.0 + pump.leak_share * (1.0 - 1.0 / ratio)) * torque**-pump.flow_per_torque
    return ColdFactors(flow, torque)


def with_flow_change(pump: ColdPump, flow_change: float) -> ColdPump:
    """Return a pump whose flow on petrol at -20 degC differs by a measured fraction from that at 20 degC.

    Friction and current stay those of its kind; the leak takes the difference, and is negative where the flow falls by
    more than friction explains.

    Parameters
    ----------
    pump : ColdPump
    flow_change : float
        Flow at `PETROL_VISCOSITY_RATIO` over that at 20 degC, less one.

    Returns
    -------
    ColdPump

    Examples
    --------
    >>> measured = with_flow_change(ColdPump(0.1, 0.1, 1.0, 0.3), -0.03)
    >>> round(float(cold_pump_factors(PETROL_VISCOSITY_RATIO, measured).flow), 9)
    0.97
    """
    torque = cold_pump_factors(PETROL_VISCOSITY_RATIO, pump).current
    leak = ((1.0 + flow_change) * torque**pump.flow_per_torque - 1.0) / (1.0 - 1.0 / PETROL_VISCOSITY_RATIO)
    return pump._replace(leak_share=float(leak))


class ViscosityCurve(NamedTuple):
    """Viscosity of a fuel, or of one fuel per point, from the cold to 20 degC.

    Attributes
    ----------
    temperature : array (knots,)
        Rising to `COLD_BELOW`, K.
    log_ratio : array (knots,) or (knots, points)
        Natural logarithm of the kinematic viscosity over that at 20 degC; with one fuel per point, of each.
    """

    temperature: FloatArray
    log_ratio: FloatArray

    def ratio(self, temperature: FloatLike) -> PointArray:
        """Return the kinematic viscosity over that at 20 degC; 1 for warmer fuel.

        Parameters
        ----------
        temperature : float or array (points,)
            K; below the first knot the ratio there.

        Returns
        -------
        array () or (points,)

        Examples
        --------
        >>> curve = ViscosityCurve(np.array([253.15, 293.15]), np.log([1.6, 1.0]))
        >>> curve.ratio(np.array([253.15, 273.15, 330.0])).round(3).tolist()
        [1.6, 1.265, 1.0]
        """
        at = np.asarray(temperature, dtype=float)
        if self.log_ratio.ndim == 1:
            return np.asarray(np.exp(np.interp(at, self.temperature, self.log_ratio)))
        cell, upper = cells_of(self.temperature, at)
        points = np.arange(self.log_ratio.shape[1])
        log_ratio = (1.0 - upper) * self.log_ratio[cell, points] + upper * self.log_ratio[cell + 1, points]
        return np.asarray(np.exp(log_ratio))

    def take(self, index: IndexArray) -> ViscosityCurve:
        """Return the curve at some points only; that of one fuel stays.

        Parameters
        ----------
        index : int array
            Which points.

        Returns
        -------
        ViscosityCurve

        Examples
        --------
        >>> each = ViscosityCurve(np.array([253.15, 293.15]), np.log([[1.6, 2.0], [1.0, 1.0]]))
        >>> each.take(np.array([1])).ratio(np.array([253.15])).round(3).tolist()
        [2.0]
        """
        return self if self.log_ratio.ndim == 1 else self._replace(log_ratio=self.log_ratio[:, index])
