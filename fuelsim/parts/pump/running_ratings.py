"""Ratings of a pump that a running one depends on."""

from __future__ import annotations

from typing import NamedTuple

from fuelsim.laws.cold_pump import ColdPump
from fuelsim.laws.controlled_motor import SpeedCeiling, speed_ceiling
from fuelsim.laws.motor import PumpMap
from fuelsim.parts.pump.pump_types import CUT_OUT_VOLTAGE
from fuelsim.parts.pump.vapour_handling import VapourHandling
from fuelsim.typing import FloatLike

__all__ = ["RunningRatings"]


class RunningRatings(NamedTuple):
    """Ratings of a pump that a running one depends on.

    Attributes
    ----------
    bench : PumpMap
        The pump along its bench curve.
    knots : int
        Number of knots of the curve in the network.
    bench_voltage : float
        Highest voltage tested, V.
    bench_speed : float or None
        Highest speed tested, rpm; None for a pump without speed control.
    full_speed_voltage : float
        Least voltage at the pump at which a speed-controlled one reaches that speed, V.
    fluid_density : float or None
        Density of the bench's fluid for a pump whose pressure is proportional to density, kg/m3; None for others.
    relief_pressure : float or None
        Pressure rise at which the pump's own relief valve opens, Pa.
    relief_band : float
        Rise of the relief valve until it passes the whole flow, over the relief pressure.
    check_valve : bool
        Whether the pump has its own check valve.
    hot_flow_loss : float
        Fraction of the flow lost from 20 to 60 degC.
    vapour_handling : VapourHandling
        How the flow falls with vapour at the inlet; lists in it are over operating points.
    heat_into_fuel : float
        Fraction of the electrical power that warms the fuel.
    current_source : str
        ``"bench"`` or ``"estimated"``.
    winding_resistance : float
        Resistance of the motor's winding, ohm.
    rotor : bool
        Whether a motor turns the pump, which can stall.
    worn_leak : float
        Internal leak over pressure rise of a pump that has lost its whole flow at the pressure where wear is counted,
        m3/s/Pa.
    standing_loss : float
        Loss of the standing pump over the flow pushed through it, Pa s/m3.
    cold : ColdPump
        How the pump takes to the viscosity of cold fuel.
    """

    bench: PumpMap
    knots: int
    bench_voltage: float
    bench_speed: float | None
    full_speed_voltage: float
    fluid_density: float | None
    relief_pressure: float | None
    relief_band: float
    check_valve: bool
    hot_flow_loss: float
    vapour_handling: VapourHandling
    heat_into_fuel: float
    current_source: str
    winding_resistance: float
    rotor: bool
    worn_leak: float
    standing_loss: float
    cold: ColdPump

    @property
    def cut_out_voltage(self) -> float:
        """Least supply voltage at which a speed controller runs the motor, V; 0 without one."""
        return 0.0 if self.bench_speed is None else CUT_OUT_VOLTAGE * self.bench_voltage

    def speed_ceiling(self, supply_voltage: FloatLike, wire_resistance: FloatLike) -> SpeedCeiling | None:
        """Return the greatest speed that supply and wire give a speed-controlled pump; None for any other.

        Parameters
        ----------
        supply_voltage, wire_resistance : float or array (points,)
            Voltage at the start of the circuit, V, and its resistance, ohm.

        Returns
        -------
        SpeedCeiling or None

        Examples
        --------
        >>> from fuelsim.parts.pump.pump import Pump
        >>> Pump.named("in_tank_220").running_ratings.speed_ceiling(13.5, 0.1) is None
        True
        """
        if self.bench_speed is None:
            return None
        bench = (self.bench_voltage, self.bench_speed)
        return speed_ceiling(supply_voltage, wire_resistance, self.full_speed_voltage, bench)
