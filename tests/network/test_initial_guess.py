"""Initial guesses: components of what varies, points solved first, and interpolation between them, by scipy's judgement
and the algebra of polynomials."""

from __future__ import annotations

from itertools import combinations_with_replacement
from math import comb
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.interpolate import KroghInterpolator
from scipy.spatial import cKDTree

from fuelsim.network.solver import initial_guess
from fuelsim.network.solver.initial_guess import Prediction, principal_components, samples_of

RNG = np.random.default_rng(11)
COUNT = 900


def batch(draw=None, *, head=None, fixed=None, coefficients=(), end_coefficients=(), offset=None, scale=None):
    """What of a batch may vary; each is one row of zeros, if left out."""
    still = np.zeros((1, 1))

    def group(given):
        return SimpleNamespace(coefficients=tuple(given), offset=offset, scale=scale)

    return SimpleNamespace(
        size=COUNT,
        draw=still if draw is None else draw,
        end_flows=still,
        head=still if head is None else head,
        fixed=still if fixed is None else fixed,
        groups=(group(coefficients),),
        end_groups=(SimpleNamespace(coefficients=tuple(end_coefficients), offset=None, scale=None),),
    )


def independent(count):
    return RNG.uniform(-1.0, 1.0, (count, COUNT))


def test_what_does_not_vary_or_not_beyond_rounding_has_no_components():
    assert principal_components(batch()) is None
    assert principal_components(batch(5.0 + 1e-15 * independent(3))) is None
    assert principal_components(batch(np.where(np.arange(COUNT) == 5, np.nan, independent(2)))) is None


@pytest.mark.parametrize("unit", [1e-7, 1.0, 1e7])
def test_whether_something_varies_does_not_depend_on_its_unit(unit):
    along = independent(1)
    assert len(principal_components(batch(unit * (2.0 + along)))) == 1
    assert principal_components(batch(unit * (2.0 + 1e-15 * along))) is None


@pytest.mark.parametrize("where", ["draw", "head", "fixed", "offset", "scale"])
def test_whatever_varies_along_one_parameter_is_one_component(where):
    """Any linear functions of one parameter, in whatever units, are a single component, itself linear in it."""
    along = independent(1)[0]
    rows = 3.0 + np.outer([2.0, -5e6, 1e-7], along)
    found = principal_components(batch(**{where: rows}))
    assert found.shape == (1, COUNT)
    assert abs(np.corrcoef(found[0], along)[0, 1]) == pytest.approx(1.0, abs=1e-9)


def test_a_part_s_coefficients_and_three_rows_of_its_tables_vary_too():
    along = independent(2)
    table = np.linspace(1.0, 2.0, 9)[:, None, None] * (2.0 + along[0])
    table[4] += along[1]  # the middle row alone tells the second parameter
    for given in ({"coefficients": (table,)}, {"end_coefficients": (table,)}):
        assert len(principal_components(batch(**given))) == 2
    assert len(principal_components(batch(coefficients=(1.0 + along[:1],)))) == 1
    table[4] -= along[1]
    assert len(principal_components(batch(coefficients=(table,)))) == 1


def test_independent_parameters_are_as_many_uncorrelated_components_the_strongest_first():
    first, second = independent(2)
    found = principal_components(batch(np.array([first, first, first, second])))
    assert len(found) == 2
    some = found[:, initial_guess._candidates(COUNT)]
    # Exactly uncorrelated over the points they are made from; the doubled parameter is the first.
    assert np.corrcoef(some)[0, 1] == pytest.approx(0.0, abs=1e-9)
    assert abs(np.corrcoef(found[0], first)[0, 1]) > 0.99
    assert abs(np.corrcoef(found[1], second)[0, 1]) > 0.99


@pytest.mark.parametrize("count", [2, 6, 7])
def test_up_to_six_independent_parameters_are_interpolated(count):
    found = principal_components(batch(independent(count)))
    assert found is None if count == 7 else len(found) == count


def test_functions_of_one_parameter_are_one_component_and_a_cloud_is_not():
    along = independent(1)[0]
    assert len(principal_components(batch(np.array([along, along**3, np.exp(along)])))) == 1
    assert len(principal_components(batch(np.array([along, along**3 + 0.3 * independent(1)[0]])))) == 2
    # Too few different values to tell a function from chance.
    steps = np.round(3.0 * along)
    assert not initial_guess._are_functions_of(steps, np.array([steps, along]))
    assert not initial_guess._are_functions_of(np.arange(10.0), np.arange(10.0)[None])


@pytest.mark.parametrize("size", [5, 512, 900, 100_000])
def test_candidates_are_spread_over_all_points(size):
    """Multiples of the golden ratio leave no gap above phi times the mean one (three-gap theorem)."""
    found = initial_guess._candidates(size)
    assert np.all(np.diff(found) > 0)
    assert found[0] >= 0
    assert found[-1] < size
    assert found.size <= 512
    assert found.size >= 0.6 * min(size, 512)
    gaps = np.diff(np.concatenate([found, [size]]))
    assert gaps.max() <= 2.0 * size / min(size, 512) + 1


def test_interpolation_is_the_cubic_through_the_four_nearest_knots():
    """Exact for cubics, also beyond the ends; elsewhere scipy's Krogh interpolator of the same four."""
    knots = np.sort(RNG.uniform(-1.0, 1.0, 20))
    where = np.linspace(-1.1, 1.1, 57)
    cubics = [np.poly1d(RNG.normal(size=4)) for _ in range(3)]
    found = initial_guess._interpolate(knots, np.array([cubic(knots) for cubic in cubics]), where)
    assert found == pytest.approx(np.array([cubic(where) for cubic in cubics]), abs=1e-9)
    values = np.sin(4.0 * knots)
    found = initial_guess._interpolate(knots, values[None], where)[0]
    for x, y in zip(where, found, strict=True):
        first = min(max(int((knots < x).sum()) - 2, 0), knots.size - 4)
        assert y == pytest.approx(float(KroghInterpolator(knots[first : first + 4], values[first : first + 4])(x)))


@pytest.mark.parametrize("count", range(1, 7))
def test_monomials_are_all_products_of_up_to_three_or_two_components(count):
    degree = 3 if count <= 4 else 2
    point = RNG.uniform(0.5, 2.0, (count, 3))
    expected = [
        np.prod(point[list(chosen)], axis=0)
        for power in range(degree + 1)
        for chosen in combinations_with_replacement(range(count), power)
    ]
    found = initial_guess._monomials(point)
    assert len(found) == comb(count + degree, degree) == initial_guess._features(count)
    assert np.sort(found, axis=0) == pytest.approx(np.sort(np.array(expected), axis=0))


def test_samples_along_one_component_are_evenly_spread_with_both_ends():
    along = 5.0 + independent(1)
    found = samples_of(along)
    assert {int(along.argmin()), int(along.argmax())} <= set(found.tolist())
    assert 40 < found.size <= 58
    gaps = np.diff(np.sort(along[0, found]))
    assert gaps.max() < 1.5 * np.ptp(along) / 55


@pytest.mark.parametrize("count", [2, 3, 6])
def test_samples_over_several_components_are_four_to_a_coefficient_with_all_extremes(count):
    components = independent(count)
    found = samples_of(components)
    assert set(components.argmin(axis=1).tolist()) <= set(found.tolist())
    assert set(components.argmax(axis=1).tolist()) <= set(found.tolist())
    wanted = min(4 * comb(count + 3, 3) if count <= 4 else 4 * comb(count + 2, 2), 200)
    assert wanted <= found.size <= 1.5 * wanted + 2 * count


def test_a_prediction_needs_enough_different_points():
    """Eight along one component; over several half as many again as coefficients."""
    where = np.linspace(0.0, 1.0, 50)[None]
    assert Prediction.of(where, np.arange(7), np.zeros((1, 7))) is None
    assert Prediction.of(where, np.arange(8), np.zeros((1, 8))) is not None
    assert Prediction.of(1e-6 * where, np.arange(8), np.zeros((1, 8))) is not None  # in whatever unit
    doubled = np.repeat(where[:, :7], 2, axis=1)
    assert Prediction.of(doubled, np.arange(14), np.zeros((1, 14))) is None
    flat = independent(2)  # ten coefficients
    assert Prediction.of(flat, np.arange(14), np.zeros((1, 14))) is None
    assert Prediction.of(flat, np.arange(15), np.zeros((1, 15))) is not None


def test_points_that_stand_at_the_same_place_count_once_along_one_component():
    where = np.concatenate([np.linspace(-1.0, 1.0, 40), np.linspace(-1.0, 1.0, 40)])[None]
    values = where**3
    found = Prediction.of(where, np.arange(80), values)
    assert found.at.shape == (1, 40)
    assert found(slice(0, 80)) == pytest.approx(values)


def test_without_a_good_fit_the_nearest_solved_point_is_taken():
    where = independent(3)
    samples = np.arange(0, COUNT, 4)
    values = np.array([np.sign(np.sin(9.0 * where[0])), RNG.normal(size=COUNT)])[:, samples]
    found = Prediction.of(where, samples, values)
    assert found.fit is None
    nearest = cKDTree(where[:, samples].T).query(where.T)[1]
    assert found(slice(10, 400)).tolist() == values[:, nearest[10:400]].tolist()


@pytest.mark.parametrize(("miss", "good"), [(0.1, True), (0.2, False)])
def test_a_fit_within_15_percent_of_each_range_is_good(miss, good):
    """Every other point stands above and below a line by turns, which no polynomial of a few terms follows: of a range
    of 1 it misses what it is off, here once in other units."""
    along = np.linspace(0.0, 1.0 - 2.0 * miss, COUNT)
    where = np.array([along, independent(1)[0]])
    off = np.where(np.arange(COUNT) % 2 == 0, miss, -miss)
    values = np.array([np.full(COUNT, 3e5), 1e-6 * (along + off), 1e5 * along])
    found = Prediction.of(where, np.arange(COUNT), values)
    assert (found.fit is not None) is good
