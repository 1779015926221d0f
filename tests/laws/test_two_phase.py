"""The homogeneous mixture: its limits, and a void-fraction rule of the general-purpose library ``fluids``."""

from __future__ import annotations

import fluids
import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given, settings
from hypothesis import strategies as st

from fuelsim.laws.friction import line_coefficients, line_loss
from fuelsim.laws.two_phase import (
    VAPOUR_VISCOSITY,
    mixture_density,
    mixture_viscosity,
    vapour_density,
    vapour_mass_fraction,
)

LIQUID, VAPOUR = 700.0, 2.6


def test_without_vapour_the_mixture_is_the_liquid():
    assert mixture_density(LIQUID, VAPOUR, 0.0) == LIQUID
    assert mixture_viscosity(4e-4, VAPOUR_VISCOSITY, 0.0) == 4e-4
    assert vapour_mass_fraction(LIQUID, VAPOUR, 0.0) == 0.0


def test_with_vapour_alone_the_mixture_is_the_vapour():
    assert mixture_density(LIQUID, VAPOUR, 1e9) == pytest.approx(VAPOUR, rel=1e-5)
    assert mixture_viscosity(4e-4, VAPOUR_VISCOSITY, 1e9) == pytest.approx(VAPOUR_VISCOSITY, rel=1e-5)
    assert vapour_mass_fraction(LIQUID, VAPOUR, 1e9) == pytest.approx(1.0, rel=1e-5)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(ratio=st.floats(1e-4, 50.0))
def test_density_and_viscosity_are_those_of_the_homogeneous_void_fraction(ratio):
    """Source: ``fluids.two_phase_voidage``: homogeneous void fraction, and the viscosity rule it calls Duckler's."""
    quality = float(vapour_mass_fraction(LIQUID, VAPOUR, ratio))
    void = fluids.two_phase_voidage.homogeneous(x=quality, rhol=LIQUID, rhog=VAPOUR)
    assert void == pytest.approx(ratio / (1.0 + ratio), rel=1e-9)
    assert mixture_density(LIQUID, VAPOUR, ratio) == pytest.approx(void * VAPOUR + (1.0 - void) * LIQUID, rel=1e-9)
    judge = fluids.two_phase_voidage.gas_liquid_viscosity(
        x=quality, mul=4e-4, mug=VAPOUR_VISCOSITY, rhol=LIQUID, rhog=VAPOUR, Method="Duckler"
    )
    assert mixture_viscosity(4e-4, VAPOUR_VISCOSITY, ratio) == pytest.approx(judge, rel=1e-9)


def test_loss_of_a_line_grows_without_a_jump_as_vapour_appears():
    """The loss of a mixture at a fixed mass flow is that of fluid (1 + V/L) times as thin, so it starts from the
    liquid's own and rises by nearly the swelling."""
    ratio = np.concatenate([[0.0], np.geomspace(1e-6, 2.0, 200)])
    density = mixture_density(LIQUID, 0.0, ratio)
    viscosity = mixture_viscosity(4e-4, VAPOUR_VISCOSITY, ratio)
    mass_flow = 0.025
    loss, _ = line_loss(
        mass_flow / density, line_coefficients(2.0, 0.0065, 1.5e-6, 2.0, 0.0, density, viscosity / density)
    )
    assert np.all(np.diff(loss) > 0.0)
    assert loss[1] / loss[0] - 1.0 < 2e-6
    assert loss[-1] / loss[0] == pytest.approx(3.0, rel=0.25)


def test_vapour_density_is_that_of_an_ideal_gas():
    """Source: molar volume at 0 degC and 101.325 kPa, 22.414 L/mol."""
    assert vapour_density(273.15, 101325.0, 0.022414) == pytest.approx(1.0, rel=1e-4)


def test_petrol_s_vapour_is_as_viscous_as_butanes_and_pentanes():
    """Judge: CoolProp at 330 K and 30 kPa, the mean of four."""
    names = ("n-Butane", "IsoButane", "n-Pentane", "Isopentane")
    mean = np.mean([PropsSI("V", "T", 330.0, "P", 3e4, name) for name in names])
    assert pytest.approx(mean, rel=0.05) == VAPOUR_VISCOSITY
