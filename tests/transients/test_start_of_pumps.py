"""What a start needs to know of a stopped car, by hand and by its own run before the stop."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.constants import GRAVITY
from fuelsim.transients import start_of_pumps
from fuelsim.transients.pump_start import starting_pump
from fuelsim.transients.shut_in_course import RESEAT, idle_before_stop
from fuelsim.transients.shut_in_fuel import ShutInFuel
from fuelsim.transients.start_of_pumps import (
    BOUND_RATIO,
    PRIME_TIME,
    DrawnFuel,
    drawn_fuel,
    filling_of,
    pumps_at_work,
    stopped_pumps,
)

LEVEL = 0.22 * 22.0 / 45.0
"""Level of 22 L in a tank of 45 L and 0.22 m, m."""


def stopped(name, layout, **values):
    system = fs.Car.named(name).with_values(values).system(layout)
    return ShutInFuel.after(system, idle_before_stop(system), 60.0)


@pytest.fixture(scope="module")
def finch():
    return stopped("finch", "return")


@pytest.fixture(scope="module")
def with_pot():
    return stopped("plover", "pot")


@pytest.fixture(scope="module")
def with_suction():
    """Its tank is pressed on by 1 kPa."""
    return stopped("heron", "return", **{"tank.vapour_space_pressure": "1 kPa"})


def asked_of(fuel, monkeypatch):
    """What the starting pumps are made of."""
    asked = []

    def noted(pump, wire, **given):
        asked.append((pump, wire, given))
        return starting_pump(pump, wire, **given)

    monkeypatch.setattr(start_of_pumps, "starting_pump", noted)
    return stopped_pumps(fuel), asked


def test_a_pump_starts_against_the_head_from_its_vessel_up_to_the_rail(finch, monkeypatch):
    (pump,), ((ratings, wire, given),) = asked_of(finch, monkeypatch)
    density = float(finch.system.fuel.density("20 degC"))
    assert ratings is finch.car.pump
    assert wire is finch.system.plumbing.wires["pump"]
    assert pump.link.name == "pump"
    assert pump.suction_volume == 0.0
    assert given["greatest_gauge"] == pytest.approx(1.3 * 300e3)
    assert given["head"] == pytest.approx(GRAVITY * (0.55 - LEVEL) * density)
    assert given["fuel_density"] == pytest.approx(density)
    assert given["tank_gauge"] == pytest.approx(0.0)


def test_its_loss_is_that_of_the_solved_network_and_of_the_same_lines_whatever_returns(finch, monkeypatch):
    """With a return the whole flow passes filter and feed; in 5 % by how much the loss grows with the flow's square."""
    (given,) = (given for _, _, given in asked_of(finch, monkeypatch)[1])
    run = finch.run_before
    head = GRAVITY * 0.52 * float(finch.system.fuel.density("20 degC"))
    lost = float(run.pressure["pump_outlet"] - run.pressure["rail"]) - head
    assert lost > 10e3
    assert given["loss"] * float(run.flow["filter"]) ** 2 == pytest.approx(lost, rel=0.05)
    (dead_end,) = (given for _, _, given in asked_of(stopped("finch", "returnless_tank"), monkeypatch)[1])
    assert dead_end["loss"] == pytest.approx(given["loss"], rel=1e-6)


def test_two_pumps_and_two_rails_share_what_they_pass(with_pot, monkeypatch):
    """Each pump its check valve; both together filter and feed; each rail one pump's flow again."""
    (left, right) = asked_of(with_pot, monkeypatch)[1]
    flow = float(left[0].at().flow(0.0))
    liquid = with_pot.system.fuel.liquid("20 degC")
    by_hand = 0.0
    for name, pumps in (
        ("left_check", 1), ("main_filter", 2), ("feed_line", 2), ("left_feed", 1), ("left_rail_inlet_bore", 1)
    ):  # fmt: skip
        part = with_pot.system.plumbing.link(name).part
        by_hand += float(np.max(part.law.loss(pumps * flow, part.coefficients(liquid))[0]))
    assert left[2]["loss"] * flow**2 == pytest.approx(by_hand)
    # The right pump's own check valve is the same.
    assert right[2]["loss"] == pytest.approx(left[2]["loss"])


def test_pressure_on_the_tank_helps(monkeypatch):
    pressed = stopped("finch", "return", **{"tank.vapour_space_pressure": "5 kPa"})
    assert asked_of(pressed, monkeypatch)[1][0][2]["tank_gauge"] == pytest.approx(5e3)


def test_only_pumps_that_feed_the_rails_start_and_from_the_pot(with_pot, monkeypatch):
    pumps, asked = asked_of(with_pot, monkeypatch)
    assert [pump.link.name for pump in pumps] == ["left_pump", "right_pump"]
    density = float(with_pot.system.fuel.density("20 degC"))
    heights = with_pot.system.plumbing.heights
    assert [given["head"] for _, _, given in asked] == pytest.approx(
        [GRAVITY * (heights["left_rail"] - heights["pot"]) * density] * 2
    )
    assert [pump.suction_volume for pump in pumps] == [0.0, 0.0]


def test_a_suction_line_holds_its_bore_times_its_length(with_suction):
    line = with_suction.car.suction
    (pump,) = stopped_pumps(with_suction)
    assert pump.suction_volume == pytest.approx(float(np.pi / 4.0 * line.bore**2 * line.length))


def test_pumps_behind_a_pot_draw_its_fuel_and_others_that_of_the_tank(with_pot, finch):
    time = np.array([0.0, 1800.0])
    seen = {}
    for fuel in (with_pot, finch):
        pump = stopped_pumps(fuel)[0]
        drawn = drawn_fuel(fuel, pump, time)
        temperature = fuel.pot_temperature("pot", time) if fuel is with_pot else np.full(2, fuel.tank_temperature)
        expected = pump.link.part.at().with_inlet(
            vapour_liquid_ratio=fuel.tables.vapour_liquid_ratio_after_drop(temperature, 101325.0),
            fuel_temperature=temperature,
        )
        seen[fuel.car.name] = drawn
        assert drawn.later_share == pytest.approx(expected.flow_factor)
        assert drawn.first_share == pytest.approx(drawn.later_share)
        assert not drawn.bound.any()
    assert len(seen) == 2


def test_hot_fuel_in_the_suction_line_boils_and_is_drawn_first(with_suction):
    """Its V/L is that after the drop to the tank's pressure, at the temperature of the line."""
    time = np.array([0.0, 1200.0])
    (pump,) = stopped_pumps(with_suction)
    drawn = drawn_fuel(with_suction, pump, time)
    hot = with_suction.feed_temperature(time)
    ratio = with_suction.tables.vapour_liquid_ratio_after_drop(hot, np.full(2, 101325.0 + 1e3))
    assert ratio[1] > 1.0
    assert drawn.first_ratio == pytest.approx(ratio)
    assert drawn.first_share[1] < 0.5 * drawn.later_share[1]


@pytest.mark.parametrize(("over", "bound"), [(0.9, False), (1.1, True)])
def test_a_pump_is_bound_by_thrice_the_vapour_it_tolerates(finch, over, bound, monkeypatch):
    pump = stopped_pumps(finch)[0]
    ratio = over * BOUND_RATIO * float(pump.link.part.tolerated_vapour)
    monkeypatch.setattr(
        type(finch.tables), "vapour_liquid_ratio_after_drop", lambda self, t, p: np.full(np.shape(t), ratio)
    )
    drawn = drawn_fuel(finch, pump, np.zeros(1))
    assert drawn.bound == bound
    assert (drawn.later_share == 0.0) == bound
    assert drawn.first_share > 0.0


def test_pumps_at_work_share_a_flow_that_is_given_and_take_their_own_circuit(with_pot):
    pumps = stopped_pumps(with_pot)
    drawn = [DrawnFuel(*(np.array([value]) for value in (0.5, 0.8, 1.5, False))) for _ in pumps]
    # 3 mL of suction line at V/L 1.5 hold 1.2 mL of liquid.
    pumps = [pump._replace(suction_volume=3e-6) for pump in pumps]
    plain = pumps_at_work(pumps, drawn, 2)
    assert len(plain) == 2
    for pump, own in zip(pumps, plain, strict=True):
        assert own.start is pump.start
        assert own.first_share == pytest.approx([0.5, 0.5])
        assert own.later_share == pytest.approx([0.8, 0.8])
        assert own.suction_volume == pytest.approx([1.2e-6, 1.2e-6])
        assert own.circuit == pytest.approx(np.full(2, pump.start.circuit_resistance))
        assert own.spins_up.all()
        assert np.isnan(own.constant_flow).all()
    given = pumps_at_work(
        pumps, drawn, 2, circuit_share=np.array([1.0, 0.5]), spins_up=np.array([True, False]),
        constant_flow=np.array([np.nan, 6e-6]),
    )  # fmt: skip
    assert given[0].circuit == pytest.approx(pumps[0].start.circuit_resistance * np.array([1.0, 0.5]))
    assert list(given[0].spins_up) == [True, False]
    assert given[1].constant_flow[1] == pytest.approx(3e-6)
    assert np.isnan(given[1].constant_flow[0])


def test_a_prime_lasts_as_long_as_service_manuals_say():
    """1.5 to 2 s (service manuals)."""
    assert 1.5 <= PRIME_TIME <= 2.0


def test_what_is_filled_is_the_room_of_the_stopped_car(finch, with_pot):
    filling = filling_of(finch, 300.0, np.array([1000.0, 300.0]), bleed_area=2e-6)
    assert (filling.volume, filling.rail_volume) == (finch.volume, finch.rail_volume)
    assert filling.elastic_volume == finch.elastic_volume
    assert filling.film_area == pytest.approx(0.35 * 0.012)
    assert filling.set_pressure == finch.set_pressure
    assert filling.droop == float(finch.car.rail_regulator.droop)
    assert filling.vents_rail
    assert filling.spills
    assert filling.bleed_area == 2e-6
    assert filling.reseat_step == RESEAT
    assert filling.feed_temperature == pytest.approx([300.0, 300.0])
    assert filling.density == pytest.approx(float(finch.tables.density(float(finch.start_temperatures.max()))))
    twin = filling_of(with_pot, 300.0, np.array([1000.0]))
    assert twin.film_area == pytest.approx(sum(float(rail.length * rail.bore) for rail in with_pot.rails.values()))


def test_without_a_regulator_nothing_is_spilled_and_a_rail_behind_a_tank_regulator_lets_no_gas_out(monkeypatch):
    fuel = stopped("finch", "returnless_tank")
    dead_end = filling_of(fuel, 300.0, np.array([1000.0]))
    assert not dead_end.vents_rail
    assert dead_end.spills
    monkeypatch.setitem(vars(fuel.system.plumbing), "regulator", None)
    bare = filling_of(fuel, 300.0, np.array([1000.0]))
    assert not bare.spills
    assert bare.droop == 0.0


def test_pumps_before_a_reducing_regulator_start_all_of_them():
    """Two pumps side by side stand under their own pressure, the rail behind the reducer under its."""
    car = fs.Car.named("finch")
    car = car.with_values(
        {"reducers.low": fs.PlacedReducer(set_pressure="200 kPa"), "pumps.left": car.pump, "pumps.right": car.pump}
    )
    runs = [["tank", "left", "tee"], ["tank", "right", "tee"], ["tee", "feed", "low", "rail"],
            ["tee", "bay_regulator", "return_line", "tank"]]  # fmt: skip
    system = car.with_plumbing("two", runs, title="two").system("two")
    fuel = ShutInFuel.after(system, idle_before_stop(system), 60.0)
    assert [pump.link.name for pump in stopped_pumps(fuel)] == ["left", "right"]
    # Both fill through the feed; the reducer stands wide open until the pressure is there.
    flow, feed = float(car.pump.at().flow(0.0)), system.plumbing.link("feed").part
    bore = [link.part for link in system.plumbing.between("low_outlet", "rail")]
    liquid = system.fuel.liquid("20 degC")
    lost = sum(float(np.max(part.law.loss(2.0 * flow, part.coefficients(liquid))[0])) for part in (feed, *bore))
    assert start_of_pumps._losses_to_rail(fuel, system.plumbing.pumps) == pytest.approx([lost / flow**2] * 2)
