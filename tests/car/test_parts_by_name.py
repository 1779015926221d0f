"""Generic parts by name wherever a table of a car stands: with_values, variants, what_if, vary, size."""

import pytest

import fuelsim as fs
from fuelsim.car.references import generic_parts
from fuelsim.declaration import declarations
from fuelsim.errors import InputError
from fuelsim.parts.catalogue_parts import catalogue_kinds, catalogue_names
from fuelsim.parts.line_size import LineSize, line_names
from fuelsim.studies.candidates import CLASSES, axes_of

HERON, FINCH = fs.Car.named("heron"), fs.Car.named("finch")
TABLES = [
    (name, item.part)
    for name, item in declarations(fs.Car).items()
    if item.form == "table" and item.part and generic_parts(item.part)
]


@pytest.mark.parametrize(("table", "part"), TABLES, ids=[name for name, _ in TABLES])
def test_every_generic_part_fits_by_its_name(table, part):
    """A table that the car has not needs what no generic part has, such as the length of a line: that is said."""
    needs_more = getattr(HERON, table) is None and "length" in declarations(part)
    for name in generic_parts(part):
        if table == "pump" and fs.Pump.named(name).mounting != HERON.pump.mounting:
            continue
        if needs_more:
            with pytest.raises(InputError, match=rf"{table}\.length.*missing key"):
                HERON.with_values({table: name})
        else:
            assert getattr(HERON.with_values({table: name}), table).catalogue == name


def test_what_is_the_cars_own_stays():
    car = HERON.with_values(
        {"feed": "braided_ptfe_8", "wire": "awg_8", "injectors": "size_630", "rail_regulator": "throttle_body_low"}
    )
    assert (car.feed.length, car.feed.zone, car.feed.fittings) == (HERON.feed.length, "underfloor", HERON.feed.fittings)
    assert car.feed.material == "ptfe"
    assert car.wire.length == HERON.wire.length
    assert car.injectors.count == HERON.injectors.count
    assert car.rail_regulator.reference == HERON.rail_regulator.reference


def test_another_pump_has_nothing_of_the_one_it_replaces():
    worn = FINCH.with_values({"pump.wear": "20 %"}) if hasattr(FINCH.pump, "wear") else FINCH
    assert worn.with_values({"pump": "in_tank_220"}).pump == fs.Pump.named("in_tank_220")


def test_a_fuel_and_a_place_go_by_name_too():
    car = FINCH.with_values({"fuel": "e85", "surroundings": "phoenix"})
    assert car.fuel.fuel().ethanol == pytest.approx(fs.Fuel.named("e85").ethanol)
    assert car.surroundings.air_temperature == pytest.approx(fs.hot_day("phoenix").design_temperature)
    with pytest.raises(InputError, match=r"fuel.*e85"):
        FINCH.with_values({"fuel": "e95"})


def test_a_value_beside_the_name_wins():
    car = FINCH.with_values({"feed": "push_on_6", "feed.working_pressure": "1 MPa"})
    assert car.feed.working_pressure == pytest.approx(1e6)
    new = FINCH.with_values({"lines.crossover": "push_on_6", "lines.crossover.length": "40 cm"})
    assert (new.lines["crossover"].length, new.lines["crossover"].bore) == (
        0.4,
        FINCH.with_values({"feed": "push_on_6"}).feed.bore,
    )


@pytest.mark.parametrize("spelling", ["braided_ptfe -6", "braided_ptfe AN-6", "braided_ptfe 6 AN", "braided_ptfe an6"])
def test_a_dash_size_is_found_as_the_trade_says_it(spelling):
    """SAE J516 dash sizes count sixteenths of an inch; written -6, AN-6 or 6 AN (common practice, no source)."""
    assert LineSize.named(spelling) == LineSize.named("braided_ptfe_6")


@pytest.mark.parametrize("spelling", ["-6", "AN-6", "6 AN"])
def test_a_dash_size_alone_names_the_bore_in_each_family(spelling):
    with pytest.raises(InputError, match=r"another bore in each family.*braided_ptfe_6.*push_on_6"):
        FINCH.with_values({"feed": spelling})


def test_every_spelling_of_a_line_means_one_entry():
    for name in line_names():
        assert LineSize.named(name).catalogue in catalogue_names("lines")
        assert FINCH.with_values({"feed": name}).feed.catalogue == LineSize.named(name).catalogue


def test_variants_what_if_and_vary_take_names():
    fast = {"rpm": [1000, 6000], "tank_temperature": ["20 degC"]}
    result = fs.compare(FINCH, ["return"], variants={"wide": {"feed": "steel_tube 3/8 in"}}, **fast)
    assert result.systems["wide"].car.feed.catalogue == "steel_tube_three_eighths_inch"
    system = FINCH.system("return")
    assert "bigger pump" in str(fs.what_if(system, {"bigger pump": {"pump": "in_tank_220"}}, rpm=6000).table())
    variants = fs.vary("feed", ["steel_tube 3/8 in", "braided_ptfe AN-6"])
    bores = [FINCH.with_values(changes).feed.bore for changes in variants.values()]
    assert bores == pytest.approx([9.525e-3 - 2 * 0.711e-3, 7.9e-3], abs=2e-5)


SIZED = [(table, part.catalogue_kind) for table, part in CLASSES.items() if getattr(HERON, table, None) is not None]


@pytest.mark.parametrize(("table", "kind"), SIZED, ids=[table for table, _ in SIZED])
def test_every_name_of_the_catalogue_is_a_candidate_for_sizing(table, kind):
    layout = (
        "returnless_bay" if table.startswith("bay") else "returnless_tank" if table.startswith("tank") else "return"
    )
    names = catalogue_names(kind)
    if kind == "pumps":
        names = [name for name in names if fs.Pump.named(name).mounting == HERON.pump.mounting]
    (axis,) = axes_of(HERON, layout, {table: names})
    assert len(axis.candidates) == len(names)
    for candidate in axis.candidates:
        HERON.with_values({**candidate.fixed, **candidate.listed})


def test_filters_and_regulators_are_sized_by_name():
    found = fs.size(
        FINCH, "return", {"filter": ["canister_medium", "canister_large"], "rail_regulator": ["carmaker_300"]}
    )
    assert len(found.finished) == 2
    assert found.finished.all()
    assert not found.unsolved.any()


def test_the_catalogue_lists_every_kind_and_every_entry():
    kinds = fs.catalogue()
    assert list(kinds.index) == catalogue_kinds()
    for kind in catalogue_kinds():
        table = fs.catalogue(kind)
        assert list(table.index) == catalogue_names(kind)
        assert (table["about"] != "").all()
        assert (table["source"] != "").all()
        assert kinds.loc[kind, "holds"]
    with pytest.raises(InputError, match="did you mean 'pumps'"):
        fs.catalogue("pump")


def test_a_wire_by_name_keeps_the_length_of_the_car():
    car = fs.Car.named("finch").with_values({"wire": "awg_10"})
    assert (car.wire.size, car.wire.length) == ("10 AWG", fs.Car.named("finch").wire.length)
