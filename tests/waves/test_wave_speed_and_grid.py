"""Wave speeds of the handbook's equation, time steps, weights of unsteady friction."""

import numpy as np
import pytest

from fuelsim.laws.wave_speed import wall_compliance, wave_speed
from fuelsim.waves.grid import GREATEST_SHIFT, wave_grid
from fuelsim.waves.unsteady_friction import weights_of_memory


@pytest.mark.parametrize(
    ("density", "bulk_modulus", "bore", "wall", "modulus", "speed"),
    [
        (999.0, 2.19e9, 0.5, 0.01, 200e9, 1190.2),
        (740.0, 1.0e9, 8e-3, 1e-3, 200e9, 1139.9),
        (740.0, 1.0e9, 7.8e-3, 1e-3, 1.5e9, 466.9),
    ],
)
def test_wave_speeds_of_steel_and_nylon(density, bulk_modulus, bore, wall, modulus, speed):
    """a = sqrt(K/rho)/sqrt(1 + K D/(E e)), Wylie & Streeter (from memory): water in steel, petrol in steel, nylon."""
    assert wave_speed(density, bulk_modulus, wall_compliance(bore, wall, modulus)) == pytest.approx(speed, abs=0.05)


def test_no_step_moves_a_wave_speed_by_more_than_one_per_cent():
    random = np.random.default_rng(1)
    for _ in range(40):
        travel = random.uniform(2e-5, 4e-3, size=random.integers(1, 12))
        travel[0] = 1e-3
        grid = wave_grid(travel, 1e-4)
        carried = grid.reaches > 0
        assert grid.step <= 1e-4 * (1 + 1e-9)
        used = np.where(carried, travel / (np.maximum(grid.reaches, 1) * grid.step), 1.0)
        assert np.abs(used - 1.0).max() <= GREATEST_SHIFT + 1e-12
        assert (travel[~carried] < 1e-4).all()


def test_lines_of_commensurate_lengths_are_not_moved_at_all():
    grid = wave_grid(np.array([3e-3, 1.3e-3, 0.7e-3]), 1e-4)
    assert grid.step == pytest.approx(1e-4)
    assert np.abs(grid.shift).max() < 1e-12


def test_weights_of_laminar_flow_are_those_of_zielke():
    """Zielke 1968 (from memory): short times by a series in the root of tau, long ones by exponentials."""
    weights, rates = weights_of_memory(500.0)
    for tau in (1e-5, 1e-4, 1e-3, 1e-2):
        root = np.sqrt(tau)
        series = 0.282095 / root - 1.25 + 1.057855 * root + 0.9375 * tau + 0.396696 * root**3 - 0.351563 * tau**2
        assert np.sum(weights * np.exp(-rates * tau)) == pytest.approx(series, rel=0.01)
    for tau in (0.03, 0.1):
        terms = sum(np.exp(-n * tau) for n in (26.3744, 70.8493, 135.0198, 218.9216, 322.5544))
        assert np.sum(weights * np.exp(-rates * tau)) == pytest.approx(terms, rel=0.01)


def test_weights_of_turbulent_flow_are_a_root_that_decays():
    """W = exp(-B tau)/(2 sqrt(pi tau)), B = Re^k/12.86, k = log10(15.29 Re^-0.0567): Vardy & Brown (from memory)."""
    weights, rates = weights_of_memory(2e4)
    decay = 2e4 ** np.log10(15.29 * 2e4**-0.0567) / 12.86
    for tau in (1e-6, 1e-5, 1e-4, 1e-3):
        expected = np.exp(-decay * tau) / (2.0 * np.sqrt(np.pi * tau))
        assert np.sum(weights * np.exp(-rates * tau)) == pytest.approx(expected, rel=0.02)
