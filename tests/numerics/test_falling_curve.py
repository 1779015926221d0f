"""Falling curves through measured points."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicSpline, PchipInterpolator, interp1d

from fuelsim.numerics.falling_curve import _falls, curve_value, falling_curve, straight_value

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


@pytest.mark.parametrize(
    ("x", "y"),
    [
        ([0.0, 1.0, 1.5, 4.0, 4.5], [10.0, 9.9, 6.0, 5.8, 1.0]),
        ([0.0, 0.5, 2.0, 2.2, 5.0, 6.0], [10.0, 6.0, 5.5, 3.0, 2.5, 0.0]),
    ],
)
def test_points_that_no_falling_spline_passes_get_the_slopes_of_fritsch_and_butland(x, y):
    """Judge: scipy's PCHIP interpolator, whose inner slopes are the same weighted harmonic means."""
    judge = PchipInterpolator(x, y)
    assert np.any(np.diff(CubicSpline(x, y)(np.linspace(x[0], x[-1], 401))) > 0.0)
    assert curve_value(falling_curve(x, y), x[1:-1])[1] == pytest.approx(judge.derivative()(x[1:-1]), rel=1e-12)
    inside = np.linspace(x[1], x[-2], 41)
    assert curve_value(falling_curve(x, y), inside)[0] == pytest.approx(judge(inside), rel=1e-12)


def test_end_slopes_are_those_of_pchip_where_these_are_not_nearly_level():
    """Judge: scipy's PCHIP interpolator (three-point formula, at most three times the secant beside it)."""
    x, y = [0.0, 1.0, 1.5, 4.0, 4.5], [10.0, 9.0, 3.0, 2.8, 0.0]
    curve = falling_curve(x, y)
    judge = PchipInterpolator(x, y).derivative()
    assert curve.slope[-1] == pytest.approx(judge(x[-1]), rel=1e-12)
    assert curve.slope[-1] < 0.3 * (y[-1] - y[-2]) / (x[-1] - x[-2])
    steep = falling_curve([0.0, 1.0, 1.2, 4.0], [10.0, 9.0, 3.0, 2.8])
    assert steep.slope[0] == pytest.approx(0.3 * -1.0, rel=1e-12)  # PCHIP would be level there


def test_spline_slopes_are_those_of_a_not_a_knot_spline():
    """Judge: scipy's CubicSpline."""
    for x, y in (
        ([0.0, 1.0, 2.5, 3.0, 5.0], [9.0, 8.5, 7.0, 6.2, 2.0]),
        ([0.0, 0.7, 1.0, 2.0], [4.0, 3.5, 3.2, 1.5]),
        ([0.0, 0.7, 2.0], [4.0, 3.5, 1.5]),
    ):
        judge = CubicSpline(x, y)
        at = np.linspace(x[0], x[-1], 31)
        value, slope = curve_value(falling_curve(x, y), at)
        assert value == pytest.approx(judge(at), rel=1e-11)
        assert slope == pytest.approx(judge(at, 1), rel=1e-10)


@pytest.mark.parametrize("last", [5.0, 5.95])
def test_beyond_its_last_point_a_curve_goes_on_with_its_end_slope_or_a_share_of_the_last_secant(last):
    """From the definition: y + s d + c d^2/2, with the steeper of the end slope and 0.3 of the last secant."""
    x, y = np.array([0.0, 1.0, 2.0, 3.0]), np.array([9.0, 8.0, 6.0, last])
    curve = falling_curve(x, y)
    curvature = min(0.0, 2.0 * np.polyfit(x, y, 2)[0])
    end = min(curve_value(curve, 3.0)[1], 0.3 * (last - 6.0))
    for beyond in (0.5, 2.0):
        value, slope = curve_value(curve, 3.0 + beyond)
        assert value == pytest.approx(last + end * beyond + 0.5 * curvature * beyond**2, rel=1e-12)
        assert slope == pytest.approx(end + curvature * beyond, rel=1e-12)


def test_before_its_first_point_a_parabola_flattens_to_half_its_slope_and_goes_on_straight():
    """20 - x^2 from x = 2: by hand its slope is -4 there and -2 from x = 1 on, whose value is 19; straight before."""
    curve = falling_curve([2.0, 3.0, 4.0], [16.0, 11.0, 4.0])
    value, slope = curve_value(curve, [1.5, 1.0, 0.0, -3.0])
    assert value == pytest.approx([20.0 - 1.5**2, 19.0, 21.0, 27.0], rel=1e-12)
    assert slope == pytest.approx([-3.0, -2.0, -2.0, -2.0], rel=1e-12)


def test_a_curve_that_starts_level_is_continued_with_a_fifth_of_its_mean_slope():
    curve = falling_curve([0.0, 1.0, 2.0], [9.0, 8.0, 5.0])  # 9 - x^2, level at 0, mean slope -2
    assert curve_value(curve, -1e-9)[1] == pytest.approx(-0.4, rel=1e-6)


def test_a_cubic_piece_falls_where_its_slope_has_no_sign_change():
    """Judge: the slope of the Hermite cubic itself at 4001 places; both answers occur hundreds of times."""
    x = np.linspace(0.0, 1.0, 4001)
    answers = []
    # The last two fall although they lie outside the ellipse, near a straight line.
    random = np.random.default_rng(5).uniform(-0.3, 6.0, (1500, 2))
    for a, b in (*random, (0.9, 1.103), (1.103, 0.9)):
        # Value 0 at 0 and -1 at 1, slopes -a and -b: p' = -a (1 - 4x + 3x^2) - b (3x^2 - 2x) - 6x (1 - x).
        steepest = np.max(-a * (1.0 - 4.0 * x + 3.0 * x**2) - b * (3.0 * x**2 - 2.0 * x) - 6.0 * x * (1.0 - x))
        if abs(steepest) < 1e-3 and min(a, b) > 0.0 and steepest > 0.0:
            continue  # too near to call
        answers.append(_falls(np.array([-a, -b]), np.array([-1.0])))
        assert answers[-1] == (steepest <= 1e-9), (a, b)
    assert 300 < sum(answers) < len(answers) - 300


@pytest.mark.parametrize(
    ("a", "b", "falls"), [(3.0, 0.0, True), (3.25, 0.0, False), (0.0, 3.0, True), (0.0, 3.25, False)]
)
def test_a_piece_that_is_flat_at_one_end_may_be_three_times_as_steep_at_the_other(a, b, falls):
    """By hand: with b = 0, p' = -a (1 - 4x + 3x^2) - 6x (1 - x) = (1 - x)((3a - 6) x - a), which rises once a > 3."""
    x = np.linspace(0.0, 1.0, 4001)
    steep = max(a, b)
    assert (np.max((1.0 - x) * ((3.0 * steep - 6.0) * x - steep)) <= 1e-12) == falls
    assert _falls(np.array([-a, -b]), np.array([-1.0])) == falls


def test_a_parabola_that_flattens_out_goes_on_with_three_tenths_of_its_last_secant():
    """By hand: (x - 3.05)^2 falls by 0.3 over the last half, 0.6 on average; it is bent the other way than a pump."""
    x = np.array([0.0, 1.0, 2.5, 3.0])
    value, slope = curve_value(falling_curve(x, (x - 3.05) ** 2), [3.5, 5.0])
    assert slope == pytest.approx(-0.18, rel=1e-9)
    assert value == pytest.approx([0.0025 - 0.09, 0.0025 - 0.36], rel=1e-9)


@pytest.mark.parametrize(
    "y", [[9.0, 8.5, 7.0, 6.2, 2.0], [9.0, 8.99, 4.0, 3.9, 0.0], [9.0, 4.0, 2.0, 1.6, 1.55], [9.0, 8.0, 5.0]]
)
def test_a_curve_is_the_same_in_other_units_and_from_another_origin(y):
    """Along 2.5 x + 3 and 1e5 y - 7: beyond both ends too."""
    x, y = np.array([0.0, 1.0, 2.5, 3.0, 5.0])[: len(y)], np.array(y)
    at = np.linspace(-4.0, 8.0, 97)
    value, slope = curve_value(falling_curve(x, y), at)
    elsewhere = curve_value(falling_curve(2.5 * x + 3.0, 1e5 * y - 7.0), 2.5 * at + 3.0)
    assert elsewhere[0] == pytest.approx(1e5 * value - 7.0, rel=1e-9, abs=1e-4)
    assert elsewhere[1] == pytest.approx(4e4 * slope, rel=1e-9, abs=1e-6)


def test_straight_lines_through_uneven_points_go_on_beyond_both_ends():
    """Judge: scipy's interp1d with extrapolation."""
    x, y = np.array([1.0, 1.5, 4.0, 6.0]), np.array([9.0, 8.0, 2.0, 1.5])
    at = np.linspace(-2.0, 9.0, 45)
    judge = interp1d(x, y, fill_value="extrapolate")
    assert straight_value(at, x, y) == pytest.approx(judge(at), rel=1e-12)


def test_a_curve_falls_where_each_of_its_pieces_does():
    random = np.random.default_rng(6)
    answers = []
    for _ in range(200):
        slope, chords = -random.uniform(0.0, 3.6, 4), np.array([-1.0, -1.1, -0.9])
        pieces = [_falls(slope[i : i + 2], chords[i : i + 1]) for i in range(3)]
        answers.append(_falls(slope, chords))
        assert answers[-1] == all(pieces)
    assert 20 < sum(answers) < 180
