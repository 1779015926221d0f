"""Tables, figures and sentences of cars with several rails, pumps and pots of their own names."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.show.heat_curves import path_figure
from fuelsim.show.stations import inlet_columns, least_over, pump_inlets, rail_columns

RPM = [850.0, 3500.0, 6600.0]


@pytest.fixture(scope="module")
def plover() -> fs.Car:
    return fs.Car.named("plover")


@pytest.fixture(scope="module")
def comparison(plover):
    return fs.compare(plover, rpm=RPM, tank_temperature=["20 degC", "40 degC"])


@pytest.mark.parametrize(("car", "layout"), [("finch", "return"), ("heron", "returnless_bay")])
def test_with_one_rail_and_one_pump_columns_have_their_plain_names(car, layout):
    plumbing = fs.Car.named(car).system(layout).plumbing
    assert rail_columns(plumbing) == {"rail": "rail"}
    assert list(inlet_columns(plumbing)) == ["pump_inlet"]


def test_a_table_of_a_run_has_columns_for_each_rail_and_each_pot(plover):
    run = plover.system("pot").solve(rpm=RPM)
    table = run.table()
    for name, rail in run.by_rail.items():
        assert np.allclose(table[f"{name}_over_manifold_kPa"], rail.pressure_difference / 1e3)
        assert np.allclose(table[f"{name}_duty"], rail.injector_duty)
    assert np.allclose(table["rail_spread_kPa"], run.rail_spread / 1e3)
    assert np.allclose(table["pot_overflow_L_h"], run.pot_overflow["pot"] * 3.6e6)
    assert np.all(np.isinf(table["pot_empty_after_s"]))


def test_a_table_of_one_rail_has_no_columns_for_each(plover):
    columns = fs.Car.named("finch").system("return").solve(rpm=RPM).table().columns
    assert not [name for name in columns if "over_manifold" in name or "spread" in name or "overflow" in name]


def test_the_vapour_table_has_the_worst_pump_and_the_worst_rail(comparison):
    table = comparison.vapour_table("SI")
    for layout in comparison.layouts:
        full, idle = comparison.full_load[layout], comparison.idle[layout]
        for column, stations in (
            ("pump_inlet_margin_K", pump_inlets(full.plumbing)),
            ("rail_margin_K", full.plumbing.rails),
        ):
            worst = [
                min(float(np.nanmin(full.vapour_margin[name][:, point])) for name in stations)
                if np.nanmin(least_over(full.vapour_margin, stations)[:, point])
                < least_over(idle.vapour_margin, stations)[point]
                else min(float(idle.vapour_margin[name][point]) for name in stations)
                for point in range(2)
            ]
            assert np.allclose(table.loc[layout, column], worst)


def test_sentences_say_how_far_the_rails_differ_and_what_runs_over_from_the_pot(comparison):
    said = dict(zip(comparison.layouts, comparison.sentences(), strict=True))
    assert all("The rails differ by at most" in sentence for sentence in said.values())
    assert "runs over from the pot" in said["pot"]
    assert "runs over" not in said["no_pot"]


def test_figures_bear_the_titles_of_the_car_s_own_plumbings(plover, comparison):
    titles = [description.title for description in plover.plumbing.values()]
    legends = [text.get_text() for text in comparison.plot().legends[0].get_texts()]
    assert legends == [*titles, "set pressure"]
    runs = [plover.system(name).solve(rpm=850.0, load=0.0) for name in plover.plumbing]
    drawn = path_figure(runs)
    assert [text.get_text() for text in drawn.legends[0].get_texts()] == titles


def test_a_pot_that_runs_dry_is_said_with_the_time_it_lasts(plover):
    weak = plover.with_values({"pumps.lift": fs.Pump.named("lift_solenoid")})
    result = fs.compare(weak, ["pot"], rpm=[6600.0], tank_temperature=["20 degC"])
    assert "The pot runs dry in" in result.sentences()[0]
