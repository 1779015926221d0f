"""Band of a result by the two activity models, against published figures on blends with ethanol."""

from __future__ import annotations

import pickle

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.fuel.model_band import model_band

PERMITTED = (3.7, 6.0, 7.2, 7.8, 8.0, 8.0, 7.9, 7.9, 7.8, 7.8)
"""Largest rise of DVPE that [directive_2009_30_ec] permits at 1 to 10 vol% ethanol, base of 60 kPa, kPa: a bound."""


def _rises(model: str) -> np.ndarray:
    base = fs.Fuel.petrol("60 kPa", activity_model=model)
    return np.array([base.splash_blend(ethanol=percent / 100.0).dvpe() - base.dvpe() for percent in range(1, 11)])


def test_rises_with_ethanol_lie_about_the_permitted_rise() -> None:
    """A permitted rise is a bound, not a measurement: ours may not pass it by more than 0.5 kPa, the repeatability of
    a DVPE from memory, and real blends lie near it (a bound much above them would not bind)."""
    band = model_band(_rises)
    permitted = 1e3 * np.array(PERMITTED)
    assert np.all(band.high < permitted + 0.5e3)
    assert np.abs(band.dortmund - permitted).max() < 0.5e3
    assert np.all(band.difference > 0.5e3)
    assert np.array_equal(band.low, band.unifac)


@pytest.mark.parametrize(("pressure", "published"), [("62 kPa", 0.47), ("90 kPa", 0.31)])
def test_the_share_of_ethanol_back_at_the_base_lies_between_the_models(pressure: str, published: float) -> None:
    """The form of [moves_evaporation_2024]: about 47 vol% for a base of 62 kPa, about 31 for 90 kPa."""
    shares = np.linspace(0.2, 0.6, 17)

    def back(model: str) -> float:
        base = fs.Fuel.petrol(pressure, activity_model=model)
        falling = np.array([base.splash_blend(ethanol=float(share)).dvpe() for share in shares])
        return float(np.interp(-base.dvpe(), -falling, shares))

    band = model_band(back)
    assert band.low < published < band.high


def test_a_petrol_has_its_vapour_pressure_by_its_own_model() -> None:
    assert fs.Fuel.petrol("60 kPa", activity_model="dortmund").dvpe() == pytest.approx(60e3, abs=10.0)
    fitted = fs.Fuel.petrol("60 kPa", density=745.0, activity_model="dortmund")
    assert fitted.dvpe() == pytest.approx(60e3, abs=200.0)
    assert fitted.activity_model == "dortmund"


def test_the_model_stays_with_blends_mixtures_weathering_and_copies() -> None:
    fuel = fs.Fuel.petrol("60 kPa", activity_model="dortmund")
    others = [fuel.splash_blend(ethanol=0.05), fuel.mix(fs.Fuel.named("winter_e0"), 0.5), fuel.weathered("2 %")]
    others += [pickle.loads(pickle.dumps(fuel)), fuel.with_activity_model("unifac").with_activity_model("dortmund")]
    assert all(other.activity_model == "dortmund" for other in others)
    assert pickle.loads(pickle.dumps(fuel)) == fuel != fuel.with_activity_model("unifac")


def test_arrays_keep_their_shape() -> None:
    fuel = fs.Fuel.named("summer_e10")
    band = fs.model_band(lambda model: fuel.with_activity_model(model).bubble_pressure(np.array([300.0, 330.0])))
    assert np.shape(band.low) == np.shape(band.high) == np.shape(band.difference) == (2,)
