"""Tables against the direct calculation."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.fuel.fuel import Fuel

NAMES = ("summer_e0", "winter_e10", "e85", "race", "neat_ethanol")


@pytest.fixture(scope="module")
def states() -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(3)
    hot = rng.uniform(400.0, 420.0, 500)  # let down far, these leave little liquid: the hardest corner of the table
    return np.concatenate([rng.uniform(230.0, 420.0, 1500), hot]), np.exp(rng.uniform(np.log(1e3), np.log(1e6), 2000))


@pytest.mark.parametrize("name", NAMES)
def test_tables_agree_with_the_direct_calculation_to_a_tenth_of_a_percent(name: str, states) -> None:
    t, p = states
    fuel = Fuel.named(name)
    tables = fuel.tables()
    for method in ("density", "viscosity", "heat_capacity", "bubble_pressure"):
        assert getattr(tables, method)(t) == pytest.approx(getattr(fuel, method)(t), rel=1e-5)
    direct = fuel.bubble_temperature(p)
    known = np.isfinite(direct)
    assert tables.bubble_temperature(p)[known] == pytest.approx(direct[known], abs=1e-3)
    for method in ("vapour_liquid_ratio", "vapour_liquid_ratio_after_drop"):
        direct, looked_up = getattr(fuel, method)(t, p), getattr(tables, method)(t, p)
        assert ((looked_up > 0.0) == (direct > 0.0)).mean() > 0.999
        inside = (direct > 0.0) & (fuel.flash(t, p).vapour_fraction < 0.9)  # nearly all vapour matters to nobody
        assert looked_up[inside] == pytest.approx(direct[inside], rel=1e-3)


def test_ratios_are_zero_above_the_bubble_pressure_finite_below_and_rise_with_temperature() -> None:
    t = np.linspace(230.0, 420.0, 3001)
    for name in NAMES:
        tables = Fuel.named(name).tables()
        for method in ("vapour_liquid_ratio", "vapour_liquid_ratio_after_drop"):
            for p in (1e3, 2e4, 1e5, 5e5, 2e6):
                ratio = getattr(tables, method)(t, p)
                assert np.isfinite(ratio).all()
                assert (np.diff(ratio) >= -1e-9 * ratio[1:]).all(), (name, method, p)
        above = tables.bubble_pressure(t) * 1.0001
        assert (tables.vapour_liquid_ratio(t, above) == 0.0).all()
        assert (tables.vapour_liquid_ratio_after_drop(t, above) == 0.0).all()


def test_lookups_are_clipped_at_the_ends_and_keep_the_shape_asked_for() -> None:
    tables = Fuel.named("summer_e10").tables()
    assert tables.density(100.0) == tables.density(220.0)
    assert tables.bubble_temperature(1e9) == tables.bubble_temperature(3e6)
    assert np.isfinite(tables.vapour_liquid_ratio(900.0, 1.0))
    assert isinstance(tables.vapour_liquid_ratio(330.0, 9e4), float)
    assert tables.vapour_liquid_ratio(np.full((2, 1), 330.0), np.full(3, 9e4)).shape == (2, 3)


def test_temperature_after_a_drop_agrees_with_the_direct_flash() -> None:
    fuel = Fuel.named("summer_e10")
    t, p = np.linspace(300.0, 390.0, 10), 6e4
    assert fuel.tables().temperature_after_drop(t, p) == pytest.approx(fuel.adiabatic_flash(t, p).temperature, abs=0.02)
