"""A carburettor behind a pump and a reducing regulator."""

import numpy as np
import pytest

import fuelsim as fs

PETROL = fs.Liquid(density=745.0, kinematic_viscosity=0.6e-6)
L_H = 1e-3 / 3600.0


def plumbed(demand, *, reducer="20 kPa", flooding="40 kPa", droop="0.001 kPa h/L"):
    net = fs.Network()
    net.add_reservoir("tank", "0 kPa gauge")
    net.add_reservoir("bowl", "0 kPa gauge")
    for node in ("pump_outlet", "inlet"):
        net.add_node(node)
    net.connect("tank", "pump_outlet", fs.Pump.named("in_tank_130"), name="pump")
    if reducer is None:
        net.connect("pump_outlet", "inlet", fs.Line(length="1 m", bore="8 mm"), name="line")
    else:
        regulator = fs.ReducingRegulator(
            set_pressure=reducer, droop=droop, wide_open_pressure="10 kPa", wide_open_flow="100 L/h"
        )
        net.connect("pump_outlet", "inlet", regulator, name="reducer")
    net.connect("inlet", "bowl", fs.Carburettor(demand=demand, flooding_pressure=flooding), name="carburettor")
    return net


def test_it_takes_what_the_engine_draws_and_no_more_than_its_seat_lets_through():
    """By hand: sqrt(2 x 20 kPa / 745) = 7.33 m/s through 0.61 x 3.14 mm2 are 50.5 L/h."""
    state = plumbed(["0 L/h", "20 L/h", "45 L/h", "80 L/h"]).solve(PETROL)
    most = 0.61 * np.pi * 1e-6 * np.sqrt(2.0 * 20e3 / 745.0)
    assert most / L_H == pytest.approx(50.5, abs=0.1)
    flow = state.flow["carburettor"]
    assert flow[1:3] == pytest.approx([20.0 * L_H, 45.0 * L_H], rel=1e-3)
    assert flow[3] == pytest.approx(most, rel=0.01)
    assert abs(flow[0]) < 0.01 * L_H
    assert state.regime["carburettor"].tolist() == ["shut", "metering", "metering", "saturated"]


def test_a_lighter_fuel_jets_faster():
    heavy = fs.Liquid(density=820.0, kinematic_viscosity=0.6e-6)
    light, dense = (plumbed("100 L/h").solve(liquid).flow["carburettor"] for liquid in (PETROL, heavy))
    assert light / dense == pytest.approx(np.sqrt(820.0 / 745.0), rel=0.01)


def test_a_float_that_the_reducer_overpowers_is_found_and_one_behind_none_too():
    assert not [item for item in plumbed("20 L/h").findings() if item.subject == "carburettor"]
    too_high = plumbed("20 L/h", reducer="50 kPa").findings()
    assert any(item.subject == "carburettor" and "50 kPa may stand" in item.statement for item in too_high)
    without = plumbed("20 L/h", reducer=None).findings()
    assert any(item.subject == "carburettor" and item.severity is fs.Severity.FAILURE for item in without)
    unknown = plumbed("20 L/h", reducer=None, flooding=None).findings()
    assert not any(item.subject == "carburettor" for item in unknown)
