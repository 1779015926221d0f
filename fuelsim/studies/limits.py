"""Limits that both requirements and findings judge by, each with its source."""

from __future__ import annotations

from typing import NamedTuple

from fuelsim.constants import L_PER_HOUR
from fuelsim.parts.wire import CONTINUOUS_FUSE_LOADING, HOT_FUSE_LOADING
from fuelsim.sources import cite

__all__ = ["Limit"]


class Limit(NamedTuple):
    """A limit and where it comes from.

    Attributes
    ----------
    value : float
        SI.
    source : str
        Key of `fuelsim.sources.references`.
    note : str
        What of the source was taken.
    rests_on : str
        Figure without a public source that what is judged by the limit rests on.
    """

    value: float
    source: str
    note: str = ""
    rests_on: str = ""

    @property
    def citation(self) -> str:
        """Where the limit comes from, as outputs print it."""
        return cite(self.source, self.note, self.rests_on)


BYPASS = Limit(15.0 * L_PER_HOUR, source="memory", note="10-20 L/h at peak demand", rests_on="regulator_slope")
INJECTOR_DUTY = Limit(0.85, source="injector_glossaries", note="85 %, static beyond 92 %", rests_on="dead_time")
PUMP_VOLTAGE = Limit(11.5, source="service_manual_1980s_a", note="at least 11.5 V at the terminals")
SUPPLY_DROP = Limit(0.5, source="service_manuals_c", note="0.5 to 1 V in all is a fault")
# A good circuit of 20 to 100 A loses 0.1 to 0.2 V [battery_school].
FUSE_LOADING = Limit(HOT_FUSE_LOADING, source="fuse_glossary", note="75 % of its rating continuous where it is hot")
COOL_FUSE_LOADING = Limit(
    CONTINUOUS_FUSE_LOADING, source="service_bulletin_1990s_a", note="75-80 % of its rating continuous"
)
HOT_DAY = 308.15
"""Temperature of the air from which a fuse in the bay or boot is hot, K [assumed]."""
RAIL_VAPOUR_MARGIN = Limit(5.0, source="assumed", note="5 K", rests_on="bay_temperature")
RAIL_SPREAD = Limit(0.01, source="assumed", note="1 % of injector flow between banks, 2 % of pressure")
SUCTION_DEPRESSION = Limit(7e3, source="common_practice", note="3-7 kPa at an external pump")
SUCTION_VELOCITY = Limit(1.0, source="common_practice", note="0.5 good, 1.0 m/s limit")
FEED_VELOCITY = Limit(3.0, source="common_practice", note="1.5-3 m/s")
RETURN_VELOCITY = Limit(2.0, source="common_practice", note="below 2 m/s")
NPSH_REQUIRED_SOURCE = cite("memory", "NPSH required, typical of the kind of pump", rests_on="npsh_required")
LOW_PRESSURE_FILTER = Limit(34e3, source="service_manual_1990s_b", note="34 kPa on a system of 100 kPa")
LOW_PRESSURE = 110e3
"""Set pressure up to which a system is one of low pressure, as for throttle-body injection, Pa
[service_chart_1980s_a]."""
