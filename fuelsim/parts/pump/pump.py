"""Ratings of electric fuel pumps, from which a running pump is made."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import ClassVar

import numpy as np

from fuelsim.arguments import PRESSURE_DIFFERENCE, number, takes, unchecked
from fuelsim.constants import L_PER_HOUR
from fuelsim.errors import InputError
from fuelsim.fields import Quantity, choice, flag, quantity, series, text
from fuelsim.laws.cold_pump import ColdPump, with_flow_change
from fuelsim.laws.link import LinkLaw
from fuelsim.laws.motor import PumpMap, delivered_flow, drive_delivering
from fuelsim.laws.pump_curve import PUMP_CURVE, PUMP_KNOTS, STRAIGHT_PUMP_KNOTS, PumpCoefficients
from fuelsim.laws.vapour_flow import measured_tolerance
from fuelsim.liquid import Liquid
from fuelsim.parts.batches import require_one_batch, require_single
from fuelsim.parts.catalogue_parts import Catalogued
from fuelsim.parts.part import Part
from fuelsim.parts.pump import fuel_ratings, speed_ratings
from fuelsim.parts.pump.assumptions import pump_assumptions
from fuelsim.parts.pump.construct import FromBench
from fuelsim.parts.pump.pictures import PumpPictures
from fuelsim.parts.pump.pump_map import (
    INTERPOLATIONS,
    BenchRows,
    bench_curve,
    bench_groups,
    build_map,
    winding_resistance,
)
from fuelsim.parts.pump.pump_types import (
    BRUSHLESS_POWER_SHARE,
    BRUSHLESS_SPEED_EXPONENT,
    FULL_SPEED_VOLTAGE,
    PUMP_TYPES,
    WEAR_PRESSURE,
    FlowBand,
    PumpType,
)
from fuelsim.parts.pump.run_pump import CONDITIONS, run_pump
from fuelsim.parts.pump.running_pump import RunningPump
from fuelsim.parts.pump.running_ratings import RunningRatings
from fuelsim.parts.pump.vapour_handling import HotFuelTest, VapourHandling
from fuelsim.parts.wire import Wire
from fuelsim.typing import FloatArray, FloatLike

__all__ = ["Pump"]

_SINGLE = (
    "relief_pressure",
    "voltage_exponent",
    "proportional_share",
    "bench_density",
    "inlet_head_required",
    "hot_flow_loss",
    "cold_flow_change",
    "body_conductance",
    "contact_heat",
    "heat_share",
    "flow_tolerance",
    "relief_band",
    "standing_loss",
    "hot_inlet_pressure",
    "hot_vapour_pressure",
)


@dataclass(frozen=True, eq=False)
class Pump(FromBench, PumpPictures, Part, Catalogued):
    """Ratings of an electric fuel pump: bench rows at one or several voltages, and ratings that no bench row gives.

    A `Pump` in a network runs at its bench voltage, cold and without vapour. `Pump.at` returns the same pump behind a
    wire, at another voltage, worn, slowed or with vapour at its inlet, for one or many operating points. The equations
    are in `fuelsim.laws.motor` and `fuelsim.laws.pump_curve`.

    A record of SAE J1537 gives flow at a rated pressure and voltage, dead-head, hot fuel handling and reverse leak
    [sae_j1537]. At each voltage the pressure of the bench rows falls as the flow grows; the rows may start at any flow.
    Ratings that are left out take the typical figures of the pump's kind, `PUMP_TYPES`; without currents
    `current_source` is "estimated".

    A turbine's pressure is proportional to the density of the fluid. A brushless pump whose controller sets its speed
    holds that speed at any supply voltage that the controller accepts.

    The flow lost from 20 to 60 degC without bubbles is 0.03-0.08 [common_practice]; the heat share is 1 submerged and
    0.85 external [memory]; the flow tolerance is 0.10 for a class of pumps, less for a pump that has been on the bench;
    the relief band and the loss of the pump at rest are guesses [assumed]. Through rows that drop steeply at the end
    the smooth curve can differ from straight lines by tens of kPa.

    Most in-tank pumps have a check valve of their own [common_practice]. Without one, fuel flows backwards
    through a pump against more than its dead-head pressure, as through a weak pump beside a strong one.

    Give the highest dead-head pressure where the figures are those of a class and not of the pump on the bench: the
    ratings of hoses, filters and joints are then compared with it.

    Raises
    ------
    InputError
        For a curve that rises, lists of unequal length, a relief pressure below a bench row that still delivers, or a
        value that is not accepted.

    Examples
    --------
    >>> pump = Pump.from_curve(flow=["274 L/h", "248 L/h", "221 L/h"], pressure=["200 kPa", "300 kPa", "400 kPa"],
    ...                        current=[6.3, 7.5, 8.8], voltage="13.5 V", relief_pressure="750 kPa")
    >>> round(float(pump.at().flow(300e3)) * 3.6e6)
    248
    >>> round(float(pump.at(supply_voltage="13.5 V", wire_resistance=0.1).flow(300e3)) * 3.6e6)
    227
    """

    law: ClassVar[LinkLaw] = PUMP_CURVE
    catalogue_kind: ClassVar[str] = "pumps"

    flow: Quantity = series("volume flow", "Flow of each bench row.", least=0.0, most=1e-2, example="120 L/h")
    pressure: Quantity = series(
        "pressure difference", "Pressure rise of each bench row.", least=-1e5, most=5e6, example="300 kPa"
    )
    current: Quantity = series(
        "current",
        "Current of each bench row; left out, estimated from the kind of pump.",
        least=0.0,
        most=200.0,
        default=None,
        example="7.5 A",
    )
    voltage: Quantity = quantity(
        "voltage",
        "Voltage at the terminals during the test: one for all rows or one for each.",
        least=1.0,
        most=60.0,
        default=13.5,
        example="13.5 V",
        rows=True,
    )
    relief_pressure: Quantity = quantity(
        "pressure difference",
        "Pressure rise at which the pump's relief valve begins to open.",
        least=1e3,
        most=5e6,
        default=None,
        example="700 kPa",
    )
    highest_dead_head: Quantity = quantity(
        "pressure difference",
        "Highest dead-head pressure that a pump of this class may have; ratings of parts are compared with it.",
        least=1e3,
        most=5e6,
        default=None,
        example="850 kPa",
    )
    speed: Quantity = quantity(
        "engine speed",
        "Speed of a speed-controlled brushless pump during the test: one for all rows or one for each.",
        least=100.0,
        most=60_000.0,
        default=None,
        example="6000 rpm",
        rows=True,
    )
    full_speed_voltage: Quantity = speed_ratings.declared_full_speed_voltage()
    type: str = choice(
        tuple(PUMP_TYPES),
        "Kind of pump end, which sets the typical figures of the ratings that are left out.",
        default="turbine",
    )
    mounting: str = choice(("in_tank", "external"), "Place of the pump, in the tank or outside it.", default="in_tank")
    voltage_exponent: Quantity = quantity(
        "number",
        "Exponent of the free flow over voltage or speed, d ln Q / d ln V, where only one was tested.",
        least=0.0,
        most=3.0,
        default=None,
        example="1.2",
    )
    proportional_share: Quantity = quantity(
        "fraction",
        "Fraction of the flow gained by voltage that is proportional to the flow, where only one was tested.",
        least=0.0,
        most=1.0,
        default=None,
    )
    bench_density: Quantity = quantity(
        "density",
        "Density of the bench's fluid near 20 degC.",
        least=600.0,
        most=900.0,
        default=745.0,
        example="745 kg/m3",
    )
    inlet_head_required: Quantity = fuel_ratings.declared_inlet_head()
    vapour_tolerance: Quantity = fuel_ratings.declared_vapour_tolerance()
    inlet_superheat: Quantity = fuel_ratings.declared_superheat()
    hot_flow_share: Quantity = fuel_ratings.declared_hot_flow_share()
    hot_vapour_liquid_ratio: Quantity = fuel_ratings.declared_hot_ratio()
    hot_temperature: Quantity = fuel_ratings.declared_hot_temperature()
    hot_inlet_pressure: Quantity = fuel_ratings.declared_hot_inlet_pressure()
    hot_fuel: str | None = text("Name of the fuel of data/fuels that stands for that of the hot test.", default=None)
    hot_vapour_pressure: Quantity = fuel_ratings.declared_hot_vapour_pressure()
    hot_flow_loss: Quantity = fuel_ratings.declared_hot_flow_loss()
    cold_flow_change: Quantity = fuel_ratings.declared_cold_flow_change()
    body_conductance: Quantity = fuel_ratings.declared_body_conductance()
    contact_heat: Quantity = fuel_ratings.declared_contact_heat()
    heat_share: Quantity = quantity(
        "fraction",
        "Fraction of the electrical power that warms the fuel; left out, 1 in the tank and 0.85 outside.",
        least=0.0,
        most=1.0,
        default=None,
        example="0.85",
    )
    flow_tolerance: Quantity = quantity(
        "fraction",
        "Fraction by which the flow of one pump may differ from the table.",
        least=0.0,
        most=0.5,
        default=0.05,
        example="10 %",
    )
    relief_band: Quantity = quantity(
        "fraction",
        "Fraction of the relief pressure by which the pressure rises until the relief valve passes the whole flow.",
        least=0.005,
        most=0.5,
        default=0.05,
        example="5 %",
    )
    standing_loss: Quantity = quantity(
        "pressure per flow",
        "Fall of the pressure in the pump at rest with the flow that is pushed through it.",
        least=10.0 / L_PER_HOUR,
        most=1e6 / L_PER_HOUR,
        default=3e3 / L_PER_HOUR,
        example="3 kPa h/L",
    )

    interpolation: str = choice(
        INTERPOLATIONS, "Curve through the bench rows, or straight lines between them and beyond.", default="smooth"
    )
    check_valve: bool = flag("Whether the pump has its own check valve.", default=False)

    def check(self) -> None:
        """Check that the bench rows fit together."""
        require_single(self, _SINGLE)
        rows = len(self.flow)
        for key in ("pressure", "current", "voltage", "speed"):
            column = getattr(self, key)
            if column is not None and np.ndim(column) == 1 and len(column) != rows:
                raise InputError(
                    f"{len(column)} values, but {rows} flows", given=column.tolist(), accepted=f"{rows} values", key=key
                )
        require_one_batch(self, ("vapour_tolerance", "inlet_superheat"))
        self._hot_test.check()
        groups = self._groups
        speed_ratings.check_full_speed_voltage(self.full_speed_voltage, self.speed, self.bench_voltage)
        if self.relief_pressure is not None:
            delivering = self.pressure[self.flow > 0.0]
            if np.any(delivering > self.relief_pressure * (1.0 + self.relief_band)):
                raise InputError(
                    "the relief pressure is below a bench row that still delivers",
                    given=self.relief_pressure,
                    accepted=f"at least {float(delivering.max()):g} Pa",
                    key="relief_pressure",
                )
        for rows_at_drive in groups:
            if rows_at_drive.pressure[0] <= 0.0:
                raise InputError(
                    "no bench row has a pressure rise",
                    given=rows_at_drive.pressure.tolist(),
                    accepted="above 0 Pa",
                    key="pressure",
                )

    @cached_property
    def _groups(self) -> list[BenchRows]:
        drive = self.voltage if self.speed is None else self.speed
        return bench_groups(drive, self.flow, self.pressure, self.current)

    @cached_property
    def map(self) -> PumpMap:
        """The pump along its bench curve at the highest voltage or speed tested."""
        kind = self.kind
        exponent = kind.voltage_exponent if self.speed is None else BRUSHLESS_SPEED_EXPONENT
        power_share = 1.0 if self.speed is None else BRUSHLESS_POWER_SHARE
        return build_map(
            self._groups,
            interpolation=self.interpolation,
            voltage_exponent=_first(self.voltage_exponent, exponent),
            proportional_share=_first(self.proportional_share, kind.proportional_share),
            power_at_rest=kind.power_at_rest * power_share,
            power_per_pressure=kind.power_per_pressure * power_share,
            voltage=self.bench_voltage,
        )

    @property
    def kind(self) -> PumpType:
        """Typical figures of this kind of pump."""
        return PUMP_TYPES[self.type]

    @property
    def bench_voltage(self) -> float:
        """Highest voltage tested, V."""
        return float(np.max(self.voltage))

    @property
    def bench_speed(self) -> float | None:
        """Highest speed tested, rpm; None for a pump without speed control."""
        return None if self.speed is None else float(np.max(self.speed))

    @property
    def current_source(self) -> str:
        """``"bench"``, or ``"estimated"`` from the class of pump."""
        return "estimated" if self.current is None else "bench"

    @cached_property
    def dead_head_pressure(self) -> float:
        """Pressure rise at no flow and bench voltage, Pa: that of the open relief valve where the curve exceeds it."""
        own = float(bench_curve(self._groups[-1], self.interpolation)(0.0))
        relief = self.relief_pressure
        return own if relief is None else float(min(own, relief * (1.0 + self.relief_band)))

    @property
    def dead_head_to_withstand(self) -> float:
        """Dead-head pressure that parts behind the pump must withstand, Pa: the highest of its class, if given."""
        own = self.dead_head_pressure
        return own if self.highest_dead_head is None else float(max(own, self.highest_dead_head))

    @property
    def dead_head_source(self) -> str:
        """``"bench"``, ``"relief"`` or, beyond the bench rows, ``"extrapolated"``, which is uncertain."""
        top = self._groups[-1]
        if top.flow[0] == 0.0 and self.dead_head_pressure == top.pressure[0]:
            return "bench"
        if self.relief_pressure is not None and self.dead_head_pressure >= self.relief_pressure:
            return "relief"
        return "extrapolated"

    @property
    def npsh_required(self) -> float:
        """Pressure above the bubble pressure that the inlet needs for quiet running, Pa."""
        return _first(self.inlet_head_required, self.kind.inlet_head.middle)

    @property
    def tolerated_vapour(self) -> FloatLike:
        """V/L at the inlet up to which the flow falls in proportion only."""
        return self.vapour_handling.tolerance

    @cached_property
    def vapour_handling(self) -> VapourHandling:
        """How the flow falls with vapour at the inlet."""
        table = self._hot_test.table(self.hot_flow_loss)
        typical = self.kind.vapour_tolerance.middle if table is None else measured_tolerance(*table)
        return VapourHandling(_first(self.vapour_tolerance, typical), table)

    @property
    def _hot_test(self) -> HotFuelTest:
        return HotFuelTest(
            self.hot_flow_share,
            self.hot_vapour_liquid_ratio,
            self.hot_temperature,
            self.hot_inlet_pressure,
            self.hot_fuel,
            self.hot_vapour_pressure,
        )

    @takes({"vapour_liquid_ratio": number("number", -1.0, 1e6)})
    def vapour_flow_share(self, vapour_liquid_ratio: Quantity) -> FloatArray:
        """Return the liquid flow with vapour at the inlet over that without: as measured, else the assumed form.

        Parameters
        ----------
        vapour_liquid_ratio : float or array (points,)
            V/L at the inlet; negative values count as zero.

        Returns
        -------
        array
            From 1 down, above 0.

        Examples
        --------
        >>> pump = Pump.named("in_tank_220")
        >>> pump.vapour_flow_share(np.array([0.0, 1.0, 4.0])).tolist()
        [1.0, 0.5, 0.1]
        >>> tested = pump.with_values({"hot_vapour_liquid_ratio": [0.3, 1.0], "hot_flow_share": ["70 %", "30 %"]})
        >>> tested.vapour_flow_share(np.array([0.0, 0.3, 1.0])).round(6).tolist()
        [1.0, 0.7, 0.3]
        """
        return self.vapour_handling.flow_share(vapour_liquid_ratio)

    @property
    def heat_into_fuel(self) -> float:
        """Fraction of the electrical power that warms the fuel."""
        return _first(self.heat_share, 1.0 if self.mounting == "in_tank" else 0.85)

    @cached_property
    def winding_resistance(self) -> float:
        """Greatest resistance of the motor's winding that its curve allows, ohm; 0 for a controlled speed."""
        if self.speed is not None:
            return 0.0
        return winding_resistance(self.map, float(np.max(self.pressure)), self.bench_voltage, rotor=self.kind.rotor)

    @cached_property
    def worn_leak(self) -> float:
        """Internal leak over pressure rise of a pump with a wear of 1, m3/s/Pa.

        A wear w takes the fraction w of the flow at `WEAR_PRESSURE` times the dead-head pressure, at bench voltage.
        """
        counted_at = WEAR_PRESSURE * self.dead_head_pressure
        return float(delivered_flow(self.map, self.map.bench_drive, counted_at)) / counted_at

    @property
    def _cold(self) -> ColdPump:
        cold = self.kind.cold if self.speed is None else self.kind.cold._replace(flow_per_torque=0.0)
        return cold if self.cold_flow_change is None else with_flow_change(cold, self.cold_flow_change)

    @property
    def running_ratings(self) -> RunningRatings:
        """Ratings that a running pump depends on."""
        return RunningRatings(
            bench=self.map._replace(winding_resistance=self.winding_resistance),
            knots=PUMP_KNOTS if self.interpolation == "smooth" else STRAIGHT_PUMP_KNOTS,
            bench_voltage=self.bench_voltage,
            bench_speed=self.bench_speed,
            full_speed_voltage=_first(self.full_speed_voltage, FULL_SPEED_VOLTAGE * self.bench_voltage),
            fluid_density=self.bench_density if self.type == "turbine" else None,
            relief_pressure=self.relief_pressure,
            relief_band=self.relief_band,
            check_valve=self.check_valve,
            hot_flow_loss=self.hot_flow_loss,
            vapour_handling=self.vapour_handling,
            heat_into_fuel=self.heat_into_fuel,
            current_source=self.current_source,
            winding_resistance=self.winding_resistance,
            rotor=self.kind.rotor,
            worn_leak=self.worn_leak,
            standing_loss=self.standing_loss,
            cold=self._cold,
        )

    @takes(CONDITIONS)
    def at(
        self,
        *,
        supply_voltage: Quantity = None,
        wire: Wire | None = None,
        wire_resistance: Quantity = 0.0,
        duty: Quantity = 1.0,
        speed: Quantity = None,
        wear: Quantity = 0.0,
        vapour_liquid_ratio: Quantity = 0.0,
        fuel_temperature: Quantity = 293.15,
        fuel_density: Quantity = None,
    ) -> RunningPump:
        """Return this pump running under one or many conditions.

        Parameters
        ----------
        supply_voltage : float, str or array (points,), optional
            Voltage at the start of the circuit, V; the bench voltage if not given.
        wire : Wire, optional
            Circuit between supply and pump.
        wire_resistance : float, str or array (points,)
            Resistance of the circuit where no `wire` is given, ohm.
        duty : float or array (points,)
            Fraction of time the supply is switched on.
        speed : float, str or array (points,), optional
            Speed of a speed-controlled pump, rpm; the highest speed tested if not given.
        wear : float or array (points,)
            Fraction of the flow at a third of the dead-head pressure that leaks through worn clearances, at bench
            voltage; the leak is in proportion to the pressure rise, so that it lowers the dead-head pressure. A
            negative one raises the flow of the table by this fraction at every pressure, as tolerance bands need.
        vapour_liquid_ratio : float or array (points,)
            V/L at the inlet.
        fuel_temperature : float, str or array (points,)
            Temperature of the fuel at the inlet, K.
        fuel_density : float, str or array (points,), optional
            Density of the fuel at 20 degC, kg/m3; that of the bench's fluid if left out. The effect of warm fuel is in
            `hot_flow_loss`.

        Returns
        -------
        RunningPump

        Raises
        ------
        InputError
            For a value that is not plausible.

        Examples
        --------
        >>> pump = Pump.from_curve(["100 L/h", "150 L/h"], ["4 bar", "2 bar"], current=[6.0, 4.0])
        >>> running = pump.at(supply_voltage=[11.0, 13.5], wire_resistance=0.05)
        >>> running.terminal_voltage(300e3).tolist()
        [10.75, 13.25]
        """
        return run_pump(
            self.running_ratings,
            supply_voltage=supply_voltage,
            wire_resistance=wire_resistance if wire is None else wire.resistance,
            duty=duty,
            speed=speed,
            wear=wear,
            vapour_liquid_ratio=vapour_liquid_ratio,
            fuel_temperature=fuel_temperature,
            fuel_density=fuel_density,
        )

    @takes({"pressure_rise": PRESSURE_DIFFERENCE})
    def least_drive(self, pressure_rise: Quantity) -> FloatArray:
        """Return the least voltage at the motor, or speed, at which the sound pump delivers anything.

        Divided by the supply voltage it is the least useful duty.

        Parameters
        ----------
        pressure_rise : float, str or array
            Pressure rise, Pa.

        Returns
        -------
        array
            Voltage, V, or speed of a speed-controlled pump, rpm.

        Examples
        --------
        >>> pump = Pump.from_curve(["274 L/h", "248 L/h", "221 L/h"], ["2 bar", "3 bar", "4 bar"])
        >>> round(float(pump.least_drive("3 bar")), 1)
        4.8
        """
        return drive_delivering(self.map, 0.0, np.asarray(pressure_rise))

    @takes({"pressure_rise": PRESSURE_DIFFERENCE})
    def flow_band(self, pressure_rise: Quantity) -> FlowBand:
        """Return the least and the greatest flow of a sound pump within its tolerance, at bench voltage.

        Parameters
        ----------
        pressure_rise : float, str or array
            Pressure rise, Pa.

        Returns
        -------
        FlowBand

        Examples
        --------
        >>> least, greatest = Pump.named("in_tank_220").flow_band("3 bar")
        >>> round(float(least) * 3.6e6), round(float(greatest) * 3.6e6)
        (223, 273)
        """
        flow = self._at_bench.flow(pressure_rise)
        return FlowBand(flow * (1.0 - self.flow_tolerance), flow * (1.0 + self.flow_tolerance))

    @cached_property
    def fit_error(self) -> FloatArray:
        """Flow of the curve less that of each bench row, at the row's own pressure and voltage or speed, m3/s (rows,).

        Zero but for rounding, except where the curve of a lower voltage had to be continued beyond its rows.

        Examples
        --------
        >>> error = Pump.named("in_tank_220").fit_error * 3.6e6  # L/h, at 12 and 13.5 V
        >>> float(np.abs(error).max()) < 0.01
        True
        """
        drive = np.broadcast_to(self.voltage if self.speed is None else self.speed, self.flow.shape)
        own = self if self.relief_pressure is None else self.with_values({"relief_pressure": None})
        at = unchecked(own.at)
        running = at(supply_voltage=drive) if self.speed is None else at(speed=drive)
        error: FloatArray = running.flow(self.pressure) - self.flow
        return error

    @property
    def assumptions(self) -> list[str]:
        """Sentences on the ratings that were not given and are typical instead, in the preferred units."""
        return pump_assumptions(
            self,
            self.kind,
            tables=len(self._groups),
            estimated_current=self.current_source == "estimated",
            extrapolated_dead_head=self.dead_head_pressure if self.dead_head_source == "extrapolated" else None,
        )

    @cached_property
    def _at_bench(self) -> RunningPump:
        return self.at()

    @takes()
    def coefficients(self, liquid: Liquid) -> PumpCoefficients:
        """Return the law's coefficients at bench voltage, cold and free of vapour."""
        return self._at_bench.coefficients(liquid)


def _first(given: float | None, typical: float) -> float:
    return typical if given is None else given
