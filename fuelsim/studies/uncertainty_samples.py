"""Samples of a car solved in batches: what one batch works on, and what becomes of it."""

from __future__ import annotations

import dataclasses
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias, TypeVar

import numpy as np

from fuelsim.car.fuel_choice import FuelChoice
from fuelsim.declaration import declarations
from fuelsim.errors import InputError
from fuelsim.interruption import Completion, Executor, run_steps
from fuelsim.numerics.sampling import SETS, SobolIndices, matrices, probabilities, sobol_indices
from fuelsim.outcome import OutcomeCode
from fuelsim.studies.measures import MEASURES_IN_ANY_STATE
from fuelsim.studies.requirements import Requirements, Rule, signed_margin
from fuelsim.studies.uncertain_inputs import UncertainInput
from fuelsim.system.conditions import Conditions
from fuelsim.system.controller import EngineState
from fuelsim.system.run import System
from fuelsim.typing import BoolArray, FloatArray, FloatLike, IntegerArray, PointArray

__all__ = [
    "Chunk",
    "SampledCar",
    "SolvedSamples",
    "cost_in_words",
    "indices_of_requirements",
    "sampled_shares",
    "unsolved",
    "with_ratings",
    "worst_margins",
]

SECONDS_PER_POINT = 60e-6
"""Typical time on one core, for the cost that is said before indices are computed."""
_HAVE_NUMBERS = (OutcomeCode.SOLVED, OutcomeCode.ENGINE_STOPPED, OutcomeCode.RUNS_DRY)

_Element = TypeVar("_Element", bound=np.generic)
_Shape: TypeAlias = tuple[int, ...]


def cost_in_words(seconds: float) -> str:
    """Return how long a study takes, as it is said before it starts.

    Parameters
    ----------
    seconds : float
        s.

    Returns
    -------
    str

    Examples
    --------
    >>> cost_in_words(90.0), cost_in_words(20.0)
    ('about 1.5 min on one core', 'about 20 s on one core')
    """
    return (
        f"about {seconds / 60.0:.2g} min on one core"
        if seconds >= 60.0
        else f"about {max(seconds, 1.0):.0f} s on one core"
    )


def sampled_shares(dimensions: int, samples: int, seed: int = 0, method: str = "sobol") -> FloatArray:
    """Return where samples stand in the distributions of their inputs.

    Parameters
    ----------
    dimensions : int
        Number of inputs.
    samples : int
        A multiple of `SETS`; for Sobol' sequences of `SETS` times a power of two.
    seed : int
    method : str
        One of `METHODS`.

    Returns
    -------
    array (samples, inputs)
        Samples of all sets in turn, so that what Ctrl-C leaves has about as many of each.

    Raises
    ------
    InputError
        For a number that does not suit.

    Examples
    --------
    >>> sampled_shares(3, 16).shape
    (16, 3)
    """
    each = samples // SETS
    if samples % SETS or each < 1 or (method == "sobol" and each & (each - 1)):
        lower = SETS * 2 ** int(np.log2(max(each, 1)))
        accepted = f"{SETS} times a power of two, such as {lower} or {2 * lower}"
        if method != "sobol":
            accepted = f"a multiple of {SETS}"
        raise InputError("not a number of samples", key="samples", given=samples, accepted=accepted)
    by_set = probabilities(dimensions, each, SETS, seed, method).reshape(SETS, each, dimensions)
    return np.swapaxes(by_set, 0, 1).reshape(-1, dimensions)


def unsolved(code: IntegerArray) -> BoolArray:
    """Return where points did not solve.

    Parameters
    ----------
    code : int array
        `OutcomeCode` of every point.

    Returns
    -------
    bool array

    Examples
    --------
    >>> unsolved(np.array([0, 2, 6])).tolist()
    [False, True, False]
    """
    return ~np.isin(code, _HAVE_NUMBERS)


def worst_margins(rule: Rule, limit: float, values: FloatArray) -> PointArray | None:
    """Return the least margin over the points of each sample, (samples,); None where the requirement never applies.

    Parameters
    ----------
    rule : Rule
        The requirement.
    limit : float
        Its limit, SI.
    values : array (samples, ...)
        The measure at every point, SI.

    Returns
    -------
    array (samples,) or None
        Multiples of the limit; NaN where a sample has none.

    Examples
    --------
    >>> from fuelsim.studies.requirements import RULES
    >>> worst_margins(RULES[4], 0.8, np.array([[0.4, 0.6], [0.4, 0.88]])).round(3).tolist()
    [0.25, -0.1]
    """
    margins = signed_margin(rule, limit, values).reshape(len(values), -1)
    if np.all(np.isnan(margins)):
        return None
    return np.asarray(np.fmin.reduce(margins, axis=1))


class Chunk(NamedTuple):
    """Some samples: number of the first, and where each stands in the distributions, (samples, inputs)."""

    start: int
    shares: FloatArray


class SolvedSamples(NamedTuple):
    """What became of some samples; arrays are (samples, ...)."""

    shares: FloatArray
    values: dict[str, FloatArray]
    stopped: BoolArray
    code: IntegerArray
    reasons: dict[str, int]


@dataclass(frozen=True)
class SampledCar:
    """Solves samples: a function that can be pickled."""

    system: System
    points: Conditions
    inputs: tuple[UncertainInput, ...]
    measures: tuple[str, ...]

    def __call__(self, chunk: Chunk) -> SolvedSamples:
        names = declarations(Conditions)
        ratings: dict[str, FloatArray] = {}
        settings = {name: values[..., None] for name, values in self.points.given.items()}
        own = dict(settings)
        for item, shares in zip(self.inputs, chunk.shares.T, strict=True):
            for key, value in item.at(shares).items():
                if key not in names:
                    ratings[key] = value
                else:
                    settings[key] = own[key] + value if item.added else value
        changed = with_ratings(self.system, ratings)
        run = changed.solve(self.points.with_values(settings))

        def samples_first(values: np.ndarray[_Shape, np.dtype[_Element]]) -> np.ndarray[_Shape, np.dtype[_Element]]:
            shape = (*self.points.shape, len(chunk.shares))
            return np.ascontiguousarray(np.moveaxis(np.broadcast_to(values, shape), -1, 0))

        code = samples_first(run.outcome.code)
        reasons = samples_first(np.asarray(run.outcome.reason))[unsolved(code)]
        return SolvedSamples(
            chunk.shares,
            {name: samples_first(MEASURES_IN_ANY_STATE[name].at_points(changed, run)) for name in self.measures},
            samples_first(run.engine_state == EngineState.STOPPED),
            code,
            dict(Counter(reasons.tolist())),
        )


def with_ratings(system: System, ratings: Mapping[str, FloatLike]) -> System:
    """Return a system with other ratings, or lists of them; another vapour pressure or ethanol is another petrol.

    Parameters
    ----------
    system : System
    ratings : mapping of str to float or array (samples,)
        By dotted keys of the car file, SI.

    Returns
    -------
    System

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> changed = with_ratings(Car.named("finch").system("return"), {"feed.bore": 0.007, "fuel.vapour_pressure": 60e3})
    >>> changed.car.feed.bore, changed.car.fuel.vapour_pressure
    (0.007, 60000.0)
    """
    others = {key: value for key, value in ratings.items() if not key.startswith("fuel.")}
    car = system.car.with_values(others) if others else system.car
    fuels = {key.partition(".")[2]: value for key, value in ratings.items() if key.startswith("fuel.")}
    if not fuels:
        return System(car, system.layout, system.fuel_in_tank)
    own = car.fuel
    if own.name is not None or system.fuel_in_tank is not None:
        own = FuelChoice(vapour_pressure=float(system.fuel.dvpe()), ethanol=system.fuel.ethanol)
    chosen = FuelChoice(
        vapour_pressure=fuels.get("vapour_pressure", own.vapour_pressure),
        ethanol=fuels.get("ethanol", own.ethanol),
        activity_model=car.fuel.activity_model,
    )
    return System(car.with_values({"fuel": chosen}), system.layout)


class _Margins(NamedTuple):
    """Worst margin of each requirement of some samples, (samples, requirements)."""

    margins: FloatArray


@dataclass(frozen=True)
class _WorstMargins:
    """Solves samples for the worst margins of requirements only."""

    sampled: SampledCar
    asked: tuple[tuple[Rule, float], ...]

    def __call__(self, chunk: Chunk) -> _Margins:
        solved = self.sampled(chunk)
        rows = [worst_margins(rule, limit, solved.values[rule.name]) for rule, limit in self.asked]
        never = np.full(len(chunk.shares), np.nan)
        return _Margins(np.stack([never if row is None else row for row in rows], axis=1))


def indices_of_requirements(
    work: SampledCar,
    limits: Requirements,
    rows: int,
    seed: int,
    at_once: int,
    progress: bool | None,
    executor: Executor | None,
) -> tuple[dict[str, SobolIndices], Completion]:
    """Return Sobol' indices of the worst value of each requirement.

    Parameters
    ----------
    work : SampledCar
        Solves samples.
    limits : Requirements
    rows : int
        Number of samples of the first matrix.
    seed : int
    at_once : int
        Samples of one batch.
    progress : bool or None
        As `run_steps`; unless False the cost is printed first.
    executor : Executor or None

    Returns
    -------
    indices : dict of str to SobolIndices
        By requirement; empty after Ctrl-C.
    completion : Completion

    Raises
    ------
    InputError
        For a number of rows that does not suit.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> from fuelsim.studies.uncertain_inputs import inputs_asked
    >>> system = Car.named("finch").system("return")
    >>> inputs = inputs_asked(system, {"feed.bore": ("5 mm", "7 mm"), "wire.other": (0.0, 0.1)})
    >>> work = SampledCar(system, system.filled(Conditions(rpm=3000)), inputs, ())
    >>> found, _ = indices_of_requirements(work, Requirements(), 64, 0, 64, False, None)
    >>> bool(found["pump_voltage"].total.value[0, 1] > 0.9)
    True
    """
    from tqdm import tqdm

    each = rows // SETS
    if rows % SETS or each & (each - 1):
        raise InputError(
            "not a number of samples for indices", given=rows, accepted="a power of two from 8", key="indices"
        )
    dimensions, asked = len(work.inputs), tuple(limits.asked())
    shares = matrices(dimensions, each, SETS, seed)
    points = len(shares) * int(np.prod(work.points.shape))
    if progress is not False:
        tqdm.write(
            f"Sobol' indices of {dimensions} inputs: {rows} x ({dimensions} + 2) = {len(shares)} samples, "
            f"{points} points, {cost_in_words(points * SECONDS_PER_POINT)}"
        )
    only = _WorstMargins(dataclasses.replace(work, measures=tuple(rule.name for rule, _ in asked)), asked)
    chunks = [Chunk(start, shares[start : start + at_once]) for start in range(0, len(shares), at_once)]
    solved, completion = run_steps(
        chunks, only, doing="Sobol' indices", of="batches of samples", progress=progress, executor=executor
    )
    if completion.interrupted:
        return {}, completion
    margins = np.concatenate([part.margins for part in solved])
    applies = ~np.all(np.isnan(margins), axis=0)
    # What did not solve has no margin: the indices are then those of whether it did.
    gaps = np.any(np.isnan(margins), axis=0)
    margins = np.where(gaps, np.isfinite(margins), margins)
    return {
        rule.name: sobol_indices(margins[:, [column]], dimensions, SETS)
        for column, (rule, _) in enumerate(asked)
        if applies[column]
    }, completion
