"""Whether an old line, vent or tank can stay: the power, bypass and pump it bears, the least fill of a tank."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim import opener
from fuelsim.arguments import number, takes, unchecked
from fuelsim.car.car import Car
from fuelsim.car.peak_power import given_peak_power
from fuelsim.car.tables import PlumbedLine
from fuelsim.constants import GRAVITY, L_PER_HOUR, STANDARD_ATMOSPHERE
from fuelsim.errors import InputError, nearest
from fuelsim.laws.friction import line_loss
from fuelsim.network.network import Network
from fuelsim.numerics.bracket import bisect
from fuelsim.parts.catalogue_parts import catalogue_names
from fuelsim.parts.pump.pump import Pump
from fuelsim.shown import Shown
from fuelsim.studies import limits
from fuelsim.studies.line_findings import DEEPEST_VACUUM
from fuelsim.studies.part_inverses import tank_liquid
from fuelsim.studies.requirements import Requirements
from fuelsim.system.manoeuvre import ManoeuvreName, manoeuvre
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.plumbing import PlannedLink
from fuelsim.system.run import System
from fuelsim.typing import BoolArray, FloatArray, Quantity, UnitSystem
from fuelsim.units import shown

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["CanStay", "Limiting", "can_stay"]

MOST_FLOW = 2000.0 * L_PER_HOUR
"""Flow beyond which no line of a car is asked, m3/s."""
STEPS = 50
"""Halvings of a bracket."""
FULL_VOLTAGE = 13.5
"""Voltage at the terminals at which pumps are compared, V: that of their class figures."""
CORNERS: tuple[ManoeuvreName, ...] = ("left", "right")


class Limiting(NamedTuple):
    """One limit of an old part.

    Attributes
    ----------
    limit : str
        What limits it, in words, with the limit's value and source.
    flow : float
        Greatest flow through the part, m3/s; NaN for a tank.
    power : float
        Greatest engine power, W; NaN where the flow does not depend on it, or the engine's power is not known.
    bypass : float
        Greatest flow through the regulator, m3/s; NaN for what is no return line.
    """

    limit: str
    flow: float
    power: float
    bypass: float


@dataclass(frozen=True)
class CanStay(Shown):
    """What an old part bears.

    Attributes
    ----------
    part : str
        Key of the part.
    use : str
        ``"feed"``, ``"suction"``, ``"return"``, ``"vent"`` or ``"tank"``.
    limits : tuple of Limiting
        What limits it, each by itself; empty for a tank.
    demand : float
        Greatest flow that the car as it is asks of the part, m3/s; NaN for a tank.
    pump : str
        Largest pump of the catalogue of the car's mounting that it bears by flow and rating, empty where none is or
        the part does not depend on it.
    least_fill : float
        Least volume of fuel at which the pick-up stays covered in a steady corner, m3; NaN for what is no tank.
    cornering : float
        Acceleration of that corner, m/s2.

    Examples
    --------
    >>> import fuelsim as fs
    >>> fs.can_stay(fs.Car.named("heron"), "return", "return_line").use
    'return'
    """

    part: str
    use: str
    limits: tuple[Limiting, ...]
    demand: float
    pump: str
    least_fill: float
    cornering: float

    @property
    def lowest(self) -> Limiting | None:
        """The limit that is reached first; None for a tank."""
        return min(self.limits, key=lambda each: each.flow) if self.limits else None

    @property
    def headline(self) -> str:
        """Return what it bears and whether the car as it is asks more; never that a part is safe."""
        return opener.can_stay_sentence(self)

    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per limit: greatest flow, power and bypass.

        Parameters
        ----------
        units : str, optional
            A name of `units.SYSTEMS`; left out, the preferred one.

        Returns
        -------
        pandas.DataFrame

        Examples
        --------
        >>> import fuelsim as fs
        >>> fs.can_stay(fs.Car.named("heron"), "return", "feed").table()["flow_L_h"].is_monotonic_increasing
        True
        """
        return opener.can_stay_table(self, units)


@system_or_car
@takes({"cornering": number("acceleration", 0.1, 30.0, single=True, example="0.8 g")})
def can_stay(system: System, part: str, *, cornering: Quantity = 0.8 * GRAVITY) -> CanStay:
    """Return what an old feed, suction or return line, vent or tank bears.

    A feed line may lose the share of the set pressure that requirements allow, a suction line the depression that they
    allow (its own loss alone: height and strainer come on top); a return line may raise the rail by the share that
    they allow at idle, which is a bypass, until the regulator is wide open. Each has its guide of velocity beside it.
    A vent may pull the tank down by 3 kPa. What a line is rated for is compared with the dead-head pressure of pumps.

    Parameters
    ----------
    system : System
        A car plumbed in one layout, with the old part's length, bore and roughness: rusted steel is far rougher than
        drawn tube.
    part : str
        Key of the part: ``"feed"``, ``"suction"``, ``"return_line"``, ``"lines.crossover"``, ``"tank.vent"`` or
        ``"tank"``, which needs the car's ``[plan]``.
    cornering : float or str
        Steady acceleration in a corner for which a tank is judged, m/s2.

    Returns
    -------
    CanStay

    Raises
    ------
    InputError
        For a part that the layout does not have, or a tank without a plan.

    Examples
    --------
    Can the old 1/4 in vent line be the return?

    >>> import fuelsim as fs
    >>> car = fs.Car.named("heron").with_values({"return_line.bore": "4.93 mm", "return_line.length": "5 m"})
    >>> answer = can_stay(car, "return", "return_line")
    >>> bool(200 < answer.limits[0].bypass * 3.6e6 < 300)
    True
    """
    lines = {
        link.table: (use, link)
        for use, links in (
            ("suction", system.plumbing.suction_lines),
            ("feed", system.plumbing.feed_lines),
            ("return", system.plumbing.return_lines),
        )
        for link in links
    }
    if part == "tank":
        return _tank(system.car, float(cornering))
    if part == "tank.vent":
        return _vent(system)
    if part not in lines:
        known = [*lines, "tank", "tank.vent"]
        raise InputError("no such part in this layout", given=part, accepted=nearest(part, known), key="part")
    use, link = lines[part]
    return _return(system, part, link) if use == "return" else _line(system, part, use, link)


def _greatest_power(car: Car) -> float:
    """Return the greatest power of the engine, W; NaN where its full-load curve does not say."""
    peak = given_peak_power(car.engine)
    return np.nan if peak is None else peak.power


def _burnt(system: System) -> float:
    """Return the greatest fuel flow of the engine at full load, m3/s at the tank's temperature."""
    fuel, engine = system.car.fuel.fuel(), system.car.engine
    rpm = np.linspace(0.3, 1.0, 15) * float(np.max(engine.red_line))
    ratio = fuel.stoichiometric_air_fuel_ratio
    mass = np.max(engine.demand(rpm, 1.0, stoichiometric_air_fuel_ratio=ratio).fuel_mass_flow)
    return float(mass / fuel.density(float(np.max(system.car.surroundings.fuel_temperature))))


def _flow_of_loss(system: System, link: PlannedLink[PlumbedLine], loss: float) -> float:
    """Return the flow at which a line loses so much, m3/s."""
    coefficients = link.part.coefficients(tank_liquid(system.car))
    return float(bisect(lambda flow: line_loss(flow, coefficients)[0] < loss, 0.0, MOST_FLOW, STEPS))


def _flow_of_velocity(link: PlannedLink[PlumbedLine], velocity: float) -> float:
    return float(velocity * 0.25 * np.pi * np.min(link.part.bore) ** 2)


def _largest_pump(system: System, part: str, flow: float) -> str:
    """Return the largest pump whose flow at the held pressure a line bears, and a feed line whose dead-head too."""
    line = system.car.value_of(part)
    under_pressure = any(link.table == part for link in system.plumbing.feed_lines)
    rating = line.working_pressure if isinstance(line, PlumbedLine) and under_pressure else None
    held = float(np.max(system.plumbing.held_pressure(system.car.engine.boost_pressure)))
    best, most = "", 0.0
    for name in catalogue_names("pumps"):
        pump = Pump.named(name)
        if pump.mounting != system.plumbing.main_pump.part.mounting or pump.dead_head_pressure <= held:
            continue
        if rating is not None and pump.dead_head_to_withstand > rating:
            continue
        delivered = float(unchecked(pump.at(supply_voltage=FULL_VOLTAGE).flow)(held))
        if most < delivered <= flow:
            best, most = name, delivered
    return best


def _line(system: System, part: str, use: str, link: PlannedLink[PlumbedLine]) -> CanStay:
    """Return what a feed or suction line bears."""
    requirements, car = Requirements(), system.car
    if use == "feed":
        share = float(requirements.rail_shortfall)
        loss = share * float(np.max(system.plumbing.held_pressure()))
        why = f"it loses {100.0 * share:.0f} % of the set pressure"
        velocity = limits.FEED_VELOCITY
    else:
        loss = limits.SUCTION_DEPRESSION.value
        why = f"it loses {shown(loss, 'pressure difference')} ({limits.SUCTION_DEPRESSION.citation})"
        velocity = limits.SUCTION_VELOCITY
    guide = velocity.value
    # At idle, where every car is fed.
    run = system.solve(rpm=[float(np.max(car.engine.idle_speed)), float(np.max(car.engine.red_line))], load=[0.0, 1.0])
    flows = np.abs(run.flow[link.name])
    burnt = _burnt(system)
    # Before the regulator a line takes its share of what the pumps deliver, behind it of what is burnt.
    spilt, of_all = 0.0, float(run.burnt_flow[0])
    if link.downstream in _before_regulators(system):
        spilt = limits.BYPASS.value
        of_all = float(sum(run.flow[pump.name][0] for pump in system.plumbing.pumps))
    share_of_line = float(flows[0]) / of_all
    rows = []
    for limit, flow in (
        (why, _flow_of_loss(system, link, loss)),
        (f"velocity {guide:g} m/s ({velocity.citation})", _flow_of_velocity(link, guide)),
    ):
        engine_flow = flow / share_of_line - spilt
        rows.append(Limiting(limit, flow, _greatest_power(car) * max(engine_flow, 0.0) / burnt, np.nan))
    rows.sort(key=lambda row: row.flow)
    demand = max(float(np.nanmax(flows)), share_of_line * burnt)
    return CanStay(part, use, tuple(rows), demand, _largest_pump(system, part, rows[-1].flow), np.nan, np.nan)


def _before_regulators(system: System) -> frozenset[str]:
    """Return the stations that lie before a return regulator, so that the bypass flows through what leads to them."""
    regulator = system.plumbing.regulator
    if regulator is None:
        return frozenset()
    return frozenset(system.plumbing.stations) if system.plumbing.sweeps_rail else frozenset({regulator.upstream})


def _return(system: System, part: str, link: PlannedLink[PlumbedLine]) -> CanStay:
    """Return what a return line bears: rail pressure at idle over the bypass, by a network of regulator and line."""
    regulator, car = system.plumbing.regulator, system.car
    if regulator is None:
        raise InputError("no regulator spills into this line", accepted="a layout with a return", key="part")
    excess = float(Requirements().rail_excess)
    idle = system.solve(rpm=float(np.max(car.engine.idle_speed)), load=0.0)
    manifold = STANDARD_ATMOSPHERE
    if regulator.part.reference == "manifold":
        manifold = float(car.engine.demand(np.max(car.engine.idle_speed), 0.0).manifold_pressure)
    net = Network()
    net.add_reservoir("tank", STANDARD_ATMOSPHERE)
    net.add_reservoir("reference", manifold)
    net.add_node("rail")
    net.add_node("back")
    net.connect("rail", "back", regulator.part, name="regulator", reference="reference")
    net.connect("back", "tank", link.part, name="return")
    set_pressure = float(np.max(regulator.part.set_pressure))
    most = manifold + (1.0 + excess) * set_pressure
    flows = np.linspace(5.0, 1500.0, 300) * L_PER_HOUR
    rail = np.asarray(net.solve(tank_liquid(car), draw={"rail": -flows}).pressure["rail"])
    by_excess = float(np.interp(most, rail, flows, right=np.nan))
    guide = limits.RETURN_VELOCITY
    by_velocity = _flow_of_velocity(link, guide.value)
    rows = [
        Limiting(
            f"the rail stands {100.0 * excess:.0f} % above its set pressure at idle", by_excess, np.nan, by_excess
        ),
        Limiting(f"velocity {guide.value:g} m/s ({guide.citation})", by_velocity, np.nan, by_velocity),
    ]
    demand = float(np.abs(idle.flow[link.name]))
    idle_burnt = float(np.max(idle.burnt_flow))
    pump = _largest_pump(system, part, by_excess + idle_burnt)
    return CanStay(part, "return", tuple(rows), demand, pump, np.nan, np.nan)


def _vent(system: System) -> CanStay:
    """Return what the tank's vent bears: the fuel that air replaces."""
    vent, burnt = system.car.tank.vent, _burnt(system)
    pressure = unchecked(vent.gauge_pressure)
    flow = float(bisect(lambda draw: pressure(draw) > -DEEPEST_VACUUM, 0.0, MOST_FLOW, STEPS))
    depth = f"the tank stands {DEEPEST_VACUUM / 1e3:g} kPa below the atmosphere (assumed)"
    row = Limiting(depth, flow, _greatest_power(system.car) * flow / burnt, np.nan)
    return CanStay("tank.vent", "vent", (row,), burnt, "", np.nan, np.nan)


def _tank(car: Car, cornering: float) -> CanStay:
    """Return the least fill at which the pick-up stays covered in a steady corner to either side."""

    def bare(volumes: FloatArray) -> BoolArray:
        corners = [manoeuvre(car, corner, cornering, fuel_volume=float(volumes)) for corner in CORNERS]
        return np.asarray(any(bool(corner.uncovered) for corner in corners))

    volume = float(np.max(car.tank.volume))
    least = np.nan if bare(np.asarray(0.999 * volume)) else float(bisect(bare, 0.002 * volume, volume, 20))
    return CanStay("tank", "tank", (), np.nan, "", least, cornering)
