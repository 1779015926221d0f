"""The standard atmosphere against an independent implementation."""

import numpy as np
import pytest

from fuelsim.errors import InputError
from fuelsim.laws.atmosphere import standard_pressure


def test_pressure_agrees_with_the_1976_standard_atmosphere_of_fluids():
    from fluids.atmosphere import ATMOSPHERE_1976

    heights = np.linspace(-400.0, 5000.0, 28)
    expected = [ATMOSPHERE_1976(height).P for height in heights]
    # fluids counts geometric height, the formula geopotential height: 0.07 % apart at 5000 m.
    assert standard_pressure(heights) == pytest.approx(expected, rel=1e-3)
    assert standard_pressure(0.0) == 101325.0


def test_pressure_at_3236_m_is_the_published_68_kilopascal():
    # Trade figure for a mountain pass; US Standard Atmosphere 1976.
    assert standard_pressure(3236.0) == pytest.approx(68e3, rel=5e-3)


@pytest.mark.parametrize("altitude", [-2000.0, 20_000.0])
def test_altitude_outside_the_lowest_layer_is_refused(altitude):
    with pytest.raises(InputError, match="-1000 to 11000 m"):
        standard_pressure([0.0, altitude])
