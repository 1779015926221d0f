"""Air dissolved in fuel."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.fuel.molecules.dissolved_air import ostwald_coefficient, released_gas_ratio


def test_solubility_of_air_is_that_of_astm_d2779() -> None:
    """0.181, 0.206, 0.229, 0.252 at 0, 20, 40, 60 degC for 0.74 kg/L (ASTM D2779, equations from memory)."""
    t = np.array([273.15, 293.15, 313.15, 333.15])
    assert ostwald_coefficient(t, 740.0) == pytest.approx([0.181, 0.206, 0.229, 0.252], abs=0.001)


def test_released_gas_follows_the_ideal_balance() -> None:
    """20 degC, L 0.205, pv 36 kPa, p0 101.3: 0.022, 0.043, 0.099, 0.189 at 95, 90, 80, 70 kPa (own analysis)."""
    found = released_gas_ratio(0.205, 101.3e3, np.array([95e3, 90e3, 80e3, 70e3]), 36e3)
    assert found == pytest.approx([0.022, 0.043, 0.099, 0.189], abs=0.001)
