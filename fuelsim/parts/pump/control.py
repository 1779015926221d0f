"""The controller of a pump, which holds a pressure by the pump's duty or speed, and the stage of a second pump."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, NamedTuple

import numpy as np

from fuelsim.arguments import number, takes, unchecked
from fuelsim.declaration import declarations
from fuelsim.errors import InputError
from fuelsim.fields import Quantity, Ratings, choice, quantity, text
from fuelsim.parts.pump.controlled_pump import ControlledRunningPump
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.pump.run_pump import CONDITIONS
from fuelsim.parts.regulator import declared_droop, declared_set_pressure
from fuelsim.typing import BoolArray, FloatArray, Given

__all__ = ["OUTLET_SENSOR", "STAGE_MEASURES", "PumpControl", "PumpStage", "switched"]

OUTLET_SENSOR = "outlet"
"""Name of a sensor at the pump's own outlet."""


@dataclass(frozen=True, eq=False)
class PumpControl(Ratings):
    """A controller that holds a pressure by slowing the pump: no regulator is needed, and no fuel returns.

    A pump with speed control is slowed by its speed, any other by its duty. The controller takes its pressure at a
    sensor and holds it above its reference; a manifold reference keeps the pressure across the injectors. An
    integrating controller has nearly no droop.

    Below the least share the pump stays at it and the pressure rises over the set pressure; a controller without a
    least share may stop the pump.

    Examples
    --------
    >>> control = PumpControl(set_pressure="300 kPa", reference="manifold", least_share="30 %")
    >>> control.set_pressure, control.least_share
    (300000.0, 0.3)
    """

    set_pressure: Quantity = declared_set_pressure(
        "Pressure at the sensor above the reference that is held at no flow.", "400 kPa"
    )
    reference: str = choice(
        ("atmosphere", "manifold", "inlet"), "Pressure above which the set pressure is held.", default="atmosphere"
    )
    sensor: str | None = text(
        "Place of the pressure sensor: the name of a rail, or 'outlet' for the pump's own; left out, the first rail"
        " downstream.",
        default=None,
        example="outlet",
    )
    droop: Quantity = declared_droop("Fall of the held pressure with the flow through the pump.")
    least_share: Quantity = quantity(
        "fraction",
        "Least share that the controller gives: of the time switched on, or of the highest speed tested.",
        least=0.0,
        most=1.0,
        default=0.0,
        example="30 %",
    )
    most_share: Quantity = quantity(
        "fraction",
        "Greatest share that the controller gives: of the time switched on, or of the highest speed tested.",
        least=0.0,
        most=1.0,
        default=1.0,
        example="100 %",
    )

    def check(self) -> None:
        """Check the order of the shares."""
        if np.any(np.asarray(self.most_share) <= self.least_share):
            raise InputError(
                "not above the least share",
                given=self.most_share,
                accepted=f"above {float(np.max(self.least_share)):g}",
                key="most_share",
            )

    @takes(
        {key: CONDITIONS[key] for key in ("supply_voltage", "wire_resistance", "wear", "fuel_density")}
        | {"base_pressure": number("absolute pressure", 1e3, 1e6, example="101 kPa", flat=True, optional=True)}
    )
    def running(
        self,
        pump: Pump,
        *,
        supply_voltage: Quantity = None,
        wire_resistance: Quantity = 0.0,
        wear: Quantity = 0.0,
        fuel_density: Quantity = None,
        base_pressure: Quantity = None,
    ) -> ControlledRunningPump:
        """Return a pump under this controller at one or many operating points.

        Parameters
        ----------
        pump : Pump
            The pump.
        supply_voltage, wire_resistance, wear, fuel_density : optional
            As `Pump.at`. Without voltage the pump stands.
        base_pressure : float, str or array (points,), optional
            Pressure of the reference, Pa absolute; not needed where that is the pump's inlet.

        Returns
        -------
        ControlledRunningPump

        Raises
        ------
        InputError
            For a value that is not plausible, or no base pressure where the reference needs one.

        Examples
        --------
        >>> control = PumpControl(set_pressure="400 kPa", least_share="30 %")
        >>> pump = control.running(Pump.named("in_tank_220"), base_pressure=101325.0)
        >>> float(pump.slowest.share), float(pump.fastest.share)
        (0.3, 1.0)
        """
        above_inlet = self.reference == "inlet"
        if base_pressure is None and not above_inlet:
            raise InputError(
                f"no pressure of the {self.reference}", accepted="a pressure in Pa absolute", key="base_pressure"
            )
        slowest, fastest = (
            unchecked(pump.at)(
                supply_voltage=supply_voltage,
                wire_resistance=wire_resistance,
                wear=wear,
                fuel_density=fuel_density,
                duty=share if pump.bench_speed is None else 1.0,
                speed=None if pump.bench_speed is None else share * np.asarray(pump.bench_speed),
            )
            for share in (self.least_share, self.most_share)
        )
        return ControlledRunningPump(
            fastest, slowest, self.set_pressure, self.droop, None if above_inlet else base_pressure
        )


class _Measure(NamedTuple):
    """What a stage goes by: a name, whether the pump is on above its thresholds, and the thresholds' keys."""

    name: str
    on_above: bool

    @property
    def keys(self) -> tuple[str, str]:
        """Keys of the thresholds at which the pump is switched on and off."""
        return f"{self.name}_on", f"{self.name}_off"


_MEASURES = (_Measure("demand", True), _Measure("pressure", False), _Measure("manifold_pressure", True))
STAGE_MEASURES = tuple(measure.name for measure in _MEASURES)
"""What a second pump may be staged by."""


def _threshold(kind: str, doc: str, least: float, most: float, example: str) -> Quantity:
    return quantity(kind, doc, least=least, most=most, default=None, example=example)


@dataclass(frozen=True, eq=False)
class PumpStage(Ratings):
    """A switch that adds a second pump where it is needed, with hysteresis between its two thresholds.

    Exactly one pair of thresholds is given: of the fuel demand, of the pressure at a rail, or of the manifold pressure.
    Between the two the pump remains as it was. A pump staged by pressure switches on where the pressure falls below its
    threshold, the others where what is measured rises to theirs.

    Examples
    --------
    >>> stage = PumpStage(demand_on="100 L/h", demand_off="80 L/h")
    >>> stage.measure
    'demand'
    """

    starter_keys: ClassVar[tuple[str, ...]] = ("demand_on", "demand_off")
    """Keys that an example of a table shows, where none must be given."""

    demand_on: Quantity = _threshold(
        "volume flow", "Volume flow that the engine asks, from which the pump runs.", 0.0, 1e-2, "100 L/h"
    )
    demand_off: Quantity = _threshold(
        "volume flow", "Volume flow that the engine asks, below which the pump stops again.", 0.0, 1e-2, "80 L/h"
    )
    pressure_on: Quantity = _threshold(
        "pressure difference",
        "Pressure above the atmosphere at the sensor under which the pump runs.",
        0.0,
        2e6,
        "280 kPa",
    )
    pressure_off: Quantity = _threshold(
        "pressure difference",
        "Pressure above the atmosphere at the sensor over which the pump stops again.",
        0.0,
        2e6,
        "310 kPa",
    )
    manifold_pressure_on: Quantity = _threshold(
        "absolute pressure", "Manifold pressure from which the pump runs.", 0.0, 1e6, "120 kPa absolute"
    )
    manifold_pressure_off: Quantity = _threshold(
        "absolute pressure", "Manifold pressure below which the pump stops again.", 0.0, 1e6, "105 kPa absolute"
    )
    sensor: str | None = text(
        "Rail at which the pressure is measured; left out, the first rail downstream.", default=None
    )

    def check(self) -> None:
        """Check that exactly one pair of thresholds is given, in its order."""
        pairs = {measure: [key for key in measure.keys if getattr(self, key) is not None] for measure in _MEASURES}
        given = [key for keys in pairs.values() for key in keys]
        accepted = " or ".join(" and ".join(measure.keys) for measure in _MEASURES)
        if sum(len(keys) > 0 for keys in pairs.values()) != 1 or len(given) != 2:
            raise InputError(
                "not exactly one pair of thresholds",
                given=", ".join(given) or None,
                accepted=accepted,
                key=given[0] if given else "demand_on",
            )
        measure = self._measure
        on, off = (np.asarray(getattr(self, key)) for key in measure.keys)
        if np.any(on <= off if measure.on_above else on >= off):
            key, other = measure.keys
            raise InputError(
                f"not {'above' if measure.on_above else 'below'} {other}",
                given=getattr(self, key),
                accepted=f"{key} {'above' if measure.on_above else 'below'} {other}, so that the pump does not chatter",
                key=key,
            )

    @property
    def _measure(self) -> _Measure:
        return next(measure for measure in _MEASURES if getattr(self, measure.keys[0]) is not None)

    @property
    def measure(self) -> str:
        """What it goes by, one of `STAGE_MEASURES`."""
        return self._measure.name

    @takes()
    def staged_on(self, value: Given, previous: BoolArray | bool) -> BoolArray:
        """Return whether the pump runs.

        Parameters
        ----------
        value : float or array (points,)
            What the stage goes by: the fuel demand, m3/s, the pressure at the sensor above the atmosphere, Pa, or the
            manifold pressure, Pa absolute.
        previous : bool or bool array (points,)
            Whether it ran before.

        Returns
        -------
        bool array (points,)
            As before between the thresholds.

        Examples
        --------
        >>> stage = PumpStage(demand_on="100 L/h", demand_off="80 L/h")
        >>> demand = np.array([70.0, 90.0, 110.0]) / 3.6e6
        >>> stage.staged_on(demand, False).tolist(), stage.staged_on(demand, True).tolist()
        ([False, False, True], [False, True, True])
        """
        values = declarations(type(self))[self._measure.keys[0]].convert(value)
        return switched(self, np.asarray(values, dtype=float), previous)


def switched(stage: PumpStage, values: FloatArray, previous: BoolArray | bool) -> BoolArray:
    """Return whether a staged pump runs at computed values, which may lie anywhere, as a rail without fuel does.

    Parameters
    ----------
    stage : PumpStage
    values : array (points,)
        What the stage goes by, as `PumpStage.staged_on`: m3/s, Pa above the atmosphere, or Pa absolute.
    previous : bool or bool array (points,)
        Whether it ran before.

    Returns
    -------
    bool array (points,)

    Examples
    --------
    >>> stage = PumpStage(pressure_on="280 kPa", pressure_off="310 kPa")
    >>> switched(stage, np.array([-6e3, 300e3, 320e3]), False).tolist()
    [True, False, False]
    """
    measure = stage._measure
    on, off = (getattr(stage, key) for key in measure.keys)
    if measure.on_above:
        return np.where(values >= on, True, np.where(values < off, False, previous))
    return np.where(values < on, True, np.where(values > off, False, previous))
