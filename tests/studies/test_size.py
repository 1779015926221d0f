"""Sizing: all combinations, ranked least first, rejects with their reason, fronts, and Ctrl-C."""

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.studies import size as sizing_module
from fuelsim.studies.requirements import signed_margin
from fuelsim.studies.sizing import FUSES, pareto_front

CANDIDATES = {
    "feed.bore": ["8 mm", "4 mm", "6 mm"],
    "return_line": ["steel_tube_quarter_inch", "steel_tube_three_eighths_inch"],
    "injectors": ["size_200", "size_250"],
    "pump": ["in_tank_130", "in_tank_220"],
    "wire": ["awg_12", "awg_18"],
}


@pytest.fixture(scope="module")
def car():
    return fs.Car.named("finch")


@pytest.fixture(scope="module")
def result(car):
    return fs.size(car, "return", CANDIDATES, progress=False)


def test_every_combination_is_judged(result):
    assert len(result.chosen) == 48
    assert result.finished.all()
    assert result.margin.shape == (48, len(result.rules))


def test_places_are_kept_least_in_the_order_pump_lines_injectors_wire(result):
    assert [axis.key for axis in result.axes] == ["pump", "feed.bore", "return_line", "injectors", "wire"]
    assert [candidate.label for candidate in result.axes[1].candidates] == ["4 mm", "6 mm", "8 mm"]


def test_a_batched_combination_gives_what_its_car_alone_gives(result):
    for index in (0, 17, 47):
        alone = fs.assess(result.car_of(index).system("return"), result.requirements, result.conditions)
        for column, (rule, limit) in enumerate(result.rules):
            if rule.name == "fuse_loading":  # the car gets the least fuse, the batch judges what the wire carries
                continue
            margin = result.margin[index, column]
            item = alone.item(rule.name)
            assert signed_margin(rule, limit, result.worst[rule.name][index]) == pytest.approx(margin, nan_ok=True)
            # The coupling stops at 1 mK, wherever it started: 5e-4 of the limit of 2 K.
            assert item.margin == pytest.approx(margin, rel=1e-4, abs=1e-3, nan_ok=True), rule.name


def test_the_best_car_has_the_wire_that_was_chosen_in_its_own_length(car, result):
    """Within the batch a wire is one resistance; what is bought and handed over is a wire."""
    best = result.best.wire
    assert best.size == {"awg_12": "12 AWG", "awg_18": "18 AWG"}[result.labels(int(result.ranking[0]))["wire"]]
    assert best.length == car.wire.length
    assert best.other == car.wire.other


def test_the_best_meets_every_requirement_and_nothing_smaller_does(result):
    best = int(result.ranking[0])
    assert result.assess_best().met
    # Among those with as few warnings none has a smaller pump, and with the same pump none a smaller feed.
    warnings = result._missed(fs.Severity.WARNING)
    rivals = np.flatnonzero(result.meets & (warnings == warnings[best]))
    assert np.all(result.chosen[rivals, 0] >= result.chosen[best, 0])
    same_pump = rivals[result.chosen[rivals, 0] == result.chosen[best, 0]]
    assert np.all(result.chosen[same_pump, 1] >= result.chosen[best, 1])


def test_each_reject_names_the_requirement_it_misses(result):
    rejects = result.rejects()
    assert len(rejects) == 48 - int(result.meets.sum())
    small = rejects[rejects["injectors"] == "size_200"]
    assert len(small) == 24
    assert set(small["failed_requirement"]) <= {"injector_duty", "rail_excess", "fuse_loading"}
    assert np.all(rejects["margin_percent"] < 0.0)


def test_the_fuse_is_the_least_that_is_loaded_to_four_fifths(result):
    best = int(result.ranking[0])
    current = result.worst["pump_current"][best]
    fuse = result.fuse(best)
    assert fuse in FUSES
    assert current / fuse <= 0.8
    smaller = [rating for rating in FUSES if rating < fuse]
    assert current / smaller[-1] > 0.8
    assert result.best.wire.fuse_rating == fuse


def test_the_front_is_what_nothing_else_betters_in_both_objectives(result):
    members = result.pareto("pump_power", "least_margin")
    power, margin = result.worst["pump_power"], result.least_margin
    meets = np.flatnonzero(result.meets)
    for member in members:
        better = (power[meets] <= power[member]) & (margin[meets] >= margin[member])
        strictly = better & ((power[meets] < power[member]) | (margin[meets] > margin[member]))
        assert not strictly.any()
    assert np.all(np.diff(power[members]) > 0.0)
    assert np.all(np.diff(margin[members]) > 0.0)


def test_the_front_leaves_out_what_is_not_known():
    assert pareto_front([1.0, np.nan, 2.0], [2.0, 0.0, 3.0]).tolist() == [0]
    assert pareto_front([np.nan], [1.0]).size == 0


def test_requirements_that_nothing_meets_say_what_rejects_most(car):
    hopeless = fs.size(car, candidates={"feed.bore": ["6 mm"]}, requirements=fs.Requirements(bypass="900 L/h"))
    assert not hopeless.meets.any()
    assert len(hopeless.table()) == 0
    with pytest.raises(fs.InputError, match="bypass rejects most"):
        _ = hopeless.best


def test_ctrl_c_leaves_the_finished_combinations_usable(car, monkeypatch):
    solve, calls = sizing_module._Study.solve, []

    def interrupted(self, members):
        calls.append(len(members))
        if len(calls) == 2:
            raise KeyboardInterrupt
        return solve(self, members)

    monkeypatch.setattr(sizing_module._Study, "solve", interrupted)
    result = fs.size(car, "return", CANDIDATES, progress=False)
    assert result.interrupted
    assert 0 < result.finished.sum() == calls[0] < 48
    assert result.meets.sum() + len(result.rejects()) == calls[0]
    assert "stopped early" in result.sentence()
    assert result.assess_best().met


@pytest.mark.parametrize(
    ("candidates", "message"),
    [
        ({"pumpe": ["in_tank_130"]}, "did you mean 'pump'"),
        ({"pump": ["in_tank_131"]}, "did you mean 'in_tank_130'"),
        ({"pump": ["external_roller"]}, "in_tank"),
        ({"feed.bore": ["600 mm"]}, "feed.bore"),
        ({"feed.bohr": ["6 mm"]}, "did you mean 'bore'"),
        ({"suction": ["steel_tube_half_inch"]}, r"a table \[suction\]"),
        ({"feed": []}, "no candidates"),
        ({"tank": ["big"]}, "nothing to choose here"),
    ],
)
def test_wrong_candidates_are_refused_before_anything_is_solved(car, candidates, message):
    with pytest.raises(fs.InputError, match=message):
        fs.size(car, "return", candidates)


def test_parts_of_ones_own_stand_beside_the_catalogue(car):
    own = fs.Pump.from_curve(
        ["120 L/h", "150 L/h"], ["400 kPa", "300 kPa"], current=[6.0, 5.0], relief_pressure="7 bar"
    )
    result = fs.size(car, candidates={"pump": [own, "in_tank_130"], "injectors": ["size_250"]}, progress=False)
    assert {result.labels(index)["pump"] for index in (0, 1)} == {"own, 150 L/h at 300 kPa", "in_tank_130"}
