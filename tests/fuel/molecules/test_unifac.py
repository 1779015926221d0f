"""Activity coefficients against thermo and against exact limits."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fuelsim.errors import InputError
from fuelsim.fuel.molecules.species import species
from fuelsim.fuel.molecules.unifac import SUBGROUPS, Groups, log_activity, temperature_terms

NAMES = species().names


def _points(seed: int, count: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    return rng.dirichlet(np.full(len(NAMES), 0.5), count).T, rng.uniform(230.0, 420.0, count)


def test_activity_coefficients_of_the_whole_table_equal_those_of_thermo() -> None:
    unifac = pytest.importorskip("thermo.unifac")
    number = {group.group: key for key, group in unifac.UFSG.items()}
    number |= {"CH2=CH": 5, "CH=CH": 6, "CH2=C": 7, "CH=C": 8, "CH3O": 24, "CH2O": 25, "H2O": 16}
    groups = [
        {number[item.split(":")[0]]: int(item.split(":")[1]) for item in text.split()} for text in species().groups
    ]
    x, t = _points(1, 6)
    table = species().unifac
    ours = np.exp(log_activity(table, temperature_terms(table, t), x))
    for point in range(t.size):
        theirs = unifac.UNIFAC.from_subgroups(t[point], x[:, point].tolist(), groups).gammas()
        assert ours[:, point] == pytest.approx(theirs, rel=1e-8)


def test_group_volumes_and_surfaces_are_those_of_thermo() -> None:
    unifac = pytest.importorskip("thermo.unifac")
    theirs = {group.group: group for group in unifac.UFSG.values()}
    for name in ("CH3", "CH2", "CH", "C", "ACH", "AC", "ACCH3", "ACCH2", "ACCH", "OH", "CH3OH"):
        assert SUBGROUPS[name][1:] == (theirs[name].R, theirs[name].Q)


@settings(max_examples=30, derandomize=True, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_gibbs_duhem_holds(seed: int) -> None:
    """sum x d(ln gamma) = 0 along any change of composition at constant temperature."""
    rng = np.random.default_rng(seed)
    x, t = _points(seed, 1)
    move = rng.normal(size=x.shape) * x
    move -= x * move.sum()
    move *= 1e-5 / np.abs(move).max()
    table = species().unifac
    terms = temperature_terms(table, t)
    change = log_activity(table, terms, x + move) - log_activity(table, terms, x - move)
    assert (x * change).sum() == pytest.approx(0.0, abs=1e-9 + 1e-6 * np.abs(x * change).sum())


def test_a_species_alone_has_no_activity_coefficient() -> None:
    table = species().unifac
    terms = temperature_terms(table, np.full(len(NAMES), 320.0))
    alone = np.diagonal(log_activity(table, terms, np.eye(len(NAMES)) + 1e-15))
    assert alone == pytest.approx(0.0, abs=1e-12)


def test_an_unknown_group_is_named() -> None:
    with pytest.raises(InputError, match="did you mean 'ACCH3'"):
        Groups.from_text(("ACCH33:1",))
