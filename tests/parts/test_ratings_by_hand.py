"""Ratings and small parts by hand: ranges and defaults in the units of their users, valves, fittings, gauges."""

import dataclasses
import inspect

import numpy as np
import pytest

from fuelsim.constants import L_PER_HOUR
from fuelsim.errors import InputError
from fuelsim.liquid import Liquid
from fuelsim.parts import regulator
from fuelsim.parts.carburettor import Carburettor
from fuelsim.parts.check_valve import CheckValve, seat_coefficients
from fuelsim.parts.damper import Damper
from fuelsim.parts.filter import Filter
from fuelsim.parts.fittings import Fitting, TypicalFitting, total_loss_coefficient
from fuelsim.parts.gauge import Gauge
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.line import Line
from fuelsim.parts.line_size import LineSize
from fuelsim.parts.pump.controlled_pump import ControlledPump
from fuelsim.parts.pump.fuel_ratings import declared_cold_flow_change
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.regulator import ReducingRegulator, ReturnRegulator, declared_droop
from fuelsim.parts.supply import PumpSteps, Supply
from fuelsim.parts.tank_parts import JetPump, TankVent
from fuelsim.parts.valves import FlowControlValve, LossCurve, ShutOffValve, ThrottleValve
from fuelsim.parts.wire import Wire

PETROL = Liquid(density=740.0, kinematic_viscosity=0.6e-6)
BENCH = {"flow": ["0 L/h", "200 L/h"], "pressure": ["600 kPa", "0 kPa"]}
FLOWS = {"flow": BENCH["flow"]}
HELD = {"set_pressure": "3 bar"}
SLOWED = {"pump": Pump(**BENCH), "set_pressure": "300 kPa"}


@pytest.mark.parametrize(
    ("made", "others", "key", "below", "least", "most", "above"),
    [
        (CheckValve, {}, "open_flow", "0.9 L/h", "1.1 L/h", "9900 L/h", "10100 L/h"),
        (FlowControlValve, {"set_flow": "60 L/h"}, "open_flow", "0.9 L/h", "1.1 L/h", "99 m3/s", "101 m3/s"),
        (ThrottleValve, {}, "flow_coefficient", "0.9 L/h", "1.1 L/h", "0.99 m3/s", "1.01 m3/s"),
        (ReturnRegulator, HELD, "wide_open_flow", "0.9 L/h", "1.1 L/h", "9900 L/h", "10100 L/h"),
        (ReturnRegulator, HELD, "droop", *("0.09 Pa h/L", "0.11 Pa h/L"), *("790 kPa h/L", "810 kPa h/L")),
        (Pump, BENCH, "standing_loss", "9 Pa h/L", "11 Pa h/L", "990 kPa h/L", "1010 kPa h/L"),
        (Pump, FLOWS, "pressure", *([6e5, -1.1e5], [6e5, -9e4]), *([4.9e6, 0.0], [5.1e6, 0.0])),
        (Pump, BENCH, "cold_flow_change", "-51 %", "-49 %", "29 %", "31 %"),
        (ControlledPump, SLOWED, "stopped_flow", "0.9 L/h", "1.1 L/h", "9900 L/h", "10100 L/h"),
        (Filter, {}, "rated_flow", "0.3 L/h", "0.4 L/h", "35900 L/h", "36100 L/h"),
        (Injectors, {"count": 4}, "static_flow", "5.9 mL/min", "6.1 mL/min", "5.9 L/min", "6.1 L/min"),
        (Gauge, {}, "reading_per_kelvin", -2.1e-3, -1.9e-3, 1.9e-3, 2.1e-3),
    ],
)  # fmt: skip
def test_a_rating_is_accepted_within_its_range_and_refused_beyond_it(made, others, key, below, least, most, above):
    """Ranges in the units in which a person writes the rating."""
    for value in (least, most):
        made(**others, **{key: value})
    for value in (below, above):
        with pytest.raises(InputError) as caught:
            made(**others, **{key: value})
        assert caught.value.key == key


@pytest.mark.parametrize(
    ("declared", "taken", "refused", "typical"),
    [
        (regulator._wide_open_flow, ("1.1 L/h", "9900 L/h"), ("0.9 L/h", "10100 L/h"), "150 L/h"),
        (
            lambda: declared_droop(""),
            ("0.11 Pa h/L", "790 kPa h/L"),
            ("0.09 Pa h/L", "810 kPa h/L"),
            "80 Pa h/L",
        ),
        (declared_cold_flow_change, ("-49 %", "29 %"), ("-51 %", "31 %"), None),
    ],
)
def test_a_declared_rating_takes_what_lies_within_its_range(declared, taken, refused, typical):
    """What several parts declare alike, in the units in which a person writes it."""
    declaration = declared().metadata["declaration"]
    for value in taken:
        declaration.convert(value)
    for value in refused:
        with pytest.raises(InputError):
            declaration.convert(value)
    if typical is not None:
        assert declared().default == pytest.approx(declaration.convert(typical))


@pytest.mark.parametrize(
    ("made", "others", "key", "typical"),
    [
        (CheckValve, {}, "open_flow", "150 L/h"),
        (FlowControlValve, {"set_flow": "60 L/h"}, "open_flow", "150 L/h"),
        (ReturnRegulator, HELD, "wide_open_flow", "150 L/h"),
        (ReducingRegulator, {"set_pressure": "25 kPa"}, "wide_open_flow", "150 L/h"),
        (ReturnRegulator, HELD, "droop", "80 Pa h/L"),
        (Pump, BENCH, "standing_loss", "3 kPa h/L"),
        (ControlledPump, SLOWED, "stopped_flow", "100 L/h"),
        (Filter, {}, "rated_flow", "120 L/h"),
        (Injectors, {"count": 4}, "static_flow", "250 mL/min"),
    ],
)
def test_a_rating_left_out_is_the_typical_one(made, others, key, typical):
    """Typical ratings as a person would write them (common practice, no source)."""
    assert getattr(made(**others), key) == pytest.approx(getattr(made(**others, **{key: typical}), key))


def test_an_alternator_loses_a_volt_from_20_below_to_80_degrees_and_holds_its_rating_at_45():
    """From 14.55 to 13.5 V, the middles of the permitted ranges [service_manuals_a]."""
    volts = Supply().voltage(3000.0, regulator_temperature=["-20 degC", "45 degC", "80 degC"])
    assert volts[0] - volts[2] == pytest.approx(1.05)
    assert volts[1] == Supply().running_voltage == Supply().voltage(3000.0)


def test_the_voltage_rises_from_idle_to_full_speed_and_a_slow_engine_is_being_cranked():
    """By hand: half of idle is 400 rpm; half way from 800 to 1500 rpm is half way from 13.2 to 13.9 V."""
    volts = Supply().voltage([0.0, 1.0, 395.0, 405.0, 800.0, 1150.0, 1500.0, 6000.0])
    assert volts == pytest.approx([12.1, 10.0, 10.0, 13.2, 13.2, 13.55, 13.9, 13.9])
    cold = Supply().voltage([0.0, 200.0, 900.0], battery_temperature="-18 degC")
    assert cold == pytest.approx([12.1, 10.0 * 8.5 / 9.6, 13.3])
    assert Supply().voltage(200.0, battery_temperature="40 degC") == 10.0


@pytest.mark.parametrize("full_speed", [800.0, 700.0, [1500.0, 790.0]])
def test_a_full_speed_that_is_not_above_idle_is_refused(full_speed):
    with pytest.raises(InputError, match="not above idle"):
        Supply(idle_speed=800.0, full_speed=full_speed)


def test_each_step_applies_from_its_demand_on():
    steps = PumpSteps(
        demand=["0 L/h", "40 L/h", "80 L/h"], duty=[0.5, 0.7, 1.0], resistance=[0.4, 0.2, 0.0], speed=[3e3, 4e3, 6e3]
    )
    demand = np.array([0.0, 39.0, 41.0, 79.0, 81.0, 500.0]) * L_PER_HOUR
    assert steps.duty_at(demand).tolist() == [0.5, 0.5, 0.7, 0.7, 1.0, 1.0]
    assert steps.resistance_at(demand).tolist() == [0.4, 0.4, 0.2, 0.2, 0.0, 0.0]
    assert steps.speed_at(demand, 9e3).tolist() == [3e3, 3e3, 4e3, 4e3, 6e3, 6e3]
    only_speed = PumpSteps(demand=["0 L/h", "40 L/h"], speed=[3e3, 6e3])
    assert (only_speed.duty_at(demand).tolist(), only_speed.resistance_at(demand).tolist()) == ([1.0] * 6, [0.0] * 6)
    assert PumpSteps(demand=["0 L/h", "40 L/h"], duty=[0.5, 1.0]).speed_at(demand, 9e3) == 9e3


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"demand": [0.0, 2e-5, 1e-5], "duty": [0.5, 0.7, 1.0]}, "demand"),
        ({"demand": [1e-5, 2e-5], "duty": [0.5, 1.0]}, "demand"),
        ({"demand": [0.0, 2e-5], "resistance": [0.5]}, "resistance"),
        ({"demand": [0.0, 2e-5], "duty": [0.5, 1.0], "speed": [1e3, 2e3, 3e3]}, "speed"),
    ],
)
def test_steps_of_a_pump_that_do_not_fit_are_refused(changes, key):
    with pytest.raises(InputError) as caught:
        PumpSteps(**changes)
    assert caught.value.key == key


@pytest.mark.parametrize("density", [740.0, 1000.0])
def test_an_open_seat_loses_its_rating_at_its_flow_in_proportion_to_density(density):
    """By hand: 5 kPa at 150 L/h of 740 kg/m3, a small share of it in proportion to the flow, the rest to its square."""
    flow = 150.0 * L_PER_HOUR
    seat = seat_coefficients(5e3, flow, density)
    assert seat.linear * flow + seat.quadratic * flow**2 == pytest.approx(5e3 * density / 740.0)
    assert 0.01 < seat.linear * flow / (5e3 * density / 740.0) < 0.1
    c = CheckValve(cracking_pressure="2 kPa").coefficients(Liquid(density=density, kinematic_viscosity=1e-6))
    assert c[0] == 2e3
    assert c[1:] == pytest.approx(seat)


@pytest.mark.parametrize(
    ("made", "others"), [(ReturnRegulator, {"set_pressure": "3 bar"}), (ReducingRegulator, {"set_pressure": "25 kPa"})]
)
def test_a_wide_open_regulator_loses_its_rating(made, others):
    c = made(**others, wide_open_pressure="30 kPa", wide_open_flow="100 L/h").coefficients(PETROL)
    flow = 100.0 * L_PER_HOUR
    assert c.open_linear * flow + c.open_quadratic * flow**2 == pytest.approx(30e3)


def test_the_edges_of_a_hysteresis_band_lie_half_of_it_to_either_side():
    opening, closing = ReturnRegulator(set_pressure="300 kPa", hysteresis="4 kPa").branches
    assert (opening.set_pressure, closing.set_pressure) == (302e3, 298e3)
    assert (opening.hysteresis, closing.hysteresis) == (0.0, 0.0)


def test_a_seat_of_a_float_valve_passes_what_a_hole_passes():
    """By hand: C n pi/4 d^2 sqrt(2 dp/rho), 0.61 x 2 x 3.1416 mm2 x 7.352 m/s."""
    c = Carburettor(demand="60 L/h", seats=2, seat_diameter="2 mm").coefficients(PETROL)
    assert c.conductance * np.sqrt(20e3) == pytest.approx(0.61 * 2.0 * 3.14159e-6 * 7.352, rel=1e-4)
    assert c.demand == pytest.approx(60.0 * L_PER_HOUR)


@pytest.mark.parametrize("open", [True, False])
def test_a_shut_off_valve_is_its_loss_coefficient_and_creeps_below_a_reynolds_number_of_100(open):
    """K rho v^2/2 by hand in a bore of 8 mm at 1 m/s; at Re = 100 both parts are alike."""
    c = ShutOffValve(bore="8 mm", loss_coefficient=2.0, open=open).coefficients(PETROL)
    area = 50.265e-6
    if open:
        assert c.inertial * area**2 == pytest.approx(740.0, rel=1e-4)
        assert c.viscous == pytest.approx(c.inertial * area * 100.0 * 0.6e-6 / 0.008, rel=1e-4)
    else:
        assert c.inertial == 0.0
        assert c.viscous * 1.0 * L_PER_HOUR > 1e6


@pytest.mark.parametrize("characteristic", ["linear", "equal percentage"])
def test_a_throttle_valve_has_its_whole_coefficient_open_and_none_shut(characteristic):
    valve = ThrottleValve(flow_coefficient="1 m3/h", position=[0.0, 0.5, 1.0], characteristic=characteristic)
    expected = [0.0, 0.5 if characteristic == "linear" else 50.0**-0.5, 1.0]
    assert valve.flow_fraction == pytest.approx(expected)
    single = ThrottleValve(flow_coefficient="1 m3/h", position=0.5, characteristic=characteristic)
    assert isinstance(single.flow_fraction, float)
    assert ThrottleValve(flow_coefficient="1 m3/h", position=0.0, characteristic=characteristic).flow_fraction == 0.0
    shut = valve.coefficients(PETROL)
    assert shut.inertial[0] == 0.0
    assert shut.viscous[0] > 1e3 * shut.viscous[1]


@pytest.mark.parametrize(
    ("ratings", "key"),
    [
        ({"flow": ["60 L/h", "30 L/h"], "pressure": ["1 kPa", "4 kPa"]}, "flow"),
        ({"flow": ["30 L/h", "60 L/h"], "pressure": ["4 kPa", "4 kPa"]}, "pressure"),
        ({"flow": ["30 L/h", "60 L/h"], "pressure": ["4 kPa"]}, "pressure"),
        ({"flow": ["0 L/h", "60 L/h"], "pressure": ["1 kPa", "4 kPa"]}, "flow"),
        ({"flow": ["30 L/h", "60 L/h"], "pressure": ["0 kPa", "4 kPa"]}, "pressure"),
    ],
)
def test_a_loss_curve_that_does_not_rise_is_refused_by_its_column(ratings, key):
    with pytest.raises(InputError) as caught:
        LossCurve(**ratings)
    assert caught.value.key == key


def test_a_filter_is_changed_at_its_usual_drop_or_at_its_own():
    """50 kPa, or 4 kPa on the suction side, are usual (common practice, no source)."""
    assert [Filter(side=side).change_drop for side in ("pressure", "suction")] == [50e3, 4e3]
    assert Filter(side="suction", terminal_drop="7 kPa").change_drop == 7e3


def test_fittings_without_a_roughness_sit_on_a_drawn_tube_and_its_bends_are_those_of_a_turbulent_flow():
    """Moody's roughness of drawn tube is 1.5 um, as a line has where none is given."""
    bend = Fitting(kind="bend", radius_ratio=1.0)
    plain = bend.loss_coefficient("3 mm").turbulent
    assert plain == bend.loss_coefficient("3 mm", roughness=Line(length=1.0, bore="3 mm").roughness).turbulent
    assert plain == total_loss_coefficient([bend], "3 mm").turbulent
    assert plain != bend.loss_coefficient("3 mm", roughness="1.65 um").turbulent
    for made in (Fitting.loss_coefficient, total_loss_coefficient):
        assert 4e3 < inspect.signature(made).parameters["reynolds_number"].default < 1e5


def test_fittings_add_up_and_a_given_coefficient_is_referred_to_the_bore_of_the_line():
    """At one flow the velocity head goes with D^-4 and Re with 1/D: K (D/d)^4 and K1 (D/d)^3."""
    given = Fitting(kind="given", turbulent=2.0, laminar=100.0, own_bore="6 mm", count=3)
    loss = given.loss_coefficient("8 mm")
    assert loss.turbulent == pytest.approx(3.0 * 2.0 * (8.0 / 6.0) ** 4)
    assert loss.laminar == pytest.approx(3.0 * 100.0 * (8.0 / 6.0) ** 3)
    total = total_loss_coefficient([given, Fitting(kind="exit", count=2), Fitting(kind="exit")], "8 mm")
    assert total == (pytest.approx(loss.turbulent + 3.0), pytest.approx(loss.laminar))
    own = Fitting(kind="given", turbulent=2.0, laminar=100.0).loss_coefficient("8 mm")
    assert own == (pytest.approx(2.0), pytest.approx(100.0))
    assert TypicalFitting(least=0.2, most=0.6).middle == pytest.approx(0.4)


@pytest.mark.parametrize(
    ("ratings", "key"),
    [
        ({"kind": "contraction"}, "other_bore"),
        ({"kind": "expansion"}, "other_bore"),
        ({"kind": "typical", "typical": "nothing"}, "typical"),
        ({"kind": "typical"}, "typical"),
        ({"kind": "bend", "angle": [1.0, 2.0]}, "angle"),
    ],
)
def test_a_fitting_without_what_it_needs_is_refused(ratings, key):
    with pytest.raises(InputError) as caught:
        Fitting(**ratings)
    assert caught.value.key == key
    Fitting(kind="exit", other_bore=None, typical="nothing")


def test_the_walls_of_a_tube_leave_its_bore():
    thick = {"family": "steel", "size": "8 mm", "outside_diameter": "8 mm"}
    assert LineSize(**thick, wall="3.9 mm").inside_diameter == pytest.approx(0.2e-3)
    assert LineSize(**thick, wall="1 mm").line_ratings["bore"] == pytest.approx(6e-3)
    with pytest.raises(InputError, match="leaves no bore"):
        LineSize(**thick, wall="4 mm")
    for wrong in ({}, {"bore": "6 mm", "wall": "1 mm"}):
        with pytest.raises(InputError, match="one way"):
            LineSize(**thick, **wrong)
    with pytest.raises(InputError, match="one way"):
        LineSize(family="steel", size="8 mm", wall="1 mm")


def test_the_area_and_volume_of_a_line_are_those_of_its_bore():
    line = Line(length="2 m", bore="8 mm")
    assert line.cross_section == pytest.approx(50.2655e-6, rel=1e-5)
    assert line.volume == pytest.approx(100.531e-6, rel=1e-5)


def test_a_softer_tube_and_a_hot_sealed_case_are_undone_by_the_pressure_of_a_reading():
    gauge = Gauge(case="sealed", reading_per_kelvin=4e-4)
    for celsius, metres in ((20.0, 0.0), (70.0, 0.0), (40.0, 1500.0)):
        reading = gauge.reading("300 kPa", f"{celsius} degC", metres)
        assert gauge.pressure(reading, f"{celsius} degC", metres) == pytest.approx(300e3, rel=1e-12)
    plain = Gauge(case="sealed").reading("300 kPa", "70 degC")
    assert gauge.reading("300 kPa", "70 degC") == pytest.approx(1.02 * plain)
    assert Gauge(reading_per_kelvin=4e-4).reading("300 kPa", "-30 degC") == pytest.approx(0.98 * 300e3)
    assert Gauge().reading("300 kPa", ["20 degC", "90 degC"], "2000 m").tolist() == [300e3, 300e3]


def test_a_damper_swings_by_the_volume_over_all_compliance():
    """0.5 mL over 100 kPa is 5 mm3/kPa; 20 mm3 drawn at once swing it by 4 kPa, with 3 mm3/kPa more by 2.5 kPa."""
    damper = Damper(stored_volume="0.5 mL", pressure_rise="100 kPa")
    assert damper.compliance == pytest.approx(5e-12)
    assert damper.pressure_swing("20 mm3") == pytest.approx(4e3)
    assert damper.pressure_swing("20 mm3", 3e-12) == pytest.approx(2.5e3)


def test_a_vent_passes_vapour_out_and_air_in_at_the_net_flow():
    """By symmetry of an open vent, and with valves at their opening pressures."""
    vent, flow = TankVent(bore="2 mm"), 100.0 * L_PER_HOUR
    assert vent.gauge_pressure(flow, flow) == 0.0
    assert vent.gauge_pressure(0.0, flow) == pytest.approx(-vent.gauge_pressure(flow))
    assert vent.gauge_pressure(flow) < 0.0
    assert vent.gauge_pressure(2.0 * flow) == pytest.approx(4.0 * vent.gauge_pressure(flow))
    assert TankVent(bore="4 mm").gauge_pressure(flow) == pytest.approx(vent.gauge_pressure(flow) / 16.0)


def test_a_jet_pump_draws_in_proportion_to_its_motive_flow_and_stalls_at_its_head_ratio():
    jet = JetPump(largest_ratio=3.0, stall_pressure_ratio=0.2)
    assert jet.suction_flow(2e-5, 60e3, 0.0) == pytest.approx(6e-5)
    assert jet.suction_flow(0.0, 60e3, 0.0) == 0.0
    # The head ratio is the lift over what the nozzle has above the outlet: 0.2 = 10/(60 - 10).
    assert jet.suction_flow(2e-5, 60e3, 10.1e3) == pytest.approx(0.0, abs=1e-7)
    assert jet.suction_flow(2e-5, 60e3, 5e3) > 1e-5
    assert JetPump(largest_ratio=4.0).stall_ratio == pytest.approx(0.15)
    assert JetPump(largest_ratio=7.0, stall_pressure_ratio=0.19).stall_ratio == 0.19
    with pytest.raises(InputError, match=r"at most 0\.2 with"):
        JetPump(largest_ratio=7.0, stall_pressure_ratio=0.21)


def test_injectors_pass_their_rating_by_number_pressure_density_and_vapour():
    """By hand: 4 x 240 mL/min is 16 mL/s; half of it at a quarter of the pressure; 1/sqrt(1 + 2 V/L) of it with gas."""
    bank = Injectors(count=4, static_flow="240 mL/min", rated_density=684.0)
    assert bank.static_volume_flow(0.75e5, 684.0) == pytest.approx(8e-6)
    assert bank.static_volume_flow(3e5, 4.0 * 171.0 / 1.21) == pytest.approx(17.6e-6)
    gassy = dataclasses.replace(bank, vapour_liquid_ratio=1.5)
    assert gassy.static_volume_flow(3e5, 684.0) == pytest.approx(8e-6)
    c = Injectors(
        count=4,
        static_flow="240 mL/min",
        mass_demand=0.00684,
        duty_limit=0.9,
        longest_opening=0.8,
        shortest_opening=0.1,
    ).coefficients(Liquid(density=684.0, kinematic_viscosity=0.6e-6))
    assert c.demand == pytest.approx(1e-5)
    assert (c.conductance * 3e5**0.5, c.least_conductance * 3e5**0.5) == pytest.approx((12.8e-6, 1.6e-6))
    shut = dataclasses.replace(bank, longest_opening=0.0, shortest_opening=0.5).coefficients(PETROL)
    assert 0.0 < shut.conductance == shut.least_conductance


def test_pulse_duty_and_delivered_flow_are_those_of_the_time_open():
    """By hand: half of 16 mL/s at 6000 rpm is 10 ms of 20, and 0.83 ms of dead time at 14 V and 300 kPa."""
    bank = Injectors(count=4, static_flow="240 mL/min")
    half = 0.5 * 16e-6 * 684.0
    at = (3e5, 684.0, 6000.0, 14.0)
    assert bank.pulse(half, *at) == pytest.approx(10.83e-3)
    assert bank.duty(half, *at) == pytest.approx(0.5415)
    assert bank.duty(half, 3e5, 684.0, 0.0, 14.0) == 0.0
    assert bank.delivered_mass_flow("10.83 ms", *at) == pytest.approx(half)
    assert bank.delivered_mass_flow("0.8 ms", *at) == 0.0
    assert bank.delivered_mass_flow("30 ms", *at) == pytest.approx(2.0 * half)
    assert bank.mixture_error(half, 3e5, 3e5, *at[1:]) == pytest.approx(0.0, abs=1e-12)
    # Assumed at 300, true at 432 kPa without a rise of the dead time: 1.2 times the flow.
    stiff = dataclasses.replace(bank, dead_time_rise=0.0)
    assert stiff.mixture_error(half, 432e3, 3e5, *at[1:]) == pytest.approx(0.2)


def test_a_circuit_is_the_sum_of_its_resistances():
    wire = Wire(length=0.0, relay=0.01, fuse=0.02, connectors=0.03, ground=0.04, other=0.05, fuse_rating="20 A")
    assert wire.resistance == pytest.approx(0.15)
    assert wire.voltage_drop("10 A") == pytest.approx(1.5)
    assert wire.heat("10 A") == pytest.approx(15.0)
    assert wire.fuse_holder_heat("10 A") == pytest.approx(2.0)
    assert wire.fuse_loading("10 A") == pytest.approx(0.5)
    assert np.isnan(Wire().fuse_loading("10 A"))
    measured = Wire.from_measurement("13.5 V", "12.5 V", "8 A")
    assert measured.resistance == pytest.approx(0.125)
    for wrong in (("13.5 V", "12.5 V", "0 A"), ("12.5 V", "13.5 V", "8 A")):
        with pytest.raises(InputError):
            Wire.from_measurement(*wrong)


@pytest.mark.parametrize(
    ("size", "square_millimetres"), [("30 AWG", 0.0509), ("10 AWG", 5.261), ("0 AWG", 53.48), ("1/0 AWG", 53.48),
                                     ("4/0 AWG", 107.2), ("2/0 awg", 67.43), ("6 mm2", 6.0)]
)  # fmt: skip
def test_the_area_of_a_wire_is_that_of_its_gauge(size, square_millimetres):
    """Areas of ASTM B258; a cross-section is itself."""
    assert Wire(size=size).area == pytest.approx(square_millimetres * 1e-6, rel=1e-3)


@pytest.mark.parametrize("size", ["31 AWG", "0.09 mm2", "121 mm2", "5/0 AWG", "12"])
def test_a_wire_that_no_pump_has_is_refused(size):
    with pytest.raises(InputError) as caught:
        Wire(size=size)
    assert caught.value.key == "size"


@pytest.mark.parametrize(
    ("lists", "key"),
    [
        ({"rated_flow": [1e-5], "rated_drop": [8e3, 9e3], "clogging": [1.0, 2.0, 3.0]}, "clogging"),
        ({"rated_flow": [1e-5, 2e-5], "rated_drop": [8e3], "clogging": [1.0, 2.0, 3.0]}, "clogging"),
        ({"rated_flow": [1e-5, 2e-5], "rated_drop": [8e3, 9e3, 1e4]}, "rated_drop"),
        ({"clogging": [[1.0, 2.0]]}, "clogging"),
        ({"clogging": []}, "clogging"),
        ({"terminal_drop": [5e4, 6e4]}, "terminal_drop"),
        ({"terminal_drop": [5e4]}, "terminal_drop"),
    ],
)
def test_lists_over_points_are_of_one_length_or_one_value(lists, key):
    with pytest.raises(InputError) as caught:
        Filter(**lists)
    assert caught.value.key == key
    Filter(rated_flow=[1e-5], rated_drop=[8e3, 9e3], viscous_share=0.8, clogging=[1.0, 2.0])
    Filter(rated_flow=[1e-5, 2e-5], rated_drop=[8e3], clogging=[1.0, 2.0])


def test_a_gauge_reads_a_vacuum_and_below_sea_level():
    """The standard atmosphere at -400 m has 106.22 kPa, 4.90 kPa more than sea level (US Standard Atmosphere 1976)."""
    assert Gauge().reading("-60 kPa", "20 degC") == -60e3
    low = Gauge(case="sealed").reading("300 kPa", "20 degC", -400.0)
    assert low - 300e3 == pytest.approx(4.90e3, abs=20.0)
