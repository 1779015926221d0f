"""What a plumbing of several pumps, pots or rails can have wrong: back flow, dry pots, unequal rails, unused tables."""

from __future__ import annotations

import numpy as np

from fuelsim.car.runs import unused_tables
from fuelsim.finding import Finding, Severity
from fuelsim.sources import cite
from fuelsim.studies import limits
from fuelsim.studies.extremes import greatest, least
from fuelsim.system.plumbing_paths import filling_links, pumps_side_by_side
from fuelsim.system.run import Run, System
from fuelsim.units import shown

__all__ = [
    "lift_pump_below_demand",
    "pots_that_run_dry",
    "pumps_without_check_valves",
    "reducers_without_supply",
    "tables_without_use",
    "unequal_rails",
]


def pumps_without_check_valves(system: System, run: Run) -> list[Finding]:
    """Pumps in parallel of which one has no check valve, neither its own nor one behind it.

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
    >>> plover = fs.Car.named("plover")
    >>> runs = [tuple(name for name in run if name != "right_check") for run in plover.plumbing["no_pot"].runs]
    >>> system = plover.with_plumbing("one_valve", runs).system("one_valve")
    >>> print(pumps_without_check_valves(system, everyday_run(system))[0])
    warning, right_pump: no check valve, beside left_pump: fuel runs back through it while it is off or weaker; ...
    """
    objections = []
    for group in pumps_side_by_side(system.plumbing):
        for name in group.unprotected:
            others = " and ".join(pump for pump in group.pumps if pump != name)
            statement = f"no check valve, beside {others}: fuel runs back through it while it is off or weaker"
            advice = f"a check valve of its own behind '{name}', before the flows meet"
            objections.append(Finding(Severity.WARNING, name, statement, advice, source=cite("computed")))
    return objections


def tables_without_use(system: System, run: Run) -> list[Finding]:
    """Named tables of the car that no run of any of its own plumbings uses.

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
    >>> system = fs.Car.named("plover").with_values({"orifices.bleed": fs.Orifice(diameter="0.6 mm")}).system("pot")
    >>> print(tables_without_use(system, everyday_run(system))[-1])
    note, orifices.bleed: no run of a plumbing uses this table, so that it has no effect; ...
    """
    statement = "no run of a plumbing uses this table, so that it has no effect"
    advice = "name it in a run, correct its name, or take the table out"
    return [Finding(Severity.NOTE, table, statement, advice) for table in unused_tables(system.car)]


def pots_that_run_dry(system: System, run: Run) -> list[Finding]:
    """A pot that more leaves than comes in, with the time it lasts and the flow that would keep it full.

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
    >>> system = fs.Car.named("plover").with_values({"wires.lift.other": "4 ohm"}).system("pot")
    >>> print(pots_that_run_dry(system, everyday_run(system))[0])
    failure, pot: runs dry in ... s at ... rpm: ... fill it from the tank, ... are needed; ...
    """
    objections = []
    rpm = np.broadcast_to(run.conditions.rpm, run.conditions.shape).reshape(-1)
    for pot in system.plumbing.pots:
        time = np.where(np.isnan(run.pot_time[pot]), np.inf, run.pot_time[pot]).reshape(-1)
        worst = int(np.argmin(time))
        if not np.isfinite(time[worst]):
            continue
        coming = [np.asarray(run.flow[link.name]).reshape(-1)[worst] for link in filling_links(system.plumbing, pot)]
        lacking = -float(np.asarray(run.pot_overflow[pot]).reshape(-1)[worst])
        lift = float(np.sum(coming))
        fill, needed = (shown(flow, "volume flow", digits=3) for flow in (lift, lift + lacking))
        lasts = shown(float(time[worst]), "time", digits=3)
        statement = f"runs dry in {lasts} at {rpm[worst]:.0f} rpm: {fill} fill it from the tank, {needed} are needed"
        advice = "a larger lift pump, better wire or less loss before the pot, or more of the return into the pot"
        caution = "a pump that runs dry wears out in minutes, and the engine leans at full load"
        objections.append(Finding(Severity.FAILURE, pot, statement, advice, caution, cite("computed")))
    return objections


def lift_pump_below_demand(system: System, run: Run) -> list[Finding]:
    """A surge pot of a drive whose lift pump brings less than the engine burns; pots of a plumbing run dry instead.

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
    >>> from fuelsim.car.heat_parts import SurgePot
    >>> car = fs.Car.named("heron").with_values({"surge_pot": SurgePot(lift_flow="60 L/h")})
    >>> system = car.system("return")
    >>> print(lift_pump_below_demand(system, everyday_run(system))[0])
    failure, surge_pot: its lift pump brings 60 L/h, and the engine burns up to ... L/h: a full pot lasts ... s; ...
    """
    pot = system.car.surge_pot
    if pot is None or system.plumbing.layout.own:
        return []
    burnt, lift = greatest(run.burnt_flow), greatest(pot.lift_flow)
    if not burnt > lift:
        return []
    brought, needed = (shown(flow, "volume flow", digits=3) for flow in (lift, burnt))
    lasts = shown(greatest(pot.volume) / (burnt - lift), "time", digits=3)
    statement = f"its lift pump brings {brought}, and the engine burns up to {needed}: a full pot lasts {lasts}"
    caution = "a pump that runs dry wears out in minutes, and the engine leans at full load"
    return [Finding(Severity.FAILURE, "surge_pot", statement, "a larger lift pump", caution, cite("computed"))]


def reducers_without_supply(system: System, run: Run) -> list[Finding]:
    """A reducing regulator that is wide open: what comes to it is not enough for its set pressure.

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
    >>> system = fs.Car.named("finch").system("return")
    >>> reducers_without_supply(system, everyday_run(system))
    []
    """
    objections = []
    for link in system.plumbing.reducers:
        open_wide = np.asarray(run.regime[link.name]) == "wide open"
        if not np.any(open_wide):
            continue
        lowest = shown(
            least(np.asarray(run.gauge_pressure[link.downstream])[open_wide]), "pressure difference", digits=3
        )
        statement = f"wide open at some points: the pressure behind it falls to {lowest} gauge"
        advice = "a larger pump, or less loss before it"
        objections.append(Finding(Severity.WARNING, link.name, statement, advice, source=cite("computed")))
    return objections


def unequal_rails(system: System, run: Run) -> list[Finding]:
    """Rails whose pressures differ so far that one bank's injectors pass more than about a hundredth more.

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
    >>> system = fs.Car.named("plover").with_values({"lines.right_feed.bore": "4 mm"}).system("dead_ended")
    >>> print(unequal_rails(system, everyday_run(system))[0])
    note, left_rail, right_rail: pressures differ by up to ... kPa: injectors of one pass ... % less than ...
    """
    rails = run.by_rail
    # Rails that are held at other pressures on purpose are not compared.
    together: dict[str, list[str]] = {}
    for name in rails:
        together.setdefault(system.plumbing.zone(name), []).append(name)
    objections = []
    for names in together.values():
        differences = np.stack([np.asarray(rails[name].pressure_difference) for name in names])
        # An injector passes the square root of the pressure difference.
        lost = greatest(1.0 - np.sqrt(np.fmin.reduce(differences, axis=0) / np.fmax.reduce(differences, axis=0)))
        if not lost > limits.RAIL_SPREAD.value:
            continue
        spread = shown(greatest(np.ptp(differences, axis=0)), "pressure difference", digits=2)
        share = f"{100.0 * lost:.2g} %"
        statement = f"pressures differ by up to {spread}: injectors of one pass {share} less than of the other"
        advice = "a crossover between the rails' far ends, or equal branches"
        objections.append(
            Finding(Severity.NOTE, ", ".join(names), statement, advice, source=limits.RAIL_SPREAD.citation)
        )
    return objections
