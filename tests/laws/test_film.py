"""Film coefficients, wall and radiation against the general-purpose library ``ht`` and figures of the trade."""

from __future__ import annotations

import fluids
import ht
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fuelsim.laws.film import (
    UNIFORM_FLUX,
    UNIFORM_WALL,
    air_properties,
    cross_flow_nusselt,
    exhaust_flux,
    free_convection_nusselt,
    internal_coefficient,
    internal_nusselt,
    line_conductance,
    line_conductance_in_air,
    outside_coefficient,
    radiation_coefficient,
    shield_factor,
)


def test_laminar_nusselt_numbers_are_those_of_one_wall_temperature_and_of_one_heat_flux():
    """Source: ``ht.conv_internal``, laminar flow of constant wall temperature and constant heat flux."""
    assert pytest.approx(ht.conv_internal.laminar_T_const(), rel=1e-3) == UNIFORM_WALL
    assert pytest.approx(ht.conv_internal.laminar_Q_const(), rel=2e-3) == UNIFORM_FLUX


@pytest.mark.parametrize("reynolds", [4e3, 1e4, 1e5])
@pytest.mark.parametrize("prandtl", [0.7, 6.0, 15.0])
@pytest.mark.parametrize("roughness", [0.0, 1e-3])
def test_turbulent_internal_film_is_gnielinskis(reynolds, prandtl, roughness):
    """Source: ``ht.conv_internal.turbulent_Gnielinski`` with ``fluids`` friction (Colebrook; ours is within 0.13 %)."""
    friction = fluids.friction_factor(Re=reynolds, eD=roughness, Method="Colebrook")
    judge = ht.conv_internal.turbulent_Gnielinski(Re=reynolds, Pr=prandtl, fd=friction)
    assert float(internal_nusselt(reynolds, prandtl, roughness)) == pytest.approx(judge, rel=2e-3)


def test_internal_film_rises_smoothly_from_laminar_to_turbulent():
    reynolds = np.linspace(1500.0, 5000.0, 3501)
    nusselt = internal_nusselt(reynolds, 7.0)
    step = np.diff(nusselt)
    assert np.all(step >= -1e-9)
    # The steepest slope is about 0.03 per Reynolds number; a corner would show as a jump of that size.
    assert np.abs(np.diff(step)).max() < 2e-4


@settings(max_examples=60, derandomize=True, deadline=None)
@given(reynolds=st.floats(1.0, 2e5), prandtl=st.floats(0.6, 10.0))
def test_cross_flow_is_churchill_and_bernsteins(reynolds, prandtl):
    """Source: ``ht.conv_external.Nu_cylinder_Churchill_Bernstein``."""
    judge = ht.conv_external.Nu_cylinder_Churchill_Bernstein(Re=reynolds, Pr=prandtl)
    assert float(cross_flow_nusselt(reynolds, prandtl)) == pytest.approx(judge, rel=1e-10)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(grashof=st.floats(1e-3, 1e10), prandtl=st.floats(0.6, 10.0))
def test_free_convection_is_churchill_and_chus(grashof, prandtl):
    """Source: ``ht.conv_free_immersed.Nu_horizontal_cylinder_Churchill_Chu``."""
    judge = ht.conv_free_immersed.Nu_horizontal_cylinder_Churchill_Chu(Pr=prandtl, Gr=grashof)
    assert float(free_convection_nusselt(grashof * prandtl, prandtl)) == pytest.approx(judge, rel=1e-10)


def test_radiation_is_stefan_boltzmanns():
    """Source: ``ht.radiation.q_rad``."""
    flux = radiation_coefficient(0.9, 320.0, 360.0) * (360.0 - 320.0)
    assert flux == pytest.approx(ht.radiation.q_rad(emissivity=0.9, T=360.0, T2=320.0), rel=1e-5)


def test_one_foil_shield_halves_radiation_between_black_surfaces_of_its_kind():
    """Source: N shields of the surfaces' own emissivity leave 1/(N + 1) (Incropera et al., radiation shields)."""
    look = {"exhaust_emissivity": 0.8, "surface_emissivity": 0.8, "shield_emissivity": 0.8}
    bare, one, three = exhaust_flux(700.0, 330.0, 1.0, shields=np.array([0, 1, 3]), **look)
    assert one == pytest.approx(bare / 2.0)
    assert three == pytest.approx(bare / 4.0)


def test_exhaust_radiation_and_shield_have_the_size_known_to_the_trade():
    """0.5 to 3 kW/m2 on an unshielded line, 70 to 90 % less behind one foil (from memory)."""
    exhaust = np.array([573.0, 673.0, 723.0])
    bare = exhaust_flux(exhaust, 330.0, 0.2)
    assert np.all((bare > 500.0) & (bare < 3000.0))
    less = 1.0 - exhaust_flux(exhaust, 330.0, 0.2, shields=1) / bare
    assert np.all((less > 0.7) & (less < 0.9))


def test_air_has_the_properties_of_tables():
    """Source: Incropera et al., table A.4, from memory: k, nu and Pr of air at atmospheric pressure."""
    for temperature, viscosity, conductivity, prandtl in (
        (300.0, 15.89e-6, 0.0263, 0.707),
        (350.0, 20.92e-6, 0.03, 0.7),
    ):
        air = air_properties(temperature)
        assert air.kinematic_viscosity == pytest.approx(viscosity, rel=0.02)
        assert air.conductivity == pytest.approx(conductivity, rel=0.01)
        assert air.prandtl == pytest.approx(prandtl, rel=0.02)


def test_thin_air_of_altitude_cools_less():
    low, high = outside_coefficient(0.0095, 10.0, 320.0, 310.0, pressure=np.array([101325.0, 70e3]))
    assert high < low


def test_walls_and_films_are_resistances_in_series():
    """A thin wall that conducts well leaves the two films alone."""
    both = line_conductance(1000.0, 50.0, 0.01, 0.0100001, 400.0)
    assert both == pytest.approx(np.pi * 0.01 / (1.0 / 1000.0 + 1.0 / 50.0), rel=1e-4)


# Typical conductances per metre in still air and in a moving car's airstream, from memory: rubber 8.7/14.7 mm 0.39 and
# 1.2; bare steel of 9.5 mm 0.30 and 1.8.
@pytest.mark.parametrize(
    ("bore", "outside", "wall", "emissivity", "still", "moving"),
    [(0.0087, 0.0147, 0.2, 0.9, 0.39, 1.2), (0.0077, 0.0095, 50.0, 0.3, 0.30, 1.8)],
)
def test_line_conductance_is_that_of_the_trade(bore, outside, wall, emissivity, still, moving):
    inside = internal_coefficient(0.02, bore, 4.5e-4, 0.12, 2100.0)
    found = line_conductance_in_air(inside, 318.0, 331.0, np.array([0.0, 4.0]), bore, outside, wall, emissivity)
    assert found[0] == pytest.approx(still, rel=0.25)
    assert found[1] == pytest.approx(moving, rel=0.25)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(
    flow=st.floats(0.0, 0.1),
    fuel=st.floats(270.0, 370.0),
    air=st.floats(260.0, 380.0),
    speed=st.floats(0.0, 40.0),
)
def test_conductance_is_positive_finite_and_rises_with_air_speed(flow, fuel, air, speed):
    inside = internal_coefficient(flow, 0.0065, 4.5e-4, 0.12, 2100.0)
    slow, fast = line_conductance_in_air(inside, fuel, air, np.array([speed, speed + 1.0]), 0.0065, 0.008, 50.0)
    assert 0.0 < slow < fast < 10.0


@pytest.mark.parametrize("air_speed", [0.0, 0.3, 4.0])
@pytest.mark.parametrize("fuel", [283.0, 331.0, 363.0])
def test_a_line_in_air_has_the_surface_temperature_at_which_both_films_carry_the_same_heat(air_speed, fuel):
    """Judge: scipy on the balance k (fuel - air) = h_out pi D (surface - air), with the two films' own laws."""
    from scipy.optimize import brentq

    air, inside, bore, outer, wall, emissivity = 318.0, 900.0, 0.0087, 0.0147, 0.2, 0.9

    def outside(surface):
        return outside_coefficient(outer, air_speed, surface, air, emissivity)

    def imbalance(surface):
        carried = line_conductance(inside, outside(surface), bore, outer, wall) * (fuel - air)
        return float(carried - outside(surface) * np.pi * outer * (surface - air))

    low, high = sorted((air + 1e-6 * (fuel - air), fuel))
    surface = brentq(imbalance, low, high)
    expected = line_conductance(inside, outside(surface), bore, outer, wall)
    own = line_conductance_in_air(inside, fuel, air, air_speed, bore, outer, wall, emissivity)
    assert float(own) == pytest.approx(float(expected), rel=1e-3)


@pytest.mark.parametrize("temperature", [230.0, 288.15, 350.0])
def test_viscosity_and_conductivity_of_air_are_those_of_the_standard_atmosphere(temperature):
    """Judge: ``fluids.ATMOSPHERE_1976``, formulas of the US Standard Atmosphere [us_standard_atmosphere_1976]."""
    air = air_properties(temperature)
    assert air.conductivity == pytest.approx(fluids.ATMOSPHERE_1976.thermal_conductivity(temperature), rel=1e-6)
    viscosity = fluids.ATMOSPHERE_1976.viscosity(temperature)
    assert air.kinematic_viscosity * air.density == pytest.approx(viscosity, rel=1e-6)


@pytest.mark.parametrize("speed", [0.0, 0.005, 0.05, 1.0, 30.0])
@pytest.mark.parametrize(("surface", "air"), [(300.0, 300.0), (380.0, 300.0), (280.0, 330.0)])
def test_the_outside_film_joins_the_laws_of_still_and_moving_air_and_radiation_by_their_third_powers(
    speed, surface, air
):
    """Judges: ``fluids`` for air at film temperature, ``ht`` for both films and radiation; 0.3 is the air's at rest."""
    diameter, film = 0.01, 0.5 * (surface + air)
    atmosphere = fluids.ATMOSPHERE_1976
    density = 101325.0 * 0.0289644 / (8.31432 * film)
    nu = atmosphere.viscosity(film) / density
    conductivity = atmosphere.thermal_conductivity(film)
    prandtl = 1006.0 * atmosphere.viscosity(film) / conductivity
    grashof = fluids.Grashof(L=diameter, beta=1.0 / film, T1=surface, T2=air, nu=nu)
    free = ht.conv_free_immersed.Nu_horizontal_cylinder_Churchill_Chu(Pr=prandtl, Gr=abs(grashof))
    forced = ht.conv_external.Nu_cylinder_Churchill_Bernstein(Re=speed * diameter / nu, Pr=prandtl)
    both = (free**3 + (forced - 0.3) ** 3) ** (1.0 / 3.0) * conductivity / diameter
    radiation = 0.8 * 5.670374e-8 * (surface**2 + air**2) * (surface + air)
    own = outside_coefficient(diameter, speed, surface, air, 0.8)
    assert float(own) == pytest.approx(both + radiation, rel=2e-4)


def test_unless_told_otherwise_lines_are_of_rubber_exhausts_of_scaled_steel_and_shields_of_used_foil():
    """Emissivities of 0.9, 0.8 and 0.2 [emissivity_tables]."""
    line = (900.0, 318.0, 331.0, 0.0, 0.0087, 0.0147, 0.2)
    assert line_conductance_in_air(*line) == line_conductance_in_air(*line, emissivity=0.9)
    assert outside_coefficient(0.01, 0.0, 320.0, 330.0) == outside_coefficient(0.01, 0.0, 320.0, 330.0, 0.9)
    assert shield_factor(1) == shield_factor(1, exhaust_emissivity=0.8, surface_emissivity=0.9, shield_emissivity=0.2)
    told = {"exhaust_emissivity": 0.8, "surface_emissivity": 0.9, "shield_emissivity": 0.2}
    assert exhaust_flux(673.0, 330.0, 0.2, shields=1) == exhaust_flux(673.0, 330.0, 0.2, shields=1, **told)
