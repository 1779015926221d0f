"""The catalogue: every entry builds, and every figure has a unit and a source."""

import dataclasses
import math

import numpy as np
import pytest

from fuelsim.car.engine import Engine
from fuelsim.errors import InputError
from fuelsim.fields import declarations
from fuelsim.parts.catalogue_parts import LABELS, catalogue_entry, catalogue_kinds, catalogue_names
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.filter import Filter
from fuelsim.parts.fittings import Fitting, TypicalFitting
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.line_size import LineSize, line_size
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.regulator import ReducingRegulator, ReturnRegulator
from fuelsim.parts.tank_parts import TankVent
from fuelsim.parts.wire import Wire

PARTS = {
    "pumps": Pump,
    "lines": LineSize,
    "fittings": TypicalFitting,
    "filters": Filter,
    "regulators": ReturnRegulator,
    "reducing_regulators": ReducingRegulator,
    "injectors": Injectors,
    "wires": Wire,
    "vents": TankVent,
    "check_valves": CheckValve,
    "engines": Engine,
}
LEAST_NUMBER = {
    "pumps": 12,
    "lines": 25,
    "fittings": 20,
    "filters": 8,
    "regulators": 6,
    "injectors": 10,
    "wires": 12,
    "engines": 6,
}
ENTRIES = [(kind, name) for kind in catalogue_kinds() for name in catalogue_names(kind)]


def test_catalogue_has_every_kind_in_the_wanted_number():
    assert set(catalogue_kinds()) == set(PARTS)
    for kind, least in LEAST_NUMBER.items():
        assert len(catalogue_names(kind)) >= least


@pytest.mark.parametrize(("kind", "name"), ENTRIES)
def test_every_entry_builds_and_every_figure_has_a_source(kind, name):
    entry = catalogue_entry(kind, name)
    part = PARTS[kind](**entry.values)
    assert entry.label in LABELS
    assert len(entry.about) > 3
    assert entry.source
    for rating in entry.values:
        assert len(entry.source_of(rating)) > 5
    assert set(entry.sources) <= {item.name for item in dataclasses.fields(part)}
    # What is set beyond the class's defaults stands in the file.
    assert set(entry.values) <= set(declarations(PARTS[kind]))


@pytest.mark.parametrize(("kind", "name"), ENTRIES)
def test_every_figure_with_a_unit_is_written_with_it(kind, name):
    declared = declarations(PARTS[kind])
    for key, value in catalogue_entry(kind, name).values.items():
        if declared[key].form in ("quantity", "series") and declared[key].kind != "number":
            for item in value if isinstance(value, list) else [value]:
                assert isinstance(item, str), f"{kind}.{name}.{key} has no unit"


@pytest.mark.parametrize("name", catalogue_names("pumps"))
def test_every_catalogue_pump_runs(name):
    running = Pump.named(name).at()
    largest, rise = running.largest_flow[0], running.rise[:, 0]
    assert np.all(np.diff(rise) < 0.0)
    operation = running.operating(0.5 * largest, running.pressure_rise(0.5 * largest))
    assert 0.01 < operation.efficiency < 0.6


@pytest.mark.parametrize(
    ("name", "millimetres"),
    [
        ("steel_tube_quarter_inch", 4.93),
        ("steel_tube_five_sixteenths_inch", 6.52),
        ("steel_tube_three_eighths_inch", 7.75),
        ("steel_tube_half_inch", 10.92),
        ("steel_tube_8_mm", 6.0),
    ],
)
def test_tube_bores_follow_from_outside_diameter_and_wall(name, millimetres):
    assert LineSize.named(name).inside_diameter == pytest.approx(millimetres * 1e-3, abs=6e-6)


def test_dash_six_spans_a_factor_2_4_in_friction_across_families():
    """7.9 to 9.5 mm; turbulent friction goes with about the 4.75th power of the bore (Blasius, computed)."""
    bores = [
        line_size("-6", family).inside_diameter for family in ("braided_ptfe", "braided_rubber", "dash_tube", "push_on")
    ]
    ratio = (max(bores) / min(bores)) ** 4.75
    assert ratio == pytest.approx(2.4, abs=0.05)


def test_an_ambiguous_size_is_refused_with_the_bore_of_each_family():
    with pytest.raises(InputError) as caught:
        line_size("-6")
    assert "braided_ptfe 7.90 mm" in str(caught.value)
    assert "push_on 9.50 mm" in str(caught.value)
    with pytest.raises(InputError, match="did you mean 'push_on'"):
        line_size("-6", "pushon")
    with pytest.raises(InputError, match="unknown size"):
        line_size("-7")


def test_only_submersible_hose_is_immersible():
    """SAE J30 R10 (from memory)."""
    immersible = [name for name in catalogue_names("lines") if LineSize.named(name).immersible]
    assert immersible == ["hose_r10_five_sixteenths_inch"]


def test_a_line_of_a_size_carries_bore_roughness_and_fittings():
    line = LineSize.named("braided_ptfe_6").line("3 m", [Fitting(kind="typical", typical="straight_end", count=2)])
    assert line.bore == pytest.approx(7.9e-3)
    assert line.loss_coefficient == pytest.approx(0.4)


def test_every_line_size_fits_a_line_of_the_car():
    from fuelsim.car.tables import PlumbedLine

    for name in catalogue_names("lines"):
        size = LineSize.named(name)
        line = PlumbedLine(length="2 m", **size.line_ratings)
        assert line.bore == pytest.approx(size.inside_diameter)
        assert line.working_pressure == size.working_pressure


def test_an_unknown_name_offers_the_nearest():
    with pytest.raises(InputError, match="did you mean 'in_tank_220'"):
        Pump.named("in_tank_222")
    with pytest.raises(InputError, match="did you mean 'pumps'"):
        catalogue_names("pump")


def test_computed_fitting_ranges_are_what_their_method_gives():
    from fuelsim.laws.fittings import bend_loss, throat_loss

    barb = TypicalFitting.named("barb")
    assert throat_loss(8e-3, np.array([0.8, 0.7])) == pytest.approx([barb.least, barb.most], abs=0.01)
    for degrees in (45, 90):
        bend = TypicalFitting.named(f"tube_bend_{degrees}")
        found = bend_loss(8e-3, math.radians(degrees), np.array([3.0, 1.5]))
        assert found == pytest.approx([bend.least, bend.most], abs=0.01)


JUNK = [
    "",
    "abc",
    "-8 mm",
    "5 bananas",
    "1e99 kPa",
    "nan",
    "3",
    True,
    None,
    [],
    {},
    [None],
    ["3 bar", "x"],
    1e30,
    -1.0,
    0.0,
]
JUNK += [float("nan"), "300 kPa", ["300 kPa"], [1.0, 2.0, 3.0], "12 AWG", {"a": 1}, "<b>", b"x", [[1.0, 2.0], [3.0]]]


@pytest.mark.parametrize("kind", sorted(PARTS))
def test_a_wrong_figure_is_an_error_that_names_its_key_or_is_plausible(kind):
    """Every rating of one entry of each kind in turn becomes junk."""
    entry = catalogue_entry(kind, catalogue_names(kind)[0])
    errors = []
    for key in entry.values:
        for junk in JUNK:
            try:
                PARTS[kind](**{**entry.values, key: junk})
            except InputError as caught:
                errors.append(caught)
    assert len(errors) > 10 * len(entry.values)
    for error in errors:
        assert error.key, str(error)
        assert error.part == PARTS[kind].__name__
        assert len(str(error)) < 600
