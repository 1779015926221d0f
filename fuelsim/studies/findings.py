"""What a practitioner would object to before a hose is cut: one small function per check.

Every check takes a car plumbed in one layout and a run of it, and returns what it finds, with its figures in the
preferred units. A finding is advice for the workbench; none says that a car is safe.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np

from fuelsim.constants import GRAVITY
from fuelsim.finding import Finding, Severity
from fuelsim.sources import cite
from fuelsim.studies import limits
from fuelsim.studies.rating_findings import (
    ratings_below_dead_head,
    ratings_below_set_pressure,
    relief_below_set_pressure,
    set_pressure_above_dead_head,
    unrated_parts,
)
from fuelsim.studies.temperature_findings import lines_above_their_temperature
from fuelsim.system.conditions import Conditions
from fuelsim.system.manoeuvre import uncovering_accelerations
from fuelsim.system.run import Run, System
from fuelsim.units import shown

__all__ = ["CHECKS", "everyday_run", "findings"]

FIRE = "petrol under pressure burns; release the pressure before opening a joint"
VAPOUR = "vapour from an open tank burns; no flame, spark or hot engine near it"

DEEPEST_VACUUM = 3e3
"""Pa below the atmosphere in the tank [assumed]: a cap's vacuum valve opens at 2-3 kPa; 5 kPa cost 2 K at the pump."""
FINEST_BEFORE_PUMP = 100e-6
"""m: no finer than 100 um before a pump that sucks [common_practice]; a sock in the tank is finer."""
CORNERING = 0.9 * GRAVITY
"""m/s2 that everyday tyres hold [assumed]."""

Check = Callable[[System, Run], list[Finding]]


def everyday_run(system: System, speeds: int = 12) -> Run:
    """Return the run that `findings` judges where none is given: idle, then full load up to the red line.

    Parameters
    ----------
    system : System
    speeds : int
        At full load.

    Returns
    -------
    Run
        Shape (speeds + 1,), in the car's own weather.
    """
    engine = system.car.engine
    rpm = np.concatenate([[engine.idle_speed], np.linspace(engine.idle_speed, engine.red_line, speeds)])
    return system.solve(Conditions(rpm=rpm, load=np.concatenate([[0.0], np.ones(speeds)])))


def findings(system: System, run: Run | None = None) -> list[Finding]:
    """Return everything the checks find, the gravest first.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    run : Run, optional
        To be judged; `everyday_run`, if left out.

    Examples
    --------
    >>> import fuelsim as fs
    >>> car = fs.Car.named("finch").with_values({"feed.working_pressure": "200 kPa"})
    >>> print(findings(car.system("return"))[0])
    failure, feed: rated 200 kPa, below the set pressure of 300 kPa; ...
    """
    run = everyday_run(system) if run is None else run
    found = [finding for check in CHECKS for finding in check(system, run)]
    return sorted(found, key=lambda finding: -finding.severity)


def _greatest(values: Any) -> float:
    values = np.asarray(values, dtype=float)
    return float(np.nanmax(values)) if np.any(np.isfinite(values)) else np.nan


def _least(values: Any) -> float:
    return -_greatest(-np.asarray(values, dtype=float))


def points_without_solution(system: System, run: Run) -> list[Finding]:
    """Operating points that did not solve: nothing is known of them."""
    if np.all(run.outcome.converged):
        return []
    return [Finding(Severity.FAILURE, run.layout, run.outcome.summary(), "look at the outcome of these points")]


def overloaded_fuse(system: System, run: Run) -> list[Finding]:
    """A fuse that carries more than 80 % of its rating, on a hot day 75 %: its holder overheats before it blows."""
    hot = float(np.max(system.car.surroundings.air_temperature)) > limits.HOT_DAY
    limit = limits.FUSE_LOADING if hot else limits.COOL_FUSE_LOADING
    loading = _greatest(system.car.wire.fuse_loading(run.pump_current["pump"]))
    if not loading > limit.value:
        return []
    current = shown(_greatest(run.pump_current["pump"]), "current", digits=3)
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
    """A circuit whose fuse is not known."""
    if system.car.wire.fuse_rating is not None:
        return []
    return [Finding(Severity.NOTE, "wire", "no fuse rating given, so its loading is not checked", "give fuse_rating")]


def voltage_lost_in_the_wire(system: System, run: Run) -> list[Finding]:
    """A wire that costs the pump more than half a volt, or a pump below its least voltage."""
    # A resistor that slows the pump on purpose is not held against the wire.
    lost = system.car.wire.voltage_drop(run.pump_current["pump"])
    drop, least = _greatest(lost), _least(run.conditions.supply_voltage - lost)
    if least < limits.PUMP_VOLTAGE.value:
        severity, source = Severity.FAILURE, limits.PUMP_VOLTAGE.citation
    elif drop > limits.SUPPLY_DROP.value:
        severity, source = Severity.WARNING, limits.SUPPLY_DROP.citation
    else:
        return []
    said = f"{shown(drop, 'voltage', digits=3)} lost before the pump, which gets {shown(least, 'voltage', digits=3)}"
    return [Finding(severity, "wire", said, "thicker or shorter wire, a fresh relay and ground", source=source)]


def fast_lines(system: System, run: Run) -> list[Finding]:
    """Lines in which the fuel runs faster than the guides for suction, delivery and return."""
    found, plumbing = [], system.plumbing
    guides = (
        (limits.SUCTION_VELOCITY, plumbing.suction_lines),
        (limits.FEED_VELOCITY, plumbing.feed_lines),
        (limits.RETURN_VELOCITY, plumbing.return_lines),
    )
    for limit, link in ((limit, link) for limit, lines in guides for link in lines):
        bore = float(np.min(link.part.bore))
        velocity = _greatest(np.abs(run.flow[link.name])) / (np.pi / 4.0 * bore**2)
        if velocity > limit.value:
            text = f"fuel runs at {shown(velocity, 'velocity', digits=3)} in a bore of {shown(bore, 'bore', digits=3)}"
            guide = f"the guide is {shown(limit.value, 'velocity', digits=2)}"
            found.append(
                Finding(Severity.WARNING, link.name, f"{text}; {guide}", "a larger bore", source=limit.citation)
            )
    return found


def deep_suction(system: System, run: Run) -> list[Finding]:
    """An external pump that has to suck harder than is good for hose and fuel."""
    depression = _greatest(run.pressure["tank"] - run.pressure["pump_inlet"])
    if system.car.pump.mounting != "external" or not depression > limits.SUCTION_DEPRESSION.value:
        return []
    said = f"the inlet stands {shown(depression, 'pressure difference', digits=3)} below the tank"
    limit = shown(limits.SUCTION_DEPRESSION.value, "pressure difference", digits=2)
    return [
        Finding(
            Severity.WARNING,
            "pump",
            f"{said}; up to {limit} is usual",
            "a larger or shorter suction line, a clean strainer, a lower pump",
            source=limits.SUCTION_DEPRESSION.citation,
        )
    ]


def tank_pulled_down(system: System, run: Run) -> list[Finding]:
    """A tank whose vent lets in less air than the engine burns fuel."""
    vacuum = -_least(run.conditions.vapour_space_pressure)
    if not vacuum > DEEPEST_VACUUM:
        return []
    text = f"stands {shown(vacuum, 'pressure difference', digits=2)} below the atmosphere: its vent lets too little in"
    advice = "clear the vent, or fit a larger one; to look, open the cap and listen"
    return [
        Finding(
            Severity.WARNING,
            "tank",
            text,
            advice,
            caution=VAPOUR,
            source=cite(["computed", "assumed"], "3 kPa is usual"),
        )
    ]


def regulator_out_of_control(system: System, run: Run) -> list[Finding]:
    """A regulator that shuts at full load, or that stands wide open at idle."""
    link, found = system.plumbing.regulator, []
    if link is None:
        return []
    regime = np.asarray(run.regime[link.name])
    rpm = np.broadcast_to(run.conditions.rpm, run.conditions.shape)
    if np.any(regime == "shut"):
        lowest = shown(_least(run.gauge_pressure["rail"]), "pressure difference", digits=3)
        said = f"shut from {np.min(rpm[regime == 'shut']):.0f} rpm: the pump does not hold the set pressure"
        advice = "a larger pump, better wire, or less loss before the regulator"
        text = f"{said}; the rail falls to {lowest} gauge"
        found.append(Finding(Severity.FAILURE, link.name, text, advice, source=cite("computed")))
    elif _least(run.bypass_flow) < limits.BYPASS.value:
        least = shown(_least(run.bypass_flow), "volume flow", digits=2)
        prudent = shown(limits.BYPASS.value, "volume flow", digits=2)
        said = f"{least} of bypass is left at peak demand; {prudent} is prudent"
        advice = "a larger pump: wear, heat and a dirty filter take the rest"
        found.append(Finding(Severity.WARNING, link.name, said, advice, source=limits.BYPASS.citation))
    if np.any(regime == "wide open"):
        text = "wide open at some points: the return line, not the spring, sets the pressure, which creeps up"
        advice = "a larger return line or regulator, or less pump at idle"
        found.append(Finding(Severity.WARNING, link.name, text, advice, source=cite("computed")))
    return found


def injectors_at_their_limits(system: System, run: Run) -> list[Finding]:
    """Injectors that are open too long at full load, or fewer or more than cylinders."""
    injectors, found = system.car.injectors, []
    duty = _greatest(run.injector_duty)
    if duty > limits.INJECTOR_DUTY.value:
        severity = Severity.FAILURE if duty >= 1.0 else Severity.WARNING
        advice = "larger injectors, or a higher set pressure if pump and ratings allow it"
        found.append(
            Finding(severity, "injectors", f"open {duty:.0%} of the time", advice, source=limits.INJECTOR_DUTY.citation)
        )
    if injectors.count != system.car.engine.cylinders:
        text = f"{injectors.count} injectors for {system.car.engine.cylinders} cylinders"
        found.append(Finding(Severity.NOTE, "injectors", text, "right for throttle-body injection, else correct it"))
    return found


def vapour_at_the_pump(system: System, run: Run) -> list[Finding]:
    """A pump that sucks near or beyond boiling: noise first, flow later; two thresholds, not one."""
    margin = _least(run.vapour_margin["pump_inlet"])
    kelvin = shown(abs(margin), "temperature difference", digits=2)
    advice = "the pump into the tank, a larger suction line, fuel of lower vapour pressure, or less heat"
    if margin < 0.0:
        text = (
            f"its inlet is {kelvin} beyond boiling: vapour takes up to {_greatest(run.pump_flow_lost):.0%} of the flow"
        )
        return [Finding(Severity.FAILURE, "pump", text, advice, caution=FIRE, source=cite("computed"))]
    if _least(run.suction_margin) < 0.0:
        short = shown(-_least(run.suction_margin), "pressure difference", digits=2)
        text = f"its inlet is {kelvin} from boiling, {short} short of the NPSH it requires: noise and wear, no loss yet"
        return [Finding(Severity.WARNING, "pump", text, advice, source=limits.NPSH_REQUIRED_SOURCE)]
    return []


def vapour_in_the_rail(system: System, run: Run) -> list[Finding]:
    """A rail that boils while the engine runs."""
    margin = _least(run.vapour_margin["rail"])
    if not margin < limits.RAIL_VAPOUR_MARGIN.value:
        return []
    severity = Severity.FAILURE if margin < 0.0 else Severity.WARNING
    kelvin = shown(abs(margin), "temperature difference", digits=2)
    text = f"{kelvin} {'beyond' if margin < 0.0 else 'from'} boiling"
    advice = "a return through the rail, a heat shield, a higher set pressure, or fuel of lower vapour pressure"
    return [Finding(severity, "rail", text, advice, source=cite(["computed", "assumed"], "at least 5 K"))]


def filters_in_the_wrong_place(system: System, run: Run) -> list[Finding]:
    """Filters too fine for their side, on the other side than they say, or beyond the drop of a change."""
    found = []
    car = system.car
    plumbing = system.plumbing
    for side, links in (("suction", plumbing.strainers), ("pressure", plumbing.filters)):
        for link in links:
            if link.part.side != side:
                text = f"stands on the {side} side, but is made for the {link.part.side} side"
                advice = "correct its side, or fit another"
                found.append(Finding(Severity.WARNING, link.name, text, advice, source=cite("common_practice")))
    for link in plumbing.strainers:
        fineness = link.part.fineness
        if car.pump.mounting == "external" and fineness is not None and fineness < 0.99 * FINEST_BEFORE_PUMP:
            text = f"{shown(float(fineness), 'particle size', digits=3)} is finer than a pump can draw through freely"
            advice = "100 µm before the pump, 10 µm after"
            found.append(Finding(Severity.WARNING, link.name, text, advice, source=cite("common_practice")))
    for link in plumbing.filters:
        drop = _greatest(run.pressure[link.upstream] - run.pressure[link.downstream])
        if drop > float(np.min(link.part.change_drop)):
            text = f"costs {shown(drop, 'pressure difference', digits=3)}, where it is changed"
            advice = "a larger or a fresh filter"
            found.append(
                Finding(Severity.WARNING, link.name, text, advice, source=cite("common_practice", "35-70 kPa"))
            )
    return found


def guessed_pump_figures(system: System, run: Run) -> list[Finding]:
    """Pump figures that nobody measured: dead-head beyond the bench rows, estimated current."""
    pump, found = system.car.pump, []
    if pump.dead_head_source == "extrapolated":
        text = f"its dead-head of {shown(pump.dead_head_pressure, 'pressure difference', digits=3)} is extrapolated"
        found.append(
            Finding(Severity.NOTE, "pump", text, "measure it, or give relief_pressure", source=cite("computed"))
        )
    if pump.current_source == "estimated":
        text = "its current is estimated from a typical efficiency"
        found.append(Finding(Severity.NOTE, "pump", text, "give the current of the bench rows", source=cite("memory")))
    return found


def uncovered_pick_up(system: System, run: Run) -> list[Finding]:
    """A pick-up that everyday launching, braking or cornering leaves bare; only for a car with a plan."""
    if system.car.plan is None:
        return []
    found = []
    for name, limit in uncovering_accelerations(system.car).items():
        if limit < CORNERING:
            text = f"bare at a steady {limit / GRAVITY:.2g} g ({name}) with this much fuel"
            advice = "a surge pot, baffles, or a pick-up at another place"
            found.append(
                Finding(Severity.WARNING, "tank", text, advice, source=cite("computed", "box without baffles"))
            )
    return found


def _checks() -> Iterator[Check]:
    yield from (ratings_below_set_pressure, ratings_below_dead_head, set_pressure_above_dead_head)
    yield from (relief_below_set_pressure, unrated_parts, lines_above_their_temperature)
    yield from (points_without_solution, overloaded_fuse, unknown_fuse, voltage_lost_in_the_wire, fast_lines)
    yield from (deep_suction, tank_pulled_down, regulator_out_of_control, injectors_at_their_limits, vapour_at_the_pump)
    yield from (vapour_in_the_rail, filters_in_the_wrong_place, guessed_pump_figures, uncovered_pick_up)


CHECKS: tuple[Check, ...] = tuple(_checks())
"""Every check, in the order in which a practitioner would ask."""
