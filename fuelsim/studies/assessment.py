"""Whether a system meets its requirements on every operating point, with the worst point of each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fuelsim import opener
from fuelsim.arguments import takes
from fuelsim.finding import Finding, FindingList, Severity
from fuelsim.shown import Shown
from fuelsim.studies.proving import point_in_words, proving_conditions
from fuelsim.studies.requirements import Requirements, Rule, signed_margin
from fuelsim.system.conditions import Conditions
from fuelsim.system.controller import EngineState
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.run import Run, System
from fuelsim.typing import UnitSystem

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Assessment", "RequirementResult", "assess", "judged"]


@dataclass(frozen=True)
class RequirementResult:
    """One requirement against the worst of the operating points.

    Attributes
    ----------
    rule : Rule
        The requirement.
    limit : float
        Its limit, SI.
    worst : float
        Worst value of its measure, SI; NaN where the requirement does not apply or its rating is not known.
    margin : float
        Margin as a multiple of the limit, positive where met.
    where : str
        The operating point with the worst value, in words; empty where the measure is the same at all of them.
    stopped : bool
        Whether the engine stops at that point, so that the value may be a consequence.

    Examples
    --------
    >>> import fuelsim as fs
    >>> item = fs.assess(fs.Car.named("finch").system("return")).item("pump_voltage")
    >>> item.met, item.in_words(item.limit)
    (True, '11.5 V')
    """

    rule: Rule
    limit: float
    worst: float
    margin: float
    where: str
    stopped: bool = False

    @property
    def met(self) -> bool | None:
        """Whether it is met; None where it does not apply."""
        return None if np.isnan(self.margin) else bool(self.margin >= 0.0)

    def in_words(self, value: float, units: str | None = None) -> str:
        """Return a value of this measure as a person reads it.

        Parameters
        ----------
        value : float
            SI.
        units : str, optional
            System of units; the preferred one, if left out.

        Returns
        -------
        str
            The value in a unit of that system; rounding errors about zero are shown as zero.

        Examples
        --------
        >>> import fuelsim as fs
        >>> result = fs.assess(fs.Car.named("finch").system("return"))
        >>> result.item("injector_duty").in_words(0.85)
        '85 %'
        """
        return self.rule.measure.in_words(0.0 if abs(value) < 1e-6 * abs(self.limit) else value, units)

    @property
    def statement(self) -> str:
        """The worst value against the limit, in words."""
        side = "at least" if self.rule.sense > 0 else "at most"
        values = f"{self.in_words(self.worst)}, {side} {self.in_words(self.limit)} wanted"
        return f"{self.rule.measure.about}: {values}" + (f" ({self.where})" if self.where else "")


@dataclass(frozen=True)
class Assessment(Shown):
    """A system held to requirements.

    Attributes
    ----------
    system : System
        The car in its layout.
    requirements : Requirements
        What it was held to.
    run : Run
        At every operating point of the conditions.
    items : tuple of RequirementResult
        One for each requirement asked.

    Examples
    --------
    >>> import fuelsim as fs
    >>> result = fs.assess(fs.Car.named("finch").system("return"))
    >>> result.met, [finding.subject for finding in result.findings() if finding.severity is Severity.FAILURE]
    (False, ['injector_duty'])
    """

    system: System
    requirements: Requirements
    run: Run
    items: tuple[RequirementResult, ...]

    @property
    def headline(self) -> str:
        """Return which requirements are not met."""
        missed = [item.rule.name for item in self.items if item.met is False]
        verdict = f"not met: {', '.join(missed)}" if missed else "every requirement is met in the computation"
        return f"{self.system.car.name}, '{self.system.layout}': {verdict}"

    @property
    def met(self) -> bool:
        """Whether every point solved, the engine runs at each, and every mandatory requirement is met.

        Never a statement on safety.
        """
        failed = any(item.met is False and item.rule.severity is Severity.FAILURE for item in self.items)
        return bool(np.all(self.run.outcome.converged)) and not failed

    def item(self, name: str) -> RequirementResult:
        """Return the result of one requirement.

        Parameters
        ----------
        name : str
            Name of a requirement that was asked.

        Returns
        -------
        RequirementResult

        Examples
        --------
        >>> import fuelsim as fs
        >>> result = fs.assess(fs.Car.named("finch").system("return"))
        >>> result.item("bypass").rule.measure.about
        'bypass through the regulator'
        """
        return {item.rule.name: item for item in self.items}[name]

    def findings(self) -> FindingList:
        """Return a finding for each requirement that is not met.

        Returns
        -------
        list of Finding
            The gravest first.
        """
        objections = []
        if not np.all(self.run.outcome.converged):
            advice = "read the reason; the other figures leave out what has no solution"
            objections.append(Finding(Severity.FAILURE, "solution", self.run.outcome.summary(), advice))
        objections += [
            Finding(
                item.rule.severity,
                item.rule.name,
                item.statement,
                item.rule.advice,
                source=item.rule.source,
                measure=item.rule.name,
            )
            for item in self.items
            if item.met is False
        ]
        return FindingList(sorted(objections, key=lambda finding: -finding.severity))

    @takes()
    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per requirement: limit, worst value, whether met, where, source.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.

        Returns
        -------
        pandas.DataFrame

        Examples
        --------
        >>> import fuelsim as fs
        >>> table = fs.assess(fs.Car.named("finch").system("return")).table("US workshop")
        >>> table.loc[table["requirement"].str.startswith("bypass through"), "wanted"].item()
        'at least 3.963 gph'
        """
        return opener.assessment_table(self, units)


@system_or_car
@takes()
def assess(
    system: System, requirements: Requirements | None = None, conditions: Conditions | None = None
) -> Assessment:
    """Hold a system to requirements on all operating points.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    requirements : Requirements, optional
        Limits it is held to; left out, the defaults.
    conditions : Conditions, optional
        The operating points; left out, `proving_conditions` of the car.

    Returns
    -------
    Assessment

    Raises
    ------
    InputError
        For conditions that do not fit the car.

    Examples
    --------
    >>> import fuelsim as fs
    >>> result = assess(fs.Car.named("finch").system("return"))
    >>> result.item("injector_duty").met, result.item("bypass").met
    (False, True)
    """
    requirements = requirements or Requirements()
    run = system.solve(proving_conditions(system.car) if conditions is None else conditions)
    items = tuple(judged(system, run, rule, limit) for rule, limit in requirements.asked())
    return Assessment(system, requirements, run, items)


def judged(system: System, run: Run, rule: Rule, limit: float) -> RequirementResult:
    """Judge one requirement on the operating points of a run; where the engine stopped, as it was then.

    Parameters
    ----------
    system : System
        The car in its layout.
    run : Run
        The operating points.
    rule : Rule
        The requirement.
    limit : float
        Its limit, SI.

    Returns
    -------
    RequirementResult

    Examples
    --------
    >>> import fuelsim as fs
    >>> from fuelsim.studies.requirements import RULES
    >>> locked = fs.Car.named("heron").with_values({"surroundings.tank_temperature": "60 degC"}).system("return")
    >>> rule = next(rule for rule in RULES if rule.name == "inlet_vapour_margin")
    >>> judged(locked, locked.solve(rpm=3000), rule, 2.0).met
    False
    """
    value = rule.measure.of(system, run.before_stop)
    if value is None or np.all(np.isnan(value)):
        return RequirementResult(rule, limit, np.nan, np.nan, "")
    values = np.broadcast_to(value, run.conditions.shape).reshape(-1)
    margin = signed_margin(rule, limit, values)
    worst = int(np.nanargmin(margin))
    where = "" if np.ndim(value) == 0 else point_in_words(run.conditions, worst)
    stopped = bool(where) and str(np.ravel(run.engine_state)[worst]) == EngineState.STOPPED
    return RequirementResult(rule, limit, float(values[worst]), float(margin[worst]), where, stopped)
