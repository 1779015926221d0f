"""Bubble, dew and flash: balances, limits, continuity, and 10,000 random fuels and states."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.fuel.fuel import Fuel
from fuelsim.fuel.molecules.species import species
from fuelsim.fuel.phase_equilibrium import flashes as equilibrium
from fuelsim.fuel.phase_equilibrium.equilibrium import Equilibrium
from fuelsim.fuel.phase_equilibrium.phases import Mixture, heat_of_vaporisation, liquid_enthalpy

COUNT = 10_000


@pytest.fixture(scope="module")
def random_states() -> tuple[Mixture, np.ndarray, np.ndarray, np.ndarray]:
    """Fuels of one to all species in random shares, 230 to 420 K, 100 Pa to 1 MPa."""
    rng = np.random.default_rng(20)
    count = len(species().names)
    x = rng.gamma(0.3, size=(count, COUNT)) * (rng.random((count, COUNT)) < rng.uniform(0.05, 1.0, COUNT))
    x[5, x.sum(axis=0) == 0.0] = 1.0
    x /= x.sum(axis=0)
    return (
        Mixture(species()),
        x,
        rng.uniform(230.0, 420.0, COUNT),
        np.exp(rng.uniform(np.log(100.0), np.log(1e6), COUNT)),
    )


def _check_reasons(result: Equilibrium, most_unsolved: int) -> None:
    unsolved = np.flatnonzero(~result.solved)
    assert (~result.converged).sum() <= most_unsolved
    assert all(result.reason(int(point)) for point in unsolved)
    assert np.isfinite(result.temperature).all()
    assert np.isfinite(result.pressure).all()


def test_ten_thousand_random_flashes_solve_and_balance(random_states) -> None:
    mixture, x, t, p = random_states
    result = equilibrium.flash(mixture, x, t, p)
    _check_reasons(result, 0)
    b = result.vapour_fraction
    two = (b > 0.0) & (b < 1.0)
    assert 0.1 < two.mean() < 0.9
    balance = b * result.vapour + (1.0 - b) * result.liquid - x
    assert np.abs(balance[:, two]).max() < 1e-10
    assert np.abs(result.liquid[:, two].sum(axis=0) - 1.0).max() < 1e-10
    assert np.abs(result.vapour[:, two].sum(axis=0) - 1.0).max() < 1e-10


def test_ten_thousand_random_bubble_pressures_solve(random_states) -> None:
    mixture, x, t, _ = random_states
    _check_reasons(equilibrium.saturation_pressure(mixture, x, t), 0)


def test_ten_thousand_random_dew_pressures_lie_below_the_bubble_pressures(random_states) -> None:
    mixture, x, t, _ = random_states
    bubble = equilibrium.saturation_pressure(mixture, x, t)
    dew = equilibrium.saturation_pressure(mixture, x, t, 1.0)
    _check_reasons(dew, 1)  # propane, 1-hexene and ethanol at -7 degC: the first drop is about to split in two
    both = dew.solved & bubble.solved
    assert (dew.pressure <= bubble.pressure * (1.0 + 1e-9))[both].all()


def test_ten_thousand_random_bubble_and_dew_temperatures_solve_or_lie_outside_the_table(random_states) -> None:
    mixture, x, _, p = random_states
    for fraction in (0.0, 1.0):
        result = equilibrium.saturation_temperature(mixture, x, p, fraction)
        _check_reasons(result, 0)
        assert all("outside 180 to 520 K" in result.reason(int(point)) for point in np.flatnonzero(~result.solved))


def test_ten_thousand_random_adiabatic_drops_solve_or_say_why_and_keep_their_enthalpy(random_states) -> None:
    mixture, x, t, p = random_states
    result = equilibrium.adiabatic_flash(mixture, x, t, p)
    _check_reasons(result, 0)
    assert result.solved.mean() > 0.998  # the rest end below 180 K, or as vapour above a critical temperature
    found = result.solved & (result.vapour_fraction > 0.0)
    before = (x * liquid_enthalpy(mixture, t)).sum(axis=0)
    after = (x * liquid_enthalpy(mixture, result.temperature)).sum(axis=0) + result.vapour_fraction * (
        result.vapour * heat_of_vaporisation(mixture, result.temperature)
    ).sum(axis=0)
    assert np.abs(after - before)[found].max() < 1e-4  # J/mol of some 1e4


def test_a_liquid_at_its_bubble_point_flashes_to_nothing_and_just_below_to_little(summer_e10: Fuel) -> None:
    t = np.linspace(270.0, 400.0, 14)
    bubble = summer_e10.bubble_pressure(t)
    assert summer_e10.vapour_liquid_ratio(t, bubble * 1.000001) == pytest.approx(0.0)
    little = summer_e10.vapour_liquid_ratio(t, bubble * 0.999999)
    assert ((little > 0.0) & (little < 1e-3)).all()


def test_bubble_and_dew_functions_invert_each_other(summer_e10: Fuel) -> None:
    t = np.linspace(270.0, 390.0, 8)
    assert summer_e10.bubble_temperature(summer_e10.bubble_pressure(t)) == pytest.approx(t, abs=1e-7)
    assert summer_e10.dew_temperature(summer_e10.dew_pressure(t)) == pytest.approx(t, abs=1e-7)


def test_vapour_liquid_ratio_is_continuous_and_rises_with_temperature(summer_e10: Fuel) -> None:
    t = np.linspace(300.0, 380.0, 4001)
    for ratio in (summer_e10.vapour_liquid_ratio(t, 101325.0), summer_e10.vapour_liquid_ratio_after_drop(t, 101325.0)):
        assert (np.diff(ratio) >= -1e-12).all()
        start = np.flatnonzero(ratio > 0.0)[0]
        assert ratio[start] < 0.2
        assert (np.diff(ratio[start:]) < 0.02 * ratio[start + 1 :] + 0.3).all()


def test_the_isothermal_ratio_overstates_the_isenthalpic_one_about_three_to_five_times() -> None:
    """Three to four times in the trade's petrols at 45 degC, 10 kPa below the bubble point; own analysis."""
    for fuel in (Fuel.petrol("62 kPa"), Fuel.petrol("62 kPa", ethanol=0.10)):
        p = fuel.bubble_pressure(318.15) - 10e3
        assert 2.5 < fuel.vapour_liquid_ratio(318.15, p) / fuel.vapour_liquid_ratio_after_drop(318.15, p) < 5.0


def test_a_pure_fuel_boils_at_its_vapour_pressure_and_cools_to_saturation() -> None:
    neat = Fuel.from_components({"n-heptane": 1.0})
    from CoolProp.CoolProp import PropsSI

    assert neat.bubble_pressure(350.0) == pytest.approx(PropsSI("P", "T", 350.0, "Q", 0, "n-Heptane"), rel=1e-3)
    state = neat.adiabatic_flash(380.0, 101325.0)
    assert state.temperature[0] == pytest.approx(PropsSI("T", "P", 101325.0, "Q", 0, "n-Heptane"), abs=0.05)
    quality = PropsSI("Q", "H", PropsSI("H", "T", 380.0, "Q", 0, "n-Heptane"), "P", 101325.0, "n-Heptane")
    assert state.vapour_fraction[0] == pytest.approx(quality, rel=0.02)


def test_bubble_pressure_agrees_with_peng_robinson_of_thermo_to_one_and_a_half_percent(palette: Fuel) -> None:
    thermo = pytest.importorskip("thermo")
    names = [{"isooctane": "2,2,4-trimethylpentane"}.get(name, name) for name in palette.names]
    constants, correlations = thermo.ChemicalConstantsPackage.from_IDs(names)
    z = list(palette.fractions)
    eos = {"Tcs": constants.Tcs, "Pcs": constants.Pcs, "omegas": constants.omegas}
    gas, liquid = (
        kind(thermo.PRMIX, eos, HeatCapacityGases=correlations.HeatCapacityGases, T=310.0, P=1e5, zs=z)
        for kind in (thermo.CEOSGas, thermo.CEOSLiquid)
    )
    flasher = thermo.FlashVL(constants, correlations, liquid=liquid, gas=gas)
    for temperature in (310.928, 353.15, 393.15):
        theirs = flasher.flash(T=temperature, VF=0, zs=z).P
        assert palette.bubble_pressure(temperature) == pytest.approx(theirs, rel=0.015)
