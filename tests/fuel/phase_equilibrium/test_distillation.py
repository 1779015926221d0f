"""Simulated distillation: the form of the curve, and what the reflux does to it."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.fuel.fuel import Fuel
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
