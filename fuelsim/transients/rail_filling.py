"""Rails and lines between check valve and regulator while a pump fills them: air, vapour and liquid under one pressure.

All arrays are (points,); the points may differ in voltage, vapour, temperature or how fast vapour collapses. Every step
moves volumes from one account to another, so that the mass balance closes to rounding. The pressure follows from what
is inside: with room V, give C, liquid V_l and gas of p V = S it solves C p^2 + (V - V_l - C p_a) p - S = 0 exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from fuelsim.constants import GAS_CONSTANT
from fuelsim.fuel.tables import FuelTables
from fuelsim.transients.pump_start import StartingPump
from fuelsim.typing import BoolArray, FloatArray, PointArray

__all__ = [
    "CRANK_TIME",
    "FILMS",
    "NO_GAS",
    "STEADY_FRACTION",
    "FilledRail",
    "Filling",
    "Inside",
    "Phase",
    "PumpAtWork",
    "fill",
]

FILMS = (300.0, 1000.0, 3000.0)
"""Heat transfer from condensing petrol vapour to the liquid under it and the wall, low, middle and high, W/m2/K
[assumed]: it sets how fast vapour collapses."""
VAPOUR_MOLAR_MASS = 0.066
"""Molar mass of the first vapour of petrol, kg/mol [assumed]."""
LIQUID_ENOUGH = 0.05
"""Share of gas in the rail below which the injectors count as fed with liquid: V/L 0.05 leans the mixture by some 4 %
[assumed]."""
RESTORED_FRACTION = 0.95
"""Share of the set pressure at which the pressure counts as restored."""
STEADY_FRACTION = 0.02
"""Share of the set pressure by which the pressure of a steady idle may be short [assumed]."""
NO_GAS = 0.005
"""Share of the rail below which its gas no longer shakes the idle [assumed]."""
BLEED_SHARE = 0.02
"""Share of gas in the rail from which a bleed lets go of gas alone [assumed]."""
CRANK_TIME = 0.5
"""Time of cranking before the first cylinder can fire, s: two turns at 240 rpm [assumed]."""
HEAT_RATIO = 1.4
"""Ratio of the specific heats of air."""
AIR_CONSTANT = GAS_CONSTANT / 0.02897
"""Specific gas constant of air, J/kg/K."""
_STEPS = ((0.2, 0.001), (3.0, 0.005), (12.0, 0.02), (np.inf, 0.1))
"""Length of a step up to each time since key-on, s; a constant rate is exact at any length (numerical)."""
_ROUNDING = 1e-3
"""Gauge pressure below which it is rounding, Pa (numerical)."""
_LEAST_GAS = 1e-13
"""Room below which gas counts as none, m3 (numerical)."""
_VANISHING_GAS = 1e-12
"""Room below which vapour above its bubble pressure collapses within a step, m3 (numerical)."""
_LEAST_WET = 0.1
"""Least share of the rail that counts as liquid for what mixes in it and for what warms (numerical)."""
_LEAST_FILM = 0.05
"""Least share of the rail's surface on which vapour condenses (numerical)."""


class Phase(NamedTuple):
    """A stretch of time with one supply voltage.

    Attributes
    ----------
    duration : float
        s.
    voltage : array (points,)
        Supply voltage, V; 0 with the pump switched off.
    demand : float
        Flow that the injectors would take as liquid at the set pressure, m3/s.
    cranking : bool
        Whether the engine turns.
    """

    duration: float
    voltage: PointArray
    demand: float
    cranking: bool


class Inside(NamedTuple):
    """What is inside at a moment, (points,) each.

    Attributes
    ----------
    liquid : array
        Volume of liquid at the pressure of the atmosphere, m3.
    air, vapour : array
        Pressure times volume of air and of fuel vapour, J.
    temperature : array
        Temperature of the rail's fuel, K.
    """

    liquid: PointArray
    air: PointArray
    vapour: PointArray
    temperature: PointArray


@dataclass(frozen=True)
class PumpAtWork:
    """One pump with what it draws.

    Attributes
    ----------
    start : StartingPump
        How it starts.
    first_share, later_share : array (points,)
        Flow over that on cool fuel without vapour, of what stands in the suction line, and of fuel from tank or pot.
    suction_volume : array (points,)
        Volume of liquid in the suction line that is drawn first, m3.
    circuit : array (points,)
        Resistance of its circuit, ohm.
    spins_up : bool array (points,)
        Whether its motor takes time; else it is at speed at once.
    constant_flow : array (points,)
        Flow that takes the place of the pump's while it is switched on, m3/s; NaN for the pump's own.
    """

    start: StartingPump
    first_share: PointArray
    later_share: PointArray
    suction_volume: PointArray
    circuit: PointArray
    spins_up: BoolArray
    constant_flow: PointArray


@dataclass(frozen=True)
class Filling:
    """What is filled.

    Attributes
    ----------
    volume, rail_volume : float
        Room of rails and lines under one pressure, and of the rails, m3.
    elastic_volume : float
        Volume by which fuel, hoses, rails and dampers give way per pressure, m3/Pa.
    film_area : float
        Bore times length of the rails, m2.
    set_pressure : float
        Gauge pressure above which nothing is kept, Pa.
    droop : float
        Rise of that pressure with the flow spilled, Pa s/m3.
    vents_rail : bool
        Whether the regulator stands behind the rail, so that gas leaves through it first.
    spills : bool
        Whether what is too much is spilled; else the pump's controller holds it back.
    bleed_area : float
        Area of a bleed at the rail times its discharge coefficient, m2.
    reseat_step : float
        Pressure that is lost as the pump stops and valves shut, Pa.
    atmospheric_pressure : float
        Pa absolute.
    feed_temperature : array (points,)
        Temperature of the fuel that comes, K.
    density : float
        Density of the liquid, kg/m3.
    film : array (points,)
        Heat transfer from condensing vapour, W/m2/K.
    tables : FuelTables
        Properties of the fuel.
    """

    volume: float
    rail_volume: float
    elastic_volume: float
    film_area: float
    set_pressure: float
    droop: float
    vents_rail: bool
    spills: bool
    bleed_area: float
    reseat_step: float
    atmospheric_pressure: float
    feed_temperature: PointArray
    density: float
    film: PointArray
    tables: FuelTables

    @property
    def held_pressure(self) -> float:
        """Absolute pressure above which the regulator opens, Pa."""
        return self.atmospheric_pressure + self.set_pressure

    def pressure(self, inside: Inside) -> PointArray:
        """Return the absolute pressure, Pa."""
        give, gas = self.elastic_volume, inside.air + inside.vapour
        room = self.volume - inside.liquid - give * self.atmospheric_pressure
        root = np.sqrt(room**2 + 4.0 * give * gas)
        with np.errstate(divide="ignore", invalid="ignore"):
            pressure: PointArray = np.where(room < 0.0, (root - room) / (2.0 * give), 2.0 * gas / (room + root))
        return np.nan_to_num(pressure)

    def gas_volume(self, inside: Inside, pressure: PointArray) -> PointArray:
        """Return the room that air and vapour take, m3."""
        return _over_pressure(inside.air + inside.vapour, pressure)

    def gas_share(self, gas: PointArray) -> PointArray:
        """Return the share of the rail that a volume of gas, m3, takes: it stands in the rail first."""
        return np.minimum(gas / self.rail_volume, 1.0)

    def of_volumes(self, gauge: PointArray, air: PointArray, vapour: PointArray, temperature: PointArray) -> Inside:
        """Return what is inside at a gauge pressure, Pa, with volumes of air and vapour, m3, and a temperature, K."""
        pressure = gauge + self.atmospheric_pressure
        liquid = self.volume + self.elastic_volume * gauge - air - vapour
        return Inside(liquid, air * pressure, vapour * pressure, temperature)


class FilledRail(NamedTuple):
    """What came of it, (times, points) each.

    Attributes
    ----------
    time : array (times,)
        Time since key-on, s.
    gauge : array
        Pressure of the rail above the atmosphere, Pa.
    gas : array
        Volume of air and vapour, m3.
    gas_share : array
        Share of the rail that it takes.
    flow : array
        Flow of the pumps, m3/s.
    pumped, spilled, injected, vented : array
        Volume of liquid that the pumps have moved, that regulator and bleed have let go, and that the injectors have
        passed, and volume of liquid that left as vapour, m3.
    temperature : array
        Temperature of the rail's fuel, K.
    phase : array (times,)
        Number of the phase.
    mass_error : float
        Error of the balance of liquid over the run, as a share of the room.
    """

    time: PointArray
    gauge: FloatArray
    gas: FloatArray
    gas_share: FloatArray
    flow: FloatArray
    pumped: FloatArray
    spilled: FloatArray
    injected: FloatArray
    vented: FloatArray
    temperature: FloatArray
    phase: PointArray
    mass_error: float

    def first(self, reached: BoolArray) -> PointArray:
        """Return the first time at which something is so, (points,), s; infinite where it never is."""
        return np.where(reached.any(axis=0), self.time[reached.argmax(axis=0)], np.inf)

    def seconds_to_pressure(self, set_pressure: float) -> PointArray:
        """Return when 95 % of the set pressure, Pa, is there, (points,), s."""
        return self.first(self.gauge >= RESTORED_FRACTION * set_pressure)

    def seconds_to_liquid(self, set_pressure: float) -> PointArray:
        """Return when the pressure is there and the injectors get liquid, (points,), s."""
        return self.first((self.gauge >= RESTORED_FRACTION * set_pressure) & (self.gas_share < LIQUID_ENOUGH))


class _Moved(NamedTuple):
    """Volumes of liquid moved so far, (points,), m3."""

    pumped: PointArray
    spilled: PointArray
    injected: PointArray
    vented: PointArray


def fill(
    filling: Filling,
    pumps: Sequence[PumpAtWork],
    start: Inside,
    phases: Sequence[Phase],
    *,
    until_pressure: bool = False,
    until_liquid: bool = False,
    not_before: float = 0.0,
) -> FilledRail:
    """Run the pumps through phases and return pressures and volumes over time.

    Parameters
    ----------
    filling : Filling
        What is filled.
    pumps : sequence of PumpAtWork
        The pumps that fill it.
    start : Inside
        What is inside at key-on.
    phases : sequence of Phase
        What happens, in order.
    until_pressure, until_liquid : bool
        Whether to end as soon as every point has its pressure, and liquid at the injectors too.
    not_before : float
        Time since key-on before which it does not end, s; where given, no gas may be left in the rail at the end.
    """
    points = len(start.liquid)
    zero = np.zeros(points)
    moved, inside = _Moved(zero, zero, zero, zero), start
    states = [pump.start.at_rest(points) for pump in pumps]
    flow = zero
    rows: list[tuple[PointArray, ...]] = []
    times, numbers, time = [0.0], [0], 0.0
    rows.append(_row(filling, inside, flow, moved))
    for number, phase in enumerate(phases):
        end = time + phase.duration
        shuts = number > 0 and not np.any(phase.voltage > 0.0)
        while time < end - 1e-9:
            seconds = min(next(step for until, step in _STEPS if time < until), end - time)
            inside, moved, states, flow = _step(filling, pumps, inside, moved, states, phase, seconds)
            if shuts and not np.any(flow > 0.0):
                # Valves shut once the pump has run out.
                inside, moved = _reseated(filling, inside, moved)
                shuts = False
            time += seconds
            times.append(time)
            numbers.append(number)
            rows.append(_row(filling, inside, flow, moved))
            enough = rows[-1][0] >= RESTORED_FRACTION * filling.set_pressure
            if until_liquid:
                enough &= rows[-1][2] < (NO_GAS if not_before else LIQUID_ENOUGH)
            if (until_pressure or until_liquid) and time > not_before and bool(np.all(enough)):
                break
        else:
            continue
        break
    columns = [np.array(column) for column in zip(*rows, strict=True)]
    balance = inside.liquid - start.liquid - moved.pumped + moved.spilled + moved.injected + moved.vented
    balance = balance + _as_liquid(filling, inside.vapour) - _as_liquid(filling, start.vapour)
    error = float(np.max(np.abs(balance))) / filling.volume
    gauge, gas, share, pumps_flow, pumped, spilled, injected, vented, temperature = columns
    return FilledRail(
        time=np.array(times),
        gauge=gauge,
        gas=gas,
        gas_share=share,
        flow=pumps_flow,
        pumped=pumped,
        spilled=spilled,
        injected=injected,
        vented=vented,
        temperature=temperature,
        phase=np.array(numbers),
        mass_error=error,
    )


def _row(filling: Filling, inside: Inside, flow: PointArray, moved: _Moved) -> tuple[PointArray, ...]:
    pressure = filling.pressure(inside)
    gas = filling.gas_volume(inside, pressure)
    share = filling.gas_share(gas)
    gauge = pressure - filling.atmospheric_pressure
    gauge = np.where(np.abs(gauge) < _ROUNDING, 0.0, gauge)
    return (gauge, gas, share, flow, *moved, inside.temperature)


def _over_pressure(gas: PointArray, pressure: PointArray) -> PointArray:
    """Return gas over its pressure; nothing where there is none, and no pressure either."""
    return np.divide(gas, pressure, out=np.zeros(len(gas)), where=gas > 0.0)


def _as_liquid(filling: Filling, vapour: PointArray) -> PointArray:
    """Return the volume of liquid that a vapour of some p V would be at 350 K, m3."""
    return vapour * _PER_ENERGY / filling.density


_PER_ENERGY = VAPOUR_MOLAR_MASS / (GAS_CONSTANT * 350.0)
"""Mass of vapour over its pressure times volume, at 350 K, kg/J."""


def _reseated(filling: Filling, inside: Inside, moved: _Moved) -> tuple[Inside, _Moved]:
    """Return what is inside after valves have shut: less by the volume that the step of pressure takes."""
    gauge = filling.pressure(inside) - filling.atmospheric_pressure
    lost = np.minimum(filling.reseat_step, np.maximum(gauge, 0.0)) * filling.elastic_volume
    return inside._replace(liquid=inside.liquid - lost), moved._replace(spilled=moved.spilled + lost)


def _step(
    filling: Filling,
    pumps: Sequence[PumpAtWork],
    inside: Inside,
    moved: _Moved,
    states: Sequence[PointArray],
    phase: Phase,
    seconds: float,
) -> tuple[Inside, _Moved, list[PointArray], PointArray]:
    """Advance by one step: flows linear in the pressure, implicitly; then vapour, then the regulator."""
    pressure = filling.pressure(inside)
    gauge = pressure - filling.atmospheric_pressure
    gas = filling.gas_volume(inside, pressure)
    share = filling.gas_share(gas)
    flow, slope, after = np.zeros(len(gauge)), np.zeros(len(gauge)), []
    for pump, state in zip(pumps, states, strict=True):
        state, drive = pump.start.step(state, phase.voltage, pump.circuit, gauge, seconds)
        drive = np.where(pump.spins_up, drive, pump.start.settled(phase.voltage, pump.circuit, gauge))
        own, own_slope = pump.start.delivered(drive, gauge)
        factor = np.where(moved.pumped < pump.suction_volume, pump.first_share, pump.later_share)
        fixed = ~np.isnan(pump.constant_flow)
        own = np.where(fixed, np.where(phase.voltage > 0.0, pump.constant_flow, 0.0), own * factor)
        flow, slope = flow + own, slope + np.where(fixed, 0.0, own_slope * factor)
        after.append(state)
    # Injectors pass what stands at them; gas passes with the root of the densities' ratio.
    drawn = phase.demand * np.sqrt(np.maximum(gauge, 0.0) / filling.set_pressure)
    gas_density = np.maximum(pressure, filling.atmospheric_pressure) * _PER_ENERGY
    injected = drawn * (1.0 - share) * seconds
    gas_out = drawn * share * np.sqrt(filling.density / gas_density) * seconds
    bled, bled_gas = _bled(filling, inside, pressure, gas, seconds)
    surplus = flow * seconds - injected - bled
    give = filling.elastic_volume + _over_pressure(gas, pressure) - slope * seconds
    change = surplus / give
    # Above its set pressure the regulator spills that excess over its droop, so that the pressure rises by less.
    excess = pressure - filling.held_pressure
    relieved = (filling.droop * surplus - excess * seconds) / (filling.droop * give + seconds)
    # The slope holds near the pressure only.
    flow = flow + slope * np.maximum(np.where(excess + change > 0.0, relieved, change), -1e5)
    pumped = flow * seconds
    gone = np.divide(gas_out + bled_gas, gas, out=np.zeros(len(gas)), where=gas > _LEAST_GAS)
    left = np.maximum(1.0 - gone, 0.0)
    vented = _as_liquid(filling, inside.vapour * (1.0 - left))
    # What flows on through a rail or fills it mixes with what is in it.
    wet = _wet(filling, share)
    through = pumped if filling.vents_rail else np.where(share > 0.0, pumped, injected)
    mixed = 1.0 - np.exp(-through / wet)
    temperature = inside.temperature + mixed * (filling.feed_temperature - inside.temperature)
    inside = Inside(inside.liquid + pumped - injected - bled, inside.air * left, inside.vapour * left, temperature)
    inside = _condensed(filling, inside, seconds)
    moved = _Moved(moved.pumped + pumped, moved.spilled + bled, moved.injected + injected, moved.vented + vented)
    inside, moved, held_back = _relieved(filling, inside, moved, seconds)
    return inside, moved, after, flow - held_back / seconds


def _bled(
    filling: Filling, inside: Inside, pressure: PointArray, gas: PointArray, seconds: float
) -> tuple[PointArray, PointArray]:
    """Return volumes of liquid and of gas that leave through the bleed in a step, m3.

    Liquid by C A sqrt(2 dp/rho); gas by the isentropic nozzle (Saint-Venant and Wantzel), choked where the pressure
    outside is below 0.53 of that inside.
    """
    zero = np.zeros(len(pressure))
    if not filling.bleed_area:
        return zero, zero
    rise = np.maximum(pressure - filling.atmospheric_pressure, 0.0)
    liquid = filling.bleed_area * np.sqrt(2.0 * rise / filling.density) * seconds
    kappa = HEAT_RATIO
    choked = (2.0 / (kappa + 1.0)) ** (kappa / (kappa - 1.0))
    ratio = np.maximum(filling.atmospheric_pressure / np.maximum(pressure, filling.atmospheric_pressure), choked)
    nozzle = np.sqrt(2.0 * kappa / (kappa - 1.0) * (ratio ** (2.0 / kappa) - ratio ** ((kappa + 1.0) / kappa)))
    speed = nozzle * np.sqrt(AIR_CONSTANT * inside.temperature)
    has_gas = np.minimum(gas / (BLEED_SHARE * filling.rail_volume), 1.0)
    return liquid * (1.0 - has_gas), np.minimum(filling.bleed_area * speed * seconds * has_gas, gas)


def _condensed(filling: Filling, inside: Inside, seconds: float) -> Inside:
    """Return what is inside after vapour has condensed, or fuel has boiled, for a step.

    The film carries h A (T_sat(p_v) - T), which condenses at the heat of vaporisation; by Clausius and Clapeyron that
    is k (p_v - p_b) in moles, with k = h A R T2/(p_b H2). H follows from the slope of the fuel's own bubble pressure.
    """
    pressure = filling.pressure(inside)
    gas = filling.gas_volume(inside, pressure)
    temperature = inside.temperature
    bubble = np.asarray(filling.tables.bubble_pressure(temperature))
    if not np.any(inside.vapour > 0.0) and not np.any(pressure < bubble):
        return inside
    warmer = np.asarray(filling.tables.bubble_pressure(temperature + 1.0))
    heat = GAS_CONSTANT * temperature**2 * np.log(warmer / bubble)
    share = filling.gas_share(gas)
    area = filling.film_area * np.maximum(np.cbrt(share), _LEAST_FILM)
    moles_per_pressure = filling.film * area * GAS_CONSTANT * temperature**2 / (bubble * heat**2)
    energy = moles_per_pressure * GAS_CONSTANT * temperature * seconds
    own_room = np.maximum(gas, _LEAST_GAS)
    vapour = (inside.vapour + energy * bubble) / (1.0 + energy / own_room)
    vapour = np.where((pressure > bubble) & (own_room <= _VANISHING_GAS), 0.0, vapour)
    condensed = _as_liquid(filling, inside.vapour - vapour)
    # What condenses warms the liquid of the rail.
    capacity = filling.density * _wet(filling, share) * np.asarray(filling.tables.heat_capacity(temperature))
    warmed = temperature + condensed * filling.density / VAPOUR_MOLAR_MASS * heat / capacity
    return Inside(inside.liquid + condensed, inside.air, vapour, warmed)


def _wet(filling: Filling, share: PointArray) -> PointArray:
    """Return the volume of liquid in the rail at some share of gas, m3."""
    return filling.rail_volume * np.maximum(1.0 - share, _LEAST_WET)


def _relieved(filling: Filling, inside: Inside, moved: _Moved, seconds: float) -> tuple[Inside, _Moved, PointArray]:
    """Return what is inside after the regulator has let go what is too much, and what a controller held back, m3.

    A regulator passes the pressure's excess over its droop D: where C is the volume that gives way per pressure, an
    excess p falls within a time t to p D C/(D C + t), the implicit step of C dp/dt = -p/D. Gas passes freely.
    """
    zero = np.zeros(len(inside.liquid))
    pressure, held = filling.pressure(inside), filling.held_pressure
    over = pressure > held
    if not np.any(over):
        return inside, moved, zero
    give, total = filling.elastic_volume, inside.air + inside.vapour
    room = filling.volume - inside.liquid - give * filling.atmospheric_pressure
    kept, moves = total, give + _over_pressure(total, pressure**2)
    if filling.vents_rail:
        # Gas leaves first, as much as keeps the pressure.
        kept, moves = (
            np.where(over, np.clip(give * held**2 + room * held, 0.0, total), total),
            np.where(total > 0.0, 0.0, give),
        )
    limit = held + (pressure - held) * filling.droop * moves / (filling.droop * moves + seconds)
    share = np.divide(kept, total, out=np.ones(len(total)), where=total > 0.0)
    vented = _as_liquid(filling, inside.vapour * (1.0 - share))
    liquid = filling.volume - give * filling.atmospheric_pressure - (kept - give * limit**2) / limit
    let_go = np.where(over, np.maximum(inside.liquid - liquid, 0.0), 0.0)
    inside = Inside(inside.liquid - let_go, inside.air * share, inside.vapour * share, inside.temperature)
    moved = moved._replace(vented=moved.vented + vented)
    if filling.spills:
        return inside, moved._replace(spilled=moved.spilled + let_go), zero
    return inside, moved._replace(pumped=moved.pumped - let_go), let_go
