"""Which of two solutions is the answer, the one a running car reaches as it warms, and where it locks and lets go."""

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.car.rating_lists import at_points, broadcast_ratings
from fuelsim.system.run import System
from tests.system.random_plumbings import random_car
from tests.system.warming_path import flow_at_the_end_of_the_path

FLOW_TOLERANCE = 0.01
"""Share by which the flow may differ from that at the end of the path; two solutions differ by far more."""
FOLD = 0.1
"""Share of the flow by which a step between neighbours is a jump."""


def random_herons(seed, count):
    """Cars with an outside pump behind a long, thin, warm suction line, near where they lock."""
    rng = np.random.default_rng(seed)
    suction = {"suction.bore": rng.uniform(4.2e-3, 7e-3, count), "suction.length": rng.uniform(0.5, 4.0, count)}
    conditions = fs.Conditions(
        rpm=rng.uniform(800.0, 5000.0, count),
        load=rng.uniform(0.0, 1.0, count),
        tank_temperature=rng.uniform(314.0, 326.0, count),
        underfloor_temperature=rng.uniform(313.0, 363.0, count),
        supply_voltage=rng.uniform(11.0, 14.0, count),
    )
    return broadcast_ratings(fs.Car.named("heron").with_values(suction), (count,)), conditions


def flow_out_of_the_tank(run):
    return np.asarray(run.before_stop.supply_mass_flow)


def differences(system, conditions):
    """Relative difference of the flow from that at the end of the warming path; NaN where either has no solution."""
    flow, judge = flow_out_of_the_tank(system.solve(conditions)), flow_at_the_end_of_the_path(system, conditions)
    return np.abs(flow - judge) / np.maximum(np.abs(judge), 1e-4)


def assert_equal_to_the_path(seed, layout, count):
    car, conditions = random_herons(seed, count)
    found = differences(System(car, layout), conditions)
    assert np.mean(np.isfinite(found)) > 0.98
    assert np.nanmax(found) < FLOW_TOLERANCE


@pytest.mark.parametrize("layout", ["return", "returnless_tank"])
def test_the_answer_is_the_end_of_the_warming_path(layout):
    """Judge: the definition itself, `tests.system.warming_path`; locked points are among them."""
    assert_equal_to_the_path(1, layout, 8)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(10))
def test_one_thousand_five_hundred_answers_are_the_end_of_the_warming_path(seed):
    assert_equal_to_the_path(100 + seed, ("return", "returnless_tank", "returnless_bay")[seed % 3], 150)


def hot_points_of_several_pumps(seed, count):
    rng = np.random.default_rng(seed)
    return fs.Conditions(
        rpm=rng.uniform(800.0, 5000.0, count),
        load=rng.uniform(0.0, 1.0, count),
        tank_temperature=rng.uniform(312.0, 326.0, count),
        supply_voltage=rng.uniform(11.0, 14.0, count),
    )


@pytest.mark.long
@pytest.mark.parametrize("first", range(0, 150, 30))
def test_answers_of_several_pumps_are_the_end_of_the_warming_path(first):
    """Random plumbings of two and more pumps; stops beyond doubt need only agree in the engine's state."""
    wrong, judged = [], 0
    for seed in range(first, first + 30):
        system = random_car(seed).system("own")
        if len(system.plumbing.pumps) < 2:
            continue
        conditions = hot_points_of_several_pumps(seed, 5)
        run = system.solve(conditions)
        flow, judge = flow_out_of_the_tank(run), flow_at_the_end_of_the_path(system, conditions, steps=8)
        both = np.isfinite(flow) & np.isfinite(judge)
        judged += int(np.count_nonzero(both))
        off = both & (np.abs(flow - judge) > FLOW_TOLERANCE * np.maximum(judge, 1e-3))
        wrong += [(seed, int(point)) for point in np.flatnonzero(off)]
    assert judged > 50
    assert not wrong


def test_the_answer_does_not_depend_on_the_batch_it_stands_in():
    car, conditions = random_herons(7, 30)
    together = flow_out_of_the_tank(System(car, "return").solve(conditions))
    points = conditions.points()
    for point in range(0, 30, 5):
        index = np.array([point])
        alone = System(at_points(car, index), "return").solve(
            fs.Conditions(**{name: values[index] for name, values in points.items()})
        )
        assert flow_out_of_the_tank(alone)[0] == pytest.approx(together[point], rel=1e-4)


def jumps_of(seed):
    """Steps of 0.05 K in tank temperature over which the flow falls by more than a tenth, with the run."""
    rng = np.random.default_rng(seed)
    values = {"suction.bore": rng.uniform(4.5e-3, 8e-3), "suction.length": rng.uniform(0.5, 4.0)}
    layout = ("return", "returnless_tank", "returnless_bay")[seed % 3]
    system = fs.Car.named("heron").with_values(values).system(layout)
    tank = np.arange(314.0, 324.9, 0.05)
    conditions = {
        "rpm": rng.uniform(800.0, 5000.0),
        "load": rng.uniform(0.1, 1.0),
        "underfloor_temperature": rng.uniform(313.0, 353.0),
    }
    run = system.solve(fs.Conditions(**conditions, tank_temperature=tank))
    flow = flow_out_of_the_tank(run)
    fallen = np.flatnonzero(flow[1:] < (1.0 - FOLD) * flow[:-1])
    return system, conditions, tank, run, fallen


def is_a_fold_or_a_stop(system, conditions, tank, run, below):
    """Whether the flowing solution, continued in steps of 2.5 mK, ends between two neighbours, or only falls fast."""
    fine = np.arange(tank[below], tank[below + 1] + 1e-6, 2.5e-3)
    flow = flow_out_of_the_tank(system.solve(fs.Conditions(**conditions, tank_temperature=fine)))
    steps = -np.diff(flow)
    largest = int(np.argmax(steps))
    # Continuous: no step of 2.5 mK carries a large part of the fall. A fold: one carries it, and what lies beyond is
    # the locked solution, which is there on both sides.
    if steps[largest] < 0.3 * flow[0]:
        return True
    at = fs.Conditions(**conditions, tank_temperature=fine[largest : largest + 2])
    locked = flow_out_of_the_tank(system.solve(at, from_locked=True))
    return bool(np.all(np.abs(locked - flow[largest + 1]) < 0.01 * flow[largest]))


@pytest.mark.parametrize("seed", range(4))
def test_every_jump_of_a_sweep_is_a_fold(seed):
    system, conditions, tank, run, fallen = jumps_of(seed)
    assert np.all(run.outcome.has_values)
    for below in fallen:
        assert is_a_fold_or_a_stop(system, conditions, tank, run, below), tank[below]


@pytest.mark.long
def test_every_jump_of_150_sweeps_is_a_fold():
    not_folds = []
    for seed in range(150):
        system, conditions, tank, run, fallen = jumps_of(seed)
        not_folds += [
            (seed, float(tank[below]))
            for below in fallen
            if not is_a_fold_or_a_stop(system, conditions, tank, run, below)
        ]
    assert not not_folds


WARM_LINE = {"suction.bore": "5.2 mm", "suction.length": "3 m", "suction.heat_conductance": "0.5 W/m/K"}
CONDUCTANCE = 1.5  # W/K of that line
AROUND = 353.15


def test_a_second_state_is_told_point_by_point():
    system = fs.Car.named("heron").with_values(WARM_LINE).system("return")
    tanks = ["20 degC", "44 degC"]
    at = fs.Conditions(rpm=2500, load=0.3, tank_temperature=tanks, underfloor_temperature=AROUND)
    told = system.solve(at).second_state
    alone = [bool(system.solve(at.with_values({"tank_temperature": tank})).second_state) for tank in tanks]
    assert told.tolist() == alone
    assert told[1]


def test_both_states_of_one_pump_and_one_line_by_hand():
    """Heat balance of the line by hand: flowing fuel takes UA (T_s - T) / (m c), creeping fuel has T_s at its end.

    The locked flow is what the pump displaces at the V/L of fuel that has T_s; its NTU of thousands says that it is as
    warm as its surroundings, so both states are consistent at one tank temperature.
    """
    system = fs.Car.named("heron").with_values(WARM_LINE).system("return")
    at = fs.Conditions(rpm=2500, load=0.3, tank_temperature="44 degC", underfloor_temperature=AROUND)
    tank, tables = 317.15, system.fuel.tables()
    warm, locked = system.solve(at), system.solve(at, from_locked=True)
    assert warm.engine_state == "fed"
    assert bool(warm.second_state)
    capacity = float(warm.mass_flow["suction"]) * float(tables.heat_capacity(tank))
    by_hand = AROUND - (AROUND - tank) * np.exp(-CONDUCTANCE / capacity)
    assert float(warm.temperature["pump_inlet"]) - tank == pytest.approx(by_hand - tank, rel=0.03)
    assert locked.engine_state == "stopped"
    assert bool(locked.vapour_lock)
    creeping = locked.before_stop
    assert float(creeping.temperature["pump_inlet"]) == pytest.approx(AROUND, abs=0.01)
    creep = float(creeping.mass_flow["suction"])
    assert CONDUCTANCE / (creep * float(tables.heat_capacity(tank))) > 1e3
    pump = system.plumbing.main_pump.part
    share = float(pump.vapour_flow_share(float(creeping.vapour_liquid_ratio["pump_inlet"])))
    free = float(pump.at(supply_voltage=13.5).flow("0 kPa"))
    assert float(creeping.flow["pump"]) == pytest.approx(max(share, 1e-6) * free, rel=0.35)


def test_lock_and_release_bracket_the_two_states():
    car = fs.Car.named("heron").with_values(WARM_LINE)
    found = fs.lock_temperatures(car, "return", fs.Conditions(rpm=2500, load=0.3, underfloor_temperature=AROUND))
    assert found.lets_go < found.locks < found.boils
    assert bool(found.folds)
    with pytest.raises(fs.InputError, match="15 degC"):
        fs.lock_temperatures(car, "return", fs.Conditions(rpm=2500, tank_temperature="10 degC"))


def test_a_pump_in_the_tank_does_not_lock_below_the_boiling_point():
    found = fs.lock_temperatures(fs.Car.named("finch"), "return", fs.Conditions(rpm=2500, load=0.3))
    assert np.isnan(found.locks)
    assert "does not lock" in found.sentence()


def test_what_stopped_the_engine_continues_the_curve():
    """Without a fold the engine stops on a falling curve: at_stop goes on from the last lean point."""
    system = fs.Car.named("finch").system("return")
    run = system.solve(rpm=6000, load=1.0, supply_voltage=np.linspace(9.0, 4.0, 200))
    stopped = np.flatnonzero(run.engine_state == "stopped")
    first = int(stopped[0])
    rail = np.where(run.engine_state == "stopped", run.at_stop.rail_gauge_pressure, run.gauge_pressure["rail"])
    steps = np.abs(np.diff(rail))
    assert steps[first - 1] < 3.0 * max(steps[first - 2], steps[first])
    assert not np.any(run.vapour_lock)
    assert np.all(run.flow["pump"][stopped] == 0.0)
    assert np.all(np.isnan(run.vapour_margin["rail"][stopped]))


@pytest.mark.long
def test_lock_temperatures_carry_the_bands_of_what_is_not_known():
    """Less tolerance locks sooner, and fuel that must be warmer to boil later: each input moves the answer one way."""
    car = fs.Car.named("heron").with_values(WARM_LINE)
    at = fs.Conditions(rpm=2500, load=0.3, underfloor_temperature=AROUND)
    tolerance, superheat = fs.band_inputs(car)[:2]
    found = fs.lock_temperatures(car, "return", at, [tolerance, superheat])
    band = found.locks_band
    assert float(band.middle) == pytest.approx(float(found.locks), abs=0.01)
    assert band.at_low[0] < band.middle < band.at_high[0]
    assert band.at_high[1] > band.middle
    assert f"{found.layout}" in found.sentence()
    assert "moved most by" in found.sentence()
    assert found.lets_go_band.low <= found.lets_go <= found.locks


@pytest.mark.long
def test_lock_temperatures_take_the_fuel_as_an_input():
    """Fuel of more vapour pressure locks and boils sooner."""
    car = fs.Car.named("heron").with_values(WARM_LINE)
    at = fs.Conditions(rpm=2500, load=0.3, underfloor_temperature=AROUND)
    inputs = fs.band_inputs(car)
    fuel = next(number for number, item in enumerate(inputs) if item.name.startswith("vapour pressure"))
    band = fs.lock_temperatures(car, "return", at, inputs).locks_band
    assert band.at_high[fuel] < band.middle < band.at_low[fuel]
