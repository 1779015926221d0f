"""Resonances of small pulsations by the second method, and against waves over time."""

import numpy as np
import pytest

import fuelsim as fs

LIQUID = fs.Liquid(density=740.0, kinematic_viscosity=0.6e-6)


def dead_end():
    net = fs.Network()
    net.add_reservoir("source", "1 MPa")
    net.add_node("end")
    net.connect("source", "end", fs.Line(length="3 m", bore="8 mm"), name="feed")
    return net


def test_a_dead_end_resonates_at_odd_quarter_waves():
    """a/4L = 83.33 Hz for 3 m at 1000 m/s, and its odd multiples."""
    found = dead_end().frequency_response(LIQUID, "end", np.arange(20.0, 500.0, 0.05), wave_speed="1000 m/s")
    assert found.resonances() == pytest.approx([83.333, 250.0, 416.667], rel=1e-3)
    assert "83.3" in found.headline


def test_a_line_between_two_reservoirs_resonates_at_a_half_wave():
    """a/2L = 166.67 Hz for 3 m in all."""
    net = fs.Network()
    net.add_reservoir("left", "1 MPa")
    net.add_reservoir("right", "1 MPa")
    net.add_node("middle")
    net.connect("left", "middle", fs.Line(length="1.5 m", bore="8 mm"), name="one")
    net.connect("middle", "right", fs.Line(length="1.5 m", bore="8 mm"), name="two")
    found = net.frequency_response(LIQUID, "middle", np.arange(50.0, 300.0, 0.05), wave_speed="1000 m/s")
    assert found.resonances() == pytest.approx([166.667], rel=1e-3)


def test_two_lines_in_series_have_the_natural_frequencies_of_their_equation():
    """2.7 m of 8 mm at 1000 m/s and 1.1 m of 6 mm at 800 m/s: tan(w t1) tan(w t2) = B2/B1, by hand 67.143 ... Hz."""
    net = fs.Network()
    net.add_reservoir("source", "600 kPa")
    net.add_node("joint")
    net.add_node("end")
    net.connect("source", "joint", fs.Line(length="2.7 m", bore="8 mm"), name="wide")
    net.connect("joint", "end", fs.Line(length="1.1 m", bore="6 mm"), name="narrow")
    speeds = {"wide": "1000 m/s", "narrow": "800 m/s"}
    found = net.frequency_response(LIQUID, "end", np.arange(20.0, 350.0, 0.01), wave_speed=speeds, friction="none")
    assert found.resonances() == pytest.approx([67.143, 183.771, 301.244], rel=1e-4)


def test_it_agrees_with_waves_over_time_in_a_net_with_a_regulator_a_damper_and_friction():
    net = fs.Network()
    net.add_reservoir("pump", "600 kPa")
    net.add_reservoir("tank", "105 kPa", height=0.3)
    for name in ("out", "rail", "end", "regulator"):
        net.add_node(name)
    net.connect("pump", "out", fs.Orifice(diameter="1.5 mm"), name="filter")
    net.connect("out", "rail", fs.Line(length="2 m", bore="5 mm"), name="feed")
    net.connect("rail", "end", fs.Line(length="0.6 m", bore="8 mm"), name="bore")
    net.connect("end", "regulator", fs.ReturnRegulator(set_pressure="300 kPa"), name="hold")
    net.connect("regulator", "tank", fs.Line(length="1.5 m", bore="2.5 mm"), name="return")
    frequency = np.array([20.0, 60.0, 110.0, 200.0])
    amplitude, base = 2e-8, 40.0 / 3.6e6
    dampers = {"rail": fs.Damper(stored_volume="0.02 mL", pressure_rise="100 kPa")}
    waves = net.transient(
        LIQUID,
        "0.6 s",
        draw={"rail": lambda time: base + amplitude * np.sin(2.0 * np.pi * frequency * time)},
        dampers=dampers,
        vapour_pressure="1 kPa absolute",
    )
    response = net.frequency_response(LIQUID, "rail", frequency, draw={"rail": base}, dampers=dampers)
    # The last 0.2 s hold whole periods of all frequencies.
    late = waves.time > waves.time[-1] - 0.2
    time = waves.time[late][:, None]
    for node in ("rail", "end", "out"):
        carrier = np.exp(-2j * np.pi * frequency * time)
        swing = 2.0 * np.abs((waves.pressure[node][late] * carrier).mean(axis=0)
                             - waves.pressure[node][late].mean(axis=0) * carrier.mean(axis=0)) / amplitude  # fmt: skip
        assert swing == pytest.approx(response.amplitude[node], rel=0.03)


def test_wrong_names_are_refused_and_tables_and_pictures_have_units():
    with pytest.raises(fs.InputError, match="end"):
        dead_end().frequency_response(LIQUID, "ent", 50.0)
    found = dead_end().frequency_response(LIQUID, "end", [50.0, 83.0, 120.0])
    assert list(found.table("SI")) == ["frequency_Hz", "end_Pa_s_m3", "end_phase_rad"]
    assert len(found.plot().axes) == 1
    with pytest.raises(fs.InputError):
        found.plot(["nowhere"])
