"""Fits to bench rows by hand: rows that lie on a known form, on a plane, or on either side of one."""

import numpy as np
import pytest

from fuelsim.constants import L_PER_HOUR
from fuelsim.errors import InputError
from fuelsim.parts.pump.bench_tables import BenchFit, fit_bench, joined_tables, read_bench
from fuelsim.parts.pump.pump import Pump

KPA = 1e3
X = np.array([0.0, 0.25, 0.5, 0.75, 1.0])


def form(x, volts):
    """300 - 60 x - 40 x2 + 280 (V/14 - 1), L/h, x over 500 kPa; the figures are invented."""
    return 300.0 - 60.0 * x - 40.0 * x**2 + 280.0 * (np.asarray(volts) / 14.0 - 1.0)


def fitted(**more):
    x, volts = np.tile(X, 2), np.repeat([12.0, 14.0], 5)
    return fit_bench(form(x, volts) * L_PER_HOUR, 500e3 * x, voltage=volts, **more)


def test_rows_of_the_form_give_it_back():
    """By hand: 280/14 = 20 L/h per volt; without flow 40 x2 + 60 x - 300 = 0, x = (-60 + sqrt(51600))/80 = 2.0894."""
    fit = fitted(current=4.0 + 2.0 * np.tile(X, 2))
    assert fit.residual == pytest.approx(0.0, abs=1e-6 * L_PER_HOUR)
    assert (fit.rms_error, fit.worst_error) == pytest.approx((0.0, 0.0), abs=1e-6 * L_PER_HOUR)
    assert fit.flow_per_drive == pytest.approx(20.0 * L_PER_HOUR)
    assert fit.dead_head_pressure == pytest.approx(500e3 * (51600.0**0.5 - 60.0) / 80.0)
    assert not fit.dead_head_measured
    columns = {key: np.array(value) for key, value in fit.columns.items()}
    assert columns["flow"] == pytest.approx(
        form(columns["pressure"] / 500e3, columns["voltage"]) * L_PER_HOUR, rel=1e-6
    )
    assert columns["current"] == pytest.approx(4.0 + 2.0 * columns["pressure"] / 500e3)
    assert np.unique(columns["voltage"]).tolist() == [12.0, 14.0]
    for volts in (12.0, 14.0):
        pressure = columns["pressure"][columns["voltage"] == volts]
        assert (pressure.min(), pressure.max()) == (0.0, 500e3), "unknown dead-head: the rows end where the bench did"


def test_errors_are_root_mean_square_and_greatest_of_what_is_left():
    """A line of 100 - 10 p with rows 1, 1, 1 and 1 L/h off it to and fro, so that the best line stays: rms 1."""
    p = np.array([0.0, 1.0, 2.0, 3.0])
    off = np.array([1.0, -1.0, -1.0, 1.0])
    fit = fit_bench((100.0 - 10.0 * p + off) * L_PER_HOUR, p * 1e5)
    assert fit.rms_error == pytest.approx(1.0 * L_PER_HOUR, rel=1e-6)
    assert fit.worst_error == pytest.approx(1.0 * L_PER_HOUR, rel=1e-6)
    assert fit.residual == pytest.approx(-off * L_PER_HOUR, rel=1e-5)
    # Straight, since it must not be convex: dead-head at 10 bar.
    assert fit.dead_head_pressure == pytest.approx(1e6, rel=1e-6)
    assert fit.plane_dead_head == pytest.approx(1e6, rel=1e-6)
    assert fit.flow_per_drive == 0.0
    two = fit_bench((100.0 - 10.0 * p + 2.0 * off + np.array([0.0, 0.0, 0.0, 1.0])) * L_PER_HOUR, p * 1e5)
    assert two.worst_error == pytest.approx(np.abs(two.residual).max())
    assert two.rms_error == pytest.approx(np.linalg.norm(two.residual) / 2.0)


def test_the_plane_beside_the_fit_is_that_of_least_squares():
    """Rows 1 L/h on either side of the plane Q = 20 V - 0.2 p - 50, to and fro so that it stays the best one: rms 1,
    and 1150 kPa without flow at 14 V. A concave form comes nearer."""
    p, volts = np.tile([0.0, 100.0, 200.0, 300.0], 2), np.repeat([12.0, 14.0], 4)
    off = np.tile([-1.0, 1.0, 1.0, -1.0], 2)
    fit = fit_bench((20.0 * volts - 0.2 * p - 50.0 + off) * L_PER_HOUR, p * KPA, voltage=volts)
    assert fit.plane_rms_error == pytest.approx(1.0 * L_PER_HOUR, rel=1e-6)
    assert fit.plane_dead_head == pytest.approx(1150e3, rel=1e-6)
    assert fit.rms_error < 0.1 * L_PER_HOUR
    assert fit.dead_head_pressure < 1000e3
    hump = fit_bench(np.array([10.0, 12.2, 12.0, 10.1]) * L_PER_HOUR, np.array([0.0, 1.0, 2.0, 3.0]) * 1e5)
    assert hump.plane_dead_head == np.inf


def test_a_dead_head_within_the_rows_is_measured_and_one_beyond_them_is_not():
    """Straight lines of 100 L/h at 14 V and 90 at 12 V: rows up to 5 % of the flow, and rows to beyond it."""
    short = fit_bench(np.array([100.0, 52.5, 5.0]) * L_PER_HOUR, X[::2] * 500e3)
    assert short.dead_head_pressure == pytest.approx(500e3 / 0.95, rel=1e-6)
    assert not short.dead_head_measured
    assert short.columns["pressure"][0] == pytest.approx(500e3)
    assert short.columns["flow"][0] == pytest.approx(5.0 * L_PER_HOUR, rel=1e-6)
    x, volts = np.array([0.0, 0.5, 0.98, 1.0, 0.0, 0.5]), np.array([14.0] * 4 + [12.0] * 2)
    whole = fit_bench(np.array([100.0, 50.0, 0.0, 0.0, 90.0, 40.0]) * L_PER_HOUR, x * 500e3, voltage=volts)
    assert whole.dead_head_measured
    assert 0.95 * 500e3 < whole.dead_head_pressure < 500e3
    rows = {key: np.array(value).reshape(2, -1) for key, value in whole.columns.items()}
    assert rows["flow"][:, 0].tolist() == [0.0, 0.0]
    assert rows["pressure"][1, 0] == pytest.approx(whole.dead_head_pressure, rel=1e-9)
    # 10 L/h less at every pressure: dead-head a tenth lower at 12 V.
    assert rows["pressure"][0, 0] == pytest.approx(0.9 * whole.dead_head_pressure, rel=0.01)
    assert rows["pressure"][:, -1].tolist() == [0.0, 0.0]


@pytest.mark.parametrize("kpa", [600.0, 800.0])
def test_a_given_dead_head_is_met_at_the_highest_voltage(kpa):
    fit = fitted(dead_head_pressure=kpa * KPA)
    assert fit.dead_head_measured
    assert fit.dead_head_pressure == pytest.approx(kpa * KPA, rel=2e-3)
    assert fit.columns["flow"][0] == fit.columns["flow"][13] == 0.0
    assert fit.columns["pressure"][13] == pytest.approx(fit.dead_head_pressure)
    assert fit.columns["pressure"][0] < fit.dead_head_pressure


def test_a_given_dead_head_that_lies_on_the_form_of_the_rows_changes_nothing():
    fit = fitted(dead_head_pressure=500e3 * (51600.0**0.5 - 60.0) / 80.0)
    assert fit.rms_error == pytest.approx(0.0, abs=1e-6 * L_PER_HOUR)
    assert fit.flow_per_drive == pytest.approx(20.0 * L_PER_HOUR)


def test_rows_above_the_relief_pressure_are_left_out_and_a_current_is_never_negative():
    fit = fitted(relief_pressure="300 kPa", current=np.tile([-1.0, 0.0, 1.0, 2.0, 3.0], 2))
    pressure, current = (np.array(fit.columns[key]) for key in ("pressure", "current"))
    assert 250e3 < pressure.max() <= 300e3
    assert fit.relief_pressure == 300e3
    assert {len(column) for column in fit.columns.values()} == {len(pressure)}
    assert current == pytest.approx(np.maximum(pressure / 125e3 - 1.0, 0.0), abs=1e-9)


def test_a_fit_over_speeds_keeps_them_and_the_voltage_of_the_test():
    fit = fit_bench(
        form(np.tile(X, 2), np.repeat([12.0, 14.0], 5)) * L_PER_HOUR,
        500e3 * np.tile(X, 2),
        "48 V",
        speed=np.repeat([6000.0, 7000.0], 5),
    )
    assert fit.flow_per_drive == pytest.approx(280.0 / 7000.0 * L_PER_HOUR)
    assert set(fit.columns["voltage"]) == {48.0}
    assert set(fit.columns["speed"]) == {6000.0, 7000.0}
    pump = Pump.from_fit(fit)
    assert (pump.bench_speed, pump.bench_voltage) == (7000.0, 48.0)
    assert pump.at(speed=6000.0).flow("250 kPa") == pytest.approx(form(0.5, 12.0) * L_PER_HOUR, rel=1e-3)


def test_a_fit_speaks_in_litres_per_hour_and_kilopascals():
    fit = BenchFit({}, None, np.zeros(1), 1.5 * L_PER_HOUR, 3.0 * L_PER_HOUR, 0.0, 8e5, True, 4.0 * L_PER_HOUR, 1.2e6)
    assert str(fit) == (
        "concave fit 1.5 L/h rms, 3.0 L/h at worst (plane 4.0 L/h rms, dead-head 1200 kPa); dead-head of the curve "
        "800 kPa, measured"
    )


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"flow": [1e-5, 2e-5]}, "unequal length"),
        ({"voltage": [12.0, 14.0]}, "unequal length"),
        ({"current": [5.0, 6.0]}, "unequal length"),
        ({"flow": [2e-5, 1e-5], "pressure": [1e5, 2e5]}, "too few rows"),
        ({"flow": [1e-5, 2e-5, 3e-5]}, "does not fall"),
        ({"pressure": [0.0, -1e4, -2e4]}, "no bench row has a pressure rise"),
    ],
)
def test_rows_that_cannot_be_fitted_are_one_clear_error(changes, words):
    rows = {"flow": [3e-5, 2e-5, 1e-5], "pressure": [1e5, 2e5, 3e5]}
    assert fit_bench(**rows).dead_head_pressure == pytest.approx(4e5, rel=1e-6)
    with pytest.raises(InputError, match=words):
        fit_bench(**(rows | changes))


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ({"flow": [1e-5], "presure": [4e5]}, "unknown key"),
        ({"flow": [1e-5, 2e-5], "pressure": [4e5]}, "unequal length"),
        ({"flow": [1e-5]}, "column missing"),
        ({"pressure": [1e-5]}, "column missing"),
        ({"flow": [1e-5], "pressure": [4e5], "current": [1.0, 2.0]}, "unequal length"),
    ],
)
def test_a_table_that_is_not_whole_is_refused_with_its_voltage(table, words):
    with pytest.raises(InputError, match=words) as caught:
        joined_tables({13.5: {"flow": [1e-5], "pressure": [4e5]}, 12.0: table})
    assert caught.value.key == "12.0"


def test_tables_of_several_voltages_are_joined_row_by_row():
    one, two = {"flow": [1e-5], "pressure": [4e5], "current": [3.0]}, {"flow": [2e-5, 3e-5], "pressure": [2e5, 1e5]}
    two["current"] = [4.0, 5.0]
    assert joined_tables({"12 V": one, 14.0: two}) == {
        "flow": [1e-5, 2e-5, 3e-5],
        "pressure": [4e5, 2e5, 1e5],
        "current": [3.0, 4.0, 5.0],
        "voltage": ["12 V", 14.0, 14.0],
    }


def test_a_file_may_have_remarks_and_empty_lines_and_is_counted_from_its_header(tmp_path):
    path = tmp_path / "bench.csv"
    path.write_text(
        "\n  # my pump\nflow [L/h], pressure [kPa] ,speed [rpm]\n\n180,400,3000\n# of today\n207, 300,3000\n"
    )
    columns = read_bench(path)
    assert columns["flow"] == pytest.approx([180.0 * L_PER_HOUR, 207.0 * L_PER_HOUR])
    assert columns["pressure"] == [400e3, 300e3]
    assert columns["speed"] == [3000.0, 3000.0]
    path.write_text("flow [L/h],pressure [kPa]\n180,400\n207,x\n")
    with pytest.raises(InputError, match="row 3"):
        read_bench(path)
    path.write_text("flow [L/h],pressure [kPa]\n")
    with pytest.raises(InputError, match="too few rows"):
        read_bench(path)
    path.write_text("flow [L/h],pressure [kPa]\n180,400\n")
    assert read_bench(path)["flow"] == pytest.approx([180.0 * L_PER_HOUR])
