"""The commissioning sheet in sentences: what to check before a converted car is driven, and the figures predicted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fuelsim.sources import cite
from fuelsim.studies import limits
from fuelsim.studies.commissioning import FULL_LOAD, HOT_RAIL, HOT_RAIL_SOURCE, IDLE, KEY_ON, Step
from fuelsim.studies.measures import MEASURES
from fuelsim.units import shown

if TYPE_CHECKING:
    from fuelsim.studies.commissioning import DeadHead, HandOver
    from fuelsim.system.run import Run, System

__all__ = ["commissioning_steps"]

LEAK_DOWN = 55e3
"""Greatest fall of pressure in five minutes, Pa: one maker's service limit [service_manual_1990s_a]."""
LOOSEST_LEAK_DOWN = 180e3
"""Greatest fall of pressure in five minutes that any maker allows, Pa: from 430 to more than 250 kPa; others allow none
in two minutes from 330 to 370 kPa [service_manuals_d]."""
CAN = 0.5e-3
"""Volume caught for the flow check, m3."""


def commissioning_steps(sheet: HandOver) -> tuple[Step, ...]:
    """Return the commissioning sheet, in the order in which it is worked through.

    Parameters
    ----------
    sheet : HandOver
        The figures computed for the car.

    Returns
    -------
    tuple of Step
    """
    key_on, idle, full_load = (
        _Point(sheet.system, sheet.run, sheet.points.index(name)) for name in (KEY_ON, IDLE, FULL_LOAD)
    )
    return (
        *_before_the_engine_runs(sheet, key_on),
        *_at_idle(sheet, idle),
        Step(
            "Rail pressure, full load",
            f"Log at {full_load.rpm:.0f} rpm, full load, on a dynamometer or a closed road.",
            full_load.rail,
            "± 5 %",
            f"rail minus manifold {full_load.difference}",
        ),
        Step("Volts at the pump, full load", "Logged with the pressure.", full_load.volts, "± 0.3 V"),
        Step("Injector duty, full load", "From the controller's log.", full_load.duty, "± 5 points"),
        _dead_head(sheet.dead_head),
        _hot_restart(sheet.residual_pressure),
        Step(
            "Hot recheck",
            "After the first hot run: look at every joint again, engine off.",
            "",
            "dry paper at each joint",
            "release the pressure before touching a joint",
        ),
    )


@dataclass(frozen=True)
class _Point:
    """One operating point in words."""

    system: System
    run: Run
    index: int

    def value(self, name: str) -> float:
        """Return a measure at this point, SI."""
        return float(MEASURES[name].at_points(self.system, self.run)[self.index])

    def shown(self, name: str) -> str:
        """Return a measure at this point with its unit."""
        return shown(self.value(name), MEASURES[name].kind, digits=3)

    @property
    def rpm(self) -> float:
        return float(np.broadcast_to(self.run.conditions.rpm, self.run.conditions.shape)[self.index])

    @property
    def rail(self) -> str:
        return f"{self.shown('rail_pressure')} gauge"

    @property
    def difference(self) -> str:
        return self.shown("injector_pressure_difference")

    @property
    def volts(self) -> str:
        return self.shown("pump_voltage")

    @property
    def amps(self) -> str:
        return self.shown("pump_current")

    @property
    def bypass(self) -> str:
        return self.shown("bypass")

    @property
    def duty(self) -> str:
        return f"{100.0 * self.value('injector_duty'):.0f} %"


def _before_the_engine_runs(sheet: HandOver, key_on: _Point) -> list[Step]:
    return [
        Step(
            "Joints and routing",
            # Clamps beyond the bead on hose made for them, none by spring tension alone [cfr_33_183_558]; supported,
            # flexible where parts move, away from heat after shutdown [cfr_14_29_993] [faa_maintenance_guidance]; bands
            # of 12.6 to 14.5 mm, 5.6 to 6.8 N m [sae_j1508], 1 N m on small injection hose [service_manual_1990s_k].
            "Battery off, cold. Every clamp, ferrule and connector in place; hoses away from exhaust, chafing and pinch"
            " points; ratings read off each part.",
            "",
            "every part rated for dead-head",
            cite(["cfr_33_183_558", "cfr_14_29_993", "common_practice"]),
        ),
        Step(
            "Prime",
            "Key on without starting, extinguisher at hand: most controllers let the pump run for 1 to 2 s. Look at"
            " every joint while it runs; again, until the pressure stands.",
            "",
            "dry paper at each joint",
            "stop at the first drop",
        ),
        Step(
            "Rail pressure, key on",
            "Gauge at the rail, pump running, engine off.",
            key_on.rail,
            "± 5 %",
            sheet.key_on_supply,
        ),
        Step(
            "Leak check",
            "Stop the pump, read the gauge after 5 minutes.",
            "",
            f"falls at most {shown(LEAK_DOWN, 'pressure difference', digits=3)}",
            _leak_down_limits(),
        ),
        Step(
            "Volts at the pump, key on",
            "At the pump's own terminals, pump running.",
            key_on.volts,
            f"at least {shown(limits.PUMP_VOLTAGE.value, 'voltage')}",
            limits.PUMP_VOLTAGE.citation,
        ),
        Step("Amps of the pump, key on", "Clamp meter on the pump's wire.", key_on.amps, "± 15 %", "class tolerance"),
        *_return_flow(sheet, key_on),
    ]


def _leak_down_limits() -> str:
    loosest = shown(LOOSEST_LEAK_DOWN, "pressure difference", digits=3)
    note = f"one maker's limit; others allow from none in 2 minutes to {loosest} in 5"
    return cite(["service_manual_1990s_a", "service_manuals_d"], note)


def _return_flow(sheet: HandOver, key_on: _Point) -> list[Step]:
    plumbing = sheet.system.plumbing
    if not plumbing.regulators:
        return []
    if plumbing.has_return:
        how = "Return line into a can outdoors, earthed, far from sparks, pump running, engine off; time half a litre."
    else:
        how = "The regulator spills inside the tank: measure at a test port only if there is one."
    bypass = key_on.value("bypass")
    seconds = CAN / bypass if bypass > 0.0 else np.nan
    predicted = f"{key_on.bypass}, {seconds:.1f} s for {shown(CAN, 'volume', digits=2)}" if seconds > 0.0 else ""
    return [Step("Return flow, key on", how, predicted, "± 10 %", "class tolerance of the pump")]


def _at_idle(sheet: HandOver, idle: _Point) -> list[Step]:
    if sheet.hose_off is None:
        return [Step("Rail pressure, idle", "Warm engine, gauge at the rail.", idle.rail, "± 5 %", "no reference hose")]
    return [
        Step("Rail pressure, idle, hose on", "Warm engine, reference hose on the manifold.", idle.rail, "± 5 %"),
        Step(
            "Rail pressure, idle, hose off",
            "Hose pulled and the manifold's nipple plugged.",
            _Point(sheet.system, sheet.hose_off, 0).rail,
            "± 5 %; rises by the vacuum",
            "fuel in the hose means a torn diaphragm",
        ),
    ]


def _dead_head(dead_head: DeadHead) -> Step:
    """Return the dead-head step: to be done only where every part that would see the pressure is rated for it."""
    if dead_head.permitted:
        return Step(
            "Dead-head",
            "Only if every part, joints included, is rated for it: return pinched for a second with soft jaws.",
            f"{shown(dead_head.pressure, 'pressure difference', digits=3)} at the pump",
            "± 10 %",
            "never without an extinguisher; release at once",
        )
    if dead_head.rated_below:
        why = f"rated below dead-head: {_names(dead_head.rated_below)}"
    elif dead_head.unrated:
        why = f"rating not known: {_names(dead_head.unrated)}"
    else:
        why = "there is no return line to pinch"
    return Step("Dead-head", f"Not to be done ({why}).", "", "-", "a part below dead-head may burst")


def _names(tables: tuple[str, ...]) -> str:
    return ", ".join(table.replace("_", " ") for table in tables)


def _hot_restart(residual_pressure: float) -> Step:
    rail = shown(HOT_RAIL, "temperature", digits=3)
    needed = shown(max(residual_pressure, 0.0), "pressure difference", digits=3)
    return Step(
        "Hot restart",
        "Hot engine off for 20 minutes, bonnet shut. Read the gauge before key-on, then the seconds of cranking.",
        f"liquid at {rail} in the rail needs {needed} gauge",
        "starts without long cranking",
        HOT_RAIL_SOURCE,
    )
