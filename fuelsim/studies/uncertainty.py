"""How sure: a car's figures and requirements over the distributions of what is not known about it.

Samples ride on the batch axis beside the operating points. Every sample counts: a stopped engine has the pressures,
flows and margins of the plumbing at rest and meets no requirement, and a point that did not solve is counted, named,
and meets none either.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim import opener
from fuelsim.arguments import choice, number, takes
from fuelsim.arguments import whole as whole_number
from fuelsim.errors import InputError, nearest
from fuelsim.finding import Severity
from fuelsim.interruption import WHOLE, Completion, Executor, Interruptible, run_steps
from fuelsim.numerics.sampling import (
    METHODS,
    SETS,
    Interval,
    SobolIndices,
    share_interval,
)
from fuelsim.shown import Shown
from fuelsim.studies.measures import MEASURES_IN_ANY_STATE, measure_named
from fuelsim.studies.proving import full_load_speeds
from fuelsim.studies.requirements import Requirements, Rule
from fuelsim.studies.uncertain_inputs import InputsGiven, UncertainInput, inputs_asked
from fuelsim.studies.uncertainty_samples import (
    Chunk,
    SampledCar,
    indices_of_requirements,
    sampled_shares,
    unsolved,
    worst_margins,
)
from fuelsim.studies.vary import points_asked
from fuelsim.system.conditions import Conditions
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.run import System
from fuelsim.typing import BoolArray, FloatArray, Given, IntegerArray, PlotAxes, PointArray, UnitSystem

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["RequirementShare", "Uncertainty", "uncertainty"]

POINTS_AT_ONCE = 8192
"""Operating points of one batch."""
MOST_SAMPLED_POINTS = 2_000_000
"""Samples times operating points of one study, all of whose measures are kept."""
INDEX_SAMPLES = 1024
"""Rows of A for Sobol' indices, unless a number is asked for."""
FULL_LOAD_SPEEDS = 9
"""Engine speeds at full load, unless operating points are given."""
SHARES = (0.05, 0.5, 0.95)
"""Quantiles shown."""
ALSO = ("rail_pressure", "injector_pressure_difference", "pump_current", "rail_temperature")
"""Measures kept beside those of the requirements."""


class RequirementShare(NamedTuple):
    """How often a requirement is met.

    Attributes
    ----------
    rule : Rule
    limit : float
        SI.
    worst : array (samples,)
        The measure at the worst operating point of each sample, SI; NaN where it is not known.
    met : Interval
        Share of the samples in which it is met at every operating point, with its interval of 95 % confidence.
    """

    rule: Rule
    limit: float
    worst: PointArray
    met: Interval


class _Judged(NamedTuple):
    """A requirement of every sample: its worst margin over the points, and whether it is met and the engine runs."""

    rule: Rule
    limit: float
    margins: PointArray
    met: BoolArray


@dataclass(frozen=True)
class Uncertainty(Interruptible, Shown):
    """Figures and requirements of a car over the distributions of its inputs.

    Attributes
    ----------
    system : System
        The car in its layout.
    conditions : Conditions
        Operating points, filled in, before anything was varied.
    inputs : tuple of UncertainInput
        What was varied.
    requirements : Requirements
        The limits.
    shares : array (samples, inputs)
        Where each sample stands in the distribution of each input, 0 to 1.
    values : dict of str to array (samples, ...)
        Measures at every operating point, SI, with the shape of the conditions after the samples.
    stopped : bool array (samples, ...)
        Where the engine stops.
    code : int array (samples, ...)
        `OutcomeCode` of every point.
    reasons : dict of str to int
        Why points did not solve, and how many of each.
    indices : dict of str to SobolIndices
        By requirement: first-order and total indices of its worst value over the points, (1, inputs); empty unless
        asked for. Where a sample did not solve, of whether it solved.
    completion : Completion
        How many samples there are, and whether Ctrl-C ended the study early.
    """

    system: System
    conditions: Conditions
    inputs: tuple[UncertainInput, ...]
    requirements: Requirements
    shares: FloatArray
    values: dict[str, FloatArray]
    stopped: BoolArray
    code: IntegerArray
    reasons: dict[str, int]
    indices: dict[str, SobolIndices]
    completion: Completion = WHOLE

    @property
    def samples(self) -> int:
        """Number of samples."""
        return len(self.shares)

    @property
    def headline(self) -> str:
        """Return how sure it is that the car meets what it must."""
        points = int(np.prod(self.conditions.shape))
        sentence = f"{self.samples} samples of {len(self.inputs)} inputs at {points} points"
        least = min(self.mandatory, key=lambda item: float(item.met.value), default=None)
        weakest = "" if least is None else f"; least sure: {least.rule.measure.about}, {_percent(least.met)}"
        return f"{sentence}: all that must hold holds in {_percent(self.all_met)}{weakest}"

    @cached_property
    def failed(self) -> BoolArray:
        """Samples with a point that did not solve, (samples,)."""
        return _any_point(unsolved(self.code))

    @cached_property
    def _runs(self) -> BoolArray:
        """Samples in which the engine runs at every operating point, (samples,)."""
        return ~(_any_point(self.stopped) | self.failed)

    @property
    def engine_runs(self) -> Interval:
        """Share of the samples in which the engine runs at every operating point."""
        return share_interval(self._runs.astype(float), SETS)

    @cached_property
    def _judged(self) -> list[_Judged]:
        """Every requirement that applies, sample by sample."""
        judged = []
        for rule, limit in self.requirements.asked():
            margins = worst_margins(rule, limit, self.values[rule.name])
            if margins is not None:
                met = (np.nan_to_num(margins, nan=-1.0) >= 0.0) & self._runs
                judged.append(_Judged(rule, limit, margins, met))
        return judged

    @cached_property
    def by_requirement(self) -> tuple[RequirementShare, ...]:
        """Every requirement that applies, with how often it is met."""
        return tuple(
            RequirementShare(
                rule,
                limit,
                limit + rule.sense * margins * (abs(limit) or rule.scale),
                share_interval(met.astype(float), SETS),
            )
            for rule, limit, margins, met in self._judged
        )

    @property
    def mandatory(self) -> list[RequirementShare]:
        """The requirements that must be met."""
        return [item for item in self.by_requirement if item.rule.severity is Severity.FAILURE]

    @property
    def all_met(self) -> Interval:
        """Share of the samples in which every mandatory requirement is met and the engine runs."""
        mandatory = [item.met for item in self._judged if item.rule.severity is Severity.FAILURE]
        return share_interval(np.all([self._runs, *mandatory], axis=0).astype(float), SETS)

    @takes({"measure": choice(MEASURES_IN_ANY_STATE), "shares": number("fraction", 0.0, 1.0, flat=True)})
    def quantiles(self, measure: str, shares: Given = SHARES) -> FloatArray:
        """Return quantiles of a measure at every operating point.

        Parameters
        ----------
        measure : str
            A key of `values`.
        shares : list of float
            Shares of the samples below them, 0 to 1.

        Returns
        -------
        array (shares, ...)
            SI; NaN where so many samples did not solve that it is not known: these count as lowest below the median,
            as highest from the median on.

        Raises
        ------
        InputError
            For a measure that was not kept.

        Examples
        --------
        >>> import fuelsim as fs
        >>> result = fs.uncertainty(fs.Car.named("finch"), "return", rpm=[3000, 6000], samples=64)
        >>> result.quantiles("rail_pressure").shape
        (3, 2)
        """
        if measure not in self.values:
            accepted = f"{nearest(measure, self.values)}, or uncertainty(measures=['{measure}'])"
            raise InputError("not kept", given=measure, accepted=accepted, key="measure")
        values, found = self.values[measure], []
        for share in np.atleast_1d(np.asarray(shares, dtype=float)):
            unknown = -np.inf if share < 0.5 else np.inf
            ranked = np.where(np.isnan(values), unknown, values)
            with np.errstate(invalid="ignore"):
                quantile = np.quantile(ranked, share, axis=0, method="hazen")
            found.append(np.where(np.isfinite(quantile), quantile, np.nan))
        return np.stack(found)

    @takes()
    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per requirement: limit, quantiles of its worst value, and how often it is met.

        Parameters
        ----------
        units : str, optional
            A name of `units.SYSTEMS`; left out, the preferred one.

        Returns
        -------
        pandas.DataFrame
            Values carry their units. The first rows are of all that must hold, and of the engine.

        Examples
        --------
        >>> import fuelsim as fs
        >>> result = fs.uncertainty(fs.Car.named("finch"), "return", rpm=[3000, 6000], samples=64)
        >>> result.table()["requirement"].tolist()[:2]
        ['all that must hold', 'engine runs']
        """
        return opener.uncertainty_table(self, units)

    @takes()
    def inputs_table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per input: quantiles of its distribution, source, what to measure, and Sobol' indices.

        Parameters
        ----------
        units : str, optional
            A name of `units.SYSTEMS`; left out, the preferred one.

        Returns
        -------
        pandas.DataFrame
            With indices, those of the mandatory requirement that is met least often.

        Examples
        --------
        >>> import fuelsim as fs
        >>> inputs = {"feed.bore": ("5.8 mm", "6.2 mm")}
        >>> fs.uncertainty(fs.Car.named("finch"), "return", inputs, rpm=6000, samples=64).inputs_table()["low"].tolist()
        ['5.82 mm']
        """
        return opener.uncertain_inputs_table(self, units)

    @takes({"measure": choice(MEASURES_IN_ANY_STATE)})
    def plot(self, measure: str = "injector_pressure_difference", *, ax: PlotAxes | None = None) -> Figure:
        """Draw a measure over the operating points with its band, and its limit where there is one.

        Parameters
        ----------
        measure : str
            A key of `values`.
        ax : Axes, optional
            Axes of your own.

        Returns
        -------
        matplotlib.figure.Figure

        Examples
        --------
        >>> import fuelsim as fs
        >>> result = fs.uncertainty(fs.Car.named("finch"), "return", rpm=[3000, 6000], samples=64)
        >>> "90 % of the samples" in result.plot("bypass").get_suptitle()
        True
        """
        return opener.uncertainty_figure(self, measure, ax)

    @takes()
    def plot_indices(self, requirement: str | None = None, *, ax: PlotAxes | None = None) -> Figure:
        """Draw first-order and total Sobol' indices of a requirement's worst value.

        Parameters
        ----------
        requirement : str, optional
            A key of `indices`; left out, the mandatory one that is met least often.
        ax : Axes, optional
            Axes of your own.

        Returns
        -------
        matplotlib.figure.Figure

        Raises
        ------
        InputError
            Where no indices were asked for, or the requirement has none.

        Examples
        --------
        >>> import fuelsim as fs
        >>> inputs = {"wire.other": (0.0, 0.1), "feed.bore": ("5.9 mm", "6.1 mm")}
        >>> finch = fs.Car.named("finch")
        >>> result = fs.uncertainty(finch, "return", inputs, rpm=6000, samples=8, indices=64, progress=False)
        >>> len(result.plot_indices("pump_voltage").axes)
        1
        """
        return opener.indices_figure(self, requirement, ax)


def _percent(share: Interval) -> str:
    """Return a share with its interval, in percent."""
    value, low, high = (100.0 * float(end) for end in share)
    return f"{value:.3g} % ({low:.3g} to {high:.3g})"


def _any_point(values: BoolArray) -> BoolArray:
    """Return whether something holds at any operating point of each sample."""
    return np.asarray(np.any(values.reshape(len(values), -1), axis=1))


@system_or_car
@takes(
    {
        "samples": whole_number(SETS, 2**17),
        "seed": whole_number(0, 2**32 - 1),
        "method": choice(METHODS),
    }
)
def uncertainty(
    system: System,
    inputs: InputsGiven | None = None,
    conditions: Conditions | None = None,
    *,
    rpm: Given | None = None,
    load: Given = 1.0,
    requirements: Requirements | None = None,
    measures: Sequence[str] = (),
    samples: int = 8192,
    seed: int = 0,
    method: str = "sobol",
    indices: bool | int = False,
    progress: bool | None = None,
    executor: Executor | None = None,
) -> Uncertainty:
    """Return figures and requirements of a car over the distributions of what is not known about it.

    Parameters
    ----------
    system : System
        A car plumbed in one layout; or a car, and the name of a layout after it.
    inputs : mapping or list, optional
        `UncertainInput` and `BandInput`, or dotted keys of the car file and names of conditions, each with (low, high),
        (low, middle, high) or a distribution of `scipy.stats` in SI; left out, `uncertain_inputs`.
    conditions : Conditions, optional
        Operating points; or give `rpm` and `load`. Left out, idle and nine speeds at full load, at the car's own
        temperatures.
    rpm, load : optional
        As in `Conditions`.
    requirements : Requirements, optional
        Limits; the usual ones, if left out.
    measures : list of str, optional
        Names of measures to keep beside those of the requirements.
    samples : int
        Number of samples; for Sobol' sequences eight times a power of two.
    seed : int
        The same seed gives the same numbers, whatever works on them.
    method : {"sobol", "latin hypercube"}
        How samples are spread.
    indices : bool or int
        Whether Sobol' indices of the requirements are computed too, from this number of samples, a power of two, times
        the number of inputs and two (1,024 for True); the cost is printed before it starts. Of a result with thresholds
        the first-order ones sum to far less than one: total ones stand beside them.
    progress : bool, optional
        Whether to show a bar; left out, on a terminal only.
    executor : Executor, optional
        Any executor of `concurrent.futures`, or a client of dask; the numbers are the same.

    Returns
    -------
    Uncertainty
        After Ctrl-C, of the samples that are finished, with `interrupted` set.

    Raises
    ------
    InputError
        For an unknown input or measure, or a number of samples that does not suit.
    KeyboardInterrupt
        On Ctrl-C before any sample is finished.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> result = uncertainty(Car.named("finch"), "return", {"feed.bore": ("5.7 mm", "6.3 mm")}, rpm=6000, samples=64)
    >>> bool(result.quantiles("bypass")[0] < result.quantiles("bypass")[2])
    True
    """
    asked = inputs_asked(system, inputs)
    if not asked:
        raise InputError("no inputs", accepted="at least one", part="uncertainty", key="inputs")
    limits = requirements or Requirements()
    points = system.filled(_points(system, conditions, rpm, load))
    count = int(np.prod(points.shape))
    shares = sampled_shares(len(asked), samples, seed, method)
    if samples * count > MOST_SAMPLED_POINTS:
        raise InputError(
            f"{samples} samples of {count} operating points",
            accepted=f"at most {MOST_SAMPLED_POINTS:,} in all: fewer samples or points",
            key="samples",
        )
    for name in measures:
        measure_named(name)
    kept = tuple(dict.fromkeys([rule.name for rule, _ in limits.asked()] + [*ALSO, *measures]))
    work = SampledCar(system, points, asked, kept)
    at_once = SETS * max(POINTS_AT_ONCE // count // SETS, 1)
    chunks = [Chunk(start, shares[start : start + at_once]) for start in range(0, len(shares), at_once)]
    solved, completion = run_steps(
        chunks, work, doing="uncertainty", of="batches of samples", progress=progress, executor=executor
    )
    if not solved:
        raise KeyboardInterrupt
    found: dict[str, SobolIndices] = {}
    if indices and not completion.interrupted:
        rows = INDEX_SAMPLES if indices is True else indices
        found, completion = indices_of_requirements(work, limits, rows, seed, at_once, progress, executor)
    done = sum(len(part.shares) for part in solved)
    completion = Completion(done, samples, "samples", completion.interrupted)
    return Uncertainty(
        system=system,
        conditions=points,
        inputs=asked,
        requirements=limits,
        shares=np.concatenate([part.shares for part in solved]),
        values={name: np.concatenate([part.values[name] for part in solved]) for name in kept},
        stopped=np.concatenate([part.stopped for part in solved]),
        code=np.concatenate([part.code for part in solved]),
        reasons=dict(sum((Counter(part.reasons) for part in solved), Counter())),
        indices=found,
        completion=completion,
    )


def _points(system: System, conditions: Conditions | None, rpm: Given | None, load: Given) -> Conditions:
    """Return the operating points asked for; left out, idle and nine speeds at full load."""
    if conditions is not None or rpm is not None:
        return points_asked(system, conditions, rpm, load)
    engine = system.car.engine
    return Conditions(
        rpm=[engine.idle_speed, *full_load_speeds(engine, FULL_LOAD_SPEEDS)], load=[0.0, *[1.0] * FULL_LOAD_SPEEDS]
    )
