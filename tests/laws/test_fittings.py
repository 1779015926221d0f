"""Fitting losses against fluids and Crane TP-410."""

import numpy as np
import pytest

from fuelsim.laws import fittings as law
from fuelsim.parts.catalogue_parts import catalogue_names
from fuelsim.parts.fittings import Fitting, TypicalFitting, total_loss_coefficient

fluids = pytest.importorskip("fluids")


@pytest.mark.parametrize(
    ("method", "expected"),
    [
        ("Rennels", 0.2966),
        ("Ito", 0.2984),
        ("Miller", 0.3365),
        ("Swamee", 0.3717),
        ("Crane", 0.4366),
        ("Crane standard", 0.9316),
    ],
)
def test_a_90_degree_bend_of_8_mm_has_the_loss_of_the_named_method(method, expected):
    """r/D 1.5, Re 2e4, roughness 1.5 um; figures computed with fluids 1.3.1."""
    assert law.bend_loss(8e-3, np.pi / 2, 1.5, 2e4, 1.5e-6, method) == pytest.approx(expected, abs=5e-5)


def test_two_k_and_three_k_agree_with_fluids_over_bore_and_reynolds_number():
    for bore in (4e-3, 8e-3, 14e-3):
        for reynolds in (500.0, 2e4):
            two = law.two_k_loss(800.0, 0.2, bore)
            three = law.three_k_loss(800.0, 0.071, 4.2, bore)
            assert two.turbulent + two.laminar / reynolds == pytest.approx(
                fluids.fittings.Hooper2K(Di=bore / 0.0254, Re=reynolds, K1=800, Kinfty=0.2)
            )
            assert three.turbulent + three.laminar / reynolds == pytest.approx(
                fluids.fittings.Darby3K(NPS=bore / 0.0254, Re=reynolds, K1=800, Ki=0.071, Kd=4.2)
            )


def test_converging_tee_of_crane_example_7_35():
    """300 and 100 gpm in 4 in pipe: branch -0.04219, run 0.325 (a negative K is right)."""
    gpm = 3.785411784e-3 / 60.0
    tee = law.tee_losses(0.1023, 0.1023, 300.0 * gpm, 100.0 * gpm, joining=True)
    assert tee.branch == pytest.approx(-0.04219, abs=2e-4)
    assert tee.run == pytest.approx(0.325, abs=1e-3)


def test_dividing_tee_costs_more_into_the_branch_than_straight_on():
    tee = law.tee_losses(8e-3, 8e-3, 5e-5, 5e-5, joining=False)
    assert tee.branch > tee.run


def test_contraction_and_expansion_vanish_without_a_change_of_bore():
    assert law.contraction_loss(8e-3, 8e-3) == 0.0
    assert law.expansion_loss(8e-3, 8e-3) == 0.0


@pytest.mark.parametrize("ratio", [0.3, 0.5, 0.75, 0.9])
def test_contraction_by_crane_is_half_of_what_the_area_lost(ratio):
    """Crane TP-410 (2009), formula 1 at 180 degrees: K = 0.5 (1 - beta^2) on the smaller bore."""
    assert law.contraction_loss(8e-3, ratio * 8e-3, "Crane") == pytest.approx(0.5 * (1.0 - ratio**2))
    fitting = Fitting(kind="contraction", other_bore="10 mm", method="Crane")
    assert fitting.loss_coefficient(ratio * 10e-3).turbulent == pytest.approx(0.5 * (1.0 - ratio**2))


def test_loss_moves_to_another_bore_with_the_fourth_power():
    assert law.referred_to(1.0, 7.9e-3, 9.5e-3) == pytest.approx((9.5 / 7.9) ** 4)


def test_given_two_part_loss_of_a_smaller_bore_costs_the_same_pressure_on_the_line():
    own, line, flow, viscosity = 6e-3, 8e-3, 3e-5, 0.6e-6
    total = total_loss_coefficient([Fitting(kind="given", turbulent=0.5, laminar=300.0, own_bore=own)], line)

    def head(turbulent, laminar, bore):
        speed = flow / (np.pi / 4 * bore**2)
        return (turbulent + laminar * viscosity / (speed * bore)) * speed**2 / 2

    assert head(total.turbulent, total.laminar, line) == pytest.approx(head(0.5, 300.0, own))


def test_fittings_add_up():
    parts = [
        Fitting(kind="entrance"),
        Fitting(kind="bend", count=3),
        Fitting(kind="two_k", turbulent=0.2, laminar=800.0),
        Fitting(kind="typical", typical="quick_connector", count=2),
        Fitting(kind="exit"),
    ]
    total = total_loss_coefficient(parts, "8 mm")
    expected = 0.57 + 3 * 0.29665 + 0.2 * (1 + 25.4 / 8) + 2 * 1.0 + 1.0
    assert total.turbulent == pytest.approx(expected, abs=1e-4)
    assert total.laminar == 800.0


def test_typical_fittings_give_the_middle_of_their_range():
    for name in catalogue_names("fittings"):
        item = TypicalFitting.named(name)
        found = Fitting(kind="typical", typical=name).loss_coefficient(8e-3).turbulent
        assert item.least <= found <= item.most


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"kind": "typical", "typical": "bend_90_swep"}, "typical"),
        ({"kind": "typical"}, "typical"),
        ({"kind": "contraction"}, "other_bore"),
        ({"kind": "bend", "method": "Idelchik"}, "method"),
        ({"kind": "contraction", "other_bore": "9 mm", "method": "Ito"}, "method"),
        ({"kind": "bent"}, "kind"),
        ({"kind": "bend", "angle": "90 degC"}, "angle"),
    ],
)
def test_a_wrong_fitting_is_one_clear_error(changes, key):
    from fuelsim.errors import InputError

    with pytest.raises(InputError) as caught:
        Fitting(**changes)
    assert (caught.value.part, caught.value.key) == ("Fitting", key)


@pytest.mark.parametrize("joining", [True, False])
def test_a_tee_branches_at_right_angles_unless_told_otherwise(joining):
    """Judge: ``fluids`` with 90 and 45 degrees."""
    given = (0.008, 0.006, 2e-5, 1e-5)
    judge = fluids.fittings.K_branch_converging_Crane if joining else fluids.fittings.K_branch_diverging_Crane
    assert law.tee_losses(*given, joining=joining).branch == pytest.approx(judge(*given, 90.0), rel=1e-9)
    oblique = law.tee_losses(*given, np.pi / 4, joining=joining).branch
    assert oblique == pytest.approx(judge(*given, 45.0), rel=1e-9)
