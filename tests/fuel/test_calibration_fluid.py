"""Pure test fluids, live from CoolProp."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.errors import InputError
from fuelsim.fuel.calibration_fluid import calibration_fluid


def test_a_calibration_fluid_is_that_of_coolprop_and_a_wrong_one_is_named() -> None:
    liquid = calibration_fluid("n-heptane", np.array([283.15, 293.15]))
    assert liquid.density == pytest.approx([692.3, 683.9], abs=0.5)  # CoolProp 8.0.0
    with pytest.raises(InputError, match="did you mean 'n-heptane'"):
        calibration_fluid("heptane")
