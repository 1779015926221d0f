"""Questions on pressure: what costs it, where the regulator sits, how much the return passes, what boost asks.

Each ``ask_N`` is the question as a user asks it through the public door; the test beside it holds the answer to its
check and says where the check comes from.
"""

import numpy as np
import pytest

import fuelsim as fs

L_H = 1e-3 / 3600.0
REFERENCE = fs.Liquid(density=740.0, kinematic_viscosity=0.45e-3 / 740.0)
"""The petrol of the computed line losses: 740 kg/m3, 0.45 mPa s."""


TABLE_255 = {
    "flow": ["318 L/h", "274 L/h", "248 L/h", "221 L/h", "192 L/h", "160 L/h"],
    "pressure": ["0 kPa", "200 kPa", "300 kPa", "400 kPa", "500 kPa", "600 kPa"],
}
"""The 255 class at 13.5 V: typical, from memory, +-10 % of flow."""


def ask_2():
    """Line, filter, pump or volts: which one costs the pressure?"""
    system = fs.Car.named("heron").system("return")
    split = fs.split_drop(system, system.solve(rpm=[700, 3000, 5400]))
    buys = fs.what_if(system, {"new filter": {"filter_clogging": 1.0}, "10 AWG": {"wire.size": "10 AWG"}}, rpm=5400)
    pumps = fs.Pump.from_curve(**TABLE_255, voltage="13.5 V"), fs.Pump.named("in_tank_220")
    full, low = ([pump.at(supply_voltage=v).flow(["300 kPa", "400 kPa"]) for pump in pumps] for v in (13.5, 11.0))
    return split, buys, 1.0 - np.divide(low, full)


def test_2_parts_sum_to_the_total():
    split, buys, _ = ask_2()
    assert sum(split.friction.values()) + sum(split.height.values()) == pytest.approx(split.total)
    assert buys.of("10 AWG", "bypass") > 0.0


def test_2_volts_cost_more_than_a_quarter_of_the_flow():
    # 11.0 V instead of 13.5: about 28 % at 300 kPa, 32-34 % at 400 (computed from the class table, +-10 % of flow).
    _, _, (by_motor, by_tables) = ask_2()
    # From the table at 13.5 V alone, slowed by the law of its motor: 28.3 and 31.7 %.
    assert by_motor == pytest.approx([0.283, 0.33], abs=0.015)
    # The catalogue has the table at 12 V too; drawn out straight from both to 11 V, beyond either: 27.6 and 30.9 %.
    measured, beyond = np.array([[248.0, 221.0], [207.0, 180.0]]), (13.5 - 11.0) / (13.5 - 12.0)
    assert by_tables == pytest.approx(beyond * (1.0 - measured[1] / measured[0]), abs=0.002)
    assert np.all(by_tables < by_motor)


def ask_3():
    """What does re-wiring the pump gain, from 10.7 V to 13.5 V at its plug?"""
    car = fs.Car.named("heron").with_values({"wire.length": "0 m", "rail_regulator.set_pressure": "500 kPa"})
    run = car.system("return").solve(rpm=5400, supply_voltage=["10.7 V", "11.4 V", "12.0 V", "13.5 V"])
    return run.gauge_pressure["rail"], run.flow["pump"]


def test_3_rail_pressure_and_flow_rise_with_every_volt():
    rail, flow = ask_3()
    assert np.all(np.diff(rail) > 0.0)
    assert np.all(np.diff(flow) >= -1e-9)
    # An owner's 276 -> 331 kPa from 12 to 14.2 V is an anecdote; class curves give more per volt.
    assert (rail[3] - rail[2]) / 1.5 > (331e3 - 276e3) / 2.2


def return_line(bore, valve):
    net = fs.Network()
    net.add_reservoir("tank", pressure="101.325 kPa")
    net.add_reservoir("manifold", pressure=valve.get("manifold", 101325.0))
    net.add_node("rail")
    net.add_node("return")
    # A stiff spring: what is asked is when the way back takes over, not how the held pressure droops.
    wide_open = {"wide_open_pressure": "40 kPa", "wide_open_flow": "200 L/h"}
    regulator = fs.ReturnRegulator(set_pressure=valve["set"], droop="0.001 kPa h/L", **wide_open)
    net.connect("rail", "return", regulator, name="regulator", reference="manifold")
    net.connect("return", "tank", fs.Line(length="5 m", bore=bore), name="return_line")
    return net


def ask_6(**valve):
    """From which bypass does a return of 4.93 mm and 5 m take control away from the regulator?"""
    flows = np.arange(100.0, 400.0, 1.0) * L_H
    state = return_line("4.93 mm", valve).solve(REFERENCE, draw={"rail": -flows})
    return flows[np.argmax(state.regime["regulator"] == "wide open")] / L_H


@pytest.mark.parametrize(("bore", "loss"), [("4.93 mm", 81e3), ("6.52 mm", 21e3), ("7.75 mm", 9.4e3)])
def test_6_loss_of_the_return_line(bore, loss):
    # Computed for 200 L/h, 5 m, smooth, 740 kg/m3, 0.45 mPa s.
    state = return_line(bore, {"set": "300 kPa"}).solve(REFERENCE, draw={"rail": -200.0 * L_H})
    assert state.gauge_pressure["return"] == pytest.approx(loss, rel=0.03)


@pytest.mark.parametrize(
    ("valve", "flow"),
    [({"set": "300 kPa"}, 325.0), ({"set": "300 kPa", "manifold": "35 kPa"}, 285.0), ({"set": "90 kPa"}, 170.0)],
)
def test_6_the_regulator_loses_control_once_return_and_valve_cost_more_than_its_set(valve, flow):
    # Computed: 325 L/h without reference, 285 at idle vacuum, 170 with a set of 90 kPa.
    assert ask_6(**valve) == pytest.approx(flow, rel=0.03)


def ask_8():
    """Can the old vent line, 4.93 mm and 5 m, be the return?"""
    flows = np.arange(20.0, 400.0, 1.0) * L_H
    state = return_line("4.93 mm", {"set": "300 kPa"}).solve(REFERENCE, draw={"rail": -flows})
    return flows[np.argmax(state.gauge_pressure["rail"] > 330e3)] / L_H


def test_8_the_greatest_bypass_for_ten_percent_more_pressure_is_where_line_and_valve_cost_it():
    greatest = ask_8()
    # By hand with the same class of valve: loss 81 kPa (flow/200)^1.75 (computed) and 40 kPa (flow/200)^2 make 330 kPa.
    by_hand = min(np.arange(100, 500), key=lambda q: abs(81.0 * (q / 200.0) ** 1.75 + 40.0 * (q / 200.0) ** 2 - 330.0))
    assert greatest == pytest.approx(by_hand, rel=0.03)


def ask_9():
    """Regulator before or after the rail: what does 3 m of 6.5 mm behind it cost at 120 L/h?"""
    net = fs.Network()
    net.add_reservoir("regulated", pressure="300 kPa gauge")
    net.add_node("rail")
    net.connect("regulated", "rail", fs.Line(length="3 m", bore="6.5 mm"), name="feed")
    rail = net.solve(REFERENCE, draw={"rail": "120 L/h"}).gauge_pressure["rail"]
    bank = fs.Injectors(count=8, static_flow="250 mL/min")
    return rail, bank.static_volume_flow(rail, 740.0) / bank.static_volume_flow(300e3, 740.0)


def test_9_about_five_kilopascal_and_nine_tenths_of_a_percent_of_flow():
    rail, share = ask_9()
    assert 300e3 - rail == pytest.approx(5e3, rel=0.15)  # computed
    assert 1.0 - share == pytest.approx(0.009, abs=0.0015)


def ask_10(bore):
    """Regulator at the tank, 4 m of feed, 120 L/h: what is lost on the way to the rail?"""
    net = fs.Network()
    net.add_reservoir("regulated", pressure="400 kPa gauge")
    net.add_node("rail")
    net.connect("regulated", "rail", fs.Line(length="4 m", bore=bore), name="feed")
    return 400e3 - net.solve(REFERENCE, draw={"rail": "120 L/h"}).gauge_pressure["rail"]


@pytest.mark.parametrize(
    ("name", "loss"),
    [
        ("steel_tube_three_eighths_inch_thick", 3e3),
        ("steel_tube_five_sixteenths_inch", 7e3),
        ("steel_tube_quarter_inch", 26e3),
    ],
)
def test_10_what_reaches_the_rail(name, loss):
    # Computed: 3/8 in of 0.035 in wall 3 kPa, 5/16 in 7, 1/4 in 26.
    assert ask_10(fs.LineSize.named(name).inside_diameter) == pytest.approx(loss, rel=0.05)


def ask_11():
    """The manifold reference fell off: what does the mixture do at idle?"""
    car = fs.Car.named("heron")
    off = car.with_values({"rail_regulator.reference": "atmosphere", "rail_regulator.droop": "0.001 kPa h/L"})
    on = car.with_values({"rail_regulator.droop": "0.001 kPa h/L"})
    wide, right = (one.system("return").solve(rpm=700, load=0).injector_pressure_difference for one in (off, on))
    return wide, np.sqrt(wide / right) - 1.0


def test_11_ten_percent_more_flow_at_idle():
    difference, error = ask_11()
    # 300 kPa set and a manifold of 35 kPa absolute: 365/300, +10 % flow (computed).
    assert difference == pytest.approx(365e3, rel=0.02)
    assert error == pytest.approx(0.10, abs=0.01)


def ask_12():
    """Boost: does the pump follow to 450 kPa?"""
    pump = fs.Pump.named("in_tank_220")
    return pump.at(supply_voltage="13.5 V").flow("450 kPa") / L_H, pump.relief_pressure


def test_12_the_255_class_gives_206_litres_at_450_kilopascal_below_its_relief():
    flow, relief = ask_12()
    assert flow == pytest.approx(206.0, rel=0.01)  # class table, typical, from memory
    assert relief > 450e3


def pumps_in_parallel(number):
    net = fs.Network()
    net.add_reservoir("tank", pressure="101.325 kPa")
    for node in ("inlet", "joint", "rail"):
        net.add_node(node)
    for index in range(number):
        net.connect("inlet", "joint", fs.Pump.named("in_tank_220"), name=f"pump_{index}")
    net.connect("tank", "inlet", fs.Line(length="2 m", bore="9.5 mm"), name="suction")
    net.connect("joint", "rail", fs.Line(length="4 m", bore="6.52 mm"), name="feed")
    net.connect("rail", "tank", fs.ReturnRegulator(set_pressure="300 kPa"), name="regulator")
    return net


def ask_14():
    """Two pumps in parallel on one suction and one feed: what is gained?"""
    one, two = (pumps_in_parallel(number).solve(REFERENCE).flow["feed"] for number in (1, 2))
    return two / one - 1.0


def test_14_two_pumps_give_less_than_twice():
    # One owner's shared suction gave +42 % (anecdote).
    assert 0.30 < ask_14() < 0.95
