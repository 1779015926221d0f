"""Water that petrol with ethanol holds, against thermo's activities and the published figure for E10."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.fuel.molecules.dortmund import dortmund_groups

NUMBERS = {"CH2=CH": 5, "CH=CH": 6, "CH2=C": 7, "CH=C": 8, "OH": 14, "H2O": 16, "cy-CH2": 78, "cy-CH": 79}


def test_at_the_onset_a_layer_of_water_and_ethanol_is_in_equilibrium_by_thermo() -> None:
    """Isoactivity of all species between the fuel at its onset and the layer found here, gammas of `thermo.unifac`."""
    unifac = pytest.importorskip("thermo.unifac")
    unifac.load_unifac_ip()
    number = {group.group: key for key, group in unifac.DOUFSG.items() if key < 20} | NUMBERS
    fuel, t = fs.Fuel.named("summer_e10"), 288.15
    table = fuel.mixture.species
    texts = [dortmund_groups(text, family) for text, family in zip(table.groups, table.family, strict=True)]
    texts.append("H2O:1")
    water = fs.water_held(fuel, t).computed
    volume = float(fuel.composition[:, 0] @ table.molar_volume(np.array([t]))[:, 0])
    x = np.append(fuel.composition[:, 0], water * volume / (18.0153e-3 / 999.1))
    x /= x.sum()
    groups = [{number[item.split(":")[0]]: int(item.split(":")[1]) for item in text.split()} for text in texts]

    def gammas(fractions):
        model = unifac.UNIFAC.from_subgroups(
            t, fractions.tolist(), groups, subgroups=unifac.DOUFSG, interaction_data=unifac.DOUFIP2006, version=1
        )
        return np.array(model.gammas())

    # The layer by successive substitution with thermo's own activities.
    layer = np.full(x.size, 1e-4)
    layer[-1], layer[fuel.names.index("ethanol")] = 0.6, 0.4
    for _ in range(400):
        layer = x * gammas(x) / gammas(layer / layer.sum())
    assert layer.sum() == pytest.approx(1.0, abs=2e-3)  # one phase as soon as two: the tangent plane touches
    assert layer[-1] + layer[fuel.names.index("ethanol")] > 0.7


def test_e10_holds_less_than_the_published_half_percent_and_more_than_a_fifth() -> None:
    """[epa_water_1995], from memory: 0.5 vol% at 60 degF. The model is on the side of an earlier warning."""
    held = fs.water_held(fs.Fuel.named("summer_e10"), "60 degF")
    assert held.published == pytest.approx(0.005, rel=0.01)
    assert 0.002 < held.computed < held.published


def test_more_water_is_held_when_it_is_warmer_and_when_there_is_more_ethanol() -> None:
    temperature = ["-20 degC", "0 degC", "20 degC"]
    held = np.array([fs.water_held(fs.Fuel.petrol("60 kPa", share), temperature).computed
                     for share in (0.05, 0.10, 0.20)])  # fmt: skip
    assert np.all(np.diff(held, axis=0) > 0.0)
    assert np.all(np.diff(held, axis=1) > 0.0)
    assert np.all(np.diff(fs.water_held(fs.Fuel.named("winter_e10"), temperature).published) > 0.0)


def test_high_ethanol_fuel_does_not_separate_and_other_fuels_have_no_published_line() -> None:
    """From memory: a tenth of water stays in solution in E85 and in ethanol."""
    for name in ("e85", "neat_ethanol"):
        held = fs.water_held(fs.Fuel.named(name), "0 degC")
        assert held.computed == np.inf
        assert np.isnan(held.published)


def test_petrol_without_ethanol_has_no_computed_figure() -> None:
    """From memory: it holds 0.01 to 0.02 vol% at 20 degC; the model says several times that."""
    assert np.isnan(fs.water_held(fs.Fuel.named("summer_e0"), "15 degC").computed)
