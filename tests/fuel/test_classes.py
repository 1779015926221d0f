"""Indices and volatility classes."""

from __future__ import annotations

import pytest

from fuelsim.fuel.classes import volatility_classes
from fuelsim.fuel.fuel import Fuel


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
