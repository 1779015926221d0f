"""Bayesian comparison of causes: evidence of each by integration over its size, refits in chi-squared, groups.

Readings are normal about what a cause makes the gauges show, with the gauges' uncertainty and that of the car's own
tolerances (covariance ``G + J S J'`` of gauges G and of inputs S through the slopes J). A cause is one figure, its
size, uniform over its range or over the logarithm of it; the integral over it is done on a fine grid. Causes whose best
fits differ by less than 2 in chi-squared are a group: these readings cannot tell them apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.linalg import solve_triangular
from scipy.special import logsumexp

from fuelsim.diagnosis.causes import HEALTHY, Cause
from fuelsim.diagnosis.predictions import Column, Predictor
from fuelsim.diagnosis.readings import Reading, quantity_named
from fuelsim.studies.uncertain_inputs import UncertainInput
from fuelsim.typing import FloatArray, PointArray

__all__ = ["ALIKE", "Evidence", "Fit", "Model", "alike"]

FINE = 241
"""Sizes of one cause at which its likelihood is integrated."""
FINE_OF_PAIR = 41
"""The same of each of two causes together."""
KNOTS_OF_PAIR = 9
"""Sizes of each of two causes at which both are computed together."""
PAIRS_SOLVED = 12
"""Pairs that are computed, after all pairs were tried with the sum of their effects."""
SEEN = 4.0
"""Chi-squared of its greatest effect from which a cause can be seen at all."""
ALIKE = 2.0
"""Difference in chi-squared within which causes are not told apart."""
HEALTHY_PRIOR, SINGLE_PRIOR, PAIR_PRIOR = 0.15, 0.75, 0.1
"""How common it is that nothing, one thing, or two things are wrong [assumed]."""
MODEL_ERROR = 0.01
"""Standard deviation of the laws themselves over what a gauge shows, unless the car is known exactly [assumed]."""
_FAR = 1e6
"""What a gauge shows where the car cannot be computed: so far off that it never fits."""
_NO_WEIGHT = 40.0
"""Difference in chi-squared from the best beyond which a size has no weight."""


@dataclass(frozen=True)
class Fit:
    """One hypothesis: a cause, two causes, or nothing wrong.

    Attributes
    ----------
    causes : tuple of Cause
        Empty where nothing is wrong.
    chi_squared : float
        Least over the sizes.
    log_evidence : float
        Logarithm of the likelihood, integrated over the sizes, less a constant of the readings.
    prior : float
        How common it is.
    sizes : array (causes,)
        At the least chi-squared, SI.
    low, high : array (causes,)
        Interval of each size that holds it with 95 % probability, if this is the cause.
    predicted : array (readings,)
        At these sizes, as the gauges would show it, SI.
    """

    causes: tuple[Cause, ...]
    chi_squared: float
    log_evidence: float
    prior: float
    sizes: FloatArray
    low: FloatArray
    high: FloatArray
    predicted: PointArray

    @property
    def name(self) -> str:
        """Names of the causes."""
        return " and ".join(cause.name for cause in self.causes) or HEALTHY


class Model:
    """What the gauges of one car would show under every cause; made once for the points that readings are taken at.

    Parameters
    ----------
    predictor : Predictor
    causes : list of Cause
    tolerances : list of UncertainInput
        Inputs of the healthy car that are not known better.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> from fuelsim.diagnosis.causes import causes_of
    >>> system = Car.named("finch").system("return")
    >>> readings = (Reading("rail_pressure", 3e5, at={"rpm": 6000}),)
    >>> Model(Predictor(system, readings), causes_of(system)[:1], ()).healthy.shape
    (1,)
    """

    def __init__(self, predictor: Predictor, causes: Sequence[Cause], tolerances: Sequence[UncertainInput]) -> None:
        self.predictor, self.causes = predictor, tuple(causes)
        readings = predictor.readings
        quantities = [quantity_named(reading.quantity, predictor.system) for reading in readings]
        self.shifts = np.array([reading.quantity.startswith(("rail_pressure", "pressure at")) for reading in readings])
        self.scales = np.array([quantity.is_pressure for quantity in quantities])
        self.warmth = predictor.warmth()
        columns, slices = [Column()], []
        for cause in self.causes:
            own = [] if cause.gauge else [Column.of([(cause, size)]) for size in cause.sizes(cause.positions)]
            slices.append(slice(len(columns), len(columns) + len(own)))
            columns += own
        first = len(columns)
        for item in tolerances:
            columns += [Column.of_input(item, share) for share in (_ONE_BELOW, _ONE_ABOVE)]
        shown = predictor.predict(columns)
        self.healthy: PointArray = shown[:, 0]
        self.knots = [shown[:, part] for part in slices]
        ends = shown[:, first:].reshape(len(readings), -1, 2)
        slopes = np.nan_to_num(0.5 * (ends[:, :, 1] - ends[:, :, 0]))
        of_laws = MODEL_ERROR * np.nan_to_num(self.healthy) if tolerances else np.zeros(len(readings))
        self.covariance: FloatArray = slopes @ slopes.T + np.diag(of_laws**2)

    def shown(self, number: int, positions: PointArray) -> FloatArray:
        """Return what the gauges show under one cause at positions along its range.

        Parameters
        ----------
        number : int
            Number of the cause.
        positions : array (positions,)
            From 0 to 1; of a cause that is there or not, one.

        Returns
        -------
        array (readings, positions)
            SI; far off where the car with it cannot be computed.
        """
        cause, knots = self.causes[number], self.knots[number]
        if cause.gauge:
            return self.read(self.healthy[:, None], ((cause, cause.sizes(positions)),))
        if knots.shape[1] == 1:
            return np.nan_to_num(knots, nan=_FAR)
        known = np.all(np.isfinite(knots), axis=0)
        if known.sum() < 3:
            return np.full((len(knots), len(positions)), _FAR)
        places = cause.positions[known]
        between = PchipInterpolator(places, knots[:, known], axis=1, extrapolate=False)(positions)
        return np.asarray(np.nan_to_num(between, nan=_FAR))

    def read(self, true: FloatArray, gauges: Sequence[tuple[Cause, FloatArray]]) -> FloatArray:
        """Return what faulty gauges show of true values.

        Parameters
        ----------
        true : array (readings, ...)
        gauges : list of (Cause, array)
            Causes in gauges and their sizes.

        Returns
        -------
        array (readings, ...)
        """
        shown = true
        for cause, size in gauges:
            mask, changed = self.scales, shown + size
            if cause.gauge == "offset":
                mask = self.shifts
            elif cause.gauge == "scale":
                changed = shown * size
            else:
                changed = shown * (1.0 + size * self.warmth.reshape(-1, *[1] * (changed.ndim - 1)))
            shown = np.where(mask.reshape(-1, *[1] * (changed.ndim - 1)), changed, shown)
        return np.asarray(shown)

    def against(self, readings: Sequence[Reading]) -> Evidence:
        """Return how the causes fit readings.

        Parameters
        ----------
        readings : list of Reading
            At the points of the model.

        Returns
        -------
        Evidence
        """
        return Evidence(self, tuple(readings))


@dataclass(frozen=True)
class Evidence:
    """Readings against what a model says that each cause would make the gauges show.

    Attributes
    ----------
    model : Model
    readings : tuple of Reading
    """

    model: Model
    readings: tuple[Reading, ...]

    @cached_property
    def _lower(self) -> FloatArray:
        """Cholesky factor of the covariance of the readings."""
        spread = np.array([reading.sigma for reading in self.readings])
        return np.asarray(np.linalg.cholesky(self.model.covariance + np.diag(spread**2)), dtype=float)

    @cached_property
    def _values(self) -> PointArray:
        return np.array([reading.number for reading in self.readings])

    def _chi_squared(self, shown: FloatArray) -> FloatArray:
        """Return the misfit of what the gauges would show, (readings, ...), to what was read, (...)."""
        return self._squared(self._values.reshape(-1, *[1] * (shown.ndim - 1)) - shown)

    def _squared(self, deviation: FloatArray) -> FloatArray:
        """Return deviations, (readings, ...), in standard deviations, squared and summed, (...)."""
        white = solve_triangular(self._lower, deviation.reshape(len(deviation), -1), lower=True)
        return np.asarray(np.sum(white**2, axis=0)).reshape(deviation.shape[1:])

    @cached_property
    def _effects(self) -> list[FloatArray]:
        """What each cause adds to a healthy car's readings at some sizes, (readings, sizes)."""
        model = self.model
        return [
            model.shown(number, cause.spread(FINE_OF_PAIR)) - model.healthy[:, None]
            for number, cause in enumerate(model.causes)
        ]

    @cached_property
    def seen(self) -> list[bool]:
        """Whether each cause, at some size, would move the readings enough to be seen."""
        return [bool(np.max(self._squared(effect)) > SEEN) for effect in self._effects]

    def fits(self) -> list[Fit]:
        """Return how nothing, and each cause alone that can be seen, fit the readings.

        Returns
        -------
        list of Fit
            The first is that of nothing wrong.
        """
        model, none = self.model, np.empty(0)
        of_healthy = float(self._chi_squared(model.healthy[:, None])[0])
        found = [Fit((), of_healthy, -0.5 * of_healthy, HEALTHY_PRIOR, none, none, none, model.healthy)]
        total = sum(cause.prior for cause, visible in zip(model.causes, self.seen, strict=True) if visible)
        for number, cause in enumerate(model.causes):
            if self.seen[number]:
                found.append(self._fit_of(number, SINGLE_PRIOR * cause.prior / total))
        return found

    def _fit_of(self, number: int, prior: float) -> Fit:
        cause, width = self.model.causes[number], 1.0
        positions = cause.spread(FINE)
        shown = self.model.shown(number, positions)
        misfit = self._chi_squared(shown)
        if not cause.there_or_not:
            # Once more where the weight is, so that a narrow peak is resolved.
            positions, width = _where_weight_is(positions, misfit)
            shown = self.model.shown(number, positions)
            misfit = self._chi_squared(shown)
        low, high = _interval(positions, np.exp(-0.5 * (misfit - np.min(misfit))))
        best = int(np.argmin(misfit))
        return Fit(
            causes=(cause,),
            chi_squared=float(misfit[best]),
            log_evidence=float(logsumexp(-0.5 * misfit) - np.log(len(misfit)) + np.log(width)),
            prior=prior,
            sizes=np.atleast_1d(cause.sizes(positions[best])),
            low=np.atleast_1d(cause.sizes(low)),
            high=np.atleast_1d(cause.sizes(high)),
            predicted=shown[:, best],
        )

    def pairs(self) -> list[Fit]:
        """Return how two causes at once fit the readings: the pairs that may.

        Returns
        -------
        list of Fit
        """
        tried = []
        for one, other in combinations(np.flatnonzero(self.seen).tolist(), 2):
            if self.model.causes[one].keys & self.model.causes[other].keys:
                continue
            effects = self._effects[one][:, :, None] + self._effects[other][:, None, :]
            tried.append((float(np.min(self._chi_squared(self.model.healthy[:, None, None] + effects))), one, other))
        tried.sort()
        grids = [(one, other, *self._knots_of_pair(one, other)) for _, one, other in tried[:PAIRS_SOLVED]]
        if not grids:
            return []
        shown = self.model.predictor.predict([column for *_, columns, _ in grids for column in columns])
        found, first = [], 0
        for one, other, columns, places in grids:
            part = shown[:, first : first + len(columns)].reshape(-1, *(len(place) for place in places))
            first += len(columns)
            found.append(self._fit_of_pair(one, other, part, places, PAIR_PRIOR / len(tried)))
        return found

    def _knots_of_pair(self, one: int, other: int) -> tuple[list[Column], tuple[PointArray, PointArray]]:
        """Return columns of predictions over both sizes, and the positions; a cause in a gauge needs one."""
        pair = (self.model.causes[one], self.model.causes[other])
        places = [np.ones(1) if cause.gauge else cause.spread(min(cause.knots, KNOTS_OF_PAIR)) for cause in pair]
        columns = [
            Column.of([(cause, float(cause.sizes(np.asarray(place)))) for cause, place in zip(pair, at, strict=True)])
            for at in ((first, second) for first in places[0] for second in places[1])
        ]
        return columns, (places[0], places[1])

    def _fit_of_pair(
        self, one: int, other: int, shown: FloatArray, places: tuple[PointArray, PointArray], prior: float
    ) -> Fit:
        pair = (self.model.causes[one], self.model.causes[other])
        fine = [cause.spread(FINE_OF_PAIR) for cause in pair]
        filled = np.where(np.isfinite(shown), shown, _FAR)
        for axis, place in enumerate(places):
            if len(place) > 1:
                filled = PchipInterpolator(place, filled, axis=axis + 1)(fine[axis])
            elif len(fine[axis]) > 1:
                filled = np.repeat(filled, len(fine[axis]), axis=axis + 1)
        sizes = [cause.sizes(at) for cause, at in zip(pair, fine, strict=True)]
        gauges = [
            (cause, size[:, None] if axis == 0 else size[None, :])
            for axis, (cause, size) in enumerate(zip(pair, sizes, strict=True))
            if cause.gauge
        ]
        read = self.model.read(filled, gauges)
        misfit = self._chi_squared(read)
        weights = np.exp(-0.5 * misfit - logsumexp(-0.5 * misfit))
        best = np.unravel_index(int(np.argmin(misfit)), misfit.shape)
        ends = [_interval(at, weights.sum(axis=1 - axis)) for axis, at in enumerate(fine)]
        return Fit(
            causes=pair,
            chi_squared=float(misfit[best]),
            log_evidence=float(logsumexp(-0.5 * misfit) - np.log(misfit.size)),
            prior=prior,
            sizes=np.array([size[at] for size, at in zip(sizes, best, strict=True)]),
            low=np.array([float(cause.sizes(np.asarray(end[0]))) for cause, end in zip(pair, ends, strict=True)]),
            high=np.array([float(cause.sizes(np.asarray(end[1]))) for cause, end in zip(pair, ends, strict=True)]),
            predicted=read[:, best[0], best[1]],
        )


_ONE_BELOW, _ONE_ABOVE = 0.1587, 0.8413
"""Shares of a normal population below one standard deviation under and over its mean."""


def _interval(positions: PointArray, weights: PointArray) -> tuple[FloatArray, FloatArray]:
    """Return the ends between which 95 % of the weight lie."""
    if len(positions) == 1:
        return positions[0], positions[0]
    edges = np.concatenate([positions[:1], 0.5 * (positions[1:] + positions[:-1]), positions[-1:]])
    sums = np.concatenate([[0.0], np.cumsum(weights)]) / np.sum(weights)
    low, high = np.interp([0.025, 0.975], sums, edges)
    return np.asarray(low), np.asarray(high)


def _where_weight_is(positions: PointArray, misfit: PointArray) -> tuple[PointArray, float]:
    """Return fine positions about those that matter, and the width of that part of the range."""
    matters = np.flatnonzero(misfit <= np.min(misfit) + _NO_WEIGHT)
    low, high = positions[max(matters[0] - 1, 0)], positions[min(matters[-1] + 1, len(positions) - 1)]
    return np.linspace(low, high, FINE), float(high - low)


def alike(fits: Sequence[Fit]) -> list[Fit]:
    """Return the single causes that the readings do not tell apart from the best of them, the most likely first.

    Parameters
    ----------
    fits : list of Fit
        Single causes.

    Returns
    -------
    list of Fit
    """
    best = min(fit.chi_squared for fit in fits)
    group = [fit for fit in fits if fit.chi_squared <= best + ALIKE]
    return sorted(group, key=lambda fit: -fit.log_evidence - np.log(fit.prior))
