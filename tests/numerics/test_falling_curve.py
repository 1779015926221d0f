"""Falling curves through measured points."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fuelsim.numerics.falling_curve import curve_value, falling_curve

STEPS = st.lists(st.tuples(st.floats(0.02, 1.0), st.floats(0.01, 1.0)), min_size=1, max_size=9)


@given(STEPS)
@settings(max_examples=150, derandomize=True, deadline=None)
def test_curve_passes_its_points_and_falls_everywhere(steps):
    x = np.concatenate([[0.0], np.cumsum([a for a, _ in steps])])
    y = 10.0 - np.concatenate([[0.0], np.cumsum([b for _, b in steps])])
    curve = falling_curve(x, y)
    assert curve_value(curve, x)[0] == pytest.approx(y, abs=1e-12)
    dense = np.linspace(x[0] - 2.0, x[-1] + 2.0, 2001)
    assert np.all(np.diff(curve_value(curve, dense)[0]) <= 1e-12)


@given(STEPS, st.floats(-0.5, 1.5))
@settings(max_examples=100, derandomize=True, deadline=None)
def test_curve_slope_is_its_derivative(steps, share):
    x = np.concatenate([[0.0], np.cumsum([a for a, _ in steps])])
    y = 10.0 - np.concatenate([[0.0], np.cumsum([b for _, b in steps])])
    curve = falling_curve(x, y)
    at = x[0] + share * (x[-1] - x[0])
    above, below = (curve_value(curve, at + side)[0] for side in (1e-6, -1e-6))
    slope = curve_value(curve, at)[1]
    if np.min(np.abs(at - x)) > 1e-5:
        assert slope == pytest.approx((above - below) / 2e-6, rel=1e-3, abs=1e-3)


def test_parabola_is_met_exactly_from_three_points_on():
    for x in ([0.0, 1.5, 4.0], [0.0, 1.0, 2.5, 4.0], [0.0, 0.4, 1.0, 2.5, 3.0, 4.0]):
        x = np.array(x)
        curve = falling_curve(x, 20.0 - x**2)
        at = np.linspace(0.0, 4.0, 41)
        value, slope = curve_value(curve, at)
        assert value == pytest.approx(20.0 - at**2, abs=1e-10)
        assert slope == pytest.approx(-2.0 * at, abs=1e-9)


def test_continuations_are_concave():
    curve = falling_curve([1.0, 2.0, 3.0], [5.0, 4.0, 2.5])
    before = np.diff(curve_value(curve, np.linspace(-2.0, 1.0, 61))[0])
    after = np.diff(curve_value(curve, np.linspace(3.0, 6.0, 61))[0])
    assert np.all(np.diff(before) <= 1e-12)
    assert np.all(np.diff(after) <= 1e-12)
    assert np.all(before < 0.0)
