"""Whether any line stands in hotter fuel or air than its wall is rated for, running or in the soak after a stop."""

from __future__ import annotations

import numpy as np

from fuelsim.finding import Finding, Severity
from fuelsim.sources import cite
from fuelsim.system.exchange import air_around
from fuelsim.system.run import Run, System
from fuelsim.transients.world import SOAK_PEAK
from fuelsim.units import shown

__all__ = ["lines_above_their_temperature"]

FIRE = "a hose that hardens or softens leaks, and petrol burns"
RULE = "the hotter of the fuel in the line and the air around it"


def lines_above_their_temperature(system: System, run: Run) -> list[Finding]:
    """Lines in hotter fuel or air than they are rated for: running, or in the bay of a car that was stopped hot."""
    conditions = run.conditions
    points = {
        name: np.asarray(getattr(conditions, name)) for name in ("tank_temperature", "air_temperature", "vehicle_speed")
    }
    air = air_around(system.car, points)
    found = []
    for link in system.plumbing.links:
        continuous = getattr(link.part, "continuous_temperature", None)
        peak = getattr(link.part, "peak_temperature", None)
        if continuous is None and peak is None:
            continue
        around = float(np.max(air[link.exchange.zone]))
        fuel = max(float(np.nanmax(run.temperature[node])) for node in (link.upstream, link.downstream))
        hottest, advice = max(around, fuel), "a line rated for the temperature, a heat shield, or another route"
        text = f"stands in {shown(hottest, 'temperature', digits=3)}"
        if peak is not None and hottest > float(np.min(peak)):
            limit = shown(float(np.min(peak)), "temperature", digits=3)
            said = f"{text}; its wall is rated to {limit} for a short while"
            found.append(Finding(Severity.FAILURE, link.name, said, advice, FIRE, cite("computed", RULE)))
            continue
        if continuous is not None and hottest > float(np.min(continuous)):
            limit = shown(float(np.min(continuous)), "temperature", digits=3)
            said = f"{text}; its wall is rated to {limit} for long"
            found.append(Finding(Severity.WARNING, link.name, said, advice, FIRE, cite("computed", RULE)))
        soak = float(np.max(points["air_temperature"])) + SOAK_PEAK
        if link.exchange.zone == "bay" and peak is not None and soak > float(np.min(peak)):
            limit = shown(float(np.min(peak)), "temperature", digits=3)
            said = (
                f"the bay may reach {shown(soak, 'temperature', digits=3)} after a stop; its wall is rated to {limit}"
            )
            source = cite("memory", f"bay {SOAK_PEAK:.0f} K above the air after a stop, 50 to 70 K")
            found.append(Finding(Severity.WARNING, link.name, said, advice, FIRE, source))
    return found
