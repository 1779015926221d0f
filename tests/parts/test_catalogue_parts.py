"""The catalogue: every entry builds, and every figure has a unit and a source."""

import dataclasses
import math

import numpy as np
import pytest

from fuelsim.car.engine import Engine
from fuelsim.declaration import declarations
from fuelsim.errors import InputError
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
        ("steel_tube_three_eighths_inch", 8.10),
        ("steel_tube_three_eighths_inch_thick", 7.75),
        ("steel_tube_half_inch", 10.92),
        ("dash_tube_4", 4.57),
        ("dash_tube_6", 7.75),
        ("dash_tube_8", 10.92),
        ("dash_tube_10", 14.10),
        ("steel_tube_8_mm", 6.0),
    ],
)
def test_tube_bores_follow_from_outside_diameter_and_wall(name, millimetres):
    """Walls of welded fuel tube [sae_j526]; a dash number is the outside diameter in sixteenths [navy_hose_manual]."""
    assert LineSize.named(name).inside_diameter == pytest.approx(millimetres * 1e-3, abs=6e-6)


def test_dash_six_spans_a_factor_2_4_in_friction_across_families_of_hose():
    """7.9 to 9.5 mm; turbulent friction goes with about the 4.75th power of the bore (Blasius, computed)."""
    bores = [line_size("-6", family).inside_diameter for family in ("braided_ptfe", "braided_rubber", "push_on")]
    ratio = (max(bores) / min(bores)) ** 4.75
    assert ratio == pytest.approx(2.4, abs=0.05)


@pytest.mark.parametrize(("dash", "sixteenths"), [("-4", 4), ("-6", 6), ("-8", 8), ("-10", 10)])
def test_a_dash_number_is_the_outside_diameter_of_the_tube(dash, sixteenths):
    """In sixteenths of an inch; the bore of the mating hose is a little smaller than that [navy_hose_manual]."""
    outside = sixteenths / 16.0 * 25.4e-3
    assert line_size(dash, "dash_tube").outside_diameter == pytest.approx(outside)
    for family in ("braided_rubber", "braided_ptfe"):
        assert line_size(dash, family).inside_diameter < outside


RATINGS = {
    "hose_r7_quarter_inch": 340.0,
    "hose_r7_five_sixteenths_inch": 340.0,
    "hose_r7_three_eighths_inch": 340.0,
    "hose_r7_half_inch": 240.0,
    "nylon_tube_8_mm": 450.0,
    "nylon_tube_10_mm": 450.0,
    "nylon_assembly_8_mm": 690.0,
    "nylon_assembly_10_mm": 690.0,
}


@pytest.mark.parametrize(("name", "kilopascal"), RATINGS.items())
def test_hoses_and_nylon_lines_are_rated_as_published(name, kilopascal):
    """SAE J30 R7: 340 kPa up to a bore of 9.53 mm, 240 above [sae_j30_r7]; bare nylon tube 450 [sae_j2260]; assemblies
    690 [sae_j2045]."""
    assert LineSize.named(name).working_pressure == pytest.approx(1e3 * kilopascal)


def test_nylon_lines_bear_90_degrees_for_long_and_115_for_a_short_while():
    """Bare tube [sae_j2260] and assemblies [sae_j2045]."""
    for name in catalogue_names("lines"):
        size = LineSize.named(name)
        if size.material == "nylon":
            assert size.continuous_temperature == pytest.approx(363.15)
            assert size.peak_temperature == pytest.approx(388.15)


MODULUS = {"steel": (205e9, 205e9, 0.29), "aluminium": (70e9, 70e9, 0.33), "nylon": (0.4e9, 1.4e9, 0.4)}


def thick_tube_compliance(inside, outside, modulus, poisson):
    """Return the growth of the contents of a closed thick tube per pascal (Lamé), 1/Pa."""
    hoop = (outside**2 + inside**2) / (outside**2 - inside**2)
    along = inside**2 / (outside**2 - inside**2)
    return (2.0 * (hoop - poisson * (along - 1.0)) + along - poisson * (hoop - 1.0)) / modulus


@pytest.mark.parametrize("name", [n for n in catalogue_names("lines") if LineSize.named(n).material in MODULUS])
def test_tubes_widen_as_closed_thick_tubes_do(name):
    """Lamé's equations; steel 205 GPa, aluminium 70, nylon 0.4 (plasticised) to 1.4 (rigid), the last assumed."""
    size = LineSize.named(name)
    soft, rigid, poisson = MODULUS[size.material]
    outside = size.inside_diameter + 2.0 * size.wall
    least, most = (thick_tube_compliance(size.inside_diameter, outside, each, poisson) for each in (rigid, soft))
    assert 0.97 * least < size.compliance < 1.03 * most


def test_a_line_takes_its_compliance_from_the_catalogue_and_from_its_material_otherwise():
    from fuelsim.car.tables import PlumbedLine
    from fuelsim.car.walls import WALLS

    taken = PlumbedLine(length="2 m", **LineSize.named("braided_rubber_6").line_ratings)
    assert taken.wall_compliance == pytest.approx(2e-8)
    assert PlumbedLine(length="2 m", bore="8 mm", material="rubber").wall_compliance == WALLS["rubber"].compliance


def test_an_ambiguous_size_is_refused_with_the_bore_of_each_family():
    with pytest.raises(InputError) as caught:
        line_size("-6")
    assert "'braided_ptfe_6' (7.90 mm)" in str(caught.value)
    assert "'push_on_6' (9.50 mm)" in str(caught.value)
    with pytest.raises(InputError, match="did you mean 'push_on'"):
        line_size("-6", "pushon")
    with pytest.raises(InputError, match="unknown size"):
        line_size("-7")


def test_only_submersible_hose_is_immersible():
    """Only R10 is for the inside of a tank [sae_j30_r9]."""
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
