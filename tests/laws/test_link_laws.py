"""What every hydraulic law of the network promises: slopes that are its derivatives, and the signs of the slopes.

Laws are found by walking the package, so a new law is checked as soon as it exists.
"""

from __future__ import annotations

import dataclasses
import importlib
import pkgutil

import numpy as np
import pytest

import fuelsim.laws
from fuelsim.laws.filter import FILTER
from fuelsim.laws.link import SHUT_SLOPE, LinkLaw
from fuelsim.laws.orifice import ORIFICE, orifice_coefficients
from fuelsim.laws.pump_curve import PUMP_CURVE, PumpCoefficients, uniform_table
from fuelsim.laws.valve import CheckValveCoefficients, check_valve_loss, check_valve_regime

L_H = 1.0 / 3.6e6


def laws_of(package):
    """Every link law that stands in a module of a package, by its place."""
    found = {}
    for module in pkgutil.walk_packages(package.__path__, package.__name__ + "."):
        for name, value in vars(importlib.import_module(module.name)).items():
            if isinstance(value, LinkLaw) and value not in found.values():
                found[f"{module.name.removeprefix(package.__name__ + '.')}.{name}"] = value
    return found


LAWS = laws_of(fuelsim.laws)
every_law = pytest.mark.parametrize("law", LAWS.values(), ids=LAWS.keys())


def samples_of(law):
    assert law.sample is not None, f"the law '{law.name}' has no sample to check its slopes with"
    samples = law.sample()
    assert samples, f"the law '{law.name}' has an empty sample"
    for sample in samples:
        assert isinstance(sample.coefficients, law.coefficients)
        assert sample.flow.min() < 0.0 < sample.flow.max(), f"the sample of '{law.name}' has flows of one direction"
    return samples


def pressures_for(sample, count):
    """Random pressures; a third of the points within a few pascals of where two pieces of the law meet."""
    random = np.random.default_rng(5)
    p_down, p_reference = (random.uniform(0.5e5, 3e5, count) for _ in range(2))
    p_up = random.uniform(1e5, 9e5, count)
    for join in sample.pressure_joins:
        met = random.random(count) < 0.3
        p_up = np.where(met, p_reference + join + random.uniform(-60.0, 60.0, count), p_up)
        below = random.random(count) < 0.5
        p_down = np.where(met & below, p_up, p_down)
    return p_up[None], p_down[None], p_reference[None]


def assert_slope(name, flow_or_pressure, value_at, slope_at, magnitude):
    """Hold a slope against central differences, which lie within the slopes at both ends of the step.

    `magnitude` is that of the terms which the value is the sum of: its rounding is all that may differ.
    """
    smallest = np.min(np.abs(flow_or_pressure[flow_or_pressure != 0.0]))
    step = 1e-5 * np.maximum(np.abs(flow_or_pressure), smallest)
    above, below = value_at(flow_or_pressure + step), value_at(flow_or_pressure - step)
    slope, *ends = (np.broadcast_to(slope_at(flow_or_pressure + side * step), step.shape) for side in (0.0, 1.0, -1.0))
    numeric = (above - below) / (2.0 * step)
    curvature = np.maximum(*(np.abs(end - slope) for end in ends))
    rounding = 4e-16 * (np.abs(above) + np.abs(below) + magnitude) / step
    allowed = 1e-3 * np.abs(slope) + curvature + rounding
    off = np.abs(numeric - slope) > allowed
    assert not off.any(), f"{name} is not the derivative at {flow_or_pressure[off][:3]}"
    return np.mean(allowed < 0.1 * np.abs(slope))


def check_slopes(law):
    """Check every slope of a law over its sample; return over what part of the flows the check was sharp."""
    check = check_slope_of_loss if law.equation is None else check_slopes_of_equation
    return min(check(law, sample) for sample in samples_of(law))


def check_slope_of_loss(law, sample):
    c, flow = sample.coefficients, sample.flow[None]
    assert law.loss(flow, c)[1].min() > 0.0, f"the loss of '{law.name}' does not rise with the flow"
    return assert_slope("the slope", flow, lambda q: law.loss(q, c)[0], lambda q: law.loss(q, c)[1], 0.0)


def check_slopes_of_equation(law, sample):
    c, flow = sample.coefficients, sample.flow[None]
    arguments = (flow, *pressures_for(sample, flow.shape[1]))
    found = law.equation(*arguments, c)
    assert np.min(found.flow_slope) > 0.0, f"the equation of '{law.name}' does not rise with the flow"
    takes_gas = np.any(np.asarray(getattr(c, "displaced_slope", 0.0)) < 0.0)
    for slope, most in ((found.up_slope, np.inf if takes_gas else 1.0), (found.down_slope, 1.0)):
        assert np.min(slope) >= 0.0
        assert np.max(slope) <= most + 1e-12
    signs = {"flow_slope": 1.0, "up_slope": -1.0, "down_slope": 1.0, "reference_slope": 1.0}
    sharp = []
    for position, (name, sign) in enumerate(signs.items()):

        def at(x, position=position):
            return law.equation(*arguments[:position], x, *arguments[position + 1 :], c)

        def slope_at(x, at=at, name=name, sign=sign):
            return sign * np.asarray(getattr(at(x), name))

        title = f"{name} of '{law.name}'"
        sharp.append(assert_slope(title, arguments[position], lambda x, at=at: at(x).residual, slope_at, 4e6))
    return sharp[0]


def test_the_laws_of_all_parts_are_found():
    assert {"FILTER", "CONTROLLED_PUMP", "PUMP_CURVE"} <= {place.rpartition(".")[2] for place in LAWS}


@every_law
def test_slopes_are_derivatives_with_the_promised_signs(law):
    assert check_slopes(law) > 0.5, "the check is too blunt over too many of the flows"


def with_slope_factor(law, factor):
    """The same law with a wrong flow slope."""
    if law.loss is not None:
        return dataclasses.replace(law, loss=lambda q, c: (law.loss(q, c)[0], factor * law.loss(q, c)[1]))

    def equation(*arguments):
        found = law.equation(*arguments)
        return found._replace(flow_slope=factor * found.flow_slope)

    return dataclasses.replace(law, equation=equation)


@every_law
@pytest.mark.parametrize("factor", [0.5, 1.02, -1.0])
def test_a_law_with_a_wrong_slope_is_refused(law, factor):
    with pytest.raises(AssertionError, match=r"not the derivative|does not rise"):
        check_slopes(with_slope_factor(law, factor))


def test_a_law_without_a_sample_is_refused():
    with pytest.raises(AssertionError, match="no sample"):
        check_slopes(dataclasses.replace(FILTER, sample=None))


@every_law
def test_names_of_tables_and_series_are_coefficients(law):
    assert (law.loss is None) != (law.equation is None)
    assert {*law.tables, *law.series, *law.absolute} <= {*law.coefficients._fields}
    assert bool(law.series) == (law.split is not None)
    assert law.head_applied_at in ("up", "down")


@every_law
def test_typical_flow_and_kinks_are_usable(law):
    for sample in samples_of(law):
        if law.typical_flow is not None:
            typical = np.asarray(law.typical_flow(sample.coefficients))
            assert np.all(np.isfinite(typical))
            assert np.all(typical >= 0.0)
        if law.kinks is not None:
            low, high, margin = law.kinks(sample.coefficients)
            assert np.all(np.asarray(low) < high)
            assert np.all(np.asarray(margin) > 0.0)


@every_law
def test_regime_is_an_index_into_the_words(law):
    if law.regime is None:
        assert len(law.regimes) == 1
        return
    for sample in samples_of(law):
        flow = sample.flow[None]
        regime = law.regime(flow, *pressures_for(sample, flow.shape[1]), sample.coefficients)
        assert np.all((regime >= 0) & (regime < len(law.regimes)))


@every_law
def test_lines_in_series_lose_what_each_loses(law):
    if not law.series:
        return
    for sample in samples_of(law):
        one, flow = sample.coefficients, sample.flow
        other = one._replace(**{key: 2.5 * getattr(one, key) for key in law.series})
        both = one._replace(**{key: getattr(one, key) + getattr(other, key) for key in law.series})
        merged = law.loss(flow, both)
        parts = [law.loss(flow, own) for own in (one, other)]
        for whole, first, second in zip(merged, *parts, strict=True):
            assert whole == pytest.approx(first + second, rel=1e-12)
        for own, expected in zip((one, other), parts, strict=True):
            for value, wanted in zip(law.split(flow, *merged, both, own), expected, strict=True):
                assert value == pytest.approx(wanted, rel=1e-9)


def test_check_valve_is_continuous_at_cracking_and_holds_back():
    flow = np.array([-1e-3, -2e-6, 0.0, 1e-9]) * L_H
    coefficients = CheckValveCoefficients(3e3, 1e8, 1e13)
    loss, _ = check_valve_loss(flow, coefficients)
    assert loss[0] == pytest.approx(-1e6 + 3e3, rel=2e-3)
    assert loss[2] == 3e3
    assert np.diff(loss).min() > 0.0
    assert check_valve_regime(flow, 0.0, 0.0, 0.0, coefficients).tolist() == [1, 1, 1, 1]


def test_a_check_valve_is_called_shut_below_a_hundredth_of_a_litre_per_hour():
    coefficients = CheckValveCoefficients(3e3, 1e8, 1e13)
    flow = np.array([0.0098, 0.0102]) * L_H
    assert check_valve_regime(flow, 0.0, 0.0, 0.0, coefficients).tolist() == [1, 0]


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
    loss, _ = PUMP_CURVE.loss(between, coefficients)
    assert np.abs(-loss - 580e3 * (1.0 - (between / 80e-6) ** 2)).max() < 10.0
    outside, _ = PUMP_CURVE.loss(np.array([[-5e-6, 85e-6]]), coefficients)
    assert -outside[0, 0] > 580e3 + 300e3
    assert -outside[0, 1] < -300e3


def test_a_bench_table_may_start_beyond_zero_flow():
    """EPANET issue 897 asked for a pump curve that need not start at zero flow."""
    largest, rise, _ = uniform_table(np.array([60e-6, 70e-6, 78e-6]), np.array([5e5, 3e5, 1e5]))
    assert largest > 78e-6
    assert rise[0] > 5e5
    assert np.all(np.diff(rise) < 0.0)
