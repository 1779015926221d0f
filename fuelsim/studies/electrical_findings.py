"""Whether fuse and wire carry the pumps' current and leave them enough voltage."""

from __future__ import annotations

import numpy as np

from fuelsim.car.tables import plain_table
from fuelsim.finding import Finding, Severity
from fuelsim.studies import limits
from fuelsim.studies.extremes import greatest, least
from fuelsim.studies.measures import MEASURES
from fuelsim.system.run import Run, System
from fuelsim.units import shown

__all__ = ["overloaded_fuse", "unknown_fuse", "voltage_lost_in_the_wire"]


def overloaded_fuse(system: System, run: Run) -> list[Finding]:
    """A fuse that carries more than 80 % of its rating, on a hot day 75 %: its holder overheats before it blows.

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
    >>> from fuelsim.studies.findings import everyday_run
    >>> system = fs.Car.named("finch").with_values({"wire.fuse_rating": "5 A"}).system("return")
    >>> print(overloaded_fuse(system, everyday_run(system))[0])
    warning, wire: the pump draws ... of the fuse's rating; ...
    """
    hot = float(np.max(system.car.surroundings.air_temperature)) > limits.HOT_DAY
    limit = limits.FUSE_LOADING if hot else limits.COOL_FUSE_LOADING
    loading = greatest(MEASURES["fuse_loading"].of(system, run))
    if not loading > limit.value:
        return []
    current = shown(greatest(MEASURES["pump_current"].of(system, run)), "current", digits=3)
    return [
        Finding(
            Severity.WARNING if loading <= 1.0 else Severity.FAILURE,
            "wire",
            f"the pump draws {current}, {loading:.0%} of the fuse's rating; above {limit.value:.0%} its "
            "holder overheats before it blows",
            "a fuse of 1.25 to 1.5 times the running current, on wire that carries it",
            caution="a fuse larger than its wire carries sets the wire on fire",
            source=limit.citation,
        )
    ]


def unknown_fuse(system: System, run: Run) -> list[Finding]:
    """A circuit whose fuse is not known.

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
    >>> from fuelsim.studies.findings import everyday_run
    >>> system = fs.Car.named("finch").with_values({"wire.fuse_rating": None}).system("return")
    >>> print(unknown_fuse(system, everyday_run(system))[0])
    note, wire: no fuse rating given, so its loading is not checked; give fuse_rating
    """
    if plain_table(system.car.wire, "wire").fuse_rating is not None:
        return []
    return [Finding(Severity.NOTE, "wire", "no fuse rating given, so its loading is not checked", "give fuse_rating")]


def voltage_lost_in_the_wire(system: System, run: Run) -> list[Finding]:
    """A wire that costs the pump more than half a volt, or a pump below its least voltage.

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
    >>> from fuelsim.studies.findings import everyday_run
    >>> system = fs.Car.named("finch").with_values({"wire.size": "18 AWG", "wire.length": "10 m"}).system("return")
    >>> print(voltage_lost_in_the_wire(system, everyday_run(system))[0])
    warning, wire: ... lost before the pump, which gets ...; thicker or shorter wire, a fresh relay and ground
    """
    # A resistor that slows the pump on purpose is not held against the wire, so the drop is that of the wire alone.
    lost = plain_table(system.car.wire, "wire").voltage_drop(MEASURES["pump_current"].at_points(system, run))
    drop, remaining = greatest(lost), least(run.conditions.supply_voltage - lost)
    if remaining < limits.PUMP_VOLTAGE.value:
        severity, source = Severity.FAILURE, limits.PUMP_VOLTAGE.citation
    elif drop > limits.SUPPLY_DROP.value:
        severity, source = Severity.WARNING, limits.SUPPLY_DROP.citation
    else:
        return []
    statement = (
        f"{shown(drop, 'voltage', digits=3)} lost before the pump, which gets {shown(remaining, 'voltage', digits=3)}"
    )
    return [Finding(severity, "wire", statement, "thicker or shorter wire, a fresh relay and ground", source=source)]
