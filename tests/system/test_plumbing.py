"""What stands where, read by hand off the runs of the demo car with a surge pot.

tank - lift_strainer - lift - lift_line - pot; pot - left_pump - left_check - tee, and so on the right; tee -
main_filter - feed_line - front; front - left_feed - left_rail - left_rear, and so on the right; right_rear - crossover
- left_rear; left_rear - rail_end (regulator) - return_hose - pot; pot - overflow - tank.
"""

from __future__ import annotations

import pytest

import fuelsim as fs
from fuelsim.errors import InputError
from fuelsim.system.plumbing_paths import (
    drawn_from,
    feeds_rail,
    filling_links,
    links_before,
    pumps_behind,
    pumps_side_by_side,
    pumps_to_rails,
    regulator_groups,
    way_to_rail,
    ways_back,
)


@pytest.fixture(scope="module")
def plumbing():
    return fs.Car.named("plover").system("pot").plumbing


@pytest.fixture(scope="module")
def without_pot():
    return fs.Car.named("plover").system("no_pot").plumbing


def names(links):
    return [link.name for link in links]


def test_sides_follow_from_pumps_and_regulators(plumbing):
    assert names(plumbing.pumps) == ["lift", "left_pump", "right_pump"]
    assert names(plumbing.strainers) == ["lift_strainer"]
    assert names(plumbing.filters) == ["main_filter"]
    assert names(plumbing.suction_lines) == []
    assert names(plumbing.feed_lines) == ["lift_line", "feed_line", "left_feed", "right_feed", "crossover"]
    assert names(plumbing.return_lines) == ["return_hose"]
    assert names(plumbing.supply_links) == ["lift_strainer"]
    assert names(plumbing.return_links) == ["overflow"]
    assert names(plumbing.overflows("pot")) == ["overflow"]
    assert plumbing.has_return
    assert plumbing.sweeps_rail
    assert plumbing.regulator.name == "rail_end"


def test_what_a_pump_may_press_on_is_rated_always_and_the_return_when_it_is_pinched(plumbing):
    under = {
        link.name: plumbing.under_pressure[link.table].always
        for link in plumbing.links
        if link.table in plumbing.under_pressure
    }
    assert under == {
        **dict.fromkeys(("lift_line", "left_check", "right_check", "main_filter", "feed_line"), True),
        **dict.fromkeys(("left_feed", "right_feed", "crossover"), True),
        "return_hose": False,
    }


def test_stations_without_a_pump_or_regulator_between_them_are_one_zone(plumbing):
    zone = plumbing.zone
    assert zone("front") == zone("left_rear") == zone("right_rear") == zone("tee") == zone("left_rail")
    assert zone("front") != zone("rail_end_outlet") if "rail_end_outlet" in plumbing.stations else True
    assert zone(plumbing.link("lift").downstream) != zone("front")
    assert zone(plumbing.link("left_pump").upstream) != zone("tee")


def test_dead_heads_end_in_a_pot_and_are_the_greatest_of_pumps_side_by_side(plumbing):
    heads = plumbing.dead_heads({"lift": 1e5, "left_pump": 8e5, "right_pump": 9e5})
    assert heads["tank"] == heads["pot"] == 0.0
    assert heads[plumbing.link("lift").downstream] == 1e5
    assert heads[plumbing.link("left_pump").downstream] == 8e5
    assert heads["tee"] == heads["left_rail"] == heads["right_rear"] == 9e5


def test_ways_go_along_the_flow_and_not_against_it(plumbing):
    assert names(plumbing.between("tee", "left_rear"))[:3] == ["main_filter", "feed_line", "left_feed"]
    assert names(plumbing.between("tank", "pot")) == ["lift_strainer", "lift", "lift_line"]
    assert plumbing.main_pump.name == "left_pump"
    with pytest.raises(InputError, match="no way"):
        plumbing.between("tee", plumbing.link("lift").downstream)


def test_pumps_draw_from_the_vessel_next_to_them_and_feed_what_follows(plumbing, without_pot):
    assert [drawn_from(plumbing, pump.upstream) for pump in plumbing.pumps] == ["tank", "pot", "pot"]
    assert [feeds_rail(plumbing, pump.downstream) for pump in plumbing.pumps] == [False, True, True]
    assert names(pumps_to_rails(plumbing)) == ["left_pump", "right_pump"]
    assert names(links_before(plumbing, plumbing.link("lift").upstream)) == ["lift_strainer"]
    assert links_before(plumbing, plumbing.link("left_pump").upstream) == []
    assert names(links_before(without_pot, without_pot.link("left_pump").upstream)) == [
        "strainer_of_mains",
        "mains_suction",
    ]
    assert names(pumps_behind(without_pot, without_pot.link("mains_suction"))) == ["left_pump", "right_pump"]
    assert names(pumps_behind(plumbing, plumbing.link("lift_strainer"))) == ["lift"]
    assert names(filling_links(plumbing, "pot")) == ["lift_line"]
    assert names(ways_back(plumbing)) == ["rail_end"]
    assert [names(group) for group in regulator_groups(plumbing)] == [["rail_end"]]
    assert names(way_to_rail(plumbing, "left_rail"))[:4] == ["left_check", "main_filter", "feed_line", "left_feed"]


def test_pumps_side_by_side_without_any_check_valve_push_fuel_back():
    """Either both are protected by their check valves, or, without valves and with open pumps, none is."""
    car = fs.Car.named("plover")
    protected = pumps_side_by_side(car.system("pot").plumbing)
    assert [(group.pumps, group.unprotected) for group in protected] == [(("left_pump", "right_pump"), ())]
    runs = [
        ["tank", "lift_strainer", "lift", "lift_line", "pot"],
        ["pot", "left_pump", "tee"],
        ["pot", "right_pump", "right_check", "tee"],
        ["tee", "main_filter", "feed_line", "front"],
        ["front", "left_feed", "left_rail", "left_rear"],
        ["front", "right_feed", "right_rail", "right_rear"],
        ["right_rear", "crossover", "left_rear"],
        ["left_rear", "rail_end", "return_hose", "pot"],
        ["pot", "overflow", "tank"],
    ]
    bare = car.with_values({"pumps.left_pump.check_valve": False, "pumps.right_pump.check_valve": False})
    groups = pumps_side_by_side(bare.with_plumbing("bare", runs=runs).system("bare").plumbing)
    assert [(group.pumps, group.unprotected) for group in groups] == [(("left_pump", "right_pump"), ("left_pump",))]


def test_the_regulator_is_that_of_the_rails_though_another_comes_first():
    """A second regulator spills before the pot, where the lift pump delivers."""
    car = fs.Car.named("plover")
    runs = [list(run) for run in car.plumbing["pot"].runs]
    runs[0:1] = [["tank", "lift_strainer", "lift", "mid"], ["mid", "lift_line", "pot"], ["mid", "beside_pot", "tank"]]
    plumbing = car.with_plumbing("two", runs=runs).system("two").plumbing
    assert names(plumbing.regulators) == ["beside_pot", "rail_end"]
    assert plumbing.regulator.name == "rail_end"
    assert [holder.name for holder in plumbing.holders] == ["rail_end", "beside_pot"]
    assert [names(group) for group in regulator_groups(plumbing)] == [["rail_end"]]
