"""Sampling of uncertain inputs: randomised quasi-Monte Carlo in independent sets, intervals from their spread.

A sample is cut into sets, each a low-discrepancy sequence scrambled on its own. Their means are independent and of one
expectation, so that Student's t gives an interval of the error, which a single sequence does not tell.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy import stats

from fuelsim.typing import FloatArray

__all__ = [
    "METHODS",
    "SETS",
    "Interval",
    "SobolIndices",
    "matrices",
    "mean_interval",
    "probabilities",
    "share_interval",
    "sobol_indices",
]

METHODS = ("sobol", "latin hypercube")
"""Scrambled Sobol' sequences, or Latin hypercubes."""
SETS = 8
"""Independent sets of samples of a study, from whose spread intervals follow."""
CONFIDENCE = 0.95
"""Level of the intervals."""
_END = 1e-12
"""Numerical guard: distance of the probabilities from 0 and 1, so that distributions without ends stay finite."""


class Interval(NamedTuple):
    """An estimate with its interval of 95 % confidence.

    Attributes
    ----------
    value, low, high : float or array

    Examples
    --------
    >>> Interval(0.5, 0.4, 0.6).low
    0.4
    """

    value: FloatArray
    low: FloatArray
    high: FloatArray


def probabilities(dimensions: int, samples: int, sets: int, seed: int, method: str = "sobol") -> FloatArray:
    """Return samples of the unit cube, evenly spread, in independent sets.

    Parameters
    ----------
    dimensions : int
        Number of inputs.
    samples : int
        Number of samples of each set; for Sobol' sequences a power of two.
    sets : int
        Number of sets.
    seed : int
        Same numbers for the same seed.
    method : {"sobol", "latin hypercube"}
        Kind of the sequences.

    Returns
    -------
    array (sets * samples, dimensions)
        Between 0 and 1, both left out; one set after the other.

    Notes
    -----
    Sobol' sequences by `scipy.stats.qmc.Sobol`, scrambled by linear matrices and a digital shift.

    Examples
    --------
    >>> points = probabilities(2, 64, 4, seed=1)
    >>> points.shape, abs(float(points.mean()) - 0.5) < 1e-3
    ((256, 2), True)
    """
    made = []
    for child in np.random.SeedSequence(seed).spawn(sets):
        generator = np.random.default_rng(child)
        if method == "sobol":
            made.append(stats.qmc.Sobol(dimensions, scramble=True, seed=generator).random(samples))
        else:
            made.append(stats.qmc.LatinHypercube(dimensions, seed=generator).random(samples))
    return np.asarray(np.clip(np.concatenate(made), _END, 1.0 - _END))


def mean_interval(of_sets: FloatArray) -> Interval:
    """Return the mean of what independent sets estimate, with Student's interval from their spread.

    Parameters
    ----------
    of_sets : array (sets, ...)
        Estimate of each set.

    Returns
    -------
    Interval

    Examples
    --------
    >>> [round(float(end), 2) for end in mean_interval(np.array([1.0, 2.0, 3.0]))]
    [2.0, -0.48, 4.48]
    """
    sets = len(of_sets)
    mean = np.mean(of_sets, axis=0)
    error = stats.t.ppf(0.5 + 0.5 * CONFIDENCE, sets - 1) * np.std(of_sets, axis=0, ddof=1) / np.sqrt(sets)
    return Interval(np.asarray(mean), np.asarray(mean - error), np.asarray(mean + error))


def share_interval(happens: FloatArray, sets: int) -> Interval:
    """Return how often something happens, with its interval.

    Where all sets have the same share, such as none, they have no spread, and samples that were cut short make no whole
    sets: the bounds are then those of as many independent trials (Clopper and Pearson).

    Parameters
    ----------
    happens : array (samples,)
        1 or 0; the sets take turns.
    sets : int
        Number of sets.

    Returns
    -------
    Interval

    Examples
    --------
    >>> [round(float(end), 3) for end in share_interval(np.ones(100), 4)]
    [1.0, 0.964, 1.0]
    """
    of_sets = happens.reshape(-1, sets).mean(axis=0) if len(happens) % sets == 0 else np.zeros(sets)
    if np.ptp(of_sets) == 0.0:
        trials = stats.binomtest(int(np.sum(happens)), len(happens))
        bounds = trials.proportion_ci(CONFIDENCE, method="exact")
        return Interval(np.asarray(trials.statistic), np.asarray(bounds.low), np.asarray(bounds.high))
    share = mean_interval(of_sets)
    return Interval(share.value, np.maximum(share.low, 0.0), np.minimum(share.high, 1.0))


class SobolIndices(NamedTuple):
    """Shares of the variance of a result that its inputs bring, alone and together with others.

    Attributes
    ----------
    first, total : Interval
        First-order and total indices, (results, inputs).
    """

    first: Interval
    total: Interval


def matrices(dimensions: int, samples: int, sets: int, seed: int) -> FloatArray:
    """Return the samples from which Sobol' indices are computed: of each set A, B and the mixtures of both.

    Parameters
    ----------
    dimensions : int
        Number of inputs.
    samples : int
        Number of rows of each A, a power of two.
    sets : int
        Number of independent sets.
    seed : int
        Same numbers for the same seed.

    Returns
    -------
    array (sets * (dimensions + 2) * samples, dimensions)
        A, B, then for each input A with that column of B; one set after the other.

    Examples
    --------
    >>> matrices(3, 8, 2, seed=0).shape
    (80, 3)
    """
    both = probabilities(2 * dimensions, samples, sets, seed).reshape(sets, samples, 2, dimensions)
    first, second = both[:, :, 0], both[:, :, 1]
    parts = np.repeat(first[:, None], dimensions + 2, axis=1)
    parts[:, 1] = second
    for column in range(dimensions):
        parts[:, 2 + column, :, column] = second[:, :, column]
    return parts.reshape(-1, dimensions)


def sobol_indices(results: FloatArray, dimensions: int, sets: int) -> SobolIndices:
    """Return first-order and total Sobol' indices from the results at `matrices`.

    Parameters
    ----------
    results : array (sets * (dimensions + 2) * samples, results)
        Finite.
    dimensions : int
        Number of inputs.
    sets : int
        Number of independent sets.

    Returns
    -------
    SobolIndices
        A result that does not vary has indices of zero.

    Notes
    -----
    Estimators of Saltelli et al., Comput. Phys. Commun. 181 (2010) 259, by `scipy.stats.sobol_indices`.

    Examples
    --------
    >>> x = matrices(2, 256, 4, seed=0)
    >>> indices = sobol_indices(3.0 * x[:, :1] + 4.0 * x[:, 1:], 2, 4)
    >>> bool(np.abs(indices.first.value - [[0.36, 0.64]]).max() < 0.05)
    True
    """
    parts = np.moveaxis(results.reshape(sets, dimensions + 2, -1, results.shape[1]), 3, 0)
    varies = np.ptp(parts, axis=(2, 3)).min(axis=1) > 0.0
    of_sets = np.zeros((2, sets, len(parts), dimensions))
    if np.any(varies):
        for number in range(sets):
            own = parts[varies, number]
            values = {"f_A": own[:, 0], "f_B": own[:, 1], "f_AB": np.moveaxis(own[:, 2:], 1, 0)}
            found = stats.sobol_indices(func=values, n=own.shape[2])
            for of_set, index in zip(of_sets, (found.first_order, found.total_order), strict=True):
                of_set[number][varies] = index
    return SobolIndices(*(mean_interval(each) for each in of_sets))
