"""Filter law: slopes, symmetry, scaling."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fuelsim.laws.filter import FilterCoefficients, filter_coefficients, filter_loss
from fuelsim.liquid import Liquid
from fuelsim.network.network import Network
from fuelsim.parts.filter import REFERENCE_PETROL_DENSITY, REFERENCE_PETROL_VISCOSITY, Filter

FLOWS = st.floats(-5e-4, 5e-4)


@given(FLOWS, st.floats(1e6, 1e10), st.floats(0.0, 1e13))
@settings(max_examples=60, derandomize=True, deadline=None)
def test_filter_slope_is_the_derivative_of_the_loss(flow, viscous, inertial):
    step, c = 1e-9, FilterCoefficients(viscous, inertial)
    loss, slope = filter_loss(flow, c)
    above, below = (filter_loss(flow + side, c)[0] for side in (step, -step))
    assert slope == pytest.approx((above - below) / (2.0 * step), rel=1e-4, abs=inertial * 2 * step)
    assert slope >= viscous
    assert loss == pytest.approx(-filter_loss(-flow, c)[0])


def test_clogging_multiplies_only_the_viscous_part():
    now = (745.0, 0.45e-3, 745.0, 0.45e-3)
    clean = filter_loss(1e-4, filter_coefficients(1e-4, 10e3, 0.8, 1.0, *now))[0]
    spent = filter_loss(1e-4, filter_coefficients(1e-4, 10e3, 0.8, 10.0, *now))[0]
    assert clean == pytest.approx(10e3)
    assert spent == pytest.approx(82e3)


def test_viscosity_scales_the_viscous_and_density_the_inertial_part():
    thick = filter_coefficients(1e-4, 10e3, 0.8, 1.0, 745.0, 0.9e-3, 745.0, 0.45e-3)
    dense = filter_coefficients(1e-4, 10e3, 0.8, 1.0, 1490.0, 0.45e-3, 745.0, 0.45e-3)
    assert np.ravel(filter_loss(1e-4, thick)[0]) == pytest.approx(18e3)
    assert np.ravel(filter_loss(1e-4, dense)[0]) == pytest.approx(12e3)


def test_filter_form_reproduces_the_viscous_and_inertial_parts_of_a_packed_bed():
    """0.1 mm grains, voidage 0.4, 2 mm, 0.01 m/s: 749.25 + 24.28 Pa (Ergun, fluids.packed_bed.Ergun)."""
    fluids = pytest.importorskip("fluids")
    density, viscosity, speed = 740.0, 0.6e-6 * 740.0, 0.01
    published = fluids.packed_bed.Ergun(dp=1e-4, voidage=0.4, vs=speed, rho=density, mu=viscosity, L=2e-3)
    assert published == pytest.approx(773.531, abs=0.01)
    coefficients = filter_coefficients(speed, 773.531, 749.25 / 773.531, 1.0, density, viscosity, density, viscosity)
    for factor in (0.1, 0.5, 3.0):
        expected = fluids.packed_bed.Ergun(dp=1e-4, voidage=0.4, vs=factor * speed, rho=density, mu=viscosity, L=2e-3)
        assert filter_loss(factor * speed, coefficients)[0] == pytest.approx(expected, rel=1e-4)


def test_a_purely_quadratic_filter_loses_with_the_square_of_the_flow():
    petrol = Liquid(density=REFERENCE_PETROL_DENSITY, kinematic_viscosity=1e-6)
    mesh = Filter(rated_flow="120 L/h", rated_drop="8 kPa", viscous_share=0.0)
    rated = 120e-3 / 3600.0
    loss, slope = filter_loss(np.array([-0.5, 0.0, 0.25, 1.0, 2.0]) * rated, mesh.coefficients(petrol))
    assert loss == pytest.approx([-2e3, 0.0, 500.0, 8e3, 32e3], rel=1e-4)
    assert slope.min() > 0.0


def test_a_network_with_a_purely_quadratic_filter_is_solved_also_where_nothing_flows():
    """Two equal filters in parallel from 8 kPa carry 120 L/h each, one before a dead end none."""
    mesh = Filter(rated_flow="120 L/h", rated_drop="8 kPa", viscous_share=0.0)
    petrol = Liquid(density=REFERENCE_PETROL_DENSITY, kinematic_viscosity=REFERENCE_PETROL_VISCOSITY / 745.0)
    net = Network(101325.0)
    net.add_reservoir("high", pressure=101325.0 + 16e3)
    net.add_reservoir("low", pressure=101325.0)
    for name in ("middle", "other", "end"):
        net.add_node(name)
    for start, stop in (
        ("high", "middle"),
        ("high", "other"),
        ("middle", "other"),
        ("middle", "low"),
        ("other", "low"),
    ):
        net.connect(start, stop, mesh, name=f"{start}-{stop}")
    net.connect("other", "end", mesh, name="dead end")
    state = net.solve(petrol)
    assert state.outcome.converged
    assert state.flow["high-middle"] * 3.6e6 == pytest.approx(120.0, rel=1e-4)
    assert abs(state.flow["middle-other"]) * 3.6e6 < 0.01
    assert state.pressure["end"] == pytest.approx(101325.0 + 8e3, abs=2.0)
