"""Sizing: the least pump, lines, regulator, injectors, wire and fuse that meet the requirements.

Every combination of the candidates is run on every operating point; ratings that differ lie on the batch axis, so that
a few large solutions do the work of thousands.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim import opener
from fuelsim.car.car import Car
from fuelsim.errors import InputError
from fuelsim.finding import Severity
from fuelsim.parts.wire import CONTINUOUS_FUSE_LOADING
from fuelsim.studies.candidates import Axis, axes_of, default_candidates
from fuelsim.studies.measures import measure_named
from fuelsim.studies.pareto import front
from fuelsim.studies.progress import run_steps
from fuelsim.studies.requirements import Assessment, Requirements, Rule, assess, proving_conditions, signed_margin
from fuelsim.system.conditions import Conditions

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["FUSES", "Sizing", "size"]

POINTS_AT_ONCE = 12_000
"""Operating points of one solution: enough to forget the cost of a call, few enough for a quick Ctrl-C."""
FUSES = (5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0)
"""A: usual ratings of blade fuses."""
EXTRA = ("pump_power", "pump_current", "rail_pressure", "rail_temperature", "tank_heat_flow")
"""Measures kept beside those of the requirements, for fronts and tables."""


@dataclass(frozen=True)
class Sizing:
    """Every combination of candidates, judged.

    Attributes
    ----------
    car : Car
        With the parts that were not sized.
    layout : str
    requirements : Requirements
    conditions : Conditions
    axes : tuple of Axis
        Candidates of each place, least first.
    chosen : int array (combinations, axes)
        Which candidate stands in each place.
    finished : bool array (combinations,)
        False for those Ctrl-C came before; they are neither ranked nor rejected.
    worst : dict of str to array (combinations,)
        Worst value of each measure over the operating points, SI: greatest for what must be small.
    margin : array (combinations, rules)
        Least margin of each requirement in units of its limit; NaN where it does not apply.
    unsolved : int array (combinations,)
        Operating points that did not solve.
    interrupted : bool
        Whether Ctrl-C ended it early.
    """

    car: Car
    layout: str
    requirements: Requirements
    conditions: Conditions
    axes: tuple[Axis, ...]
    chosen: Any
    finished: Any
    worst: dict[str, Any]
    margin: Any
    unsolved: Any
    interrupted: bool

    @property
    def rules(self) -> list[tuple[Rule, float]]:
        """Requirements asked, with their limits, in the order of `margin`."""
        return self.requirements.asked()

    def _missed(self, severity: Severity) -> Any:
        """Return how many requirements of a severity each combination misses."""
        of = np.array([rule.severity is severity for rule, _ in self.rules], dtype=bool)
        return np.sum(self.margin[:, of] < 0.0, axis=1)

    @property
    def meets(self) -> Any:
        """Bool array (combinations,): all that must hold holds, on every operating point."""
        return self.finished & (self.unsolved == 0) & (self._missed(Severity.FAILURE) == 0)

    @property
    def least_margin(self) -> Any:
        """Least margin of what must hold, in units of its limit, (combinations,); -inf where a point did not solve."""
        must = np.array([rule.severity is Severity.FAILURE for rule, _ in self.rules], dtype=bool)
        least = np.fmin.reduce(self.margin[:, must], axis=1, initial=np.inf)
        return np.where(self.unsolved > 0, -np.inf, least)

    @property
    def ranking(self) -> Any:
        """Combinations that meet the requirements, best first: fewest warnings, then least parts, then most margin.

        Least is judged place by place: pump, lines, regulator, injectors, wire.
        """
        places = [self.chosen[:, column] for column in range(len(self.axes))]
        keys = [-self.least_margin, *reversed(places), self._missed(Severity.WARNING)]
        order = np.lexsort(keys)
        return order[self.meets[order]]

    def labels(self, combination: int) -> dict[str, str]:
        """Return what stands in each place of one combination."""
        picked = self.chosen[combination]
        return {axis.place: axis.candidates[index].label for axis, index in zip(self.axes, picked, strict=True)}

    def car_of(self, combination: int) -> Car:
        """Return the car with one combination fitted."""
        changes: dict[str, Any] = {}
        for axis, index in zip(self.axes, self.chosen[combination], strict=True):
            candidate = axis.candidates[index]
            changes |= candidate.fixed | candidate.listed
        fuse = self.fuse(combination)
        changes |= {} if np.isnan(fuse) else {"wire.fuse_rating": fuse}
        return self.car.with_values(changes)

    def fuse(self, combination: int) -> float:
        """Return the least usual fuse that the greatest current loads to 80 % at most, A; NaN beyond all of them."""
        needed = self.worst["pump_current"][combination] / CONTINUOUS_FUSE_LOADING
        return next((rating for rating in FUSES if rating >= needed), np.nan)

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
        """Return the best combination held to the requirements once more, alone."""
        return assess(self.best.system(self.layout), self.requirements, self.conditions)

    def failed_requirement(self, combination: int) -> str:
        """Return the requirement that one combination misses most, '' if none."""
        if self.unsolved[combination]:
            return "not solved"
        row = np.where(np.isnan(self.margin[combination]), np.inf, self.margin[combination])
        must = np.array([rule.severity is Severity.FAILURE for rule, _ in self.rules], dtype=bool)
        row = np.where(must, row, np.inf)
        worst = int(np.argmin(row))
        return self.rules[worst][0].name if row[worst] < 0.0 else ""

    def table(self, rows: int = 10, system: str | None = None) -> pd.DataFrame:
        """Return the best combinations, one row each: parts, fuse, worst figures, least margin and warnings."""
        return opener.ranking_table(self, rows, system)

    def rejects(self, rows: int | None = None) -> pd.DataFrame:
        """Return the rejected combinations, one row each, with the requirement each misses most and by how much."""
        return opener.reject_table(self, rows)

    def pareto(self, first: str, second: str) -> Any:
        """Return the combinations that meet the requirements and that none betters in two wishes at once.

        Parameters
        ----------
        first, second : str
            Measures such as ``"pump_power"``, or ``"least_margin"``; what a requirement wants large is wanted large,
            everything else small.

        Returns
        -------
        int array
            Numbers of combinations, sorted by the first wish.
        """
        meets = np.flatnonzero(self.meets)
        wishes = np.stack([self.wish(name)[meets] for name in (first, second)])
        return meets[front(wishes)]

    def wish(self, name: str) -> Any:
        """Return a measure as something to make small, (combinations,)."""
        if name == "least_margin":
            return -self.least_margin
        measure_named(name)
        if name not in self.worst:
            raise InputError("this measure was not kept", given=name, accepted=", ".join(self.worst), key="pareto")
        sense = next((rule.sense for rule, _ in self.rules if rule.name == name), -1)
        return -sense * self.worst[name]

    def plot(self, first: str = "pump_power", second: str = "least_margin") -> Figure:
        """Draw all combinations over two wishes, with the front of those that meet the requirements."""
        return opener.pareto_figure(self, first, second)

    def sentence(self) -> str:
        """Say how many combinations meet the requirements, which comes first, and what rejects the others."""
        finished, meets = int(self.finished.sum()), int(self.meets.sum())
        said = f"{meets} of {finished} combinations meet the requirements on {self.conditions.points()['rpm'].size}"
        said += " operating points each"
        if self.interrupted:
            said += f" (stopped early: {self.finished.size - finished} not tried)"
        if meets:
            parts = ", ".join(f"{place} {label}" for place, label in self.labels(int(self.ranking[0])).items())
            said += f"; least: {parts}, fuse {self.fuse(int(self.ranking[0])):g} A"
        rejected = np.flatnonzero(self.finished & ~self.meets)
        if rejected.size:
            reasons = [self.failed_requirement(int(index)) for index in rejected]
            most = max(set(reasons), key=reasons.count)
            said += f"; {most} rejects most ({reasons.count(most)})"
        return said + "."


def size(
    car: Car,
    layout: str = "return",
    candidates: Mapping[str, Iterable[Any]] | None = None,
    requirements: Requirements | None = None,
    conditions: Conditions | None = None,
    *,
    progress: bool | None = None,
) -> Sizing:
    """Run every combination of candidates on every operating point and judge it by the requirements.

    Parameters
    ----------
    car : Car
        What is not among the candidates stays as it is.
    layout : str
    candidates : mapping, optional
        Place to parts or names of the catalogue, as in ``{"pump": ["in_tank_130", "in_tank_220"], "feed":
        ["steel_tube_three_eighths_inch"]}``, or dotted key to values, as in ``{"feed.bore": ["6 mm", "8 mm"]}``; left
        out, `default_candidates`.
    requirements : Requirements, optional
    conditions : Conditions, optional
        `proving_conditions` of the car, if left out.
    progress : bool, optional
        Whether to show a bar; left out, on a terminal only. Ctrl-C ends the study with what is finished.

    Returns
    -------
    Sizing

    Raises
    ------
    InputError
        For an unknown place or name.

    Examples
    --------
    >>> result = size(Car.named("finch"), candidates={"injectors": ["size_160", "size_200", "size_250"]})
    >>> result.labels(int(result.ranking[0]))
    {'injectors': 'size_250'}
    """
    wanted = requirements or Requirements()
    points = proving_conditions(car) if conditions is None else conditions
    car.system(layout)
    axes = axes_of(car, layout, default_candidates(car, layout) if candidates is None else candidates)
    chosen = np.array(list(itertools.product(*(range(len(axis.candidates)) for axis in axes))), dtype=np.intp)
    study = _Study(car, layout, wanted, points, axes, chosen)
    results, interrupted = run_steps(study.batches(), study.solve, doing="sizing", progress=progress)
    return study.gathered(results, interrupted)


@dataclass(frozen=True)
class _Study:
    """The work of `size`: combinations that share their fixed parts are cut into batches."""

    car: Car
    layout: str
    requirements: Requirements
    conditions: Conditions
    axes: tuple[Axis, ...]
    chosen: Any

    def batches(self) -> list[Any]:
        """Return the numbers of the combinations of each batch."""
        of_axis = [axis.groups() for axis in self.axes]
        groups: dict[tuple[str, ...], list[int]] = {}
        for number, picked in enumerate(self.chosen):
            key = tuple(names[index] for names, index in zip(of_axis, picked, strict=True))
            groups.setdefault(key, []).append(number)
        points = self.conditions.points()["rpm"].size
        together = max(1, POINTS_AT_ONCE // points)
        return [
            np.array(members[first : first + together])
            for members in groups.values()
            for first in range(0, len(members), together)
        ]

    def solve(self, members: Any) -> tuple[Any, dict[str, Any], Any, Any]:
        """Return the members with the worst value of each measure, the margins, and how many points failed."""
        points = self.conditions.points()
        count = points["rpm"].size
        changes: dict[str, Any] = {}
        for column, axis in enumerate(self.axes):
            changes |= axis.candidates[self.chosen[members[0], column]].fixed
            picked = [axis.candidates[index].listed for index in self.chosen[members, column]]
            for key in picked[0]:
                changes[key] = np.repeat([listed[key] for listed in picked], count)
        car = self.car.with_values(changes)
        tiled_points: dict[str, Any] = {name: np.tile(values, len(members)) for name, values in points.items()}
        tiled = Conditions(**tiled_points)
        system = car.system(self.layout)
        run = system.solve(tiled)
        shape = (len(members), count)
        rules = self.requirements.asked()
        senses = {rule.name: rule.sense for rule, _ in rules}
        worst: dict[str, Any] = {}
        for name in (*senses, *(name for name in EXTRA if name not in senses)):
            value = measure_named(name).of(system, run)
            table = np.full(shape, np.nan) if value is None else np.broadcast_to(value, run.conditions.shape)
            table = table.reshape(shape)
            pick = np.fmin if senses.get(name, -1) > 0 else np.fmax
            worst[name] = pick.reduce(table, axis=1)
        margin = np.stack([signed_margin(rule, limit, worst[rule.name]) for rule, limit in rules], axis=1)
        failed = np.sum(~np.asarray(run.outcome.converged).reshape(shape), axis=1)
        return members, worst, margin, failed

    def gathered(self, results: list[tuple[Any, dict[str, Any], Any, Any]], interrupted: bool) -> Sizing:
        """Return all batches as one result."""
        combinations, rules = len(self.chosen), len(self.requirements.asked())
        finished = np.zeros(combinations, dtype=bool)
        margin = np.full((combinations, rules), np.nan)
        unsolved = np.zeros(combinations, dtype=int)
        worst: dict[str, Any] = {}
        for members, values, margins, failed in results:
            finished[members], margin[members], unsolved[members] = True, margins, failed
            for name, column in values.items():
                worst.setdefault(name, np.full(combinations, np.nan))[members] = column
        return Sizing(
            self.car,
            self.layout,
            self.requirements,
            self.conditions,
            self.axes,
            self.chosen,
            finished,
            worst,
            margin,
            unsolved,
            interrupted,
        )
