"""Roots within brackets against SciPy's."""

import numpy as np
import pytest
from scipy.optimize import brentq

from fuelsim.numerics.bracket import bisect, illinois

PARAMETERS = np.linspace(0.1, 5.0, 25)


def rising(x, a):
    return x**3 + a * x - 2.0


JUDGE = np.array([brentq(rising, 0.0, 3.0, args=(a,), xtol=1e-14) for a in PARAMETERS])


def test_bisection_finds_the_roots_of_brentq_for_all_elements_at_once():
    assert bisect(lambda x: rising(x, PARAMETERS) < 0.0, 0.0, 3.0, 60) == pytest.approx(JUDGE, abs=1e-13)


def test_illinois_finds_the_roots_of_brentq_in_few_evaluations():
    calls = []

    def function(x):
        calls.append(1)
        return rising(x, PARAMETERS)

    ends = np.zeros(PARAMETERS.shape), np.full(PARAMETERS.shape, 3.0)
    assert illinois(function, *ends, steps=60, tolerance=1e-12) == pytest.approx(JUDGE, abs=1e-11)
    assert len(calls) < 25


def test_bisection_without_a_change_ends_at_an_end():
    assert bisect(lambda x: np.ones(x.shape, dtype=bool), np.zeros(2), np.ones(2), 60).tolist() == [1.0, 1.0]
    assert bisect(lambda x: np.zeros(x.shape, dtype=bool), np.zeros(2), np.ones(2), 60) == pytest.approx(0.0, abs=1e-15)


def test_illinois_is_as_quick_on_the_mirrored_function_whose_other_end_would_stay():
    """The iterates of -f(-x) on the mirrored bracket are mirrored, the roots negative."""
    calls = [0, 0]

    def function(x):
        calls[0] += 1
        return rising(x, PARAMETERS)

    def mirrored(x):
        calls[1] += 1
        return -rising(-x, PARAMETERS)

    zero, three = np.zeros(PARAMETERS.shape), np.full(PARAMETERS.shape, 3.0)
    roots = illinois(function, zero, three, steps=60, tolerance=1e-12)
    assert illinois(mirrored, -three, -zero, steps=60, tolerance=1e-12) == pytest.approx(-roots, abs=1e-15)
    assert calls[0] == calls[1]


def test_illinois_ends_once_the_bracket_is_narrow_where_the_function_is_too_steep_to_be_small():
    """A root of 1e12 (x - 1/3) met within 1e-9 leaves values of 1e3."""
    calls = []

    def function(x):
        calls.append(1)
        return 1e12 * np.expm1(x - 1.0 / 3.0)

    root = illinois(function, np.zeros(1), np.ones(1), steps=60, tolerance=1e-9)
    assert root == pytest.approx(1.0 / 3.0, abs=1e-9)
    assert len(calls) < 15
