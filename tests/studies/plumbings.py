"""Invented plumbings of the invented cars, each with a feature that one chain of one pump and one rail has not."""

from __future__ import annotations

import fuelsim as fs

TO_TEE = [["tank", "strainer", "pump", "tee"]]
BACK = ["tee", "bay_regulator", "return_line", "tank"]
LINE = fs.PlumbedLine(length="1.5 m", bore="7.9 mm", working_pressure="1500 kPa")


def _finch(name, runs, **values):
    return fs.Car.named("finch").with_values(values).with_plumbing(name, runs, title=name.replace("_", " "))


def _invented():
    """Return every invented plumbing: name to car."""
    rails = {"rails.left": fs.Rail(length="0.3 m", bore="12 mm"), "rails.right": fs.Rail(length="0.3 m", bore="12 mm")}
    lines = {"lines.left_hose": LINE, "lines.right_hose": LINE}
    cars = [
        _finch("only_parts_without_a_line", [["tank", "pump", "rail", "rail_regulator", "tank"]]),
        _finch(
            "controlled_pump_without_regulator",
            [["tank", "strainer", "pump", "filter", "feed", "rail"]],
            pump_control=fs.PumpControl(set_pressure="300 kPa", least_share="20 %"),
        ),
        _finch("nothing_holds_the_pressure", [["tank", "strainer", "pump", "filter", "feed", "rail"]]),
        _finch(
            "reducer_to_a_dead_end",
            [["tank", "strainer", "pump", "tee"], ["tee", "filter", "feed", "low", "rail"], BACK],
            **{"reducers.low": fs.PlacedReducer(set_pressure="200 kPa")},
        ),
        _finch(
            "bleed_beside_the_regulator",
            [
                ["tank", "strainer", "pump", "filter", "feed", "rail", "end"],
                ["end", "rail_regulator", "return_line", "tank"],
                ["end", "bleed", "bleed_hose", "tank"],
            ],
            **{"orifices.bleed": fs.Orifice(diameter="0.6 mm"), "lines.bleed_hose": LINE},
        ),
        _finch(
            "jet_pump_fills_a_pot",
            [
                ["pot", "pump", "filter", "feed", "rail", "rail_regulator", "return_line", "jet", "pot"],
                ["tank", "strainer", "lift_hose", "pot"],
                ["pot", "overflow", "tank"],
            ],
            **{
                "pots.pot": fs.Pot(volume="1 L", height="0.05 m"),
                "lines.overflow": LINE,
                "lines.lift_hose": LINE,
                "jet_pumps.jet": fs.JetPump(nozzle_bore="2 mm"),
            },
        ),
        _finch(
            "cooler_in_the_feed",
            [["tank", "strainer", "pump", "filter", "fins", "feed", "rail", "rail_regulator", "return_line", "tank"]],
            **{"coolers.fins": fs.Cooler(heat_conductance="12 W/K")},
        ),
        _finch(
            "a_regulator_for_each_rail",
            [
                ["tank", "strainer", "pump", "filter", "tee"],
                ["tee", "left_hose", "left", "left_end", "back"],
                ["tee", "right_hose", "right", "right_end", "back"],
                ["back", "return_line", "tank"],
            ],
            **rails,
            **lines,
            **{
                "regulators.left_end": fs.PlacedRegulator(set_pressure="300 kPa", reference="manifold"),
                "regulators.right_end": fs.PlacedRegulator(set_pressure="305 kPa", reference="manifold"),
            },
        ),
        _finch(
            "two_pumps_without_check_valves",
            [
                ["tank", "strainer", "split"],
                ["split", "pump", "tee"],
                ["split", "other", "tee"],
                ["tee", "filter", "feed", "rail", "rail_regulator", "return_line", "tank"],
            ],
            **{"pumps.other": fs.Pump.named("in_tank_220")},
        ),
        _finch(
            "lift_pump_with_a_relief_of_its_own",
            [
                ["tank", "strainer", "lift", "low_tee"],
                ["low_tee", "lift_hose", "pot"],
                ["low_tee", "low", "tank"],
                ["pot", "pump", "filter", "feed", "rail", "rail_regulator", "return_line", "pot"],
                ["pot", "overflow", "tank"],
            ],
            **{
                "pumps.lift": fs.Pump.named("lift_turbine"),
                "pots.pot": fs.Pot(volume="1 L", height="0.3 m"),
                "lines.overflow": LINE,
                "lines.lift_hose": LINE,
                "regulators.low": fs.PlacedRegulator(set_pressure="40 kPa"),
            },
        ),
    ]
    return {next(iter(car.plumbing)): car for car in cars}


def every_plumbing():
    """Return the name of every plumbing with its car: those of the demo car first."""
    plover = fs.Car.named("plover")
    return {**dict.fromkeys(plover.layouts(), plover), **_invented()}
