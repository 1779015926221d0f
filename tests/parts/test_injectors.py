"""Injector ratings, duty and pulse."""

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.errors import InputError
from fuelsim.liquid import Liquid
from fuelsim.parts.injectors import Injectors

PETROL = 745.0


def test_window_is_20_ms_at_6000_rpm():
    assert Injectors(count=4).window(6000.0) == pytest.approx(20e-3)
    assert Injectors(count=4, injections_per_cycle=2).window(6000.0) == pytest.approx(10e-3)


@pytest.mark.parametrize(
    ("voltage", "milliseconds"), [(8, 2.4), (10, 1.55), (12, 1.10), (13, 0.95), (14, 0.83), (16, 0.68)]
)
def test_default_dead_time_is_the_typical_table(voltage, milliseconds):
    """From memory."""
    assert Injectors(count=4).opening_loss(voltage, 3e5) == pytest.approx(milliseconds * 1e-3)


def test_dead_time_grows_with_pressure_within_the_stated_slope():
    """0.04-0.10 ms per 100 kPa at 14 V (from memory)."""
    grown = Injectors(count=4).opening_loss(14.0, 4e5) - Injectors(count=4).opening_loss(14.0, 3e5)
    assert 0.04e-3 <= grown <= 0.10e-3


@pytest.mark.parametrize(("dead_time", "expected"), [(0.0, 0.904), (0.9e-3, 0.884)])
def test_62_percent_duty_on_petrol_becomes_88_to_90_on_e85_at_equal_lambda(dead_time, expected):
    """Mass x1.51, density 745 -> 783 (so pulse x1.46-1.47), 20 ms window."""
    bank = Injectors(count=8, static_flow="300 mL/min", dead_time=[dead_time, dead_time], dead_time_voltage=[8.0, 16.0])
    held_open = bank.static_volume_flow(3e5, PETROL) * PETROL
    petrol = held_open * (0.62 - dead_time / 20e-3)
    assert bank.duty(petrol, 3e5, PETROL, 6000.0, 13.5) == pytest.approx(0.62)
    ratio_of_pulse = 1.46
    density = PETROL * (1.51 / ratio_of_pulse) ** 2
    found = bank.duty(1.51 * petrol, 3e5, density, 6000.0, 13.5)
    assert found == pytest.approx(expected, abs=0.004)


def test_closed_loop_keeps_mass_and_moves_duty_open_loop_keeps_pulse_and_loses_mass():
    bank = Injectors(count=4, static_flow="220 mL/min")
    mass = 0.004
    pulse = bank.pulse(mass, 3e5, PETROL, 4000.0, 13.5)
    assert bank.delivered_mass_flow(pulse, 3e5, PETROL, 4000.0, 13.5) == pytest.approx(mass)
    assert bank.duty(mass, 2.5e5, PETROL, 4000.0, 13.5) > bank.duty(mass, 3e5, PETROL, 4000.0, 13.5)
    assert bank.delivered_mass_flow(pulse, 2.5e5, PETROL, 4000.0, 13.5) < mass


def test_lost_manifold_reference_at_35_kpa_gives_10_percent_more_flow():
    """300 kPa set against the atmosphere, manifold 35 kPa absolute: 365/300 in pressure difference (computed)."""
    bank = Injectors(count=4)
    ratio = bank.static_volume_flow(300e3 + 101e3 - 35e3, PETROL) / bank.static_volume_flow(300e3, PETROL)
    assert ratio == pytest.approx(1.10, abs=0.006)


def test_coefficients_carry_demand_and_capacity():
    bank = Injectors(count=6, static_flow="250 mL/min", mass_demand=np.array([0.001, 0.05]), duty_limit=0.9)
    demand, conductance, _ = bank.coefficients(Liquid(density=PETROL, kinematic_viscosity=0.6e-6))
    assert demand * PETROL == pytest.approx([0.001, 0.05])
    assert conductance * np.sqrt(2e5) == pytest.approx(0.9 * bank.static_volume_flow(2e5, PETROL))


def test_no_pressure_needs_an_infinite_pulse_and_no_flow_none():
    bank = Injectors(count=4)
    assert bank.pulse(0.001, -1e4, PETROL, 3000.0, 13.5) == np.inf
    assert bank.pulse(0.0, -1e4, PETROL, 3000.0, 13.5) == 0.0


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"dead_time": [1e-3]}, "dead_time"),
        ({"dead_time_voltage": [16.0, 8.0], "dead_time": [1e-3, 1e-3]}, "dead_time_voltage"),
        ({"dead_time_voltage": [8.0, 16.0], "dead_time": [1e-3, 2e-3]}, "dead_time"),
        ({"count": 0}, "count"),
        ({"static_flow": "250 kPa"}, "static_flow"),
    ],
)
def test_a_wrong_injector_rating_is_one_clear_error(changes, key):
    with pytest.raises(InputError) as caught:
        Injectors(**({"count": 4} | changes))
    assert (caught.value.part, caught.value.key) == ("Injectors", key)


def test_vapour_in_the_rail_leans_an_open_loop_mixture_by_three_to_five_per_cent_at_a_ratio_of_a_twentieth():
    """A V/L of 0.05 leans the mixture 3-5 % (from memory, low confidence)."""
    dry = Injectors(count=4, static_flow="220 mL/min")
    wet = Injectors(count=4, static_flow="220 mL/min", vapour_liquid_ratio=0.05)
    pulse = dry.pulse(0.004, 3.0e5, 745.0, 4000.0, 13.5)
    error = wet.delivered_mass_flow(pulse, 3.0e5, 745.0, 4000.0, 13.5) / 0.004 - 1.0
    assert -0.05 < error < -0.03
    assert wet.duty(0.004, 3.0e5, 745.0, 4000.0, 13.5) > dry.duty(0.004, 3.0e5, 745.0, 4000.0, 13.5)


def test_a_static_flow_may_be_a_mass_flow_of_the_rated_fluid():
    """One pound is 0.45359237 kg (exact); 10.5 mL/min to 1 lb/h is the trade's petrol of 0.72 kg/L."""
    by_mass = fs.Injectors(count=4, static_flow="24 lb/h")
    assert by_mass.static_flow == pytest.approx(24 * 0.45359237 / 3600.0 / 684.0, rel=1e-12)
    by_trade = fs.Injectors(count=4, static_flow="1 lb/h", rated_density="0.72 g/cm3")
    assert by_trade.static_flow * 60e6 == pytest.approx(10.5, rel=1e-3)
    listed = by_mass.with_values({"static_flow": ["24 lb/h", "30 lb/h"]})
    assert listed.static_flow[1] / listed.static_flow[0] == pytest.approx(30.0 / 24.0)


def test_a_static_flow_that_is_neither_gets_the_usual_message():
    with pytest.raises(fs.InputError, match="not a unit of injector flow"):
        fs.Injectors(count=4, static_flow="24 lb")
    with pytest.raises(fs.InputError, match="not a unit of density"):
        fs.Injectors(count=4, static_flow="24 lb/h", rated_density="0.72 kg")


def test_a_static_flow_by_mass_goes_in_wherever_a_rating_does():
    car = fs.Car.named("finch")
    heavier = car.with_values({"injectors.static_flow": "24 lb/h"})
    assert heavier.injectors.static_flow == pytest.approx(24 * 0.45359237 / 3600.0 / car.injectors.rated_density)
    variants = fs.vary("injectors.static_flow", ["20 lb/h", "24 lb/h"])
    assert car.with_values(variants["injectors.static_flow 24 lb/h"]) == heavier
    sizes = fs.size(car, candidates={"injectors.static_flow": ["24 lb/h", "300 mL/min"]}, progress=False)
    assert len(sizes.chosen) == 2
