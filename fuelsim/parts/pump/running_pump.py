"""A pump under given conditions: the curve the network sees, and the amps and watts behind it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

from fuelsim import units
from fuelsim.errors import InputError
from fuelsim.laws.link import LinkLaw
from fuelsim.laws.liquid import Liquid
from fuelsim.laws.motor import (
    hot_flow_factor,
    loaded_voltage,
    loaded_voltage_at_power,
    on_fluid,
    relief_limited_rise,
    running_curve,
    vapour_flow_factor,
)
from fuelsim.laws.pump_curve import PUMP_CURVE, PUMP_KNOTS, PumpCoefficients, pump_loss
from fuelsim.numerics.bracket import bisect
from fuelsim.numerics.cubic import falling_slopes
from fuelsim.parts.part import Part

if TYPE_CHECKING:
    from fuelsim.parts.pump.pump import Pump

__all__ = ["PumpOperation", "RunningPump", "run_pump"]

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


@dataclass(frozen=True)
class PumpOperation:
    """What a running pump draws and does; every field is an array (points,).

    Attributes
    ----------
    current : array
        Of the motor while switched on, A.
    terminal_voltage : array
        At the pump while switched on, V.
    electrical_power : array
        Taken at the terminals, W.
    hydraulic_power : array
        Flow times pressure rise, W.
    efficiency : array
        Hydraulic over electrical power.
    wire_power : array
        Lost between supply and pump, W.
    heat_into_fuel : array
        Share of the electrical power that warms the fuel, W; the hydraulic power is part of it and turns into heat
        where the pressure is lost.
    current_source : str
        ``"bench"`` or ``"estimated"``.
    """

    current: Any
    terminal_voltage: Any
    electrical_power: Any
    hydraulic_power: Any
    efficiency: Any
    wire_power: Any
    heat_into_fuel: Any
    current_source: str


@dataclass(frozen=True, eq=False)
class RunningPump(Part):
    """A pump at its supply voltage, behind its wire, with its wear and the state of the fuel at its inlet.

    It is a link like its `Pump`: the network asks for `coefficients`. Made by `Pump.at`.

    Attributes
    ----------
    pump : Pump
        The ratings.
    supply_voltage, wire_resistance, duty : float or array (points,)
        V, ohm and share.
    speed : float or array (points,) or None
        rpm, of a speed-controlled pump.
    largest_flow, rise, slope : array
        The curve of the sound pump on cold fuel without vapour: (1 or points,) and (knots, 1 or points).
    wear, vapour_liquid_ratio, fuel_temperature : float or array (points,)
        Share of flow lost; V/L and K at the inlet.
    """

    law: ClassVar[LinkLaw] = PUMP_CURVE

    pump: Pump
    supply_voltage: Any
    wire_resistance: Any
    duty: Any
    speed: Any
    largest_flow: Any
    rise: Any
    slope: Any
    wear: Any = 0.0
    vapour_liquid_ratio: Any = 0.0
    fuel_temperature: Any = 293.15

    def with_inlet(self, *, vapour_liquid_ratio: Any, fuel_temperature: Any) -> RunningPump:
        """Return the same pump with other fuel at its inlet; the curve is not computed again.

        Parameters
        ----------
        vapour_liquid_ratio : float or array (points,)
        fuel_temperature : float or array (points,)
            K.
        """
        return replace(self, vapour_liquid_ratio=vapour_liquid_ratio, fuel_temperature=fuel_temperature)

    def take(self, index: Any) -> RunningPump:
        """Return the pump at some of its operating points only.

        Parameters
        ----------
        index : int array
            Which points.
        """
        taken: dict[str, Any] = {}
        for name in (*_BATCHED, *_TABLES):
            if getattr(self, name) is None:
                continue
            value = np.asarray(getattr(self, name))
            batched = value.ndim > (name in _TABLES) and value.shape[-1] > 1
            taken[name] = value[..., index] if batched else value
        return replace(self, **taken)

    @property
    def flow_factor(self) -> Any:
        """Flow over that of the sound pump on cold fuel without vapour."""
        return (
            (1.0 - np.asarray(self.wear))
            * hot_flow_factor(self.fuel_temperature, self.pump.hot_flow_loss)
            * vapour_flow_factor(self.vapour_liquid_ratio, self.pump.tolerated_vapour)
        )

    def coefficients(self, liquid: Liquid) -> PumpCoefficients:
        """Return the coefficients of the pump curve law; the liquid does not matter."""
        return self._coefficients

    @property
    def _coefficients(self) -> PumpCoefficients:
        factor = self.flow_factor
        relief = self.pump.relief_pressure
        curve = (self.largest_flow * factor, self.rise, self.slope / factor)
        # One operating point is a number, not a list of one, so that it goes with lists of any length.
        largest, rise, slope = (value[..., 0] if np.ndim(value) and value.shape[-1] == 1 else value for value in curve)
        return PumpCoefficients(largest, rise, slope, np.inf if relief is None else relief)

    def pressure_rise(self, flow: Any) -> Any:
        """Return the pressure rise at a flow.

        Parameters
        ----------
        flow : float, str or array (points,)
            m3/s.

        Returns
        -------
        array
            Pa.
        """
        flow = self._asked(flow, "volume flow")
        loss = self._loss(np.atleast_1d(flow))[0]
        single = flow.ndim == 0 and loss.shape == (1,)
        return -loss[0] if single else -loss

    def flow(self, pressure_rise: Any) -> Any:
        """Return the flow at a pressure rise, by bisection of the curve the network solves with.

        Parameters
        ----------
        pressure_rise : float, str or array (points,)
            Pa.

        Returns
        -------
        array
            m3/s; negative above the dead-head pressure.
        """
        wanted = self._asked(pressure_rise, "pressure difference")
        shape = np.broadcast_shapes(np.atleast_1d(wanted).shape, self._scaled_flow.shape)
        low, high = (np.broadcast_to(side * self._scaled_flow, shape) for side in (-2.0, 3.0))
        found = bisect(lambda flow: -self._loss(flow)[0] > wanted, low, high, 60)
        return found[0] if wanted.ndim == 0 and found.shape == (1,) else found

    def current(self, pressure_rise: Any) -> Any:
        """Return the motor's current, A, at a pressure rise, Pa."""
        return self._electric(self._asked(pressure_rise, "pressure difference"))[1]

    def terminal_voltage(self, pressure_rise: Any) -> Any:
        """Return the voltage at the pump while switched on, V, at a pressure rise, Pa."""
        return self._electric(self._asked(pressure_rise, "pressure difference"))[0]

    def _asked(self, value: Any, kind: str) -> Any:
        """Return in SI what is asked, one value or as many as the pump has operating points."""
        asked, points = np.asarray(units.convert(value, kind)), np.shape(self._scaled_flow)[-1]
        if asked.ndim and asked.shape[-1] not in (1, points) and points != 1:
            raise InputError(
                f"{asked.shape[-1]} values, but {points} operating points of the pump",
                given=asked.tolist(),
                accepted=f"one value or {points}",
                key=kind.replace(" ", "_"),
            )
        return asked

    def operating(self, flow: Any, pressure_rise: Any) -> PumpOperation:
        """Return what the pump draws and does at solved flows and pressure rises.

        Parameters
        ----------
        flow : array (points,)
            m3/s.
        pressure_rise : array (points,)
            Pa.

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
        flow, pressure_rise = np.asarray(flow, dtype=float), np.asarray(pressure_rise, dtype=float)
        voltage, current = self._electric(pressure_rise)
        electrical = self.duty * voltage * current
        hydraulic = np.maximum(flow, 0.0) * pressure_rise
        with np.errstate(divide="ignore", invalid="ignore"):
            efficiency = np.where(electrical > 0.0, hydraulic / electrical, np.nan)
        return PumpOperation(
            current=current,
            terminal_voltage=voltage,
            electrical_power=electrical,
            hydraulic_power=hydraulic,
            efficiency=efficiency,
            wire_power=self.duty * self.wire_resistance * current**2,
            heat_into_fuel=self.pump.heat_into_fuel * electrical,
            current_source=self.pump.current_source,
        )

    @property
    def _scaled_flow(self) -> Any:
        return np.atleast_1d(self.largest_flow * self.flow_factor)

    def _loss(self, flow: Any) -> tuple[Any, Any]:
        c = self._coefficients
        rise, slope = (x.reshape(len(x), 1, -1) for x in (c.rise, c.slope))
        stacked = c._replace(largest_flow=np.atleast_1d(c.largest_flow)[None], rise=rise, slope=slope)
        loss, tangent = pump_loss(flow[None], stacked)
        return loss[0], tangent[0]

    def _electric(self, pressure_rise: Any) -> tuple[Any, Any]:
        bench = self.pump.map
        pressure = np.asarray(pressure_rise, dtype=float)
        at_bench = np.interp(pressure, bench.pressure[::-1], bench.current[::-1])
        if self.speed is not None:
            # At one pressure the torque stays, so the power follows the speed.
            power = at_bench * self.pump.bench_voltage * self.speed / bench.bench_drive
            return loaded_voltage_at_power(self.supply_voltage, self.wire_resistance, power)
        return loaded_voltage(
            self.supply_voltage,
            self.wire_resistance,
            at_bench,
            bench.current_per_drive,
            bench.bench_drive,
            self.duty,
        )


def run_pump(
    pump: Pump,
    *,
    supply_voltage: Any,
    wire_resistance: Any,
    duty: Any,
    speed: Any,
    wear: Any,
    vapour_liquid_ratio: Any,
    fuel_temperature: Any,
    fuel_density: Any,
) -> RunningPump:
    """Return a pump under its conditions; see `Pump.at`."""
    bench = pump.map
    if fuel_density is not None and pump.type == "turbine":
        bench = on_fluid(bench, _within(fuel_density, "density", 500.0, 1200.0, "fuel_density") / pump.bench_density)
    supply = pump.bench_voltage
    if supply_voltage is not None:
        supply = _within(supply_voltage, "voltage", 0.0, 60.0, "supply_voltage")
    wire = _within(wire_resistance, "resistance", 0.0, 20.0, "wire_resistance")
    share = _within(duty, "fraction", 0.0, 1.0, "duty")
    if pump.speed is None:
        if speed is not None:
            raise InputError("this pump has no speed control", given=speed, accepted="duty", key="speed", part="Pump")
        largest, rise, slope = running_curve(bench, supply, wire, share, PUMP_KNOTS)
    else:
        if np.any(np.asarray(share) != 1.0):
            raise InputError("the controller sets the speed", given=duty, accepted="speed", key="duty", part="Pump")
        speed = pump.bench_speed if speed is None else _within(speed, "engine speed", 0.0, 60e3, "speed")
        largest, rise, slope = running_curve(bench, speed, 0.0, 1.0, PUMP_KNOTS)
    if pump.relief_pressure is not None:
        rise, slope = relief_limited_rise(
            rise, slope, largest, pump.relief_pressure, pump.relief_band, pump.map.free_flow
        )
    return RunningPump(
        pump=pump,
        supply_voltage=supply,
        wire_resistance=wire,
        duty=share,
        speed=speed,
        largest_flow=largest,
        rise=rise,
        slope=falling_slopes(slope, np.diff(rise, axis=0) * (len(rise) - 1) / largest, (rise[-1] - rise[0]) / largest),
        wear=_within(wear, "fraction", -0.3, 0.95, "wear"),
        vapour_liquid_ratio=_within(vapour_liquid_ratio, "number", -np.inf, np.inf, "vapour_liquid_ratio"),
        fuel_temperature=_within(fuel_temperature, "temperature", 200.0, 420.0, "fuel_temperature"),
    )


def _within(value: Any, kind: str, least: float, most: float, key: str) -> Any:
    number = units.convert(value, kind)
    if np.any((np.asarray(number) < least) | (np.asarray(number) > most)):
        raise InputError(
            "outside the plausible range",
            given=value,
            accepted=f"{kind} from {least:g} to {most:g}",
            key=key,
            part="Pump",
        )
    return number
