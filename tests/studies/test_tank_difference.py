"""How much warmer a return makes the tank: what it would take to be more, judged by drives with what is told."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.errors import InputError
from fuelsim.transients.schedule import Schedule, typical_phase

LAYOUTS = ("return", "returnless_tank")
RAIL, DUTY, TANK = "rail.engine_conductance", "pump_duty without return", "tank.heat_conductance"


@pytest.fixture(scope="module")
def finch():
    return fs.Car.named("finch").with_values({"surroundings.air_temperature": "25 degC"})


@pytest.fixture(scope="module")
def jam(finch):
    return Schedule.of([typical_phase("jam", "2 h", finch)])


@pytest.fixture(scope="module")
def study(finch, jam):
    return fs.tank_difference(finch, jam, targets=["3 K", "30 K"], inputs=[RAIL, DUTY, TANK])


def ends(car, schedules):
    drives = [fs.drive(car, layout, each) for layout, each in zip(LAYOUTS, schedules, strict=True)]
    return drives[0].tank_temperature[-1] - drives[1].tank_temperature[-1]


@pytest.mark.long
def test_the_difference_is_that_of_two_drives(study, finch, jam):
    assert study.difference == pytest.approx(ends(finch, (jam, jam)), abs=0.02)


@pytest.mark.long
def test_a_drive_with_the_conductance_that_is_told_shows_the_difference_asked_for(study, finch, jam):
    needed = study.inputs[0].needed[3.0]
    assert ends(finch.with_values({RAIL: needed}), (jam, jam)) == pytest.approx(3.0, abs=0.1)


@pytest.mark.long
def test_a_pump_switched_on_for_the_share_that_is_told_shows_it_too(study, finch, jam):
    switched = Schedule.of([typical_phase("jam", "2 h", finch, pump_duty=study.inputs[1].needed[3.0])])
    assert ends(finch, (jam, switched)) == pytest.approx(3.0, abs=0.1)


@pytest.mark.long
def test_what_no_value_in_the_range_brings_is_not_told(study):
    table = study.table()
    assert table["at_30_K"].isna().all()
    for item in study.inputs:
        assert max(item.difference_at_least, item.difference_at_most) < 30.0


@pytest.mark.long
def test_without_walls_the_tanks_differ_by_the_heat_over_the_capacity(study, finch):
    """dT = difference of what warmed the fuel over m c, by hand; walls take part of it away with time."""
    returned, returnless = (drive.ledger for drive in study.drives)
    capacity = 0.5 * (study.drives[0].fuel_mass[0] + study.drives[0].fuel_mass[-1])
    capacity *= float(finch.fuel.fuel().heat_capacity(305.0))
    assert study.difference == pytest.approx((returned.warming - returnless.warming) / capacity, abs=0.15)
    without_walls = study.inputs[2].difference_at_least
    assert without_walls == pytest.approx((returned.returned - returnless.returned) / capacity, rel=0.5)
    assert abs(study.inputs[2].difference_at_most) < abs(without_walls)


@pytest.mark.long
def test_both_ledgers_stand_beside_each_other(study):
    table = study.heat_table()
    assert table["return_kJ"]["rails"] > 3.0 * table["returnless_tank_kJ"]["rails"]
    assert np.allclose(table.loc["unaccounted for"], 0.0, atol=1.0)


def test_an_unknown_input_is_refused_with_the_nearest(finch, jam):
    with pytest.raises(InputError, match=r"rail\.engine_conductance"):
        fs.tank_difference(finch, jam, inputs=["rail.engine_conductanc"])
