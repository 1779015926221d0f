"""A drive as a list of phases."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple, TypeAlias

import numpy as np

from fuelsim.arguments import check_fields, number, takes
from fuelsim.car.car import Car
from fuelsim.errors import InputError
from fuelsim.fields import Quantity, Ratings, choice, quantity, text
from fuelsim.shown import Shown
from fuelsim.typing import FloatArray, Given
from fuelsim.units import shown

__all__ = ["Phase", "Schedule", "typical_phase"]


@dataclass(frozen=True)
class Phase(Ratings):
    """One stretch of a drive under steady conditions.

    Examples
    --------
    >>> Phase(name="jam", duration="45 min", rpm="700 rpm").duration
    2700.0
    """

    name: str = text("Name of the phase.", empty=False, example="jam")
    duration: Quantity = quantity("time", "Duration of the phase.", least=1.0, most=864e3, example="30 min")
    rpm: Quantity = quantity(
        "engine speed", "Engine speed; the car's idle speed if left out.", least=0.0, most=25e3, default=None
    )
    load: Quantity = quantity("fraction", "Share of the full-load air charge.", least=0.0, most=1.0, default=0.0)
    vehicle_speed: Quantity = quantity(
        "speed", "Speed of the car.", least=0.0, most=120.0, default=0.0, example="50 km/h"
    )
    end_altitude: Quantity = quantity(
        "altitude",
        "Altitude at the end of the phase; unchanged if left out.",
        least=-450.0,
        most=6000.0,
        default=None,
    )
    pump_duty: Quantity = quantity(
        "fraction",
        "Share of the time that its controller switches the pump on.",
        least=0.05,
        most=1.0,
        default=1.0,
    )
    lift_share: Quantity = quantity(
        "fraction",
        "Share of the time that lift pumps suck fuel into the pots of the plumbing; in a long corner they suck air.",
        least=0.0,
        most=1.0,
        default=1.0,
    )
    engine: str = choice(("running", "stopped"), "Whether engine and pump run.", default="running")
    sun: Quantity = quantity(
        "fraction",
        "Share of the sun that reaches car and road: 0 in a garage or under clouds.",
        least=0.0,
        most=1.0,
        default=1.0,
    )
    air_conditioning: Quantity = quantity(
        "fraction",
        "Share of the time that the air conditioning's compressor runs, at the power that the engine's table gives.",
        least=0.0,
        most=1.0,
        default=0.0,
    )
    creep_power: Quantity = quantity(
        "power",
        "Mean shaft power that creeping in traffic takes beyond what the load says.",
        least=0.0,
        most=50e3,
        default=0.0,
        example="2 kW",
    )


class Driving(NamedTuple):
    """One kind of driving: engine speed over red line (None for idle), load, and vehicle speed, m/s."""

    red_line_fraction: float | None
    load: float
    vehicle_speed: float


DrivingKind: TypeAlias = Literal["city", "motorway", "climb", "jam", "stop"]
"""A kind of driving."""
_TYPICAL: dict[str, Driving] = {
    "city": Driving(0.32, 0.22, 25.0 / 3.6),
    "motorway": Driving(0.50, 0.42, 110.0 / 3.6),
    "climb": Driving(0.55, 0.75, 50.0 / 3.6),
    "jam": Driving(None, 0.0, 2.0 / 3.6),
}
"""Kinds of driving of a car of ordinary gearing [assumed]."""


@takes()
def typical_phase(
    kind: DrivingKind,
    duration: Given,
    car: Car,
    *,
    end_altitude: Given | None = None,
    pump_duty: Given = 1.0,
    sun: Given = 1.0,
    air_conditioning: Given = 0.0,
    creep_power: Given = 0.0,
) -> Phase:
    """Return a phase of ordinary driving.

    Parameters
    ----------
    kind : str
        ``"city"``, ``"motorway"``, ``"climb"``, ``"jam"`` or ``"stop"``.
    duration : float or str
        Duration of the phase, s.
    car : Car
        The car, whose engine says what idle and red line are.
    end_altitude : float or str, optional
        Altitude at the end of the phase, m; unchanged if left out.
    pump_duty : float
        Share of the time that the pump is switched on.
    sun : float
        Share of the sun that reaches car and road, for tanks with a `sunlit_area` or a `road_facing_area`. A first
        phase ``"stop"`` is a car parked cold, in the sun or not.
    air_conditioning : float
        Share of the time that the air conditioning's compressor runs.
    creep_power : float or str
        Mean shaft power that creeping in traffic takes beyond idle, W; about 2 kW where a jam moves on every minute.

    Returns
    -------
    Phase

    Raises
    ------
    InputError
        For an unknown kind, or values outside their plausible range.

    Examples
    --------
    >>> import fuelsim as fs
    >>> typical_phase("motorway", "1 h", fs.Car.named("finch")).rpm
    3250.0
    """
    if kind == "stop":
        return Phase(name="stop", duration=duration, engine="stopped", end_altitude=end_altitude, sun=sun)
    driving, engine = _TYPICAL[kind], car.engine
    rpm = engine.idle_speed
    if driving.red_line_fraction is not None:
        rpm = max(driving.red_line_fraction * engine.red_line, rpm)
    return Phase(
        name=kind,
        duration=duration,
        rpm=rpm,
        load=driving.load,
        vehicle_speed=driving.vehicle_speed,
        end_altitude=end_altitude,
        pump_duty=pump_duty,
        sun=sun,
        air_conditioning=air_conditioning,
        creep_power=creep_power,
    )


START_TIME = number("time", 0.0, 172_800.0, example="10 h", single=True)
START_ALTITUDE = number("altitude", -450.0, 6000.0, example="600 m", single=True, optional=True)


@dataclass(frozen=True)
class Schedule(Shown):
    """Phases one after the other.

    Attributes
    ----------
    phases : tuple of Phase
        The phases in their order.
    start_time : float
        Solar time of the day at the start, s.
    start_altitude : float or None
        Altitude at the start, m; that of the climate's place if None.

    Examples
    --------
    >>> day = Schedule.of([Phase(name="work", duration="20 min"), Phase(name="jam", duration="1 h")], start_time="16 h")
    >>> day.starts.tolist()
    [0.0, 1200.0, 4800.0]
    """

    phases: tuple[Phase, ...]
    start_time: float = 36_000.0
    start_altitude: float | None = None

    def __post_init__(self) -> None:
        check_fields(self, {"start_time": START_TIME, "start_altitude": START_ALTITUDE})
        if not self.phases:
            raise InputError("no phases", accepted="at least one Phase", part="Schedule")

    @property
    def headline(self) -> str:
        """Return the phases, in order."""
        return ", ".join(f"{phase.name} {shown(phase.duration, 'time', digits=2)}" for phase in self.phases)

    @classmethod
    @takes({"start_time": START_TIME, "start_altitude": START_ALTITUDE})
    def of(cls, phases: Sequence[Phase], *, start_time: Quantity = "10 h", start_altitude: Quantity = None) -> Schedule:
        """Return a schedule; time and altitude may carry units.

        Parameters
        ----------
        phases : sequence of Phase
            At least one.
        start_time : float or str
            Solar time of the day at the start, s.
        start_altitude : float or str, optional
            Altitude at the start, m; that of the climate's place if left out.

        Returns
        -------
        Schedule

        Raises
        ------
        InputError
            If there are no phases, or for values that are no time or altitude.

        Examples
        --------
        >>> Schedule.of([Phase(name="a", duration="10 min"), Phase(name="b", duration="20 min")]).duration
        1800.0
        """
        return cls(tuple(phases), start_time, start_altitude)

    @property
    def starts(self) -> FloatArray:
        """Time at which each phase begins, and the end of the last, s, ``(phases + 1,)``."""
        return np.concatenate([[0.0], np.cumsum([phase.duration for phase in self.phases])])

    @property
    def duration(self) -> float:
        """Duration of the whole schedule, s."""
        return float(self.starts[-1])
