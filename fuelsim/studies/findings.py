"""What a practitioner would object to before a hose is cut: one verdict by the checks and by the requirements.

Requirements are judged on the proving conditions, checks on the everyday run. Both may speak of the same figure, the
one with its worst value over cold, hot, new and worn, the other with the part and the remedy. Here they become one
list of findings, and the requirements take in the everyday run, so that no output holds a requirement for met of which
a finding says the contrary.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from fuelsim.arguments import takes
from fuelsim.finding import Finding, FindingList, Severity
from fuelsim.shown import Shown
from fuelsim.studies.assessment import Assessment, RequirementResult, assess, judged
from fuelsim.studies.checks import CHECKS, CONSEQUENCES, ROOT_CAUSES, Check, everyday_run
from fuelsim.studies.engine_findings import led_by_root_cause
from fuelsim.studies.requirements import Requirements
from fuelsim.system.conditions import Conditions
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.run import Run, System

__all__ = ["Verdict", "findings", "verdict"]


@dataclass(frozen=True)
class Verdict(Shown):
    """Requirements and findings on one car in one layout, which agree.

    Attributes
    ----------
    assessment : Assessment
        Requirements, each with its worst value over the points it is held to and those of everyday.
    findings : FindingList
        Requirements that are not met and what the checks find, each fault once, the gravest first.

    Examples
    --------
    >>> import fuelsim as fs
    >>> result = verdict(fs.Car.named("finch").system("return"))
    >>> result.met, result.findings[0].measure
    (False, 'injector_duty')
    """

    assessment: Assessment
    findings: FindingList

    @property
    def met(self) -> bool:
        """Whether every mandatory requirement is met and no finding is a failure. Never a statement on safety."""
        return self.assessment.met and not any(finding.severity is Severity.FAILURE for finding in self.findings)

    @property
    def headline(self) -> str:
        """Return how many findings there are of each severity."""
        system = self.assessment.system
        return f"{system.car.name}, '{system.layout}': {self.findings.headline}"


def verdict(
    system: System,
    run: Run | None = None,
    requirements: Requirements | None = None,
    conditions: Conditions | None = None,
) -> Verdict:
    """Judge a car in one layout by the checks and by its requirements.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    run : Run, optional
        The operating points that the checks judge; left out, `everyday_run`.
    requirements : Requirements, optional
        Limits it is held to; left out, the defaults.
    conditions : Conditions, optional
        On which the requirements are judged; left out, `proving_conditions` of the car.

    Returns
    -------
    Verdict

    Raises
    ------
    InputError
        For conditions that do not fit the car.

    Examples
    --------
    >>> import fuelsim as fs
    >>> car = fs.Car.named("finch").with_values({"wire.size": "18 AWG"})
    >>> [finding.subject for finding in verdict(car.system("return")).findings if finding.measure == "supply_drop"]
    ['wire']
    """
    everyday = everyday_run(system) if run is None else run
    proved = assess(system, requirements, conditions)
    items = tuple(_worse(item, judged(system, everyday, item.rule, item.limit)) for item in proved.items)
    assessment = replace(proved, items=items)
    everything, causes, consequences = _checked(system, everyday, assessment)
    told = {each.measure for each in everything} - {""}
    by_requirement = [each for each in assessment.findings() if each.measure not in told]
    everything += by_requirement
    stopped = {item.rule.name for item in assessment.items if item.stopped}
    consequences += [each for each in by_requirement if each.measure in stopped]
    return Verdict(assessment, FindingList(led_by_root_cause(everyday, everything, causes, consequences)))


def _worse(first: RequirementResult, second: RequirementResult) -> RequirementResult:
    """Return that of two results of one requirement which has the smaller margin, or the one that applies."""
    return second if second.margin < first.margin or first.met is None else first


def _checked(
    system: System, run: Run, assessment: Assessment | None = None
) -> tuple[list[Finding], list[Finding], list[Finding]]:
    """Return everything that the checks find, the causes and the consequences among it.

    Where an engine stopped, the checks judge the plumbing as it was then.
    """
    items = {item.rule.name: item for item in assessment.items} if assessment else {}
    found: dict[Check, list[Finding]] = {check: [] for check in CHECKS}
    told: set[str] = set()
    for check in CHECKS:
        for each in check(system, run.before_stop):
            found[check].append(_with_requirement(each, items.get(each.measure), each.measure not in told))
            told.add(each.measure)
    everything, causes, consequences = (
        [finding for check in checks for finding in found[check]] for checks in (CHECKS, ROOT_CAUSES, CONSEQUENCES)
    )
    return everything, causes, consequences


def _with_requirement(finding: Finding, item: RequirementResult | None, first: bool) -> Finding:
    """Return a finding as grave as the requirement on its figure; the first on a figure tells its worst value too."""
    if item is None or item.met is None:
        return finding
    if not item.met:
        # What is the same at all points is told already.
        worst = f"; at worst {item.in_words(item.worst)} ({item.where})" if first and item.where else ""
        severity = max(finding.severity, item.rule.severity)
        return replace(finding, severity=severity, statement=finding.statement + worst)
    if finding.severity is not Severity.WARNING:
        return finding
    # The check has another limit than the one that was asked of this car.
    side = "at least" if item.rule.sense > 0 else "at most"
    asked = f"; {side} {item.in_words(item.limit)} is asked of this car, and met"
    return replace(finding, severity=Severity.NOTE, statement=finding.statement + asked)


@system_or_car
@takes()
def findings(system: System, run: Run | None = None) -> FindingList:
    """Return everything that checks and requirements object to, the gravest first.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    run : Run, optional
        Operating points of your own, on which the checks alone judge. Left out, the checks judge `everyday_run`, and
        the default requirements are judged on `proving_conditions` as well: the verdict that every report prints.

    Returns
    -------
    list of Finding
        Empty where nothing is found.

    Examples
    --------
    >>> import fuelsim as fs
    >>> car = fs.Car.named("finch").with_values({"feed.working_pressure": "200 kPa"})
    >>> print(findings(car.system("return"))[0])
    failure, feed: rated 200 kPa, below the set pressure of 300 kPa; ...
    """
    if run is None:
        return verdict(system).findings
    return FindingList(led_by_root_cause(run, *_checked(system, run)))
