"""Pictures and tables follow the preferred units; what is computed does not."""

from __future__ import annotations

import pytest

import fuelsim as fs
from fuelsim.show import fuel_curves
from fuelsim.show.tables import Column, Entry, frame

E10 = fs.Fuel.named("summer_e10")
FIGURES = {
    "vapour pressure": (lambda: fuel_curves.vapour_pressure_figure(E10), ("°F", "psi absolute")),
    "vapour-liquid": (lambda: fuel_curves.vapour_liquid_figure(E10), ("°F",)),
    "blend": (lambda: fuel_curves.blend_figure(fs.Fuel.petrol("62 kPa")), ("DVPE at 100 °F, psi",)),
    "distillation": (lambda: fuel_curves.distillation_figure(E10), ("°F",)),
    "altitude": (lambda: fuel_curves.altitude_figure(E10), ("altitude, ft", "°F")),
}


@pytest.fixture
def us_workshop():
    fs.prefer_units("US workshop")
    yield
    fs.prefer_units("metric workshop")


@pytest.mark.parametrize("name", list(FIGURES))
def test_pictures_of_fuels_are_labelled_in_the_preferred_units(us_workshop, name):
    draw, units = FIGURES[name]
    fig = draw()
    labels = " ".join(axis.get_xlabel() + " " + axis.get_ylabel() for axis in fig.axes)
    assert all(unit in labels for unit in units)
    assert "°C" not in labels + fig.get_suptitle()
    assert "kPa" not in labels + fig.get_suptitle()


def test_a_boiling_point_is_drawn_at_its_fahrenheit_value(us_workshop):
    """125 degF are 51.7 degC: F = 1.8 C + 32 (definition)."""
    boils = float(E10.bubble_temperature(101325.0)) - 273.15
    assert f"{1.8 * boils + 32.0:.0f} °F" in fuel_curves.vapour_pressure_figure(E10).get_suptitle()


def test_a_table_takes_columns_with_and_without_a_unit_in_their_order(us_workshop):
    entries = [Column("part", ["feed"]), Entry("loss", "pressure difference", [6894.757]), Column("noisy", [True])]
    table = frame(entries)
    assert list(table.columns) == ["part", "loss_psi", "noisy"]
    assert table["loss_psi"][0] == pytest.approx(1.0, rel=1e-6)
    assert list(frame(entries, "metric workshop").columns) == ["part", "loss_kPa", "noisy"]
