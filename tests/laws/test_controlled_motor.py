"""The motor of a speed-controlled pump behind its wire, by Ohm's law and the theorem of greatest power."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.laws.controlled_motor import loaded_voltage_at_power


def test_a_wire_gives_at_most_half_of_its_voltage_to_a_load_that_asks_for_more_than_it_transmits():
    """By hand: 12 V behind 0.3 ohm transmit at most 144/1.2 = 120 W, with 6 V and 20 A."""
    volts, amperes = loaded_voltage_at_power(12.0, 0.3, np.array([108.0, 119.9999, 200.0]))
    assert volts[0] * amperes[0] == pytest.approx(108.0)
    assert volts[0] == pytest.approx(12.0 - 0.3 * amperes[0])
    assert (volts[1], amperes[1]) == pytest.approx((6.0, 20.0), rel=1e-2)
    assert (volts[2], amperes[2]) == pytest.approx((6.0, 20.0), rel=1e-12)


def test_without_voltage_or_wire_nothing_is_lost_and_without_voltage_nothing_flows():
    volts, amperes = loaded_voltage_at_power(np.array([0.0, 12.0]), np.array([0.3, 0.0]), 60.0)
    assert volts.tolist() == [0.0, 12.0]
    assert amperes == pytest.approx([0.0, 5.0])
