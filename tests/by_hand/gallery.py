"""Draw every picture of the library in colour and in grey, to be looked at.

    python tests/by_hand/gallery.py FOLDER [NAME ...]

FOLDER gets one file for each picture and view, in colour above and in grey below, as a printer without colour makes it.
"""

from __future__ import annotations

import argparse
import io
import time
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
from matplotlib.figure import Figure
from PIL import Image

import fuelsim as fs
from fuelsim.show import commissioning, pump_curve_figure
from fuelsim.show.fuel_curves import vapour_pressure_figure

FUELS = ("summer_e0", "summer_e10", "e85")
LAYOUTS = ("return", "returnless_tank", "returnless_bay")


@cache
def car(name: str = "heron") -> fs.Car:
    return fs.Car.named(name)


@cache
def schedule() -> fs.Schedule:
    phases = [("motorway", "20 min"), ("jam", "60 min"), ("city", "10 min")]
    return fs.Schedule.of([fs.typical_phase(kind, duration, car()) for kind, duration in phases])


@cache
def drives():
    return [fs.drive(car(), layout, schedule(), climate=fs.hot_day("kuwait")) for layout in LAYOUTS]


@cache
def soaks():
    return [fs.hot_soak(car(), layout, duration="60 min") for layout in LAYOUTS]


@cache
def runs():
    return [car().system(layout).solve(rpm=800, load=0.0, tank_temperature="50 degC") for layout in LAYOUTS]


@cache
def uncertain():
    return fs.uncertainty(car(), "return", rpm=[1000, 3000, 5000], samples=64, indices=64, progress=False)


@cache
def sheet(name: str = "heron", layout: str = "return"):
    return fs.hand_over(car(name), layout)


@cache
def pulsation():
    return fs.pulsation(car("plover"), "pot", rpm=[1000, 2000, 3000, 4000, 5000, 6000])


def readme_network():
    net = fs.Network()
    net.add_reservoir("tank", pressure="101.325 kPa")
    net.add_node("pump_outlet")
    net.add_node("rail")
    pump = fs.Pump.from_curve(flow=["0 L/h", "120 L/h", "200 L/h"], pressure=["600 kPa", "400 kPa", "0 kPa"])
    net.connect("tank", "pump_outlet", pump, name="pump")
    net.connect("pump_outlet", "rail", fs.Line(length="3 m", bore="8 mm", loss_coefficient=1), name="feed")
    net.connect("rail", "tank", fs.ReturnRegulator(set_pressure="300 kPa"), name="regulator")
    return net


def petrol():
    return fs.Fuel.named("summer_e10").liquid("30 degC")


def solved_network():
    net = readme_network()
    return net, net.solve(petrol(), draw={"rail": ["10 L/h", "60 L/h", "120 L/h", "150 L/h"]})


def wave():
    net = fs.Network()
    net.add_reservoir("supply", "400 kPa")
    net.add_node("front")
    net.add_node("rear")
    net.connect("supply", "front", fs.Line(length="2 m", bore="8 mm"), name="feed")
    net.connect("front", "rear", fs.Line(length="0.6 m", bore="12 mm"), name="rail")
    return net


def fuels():
    return [fs.Fuel.named(name) for name in FUELS]


GALLERY: dict[str, Callable[[], Figure]] = {
    "comparison": lambda: fs.compare(car()).plot(),
    "comparison_that_stops": lambda: fs.compare(
        car("finch").with_values({"pump": "in_tank_throttle_body", "rail_regulator.set_pressure": "100 kPa"})
    ).plot(),
    "comparison_of_variants": lambda: fs.compare(
        car(), ["return"], variants=fs.vary("feed.bore", ["4 mm", "5 mm", "6.5 mm", "8 mm"])
    ).plot(),
    "comparison_of_plover": lambda: fs.compare(car("plover")).plot(),
    "climates": lambda: fs.over_climates([car()], ["kuwait", "madrid", "london"], progress=False).plot(),
    "drives": lambda: drives()[0].plot(*drives()[1:]),
    "drive": lambda: drives()[1].plot(),
    "drive_band": lambda: fs.drive_band(car(), "return", schedule(), climate=fs.hot_day("kuwait")).plot(),
    "soaks": lambda: soaks()[0].plot(*soaks()[1:]),
    "path": lambda: runs()[0].plot(*runs()[1:]),
    "days": lambda: fs.hot_day("kuwait").plot(fs.hot_day("phoenix"), fs.hot_day("london")),
    "remedies": lambda: fs.remedies(car(), "return").plot(),
    "drop_split": lambda: fs.split_drop(
        car().system("return"), car().system("return").solve(rpm=np.linspace(800.0, 5600.0, 30))
    ).plot(),
    "drop_split_of_a_point": lambda: fs.split_drop(car(), "return", car().system("return").solve(rpm=5400)).plot(),
    "pump": lambda: fs.Pump.named("in_tank_220").plot(),
    "pump_in_a_system": lambda: car().pump.plot(car().system("return")),
    "pump_dead_ended": lambda: car().pump.plot(car().system("returnless_tank"), rpm=3000, load=0.5),
    "margin_one_axis": lambda: fs.margin_map(car(), "return", {"altitude": np.linspace(0.0, 3000.0, 7)}).plot(),
    "margin_two_axes": lambda: fs.margin_map(
        car(), "return", {"altitude": np.linspace(0.0, 3000.0, 7), "vapour_pressure": [45e3, 55e3, 65e3, 75e3]}
    ).plot(),
    "margin_three_axes": lambda: fs.margin_map(
        car(),
        "return",
        {"altitude": [0.0, 1500.0, 3000.0], "vapour_pressure": [45e3, 55e3, 65e3, 75e3], "rpm": [800.0, 3000.0]},
    ).plot(),
    "wave": lambda: (
        wave()
        .transient(petrol(), "40 ms", draw={"rear": (["0 s", "1 ms", "1.2 ms"], ["60 L/h", "60 L/h", "0 L/h"])})
        .plot()
    ),
    "response": lambda: wave().frequency_response(petrol(), "rear", np.linspace(20.0, 800.0, 400)).plot(),
    "uncertainty": lambda: uncertain().plot(),
    "indices": lambda: uncertain().plot_indices(),
    "diagnosis": lambda: fs.diagnose(
        car(),
        "return",
        {
            "rpm": [800, 3000, 5000],
            "load": [0, 1, 1],
            "rail_pressure [kPa]": [300, 240, 180],
            "pump_voltage [V]": [13.0] * 3,
        },
    ).plot(),
    "tornado": lambda: fs.sensitivity(car().system("return"), rpm=5400).plot(),
    "sizing": lambda: fs.size(car(), "return", progress=False).plot(),
    "handover": lambda: commissioning.handover_figure(sheet()),
    "pump_curve": lambda: pump_curve_figure.pump_curve_figure(sheet()),
    "pump_curve_of_plover": lambda: pump_curve_figure.pump_curve_figure(sheet("plover", "pot")),
    "network": lambda: readme_network().draw(),
    "network_solved": lambda: solved_network()[0].draw(solved_network()[1], point=1),
    "network_wave": lambda: wave().draw(),
    "prime": lambda: fs.prime(car(), "return").plot(),
    "hot_restart": lambda: fs.hot_restart(car(), "return").plot(),
    "leak_down": lambda: fs.leak_down(car(), "return").plot(),
    "pulsation": lambda: pulsation().plot(),
    "waterfall": lambda: pulsation().waterfall(),
    "cycle": lambda: pulsation().plot_cycle(),
    "ripple_remedies": lambda: fs.ripple_remedies(car(), "return", rpm=[1000, 4000], progress=False).plot(),
    "vapour_pressure": lambda: vapour_pressure_figure(fuels(), {"pump inlet": (331.0, 93e3), "rail": (346.0, 401e3)}),
    "vapour_liquid": lambda: fuels()[0].plot(*fuels()[1:], what="vapour-liquid ratio"),
    "blend": lambda: fs.Fuel.petrol("50 kPa").plot(fs.Fuel.petrol("80 kPa"), what="alcohol"),
    "distillation": lambda: fuels()[0].plot(*fuels()[1:], what="distillation"),
    "altitude": lambda: fuels()[0].plot(*fuels()[1:], what="boiling tank"),
}


def colour_and_grey(fig: Figure, dots_per_inch: int = 80) -> Image.Image:
    """Return a picture in colour, and the same in grey below it (luma of ITU-R BT.601)."""
    buffer = io.BytesIO()
    fig.savefig(buffer, format="png", dpi=dots_per_inch)
    colour = Image.open(buffer).convert("RGB")
    both = Image.new("RGB", (colour.width, 2 * colour.height), "white")
    both.paste(colour, (0, 0))
    both.paste(colour.convert("L").convert("RGB"), (0, colour.height))
    return both


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("names", nargs="*", choices=[[], *GALLERY], metavar="NAME")
    given = parser.parse_args()
    given.folder.mkdir(parents=True, exist_ok=True)
    for name in given.names or GALLERY:
        start = time.perf_counter()
        colour_and_grey(GALLERY[name]()).save(given.folder / f"{name}.png")
        print(f"{name:25} {time.perf_counter() - start:6.1f} s", flush=True)


if __name__ == "__main__":
    main()
