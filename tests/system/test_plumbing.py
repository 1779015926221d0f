"""What stands where, read by hand off the runs of the demo car with a surge pot.

tank - lift_strainer - lift - lift_line - pot; pot - left_pump - left_check - tee, and so on the right; tee -
main_filter - feed_line - front; front - left_feed - left_rail - left_rear, and so on the right; right_rear - crossover
- left_rear; left_rear - rail_end (regulator) - return_hose - pot; pot - overflow - tank.
"""

from __future__ import annotations

import pytest

import fuelsim as fs
from fuelsim.car.tables import PlacedReducer
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


def plumbed(car, layout, *extra, **runs):
    """Return a car's plumbing with some of its runs replaced by number, and further ones at the end."""
    own = [list(run) for run in car.plumbing[layout].runs]
    for number, run in runs.items():
        own[int(number[1:])] = run
    return car.with_plumbing("other", runs=[run for run in [*own, *extra] if run]).system("other").plumbing


def test_a_link_is_found_by_either_name_and_an_unknown_one_offers_the_nearest():
    plumbing = fs.Car.named("finch").system("return").plumbing
    assert plumbing.link("rail_regulator") is plumbing.link("regulator")
    with pytest.raises(InputError, match=r"'feed'"):
        plumbing.link("fed")


def test_rows_lead_from_links_to_their_stations_and_back(plumbing):
    for link, up, down in zip(plumbing.links, plumbing.upstream_rows, plumbing.downstream_rows, strict=True):
        assert (plumbing.stations[up], plumbing.stations[down]) == (link.upstream, link.downstream)
    assert [plumbing.links[row].name for row in plumbing.pump_rows] == ["lift", "left_pump", "right_pump"]
    assert [plumbing.links[row].name for row in plumbing.overflow_rows] == ["overflow"]
    assert set(plumbing.stations) - set(plumbing.fuel_stations) == {"manifold"}
    assert plumbing.vessels == {"tank", "pot"}
    assert plumbing.rails == ("left_rail", "right_rail")


def test_mixtures_flow_through_lines_filters_and_valves_only(plumbing):
    apart = [link.name for link, carries in zip(plumbing.links, plumbing.carries_mixture, strict=True) if not carries]
    assert apart == [
        "lift",
        "left_pump",
        "right_pump",
        "left_rail_injectors",
        "right_rail_injectors",
        "rail_end",
    ]


def test_a_suction_line_is_on_the_suction_side_and_what_is_behind_the_regulator_returns(without_pot):
    assert names(without_pot.suction_lines) == ["mains_suction"]
    assert names(without_pot.strainers) == ["strainer_of_mains"]
    assert names(without_pot.return_lines) == ["return_hose"]
    assert names(without_pot.lines) == [
        "mains_suction",
        "feed_line",
        "left_feed",
        "right_feed",
        "crossover",
        "return_hose",
    ]
    assert names(without_pot.supply_links) == ["strainer_of_mains"]
    assert names(without_pot.return_links) == ["return_hose"]
    assert without_pot.path == (
        "strainer_of_mains",
        "mains_suction",
        "left_pump",
        "left_check",
        "main_filter",
        "feed_line",
        "left_feed",
        "left_rail_inlet_bore",
    )
    assert without_pot.stations_to_rail == ("tank", "split", "left_pump_outlet", "left_rail_inlet", "left_rail")


def test_a_regulator_beside_the_pot_leaves_dead_ended_rails_unswept():
    plumbing = fs.Car.named("plover").system("dead_ended").plumbing
    assert not plumbing.sweeps_rail
    assert not plumbing.has_return
    assert names(plumbing.return_lines) == []
    assert plumbing.regulator.name == "beside_pot"
    assert names(ways_back(plumbing)) == ["beside_pot"]
    finch = fs.Car.named("finch")
    sweeps = {layout: finch.system(layout).plumbing.sweeps_rail for layout in finch.layouts()}
    assert sweeps == {"return": True, "returnless_tank": False, "returnless_bay": False}
    returns = {layout: finch.system(layout).plumbing.has_return for layout in finch.layouts()}
    assert returns == {"return": True, "returnless_tank": False, "returnless_bay": True}


def test_a_way_between_stations_is_the_shortest_along_the_flow(plumbing):
    """From the tee to the right rail through the front; to the left rear past the left rail alone."""
    assert names(plumbing.between("tee", "right_rail")) == [
        "main_filter",
        "feed_line",
        "right_feed",
        "right_rail_inlet_bore",
    ]
    assert names(plumbing.between("front", "left_rear")) == [
        "left_feed",
        "left_rail_inlet_bore",
        "left_rail_outlet_bore",
    ]
    # Other names of the ends do as well; the tank is reached and not passed.
    assert names(plumbing.between("main_filter_inlet", "feed_line_outlet")) == ["main_filter", "feed_line"]
    assert names(plumbing.between("pot", "tank")) == ["overflow"]
    for start, end in (("tee", "tee"), ("overflow_outlet", "tank"), ("manifold", "tank")):
        with pytest.raises(InputError, match=f"no way from .* to '{end}'"):
            plumbing.between(start, end)


def test_dead_heads_add_up_in_series_and_stop_at_vessels(without_pot):
    """A second pump behind the first: 3 and 5 bar make 8."""
    series = plumbed(
        fs.Car.named("plover"),
        "no_pot",
        r1=["split", "left_pump", "left_check", "right_pump", "tee"],
        r2=[],
    )
    heads = series.dead_heads({"left_pump": 3e5, "right_pump": 5e5})
    assert heads["right_pump_inlet"] == 3e5
    assert heads["tee"] == heads["left_rail"] == heads["rail_end_outlet"] == 8e5
    assert heads["tank"] == heads["split"] == 0.0
    assert series.main_pump.name == "right_pump"
    assert pumps_side_by_side(series) == ()
    parallel = without_pot.dead_heads({"left_pump": 3e5, "right_pump": 5e5})
    assert parallel["left_pump_outlet"] == 3e5
    assert parallel["tee"] == parallel["rail_end_outlet"] == 5e5


def test_the_order_in_which_runs_are_listed_does_not_matter_to_dead_heads(plumbing):
    car = fs.Car.named("plover")
    runs = [list(run) for run in car.plumbing["pot"].runs]
    other = car.with_plumbing("other", runs=[runs[0], *reversed(runs[1:])]).system("other").plumbing
    assert names(other.links) != names(plumbing.links)
    of_pump = {"lift": 1e5, "left_pump": 8e5, "right_pump": 9e5}
    assert other.dead_heads(of_pump) == plumbing.dead_heads(of_pump)


def test_dead_heads_are_those_of_the_pumps_rated_and_by_their_class(plumbing):
    pumps = {link.name: link.part for link in plumbing.pumps}
    assert plumbing.dead_head_pressure == max(float(pump.dead_head_pressure) for pump in pumps.values())
    assert plumbing.dead_head_to_withstand == max(float(pump.dead_head_to_withstand) for pump in pumps.values())
    lift = plumbing.under_pressure["lines.lift_line"]
    assert lift.dead_head_pressure == float(pumps["lift"].dead_head_pressure)
    assert lift.dead_head_to_withstand == float(pumps["lift"].dead_head_to_withstand)
    assert lift.working_pressure == 340e3
    assert plumbing.under_pressure["lines.feed_line"].dead_head_pressure == plumbing.dead_head_pressure


def test_what_is_held_where_a_regulator_acts_and_nothing_where_a_lift_pump_fills_a_pot(plumbing):
    """300 kPa at the rails' regulator, which sees the manifold: 350 kPa with 50 kPa of boost."""
    assert plumbing.held_at("front").set_pressures == ((300e3, True),)
    assert plumbing.held_at("front").held_pressure(50e3) == 350e3
    assert plumbing.held_at("lift_outlet").set_pressures == ()
    assert plumbing.held_at("lift_outlet").held_pressure() == 0.0
    assert plumbing.held_pressure() == 300e3
    assert plumbing.held_pressure(50e3) == 350e3
    assert plumbing.under_pressure["lines.lift_line"].held.held_pressure() == 0.0
    assert plumbing.under_pressure["lines.left_feed"].held.held_pressure() == 300e3
    tank = fs.Car.named("finch").system("returnless_tank").plumbing
    assert tank.held_at("rail").set_pressures == ((400e3, False),)
    assert tank.held_pressure(50e3) == 400e3


def test_without_a_regulator_a_rail_stands_at_the_dead_head_pressure():
    car = fs.Car.named("finch").with_plumbing("bare", runs=[["tank", "pump", "filter", "feed", "rail"]])
    bare = car.system("bare").plumbing
    assert bare.regulator is None
    assert bare.holders == ()
    assert bare.regulators == ()
    dead_head = float(car.pump.dead_head_pressure)
    assert bare.held_at("rail").held_pressure() == bare.held_pressure() == dead_head > 500e3
    assert regulator_groups(bare) == ()
    assert ways_back(bare) == ()


def test_a_reducer_holds_the_pressure_behind_it_and_divides_the_zones():
    """A pressure reducer before the front holds 250 kPa at the rails; before it a regulator holds 400 kPa."""
    car = fs.Car.named("plover").with_values({"reducers.before_front": PlacedReducer(set_pressure="250 kPa")})
    reduced = plumbed(
        car,
        "dead_ended",
        r5=["behind_filter", "feed_line", "before_front", "front"],
    )
    assert names(reduced.reducers) == ["before_front"]
    assert reduced.zone("front") != reduced.zone("behind_filter")
    assert reduced.zone("front") == reduced.zone("right_rail")
    assert [pressure for pressure, _ in reduced.held_at("front").set_pressures] == [250e3]
    assert [pressure for pressure, _ in reduced.held_at("tee").set_pressures] == [400e3]
    assert reduced.regulator.name == "beside_pot"
    # What is behind it is still fed by the pumps.
    assert names(reduced.feed_lines) == ["lift_line", "feed_line", "left_feed", "right_feed"]
    assert feeds_rail(reduced, "tee")
    assert not bool(reduced.carries_mixture[[link.name for link in reduced.links].index("before_front")])


def test_pumps_draw_through_what_leads_to_them_and_no_further(plumbing, without_pot):
    assert names(pumps_behind(plumbing, plumbing.link("overflow"))) == []
    assert names(pumps_behind(without_pot, without_pot.link("return_hose"))) == []
    assert drawn_from(plumbing, "front") == "pot"
    assert drawn_from(plumbing, "rail_end_outlet") == "tank"
    assert drawn_from(plumbing, "lift_outlet") == "tank"
    assert names(filling_links(plumbing, "pot")) == ["lift_line"]
    assert not feeds_rail(plumbing, "rail_end_outlet")
    assert feeds_rail(plumbing, "front")
    assert names(way_to_rail(without_pot, "left_rail")) == [
        "left_check",
        "main_filter",
        "feed_line",
        "left_feed",
        "left_rail_inlet_bore",
    ]


def test_pumps_with_valves_of_their_own_protect_each_other_and_one_valve_behind_both_does_not():
    """Without check valves in the pumps a valve behind the tee keeps neither from being pushed back by the other."""
    car = fs.Car.named("plover")
    bare = car.with_values({"pumps.left_pump.check_valve": False, "pumps.right_pump.check_valve": False})
    after = plumbed(
        bare,
        "no_pot",
        r1=["split", "left_pump", "tee"],
        r2=["split", "right_pump", "tee"],
        r3=["tee", "left_check", "main_filter", "feed_line", "front"],
    )
    assert [(group.pumps, group.unprotected) for group in pumps_side_by_side(after)] == [
        (("left_pump", "right_pump"), ("left_pump", "right_pump"))
    ]
    for valves, unprotected in (
        ((True, True), ()),
        ((False, True), ("left_pump",)),
        ((False, False), ("left_pump", "right_pump")),
    ):
        names_of = ("pumps.left_pump.check_valve", "pumps.right_pump.check_valve")
        with_valves = car.with_values(dict(zip(names_of, valves, strict=True)))
        own = plumbed(with_valves, "no_pot", r1=["split", "left_pump", "tee"], r2=["split", "right_pump", "tee"])
        assert [group.unprotected for group in pumps_side_by_side(own)] == [unprotected]
    assert pumps_side_by_side(fs.Car.named("finch").system("return").plumbing) == ()


def test_pumps_whose_flows_meet_in_the_manifold_or_in_a_pot_only_are_not_side_by_side():
    """Each main feeds a rail of its own."""
    apart = plumbed(
        fs.Car.named("plover"),
        "no_pot",
        r1=["split", "left_pump", "left_check", "feed_line", "left_feed", "left_rail"],
        r2=["split", "right_pump", "right_check", "main_filter", "right_feed", "right_rail"],
        r3=[],
        r4=[],
        r5=[],
        r6=[],
        r7=[],
    )
    assert names(pumps_to_rails(apart)) == ["left_pump", "right_pump"]
    assert pumps_side_by_side(apart) == ()


def test_two_regulators_at_one_pressure_are_one_group(plumbing):
    both = plumbed(fs.Car.named("plover"), "pot", ["front", "beside_pot", "pot"])
    assert [names(group) for group in regulator_groups(both)] == [["rail_end", "beside_pot"]]
    assert names(ways_back(both)) == ["rail_end", "beside_pot"]
    assert [holder.name for holder in both.holders] == ["rail_end", "beside_pot"]
    assert [(holder.set_pressure, holder.sees_manifold) for holder in both.holders] == [(300e3, True), (400e3, False)]
    assert both.held_at("tee").held_pressure(200e3) == 500e3
    assert both.held_at("tee").held_pressure() == 400e3


def test_a_bleed_orifice_and_a_jet_bring_fuel_back_like_a_regulator():
    car = fs.Car.named("plover")
    parts = {"orifices.bleed": fs.Orifice(diameter="0.6 mm"), "jet_pumps.jet": fs.JetPump(nozzle_bore="0.8 mm")}
    plumbing = plumbed(
        car.with_values(parts), "pot", ["tee", "jet", "pot"], ["left_rear", "bleed", "mains_suction", "pot"]
    )
    assert names(ways_back(plumbing)) == ["rail_end", "jet", "bleed"]
    assert names(plumbing.return_lines) == ["return_hose", "mains_suction"]
    assert names(filling_links(plumbing, "pot")) == ["lift_line", "jet_suction"]
    assert names(plumbing.jets) == ["jet_suction"]
    assert plumbing.nozzle(plumbing.jets[0]).name == "jet"
    assert plumbing.zone("left_rear") != plumbing.zone("bleed_outlet")
