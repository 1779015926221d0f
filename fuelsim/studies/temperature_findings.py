"""Whether any line is in hotter fuel or air than its wall is rated for, running or in the soak after a stop."""

from __future__ import annotations

import numpy as np

from fuelsim.finding import Finding, Severity
from fuelsim.sources import cite
from fuelsim.studies.extremes import greatest, least
from fuelsim.system.heat_exchange import air_around
from fuelsim.system.run import Run, System
from fuelsim.transients.world import SOAK_PEAK
from fuelsim.units import shown

__all__ = ["lines_above_their_temperature"]

FIRE = "a hose that hardens or softens leaks, and petrol burns"
RULE = "the hotter of the fuel in the line and the air around it"
ADVICE = "a line rated for the temperature, a heat shield, or another route"


def lines_above_their_temperature(system: System, run: Run) -> list[Finding]:
    """Lines in hotter fuel or air than they are rated for: running, or in the bay of a car that was stopped hot.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    run : Run
        The operating points to judge.

    Returns
    -------
    list of Finding
        Empty where there is nothing to object to.

    Examples
    --------
    >>> import fuelsim as fs
    >>> from fuelsim.studies.checks import everyday_run
    >>> values = {"feed.continuous_temperature": "40 degC", "feed.peak_temperature": "50 degC"}
    >>> system = fs.Car.named("finch").with_values(values).system("return")
    >>> print(lines_above_their_temperature(system, everyday_run(system))[0])
    warning, feed: reaches ...; its wall is rated to 40 °C for long; ...
    """
    conditions, shape = run.conditions, run.conditions.shape
    ambient, tank, speed = (
        np.broadcast_to(np.asarray(values, dtype=float), shape)
        for values in (conditions.air_temperature, conditions.tank_temperature, conditions.vehicle_speed)
    )
    air = air_around(system.car, ambient, tank, speed)
    soak = float(np.max(ambient)) + SOAK_PEAK
    objections = []
    for link in system.plumbing.lines:
        continuous, peak = least(link.part.continuous_temperature), least(link.part.peak_temperature)
        fuel = np.stack([run.temperature[station] for station in (link.upstream, link.downstream)])
        hottest = float(np.fmax(greatest(air[link.exchange.zone]), greatest(fuel)))
        # A rating that is not given is NaN, which nothing exceeds.
        running = f"reaches {_in_words(hottest)}; its wall is rated to"
        if hottest > peak:
            statement = f"{running} {_in_words(peak)} for a short while"
            objections.append(Finding(Severity.FAILURE, link.table, statement, ADVICE, FIRE, cite("computed", RULE)))
            continue
        if hottest > continuous:
            statement = f"{running} {_in_words(continuous)} for long"
            objections.append(Finding(Severity.WARNING, link.table, statement, ADVICE, FIRE, cite("computed", RULE)))
        if link.exchange.zone == "bay" and soak > peak:
            statement = f"the bay may reach {_in_words(soak)} after a stop; its wall is rated to {_in_words(peak)}"
            source = cite("computed", f"bay {SOAK_PEAK:.0f} K above the air", rests_on="soak_peak")
            objections.append(Finding(Severity.WARNING, link.table, statement, ADVICE, FIRE, source))
    return objections


def _in_words(temperature: float) -> str:
    return shown(temperature, "temperature", digits=3)
