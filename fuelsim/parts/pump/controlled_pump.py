"""A pump slowed by a controller so that the pressure at a sensor stays at its set value."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from fuelsim.arguments import takes
from fuelsim.constants import L_PER_HOUR
from fuelsim.errors import InputError
from fuelsim.fields import Quantity, quantity, table
from fuelsim.laws.controlled_pump import CONTROLLED_PUMP, ControlledPumpCoefficients
from fuelsim.laws.link import LinkLaw, Regime
from fuelsim.laws.pump_curve import PUMP_CURVE, PumpCoefficients, standing_table
from fuelsim.liquid import Liquid
from fuelsim.parts.part import Part
from fuelsim.parts.pump.inlet_gas import InletGas
from fuelsim.parts.pump.running_pump import PumpOperation, RunningPump
from fuelsim.parts.regulator import declared_droop, declared_set_pressure
from fuelsim.typing import FloatLike, IndexArray, TextArray

__all__ = ["ControlledPump", "ControlledRunningPump"]


def _in_words(reference: str | None, base: str) -> str:
    held = "of the atmosphere" if reference is None else f"of '{reference}'"
    return f"{held} above {base}"


@dataclass(frozen=True)
class ControlledPump(Part):
    """A pump slowed on demand so that the pressure at the reference node stays at a set value.

    Connect it with ``reference=`` the node whose pressure is held, usually the rail. The set pressure is that of this
    node above the pump's inlet or, where one is given, above the base pressure, such as that of the intake manifold.

    Raises
    ------
    InputError
        For a pump that does not follow the pump-curve law, or a value that is not accepted.

    Examples
    --------
    >>> from fuelsim.parts.pump.pump import Pump
    >>> ControlledPump(pump=Pump.named("in_tank_220"), set_pressure="400 kPa").set_pressure
    400000.0
    """

    law: ClassVar[LinkLaw] = CONTROLLED_PUMP

    pump: Part = table(Part, "Pump at full speed: any part that follows the pump-curve law.")
    set_pressure: Quantity = declared_set_pressure(
        "Pressure of the reference node above the pump's inlet, or above the base pressure.", "400 kPa"
    )
    droop: Quantity = declared_droop("Fall of the held pressure with the flow.")
    stopped_pressure: Quantity = quantity(
        "pressure difference",
        "Loss of the standing pump at the stopped flow.",
        least=1e3,
        most=1e7,
        default=300e3,
        example="300 kPa",
    )
    stopped_flow: Quantity = quantity(
        "volume flow",
        "Flow through the standing pump at which its loss is given.",
        least=1.0 * L_PER_HOUR,
        most=10000.0 * L_PER_HOUR,
        default=100.0 * L_PER_HOUR,
        example="100 L/h",
    )
    slowest: Part | None = table(
        Part, "Pump at the least speed that the controller gives; left out, the controller stops it.", default=None
    )
    base_pressure: Quantity = quantity(
        "absolute pressure",
        "Pressure above which the set pressure is held; left out, that of the pump's inlet.",
        least=0.0,
        most=1e7,
        default=None,
        example="101.3 kPa absolute",
    )

    def check(self) -> None:
        """Refuse a pump of another law."""
        for key, pump in (("pump", self.pump), ("slowest", self.slowest)):
            if pump is not None and pump.law is not PUMP_CURVE:
                raise InputError("no pump", given=pump, accepted="a part that follows the pump curve law", key=key)

    @takes()
    def coefficients(self, liquid: Liquid) -> ControlledPumpCoefficients:
        """Return the coefficients of the controlled pump law."""
        most = PumpCoefficients._make(self.pump.coefficients(liquid))
        if self.slowest is None:
            standing = standing_table(most.largest_flow, self.stopped_pressure / self.stopped_flow, len(most.rise))
            least = PumpCoefficients(*standing, most.relief_pressure)
        else:
            least = PumpCoefficients._make(self.slowest.coefficients(liquid))
        return _coefficients(most, least, self.set_pressure, self.droop, self.base_pressure)

    @takes()
    def reference_in_words(self, outlet: str, reference: str | None) -> str:
        """Return which pressure is held above which.

        Parameters
        ----------
        outlet : str
            Station at the outlet.
        reference : str or None
            Station whose pressure is held; None for the atmosphere.

        Returns
        -------
        str

        Examples
        --------
        >>> from fuelsim.parts.pump.pump import Pump
        >>> pump = ControlledPump(pump=Pump.named("in_tank_220"), set_pressure="400 kPa")
        >>> pump.reference_in_words("outlet", "rail")
        "of 'rail' above the pump's inlet"
        """
        return _in_words(reference, "the pump's inlet" if self.base_pressure is None else "its base pressure")


def _coefficients(
    most: PumpCoefficients,
    least: PumpCoefficients,
    set_pressure: FloatLike,
    droop: FloatLike,
    base_pressure: FloatLike | None,
) -> ControlledPumpCoefficients:
    return ControlledPumpCoefficients(
        *most,
        least.largest_flow,
        least.rise,
        least.slope,
        set_pressure=set_pressure,
        droop=droop,
        base_pressure=0.0 if base_pressure is None else base_pressure,
        above_inlet=1.0 if base_pressure is None else 0.0,
    )


@dataclass(frozen=True, eq=False)
class ControlledRunningPump(Part):
    """A running pump whose controller holds a pressure by duty or speed. Made by `PumpControl.running`.

    It is a link of a network; its reference is the node at the sensor.

    Attributes
    ----------
    fastest, slowest : RunningPump
        The pump at the greatest and at the least duty or speed that the controller gives.
    set_pressure : float or array (points,)
        Pressure at the sensor above the base pressure at no flow, Pa.
    droop : float or array (points,)
        Fall of the held pressure with the flow, Pa s/m3.
    base_pressure : float, array (points,) or None
        Pressure above which the set pressure is held, Pa absolute; None for that of the pump's inlet.
    gas : InletGas or None
        Gas at the inlet; None for none beside the vapour that the pumps have.
    """

    law: ClassVar[LinkLaw] = CONTROLLED_PUMP

    fastest: RunningPump
    slowest: RunningPump
    set_pressure: FloatLike
    droop: FloatLike
    base_pressure: FloatLike | None = None
    gas: InletGas | None = None

    def with_inlet(self, *, vapour_liquid_ratio: FloatLike, fuel_temperature: FloatLike) -> ControlledRunningPump:
        """Return the same pump with other fuel at its inlet, as `RunningPump.with_inlet`.

        Parameters
        ----------
        vapour_liquid_ratio : float or array (points,)
            V/L at the inlet.
        fuel_temperature : float or array (points,)
            Temperature of the fuel at the inlet, K.

        Returns
        -------
        ControlledRunningPump

        Examples
        --------
        >>> from fuelsim.parts.pump.control import PumpControl
        >>> from fuelsim.parts.pump.pump import Pump
        >>> control = PumpControl(set_pressure="400 kPa", reference="inlet")
        >>> pump = control.running(Pump.named("in_tank_220"), supply_voltage=[12.0, 13.5])
        >>> pump.with_inlet(vapour_liquid_ratio=0.5, fuel_temperature=333.15).slowest.vapour_liquid_ratio
        0.5
        """
        fastest, slowest = (
            pump.with_inlet(vapour_liquid_ratio=vapour_liquid_ratio, fuel_temperature=fuel_temperature)
            for pump in (self.fastest, self.slowest)
        )
        return replace(self, fastest=fastest, slowest=slowest)

    def take(self, index: IndexArray) -> ControlledRunningPump:
        """Return the pump at some of its operating points only.

        Parameters
        ----------
        index : int array
            Indices of the operating points.

        Returns
        -------
        ControlledRunningPump

        Examples
        --------
        >>> from fuelsim.parts.pump.control import PumpControl
        >>> from fuelsim.parts.pump.pump import Pump
        >>> control = PumpControl(set_pressure="400 kPa", reference="inlet")
        >>> pump = control.running(Pump.named("in_tank_220"), supply_voltage=[12.0, 13.5])
        >>> pump.take(np.array([1])).fastest.supply_voltage.tolist()
        [13.5]
        """

        def some(values: FloatLike) -> FloatLike:
            return np.asarray(values)[index] if np.ndim(values) and np.size(values) > 1 else values

        return replace(
            self,
            fastest=self.fastest.take(index),
            slowest=self.slowest.take(index),
            set_pressure=some(self.set_pressure),
            droop=some(self.droop),
            base_pressure=None if self.base_pressure is None else some(self.base_pressure),
        )

    @takes()
    def coefficients(self, liquid: Liquid) -> ControlledPumpCoefficients:
        """Return the coefficients of the controlled pump law; the liquid does not matter."""
        most, least = (pump.coefficients(liquid) for pump in (self.fastest, self.slowest))
        own = _coefficients(most, least, self.set_pressure, self.droop, self.base_pressure)
        return own if self.gas is None else own._replace(**self.gas.of_turning(self.fastest.stands)._asdict())

    def operating(self, flow: FloatLike, pressure_rise: FloatLike, regime: TextArray) -> PumpOperation:
        """Return share, current, power and heat at solved flows and pressure rises.

        Where the pump is regulated, its duty or speed is the one at which it delivers the flow at the pressure rise.

        Parameters
        ----------
        flow : float or array (points,)
            Volume flow, m3/s.
        pressure_rise : float or array (points,)
            Pressure rise, Pa.
        regime : array of str (points,)
            What the controller does, as the network says.

        Returns
        -------
        PumpOperation

        Examples
        --------
        >>> from fuelsim.parts.pump.control import PumpControl
        >>> from fuelsim.parts.pump.pump import Pump
        >>> control = PumpControl(set_pressure="400 kPa", least_share="30 %")
        >>> pump = control.running(Pump.named("in_tank_220"), supply_voltage=13.5, base_pressure=101325.0)
        >>> at = pump.operating(np.array([20.0, 100.0]) / 3.6e6, 400e3, np.array(["regulating", "regulating"]))
        >>> at.share.round(2).tolist()
        [0.46, 0.67]
        """
        least, most = self.slowest.share, self.fastest.share
        at = np.asarray(regime)
        share = np.clip(self.fastest.share_delivering(flow, pressure_rise), least, most)
        share = np.where(at == Regime.FULL_SPEED, most, share)
        share = np.where((at == Regime.LEAST_SPEED) | (at == Regime.STOPPED), least, share)
        return self.fastest.at_share(share).operating(flow, pressure_rise)

    @takes()
    def reference_in_words(self, outlet: str, reference: str | None) -> str:
        """Return which pressure is held above which.

        Parameters
        ----------
        outlet : str
            Station at the outlet.
        reference : str or None
            Station at the sensor; None for the atmosphere.

        Returns
        -------
        str

        Examples
        --------
        >>> from fuelsim.parts.pump.control import PumpControl
        >>> from fuelsim.parts.pump.pump import Pump
        >>> control = PumpControl(set_pressure="400 kPa", reference="inlet")
        >>> pump = control.running(Pump.named("in_tank_220"), supply_voltage=[12.0, 13.5])
        >>> pump.reference_in_words("outlet", "rail")
        "of 'rail' above the pump's inlet"
        """
        return _in_words(reference, "the pump's inlet" if self.base_pressure is None else "its base pressure")
