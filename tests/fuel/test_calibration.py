"""Petrols fitted to several targets at once, and targets that contradict each other."""

from __future__ import annotations

import pytest

from fuelsim.errors import InputError
from fuelsim.fuel.fuel import Fuel


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
    with pytest.raises(
        InputError, match=r"T10: wanted 35\.0 degC, reached .* has the largest residual, relax it first"
    ):
        Fuel.petrol("45 kPa", t10="35 degC")
