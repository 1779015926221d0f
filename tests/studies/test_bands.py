"""Bands of answers: corners of named inputs, and which input moves an answer most."""

import itertools

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.band import Band
from fuelsim.car.rating_lists import may_be_listed
from fuelsim.parts.pump.pump_types import PUMP_TYPES
from fuelsim.sources import unknowns
from fuelsim.studies.bands import Banded, BandInput

FINCH = fs.Car.named("finch")


def test_the_band_of_a_monotone_answer_is_that_of_all_combinations():
    """By hand: (bay rise + 2 superheats) / tolerance, whose extremes over 3^3 combinations lie at the corners."""
    inputs = fs.band_inputs(FINCH)[:3]

    def by_hand(tolerance, superheat, rise):
        return (rise - 2.0 * superheat) / tolerance

    def answer(car):
        tolerance = 2.0 if car.pump.vapour_tolerance is None else car.pump.vapour_tolerance
        return by_hand(tolerance, car.pump.inlet_superheat, car.surroundings.bay_rise)

    every = [
        by_hand(tolerance, superheat, rise)
        for tolerance, superheat, rise in itertools.product(
            *(
                item.values[key]
                for item, key in zip(
                    inputs, ("pump.vapour_tolerance", "pump.inlet_superheat", "surroundings.bay_rise"), strict=True
                )
            )
        )
    ]
    for batched in (False, True):
        result = fs.over_bands(FINCH, inputs, answer, kind="number", batched=batched)
        assert float(result.low) == pytest.approx(min(every))
        assert float(result.high) == pytest.approx(max(every))
        assert result.moves_most is inputs[0]


def test_corners_on_the_batch_axis_are_what_each_car_gives_alone():
    """A point's answer does not depend on the batch it stands in."""

    def answer(car):
        return car.system("return").solve(rpm=2500, load=0.3, tank_temperature="49 degC").flow["pump"]

    car = fs.Car.named("heron")
    inputs = fs.band_inputs(car)
    together, alone = (fs.over_bands(car, inputs, answer, kind="volume flow", batched=each) for each in (True, False))
    assert together.answers == pytest.approx(alone.answers, rel=1e-6, abs=1e-12)
    assert np.ptp(alone.answers) > 0.0


def test_several_points_come_with_the_corners_on_the_last_axis():
    def answer(car):
        return car.system("return").solve(rpm=np.array([[1500.0], [4000.0]]), load=0.3).flow["pump"]

    result = fs.over_bands(FINCH, fs.band_inputs(FINCH), answer, kind="volume flow", batched=True)
    assert result.low.shape == (2,)
    assert np.all(result.low <= result.middle)
    assert np.all(result.middle <= result.high)


def test_what_is_measured_has_no_band():
    names = [item.name for item in fs.band_inputs(FINCH.with_values({"pump.vapour_tolerance": 1.4}))]
    assert "vapour tolerance of the pump" not in names
    table = {"pump.hot_vapour_liquid_ratio": [0.5, 2.0], "pump.hot_flow_share": ["60 %", "20 %"]}
    assert "vapour tolerance of the pump" not in [item.name for item in fs.band_inputs(FINCH.with_values(table))]


@pytest.mark.parametrize("name", ["finch", "heron", "plover"])
def test_every_band_of_a_car_is_around_its_own_figure_and_names_a_source(name):
    car = fs.Car.named(name)
    for item in fs.band_inputs(car, warming=True):
        assert item.source
        assert item.measure
        assert item.adverse in ("low", "high")
        for key, band in item.values.items():
            assert band.low <= band.middle <= band.high
            assert band.low < band.high
            if key.endswith(("_rise", "superheat", "conductance")):
                assert band.middle == car.value_of(key)


def test_bands_of_pump_kinds_are_those_of_the_list_of_unknown_figures():
    """data/unknown_figures.toml: turbine 10 to 20 kPa and V/L 1 to 3, roller and gear 20 to 35 kPa and 0.3 to 1."""
    assert "turbine 10 to 20 kPa, roller and gear 20 to 35 kPa" in unknowns()["npsh_required"].band
    assert "1 to 3, roller and gear 0.3 to 1" in unknowns()["allowed_vapour"].band
    turbine, roller = PUMP_TYPES["turbine"], PUMP_TYPES["roller"]
    assert (turbine.inlet_head.low, turbine.inlet_head.high) == (10e3, 20e3)
    assert (turbine.vapour_tolerance.low, turbine.vapour_tolerance.high) == (1.0, 3.0)
    assert (roller.inlet_head.low, roller.inlet_head.high) == (20e3, 35e3)
    assert (roller.vapour_tolerance.low, roller.vapour_tolerance.high) == (0.3, 1.0)
    for kind in PUMP_TYPES.values():
        for band in (kind.inlet_head, kind.vapour_tolerance):
            assert band.low <= band.middle <= band.high


def test_an_answer_that_never_comes_at_some_corner_says_so():
    never = Banded((), "time", np.array(2400.0), np.empty(0), np.empty(0), np.array(1860.0), np.array(np.inf))
    assert never.sentence() == "between 31 min and never, 40 min in the middle"
    item = BandInput("one", "number", {"pump.vapour_tolerance": Band(1.0, 2.0, 3.0)}, "low", "source")
    moved = Banded(
        (item,), "time", np.array(np.inf), np.array([60.0]), np.array([np.inf]), np.array(60.0), np.array(np.inf)
    )
    assert moved.moves_most is item
    assert moved.spans[0] == np.inf


def test_a_car_without_a_list_keeps_one_value_where_lists_are_not_for():
    assert not may_be_listed("tank.volume")
    with pytest.raises(fs.InputError, match="one value"):
        FINCH.with_values({"surroundings.road_rise": ["10 K", "20 K"]}).system("return").solve(rpm=1000)


def test_the_table_names_every_input_with_its_band():
    result = fs.over_bands(FINCH, fs.band_inputs(FINCH), lambda car: 1.0, kind="number")
    table = result.table()
    assert table["input"].tolist()[: len(result.inputs)] == [item.name for item in result.inputs]
    assert result.sentence() == "1 over all bands"
