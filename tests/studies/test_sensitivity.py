"""What costs the pressure: drop by part, tornado, gains, variants."""

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.studies import sensitivity as sensitivity_module


@pytest.fixture(scope="module")
def system():
    return fs.Car.named("heron").system("return")


@pytest.mark.parametrize("layout", ["return", "returnless_tank", "returnless_bay"])
def test_parts_and_heights_sum_to_the_total(layout):
    system = fs.Car.named("heron").system(layout)
    run = system.solve(rpm=[800, 3000, 5400])
    split = fs.split_drop(system, run, "tank", "rail")
    parts = sum(split.friction[part] + split.height[part] for part in split.parts if part != "pump")
    assert parts - split.total == pytest.approx(
        run.pressure["pump_outlet"] - run.pressure["pump_inlet"], rel=1e-9, abs=1e-3
    )
    after = fs.split_drop(system, run)
    assert sum(after.friction.values()) + sum(after.height.values()) == pytest.approx(after.total, rel=1e-12)
    assert sum(after.friction_fraction.values()) == pytest.approx(1.0)


def test_a_split_over_stations_that_do_not_follow_is_refused(system):
    run = system.solve(rpm=3000)
    with pytest.raises(fs.InputError, match="no way from"):
        fs.split_drop(system, run, "rail", "pump_outlet")
    with pytest.raises(fs.InputError, match="pump_outlet"):
        fs.split_drop(system, run, "pump_outle")
    with pytest.raises(fs.InputError, match="another layout"):
        fs.split_drop(fs.Car.named("heron").system("returnless_tank"), run)


def test_the_tornado_is_sorted_and_agrees_with_solving_by_hand(system):
    inputs = {"feed.bore": ("5 mm", "8 mm"), "pump_wear": (0.1, -0.1), "supply_voltage": (12.0, 14.4)}
    result = fs.sensitivity(system, measure="bypass", inputs=inputs, rpm=5400, progress=False)
    assert set(result.inputs) == set(inputs)
    assert np.all(np.diff(result.swing) <= 0.0)
    place = result.inputs.index("pump_wear")
    worn = system.solve(fs.Conditions(rpm=5400, pump_wear=0.1)).bypass_flow
    assert result.low[place] == pytest.approx(float(worn))
    assert result.base == pytest.approx(float(system.solve(rpm=5400).bypass_flow))


def test_the_usual_spread_covers_the_parts_of_the_layout(system):
    result = fs.sensitivity(system, rpm=3000, measure="injector_duty", progress=False)
    assert {"pump_wear", "supply_voltage", "suction.bore", "feed.bore", "return_line.bore"} <= set(result.inputs)
    assert np.all(np.isfinite(result.swing))


def test_a_gain_is_the_change_alone_against_the_car_as_it_is(system):
    changes = fs.vary("feed.bore", ["8 mm"]) | {"cold": {"tank_temperature": "10 degC"}}
    gains = fs.what_if(system, changes, rpm=[3000, 5400], progress=False)
    bigger = fs.Car.named("heron").with_values({"feed.bore": "8 mm"}).system("return")
    difference = bigger.solve(rpm=[3000, 5400]).bypass_flow - system.solve(rpm=[3000, 5400]).bypass_flow
    assert gains.of("feed.bore 8 mm", "bypass") == pytest.approx(difference)
    assert np.all(gains.of("cold", "inlet_vapour_margin") > 20.0)
    assert len(gains.table()) == 3


def test_ctrl_c_leaves_the_finished_inputs_usable(system, monkeypatch):
    solve, calls = sensitivity_module.solve_changed, []

    def interrupted(*arguments):
        calls.append(arguments)
        if len(calls) == 5:
            raise KeyboardInterrupt
        return solve(*arguments)

    monkeypatch.setattr(sensitivity_module, "solve_changed", interrupted)
    inputs = {"feed.bore": ("5 mm", "8 mm"), "pump_wear": (0.1, -0.1), "supply_voltage": (12.0, 14.4)}
    result = fs.sensitivity(system, inputs=inputs, rpm=5400, progress=False)
    assert result.interrupted
    assert result.inputs == ("feed.bore",)
    assert len(result.table()) == 1


def test_unknown_measures_inputs_and_keys_are_refused(system):
    with pytest.raises(fs.InputError, match="did you mean 'bypass'"):
        fs.sensitivity(system, measure="bypas")
    with pytest.raises(fs.InputError, match="feed"):
        fs.sensitivity(system, inputs={"fed.bore": (1.0, 2.0)}, rpm=3000)
    with pytest.raises(fs.InputError, match="one"):
        fs.sensitivity(system, fs.Conditions(rpm=[1000, 2000]))
    with pytest.raises(fs.InputError, match="did you mean 'feed'"):
        fs.vary("fed.bore", ["6 mm"])
    with pytest.raises(fs.InputError, match="a list"):
        fs.vary("feed.bore", "6 mm")


def test_variants_and_other_cars_are_compared_on_the_same_conditions():
    car = fs.Car.named("heron")
    variants = fs.vary("feed.bore", ["6 mm", "10 mm"]) | {"light car": fs.Car.named("finch")}
    result = fs.compare(car, ["return"], variants=variants, rpm=[1000, 5400], tank_temperature=["30 degC"])
    assert result.layouts == ("feed.bore 6 mm", "feed.bore 10 mm", "light car")
    differences = result.differences()
    assert list(differences.index) == ["feed.bore 10 mm", "light car"]
    bypass = result.table()["least_bypass_L_h"]
    assert differences.loc["feed.bore 10 mm", "least_bypass_L_h"] == pytest.approx(bypass.iloc[1] - bypass.iloc[0])
    assert "idle_rail_K" in differences.columns, "a difference of temperatures is in kelvin"
    both = fs.compare(car, ["return", "returnless_tank"], variants=fs.vary("feed.bore", ["6 mm"]), rpm=[1000])
    assert both.layouts == ("return, feed.bore 6 mm", "returnless_tank, feed.bore 6 mm")
    with pytest.raises(fs.InputError, match="did you mean"):
        result.differences("feed.bore 9 mm")


def test_ctrl_c_in_a_comparison_leaves_the_finished_systems_whole(monkeypatch):
    from fuelsim.system.run import System

    solve, calls = System.solve, []

    def interrupted(self, *arguments, **named):
        calls.append(self.layout)
        if len(calls) == 5:
            raise KeyboardInterrupt
        return solve(self, *arguments, **named)

    monkeypatch.setattr(System, "solve", interrupted)
    result = fs.compare(fs.Car.named("finch"), rpm=[1000, 6000], tank_temperature=["30 degC"], progress=False)
    assert result.interrupted
    assert result.layouts == ("return",)
    assert len(result.table()) == 1
    assert result.sentences()


@pytest.mark.parametrize("name", ["finch", "heron"])
def test_the_usual_spread_has_an_answer_everywhere_and_several_bars_that_are_seen(name):
    """A bar of 2 % of the axis is about 2 mm wide on a page; the fuel of the warmest tank must not boil in it."""
    car = fs.Car.named(name)
    result = fs.sensitivity(car, "return", progress=False)
    assert result.ends_without_value == ()
    warmest = dict(zip(result.inputs, result.high_input, strict=True))["tank_temperature"]
    assert warmest < fs.boiling_temperature(car.fuel.fuel(), car.surroundings.altitude)
    axis = result.plot().axes[0]
    left, right = axis.get_xlim()
    assert sum(abs(bar.get_width()) > 0.02 * (right - left) for bar in axis.patches) >= 3


def test_an_end_without_an_answer_is_named_in_figure_and_result():
    inputs = {"tank_temperature": ("35 degC", "60 degC"), "feed.bore": ("6 mm", "7 mm")}
    result = fs.sensitivity(fs.Car.named("heron"), "return", inputs=inputs, progress=False)
    assert result.ends_without_value == (("tank_temperature", "60 degC"),)
    figure = result.plot()
    assert "No answer at tank_temperature 60 degC" in " ".join(figure.get_suptitle().split())
    labels = [label.get_text() for label in figure.axes[0].get_yticklabels()]
    assert labels == ["tank_temperature: 35 degC … 60 degC (no answer)", "feed.bore: 6 mm … 7 mm"]
