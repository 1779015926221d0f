"""Limits that both requirements and findings judge by, each with its source."""

from __future__ import annotations

from typing import NamedTuple

from fuelsim.constants import L_PER_HOUR
from fuelsim.parts.wire import CONTINUOUS_FUSE_LOADING

__all__ = ["MEMORY", "PRACTICE", "Limit"]

PRACTICE = "common practice, no source"
MEMORY = "from memory"


class Limit(NamedTuple):
    """A limit and where it comes from.

    Attributes
    ----------
    value : float
        SI.
    source : str
    """

    value: float
    source: str


BYPASS = Limit(15.0 * L_PER_HOUR, f"10-20 L/h at peak demand, {MEMORY}")
INJECTOR_DUTY = Limit(0.85, f"80-85 %, {PRACTICE}")
PUMP_VOLTAGE = Limit(11.5, "at least 11.5 V, published service limit on dead-head")
SUPPLY_DROP = Limit(0.5, f"under 0.5 V in all, {PRACTICE}")
FUSE_LOADING = Limit(CONTINUOUS_FUSE_LOADING, "75-80 % of its rating continuous, published service bulletins")
RAIL_VAPOUR_MARGIN = Limit(5.0, "5 K assumed")
SUCTION_DEPRESSION = Limit(7e3, f"3-7 kPa at an external pump, {PRACTICE}")
SUCTION_VELOCITY = Limit(1.0, f"0.5 good, 1.0 m/s limit, {PRACTICE}")
FEED_VELOCITY = Limit(3.0, f"1.5-3 m/s, {PRACTICE}")
RETURN_VELOCITY = Limit(2.0, f"below 2 m/s, {PRACTICE}")
NPSH_REQUIRED_SOURCE = f"NPSH required, typical of the kind of pump, {MEMORY}, low confidence"
