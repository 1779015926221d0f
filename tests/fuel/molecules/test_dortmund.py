"""Modified (Dortmund) UNIFAC against thermo, DDBST's own assignment of groups, and published mixtures."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import numpy as np
import pytest

from fuelsim.data_files import data_path, read_text
from fuelsim.errors import InputError
from fuelsim.fuel.fuel import Fuel
from fuelsim.fuel.molecules.dortmund import DORTMUND, dortmund_groups
from fuelsim.fuel.molecules.species import species
from fuelsim.fuel.molecules.unifac import Groups, log_activity, temperature_terms

ALL = species()
NUMBERS = {
    "CH2=CH": 5,
    "CH=CH": 6,
    "CH2=C": 7,
    "CH=C": 8,
    "OH": 14,
    "H2O": 16,
    "CH3O": 24,
    "CH2O": 25,
    "cy-CH2": 78,
    "cy-CH": 79,
}


def _numbers(unifac) -> dict[str, int]:
    return {group.group: key for key, group in unifac.DOUFSG.items() if key < 20} | NUMBERS


def _assigned(number: dict[str, int]) -> list[dict[int, int]]:
    texts = [dortmund_groups(text, family) for text, family in zip(ALL.groups, ALL.family, strict=True)]
    return [{number[item.split(":")[0]]: int(item.split(":")[1]) for item in text.split()} for text in texts]


def test_activity_coefficients_of_the_whole_table_equal_those_of_thermo() -> None:
    unifac = pytest.importorskip("thermo.unifac")
    unifac.load_unifac_ip()
    groups = _assigned(_numbers(unifac))
    rng = np.random.default_rng(14)
    x, t = rng.dirichlet(np.full(len(ALL.names), 0.5), 6).T, rng.uniform(230.0, 420.0, 6)
    table = ALL.take(ALL.names, "dortmund").unifac
    ours = np.exp(log_activity(table, temperature_terms(table, t), x))
    for point in range(t.size):
        theirs = unifac.UNIFAC.from_subgroups(
            t[point],
            x[:, point].tolist(),
            groups,
            subgroups=unifac.DOUFSG,
            interaction_data=unifac.DOUFIP2006,
            version=1,
        ).gammas()
        assert ours[:, point] == pytest.approx(theirs, rel=1e-8)


def test_every_pair_of_the_table_equals_that_of_thermo() -> None:
    """Pairs at dilution show single interactions, which a mixture of all species averages; water is in no fuel yet."""
    unifac = pytest.importorskip("thermo.unifac")
    unifac.load_unifac_ip()
    number = _numbers(unifac)
    texts = ["CH3:2 CH2:3", "CH3:3 CH=C:1", "ACH:6", "ACH:5 ACCH3:1", "CH3:1 CH2:1 OH:1", "CH3OH:1", "H2O:1"]
    texts += ["CH3:3 C:1 CH3O:1", "CH3:1 cy-CH2:4 cy-CH:1"]
    for first in range(len(texts)):
        for second in range(first):
            pair = (texts[first], texts[second])
            groups = Groups.from_text(pair, DORTMUND)
            theirs_groups = [
                {number[item.split(":")[0]]: int(item.split(":")[1]) for item in text.split()} for text in pair
            ]
            for t, x in ((260.0, 0.01), (340.0, 0.99)):
                ours = np.exp(
                    log_activity(groups, temperature_terms(groups, np.array([t])), np.array([[x], [1.0 - x]]))
                )
                theirs = unifac.UNIFAC.from_subgroups(
                    t,
                    [x, 1.0 - x],
                    theirs_groups,
                    subgroups=unifac.DOUFSG,
                    interaction_data=unifac.DOUFIP2006,
                    version=1,
                ).gammas()
                assert ours.ravel() == pytest.approx(theirs, rel=1e-6), (pair, t)


def test_the_later_parameters_that_thermo_lists_agree_within_a_tenth_of_a_per_cent() -> None:
    unifac = pytest.importorskip("thermo.unifac")
    unifac.load_unifac_ip()
    groups = _assigned(_numbers(unifac))
    x, t = np.random.default_rng(3).dirichlet(np.full(len(ALL.names), 0.5)), 330.0
    table = ALL.take(ALL.names, "dortmund").unifac
    ours = np.exp(log_activity(table, temperature_terms(table, np.array([t])), x[:, None]))[:, 0]
    theirs = unifac.UNIFAC.from_subgroups(
        t, x.tolist(), groups, subgroups=unifac.DOUFSG, interaction_data=unifac.DOUFIP2016, version=1
    ).gammas()
    assert ours == pytest.approx(theirs, rel=1e-3)


def test_groups_are_those_that_ddbst_assigns() -> None:
    unifac = pytest.importorskip("thermo.unifac")
    chemicals = pytest.importorskip("chemicals.identifiers")
    unifac.load_group_assignments_DDBST()
    number = _numbers(unifac)
    cas = dict(zip(ALL.names, _cas(), strict=True))
    compared = 0
    for name, ours in zip(ALL.names, _assigned(number), strict=True):
        theirs = unifac.DDBST_MODIFIED_UNIFAC_assignments.get(chemicals.search_chemical(cas[name]).InChI_key)
        if theirs:
            assert ours == theirs, name
            compared += 1
    assert compared > 30


def _cas() -> list[str]:
    return [row["cas"] for row in csv.DictReader(io.StringIO(read_text(data_path("species.csv"))))]


def test_butane_in_decane_is_nearer_raoult_with_three_quarters() -> None:
    """Own analysis: at 0.05 mole and 20 degC original UNIFAC gives 0.795 of Raoult; r^(3/4) alone gives 0.879."""
    groups = ALL.take(("n-butane", "n-decane")).unifac
    assert groups.modified_volume is None
    x, terms = np.array([[0.05], [0.95]]), temperature_terms(groups, np.array([293.15]))
    assert np.exp(log_activity(groups, terms, x))[0, 0] == pytest.approx(0.795, abs=6e-4)
    three_quarters = replace(groups, modified_volume=groups.volume**0.75)
    assert np.exp(log_activity(three_quarters, terms, x))[0, 0] == pytest.approx(0.879, abs=6e-4)


# Boiling point in degC at 101.325 kPa and mole fraction of ethanol of minimum azeotropes with ethanol, from memory of
# handbook tables.
AZEOTROPES = {
    "n-pentane": (34.3, 0.076),
    "n-hexane": (58.7, 0.332),
    "n-heptane": (70.9, 0.63),
    "cyclohexane": (64.8, 0.44),
    "benzene": (67.9, 0.45),
    "toluene": (76.7, 0.81),
}


@pytest.mark.parametrize("name", AZEOTROPES)
def test_azeotropes_with_ethanol_boil_where_handbooks_say(name: str) -> None:
    """[memory] Within 1 K and 0.04 mole, the scatter of such tables and of our pure vapour pressures."""
    temperature, share = AZEOTROPES[name]
    shares = np.linspace(0.02, 0.95, 94)
    boiling = [
        Fuel.from_components(
            {"ethanol": float(x), name: float(1.0 - x)}, "mole", activity_model="dortmund"
        ).bubble_temperature("1 atm")
        for x in shares
    ]
    lowest = int(np.argmin(boiling))
    assert boiling[lowest] - 273.15 == pytest.approx(temperature, abs=1.0)
    assert shares[lowest] == pytest.approx(share, abs=0.04)


def test_an_unknown_model_is_refused() -> None:
    with pytest.raises(InputError, match=r"activity_model|activity coefficients"):
        Fuel.petrol("60 kPa", activity_model="wilson")
    with pytest.raises(InputError, match=r"activity_model|activity coefficients"):
        Fuel.petrol("60 kPa").with_activity_model("wilson")
