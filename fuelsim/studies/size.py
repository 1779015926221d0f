"""Sizing: the least pump, lines, regulator, injectors, wire and fuse that meet the requirements.

Every combination of the candidates is run on every operating point; ratings that differ lie on the batch axis, so that
a few large solutions do the work of thousands.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from fuelsim.arguments import takes
from fuelsim.car.car import Car
from fuelsim.interruption import Completion, run_steps
from fuelsim.studies.candidates import Axis, axes_of, default_candidates
from fuelsim.studies.circuits import circuits
from fuelsim.studies.measures import measure_named
from fuelsim.studies.proving import point_in_words, proving_conditions
from fuelsim.studies.requirements import Requirements, signed_margin
from fuelsim.studies.sizing import Sizing
from fuelsim.system.conditions import Conditions
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.typing import FloatArray, Given, IndexArray, TextArray

__all__ = ["size"]

POINTS_AT_ONCE = 12_000
"""Operating points of one solution: enough to make the cost of a call negligible, few enough for a quick Ctrl-C."""
EXTRA_MEASURES = ("pump_power", "pump_current", "rail_pressure", "rail_temperature", "tank_heat_flow")
"""Measures kept beside those of the requirements, for fronts and tables."""


@system_or_car
@takes()
def size(
    car: Car,
    layout: str = "return",
    candidates: Mapping[str, Iterable[Given]] | None = None,
    requirements: Requirements | None = None,
    conditions: Conditions | None = None,
    *,
    progress: bool | None = None,
) -> Sizing:
    """Run every combination of candidates on every operating point and judge it by the requirements.

    Parameters
    ----------
    car : Car
        The car; what is not among the candidates stays as it is.
    layout : str
        One of its layouts.
    candidates : mapping, optional
        Table of the car to parts or names of the catalogue, as in ``{"pump": ["in_tank_130", "in_tank_220"], "feed":
        ["steel_tube_three_eighths_inch"]}``, or dotted key to values, as in ``{"feed.bore": ["6 mm", "8 mm"]}``; named
        tables as ``"lines.crossover"``, or several alike, as ``"pumps"`` or ``"lines"``; left out,
        `default_candidates`.
    requirements : Requirements, optional
        Limits that the combinations are held to; left out, the defaults.
    conditions : Conditions, optional
        The operating points; left out, `proving_conditions` of the car.
    progress : bool, optional
        Whether to show a bar; left out, on a terminal only. Ctrl-C ends the study with what is finished.

    Returns
    -------
    Sizing

    Raises
    ------
    InputError
        For an unknown key or name.

    Examples
    --------
    >>> result = size(Car.named("finch"), candidates={"injectors": ["size_160", "size_200", "size_250"]})
    >>> result.labels(int(result.ranking[0]))
    {'injectors': 'size_250'}
    """
    points = proving_conditions(car) if conditions is None else conditions
    car.system(layout)
    axes = axes_of(car, layout, default_candidates(car, layout) if candidates is None else candidates)
    chosen = np.array(list(itertools.product(*(range(len(axis.candidates)) for axis in axes))), dtype=np.intp)
    study = _Study(car, layout, requirements or Requirements(), points, axes, chosen)
    results, completion = run_steps(study.batches(), study.solve, doing="sizing", of="batches", progress=progress)
    return study.gathered(results, completion.interrupted)


class _BatchResult(NamedTuple):
    """Judgement of the combinations of one batch.

    Attributes
    ----------
    members : int array (members,)
        Numbers of the combinations.
    worst : dict of str to array (members,)
        Worst value of each measure, SI.
    margin : array (members, rules)
        Margin of each requirement as a multiple of its limit.
    unsolved : int array (members,)
        Number of operating points that did not solve.
    unsolved_code : int array (members,)
        How the first of them ended, see `OutcomeCode`; 0 where all solved.
    unsolved_reason : str array (members,)
        The reason of that point, and which it is; empty where all solved.
    circuit_current : dict of str to array (members,)
        Greatest current of a pump of each circuit, A.
    """

    members: IndexArray
    worst: dict[str, FloatArray]
    margin: FloatArray
    unsolved: IndexArray
    unsolved_code: IndexArray
    unsolved_reason: TextArray
    circuit_current: dict[str, FloatArray]


@dataclass(frozen=True)
class _Study:
    """The work of `size`: combinations that share their fixed parts are cut into batches; `chosen` as in `Sizing`."""

    car: Car
    layout: str
    requirements: Requirements
    conditions: Conditions
    axes: tuple[Axis, ...]
    chosen: IndexArray

    def measures(self) -> list[str]:
        """Return the names of the measures kept: of the requirements, and those for fronts and tables."""
        return list(dict.fromkeys((*(rule.name for rule, _ in self.requirements.asked()), *EXTRA_MEASURES)))

    def batches(self) -> list[IndexArray]:
        """Return the numbers of the combinations of each batch."""
        groups_of_axes = [axis.groups() for axis in self.axes]
        groups: dict[tuple[int, ...], list[int]] = {}
        for number, picked in enumerate(self.chosen):
            key = tuple(numbers[index] for numbers, index in zip(groups_of_axes, picked, strict=True))
            groups.setdefault(key, []).append(number)
        together = max(1, POINTS_AT_ONCE // self.conditions.points()["rpm"].size)
        return [
            np.array(members[first : first + together], dtype=np.intp)
            for members in groups.values()
            for first in range(0, len(members), together)
        ]

    def _car_of_batch(self, members: IndexArray, points: int) -> Car:
        """Return a car whose ratings are lists: one value for each operating point of each member."""
        changes: dict[str, Given] = {}
        for column, axis in enumerate(self.axes):
            changes |= axis.candidates[self.chosen[members[0], column]].fixed
            picked = [axis.candidates[index].listed for index in self.chosen[members, column]]
            for key in picked[0]:
                changes[key] = np.repeat([listed[key] for listed in picked], points)
        return self.car.with_values(changes)

    def solve(self, members: IndexArray) -> _BatchResult:
        """Return the judgement of some combinations that share their fixed parts."""
        points = self.conditions.points()
        shape = (len(members), points["rpm"].size)
        tiled = {name: np.tile(values, len(members)) for name, values in points.items()}
        system = self._car_of_batch(members, points["rpm"].size).system(self.layout)
        run = system.solve(Conditions(rpm=tiled["rpm"]).with_values(tiled))
        rules = self.requirements.asked()
        senses = {rule.name: rule.sense for rule, _ in rules}
        worst: dict[str, FloatArray] = {}
        for name in self.measures():
            values = measure_named(name).at_points(system, run.before_stop).reshape(shape)
            pick = np.fmin if senses.get(name, -1) > 0 else np.fmax
            worst[name] = pick.reduce(values, axis=1)
        margin = np.stack([signed_margin(rule, limit, worst[rule.name]) for rule, limit in rules], axis=1)
        missing = ~np.asarray(run.outcome.converged).reshape(shape)
        first = np.argmax(missing, axis=1) + np.arange(len(members)) * shape[1]
        stopped = np.any(missing, axis=1)
        code = np.where(stopped, np.asarray(run.outcome.code)[first], 0).astype(np.intp)
        reason = np.array(
            [
                f"{run.outcome.reason[point]} ({point_in_words(run.conditions, int(point))})" if one else ""
                for point, one in zip(first, stopped, strict=True)
            ],
            dtype=object,
        )
        currents = {
            circuit.table: np.fmax.reduce(circuit.greatest_current(run).reshape(shape), axis=1)
            for circuit in circuits(system)
        }
        return _BatchResult(members, worst, margin, missing.sum(axis=1), code, reason, currents)

    def gathered(self, results: list[_BatchResult], interrupted: bool) -> Sizing:
        """Return all batches as one result."""
        combinations = len(self.chosen)
        finished = np.zeros(combinations, dtype=bool)
        margin = np.full((combinations, len(self.requirements.asked())), np.nan)
        unsolved, code = np.zeros((2, combinations), dtype=np.intp)
        reason = np.full(combinations, "", dtype=object)
        nothing = np.full(combinations, np.nan)
        worst = {name: nothing.copy() for name in self.measures()}
        currents: dict[str, FloatArray] = {}
        for batch in results:
            members = batch.members
            finished[members], margin[members], unsolved[members] = True, batch.margin, batch.unsolved
            code[members], reason[members] = batch.unsolved_code, batch.unsolved_reason
            for name, values in batch.worst.items():
                worst[name][members] = values
            for table, values in batch.circuit_current.items():
                currents.setdefault(table, nothing.copy())[members] = values
        return Sizing(
            car=self.car,
            layout=self.layout,
            requirements=self.requirements,
            conditions=self.conditions,
            axes=self.axes,
            chosen=self.chosen,
            finished=finished,
            worst=worst,
            margin=margin,
            unsolved=unsolved,
            unsolved_code=code,
            unsolved_reason=reason,
            circuit_current=currents,
            completion=Completion(int(finished.sum()), combinations, "combinations", interrupted),
        )
