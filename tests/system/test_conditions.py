"""Operating conditions: broadcasting, grids and messages."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs


def test_values_broadcast_like_numpy():
    conditions = fs.Conditions(rpm=[[1000.0], [2000.0]], tank_temperature=["20 degC", "40 degC", "60 degC"])
    assert conditions.shape == (2, 3)
    assert conditions.points()["rpm"].tolist() == [1000.0] * 3 + [2000.0] * 3


def test_a_mismatch_names_both_inputs_and_suggests_grid():
    with pytest.raises(fs.InputError, match=r"rpm of shape \(2,\) and tank_temperature of shape \(3,\).*grid"):
        fs.Conditions(rpm=[1000, 2000], tank_temperature=[300.0, 310.0, 320.0])


def test_grid_is_the_outer_product_in_the_order_given():
    grid = fs.Conditions.grid(tank_temperature=["20 degC", "40 degC"], rpm=[1000, 2000, 3000], altitude="600 m")
    assert grid.shape == (2, 3)
    assert grid.axes == ("tank_temperature", "rpm")
    assert np.broadcast_to(grid.rpm, grid.shape)[0].tolist() == [1000.0, 2000.0, 3000.0]


def test_an_unknown_axis_offers_the_nearest():
    with pytest.raises(fs.InputError, match="did you mean 'tank_temperature'"):
        fs.Conditions.grid(rpm=[1000], tank_temprature=[300.0])


def test_a_plain_celsius_number_is_refused_with_a_hint():
    with pytest.raises(fs.InputError, match="45 K is -228 degC; write '45 degC'"):
        fs.Conditions(rpm=1000, tank_temperature=45)


def test_a_batch_has_at_most_half_a_million_points():
    assert fs.Conditions(rpm=np.full(500_000, 900.0)).shape == (500_000,)
    with pytest.raises(fs.InputError, match="too many operating points"):
        fs.Conditions(rpm=np.full(500_001, 900.0))
    with pytest.raises(fs.InputError, match="too many operating points"):
        fs.Conditions(rpm=np.full((1000, 1), 900.0), load=np.full(501, 0.5))


def test_an_axis_of_a_grid_is_a_list_of_numbers():
    with pytest.raises(fs.InputError, match="an axis has one dimension"):
        fs.Conditions.grid(rpm=[[1000.0, 2000.0]])
    with pytest.raises(fs.InputError, match=r"Conditions.*rpm"):
        fs.Conditions.grid(rpm=["fast"])
    one = fs.Conditions.grid(rpm=1000.0)
    assert (one.shape, one.axes) == ((), ())


def test_what_was_left_out_is_filled_in_and_what_was_given_stays():
    conditions = fs.Conditions(rpm=[1000.0, 2000.0], air_temperature=290.0, staging="falling")
    filled = conditions.filled({"air_temperature": 300.0, "altitude": 500.0})
    assert (float(filled.air_temperature), float(filled.altitude)) == (290.0, 500.0)
    assert filled.staging == "falling"
    assert filled.bay_temperature is None
    assert "bay_temperature" not in filled.points()
    assert filled.points()["altitude"].tolist() == [500.0, 500.0]
    with pytest.raises(fs.InputError, match="no such condition"):
        conditions.filled({"air": 300.0})


def test_conditions_spread_to_a_larger_shape_and_not_to_one_that_does_not_fit():
    conditions = fs.Conditions(rpm=[1000.0, 2000.0])
    assert conditions.spread((2,)) is conditions
    assert conditions.spread((3, 2)).points()["rpm"].tolist() == [1000.0, 2000.0] * 3
    with pytest.raises(fs.InputError, match="no such shape"):
        conditions.spread((3,))
