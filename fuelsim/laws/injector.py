"""Injectors: the flow they pass, the pulse they need."""

from __future__ import annotations

from typing import Any

import numpy as np

from fuelsim.laws.link import LinkEquation, LinkLaw

__all__ = [
    "INJECTOR",
    "dead_time_at",
    "event_window",
    "injector_equation",
    "injector_regime",
    "static_flow",
]

_SMALL_DIFFERENCE = 1e3
"""Below this pressure difference, Pa, the square root is rounded off to a finite slope."""
_LEAK = 1e-7
"""Leak as a share of the flow at rated pressure: fixes the pressure of a rail that nothing else connects."""
_LEAK_DIFFERENCE = 3e5
_ROUNDING = 0.01
"""Share of the static flow over which demand gives way to saturation."""


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
        s.

    Examples
    --------
    >>> event_window(6000.0)
    0.02
    """
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


def injector_equation(q: Any, p_up: Any, p_down: Any, p_reference: Any, coefficients: tuple[Any, ...]) -> LinkEquation:
    """Return the equation of injectors that meter a demand as long as they can.

    q = softmin(demand, c g(dp)) + leak, with g = dp/(dp^2 + d^2)^(1/4), which is sqrt(dp) but for the last kilopascal,
    where it rounds off; for dp < 0 it is zero, so only a leak of no account goes back. The softmin is exact below 99 %
    of the static flow. The residual is R (q - that), R = sqrt(d)/c in Pa s/m3, so that every slope stays below 1.

    Parameters
    ----------
    q, p_up, p_down, p_reference : array (links, points)
        Flow, m3/s; pressure at the rail and the manifold, Pa.
    coefficients : tuple
        ``(demand, conductance)``: m3/s, and largest flow over the root of the pressure difference, m3/s/sqrt(Pa).

    Returns
    -------
    LinkEquation

    Examples
    --------
    >>> meets = injector_equation(1e-5, 4e5, 1e5, 0.0, (1e-5, 4e-8))
    >>> short = injector_equation(np.sqrt(3e5) * 4e-8, 4e5, 1e5, 0.0, (5e-5, 4e-8))
    >>> bool(abs(meets.residual) < 1e-2), bool(abs(short.residual) < 1e-2)
    (True, True)
    """
    demand, conductance = coefficients
    flow, slope = _metered_flow(p_up - p_down, demand, conductance)
    scale = np.sqrt(_SMALL_DIFFERENCE) / conductance
    pressure_slope = scale * slope
    return LinkEquation(scale * (q - flow), scale, pressure_slope, pressure_slope, 0.0)


def _metered_flow(difference: Any, demand: Any, conductance: Any) -> tuple[Any, Any]:
    small = _SMALL_DIFFERENCE
    # A ramp that joins zero and the difference itself with matched slopes.
    clipped = np.clip(difference, -small, small)
    ramp = (clipped + small) ** 2 / (4.0 * small) + np.maximum(difference - small, 0.0)
    ramp_slope = 0.5 + clipped / (2.0 * small)
    square = ramp * ramp + small * small
    root = np.sqrt(np.sqrt(square))
    capacity = conductance * ramp / root
    capacity_slope = conductance * (0.5 * ramp * ramp + small * small) / (square * root) * ramp_slope

    width = _ROUNDING * capacity
    gap = demand - capacity
    rounding = np.maximum(width - np.abs(gap), 0.0)
    safe = np.maximum(width, 1e-300)
    flow = np.minimum(demand, capacity) - rounding**2 / (4.0 * safe)
    # The minimum is capacity times a function of demand over capacity, which gives the slope in closed form.
    weight = np.clip(0.5 - gap / (2.0 * safe), 0.0, 1.0)
    share = np.where(capacity > 1e-300, (flow - weight * demand) / np.maximum(capacity, 1e-300), 1.0)
    leak = _LEAK * conductance / np.sqrt(_LEAK_DIFFERENCE)
    return flow + leak * difference, np.clip(share, 0.0, 1.0) * capacity_slope + leak


def injector_regime(q: Any, p_up: Any, p_down: Any, p_reference: Any, coefficients: tuple[Any, ...]) -> Any:
    """Return 0 metering, 1 saturated, 2 shut, 3 back-pressured; shape (links, points)."""
    demand, conductance = coefficients
    difference = p_up - p_down
    capacity = conductance * np.sqrt(np.maximum(difference, 0.0))
    regime = np.where(demand > (1.0 - _ROUNDING) * capacity, 1, 0)
    regime = np.where(demand <= 0.0, 2, regime)
    return np.where(difference <= 0.0, 3, regime)


def _typical_flow(coefficients: tuple[Any, ...]) -> Any:
    demand, conductance = coefficients
    return np.minimum(demand, conductance * np.sqrt(_LEAK_DIFFERENCE))


INJECTOR = LinkLaw(
    name="injector",
    coefficients=("demand", "conductance"),
    equation=injector_equation,
    typical_flow=_typical_flow,
    regimes=("metering", "saturated", "shut", "back-pressured"),
    regime=injector_regime,
)
