"""Whether any line stands in hotter fuel or air than its wall is rated for, running or in the soak after a stop."""

from __future__ import annotations

import numpy as np

from fuelsim.finding import Finding, Severity
from fuelsim.sources import cite, doubt
from fuelsim.system.heat_exchange import air_around
from fuelsim.system.run import Run, System
from fuelsim.transients.world import SOAK_PEAK
from fuelsim.units import shown

__all__ = ["lines_above_their_temperature"]

FIRE = "a hose that hardens or softens leaks, and petrol burns"
RULE = "the hotter of the fuel in the line and the air around it"


def lines_above_their_temperature(system: System, run: Run) -> list[Finding]:
    """Lines in hotter fuel or air than they are rated for: running, or in the bay of a car that was stopped hot."""
    conditions = run.conditions
    shape = np.shape(run.temperature["tank"])
    outside, tank, speed = (
        np.broadcast_to(np.asarray(given, dtype=float), shape)
        for given in (conditions.air_temperature, conditions.tank_temperature, conditions.vehicle_speed)
    )
    air = air_around(system.car, outside, tank, speed)
    found = []
    for link in system.plumbing.links:
        continuous = getattr(link.part, "continuous_temperature", None)
        peak = getattr(link.part, "peak_temperature", None)
        if continuous is None and peak is None:
            continue
        around = float(np.max(air[link.exchange.zone]))
        inside = np.stack([run.temperature[node] for node in (link.upstream, link.downstream)])
        hottest, advice = (
            float(np.max(inside, initial=around, where=np.isfinite(inside))),
            "a line rated for the temperature, a heat shield, or another route",
        )
        text = f"stands in {shown(hottest, 'temperature', digits=3)}"
        if peak is not None and hottest > float(np.min(peak)):
            limit = shown(float(np.min(peak)), "temperature", digits=3)
            said = f"{text}; its wall is rated to {limit} for a short while"
            found.append(Finding(Severity.FAILURE, link.table, said, advice, FIRE, cite("computed", RULE)))
            continue
        if continuous is not None and hottest > float(np.min(continuous)):
            limit = shown(float(np.min(continuous)), "temperature", digits=3)
            said = f"{text}; its wall is rated to {limit} for long"
            found.append(Finding(Severity.WARNING, link.table, said, advice, FIRE, cite("computed", RULE)))
        soak = float(np.max(outside)) + SOAK_PEAK
        if link.exchange.zone == "bay" and peak is not None and soak > float(np.min(peak)):
            limit = shown(float(np.min(peak)), "temperature", digits=3)
            said = (
                f"the bay may reach {shown(soak, 'temperature', digits=3)} after a stop; its wall is rated to {limit}"
            )
            source = f"bay {SOAK_PEAK:.0f} K above the air: {doubt('soak_peak')}"
            found.append(Finding(Severity.WARNING, link.table, said, advice, FIRE, source))
    return found
