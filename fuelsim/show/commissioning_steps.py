"""The commissioning sheet in sentences: what to check before a converted car is driven, and the figures predicted."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fuelsim.constants import GRAVITY
from fuelsim.sources import cite
from fuelsim.studies import limits
from fuelsim.studies.commissioning import (
    CAN,
    FULL_LOAD,
    HOT_RAIL,
    HOT_RAIL_SOURCE,
    IDLE,
    KEY_ON,
    Step,
    Taken,
    key_on_voltage,
)
from fuelsim.studies.measures import MEASURES
from fuelsim.studies.proving import altitude_in_words
from fuelsim.system.plumbing_paths import filling_links, pumps_side_by_side, pumps_to_rails, regulator_groups
from fuelsim.transients.service_limits import GREATEST_FALL
from fuelsim.typing import FloatArray
from fuelsim.units import shown

if TYPE_CHECKING:
    from fuelsim.studies.commissioning import DeadHead, HandOver
    from fuelsim.system.run import Run, System

__all__ = ["commissioning_steps"]

AT_ONCE = 0.01
"""Time below which a start counts as at once, s (numerical)."""
LOOSEST_LEAK_DOWN = 180e3
"""Greatest fall of pressure in five minutes that any maker allows, Pa: from 430 to more than 250 kPa; others allow none
in two minutes from 330 to 370 kPa [service_manuals_d]."""
BARE_BELOW = 2.0
"""Acceleration beyond which no manoeuvre of a car is looked at, g [assumed]."""
VOLTS_OFF = "0.3 V"
"""By how much the volts at a pump may differ from those predicted [assumed]."""


_IN_OWN_WEATHER = ("Prime", "Leak check")
"""Steps that are predicted for the car's own weather only."""


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
    measured_there = {step.what: step.predicted for step in _measured(sheet, sheet.workshop, sheet.workshop_hose_off)}
    return (
        *(
            replace(step, workshop="" if step.what in _IN_OWN_WEATHER else measured_there.get(step.what, ""))
            for step in _measured(sheet, sheet.run, sheet.hose_off)
        ),
        _dead_head(sheet.dead_head),
        _quarter_tank(sheet),
        _hot_restart(sheet),
        Step(
            "Hot recheck",
            "After the first hot run: look at every joint again, engine off.",
            "",
            "dry paper at each joint",
            "release the pressure before touching a joint",
        ),
    )


def _measured(sheet: HandOver, run: Run, hose_off: Run | None) -> tuple[Step, ...]:
    """Return what is measured with key on, at idle and at full load, predicted for the weather of a run."""
    key_on, idle, full_load = (
        _Point(sheet.system, run, sheet.points.index(name)) for name in (KEY_ON, IDLE, FULL_LOAD)
    )
    return (
        *_before_the_engine_runs(sheet, key_on),
        *_at_idle(idle, hose_off),
        *(
            Step(
                f"Rail pressure, full load{named}",
                f"Log at {full_load.rpm:.0f} rpm, full load, on a dynamometer or a closed road.",
                full_load.rail_of(rail),
                "± 5 %",
                f"rail minus manifold {full_load.difference_of(rail)}",
                taken=Taken(f"pressure at {rail}", FULL_LOAD),
            )
            for rail, named in _named(sheet.system.plumbing.rails)
        ),
        *(
            Step(
                f"Volts at {pump}, full load",
                "Logged with the pressure.",
                full_load.volts_of(name),
                *_accepted_volts(float(np.asarray(run.pump_voltage[name])[full_load.index])),
                taken=Taken(f"voltage of {name}", FULL_LOAD),
            )
            for name, pump in _pumps_in_words(full_load)
        ),
        Step(
            "Injector duty, full load",
            "From the controller's log.",
            full_load.duty,
            "± 5 points",
            taken=Taken("injector_duty", FULL_LOAD),
        ),
    )


def _accepted_volts(predicted: float) -> tuple[str, str]:
    """Return what is accepted of a pump's volts with the engine running, never what is predicted to fail."""
    least = shown(limits.PUMP_VOLTAGE.value, "voltage")
    if predicted < limits.PUMP_VOLTAGE.value:
        return f"± {VOLTS_OFF}", f"below the {least} that a pump should get: see the findings"
    return f"± {VOLTS_OFF}, at least {least}", limits.PUMP_VOLTAGE.citation


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

    def rail_of(self, rail: str) -> str:
        return f"{self._shown(self.run.gauge_pressure[rail], 'pressure difference')} gauge"

    def difference_of(self, rail: str) -> str:
        return self._shown(self.run.by_rail[rail].pressure_difference, "pressure difference")

    def volts_of(self, pump: str) -> str:
        return self._shown(self.run.pump_voltage[pump], "voltage")

    def amps_of(self, pump: str) -> str:
        return self._shown(self.run.pump_current[pump], "current")

    def flow_of(self, link: str) -> float:
        """Return the flow through a link at this point, m3/s."""
        return float(np.asarray(self.run.flow[link])[self.index])

    def _shown(self, values: FloatArray, kind: str) -> str:
        return shown(float(np.asarray(values)[self.index]), kind, digits=3)

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
            _primed(sheet),
            "dry paper at each joint",
            "stop at the first drop",
        ),
        *(
            Step(
                f"Rail pressure, key on{named}",
                "Gauge at the rail, pump running, engine off.",
                key_on.rail_of(rail),
                "± 5 %",
                sheet.key_on_supply,
                taken=Taken(f"pressure at {rail}", KEY_ON),
            )
            for rail, named in _named(sheet.system.plumbing.rails)
        ),
        Step(
            "Leak check",
            "Stop the pump, read the gauge at once and after 5 minutes.",
            _left_after_stop(sheet),
            f"falls at most {shown(GREATEST_FALL, 'pressure difference', digits=3)}",
            _leak_down_limits(),
        ),
        *(
            Step(
                f"Volts at {pump}, key on",
                "At the pump's own terminals, pump running.",
                key_on.volts_of(name),
                f"± {VOLTS_OFF}",
                f"on the battery alone, of {shown(key_on_voltage(sheet.car), 'voltage')}: the least of "
                f"{shown(limits.PUMP_VOLTAGE.value, 'voltage')} is for a running engine",
                taken=Taken(f"voltage of {name}", KEY_ON),
            )
            for name, pump in _pumps_in_words(key_on)
        ),
        *(
            Step(
                f"Amps of {pump}, key on",
                "Clamp meter on the pump's wire.",
                key_on.amps_of(name),
                "± 15 %",
                "class tolerance",
                taken=Taken(f"current of {name}", KEY_ON),
            )
            for name, pump in _pumps_in_words(key_on)
        ),
        *_return_flow(sheet, key_on),
        *_flow_of_each_pump(sheet, key_on),
        *_pots(sheet),
    ]


def _named(rails: tuple[str, ...]) -> list[tuple[str, str]]:
    """Return each rail with what tells it apart in the name of a step: nothing for the only one."""
    return [(rail, "" if len(rails) == 1 else f", {rail.replace('_', ' ')}") for rail in rails]


def _pumps_in_words(point: _Point) -> list[tuple[str, str]]:
    """Return the pumps that run at a point, each with its name in a sentence: the pump, where it is the only one."""
    pumps = point.system.plumbing.pumps
    running = [pump.name for pump in pumps if np.asarray(point.run.pump_on[pump.name])[point.index]]
    return [(name, "the pump" if len(pumps) == 1 else name.replace("_", " ")) for name in running]


def _flow_of_each_pump(sheet: HandOver, key_on: _Point) -> list[Step]:
    """Return a step per pump: flow into a can; one pump alone has no step, since its return flow says the same."""
    plumbing = sheet.system.plumbing
    if len(plumbing.pumps) == 1:
        return []
    mains = {pump.name for pump in pumps_to_rails(plumbing)}
    unprotected = {name for group in pumps_side_by_side(plumbing) for name in group.unprotected}
    side_by_side = {name for group in pumps_side_by_side(plumbing) for name in group.pumps}
    steps = []
    for name, words in _pumps_in_words(key_on):
        if name not in mains:
            how = "Its line off the pot, into a can outdoors, earthed, far from sparks; time half a litre."
        elif name in side_by_side and len(regulator_groups(plumbing)) == 1 and plumbing.has_return:
            others = ", ".join(sorted(side_by_side - {name})).replace("_", " ")
            how = f"Connector of {others} off, return line into a can outdoors, earthed, far from sparks; half a litre."
            if unprotected & (side_by_side - {name}):
                continue  # The flow of this pump would run back through the other.
        else:
            continue
        flow = key_on.flow_of(name)
        steps.append(Step(f"Flow of {words}, key on", how, _can(flow), "± 10 %", "class tolerance of the pump"))
    return steps


def _can(flow: float) -> str:
    """Return a flow with the time it takes to fill the can; empty where nothing flows."""
    if not flow > 0.0:
        return ""
    return f"{shown(flow, 'volume flow', digits=3)}, {CAN / flow:.1f} s for {shown(CAN, 'volume', digits=2)}"


def _pots(sheet: HandOver) -> list[Step]:
    """Return for each pot how long it lasts without its lift pump, and the flow that keeps it full."""
    steps = []
    for pot, part in sheet.system.plumbing.pots.items():
        filling = [link.name for link in filling_links(sheet.system.plumbing, pot)]
        words = []
        for name in (IDLE, FULL_LOAD):
            point = _Point(sheet.system, sheet.run, sheet.points.index(name))
            needed = sum(point.flow_of(link) for link in filling) - float(
                np.asarray(sheet.run.pot_overflow[pot])[point.index]
            )
            if needed > 0.0:
                lasts = shown(float(part.volume) / needed, "time", digits=3)
                words.append(f"{name}: lasts {lasts}, needs {shown(needed, 'volume flow', digits=3)}")
        steps.append(
            Step(
                f"{pot.replace('_', ' ').capitalize()} without lift pump",
                "Engine idling, connector of the lift pump off: the rail's gauge must stand; connector on again within"
                " a quarter of the time computed for idle. Never under load.",
                "; ".join(words),
                "no fall of the rail's pressure",
                "a pump that runs dry wears out in minutes",
            )
        )
    return steps


def _leak_down_limits() -> str:
    loosest = shown(LOOSEST_LEAK_DOWN, "pressure difference", digits=3)
    note = f"one maker's limit; others allow from none in 2 minutes to {loosest} in 5"
    return cite(["service_manual_1990s_a", "service_manuals_d"], note)


def _return_flow(sheet: HandOver, key_on: _Point) -> list[Step]:
    plumbing = sheet.system.plumbing
    if not regulator_groups(plumbing):
        return []
    if plumbing.has_return:
        how = "Return line into a can outdoors, earthed, far from sparks, pump running, engine off; time half a litre."
    else:
        how = "The regulator spills inside the tank: measure at a test port only if there is one."
    predicted = _can(key_on.value("bypass"))
    note = "class tolerance of the pump"
    return [Step("Return flow, key on", how, predicted, "± 10 %", note, taken=Taken("bypass", KEY_ON))]


def _at_idle(idle: _Point, hose_off: Run | None) -> list[Step]:
    steps = []
    for rail, named in _named(idle.system.plumbing.rails):
        if hose_off is None:
            how = "Warm engine, gauge at the rail."
            taken = Taken(f"pressure at {rail}", IDLE)
            steps.append(
                Step(f"Rail pressure, idle{named}", how, idle.rail_of(rail), "± 5 %", "no reference hose", taken=taken)
            )
            continue
        how = "Warm engine, reference hose on the manifold."
        taken = Taken(f"pressure at {rail}", IDLE)
        steps.append(Step(f"Rail pressure, idle, hose on{named}", how, idle.rail_of(rail), "± 5 %", taken=taken))
        steps.append(
            Step(
                f"Rail pressure, idle, hose off{named}",
                "Hose pulled and the manifold's nipple plugged.",
                _Point(idle.system, hose_off, 0).rail_of(rail),
                "± 5 %; rises by the vacuum",
                "fuel in the hose means a torn diaphragm",
                taken=taken._replace(hose_off=True),
            )
        )
    return steps


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
    elif not dead_head.has_return:
        why = "there is no return line to pinch"
    else:
        why = "fuel gets back by more than one way"
    return Step("Dead-head", f"Not to be done ({why}).", "", "-", "a part below dead-head may burst")


def _names(tables: tuple[str, ...]) -> str:
    return ", ".join(table.rpartition(".")[2].replace("_", " ") for table in tables)


def _quarter_tank(sheet: HandOver) -> Step:
    """Return the step of long corners with little fuel, with what uncovers the pick-up where a floor plan says it."""
    how = (
        "A quarter of a tank, steady corners both ways at a moderate rate, off the public road, rail pressure logged;"
        " not to the limit."
    )
    accepted = "no fall of the rail's pressure"
    if sheet.quarter_tank is None:
        return Step("Corner, quarter tank", how, "not computed: the car has no [plan]", accepted)
    bare = [
        f"{limit / GRAVITY:.2g} g ({name})"
        for name, limit in sheet.quarter_tank.items()
        if limit < BARE_BELOW * GRAVITY
    ]
    predicted = f"pick-up bare at a steady {', '.join(bare)}" if bare else f"pick-up covered to {BARE_BELOW:.0f} g"
    return Step("Corner, quarter tank", how, predicted, accepted, cite("computed", "box without baffles"))


def _hot_restart(sheet: HandOver) -> Step:
    """Return the step of the hot restart: rail, pressure and what the pump needs, after 20 minutes of soak."""
    how = "Hot engine off for 20 minutes, bonnet shut. Read the gauge before key-on, then the seconds of cranking."
    height = altitude_in_words(sheet.car.surroundings.altitude)
    if sheet.soak is None:
        rail = shown(HOT_RAIL, "temperature", digits=3)
        needed = shown(max(sheet.residual_pressure, 0.0), "pressure difference", digits=3)
        predicted = f"liquid at {rail} in the rail needs {needed} gauge"
        return Step("Hot restart", how, predicted, "starts without long cranking", f"{height}; {HOT_RAIL_SOURCE}")
    rail = shown(float(sheet.soak.rail_temperature[-1]), "temperature", digits=3)
    left, needed = (
        shown(max(float(values[-1]), 0.0), "pressure difference", digits=3)
        for values in (sheet.soak.rail_gauge_pressure, sheet.soak.pressure_needed)
    )
    seconds = float(sheet.soak.restart.seconds_to_liquid[-1])
    again = (
        "liquid at the injectors at once"
        if seconds < AT_ONCE
        else f"{shown(seconds, 'time', digits=2)} from key-on to liquid at the injectors"
        if np.isfinite(seconds)
        else "the pump is bound by vapour until it cools"
    )
    predicted = f"{left} gauge left; the rail, at {rail}, needs {needed} to stay liquid; {again}"
    source = cite("computed", "a sound system's leak, spin-up and cranking volts", rests_on="soak_peak")
    return Step("Hot restart", how, predicted, "starts without long cranking", f"{height}; {source}")


def _left_after_stop(sheet: HandOver) -> str:
    """Return the pressure left in the cold car as the pump stops and five minutes later."""
    if sheet.leak_down is None:
        return ""
    at_once, later = (
        shown(float(pressure), "pressure difference", digits=3)
        for pressure in (sheet.leak_down.gauge_pressure[0], sheet.leak_down.gauge_pressure[-1])
    )
    assumed = ", a sound check valve assumed" if sheet.leak_down.check_valve_assumed else ""
    return f"{at_once} gauge as it stops, {later} after 5 minutes with a good car's leak{assumed}"


def _primed(sheet: HandOver) -> str:
    """Return what one prime makes of empty lines, and when full ones are under pressure."""
    if sheet.prime is None or sheet.first_fill is None:
        return ""
    left = shown(sheet.first_fill.left_by_prime, "pressure difference", digits=3)
    moved = f"{sheet.first_fill.moved_by_prime * 1e6:.3g} of {sheet.first_fill.volume * 1e6:.3g} mL"
    seconds = sheet.prime.seconds_to_pressure
    when = f"at set pressure {seconds:.2g} s after key-on" if np.isfinite(seconds) else "not at set pressure"
    return f"2 s fill {moved} of empty lines and leave {left} gauge; full ones are {when}"
