"""From bench tables to the map of a pump: by hand on straight lines and parabolas, whose continuation is known."""

import numpy as np
import pytest

from fuelsim.constants import L_PER_HOUR
from fuelsim.errors import InputError
from fuelsim.parts.pump import pump_map
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.pump.pump_map import (
    BenchRows,
    bench_groups,
    build_map,
    estimated_current,
    typical_curve,
    winding_resistance,
)

KPA = 1e3
TYPICAL = {"voltage_exponent": 1.2, "proportional_share": 0.25, "power_at_rest": 5e5, "power_per_pressure": 2.0}


def rows(volts, flow, kpa, amps=None):
    """Bench rows from L/h and kPa."""
    return BenchRows(
        volts, np.array(flow) * L_PER_HOUR, np.array(kpa) * KPA, None if amps is None else np.array(amps, dtype=float)
    )


def bench_flow(bench):
    return bench.start + bench.step * np.arange(len(bench.pressure))


@pytest.mark.parametrize("interpolation", ["smooth", "straight"])
@pytest.mark.parametrize("last_flow", [1.0, 50.0, 390.0, 400.0])
def test_run_out_is_reached_however_far_beyond_the_last_row_it_lies(last_flow, interpolation):
    """A straight line of 400 kPa and 400 L/h, tested over any part of it."""
    tested = rows(13.5, [0.0, last_flow], [400.0, 400.0 - last_flow])
    bench = build_map([tested], interpolation=interpolation, voltage=13.5, **TYPICAL)
    assert bench.free_flow == pytest.approx(400.0 * L_PER_HOUR, rel=1e-9)
    pump = Pump(flow=tested.flow, pressure=tested.pressure, interpolation=interpolation)
    assert pump.at().flow(0.0) == pytest.approx(400.0 * L_PER_HOUR, rel=1e-6)
    assert pump.at().flow("300 kPa") == pytest.approx(100.0 * L_PER_HOUR, rel=1e-4)


def test_the_map_reaches_beyond_run_out_and_dead_head_on_evenly_spaced_flows():
    bench = build_map([rows(13.5, [0.0, 400.0], [400.0, 0.0])], voltage=13.5, **TYPICAL)
    flow = bench_flow(bench) / L_PER_HOUR
    assert flow[0] < -200.0
    assert flow[-1] > 440.0
    assert bench.pressure == pytest.approx((400.0 - flow) * KPA, abs=1.0)
    assert bench.edges.tolist() == [-np.inf, np.inf]
    assert bench.bench_drive == 13.5


def test_one_table_gains_by_the_voltage_what_exponent_and_share_say():
    """By hand, n = 1.2 and m = 0.25: n Q_free/V_b at run-out, three quarters of it at no flow and before."""
    bench = build_map([rows(13.5, [0.0, 400.0], [400.0, 0.0])], voltage=13.5, **TYPICAL)
    flow = bench_flow(bench) / L_PER_HOUR
    at_run_out = 1.2 * 400.0 / 13.5
    gained = np.interp([-250.0, 0.0, 200.0, 400.0, 480.0], flow, bench.flow_per_drive[0] / L_PER_HOUR)
    assert gained == pytest.approx(at_run_out * np.array([0.75, 0.75, 0.875, 1.0, 1.05]), rel=1e-4)


def test_an_estimated_current_is_the_typical_power_over_the_voltage():
    """By hand: 100 mL/s x (5e5 W s/m3 + 2 x 300 kPa)/13.5 V; a pump that is pushed takes what it takes at rest."""
    amps = estimated_current(np.array([300e3, 0.0, -100e3]), 1e-4, 5e5, 2.0, 13.5)
    assert amps == pytest.approx([110.0 / 13.5, 50.0 / 13.5, 50.0 / 13.5])


def test_three_tables_give_the_flow_gained_between_each_two_of_them():
    """20 L/h per volt from 10 to 12 V, 15 from 12 to 14 V, the same at every pressure; straight lines of 1 kPa h/L."""
    tables = [
        rows(volts, [free - 400.0, free], [400.0, 0.0]) for volts, free in ((10.0, 430.0), (12.0, 470.0), (14.0, 500.0))
    ]
    bench = build_map(tables, voltage=14.0, **TYPICAL)
    near = (bench_flow(bench) > 50.0 * L_PER_HOUR) & (bench_flow(bench) < 550.0 * L_PER_HOUR)
    assert bench.flow_per_drive[0, near] == pytest.approx(20.0 * L_PER_HOUR, rel=1e-6)
    assert bench.flow_per_drive[1, near] == pytest.approx(15.0 * L_PER_HOUR, rel=1e-6)
    assert bench.edges.tolist() == [-np.inf, 12.0, np.inf]


def test_continued_tables_that_would_cross_keep_a_gain_at_every_pressure():
    """The two lines meet at 500 kPa, beyond their rows: by itself the gain would be negative above."""
    tables = [rows(12.0, [100.0, 200.0], [400.0, 300.0]), rows(14.0, [150.0, 300.0], [400.0, 300.0])]
    bench = build_map(tables, voltage=14.0, **TYPICAL)
    assert np.all(bench.flow_per_drive > 0.0)
    at = np.interp([400e3, 300e3], bench.pressure[::-1], bench.flow_per_drive[0, ::-1])
    assert at == pytest.approx(np.array([25.0, 50.0]) * L_PER_HOUR, rel=1e-3)


def test_currents_are_straight_between_the_rows_and_go_on_by_their_mean_growth():
    """Least squares through 4, 5 and 8 A at 0, 200 and 400 kPa: 0.01 A/kPa; never negative below."""
    tested = rows(13.5, [100.0, 300.0, 500.0], [400.0, 200.0, 0.0], [8.0, 5.0, 4.0])
    bench = build_map([tested], voltage=13.5, **TYPICAL)
    asked = np.array([450.0, 300.0, 100.0, -50.0]) * KPA
    amps = np.interp(asked, bench.pressure[::-1], bench.current[::-1])
    assert amps == pytest.approx([8.5, 6.5, 4.5, 3.5], rel=1e-4)
    steep = build_map([rows(13.5, [300.0, 400.0], [200.0, 100.0], [4.0, 2.0])], voltage=13.5, **TYPICAL)
    assert np.interp(-50e3, steep.pressure[::-1], steep.current[::-1]) == pytest.approx(pump_map._LEAST_CURRENT * 2.0)
    # A current that falls with the pressure, as of scattered rows, is level beyond them.
    falling = build_map([rows(13.5, [300.0, 400.0], [200.0, 100.0], [4.0, 5.0])], voltage=13.5, **TYPICAL)
    assert np.interp([300e3, 50e3], falling.pressure[::-1], falling.current[::-1]) == pytest.approx([4.0, 5.0])


def test_current_grows_with_the_voltage_as_least_squares_over_the_tables_say():
    """Against 14 V: 1 A less at 12 V on the two rows of common pressures, 3 A less at 10 V on three: the line through
    the origin of least squares has (2 x 1 x 2 + 3 x 3 x 4)/(2 x 4 + 3 x 16) = 40/56 A/V."""
    top = rows(14.0, [200.0, 300.0, 400.0, 500.0], [400.0, 300.0, 200.0, 100.0], [9.0, 8.0, 7.0, 6.0])
    middle = rows(12.0, [150.0, 250.0, 500.0], [400.0, 300.0, 50.0], [8.0, 7.0, 0.5])
    low = rows(10.0, [50.0, 100.0, 200.0, 300.0], [450.0, 400.0, 300.0, 200.0], [90.0, 6.0, 5.0, 4.0])
    assert build_map([low, middle, top], voltage=14.0, **TYPICAL).current_per_drive == pytest.approx(40.0 / 56.0)
    without = [low._replace(current=None), middle, top]
    assert build_map(without, voltage=14.0, **TYPICAL).current_per_drive == pytest.approx(0.5)
    # It cannot fall with the voltage, and one table, or none with currents in common, says nothing.
    hungry = middle._replace(current=np.array([18.0, 17.0, 16.0]))
    for tables in ([hungry, top], [top], [low._replace(current=None), top]):
        assert build_map(tables, voltage=14.0, **TYPICAL).current_per_drive == 0.0
    assert build_map([middle, top._replace(current=None)], voltage=14.0, **TYPICAL).current_per_drive == 0.0


def test_tables_are_compared_at_common_pressures_only():
    """Less flow at more voltage is refused where both were tested, not where one of them would be continued."""
    low = ([0.0, 60.0], [300.0, 200.0])
    flow = np.array([*low[0], 50.0, 80.0]) * L_PER_HOUR
    apart = bench_groups([12.0, 12.0, 14.0, 14.0], flow, np.array([*low[1], 190.0, 100.0]) * KPA, None)
    assert [group.drive for group in apart] == [12.0, 14.0]
    for high in ([250.0, 240.0], [220.0, 100.0]):
        with pytest.raises(InputError, match="less flow"):
            bench_groups(
                [12.0, 12.0, 14.0, 14.0],
                np.array([*low[0], 5.0, 25.0]) * L_PER_HOUR,
                np.array([*low[1], *high]) * KPA,
                None,
            )


@pytest.mark.parametrize(("kpa", "words"), [([300.0, 320.0, 200.0], "rises"), ([300.0, 300.0, 200.0], "does not fall")])
def test_the_rows_between_which_a_curve_does_not_fall_are_named(kpa, words):
    with pytest.raises(InputError) as caught:
        bench_groups(13.5, np.array([100.0, 120.0, 150.0]) * L_PER_HOUR, np.array(kpa) * KPA, None)
    assert words in str(caught.value)
    assert f"from {kpa[0]:g} to {kpa[1]:g} kPa while the flow grows from 100 to 120 L/h" in str(caught.value)


def test_a_typical_curve_is_the_bent_one_through_two_points_with_rows_below_its_dead_head():
    """The form that is stated: Q = 200 L/h (1 - 0.6 x - 0.4 x2) of x = p/800 kPa, from two of its points."""

    def by_hand(kpa):
        return 200.0 * (1.0 - 0.6 * kpa / 800.0 - 0.4 * (kpa / 800.0) ** 2)

    points = [(by_hand(kpa) * L_PER_HOUR, kpa * KPA) for kpa in (250.0, 500.0)]
    for first, second in (points, points[::-1]):
        flow, pressure = typical_curve(first, second)
        assert flow == pytest.approx(by_hand(pressure / KPA) * L_PER_HOUR, rel=1e-6)
        assert np.all(np.diff(flow) > 0.0)
        assert pressure[-1] == 0.0
        assert 500e3 < pressure[0] < 800e3
        assert flow[0] > 0.0
    # With the points close to dead-head the upper one is the last row.
    near = [(by_hand(kpa) * L_PER_HOUR, kpa * KPA) for kpa in (250.0, 790.0)]
    assert typical_curve(*near)[1][0] == pytest.approx(790e3)


@pytest.mark.parametrize("second", [(2e-5, 4e5), (1e-5, 2e5), (1e-5, 3e5)])
def test_two_points_that_do_not_fall_are_refused(second):
    """As much flow at more pressure, less at less, or less at the same."""
    with pytest.raises(InputError, match="rises"):
        typical_curve((2e-5, 3e5), second)


@pytest.mark.parametrize(
    ("amps_at_rest", "lost", "ohms"),
    [
        # Volts at which it begins to deliver, (0.2 p + C)/24, over amperes, least where there is no pressure ...
        (4.0, 20.0, 20.0 / 24.0 / 4.0),
        # ... or where it is greatest, 700 kPa ...
        (1.0, 200.0, 340.0 / 24.0 / 22.0),
        # ... but the locked rotor draws at most ten times the greatest current of the rows [assumed].
        (4.0, 1.0, 14.0 / 25.0 / 10.0),
    ],
)
def test_a_winding_has_the_least_of_voltage_over_current_at_which_the_pump_begins_to_deliver(amps_at_rest, lost, ohms):
    """Q = 24 V - 0.2 p - C (L/h, V, kPa), I = I_0 + 0.03 p; a coil has the bench voltage over its greatest current."""
    kpa = np.array([700.0, 350.0, 0.0])
    tables = [rows(volts, 24.0 * volts - 0.2 * kpa - lost, kpa, amps_at_rest + 0.03 * kpa) for volts in (12.0, 14.0)]
    bench = build_map(tables, voltage=14.0, **TYPICAL)
    assert winding_resistance(bench, 700e3, 14.0, rotor=True) == pytest.approx(ohms, rel=1e-3)
    greatest = amps_at_rest + 21.0
    assert winding_resistance(bench, 700e3, 14.0, rotor=False) == pytest.approx(14.0 / greatest, rel=1e-3)
