"""One verdict: requirements, findings, commands and reports never say the contrary of each other.

The judges are the outputs themselves, compared with one another, and definitions.
"""

import html
import re

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.car.write import car_text
from fuelsim.cli.check import findings_text
from fuelsim.finding import Severity
from fuelsim.show.commissioning import handover_html
from fuelsim.show.report import report_html
from fuelsim.studies.findings import verdict
from fuelsim.studies.requirements import RULES

CARS = {
    "finch": lambda: (fs.Car.named("finch"), "returnless_tank"),
    "heron": lambda: (fs.Car.named("heron"), "return"),
    "plover": lambda: (fs.Car.named("plover"), "pot"),
    "heron locked": lambda: (fs.Car.named("heron").with_values({"surroundings.tank_temperature": "55 degC"}), "return"),
    "finch starved": lambda: (
        fs.Car.named("finch").with_values({"wire.size": "20 AWG", "wire.length": "12 m"}),
        "return",
    ),
    "finch rated too low": lambda: (fs.Car.named("finch").with_values({"feed.working_pressure": "340 kPa"}), "return"),
}


@pytest.fixture(scope="module", params=CARS)
def sheet(request):
    car, layout = CARS[request.param]()
    return fs.hand_over(car, layout)


def test_each_requirement_that_is_not_met_is_a_finding_as_grave_as_the_requirement(sheet):
    for item in sheet.assessment.items:
        told = [finding for finding in sheet.findings if finding.measure == item.rule.name]
        if item.met is False:
            assert told, item.rule.name
            assert max(finding.severity for finding in told) >= item.rule.severity
        else:
            assert not any(finding.severity > Severity.NOTE for finding in told), item.rule.name


def test_no_fault_is_told_twice_as_a_requirement_and_as_a_finding(sheet):
    names = {rule.name for rule in RULES}
    by_requirement = [finding.measure for finding in sheet.findings if finding.subject in names]
    by_check = {finding.measure for finding in sheet.findings if finding.subject not in names}
    assert not by_check & set(by_requirement)
    assert len(by_requirement) == len(set(by_requirement))


def test_marks_counts_and_summary_of_the_sheet_are_those_of_its_findings(sheet):
    page = html.unescape(handover_html(sheet))
    text = re.sub(r"<[^>]+>", " ", page)
    for item in sheet.assessment.items:
        row = next(row for row in page.split("<tr>") if row.startswith(f"<td>{item.rule.measure.about}</td>"))
        mark = re.search(r'class="mark [a-z]+">([^<]+)<', row)
        assert (mark[1].split()[0] if mark else None) == {True: "yes", False: "no", None: None}[item.met]
    counts = {severity: sum(each.severity is severity for each in sheet.findings) for severity in Severity}
    for severity, count in counts.items():
        assert (f"{count} {severity.name.lower()}" in text) == (count > 0)
    everything_met = "every mandatory requirement is met" in text
    assert everything_met == sheet.assessment.met
    assert not (everything_met and any(each.measure and each.severity is Severity.FAILURE for each in sheet.findings))
    assert bool(re.search("(?<!but )not met: ", text)) == any(
        item.met is False and item.rule.severity is Severity.FAILURE for item in sheet.assessment.items
    )


def test_findings_check_and_comparison_give_the_verdict_of_the_sheet(sheet):
    car, layout = sheet.car, sheet.system.layout
    assert list(fs.findings(sheet.system)) == list(sheet.findings)
    heading = findings_text(car, [layout]).splitlines()[0]
    for severity in Severity:
        count = sum(each.severity is severity for each in sheet.findings)
        assert (f"{count} {severity.name.lower()}" in heading) == (count > 0)
    compared = fs.compare(car, [layout]).findings(layout)
    grave = [
        {each.measure or each.subject for each in listed if each.severity is Severity.FAILURE}
        for listed in (compared, sheet.findings)
    ]
    assert grave[0] == grave[1]


def test_the_report_of_a_comparison_marks_each_fault_as_the_sheet_does_and_is_stamped(sheet):
    car, layout = sheet.car, sheet.system.layout
    page = html.unescape(report_html(fs.compare(car, [layout])))
    told = re.findall(r"<li><b>(failure|warning|note), ([^<]+)</b>", page)
    listed = [(each.severity.name.lower(), each.subject.replace("_", " ")) for each in sheet.findings]
    assert {each for each in told if each[0] == "failure"} == {each for each in listed if each[0] == "failure"}
    assert f"Computed by fuelsim {fs.__version__}" in page
    assert car_text(car) in page


def test_a_requirement_is_judged_at_points_at_which_the_engine_stops():
    """A pump that is locked by vapour has no margin to boiling, whatever the points say at which it still runs."""
    car, layout = CARS["heron locked"]()
    result = fs.assess(car.system(layout))
    assert np.any(result.run.engine_state == "stopped")
    for name in ("inlet_vapour_margin", "rail_shortfall", "bypass"):
        assert result.item(name).met is False
    assert not result.met


def test_what_is_missed_only_where_the_engine_stops_follows_from_the_root_cause():
    """A pump locked by vapour when hot; injectors that are too small in the cold have nothing to do with it."""
    car, layout = CARS["heron locked"]()
    listed = fs.findings(car.system(layout))
    assert listed[0].measure == "inlet_vapour_margin"
    causes = {each.measure: each.consequence_of for each in listed if each.measure}
    assert causes["rail_shortfall"] == causes["suction_margin"] == listed[0].subject
    assert causes["injector_duty"] == ""


def test_a_limit_of_your_own_replaces_that_of_the_check():
    car = fs.Car.named("heron")
    usual, wide = (
        verdict(car.system("return"), requirements=fs.Requirements(supply_drop=drop)) for drop in (0.5, "2 V")
    )
    severities = [
        next(each for each in one.findings if each.measure == "supply_drop").severity for one in (usual, wide)
    ]
    assert severities == [Severity.WARNING, Severity.NOTE]
    assert wide.assessment.item("supply_drop").met


def test_a_car_without_a_tank_temperature_has_the_air_s():
    """A file of `new` gives none."""
    car = fs.Car.named("finch").with_values({"surroundings.tank_temperature": None})
    assert car.surroundings.fuel_temperature == car.surroundings.air_temperature
    assert fs.compare(car, ["return"]).decision.sentences()
