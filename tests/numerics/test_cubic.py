"""Cubic Hermite cells against SciPy's, and the limiter against what a monotone cubic allows."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicHermiteSpline

from fuelsim.numerics.cubic import falling_slopes, hermite, hermite_cell

NUMBER = st.floats(-1e3, 1e3)


@given(st.tuples(NUMBER, NUMBER, NUMBER, NUMBER), st.floats(0.0, 1.0))
@settings(max_examples=100, derandomize=True, deadline=None)
def test_cell_is_the_hermite_cubic_of_scipy(ends, t):
    left, right, slope_left, slope_right = ends
    judge = CubicHermiteSpline([0.0, 1.0], [left, right], [slope_left, slope_right])
    value, slope = hermite(t, left, right, slope_left, slope_right)
    assert np.allclose([value, slope], [judge(t), judge.derivative()(t)], rtol=1e-10, atol=1e-9)
    c0, c1, c2, c3 = hermite_cell(left, right, slope_left, slope_right)
    assert np.isclose(c0 + c1 * t + c2 * t**2 + c3 * t**3, judge(t), rtol=1e-10, atol=1e-9)


@given(st.lists(st.tuples(st.floats(1e-3, 1.0), st.floats(-5.0, 5.0)), min_size=2, max_size=12))
@settings(max_examples=100, derandomize=True, deadline=None)
def test_cubic_through_limited_slopes_falls_everywhere(steps):
    y = -np.concatenate([[0.0], np.cumsum([fall for fall, _ in steps])])
    x = np.arange(len(y), dtype=float)
    asked = np.array([0.0] + [slope for _, slope in steps])
    slope = falling_slopes(asked, np.diff(y), np.array((y[-1] - y[0]) / x[-1]))
    dense = CubicHermiteSpline(x, y, slope)(np.linspace(0.0, x[-1], 2000))
    assert slope.max() < 0.0
    assert np.diff(dense).max() < 1e-12
