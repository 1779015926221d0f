"""The circuit to the pump."""

import pytest

from fuelsim.errors import InputError
from fuelsim.parts.wire import CONTINUOUS_FUSE_LOADING, Wire

BARE = {"relay": 0.0, "fuse": 0.0, "connectors": 0.0, "ground": 0.0, "temperature": "20 degC"}


@pytest.mark.parametrize(("size", "drop"), [("12 AWG", 0.42), ("16 AWG", 1.05), ("18 AWG", 1.68)])
def test_eight_amperes_over_ten_metres_lose_the_voltage_of_astm_b258(size, drop):
    assert Wire(length=10.0, size=size, **BARE).voltage_drop(8.0) == pytest.approx(drop, abs=0.01)


def test_gauge_and_square_millimetres_agree():
    assert Wire(size="12 AWG").area == pytest.approx(3.31e-6, rel=1e-3)
    assert Wire(size="4 mm2").area == 4e-6
    assert Wire(size="1/0 AWG").area == pytest.approx(53.5e-6, rel=1e-3)


def test_27_4_amperes_on_a_30_ampere_fuse_are_flagged():
    """91 %: published trade bulletins allow 75-80 % continuous."""
    loading = Wire(fuse_rating="30 A").fuse_loading(27.4)
    assert loading == pytest.approx(0.913, abs=0.001)
    assert loading > CONTINUOUS_FUSE_LOADING


def test_measured_voltages_give_the_resistance():
    assert Wire.from_measurement("12.5 V", "6.6 V", "6 A").resistance == pytest.approx(1.0, abs=0.05)


def test_sound_wiring_loses_under_half_a_volt():
    """Aim of common practice (no source)."""
    assert Wire().voltage_drop(8.0) < 0.6
    assert Wire(size="10 AWG").voltage_drop(7.0) < 0.5


@pytest.mark.parametrize("size", ["12", "12 bar", "AWG", "55 AWG", "4", "0.001 mm2", "", "12 AWG; rm"])
def test_what_is_no_wire_size_is_refused(size):
    with pytest.raises(InputError) as caught:
        Wire(size=size)
    assert caught.value.key == "size"
    assert caught.value.part == "Wire"


def test_a_loaded_voltage_above_the_open_one_is_refused():
    with pytest.raises(InputError, match="above the open one"):
        Wire.from_measurement(12.0, 12.5, 6.0)
