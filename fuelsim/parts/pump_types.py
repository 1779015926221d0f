"""What is typical of each kind of pump, where the owner's own figures are not given."""

from __future__ import annotations

from typing import NamedTuple

__all__ = ["BRUSHLESS_EFFICIENCY", "BRUSHLESS_SPEED_EXPONENT", "PUMP_TYPES", "PumpType"]

BRUSHLESS_EFFICIENCY = 0.27
"""Overall, of brushless turbine pumps: 0.26-0.29 (from memory)."""
BRUSHLESS_SPEED_EXPONENT = 1.16
"""d ln Q / d ln N at free flow, from a published map of a 48 V turbine pump: Q = 0.06467 N - 0.1402 p - 53.1 (L/h, rpm,
kPa)."""


class PumpType(NamedTuple):
    """Typical figures of one kind of pump; every one can be overridden by a rating.

    Attributes
    ----------
    voltage_exponent : float
        d ln Q / d ln V at free flow and bench voltage.
    proportional_share : float
        0: a change of voltage adds the same flow at every pressure; 1: it multiplies the flow at every pressure alike.
    inlet_head : float
        Pressure above the bubble pressure needed at the inlet for quiet running, Pa (NPSH required).
    vapour_tolerance : float
        V/L at the inlet up to which the flow only falls in proportion.
    efficiency : float
        Overall, hydraulic over electrical power at half of dead-head, used where no currents are given.
    """

    voltage_exponent: float
    proportional_share: float
    inlet_head: float
    vapour_tolerance: float
    efficiency: float


PUMP_TYPES = {
    # Exponents: turbines gain the same flow at every pressure, gear and roller ends nearly the same share
    # (class tables at 12.0 and 13.5 V, from memory). Inlet heads and tolerances: from memory, low confidence.
    "turbine": PumpType(1.19, 0.0, 15e3, 2.0, 0.20),
    "roller": PumpType(1.10, 0.85, 27e3, 0.6, 0.20),
    "gear": PumpType(1.10, 0.85, 27e3, 0.6, 0.20),
    "gerotor": PumpType(1.10, 0.85, 27e3, 0.6, 0.20),
    "vane": PumpType(1.10, 0.85, 20e3, 0.6, 0.12),
    # The stroke rate of a solenoid pump is set by its own circuit and follows the voltage weakly (assumed).
    "solenoid": PumpType(1.00, 0.85, 15e3, 0.6, 0.02),
}
