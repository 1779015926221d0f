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
