"""What a start needs to know of a stopped car: the room to be filled, and the pumps that fill it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from fuelsim.constants import GRAVITY
from fuelsim.errors import InputError
from fuelsim.liquid import Liquid
from fuelsim.numerics.pointwise import greatest_at_each_point
from fuelsim.parts.part import Part
from fuelsim.parts.pump.pump import Pump
from fuelsim.system.plumbing import PlannedLink, Plumbing
from fuelsim.system.plumbing_paths import drawn_from
from fuelsim.system.vessels import vessels_before
from fuelsim.transients.pump_start import StartingPump, starting_pump
from fuelsim.transients.rail_filling import Filling, PumpAtWork
from fuelsim.transients.shut_in_course import RESEAT
from fuelsim.transients.shut_in_fuel import ShutInFuel
from fuelsim.typing import BoolArray, FloatLike, PointArray

__all__ = [
    "PRIME_TIME",
    "DrawnFuel",
    "StoppedPump",
    "drawn_fuel",
    "filling_of",
    "pumps_at_work",
    "stopped_pumps",
]

PRIME_TIME = 2.0
"""Duration of the pump's run at key-on, s: 1.5 to 2 [service_manuals_e]."""
BOUND_RATIO = 3.0
"""V/L over that tolerated, with cool fuel from the tank, from which a pump is vapour-bound and never fills the rail
[assumed]."""
BENCH_TEMPERATURE = 293.15
"""Temperature of the fuel for which a starting pump is tabulated, as on a bench, K."""
GREATEST_OVER_SET = 1.3
"""Greatest pressure over the set pressure for which a starting pump is tabulated (numerical)."""
GREATEST_VOLTAGE = 16.0
"""Greatest supply voltage for which it is, V (numerical)."""


class StoppedPump(NamedTuple):
    """A pump that feeds the rails, as it will start.

    Attributes
    ----------
    link : PlannedLink
        The pump.
    start : StartingPump
        How it starts.
    suction_volume : float
        Volume of its suction line, m3.
    """

    link: PlannedLink[Pump]
    start: StartingPump
    suction_volume: float


class DrawnFuel(NamedTuple):
    """Fuel that a pump draws at each time of a soak, (times,) each.

    Attributes
    ----------
    first_share, later_share : array
        Flow over that on cool fuel without vapour: of what stands in the suction line, of fuel from tank or pot.
    first_ratio : array
        V/L of what stands in the suction line.
    bound : bool array
        Whether even the fuel from tank or pot vapour-binds the pump.
    """

    first_share: PointArray
    later_share: PointArray
    first_ratio: PointArray
    bound: BoolArray


def stopped_pumps(fuel: ShutInFuel) -> list[StoppedPump]:
    """Return the pumps that deliver into the rails; where a reducer stands between, those before it.

    Parameters
    ----------
    fuel : ShutInFuel
        The stopped car.
    """
    plumbing = fuel.system.plumbing
    density = float(fuel.system.fuel.density(BENCH_TEMPERATURE))
    links = _pumps_of_rails(plumbing)
    pumps = []
    for link, loss in zip(links, _losses_to_rail(fuel, links), strict=True):
        rail = plumbing.rails[0]
        lift = plumbing.heights[rail] - plumbing.heights[drawn_from(plumbing, link.upstream)]
        zone = plumbing.zone(link.upstream)
        start = starting_pump(
            link.part,
            plumbing.wires[link.name],
            greatest_gauge=GREATEST_OVER_SET * fuel.set_pressure,
            greatest_voltage=GREATEST_VOLTAGE,
            tank_gauge=float(fuel.car.tank.gauge_pressure(0.0)),
            loss=loss,
            head=GRAVITY * lift * density,
            fuel_density=density,
        )
        suction = sum(
            float(line.part.volume) for line in plumbing.suction_lines if plumbing.zone(line.downstream) == zone
        )
        pumps.append(StoppedPump(link, start, suction))
    return pumps


def _pumps_of_rails(plumbing: Plumbing) -> list[PlannedLink[Pump]]:
    with_rails = {plumbing.zone(rail) for rail in plumbing.rails}
    ends = with_rails | {
        plumbing.zone(link.upstream) for link in plumbing.reducers if plumbing.zone(link.downstream) in with_rails
    }
    return [link for link in plumbing.pumps if plumbing.zone(link.downstream) in ends] or [plumbing.main_pump]


def _losses_to_rail(fuel: ShutInFuel, pumps: Sequence[PlannedLink[Pump]]) -> list[float]:
    """Return the loss between each pump and the first rail over the square of its flow, Pa s2/m6.

    Each part loses by its own law what it does while all pumps deliver their free flow, shared alike by the rails: that
    is how lines are filled, whatever a layout spills before the rail once the pressure is there.
    """
    plumbing, liquid = fuel.system.plumbing, fuel.system.fuel.liquid(BENCH_TEMPERATURE)
    flows = [float(np.max(pump.part.at().flow(0.0))) for pump in pumps]
    through = dict.fromkeys((link.name for link in plumbing.links), 0.0)
    ways = [[_way(plumbing, pump, rail) for rail in plumbing.rails] for pump in pumps]
    for flow, to_rails in zip(flows, ways, strict=True):
        for way in to_rails:
            for link in way:
                through[link.name] += flow / len(to_rails)
    return [
        sum(_loss(link.part, through[link.name], liquid) for link in to_rails[0]) / flow**2
        for flow, to_rails in zip(flows, ways, strict=True)
    ]


def _way(plumbing: Plumbing, pump: PlannedLink[Pump], rail: str) -> tuple[PlannedLink[Part], ...]:
    """Return the links from a pump to a rail, in the order of flow; none where they meet, or fuel comes another way."""
    try:
        return plumbing.between(pump.downstream, rail)
    except InputError:
        return ()


def _loss(part: Part, flow: float, liquid: Liquid) -> float:
    """Return the loss of a part, Pa; none of one that holds a pressure, which stands wide open below it."""
    return 0.0 if part.law.loss is None else float(np.max(part.law.loss(flow, part.coefficients(liquid))[0]))


def drawn_fuel(fuel: ShutInFuel, pump: StoppedPump, time: PointArray) -> DrawnFuel:
    """Return what a pump draws at each time of a soak.

    Parameters
    ----------
    fuel : ShutInFuel
        The stopped car.
    pump : StoppedPump
        One of its pumps.
    time : array (times,)
        Time since the stop, s, ascending from 0.
    """
    plumbing, tables, link = fuel.system.plumbing, fuel.tables, pump.link
    pots = [name for name in vessels_before(plumbing, link.upstream) if name in plumbing.pots]
    # A pump that draws from several pots at once starts with the hottest.
    of_pots = [fuel.pot_temperature(pot, time) for pot in pots]
    of_vessel = greatest_at_each_point(of_pots) if of_pots else np.full(time.shape, fuel.tank_temperature)
    of_suction = np.asarray(fuel.feed_temperature(time)) if pump.suction_volume else of_vessel
    pressure = np.full(time.shape, fuel.atmospheric_pressure + float(fuel.car.tank.gauge_pressure(0.0)))
    ratios = [tables.vapour_liquid_ratio_after_drop(own, pressure) for own in (of_suction, of_vessel)]
    running = link.part.at()
    shares = [
        np.asarray(running.with_inlet(vapour_liquid_ratio=ratio, fuel_temperature=own).flow_factor)
        for ratio, own in zip(ratios, (of_suction, of_vessel), strict=True)
    ]
    bound = np.asarray(ratios[1] > BOUND_RATIO * link.part.tolerated_vapour)
    return DrawnFuel(shares[0], np.where(bound, 0.0, shares[1]), np.asarray(ratios[0]), bound)


def pumps_at_work(
    pumps: Sequence[StoppedPump],
    drawn: Sequence[DrawnFuel],
    points: int,
    *,
    circuit_share: PointArray | None = None,
    spins_up: BoolArray | None = None,
    constant_flow: PointArray | None = None,
) -> list[PumpAtWork]:
    """Return the pumps with what they draw, at some points.

    Parameters
    ----------
    pumps : sequence of StoppedPump
        The pumps.
    drawn : sequence of DrawnFuel
        What each draws, (points,) or one value.
    points : int
        Number of points.
    circuit_share : array (points,), optional
        Resistance of the circuit over its own; 1 if left out.
    spins_up : bool array (points,), optional
        Whether motors take time to come to speed; they do if left out.
    constant_flow : array (points,), optional
        Flow in place of the pumps' own, m3/s, NaN for none.
    """
    none = np.full(points, np.nan)
    share = np.ones(points) if circuit_share is None else circuit_share
    return [
        PumpAtWork(
            start=pump.start,
            first_share=np.full(points, own.first_share),
            later_share=np.full(points, own.later_share),
            suction_volume=np.full(points, pump.suction_volume / (1.0 + own.first_ratio)),
            circuit=pump.start.circuit_resistance * share,
            spins_up=np.ones(points, dtype=bool) if spins_up is None else spins_up,
            constant_flow=none if constant_flow is None else constant_flow / len(pumps),
        )
        for pump, own in zip(pumps, drawn, strict=True)
    ]


def filling_of(
    fuel: ShutInFuel,
    feed_temperature: FloatLike,
    film: PointArray,
    *,
    bleed_area: float = 0.0,
    reseat_step: float = RESEAT,
) -> Filling:
    """Return what is filled.

    Parameters
    ----------
    fuel : ShutInFuel
        The stopped car.
    feed_temperature : float or array (points,)
        Temperature of the fuel that comes, K.
    film : array (points,)
        Heat transfer from condensing vapour, W/m2/K.
    bleed_area : float
        Area of a bleed times its discharge coefficient, m2.
    reseat_step : float
        Pressure that is lost as the pump stops and valves shut, Pa.
    """
    plumbing = fuel.system.plumbing
    regulator = plumbing.regulator
    return Filling(
        volume=fuel.volume,
        rail_volume=fuel.rail_volume,
        elastic_volume=fuel.elastic_volume,
        film_area=float(sum(float(rail.line().bore * rail.line().length) for rail in fuel.rails.values())),
        set_pressure=fuel.set_pressure,
        droop=0.0 if regulator is None else float(np.max(regulator.part.droop)),
        vents_rail=plumbing.sweeps_rail,
        spills=regulator is not None,
        bleed_area=bleed_area,
        reseat_step=reseat_step,
        atmospheric_pressure=fuel.atmospheric_pressure,
        feed_temperature=np.full(len(film), feed_temperature),
        density=float(fuel.tables.density(float(np.max(fuel.start_temperatures)))),
        film=film,
        tables=fuel.tables,
    )
