"""A car whose pump is slowed to hold a pressure, and one with a second pump that is added where it is needed."""

import dataclasses

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.errors import InputError
from fuelsim.parts.pump.control import PumpControl, PumpStage, switched
from fuelsim.system.conditions import Conditions

L_H = 1.0 / 3.6e6
RPM = np.linspace(700.0, 6500.0, 9)
DEAD_ENDED = [["tank", "strainer", "pump", "filter", "feed", "rail"]]
DROOP = 0.1e3 / L_H


def controlled(pump="brushless_turbine_300", **control):
    values = {"set_pressure": "400 kPa", "droop": DROOP, **control}
    changes = {
        "pump": fs.Pump.named(pump),
        "pump_control": PumpControl(**values),
        "tank_regulator": None,
        "rail_regulator": None,
    }
    return fs.Car.named("finch").with_values(changes).with_plumbing("held", runs=DEAD_ENDED).system("held")


@pytest.mark.parametrize("pump", ["brushless_turbine_300", "in_tank_220"])
def test_a_controlled_pump_holds_the_rail_within_its_droop_at_all_demands_and_its_power_falls_with_its_share(pump):
    """By the rating: set pressure less droop times flow; at one pressure a motor's power goes with speed or duty."""
    run = controlled(pump).solve(Conditions.grid(rpm=RPM, load=[0.0, 0.3, 0.6, 1.0]))
    assert np.all(run.outcome.converged)
    assert np.all(run.regime["pump"] == "regulating")
    held = run.gauge_pressure["rail"]
    assert held == pytest.approx(400e3 - DROOP * run.flow["pump"], abs=2.0)
    assert np.all(held >= 400e3 - DROOP * run.flow["pump"].max() - 2.0)
    order = np.argsort(run.flow["pump"].ravel())
    for falls in (run.pump_share["pump"], run.pump_power["pump"]):
        assert np.all(np.diff(falls.ravel()[order]) > -1e-6 * falls.max())
    assert np.all(run.pump_on["pump"])
    # Mass: what the pump takes from the tank is what the engine burns.
    assert run.supply_mass_flow == pytest.approx(run.burnt_mass_flow, rel=1e-6)


def test_the_share_of_a_controlled_pump_makes_the_same_pump_deliver_the_same_without_a_controller():
    """The other way round: the speed that was found, set in a bare network of pump and draw, gives flow and rise."""
    run = controlled().solve(rpm=RPM)
    pump = fs.Pump.named("brushless_turbine_300")
    speed = run.pump_share["pump"] * pump.bench_speed
    density = float(fs.Car.named("finch").fuel.fuel().tables().density(293.15))
    plain = pump.at(speed=speed, fuel_density=density, fuel_temperature=run.temperature["pump_inlet"])
    rise = run.pressure["pump_outlet"] - run.pressure["pump_inlet"]
    assert plain.flow(rise) == pytest.approx(run.flow["pump"], rel=2e-3)


@pytest.mark.parametrize(("reference", "station"), [("manifold", "manifold"), ("inlet", "pump_inlet")])
def test_the_pressure_is_held_above_its_reference(reference, station):
    system = controlled(reference=reference)
    run = system.solve(rpm=3000.0, load=[0.1, 0.5, 1.0], altitude=["0 m", "1000 m", "2000 m"])
    above = run.pressure["rail"] - run.pressure[station]
    assert above == pytest.approx(400e3 - DROOP * run.flow["pump"], abs=2.0)


def test_a_sensor_at_the_outlet_leaves_the_loss_to_the_rail():
    """By the rating: the pressure at the sensor is held, whatever is lost behind it."""
    run = controlled(sensor="outlet").solve(rpm=RPM)
    assert run.gauge_pressure["pump_outlet"] == pytest.approx(400e3 - DROOP * run.flow["pump"], abs=2.0)
    assert np.all(run.gauge_pressure["rail"] < run.gauge_pressure["pump_outlet"])


def test_below_the_least_share_the_pump_stays_at_it_and_the_rail_rises():
    run = controlled(least_share="38 %").solve(rpm=RPM)
    at_least = run.regime["pump"] == "least speed"
    assert at_least[0]
    assert not at_least[-1]
    assert np.all(run.pump_share["pump"][at_least] == 0.38)
    assert np.all(run.gauge_pressure["rail"][at_least] > 400e3 - DROOP * run.flow["pump"][at_least])


def test_a_controlled_pump_holds_its_set_pressure_on_purpose():
    plumbing = controlled().plumbing
    assert plumbing.held_pressure() == 400e3
    assert controlled(reference="manifold").plumbing.held_pressure(boost=50e3) == 450e3
    assert plumbing.link("pump").reference == "rail"
    for reference, sees_manifold in (("manifold", True), ("atmosphere", False)):
        held = controlled(reference=reference).plumbing
        assert [(each.name, each.set_pressure, each.sees_manifold) for each in held.holders] == [
            ("pump", 400e3, sees_manifold)
        ]
        assert held.held_at("rail").set_pressures == ((400e3, sees_manifold),)


TWO_PUMPS = [
    ["tank", "strainer", "pump", "first_check", "tee"],
    ["tank", "second_strainer", "second", "second_check", "tee"],
    ["tee", "filter", "feed", "rail", "rail_regulator", "return_line", "tank"],
]


def staged(stage):
    """The return layout of a demo car with a second pump beside the first."""
    car = fs.Car.named("finch")
    parts = {
        "pumps.second": fs.Pump.named("in_tank_220"),
        "filters.second_strainer": car.strainer,
        "check_valves.first_check": fs.CheckValve(),
        "check_valves.second_check": fs.CheckValve(),
        "pump_stages.second": stage,
    }
    return car.with_values(parts).with_plumbing("two", runs=TWO_PUMPS).system("two")


LOAD = np.linspace(0.0, 1.0, 41)


def both_ways(stage):
    return [staged(stage).solve(Conditions(rpm=5000.0, load=LOAD, staging=way)) for way in ("rising", "falling")]


@pytest.mark.parametrize(
    ("stage", "measured", "on", "off"),
    [
        (
            PumpStage(demand_on="30 L/h", demand_off="20 L/h"),
            lambda run: run.burnt_flow / L_H,
            30.0,
            20.0,
        ),
        (
            PumpStage(manifold_pressure_on="90 kPa", manifold_pressure_off="70 kPa"),
            lambda run: run.pressure["manifold"] / 1e3,
            90.0,
            70.0,
        ),
    ],
)
def test_two_staged_pumps_change_over_with_the_hysteresis_set(stage, measured, on, off):
    """The thresholds are the ones given; the held pressure steps by droop times change of bypass."""
    rising, falling = both_ways(stage)
    value = measured(rising)
    assert rising.pump_on["second"].tolist() == (value >= on).tolist()
    assert falling.pump_on["second"].tolist() == (value >= off).tolist()
    between = rising.pump_on["second"] != falling.pump_on["second"]
    assert between.sum() > 3
    droop = staged(stage).car.rail_regulator.droop
    step = (falling.gauge_pressure["rail"] - rising.gauge_pressure["rail"])[between]
    # At the regulator's inlet, half a rail behind the rail's middle.
    inlet = [run.pressure["rail_outlet"] - run.pressure["manifold"] for run in (falling, rising)]
    assert (inlet[0] - inlet[1])[between] == pytest.approx(
        droop * (falling.bypass_flow - rising.bypass_flow)[between], rel=2e-3
    )
    assert np.all(step > 0.0)


def test_a_staged_pump_that_is_off_draws_nothing_and_lets_nothing_back():
    rising, _ = both_ways(PumpStage(demand_on="30 L/h", demand_off="20 L/h"))
    off = ~rising.pump_on["second"]
    assert off.sum() > 10
    for value in (rising.pump_current, rising.pump_power, rising.pump_share, rising.pump_voltage):
        assert np.all(value["second"][off] == 0.0)
    assert np.all(np.abs(rising.flow["second"][off]) < 1e-2 * L_H)


def test_a_pump_staged_by_pressure_keeps_the_rail_above_its_threshold_and_follows_its_history():
    stage = PumpStage(pressure_on="300 kPa", pressure_off="330 kPa")
    rising, falling = both_ways(stage)
    alone = staged(PumpStage(demand_on="9000 L/h", demand_off="8000 L/h")).solve(Conditions(rpm=5000.0, load=LOAD))
    together = staged(PumpStage(demand_on="0.2 L/h", demand_off="0.1 L/h")).solve(Conditions(rpm=5000.0, load=LOAD))
    assert rising.pump_on["second"].tolist() == (alone.gauge_pressure["rail"] < 300e3).tolist()
    assert falling.pump_on["second"].tolist() == (together.gauge_pressure["rail"] <= 330e3).tolist()
    for run in (rising, falling):
        on = run.pump_on["second"]
        assert np.all(run.gauge_pressure["rail"][~on] >= 300e3)
        expected = np.where(on, together.gauge_pressure["rail"], alone.gauge_pressure["rail"])
        assert run.gauge_pressure["rail"] == pytest.approx(expected, abs=3.0)
        assert not run.pump_cycles["second"].any()


def test_a_stage_by_pressure_takes_a_rail_below_the_atmosphere_and_a_failed_point_for_too_low_a_pressure():
    """Without supply the rail hangs on its column above the tank, 6 kPa below the atmosphere: the stage asks for the
    second pump, which has no supply either. With supply, an idling rail is 300 kPa above its manifold."""
    stage = PumpStage(pressure_on="300 kPa", pressure_off="330 kPa")
    run = staged(stage).solve(Conditions(rpm=1000.0, load=0.0, supply_voltage=[0.0, 13.5]))
    assert run.outcome.has_values.all()
    assert run.as_solved.pressure["rail"][0] < 101325.0 - 5e3
    assert run.pump_on["second"].tolist() == [False, True]
    assert switched(stage, np.array([-np.inf, -6e3, 315e3, 331e3]), False).tolist() == [True, True, False, False]


def test_a_pump_whose_step_reaches_from_one_threshold_to_the_other_switches_on_and_off_in_turn():
    stage = PumpStage(pressure_on="300 kPa", pressure_off="301 kPa")
    alone = staged(PumpStage(demand_on="9000 L/h", demand_off="8000 L/h")).solve(Conditions(rpm=5000.0, load=LOAD))
    together = staged(PumpStage(demand_on="0.2 L/h", demand_off="0.1 L/h")).solve(Conditions(rpm=5000.0, load=LOAD))
    expected = (alone.gauge_pressure["rail"] < 300e3) & (together.gauge_pressure["rail"] > 301e3)
    assert expected.any()
    for run in both_ways(stage):
        assert run.pump_cycles["second"].tolist() == expected.tolist()


@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"pump_control.sensor": "left_rail"}, "pump_control.sensor"),
        ({"pump_steps": {"demand": [0.0, "40 L/h"], "duty": [0.6, 1.0]}}, "pump_steps"),
        ({"pump_controls.pump": PumpControl(set_pressure="3 bar")}, "pump_controls.pump"),
        ({"pump_controls.other": PumpControl(set_pressure="3 bar")}, "pump_controls.other"),
    ],
)
def test_a_controller_that_does_not_fit_is_one_clear_error(change, key):
    car = controlled("in_tank_220").car
    if "pump_steps" in change:
        change = {"pump_steps": fs.PumpSteps(**change["pump_steps"])}
    with pytest.raises(InputError) as caught:
        car.with_values(change).system("held")
    assert caught.value.key == key


def test_a_stage_by_the_pressure_of_an_unknown_rail_is_refused():
    with pytest.raises(InputError, match="no such rail"):
        staged(PumpStage(pressure_on="300 kPa", pressure_off="330 kPa", sensor="rear_rail"))


def test_a_controlled_pump_takes_the_pressure_of_the_first_rail_it_feeds_and_a_lift_pump_of_none():
    """Beyond the pot stand other pumps: what fills it cannot hold a rail's pressure."""
    plover = fs.Car.named("plover")
    control = PumpControl(set_pressure="3 bar")
    plumbing = plover.with_values({"pump_controls.right_pump": control}).system("pot").plumbing
    assert plumbing.link("right_pump").reference == "left_rail"
    assert plumbing.link("left_pump").reference is None
    assert list(plumbing.controls) == ["right_pump"]
    with pytest.raises(InputError, match="no rail downstream of 'lift'"):
        plover.with_values({"pump_controls.lift": control}).system("pot")
    at_outlet = dataclasses.replace(control, sensor="outlet")
    lift = plover.with_values({"pump_controls.lift": at_outlet}).system("pot").plumbing
    assert lift.link("lift").reference == "lift_outlet"


def test_an_unknown_history_is_refused():
    with pytest.raises(InputError, match="history"):
        Conditions(rpm=3000.0, staging="sideways")


def test_controllers_and_stages_are_written_and_read_back(tmp_path):
    car = staged(PumpStage(demand_on="30 L/h", demand_off="20 L/h")).car
    car = dataclasses.replace(car, pump_control=PumpControl(set_pressure="3 bar", reference="manifold", sensor="rail"))
    path = tmp_path / "car.toml"
    path.write_text(car.to_toml())
    assert fs.read_car(path) == dataclasses.replace(car, file=str(path))
