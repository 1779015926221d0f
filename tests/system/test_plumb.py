"""From runs to links and stations, each figure read by hand off the car file or the runs."""

from __future__ import annotations

import dataclasses
import math

import pytest

import fuelsim as fs
from fuelsim.car.heat_parts import Cooler
from fuelsim.errors import InputError
from fuelsim.parts.line import Line
from fuelsim.system.plumb import plumb
from fuelsim.system.pot_parts import JetSuction, OverflowLine


@pytest.fixture(scope="module")
def finch():
    return fs.Car.named("finch")


@pytest.fixture(scope="module")
def plover():
    return fs.Car.named("plover")


def exchange(plumbing, name):
    return plumbing.link(name).exchange


def test_stations_have_the_name_of_what_is_there(plover):
    """A vessel, a junction, a rail, else the inlet of the pump or rail that follows, else the outlet before it."""
    ends = {link.name: (link.upstream, link.downstream) for link in plumb(plover, "pot").links}
    assert ends == {
        "lift_strainer": ("tank", "lift_inlet"),
        "lift": ("lift_inlet", "lift_outlet"),
        "lift_line": ("lift_outlet", "pot"),
        "left_pump": ("pot", "left_pump_outlet"),
        "left_check": ("left_pump_outlet", "tee"),
        "right_pump": ("pot", "right_pump_outlet"),
        "right_check": ("right_pump_outlet", "tee"),
        "main_filter": ("tee", "main_filter_outlet"),
        "feed_line": ("main_filter_outlet", "front"),
        "left_feed": ("front", "left_rail_inlet"),
        "left_rail_inlet_bore": ("left_rail_inlet", "left_rail"),
        "left_rail_injectors": ("left_rail", "manifold"),
        "left_rail_outlet_bore": ("left_rail", "left_rear"),
        "right_feed": ("front", "right_rail_inlet"),
        "right_rail_inlet_bore": ("right_rail_inlet", "right_rail"),
        "right_rail_injectors": ("right_rail", "manifold"),
        "right_rail_outlet_bore": ("right_rail", "right_rear"),
        "crossover": ("right_rear", "left_rear"),
        "rail_end": ("left_rear", "rail_end_outlet"),
        "return_hose": ("rail_end_outlet", "pot"),
        "overflow": ("pot", "tank"),
    }


def test_a_junction_beside_a_vessel_is_that_vessel(plover):
    runs = [list(run) for run in plover.plumbing["pot"].runs]
    runs[0][-1:] = ["into_pot"]
    runs.append(["into_pot", "pot"])
    plumbing = plumb(plover.with_plumbing("beside", runs=runs), "beside")
    assert plumbing.link("lift_line").downstream == "pot"
    assert plumbing.also_named["into_pot"] == "pot"
    assert "into_pot" not in plumbing.stations


def test_the_other_names_of_a_station_or_a_link_lead_to_it(plover, finch):
    plumbing = plumb(plover, "pot")
    assert plumbing.also_named["right_check_outlet"] == plumbing.also_named["main_filter_inlet"] == "tee"
    assert plumbing.also_named["left_pump_inlet"] == plumbing.also_named["return_hose_outlet"] == "pot"
    assert not set(plumbing.also_named) & {*plumbing.stations, *(link.name for link in plumbing.links)}
    own = plumb(finch, "return")
    assert own.also_named["rail_regulator"] == "regulator"
    assert own.also_named["rail_regulator_outlet"] == "return_inlet"
    assert own.also_named["injectors"] == "injectors"
    assert {name for name, link in own.also_named.items() if link in ("regulator", "injectors")} == {
        "rail_regulator",
        "injectors",
    }
    short = finch.with_plumbing("short", runs=[["tank", "pump", "feed", "rail", "rail_regulator", "tank"]])
    assert plumb(short, "short").link("injectors").name == "rail_injectors"
    with pytest.raises(InputError, match="no such link"):
        plumbing.link("injectors")


def test_a_part_that_the_car_lacks_is_left_out_of_a_standard_layout(finch):
    names = [link.name for link in plumb(finch, "return").links]
    assert names == [
        "strainer",
        "pump",
        "filter",
        "feed",
        "rail_bore",
        "injectors",
        "regulator",
        "return_line",
    ]
    cooled = dataclasses.replace(finch, cooler=Cooler())
    assert [link.name for link in plumb(cooled, "return").links] == [*names[:-1], "cooler", "return_line"]


def test_the_line_from_a_regulator_in_the_bay_is_a_short_piece_of_the_feed(finch):
    """0.3 m as the text of `SHORT_BAY_LINE` says; its fittings are counted in the feed's."""
    bay = plumb(finch, "returnless_bay").link("bay_line")
    assert (bay.part.length, bay.part.bore) == (0.3, finch.feed.bore)
    assert bay.part.loss_coefficient == 0.0
    assert bay.exchange.zone == "bay"
    given = dataclasses.replace(finch, bay_line=dataclasses.replace(finch.feed, length=0.7))
    own = plumb(given, "returnless_bay").link("bay_line")
    assert (own.part.length, own.part.loss_coefficient, own.exchange.zone) == (0.7, 3.0, "underfloor")


def test_a_rail_that_is_passed_is_two_halves_and_a_dead_ended_one_a_single_half(plover):
    through, ended = plumb(plover, "pot"), plumb(plover, "dead_ended")
    halves = [through.link(f"left_rail_{end}_bore") for end in ("inlet", "outlet")]
    assert [half.part.length for half in halves] == [0.225, 0.225]
    assert sum(half.exchange.conductance for half in halves) == pytest.approx(0.8)
    assert sum(half.exchange.engine_conductance for half in halves) == pytest.approx(0.35)
    single = ended.link("left_rail_inlet_bore")
    assert (single.part.length, single.exchange.conductance, single.exchange.engine_conductance) == (0.225, 0.8, 0.35)
    assert all(rail.outlet is None for rail in ended.planned_rails)
    assert [rail.injectors.part.count for rail in through.planned_rails] == [4, 4]


def test_a_rail_from_which_another_run_starts_is_passed(plover):
    """Two rails in series, the second run starting at the first rail."""
    runs = [list(run) for run in plover.plumbing["pot"].runs]
    runs[3] = ["tee", "main_filter", "feed_line", "left_feed", "left_rail"]
    runs[4] = ["left_rail", "right_feed", "right_rail", "rail_end", "return_hose", "pot"]
    del runs[5:8]
    plumbing = plumb(plover.with_plumbing("series", runs=runs), "series")
    left, right = plumbing.planned_rails
    assert [link.name for link in left.bores] == ["left_rail_inlet_bore", "left_rail_outlet_bore"]
    assert [link.name for link in right.bores] == ["right_rail_inlet_bore", "right_rail_outlet_bore"]
    assert plumbing.path[-4:] == ("main_filter", "feed_line", "left_feed", "left_rail_inlet_bore")


def test_heat_is_exchanged_as_each_part_is_rated(finch, plover):
    heron = fs.Car.named("heron")
    assert exchange(plumb(finch, "return"), "pump").zone == "tank"
    assert exchange(plumb(heron, "return"), "pump").zone == "underfloor"
    hot = heron.with_values({"pump.contact_heat": "12 W", "pump.body_conductance": "0.7 W/K"})
    assert (exchange(plumb(hot, "return"), "pump").radiation, exchange(plumb(hot, "return"), "pump").conductance) == (
        12.0,
        0.7,
    )
    rail = exchange(plumb(finch, "return"), "rail_bore")
    assert (rail.zone, rail.conductance, rail.engine_conductance, rail.radiation) == ("bay", 0.75, 0.45, 0.0)
    assert [exchange(plumb(plover, "pot"), name).zone for name in ("feed_line", "left_feed")] == ["underfloor", "bay"]
    assert exchange(plumb(finch, "return"), "filter").conductance == 0.0


def test_a_cooler_gives_its_heat_to_the_air_or_to_its_coolant(finch):
    ratings = {"heat_conductance": "12 W/K", "moving_heat_conductance": "30 W/K"}
    for coolant, zone in ((None, "ambient"), ("8 degC", "coolant")):
        car = dataclasses.replace(finch, cooler=Cooler(**ratings, coolant_temperature=coolant))
        of = exchange(plumb(car, "return"), "cooler")
        assert (of.zone, of.conductance, of.moving_conductance) == (zone, 12.0, 30.0)


def test_a_line_has_its_material_s_wall_or_the_given_one_or_a_given_conductance(finch):
    """Steel tube of 6 mm with its usual wall of 0.9 mm is 7.8 mm outside."""
    wall = exchange(plumb(finch, "return"), "feed").wall
    assert (wall.bore, wall.thickness, wall.length) == (6e-3, 0.9e-3, 3.0)
    assert wall.outside_diameter == pytest.approx(7.8e-3)
    assert wall.material.emissivity == 0.26
    thick = finch.with_values({"feed.wall_thickness": "2 mm"})
    assert exchange(plumb(thick, "return"), "feed").wall.outside_diameter == pytest.approx(10e-3)
    given = finch.with_values({"feed.heat_conductance": "0.4 W/m/K"})
    assert exchange(plumb(given, "return"), "feed").wall is None
    assert exchange(plumb(given, "return"), "feed").conductance == pytest.approx(1.2)


def test_a_line_takes_the_exhaust_s_flux_on_the_half_of_its_outside_that_faces_it(finch):
    """1.5 kW/m2 on half the outside of 3 m of 7.8 mm: 55.1 W, however it exchanges heat otherwise. A foil as black as
    line and exhaust, all three of emissivity 1 but for what `shield_factor` assumes, takes the share of its own law."""
    hot = finch.with_values({"feed.exhaust_flux": "1.5 kW/m2"})
    facing = 0.5 * math.pi * 7.8e-3 * 3.0
    assert exchange(plumb(hot, "return"), "feed").radiation == pytest.approx(1500.0 * facing)
    assert 1500.0 * facing == pytest.approx(55.1, abs=0.1)
    given = hot.with_values({"feed.heat_conductance": "0.4 W/m/K"})
    assert exchange(plumb(given, "return"), "feed").radiation == pytest.approx(1500.0 * facing)
    # Resistances 1/0.8 + 1/0.9 - 1 without, and 2/0.5 - 1 more with a foil of emissivity 0.5.
    shielded = hot.with_values({"feed.exhaust_shields": 1, "feed.shield_emissivity": 0.5})
    share = exchange(plumb(shielded, "return"), "feed").radiation / (1500.0 * facing)
    assert share == pytest.approx(1.36111 / 4.36111, rel=1e-4)


def test_heights_are_those_of_what_stands_there(plover, finch):
    """Read off the car file: pumps at 0.15 m, the lift pump given at 0.03 m; the tank's level is half its depth of
    0.25 m; filter and valves are level, a junction without a height is level with what follows."""
    heights = plumb(plover, "pot").heights
    assert heights == pytest.approx(
        {
            "tank": 0.125,
            "pot": 0.35,
            "lift_inlet": 0.03,
            "lift_outlet": 0.03,
            "left_pump_outlet": 0.15,
            "right_pump_outlet": 0.15,
            "tee": 0.15,
            "main_filter_outlet": 0.15,
            "front": 0.6,
            "left_rail_inlet": 0.65,
            "left_rail": 0.65,
            "left_rear": 0.65,
            "right_rail_inlet": 0.65,
            "right_rail": 0.65,
            "right_rear": 0.65,
            "manifold": 0.65,
            "rail_end_outlet": 0.65,
        }
    )
    cooled = dataclasses.replace(finch, cooler=Cooler())
    assert plumb(cooled, "return").heights["cooler_outlet"] == finch.pump_height == 0.03
    assert plumb(cooled, "return").heights["return_inlet"] == 0.55
    # Behind the feed the regulator in the bay is level with the rail's inlet.
    bay = plumb(finch, "returnless_bay").heights
    assert bay["regulator_inlet"] == bay["return_inlet"] == 0.55


def test_a_way_to_the_tank_without_height_of_its_own_starts_where_the_pump_is(plover):
    runs = [list(run) for run in plover.plumbing["no_pot"].runs]
    runs[-1] = ["left_rear", "rail_end", "crossover_back", "return_hose", "tank"]
    car = dataclasses.replace(plover, lines={**plover.lines, "crossover_back": plover.lines["return_hose"]})
    heights = plumb(car.with_plumbing("long", runs=runs), "long").heights
    assert heights["rail_end_outlet"] == 0.65
    assert heights["crossover_back_outlet"] == 0.15
    assert heights["split"] == 0.15


def test_each_rail_injects_at_its_own_height(plover):
    """No column of fuel stands between a rail and its injectors' tips, however high the other rail is."""
    for rail, height in (("right_rail", 0.85), ("left_rail", 0.2)):
        plumbing = plumb(plover.with_values({f"rails.{rail}.height": height}), "pot")
        for planned in plumbing.planned_rails:
            injectors = planned.injectors
            end = plumbing.heights[injectors.upstream if injectors.discharge else injectors.downstream]
            assert end == plumbing.heights[planned.name]
        assert [planned.injectors.discharge for planned in plumbing.planned_rails] == [None, "right_rail_manifold"]
    assert [planned.injectors.discharge for planned in plumb(plover, "pot").planned_rails] == [None, None]


def test_a_pot_runs_over_through_every_way_to_the_tank_that_has_no_pump(plover):
    plumbing = plumb(plover, "pot")
    assert [link.name for link in plumbing.links if isinstance(link.part, OverflowLine)] == ["overflow"]
    assert plumbing.link("overflow").discharge == "pot_vapour_space"
    assert plumbing.heights["tank"] == 0.125
    # Two lines one behind the other: the first has its end level with the pot, the second falls into the tank.
    runs = [list(run) for run in plover.plumbing["pot"].runs]
    runs[-1] = ["pot", "overflow", "mains_suction", "tank"]
    two = plumb(plover.with_plumbing("two", runs=runs), "two")
    over = [link for link in two.links if isinstance(link.part, OverflowLine)]
    assert [(link.name, link.discharge) for link in over] == [
        ("overflow", None),
        ("mains_suction", "pot_vapour_space"),
    ]
    assert two.heights[over[0].downstream] == 0.35


def test_a_pot_that_does_not_run_over_through_a_line_is_refused(plover):
    runs = [list(run) for run in plover.plumbing["pot"].runs]
    runs[-1] = ["pot", "strainer_of_mains", "tank"]
    with pytest.raises(InputError, match=r"runs over through lines .*strainer_of_mains.*'pot'"):
        plumb(plover.with_plumbing("filtered", runs=runs), "filtered")


def test_a_jet_pump_draws_from_the_tank_and_delivers_where_its_nozzle_does(plover):
    car = dataclasses.replace(plover, jet_pumps={"jet": fs.JetPump(nozzle_bore="0.8 mm")})
    runs = [list(run) for run in plover.plumbing["pot"].runs]
    runs[-2] = ["left_rear", "rail_end", "return_hose", "jet", "pot"]
    plumbing = plumb(car.with_plumbing("jet", runs=runs), "jet")
    nozzle, suction = plumbing.link("jet"), plumbing.link("jet_suction")
    assert (nozzle.upstream, nozzle.downstream) == ("return_hose_outlet", "pot")
    assert (suction.upstream, suction.downstream) == ("tank", "pot")
    assert isinstance(suction.part, JetSuction)
    assert not isinstance(nozzle.part, JetSuction)
    assert plumbing.jets == (suction,)
    assert plumbing.nozzle(suction) is nozzle
    runs[-2] = ["left_rear", "rail_end", "return_hose", "pot"]
    runs.append(["tee", "jet", "tank"])
    with pytest.raises(InputError, match=r"'jet' delivers into the tank"):
        plumb(car.with_plumbing("into_tank", runs=runs), "into_tank")


def test_every_pump_has_its_own_wire_or_that_of_the_car(plover):
    plumbing = plumb(plover, "pot")
    assert plumbing.wires["lift"] == plover.wires["lift"]
    assert plumbing.wires["left_pump"] == plumbing.wires["right_pump"] == plover.wire
    bare = dataclasses.replace(plover, wire=None)
    with pytest.raises(InputError, match="the pump 'left_pump' has no wire"):
        plumb(bare, "pot")


def test_dampers_are_attached_to_the_rails_that_are_there(plover, finch):
    assert plumb(finch, "return").attached == {}
    damper = fs.Damper(working_pressure="800 kPa")
    assert plumb(dataclasses.replace(finch, damper=damper), "return").attached == {"damper": damper}
    car = dataclasses.replace(plover, dampers={"left_rail": damper})
    assert plumb(car, "pot").attached == {"dampers.left_rail": damper}


def test_a_regulator_is_told_what_its_spring_side_is_open_to(plover, finch):
    assert plumb(finch, "return").link("regulator").reference == "manifold"
    assert plumb(finch, "returnless_tank").link("regulator").reference == "atmosphere"
    assert plumb(finch, "return").link("feed").reference is None
    assert isinstance(plumb(finch, "return").link("rail_bore").part, Line)
