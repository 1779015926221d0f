"""Requirements: defaults with a source, worst points named, findings by severity."""

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.declaration import declarations
from fuelsim.studies.requirements import RULES


@pytest.fixture(scope="module")
def assessed():
    return fs.assess(fs.Car.named("heron").system("return"))


def test_every_requirement_has_a_rule_a_measure_and_a_source():
    assert {rule.name for rule in RULES} == set(declarations(fs.Requirements))
    for rule in RULES:
        assert rule.measure.name == rule.name
        assert rule.source
        assert rule.advice


def test_the_proving_conditions_span_cold_to_hot_new_to_worn_idle_to_red_line():
    car = fs.Car.named("heron")
    points = fs.proving_conditions(car).points()
    assert points["rpm"].size == 60
    assert points["rpm"].min() == car.engine.idle_speed
    assert points["rpm"].max() == car.engine.red_line
    assert points["tank_temperature"].max() == pytest.approx(car.surroundings.tank_temperature)
    assert points["tank_temperature"].min() == pytest.approx(263.15)
    assert set(points["pump_wear"]) == {0.0, 0.1}


def test_the_worst_point_is_named(assessed):
    item = assessed.item("bypass")
    assert item.met is False
    assert "5600 rpm" in item.where
    assert "old filter" in item.where
    assert float(np.nanmin(assessed.run.bypass_flow)) == pytest.approx(item.worst)


def test_margins_are_positive_where_met_and_in_units_of_the_limit(assessed):
    item = assessed.item("injector_duty")
    assert item.margin == pytest.approx((0.85 - item.worst) / 0.85)
    assert assessed.item("pump_voltage").margin == pytest.approx((assessed.item("pump_voltage").worst - 11.5) / 11.5)


def test_findings_come_gravest_first_with_figures_advice_and_source(assessed):
    found = assessed.findings()
    assert [finding.severity for finding in found] == sorted((f.severity for f in found), reverse=True)
    bypass = next(finding for finding in found if finding.subject == "bypass")
    assert bypass.severity is fs.Severity.FAILURE
    assert "15 L/h wanted" in bypass.statement
    assert "from memory" in bypass.source
    assert not any("safe" in str(finding) for finding in found)


def test_a_requirement_left_out_is_not_judged():
    asked = fs.Requirements(bypass=None, injector_duty="95 %").asked()
    assert "bypass" not in {rule.name for rule, _ in asked}
    assert {rule.name: limit for rule, limit in asked}["injector_duty"] == pytest.approx(0.95)


def test_what_does_not_apply_is_neither_met_nor_missed():
    result = fs.assess(fs.Car.named("finch").system("returnless_tank"))
    assert result.item("suction_velocity").met is None
    assert result.item("return_velocity").met is None
    assert "does not apply" in result.table().set_index("requirement").loc["velocity in the suction line", "worst"]


def test_ratings_below_set_fail_and_below_dead_head_warn():
    car = fs.Car.named("finch")
    weak = car.with_values({"feed.working_pressure": "340 kPa"}).system("returnless_tank")
    middling = car.with_values({"feed.working_pressure": "500 kPa"}).system("returnless_tank")
    for system, over_set, over_dead_head in ((weak, False, False), (middling, True, False)):
        result = fs.assess(system, conditions=fs.Conditions(rpm=3000))
        assert result.item("rating_over_set").met is over_set
        assert result.item("rating_over_dead_head").met is over_dead_head
    severities = {rule.name: rule.severity for rule in RULES}
    assert severities["rating_over_set"] is fs.Severity.FAILURE
    assert severities["rating_over_dead_head"] is fs.Severity.WARNING


def test_points_that_do_not_solve_fail_and_leave_the_rest_judged():
    car = fs.Car.named("heron").with_values({"suction.bore": "2 mm", "suction.length": "10 m"})
    result = fs.assess(car.system("return"))
    assert not result.met
    assert result.findings()[0].subject == "solution"


HIGH = 2300.0
"""Altitude of a town on a high plain, m."""


@pytest.mark.parametrize("layout", ["return", "returnless_tank"])
def test_requirements_are_judged_at_the_cars_own_altitude(layout):
    """Judged by the car's own solve of the same points, with the altitude given in so many words."""
    car = fs.Car.named("finch").with_values({"surroundings.altitude": HIGH})
    system, points = car.system(layout), fs.proving_conditions(car)
    own = system.solve(points.with_values({"altitude": HIGH}))
    inlet = np.nanmin(own.vapour_margin[system.plumbing.main_pump.upstream])
    result = fs.assess(system)
    assert np.all(result.run.conditions.altitude == HIGH)
    assert result.item("inlet_vapour_margin").worst == pytest.approx(inlet, abs=1e-6)
    assert result.item("bypass").worst == pytest.approx(np.nanmin(own.bypass_flow), rel=1e-9)
    assert "at 2300 m" in result.item("inlet_vapour_margin").where
    at_sea_level = fs.assess(system, conditions=fs.proving_conditions(car, altitude=0.0))
    assert at_sea_level.item("inlet_vapour_margin").worst > inlet + 5.0
    assert "2300" not in at_sea_level.item("inlet_vapour_margin").where


def test_a_design_is_sized_at_the_cars_own_altitude():
    car = fs.Car.named("finch").with_values({"surroundings.altitude": HIGH})
    bores = ["6 mm", "8 mm"]
    sizing = fs.size(car, "return", {"feed.bore": bores})
    for number, bore in enumerate(bores):
        own = fs.assess(car.with_values({"feed.bore": bore}).system("return"))
        for measure in ("inlet_vapour_margin", "injector_duty"):
            assert sizing.worst[measure][number] == pytest.approx(own.item(measure).worst, rel=1e-6)
    assert "at 2300 m" in sizing.sentence()


def test_at_sea_level_no_altitude_is_told(assessed):
    assert not any(" m," in item.where or item.where.endswith(" m") for item in assessed.items)
    assert np.all(assessed.run.conditions.altitude == 0.0)
