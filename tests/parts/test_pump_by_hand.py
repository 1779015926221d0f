"""A pump's ratings and conditions by hand: relief, dead-head, fluid, hot-fuel tests, control, what is assumed of it."""

import numpy as np
import pytest

from fuelsim.constants import L_PER_HOUR
from fuelsim.errors import InputError
from fuelsim.laws.cold_pump import cold_pump_factors
from fuelsim.liquid import Liquid
from fuelsim.network.network import Network
from fuelsim.numerics.cubic import STEEPEST_RATIO
from fuelsim.parts.pump import pictures
from fuelsim.parts.pump.control import PumpControl, PumpStage
from fuelsim.parts.pump.controlled_pump import ControlledPump
from fuelsim.parts.pump.inlet_gas import InletGas, PumpWithGas
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.pump.pump_types import BRUSHLESS_POWER_SHARE, CUT_OUT_VOLTAGE
from fuelsim.parts.pump.vapour_handling import HotFuelTest, VapourHandling

KPA = 1e3
PETROL = Liquid(density=745.0, kinematic_viscosity=0.6e-6)


def straight(**ratings):
    """600 kPa and 200 L/h on a straight line, 10 and 4 A at its ends."""
    rows = {"flow": ["0 L/h", "200 L/h"], "pressure": ["600 kPa", "0 kPa"], "current": ["10 A", "4 A"]}
    return Pump(**(rows | ratings))


def test_a_relief_pressure_may_lie_below_a_row_that_delivers_by_its_band_at_most():
    """A row that delivers at 520 kPa lies within 5 % of a valve that opens at 500 kPa, one at 530 kPa does not."""
    for kpa, taken in ((520.0, True), (530.0, False)):
        rows = {"flow": ["1 L/h", "200 L/h"], "pressure": [f"{kpa} kPa", "0 kPa"], "relief_pressure": "500 kPa"}
        if taken:
            assert Pump(**rows, relief_band="5 %").relief_pressure == 500e3
            continue
        with pytest.raises(InputError, match="still delivers") as caught:
            Pump(**rows, relief_band="5 %")
        assert caught.value.key == "relief_pressure"
        assert Pump(**rows, relief_band="7 %").relief_pressure == 500e3
    assert straight(relief_pressure="500 kPa").relief_pressure == 500e3, "a row without flow lies above it"


@pytest.mark.parametrize(
    ("ratings", "kpa", "source", "withstood"),
    [
        ({}, 600.0, "bench", 600.0),
        ({"relief_pressure": "500 kPa", "relief_band": "6 %"}, 530.0, "relief", 530.0),
        ({"relief_pressure": "500 kPa", "relief_band": "50 %"}, 600.0, "bench", 600.0),
        ({"relief_pressure": "700 kPa", "highest_dead_head": "650 kPa"}, 600.0, "bench", 650.0),
        ({"highest_dead_head": "550 kPa"}, 600.0, "bench", 600.0),
        ({"flow": ["50 L/h", "200 L/h"], "pressure": ["450 kPa", "0 kPa"]}, 600.0, "extrapolated", 600.0),
        (
            {"flow": ["50 L/h", "200 L/h"], "pressure": ["450 kPa", "0 kPa"], "relief_pressure": "500 kPa"},
            525.0,
            "relief",
            525.0,
        ),
    ],
)
def test_dead_head_is_that_of_the_rows_or_of_the_open_relief_valve_where_it_is_lower(ratings, kpa, source, withstood):
    """By hand: relief pressure times one and its band (5 % typical), or the end of the straight line."""
    pump = straight(**ratings)
    assert pump.dead_head_pressure == pytest.approx(kpa * KPA)
    assert pump.dead_head_source == source
    assert pump.dead_head_to_withstand == pytest.approx(withstood * KPA)
    rise = pump.at().pressure_rise(0.0)
    assert rise == pytest.approx(kpa * KPA, rel=2e-3)


def test_rows_are_met_whatever_relief_valve_the_pump_has():
    """Error of the curve at the rows is that of the pump end: the valve would let 600 kPa pass nothing."""
    pump = straight(relief_pressure="450 kPa", relief_band="2 %", flow=["0 L/h", "200 L/h"])
    assert pump.fit_error == pytest.approx(0.0, abs=1e-3 * L_PER_HOUR)


def test_a_brushless_pump_is_estimated_to_need_its_share_of_a_brushed_one_of_the_same_flow():
    rows = {"flow": ["0 L/h", "200 L/h"], "pressure": ["600 kPa", "0 kPa"]}
    brushed, brushless = (Pump(**rows, **more).map.current for more in ({}, {"speed": "6000 rpm"}))
    assert brushless / brushed == pytest.approx(BRUSHLESS_POWER_SHARE)
    # By hand of a turbine: 200 L/h x (549 kW s/m3 + 1.97 x 300 kPa)/13.5 V.
    by_hand = 200.0 / 3.6e6 * (549e3 + 1.97 * 300e3) / 13.5
    assert Pump(**rows).at().current("300 kPa") == pytest.approx(by_hand, rel=1e-3)


@pytest.mark.parametrize(("kind", "scale"), [("turbine", 0.9), ("gear", 1.0)])
def test_the_pressure_of_a_turbine_goes_with_density_and_its_current_with_its_pressure(kind, scale):
    """Affinity law on a straight line: q = 200 L/h (1 - p/(600 kPa rho/rho_b)); I stays that of the pressure."""
    pump = straight(type=kind, bench_density="800 kg/m3")
    kpa = np.array([100.0, 300.0])
    light = pump.at(fuel_density=720.0)
    assert light.flow(kpa * KPA) == pytest.approx(200.0 * (1.0 - kpa / 600.0 / scale) * L_PER_HOUR, rel=1e-3)
    assert light.current(kpa * KPA) == pytest.approx(4.0 + 6.0 * kpa / 600.0, rel=1e-3)
    assert light.pressure_rise(0.0) == pytest.approx(scale * 600e3, rel=1e-3)
    several = pump.at(fuel_density=[640.0, 720.0, 800.0])
    for point, density in enumerate((640.0, 720.0, 800.0)):
        alone = pump.at(fuel_density=density)
        assert several.flow(np.full(3, 2e5))[point] == pytest.approx(alone.flow(2e5), rel=1e-4)
        assert several.pressure_rise(np.full(3, 3e-5))[point] == pytest.approx(alone.pressure_rise(3e-5), rel=1e-4)
    same = pump.at(fuel_density=800.0).flow(kpa * KPA)
    assert pump.at().flow(kpa * KPA) == pytest.approx(same, rel=1e-9)


def test_conditions_beyond_what_is_plausible_are_refused_and_those_within_taken():
    """A worn pump keeps a twentieth of its flow; a better one than its table has at most three tenths more."""
    pump = straight()
    for wear in (-0.3, 0.0, 0.95):
        assert pump.at(wear=wear).wear == wear
    for wrong in ({"wear": -0.31}, {"wear": 0.96}, {"duty": 1.1}, {"duty": -0.1}, {"supply_voltage": -1.0}):
        with pytest.raises(InputError) as caught:
            pump.at(**wrong)
        assert caught.value.key == next(iter(wrong))
    assert pump.vapour_flow_share(np.array([-0.5, 0.0])).tolist() == [1.0, 1.0]


def test_a_controller_cuts_out_below_a_third_of_the_bench_voltage_and_is_full_from_85_percent_on():
    pump = straight(speed="6000 rpm")
    ratings = pump.running_ratings
    assert ratings.cut_out_voltage == pytest.approx(13.5 * CUT_OUT_VOLTAGE) == pytest.approx(4.5)
    assert straight().running_ratings.cut_out_voltage == 0.0
    assert straight().running_ratings.speed_ceiling(13.5, 0.0) is None
    ceiling = ratings.speed_ceiling(0.85 * 13.5, 0.0)
    assert (ceiling.at_no_current, ceiling.per_current) == (pytest.approx(6000.0), 0.0)
    own = straight(speed="6000 rpm", full_speed_voltage="10 V").running_ratings.speed_ceiling(5.0, 0.0)
    assert own.at_no_current == pytest.approx(3000.0)
    # A controller that holds its speed loses none of it to the friction of cold fuel.
    assert (ratings.cold.flow_per_torque, straight().running_ratings.cold.flow_per_torque) == (0.0, 1.0)
    assert ratings.bench.winding_resistance == 0.0 < straight().running_ratings.winding_resistance
    at_rated = straight(speed="6000 rpm", full_speed_voltage="13.5 V")
    assert at_rated.full_speed_voltage == at_rated.bench_voltage


def test_a_measured_change_of_flow_on_cold_fuel_is_kept():
    """Petrol at -20 degC has 1.6 times its viscosity at 20 degC."""
    cold = straight(cold_flow_change="-3 %").running_ratings.cold
    assert cold_pump_factors(1.6, cold).flow == pytest.approx(0.97)


def test_a_speed_controlled_pump_takes_no_duty_and_its_highest_speed_unless_told():
    pump = straight(speed="6000 rpm")
    assert pump.at().speed == 6000.0
    assert pump.at(speed="3000 rpm").speed == 3000.0
    assert pump.at(duty=1.0).duty == 1.0
    for share in (0.9, [1.0, 0.9]):
        with pytest.raises(InputError, match="sets the speed"):
            pump.at(duty=share)


def test_a_worn_pump_that_is_switched_off_at_some_points_stands_at_those():
    """Fuel pushed through the pump at rest loses 3 kPa h/L, worn or not."""
    pump = straight(standing_loss="3 kPa h/L")
    running = pump.at(supply_voltage=[0.0, 13.5, 13.5], duty=[1.0, 0.0, 1.0], wear=[0.2, 0.2, 0.0])
    assert running.stands.tolist() == [True, True, False]
    assert running.pressure_rise(np.full(3, 50.0 * L_PER_HOUR)) == pytest.approx([-150e3, -150e3, 450e3], rel=1e-3)
    one = pump.at(supply_voltage=0.0)
    assert one.pressure_rise("50 L/h") == pytest.approx(-150e3, rel=1e-3)


def test_an_assumed_and_a_measured_loss_to_vapour_are_told_apart_and_taken_by_point():
    assert straight(type="turbine").tolerated_vapour == 2.0
    assert straight(vapour_tolerance=1.5).tolerated_vapour == 1.5
    handling = VapourHandling(np.array([1.0, 2.0, 3.0]))
    assert handling.take(np.array([2, 0])).tolerance.tolist() == [3.0, 1.0]
    for shared in (VapourHandling(2.0), VapourHandling(np.array([2.0]))):
        assert np.asarray(shared.take(np.array([2, 0])).tolerance).tolist() in (2.0, [2.0])


HOT = {
    "flow_share": np.array([1.0, 0.5]),
    "vapour_liquid_ratio": None,
    "temperature": np.array([293.15, 333.15]),
    "inlet_pressure": 95e3,
    "fuel": "summer_e10",
    "vapour_pressure": None,
}
RATIOS = HOT | {"vapour_liquid_ratio": np.array([0.0, 1.0]), "temperature": None, "inlet_pressure": None, "fuel": None}
NOTHING = dict.fromkeys(HOT)


@pytest.mark.parametrize(
    "ratings",
    [
        HOT,
        RATIOS,
        NOTHING,
        HOT | {"fuel": None, "vapour_pressure": 62e3},
        RATIOS | {"flow_share": np.array([1.0, 1.0])},
        RATIOS | {"flow_share": np.array([0.9, 0.5]), "vapour_liquid_ratio": np.array([0.5, 1.0])},
    ],
)
def test_a_whole_test_with_hot_fuel_is_taken(ratings):
    HotFuelTest(**ratings).check()


@pytest.mark.parametrize(
    ("ratings", "key", "words"),
    [
        *((NOTHING | {key: HOT[key] or 1.0}, f"hot_{key}", "no flow shares") for key in ("inlet_pressure", "fuel")),
        (NOTHING | {"vapour_pressure": 62e3}, "hot_vapour_pressure", "no flow shares"),
        (NOTHING | {"temperature": HOT["temperature"]}, "hot_temperature", "no flow shares"),
        (HOT | {"vapour_liquid_ratio": np.array([0.0, 1.0])}, "hot_flow_share", "in one way"),
        (HOT | {"temperature": None}, "hot_flow_share", "in one way"),
        (HOT | {"flow_share": np.array([0.99, 0.5])}, "hot_flow_share", "first row"),
        (HOT | {"inlet_pressure": None}, "hot_temperature", "no pressure at the inlet"),
        (HOT | {"vapour_pressure": 62e3}, "hot_temperature", "in one way"),
        (HOT | {"fuel": None}, "hot_temperature", "in one way"),
        (HOT | {"temperature": np.array([293.15, 293.15])}, "hot_temperature", "do not rise"),
        (RATIOS | {"flow_share": np.array([1.0, 0.5, 0.2])}, "hot_flow_share", "3 values, but 2"),
        (RATIOS | {"vapour_liquid_ratio": np.array([1.0, 0.5])}, "hot_vapour_liquid_ratio", "do not rise"),
        (RATIOS | {"flow_share": np.array([0.5, 0.6])}, "hot_flow_share", "does not fall"),
        (RATIOS | {"flow_share": np.array([0.9, 0.5])}, "hot_flow_share", "whole flow"),
        (
            RATIOS | {"vapour_liquid_ratio": np.array([0.0]), "flow_share": np.array([1.0])},
            "hot_vapour_liquid_ratio",
            "no row has vapour",
        ),
    ],
)
def test_a_test_with_hot_fuel_that_is_not_whole_is_one_clear_error(ratings, key, words):
    with pytest.raises(InputError, match=words) as caught:
        HotFuelTest(**ratings).check()
    assert caught.value.key == key


def test_rows_over_temperature_never_rise_over_vapour_and_never_exceed_the_whole_flow():
    """What thin fuel takes is taken out: rows that lose less than that are the whole flow."""
    test = HotFuelTest(
        np.array([1.0, 1.0, 0.99, 0.98]), None, np.array([293.15, 323.15, 328.15, 333.15]), 80e3, "summer_e10", None
    )
    table = test.table(0.05)
    assert table.flow_share.max() <= 1.0
    assert np.all(np.diff(table.flow_share) <= 0.0)
    assert np.all(np.diff(table.vapour_liquid_ratio) > 0.0)
    # By hand: 5 % by 60 degC, so that 0.9 of the cold flow there is 0.9/0.95 of the thin fuel's.
    lost = test._replace(flow_share=np.array([1.0, 0.95, 0.92, 0.9]))
    assert lost.table(0.05).flow_share[-1] == pytest.approx(0.9 / 0.95)
    assert lost.table(0.0).flow_share[-1] == pytest.approx(0.9)
    # A test that begins at 40 degC, where half of the 5 % is lost already.
    late = lost._replace(temperature=np.array([313.15, 323.15, 328.15, 333.15]))
    assert late.table(0.05).flow_share[-1] == pytest.approx(0.9 * 0.975 / 0.95)
    assert HotFuelTest(**NOTHING).table(0.05) is None
    with pytest.raises(InputError, match="boils at none"):
        test._replace(temperature=np.array([283.15, 284.15, 285.15, 286.15])).table(0.0)


def test_gas_at_the_inlet_acts_on_a_pump_that_turns_only():
    gas = InletGas(2.0, -2e-5, 90e3)
    acting = gas.of_turning(np.array([True, False]))
    assert acting.displaced.tolist() == [1.0, 2.0]
    assert acting.displaced_slope.tolist() == [0.0, -2e-5]
    assert acting.inlet_pressure == 90e3
    assert gas.of_turning(np.array([False, False])) is gas
    running = straight().at(supply_voltage=[0.0, 13.5])
    c = PumpWithGas(running, gas).coefficients(PETROL)
    assert np.asarray(c.displaced).tolist() == [1.0, 2.0]


def held(pump, rail_draw, tank=101325.0):
    net = Network(101325.0)
    net.add_reservoir("tank", pressure=tank)
    net.add_node("rail")
    net.connect("tank", "rail", pump, name="pump", reference="rail")
    return net.solve(PETROL, {"rail": np.asarray(rail_draw) * L_PER_HOUR})


def test_a_controlled_pump_holds_its_pressure_above_its_inlet_or_its_base():
    """No outside figure: by definition of the reference; the pump end passes 300 kPa at 100 L/h."""
    ratings = {"pump": straight(), "set_pressure": "200 kPa", "droop": "0.1 kPa h/L"}
    above_inlet = held(ControlledPump(**ratings), 50.0, tank=90e3)
    assert above_inlet.pressure["rail"] == pytest.approx(90e3 + 195e3, abs=5.0)
    above_base = held(ControlledPump(**ratings, base_pressure="60 kPa"), 50.0, tank=90e3)
    assert above_base.pressure["rail"] == pytest.approx(60e3 + 195e3, abs=5.0)
    slow = straight().at(duty=0.9)
    slowest = held(ControlledPump(**ratings, slowest=slow), 1.0, tank=90e3)
    assert slowest.pressure["rail"] == pytest.approx(90e3 + float(slow.pressure_rise("1 L/h")), abs=20.0)
    assert slowest.regime["pump"] == "least speed"
    words = [ControlledPump(**ratings, **more).reference_in_words("x", "rail") for more in ({}, {"base_pressure": 6e4})]
    assert words == ["of 'rail' above the pump's inlet", "of 'rail' above its base pressure"]
    assert ControlledPump(**ratings).reference_in_words("x", None).startswith("of the atmosphere above")
    for key in ("pump", "slowest"):
        with pytest.raises(InputError, match="no pump") as caught:
            ControlledPump(**(ratings | {key: ControlledPump(**ratings)}))
        assert caught.value.key == key


AT_REST = {"stopped_pressure": "300 kPa", "stopped_flow": "100 L/h"}


def test_a_controlled_pump_at_rest_loses_its_rating():
    """Pushed through it, 50 L/h lose half of what 100 L/h lose, 300 kPa; the rail has more than the set pressure."""
    net = Network(101325.0)
    net.add_reservoir("tank", pressure=101325.0 + 550e3)
    net.add_reservoir("rail", pressure=101325.0 + 400e3)
    pump = ControlledPump(pump=straight(), set_pressure="100 kPa", base_pressure=101325.0, **AT_REST)
    net.connect("tank", "rail", pump, name="pump", reference="rail")
    state = net.solve(PETROL)
    assert state.flow["pump"] == pytest.approx(50.0 * L_PER_HOUR, rel=1e-3)
    assert state.regime["pump"] == "stopped"


@pytest.mark.parametrize("speed", [None, "6000 rpm"])
def test_a_controller_gives_its_least_and_greatest_share_by_duty_or_by_speed(speed):
    control = PumpControl(set_pressure="300 kPa", reference="inlet", least_share="30 %", most_share="80 %")
    pump = straight(speed=speed)
    running = control.running(pump, supply_voltage=[13.5, 13.0], wear=0.1, wire_resistance=0.05)
    assert running.slowest.share == pytest.approx(0.3)
    assert running.fastest.share == pytest.approx(0.8)
    for own, share in ((running.slowest, 0.3), (running.fastest, 0.8)):
        driven = {"duty": share} if speed is None else {"speed": share * 6000.0}
        alone = pump.at(supply_voltage=[13.5, 13.0], wear=0.1, wire_resistance=0.05, **driven)
        assert own.flow([1e5, 1e5]) == pytest.approx(alone.flow([1e5, 1e5]), rel=1e-12)
    assert running.base_pressure is None
    assert PumpControl(set_pressure="3 bar").running(pump, base_pressure=9e4).base_pressure == 9e4
    with pytest.raises(InputError, match="no pressure of the atmosphere"):
        PumpControl(set_pressure="3 bar").running(pump)


def test_a_controlled_running_pump_is_taken_and_given_other_fuel_with_both_of_its_ends():
    control = PumpControl(set_pressure="300 kPa", droop="0.1 kPa h/L", least_share="30 %")
    running = control.running(straight(), supply_voltage=[12.0, 13.0, 14.0], base_pressure=[9e4, 10e4, 11e4])
    taken = running.take(np.array([2, 0]))
    assert np.asarray(taken.base_pressure).tolist() == [11e4, 9e4]
    assert np.asarray(taken.fastest.supply_voltage).tolist() == [14.0, 12.0]
    assert np.asarray(taken.slowest.supply_voltage).tolist() == [14.0, 12.0]
    one = PumpControl(set_pressure=["300 kPa"], reference="inlet").running(straight(), supply_voltage=[12.0, 13.0])
    assert one.take(np.array([1])).base_pressure is None
    assert np.asarray(one.take(np.array([1])).set_pressure).tolist() == [300e3]
    several = PumpControl(set_pressure=["300 kPa", "200 kPa", "100 kPa"], reference="inlet", droop=1e8)
    of_each = several.running(straight(), supply_voltage=12.0).take(np.array([2, 0]))
    assert (of_each.set_pressure.tolist(), of_each.droop) == ([100e3, 300e3], 1e8)
    warm = running.with_inlet(vapour_liquid_ratio=0.5, fuel_temperature=333.15)
    assert (warm.fastest.vapour_liquid_ratio, warm.slowest.fuel_temperature) == (0.5, 333.15)


def test_a_regime_of_a_controlled_pump_says_its_share():
    """At rest and at the least speed the least share, at full speed the greatest, between them what the flow needs."""
    control = PumpControl(set_pressure="300 kPa", reference="inlet", least_share="30 %", most_share="95 %")
    running = control.running(straight(), supply_voltage=13.5)
    regimes = np.array(["full speed", "least speed", "stopped", "regulating", "regulating", "regulating"])
    flow = np.array([50.0, 50.0, 50.0, 50.0, 0.0, 500.0]) * L_PER_HOUR
    at = running.operating(flow, np.array([300e3] * 4 + [-300e3, 300e3]), regimes)
    needed = straight().at(supply_voltage=13.5).share_delivering(50.0 * L_PER_HOUR, 300e3)
    assert 0.4 < needed < 0.9
    assert at.share == pytest.approx([0.95, 0.3, 0.3, float(needed), 0.3, 0.95])


def test_a_plot_is_of_full_load_unless_told(monkeypatch):
    asked = []
    monkeypatch.setattr(pictures.opener, "pump_figure", lambda *arguments: asked.append(arguments[2:4]))
    straight().plot()
    straight().plot(rpm=3000.0, load=0.5)
    assert asked == [(None, 1.0), (3000.0, 0.5)]


@pytest.mark.parametrize(
    ("made", "changes"),
    [
        (PumpStage, {"demand_on": "100 L/h", "demand_off": "100 L/h"}),
        (PumpStage, {"pressure_on": "300 kPa", "pressure_off": "300 kPa"}),
        (PumpControl, {"set_pressure": "3 bar", "least_share": "50 %", "most_share": "50 %"}),
        (PumpStage, {"demand_on": "100 L/h", "pressure_on": "3 bar", "pressure_off": "4 bar"}),
        (PumpStage, {"pressure_off": "4 bar"}),
    ],
)
def test_thresholds_that_would_chatter_or_do_not_pair_are_refused(made, changes):
    with pytest.raises(InputError):
        made(**changes)


@pytest.mark.parametrize(
    ("ratings", "said", "unsaid"),
    [
        ({}, ("no relief valve", "one table only", "inlet head", "V/L"), ("estimated", "extrapolated", "85 %", "15 %")),
        ({"current": None}, ("current estimated",), ("extrapolated",)),
        ({"flow": ["50 L/h", "200 L/h"]}, ("dead-head", "extrapolated"), ("estimated",)),
        ({"relief_pressure": "500 kPa"}, (), ("no relief valve",)),
        ({"voltage_exponent": 1.2}, (), ("one table only",)),
        ({"speed": "6000 rpm"}, ("85 %",), ()),
        ({"speed": "6000 rpm", "full_speed_voltage": "11 V"}, (), ("85 %",)),
        ({"inlet_head_required": "9 kPa"}, ("V/L",), ("inlet head",)),
        ({"vapour_tolerance": 1.0}, ("inlet head",), ("V/L",)),
        ({"hot_flow_share": [0.5], "hot_vapour_liquid_ratio": [1.0]}, (), ("V/L",)),
        ({"mounting": "external"}, ("15 %",), ()),
        ({"mounting": "external", "heat_share": 0.8}, (), ("15 %",)),
    ],
)
def test_what_was_not_given_is_said_to_be_assumed_and_nothing_else(ratings, said, unsaid):
    text = " ".join(straight(**ratings).assumptions)
    for words in said:
        assert words in text
    for words in unsaid:
        assert words not in text


def test_two_tables_need_no_assumption_of_the_voltage():
    two = Pump(
        flow=["0 L/h", "200 L/h", "0 L/h", "150 L/h"],
        pressure=["600 kPa", "0 kPa", "500 kPa", "0 kPa"],
        voltage=[13.5, 13.5, 12.0, 12.0],
    )
    assert "one table only" not in " ".join(two.assumptions)


@pytest.mark.parametrize("interpolation", ["smooth", "straight"])
def test_the_slopes_of_a_ragged_table_stay_within_what_keeps_its_cubic_falling(interpolation):
    """Three times the flatter chord beside a knot suffices [fritsch_carlson_1980]; it takes less, to the full."""
    flow, pressure = np.array([0.0, 80.0, 160.0, 195.0, 200.0]), np.array([600.0, 590.0, 560.0, 300.0, 0.0])
    running = Pump(flow=flow * L_PER_HOUR, pressure=pressure * KPA, interpolation=interpolation).at()
    chord = np.diff(running.rise[:, 0]) / np.diff(np.linspace(0.0, running.largest_flow[0], len(running.rise)))
    flatter = np.maximum(np.append(chord[:1], chord), np.append(chord, chord[-1:]))
    assert np.max(running.slope[:, 0] / flatter) == pytest.approx(STEEPEST_RATIO, rel=1e-9)
    assert STEEPEST_RATIO <= 3.0
