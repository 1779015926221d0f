"""Weathering of a fuel in a vented tank."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.fuel.fuel import Fuel


def test_weathering_lowers_vapour_pressure_and_raises_the_vapour_liquid_temperature() -> None:
    fuels = [Fuel.named("winter_e10").weathered(loss) for loss in (0.0, 0.02, 0.05, 0.10, 0.20)]
    assert (np.diff([fuel.dvpe() for fuel in fuels]) < 0.0).all()
    assert (np.diff([fuel.vapour_liquid_temperature() for fuel in fuels]) > 0.0).all()
    assert (np.diff([fuel.density_at_15 for fuel in fuels]) > 0.0).all()


def test_a_small_loss_takes_vapour_of_the_equilibrium_composition(summer_e0: Fuel) -> None:
    loss = 1e-4
    left = summer_e0.weathered(loss, 298.15)
    vapour = summer_e0.flash(298.15, summer_e0.bubble_pressure(298.15) * 0.999999).vapour[:, 0]
    mass = summer_e0.mixture.species.molar_mass
    expected = np.array(summer_e0.fractions) / summer_e0.molar_mass - loss * vapour / (mass @ vapour)
    assert left.fractions == pytest.approx(expected / expected.sum(), rel=1e-5)


def test_vapour_driven_out_of_a_warming_tank_is_that_of_the_wade_reddy_equation() -> None:
    """RVP 9 psi, 60 to 84 degF: 1.32 g per US gallon of vapour space (EPA MOVES form), 1.45 from first principles."""
    fuel = Fuel.petrol("9 psi")
    lost = fuel.weathered_in_tank(["60 degF", "84 degF"], vapour_space=1.0).mass_lost
    assert lost * fuel.density_at_15 * 3.785 == pytest.approx(1.4, abs=0.12)


def test_a_hot_vented_tank_boils_until_the_fuel_no_longer_does() -> None:
    hot = Fuel.named("winter_e10").weathered_in_tank([293.15, 328.15], vapour_space=0.5)
    assert hot.mass_lost > 0.02
    assert hot.fuel.bubble_pressure(328.15) <= 101325.0 * 1.001
