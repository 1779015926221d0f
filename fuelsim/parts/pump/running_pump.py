"""A pump under given conditions: the curve the network sees, and the current and power behind it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar, NamedTuple

import numpy as np

from fuelsim import units
from fuelsim.errors import InputError
from fuelsim.laws.link import LinkLaw
from fuelsim.laws.liquid import Liquid
from fuelsim.laws.motor import (
    PumpMap,
    hot_flow_factor,
    loaded_voltage,
    loaded_voltage_at_power,
    on_fluid,
    relief_limited_rise,
    running_curve,
    vapour_flow_factor,
)
from fuelsim.laws.pump_curve import PUMP_CURVE, PumpCoefficients, pump_loss
from fuelsim.numerics.bracket import bisect
from fuelsim.numerics.cubic import falling_slopes
from fuelsim.parts.part import Part
from fuelsim.typing import FloatArray, FloatLike, Given, IndexArray, PointArray

__all__ = ["PumpOperation", "RunningPump", "RunningRatings", "run_pump"]

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
    tolerated_vapour : float
        V/L at the inlet up to which the flow falls in proportion only.
    heat_into_fuel : float
        Fraction of the electrical power that warms the fuel.
    current_source : str
        ``"bench"`` or ``"estimated"``.
    """

    bench: PumpMap
    knots: int
    bench_voltage: float
    bench_speed: float | None
    fluid_density: float | None
    relief_pressure: float | None
    relief_band: float
    check_valve: bool
    hot_flow_loss: float
    tolerated_vapour: float
    heat_into_fuel: float
    current_source: str


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
        Flow times pressure rise, W.
    efficiency : array (points,)
        Hydraulic over electrical power; NaN without electrical power.
    wire_power : array (points,)
        Power lost between supply and pump, W.
    heat_into_fuel : array (points,)
        Part of the electrical power that warms the fuel, W; it includes the hydraulic power, which becomes heat where
        the pressure is lost.
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
    current_source: str


@dataclass(frozen=True, eq=False)
class RunningPump(Part):
    """A pump at its supply voltage, behind its wire, with its wear and the state of the fuel at its inlet.

    It is a link of a network as its `Pump` is. Made by `Pump.at`.

    Attributes
    ----------
    ratings : RunningRatings
        Ratings of the pump.
    supply_voltage : float or array (points,)
        Voltage at the start of the circuit, V.
    wire_resistance : float or array (points,)
        Resistance between supply and pump, ohm.
    duty : float or array (points,)
        Fraction of time switched on.
    speed : float or array (points,) or None
        Speed of a speed-controlled pump, rpm.
    largest_flow : array (1 or points,)
        Run-out flow of the sound pump on cold fuel without vapour, m3/s.
    rise, slope : array (knots, 1 or points)
        Pressure rise of that pump and its slope, Pa and Pa s/m3.
    wear : float or array (points,)
        Fraction of the flow lost by wear.
    vapour_liquid_ratio : float or array (points,)
        V/L at the inlet.
    fuel_temperature : float or array (points,)
        Temperature of the fuel at the inlet, K.
    """

    law: ClassVar[LinkLaw] = PUMP_CURVE

    ratings: RunningRatings
    supply_voltage: FloatLike
    wire_resistance: FloatLike
    duty: FloatLike
    speed: FloatLike | None
    largest_flow: FloatArray
    rise: FloatArray
    slope: FloatArray
    wear: FloatLike = 0.0
    vapour_liquid_ratio: FloatLike = 0.0
    fuel_temperature: FloatLike = 293.15

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
        taken: dict[str, FloatArray] = {}
        for name in (*_BATCHED, *_TABLES):
            if getattr(self, name) is None:
                continue
            value = np.asarray(getattr(self, name))
            batched = value.ndim > (name in _TABLES) and value.shape[-1] > 1
            taken[name] = value[..., index] if batched else value
        return replace(self, **taken)  # type: ignore[arg-type]  # names of fields, all of them arrays

    @property
    def flow_factor(self) -> PointArray:
        """Flow over that of the sound pump on cold fuel without vapour."""
        factor: PointArray = (
            (1.0 - np.asarray(self.wear))
            * hot_flow_factor(self.fuel_temperature, self.ratings.hot_flow_loss)
            * vapour_flow_factor(self.vapour_liquid_ratio, self.ratings.tolerated_vapour)
        )
        return factor

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
        electrical = self.duty * voltage * current
        hydraulic = np.maximum(flow, 0.0) * rise
        with np.errstate(divide="ignore", invalid="ignore"):
            efficiency = np.where(electrical > 0.0, hydraulic / electrical, np.nan)
        return PumpOperation(
            current=current,
            terminal_voltage=voltage,
            electrical_power=electrical,
            hydraulic_power=hydraulic,
            efficiency=efficiency,
            wire_power=self.duty * self.wire_resistance * current**2,
            heat_into_fuel=self.ratings.heat_into_fuel * electrical,
            current_source=self.ratings.current_source,
        )

    @property
    def _scaled_flow(self) -> PointArray:
        return np.atleast_1d(self.largest_flow * self.flow_factor)

    def _loss(self, flow: PointArray) -> tuple[PointArray, PointArray]:
        c = self._coefficients
        rise, slope = (x.reshape(len(x), 1, -1) for x in (c.rise, c.slope))
        stacked = c._replace(largest_flow=np.atleast_1d(c.largest_flow)[None], rise=rise, slope=slope)
        loss, tangent = pump_loss(flow[None], stacked)
        return loss[0], tangent[0]

    def _electric(self, pressure_rise: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return terminal voltage and current."""
        bench = self.ratings.bench
        at_bench = np.interp(pressure_rise, bench.pressure[::-1], bench.current[::-1])
        if self.speed is not None:
            # At one pressure the torque is constant, so the power is proportional to speed.
            power = at_bench * self.ratings.bench_voltage * self.speed / bench.bench_drive
            return loaded_voltage_at_power(self.supply_voltage, self.wire_resistance, power)
        voltage, current = loaded_voltage(
            self.supply_voltage,
            self.wire_resistance,
            at_bench,
            bench.current_per_drive,
            bench.bench_drive,
            self.duty,
        )
        return np.asarray(voltage), np.asarray(current)


def run_pump(
    ratings: RunningRatings,
    *,
    supply_voltage: Given,
    wire_resistance: Given,
    duty: Given,
    speed: Given,
    wear: Given,
    vapour_liquid_ratio: Given,
    fuel_temperature: Given,
    fuel_density: Given,
) -> RunningPump:
    """Return a pump under its conditions.

    Parameters
    ----------
    ratings : RunningRatings
        Ratings of the pump.
    supply_voltage, wire_resistance, duty, speed, wear, vapour_liquid_ratio, fuel_temperature, fuel_density
        As `Pump.at`, which calls this.

    Returns
    -------
    RunningPump

    Raises
    ------
    InputError
        For a value outside its plausible range, a speed without speed control, or a duty with it.

    Examples
    --------
    >>> from fuelsim.parts.pump.pump import Pump
    >>> running = Pump.named("in_tank_220").at(supply_voltage="12 V")
    >>> round(float(running.flow("3 bar")) * 3.6e6)
    207
    """
    bench = ratings.bench
    if fuel_density is not None and ratings.fluid_density is not None:
        density = float(_within(fuel_density, "density", 500.0, 1200.0, "fuel_density"))
        bench = on_fluid(bench, density / ratings.fluid_density)
    supply: FloatLike = ratings.bench_voltage
    if supply_voltage is not None:
        supply = _within(supply_voltage, "voltage", 0.0, 60.0, "supply_voltage")
    wire = _within(wire_resistance, "resistance", 0.0, 20.0, "wire_resistance")
    on_fraction = _within(duty, "fraction", 0.0, 1.0, "duty")
    controlled_speed: FloatLike | None = None
    if ratings.bench_speed is None:
        if speed is not None:
            raise InputError("this pump has no speed control", given=speed, accepted="duty", key="speed", part="Pump")
        largest, rise, slope = running_curve(bench, supply, wire, on_fraction, ratings.knots)
    else:
        if np.any(np.asarray(on_fraction) != 1.0):
            raise InputError("the controller sets the speed", given=duty, accepted="speed", key="duty", part="Pump")
        controlled_speed = ratings.bench_speed
        if speed is not None:
            controlled_speed = _within(speed, "engine speed", 0.0, 60e3, "speed")
        largest, rise, slope = running_curve(bench, controlled_speed, 0.0, 1.0, ratings.knots)
    if ratings.relief_pressure is not None:
        rise, slope = relief_limited_rise(
            rise, slope, largest, ratings.relief_pressure, ratings.relief_band, ratings.bench.free_flow
        )
    secant = np.diff(rise, axis=0) * (len(rise) - 1) / largest
    return RunningPump(
        ratings=ratings,
        supply_voltage=supply,
        wire_resistance=wire,
        duty=on_fraction,
        speed=controlled_speed,
        largest_flow=largest,
        rise=rise,
        slope=falling_slopes(slope, secant, (rise[-1] - rise[0]) / largest),
        wear=_within(wear, "fraction", -0.3, 0.95, "wear"),
        vapour_liquid_ratio=_within(vapour_liquid_ratio, "number", -np.inf, np.inf, "vapour_liquid_ratio"),
        fuel_temperature=_within(fuel_temperature, "temperature", 200.0, 420.0, "fuel_temperature"),
    )


def _within(value: Given, kind: str, least: float, most: float, key: str) -> FloatLike:
    number: FloatLike = units.convert(value, kind)
    if np.any((np.asarray(number) < least) | (np.asarray(number) > most)):
        raise InputError(
            "outside the plausible range",
            given=value,
            accepted=f"{kind} from {least:g} to {most:g}",
            key=key,
            part="Pump",
        )
    return number
