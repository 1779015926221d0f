"""Whether tank, lines and filters let the fuel through: velocity, suction, vent, filters, pick-up."""

from __future__ import annotations

import numpy as np

from fuelsim.constants import GRAVITY
from fuelsim.finding import Finding, Severity
from fuelsim.sources import cite
from fuelsim.studies import limits
from fuelsim.studies.extremes import greatest, least
from fuelsim.system.manoeuvre import uncovering_accelerations
from fuelsim.system.plumbing_paths import drawn_from, pumps_behind
from fuelsim.system.run import Run, System
from fuelsim.units import shown

__all__ = ["deep_suction", "fast_lines", "filters_in_the_wrong_place", "tank_pulled_down", "uncovered_pick_up"]

VAPOUR_CAUTION = "vapour from an open tank burns; no flame, spark or hot engine near it"
DEEPEST_VACUUM = 3e3
"""Greatest usual vacuum in the tank, Pa [assumed]: a cap's vacuum valve opens at 2-3 kPa; 5 kPa cost 2 K at the pump.
"""
FINEST_BEFORE_PUMP = 100e-6
"""Finest filter before a pump that sucks, m [common_practice]; a sock in the tank is finer."""
CORNERING = 0.9 * GRAVITY
"""Acceleration that everyday tyres bear, m/s2 [assumed]."""


def fast_lines(system: System, run: Run) -> list[Finding]:
    """Lines in which the fuel runs faster than the guides for suction, delivery and return.

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
    >>> system = fs.Car.named("finch").with_values({"return_line.bore": "4 mm"}).system("return")
    >>> print(fast_lines(system, everyday_run(system))[0])
    warning, return_line: fuel runs at ... in a bore of 4 mm; the guide is 2 m/s; a larger bore
    """
    plumbing = system.plumbing
    guides = (
        ("suction_velocity", limits.SUCTION_VELOCITY, plumbing.suction_lines),
        ("feed_velocity", limits.FEED_VELOCITY, plumbing.feed_lines),
        ("return_velocity", limits.RETURN_VELOCITY, plumbing.return_lines),
    )
    objections = []
    for measure, limit, link in ((measure, limit, link) for measure, limit, lines in guides for link in lines):
        bore = float(np.min(link.part.bore))
        velocity = greatest(np.abs(run.flow[link.name])) / (np.pi / 4.0 * bore**2)
        if velocity > limit.value:
            statement = (
                f"fuel runs at {shown(velocity, 'velocity', digits=3)} in a bore of {shown(bore, 'bore', digits=3)}; "
                f"the guide is {shown(limit.value, 'velocity', digits=2)}"
            )
            warning, source = Severity.WARNING, limit.citation
            objections.append(Finding(warning, link.name, statement, "a larger bore", source=source, measure=measure))
    return objections


def deep_suction(system: System, run: Run) -> list[Finding]:
    """An external pump whose inlet pressure is further below the tank's than is good for hose and fuel.

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
    >>> system = fs.Car.named("heron").with_values({"suction.bore": "5 mm"}).system("return")
    >>> print(deep_suction(system, everyday_run(system))[0])
    warning, pump: the pressure at its inlet is ... below that of the tank; up to 7 kPa is usual; ...
    """
    objections = []
    for pump in system.plumbing.pumps:
        vessel = drawn_from(system.plumbing, pump.upstream)
        depression = greatest(run.pressure[vessel] - run.pressure[pump.upstream])
        if pump.part.mounting != "external" or not depression > limits.SUCTION_DEPRESSION.value:
            continue
        usual = shown(limits.SUCTION_DEPRESSION.value, "pressure difference", digits=2)
        objections.append(
            Finding(
                Severity.WARNING,
                pump.name,
                f"the pressure at its inlet is {shown(depression, 'pressure difference', digits=3)} below that of the "
                f"{vessel}; up to {usual} is usual",
                "a larger or shorter suction line, a clean strainer, a lower pump",
                source=limits.SUCTION_DEPRESSION.citation,
                measure="suction_depression",
            )
        )
    return objections


def tank_pulled_down(system: System, run: Run) -> list[Finding]:
    """A tank whose vent lets in less air than the engine burns fuel.

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
    >>> system = fs.Car.named("heron").system("return")
    >>> print(tank_pulled_down(system, system.solve(fs.Conditions(rpm=3000, vapour_space_pressure="-4 kPa")))[0])
    warning, tank: its pressure falls 4 kPa below the atmosphere: its vent lets too little air in; ...
    """
    vacuum = -least(run.conditions.vapour_space_pressure)
    if not vacuum > DEEPEST_VACUUM:
        return []
    return [
        Finding(
            Severity.WARNING,
            system.plumbing.vessel,
            f"its pressure falls {shown(vacuum, 'pressure difference', digits=2)} below the atmosphere: its vent lets "
            "too little air in",
            "clear the vent, or fit a larger one; to check it, open the cap and listen",
            caution=VAPOUR_CAUTION,
            source=cite(["computed", "assumed"], "3 kPa is usual"),
        )
    ]


def filters_in_the_wrong_place(system: System, run: Run) -> list[Finding]:
    """Filters too fine for their side, on the other side than they say, or beyond the drop of a change.

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
    >>> system = fs.Car.named("finch").with_values({"filter.side": "suction"}).system("return")
    >>> print(filters_in_the_wrong_place(system, everyday_run(system))[0])
    warning, filter: stands on the pressure side, but is made for the suction side; ...
    """
    plumbing, objections = system.plumbing, []
    practice = cite("common_practice")
    for side, links in (("suction", plumbing.strainers), ("pressure", plumbing.filters)):
        for link in links:
            if link.part.side != side:
                statement = f"stands on the {side} side, but is made for the {link.part.side} side"
                advice = "correct its side, or fit another"
                objections.append(Finding(Severity.WARNING, link.name, statement, advice, source=practice))
    for link in plumbing.strainers:
        fineness = link.part.fineness
        sucking = any(pump.part.mounting == "external" for pump in pumps_behind(plumbing, link))
        if sucking and fineness is not None and fineness < 0.99 * FINEST_BEFORE_PUMP:
            statement = (
                f"{shown(float(fineness), 'particle size', digits=3)} is finer than a pump can draw through freely"
            )
            advice = "100 µm before the pump, 10 µm after"
            source = cite("pump_makers_advice", "no finer than 100 µm before a pump that sucks")
            objections.append(Finding(Severity.WARNING, link.name, statement, advice, source=source))
    for link in plumbing.filters:
        drop = greatest(run.pressure[link.upstream] - run.pressure[link.downstream])
        change, source = float(np.min(link.part.change_drop)), cite("common_practice", "35-70 kPa")
        if (
            float(np.max(plumbing.held_at(link.upstream).held_pressure())) <= limits.LOW_PRESSURE
            and limits.LOW_PRESSURE_FILTER.value < change
        ):
            change, source = limits.LOW_PRESSURE_FILTER.value, limits.LOW_PRESSURE_FILTER.citation
        if drop > change:
            drop_in_words = shown(drop, "pressure difference", digits=3)
            statement = f"costs {drop_in_words}, more than the drop at which it is changed"
            advice = "a larger or a fresh filter"
            objections.append(Finding(Severity.WARNING, link.name, statement, advice, source=source))
    return objections


def uncovered_pick_up(system: System, run: Run) -> list[Finding]:
    """A pick-up that everyday launching, braking or cornering leaves bare; only for a car with a plan.

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
    >>> from fuelsim.car.floor_plan import Plan
    >>> plan = Plan(tank_length="0.5 m", pick_up_ahead="0.2 m")
    >>> system = fs.Car.named("finch").with_values({"tank.fuel_volume": "5 L"}).with_plan(plan).system("return")
    >>> print(uncovered_pick_up(system, system.solve(rpm=3000))[0])
    warning, tank: its pick-up is bare at a steady ... g (launch) with this much fuel; ...
    """
    if system.car.plan is None:
        return []
    return [
        Finding(
            Severity.WARNING,
            system.plumbing.vessel,
            f"its pick-up is bare at a steady {limit / GRAVITY:.2g} g ({manoeuvre}) with this much fuel",
            "a surge pot, baffles, or a pick-up at another place",
            source=cite("computed", "box without baffles"),
        )
        for manoeuvre, limit in uncovering_accelerations(system.car).items()
        if limit < CORNERING
    ]
