"""Limits that service manuals set to the pressure left in a system after the pump has stopped."""

from __future__ import annotations

from typing import NamedTuple

from fuelsim.sources import cite

__all__ = ["GREATEST_FALL", "SERVICE_TIME", "ServiceLimit", "service_limits"]

SERVICE_TIME = 300.0
"""Time after the stop at which manuals read the gauge, s [service_manuals_d]."""
GREATEST_FALL = 55e3
"""Greatest fall within the service time, Pa: one maker's limit [service_manual_1990s_a]."""
LEAST_LEFT = ((235e3, 275e3, 147e3), (430e3, 510e3, 250e3))
"""Least and greatest set pressure of a kind of system, and the least pressure left after the service time, Pa
[service_manuals_d]."""


class ServiceLimit(NamedTuple):
    """A published limit beside what it judges.

    Attributes
    ----------
    name : str
        What is judged.
    limit, value : float
        Pa.
    met : bool
        Whether the limit is met.
    source : str
        Where the limit comes from.
    """

    name: str
    limit: float
    value: float
    met: bool
    source: str


def service_limits(set_pressure: float, before: float, left: float) -> tuple[ServiceLimit, ...]:
    """Return the published limits that apply to a system.

    Parameters
    ----------
    set_pressure : float
        Set pressure, Pa; only for some there is a published least pressure.
    before, left : float
        Gauge pressure with the pump running, and five minutes after it stopped, Pa.

    Examples
    --------
    >>> [limit.met for limit in service_limits(450e3, 450e3, 412e3)]
    [True, True]
    """
    lost, source = before - left, cite("service_manual_1990s_a")
    fall = ServiceLimit("fall within 5 min of the stop", GREATEST_FALL, lost, lost <= GREATEST_FALL, source)
    least = tuple(
        ServiceLimit("pressure left after 5 min", limit, left, left >= limit, cite("service_manuals_d"))
        for low, high, limit in LEAST_LEFT
        if low <= set_pressure <= high
    )
    return (fall, *least)
