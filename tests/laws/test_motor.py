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
    loaded_voltage,
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
def test_bench_flows_are_found_without_newton_s_method_from_far_below_zero_to_far_beyond_run_out(wire):
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


def test_a_curved_pump_behind_a_wire_meets_the_same_equations_without_bisection(monkeypatch):
    """Judge: scipy on q(s) = s + A(s) (V(s) - V_bench), V = U - R I(s), tables straight between their nine rows."""
    monkeypatch.delattr(motor, "_bisected")
    part = np.linspace(0.0, 1.0, 9)
    grid = STRAIGHT.free_flow * part
    curved = STRAIGHT._replace(
        step=float(grid[1]),
        pressure=4e5 * (1.0 - part**3),
        current=8.0 - 4.0 * part**2,
        flow_per_drive=1e-6 * (1.0 + 0.5 * part**2)[None],
    )

    def delivered(bench_flow):
        voltage = 9.0 - 0.3 * np.interp(bench_flow, grid, curved.current)
        return bench_flow + np.interp(bench_flow, grid, curved.flow_per_drive[0]) * (voltage - 13.5)

    largest, rise, _ = running_curve(curved, 9.0, 0.3, 1.0, knots=7)
    assert largest[0] == pytest.approx(delivered(curved.free_flow), rel=1e-12)
    for flow, pressure in zip(np.linspace(0.0, largest[0], 7)[:-1], rise[:-1, 0], strict=True):
        bench_flow = brentq(lambda s, flow=flow: delivered(s) - flow, 0.0, curved.free_flow, xtol=1e-18)
        assert pressure == pytest.approx(np.interp(bench_flow, grid, curved.pressure), abs=1.0)
