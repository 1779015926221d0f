"""The sheet to hand over: what a builder computed for one car, and what to measure before it is driven.

The figures are computed here; the sentences of the commissioning sheet are made from them in
`fuelsim.show.commissioning_steps`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import numpy as np

from fuelsim import opener, units
from fuelsim.arguments import takes
from fuelsim.car.car import Car
from fuelsim.car.engine_demand import EngineDemand
from fuelsim.finding import FindingList
from fuelsim.interruption import whole
from fuelsim.laws.atmosphere import standard_pressure
from fuelsim.parts.supply import Supply
from fuelsim.shown import Shown
from fuelsim.sources import cite
from fuelsim.studies.assessment import Assessment
from fuelsim.studies.decision import Decision
from fuelsim.studies.drop_split import DropSplit, split_drop
from fuelsim.studies.findings import verdict
from fuelsim.studies.parts_of_layout import reused_tables
from fuelsim.studies.proving import OLD_FILTER, WORN_PUMP
from fuelsim.studies.requirements import Requirements
from fuelsim.studies.uncertainty import Uncertainty
from fuelsim.studies.uncertainty_asked import uncertainty_of
from fuelsim.system.conditions import ONE_CONDITION, Conditions
from fuelsim.system.controller import EngineState
from fuelsim.system.manoeuvre import uncovering_accelerations
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.plumbing import MANIFOLD
from fuelsim.system.plumbing_paths import regulator_groups, ways_back
from fuelsim.system.run import Run, System
from fuelsim.transients.leak_down import LeakDown, leak_down
from fuelsim.transients.prime import Prime, prime
from fuelsim.transients.residual_pressure import residual_pressure_needed
from fuelsim.transients.service_limits import SERVICE_TIME
from fuelsim.transients.soak import Soak, hot_soak
from fuelsim.typing import FloatArray, Given, UncertaintyAsked
from fuelsim.units import shown

__all__ = ["DeadHead", "HandOver", "Step", "Taken", "hand_over", "key_on_voltage"]

KEY_ON, IDLE, FULL_LOAD = "key on, engine off", "idle", "full load, peak power"
"""Names of the operating points that the commissioning sheet predicts."""
HOT_RAIL = 363.15
"""Temperature of the rail in a soak, K: 80-105 degC; `HOT_RAIL_SOURCE` says how sure that is."""
HOT_RAIL_SOURCE = cite("memory", "rail temperature typical of a soak, low confidence")
DEMAND_SPEEDS = 9
IDLE_POINT = 1
"""Number of the point at idle among those of the sheet."""
WORKSHOP_TEMPERATURE = "20 degC"
USUALLY_REUSED = ("tank",)
"""Parts that a converted car keeps, unless it is said otherwise."""
CAN = 0.5e-3
"""Volume caught for the flow check, m3."""
SOAK_TIME = 1200.0
"""Time from the stop to the hot restart of the sheet, s."""


class Taken(NamedTuple):
    """What is read at a step of the sheet.

    Attributes
    ----------
    quantity : str
        As readings name it, such as ``"pressure at rail"``.
    point : str
        Name of the operating point.
    hose_off : bool
        Whether the regulator's reference hose is pulled off for it.
    """

    quantity: str
    point: str
    hose_off: bool = False


@dataclass(frozen=True)
class Step:
    """One line of the commissioning sheet.

    Attributes
    ----------
    what : str
        The check.
    how : str
        How it is done.
    predicted : str
        The figure computed for the car's own weather; empty where nothing is computed.
    limit : str
        What must be found, or by how much it may differ.
    note : str
        Source of the limit, or a caution.
    workshop : str
        The figure computed for the weather of the workshop; empty where it is not measured there.
    taken : Taken or None
        What is read, where it is a number that a diagnosis takes back.

    Examples
    --------
    >>> hand_over(Car.named("finch")).steps[0].limit
    'every part rated for dead-head'
    """

    what: str
    how: str
    predicted: str
    limit: str
    note: str = ""
    workshop: str = ""
    taken: Taken | None = None


@dataclass(frozen=True)
class DeadHead:
    """What the pump reaches with the return pinched, and whether that may be tried at all.

    Attributes
    ----------
    pressure : float
        Pressure at the pump with the key on and no flow, Pa above its inlet.
    rated_below : tuple of str
        Tables of parts that are rated below the dead-head pressure of the pump.
    unrated : tuple of str
        Tables of parts whose rating is not known.
    has_return : bool
        Whether there is a return line to pinch.
    ways_back : int
        Number of ways by which fuel gets back from the rails: regulators, bleeds and jet pumps. With several of them a
        pinched one is no dead-head.

    Examples
    --------
    >>> DeadHead(pressure=680e3, rated_below=("feed",), unrated=(), has_return=True).permitted
    False
    """

    pressure: float
    rated_below: tuple[str, ...]
    unrated: tuple[str, ...]
    has_return: bool
    ways_back: int = 1

    @property
    def permitted(self) -> bool:
        """Whether every part that would see the pressure is known to be rated for it, and one return can be pinched."""
        return self.has_return and self.ways_back == 1 and not self.rated_below and not self.unrated


@dataclass(frozen=True)
class HandOver(Shown):
    """Everything that stands on the sheet.

    Attributes
    ----------
    system : System
        The car in its layout.
    points : tuple of str
        Names of the operating points, in the order of `run`.
    run : Run
        At the named operating points, in the car's own weather; shape (points,).
    workshop : Run
        At the same points with air and tank at the temperature of the workshop, and the engine too before it runs.
    hose_off, workshop_hose_off : Run or None
        At idle, with the regulator open to the atmosphere; shape (1,). None where the regulator has no reference hose.
    speeds : array (speeds,)
        Engine speeds of `demand`, at full load, rpm.
    demand : EngineDemand
        What the engine asks for, shape (speeds,).
    new, worn : Run
        Over `speeds` at full load: as new, and with a worn pump and an old filter.
    split : DropSplit
        At the named operating points.
    assessment : Assessment
        Each requirement with its worst value on the proving conditions and over idle and full load.
    findings : FindingList
        What checks and requirements object to, each fault once, the gravest first.
    dead_head : DeadHead
        What the pump reaches with the return pinched.
    residual_pressure : float
        Pressure that keeps the fuel in a hot rail liquid, Pa above the atmosphere at the car's altitude; negative where
        none is needed.
    soak : Soak or None
        The first 20 minutes after a stop at hot idle; None where the car does not run before it.
    leak_down : LeakDown or None
        The five minutes after a stop of the cold car; None where it does not run before it.
    prime, first_fill : Prime or None
        Key-on of the cold car, its lines full and without pressure, and empty; None where it does not idle.
    reused : tuple of str
        Tables of parts that the car has already and that are to stay.
    quarter_tank : mapping of str to float, or None
        Steady acceleration of each manoeuvre that uncovers the pick-up with a quarter of the tank, m/s2; None where the
        car has no floor plan.
    decision : Decision or None
        Which of the car's layouts is preferred; None where they were not compared.
    samples : Uncertainty or None
        The operating points of a running engine over the distributions of what is not known, in the car's own weather;
        shape (samples, points - 1). None unless `uncertainty` was asked for.

    Examples
    --------
    >>> sheet = hand_over(Car.named("finch"))
    >>> sheet.run.bypass_flow.shape == (len(sheet.points),)
    True
    """

    system: System
    points: tuple[str, ...]
    run: Run
    workshop: Run
    hose_off: Run | None
    workshop_hose_off: Run | None
    speeds: FloatArray
    demand: EngineDemand
    new: Run
    worn: Run
    split: DropSplit
    assessment: Assessment
    findings: FindingList
    dead_head: DeadHead
    residual_pressure: float
    soak: Soak | None
    leak_down: LeakDown | None
    prime: Prime | None
    first_fill: Prime | None
    quarter_tank: Mapping[str, float] | None
    reused: tuple[str, ...]
    decision: Decision | None = None
    samples: Uncertainty | None = None

    @property
    def headline(self) -> str:
        """Return the car, and how much stands on the sheet."""
        return f"{self.car.name}, '{self.system.layout}': {len(self.steps)} checks, {len(self.findings)} findings"

    @property
    def car(self) -> Car:
        """The car."""
        return self.system.car

    @property
    def workshop_temperature(self) -> float:
        """Temperature of air and tank in the workshop, K."""
        return float(np.ravel(self.workshop.conditions.tank_temperature)[0])

    @property
    def key_on_supply(self) -> str:
        """Voltage of the supply with the key on, in words, and where it comes from."""
        voltage = f"at a battery of {shown(key_on_voltage(self.car), 'voltage')}"
        if self.car.supply:
            return f"{voltage}, the car's own with the key on"
        return cite("memory", f"{voltage}, typical with the key on")

    @property
    def steps(self) -> tuple[Step, ...]:
        """The commissioning sheet, in the order in which it is worked through."""
        return opener.commissioning_steps(self)

    @takes()
    def diagnose(self, measured: Path | str) -> opener.Diagnosis:
        """Return what the readings of a filled-in sheet say of the car.

        Parameters
        ----------
        measured : path
            The commissioning CSV of `report` with its column "measured" filled in: values with their units, such as
            ``305 kPa``, and of the return flow the flow or the seconds for half a litre. Empty cells are no readings.

        Returns
        -------
        Diagnosis
            Against what was predicted for the workshop's weather.

        Raises
        ------
        InputError
            For a file that is no such sheet, or a cell that cannot be read.

        Examples
        --------
        >>> import tempfile
        >>> path = Path(tempfile.mkdtemp()) / "back.csv"
        >>> _ = path.write_text('check,measured\\n"Rail pressure, full load",308 kPa\\n')
        >>> hand_over(Car.named("finch")).diagnose(path).healthy
        True
        """
        return opener.returned_sheet(self, measured).diagnosis

    def report(self, path: Path | str, measured: Path | str | None = None) -> Path:
        """Write the sheet as one self-contained HTML file and three CSV files beside it.

        Each file appears whole or not at all.

        Parameters
        ----------
        path : path
            The HTML file; the tables are called after it.
        measured : path, optional
            The commissioning CSV that came back filled in: the sheet then shows what was measured beside what was
            predicted, in standard deviations, and the diagnosis.

        Returns
        -------
        Path
            The HTML file.

        Raises
        ------
        InputError
            Where a file cannot be written.

        Examples
        --------
        >>> import tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     written = hand_over(Car.named("finch")).report(Path(folder) / "sheet.html")
        >>> written.name
        'sheet.html'
        """
        if measured is None:
            return opener.write_handover(self, path)
        back = opener.returned_sheet(self, measured)
        table = opener.readings_table(back.diagnosis)
        return opener.write_handover(self, path, back.cells, back.diagnosis.sentences(), table)


@system_or_car
@takes({"workshop_temperature": ONE_CONDITION["tank_temperature"]})
def hand_over(
    car: Car,
    layout: str = "return",
    requirements: Requirements | None = None,
    conditions: Conditions | None = None,
    decision: Decision | None = None,
    workshop_temperature: Given = WORKSHOP_TEMPERATURE,
    reused: Sequence[str] = USUALLY_REUSED,
    uncertainty: UncertaintyAsked = False,
) -> HandOver:
    """Compute the sheet to hand over for one car in one layout.

    Parameters
    ----------
    car : Car
        The car.
    layout : str
        One of its layouts.
    requirements : Requirements, optional
        Limits it is held to; left out, the defaults.
    conditions : Conditions, optional
        On which the requirements are judged; left out, `proving_conditions` of the car.
    decision : Decision, optional
        `compare(car).decision`, which then stands at the head of the sheet.
    workshop_temperature : float or str
        Temperature of air and fuel where the car is commissioned, K. What is measured there is predicted for it, beside
        the car's own weather.
    reused : sequence of str
        Tables of parts that the car has already and that are to stay, such as ``["tank", "feed"]``; the buy list says
        whether they may. Left out, the tank.
    uncertainty : bool, int or mapping, optional
        Whether the sheet shows bands of its operating points and how often requirements are met: True for 512 samples
        of `uncertain_inputs`, another number (8 times a power of two), or inputs as `uncertainty` takes them.

    Returns
    -------
    HandOver

    Raises
    ------
    InputError
        For a layout that the car has no parts for, a part that it does not have in this layout, or samples that do not
        suit.
    KeyboardInterrupt
        On Ctrl-C.

    Examples
    --------
    >>> sheet = hand_over(Car.named("finch"))
    >>> sheet.points[0]
    'key on, engine off'
    """
    system, engine = car.system(layout), car.engine
    atmosphere = standard_pressure(car.surroundings.altitude)
    peak = float(engine.peak_power_speed or engine.red_line)
    half = 0.5 * engine.red_line
    running = float(car.supply_voltage(half))
    named = {
        KEY_ON: (0.0, 0.0, key_on_voltage(car)),
        IDLE: (engine.idle_speed, 0.0, running),
        "half load": (half, 0.5, running),
        "full load, half speed": (half, 1.0, running),
        FULL_LOAD: (peak, 1.0, running),
        "full load, red line": (engine.red_line, 1.0, running),
    }
    rpm, load, voltage = np.array(list(named.values())).T
    asked = Conditions(rpm=rpm, load=load, supply_voltage=voltage)
    workshop = float(units.convert(workshop_temperature, "temperature"))
    run = system.solve(asked)
    judgement = verdict(system, requirements=requirements, conditions=conditions)
    speeds = np.linspace(max(1000.0, engine.idle_speed), engine.red_line, DEMAND_SPEEDS)
    return HandOver(
        system=system,
        points=tuple(named),
        run=run,
        workshop=system.solve(_in_workshop(car, asked, workshop)),
        hose_off=_hose_off(system),
        workshop_hose_off=_hose_off(system, workshop),
        speeds=speeds,
        demand=engine.demand(
            speeds,
            1.0,
            stoichiometric_air_fuel_ratio=system.fuel.stoichiometric_air_fuel_ratio,
            atmospheric_pressure=atmosphere,
            air_temperature=car.surroundings.air_temperature,
        ),
        new=system.solve(Conditions(rpm=speeds)),
        worn=system.solve(Conditions(rpm=speeds, pump_wear=WORN_PUMP, filter_clogging=OLD_FILTER)),
        split=split_drop(system, run),
        assessment=judgement.assessment,
        findings=judgement.findings,
        dead_head=_dead_head(system),
        residual_pressure=float(residual_pressure_needed(system.fuel, HOT_RAIL, atmosphere)),
        soak=_soak(system, run),
        leak_down=leak_down(system, duration=SERVICE_TIME) if _idles(run) else None,
        prime=prime(system, crank_time=0.0) if _idles(run) else None,
        first_fill=prime(system, lines="empty", crank_time=0.0) if _idles(run) else None,
        reused=reused_tables(system, reused),
        quarter_tank=uncovering_accelerations(car, fuel_volume=0.25 * car.tank.volume) if car.plan else None,
        decision=decision,
        samples=uncertainty_of(
            system,
            uncertainty,
            Conditions(rpm=rpm[IDLE_POINT:], load=load[IDLE_POINT:], supply_voltage=voltage[IDLE_POINT:]),
            judgement.assessment.requirements,
        ),
    )


def key_on_voltage(car: Car) -> float:
    """Return the voltage of a car's supply with the key on and the engine off.

    Parameters
    ----------
    car : Car
        The car; a typical battery where it has no table of its supply.

    Returns
    -------
    float
        V.

    Examples
    --------
    >>> key_on_voltage(Car.named("finch")) == Supply().key_on_voltage
    True
    """
    return float((car.supply or Supply()).key_on_voltage)


def _in_workshop(car: Car, asked: Conditions, temperature: float) -> Conditions:
    """Return operating points in a workshop: bay and engine are cold until the engine runs, and hot as ever then."""
    around, runs = car.surroundings, np.asarray(asked.rpm) > 0.0
    return asked.with_values(
        {
            "air_temperature": temperature,
            "tank_temperature": temperature,
            "bay_temperature": temperature + np.where(runs, around.bay_rise, 0.0),
            "engine_temperature": np.where(runs, around.engine_temperature, temperature),
        }
    )


def _idles(run: Run) -> bool:
    """Whether the engine idles at the sheet's operating points."""
    return bool(run.engine_state[IDLE_POINT] != EngineState.STOPPED and run.outcome.has_values[IDLE_POINT])


def _soak(system: System, run: Run) -> Soak | None:
    """Return the soak after a stop at hot idle, if the engine idles."""
    if not _idles(run):
        return None
    return whole(hot_soak(system.car, system.layout, duration=SOAK_TIME))


def _hose_off(system: System, workshop: float | None = None) -> Run | None:
    """Return the run at idle with the regulator's reference hose off, if it has one; in a workshop of a temperature."""
    plumbing = system.plumbing
    tables = [link.table for group in regulator_groups(plumbing) for link in group if link.reference == MANIFOLD]
    tables += [link.table for link in plumbing.reducers if link.reference == MANIFOLD]
    if not tables:
        return None
    car = system.car.with_values({f"{table}.reference": "atmosphere" for table in tables})
    idle = Conditions(rpm=[car.engine.idle_speed], load=0.0)
    return car.system(system.layout).solve(idle if workshop is None else _in_workshop(car, idle, workshop))


def _dead_head(system: System) -> DeadHead:
    """Return what the pump reaches with the return pinched, and which parts are not known to bear it."""
    plumbing, voltage = system.plumbing, key_on_voltage(system.car)
    reached = plumbing.dead_heads(
        {
            pump.name: float(
                np.max(pump.part.at(supply_voltage=voltage, wire=plumbing.wires[pump.name]).pressure_rise(0.0))
            )
            for pump in plumbing.pumps
        }
    )
    rated = plumbing.under_pressure
    return DeadHead(
        pressure=max(0.0, *reached.values()),
        rated_below=tuple(
            table
            for table, rating in rated.items()
            if rating.least is not None and rating.least < rating.dead_head_to_withstand
        ),
        unrated=tuple(table for table, rating in rated.items() if rating.least is None),
        has_return=plumbing.has_return,
        ways_back=len(ways_back(plumbing)),
    )
