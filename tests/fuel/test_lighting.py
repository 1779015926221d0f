"""Vapour to light a cold fuel, against flash points and flammable limits of pure substances and published starts."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.errors import InputError
from fuelsim.fuel.lighting import LEAN_LIMIT, MOST_RICHNESS, SURE_RICHNESS, richness_to_light
from fuelsim.fuel.molecules.combustion import OXYGEN_IN_AIR, oxygen_demand
from fuelsim.fuel.molecules.species import species

ALL = species()
LIQUID = [
    "n-hexane", "n-heptane", "isooctane", "n-octane", "n-nonane", "n-decane", "benzene", "toluene", "m-xylene",
    "ethylbenzene", "cyclohexane", "methylcyclohexane", "MTBE", "methanol", "ethanol",
]  # fmt: skip


def _cas(name: str) -> str:
    from chemicals.identifiers import CAS_from_any

    return str(CAS_from_any(name))


def test_the_lean_limit_lies_near_the_measured_ones_of_the_species() -> None:
    """Flammable limits of NFPA 497 by chemicals: 0.55 of stoichiometric is their middle; ethylbenzene's is 0.41."""
    safety = pytest.importorskip("chemicals.safety")
    measured = {name: safety.LFL(CASRN=_cas(name), method="NFPA 497 (2008)") for name in LIQUID}
    known = [name for name, limit in measured.items() if limit is not None]
    assert len(known) > 9
    demand = oxygen_demand(ALL.take(tuple(known)))
    ours = LEAN_LIMIT / (1.0 + demand / OXYGEN_IN_AIR)
    ratio = ours / np.array([measured[name] for name in known])
    assert 0.9 < np.median(ratio) < 1.1
    assert np.sum((ratio > 0.75) & (ratio < 1.25)) >= len(known) - 1
    assert np.all((ratio > 0.7) & (ratio < 1.4))


@pytest.mark.parametrize("name", LIQUID)
def test_a_pure_liquid_in_excess_lights_at_its_flash_point(name: str) -> None:
    """Closed cup, [iec_60079_20_1] by chemicals: 15 substances from -27 to 46 degC within 8 K, 13 within 5."""
    safety = pytest.importorskip("chemicals.safety")
    ours = fs.lighting_temperature(fs.Fuel.from_components({name: 1.0}), MOST_RICHNESS)
    assert ours == pytest.approx(safety.T_flash(_cas(name)), abs=8.0)


def test_petrol_lights_in_excess_down_to_its_flash_point() -> None:
    """-43 degC of safety sheets, one petrol with another."""
    assert fs.lighting_temperature(fs.Fuel.named("summer_e0"), MOST_RICHNESS) < 240.0


def test_neat_ethanol_is_hard_to_start_below_12_to_22_degrees_and_e85_below_about_10() -> None:
    """From memory: engines on neat ethanol need help below 10 to 20 degC, on E85 below about 10 when fuelled little."""
    ethanol, e85 = fs.Fuel.named("neat_ethanol"), fs.Fuel.named("e85")
    least, sure = (fs.lighting_temperature(ethanol, 8.0, vapour_richness=wanted) for wanted in (None, SURE_RICHNESS))
    assert 10.0 < least - 273.15 < 15.0 < sure - 273.15 < 24.0
    warm, rich = (fs.lighting_temperature(e85, ratio, vapour_richness=SURE_RICHNESS) for ratio in (4.0, 16.0))
    assert 5.0 < warm - 273.15 < 15.0
    assert rich < 268.15


def test_the_more_volatile_class_of_high_ethanol_fuel_lights_colder() -> None:
    """Classes 1 to 4 of [astm_d5798_afdc] are for ever colder weather."""
    fuels = [fs.Fuel.of_class(f"ASTM D5798 {number}") for number in (1, 2, 3, 4)]
    coldest = np.array([fs.lighting_temperature(fuel, 4.0) for fuel in fuels])
    assert np.all(np.diff(coldest) < -1.0)


def test_winter_petrol_lights_colder_than_summer_petrol_and_both_far_colder_than_ethanol() -> None:
    winter, summer, ethanol = (fs.lighting_temperature(fs.Fuel.named(name), 4.0, vapour_richness=SURE_RICHNESS)
                               for name in ("winter_e0", "summer_e0", "neat_ethanol"))  # fmt: skip
    assert winter < summer - 5.0 < ethanol - 30.0


def test_no_more_burns_than_is_supplied_and_more_burns_when_it_is_warmer() -> None:
    warmer = fs.vapour_to_light(fs.Fuel.named("summer_e10"), np.linspace(233.15, 313.15, 9)[:, None], [0.7, 1.0, 4.0])
    assert warmer.vapour_richness.shape == (9, 3)
    assert np.all(warmer.vapour_richness <= warmer.richness * (1.0 + 1e-9))
    some_left = warmer.vapour_richness[1:] < (1.0 - 1e-6) * warmer.richness[1:]
    assert np.all(np.diff(warmer.vapour_richness, axis=0)[some_left] > 0.0)
    assert np.all(warmer.vapour_richness[-1, :2] == pytest.approx([0.7, 1.0]))  # at 40 degC all has evaporated
    assert np.all(np.diff(warmer.vapour_richness, axis=1) > 0.0)


def test_saturated_vapour_of_ethanol_follows_its_vapour_pressure() -> None:
    """Dalton: x = p_v / p. At 10 degC CoolProp gives 3.13 kPa, 3.09 % of the gas."""
    coolprop = pytest.importorskip("CoolProp.CoolProp")
    share = coolprop.PropsSI("P", "T", 283.15, "Q", 0, "Ethanol") / 101325.0
    gas = fs.vapour_to_light(fs.Fuel.named("neat_ethanol"), 283.15, 20.0)
    assert gas.vapour_richness == pytest.approx(3.0 / OXYGEN_IN_AIR * share / (1.0 - share), rel=0.02)


def test_the_fuel_to_light_is_the_inverse_of_the_temperature_at_which_it_lights() -> None:
    fuel = fs.Fuel.named("e85")
    coldest = fs.lighting_temperature(fuel, [2.0, 8.0])
    assert richness_to_light(fuel, coldest) == pytest.approx([2.0, 8.0], rel=0.01)


def test_a_wrong_richness_has_a_message() -> None:
    with pytest.raises(InputError, match="argument 'richness': outside the plausible range"):
        fs.vapour_to_light(fs.Fuel.named("e85"), "0 degC", 0.0)
    with pytest.raises(InputError, match="do not broadcast"):
        fs.vapour_to_light(fs.Fuel.named("e85"), ["0 degC", "5 degC"], [1.0, 2.0, 3.0])
