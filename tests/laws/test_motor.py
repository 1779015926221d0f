"""Pump curves at other voltages and behind a wire: straight ones by hand, a curved one by SciPy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from fuelsim.laws import motor
from fuelsim.laws.motor import (
    PumpMap,
    _bisected,
    _Drives,
    drive_delivering,
    duty_giving,
    hot_flow_factor,
    loaded_voltage,
    relief_limited_rise,
    running_curve,
)

STRAIGHT = PumpMap(
    start=0.0,
    step=1e-5,
    pressure=np.array([4e5, 2e5, 0.0]),
    current=np.array([8.0, 6.0, 4.0]),
    flow_per_drive=np.full((1, 3), 1e-6),
    edges=np.array([-np.inf, np.inf]),
    bench_drive=13.5,
    current_per_drive=0.0,
    free_flow=2e-5,
)
"""A straight curve of 400 kPa and 20 mL/s whose current falls from 8 to 4 A, with 1 mL/s more for each volt."""


@pytest.mark.parametrize("wire", [0.0, 0.5])
def test_bisection_gives_the_bench_flows_from_far_below_zero_to_far_beyond_run_out(wire):
    """By hand: q = s + 1 mL/s/V (13.5 V - R (8 A - 0.2 A/(mL/s) s) - 13.5 V), so s = (q + 8 R)/(1 + 0.2 R) in mL/s."""
    drives = _Drives(np.array([13.5]), np.array([-wire]), np.zeros(()), np.array([np.inf]))
    bench = np.linspace(-3.9, 3.9, 14)[:, None] * STRAIGHT.free_flow
    wanted = bench * (1.0 + 0.2 * wire) - 8e-6 * wire
    assert _bisected(STRAIGHT, wanted, drives) == pytest.approx(bench, abs=1e-18)


def test_the_drive_for_a_flow_is_sought_from_none_to_ten_times_that_of_the_bench():
    """By hand: 1 mL/s for each volt, from 10 mL/s at 13.5 V and 200 kPa; an end where no drive gives the flow."""
    flow = np.array([-1.0, 0.0, 10e-6, 131.4e-6, 1.0])
    assert drive_delivering(STRAIGHT, flow, 2e5) == pytest.approx([0.0, 3.5, 13.5, 134.9, 135.0], rel=1e-9)


SUPPLY, WIRE, DUTY, BENCH_CURRENT, GROWTH = 13.0, 0.2, 0.8, 8.0, 0.5
"""V, ohm, share of the time, A at 13.5 V, and A/V."""


def test_wire_and_motor_agree_on_voltage_and_current_where_the_current_grows_with_the_voltage():
    """By hand: I = 8 A + 0.5 A/V (0.8 U - 13.5 V) = 1.25 A + 0.4 A/V U, U = 13 V - 0.2 ohm I: U = 12.75 V/1.08."""
    volts, amperes = loaded_voltage(SUPPLY, WIRE, BENCH_CURRENT, GROWTH, 13.5, DUTY)
    assert volts == pytest.approx(12.75 / 1.08, rel=1e-12)
    assert amperes == pytest.approx(1.25 + 0.4 * 12.75 / 1.08, rel=1e-12)


@pytest.mark.parametrize(
    ("supply", "duty", "growth", "winding"),
    [(SUPPLY, DUTY, GROWTH, 0.0), (SUPPLY, DUTY, GROWTH, 0.4), (2.0, 0.5, 0.1, 0.4)],
    ids=["turning", "turning, winding known", "stalled"],
)
def test_the_duty_for_a_mean_voltage_is_the_one_that_gives_it(supply, duty, growth, winding):
    bench = (BENCH_CURRENT, growth, 13.5)
    volts, _ = loaded_voltage(supply, WIRE, *bench, duty, winding)
    assert duty_giving(duty * volts, supply, WIRE, *bench, winding) == pytest.approx(duty, rel=1e-12)


def test_a_stalled_motor_takes_what_its_winding_and_the_wire_let_through():
    """Ohm's law: 1 V on average through 0.4 ohm all the time and 0.2 ohm half of the time is 2 A."""
    volts, amperes = loaded_voltage(2.0, WIRE, BENCH_CURRENT, 0.0, 13.5, 0.5, 0.4)
    assert (float(volts), float(amperes)) == pytest.approx((2.0 - WIRE * 2.0, 2.0), rel=1e-12)


def test_a_straight_pump_behind_a_wire_meets_the_equations_of_wire_motor_and_curve_together():
    """Judge: numpy's solution of the three linear equations of V, I and s at a flow q, with flows in mL/s.

    V = d (U - R I), I = 8 A - 0.2 s + c (V - 13.5 V), q = s + V - 13.5 V; then p = 400 kPa - 20 kPa s.
    """
    largest, rise, slope = running_curve(STRAIGHT._replace(current_per_drive=GROWTH), SUPPLY, WIRE, DUTY, knots=5)
    equations = np.array([[1.0, DUTY * WIRE, 0.0], [-GROWTH, 1.0, 0.2], [1.0, 0.0, 1.0]])
    for flow, pressure, steepness in zip(np.linspace(0.0, largest[0], 5), rise[:, 0], slope[:, 0], strict=True):
        right = np.array([DUTY * SUPPLY, 8.0 - GROWTH * 13.5, 1e6 * flow + 13.5])
        assert pressure == pytest.approx(4e5 - 2e4 * np.linalg.solve(equations, right)[2], abs=1e-3)
        more = np.linalg.solve(equations, np.array([0.0, 0.0, 1.0]))[2]
        assert steepness == pytest.approx(-2e10 * more, rel=1e-9)
    assert rise[-1, 0] == pytest.approx(0.0, abs=1e-3)


def test_a_pump_too_slow_to_deliver_keeps_a_thousandth_of_its_flow_and_no_pressure_at_its_end():
    """By hand: at 0 V and 2 mL/s/V it lacks 7 mL/s; over 0.02 mL/s its curve of 20 kPa/(mL/s) falls by 400 Pa."""
    slow = STRAIGHT._replace(flow_per_drive=np.full((1, 3), 2e-6))
    largest, rise, slope = running_curve(slow, 0.0, 0.0, 1.0, knots=3)
    assert largest == pytest.approx(2e-8)
    assert rise[:, 0] == pytest.approx([400.0, 200.0, 0.0], abs=1e-3)
    assert slope[:, 0] == pytest.approx(-2e10)


@pytest.mark.parametrize(("supply", "wire"), [(9.0, 0.3), (14.0, 1.5)])
def test_a_curved_pump_behind_a_wire_meets_the_same_equations_without_bisection(monkeypatch, supply, wire):
    """Judge: scipy on q(s) = s + A(s) (V(s) - V_bench), V = U - R I(s), tables straight between their nine rows."""
    monkeypatch.delattr(motor, "_bisected")
    part = np.linspace(0.0, 1.0, 9)
    grid = STRAIGHT.free_flow * part
    curved = STRAIGHT._replace(
        step=float(grid[1]),
        pressure=4e5 * (1.0 - part),
        current=8.0 - 4.0 * part**2,
        flow_per_drive=1e-6 * (1.0 + 0.5 * part**2)[None],
    )

    def delivered(bench_flow):
        voltage = supply - wire * np.interp(bench_flow, grid, curved.current)
        return bench_flow + np.interp(bench_flow, grid, curved.flow_per_drive[0]) * (voltage - 13.5)

    largest, rise, slope = running_curve(curved, supply, wire, 1.0, knots=7)
    assert largest[0] == pytest.approx(delivered(curved.free_flow), rel=1e-12)
    for flow, pressure, steepness in zip(np.linspace(0.0, largest[0], 7)[:-1], rise[:, 0], slope[:, 0], strict=False):
        at = brentq(lambda s, flow=flow: delivered(s) - flow, 0.0, curved.free_flow, xtol=1e-18)
        assert pressure == pytest.approx(4e5 - 2e10 * at, abs=1.0)
        gained = (delivered(at + 1e-10) - delivered(at - 1e-10)) / 2e-10
        assert steepness == pytest.approx(-2e10 / gained, rel=1e-6)


def test_a_pump_that_its_controller_holds_at_a_voltage_gains_no_flow_from_the_wire():
    """By hand: V = 13.5 V - 0.5 ohm (8 A - 0.2 s) reaches the 10 V that are asked for at s = 5 mL/s, q = 1.5 mL/s."""
    largest, rise, slope = running_curve(STRAIGHT, 13.5, 0.5, 1.0, knots=34, greatest_drive=10.0)
    assert largest == pytest.approx(16.5e-6)
    flow = np.linspace(0.0, 16.5e-6, 34)
    held = flow > 1.5e-6
    assert np.all(held[4:])
    assert not np.any(held[:3])
    assert rise[held, 0] == pytest.approx(4e5 - 2e10 * (flow[held] + 3.5e-6), abs=1e-3)
    assert slope[held, 0] == pytest.approx(-2e10)
    assert slope[:3, 0] == pytest.approx(-2e10 / 1.1)


def test_a_locked_motor_has_the_voltage_that_its_winding_leaves_at_every_flow():
    """Ohm's law: 2 V over 0.5 ohm and 0.4 ohm leave 0.889 V, where the current of the bench would leave none."""
    slow = STRAIGHT._replace(winding_resistance=0.4)
    largest, rise, slope = running_curve(slow, 2.0, 0.5, 1.0, knots=5)
    lacking = 13.5e-6 - 1e-6 * 2.0 * 0.4 / 0.9
    assert largest == pytest.approx(2e-5 - lacking)
    assert rise[:, 0] == pytest.approx(4e5 - 2e10 * (np.linspace(0.0, largest[0], 5) + lacking), abs=1e-3)
    assert slope[:, 0] == pytest.approx(-2e10)


def test_two_bench_voltages_give_the_flow_of_either_in_its_own_range_behind_a_wire():
    """Judge: scipy on q(s) = s + 1 mL/s/V (10 V - 13.5 V) + 2 mL/s/V (V - 10 V) below 10 V, 1 mL/s/V above, in mL/s.

    V = U - 0.5 ohm (8 A - 0.2 s) passes 10 V at s = 30 and 20 mL/s with 11 and 12 V, nowhere with 14.5 V.
    """
    several = STRAIGHT._replace(
        flow_per_drive=np.array([[2e-6] * 3, [1e-6] * 3]),
        edges=np.array([-np.inf, 10.0, np.inf]),
        free_flow=4e-5,
        pressure=np.array([8e5, 4e5, 0.0]),
        step=2e-5,
        current=np.array([8.0, 4.0, 0.0]),
    )

    def delivered(bench_flow, supply):
        voltage = supply - 0.5 * (8.0 - 0.2e6 * bench_flow)
        return bench_flow - 3.5e-6 + (1e-6 if voltage > 10.0 else 2e-6) * (voltage - 10.0)

    for supply in (11.0, 12.0, 14.5):
        largest, rise, slope = running_curve(several, supply, 0.5, 1.0, knots=9)
        assert largest[0] == pytest.approx(delivered(4e-5, supply), rel=1e-12)
        for flow, pressure, steepness in zip(np.linspace(0.0, largest[0], 9), rise[:, 0], slope[:, 0], strict=True):
            at = brentq(lambda s, supply=supply, flow=flow: delivered(s, supply) - flow, -1e-5, 5e-5, xtol=1e-18)
            assert pressure == pytest.approx(8e5 - 2e10 * at, abs=1.0)
            # A volt more for each 10 mL/s of bench flow: 1 and 1.1 or 1.2 of delivered flow for 1 of bench flow.
            gained = 1.1 if supply - 0.5 * (8.0 - 0.2e6 * at) > 10.0 else 1.2
            assert steepness == pytest.approx(-2e10 / gained, rel=1e-6)


RELIEF, BAND, FULL = 7e5, 0.08, 2e-4
"""Pa, of that pressure, and m3/s: from 756 kPa without flow a straight line to 700 kPa at 200 mL/s."""


def limited(own, largest=FULL, full=FULL, knots=2001):
    """The relief valve's curve over a falling curve given as a function of flow in mL/s, and what both pieces are."""
    flow = np.linspace(0.0, largest, knots)
    rise = own(1e6 * flow)
    slope = np.gradient(rise, flow, edge_order=2)
    held, held_slope = relief_limited_rise(rise[:, None], slope[:, None], np.array([largest]), RELIEF, BAND, full)
    line = RELIEF * (1.0 + BAND) - RELIEF * BAND * flow / full
    return flow, rise, line, held[:, 0], held_slope[:, 0]


CURVES = {
    "steep": lambda q: 9e5 - 2e3 * q,
    "low": lambda q: 6e5 - 1e3 * q,
    "flatter than the line": lambda q: 7.35e5 - 100.0 * q,
    "bent": lambda q: 8e5 - 8.0 * q**2,
}


@pytest.mark.parametrize("own", CURVES.values(), ids=CURVES)
@pytest.mark.parametrize(("largest", "full"), [(FULL, FULL), (1.5 * FULL, FULL), (0.7 * FULL, 0.9 * FULL)])
def test_a_relief_valve_leaves_the_lower_of_two_curves_rounded_over_a_quarter_of_its_band(own, largest, full):
    """By hand: a quarter of the band is 14 kPa; where both curves meet a parabola that wide lies 3.5 kPa lower."""
    _, rise, line, held, _ = limited(own, largest, full)
    width = 14e3
    below = np.minimum(rise, line) - held
    apart = np.abs(rise - line) >= width
    assert below[apart] == pytest.approx(0.0, abs=1e-9)
    assert np.all(below[np.abs(rise - line) < 0.9 * width] > 0.0)
    for meet in np.flatnonzero(np.diff(np.sign(rise - line))):
        assert below[meet] == pytest.approx(3.5e3, rel=0.02)


@pytest.mark.parametrize("own", CURVES.values(), ids=CURVES)
def test_the_slope_of_a_curve_with_a_relief_valve_is_its_derivative(own):
    flow, rise, _, held, slope = limited(own)
    assert slope == pytest.approx(np.gradient(held, flow, edge_order=2), rel=1e-2, abs=1e-5 * rise[0] / FULL)


def test_pumps_with_and_without_need_of_their_relief_valve_are_limited_together_as_alone():
    flow = np.linspace(0.0, FULL, 33)
    rise = np.stack([own(1e6 * flow) for own in CURVES.values()], axis=1)
    slope = np.gradient(rise, flow, axis=0)
    largest = np.full(len(CURVES), FULL)
    together = relief_limited_rise(rise, slope, largest, RELIEF, BAND, FULL)
    for column in range(len(CURVES)):
        own = (rise[:, [column]], slope[:, [column]], largest[[column]])
        alone = relief_limited_rise(*own, RELIEF, BAND, FULL)
        for one, other in zip(together, alone, strict=True):
            assert one[:, column] == pytest.approx(other[:, 0], rel=1e-12)


def test_hot_fuel_takes_its_loss_over_each_40_kelvin_and_at_most_half_of_the_flow():
    """By hand from 20 degC on; the ends are those that the law states."""
    kelvin = np.array([253.15, 293.15, 333.15, 373.15, 1000.0, 0.0])
    assert hot_flow_factor(kelvin, 0.08) == pytest.approx([1.08, 1.0, 0.92, 0.84, 0.5, 1.1])
