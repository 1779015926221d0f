"""Whether pump, regulator and injectors deliver the fuel, liquid, over the whole range of operation."""

from __future__ import annotations

import numpy as np

from fuelsim.arguments import unchecked
from fuelsim.car.tables import PlacedRegulator
from fuelsim.finding import Finding, Severity
from fuelsim.parts.pump.pump import Pump
from fuelsim.sources import cite
from fuelsim.studies import limits
from fuelsim.studies.extremes import greatest, least
from fuelsim.studies.measures import MEASURES
from fuelsim.system.plumbing import PlannedLink
from fuelsim.system.plumbing_paths import regulator_groups
from fuelsim.system.run import Run, System
from fuelsim.units import shown

__all__ = [
    "guessed_pump_figures",
    "injectors_at_their_limits",
    "points_without_solution",
    "pump_control_out_of_range",
    "regulator_out_of_control",
    "staged_pump_that_cycles",
    "vapour_at_the_pump",
    "vapour_in_the_rail",
]

FIRE_CAUTION = "petrol under pressure burns; release the pressure before opening a joint"


def points_without_solution(system: System, run: Run) -> list[Finding]:
    """Operating points without a solution: nothing is known of them; a pot that runs dry has a finding of its own.

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
    >>> system = fs.Car.named("heron").with_values({"suction.bore": "2 mm", "suction.length": "10 m"}).system("return")
    >>> print(points_without_solution(system, everyday_run(system))[0])
    failure, return: 0 of 13 operating points solved; ...
    """
    if np.all(run.outcome.has_values):
        return []
    return [Finding(Severity.FAILURE, run.layout, run.outcome.summary(), "read the outcome of these points")]


def regulator_out_of_control(system: System, run: Run) -> list[Finding]:
    """A regulator that shuts at full load, or that is wide open at idle.

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
    >>> system = fs.Car.named("finch").with_values({"return_line.bore": "2.5 mm"}).system("return")
    >>> print(regulator_out_of_control(system, everyday_run(system))[0])
    warning, regulator: wide open at some points: ...
    """
    return [
        finding for group in regulator_groups(system.plumbing) for finding in _group_out_of_control(system, run, group)
    ]


def _group_out_of_control(system: System, run: Run, group: tuple[PlannedLink[PlacedRegulator], ...]) -> list[Finding]:
    """Return the findings on regulators that stand at one pressure: together they hold it."""
    regimes, objections, name = [np.asarray(run.regime[link.name]) for link in group], [], group[0].name
    rpm = np.broadcast_to(run.conditions.rpm, run.conditions.shape)
    shut = np.all([regime == "shut" for regime in regimes], axis=0)
    flows = [np.where(np.asarray(run.regime[link.name]) == "shut", 0.0, run.flow[link.name]) for link in group]
    bypass = least(np.sum(flows, axis=0))
    if np.any(shut):
        lowest = shown(least(MEASURES["rail_pressure"].of(system, run)), "pressure difference", digits=3)
        statement = (
            f"shut from {np.min(rpm[shut]):.0f} rpm: the pump does not hold the set pressure; "
            f"the rail falls to {lowest} gauge"
        )
        advice = "a larger pump, better wire, or less loss before the regulator"
        source = cite("computed")
        objections.append(Finding(Severity.FAILURE, name, statement, advice, source=source, measure="bypass"))
    elif bypass < limits.BYPASS.value:
        remaining = shown(bypass, "volume flow", digits=2)
        prudent = shown(limits.BYPASS.value, "volume flow", digits=2)
        statement = f"{remaining} of bypass is left at peak demand; {prudent} is prudent"
        advice = "a larger pump: wear, heat and a dirty filter take the rest"
        source = limits.BYPASS.citation
        objections.append(Finding(Severity.WARNING, name, statement, advice, source=source, measure="bypass"))
    for link, regime in zip(group, regimes, strict=True):
        if np.any(regime == "wide open"):
            statement = "wide open at some points: the return line, not the spring, sets the pressure, which creeps up"
            advice = "a larger return line or regulator, or less pump at idle"
            source = cite("computed", rests_on="regulator_slope")
            objections.append(Finding(Severity.WARNING, link.name, statement, advice, source=source))
    return objections


def pump_control_out_of_range(system: System, run: Run) -> list[Finding]:
    """A controlled pump that does not hold its pressure at its greatest, or not even at its least speed or duty.

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
    >>> control = fs.PumpControl(set_pressure="300 kPa", least_share="90 %")
    >>> car = fs.Car.named("finch").with_values({"pump_control": control})
    >>> system = car.with_plumbing("own", [["tank", "strainer", "pump", "feed", "rail"]]).system("own")
    >>> print(pump_control_out_of_range(system, everyday_run(system))[0])
    warning, pump: at its least share at some points, so that the pressure rises to ... kPa gauge; ...
    """
    objections = []
    for name in system.plumbing.controls:
        regime, station = np.asarray(run.regime[name]), system.plumbing.link(name).reference or ""
        gauge = np.asarray(run.gauge_pressure[station])
        if np.any(regime == "full speed"):
            lowest = shown(least(gauge[regime == "full speed"]), "pressure difference", digits=3)
            statement = f"does not hold the set pressure at its greatest share: it falls to {lowest} gauge"
            advice = "a larger pump, better wire, or less loss before the sensor"
            objections.append(Finding(Severity.FAILURE, name, statement, advice, source=cite("computed")))
        if np.any(regime == "least speed"):
            highest = shown(greatest(gauge[regime == "least speed"]), "pressure difference", digits=3)
            statement = f"at its least share at some points, so that the pressure rises to {highest} gauge"
            advice = "a smaller least share, a smaller pump, or a bleed back to the tank"
            objections.append(Finding(Severity.WARNING, name, statement, advice, source=cite("computed")))
    return objections


def staged_pump_that_cycles(system: System, run: Run) -> list[Finding]:
    """A pump staged by pressure whose own step of pressure switches it off again.

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
    >>> staged_pump_that_cycles(system, everyday_run(system))
    []
    """
    statement = (
        "switches on and off in turn at some points: its step of pressure reaches from one threshold to the other"
    )
    advice = "thresholds farther apart, or a stage by demand"
    return [
        Finding(Severity.WARNING, name, statement, advice, source=cite("computed"))
        for name in system.plumbing.stages
        if np.any(run.pump_cycles[name])
    ]


def injectors_at_their_limits(system: System, run: Run) -> list[Finding]:
    """Injectors that are open too long at full load, or fewer or more than cylinders.

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
    >>> system = fs.Car.named("finch").with_values({"injectors.static_flow": "140 mL/min"}).system("return")
    >>> print(injectors_at_their_limits(system, everyday_run(system))[0])
    failure, injectors: open ...% of the time; ...
    """
    injectors, objections = system.car.injectors, []
    duty = greatest(run.injector_duty)
    if duty > limits.INJECTOR_DUTY.value:
        severity = Severity.FAILURE if duty >= 1.0 else Severity.WARNING
        advice = "larger injectors, or a higher set pressure if pump and ratings allow it"
        source = limits.INJECTOR_DUTY.citation
        statement = f"open {duty:.0%} of the time"
        objections.append(Finding(severity, "injectors", statement, advice, source=source, measure="injector_duty"))
    if injectors.count != system.car.engine.cylinders:
        statement = f"{injectors.count} injectors for {system.car.engine.cylinders} cylinders"
        advice = "right for throttle-body injection, else correct it"
        objections.append(Finding(Severity.NOTE, "injectors", statement, advice))
    return objections


def vapour_at_the_pump(system: System, run: Run) -> list[Finding]:
    """A pump that sucks near or beyond boiling: noise first, loss of flow later; two thresholds, not one.

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
    >>> system = fs.Car.named("heron").with_values({"surroundings.tank_temperature": "55 degC"}).system("return")
    >>> print(vapour_at_the_pump(system, everyday_run(system).before_stop)[0])
    failure, pump: its inlet is ... beyond boiling: vapour takes up to ... of the flow; ...
    """
    objections = []
    advice = "the pump into the tank, a larger suction line, fuel of lower vapour pressure, or less heat"
    for pump in system.plumbing.pumps:
        margin = least(run.vapour_margin[pump.upstream])
        kelvin = shown(abs(margin), "temperature difference", digits=2)
        beyond_npsh = least(run.pressure_margin[pump.upstream] - pump.part.npsh_required)
        if margin < 0.0:
            statement = (
                f"its inlet is {kelvin} beyond boiling: vapour takes up to {_flow_lost(run, pump):.0%} of the flow"
            )
            source = cite("computed", rests_on="allowed_vapour")
            objections.append(
                Finding(
                    Severity.FAILURE,
                    pump.name,
                    statement,
                    advice,
                    FIRE_CAUTION,
                    source,
                    measure="inlet_vapour_margin",
                )
            )
        elif beyond_npsh < 0.0:
            short = shown(-beyond_npsh, "pressure difference", digits=2)
            submerged = pump.part.mounting == "in_tank"
            # A submerged pump has little more than the tank's own margin; its noise begins with vapour.
            heard = "noise is possible" if submerged else "noise and wear"
            statement = (
                f"its inlet is {kelvin} from boiling, {short} short of the NPSH it requires{_npsh_band(pump.part)}: "
                f"{heard}, no loss yet"
            )
            severity = Severity.NOTE if submerged else Severity.WARNING
            source = limits.NPSH_REQUIRED_SOURCE
            objections.append(Finding(severity, pump.name, statement, advice, source=source, measure="suction_margin"))
    return objections


def _npsh_band(pump: Pump) -> str:
    """Return in words how far the NPSH of a kind of pump may be off; nothing where the pump has its own."""
    if pump.inlet_head_required is not None:
        return ""
    low, high = (shown(value, "pressure difference", digits=2) for value in pump.kind.inlet_head[::2])
    return f" ({low} to {high})"


def _flow_lost(run: Run, pump: PlannedLink[Pump]) -> float:
    """Return the greatest share of its flow that vapour takes from a pump."""
    ratio = np.ravel(run.vapour_liquid_ratio[pump.upstream])
    return greatest(1.0 - unchecked(pump.part.vapour_flow_share)(ratio))


def vapour_in_the_rail(system: System, run: Run) -> list[Finding]:
    """A rail that boils while the engine runs.

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
    >>> system = fs.Car.named("heron").with_values({"surroundings.tank_temperature": "55 degC"}).system("return")
    >>> print(vapour_in_the_rail(system, everyday_run(system).before_stop)[0])
    failure, rail: ... beyond boiling; ...
    """
    objections = []
    for rail in system.plumbing.rails:
        margin = least(run.vapour_margin[rail])
        if not margin < limits.RAIL_VAPOUR_MARGIN.value:
            continue
        severity = Severity.FAILURE if margin < 0.0 else Severity.WARNING
        kelvin = shown(abs(margin), "temperature difference", digits=2)
        statement = f"{kelvin} {'beyond' if margin < 0.0 else 'from'} boiling"
        advice = "a return through the rail, a heat shield, a higher set pressure, or fuel of lower vapour pressure"
        source = cite(["computed", "assumed"], "at least 5 K", rests_on="bay_temperature")
        objections.append(Finding(severity, rail, statement, advice, source=source, measure="rail_vapour_margin"))
    return objections


def guessed_pump_figures(system: System, run: Run) -> list[Finding]:
    """Pump figures that nobody measured: dead-head beyond the bench rows, estimated current.

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
    >>> system = fs.Car.named("finch").with_values({"pump.current": None}).system("return")
    >>> print(guessed_pump_figures(system, everyday_run(system))[0])
    note, pump: its current is estimated from a typical efficiency; give the current of the bench rows
    """
    objections = []
    for pump in system.plumbing.pumps:
        if pump.part.dead_head_source == "extrapolated":
            dead_head = shown(pump.part.dead_head_pressure, "pressure difference", digits=3)
            statement, advice = f"its dead-head of {dead_head} is extrapolated", "measure it, or give relief_pressure"
            objections.append(Finding(Severity.NOTE, pump.name, statement, advice, source=cite("computed")))
        if pump.part.current_source == "estimated":
            statement = "its current is estimated from a typical efficiency"
            advice = "give the current of the bench rows"
            objections.append(Finding(Severity.NOTE, pump.name, statement, advice, source=cite("memory")))
    return objections
