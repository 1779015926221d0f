"""Injectors: static flow, dead time, and the equation in which they meter a demand or saturate."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.laws.link import SHUT_SLOPE, Kinks, LawSample, LinkEquation, LinkLaw, Regime
from fuelsim.laws.valve import SHUT_MARGIN, flows_of_shut, shut_backwards
from fuelsim.numerics.smooth import smooth_maximum, smooth_minimum
from fuelsim.typing import FloatArray, FloatLike, IndexArray, LinkArray

__all__ = [
    "INJECTOR",
    "InjectorCoefficients",
    "dead_time_at",
    "event_window",
    "injector_equation",
    "injector_regime",
    "static_flow",
]

_SMALL_ROOT = 0.3
"""Square root of the pressure difference below which the root is rounded off to a finite slope, Pa^0.5."""
_LEAK = 1e-7
"""Leak over the flow at rated pressure: it determines the pressure of a rail that has no other connection."""
_RATED_DIFFERENCE = 3e5
"""Pressure difference at which stiffness and leak are scaled, Pa."""
_CORNER = 10.0
"""Rounding where metering gives way to saturation, Pa."""
_LEAST_DEMAND = 1e-3
"""Demand over the flow at rated pressure below which the stiffness of metering does not rise further."""
_LEAST_STEP_PRESSURE = 1e4
"""Pressure that one step of the iteration may go into the shut direction at least, Pa."""
_SATURATED = 0.99
"""Flow over static flow from which injectors count as saturated."""


class InjectorCoefficients(NamedTuple):
    """Coefficients of `injector_equation`.

    Attributes
    ----------
    demand : float or array
        Volume flow that the engine asks for, m3/s.
    conductance : float or array
        Greatest flow over the root of the pressure difference, c, m3/s/sqrt(Pa): of injectors held open, or open for
        the longest pulse that their controller gives.
    least_conductance : float or array
        Least flow over that root: of the shortest pulse that a controller gives; 0 without one.
    """

    demand: FloatLike
    conductance: FloatLike
    least_conductance: FloatLike = 0.0


def static_flow(
    rated_flow: FloatLike,
    rated_pressure: FloatLike,
    rated_density: FloatLike,
    pressure_difference: FloatLike,
    density: FloatLike,
) -> FloatArray:
    """Return the volume flow of an injector held open, Q = Q_rated sqrt(dp/dp_rated) sqrt(rho_rated/rho).

    Parameters
    ----------
    rated_flow : float or array
        Flow Q_rated at the rated pressure with the rated fluid, m3/s.
    rated_pressure, pressure_difference : float or array
        Differences dp_rated and dp of rail over manifold pressure, Pa; a negative difference gives no flow.
    rated_density, density : float or array
        Densities rho_rated and rho of the rated fluid and of the fuel, kg/m3.

    Returns
    -------
    array
        Volume flow Q, m3/s.

    Examples
    --------
    Rated with n-heptane (684 kg/m3), used with petrol (745 kg/m3): volume x0.958, mass x1.044.

    >>> ratio = float(static_flow(1.0, 3e5, 684.0, 3e5, 745.0))
    >>> round(ratio, 3), round(ratio * 745.0 / 684.0, 3)
    (0.958, 1.044)
    """
    pressure_ratio = np.maximum(np.asarray(pressure_difference, dtype=float), 0.0) / rated_pressure
    result: FloatArray = rated_flow * np.sqrt(pressure_ratio) * np.sqrt(np.asarray(rated_density) / density)
    return result


def event_window(engine_speed: FloatLike) -> FloatLike:
    """Return the time between two injections into one cylinder of a four-stroke engine, 120/N.

    Parameters
    ----------
    engine_speed : float or array
        Engine speed N, rpm.

    Returns
    -------
    float or array
        Time, s; infinite for an engine at rest.

    Examples
    --------
    >>> event_window(6000.0)
    0.02
    """
    with np.errstate(divide="ignore"):
        return 120.0 / engine_speed


def dead_time_at(
    voltage: FloatLike,
    pressure_difference: FloatLike,
    table_voltage: FloatLike,
    table_time: FloatLike,
    table_pressure: FloatLike,
    time_per_pressure: FloatLike,
) -> FloatArray:
    """Return the dead time of an injector, from a table over voltage and a slope over pressure.

    Parameters
    ----------
    voltage : float or array
        Voltage at the injector, V.
    pressure_difference : float or array
        Rail over manifold pressure, Pa.
    table_voltage, table_time : array (n,)
        Voltages of the table, V, rising, and the dead times there, s. Below and above the table its last slopes are
        continued, but the time never falls below half of the last value.
    table_pressure : float
        Pressure difference of the table, Pa.
    time_per_pressure : float
        Rise of the dead time with the pressure difference, s/Pa.

    Returns
    -------
    array
        Dead time, s, not negative.

    Examples
    --------
    >>> time = dead_time_at(14.0, 4e5, np.array([12.0, 14.0]), np.array([1.1e-3, 0.83e-3]), 3e5, 0.7e-9)
    >>> round(1e3 * float(time), 2)
    0.9
    """
    volts, times = np.asarray(table_voltage, dtype=float), np.asarray(table_time, dtype=float)
    voltage = np.asarray(voltage, dtype=float)
    time = np.interp(voltage, volts, times)
    if len(volts) > 1:
        first = (times[1] - times[0]) / (volts[1] - volts[0])
        last = (times[-1] - times[-2]) / (volts[-1] - volts[-2])
        time = time + first * np.minimum(voltage - volts[0], 0.0) + last * np.maximum(voltage - volts[-1], 0.0)
    time = np.maximum(time, 0.5 * times[-1])
    result: FloatArray = np.maximum(time + time_per_pressure * (np.asarray(pressure_difference) - table_pressure), 0.0)
    return result


def injector_equation(
    flow: LinkArray, p_up: LinkArray, p_down: LinkArray, p_reference: LinkArray, c: InjectorCoefficients
) -> LinkEquation:
    """Return the equation of injectors that meter a demand as long as they can.

    E = smoothmax(h(q) + shut(q) - (p_up - p_down), R (q - demand - leak)), with h the loss of the injectors at their
    longest pulse, (q/c)^2 rounded off at zero flow. The first term is zero where they are open as long as they can be
    and pass the flow that the pressure difference drives, the second where they meter the demand; the flow backwards is
    a negligible leak. Its slopes are nowhere zero, so that a rail far below or above its pressure is still coupled to
    the flow; q = min(demand, c sqrt(dp)) has zero slope on both sides.

    With a shortest pulse the second term is the smooth minimum of itself and of h_least(q) + shut(q) - (p_up - p_down):
    a rail whose pressure is too high then passes more than the demand, q = c_least sqrt(dp). Equal conductances are an
    orifice, as injectors are whose pulse does not follow the rail.

    Parameters
    ----------
    flow : array (links, points)
        Volume flow q, m3/s.
    p_up, p_down, p_reference : array (links, points)
        Pressure of the rail, of the manifold and of the reference, which does not matter, Pa absolute.
    c : InjectorCoefficients

    Returns
    -------
    LinkEquation

    Examples
    --------
    >>> meets = injector_equation(1e-5, 4e5, 1e5, 0.0, InjectorCoefficients(demand=1e-5, conductance=4e-8))
    >>> short = injector_equation(np.sqrt(3e5) * 4e-8, 4e5, 1e5, 0.0, InjectorCoefficients(5e-5, 4e-8))
    >>> bool(abs(meets.residual) < 0.1), bool(abs(short.residual) < 0.1)
    (True, True)
    """
    difference = p_up - p_down
    loss, slope = _open_loss(flow, c.conductance)
    shut, shut_slope = shut_backwards(flow)
    rated = c.conductance * np.sqrt(_RATED_DIFFERENCE)
    stiffness = _stiffness(c)
    leak = _LEAK * rated / _RATED_DIFFERENCE
    over = stiffness * (flow - c.demand - leak * difference)
    over_flow_slope, over_pressure_slope = stiffness, stiffness * leak
    if np.any(c.least_conductance):
        least = np.asarray(c.least_conductance)
        least_loss, least_slope = _open_loss(flow, np.where(least > 0.0, least, c.conductance))
        shortest, demanded = smooth_minimum(over, least_loss + shut - difference, _CORNER)
        limited = least > 0.0
        over = np.where(limited, shortest, over)
        metered = np.where(limited, demanded, 1.0)
        over_flow_slope = metered * stiffness + (1.0 - metered) * (least_slope + shut_slope)
        over_pressure_slope = metered * stiffness * leak + (1.0 - metered)
    residual, held_open = smooth_maximum(loss + shut - difference, over, _CORNER)
    metering = 1.0 - held_open
    pressure_slope = held_open + metering * over_pressure_slope
    flow_slope = held_open * (slope + shut_slope) + metering * over_flow_slope
    return LinkEquation(residual, flow_slope, pressure_slope, pressure_slope, 0.0)


def _open_loss(flow: LinkArray, conductance: FloatLike) -> tuple[LinkArray, LinkArray]:
    """Return the loss of open injectors, (q/c)^2 rounded off at zero flow, Pa, and its slope."""
    small = conductance * _SMALL_ROOT
    root = np.sqrt(flow * flow + small * small)
    return flow * root / conductance**2, (root + flow * flow / root) / conductance**2


def injector_regime(
    flow: LinkArray, p_up: LinkArray, p_down: LinkArray, p_reference: LinkArray, c: InjectorCoefficients
) -> IndexArray:
    """Return 0 metering, 1 saturated, 2 shut, 3 back-pressured.

    Parameters
    ----------
    flow, p_up, p_down, p_reference, c
        As `injector_equation`.

    Returns
    -------
    int array (links, points)

    Examples
    --------
    >>> c = InjectorCoefficients(demand=np.array([1e-5, 5e-5, 0.0]), conductance=4e-8)
    >>> injector_regime(np.zeros(3), np.full(3, 4e5), np.full(3, 1e5), np.zeros(3), c).tolist()
    [0, 1, 2]
    """
    difference = p_up - p_down
    capacity = c.conductance * np.sqrt(np.maximum(difference, 0.0))
    regime = np.where(c.demand > _SATURATED * capacity, 1, 0)
    regime = np.where(np.asarray(c.demand) <= 0.0, 2, regime)
    return np.where(difference <= 0.0, 3, regime)


def _stiffness(c: InjectorCoefficients) -> FloatLike:
    """Return by how much the residual of metering rises with the flow, Pa s/m3."""
    rated = c.conductance * np.sqrt(_RATED_DIFFERENCE)
    stiffness: FloatLike = _RATED_DIFFERENCE / np.maximum(c.demand, _LEAST_DEMAND * rated)
    return stiffness


def _kinks(c: InjectorCoefficients) -> Kinks:
    """Return the kink at zero flow, with a margin from which the iteration does not leave the shut side again.

    A step further back than the residual of metering, R demand, would leave that term the greater one, whose next step
    goes to the whole demand: injectors that fuel cannot reach would pass it and shut again in turn, for ever. Without a
    demand they may go as far as any shut valve.
    """
    pressure = np.maximum(0.5 * _stiffness(c) * c.demand, _LEAST_STEP_PRESSURE)
    return Kinks(0.0, np.inf, np.where(np.asarray(c.demand) > 0.0, pressure / SHUT_SLOPE, SHUT_MARGIN))


def _typical_flow(c: InjectorCoefficients) -> LinkArray:
    return np.asarray(np.minimum(c.demand, c.conductance * np.sqrt(_RATED_DIFFERENCE)))


def _sample() -> tuple[LawSample, ...]:
    """Return injectors that meter little, much and nothing, with a shortest pulse too; flows as `flows_of_shut`.

    Flows up to 250 L/h.
    """
    flow = flows_of_shut(250.0 * L_PER_HOUR)
    ratings = ((1e-5, 4e-8), (5e-5, 4e-8), (0.0, 4e-8), (1e-5, 3e-8, 2e-8), (2e-5, 3e-8, 3e-8))
    return tuple(LawSample(InjectorCoefficients(*rating), flow) for rating in ratings)


INJECTOR = LinkLaw(
    name="injector",
    coefficients=InjectorCoefficients,
    equation=injector_equation,
    typical_flow=_typical_flow,
    kinks=_kinks,
    one_way=True,
    regimes=(Regime.METERING, Regime.SATURATED, Regime.SHUT, Regime.BACK_PRESSURED),
    regime=injector_regime,
    sample=_sample,
)
