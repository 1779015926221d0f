"""Sizing, commissioning sheet and remedies of a car's own plumbing: parts by table, steps by pump, rail and pot."""

from __future__ import annotations

import numpy as np
import pytest
from plumbings import every_plumbing

import fuelsim as fs
from fuelsim.studies.candidates import default_candidates
from fuelsim.studies.measures import MEASURES

TWO_POINTS = fs.Conditions(rpm=[850.0, 6600.0], load=[0.0, 1.0])
RATED = {
    f"{table}.working_pressure": "1500 kPa"
    for table in (
        *(
            f"lines.{name}"
            for name in ("lift_line", "feed_line", "left_feed", "right_feed", "crossover", "return_hose")
        ),
        *("filters.main_filter", "check_valves.left_check", "check_valves.right_check"),
    )
}


def plover(**values):
    return fs.Car.named("plover").with_values(values)


def sized(candidates, layout="pot"):
    return fs.size(plover(), layout, candidates, conditions=TWO_POINTS, progress=False)


def steps(car, layout):
    return {step.what: step for step in fs.hand_over(car, layout).steps}


def test_pumps_to_the_rails_are_fitted_alike_and_the_lift_pump_stays():
    result = sized({"pumps": ["external_roller_competition"]})
    car = result.car_of(0)
    assert {car.pumps[name].catalogue for name in ("left_pump", "right_pump")} == {"external_roller_competition"}
    assert car.pumps["lift"] == plover().pumps["lift"]


def test_one_named_table_is_sized_alone():
    result = sized({"lines.crossover": ["steel_tube_half_inch", "steel_tube_quarter_inch"]})
    # 1/4 in and 1/2 in of tube: 0.028 and 0.035 in of wall [sae_j526].
    bores = [result.car_of(number).lines["crossover"].bore for number in (0, 1)]
    assert bores == pytest.approx([0.194 * 0.0254, 0.430 * 0.0254], rel=0.01)
    assert result.car_of(0).lines["feed_line"] == plover().lines["feed_line"]


def test_a_pump_of_another_mounting_is_refused_with_its_table():
    with pytest.raises(fs.InputError, match="mounted external"):
        sized({"pumps.lift": ["external_roller"]})


def test_a_name_that_is_no_table_is_answered_with_the_nearest():
    with pytest.raises(fs.InputError, match="crossover"):
        sized({"lines.crosover": ["steel_tube_half_inch"]})


def test_each_circuit_gets_the_least_fuse_that_its_own_current_loads_to_three_quarters():
    result = sized({"injectors": ["size_400"]})
    usual = np.array([5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0])
    for table, fuse in result.fuses(0).items():
        assert fuse == usual[usual >= result.circuit_current[table][0] / 0.75][0]
    assert result.circuit_current["wires.lift"][0] < result.circuit_current["wire"][0]
    assert result.car_of(0).wires["lift"].fuse_rating == result.fuses(0)["wires.lift"]


@pytest.mark.parametrize("layout", ["pot", "no_pot", "dead_ended"])
def test_what_is_tried_by_default_stays_few_combinations(layout):
    tried = default_candidates(plover(), layout)
    assert np.prod([len(names) for names in tried.values()]) < 1000
    assert all(fs.Pump.named(name).mounting == "external" for name in tried["pumps"])


def test_the_sheet_has_a_step_for_each_pump_and_each_rail():
    names = set(steps(plover(), "pot"))
    for pump in ("lift", "left pump", "right pump"):
        assert {f"Volts at {pump}, key on", f"Amps of {pump}, key on", f"Flow of {pump}, key on"} <= names
    for rail in ("left rail", "right rail"):
        assert {f"Rail pressure, key on, {rail}", f"Rail pressure, full load, {rail}"} <= names


def test_half_a_litre_takes_its_volume_over_the_flow():
    sheet = fs.hand_over(plover(), "pot")
    flow = float(sheet.run.flow["lift"][0])
    step = {each.what: each for each in sheet.steps}["Flow of lift, key on"]
    assert f"{0.5e-3 / flow:.1f} s for 0.5 L" in step.predicted


def test_without_a_check_valve_no_pump_is_measured_alone():
    car = plover()
    runs = [[name for name in run if not name.endswith("_check")] for run in car.plumbing["pot"].runs]
    names = set(steps(car.with_plumbing("open", runs), "open"))
    assert not {"Flow of left pump, key on", "Flow of right pump, key on"} & names
    assert "Flow of lift, key on" in names


def test_a_pot_lasts_its_volume_over_what_the_engine_burns():
    sheet = fs.hand_over(plover(), "pot")
    step = next(each for each in sheet.steps if each.what == "Pot without lift pump")
    seconds = float(step.predicted.split("lasts ")[-1].split(" s")[0])
    burnt = float(sheet.run.burnt_flow[sheet.points.index("full load, peak power")])
    assert seconds == pytest.approx(1.5e-3 / burnt, rel=0.02)  # what returns is warmer, and takes a little more room


def test_dead_head_is_told_only_where_one_return_is_the_only_way_back():
    car = plover(**RATED)
    assert "Only if every part" in steps(car, "pot")["Dead-head"].how
    bled = car.with_values({"orifices.bleed": fs.Orifice(diameter="0.6 mm")})
    runs = [*car.plumbing["pot"].runs, ("left_rear", "bleed", "pot")]
    step = steps(bled.with_plumbing("bled", runs), "bled")["Dead-head"]
    assert "Not to be done (fuel gets back by more than one way)" in step.how


def test_pumps_move_into_the_tank_only_where_they_draw_from_it():
    done = {layout: {each.name for each in fs.remedies(plover(), layout).remedies} for layout in ("pot", "no_pot")}
    assert "pump into the tank" in done["no_pot"]
    assert "pump into the tank" not in done["pot"]
    assert all("cooler of 12 W/K in the return" in names for names in done.values())


def test_a_margin_map_holds_every_pump_and_every_rail():
    limit = fs.margin_map(plover(), "pot", {"altitude": ["0 m"]}).limit
    assert {"tank", "pot", "lift_inlet", "left_rail", "right_rail"} <= set(limit)


def test_the_comparison_calls_own_plumbings_by_their_titles():
    result = fs.compare(plover(), rpm=[1000, 6600], tank_temperature=["20 degC", "40 degC"])
    assert result.layouts == ("pot", "no_pot", "dead_ended")
    for layout, sentence in zip(result.layouts, result.sentences(), strict=True):
        assert sentence.startswith(f"{result.car.plumbing[layout].title}: ")
        assert "Every pump's inlet" in sentence
        assert "The rails differ by at most" in sentence


def test_regulators_that_stand_at_one_pressure_share_what_is_left_over():
    car = every_plumbing()["a_regulator_for_each_rail"]
    # The rails are joined by hoses that hold no pressure back.
    system = car.system("a_regulator_for_each_rail")
    run = system.solve(rpm=[900.0], load=0.0)
    both = sum(float(run.flow[name][0]) for name in ("left_end", "right_end") if run.regime[name][0] != "shut")
    assert float(MEASURES["bypass"].of(system, run)[0]) == pytest.approx(both)


def test_what_a_relief_in_the_lift_circuit_spills_is_no_reserve():
    layout = "lift_pump_with_a_relief_of_its_own"
    system = every_plumbing()[layout].system(layout)
    run = system.solve(rpm=[900.0], load=0.0)
    assert float(MEASURES["bypass"].of(system, run)[0]) == pytest.approx(float(run.flow["rail_regulator"][0]))
