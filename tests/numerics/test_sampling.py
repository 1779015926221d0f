"""Sampling and its intervals against results in closed form."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from fuelsim.numerics.sampling import matrices, mean_interval, probabilities, share_interval, sobol_indices

WEIGHTS = np.array([1.0, 2.0, -1.5, 0.5])
SPREAD = float(np.sqrt(np.sum(WEIGHTS**2)))
SETS = 8


def _linear(seed: int, each: int = 64) -> np.ndarray:
    """A sum of normal inputs with weights, by set: normal itself, of mean 0 and a known spread."""
    return stats.norm.ppf(probabilities(4, each, SETS, seed)).reshape(SETS, each, 4) @ WEIGHTS


def test_stated_intervals_hold_the_exact_mean_and_share_of_a_linear_case_in_95_of_100_seeds():
    """Judge: a weighted sum of independent normal variables is normal; 1,000 seeds, 930 to 970 of them inside."""
    inside = np.zeros(2, dtype=int)
    exact_share = stats.norm.sf(1.0)
    for seed in range(1000):
        results = _linear(seed)
        mean = mean_interval(results.mean(axis=1))
        share = share_interval((results.T.reshape(-1) > SPREAD).astype(float), SETS)
        for number, (interval, exact) in enumerate(((mean, 0.0), (share, exact_share))):
            inside[number] += interval.low <= exact <= interval.high
    assert np.all((inside >= 930) & (inside <= 970)), inside


def test_sobol_indices_of_ishigami_s_function():
    """Judge: closed form with a = 7, b = 0.1 (Ishigami and Homma 1990; Saltelli et al. 2008) [memory]."""
    samples = np.pi * (2.0 * matrices(3, 512, SETS, seed=3) - 1.0)
    results = (
        np.sin(samples[:, 0]) + 7.0 * np.sin(samples[:, 1]) ** 2 + 0.1 * samples[:, 2] ** 4 * np.sin(samples[:, 0])
    )
    indices = sobol_indices(results[:, None], 3, SETS)
    a, b = 7.0, 0.1
    alone = np.array([0.5 * (1.0 + b * np.pi**4 / 5.0) ** 2, a**2 / 8.0, 0.0])
    joint = b**2 * np.pi**8 * (1.0 / 18.0 - 1.0 / 50.0)
    variance = alone.sum() + joint
    total = (alone + np.array([joint, 0.0, joint])) / variance
    for interval, exact in ((indices.first, alone / variance), (indices.total, total)):
        error = np.abs(interval.value[0] - exact)
        # Wide enough for a twentieth of all intervals to miss: twice their half-width.
        assert np.all(error <= 2.0 * (interval.high[0] - interval.value[0]) + 1e-3)
        assert np.all(error < 0.03)


def test_a_result_that_does_not_vary_has_indices_of_zero():
    samples = matrices(2, 8, 2, seed=0)
    indices = sobol_indices(np.stack([np.ones(len(samples)), samples[:, 0]], axis=1), 2, 2)
    assert indices.first.value[0].tolist() == indices.total.value[0].tolist() == [0.0, 0.0]
    assert indices.total.value[1, 0] == pytest.approx(1.0, abs=0.3)


@pytest.mark.parametrize("method", ["sobol", "latin hypercube"])
def test_samples_follow_their_seed_and_fill_each_axis_evenly(method):
    one = probabilities(3, 64, 4, 7, method)
    assert np.array_equal(one, probabilities(3, 64, 4, 7, method))
    assert not np.array_equal(one, probabilities(3, 64, 4, 8, method))
    for part in one.reshape(4, 64, 3):
        for column in part.T:
            assert np.all(np.histogram(column, bins=64, range=(0.0, 1.0))[0] == 1)


@pytest.mark.parametrize(("happens", "low", "high"), [(1.0, 0.964, 1.0), (0.0, 0.0, 0.036)])
def test_what_always_or_never_happened_has_the_bound_of_independent_trials(happens, low, high):
    """Judge: Clopper and Pearson's bound, 0.025 ** (1 / 100) = 0.9638 for 100 of 100."""
    interval = share_interval(np.full(100, happens), 4)
    assert (float(interval.low), float(interval.high)) == pytest.approx((low, high), abs=5e-4)


@pytest.mark.parametrize(("method", "is_net"), [("sobol", True), ("latin hypercube", False)])
def test_sobol_points_fill_every_elementary_box_of_the_square_and_latin_hypercubes_do_not(method, is_net):
    """Sobol' points in two dimensions are a (0, m, 2)-net in base 2 (Niederreiter 1992) [memory]: one in each box."""
    for part in probabilities(2, 64, 4, 7, method).reshape(4, 64, 2):
        boxes = [
            np.histogram2d(*part.T, bins=(2**first, 2 ** (6 - first)), range=((0.0, 1.0), (0.0, 1.0)))[0]
            for first in range(1, 6)
        ]
        assert all(np.all(each == 1.0) for each in boxes) == is_net


def test_samples_at_the_very_ends_stay_within_the_reach_of_distributions_without_ends(monkeypatch):
    class Ends:
        def __init__(self, dimensions, **settings):
            self.dimensions = dimensions

        def random(self, samples):
            return np.repeat([[0.0], [1.0]], self.dimensions, axis=1)

    monkeypatch.setattr(stats.qmc, "LatinHypercube", Ends)
    low, high = probabilities(1, 2, 1, 0, "latin hypercube").ravel()
    assert 0.0 < low < 1e-9
    assert 0.0 < 1.0 - high < 1e-9


def test_a_share_has_student_s_interval_of_the_shares_of_its_sets():
    """Judge: ``scipy.stats.ttest_1samp``; the sets take turns."""
    happens = (np.random.default_rng(4).random(4000) < 0.3).astype(float)
    shares = np.array([happens[first::8].mean() for first in range(8)])
    judge = stats.ttest_1samp(shares, 0.0).confidence_interval(0.95)
    assert np.ravel(share_interval(happens, 8)) == pytest.approx([shares.mean(), judge.low, judge.high], rel=1e-12)


def test_a_share_never_lies_outside_none_and_all():
    """By hand: sets with shares of 1 and 0.25, whose interval with one degree of freedom is far wider."""
    interval = share_interval(np.array([1.0, 0.0, 1.0, 0.0, 1.0, 0.0, 1.0, 1.0]), 2)
    assert np.ravel(interval).tolist() == [0.625, 0.0, 1.0]


def test_a_share_of_samples_that_make_no_whole_sets_has_the_bounds_of_independent_trials():
    """Judge: Clopper and Pearson's bounds as quantiles of beta distributions, 3 of 10."""
    interval = share_interval(np.array([1.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0]), 4)
    judge = [0.3, stats.beta.ppf(0.025, 3, 8), stats.beta.ppf(0.975, 4, 7)]
    assert np.ravel(interval) == pytest.approx(judge, rel=1e-9)
