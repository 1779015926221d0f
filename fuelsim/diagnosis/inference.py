"""Bayesian comparison of causes: evidence of each by integration over its size, refits in chi-squared, groups.

Readings are normal about what a cause makes the gauges show, with the gauges' uncertainty and that of the car's own
tolerances (covariance ``G + J S J'`` of gauges G and of inputs S through the slopes J). A cause is one figure, its
size, uniform over its range or over the logarithm of it; the integral over it is done on a fine grid. Causes whose best
fits differ by less than 2 in chi-squared are a group: these readings cannot tell them apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
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

__all__ = ["ALIKE", "Fit", "Model", "alike"]

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
        columns, slices = [Column()], []
        for cause in self.causes:
            own = [Column.of([(cause, size)]) for size in cause.sizes(cause.positions)] if _in_car(cause) else []
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
            mask = self.shifts if cause.gauge == "offset" else self.scales
            changed = shown + size if cause.gauge == "offset" else shown * size
            shown = np.where(mask.reshape(-1, *[1] * (changed.ndim - 1)), changed, shown)
        return np.asarray(shown)

    def _whitener(self, readings: Sequence[Reading]) -> FloatArray:
        spread = np.array([reading.sigma for reading in readings])
        return np.asarray(np.linalg.cholesky(self.covariance + np.diag(spread**2)), dtype=float)

    def seen(self, readings: Sequence[Reading]) -> list[bool]:
        """Return whether each cause, at some size, would move the readings enough to be seen.

        Parameters
        ----------
        readings : list of Reading

        Returns
        -------
        list of bool
        """
        lower, visible = self._whitener(readings), []
        for number, cause in enumerate(self.causes):
            positions = np.ones(1) if cause.changes else np.linspace(0.0, 1.0, FINE_OF_PAIR)
            moved = self.shown(number, positions) - self.healthy[:, None]
            white = solve_triangular(lower, moved, lower=True)
            visible.append(bool(np.max(np.sum(white**2, axis=0)) > SEEN))
        return visible

    def fits(self, readings: Sequence[Reading]) -> list[Fit]:
        """Return how nothing, and each cause alone, fit readings at the points of the model.

        Parameters
        ----------
        readings : list of Reading

        Returns
        -------
        list of Fit
            The first is that of nothing wrong.
        """
        lower = self._whitener(readings)
        values = np.array([reading.number for reading in readings])

        def chi_squared(shown: FloatArray) -> FloatArray:
            flat = (values[:, None] - shown.reshape(len(values), -1)).astype(float)
            white = solve_triangular(lower, flat, lower=True)
            return np.asarray(np.sum(white**2, axis=0)).reshape(shown.shape[1:])

        self._chi_squared = chi_squared
        none = np.empty(0)
        of_healthy = float(chi_squared(self.healthy[:, None])[0])
        found = [Fit((), of_healthy, -0.5 * of_healthy, HEALTHY_PRIOR, none, none, none, self.healthy)]
        seen = self.seen(readings)
        total = sum(cause.prior for cause, visible in zip(self.causes, seen, strict=True) if visible)
        for number, cause in enumerate(self.causes):
            if not seen[number]:
                continue
            positions = np.ones(1) if cause.changes else np.linspace(0.0, 1.0, FINE)
            shown = self.shown(number, positions)
            misfit = chi_squared(shown)
            log_evidence = float(logsumexp(-0.5 * misfit) - np.log(len(misfit)))
            if not cause.changes:
                # Once more where the weight is, so that a narrow peak is resolved.
                part, width = _where_weight_is(positions, misfit)
                positions = part
                shown = self.shown(number, positions)
                misfit = chi_squared(shown)
                log_evidence = float(logsumexp(-0.5 * misfit) - np.log(len(misfit)) + np.log(width))
            low, high = _interval(positions, np.exp(-0.5 * (misfit - np.min(misfit))))
            best = int(np.argmin(misfit))
            found.append(
                Fit(
                    causes=(cause,),
                    chi_squared=float(misfit[best]),
                    log_evidence=log_evidence,
                    prior=SINGLE_PRIOR * cause.prior / total,
                    sizes=np.atleast_1d(cause.sizes(positions[best])),
                    low=np.atleast_1d(cause.sizes(low)),
                    high=np.atleast_1d(cause.sizes(high)),
                    predicted=shown[:, best],
                )
            )
        return found

    def pairs(self, readings: Sequence[Reading]) -> list[Fit]:
        """Return how two causes at once fit readings: the pairs that may.

        Parameters
        ----------
        readings : list of Reading

        Returns
        -------
        list of Fit
        """
        self.fits(readings)
        seen = [number for number, visible in enumerate(self.seen(readings)) if visible]
        effects = {}
        for number in seen:
            positions = np.ones(1) if self.causes[number].changes else np.linspace(0.0, 1.0, FINE_OF_PAIR)
            effects[number] = self.shown(number, positions) - self.healthy[:, None]
        tried = []
        for one, other in combinations(seen, 2):
            both = self.healthy[:, None, None] + effects[one][:, :, None] + effects[other][:, None, :]
            tried.append((float(np.min(self._chi_squared(both))), one, other))
        tried.sort()
        chosen = tried[:PAIRS_SOLVED]
        count = max(len(tried), 1)
        if not chosen:
            return []
        grids = [self._knots_of_pair(one, other) for _, one, other in chosen]
        shown = self.predictor.predict([column for columns, _ in grids for column in columns])
        found, first = [], 0
        for (_, one, other), (columns, places) in zip(chosen, grids, strict=True):
            part = shown[:, first : first + len(columns)].reshape(-1, *(len(place) for place in places))
            first += len(columns)
            found.append(self._fit_of_pair(one, other, part, places, PAIR_PRIOR / count))
        return found

    def _knots_of_pair(self, one: int, other: int) -> tuple[list[Column], tuple[PointArray, PointArray]]:
        """Return columns of predictions over both sizes, and the positions; a cause in a gauge needs one."""
        pair = (self.causes[one], self.causes[other])
        places = [
            np.linspace(0.0, 1.0, KNOTS_OF_PAIR) if _in_car(cause) and not cause.changes else np.ones(1)
            for cause in pair
        ]
        columns = [
            Column.of([(cause, float(cause.sizes(np.asarray(place)))) for cause, place in zip(pair, at, strict=True)])
            for at in ((first, second) for first in places[0] for second in places[1])
        ]
        return columns, (places[0], places[1])

    def _fit_of_pair(
        self, one: int, other: int, shown: FloatArray, places: tuple[PointArray, PointArray], prior: float
    ) -> Fit:
        pair = (self.causes[one], self.causes[other])
        fine = [np.ones(1) if cause.changes else np.linspace(0.0, 1.0, FINE_OF_PAIR) for cause in pair]
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
        read = self.read(filled, gauges)
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


def _in_car(cause: Cause) -> bool:
    return not cause.gauge


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
