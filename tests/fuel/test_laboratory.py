"""Distillation, calibration, classes, dissolved air, weathering and burning."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.errors import InputError
from fuelsim.fuel.classes import volatility_classes
from fuelsim.fuel.fuel import Fuel
from fuelsim.fuel.molecules.dissolved_air import ostwald_coefficient, released_gas_ratio
from fuelsim.fuel.phase_equilibrium.distillation import distil


def test_a_distillation_rises_and_its_readings_invert(summer_e10: Fuel) -> None:
    curve = summer_e10.distillation()
    assert (np.diff(curve.temperature) >= 0.0).all()
    assert curve.evaporated_at(curve.temperature_at(0.4)) == pytest.approx(0.4)
    assert curve.initial_boiling_point < curve.temperature_at(0.1) < curve.end_point


def test_ethanol_flattens_the_distillation_below_its_boiling_point() -> None:
    """Azeotropes: an E10 has a plateau under 78 degC, so its E70 lies well above that of an E0 of equal DVPE."""
    e0, e10 = Fuel.petrol("60 kPa").distillation(), Fuel.petrol("60 kPa", ethanol=0.10).distillation()
    assert e10.evaporated_at(343.15) > e0.evaporated_at(343.15) + 0.08
    assert e10.temperature_at(0.5) < e0.temperature_at(0.5)
    assert e10.temperature_at(0.9) == pytest.approx(e0.temperature_at(0.9), abs=5.0)


def test_without_reflux_a_pot_starts_at_the_bubble_point(summer_e0: Fuel) -> None:
    start = distil(summer_e0.mixture, summer_e0.composition, reflux=0.0)[0, 0]
    assert start == pytest.approx(summer_e0.bubble_temperature(101325.0), abs=0.01)


def test_reflux_lowers_the_initial_boiling_point(summer_e0: Fuel) -> None:
    starts = [distil(summer_e0.mixture, summer_e0.composition, reflux=share)[0, 0] for share in (0.0, 0.15, 0.3)]
    assert starts[0] > starts[1] > starts[2]


def test_a_petrol_meets_density_aromatics_and_distillation_together_and_reports_residuals() -> None:
    fuel = Fuel.petrol("58 kPa", density="750 kg/m3", aromatics="33 %", t50="100 degC")
    assert fuel.dvpe() == pytest.approx(58e3, abs=300.0)
    assert fuel.density_at_15 == pytest.approx(750.0, abs=1.0)
    assert fuel.family_fraction("aromatic") == pytest.approx(0.33, abs=0.005)
    assert fuel.distillation().temperature_at(0.5) - 273.15 == pytest.approx(100.0, abs=1.0)
    assert fuel.calibration is not None
    assert set(fuel.calibration.residuals) == {"vapour_pressure", "density", "aromatics", "t50"}


def test_a_petrol_meets_evaporated_fractions_with_ethanol() -> None:
    fuel = Fuel.petrol("60 kPa", ethanol=0.10, e70="42 %", e100="56 %", e150="88 %")
    curve = fuel.distillation()
    assert curve.evaporated_at([343.15, 373.15, 423.15]) == pytest.approx([0.42, 0.56, 0.88], abs=0.01)
    assert fuel.ethanol == pytest.approx(0.10)


def test_a_petrol_meets_a_vapour_liquid_temperature_alone() -> None:
    assert Fuel.petrol(vapour_liquid_temperature="60 degC").vapour_liquid_temperature() == pytest.approx(
        333.15, abs=0.3
    )


def test_ether_and_methanol_can_be_asked_for() -> None:
    fuel = Fuel.petrol("60 kPa", ether=0.10, methanol=0.03)
    assert fuel.family_fraction("ether") == pytest.approx(0.10)
    assert fuel.volume_fractions["methanol"] == pytest.approx(0.03)


def test_contradicting_targets_are_explained_with_what_the_nearest_petrol_reaches() -> None:
    with pytest.raises(InputError, match=r"T10: wanted 35\.0 degC, reached .* has the largest residual, relax it first"):
        Fuel.petrol("45 kPa", t10="35 degC")


def test_vapour_lock_and_driveability_indices_follow_their_definitions(summer_e10: Fuel) -> None:
    curve = summer_e10.distillation()
    vli = 10.0 * summer_e10.dvpe() / 1e3 + 7.0 * 100.0 * curve.evaporated_at(343.15)
    assert summer_e10.vapour_lock_index == pytest.approx(vli)
    assert 400.0 < summer_e10.driveability_index < 650.0


def test_every_class_has_a_petrol_that_passes_it() -> None:
    for item in volatility_classes():
        if item.full_name in ("EN 228 A", "ASTM D4814 vapour lock 3", "ASTM D5798 2"):
            checks = Fuel.of_class(item.full_name).volatility_classes()
            assert next(check for check in checks if check.volatility_class == item).passed
        assert item.source


def test_winter_fuel_breaks_the_summer_classes_by_its_vapour_pressure() -> None:
    checks = {check.volatility_class.full_name: check for check in Fuel.named("winter_e10").volatility_classes()}
    assert "vapour_pressure" in checks["EN 228 A"].broken
    assert "vapour_liquid_temperature" in checks["ASTM D4814 vapour lock 1"].broken


def test_solubility_of_air_is_that_of_astm_d2779() -> None:
    """0.181, 0.206, 0.229, 0.252 at 0, 20, 40, 60 degC for 0.74 kg/L (ASTM D2779, equations from memory)."""
    t = np.array([273.15, 293.15, 313.15, 333.15])
    assert ostwald_coefficient(t, 740.0) == pytest.approx([0.181, 0.206, 0.229, 0.252], abs=0.001)


def test_released_gas_follows_the_ideal_balance() -> None:
    """20 degC, L 0.205, pv 36 kPa, p0 101.3: 0.022, 0.043, 0.099, 0.189 at 95, 90, 80, 70 kPa (own analysis)."""
    found = released_gas_ratio(0.205, 101.3e3, np.array([95e3, 90e3, 80e3, 70e3]), 36e3)
    assert found == pytest.approx([0.022, 0.043, 0.099, 0.189], abs=0.001)


def test_the_flash_with_air_agrees_with_the_ideal_balance_and_frees_gas_long_before_boiling() -> None:
    fuel = Fuel.petrol("58 kPa")
    p = np.array([90e3, 80e3, 70e3])
    ideal = released_gas_ratio(
        float(ostwald_coefficient(np.array([293.15]), fuel.density_at_15)[0]), 101325.0, p, fuel.bubble_pressure(293.15)
    )
    assert fuel.gas_liquid_ratio(293.15, p) == pytest.approx(ideal, rel=0.08)
    assert (fuel.vapour_liquid_ratio(293.15, p) == 0.0).all()


def test_air_smooths_the_onset_of_boiling(summer_e10: Fuel) -> None:
    p = 0.995 * summer_e10.bubble_pressure(319.15)
    without, with_air = (
        summer_e10.vapour_liquid_ratio_after_drop(319.15, p),
        summer_e10.gas_liquid_ratio_after_drop(319.15, p),
    )
    assert 0.0 < without < with_air


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


def test_air_needs_and_heating_values_are_those_of_the_property_tables() -> None:
    """Stoichiometric ratio and lower heating value: petrol 14.7 and 43.4 MJ/kg, ethanol 9.0 and 26.9 (US DOE)."""
    petrol, ethanol = Fuel.petrol("60 kPa"), Fuel.from_components({"ethanol": 1.0})
    assert petrol.stoichiometric_air_fuel_ratio == pytest.approx(14.6, abs=0.15)
    assert ethanol.stoichiometric_air_fuel_ratio == pytest.approx(9.0, abs=0.02)
    assert petrol.lower_heating_value == pytest.approx(43.0e6, rel=0.015)
    assert ethanol.lower_heating_value == pytest.approx(26.9e6, rel=0.01)


def test_the_accuracy_band_widens_away_from_the_reid_temperature(summer_e0: Fuel) -> None:
    assert summer_e0.pressure_band(311.0) == pytest.approx(0.02)
    assert summer_e0.pressure_band(353.15) == pytest.approx(0.05)
    assert summer_e0.pressure_band([373.15, 393.15]) == pytest.approx([0.08, 0.08])


def test_pressures_at_rail_temperatures_by_the_hot_method_include_air(summer_e0: Fuel) -> None:
    """EN 13016-2, 40 to 100 degC at V/L 3:2: air adds a few kilopascal to the fuel's own pressure."""
    t = np.array([313.15, 353.15, 373.15])
    found = summer_e0.vapour_pressure_at(t)
    assert ((found > summer_e0.bubble_pressure(t)) & (found < summer_e0.bubble_pressure(t) + 15e3)).all()
