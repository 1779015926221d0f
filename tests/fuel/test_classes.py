"""Indices and volatility classes."""

from __future__ import annotations

import pytest

from fuelsim.fuel.classes import class_named, volatility_classes
from fuelsim.fuel.fuel import Fuel


def test_vapour_lock_and_driveability_indices_follow_their_definitions(summer_e10: Fuel) -> None:
    curve = summer_e10.distillation()
    vli = 10.0 * summer_e10.dvpe() / 1e3 + 7.0 * 100.0 * curve.evaporated_at(343.15)
    assert summer_e10.vapour_lock_index == pytest.approx(vli)
    assert 400.0 < summer_e10.driveability_index < 650.0


@pytest.mark.parametrize("item", volatility_classes(), ids=lambda item: item.full_name)
def test_every_class_has_a_petrol_that_passes_it(item) -> None:
    checks = Fuel.of_class(item.full_name).volatility_classes()
    assert next(check for check in checks if check.volatility_class == item).passed
    assert item.source


EN_228 = {
    # DVPE in kPa, E70 and E100 in vol%: annexes II of [fr_order_2009_01_26] and [fr_order_1999_12_23]
    "EN 228 A": ((45, 60), (22, 50), (46, 72)),
    "EN 228 D": ((60, 90), (24, 52), (46, 72)),
    "EN 228 E5 A": ((45, 60), (20, 48), (46, 71)),
    "EN 228 E5 D": ((60, 90), (22, 50), (46, 71)),
    "EN 228 E5 D1": ((60, 90), (22, 50), (46, 71)),
}


@pytest.mark.parametrize("name", list(EN_228))
def test_the_grades_of_en_228_have_the_limits_of_the_french_orders(name: str) -> None:
    item = class_named(name)
    dvpe, e70, e100 = EN_228[name]
    assert (item.limits_of("vapour_pressure").least, item.limits_of("vapour_pressure").most) == (
        dvpe[0] * 1e3,
        dvpe[1] * 1e3,
    )
    for quantity, (least, most) in (("e70", e70), ("e100", e100)):
        assert 100.0 * item.limits_of(quantity).least == pytest.approx(least)
        assert 100.0 * item.limits_of(quantity).most == pytest.approx(most)
    assert item.limits_of("e150").least == pytest.approx(0.75)
    assert item.limits_of("end_point").most == pytest.approx(210.0 + 273.15)


def test_the_vapour_lock_index_is_limited_in_the_change_of_season_only() -> None:
    """1150 in class D1 of the E5 grade [fr_order_1999_12_23]."""
    limited = {item.full_name: item.limits_of("vapour_lock_index") for item in volatility_classes()}
    assert {name: limits.most for name, limits in limited.items() if limits} == {"EN 228 E5 D1": 1150.0}


def test_the_greatest_t50_of_astm_d4814_falls_with_the_season_from_121_to_110_degc() -> None:
    """Span 110 to 121 degC of [petrol_questions_1996]; the split by class is from [memory]."""
    most = [
        class_named(f"ASTM D4814 {name}").limits_of("t50").most - 273.15 for name in ("AA", "A", "B", "C", "D", "E")
    ]
    assert most == pytest.approx([121.0, 121.0, 118.0, 116.0, 113.0, 110.0])


def test_the_bundled_winter_petrol_with_ethanol_passes_the_winter_class_of_its_grade() -> None:
    """E70 of 50.5 vol% exceeds the superseded limit of 50, not that of 52 in force [fr_order_2009_01_26]."""
    checks = {check.volatility_class.full_name: check for check in Fuel.named("winter_e10").volatility_classes()}
    assert checks["EN 228 D"].passed
    assert 0.50 < checks["EN 228 D"].values["e70"] < 0.52
    assert {"oxygen", "vapour_lock_index"} <= set(checks["EN 228 E5 D1"].broken)


def test_winter_fuel_breaks_the_summer_classes_by_its_vapour_pressure() -> None:
    checks = {check.volatility_class.full_name: check for check in Fuel.named("winter_e10").volatility_classes()}
    assert "vapour_pressure" in checks["EN 228 A"].broken
    assert "vapour_liquid_temperature" in checks["ASTM D4814 vapour lock 1"].broken
