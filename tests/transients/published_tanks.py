"""Published temperatures of whole cars beside ours: one list that the tests compute and that prints as a table.

``python tests/transients/published_tanks.py`` prints the table as markdown, outliers marked. Nothing is fitted to it:
the cars are the two demo cars with the inputs that stand in the row.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np

import fuelsim as fs
from fuelsim.laws.atmosphere import standard_pressure
from fuelsim.sources import cite
from fuelsim.transients.events import Event, EventName
from fuelsim.transients.schedule import Phase, Schedule, typical_phase
from fuelsim.transients.tank_fuel import tank_fuel

HEAD = "| quantity | published | ours | difference | inputs assumed | why | source |"
CELSIUS = 273.15


@dataclass(frozen=True)
class Row:
    """One published figure or band, ours, and how far outside the band ours may lie.

    An outlier is a row that is known to lie outside: `why` says why, and `allowed` is how far.
    """

    quantity: str
    low: float
    high: float
    unit: str
    compute: Callable[[], float]
    allowed: float
    inputs: str
    why: str
    source: str
    outlier: bool = False

    @property
    def ours(self) -> float:
        """What the library computes."""
        return _computed(self.compute)

    @property
    def difference(self) -> float:
        """Ours less the nearest end of the published band; 0 inside."""
        return self.ours - float(np.clip(self.ours, self.low, self.high))

    def markdown(self) -> str:
        """The row of a markdown table."""
        published = f"{self.low:g}" if self.low == self.high else f"{self.low:g} to {self.high:g}"
        inside = self.difference == 0.0 and self.low < self.high
        apart = "inside" if inside else f"{self.difference:+.1f}" + (" **outlier**" if self.outlier else "")
        cells = (self.quantity, f"{published} {self.unit}", f"{self.ours:.1f}", apart, self.inputs, self.why)
        return "| " + " | ".join((*cells, cite(self.source))) + " |"


@cache
def _computed(compute: Callable[[], float]) -> float:
    return float(compute())


@cache
def car(name: str = "finch", **changes: str) -> fs.Car:
    """Return a demo car with dotted keys written with a double underscore."""
    return fs.Car.named(name).with_values({key.replace("__", "."): value for key, value in changes.items()})


@cache
def rise(
    layout: str, kind: str, hours: float, air: float, *, name: str = "finch", litres: float, duty: float = 1.0
) -> float:
    """Return the tank above ambient after a drive that starts at the air's temperature, K."""
    one = car(name, surroundings__air_temperature=f"{air} degC", tank__fuel_volume=f"{litres} L")
    if kind == "cruise":
        phase = Phase(
            name="cruise", duration=f"{hours} h", rpm=2600.0, load=0.2, vehicle_speed="90 km/h", pump_duty=duty
        )
    else:
        phase = typical_phase(kind, f"{hours} h", one, pump_duty=duty)
    return fs.drive(one, layout, Schedule.of([phase]), output_step="5 min").tank_rise


def running_loss_schedule(one: fs.Car) -> Schedule:
    """Return 72 minutes of a running-loss test: city, idle, twice dense traffic with idles, city (from memory)."""
    city = typical_phase("city", "1372 s", one)
    idle = Phase(name="idle", duration="120 s", vehicle_speed=0.0)
    dense = Phase(name="dense", duration="598 s", rpm=0.2 * one.engine.red_line, load=0.12, vehicle_speed="11.4 km/h")
    return Schedule.of([city, idle, dense, idle, dense, idle, city])


@cache
def running_loss(layout: str, name: str, duty: float = 1.0) -> float:
    """Return the rise of a tank of 60 L, 40 % full, over the running-loss test at 35 degC, K."""
    one = car(name, surroundings__air_temperature="35 degC", tank__volume="60 L", tank__fuel_volume="24 L")
    phases = [phase.with_values({"pump_duty": duty}) for phase in running_loss_schedule(one).phases]
    result = fs.drive(one, layout, Schedule.of(phases), tank_temperature="35 degC", output_step="2 min")
    return float(result.tank_temperature[-1] - result.tank_temperature[0])


@cache
def parked_minutes(name: str, **changes: str) -> float:
    """Return the time constant with which a warm tank nears the air, min, over an hour long after the stop."""
    still = {"surroundings__underfloor_rise": "0 K", "surroundings__cruising_underfloor_rise": "0 K"}
    one = car(name, surroundings__air_temperature="15 degC", **still, **changes)
    parked = Phase(name="parked", duration="1 h", engine="stopped")
    result = fs.drive(one, "return", Schedule.of([parked]), tank_temperature="30 degC")
    above = result.tank_temperature - 288.15
    return 60.0 / float(np.log(above[0] / above[-1]))


@cache
def heated_by_300_watts(litres: float, conductance: float, hours: float) -> float:
    """Return the rise of a parked, sealed tank under 300 W, K."""
    one = car(
        surroundings__air_temperature="25 degC",
        surroundings__cruising_underfloor_rise="0 K",
        tank__volume="60 L",
        tank__fuel_volume=f"{litres} L",
        tank__heat_conductance=f"{conductance} W/K",
        tank__sunlit_area="0.3 m2",
        tank__vent__bore="0.1 mm",
        tank__vent__pressure_opening="20 kPa",
    )
    parked = Phase(name="parked", duration=f"{hours} h", engine="stopped")
    return fs.drive(one, "return", Schedule.of([parked]), output_step="30 min").tank_rise


@cache
def rail(layout: str, kind: str, air: float, tank: float) -> float:
    """Return the temperature of the fuel in the finch's rail in steady driving, degC."""
    one = car(surroundings__air_temperature=f"{air} degC")
    driving = {"jam": (800.0, 0.0, 2.0), "cruise": (2600.0, 0.2, 90.0), "road": (2000.0, 0.15, 64.0)}[kind]
    run = one.system(layout).solve(
        fs.Conditions(rpm=driving[0], load=driving[1], vehicle_speed=driving[2] / 3.6, tank_temperature=f"{tank} degC")
    )
    return float(run.temperature["rail"]) - CELSIUS


@cache
def soak_peak(layout: str, air: float) -> float:
    """Return the highest temperature of the finch's rail after a stop, degC."""
    one = car(surroundings__air_temperature=f"{air} degC")
    return float(np.max(fs.hot_soak(one, layout, duration="60 min").rail_temperature)) - CELSIUS


@cache
def boils_at(kilopascal: float, ethanol: float = 0.0, *, altitude: float = 0.0, gauge: float = 0.0) -> float:
    """Return the temperature at which a tank of petrol of a DVPE boils, degC."""
    fuel = tank_fuel(fs.Fuel.petrol(f"{kilopascal} kPa", ethanol=ethanol))
    return fuel.boiling_temperature(float(standard_pressure(altitude)) + gauge, 0.0) - CELSIUS


def _jam_of_heron(air: float, litres: float) -> list[Event]:
    """Return the events of three hours in a jam with the heron's outside pump."""
    one = car("heron", surroundings__air_temperature=f"{air} degC", tank__fuel_volume=f"{litres} L")
    return list(fs.drive(one, "return", Schedule.of([typical_phase("jam", "3 h", one)]), output_step="1 min").events)


@cache
def noisy_after(litres: float) -> float:
    """Return after how many minutes in a jam at 32 degC the heron's outside pump is first noisy."""
    return min(event.time for event in _jam_of_heron(32.0, litres) if event.name is EventName.NOISE) / 60.0


@cache
def flow_lost_below_boiling() -> float:
    """Return how far below the tank's boiling point the heron's outside pump has lost a tenth of its flow, K."""
    one = car("heron", fuel__name=None, fuel__vapour_pressure="62 kPa", fuel__ethanol=0.0)
    tank = np.arange(300.0, CELSIUS + boils_at(62.0), 0.1)
    flow = np.asarray(one.system("return").solve(rpm=2500.0, load=0.3, tank_temperature=tank).flow["pump"])
    return CELSIUS + boils_at(62.0) - float(tank[np.argmax(flow < 0.9 * flow[0])])


@cache
def bubble_gauge(celsius: float, ethanol: float) -> float:
    """Return the gauge pressure that keeps petrol of 62 kPa liquid, kPa."""
    fuel = fs.Fuel.petrol("62 kPa", ethanol=ethanol)
    return (float(fuel.bubble_pressure(celsius + CELSIUS)) - 101325.0) / 1e3


@cache
def bubble_celsius(kilopascal: float) -> float:
    """Return the temperature at which E10 of 62 kPa boils under an absolute pressure, degC."""
    return float(fs.Fuel.petrol("62 kPa", ethanol=0.1).tables().bubble_temperature(1e3 * kilopascal)) - CELSIUS


@cache
def remedy(name: str, station: str) -> float:
    """Return what a remedy gains at once on the heron with a return, K."""
    gains = {each.name: each for each in fs.remedies(car("heron"), "return").remedies}
    return gains[name].pump_gain_at_once if station == "pump" else gains[name].rail_gain_at_once


@cache
def hottest_tank_of_an_old_loop() -> float:
    """Return the highest temperature of the heron's tank in five hours of traffic in Kuwait, degC."""
    one = fs.Car.named("heron")
    jam = Schedule.of([typical_phase("jam", "5 h", one)], start_time="12 h")
    result = fs.drive(one, "return", jam, climate=fs.hot_day("kuwait"), output_step="5 min")
    return float(np.max(result.tank_temperature)) - CELSIUS


FLEET = "60 L tank, 40 % full, 35 degC, running-loss test in three of our kinds of driving"
ROWS = (
    # ---- section 8: tanks
    Row(
        "tank rise in 72 min at 35 degC, older cars",
        19.4,
        19.4,
        "K",
        lambda: running_loss("return", "heron"),
        8.0,
        f"heron, return; {FLEET}",
        "about 200 W of exhaust and road heat on the tank would close it; near 50 degC our vented tank begins to boil",
        "moves_tank_temperature",
    ),
    Row(
        "the same, a small car",
        19.4,
        19.4,
        "K",
        lambda: running_loss("return", "finch"),
        12.0,
        f"finch, return; {FLEET}",
        "as above",
        "moves_tank_temperature",
    ),
    Row(
        "tank rise in 72 min at 35 degC, newer cars",
        13.3,
        13.3,
        "K",
        lambda: running_loss("returnless_tank", "finch", 0.6),
        8.0,
        f"finch, returnless_tank, pump at 60 % duty; {FLEET}",
        "90 W of exhaust and road heat on the tank, which finch has not, would close it",
        "moves_tank_temperature",
    ),
    Row(
        "time constant of a parked tank",
        43.0,
        43.0,
        "min",
        lambda: parked_minutes("finch"),
        30.0,
        "finch as it is: 22 L, 10 W/K",
        "the fleet's rate is 15 W/K at 24 L; finch's 10 W/K is typical from memory",
        "moves_tank_temperature",
    ),
    Row(
        "the same, a big tank",
        43.0,
        43.0,
        "min",
        lambda: parked_minutes("heron"),
        50.0,
        "heron as it is: 35 L, 12 W/K",
        "the rate of the fleet model knows no volume",
        "moves_tank_temperature",
    ),
    Row(
        "the same with the conductance computed from it",
        43.0,
        43.0,
        "min",
        lambda: parked_minutes("finch", tank__volume="60 L", tank__fuel_volume="40 L", tank__heat_conductance="24 W/K"),
        4.0,
        "40 L, 24 W/K",
        "vapour that forms takes heat too",
        "moves_tank_temperature",
    ),
    Row(
        "the same at 20 L",
        43.0,
        43.0,
        "min",
        lambda: parked_minutes("finch", tank__volume="60 L", tank__fuel_volume="20 L", tank__heat_conductance="12 W/K"),
        4.0,
        "20 L, 12 W/K",
        "vapour that forms takes heat too",
        "moves_tank_temperature",
    ),
    Row(
        "tank above air, modern cars, cruising",
        1.0,
        10.0,
        "K",
        lambda: rise("returnless_tank", "cruise", 3.0, 25.0, litres=40.0, duty=0.6),
        2.0,
        "finch, returnless_tank, 60 % duty, 3 h at 90 km/h, 25 degC",
        "",
        "espr_2019_17608",
    ),
    Row(
        "tank above air, modern cars, city",
        1.0,
        10.0,
        "K",
        lambda: rise("returnless_tank", "city", 1.0, 25.0, litres=40.0, duty=0.6),
        3.0,
        "finch, returnless_tank, 60 % duty, 1 h of city",
        "",
        "espr_2019_17608",
    ),
    Row(
        "tank above air, old recirculating loop in traffic",
        15.0,
        30.0,
        "K",
        lambda: rise("return", "jam", 8.0, 25.0, litres=40.0),
        5.0,
        "finch, return, 8 h, 25 degC, 40 L",
        "",
        "espr_2019_17608",
    ),
    Row(
        "the same, a big engine",
        15.0,
        30.0,
        "K",
        lambda: rise("return", "jam", 4.0, 25.0, name="heron", litres=35.0),
        5.0,
        "heron, return, 4 h, 25 degC, 35 L",
        "",
        "espr_2019_17608",
    ),
    Row(
        "hottest tank quoted of an old loop",
        70.0,
        71.0,
        "degC",
        hottest_tank_of_an_old_loop,
        20.0,
        "heron, return, 5 h of traffic in Kuwait, summer E10, free vent",
        "a vented tank of this fuel boils before: 70 degC takes a tight cap or a fuel of about 35 kPa",
        "carmaker_training_1990s_a",
        outlier=True,
    ),
    Row(
        "300 W into 40 L",
        17.0,
        17.0,
        "K/h",
        lambda: heated_by_300_watts(40.0, 0.0, 1.0),
        1.0,
        "sealed tank without walls",
        "",
        "computed",
    ),
    Row(
        "300 W into 20 L",
        35.0,
        35.0,
        "K/h",
        lambda: heated_by_300_watts(20.0, 0.0, 1.0),
        4.0,
        "sealed tank without walls",
        "vapour that fills the larger space above takes heat",
        "computed",
    ),
    Row(
        "300 W over 12 W/K in the end",
        25.0,
        25.0,
        "K",
        lambda: heated_by_300_watts(20.0, 12.0, 24.0),
        1.0,
        "20 L, sealed, 24 h",
        "",
        "computed",
    ),
    Row(
        "light car, eight hours in traffic, return",
        18.0,
        19.0,
        "K",
        lambda: rise("return", "jam", 8.0, 25.0, litres=40.0),
        4.0,
        "finch, 25 degC, 40 L",
        "the other script's heat inputs are not known",
        "computed",
    ),
    Row(
        "light car, eight hours in traffic, regulator at the tank",
        15.0,
        16.0,
        "K",
        lambda: rise("returnless_tank", "jam", 8.0, 25.0, litres=40.0),
        4.0,
        "finch, 25 degC, 40 L",
        "",
        "computed",
    ),
    Row(
        "light car cruising, return",
        8.3,
        8.3,
        "K",
        lambda: rise("return", "cruise", 3.0, 25.0, litres=40.0),
        3.0,
        "finch, 3 h at 90 km/h, 25 degC, 40 L",
        "the other script's heat inputs are not known",
        "computed",
    ),
    Row(
        "light car cruising, regulator at the tank",
        7.4,
        7.4,
        "K",
        lambda: rise("returnless_tank", "cruise", 3.0, 25.0, litres=40.0),
        3.0,
        "finch, 3 h at 90 km/h, 25 degC, 40 L",
        "its pump takes more at 400 kPa than the other's at 300",
        "computed",
    ),
    # ---- section 8: bay and rails
    Row(
        "fuel in the bay above air at 64 km/h, 27 cars of 1930",
        22.8,
        40.6,
        "K",
        lambda: rail("returnless_bay", "road", 25.0, 35.0) - 25.0,
        6.0,
        "finch, dead-ended rail, tank 10 K above the air",
        "its rail is small and the flow twice that of 1930",
        "sae_310017",
    ),
    Row(
        "rail above tank, return, cruising",
        3.0,
        8.0,
        "K",
        lambda: rail("return", "cruise", 30.0, 40.0) - 40.0,
        3.0,
        "finch, air 30 degC, tank 40 degC",
        "140 L/h pass a rail of 1.2 W/K: 45 W are less than 1 K; 3 to 8 K take 150 to 400 W",
        "memory",
        outlier=True,
    ),
    Row(
        "rail above air, dead-ended, cruising",
        20.0,
        40.0,
        "K",
        lambda: rail("returnless_tank", "cruise", 30.0, 40.0) - 30.0,
        6.0,
        "finch, air 30 degC, tank 40 degC",
        "",
        "memory",
    ),
    Row(
        "rail at idle in traffic, dead-ended",
        60.0,
        80.0,
        "degC",
        lambda: rail("returnless_tank", "jam", 30.0, 45.0),
        10.0,
        "finch, air 30 degC, tank 45 degC",
        "",
        "memory",
    ),
    Row(
        "rail in a hot soak, highest",
        80.0,
        105.0,
        "degC",
        lambda: soak_peak("returnless_tank", 32.0),
        8.0,
        "finch, air 32 degC",
        "",
        "memory",
    ),
    # ---- section 9: boiling
    Row(
        "vented tank of 62 kPa petrol boils, sea level",
        52.0,
        52.0,
        "degC",
        lambda: boils_at(62.0),
        2.0,
        "E0",
        "",
        "ap_42_7_1",
    ),
    Row("the same at 3236 m", 39.0, 39.0, "degC", lambda: boils_at(62.0, altitude=3236.0), 2.0, "E0", "", "ap_42_7_1"),
    Row(
        "vapour pressure 90 to 62 kPa: tank boils later by",
        12.7,
        12.7,
        "K",
        lambda: boils_at(62.0) - boils_at(90.0),
        2.0,
        "E0, sea level",
        "",
        "computed",
    ),
    Row(
        "tank cap of 7 kPa",
        2.4,
        2.4,
        "K",
        lambda: boils_at(62.0, gauge=7e3) - boils_at(62.0),
        0.5,
        "E0, sea level",
        "",
        "computed",
    ),
    Row(
        "sea level to 2240 m",
        -9.5,
        -9.5,
        "K",
        lambda: boils_at(62.0, altitude=2240.0) - boils_at(62.0),
        1.5,
        "E0",
        "",
        "computed",
    ),
    Row(
        "vented tank of 48 kPa petrol boils at 3236 m",
        47.0,
        47.0,
        "degC",
        lambda: boils_at(48.0, altitude=3236.0),
        2.0,
        "E0",
        "",
        "ap_42_7_1",
    ),
    Row(
        "a blocked vent that holds the tank at -5 kPa",
        -2.0,
        -2.0,
        "K",
        lambda: boils_at(62.0, gauge=-5e3) - boils_at(62.0),
        0.5,
        "E0, sea level",
        "the published figure is a round one",
        "computed",
    ),
    Row(
        "outside pump loses flow below the tank's boiling point",
        1.0,
        6.0,
        "K",
        flow_lost_below_boiling,
        2.0,
        "heron, return, 62 kPa E0, a tenth of the flow at 2500 rpm and 0.3 load; 'a few kelvin' read as 1 to 6",
        "",
        "memory",
    ),
    Row(
        "outside pump in hot traffic quits, or complains, after",
        20.0,
        30.0,
        "min",
        lambda: noisy_after(40.0),
        10.0,
        "heron, return, jam at 32 degC, 40 L; first noise",
        "it does not quit within 3 h: at idle a pump with a tenth of its flow still feeds the engine",
        "memory",
    ),
    Row(
        "the same, worse as the level drops",
        0.0,
        20.0,
        "min",
        lambda: noisy_after(20.0),
        5.0,
        "the same with 20 L; at most what 40 L took at the least",
        "",
        "memory",
    ),
    Row(
        "pump into the tank, gain at its inlet",
        1.0,
        6.0,
        "K",
        lambda: remedy("pump into the tank", "pump"),
        2.0,
        "heron, return",
        "",
        "computed",
    ),
    Row(
        "suction of 1/2 in for 5/16 in at 200 L/h",
        2.0,
        2.0,
        "K",
        lambda: remedy("suction line of 10.9 mm", "pump"),
        1.0,
        "heron, return, 10.9 mm for its own suction line",
        "130 L/h pass it in traffic, not 200",
        "computed",
    ),
    Row(
        "set pressure 300 to 400 kPa, gain in the rail",
        10.0,
        14.0,
        "K",
        lambda: remedy("set pressure 100 kPa higher", "rail"),
        2.0,
        "heron, return",
        "E10: its boiling point rises by 9 K from 340 to 440 kPa absolute",
        "computed",
    ),
    Row(
        "pressure that keeps 62 kPa E0 liquid at 90 degC",
        158.0,
        158.0,
        "kPa",
        lambda: bubble_gauge(90.0, 0.0),
        20.0,
        "E0",
        "8 % of the absolute pressure",
        "ap_42_7_1",
    ),
    Row(
        "the same, E10",
        223.0,
        223.0,
        "kPa",
        lambda: bubble_gauge(90.0, 0.1),
        26.0,
        "E10",
        "8 % of the absolute pressure",
        "computed",
    ),
    Row("E10 boils at 338 kPa absolute", 91.5, 91.5, "degC", lambda: bubble_celsius(338.0), 2.5, "E10", "", "computed"),
    Row(
        "E10 boils at 501 kPa absolute", 106.9, 106.9, "degC", lambda: bubble_celsius(501.0), 2.5, "E10", "", "computed"
    ),
)


def markdown() -> str:
    """Return the whole table."""
    return "\n".join([HEAD, "|" + "---|" * 7, *(row.markdown() for row in ROWS)])


if __name__ == "__main__":
    sys.stdout.write(markdown() + "\n")
