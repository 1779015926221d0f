"""What every hydraulic law of the network promises: slopes that are its derivatives, and the signs of the slopes."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.laws.filter import FILTER, FilterCoefficients
from fuelsim.laws.friction import LINE, line_coefficients
from fuelsim.laws.injector import INJECTOR, InjectorCoefficients
from fuelsim.laws.link import SHUT_SLOPE
from fuelsim.laws.orifice import ORIFICE, orifice_coefficients
from fuelsim.laws.pump_curve import PUMP_CURVE, PumpCoefficients, uniform_table
from fuelsim.laws.regulator import (
    CONTROLLED_PUMP,
    REDUCING_REGULATOR,
    RETURN_REGULATOR,
    ControlledPumpCoefficients,
    ReducingRegulatorCoefficients,
    ReturnRegulatorCoefficients,
)
from fuelsim.laws.valve import CHECK_VALVE, CheckValveCoefficients, check_valve_loss, check_valve_regime

L_H = 1.0 / 3.6e6
RAMP = 2e-6 * L_H


def pump_coefficients():
    share = np.linspace(0.0, 1.0, 9)
    largest, rise, slope = uniform_table(200.0 * L_H * share, 6e5 * (1.0 - share**2))
    return PumpCoefficients(largest, rise[:, None, None], slope[:, None, None], np.inf)


def laminar_to_turbulent():
    """Flows around the joins at Re 2000 and 4000 of an 8 mm line and over the whole range."""
    per_flow = line_coefficients(1.0, 0.008, 0.0, 0.0, 0.0, 740.0, 0.6e-6).reynolds_per_flow
    return np.array([1.0, 500.0, 1999.9, 2000.0, 2000.1, 2500.0, 3000.0, 3999.9, 4000.0, 4000.1, 2e4, 1e5]) / per_flow


AROUND_ZERO = np.array([-1e-3, -3e-6, -1.9e-6, -1e-6, -1e-7, 0.0, 1e-7, 1e-6, 1e-3, 1.0, 50.0, 200.0]) * L_H

LOSSES = {
    "line": (LINE, line_coefficients(1.0, 0.008, 1.5e-6, 3.0, 800.0, 740.0, 0.6e-6), laminar_to_turbulent()),
    "orifice": (ORIFICE, orifice_coefficients(1e-3, 0.61, 740.0, 0.6e-6), np.geomspace(1e-4, 100.0, 30) * L_H),
    "check valve": (CHECK_VALVE, CheckValveCoefficients(3e3, 1e8, 1e13), AROUND_ZERO),
    "pump": (
        PUMP_CURVE,
        pump_coefficients(),
        np.array([-30.0, -6.25, -3.0, -1e-3, 0.0, 1e-3, 6.25, 100.0, 199.999, 200.0, 203.0, 206.25, 230.0]) * L_H,
    ),
    "filter": (FILTER, FilterCoefficients(1e8, 1e13), np.geomspace(1e-4, 300.0, 30) * L_H),
}


def curvature_at(flow, step):
    """What the curvature of a ramp towards a shut direction may add to a difference over a step."""
    return np.where(np.abs(flow) < 2.0 * RAMP, SHUT_SLOPE * step / RAMP, 0.0)


def step_at(flow):
    """A step small against the flow and against the ramp of a shut direction near zero flow."""
    return np.where(np.abs(flow) < 1e-4 * L_H, 1e-4 * RAMP, 1e-6 * np.abs(flow))


@pytest.mark.parametrize("name", LOSSES)
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_slope_of_a_loss_is_its_derivative_and_positive(name, sign):
    law, coefficients, flows = LOSSES[name]
    flow = (sign * flows)[None]
    assert law.loss is not None
    _, slope = law.loss(flow, coefficients)
    step = step_at(flow)
    above, below = (law.loss(flow + shift, coefficients)[0] for shift in (step, -step))
    numeric = (above - below) / (2.0 * step)
    assert slope.min() > 0.0
    # Rounding of the loss over the step is all that may differ, beside the curvature within one step.
    rounding = 4e-16 * np.abs(above) / step
    allowed = 2e-3 * np.abs(slope) + rounding + curvature_at(flow, step)
    assert np.all(np.abs(numeric - slope) <= allowed)


EQUATIONS = {
    "return regulator": (RETURN_REGULATOR, ReturnRegulatorCoefficients(3e5, 2.88e8, 2e7, 5e13, 0.03)),
    "reducing regulator": (REDUCING_REGULATOR, ReducingRegulatorCoefficients(3e5, 2.88e8, 2e7, 5e13)),
    "controlled pump": (CONTROLLED_PUMP, ControlledPumpCoefficients(*pump_coefficients(), 3e5, 2.88e8, 1e10)),
    "injector": (INJECTOR, InjectorCoefficients(1e-5, 4e-8)),
}


@pytest.mark.parametrize("name", EQUATIONS)
def test_slopes_of_an_equation_are_its_derivatives_with_the_promised_signs(name):
    law, coefficients = EQUATIONS[name]
    assert law.equation is not None
    random = np.random.default_rng(5)
    flow = np.concatenate([AROUND_ZERO, random.uniform(-0.01, 250.0, 300) * L_H])[None]
    count = flow.shape[1]
    p_down, p_reference = (random.uniform(0.5e5, 3e5, (1, count)) for _ in range(2))
    # A third of the points lies on the join of regulating and wide open, the rest anywhere.
    p_up = np.where(random.random((1, count)) < 0.3, p_reference + 3e5, random.uniform(1e5, 9e5, (1, count)))
    found = law.equation(flow, p_up, p_down, p_reference, coefficients)
    values = [np.broadcast_to(part, flow.shape) for part in found]
    assert values[1].min() > 0.0
    assert min(values[2].min(), values[3].min()) >= 0.0
    assert max(values[2].max(), values[3].max()) <= 1.0 + 1e-12
    arguments = [flow, p_up, p_down, p_reference]
    for position, slope in enumerate((values[1], -values[2], values[3], values[4])):
        step = step_at(flow) if position == 0 else np.full(flow.shape, 0.5)
        ends = []
        for shift in (step, -step):
            moved = list(arguments)
            moved[position] = moved[position] + shift
            ends.append(law.equation(*moved, coefficients).residual)
        numeric = (ends[0] - ends[1]) / (2.0 * step)
        rounding = 4e-16 * (np.abs(ends[0]) + 2e6) / step
        bound = 2e-3 * np.abs(slope) + rounding + (curvature_at(flow, step) if position == 0 else 2e-3)
        assert np.all(np.abs(numeric - slope) <= bound), (name, position)


def test_check_valve_is_continuous_at_cracking_and_holds_back():
    flow = np.array([-1e-3, -2e-6, 0.0, 1e-9]) * L_H
    coefficients = CheckValveCoefficients(3e3, 1e8, 1e13)
    loss, _ = check_valve_loss(flow, coefficients)
    assert loss[0] == pytest.approx(-1e6 + 3e3, rel=2e-3)
    assert loss[2] == 3e3
    assert np.diff(loss).min() > 0.0
    assert check_valve_regime(flow, 0.0, 0.0, 0.0, coefficients).tolist() == [1, 1, 1, 1]


def test_what_is_shut_leaks_too_little_to_read():
    leak = 1e6 / SHUT_SLOPE
    assert leak == pytest.approx(1e-3 * L_H)


def test_orifice_turns_linear_in_laminar_flow():
    c = orifice_coefficients(1e-3, 0.61, 740.0, 0.6e-6)
    laminar = c.laminar_flow
    assert ORIFICE.loss is not None
    small, _ = ORIFICE.loss(np.array([1e-3 * laminar, 2e-3 * laminar]), c)
    large, _ = ORIFICE.loss(np.array([1e3 * laminar, 2e3 * laminar]), c)
    assert small[1] / small[0] == pytest.approx(2.0, rel=1e-5)
    assert large[1] / large[0] == pytest.approx(4.0, rel=1e-5)


def test_pump_table_meets_a_parabola_and_continues_steeply():
    flow = np.linspace(0.0, 80e-6, 33)
    pressure = 580e3 * (1.0 - (flow / 80e-6) ** 2)
    largest, rise, slope = uniform_table(flow, pressure)
    coefficients = PumpCoefficients(largest, rise[:, None, None], slope[:, None, None], np.inf)
    between = np.linspace(1e-6, 79e-6, 500)[None]
    loss, _ = LOSSES["pump"][0].loss(between, coefficients)
    assert np.abs(-loss - 580e3 * (1.0 - (between / 80e-6) ** 2)).max() < 10.0
    outside, _ = LOSSES["pump"][0].loss(np.array([[-5e-6, 85e-6]]), coefficients)
    assert -outside[0, 0] > 580e3 + 300e3
    assert -outside[0, 1] < -300e3


def test_a_bench_table_may_start_beyond_zero_flow():
    """EPANET issue 897 asked for a pump curve that need not start at zero flow."""
    largest, rise, _ = uniform_table(np.array([60e-6, 70e-6, 78e-6]), np.array([5e5, 3e5, 1e5]))
    assert largest > 78e-6
    assert rise[0] > 5e5
    assert np.all(np.diff(rise) < 0.0)
