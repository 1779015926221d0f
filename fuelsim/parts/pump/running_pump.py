"""A pump under given conditions: the curve the network sees, and the current and power behind it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from fuelsim import units
from fuelsim.arguments import takes
from fuelsim.errors import InputError
from fuelsim.laws.cold_pump import COLD_BELOW, ColdFactors, ViscosityCurve, cold_pump_factors
from fuelsim.laws.controlled_motor import loaded_voltage_at_power
from fuelsim.laws.link import LinkLaw
from fuelsim.laws.motor import (
    PumpMap,
    drive_delivering,
    duty_giving,
    hot_flow_factor,
    loaded_voltage,
)
from fuelsim.laws.pump_curve import PUMP_CURVE, PumpCoefficients, pump_loss
from fuelsim.liquid import Liquid
from fuelsim.numerics.bracket import bisect
from fuelsim.parts.part import Part
from fuelsim.parts.pump.running_ratings import RunningRatings
from fuelsim.parts.pump.vapour_handling import VapourHandling
from fuelsim.typing import BoolArray, FloatArray, FloatLike, Given, IndexArray, PointArray

__all__ = ["PumpOperation", "RunningPump", "is_switched_on"]

_BATCHED = (
    "supply_voltage",
    "wire_resistance",
    "duty",
    "speed",
    "largest_flow",
    "wear",
    "vapour_liquid_ratio",
    "fuel_temperature",
)
_TABLES = ("rise", "slope")
_BISECTIONS = 60
_LOCKED = 1e9
"""Current that no winding passes, A: a pump that stands draws its locked-rotor current."""
_MOST_FLOW = 10.0
"""Greatest flow for which a duty or speed is searched, over the free flow: a pump full of vapour would need more."""


@dataclass(frozen=True)
class PumpOperation:
    """Current, power and heat of a running pump.

    Attributes
    ----------
    current : array (points,)
        Current of the motor while switched on, A.
    terminal_voltage : array (points,)
        Voltage at the pump while switched on, V.
    electrical_power : array (points,)
        Electrical power at the terminals, W.
    hydraulic_power : array (points,)
        Flow times pressure rise, W; 0 where the pump gives the fuel none.
    efficiency : array (points,)
        Hydraulic over electrical power; NaN without electrical power.
    wire_power : array (points,)
        Power lost between supply and pump, W.
    heat_into_fuel : array (points,)
        Part of the electrical power that warms the fuel, W; it includes the hydraulic power, which becomes heat where
        the pressure is lost.
    share : array (points,)
        Fraction of time switched on, or of a speed-controlled pump its speed over the highest tested, which supply and
        wire may keep below the one asked for; 0 for a pump that is switched off.
    stalled : bool array (points,)
        Whether the pump has voltage but does not turn: it draws its locked-rotor current, or its controller cuts out.
    current_source : str
        ``"bench"`` or ``"estimated"``.
    """

    current: PointArray
    terminal_voltage: PointArray
    electrical_power: PointArray
    hydraulic_power: PointArray
    efficiency: PointArray
    wire_power: PointArray
    heat_into_fuel: PointArray
    share: PointArray
    stalled: BoolArray
    current_source: str


@dataclass(frozen=True, eq=False)
class RunningPump(Part):
    """A pump at its supply voltage, behind its wire, with its wear and the state of the fuel at its inlet.

    It is a link of a network as its `Pump` is. Made by `Pump.at`. Without voltage, duty or speed it stands: it draws no
    current, and fuel that is pushed through it forwards loses pressure in proportion to its flow. A pump whose voltage
    is too low to deliver anything even without a pressure rise is taken to stand as well, for it is the same pump end
    at rest in the way of the fuel; it draws its locked-rotor current.

    Attributes
    ----------
    ratings : RunningRatings
        Ratings of the pump.
    bench : PumpMap
        The pump along its bench curve on the fuel that it pumps.
    supply_voltage : float or array (points,)
        Voltage at the start of the circuit, V.
    wire_resistance : float or array (points,)
        Resistance between supply and pump, ohm.
    duty : float or array (points,)
        Fraction of time switched on.
    speed : float or array (points,) or None
        Speed of a speed-controlled pump, rpm.
    largest_flow : array (1 or points,)
        Run-out flow on cold fuel without vapour, m3/s.
    rise, slope : array (knots, 1 or points)
        Pressure rise of that pump, with its leak, and its slope, Pa and Pa s/m3.
    vapour_handling : VapourHandling
        How the flow falls with vapour at the inlet.
    wear : float or array (points,)
        Fraction of the flow lost by wear at `WEAR_PRESSURE`; it is in the table already where it is not negative.
    vapour_liquid_ratio : float or array (points,)
        V/L at the inlet.
    fuel_temperature : float or array (points,)
        Temperature of the fuel at the inlet, K.
    viscosity : ViscosityCurve, optional
        Viscosity of the fuel from the cold to 20 degC; left out, cold fuel is pumped as fuel of 20 degC.
    """

    law: ClassVar[LinkLaw] = PUMP_CURVE

    ratings: RunningRatings
    bench: PumpMap
    supply_voltage: FloatLike
    wire_resistance: FloatLike
    duty: FloatLike
    speed: FloatLike | None
    largest_flow: FloatArray
    rise: FloatArray
    slope: FloatArray
    vapour_handling: VapourHandling
    wear: FloatLike
    vapour_liquid_ratio: FloatLike
    fuel_temperature: FloatLike
    viscosity: ViscosityCurve | None = None

    def with_inlet(self, *, vapour_liquid_ratio: FloatLike, fuel_temperature: FloatLike) -> RunningPump:
        """Return the same pump with other fuel at its inlet; the curve is not computed again.

        Parameters
        ----------
        vapour_liquid_ratio : float or array (points,)
            V/L at the inlet.
        fuel_temperature : float or array (points,)
            Temperature of the fuel at the inlet, K.

        Returns
        -------
        RunningPump

        Examples
        --------
        >>> from fuelsim.parts.pump.pump import Pump
        >>> running = Pump.named("in_tank_220").at()
        >>> hot = running.with_inlet(vapour_liquid_ratio=0.5, fuel_temperature=333.15)
        >>> round(float(hot.flow("3 bar") / running.flow("3 bar")), 2)
        0.63
        """
        return replace(self, vapour_liquid_ratio=vapour_liquid_ratio, fuel_temperature=fuel_temperature)

    def take(self, index: IndexArray) -> RunningPump:
        """Return the pump at some of its operating points only.

        Parameters
        ----------
        index : int array
            Indices of the operating points.

        Returns
        -------
        RunningPump

        Examples
        --------
        >>> from fuelsim.parts.pump.pump import Pump
        >>> running = Pump.named("in_tank_220").at(supply_voltage=[10.0, 12.0, 13.5])
        >>> running.take(np.array([0, 2])).supply_voltage.tolist()
        [10.0, 13.5]
        """
        taken: dict[str, FloatArray | VapourHandling | ViscosityCurve | None] = {
            "vapour_handling": self.vapour_handling.take(index),
            "viscosity": None if self.viscosity is None else self.viscosity.take(index),
        }
        for name in (*_BATCHED, *_TABLES):
            if getattr(self, name) is None:
                continue
            value = np.asarray(getattr(self, name))
            batched = value.ndim > (name in _TABLES) and value.shape[-1] > 1
            taken[name] = value[..., index] if batched else value
        return replace(self, **taken)  # type: ignore[arg-type]  # names of fields, each with a value of its own type

    @property
    def switched_on(self) -> BoolArray:
        """Whether the pump has voltage, duty and speed, () or (points,)."""
        return is_switched_on(self.supply_voltage, self.duty, self.speed, self.ratings.cut_out_voltage)

    @property
    def stands(self) -> BoolArray:
        """Whether the pump is switched off, or too slow to deliver anything, () or (points,)."""
        standing = np.asarray(self.rise[0] <= 0.0)
        return standing[0] if standing.shape == (1,) else standing

    @property
    def share(self) -> PointArray:
        """Fraction of time switched on, or speed over the highest tested; 0 for a pump that is switched off."""
        greatest = self.ratings.bench_speed
        driven = self.duty if greatest is None else np.asarray(self.speed) / greatest
        return np.where(self.switched_on, driven, 0.0)

    @property
    def flow_factor(self) -> PointArray:
        """Flow over that of the table, on fuel of 20 degC without vapour; 1 for a pump that stands."""
        factor: PointArray = (
            (1.0 - np.minimum(self.wear, 0.0))
            * hot_flow_factor(np.maximum(self.fuel_temperature, COLD_BELOW), self.ratings.hot_flow_loss)
            * self._cold.flow
            * self.vapour_handling.flow_share(self.vapour_liquid_ratio)
        )
        stands = self.stands
        return np.where(stands, 1.0, factor) if np.any(stands) else factor

    @property
    def _cold(self) -> ColdFactors:
        """Flow and current on cold fuel over those at 20 degC."""
        if self.viscosity is None or np.all(np.asarray(self.fuel_temperature) >= COLD_BELOW):
            return ColdFactors(np.ones(()), np.ones(()))
        return cold_pump_factors(self.viscosity.ratio(self.fuel_temperature), self.ratings.cold)

    @takes()
    def coefficients(self, liquid: Liquid) -> PumpCoefficients:
        """Return the coefficients of the pump curve law; the liquid does not matter."""
        return self._coefficients

    @property
    def _coefficients(self) -> PumpCoefficients:
        factor = self.flow_factor
        relief = self.ratings.relief_pressure
        curve = (self.largest_flow * factor, self.rise, self.slope / factor)
        # One operating point gives numbers, not lists of one, so that they broadcast with lists of any length.
        largest, rise, slope = (value[..., 0] if np.ndim(value) and value.shape[-1] == 1 else value for value in curve)
        return PumpCoefficients(
            largest, rise, slope, np.inf if relief is None else relief, 1.0 if self.ratings.check_valve else 0.0
        )

    def pressure_rise(self, flow: Given) -> PointArray:
        """Return the pressure rise at a flow.

        Parameters
        ----------
        flow : float, str or array (points,)
            Volume flow, m3/s.

        Returns
        -------
        array () or (points,)
            Pressure rise, Pa.

        Raises
        ------
        InputError
            For another number of flows than of operating points, or a value that is no flow.

        Examples
        --------
        >>> from fuelsim.parts.pump.pump import Pump
        >>> pump = Pump.from_curve(["100 L/h", "150 L/h"], ["4 bar", "2 bar"])
        >>> round(float(pump.at().pressure_rise("125 L/h")))
        300000
        """
        q = self._converted(flow, "volume flow")
        loss = self._loss(np.atleast_1d(q))[0]
        single = q.ndim == 0 and loss.shape == (1,)
        return -loss[0] if single else -loss

    def flow(self, pressure_rise: Given) -> PointArray:
        """Return the flow at a pressure rise, by bisection of the curve the network solves with.

        Parameters
        ----------
        pressure_rise : float, str or array (points,)
            Pressure rise, Pa.

        Returns
        -------
        array () or (points,)
            Volume flow, m3/s; negative above the dead-head pressure (a negligible leak with a check valve).

        Raises
        ------
        InputError
            For another number of pressures than of operating points, or a value that is no pressure.

        Examples
        --------
        >>> from fuelsim.parts.pump.pump import Pump
        >>> pump = Pump.from_curve(["100 L/h", "150 L/h"], ["4 bar", "2 bar"])
        >>> round(float(pump.at().flow("3 bar")) * 3.6e6)
        125
        """
        wanted = self._converted(pressure_rise, "pressure difference")
        shape = np.broadcast_shapes(np.atleast_1d(wanted).shape, self._scaled_flow.shape)
        low, high = (np.broadcast_to(side * self._scaled_flow, shape) for side in (-2.0, 3.0))
        delivered = bisect(lambda q: -self._loss(q)[0] > wanted, low, high, _BISECTIONS)
        result: PointArray = delivered[0] if wanted.ndim == 0 and delivered.shape == (1,) else delivered
        return result

    def current(self, pressure_rise: Given) -> PointArray:
        """Return the current of the motor at a pressure rise.

        Parameters
        ----------
        pressure_rise : float, str or array (points,)
            Pressure rise, Pa.

        Returns
        -------
        array () or (points,)
            Current while switched on, A.

        Raises
        ------
        InputError
            For another number of pressures than of operating points, or a value that is no pressure.

        Examples
        --------
        >>> from fuelsim.parts.pump.pump import Pump
        >>> pump = Pump.from_curve(["100 L/h", "150 L/h"], ["4 bar", "2 bar"], current=[6.0, 4.0])
        >>> round(float(pump.at().current("3 bar")), 6)
        5.0
        """
        return self._electric(self._converted(pressure_rise, "pressure difference"))[1]

    def terminal_voltage(self, pressure_rise: Given) -> PointArray:
        """Return the voltage at the pump at a pressure rise.

        Parameters
        ----------
        pressure_rise : float, str or array (points,)
            Pressure rise, Pa.

        Returns
        -------
        array () or (points,)
            Voltage while switched on, V.

        Raises
        ------
        InputError
            For another number of pressures than of operating points, or a value that is no pressure.

        Examples
        --------
        >>> from fuelsim.parts.pump.pump import Pump
        >>> pump = Pump.from_curve(["100 L/h", "150 L/h"], ["4 bar", "2 bar"], current=[6.0, 4.0])
        >>> round(float(pump.at(supply_voltage=13.5, wire_resistance=0.1).terminal_voltage("3 bar")), 6)
        13.0
        """
        return self._electric(self._converted(pressure_rise, "pressure difference"))[0]

    def _converted(self, value: Given, kind: str) -> FloatArray:
        """Return a value in SI, one or as many as the pump has operating points."""
        converted, points = np.asarray(units.convert(value, kind), dtype=float), np.shape(self._scaled_flow)[-1]
        if converted.ndim and converted.shape[-1] not in (1, points) and points != 1:
            raise InputError(
                f"{converted.shape[-1]} values, but {points} operating points of the pump",
                given=converted.tolist(),
                accepted=f"one value or {points}",
                key=kind.replace(" ", "_"),
            )
        return converted

    def operating(self, flow: FloatLike, pressure_rise: FloatLike) -> PumpOperation:
        """Return current, power and heat at solved flows and pressure rises.

        Parameters
        ----------
        flow : float or array (points,)
            Volume flow, m3/s.
        pressure_rise : float or array (points,)
            Pressure rise, Pa.

        Returns
        -------
        PumpOperation

        Examples
        --------
        >>> from fuelsim.parts.pump.pump import Pump
        >>> pump = Pump.from_curve(["221 L/h", "248 L/h"], ["4 bar", "3 bar"], current=[8.8, 7.5])
        >>> operation = pump.at().operating(221 / 3.6e6, 400e3)
        >>> round(float(operation.electrical_power), 1), round(float(operation.efficiency), 3)
        (118.8, 0.207)
        """
        rise = np.asarray(pressure_rise, dtype=float)
        voltage, current = self._electric(rise)
        share = self.share
        if self.ratings.bench_speed is not None:
            reached = self._speed_reached(self._bench_current(rise)) / self.ratings.bench_speed
            share = np.where(self.switched_on, reached, 0.0)
        share = np.broadcast_to(share, np.shape(current))
        electrical = self.duty * voltage * current
        hydraulic = np.maximum(flow, 0.0) * np.maximum(rise, 0.0)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            efficiency = np.where(electrical > 0.0, hydraulic / electrical, np.nan)
        return PumpOperation(
            current=current,
            terminal_voltage=voltage,
            electrical_power=electrical,
            hydraulic_power=hydraulic,
            efficiency=efficiency,
            wire_power=self.duty * self.wire_resistance * current**2,
            heat_into_fuel=self.ratings.heat_into_fuel * electrical,
            share=share,
            stalled=np.broadcast_to(self._stalled(voltage, current), np.shape(current)),
            current_source=self.ratings.current_source,
        )

    def share_delivering(self, flow: FloatLike, pressure_rise: FloatLike) -> PointArray:
        """Return the duty, or the speed over the highest tested, at which the pump delivers a flow at a pressure rise.

        The pump's own duty or speed does not matter. Of a pump whose relief valve is open it is the least share.

        Parameters
        ----------
        flow : float or array (points,)
            Volume flow, m3/s.
        pressure_rise : float or array (points,)
            Pressure rise, Pa.

        Returns
        -------
        array () or (points,)
            0 and more; above 1 where neither the supply nor the highest speed is enough.

        Examples
        --------
        A pump with Q = 20 V - 0.2 p - 10 (L/h, V, kPa) delivers 50 L/h at 300 kPa with 6 V, half of 12 V:

        >>> from fuelsim.parts.pump.pump import Pump
        >>> tables = {volts: {"flow": [f"{20 * volts - 90} L/h", f"{20 * volts - 50} L/h"],
        ...                   "pressure": ["400 kPa", "200 kPa"]} for volts in (10.0, 12.0)}
        >>> pump = Pump.from_tables(tables).at(supply_voltage="12 V")
        >>> round(float(pump.share_delivering(50 / 3.6e6, 300e3)), 4)
        0.5
        """
        bench, rise = self.bench, np.asarray(pressure_rise, dtype=float)
        with np.errstate(divide="ignore"):
            leak = self.ratings.worn_leak * np.maximum(self.wear, 0.0) * np.maximum(rise, 0.0)
            sound_flow = np.asarray(flow, dtype=float) / self.flow_factor + leak
        drive = drive_delivering(bench, np.minimum(sound_flow, _MOST_FLOW * bench.free_flow), rise)
        if self.ratings.bench_speed is not None:
            return np.asarray(drive / self.ratings.bench_speed)
        return duty_giving(
            drive,
            self.supply_voltage,
            self.wire_resistance,
            self._bench_current(rise),
            bench.current_per_drive,
            bench.bench_drive,
            self.ratings.winding_resistance,
        )

    def at_share(self, share: PointArray) -> RunningPump:
        """Return the pump with another duty or speed, for `operating`: its curve remains that of the old one.

        Parameters
        ----------
        share : array () or (points,)
            Fraction of time switched on, or speed over the highest tested.

        Returns
        -------
        RunningPump

        Examples
        --------
        At one pressure the power of a speed-controlled pump goes with its speed:

        >>> from fuelsim.parts.pump.pump import Pump
        >>> pump = Pump.named("brushless_turbine_48_V").at()
        >>> half, full = (at.operating(1e-5, 4e5).electrical_power for at in (pump.at_share(0.5), pump))
        >>> round(float(half / full), 9)
        0.5
        """
        if self.ratings.bench_speed is None:
            return replace(self, duty=share)
        return replace(self, speed=np.asarray(share) * self.ratings.bench_speed)

    @property
    def _scaled_flow(self) -> PointArray:
        return np.atleast_1d(self._coefficients.largest_flow)

    def _loss(self, flow: PointArray) -> tuple[PointArray, PointArray]:
        c = self._coefficients
        rise, slope = (x.reshape(len(x), 1, -1) for x in (c.rise, c.slope))
        stacked = c._replace(largest_flow=np.atleast_1d(c.largest_flow)[None], rise=rise, slope=slope)
        loss, tangent = pump_loss(flow[None], stacked)
        return loss[0], tangent[0]

    def _bench_current(self, pressure_rise: FloatArray) -> FloatArray:
        """Return the current at a pressure rise at the bench's voltage; of the fluid only its viscosity matters."""
        bench = self.ratings.bench
        return np.asarray(np.interp(pressure_rise, bench.pressure[::-1], bench.current[::-1]) * self._cold.current)

    def _electric(self, pressure_rise: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return terminal voltage and current."""
        bench = self.ratings.bench
        at_bench = self._bench_current(pressure_rise)
        if self.speed is not None:
            # At one pressure the torque is constant, so the power is proportional to speed.
            power = at_bench * self.ratings.bench_voltage * self._speed_reached(at_bench) / bench.bench_drive
            power = np.where(self.switched_on, power, 0.0)
            return loaded_voltage_at_power(self.supply_voltage, self.wire_resistance, power)
        voltage, current = loaded_voltage(
            self.supply_voltage,
            self.wire_resistance,
            np.where(self.stands, _LOCKED, at_bench) if np.any(self.stands) else at_bench,
            bench.current_per_drive,
            bench.bench_drive,
            self.duty,
            self.ratings.winding_resistance,
        )
        return voltage, current

    def _speed_reached(self, bench_current: FloatArray) -> FloatArray:
        """Return the speed of a speed-controlled pump at a current of the bench, rpm: the one asked for, or less."""
        ceiling = self.ratings.speed_ceiling(self.supply_voltage, self.wire_resistance)
        asked = np.asarray(0.0 if self.speed is None else self.speed, dtype=float)
        if ceiling is None:
            return asked
        highest = np.maximum(ceiling.at_no_current - ceiling.per_current * bench_current, 0.0)
        return np.asarray(np.minimum(asked, highest))

    def _stalled(self, voltage: FloatArray, current: FloatArray) -> BoolArray:
        """Return whether the pump has voltage but does not turn."""
        driven = is_switched_on(self.supply_voltage, self.duty, self.speed)
        if self.speed is not None:
            return driven & ~self.switched_on
        # The coil of a solenoid pump has its greatest current in use.
        locked = current * self.ratings.winding_resistance >= (1.0 - 1e-9) * self.duty * voltage
        return driven & (self.stands | (locked & self.ratings.rotor))


def is_switched_on(
    supply_voltage: FloatLike, duty: FloatLike, speed: FloatLike | None, cut_out_voltage: float = 0.0
) -> BoolArray:
    """Return whether a pump has voltage, duty and, where its speed is controlled, speed; () or (points,).

    Parameters
    ----------
    supply_voltage, duty : float or array (points,)
        Voltage at the start of the circuit, V, and fraction of time switched on.
    speed : float, array (points,) or None
        Speed of a speed-controlled pump, rpm; None for others.
    cut_out_voltage : float, optional
        Supply voltage below which a speed controller cuts out, V.

    Returns
    -------
    bool array

    Examples
    --------
    >>> is_switched_on(np.array([0.0, 13.5]), 1.0, None).tolist()
    [False, True]
    """
    on = (np.asarray(supply_voltage) > 0.0) & (np.asarray(duty) > 0.0)
    return on if speed is None else on & (np.asarray(speed) > 0.0) & (np.asarray(supply_voltage) >= cut_out_voltage)
