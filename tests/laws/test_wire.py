"""Wire resistance against ASTM B258."""

import numpy as np
import pytest

from fuelsim.laws.wire import circuit_resistance, gauge_diameter, wire_resistance


@pytest.mark.parametrize(("gauge", "ohm_per_km"), [(10, 3.28), (12, 5.21), (14, 8.28), (16, 13.2), (18, 20.9)])
def test_copper_wire_has_the_resistance_of_astm_b258(gauge, ohm_per_km):
    area = np.pi / 4.0 * gauge_diameter(gauge) ** 2
    assert wire_resistance(1000.0, area) == pytest.approx(ohm_per_km, rel=0.003)


def test_copper_gains_0_393_percent_of_resistance_per_kelvin():
    assert wire_resistance(1.0, 1e-6, 303.15) / wire_resistance(1.0, 1e-6, 293.15) == pytest.approx(1.0393)


def test_six_gauges_double_the_diameter():
    assert gauge_diameter(6) / gauge_diameter(12) == pytest.approx(2.005, abs=0.001)


def test_open_12_5_and_loaded_6_6_volts_at_6_amperes_is_about_one_ohm():
    assert circuit_resistance(12.5, 6.6, 6.0) == pytest.approx(1.0, abs=0.05)
