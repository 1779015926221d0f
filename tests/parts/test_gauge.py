"""Pressure gauges that read wrong when they are hot or high up."""

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.laws.gauge_case import LIQUID_EXPANSION, case_pressure


def test_the_expansion_of_the_liquid_is_that_of_glycerol():
    """Judge: the chemicals library's density of glycerol (VDI heat atlas), 20 to 80 degC."""
    volume = pytest.importorskip("chemicals.volume")
    row = volume.rho_data_VDI_PPDS_2.loc["56-81-5"]

    def density(temperature):
        t = 1.0 - temperature / row["Tc"]
        terms = zip((row["A"], row["B"], row["C"], row["D"]), (0.35, 2.0 / 3.0, 1.0, 4.0 / 3.0), strict=True)
        return row["rhoc"] + sum(factor * t**power for factor, power in terms)

    mean = (density(293.15) - density(353.15)) / 60.0 / density(323.15)
    assert mean == pytest.approx(LIQUID_EXPANSION, rel=0.06)


def test_a_dry_sealed_case_follows_the_law_of_gay_lussac():
    assert case_pressure(353.15, 100e3, 293.15, 1.0) == pytest.approx(100e3 * 353.15 / 293.15, rel=1e-12)


def test_volume_of_liquid_and_bubble_stay_that_of_the_case():
    """By hand: 90 mL of liquid grow by 90 * 5e-4 * 40 = 1.8 mL, the bubble of 10 mL shrinks to 8.2 mL at 60 degC."""
    assert case_pressure(333.15, 101325.0, 293.15, 0.10) == pytest.approx(101325.0 * 333.15 / 293.15 * 10.0 / 8.2)


def test_a_hot_sealed_gauge_reads_low_and_so_does_one_carried_up_a_mountain():
    gauge = fs.Gauge(case="sealed")
    assert gauge.reading("300 kPa", "20 degC") == pytest.approx(300e3)
    hot = gauge.reading("300 kPa", ["40 degC", "70 degC"])
    assert np.all(np.diff(hot) < 0.0)
    assert np.all(hot < 300e3)
    # Standard atmosphere at 2240 m: 77.155 kPa, 24.17 kPa below sea level.
    assert gauge.reading("300 kPa", "20 degC", "2240 m") == pytest.approx(300e3 - 24.17e3, abs=10.0)
    assert gauge.pressure(hot, ["40 degC", "70 degC"]) == pytest.approx(300e3)


def test_a_softer_tube_reads_more_in_proportion():
    gauge = fs.Gauge(reading_per_kelvin=4e-4)
    assert gauge.reading("300 kPa", "70 degC") == pytest.approx(300e3 * 1.02)
    assert gauge.pressure("306 kPa", "70 degC") == pytest.approx(300e3)


def test_a_case_that_liquid_would_fill_is_refused():
    with pytest.raises(fs.InputError, match="fill the whole case"):
        fs.Gauge(case="sealed", bubble="2 %").reading("300 kPa", "90 degC")
