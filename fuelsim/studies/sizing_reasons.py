"""Why combinations of a sizing are rejected, and what to try next: changes of the nearest miss, one at a time."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from fuelsim import units
from fuelsim.car.car import Car
from fuelsim.errors import InputError
from fuelsim.finding import Severity
from fuelsim.interruption import whole
from fuelsim.studies.assessment import assess
from fuelsim.studies.candidates import catalogue_candidates, changes_of
from fuelsim.studies.size import size
from fuelsim.studies.sizing import Sizing
from fuelsim.studies.sizing_steps import RejectedBy, SizingReasons, Step
from fuelsim.system.conditions import Conditions
from fuelsim.typing import Given

__all__ = ["rejected_by", "sizing_reasons"]

MILD = 293.15
"""Temperature of the day that is put in place of every colder one, K."""
MOST_STEPS = 4
"""Greatest number of changes in turn."""


def sizing_reasons(sizing: Sizing) -> SizingReasons:
    """Return why combinations are rejected and what to try next.

    Every generic part that fits is tried in place of one part of the nearest miss, then, from the best of these,
    again; and the nearest miss is judged once more without each assumption on the operating points.

    Parameters
    ----------
    sizing : Sizing
        With at least one combination that is rejected.

    Returns
    -------
    SizingReasons

    Raises
    ------
    InputError
        Where nothing is rejected.

    Examples
    --------
    >>> sizing = size(Car.named("finch"), candidates={"injectors": ["size_160", "size_200"]})
    >>> sizing_reasons(sizing).in_turn[-1].outcome
    'meets every mandatory requirement in the computation'
    """
    nearest = sizing.nearest_misses
    if not nearest.size:
        raise InputError("nothing is rejected", accepted="a sizing with combinations that miss a requirement")
    first = int(nearest[0])
    car = sizing.car.with_values(changes_of(sizing.axes, sizing.chosen[first]))
    items = assess(sizing.car_of(first).system(sizing.layout), sizing.requirements, sizing.conditions).items
    missed = sizing.missed(first)
    misses = sorted(
        (item for item in items if item.rule.name in missed and item.met is False),
        key=lambda item: missed.index(item.rule.name),
    )
    single, in_turn = _changes(sizing, car, _step(sizing, first, ""))
    return SizingReasons(
        nearest=first,
        misses=tuple(misses),
        rejected_by=rejected_by(sizing),
        assumptions=tuple(_without_assumptions(sizing, car)),
        single=tuple(single),
        in_turn=tuple(in_turn),
    )


def rejected_by(sizing: Sizing) -> tuple[RejectedBy, ...]:
    """Return how many combinations each mandatory requirement rejects, those that free most first.

    Parameters
    ----------
    sizing : Sizing
        Combinations with a point without a result are left out.

    Returns
    -------
    tuple of RejectedBy

    Examples
    --------
    >>> rejected_by(size(Car.named("finch"), candidates={"injectors": ["size_160", "size_200"]}))
    (RejectedBy(name='injector_duty', rejects=2, alone=2),)
    """
    missed = [sizing.missed(int(number)) for number in np.flatnonzero(sizing.finished & (sizing.unsolved == 0))]
    counts = [
        RejectedBy(rule.name, sum(rule.name in names for names in missed), missed.count([rule.name]))
        for rule, _ in sizing.rules
        if rule.severity is Severity.FAILURE
    ]
    return tuple(sorted((each for each in counts if each.rejects), key=lambda each: (-each.alone, -each.rejects)))


def _without_assumptions(sizing: Sizing, car: Car) -> Iterator[Step]:
    """Yield what a car misses where one assumption on the operating points, or none of them, holds."""
    points = sizing.conditions.points()
    changes: dict[str, dict[str, Given]] = {}
    clogging = float(np.max(points.get("filter_clogging", 1.0)))
    wear = float(np.max(points.get("pump_wear", 0.0)))
    coldest = float(np.min(points.get("tank_temperature", np.inf)))
    if clogging > 1.0:
        changes[f"without the filter clogged {clogging:g} times"] = {"filter_clogging": 1.0}
    if wear > 0.0:
        changes[f"without the pump worn by {100.0 * wear:.0f} %"] = {"pump_wear": 0.0}
    if coldest < MILD:
        cold, mild = (units.shown(value, "temperature", digits=3) for value in (coldest, MILD))
        changes[f"at {mild} instead of {cold}"] = {
            name: np.maximum(getattr(sizing.conditions, name), MILD)
            for name in ("air_temperature", "tank_temperature")
            if getattr(sizing.conditions, name) is not None
        }
    if len(changes) > 1:
        changes["without all of these"] = {key: value for one in changes.values() for key, value in one.items()}
    for change, values in changes.items():
        as_it_is: dict[str, list[Given]] = {"engine.idle_speed": [float(np.min(car.engine.idle_speed))]}
        yield _step(_sized(sizing, car, as_it_is, sizing.conditions.with_values(values)), 0, change)


def _sized(sizing: Sizing, car: Car, candidates: Mapping[str, Sequence[Given]], conditions: Conditions) -> Sizing:
    """Return a car sized to the same requirements with other candidates and conditions."""
    return whole(size(car, sizing.layout, candidates, sizing.requirements, conditions, progress=False))


def _best(sizing: Sizing) -> int:
    """Return the least candidate that meets the requirements, else the nearest to them."""

    def distance(number: int) -> tuple[int, int, float]:
        step = _step(sizing, number, "")
        return (0, 0, float(number)) if step.meets else step.distance

    return min(range(len(sizing.chosen)), key=distance)


def _step(sizing: Sizing, combination: int, change: str) -> Step:
    """Return one combination as a step."""
    least = sizing.margin[combination][[rule.severity is Severity.FAILURE for rule, _ in sizing.rules]]
    return Step(
        change,
        tuple(sizing.missed(combination)),
        int(sizing.unsolved[combination]),
        float(np.fmin.reduce(least, initial=np.inf)),
    )


def _changes(sizing: Sizing, car: Car, now: Step) -> tuple[list[Step], list[Step]]:
    """Return the best change of each table, and the best changes in turn while each brings the car nearer."""
    single: list[Step] = []
    in_turn: list[Step] = []
    while len(in_turn) < MOST_STEPS and not now.meets:
        tried = [
            (_step(each, number, f"{key} {each.labels(number)[key]}"), each, number)
            for key, names in catalogue_candidates(car, sizing.layout).items()
            for each in [_sized(sizing, car, {key: names}, sizing.conditions)]
            for number in [_best(each)]
        ]
        tried.sort(key=lambda of_table: of_table[0].distance)
        best, each, number = tried[0]
        if not single:
            single = [step for step, _, _ in tried if step.distance < now.distance]
        if best.distance >= now.distance:
            break
        in_turn.append(best)
        now, car = best, each.car.with_values(changes_of(each.axes, each.chosen[number]))
    return single, in_turn
