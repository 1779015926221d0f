"""How sure: samples of a car against the car solved alone, distributions in closed form, and any executor."""

from __future__ import annotations

import dataclasses
import pickle
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor

import numpy as np
import pytest
from scipy import stats

import fuelsim as fs
from fuelsim.band import Band
from fuelsim.car.fuel_choice import FuelChoice
from fuelsim.outcome import OutcomeCode
from fuelsim.studies import uncertainty_samples
from fuelsim.studies.uncertainty import MOST_SAMPLED_POINTS, Uncertainty

FINCH = fs.Car.named("finch")
RETURN = FINCH.system("return")


@pytest.fixture(scope="module")
def usual() -> Uncertainty:
    return fs.uncertainty(RETURN, rpm=[800, 3000, 6000], samples=256)


def test_each_sample_is_the_car_solved_alone_with_its_values(usual):
    for sample in (0, 100, 255):
        ratings, settings = {}, {}
        for item, share in zip(usual.inputs, usual.shares[sample], strict=True):
            for key, (value,) in item.at(np.array([share])).items():
                if item.added:
                    settings[key] = getattr(usual.conditions, key) + value
                elif "." in key:
                    ratings[key] = float(value)
                else:
                    settings[key] = float(value)
        fuel = {key: ratings.pop(f"fuel.{key}") for key in ("vapour_pressure", "ethanol")}
        car = FINCH.with_values(ratings).with_values({"fuel": FuelChoice(**fuel)})
        run = car.system("return").solve(usual.conditions.with_values(settings))
        assert usual.values["rail_pressure"][sample] == pytest.approx(run.gauge_pressure["rail"], rel=1e-3)
        margin = run.vapour_margin["pump_inlet"]
        assert usual.values["inlet_vapour_margin"][sample] == pytest.approx(margin, abs=0.06)


def test_quantiles_of_what_follows_an_input_in_proportion_are_those_of_its_distribution():
    """Judge: working pressure less set pressure falls by what the set pressure rises; quantiles of a uniform one."""
    inputs = {"rail_regulator.set_pressure": ("290 kPa", "310 kPa")}
    result = fs.uncertainty(RETURN, inputs, rpm=3000, samples=1024)
    quantiles = result.quantiles("rating_over_set")
    assert quantiles - quantiles[1] == pytest.approx(np.array([-9e3, 0.0, 9e3]), abs=30.0)


@pytest.mark.parametrize(
    ("given", "exact"),
    [
        ((0.005, 0.007), stats.uniform(0.005, 0.002)),
        ((0.005, 0.006, 0.009), stats.triang(0.25, 0.005, 0.004)),
        (stats.norm(0.006, 1e-4), stats.norm(0.006, 1e-4)),
        (["5 mm", "7 mm"], stats.uniform(0.005, 0.002)),
    ],
)
def test_what_a_user_gives_is_the_distribution_meant(given, exact):
    result = fs.uncertainty(RETURN, {"feed.bore": given}, rpm=3000, samples=64)
    values = result.inputs[0].at(np.array([0.1, 0.5, 0.9]))["feed.bore"]
    assert values == pytest.approx(exact.ppf([0.1, 0.5, 0.9]), rel=1e-9)


def test_a_requirement_between_its_ends_is_met_in_the_share_of_the_distribution():
    """Judge: the limit stands where seven tenths of a uniform input are below it, and the measure rises with it."""
    inputs = {"wire.other": (0.0, 0.1)}
    there = FINCH.with_values({"wire.other": 0.07}).system("return").solve(rpm=3000)
    limit = float(there.conditions.supply_voltage - there.pump_voltage["pump"])
    asked = fs.Requirements(supply_drop=limit)
    result = fs.uncertainty(RETURN, inputs, rpm=3000, samples=1024, requirements=asked)
    share = next(item.met for item in result.by_requirement if item.rule.name == "supply_drop")
    assert share.low <= 0.7 <= share.high
    assert float(share.high - share.low) < 0.01


def test_numbers_are_the_same_for_any_executor(usual):
    again = {"rpm": [800, 3000, 6000], "samples": 256}
    with ThreadPoolExecutor(3) as threads:
        assert fs.uncertainty(RETURN, **again, executor=threads) == usual


@pytest.mark.long
def test_numbers_are_the_same_in_other_processes_and_on_dask():
    distributed = pytest.importorskip("distributed")
    points = {"rpm": np.linspace(800, 6000, 60), "samples": 1024}
    here = fs.uncertainty(RETURN, **points)
    with ProcessPoolExecutor(2) as processes:
        assert fs.uncertainty(RETURN, **points, executor=processes) == here
    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        distributed.Client(cluster) as client,
    ):
        assert fs.uncertainty(RETURN, **points, executor=client) == here


def test_a_stopped_engine_has_numbers_and_meets_nothing():
    hot = fs.Conditions(rpm=[800, 2500], load=[0.0, 0.3], tank_temperature="52 degC", air_temperature="45 degC")
    inputs = {"pump.vapour_tolerance": (0.1, 1.0), "fuel.vapour_pressure": ("40 kPa", "70 kPa")}
    car = FINCH.with_values({"fuel": FuelChoice(vapour_pressure="60 kPa")})
    result = fs.uncertainty(car, "returnless_tank", inputs, hot, samples=64)
    stopped = result.stopped.any(axis=1)
    assert 0 < stopped.sum() < 64
    assert np.all(np.isfinite(result.values["rail_pressure"]))
    shortfall = next(item for item in result.by_requirement if item.rule.name == "rail_shortfall")
    assert np.all(shortfall.worst[stopped] > 0.5)
    assert float(result.all_met.value) <= float(result.engine_runs.value) == pytest.approx(1.0 - stopped.mean())


def test_samples_that_do_not_solve_are_counted_named_and_bound_the_quantiles(monkeypatch):
    result = fs.uncertainty(RETURN, {"feed.bore": (0.005, 0.007)}, rpm=3000, samples=64)
    pressure = result.values["rail_pressure"].copy()
    pressure[:10] = np.nan
    code = result.code.copy()
    code[:10] = OutcomeCode.NOT_CONVERGED
    some = dataclasses.replace(
        result, values=result.values | {"rail_pressure": pressure}, code=code, reasons={"did not converge": 10}
    )
    assert some.failed.sum() == 10
    low, middle, high = some.quantiles("rail_pressure")
    assert np.isnan(low)
    assert np.isnan(high)
    assert np.isfinite(middle)
    assert float(some.all_met.value) <= 54 / 64
    assert "10 samples, counted as not met; 10 points: did not converge" in some.table()["not_solved"].iloc[0]


def test_ctrl_c_keeps_the_samples_that_are_finished(monkeypatch):
    calls = []
    solve = uncertainty_samples.SampledCar.__call__

    def interrupted(self, chunk):
        if len(calls) == 2:
            raise KeyboardInterrupt
        calls.append(chunk)
        return solve(self, chunk)

    monkeypatch.setattr(uncertainty_samples.SampledCar, "__call__", interrupted)
    result = fs.uncertainty(RETURN, {"feed.bore": (0.005, 0.007)}, rpm=np.linspace(800, 6000, 600), samples=64)
    assert result.interrupted
    assert result.samples == 2 * 8
    assert "stopped early: 16 of 64 samples" in result.table().to_string()


def test_indices_name_the_input_that_decides():
    inputs = {"wire.other": (0.0, 0.1), "feed.bore": ("5.9 mm", "6.1 mm")}
    result = fs.uncertainty(RETURN, inputs, rpm=6000, samples=64, indices=128, progress=False)
    total = result.indices["supply_drop"].total.value[0]
    assert total[0] > 0.95
    assert total[1] < 0.05
    assert "total_index_of_" in " ".join(result.inputs_table().columns)


def test_inputs_of_a_fuel_by_name_are_petrols_about_it():
    result = fs.uncertainty(RETURN, {"fuel.ethanol": (0.05, 0.1)}, rpm=3000, samples=8, measures=["rail_temperature"])
    assert np.all(np.isfinite(result.values["rail_temperature"]))


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"inputs": {"feed.boar": (1, 2)}}, "feed.bore"),
        ({"inputs": {"feed.bore": (0.007, 0.005)}}, r"\(low, high\)"),
        ({"inputs": {"feed.bore": "6 mm"}}, "distribution"),
        ({"inputs": {}}, "at least one"),
        ({"inputs": [3.0]}, "UncertainInput"),
        ({"inputs": {"tank.volume": ("40 L", "60 L")}}, "cannot differ"),
        ({"samples": 100}, "64 or 128"),
        ({"samples": 131072, "rpm": np.linspace(800, 6000, 60)}, f"{MOST_SAMPLED_POINTS:,}"),
        ({"measures": ["rail_pressures"]}, "rail_pressure"),
        ({"indices": 100, "samples": 8}, "power of two"),
        ({"rpm": 3000, "conditions": fs.Conditions(rpm=3000)}, "one or the other"),
    ],
)
def test_wrong_arguments_name_what_is_accepted(arguments, words):
    with pytest.raises(fs.InputError, match=words):
        fs.uncertainty(RETURN, **({"inputs": {"feed.bore": (0.005, 0.007)}} | arguments), progress=False)


def test_a_measure_that_was_not_kept_names_those_that_were(usual):
    with pytest.raises(fs.InputError, match="uncertainty\\(measures="):
        usual.quantiles("tank_heat_flow")


def test_the_result_pickles_and_draws(usual):
    assert pickle.loads(pickle.dumps(usual)) == usual
    assert len(repr(usual)) < 400
    for measure in ("injector_pressure_difference", "bypass"):
        assert "is least sure at" in usual.plot(measure).get_suptitle()
    with pytest.raises(fs.InputError, match="indices=True"):
        usual.plot_indices()


def test_usual_inputs_have_their_middle_where_the_car_is():
    """Each alone at its mode changes nothing: the band of a figure stands about that figure."""
    for item in fs.uncertain_inputs(RETURN):
        for key, band in item.values.items():
            assert isinstance(band, Band)
            assert band.low <= band.middle <= band.high
            if not item.added and "." in key and not key.startswith("fuel.") and FINCH.value_of(key) is not None:
                assert band.middle == pytest.approx(float(FINCH.value_of(key)), rel=1e-6)
