"""From bench tables to the map a pump is computed with."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.errors import InputError
from fuelsim.laws.motor import PumpMap
from fuelsim.numerics.bracket import bisect
from fuelsim.numerics.falling_curve import FallingCurve, curve_value, falling_curve

__all__ = ["bench_groups", "build_map", "estimated_current", "typical_curve"]

_MAP_POINTS = 1025
_REVERSE_SHARE = 0.75
_BEYOND_SHARE = 0.25
_CURVE_BEND = 0.4
"""Share of the quadratic term in the typical falling curve, fitted to the 255 L/h class table (from memory)."""


def bench_groups(drive: Any, flow: Any, pressure: Any, current: Any) -> list[tuple[float, Any, Any, Any]]:
    """Split bench rows by drive and sort each by flow.

    Returns
    -------
    list of (drive, flow, pressure, current or None)
        By rising drive.

    Raises
    ------
    InputError
        For fewer than two rows at one drive, pressures that do not fall with the flow, or less flow at more drive.
    """
    drives = np.broadcast_to(np.asarray(drive, dtype=float), np.shape(flow))
    groups = []
    for value in np.unique(drives):
        rows = np.flatnonzero(drives == value)
        rows = rows[np.argsort(flow[rows], kind="stable")]
        q, p = flow[rows], pressure[rows]
        if len(rows) < 2:
            raise InputError(
                f"only one bench point at {value:g}", given=float(q[0]), accepted="at least two points", key="flow"
            )
        if np.any(np.diff(q) <= 0.0):
            raise InputError("two bench points have the same flow", given=q.tolist(), key="flow")
        if np.any(np.diff(p) >= 0.0):
            at = int(np.argmax(np.diff(p)))
            raise InputError(
                f"the pump curve {'rises' if p[at + 1] > p[at] else 'does not fall'}: from {p[at] / 1e3:g} to "
                f"{p[at + 1] / 1e3:g} kPa while the flow grows from {q[at] / L_PER_HOUR:g} to "
                f"{q[at + 1] / L_PER_HOUR:g} L/h",
                given=p.tolist(),
                accepted="pressures that fall as the flow grows",
                key="pressure",
            )
        groups.append((float(value), q, p, None if current is None else current[rows]))
    for lower, higher in pairwise(groups):
        _check_gain(lower, higher)
    return groups


def _check_gain(lower: tuple[float, Any, Any, Any], higher: tuple[float, Any, Any, Any]) -> None:
    pressure = np.concatenate([lower[2], higher[2]])
    common = (pressure >= max(lower[2].min(), higher[2].min())) & (pressure <= min(lower[2].max(), higher[2].max()))
    slow, fast = (np.interp(pressure[common], p[::-1], q[::-1]) for _, q, p, _ in (lower, higher))
    if np.any(fast <= slow):
        raise InputError(
            f"the bench rows at {higher[0]:g} give less flow than those at {lower[0]:g} at the same pressure",
            given=higher[1].tolist(),
            accepted="flows that grow with voltage or speed",
            key="flow",
        )


def build_map(
    groups: list[tuple[float, Any, Any, Any]],
    *,
    voltage_exponent: float,
    proportional_share: float,
    power_at_rest: float,
    power_per_pressure: float,
    voltage: float,
) -> PumpMap:
    """Return the map of a pump from its bench tables.

    The curve at the highest drive is the base. Further tables give the flow gained per unit of drive at each
    pressure; a single one takes it from the exponent: A(s) = n Q_free/V_bench ((1 - m) + m s/Q_free).
    """
    drive, flow, pressure, current = groups[-1]
    base = falling_curve(flow, pressure)
    free = _flow_at(base, 0.0)
    start, stop = -_REVERSE_SHARE * free, (1.0 + _BEYOND_SHARE) * free
    bench_flow = np.linspace(start, stop, _MAP_POINTS)
    map_pressure, _ = curve_value(base, bench_flow)

    drives = np.array([group[0] for group in groups])
    if len(groups) == 1:
        slope = voltage_exponent * free / drive
        shape = (1.0 - proportional_share) + proportional_share * np.maximum(bench_flow, 0.0) / free
        flow_per_drive = (slope * shape)[None, :]
    else:
        at_pressure = np.array(
            [_flows_at(falling_curve(q, p), map_pressure, free) for _, q, p, _ in groups[:-1]] + [bench_flow]
        )
        flow_per_drive = np.diff(at_pressure, axis=0) / np.diff(drives)[:, None]
        # Beyond the bench rows the continued tables must not cross.
        flow_per_drive = np.maximum(flow_per_drive, 0.1 * np.median(flow_per_drive, axis=1, keepdims=True))

    if current is None:
        map_current = estimated_current(map_pressure, free, power_at_rest, power_per_pressure, voltage)
        per_drive = 0.0
    else:
        map_current = _current_at(pressure, current, map_pressure)
        per_drive = _current_per_drive(groups)
    edges = np.concatenate([[-np.inf], drives[1:-1], [np.inf]])
    return PumpMap(
        float(start),
        float(bench_flow[1] - bench_flow[0]),
        map_pressure,
        map_current,
        flow_per_drive,
        edges,
        float(drive),
        per_drive,
        float(free),
    )


def estimated_current(
    pressure: Any, free_flow: float, power_at_rest: float, power_per_pressure: float, voltage: float
) -> np.ndarray:
    """Return a current for a pump whose bench gave none, I = Q_free (a + b p)/V.

    Parameters
    ----------
    pressure : array
        Pa.
    free_flow, voltage : float
        m3/s and V.
    power_at_rest, power_per_pressure : float
        a, W per m3/s, and b; see `PumpType`.

    Returns
    -------
    array
        A.

    Examples
    --------
    >>> round(float(estimated_current(400e3, 318 / 3.6e6, 549e3, 1.97, 13.5)), 1)
    8.7
    """
    return free_flow * (power_at_rest + power_per_pressure * np.maximum(pressure, 0.0)) / voltage


def typical_curve(first: tuple[float, float], second: tuple[float, float]) -> tuple[np.ndarray, np.ndarray]:
    """Return flows and pressures of a typical falling curve through two points.

    Q = Q_free (1 - (1 - b) p/p_dead - b (p/p_dead)^2) with b = 0.4.

    Parameters
    ----------
    first, second : (flow, pressure)
        m3/s and Pa; the one with the higher pressure must have the lower flow, which may be zero.

    Raises
    ------
    InputError
        If the curve would rise, or the points do not fit a falling curve.
    """
    (q1, p1), (q2, p2) = sorted((first, second), key=lambda point: point[1])
    if q2 >= q1 or p2 <= p1:
        raise InputError(
            "the pump curve rises",
            given=[first, second],
            accepted="two points, that of the higher pressure with the lower flow",
            key="pressure",
        )

    def share(pressure: Any, dead: Any) -> Any:
        x = np.asarray(pressure) / dead
        return 1.0 - (1.0 - _CURVE_BEND) * x - _CURVE_BEND * x * x

    # The flow ratio rises with the dead-head pressure, which is searched for on a logarithmic scale.
    log_dead = bisect(lambda x: q2 / q1 > share(p2, np.exp(x)) / share(p1, np.exp(x)), np.log(p2), np.log(1e3 * p2), 60)
    dead = p2 if q2 == 0.0 else float(np.exp(log_dead))
    free = q1 / float(share(p1, dead))
    # A dead-head that follows from the shape alone gets no row, so that it shows as extrapolated.
    top = dead if q2 == 0.0 else max(p2, 0.95 * dead)
    pressure = np.unique(np.concatenate([np.linspace(0.0, top, 13), [p1, p2]]))
    flow = free * share(pressure, dead)
    flow[pressure == dead] = 0.0
    return flow[::-1], pressure[::-1]


def _flow_at(curve: FallingCurve, pressure: float) -> float:
    """Return the flow of a falling curve at one pressure, by bisection."""
    span = float(curve.x[-1])
    return float(bisect(lambda flow: curve_value(curve, flow)[0] > pressure, -4.0 * span, 4.0 * span, 80))


def _flows_at(curve: FallingCurve, pressure: np.ndarray, free: float) -> np.ndarray:
    flow = np.linspace(-3.0 * free, 3.0 * free, 24001)
    values, _ = curve_value(curve, flow)
    return np.interp(pressure, values[::-1], flow[::-1])


def _current_at(bench_pressure: np.ndarray, bench_current: np.ndarray, pressure: np.ndarray) -> np.ndarray:
    """Return the current at each pressure: straight between bench points, and beyond them by I = I0 + k p."""
    order = np.argsort(bench_pressure)
    p, amps = bench_pressure[order], bench_current[order]
    slope = max(0.0, float(np.polyfit(p - p.mean(), amps, 1)[0]))
    inside = np.interp(pressure, p, amps)
    beyond = np.maximum(pressure - p[-1], 0.0) - np.maximum(p[0] - pressure, 0.0)
    return np.maximum(inside + slope * beyond, 0.1 * float(amps.min()))


def _current_per_drive(groups: list[tuple[float, Any, Any, Any]]) -> float:
    """Return the mean growth of current with drive at equal pressure, least squares over all tables; 0 for one."""
    drive, _, pressure, current = groups[-1]
    top = bottom = 0.0
    for other, _, p, amps in groups[:-1]:
        if amps is None:
            continue
        gap = np.interp(p, pressure[::-1], current[::-1]) - amps
        common = (p >= pressure.min()) & (p <= pressure.max())
        top += float(np.sum(gap[common])) * (drive - other)
        bottom += float(np.sum(common)) * (drive - other) ** 2
    return max(0.0, top / bottom) if bottom > 0.0 else 0.0
