"""Whether the engine runs on what it gets: where it stops, runs lean or runs rich, and what the root cause is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fuelsim.car.engine_demand import usual_power_speed_share
from fuelsim.finding import Finding, Severity
from fuelsim.sources import cite
from fuelsim.studies.extremes import greatest, least
from fuelsim.system.controller import EngineState
from fuelsim.system.run import Run, System
from fuelsim.typing import BoolArray

__all__ = ["engine_on_what_it_gets", "fuel_rising_to_the_red_line", "led_by_root_cause"]

FULL_LOAD = 0.8
"""Load from which a lean mixture endangers the engine [common_practice]."""
RICH = 0.97
"""Air-fuel ratio over the one asked for below which it is said that the engine runs rich."""
MOST_FUEL_AT_RED_LINE = 1.08
"""Fuel at the red line over that at peak power from which the speed of peak power is doubted: power is flat there,
while friction and with it the consumption per work rise by a few per cent [assumed]."""
CAUTION = "a lean mixture under load overheats and knocks; do not test it on the road"
_ADVICE_OF_ROOT = "see to the root cause first"


def engine_on_what_it_gets(system: System, run: Run) -> list[Finding]:
    """Points at which the engine stops, runs lean because the trim is used up, or runs rich.

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
    >>> system = fs.Car.named("finch").with_values({"injectors.static_flow": "90 mL/min"}).system("return")
    >>> print(engine_on_what_it_gets(system, everyday_run(system))[0])
    failure, engine: stops at ... of 13 points, first at ... rpm: it gets ... % of the fuel it asks for; ...
    """
    states, load = np.asarray(run.engine_state), np.broadcast_to(run.conditions.load, run.conditions.shape)
    rpm, mixture = np.broadcast_to(run.conditions.rpm, run.conditions.shape), np.asarray(run.mixture)
    objections = []

    def first(where: BoolArray) -> str:
        return f"at {np.count_nonzero(where)} of {where.size} points, first at {np.min(rpm[where]):.0f} rpm"

    stopped, lean = states == EngineState.STOPPED, states == EngineState.LEAN
    hard = lean & (load >= FULL_LOAD)
    if np.any(stopped):
        share = 100.0 / greatest(mixture[stopped])
        statement = f"stops {first(stopped)}: it gets {share:.2g} % of the fuel it asks for"
        source = cite("computed", rests_on="lean_limit")
        objections.append(Finding(Severity.FAILURE, "engine", statement, "bring it the fuel", CAUTION, source))
    if np.any(lean):
        severity = Severity.FAILURE if np.any(hard) else Severity.WARNING
        share = 100.0 * (greatest(mixture[lean]) - 1.0)
        statement = f"runs lean {first(lean)}, by up to {share:.2g} %: the trim is used up"
        objections.append(Finding(severity, "engine", statement, "bring it the fuel", CAUTION, cite("computed")))
    rich = (mixture < RICH) & ~stopped
    if np.any(rich):
        statement = f"runs rich {first(rich)}, by up to {100.0 * (1.0 / least(mixture[rich]) - 1.0):.2g} %"
        advice = "the pressure that the controller is set up for, or a larger return at idle"
        objections.append(Finding(Severity.WARNING, "engine", statement, advice, source=cite("computed")))
    return objections


def fuel_rising_to_the_red_line(system: System, run: Run) -> list[Finding]:
    """A speed of peak power so far below the red line that the engine would ask for more fuel at the latter.

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
    >>> system = fs.Car.named("finch").with_values({"engine.peak_power_speed": "4800 rpm"}).system("return")
    >>> print(fuel_rising_to_the_red_line(system, everyday_run(system))[0])
    warning, engine: asks for 22 % more fuel at the red line of 6500 rpm than at its peak power at 4800 rpm; ...
    """
    engine = system.car.engine
    if engine.form != "peak_power":
        return []
    red_line, power_speed = greatest(engine.red_line), least(engine.peak_power_speed)
    at_peak, at_red_line = (float(engine.demand(speed, 1.0).fuel_mass_flow) for speed in (power_speed, red_line))
    if at_red_line <= MOST_FUEL_AT_RED_LINE * at_peak:
        return []
    usual = red_line * usual_power_speed_share(
        engine.shape or "two_valve", boosted=greatest(engine.boost_pressure) > 0.0
    )
    return [
        Finding(
            Severity.WARNING,
            "engine",
            f"asks for {100.0 * (at_red_line / at_peak - 1.0):.0f} % more fuel at the red line of {red_line:.0f} rpm "
            f"than at its peak power at {power_speed:.0f} rpm",
            f"check peak_power_speed (usual for this red line: {usual:.0f} rpm), or give the curve as powers over "
            "speeds: pump and injectors are sized by it",
            source=cite("assumed"),
        )
    ]


def led_by_root_cause(
    run: Run, objections: list[Finding], causes: list[Finding], consequences: list[Finding]
) -> list[Finding]:
    """Return findings, the gravest first, with one root cause of an engine that stops or leans before all others.

    Parameters
    ----------
    run : Run
        The operating points that were judged.
    objections : list of Finding
        Everything that was found, in the order of the checks.
    causes : list of Finding
        Findings among them that can be the cause of a lack of fuel, the deepest cause first.
    consequences : list of Finding
        Findings among them that follow from a lack of fuel.

    Returns
    -------
    list of Finding
        Consequences are marked as such and advise to see to the root cause.

    Examples
    --------
    >>> import fuelsim as fs
    >>> from fuelsim.studies.checks import everyday_run
    >>> run = everyday_run(fs.Car.named("finch").system("return"))
    >>> note, warning = (Finding(severity, "feed", "") for severity in (Severity.NOTE, Severity.WARNING))
    >>> [str(finding) for finding in led_by_root_cause(run, [note, warning], [], [])]
    ['warning, feed: ', 'note, feed: ']
    """
    lacking = np.any(np.isin(run.engine_state, (EngineState.STOPPED, EngineState.LEAN)))
    failures = [each for each in causes if each.severity is Severity.FAILURE]
    if not lacking or not failures:
        return sorted(objections, key=lambda finding: -finding.severity)
    root = failures[0]
    followers = [each for each in (*failures[1:], *consequences) if each.subject != root.subject]
    marked = {id(each): replace(each, consequence_of=root.subject, advice=_ADVICE_OF_ROOT) for each in followers}
    rest = [each for each in objections if each is not root and id(each) not in marked]
    graver = [each for each in rest if each.severity is Severity.FAILURE]
    lesser = sorted((each for each in rest if each not in graver), key=lambda finding: -finding.severity)
    return [root, *marked.values(), *graver, *lesser]
