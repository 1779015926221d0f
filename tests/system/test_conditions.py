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
