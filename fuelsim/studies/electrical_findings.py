"""Whether fuse and wire carry the pumps' current and leave them enough voltage."""

from __future__ import annotations

import numpy as np

from fuelsim.arguments import unchecked
from fuelsim.finding import Finding, Severity
from fuelsim.parts.catalogue_parts import catalogue_names
from fuelsim.parts.wire import Wire
from fuelsim.sources import cite
from fuelsim.studies import limits
from fuelsim.studies.circuits import circuits
from fuelsim.studies.extremes import greatest, least
from fuelsim.system.run import Run, System
from fuelsim.units import shown

__all__ = [
    "fuse_beyond_its_wire",
    "overloaded_fuse",
    "pumps_slowed_by_low_voltage",
    "pumps_that_do_not_turn",
    "unknown_fuse",
    "voltage_lost_in_the_wire",
]

CARRIED_TOLERANCE = 1.02
"""Fuse over what the wire carries up to which nothing is said: rounding of sizes."""
GRAVE_FUSE = 2.0
"""Fuse over what the wire carries from which the wire is sure to burn first [assumed]."""


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
    >>> from fuelsim.studies.checks import everyday_run
    >>> system = fs.Car.named("finch").with_values({"wire.fuse_rating": "5 A"}).system("return")
    >>> print(overloaded_fuse(system, everyday_run(system))[0])
    warning, wire: the pump draws ... of the fuse's rating; ...
    """
    hot = float(np.max(system.car.surroundings.air_temperature)) > limits.HOT_DAY
    limit = limits.FUSE_LOADING if hot else limits.COOL_FUSE_LOADING
    objections = []
    for circuit in circuits(system):
        if circuit.wire.fuse_rating is None:
            continue
        amperes = circuit.greatest_current(run)
        loading = greatest(unchecked(circuit.wire.fuse_loading)(amperes))
        if not loading > limit.value:
            continue
        current = shown(greatest(amperes), "current", digits=3)
        objections.append(
            Finding(
                Severity.WARNING if loading <= 1.0 else Severity.FAILURE,
                circuit.table,
                f"{circuit.hungriest(system, run)} draws {current}, {loading:.0%} of the fuse's rating; above "
                f"{limit.value:.0%} its holder overheats before it blows",
                "a fuse of 1.25 to 1.5 times the running current, on wire that carries it",
                caution="a fuse larger than its wire carries sets the wire on fire",
                source=limit.citation,
                measure="fuse_loading",
            )
        )
    return objections


def fuse_beyond_its_wire(system: System, run: Run) -> list[Finding]:
    """A fuse above what its wire carries: the wire burns before the fuse blows.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    run : Run
        The operating points to judge; not used.

    Returns
    -------
    list of Finding
        Empty where there is nothing to object to.

    Examples
    --------
    >>> import fuelsim as fs
    >>> from fuelsim.studies.checks import everyday_run
    >>> values = {"wire.size": "18 AWG", "wire.fuse_rating": "30 A"}
    >>> system = fs.Car.named("finch").with_values(values).system("return")
    >>> print(fuse_beyond_its_wire(system, everyday_run(system))[0])
    failure, wire: a fuse of 30 A protects wire that carries 10 A (18 AWG); a smaller fuse, or thicker wire; ...
    """
    objections = []
    for circuit in circuits(system):
        if circuit.wire.fuse_rating is None:
            continue
        rating, carried = greatest(circuit.wire.fuse_rating), _carried(circuit.wire)
        if rating <= CARRIED_TOLERANCE * carried:
            continue
        fuse, wire = (shown(value, "current", digits=3) for value in (rating, carried))
        objections.append(
            Finding(
                Severity.FAILURE if rating > GRAVE_FUSE * carried else Severity.WARNING,
                circuit.table,
                f"a fuse of {fuse} protects wire that carries {wire} ({circuit.wire.size})",
                "a smaller fuse, or thicker wire",
                caution="the wire burns before the fuse blows",
                source=cite("assumed", "fuse at or below what the wire carries, as the catalogue pairs them"),
            )
        )
    return objections


def _carried(wire: Wire) -> float:
    """Return the current a wire carries, A: by its area between the pairs of wire and fuse in the catalogue."""
    pairs = sorted((each.area, float(each.fuse_rating)) for each in map(Wire.named, catalogue_names("wires")))
    areas, ratings = (np.array(values) for values in zip(*pairs, strict=True))
    # Below the smallest wire in proportion to its area; above the largest no more than that.
    return float(np.interp(wire.area, areas, np.maximum.accumulate(ratings)) * min(wire.area / areas[0], 1.0))


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
    >>> from fuelsim.studies.checks import everyday_run
    >>> system = fs.Car.named("finch").with_values({"wire.fuse_rating": None}).system("return")
    >>> print(unknown_fuse(system, everyday_run(system))[0])
    note, wire: no fuse rating given, so its loading is not checked; give fuse_rating
    """
    unknown = [circuit.table for circuit in circuits(system) if circuit.wire.fuse_rating is None]
    statement = "no fuse rating given, so its loading is not checked"
    return [Finding(Severity.NOTE, table, statement, "give fuse_rating") for table in unknown]


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
    >>> from fuelsim.studies.checks import everyday_run
    >>> system = fs.Car.named("finch").with_values({"wire.size": "18 AWG", "wire.length": "10 m"}).system("return")
    >>> print(voltage_lost_in_the_wire(system, everyday_run(system))[0])
    warning, wire: ... lost before the pump, which gets ...; thicker or shorter wire, a fresh relay and ground
    """
    objections = []
    for circuit in circuits(system):
        # A resistor that slows the pump on purpose is not held against the wire: the drop is that of the wire alone.
        lost = unchecked(circuit.wire.voltage_drop)(circuit.greatest_current(run))
        drop, remaining = greatest(lost), least(run.conditions.supply_voltage - lost)
        if remaining < limits.PUMP_VOLTAGE.value:
            severity, source, measure = Severity.FAILURE, limits.PUMP_VOLTAGE.citation, "pump_voltage"
        elif drop > limits.SUPPLY_DROP.value:
            severity, source, measure = Severity.WARNING, limits.SUPPLY_DROP.citation, "supply_drop"
        else:
            continue
        statement = (
            f"{shown(drop, 'voltage', digits=3)} lost before {circuit.hungriest(system, run)}, which gets "
            f"{shown(remaining, 'voltage', digits=3)}"
        )
        advice = "thicker or shorter wire, a fresh relay and ground"
        objections.append(Finding(severity, circuit.table, statement, advice, source=source, measure=measure))
    return objections


def pumps_that_do_not_turn(system: System, run: Run) -> list[Finding]:
    """A pump that has voltage but does not turn.

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
    >>> system = fs.Car.named("finch").system("return")
    >>> run = system.solve(rpm=1000, load=0.0, supply_voltage=[1.5, 13.5])
    >>> print(pumps_that_do_not_turn(system, run.before_stop)[0])
    failure, pump: does not turn at 1 of 2 points, where it gets 1... V and draws ... A; more voltage at the pump; ...
    """
    objections = []
    for link in system.plumbing.pumps:
        stalled = run.pump_stalled[link.name]
        if not np.any(stalled):
            continue
        volts, current = (values[link.name][stalled] for values in (run.pump_voltage, run.pump_current))
        worst = int(np.argmax(current))
        statement = (
            f"does not turn at {np.count_nonzero(stalled)} of {np.size(stalled)} points, where it gets"
            f" {shown(float(volts[worst]), 'voltage', digits=3)} and draws"
            f" {shown(float(current[worst]), 'current', digits=3)}"
        )
        objections.append(
            Finding(
                Severity.FAILURE,
                link.name,
                statement,
                "more voltage at the pump",
                caution="a motor that is locked turns its whole power into heat",
                source=cite("computed"),
            )
        )
    return objections


def pumps_slowed_by_low_voltage(system: System, run: Run) -> list[Finding]:
    """A speed-controlled pump that does not reach the speed asked for, because it gets too little voltage.

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
    >>> pump = fs.Pump.named("brushless_turbine_300")
    >>> system = fs.Car.named("finch").with_values({"pump": pump}).system("return")
    >>> run = system.solve(rpm=3000, load=0.5, supply_voltage=[10.0, 13.8])
    >>> print(pumps_slowed_by_low_voltage(system, run.before_stop)[0])
    warning, pump: runs at ... % of its highest speed at 1 of 2 points, where it gets 8.96 V of 11.5 V; thicker ...
    """
    objections = []
    for link in system.plumbing.pumps:
        if link.part.bench_speed is None:
            continue
        needed = link.part.running_ratings.full_speed_voltage
        volts, share = run.pump_voltage[link.name], run.pump_share[link.name]
        slowed = (share > 0.0) & (volts < needed) & (share >= (1.0 - 1e-6) * volts / needed)
        if not np.any(slowed):
            continue
        worst = float(np.min(volts[slowed]))
        statement = (
            f"runs at {100.0 * worst / needed:.0f} % of its highest speed at {np.count_nonzero(slowed)} of"
            f" {np.size(slowed)} points, where it gets {shown(worst, 'voltage', digits=3)} of"
            f" {shown(needed, 'voltage', digits=3)}"
        )
        advice = "thicker or shorter wire, a fresh relay and ground, or a pump for this voltage"
        given = link.part.full_speed_voltage is not None
        source = cite("computed") if given else f"{cite('computed')}, from a voltage for full speed that is assumed"
        objections.append(Finding(Severity.WARNING, link.name, statement, advice, source=source))
    return objections
