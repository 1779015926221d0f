r"""A pump slowed by a controller so that the pressure at a sensor stays at its set value.

One smooth, monotone equation covers every state of pump and controller:

.. math:: E = \min(\max(E_{most}, E_{control}), E_{least}) = 0

E_most and E_least are the equations of the pump at the greatest and at the least speed or duty that the controller
gives (`fuelsim.laws.pump_curve`); a controller that stops the pump has for its least a pump at rest, which passes fuel
forwards at a loss. E_control is the controller's own equation

.. math:: E_{control} = p_{ref} - p_0 - p_{set} + d\,q

where p_ref is the pressure at the sensor, d the droop, and p_0 the pressure above which the set pressure is held: that
of the pump's inlet, or a pressure that is known at each operating point, such as that of the intake manifold or the
atmosphere. A pump at its least speed that gives more than the set pressure stays at it: the pressure rises. Nothing
flows backwards through it. Gas that the pump takes in with its fuel counts in the flow at which its curves are read, as
in `fuelsim.laws.pump_with_gas`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.laws.link import Kinks, LawSample, LinkEquation, LinkLaw, Regime
from fuelsim.laws.pump_curve import PUMP_CURVE, PumpCoefficients, pump_loss, standing_table, with_equal_knots
from fuelsim.laws.pump_with_gas import displaced
from fuelsim.laws.valve import flows_of_shut, kinks_of_shut, shut_backwards
from fuelsim.numerics.smooth import smooth_maximum, smooth_minimum
from fuelsim.typing import FloatArray, FloatLike, IndexArray, LinkArray

__all__ = ["CONTROLLED_PUMP", "ControlledPumpCoefficients", "controlled_pump_equation", "controlled_pump_regime"]


class ControlledPumpCoefficients(NamedTuple):
    """Coefficients of `controlled_pump_equation`.

    Attributes
    ----------
    largest_flow, rise, slope, relief_pressure, check_valve
        Those of the pump at its greatest speed, as `PumpCoefficients`.
    least_largest_flow, least_rise, least_slope
        The same of the pump at its least speed.
    set_pressure : float or array
        Pressure at the sensor that is held at no flow, above the inlet or the base pressure, Pa.
    droop : float or array
        Fall of the held pressure with the flow, Pa s/m3.
    base_pressure : float or array
        Pressure above which the set pressure is held, Pa, counted as the other pressures are; of no matter where it is
        held above the inlet.
    above_inlet : float or array
        1 where the set pressure is held above the pump's inlet, 0 where it is held above the base pressure.
    displaced, displaced_slope, inlet_pressure : float or array
        Gas at the inlet, as `PumpWithGasCoefficients`; none by default.
    """

    largest_flow: FloatLike
    rise: FloatArray
    slope: FloatArray
    relief_pressure: FloatLike
    check_valve: FloatLike
    least_largest_flow: FloatLike
    least_rise: FloatArray
    least_slope: FloatArray
    set_pressure: FloatLike
    droop: FloatLike
    base_pressure: FloatLike = 0.0
    above_inlet: FloatLike = 1.0
    displaced: FloatLike = 1.0
    displaced_slope: FloatLike = 0.0
    inlet_pressure: FloatLike = 0.0

    @property
    def most(self) -> PumpCoefficients:
        """Coefficients of the pump at its greatest speed."""
        return PumpCoefficients(self.largest_flow, self.rise, self.slope, self.relief_pressure, self.check_valve)

    @property
    def least(self) -> PumpCoefficients:
        """Coefficients of the pump at its least speed, without a check valve."""
        return PumpCoefficients(self.least_largest_flow, self.least_rise, self.least_slope, self.relief_pressure)


def _control(flow: LinkArray, p_up: LinkArray, p_reference: LinkArray, c: ControlledPumpCoefficients) -> LinkArray:
    """Return by how much the pressure at the sensor exceeds the one held, Pa."""
    above = c.above_inlet * p_up + (1.0 - np.asarray(c.above_inlet)) * c.base_pressure
    return p_reference - above - c.set_pressure + c.droop * flow


def controlled_pump_equation(
    flow: LinkArray, p_up: LinkArray, p_down: LinkArray, p_reference: LinkArray, c: ControlledPumpCoefficients
) -> LinkEquation:
    """Return the equation of a pump slowed so that the pressure at the reference node stays at its set value.

    Parameters
    ----------
    flow : array (links, points)
        Volume flow q, m3/s.
    p_up, p_down, p_reference : array (links, points)
        Pressures, Pa; the reference is the node whose pressure is held.
    c : ControlledPumpCoefficients

    Returns
    -------
    LinkEquation

    Examples
    --------
    A pump with 600 kPa at no flow and none at 100 mL/s holds 400 kPa at 20 mL/s:

    >>> rise, slope = np.array([6e5, 0.0])[:, None, None], np.full((2, 1, 1), -6e9)
    >>> c = ControlledPumpCoefficients(1e-4, rise, slope, np.inf, 0.0, 1e-4, 0.0 * rise, slope, 4e5, 1e8)
    >>> E = controlled_pump_equation(np.array([[2e-5]]), 1e5, 4.98e5, 4.98e5, c)
    >>> bool(abs(E.residual[0, 0]) < 0.1)
    True
    """
    volume, volume_slope = displaced(p_up, c.displaced, c.displaced_slope, c.inlet_pressure)
    forwards = np.maximum(flow, 0.0)
    mixture, flow_share = flow + (volume - 1.0) * forwards, np.where(flow > 0.0, volume, 1.0)
    loss, loss_slope = pump_loss(mixture, c.most)
    least_loss, least_slope = pump_loss(mixture, c.least)
    shut, shut_slope = shut_backwards(flow)
    difference = p_up - p_down
    driven, at_most = smooth_maximum(loss - difference, _control(flow, p_up, p_reference, c))
    residual, above_least = smooth_minimum(driven, least_loss + shut - difference)
    most = above_least * at_most
    controlled = above_least - most
    least = 1.0 - above_least
    return LinkEquation(
        residual=residual,
        flow_slope=(most * loss_slope + least * least_slope) * flow_share + controlled * c.droop + least * shut_slope,
        up_slope=most
        + least
        + controlled * c.above_inlet
        - (most * loss_slope + least * least_slope) * forwards * volume_slope,
        down_slope=most + least,
        reference_slope=controlled,
    )


def controlled_pump_regime(
    flow: LinkArray, p_up: LinkArray, p_down: LinkArray, p_reference: LinkArray, c: ControlledPumpCoefficients
) -> IndexArray:
    """Return 0 regulating, 1 full speed (the greatest that the controller gives), 2 stopped, 3 least speed.

    Parameters
    ----------
    flow, p_up, p_down, p_reference, c
        As `controlled_pump_equation`.

    Returns
    -------
    int array (links, points)

    Examples
    --------
    >>> rise, slope = np.array([6e5, 0.0])[:, None, None], np.full((2, 1, 1), -6e9)
    >>> c = ControlledPumpCoefficients(1e-4, rise, slope, np.inf, 0.0, 1e-4, 0.0 * rise, slope, 4e5, 1e8)
    >>> flow, outlet, rail = np.array([[2e-5, 5e-5, 1e-5]]), np.array([[5e5, 4e5, 0.0]]), np.array([[5e5, 4e5, 7e5]])
    >>> controlled_pump_regime(flow, np.full((1, 3), 1e5), outlet, rail, c).tolist()
    [[0, 1, 2]]
    """
    # A point that did not solve has no flow and no regime; it must not warn for the whole batch.
    flow = np.nan_to_num(flow)
    difference = p_up - p_down
    volume, _ = displaced(p_up, c.displaced, c.displaced_slope, c.inlet_pressure)
    mixture = flow + (volume - 1.0) * np.maximum(flow, 0.0)
    most = pump_loss(mixture, c.most)[0] - difference
    control = _control(flow, p_up, p_reference, c)
    least = pump_loss(mixture, c.least)[0] + shut_backwards(flow)[0] - difference
    at_least = np.where(c.least_rise[0] > 0.0, 3, 2)
    return np.where(np.maximum(most, control) >= least, at_least, np.where(most > control, 1, 0))


def _kinks(c: ControlledPumpCoefficients) -> Kinks:
    return kinks_of_shut(c)._replace(high=c.largest_flow / c.displaced)


def _with_equal_knots(pumps: Sequence[ControlledPumpCoefficients]) -> list[ControlledPumpCoefficients]:
    most, least = (with_equal_knots(own) for own in ([pump.most for pump in pumps], [pump.least for pump in pumps]))
    return [
        pump._replace(rise=upper.rise, slope=upper.slope, least_rise=lower.rise, least_slope=lower.slope)
        for pump, upper, lower in zip(pumps, most, least, strict=True)
    ]


_SAMPLE_SET_PRESSURE = 3e5
_SAMPLE_DROOP = 2.88e8
_SAMPLE_LEAST_SHARE = 0.4
_MOST_SAMPLED_FLOW = 250.0 * L_PER_HOUR


def _sample() -> tuple[LawSample, ...]:
    """Return the samples of the pump curve slowed to 300 kPa above the inlet, and above an absolute pressure.

    The least of the former is a standing pump, that of the latter has 0.4 of the flow and of the pressure, without and
    with gas at its inlet; flows of the pump curve and as `flows_of_shut`.
    """
    samples = []
    for own in PUMP_CURVE.sample() if PUMP_CURVE.sample else ():
        most = PumpCoefficients._make(own.coefficients)
        largest, knots = float(np.max(most.largest_flow)), len(most.rise)
        standing = standing_table(largest, 1e10, knots)
        flow = np.union1d(own.flow[own.flow > 0.0], flows_of_shut(_MOST_SAMPLED_FLOW))
        stopping = ControlledPumpCoefficients(
            *most,
            largest,
            standing.rise[:, None, None],
            standing.slope[:, None, None],
            _SAMPLE_SET_PRESSURE,
            _SAMPLE_DROOP,
        )
        slowing = stopping._replace(
            least_largest_flow=_SAMPLE_LEAST_SHARE * largest,
            least_rise=_SAMPLE_LEAST_SHARE * most.rise,
            least_slope=most.slope,
            base_pressure=1e5,
            above_inlet=0.0,
        )
        with_gas = slowing._replace(displaced=1.5, displaced_slope=-1e-6, inlet_pressure=5e5)
        samples += [LawSample(stopping, flow, (-_SAMPLE_SET_PRESSURE,)), LawSample(slowing, flow)]
        samples.append(LawSample(with_gas, flow))
    return tuple(samples)


CONTROLLED_PUMP = LinkLaw(
    name="controlled pump",
    coefficients=ControlledPumpCoefficients,
    tables=("rise", "slope", "least_rise", "least_slope"),
    absolute=("base_pressure", "inlet_pressure"),
    align=_with_equal_knots,
    equation=controlled_pump_equation,
    typical_flow=PUMP_CURVE.typical_flow,
    kinks=_kinks,
    one_way=True,
    regimes=(Regime.REGULATING, Regime.FULL_SPEED, Regime.STOPPED, Regime.LEAST_SPEED),
    regime=controlled_pump_regime,
    sample=_sample,
)
