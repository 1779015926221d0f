"""Findings: the rating rule, fuse, voltage, velocities, vapour; each with its source."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from dataclasses import replace
from types import SimpleNamespace

import pytest

import fuelsim as fs
from fuelsim import studies
from fuelsim.car.floor_plan import Plan
from fuelsim.car.tables import PlumbedLine
from fuelsim.finding import Severity
from fuelsim.parts.line_size import LineSize
from fuelsim.studies.checks import CHECKS, everyday_run
from fuelsim.studies.electrical_findings import overloaded_fuse
from fuelsim.studies.findings import findings


def findings_of(values, layout="return", car="finch", **others):
    changed = fs.Car.named(car).with_values(values)
    return findings(others.get("plan", lambda each: each)(changed).system(layout))


def about(listed, subject, word):
    chosen = [finding for finding in listed if finding.subject == subject and word in finding.statement]
    assert len(chosen) == 1, listed
    return chosen[0]


# Common practice, no source: below set and boost fails, below dead-head warns.


def test_a_340_kilopascal_hose_on_a_400_kilopascal_set_fails():
    finding = about(findings_of({"feed.working_pressure": "340 kPa"}, "returnless_tank"), "feed", "rated 340 kPa")
    assert finding.severity is Severity.FAILURE
    assert "400 kPa" in finding.statement
    assert finding.caution


def test_a_500_kilopascal_connector_on_a_690_kilopascal_dead_head_warns():
    values = {
        "feed.working_pressure": "500 kPa",
        "pump.relief_pressure": "690 kPa",
        "pump.relief_band": 0.005,
        "pump.highest_dead_head": None,
    }
    finding = about(findings_of(values), "feed", "rated 500 kPa")
    assert finding.severity is Severity.WARNING
    assert "69" in finding.statement


def test_boost_counts_where_the_regulator_refers_to_the_manifold():
    values = {"feed.working_pressure": "350 kPa", "engine.boost_pressure": "80 kPa"}
    assert about(findings_of(values), "feed", "rated 350 kPa").severity is Severity.FAILURE
    values["rail_regulator.reference"] = "atmosphere"
    assert about(findings_of(values), "feed", "rated 350 kPa").severity is Severity.WARNING


def test_parts_are_rated_against_the_top_of_the_pump_s_class():
    """An in-tank turbine pump may open its valve at 550 to 850 kPa [service_manual_2000s_a]."""
    finding = about(findings_of({"feed.working_pressure": "690 kPa"}), "feed", "by its class")
    assert finding.severity is Severity.WARNING
    assert "850 kPa" in finding.statement
    measured = findings_of({"feed.working_pressure": "690 kPa", "pump.highest_dead_head": None})
    assert not [finding for finding in measured if "rated 690" in finding.statement]


def test_a_rating_above_dead_head_is_no_finding_and_a_missing_one_is_a_note():
    assert not [finding for finding in findings_of({}) if "rated" in finding.statement]
    note = about(findings_of({"feed.working_pressure": None}), "feed", "no working pressure given")
    assert note.severity is Severity.NOTE


def test_a_set_pressure_above_dead_head_fails():
    finding = about(findings_of({"rail_regulator.set_pressure": "750 kPa"}), "regulator", "is not reached")
    assert finding.severity is Severity.FAILURE


@pytest.mark.parametrize(("current", "severity"), [(23.9, None), (27.4, Severity.WARNING), (31.0, Severity.FAILURE)])
def test_27_amperes_through_a_30_ampere_fuse_are_flagged_above_80_percent(current, severity):
    # Published service bulletins: 27.4 A on 30 A, 91 %, overheats a holder.
    car = fs.Car.named("finch").with_values({"wire.fuse_rating": "30 A"})
    system = car.system("return")

    run = SimpleNamespace(pump_current={"pump": current})
    flagged = overloaded_fuse(system, run)
    assert [finding.severity for finding in flagged] == ([severity] if severity else [])


def test_a_thin_wire_is_found_by_its_voltage():
    finding = about(findings_of({"wire.size": "18 AWG", "wire.length": "10 m"}), "wire", "lost before the pump")
    assert finding.severity is Severity.WARNING
    poor = about(findings_of({"wire.other": "0.5 ohm"}), "wire", "lost before the pump")
    assert poor.severity is Severity.FAILURE, "below the service limit of 11.5 V"


def test_fast_fuel_in_a_small_line_is_found():
    assert about(findings_of({"return_line.bore": "4 mm"}), "return_line", "fuel runs at").severity is Severity.WARNING
    assert not [finding for finding in findings_of({"return_line.bore": "8 mm"}) if finding.subject == "return_line"]


def test_a_pump_that_is_too_small_and_a_return_that_is_too_small_are_found():
    small = findings_of(
        {"injectors.static_flow": "1 L/min", "engine.peak_power": "400 kW", "engine.displacement": "7 L"}
    )
    assert about(small, "regulator", "shut").severity is Severity.FAILURE
    creep = findings_of({"return_line.bore": "2.5 mm"})
    assert about(creep, "regulator", "wide open").severity is Severity.WARNING


def test_injectors_beyond_their_duty_are_found():
    assert about(findings_of({"injectors.static_flow": "140 mL/min"}), "injectors", "open").severity is Severity.FAILURE
    assert about(findings_of({"injectors.count": 6}), "injectors", "6 injectors for 4").severity is Severity.NOTE


def test_a_pump_in_the_tank_near_boiling_is_told_a_possible_noise_with_the_band_of_its_npsh():
    """Bands of data/unknown_figures.toml; a submerged pump has little more than the tank's own margin.

    A note by itself; where the car is held to the requirement on it, as grave as that, which is recommended.
    """
    system = fs.Car.named("finch").with_values({"surroundings.tank_temperature": "48 degC"}).system("return")
    noted = about(findings(system, everyday_run(system)), "pump", "noise is possible")
    assert noted.severity is Severity.NOTE
    assert "(10 kPa to 20 kPa)" in noted.statement
    assert about(findings(system), "pump", "noise is possible").severity is Severity.WARNING


def test_noise_comes_before_vapour_at_the_pump():
    noisy = findings_of({"surroundings.tank_temperature": "45 degC"}, car="heron")
    assert about(noisy, "pump", "noise").severity is Severity.WARNING
    boiling = findings_of({"surroundings.tank_temperature": "55 degC"}, car="heron")
    assert about(boiling, "pump", "beyond boiling").severity is Severity.FAILURE


def test_one_root_cause_leads_and_what_follows_from_it_is_marked():
    boiling = findings_of({"surroundings.tank_temperature": "55 degC"}, car="heron")
    assert boiling[0].subject == "pump"
    assert "vapour" in boiling[0].statement
    followers = {finding.subject for finding in boiling if finding.consequence_of == "pump"}
    assert {"engine", "regulator"} <= followers
    # Its injectors are small for a worn pump in the cold too, which is a requirement and no consequence.
    system = fs.Car.named("heron").with_values({"surroundings.tank_temperature": "55 degC"}).system("return")
    checked = findings(system, everyday_run(system))
    assert not any("larger injectors" in finding.advice for finding in checked)


def with_feed(name, zone):
    """Return the light car with another feed line out of the catalogue."""
    car = fs.Car.named("finch")
    return replace(car, feed=PlumbedLine(length="3 m", zone=zone, **LineSize.named(name).line_ratings))


def test_a_nylon_line_beyond_90_degrees_warns_and_beyond_115_fails():
    """Bare nylon tube bears 90 degC for long and 115 for a short while [sae_j2260]."""
    car = with_feed("nylon_tube_8_mm", "bay")
    cool = findings(car.system("return"))
    assert not [finding for finding in cool if "its wall is rated" in finding.statement]
    for rise, severity in (("60 K", Severity.WARNING), ("85 K", Severity.FAILURE)):
        hot = findings(car.with_values({"surroundings.bay_rise": rise}).system("return"))
        finding = about(hot, "feed", "its wall is rated")
        assert finding.severity is severity
        assert finding.caution
    desert = car.with_values({"surroundings.air_temperature": "57 degC", "surroundings.bay_rise": "20 K"})
    assert "after a stop" in about(findings(desert.system("return")), "feed", "its wall is rated").statement


def test_a_nylon_line_is_flagged_at_400_kilopascals_and_an_assembly_only_below_dead_head():
    """450 kPa bare [sae_j2260], 690 as a qualified assembly [sae_j2045]; the pump's dead-head is some 700 kPa."""
    for name, rated in (("nylon_tube_8_mm", "450 kPa"), ("nylon_assembly_8_mm", "690 kPa")):
        car = with_feed(name, "underfloor").with_values({"pump.relief_pressure": "700 kPa"})
        finding = about(findings(car.system("returnless_tank")), "feed", f"rated {rated}")
        assert finding.severity is Severity.WARNING


def test_filters_are_judged_by_their_place():
    fine = findings_of({"strainer.fineness": "30 µm"}, car="heron")
    assert about(fine, "strainer", "finer").severity is Severity.WARNING
    assert about(findings_of({"filter.side": "suction"}), "filter", "is made for the suction side")
    assert about(
        findings_of({"filter.clogging": 10.0, "filter.rated_drop": "20 kPa"}), "filter", "at which it is changed"
    )


def test_a_filter_is_changed_at_34_kilopascals_on_a_low_pressure_system():
    """A truck with throttle-body injection of 100 kPa [service_manual_1990s_b]; 50 kPa elsewhere."""
    clogged = {"filter.clogging": 3.3, "filter.rated_drop": "16 kPa"}
    low = {"rail_regulator.set_pressure": "100 kPa", "rail_regulator.reference": "atmosphere"}
    finding = about(findings_of({**clogged, **low}), "filter", "at which it is changed")
    assert "34 kPa on a system of 100 kPa" in finding.source
    assert not [finding for finding in findings_of(clogged) if "at which it is changed" in finding.statement]


def test_findings_that_rest_on_figures_without_a_public_source_say_so():
    for values, subject, word, figure in (
        ({"injectors.static_flow": "140 mL/min"}, "injectors", "open", "dead_time"),
        ({"return_line.bore": "2.5 mm"}, "regulator", "wide open", "regulator_slope"),
    ):
        assert f"rests on {figure} without a public source" in about(findings_of(values), subject, word).source
    noisy = findings_of({"surroundings.tank_temperature": "45 degC"}, car="heron")
    assert "rests on npsh_required" in about(noisy, "pump", "noise").source


def test_guessed_figures_are_notes():
    notes = findings_of({"pump.relief_pressure": None, "pump.current": None})
    assert about(notes, "pump", "extrapolated").severity is Severity.NOTE
    assert about(notes, "pump", "estimated").severity is Severity.NOTE
    assert about(findings_of({"wire.fuse_rating": None}), "wire", "no fuse rating").severity is Severity.NOTE


def test_a_pick_up_that_a_corner_uncovers_is_found():
    def plan(car):
        return car.with_plan(Plan(tank_length="0.5 m", pick_up_ahead="0.2 m"))

    bare = findings_of({"tank.fuel_volume": "5 L"}, plan=plan)
    assert about(bare, "tank", "launch").severity is Severity.WARNING


def test_every_finding_has_a_source_or_says_what_is_missing_and_the_gravest_comes_first():
    graves = findings_of({"feed.working_pressure": "200 kPa", "wire.fuse_rating": None, "wire.size": "18 AWG"})
    severities = [finding.severity for finding in graves]
    assert severities == sorted(severities, reverse=True)
    for finding in graves:
        assert finding.source or finding.severity is Severity.NOTE
        assert "safe" not in str(finding)


def test_findings_speak_the_preferred_units():
    from fuelsim.units import prefer_units

    system = fs.Car.named("finch").with_values({"feed.working_pressure": "200 kPa"}).system("return")
    run = everyday_run(system)
    try:
        prefer_units("US workshop")
        assert "29 psi" in str(findings(system, run)[0])
    finally:
        prefer_units("metric workshop")
    assert "200 kPa" in str(findings(system, run)[0])


def test_every_check_that_is_written_is_made():
    """A check is a public function from a system and its run to findings."""
    written = set()
    for module in pkgutil.iter_modules(studies.__path__, "fuelsim.studies."):
        for name, value in vars(importlib.import_module(module.name)).items():
            if name.startswith("_") or not inspect.isfunction(value) or value is findings:
                continue
            signature = inspect.signature(value)
            if list(signature.parameters) == ["system", "run"] and signature.return_annotation == "list[Finding]":
                written.add(value)
    assert written == set(CHECKS)
    assert len(CHECKS) == len(written)
