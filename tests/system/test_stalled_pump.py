"""A pump with too little voltage to turn: a state of the run, a finding, and the same hindrance as a pump at rest."""

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.studies.checks import everyday_run

VOLTS = np.array([0.0, 0.2, 0.5, 13.5])


@pytest.mark.parametrize("layout", ["return", "returnless_tank"])
def test_a_pump_with_half_a_volt_behaves_as_one_without_but_for_its_current(layout):
    system = fs.Car.named("finch").system(layout)
    run = system.solve(rpm=1000, load=0.0, supply_voltage=VOLTS)
    assert run.engine_state.tolist() == ["stopped", "stopped", "stopped", "fed"]
    run = run.before_stop
    assert np.all(run.outcome.has_values)
    assert run.pump_stalled["pump"].tolist() == [False, True, True, False]
    assert run.pump_current["pump"][0] == 0.0
    # Ohm's law: a locked rotor draws in proportion to the voltage.
    assert run.pump_current["pump"][2] / run.pump_current["pump"][1] == pytest.approx(2.5, rel=1e-6)
    # The warmth of the locked motor changes viscosity and density a little.
    assert run.flow["pump"][1:3] == pytest.approx(run.flow["pump"][0], rel=1e-2, abs=1e-10)
    assert run.gauge_pressure["rail"][1:3] == pytest.approx(run.gauge_pressure["rail"][0], abs=100.0)


def test_a_pump_that_does_not_turn_is_a_failure_in_words():
    system = fs.Car.named("finch").system("return")
    found = [str(each) for each in fs.findings(system, system.solve(rpm=1000, load=0.0, supply_voltage=VOLTS))]
    assert any(text.startswith("failure, pump: does not turn at 2 of 4 points") for text in found)
    assert not any("does not turn" in str(each) for each in fs.findings(system))
    assert not np.any(everyday_run(system).pump_stalled["pump"])
