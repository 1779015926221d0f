"""What people have in hand goes in: quantities of pint, columns of pandas, arrays of xarray, scalars of numpy."""

import inspect
import re

import numpy as np
import pandas as pd
import pint
import pytest

import fuelsim as fs
from fuelsim.errors import InputError
from fuelsim.kinds import KINDS
from fuelsim.units import convert

REGISTRY = pint.UnitRegistry()
FINCH = fs.Car.named("finch")
SYSTEM = FINCH.system("return")


def units_that_pint_knows(kind):
    """Units of a kind that pint reads too; not those it reads as something else, such as a plain 'g' or gauge units."""
    for unit in kind.examples:
        try:
            quantity = REGISTRY.Quantity(1.5, re.sub(r"([ms])([23])\b", r"\1**\2", unit))
        except Exception:
            continue
        yield unit, quantity


CASES = [(kind.name, unit, quantity) for kind in KINDS.values() for unit, quantity in units_that_pint_knows(kind)]


@pytest.mark.parametrize(("kind", "unit", "quantity"), CASES, ids=[f"{kind} in {unit}" for kind, unit, _ in CASES])
def test_a_quantity_of_pint_is_the_same_as_text(kind, unit, quantity):
    """Judge: pint itself, a library of units; ours reads the text by its own tables."""
    assert convert(quantity, kind) == pytest.approx(convert(f"1.5 {unit}", kind), rel=1e-12)
    several = REGISTRY.Quantity(np.array([1.5, 3.0]), quantity.units)
    assert convert(several, kind) == pytest.approx(convert([f"1.5 {unit}", f"3 {unit}"], kind), rel=1e-12)


def test_every_kind_with_a_unit_has_a_case():
    tried = {kind for kind, _, _ in CASES}
    without = {name for name, kind in KINDS.items() if kind.examples} - tried
    assert not without


def test_a_quantity_of_another_dimension_is_refused():
    with pytest.raises(InputError, match="not a unit of temperature"):
        SYSTEM.solve(rpm=3000, tank_temperature=REGISTRY.Quantity(3, "m"))
    with pytest.raises(InputError, match="plausible"):
        SYSTEM.solve(rpm=3000, tank_temperature=REGISTRY.Quantity(300, "degC"))


def test_columns_arrays_and_scalars_go_in():
    speeds = [1000.0, 3000.0]
    plain = SYSTEM.solve(rpm=speeds)
    assert SYSTEM.solve(rpm=pd.Series(speeds, index=["slow", "fast"])) == plain
    assert SYSTEM.solve(rpm=pd.DataFrame({"rpm": speeds})["rpm"]) == plain
    assert SYSTEM.solve(rpm=np.array(speeds, dtype=np.float32)) == plain
    assert SYSTEM.solve(rpm=np.float32(3000)) == SYSTEM.solve(rpm=3000)
    assert SYSTEM.solve(rpm=np.int64(3000)) == SYSTEM.solve(rpm=3000)


def test_an_array_of_xarray_brings_its_unit():
    xarray = pytest.importorskip("xarray")
    rpm = xarray.DataArray([1000.0, 3000.0], dims="rpm")
    tank = xarray.DataArray(45.0, attrs={"units": "degC"})
    assert SYSTEM.solve(rpm=rpm, tank_temperature=tank) == SYSTEM.solve(rpm=[1000, 3000], tank_temperature="45 degC")
    own = SYSTEM.solve(rpm=[1000, 3000]).to_xarray()
    assert SYSTEM.solve(rpm=own["rpm"], tank_temperature=own["tank_temperature"]) == SYSTEM.solve(rpm=[1000, 3000])


STUDIES = {
    name: function
    for name in fs.__all__
    if inspect.isfunction(function := getattr(fs, name))
    and list(inspect.signature(function).parameters)[:1] in (["system"], ["car"])
    and ("system" in inspect.signature(function).parameters or "layout" in inspect.signature(function).parameters)
}


@pytest.mark.parametrize("name", STUDIES)
def test_every_study_takes_a_system_or_a_car_and_its_layout(name):
    """Each is called with arguments it refuses later, so that only who reads the first one is seen."""
    function = STUDIES[name]
    first = next(iter(inspect.signature(function).parameters))
    swapped = (FINCH, "no such layout") if first == "system" else (SYSTEM,)
    with pytest.raises((InputError, TypeError)) as caught:
        function(*swapped, no_such_argument=1)
    message = str(caught.value)
    assert "no such layout" in message or "no_such_argument" in message, message
    assert "not a System" not in message
    assert "not a Car" not in message


def test_both_spellings_give_the_same():
    assert fs.assess(FINCH, "return") == fs.assess(SYSTEM)
    assert fs.findings(FINCH, layout="return") == fs.findings(SYSTEM)
    jam = fs.Schedule.of([fs.typical_phase("jam", "5 min", FINCH)])
    assert fs.drive(SYSTEM, jam).table().equals(fs.drive(FINCH, "return", jam).table())
    with pytest.raises(InputError, match=r"a car without a layout.*car.system"):
        fs.assess(FINCH)


def test_an_unknown_argument_is_answered_with_the_nearest():
    with pytest.raises(InputError, match="did you mean 'rpm'"):
        SYSTEM.solve(rmp=3000)
    with pytest.raises(InputError, match="did you mean 'layout'"):
        fs.drive(FINCH, layot="return")


@pytest.mark.parametrize(("kind", "unit", "quantity"), CASES, ids=[f"{kind} in {unit}" for kind, unit, _ in CASES])
def test_a_column_of_pandas_and_an_array_of_xarray_are_the_same_as_a_list(kind, unit, quantity):
    """Texts with a unit in a column, and numbers with the unit that an array of xarray bears (judge: pint)."""
    xarray = pytest.importorskip("xarray")
    texts = [f"1.5 {unit}", f"3 {unit}"]
    assert convert(pd.Series(texts), kind) == pytest.approx(convert(texts, kind), rel=1e-12)
    array = xarray.DataArray([1.5, 3.0], dims="point", attrs={"units": unit})
    expected = convert(REGISTRY.Quantity(np.array([1.5, 3.0]), quantity.units), kind)
    assert convert(array, kind) == pytest.approx(expected, rel=1e-12)
