"""Pressure waves against Joukowsky's rise, reflections, resonances, the steady solver and the balance of mass.

Expected values follow from the equations in the tests, by hand; the reference liquid has 740 kg/m3 and 0.6 mm2/s.
"""

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.network.inputs import WaveInputs
from fuelsim.waves.march import march
from fuelsim.waves.transient import prepare

LIQUID = fs.Liquid(density=740.0, kinematic_viscosity=0.6e-6)
AREA = 0.25 * np.pi * 0.008**2


def one_line(base="1.5 MPa", length="3 m", bore="8 mm"):
    net = fs.Network()
    net.add_reservoir("source", base)
    net.add_node("valve")
    net.connect("source", "valve", fs.Line(length=length, bore=bore), name="feed")
    return net


def stopped(flow="180 L/h"):
    return {"valve": (["0 s", "0 s"], [flow, "0 L/h"])}


def test_a_stopped_flow_rises_by_joukowsky_and_swings_with_four_travel_times():
    """736.09 kPa from rho a v of 0.99472 m/s at 1000 m/s; period 4 L/a = 12.00 ms."""
    result = one_line().transient(LIQUID, "36 ms", draw=stopped(), wave_speed="1000 m/s")
    pressure = result.pressure["valve"]
    assert pressure[1] - pressure[0] == pytest.approx(736.09e3, rel=2e-4)
    below = pressure < pressure[0]
    falls = result.time[1:][below[1:] & ~below[:-1]]
    assert np.diff(falls) == pytest.approx([12.00e-3, 12.00e-3], abs=1e-9)


def test_friction_packs_the_line_to_the_published_peak():
    """With f = 0.0295 of the steady flow the peak is 740.10 kPa over the pressure before."""
    result = one_line().transient(LIQUID, "10 ms", draw=stopped(), wave_speed="1000 m/s")
    assert result.pressure["valve"].max() - result.pressure["valve"][0] == pytest.approx(740.10e3, rel=3e-4)


def test_without_friction_the_swing_repeats_to_rounding():
    result = one_line().transient(LIQUID, "0.6 s", draw=stopped(), wave_speed="1000 m/s", friction="none")
    pressure = result.pressure["valve"]
    assert pressure[1:61] == pytest.approx(pressure[1 + 120 * 48 : 61 + 120 * 48], rel=1e-10)


def test_half_periods_of_a_line_shut_at_once_start_and_end_as_computed_by_hand():
    """4.2 m of 8 mm, 880 m/s, 600 kPa, 150 L/h: Joukowsky 539.80, peak 1139.80 at 9.54 ms, lowest 64.19 kPa.

    With the friction factor frozen at 0.030382; 0.3 % of the rise are accepted.
    """
    net = one_line("600 kPa", "4.2 m")
    result = net.transient(
        LIQUID, "40 ms", draw=stopped("150 L/h"), wave_speed="880 m/s", vapour_pressure="1 kPa absolute"
    )
    pressure = result.pressure["valve"] / 1e3
    accepted = 0.003 * 539.80
    half = 2 * 4.2 / 880
    levels = [(1135.749, 1139.796), (68.242, 64.195), (1127.827, 1131.872), (76.048, 72.003)]
    for number, (start, end) in enumerate(levels):
        assert np.interp(number * half + 2 * result.step, result.time, pressure) == pytest.approx(start, abs=accepted)
        assert np.interp((number + 1) * half, result.time, pressure) == pytest.approx(end, abs=accepted)
    assert result.time[pressure.argmax()] == pytest.approx(9.54e-3, abs=result.step)


def test_levels_of_two_lines_in_series_follow_from_the_reflections_at_their_joint():
    """600 kPa, 2.7 m of 8 mm at 1000 m/s and 1.1 m of 6 mm at 800 m/s, 60 L/h shut at once, no friction.

    Reflection at the joint seen from the 6 mm line -0.174312; levels summed by hand wave by wave.
    """
    net = fs.Network()
    net.add_reservoir("source", "600 kPa")
    net.add_node("joint")
    net.add_node("valve")
    net.connect("source", "joint", fs.Line(length="2.7 m", bore="8 mm"), name="wide")
    net.connect("joint", "valve", fs.Line(length="1.1 m", bore="6 mm"), name="narrow")
    speeds = {"wide": "1000 m/s", "narrow": "800 m/s"}
    result = net.transient(
        LIQUID,
        "18 ms",
        draw=stopped("60 L/h"),
        wave_speed=speeds,
        friction="none",
        vapour_pressure="1 kPa absolute",
        step="25 µs",
    )
    assert result.step == pytest.approx(25e-6)
    first, joukowsky, reflection = 948.9619, 348.9619, -0.174312
    assert first + 2 * joukowsky * reflection == pytest.approx(827.3055, abs=1e-3)
    for at, level in ((1.0, 948.9619), (4.0, 827.3055), (7.0, 848.5117), (9.5, 168.0974), (12.0, 404.6617)):
        assert np.interp(at * 1e-3, result.time, result.pressure["valve"]) / 1e3 == pytest.approx(level, abs=0.01)


def test_a_junction_of_three_unequal_lines_passes_what_its_impedances_say():
    """A wave dp in a line of impedance B1 passes on as dp 2/B1 / (1/B1 + 1/B2 + 1/B3)."""
    net = fs.Network()
    net.add_reservoir("source", "2 MPa")
    for name in ("valve", "tee", "dead_end"):
        net.add_node(name)
    bores, speeds = (6e-3, 8e-3, 10e-3), (800.0, 1000.0, 1200.0)
    net.connect("valve", "tee", fs.Line(length="0.8 m", bore=bores[0]), name="one")
    net.connect("tee", "source", fs.Line(length="5 m", bore=bores[1]), name="two")
    net.connect("tee", "dead_end", fs.Line(length="1.2 m", bore=bores[2]), name="three")
    result = net.transient(
        LIQUID,
        "3 ms",
        draw={"valve": ([0.0, 0.0], [0.0, 1e-5])},
        wave_speed=dict(zip(("one", "two", "three"), speeds, strict=True)),
        friction="none",
    )
    one, two, three = (740.0 * a / (0.25 * np.pi * d**2) for a, d in zip(speeds, bores, strict=True))
    wave = -one * 1e-5
    passed = wave * 2.0 / one / (1.0 / one + 1.0 / two + 1.0 / three)
    at = np.interp(1.5e-3, result.time, result.pressure["tee"]) - result.pressure["tee"][0]
    assert at == pytest.approx(passed, rel=1e-9)
    # A dead end doubles it.
    at = np.interp(2.5e-3, result.time, result.pressure["dead_end"]) - result.pressure["dead_end"][0]
    assert at == pytest.approx(2.0 * passed, rel=1e-9)
    reflected = np.interp(2.5e-3, result.time, result.pressure["valve"]) - result.pressure["valve"][0]
    assert reflected == pytest.approx(wave + 2.0 * (passed - wave), rel=1e-9)


def resonance(net, node, around):
    """Return the frequency near `around` at which a small pulsating draw at a node swings its pressure most, Hz."""
    frequency = around * np.linspace(0.97, 1.03, 25)
    result = net.transient(
        LIQUID,
        40.0 / around,
        draw={node: lambda time: 1e-7 * np.sin(2.0 * np.pi * frequency * time)},
        wave_speed="1000 m/s",
        friction="none",
    )
    swing = np.ptp(result.pressure[node], axis=0)
    # The longest swings lie on a parabola around the resonance.
    top = swing.argmax()
    near = slice(max(top - 2, 0), top + 3)
    second, first, _ = np.polyfit(frequency[near], swing[near], 2)
    return -first / (2.0 * second)


def test_a_dead_end_resonates_at_a_quarter_wave():
    """a/4L = 83.33 Hz for 3 m."""
    assert resonance(one_line(), "valve", 1000.0 / 12.0) == pytest.approx(1000.0 / 12.0, rel=0.01)


def test_a_line_between_two_reservoirs_resonates_at_a_half_wave():
    """a/2L = 166.67 Hz for 3 m."""
    net = fs.Network()
    net.add_reservoir("left", "1 MPa")
    net.add_reservoir("right", "1 MPa")
    net.add_node("middle")
    net.connect("left", "middle", fs.Line(length="1.5 m", bore="8 mm"), name="one")
    net.connect("middle", "right", fs.Line(length="1.5 m", bore="8 mm"), name="two")
    assert resonance(net, "middle", 1000.0 / 6.0) == pytest.approx(1000.0 / 6.0, rel=0.01)


def test_a_damper_lowers_the_resonance_of_a_dead_end_as_its_equation_says():
    """A dead end with a compliance C resonates where cot(w L/a) = w C B, with B = rho a/A."""
    damper = fs.Damper(stored_volume="2 mm3", pressure_rise="100 kPa")
    impedance = 740.0 * 1000.0 / AREA
    w = np.linspace(10.0, 2.0 * np.pi * 83.0, 200_001)
    expected = w[np.abs(1.0 / np.tan(w * 3e-3) - w * damper.compliance * impedance).argmin()] / (2.0 * np.pi)
    assert expected < 0.96 * 83.33
    net = one_line()
    frequency = expected * np.linspace(0.97, 1.03, 25)
    result = net.transient(
        LIQUID,
        40.0 / expected,
        draw={"valve": lambda time: 1e-7 * np.sin(2.0 * np.pi * frequency * time)},
        dampers={"valve": damper},
        wave_speed="1000 m/s",
        friction="none",
    )
    top = np.ptp(result.pressure["valve"], axis=0).argmax()
    assert frequency[top] == pytest.approx(expected, rel=0.01)
    assert np.abs(result.mass_error).max() < 1e-12


def closed_loop():
    """Return unequal lines with a loop and a piece too short for the step, between two valves that shut at time 0."""
    net = fs.Network()
    net.add_reservoir("from", "6000 kPa")
    net.add_reservoir("to", "5990 kPa")
    for name in "abcde":
        net.add_node(name)
    net.connect("from", "a", fs.ThrottleValve("1 m3/h"), name="inlet")
    net.connect("e", "to", fs.ThrottleValve("0.5 m3/h"), name="outlet")
    for name, up, down, length, bore in (
        ("long", "a", "b", 1.5, 8e-3),
        ("short", "b", "c", 0.05, 5e-3),
        ("thin", "c", "d", 1.3, 6e-3),
        ("wide", "d", "e", 0.7, 10e-3),
        ("around", "d", "b", 0.9, 7e-3),
    ):
        net.connect(up, down, fs.Line(length=length, bore=bore), name=name)
    return net


def test_a_closed_system_without_friction_keeps_its_energy_and_mass_over_a_thousand_reflections():
    shut = ([0.0, 0.0], [1.0, 0.0])
    given = WaveInputs(
        liquid=LIQUID,
        duration=1.4,
        draw={},
        opening={"inlet": shut, "outlet": shut},
        dampers={},
        bulk_modulus=1e9,
        wall_compliance=0.0,
        wave_speed=1000.0,
        vapour_pressure=0.0,
        friction="none",
        step=1e-4,
        output_step=None,
    )
    setup = prepare(closed_loop(), given)
    assert setup.grid.reaches.tolist() == [15, 0, 13, 7, 9]
    # The valves shut in the first step.
    march(setup.sweep, setup.nodes, setup.boundaries, 1, 1)
    energy = setup.sweep.energy() + setup.nodes.energy()
    volume = setup.sweep.volume() + setup.nodes.volume()
    resting = energy - setup.sweep.pressure.mean() * volume / 2.0
    assert resting != pytest.approx(0.0, abs=1e-3 * energy[0])
    # The shortest line, 0.7 ms, is crossed 2,000 times.
    march(setup.sweep, setup.nodes, setup.boundaries, 14_000, 14_000)
    assert not setup.sweep.cavitates
    assert setup.sweep.energy() + setup.nodes.energy() == pytest.approx(energy, rel=1e-9)
    assert setup.sweep.volume() + setup.nodes.volume() == pytest.approx(volume, rel=1e-9)


def test_the_error_of_a_smooth_stop_falls_with_the_square_of_the_step():
    def stop(time):
        return 5e-5 * 0.5 * (1.0 + np.cos(np.pi * np.clip(time / 15e-3, 0.0, 1.0)))

    def pressure(step):
        result = one_line(bore="4 mm").transient(
            LIQUID, "24 ms", draw={"valve": stop}, wave_speed="1000 m/s", vapour_pressure=0.0, step=step
        )
        assert result.step == pytest.approx(step)
        return np.interp(np.arange(1, 12) * 2e-3, result.time, result.pressure["valve"])

    coarse, middle, fine = (pressure(step) for step in (2e-4, 1e-4, 5e-5))
    order = np.log2(np.abs(coarse - middle).max() / np.abs(middle - fine).max())
    assert 1.7 < order < 2.5


def test_halving_the_step_moves_peaks_without_cavities_by_less_than_one_per_cent():
    """Edges last 1 ms: to a jump a lumped piece, here of 0.05 ms, answers otherwise than waves in it."""
    net = closed_loop()
    pulse = {"e": ([0.0, 1e-3, 5e-3, 6e-3], [0.0, 2e-5, 2e-5, 0.0])}
    runs = [net.transient(LIQUID, "30 ms", draw=pulse, step=step) for step in ("0.1 ms", "0.05 ms")]
    assert [run.lines["short"].reaches for run in runs] == [0, 1]
    for node in "bcde":
        swings = [np.ptp(run.pressure[node]) for run in runs]
        assert swings[0] == pytest.approx(swings[1], rel=0.01)


def rail():
    """Return a rail behind an orifice, with a return regulator, a check valve and lines of 4 mm."""
    net = fs.Network()
    net.add_reservoir("pump", "600 kPa")
    net.add_reservoir("tank", "105 kPa", height=0.3)
    for name in ("out", "behind", "rail", "end", "regulator"):
        net.add_node(name, height=0.5)
    net.connect("pump", "out", fs.Orifice(diameter="1.5 mm"), name="filter")
    net.connect("out", "behind", fs.CheckValve(), name="check")
    net.connect("behind", "rail", fs.Line(length="2 m", bore="5 mm"), name="feed")
    net.connect("rail", "end", fs.Line(length="0.6 m", bore="8 mm"), name="rail_bore")
    net.connect("end", "regulator", fs.ReturnRegulator(set_pressure="300 kPa"), name="hold")
    net.connect("regulator", "tank", fs.Line(length="1.5 m", bore="5 mm"), name="return")
    return net


def test_it_starts_from_the_steady_solution_and_stays_there():
    net = rail()
    steady = net.solve(LIQUID, {"rail": "40 L/h"})
    result = net.transient(LIQUID, "50 ms", draw={"rail": "40 L/h"})
    for name in ("out", "behind", "rail", "end", "regulator"):
        assert result.pressure[name] == pytest.approx(np.full_like(result.time, steady.pressure[name]), rel=1e-6)
    for name in steady.flow:
        assert result.flow[name][-1] == pytest.approx(steady.flow[name], rel=1e-4)


def test_it_settles_where_the_steady_solver_says():
    # Thin lines, for in wide ones petrol swings on for seconds.
    net = rail().with_parts({"return": fs.Line(length="1.5 m", bore="2.5 mm")})
    after = net.solve(LIQUID, {"rail": ["60 L/h", "20 L/h"]})
    draw = (np.array([0.0, 0.4]), np.array([[40.0, 40.0], [60.0, 20.0]]) / 3.6e6)
    result = net.transient(LIQUID, "0.8 s", draw={"rail": draw}, output_step="10 ms", step="0.3 ms")
    for name in ("out", "rail", "end", "regulator"):
        assert result.pressure[name][-1] == pytest.approx(after.pressure[name], rel=1e-3)
    for name in ("feed", "return", "hold"):
        assert result.outflow[name][-1] == pytest.approx(after.flow[name], rel=1e-3)
    assert np.abs(result.mass_error).max() < 1e-9


def test_a_collapsing_cavity_peaks_when_and_as_high_as_a_column_of_stepped_velocity_says():
    """An inflow of v0 stopped at once, with p0 - pv less than rho a v0: vapour at the valve, and nowhere else.

    Without friction the velocity of the column there is v0 - (2 n + 1) (p0 - pv)/(rho a) in the n-th time 2 L/a. The
    vapour collapses where its integral returns to zero; the pressure is then pv + rho a |v|, and 2 (p0 - pv) higher
    from the next multiple of 2 L/a until 2 L/a after the collapse (short-lived peak).
    """
    vapour, base, v0, back = 35e3, 300e3, 180.0 / 3.6e6 / AREA, 6e-3
    fall = (base - vapour) / 740e3
    gap, number = 0.0, 0
    while True:
        velocity = v0 - (2 * number + 1) * fall
        if gap + velocity * back < 0.0:
            break
        gap, number = gap + velocity * back, number + 1
    collapse = number * back - gap / velocity
    net = one_line(base)
    times, first, peak = [], [], []
    for step in ("0.1 ms", "0.05 ms"):
        result = net.transient(
            LIQUID,
            "30 ms",
            draw={"valve": ([0.0, 0.0], ["-180 L/h", "0 L/h"])},
            wave_speed="1000 m/s",
            friction="none",
            vapour_pressure=vapour,
            step=step,
        )
        pressure = result.pressure["valve"]
        assert pressure.min() == vapour
        rises = result.time[1:][(pressure[1:] > 1.2 * vapour) & (pressure[:-1] <= 1.2 * vapour)]
        times.append(rises[0])
        first.append(np.interp(collapse + 0.5e-3, result.time, pressure))
        peak.append(pressure.max())
        assert np.abs(result.mass_error) < 1e-12
        assert result.largest_cavity["valve"] > 0.0
        assert result.first_vapour == pytest.approx(result.step)
    assert times == pytest.approx([collapse, collapse], rel=0.02)
    assert first == pytest.approx([vapour - 740e3 * velocity] * 2, rel=0.05)
    assert peak == pytest.approx([vapour - 740e3 * velocity + 2.0 * (base - vapour)] * 2, rel=0.05)


def test_no_pressure_below_that_of_vapour_is_printed_and_it_warns():
    result = one_line("400 kPa").transient(LIQUID, "60 ms", draw=stopped())
    assert min(values.min() for values in result.pressure.values()) >= 35e3
    assert min(result.lowest_pressure.values()) >= 35e3 - 1e-6
    (finding,) = result.findings()
    assert finding.severity is fs.Severity.WARNING
    assert "boils at 35 kPa" in result.headline
    assert np.abs(result.mass_error) < 1e-9
    assert result.vapour_volume.max() > 0.0


def test_a_check_valve_lets_nothing_back():
    net = fs.Network()
    net.add_reservoir("source", "500 kPa")
    net.add_node("before")
    net.add_node("behind")
    net.connect("source", "before", fs.Line(length="1 m", bore="8 mm"), name="suction")
    net.connect("before", "behind", fs.CheckValve(), name="check")
    net.add_node("end")
    net.connect("behind", "end", fs.Line(length="2 m", bore="8 mm"), name="feed")
    result = net.transient(LIQUID, "60 ms", draw={"end": ([0.0, 0.0], ["100 L/h", "0 L/h"])})
    # Whatever is shut leaks 0.001 L/h at 1 MPa, as in the steady solver.
    assert result.flow["check"].min() > -1e-3 / 3.6e6
    # What has passed is shut in: the pressure stays above that of the source.
    assert result.pressure["end"][-200:].mean() > 505e3
    assert np.abs(result.mass_error) < 1e-9


def test_many_points_at_once_are_what_each_is_alone():
    net = rail()
    flows = np.array([20.0, 50.0]) / 3.6e6
    together = net.transient(LIQUID, "40 ms", draw={"rail": (np.array([0.0, 0.0]), np.array([[0.0, 0.0], flows]))})
    for point, flow in enumerate(flows):
        alone = net.transient(LIQUID, "40 ms", draw={"rail": ([0.0, 0.0], [0.0, float(flow)])})
        assert together.pressure["rail"][:, point] == pytest.approx(alone.pressure["rail"], rel=1e-5)


def test_unsteady_friction_damps_more_than_steady_friction():
    swings = {}
    for friction in ("quasi-steady", "unsteady"):
        result = one_line("3 MPa").transient(
            LIQUID, "0.3 s", draw=stopped("20 L/h"), wave_speed="1000 m/s", friction=friction
        )
        swings[friction] = np.ptp(result.pressure["valve"][-150:])
        assert np.abs(result.mass_error) < 1e-9
    assert swings["unsteady"] < 0.9 * swings["quasi-steady"]


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        ({"draw": {"valvee": 0.0}}, "valve"),
        ({"opening": {"feed": 0.0}}, "feed"),
        ({"wave_speed": {"fed": "1000 m/s"}}, "feed"),
        ({"draw": {"valve": ([0.0, -1.0], [0.0, 0.0])}}, "valve"),
        ({"draw": {"valve": ([0.0, 1.0], [0.0])}}, "valve"),
        ({"draw": {"valve": lambda time: time + None}}, "valve"),
        ({"step": "1 s"}, "step"),
        ({"friction": "some"}, "quasi-steady"),
    ],
)
def test_wrong_arguments_get_one_message_that_names_them(arguments, named):
    with pytest.raises(fs.InputError) as error:
        one_line().transient(LIQUID, "10 ms", **arguments)
    assert named in str(error.value)


def test_tables_datasets_and_pictures_have_time_and_units():
    pytest.importorskip("xarray")
    result = one_line("400 kPa").transient(LIQUID, "20 ms", draw=stopped())
    table = result.table("metric workshop")
    assert list(table)[:3] == ["time_ms", "valve_kPa_gauge", "source_kPa_gauge"]
    assert {"feed_L_h", "vapour_mm3"} <= set(table)
    dataset = result.to_xarray()
    assert dataset["pressure"].dims == ("node", "time")
    assert len(result.plot().axes) == 2
    assert len(repr(result)) < 400
    with pytest.raises(fs.InputError):
        result.plot(["nowhere"])
