"""The sheet to hand over: what a builder computed for one car, and what to measure before it is driven."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from fuelsim import opener
from fuelsim.car.car import Car
from fuelsim.car.engine import EngineDemand
from fuelsim.finding import Finding
from fuelsim.parts.supply import Supply
from fuelsim.sources import cite
from fuelsim.studies import limits
from fuelsim.studies.drop_split import DropSplit, split_drop
from fuelsim.studies.findings import findings
from fuelsim.studies.requirements import Assessment, Requirements, assess
from fuelsim.system.conditions import Conditions
from fuelsim.system.plumbing import MANIFOLD
from fuelsim.system.run import Run, System
from fuelsim.transients.residual_pressure import residual_pressure_needed
from fuelsim.units import shown

__all__ = ["HandOver", "Step", "hand_over"]

DECAY = 55e3
"""Pa in five minutes: the most that one maker's service limit allows [service_manual_1990s_a]."""
HOT_RAIL = 363.15
"""K: rail in a soak, 80-105 degC; `_hot_restart` says how sure that is."""
CAN = 0.5e-3
"""m3 caught for the flow check."""
DEMAND_SPEEDS = 9


@dataclass(frozen=True)
class Step:
    """One line of the commissioning sheet.

    Attributes
    ----------
    what, how : str
        The check, and how it is done.
    predicted : str
        The computed figure; '' where nothing is computed.
    limit : str
        What must be found, or by how much it may differ.
    note : str
        Source of the limit, or a caution.
    """

    what: str
    how: str
    predicted: str
    limit: str
    note: str = ""


@dataclass(frozen=True)
class HandOver:
    """Everything that stands on the sheet.

    Attributes
    ----------
    system : System
    points : tuple of str
        Names of the operating points, in the order of `run`.
    run : Run
        At the named operating points, in the car's own weather; shape (points,).
    speeds : array (speeds,)
        rpm of `demand`, full load.
    demand : EngineDemand
    new, worn : Run
        Over `speeds` at full load: as new, and with a worn pump and an old filter.
    split : DropSplit
        At the named operating points.
    assessment : Assessment
        On the proving conditions.
    findings : tuple of Finding
    steps : tuple of Step
        The commissioning sheet.
    """

    system: System
    points: tuple[str, ...]
    run: Run
    speeds: Any
    demand: EngineDemand
    new: Run
    worn: Run
    split: DropSplit
    assessment: Assessment
    findings: tuple[Finding, ...]
    steps: tuple[Step, ...]

    @property
    def car(self) -> Car:
        """The car."""
        return self.system.car

    def report(self, path: Path | str) -> Path:
        """Write the sheet as one self-contained HTML file and two CSV files beside it; return the path of the HTML.

        Each file appears whole or not at all.

        Parameters
        ----------
        path : path
            Of the HTML file; the tables are called after it.

        Raises
        ------
        InputError
            Where a file cannot be written.
        """
        return opener.write_handover(self, path)


def hand_over(
    car: Car,
    layout: str = "return",
    requirements: Requirements | None = None,
    conditions: Conditions | None = None,
) -> HandOver:
    """Compute the sheet to hand over for one car in one layout.

    Parameters
    ----------
    car : Car
    layout : str
    requirements : Requirements, optional
    conditions : Conditions, optional
        On which the requirements are judged; `proving_conditions` of the car, if left out.

    Returns
    -------
    HandOver

    Examples
    --------
    >>> sheet = hand_over(Car.named("finch"))
    >>> sheet.points[0]
    'key on, engine off'
    """
    system = car.system(layout)
    engine = car.engine
    peak = float(engine.peak_power_speed or engine.red_line)
    supply = (car.supply or Supply()).key_on_voltage
    running = float(car.supply_voltage(0.5 * engine.red_line))
    named = {
        "key on, engine off": (0.0, 0.0, supply),
        "idle": (engine.idle_speed, 0.0, running),
        "half load": (0.5 * engine.red_line, 0.5, running),
        "full load, half speed": (0.5 * engine.red_line, 1.0, running),
        "full load, peak power": (peak, 1.0, running),
        "full load, red line": (engine.red_line, 1.0, running),
    }
    rpm, load, volts = (np.array(column) for column in zip(*named.values(), strict=True))
    run = system.solve(Conditions(rpm=rpm, load=load, supply_voltage=volts))
    speeds = np.linspace(max(1000.0, engine.idle_speed), engine.red_line, DEMAND_SPEEDS)
    new = system.solve(Conditions(rpm=speeds))
    worn = system.solve(Conditions(rpm=speeds, pump_wear=0.10, filter_clogging=4.0))
    demand = engine.demand(
        speeds,
        1.0,
        stoichiometric_air_fuel_ratio=system.fuel.stoichiometric_air_fuel_ratio,
        air_temperature=car.surroundings.air_temperature,
    )
    return HandOver(
        system=system,
        points=tuple(named),
        run=run,
        speeds=speeds,
        demand=demand,
        new=new,
        worn=worn,
        split=split_drop(system, run),
        assessment=assess(system, requirements, conditions),
        findings=tuple(findings(system)),
        steps=tuple(_steps(system, dict(zip(named, range(len(named)), strict=True)), run)),
    )


def _steps(system: System, place: dict[str, int], run: Run) -> list[Step]:
    """Return the commissioning sheet, in the order in which it is worked through."""
    at = {name: _Point(run, index) for name, index in place.items()}
    key_on, idle, full = at["key on, engine off"], at["idle"], at["full load, peak power"]
    service = "published service limit"
    steps = [
        Step(
            "Joints and routing",
            "Battery off, cold. Every clamp, ferrule and connector in place; hoses away from exhaust, chafing and pinch"
            " points; ratings read off each part.",
            "",
            "every part rated for dead-head",
            cite("common_practice"),
        ),
        Step(
            "Prime",
            "Key on without starting, extinguisher at hand. Look at every joint while the pump runs.",
            "",
            "dry paper at each joint",
            "stop at the first drop",
        ),
        Step(
            "Rail pressure, key on",
            "Gauge at the rail, pump running, engine off.",
            key_on.rail,
            "± 5 %",
            _supply(system.car),
        ),
        Step(
            "Leak check",
            "Stop the pump, read the gauge after 5 minutes.",
            "",
            f"falls at most {shown(DECAY, 'pressure difference', digits=3)}",
            service,
        ),
        Step(
            "Volts at the pump, key on",
            "At the pump's own terminals, pump running.",
            key_on.volts,
            f"at least {shown(limits.PUMP_VOLTAGE.value, 'voltage')}",
            service,
        ),
        Step("Amps of the pump, key on", "Clamp meter on the pump's wire.", key_on.amps, "± 15 %", "class tolerance"),
        *_return_flow(system, key_on),
        *_idle_steps(system, idle),
        Step(
            "Rail pressure, full load",
            f"Log at {full.rpm:.0f} rpm, full load, on a dynamometer or a closed road.",
            full.rail,
            "± 5 %",
            f"rail minus manifold {full.difference}",
        ),
        Step("Volts at the pump, full load", "Logged with the pressure.", full.volts, "± 0.3 V"),
        Step("Injector duty, full load", "From the controller's log.", full.duty, "± 5 points"),
        _dead_head(system),
        _hot_restart(system),
        Step(
            "Hot recheck",
            "After the first hot run: look at every joint again, engine off.",
            "",
            "dry paper at each joint",
            "release the pressure before touching a joint",
        ),
    ]
    return steps


@dataclass(frozen=True)
class _Point:
    """One operating point in words."""

    run: Run
    index: int

    def _said(self, values: Any, kind: str) -> str:
        return shown(float(np.asarray(values)[self.index]), kind, digits=3)

    @property
    def rpm(self) -> float:
        return float(np.asarray(self.run.conditions.rpm)[self.index])

    @property
    def rail(self) -> str:
        return self._said(self.run.gauge_pressure["rail"], "pressure difference") + " gauge"

    @property
    def difference(self) -> str:
        return self._said(self.run.injector_pressure_difference, "pressure difference")

    @property
    def volts(self) -> str:
        return self._said(self.run.pump_voltage["pump"], "voltage")

    @property
    def amps(self) -> str:
        return self._said(self.run.pump_current["pump"], "current")

    @property
    def bypass(self) -> str:
        return self._said(self.run.bypass_flow, "volume flow")

    @property
    def duty(self) -> str:
        return f"{100.0 * float(np.asarray(self.run.injector_duty)[self.index]):.0f} %"

    @property
    def seconds_per_can(self) -> float:
        return CAN / float(np.asarray(self.run.bypass_flow)[self.index])


def _supply(car: Car) -> str:
    said = f"at a battery of {shown((car.supply or Supply()).key_on_voltage, 'voltage')}"
    if car.supply:
        return f"{said}, the car's own with the key on"
    return cite("memory", f"{said}, typical with the key on")


def _return_flow(system: System, key_on: _Point) -> list[Step]:
    if not system.plumbing.regulators:
        return []
    if not system.plumbing.has_return:
        how = "The regulator spills inside the tank: measure at a test port only if there is one."
    else:
        how = "Return line into a can outdoors, earthed, far from sparks, pump running, engine off; time half a litre."
    seconds = key_on.seconds_per_can
    predicted = f"{key_on.bypass}, {seconds:.1f} s for {shown(CAN, 'volume', digits=2)}" if seconds > 0.0 else ""
    return [Step("Return flow, key on", how, predicted, "± 10 %", "class tolerance of the pump")]


def _idle_steps(system: System, idle: _Point) -> list[Step]:
    regulator = system.plumbing.regulator
    if regulator is None or regulator.reference != MANIFOLD:
        return [Step("Rail pressure, idle", "Warm engine, gauge at the rail.", idle.rail, "± 5 %", "no reference hose")]
    car = system.car
    hose_off = car.with_values({f"{regulator.table}.reference": "atmosphere"}).system(system.layout)
    off = _Point(hose_off.solve(Conditions(rpm=[car.engine.idle_speed], load=0.0)), 0)
    return [
        Step("Rail pressure, idle, hose on", "Warm engine, reference hose on the manifold.", idle.rail, "± 5 %"),
        Step(
            "Rail pressure, idle, hose off",
            "Hose pulled and the manifold's nipple plugged.",
            off.rail,
            "± 5 %; rises by the vacuum",
            "fuel in the hose means a torn diaphragm",
        ),
    ]


def _dead_head(system: System) -> Step:
    """Return the dead-head step: only where every part that would see the pressure is known to be rated for it."""
    car, plumbing = system.car, system.plumbing
    volts = (car.supply or Supply()).key_on_voltage
    rises = [pump.part.at(supply_voltage=volts, wire=car.wire).pressure_rise(0.0) for pump in plumbing.pumps]
    reach = max(0.0, *(float(np.max(rise)) for rise in rises))
    rated = {table.replace("_", " "): rating.least for table, rating in plumbing.under_pressure.items()}
    lacking = [name for name, rating in rated.items() if rating is None]
    low = [name for name, rating in rated.items() if rating is not None and rating < plumbing.dead_head_pressure]
    figure = f"{shown(reach, 'pressure difference', digits=3)} at the pump"
    if lacking or low or not plumbing.has_return:
        why = f"rated below dead-head: {', '.join(low)}" if low else f"rating not known: {', '.join(lacking)}"
        if not (lacking or low):
            why = "there is no return line to pinch"
        return Step("Dead-head", f"Not to be done ({why}).", "", "-", "a part below dead-head may burst")
    return Step(
        "Dead-head",
        "Only if every part, joints included, is rated for it: return pinched for a second with soft jaws.",
        figure,
        "± 10 %",
        "never without an extinguisher; release at once",
    )


def _hot_restart(system: System) -> Step:
    needed = float(residual_pressure_needed(system.fuel, HOT_RAIL))
    rail = shown(HOT_RAIL, "temperature", digits=3)
    return Step(
        "Hot restart",
        "Hot engine off for 20 minutes, bonnet shut. Read the gauge before key-on, then the seconds of cranking.",
        f"liquid at {rail} in the rail needs {shown(max(needed, 0.0), 'pressure difference', digits=3)} gauge",
        "starts without long cranking",
        cite("memory", "at sea level; rail temperature typical of a soak, low confidence"),
    )
