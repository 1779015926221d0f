"""Injectors: the flow they pass, the pulse they need."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.laws.link import LawSample, LinkEquation, LinkLaw
from fuelsim.laws.valve import flows_of_shut, kinks_of_shut, shut_backwards
from fuelsim.numerics.smooth import smooth_maximum
from fuelsim.typing import FloatLike, IndexArray, LinkArray

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
"""Root of the pressure difference, in Pa, below which the square root is rounded off to a finite slope."""
_LEAK = 1e-7
"""Leak as a share of the flow at rated pressure: fixes the pressure of a rail that nothing else connects."""
_RATED_DIFFERENCE = 3e5
_CORNER = 10.0
"""Rounding where metering gives way to saturation, Pa."""
_LEAST_DEMAND = 1e-3
"""Share of the flow at rated pressure below which the stiffness of metering does not grow further."""
_SATURATED = 0.99
"""Share of the static flow from which injectors count as saturated."""


class InjectorCoefficients(NamedTuple):
    """Coefficients of `injector_equation`.

    Attributes
    ----------
    demand : float or array
        Volume flow that the engine asks for, m3/s.
    conductance : float or array
        Greatest flow over the root of the pressure difference, c, m3/s/sqrt(Pa).
    """

    demand: FloatLike
    conductance: FloatLike


def static_flow(
    rated_flow: Any, rated_pressure: Any, rated_density: Any, pressure_difference: Any, density: Any
) -> Any:
    """Return the volume flow of an injector held open, Q = Q_rated sqrt(dp/dp_rated) sqrt(rho_rated/rho).

    Parameters
    ----------
    rated_flow : array
        m3/s.
    rated_pressure, pressure_difference : array
        Rail less manifold, Pa; a negative difference gives no flow.
    rated_density, density : array
        kg/m3.

    Returns
    -------
    array
        m3/s.

    Examples
    --------
    Rated with n-heptane (684 kg/m3), used with petrol (745 kg/m3): volume x0.958, mass x1.044.

    >>> ratio = float(static_flow(1.0, 3e5, 684.0, 3e5, 745.0))
    >>> round(ratio, 3), round(ratio * 745.0 / 684.0, 3)
    (0.958, 1.044)
    """
    share = np.maximum(np.asarray(pressure_difference, dtype=float), 0.0) / rated_pressure
    return rated_flow * np.sqrt(share) * np.sqrt(np.asarray(rated_density) / density)


def event_window(engine_speed: Any) -> Any:
    """Return the time between two injections of one cylinder of a four-stroke engine, 120/N.

    Parameters
    ----------
    engine_speed : array
        rpm.

    Returns
    -------
    array
        s; infinite for an engine at rest.

    Examples
    --------
    >>> event_window(6000.0)
    0.02
    """
    with np.errstate(divide="ignore"):
        return 120.0 / engine_speed


def dead_time_at(
    voltage: Any,
    pressure_difference: Any,
    table_voltage: Any,
    table_time: Any,
    table_pressure: Any,
    time_per_pressure: Any,
) -> np.ndarray:
    """Return the time lost in opening, from a table over voltage and a slope over pressure.

    Parameters
    ----------
    voltage : array
        At the injector, V.
    pressure_difference : array
        Pa.
    table_voltage, table_time : array (n,)
        V, rising, and s. Below and above the table its last slopes go on, but the time never falls under half of the
        last value.
    table_pressure : float
        Pressure difference of the table, Pa.
    time_per_pressure : float
        s/Pa.

    Returns
    -------
    array
        s, not negative.

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
    return np.maximum(time + time_per_pressure * (np.asarray(pressure_difference) - table_pressure), 0.0)


def injector_equation(
    flow: LinkArray, p_up: LinkArray, p_down: LinkArray, p_reference: LinkArray, c: InjectorCoefficients
) -> LinkEquation:
    """Return the equation of injectors that meter a demand as long as they can.

    E = smoothmax(h(q) + shut(q) - (p_up - p_down), R (q - demand - leak)), with h the loss of the injectors held open,
    (q/c)^2 rounded off at zero flow. The first is zero where they are held open and give what the pressure drives, the
    second where they meter the demand; nothing but a leak of no account goes back. In this form a rail far below or
    above its pressure still feels the flow, which q = min(demand, c sqrt(dp)), flat on both sides, does not.

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
    small = c.conductance * _SMALL_ROOT
    root = np.sqrt(flow * flow + small * small)
    loss, slope = flow * root / c.conductance**2, (root + flow * flow / root) / c.conductance**2
    shut, shut_slope = shut_backwards(flow)
    rated = c.conductance * np.sqrt(_RATED_DIFFERENCE)
    stiffness = _RATED_DIFFERENCE / np.maximum(c.demand, _LEAST_DEMAND * rated)
    leak = _LEAK * rated / _RATED_DIFFERENCE
    over = stiffness * (flow - c.demand - leak * difference)
    residual, held_open = smooth_maximum(loss + shut - difference, over, _CORNER)
    metering = 1.0 - held_open
    pressure_slope = held_open + metering * stiffness * leak
    flow_slope = held_open * (slope + shut_slope) + metering * stiffness
    return LinkEquation(residual, flow_slope, pressure_slope, pressure_slope, 0.0)


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


def _typical_flow(c: InjectorCoefficients) -> LinkArray:
    return np.minimum(c.demand, c.conductance * np.sqrt(_RATED_DIFFERENCE))


def _sample() -> tuple[LawSample, ...]:
    """Return injectors that meter little, much and nothing, up to 250 L/h; flows as `flows_of_shut`."""
    flow = flows_of_shut(250.0 * L_PER_HOUR)
    ratings = ((1e-5, 4e-8), (5e-5, 4e-8), (0.0, 4e-8))
    return tuple(LawSample(InjectorCoefficients(*rating), flow) for rating in ratings)


INJECTOR = LinkLaw(
    name="injector",
    coefficients=InjectorCoefficients,
    equation=injector_equation,
    typical_flow=_typical_flow,
    kinks=kinks_of_shut,
    regimes=("metering", "saturated", "shut", "back-pressured"),
    regime=injector_regime,
    sample=_sample,
)
