"""The result of sizing: every combination of candidates, judged, ranked and with its Pareto front."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fuelsim import opener
from fuelsim.arguments import takes, whole
from fuelsim.car.car import Car
from fuelsim.errors import InputError
from fuelsim.finding import Severity
from fuelsim.interruption import WHOLE, Completion, Interruptible
from fuelsim.outcome import OutcomeCode
from fuelsim.shown import Shown
from fuelsim.studies import limits
from fuelsim.studies.assessment import Assessment, assess
from fuelsim.studies.candidates import Axis, changes_of
from fuelsim.studies.measures import measure_named
from fuelsim.studies.proving import altitude_in_words
from fuelsim.studies.requirements import Requirements, Rule
from fuelsim.system.conditions import Conditions
from fuelsim.typing import BoolArray, FloatArray, IndexArray, PlotAxes, TextArray, UnitSystem

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

    from fuelsim.studies.sizing_steps import SizingReasons

__all__ = ["FUSES", "Sizing", "pareto_front"]

FUSES = (5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0)
"""Usual ratings of blade fuses, A."""
LEAST_MARGIN = "least_margin"
"""Name of an objective that is no measure: the least margin of the mandatory requirements."""


def pareto_front(first: FloatArray, second: FloatArray) -> IndexArray:
    """Return the members that no other betters in two objectives at once.

    Parameters
    ----------
    first, second : array (members,)
        Objectives to be made small, in any unit; members with NaN are left out.

    Returns
    -------
    int array
        Numbers of members, sorted by the first objective; of equal members only one.

    Examples
    --------
    >>> pareto_front([1.0, 2.0, 3.0, 2.5], [9.0, 5.0, 1.0, 6.0]).tolist()
    [0, 1, 2]
    """
    first, second = np.asarray(first, dtype=float), np.asarray(second, dtype=float)
    known = np.flatnonzero(np.isfinite(first) & np.isfinite(second))
    order: IndexArray = known[np.lexsort((second[known], first[known]))]
    if not order.size:
        return order
    lowest_before = np.minimum.accumulate(np.concatenate([[np.inf], second[order][:-1]]))
    front: IndexArray = order[second[order] < lowest_before]
    return front


def _usual_fuse(current: float) -> float:
    """Return the least usual fuse that a current loads to 75 % at most, A; NaN beyond all."""
    return next((rating for rating in FUSES if rating >= current / limits.FUSE_LOADING.value), np.nan)


@dataclass(frozen=True)
class Sizing(Interruptible, Shown):
    """Every combination of candidates, judged.

    Attributes
    ----------
    car : Car
        The car with the parts that were not sized.
    layout : str
        The layout it was sized in.
    requirements : Requirements
        Limits that the combinations are held to.
    conditions : Conditions
        Operating points on which they are judged.
    axes : tuple of Axis
        Candidates of each key, least first.
    chosen : int array (combinations, axes)
        Number of the candidate of each key.
    finished : bool array (combinations,)
        False for those Ctrl-C came before; they are neither ranked nor rejected.
    worst : dict of str to array (combinations,)
        Worst value of each measure over the operating points, SI: greatest for what must be small.
    margin : array (combinations, rules)
        Least margin of each requirement as a ratio to its limit; NaN where it does not apply.
    unsolved : int array (combinations,)
        Number of operating points that did not solve.
    unsolved_code : int array (combinations,)
        How the first of them ended, see `OutcomeCode`; 0 where all solved.
    unsolved_reason : str array (combinations,)
        The reason of that point, and which it is; empty where all solved.
    circuit_current : dict of str to array (combinations,)
        Greatest current of a pump of each circuit, A, by the table of its wire.
    completion : Completion
        How many combinations were tried before the end or before Ctrl-C.

    Examples
    --------
    >>> import fuelsim as fs
    >>> sizing = fs.size(fs.Car.named("finch"), candidates={"injectors": ["size_160", "size_250"]})
    >>> [sizing.labels(int(number)) for number in sizing.ranking]
    [{'injectors': 'size_250'}]
    """

    car: Car
    layout: str
    requirements: Requirements
    conditions: Conditions
    axes: tuple[Axis, ...]
    chosen: IndexArray
    finished: BoolArray
    worst: dict[str, FloatArray]
    margin: FloatArray
    unsolved: IndexArray
    unsolved_code: IndexArray
    unsolved_reason: TextArray
    circuit_current: dict[str, FloatArray]
    completion: Completion = WHOLE

    @property
    def headline(self) -> str:
        """Return what meets the requirements."""
        return self.sentence()

    @property
    def rules(self) -> list[tuple[Rule, float]]:
        """Requirements asked, with their limits, in the order of `margin`."""
        return self.requirements.asked()

    def _of_severity(self, severity: Severity) -> BoolArray:
        """Return which rules are of a severity, (rules,)."""
        return np.array([rule.severity is severity for rule, _ in self.rules], dtype=bool)

    def _missed(self, severity: Severity) -> IndexArray:
        """Return how many requirements of a severity each combination misses, (combinations,)."""
        missed: IndexArray = np.sum(self.margin[:, self._of_severity(severity)] < 0.0, axis=1)
        return missed

    @property
    def meets(self) -> BoolArray:
        """Whether a combination meets every mandatory requirement on every operating point, (combinations,)."""
        meets: BoolArray = self.finished & (self.unsolved == 0) & (self._missed(Severity.FAILURE) == 0)
        return meets

    @property
    def least_margin(self) -> FloatArray:
        """Least margin of the mandatory requirements as a multiple of their limits, (combinations,).

        Minus infinity where a point did not solve.
        """
        least = np.fmin.reduce(self.margin[:, self._of_severity(Severity.FAILURE)], axis=1, initial=np.inf)
        return np.where(self.unsolved > 0, -np.inf, least)

    @property
    def ranking(self) -> IndexArray:
        """Combinations that meet the requirements, best first: fewest warnings, then least parts, then most margin.

        Least is judged key by key: pump, lines, regulator, injectors, wire.
        """
        columns = [self.chosen[:, column] for column in range(len(self.axes))]
        order = np.lexsort([-self.least_margin, *reversed(columns), self._missed(Severity.WARNING)])
        ranked: IndexArray = order[self.meets[order]]
        return ranked

    @property
    def nearest_misses(self) -> IndexArray:
        """Combinations that are rejected, nearest to the requirements first.

        Those whose every point solved come first, then those that miss the fewest mandatory requirements, then those
        with the greatest least margin.
        """
        rejected = np.flatnonzero(self.finished & ~self.meets)
        least = np.fmin.reduce(self.margin[:, self._of_severity(Severity.FAILURE)], axis=1, initial=np.inf)
        nearness = np.lexsort([-least[rejected], self._missed(Severity.FAILURE)[rejected], self.unsolved[rejected]])
        return rejected[nearness]

    @takes()
    def missed(self, combination: int) -> list[str]:
        """Return every mandatory requirement that one combination misses.

        Parameters
        ----------
        combination : int
            Its row, as `ranking` and `nearest_misses` list them.

        Returns
        -------
        list of str
            Names, the one missed most first; empty if none is missed on the points that solved.

        Examples
        --------
        >>> import fuelsim as fs
        >>> sizing = fs.size(fs.Car.named("finch"), candidates={"injectors": ["size_160", "size_250"]})
        >>> sizing.missed(0), sizing.missed(1)
        (['injector_duty'], [])
        """
        margin = np.where(self._of_severity(Severity.FAILURE), self.margin[combination], np.nan)
        order = np.argsort(margin)
        return [self.rules[number][0].name for number in order if margin[number] < 0.0]

    @takes()
    def labels(self, combination: int) -> dict[str, str]:
        """Return the candidates of one combination in words.

        Parameters
        ----------
        combination : int
            Its row, as `ranking` lists them.

        Returns
        -------
        dict of str to str
            Key of the part or rating, and its candidate.

        Examples
        --------
        >>> import fuelsim as fs
        >>> sizing = fs.size(fs.Car.named("finch"), candidates={"injectors": ["size_160", "size_250"]})
        >>> sizing.labels(0)
        {'injectors': 'size_160'}
        """
        picked = self.chosen[combination]
        return {axis.key: axis.candidates[index].label for axis, index in zip(self.axes, picked, strict=True)}

    @takes()
    def car_of(self, combination: int) -> Car:
        """Return the car with one combination fitted.

        Parameters
        ----------
        combination : int
            Its row, as `ranking` lists them.

        Returns
        -------
        Car

        Examples
        --------
        >>> import fuelsim as fs
        >>> sizing = fs.size(fs.Car.named("finch"), candidates={"injectors": ["size_160", "size_250"]})
        >>> bool(sizing.car_of(0).injectors.static_flow < sizing.car_of(1).injectors.static_flow)
        True
        """
        changes = changes_of(self.axes, self.chosen[combination])
        fuses = {f"{table}.fuse_rating": fuse for table, fuse in self.fuses(combination).items()}
        changes |= {key: fuse for key, fuse in fuses.items() if not np.isnan(fuse)}
        return self.car.with_values(changes)

    @takes()
    def fuse(self, combination: int) -> float:
        """Return the least usual fuse that the greatest current of a pump loads to 75 % at most, as where it is hot.

        Parameters
        ----------
        combination : int
            Its row, as `ranking` lists them.

        Returns
        -------
        float
            Fuse rating, A; NaN beyond all usual fuses.

        Examples
        --------
        >>> import fuelsim as fs
        >>> sizing = fs.size(fs.Car.named("finch"), candidates={"injectors": ["size_160", "size_250"]})
        >>> sizing.fuse(0) in FUSES
        True
        """
        return _usual_fuse(self.worst["pump_current"][combination])

    @takes()
    def fuses(self, combination: int) -> dict[str, float]:
        """Return the fuse of each circuit, chosen as `fuse` is.

        Parameters
        ----------
        combination : int
            Its row, as `ranking` lists them.

        Returns
        -------
        dict of str to float
            Fuse rating, A, by the table of the wire; NaN beyond all usual fuses.

        Examples
        --------
        >>> import fuelsim as fs
        >>> sizing = fs.size(fs.Car.named("finch"), candidates={"injectors": ["size_160", "size_250"]})
        >>> sizing.fuses(0) == {"wire": sizing.fuse(0)}
        True
        """
        return {table: _usual_fuse(current[combination]) for table, current in self.circuit_current.items()}

    @property
    def best(self) -> Car:
        """The car with the best combination.

        Raises
        ------
        InputError
            Where none meets the requirements, with the requirement that rejects most.
        """
        ranking = self.ranking
        if not ranking.size:
            raise InputError("no combination meets the requirements", accepted=self.sentence(), part="size")
        return self.car_of(int(ranking[0]))

    def assess_best(self) -> Assessment:
        """Return the best combination, judged by the requirements once more, alone.

        Returns
        -------
        Assessment

        Raises
        ------
        InputError
            Where none meets the requirements.
        """
        return assess(self.best.system(self.layout), self.requirements, self.conditions)

    @takes()
    def failed_requirement(self, combination: int) -> str:
        """Return the mandatory requirement that one combination misses most.

        Parameters
        ----------
        combination : int
            Its row, as `ranking` lists them.

        Returns
        -------
        str
            Name of the requirement, or where a point has no result how it ended, as ``"engine stopped"``; empty if none
            is missed.

        Examples
        --------
        >>> import fuelsim as fs
        >>> sizing = fs.size(fs.Car.named("finch"), candidates={"injectors": ["size_160", "size_250"]})
        >>> sizing.failed_requirement(0), sizing.failed_requirement(1)
        ('injector_duty', '')
        """
        if self.unsolved[combination]:
            return OutcomeCode(int(self.unsolved_code[combination])).in_words
        margin = np.where(self._of_severity(Severity.FAILURE), self.margin[combination], np.inf)
        margin = np.where(np.isnan(margin), np.inf, margin)
        worst = int(np.argmin(margin))
        return self.rules[worst][0].name if margin[worst] < 0.0 else ""

    @takes({"rows": whole(0, 1_000_000)})
    def table(self, rows: int = 10, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return the best combinations, one row each: parts, fuse, worst figures, least margin and warnings.

        They differ in kind, first the best of each pump; each has its rank among all. Rows enough show all.

        Parameters
        ----------
        rows : int
            Greatest number of rows.
        units : str, optional
            A name of `units.SYSTEMS`; left out, the preferred one.

        Returns
        -------
        pandas.DataFrame

        Examples
        --------
        >>> import fuelsim as fs
        >>> sizing = fs.size(fs.Car.named("finch"), candidates={"injectors": ["size_160", "size_250"]})
        >>> sizing.table()["injectors"].tolist()
        ['size_250']
        """
        return opener.ranking_table(self, rows, units)

    @takes({"rows": whole(0, 1_000_000, optional=True)})
    def rejects(self, rows: int | None = None) -> pd.DataFrame:
        """Return the rejected combinations, nearest misses first, with every requirement that each misses.

        Parameters
        ----------
        rows : int, optional
            Greatest number of rows; left out, all.

        Returns
        -------
        pandas.DataFrame

        Examples
        --------
        >>> import fuelsim as fs
        >>> sizing = fs.size(fs.Car.named("finch"), candidates={"injectors": ["size_160", "size_250"]})
        >>> len(sizing.rejects())
        1
        """
        return opener.reject_table(self, rows)

    def reasons(self) -> SizingReasons:
        """Return why combinations are rejected, what the nearest miss lacks, and which changes would do.

        Returns
        -------
        SizingReasons
            From the whole catalogue, not the candidates alone; takes about a second.

        Raises
        ------
        InputError
            Where nothing is rejected.

        Examples
        --------
        >>> import fuelsim as fs
        >>> sizing = fs.size(fs.Car.named("finch"), candidates={"injectors": ["size_160", "size_200"]})
        >>> sizing.reasons()
        <SizingReasons: The nearest miss lacks injector_duty; injectors size_250: meets every mandatory ...>
        """
        return opener.sizing_reasons(self)

    @takes()
    def pareto(self, first: str, second: str) -> IndexArray:
        """Return the combinations that meet the requirements and that none betters in two objectives at once.

        Parameters
        ----------
        first, second : str
            Measures such as ``"pump_power"``, or ``"least_margin"``; what a requirement wants large is wanted large,
            everything else small.

        Returns
        -------
        int array
            Numbers of combinations, sorted by the first objective.

        Raises
        ------
        InputError
            For a measure that is not known, or was not kept.

        Examples
        --------
        >>> import fuelsim as fs
        >>> sizing = fs.size(fs.Car.named("finch"), candidates={"injectors": ["size_160", "size_250"]})
        >>> sizing.pareto("pump_power", "least_margin").tolist()
        [1]
        """
        meets = np.flatnonzero(self.meets)
        front: IndexArray = meets[pareto_front(self.objective(first)[meets], self.objective(second)[meets])]
        return front

    @takes()
    def objective(self, name: str) -> FloatArray:
        """Return a measure with the sign that makes less of it better.

        Parameters
        ----------
        name : str
            A measure, or ``"least_margin"``.

        Returns
        -------
        array (combinations,)
            In SI.

        Raises
        ------
        InputError
            For a measure that is not known, or was not kept.

        Examples
        --------
        >>> import fuelsim as fs
        >>> sizing = fs.size(fs.Car.named("finch"), candidates={"injectors": ["size_160", "size_250"]})
        >>> bool(sizing.objective("injector_duty")[0] > sizing.objective("injector_duty")[1])
        True
        """
        if name == LEAST_MARGIN:
            return -self.least_margin
        measure_named(name)
        if name not in self.worst:
            raise InputError("this measure was not kept", given=name, accepted=", ".join(self.worst), key="pareto")
        sense = next((rule.sense for rule, _ in self.rules if rule.name == name), -1)
        return -sense * self.worst[name]

    @takes()
    def plot(self, first: str = "pump_power", second: str = LEAST_MARGIN, *, ax: PlotAxes | None = None) -> Figure:
        """Draw all combinations over two objectives, with the Pareto front of those that meet the requirements.

        Parameters
        ----------
        first, second : str
            Measures, or ``"least_margin"``.
        ax : Axes, optional
            Axes of your own.

        Returns
        -------
        matplotlib.figure.Figure

        Examples
        --------
        >>> import fuelsim as fs
        >>> sizing = fs.size(fs.Car.named("finch"), candidates={"injectors": ["size_160", "size_250"]})
        >>> len(sizing.plot().axes)
        1
        """
        for name in (first, second):
            self.objective(name)
        return opener.pareto_figure(self, first, second, ax)

    def sentence(self) -> str:
        """Return how many combinations meet the requirements, which comes first, and what rejects the others.

        Returns
        -------
        str
            One sentence.
        """
        finished, meets = int(self.finished.sum()), int(self.meets.sum())
        points = self.conditions.points()["rpm"].size
        altitude = self.conditions.altitude
        altitudes = altitude_in_words(self.car.surroundings.altitude if altitude is None else altitude)
        clauses = [
            f"{meets} of {finished} combinations meet the requirements on {points} operating points each, {altitudes}"
        ]
        if self.interrupted:
            clauses[0] += f" ({self.completion})"
        if meets:
            best = int(self.ranking[0])
            parts = ", ".join(f"{key} {label}" for key, label in self.labels(best).items())
            fuses = self.fuses(best)
            named = ", ".join(f"{fuse:g} A for {table}" for table, fuse in fuses.items())
            clauses.append(f"least: {parts}, fuse {named if len(fuses) > 1 else f'{self.fuse(best):g} A'}")
        rejected = np.flatnonzero(self.finished & ~self.meets)
        if rejected.size:
            reasons = [self.failed_requirement(int(number)) for number in rejected]
            most = max(dict.fromkeys(reasons), key=reasons.count)
            clauses.append(f"{most} rejects most ({reasons.count(most)})")
        return "; ".join(clauses) + "."
