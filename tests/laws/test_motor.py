"""A straight pump curve at other voltages, by hand."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.laws.motor import PumpMap, _bisected, _Drives, drive_delivering

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
    """By hand: 1 mL/s less for each volt, from 10 mL/s at 13.5 V and 200 kPa; the ends where no drive gives the flow."""
    flow = np.array([-1.0, 0.0, 10e-6, 131.4e-6, 1.0])
    assert drive_delivering(STRAIGHT, flow, 2e5) == pytest.approx([0.0, 3.5, 13.5, 134.9, 135.0], rel=1e-9)
