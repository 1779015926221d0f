"""Typical figures of each kind of pump, used where a rating is not given."""

from __future__ import annotations

from typing import NamedTuple

from fuelsim.band import Band
from fuelsim.laws.cold_pump import ColdPump
from fuelsim.typing import FloatArray

__all__ = [
    "BRUSHLESS_POWER_SHARE",
    "BRUSHLESS_SPEED_EXPONENT",
    "COLD_BANDS",
    "CUT_OUT_VOLTAGE",
    "FULL_SPEED_VOLTAGE",
    "LOCKED_ROTOR_CURRENT",
    "PUMP_TYPES",
    "WEAR_PRESSURE",
    "FlowBand",
    "PumpType",
]

BRUSHLESS_POWER_SHARE = 0.86
"""Electrical power over that of a brushed pump of equal free flow: gives 0.26-0.29 overall efficiency [memory]."""
BRUSHLESS_SPEED_EXPONENT = 1.16
"""d ln Q / d ln N at free flow, from a published map of a 48 V turbine pump [pump_map_48_v]: Q = 0.06467 N - 0.1402 p -
53.1 (L/h, rpm, kPa)."""
CUT_OUT_VOLTAGE = 1.0 / 3.0
"""Least supply voltage at which a speed controller runs its motor, over that of the bench [assumed]."""
FULL_SPEED_VOLTAGE = 0.85
"""Least voltage at which a speed-controlled pump reaches the highest speed tested, over that of the bench [assumed]: a
controller is tested with voltage in hand, and nobody publishes how much."""
LOCKED_ROTOR_CURRENT = 10.0
"""Greatest locked-rotor current at bench voltage over the greatest current of the bench rows [assumed]: it sets the
least resistance of a winding where the flow against voltage gives less. The brushed pumps of the catalogue have 1.3 to
9."""
WEAR_PRESSURE = 1.0 / 3.0
"""Pressure rise at which wear is counted, over the dead-head pressure at bench voltage [assumed]: near the regulated
pressure of a pump for injection."""


class FlowBand(NamedTuple):
    """Flow of a pump within its tolerance.

    Attributes
    ----------
    least, greatest : array
        Volume flows, m3/s.
    """

    least: FloatArray
    greatest: FloatArray


class PumpType(NamedTuple):
    """Typical figures of one kind of pump; every one can be overridden by a rating.

    Attributes
    ----------
    voltage_exponent : float
        d ln Q / d ln V at free flow and bench voltage.
    proportional_share : float
        Fraction of the flow gained by voltage that is proportional to the flow: 0 adds the same flow at every pressure,
        1 multiplies the flow at every pressure by the same factor.
    inlet_head : Band
        Pressure above the bubble pressure needed at the inlet for quiet running, Pa (NPSH required).
    vapour_tolerance : Band
        V/L at the inlet up to which the flow falls in proportion only.
    power_at_rest, power_per_pressure : float
        Electrical power over free flow at no pressure rise, W per m3/s, and its growth with the pressure rise, W per
        m3/s and Pa. Used where no currents are given.
    cold : ColdPump
        How it takes to the viscosity of cold fuel; the middle of `COLD_BANDS`.
    rotor : bool
        Whether a motor turns it, which can stall.
    """

    voltage_exponent: float
    proportional_share: float
    inlet_head: Band
    vapour_tolerance: Band
    power_at_rest: float
    power_per_pressure: float
    cold: ColdPump
    rotor: bool = True


# Shares and powers of `fuelsim.laws.cold_pump`: low, middle and high flow on cold fuel [assumed]. A displacement pump
# loses 3 to 15 % of its flow at pressure, an upper bound of the leak being the fall of its bench curve.
_DISPLACEMENT = (ColdPump(0.03, 0.30, 1.0, 0.5), ColdPump(0.10, 0.10, 1.0, 0.3), ColdPump(0.15, 0.05, 1.0, 0.2))
_TURBINE = (ColdPump(0.0, 0.60, 0.25, 2.0), ColdPump(0.0, 0.30, 0.25, 1.0), ColdPump(0.0, 0.10, 0.25, 0.3))
COLD_BANDS = {
    "turbine": _TURBINE,
    "roller": _DISPLACEMENT,
    "gear": _DISPLACEMENT,
    "gerotor": _DISPLACEMENT,
    "vane": _DISPLACEMENT,
    # A piston driven by a coil leaks past its clearance and has no motor to slow.
    "solenoid": tuple(ColdPump(share, 0.0, 1.0, 0.0) for share in (0.0, 0.05, 0.10)),
}
"""Low, middle and high flow on cold fuel by kind of pump: how each takes to viscosity [assumed]. Petrol at -20 degC has
1.6 times its viscosity at 20 degC: -7 to +5 % of the flow for displacement pumps, +2 % in the middle, -13 to 0 % for
turbines, -4 % in the middle."""

# Inlet heads and tolerances: looked for in vain in public tests, standards and patents; the bands of turbines and of
# roller and gear pumps are those of `npsh_required` and `allowed_vapour` in data/unknown_figures.toml, low confidence
# [memory]; of vane and solenoid pumps nothing is known, their heads span both [assumed].
_TURBINE_HEAD, _TURBINE_VAPOUR = Band(10e3, 15e3, 20e3), Band(1.0, 2.0, 3.0)
_POSITIVE_HEAD, _POSITIVE_VAPOUR = Band(20e3, 27e3, 35e3), Band(0.3, 0.6, 1.0)
_VANE_HEAD, _SOLENOID_HEAD = Band(10e3, 20e3, 35e3), Band(10e3, 15e3, 35e3)

PUMP_TYPES = {
    # Exponents: turbines gain the same flow at every pressure, gears nearly the same share
    # (class tables at 12.0 and 13.5 V; a large gear pump 1.0 to 1.1 [magazine_pump_test]).
    # Powers: the five turbine classes agree on theirs to 6 %; the others from the middle of their classes.
    "turbine": PumpType(1.19, 0.0, _TURBINE_HEAD, _TURBINE_VAPOUR, 549e3, 1.97, COLD_BANDS["turbine"][1]),
    # Rollers gain 17 to 18 L/h per volt at 0 and 500 kPa alike, 1.4 of a class of 150 L/h at 12 V
    # [service_manual_1980s_b] [service_manual_1980s_c].
    "roller": PumpType(1.40, 0.0, _POSITIVE_HEAD, _POSITIVE_VAPOUR, 530e3, 3.2, COLD_BANDS["roller"][1]),
    "gear": PumpType(1.10, 0.85, _POSITIVE_HEAD, _POSITIVE_VAPOUR, 549e3, 1.2, COLD_BANDS["gear"][1]),
    "gerotor": PumpType(1.10, 0.85, _POSITIVE_HEAD, _POSITIVE_VAPOUR, 549e3, 1.2, COLD_BANDS["gerotor"][1]),
    "vane": PumpType(1.10, 0.85, _VANE_HEAD, _POSITIVE_VAPOUR, 410e3, 4.0, COLD_BANDS["vane"][1]),
    # The stroke rate of a solenoid pump is set by its own circuit and follows the voltage weakly [assumed].
    "solenoid": PumpType(
        1.00, 0.85, _SOLENOID_HEAD, _POSITIVE_VAPOUR, 410e3, 9.0, COLD_BANDS["solenoid"][1], rotor=False
    ),
}
