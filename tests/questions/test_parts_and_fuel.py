"""Questions on parts, electrics and ethanol: fuses, flow into a can, hose ratings, slowed pumps, bleeds.

Each ``ask_N`` is the question as a user asks it through the public door; the test beside it holds the answer to its
check and says where the check comes from.
"""

import numpy as np
import pytest

import fuelsim as fs

L_H = 1e-3 / 3600.0


def ask_5():
    """The fuse holder melts and the fuse never blows: how far is it loaded?"""
    return fs.Wire(fuse_rating="30 A").fuse_loading(27.4), fs.Requirements().fuse_loading


def test_5_27_amperes_on_a_30_ampere_fuse_are_flagged():
    loading, most = ask_5()
    assert loading == pytest.approx(0.91, abs=0.005)
    assert loading > most == 0.75  # where it is hot [fuse_glossary]; 75-80 % by published service bulletins


def ask_25():
    """Flow into a can: 0.473 L in 13.5 s, is that the 155 class at 12 V?"""
    measured = fs.si("473 mL", "m3") / 13.5
    pump = fs.Pump.named("in_tank_130").at(supply_voltage="12 V")
    return measured / L_H, fs.si("473 mL", "m3") / pump.flow("300 kPa")


def test_25_half_a_litre_in_13_seconds_is_126_litres_an_hour():
    flow, seconds = ask_25()
    assert flow == pytest.approx(126.0, rel=0.005)
    assert seconds == pytest.approx(13.5, rel=0.01)  # class table at 12 V, from memory


def ask_36(rating):
    """Is my hose rated for dead-head, with a set of 400 kPa and a relief of 660?"""
    ratings = {"feed.working_pressure": rating, "pump.relief_pressure": "660 kPa"}
    system = fs.Car.named("finch").with_values(ratings).system("returnless_tank")
    return [finding.severity for finding in fs.findings(system) if finding.subject == "feed"]


def test_36_below_set_fails_and_below_dead_head_warns():
    # Rule of the trade (common practice, no source): 340 on a set of 400 fails, 500 on a dead-head of 690 warns.
    assert ask_36("340 kPa") == [fs.Severity.FAILURE]
    assert ask_36("500 kPa") == [fs.Severity.WARNING]
    assert ask_36("900 kPa") == []


WINDOW = 120.0 / 6000.0
"""s between two openings at 6000 rpm."""


def ask_37(air_fuel_ratio, density, dead_time=0.0):
    """Ethanol conversion: what breaks first, if the injectors are open 62 % of the time on petrol?"""
    peak = {"peak_power": "200 kW", "peak_power_speed": 6000, "brake_specific_fuel_consumption": "300 g/kWh"}
    engine = fs.Engine(displacement="5 L", cylinders=8, red_line=6000, **peak)
    mass = engine.demand(6000.0, stoichiometric_air_fuel_ratio=air_fuel_ratio).fuel_mass_flow
    flow = mass[0] / density[0] / 8.0 / (0.62 - dead_time / WINDOW)
    bank = fs.Injectors(count=8, static_flow=flow, rated_density=density[0], dead_time=[dead_time] * 6)
    return mass[1] / mass[0], bank.duty(mass, 300e3, density, engine_speed=6000.0, voltage=13.5)


def test_37_the_pump_gives_1_44_times_the_volume():
    # Computed: stoichiometric 14.7 against 9.75 kg of air per kg, 745 and 780 kg/m3: mass x1.51, volume x1.44.
    mass, _ = ask_37([14.7, 9.75], [745.0, 780.0])
    assert mass == pytest.approx(1.51, abs=0.005)
    assert mass * 745.0 / 780.0 == pytest.approx(1.44, abs=0.005)


@pytest.mark.parametrize(("dead_time", "duty_on_ethanol"), [(0.9e-3, 0.884), (0.0, 0.904)])
def test_37_the_injectors_go_first(dead_time, duty_on_ethanol):
    # Computed: pulse x1.46 = mass/sqrt(density), so 62 % becomes 88.4 % (0.9 ms of dead time) to 90.4 %. The published
    # 9.75-9.8 is a range: this figure has 9.8, with 788 kg/m3 (85 % ethanol at 15 degC) against 745; 9.75 and the
    # 780 kg/m3 of the volume above ask for a pulse of 1.47 and another point of duty.
    mass, duty = ask_37([14.7, 9.8], [745.0, 788.0], dead_time)
    assert mass * np.sqrt(745.0 / 788.0) == pytest.approx(1.46, abs=0.005)
    assert duty == pytest.approx([0.62, duty_on_ethanol], abs=0.0005)


@pytest.mark.parametrize("dead_time", [0.9e-3, 0.0])
def test_37_three_quarters_of_ethanol_are_about_85_percent(dead_time):
    # 75 % by volume of ethanol (9.0 kg of air per kg, 789 kg/m3) in petrol (14.7, 745) is 76.1 % by mass.
    _, duty = ask_37([14.7, 0.761 * 9.0 + 0.239 * 14.7], [745.0, 0.75 * 789.0 + 0.25 * 745.0], dead_time)
    assert duty[1] == pytest.approx(0.85, abs=0.015)


def ask_37_of_a_composition(ethanol):
    """Ethanol conversion, with a petrol and a blend computed from their species: what breaks first?"""
    petrol = fs.Fuel.petrol(vapour_pressure="62 kPa", density="754 kg/m3")  # at 15 degC: 745 at 25
    fuels = petrol, petrol.splash_blend(ethanol=ethanol)
    air_fuel_ratio = np.array([fuel.stoichiometric_air_fuel_ratio for fuel in fuels])
    density = np.array([float(fuel.density(298.15)) for fuel in fuels])
    return air_fuel_ratio, density, ask_37(air_fuel_ratio, density, 0.9e-3)


def test_37_species_ask_for_less_than_the_rounded_ratios_because_their_petrol_needs_less_air():
    # Ours: 14.40 and 9.78 kg of air per kg at 745 and 779 kg/m3, mass x1.472, volume x1.408, pulse x1.44, duty 87.3 %.
    # The 14.7 is a convention; half the mass of this petrol is aromatics that need 13.5-13.9. At the conventional 14.7
    # and 9.75 the same densities give the published mass and volume.
    air_fuel_ratio, density, (mass, duty) = ask_37_of_a_composition(0.85)
    assert air_fuel_ratio[0] < 14.7
    assert air_fuel_ratio[1] == pytest.approx(9.775, abs=0.025)  # published: 9.75-9.8
    assert mass == pytest.approx(air_fuel_ratio[0] / air_fuel_ratio[1])
    assert 0.62 < duty[1] < 0.884
    assert 14.7 / 9.75 * density[0] / density[1] == pytest.approx(1.44, abs=0.005)


def ask_38():
    """Can the pump be slowed to 40 %?"""
    pump = fs.Pump.named("in_tank_220")
    return [pump.least_drive(pressure) / 13.5 for pressure in ("300 kPa", "400 kPa")]


def test_38_the_least_duty_that_holds_the_set_pressure():
    # V_min = (B p + C)/A from the class table at 12 and 13.5 V; below about 40 % most brushed turbine pumps deliver
    # nothing against 300-400 kPa (from memory).
    per_volt = (248.0 - 207.0) / 1.5
    for found, flow in zip(ask_38(), (248.0, 221.0), strict=True):
        assert found == pytest.approx(1.0 - flow / per_volt / 13.5, abs=0.01)
        assert 0.30 < found < 0.42


def ask_38_of_a_car():
    """Can the pump of this car be slowed to 40 %, if a controller holds 300 kPa at the rail?"""
    control = fs.PumpControl(set_pressure="300 kPa")
    car = fs.Car.named("finch").with_values({"pump": fs.Pump.named("in_tank_220"), "pump_control": control})
    car = car.with_plumbing("held", runs=[["tank", "strainer", "pump", "filter", "feed", "rail"]])
    return car.system("held").solve(rpm=800.0, load=0.0, tank_temperature="20 degC", supply_voltage="13.5 V")


def test_38_a_controller_slows_the_pump_of_a_car_to_that_duty_at_idle():
    # The same (B p + C + Q)/A, of the voltage that the wire leaves; the rail stands 0.5 m above the pump.
    run = ask_38_of_a_car()
    needed = 13.5 - (248.0 - run.flow["pump"] / L_H) / ((248.0 - 207.0) / 1.5)
    assert run.gauge_pressure["rail"] == pytest.approx(300e3, abs=400.0)
    assert run.pump_share["pump"] == pytest.approx(needed / run.pump_voltage["pump"], abs=0.015)
    assert 0.30 < run.pump_share["pump"] < 0.42


def ask_45(discharge_coefficient):
    """What does a drilled bleed of 0.5 mm cost, with its discharge coefficient?"""
    net = fs.Network()
    net.add_reservoir("rail", pressure="300 kPa gauge")
    net.add_reservoir("return", pressure="0 kPa gauge")
    hole = fs.Orifice(diameter="0.5 mm", discharge_coefficient=discharge_coefficient)
    net.connect("rail", "return", hole, name="bleed")
    return net.solve(fs.Liquid(density=740.0, kinematic_viscosity=0.6e-6)).flow["bleed"] / L_H


@pytest.mark.parametrize("discharge_coefficient", [0.70, 0.75])
def test_45_fourteen_to_fifteen_litres_an_hour(discharge_coefficient):
    # Computed at 300 kPa. A hole drilled through a plug is about as thick as it is wide: 0.70-0.75 (common practice, no
    # source), between a sharp edge and a rounded tube.
    assert 14 <= round(ask_45(discharge_coefficient)) <= 15


def test_45_a_sharp_edged_hole_passes_less():
    # The default of an orifice is the sharp edge's 0.61, 12.3 L/h: whoever asks for a drilled bleed must say so.
    default = fs.Orifice(diameter="0.5 mm").discharge_coefficient
    assert ask_45(default) == pytest.approx(ask_45(0.70) * 0.61 / 0.70, rel=0.01)
