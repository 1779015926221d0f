"""Fuel that passes through the walls of hoses."""

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.parts.catalogue_parts import catalogue_entry


def with_feed(**ratings):
    return fs.Car.named("finch").with_values({f"feed.{key}": value for key, value in ratings.items()})


def test_old_hose_loses_what_a_hand_calculation_says():
    """550 g/m2 a day through 2.5 m of 8 mm: 550 x pi x 0.008 x 2.5 = 34.6 g a day."""
    car = with_feed(material="rubber", length="2.5 m", bore="8 mm", permeation="550 g/m2/day")
    table = fs.permeation(car, "return").table()
    assert table.loc["feed", "permeated_g_day"] == pytest.approx(34.6, abs=0.05)
    assert table.loc["feed", "inside_mm2"] == pytest.approx(np.pi * 8.0 * 2500.0)


def test_a_class_of_hose_brings_its_own():
    """A hose maker's trade note: 15 g/m2 a day for R9, thirty times as much for R7."""
    lost = {}
    for hose in ("hose_r9_five_sixteenths_inch", "hose_r7_five_sixteenths_inch"):
        car = fs.Car.named("finch").with_values({"feed": hose, "feed.length": "2 m"})
        lost[hose] = fs.permeation(car, "return").total * 86.4e6
        assert "trade note" in catalogue_entry("lines", hose).source_of("permeation")
    r9, r7 = lost.values()
    assert r9 == pytest.approx(15.0 * np.pi * 7.94e-3 * 2.0, rel=1e-3)
    assert r7 == pytest.approx(30.0 * r9)


def test_metal_lets_nothing_through_and_what_is_not_known_is_named():
    assert fs.permeation(fs.Car.named("heron"), "return").total == 0.0
    unknown = fs.permeation(with_feed(material="nylon"), "return")
    assert unknown.unknown == ("feed",)
    assert "beside feed, of which it is not known" in repr(unknown)
    assert np.isnan(unknown.table().loc["feed", "permeated_g_day"])


def test_it_is_saved_and_loaded(tmp_path):
    result = fs.permeation(with_feed(material="nylon"), "return")
    assert fs.load(result.save(tmp_path / "result.json")) == result
