"""Text in every picture is text, whatever a user called a car, a layout, a part, a fuel or a phase."""

from __future__ import annotations

import dataclasses
import functools
import html
import importlib
import inspect
import io
import pkgutil

import matplotlib as mpl
import numpy as np
import pytest
from drawn_text import text_faults
from matplotlib.figure import Figure
from matplotlib.text import Text

import fuelsim as fs
from fuelsim import show
from fuelsim.car.climate import hot_day
from fuelsim.show import style
from fuelsim.show.style import png_bytes
from fuelsim.studies.climates import ClimateRow, ClimateTable, DayResult, Verdict
from fuelsim.studies.drive_bands import drive_band
from fuelsim.studies.remedies import Remedy, RemedyGains
from fuelsim.transients.drive import drive
from fuelsim.transients.schedule import Schedule, typical_phase
from fuelsim.transients.soak import hot_soak

# As formulas the first is broken and the second is another text; the third is left out of legends.
HOSTILE = (r"$\frac{A$", r"B$^C\{x}$#%&~", "_$D$ E<F>")


@pytest.fixture(scope="module")
def car():
    finch = fs.Car.named("finch").with_values({"name": HOSTILE[0]})
    runs = [["tank", "pump", "filter", "feed", "rail", "rail_regulator", "return_line", "tank"]]
    return finch.with_plumbing("return_too", runs=runs, title=HOSTILE[1])


@pytest.fixture(scope="module")
def fuels():
    return [fs.Fuel.petrol(60e3, label=name) for name in HOSTILE]


def comparison(car, fuels):
    variants = {name: {"feed.bore": 6e-3 + 1e-3 * number} for number, name in enumerate(HOSTILE)}
    return fs.compare(car, ["return"], variants=variants, rpm=[1000, 6000], tank_temperature=[300.0, 320.0])


def climates(car, fuels):
    day = DayResult(60e3, 320.0, 1.0, 1.0, 0.1, {Verdict.TANK_BOILS: 1800.0})
    return ClimateTable([ClimateRow(place, name, "return", 320.0, day) for place in HOSTILE for name in HOSTILE])


def one_drive(car, fuels):
    phase = dataclasses.replace(typical_phase("jam", "2 min", car), name=HOSTILE[1])
    schedule = Schedule.of([phase, dataclasses.replace(phase, name=HOSTILE[0])])
    return [drive(car, "return_too", schedule, climate=hot_day("phoenix"), output_step="1 min")]


def banded_drive(car, fuels):
    phase = dataclasses.replace(typical_phase("jam", "2 min", car), name=HOSTILE[1])
    return drive_band(car, "return_too", Schedule.of([phase]), inputs=[], climate=hot_day("phoenix"))


def network(car, fuels):
    net = fs.Network()
    net.add_reservoir(HOSTILE[0], 2e5)
    net.add_reservoir(HOSTILE[1], 1e5)
    net.connect(HOSTILE[0], HOSTILE[1], car.feed, name=HOSTILE[2])
    return net


def own_run(car, fuels):
    return car.system("return_too").solve(rpm=800, load=0.0)


def sizing(car, fuels):
    return fs.size(car, "return", {"injectors": ["size_160", "size_250"]}, progress=False)


def tornado(car, fuels):
    return fs.sensitivity(car.system("return"), inputs={"feed.bore": ("5 mm", "7 mm")}, rpm=6000)


def gains(car, fuels):
    changes = [Remedy(name, 2.0 - number, 1.0, 1.0, 0.5, -0.3) for number, name in enumerate(HOSTILE[:2])]
    return RemedyGains("return", 1.0, 320.0, 4.0, 20.0, changes)


def uncertain(car, indices):
    inputs = {"feed.bore": ("5 mm", "7 mm"), "wire.other": (0.0, 0.1)}
    return fs.uncertainty(car, "return", inputs, rpm=[1000, 6000], samples=8, indices=indices, progress=False)


def dead_end(car):
    net = fs.Network()
    net.add_reservoir(HOSTILE[0], 5e5)
    net.add_node(HOSTILE[1])
    net.connect(HOSTILE[0], HOSTILE[1], car.feed, name=HOSTILE[2])
    return net, fs.Liquid(density=740.0, kinematic_viscosity=6e-7)


def wave(car, fuels):
    net, petrol = dead_end(car)
    return net.transient(petrol, "10 ms", draw={HOSTILE[1]: (["0 s", "1 ms"], ["50 L/h", "0 L/h"])})


def response(car, fuels):
    net, petrol = dead_end(car)
    return net.frequency_response(petrol, HOSTILE[1], [20.0, 50.0, 80.0])


def ripple(car, fuels):
    return fs.pulsation(car, "return_too", rpm=[3000.0, 6000.0])


# What each picture is drawn from, and those of the names that it shows.
DRAWN = {
    "comparison_figure": (comparison, lambda made, draw: draw(made), HOSTILE),
    "climate_figure": (climates, lambda made, draw: draw(made), HOSTILE),
    "drive_figure": (one_drive, lambda made, draw: draw(made), HOSTILE[:2]),
    "drive_band_figure": (banded_drive, lambda made, draw: draw(made), HOSTILE[1:2]),
    "soak_figure": (
        lambda car, fuels: hot_soak(car, "return_too", duration="10 min", output_step="5 min"),
        lambda made, draw: draw([made]),
        (),
    ),
    "leak_down_figure": (
        lambda car, fuels: fs.leak_down(car, "return_too", hot=True),
        lambda made, draw: draw([made]),
        (),
    ),
    "prime_figure": (
        lambda car, fuels: fs.prime(car, "return_too", lines="vapour"),
        lambda made, draw: draw(made),
        (),
    ),
    "hot_restart_figure": (
        lambda car, fuels: fs.hot_restart(car, "return_too", leak_flow="20 mL/h"),
        lambda made, draw: draw(made),
        (),
    ),
    "path_figure": (own_run, lambda made, draw: draw([made]), HOSTILE[1:2]),
    "climate_day_figure": (
        lambda car, fuels: [dataclasses.replace(hot_day("phoenix"), label=name) for name in HOSTILE],
        lambda made, draw: draw(made),
        HOSTILE,
    ),
    "remedy_figure": (gains, lambda made, draw: draw(made), HOSTILE[:2]),
    "fuel_figure": (lambda car, fuels: fuels, lambda made, draw: draw(made, "vapour pressure"), HOSTILE),
    "margin_figure": (
        lambda car, fuels: fs.margin_map(car, "return", {"altitude": [0.0, 2000.0]}),
        lambda made, draw: draw(made),
        (),
    ),
    "transient_figure": (wave, lambda made, draw: draw(made, None, 0), HOSTILE[1:2]),
    "pulsation_figure": (ripple, lambda made, draw: draw(made), ()),
    "waterfall_figure": (ripple, lambda made, draw: draw(made, made.worst_rail), ()),
    "ripple_remedies_figure": (
        lambda car, fuels: fs.ripple_remedies(car, "return_too", rpm=[3000.0, 6000.0]),
        lambda made, draw: draw(made),
        (),
    ),
    "wave_along_figure": (
        lambda car, fuels: fs.wave_along(car, "return_too", 6000),
        lambda made, draw: draw(made),
        (),
    ),
    "event_figure": (
        lambda car, fuels: fs.pressure_event(
            car, "return_too", fs.Conditions(rpm=3000, load=0.5), fs.Conditions(rpm=3000), duration="40 ms"
        ),
        lambda made, draw: draw(made),
        (),
    ),
    "cycle_figure": (ripple, lambda made, draw: draw(made, None), ()),
    "response_figure": (response, lambda made, draw: draw(made, None), HOSTILE[1:2]),
    "uncertainty_figure": (
        lambda car, fuels: uncertain(car, indices=False),
        lambda made, draw: draw(made, "rail_pressure"),
        (),
    ),
    "indices_figure": (lambda car, fuels: uncertain(car, indices=8), lambda made, draw: draw(made), ()),
    "diagnosis_figure": (
        lambda car, fuels: fs.diagnose(car, "return", {"rpm": 3000, "rail_pressure [kPa]": 250}),
        lambda made, draw: draw(made),
        (),
    ),
    "drop_figure": (
        lambda car, fuels: fs.split_drop(car.system("return_too"), own_run(car, fuels)),
        lambda made, draw: draw(made),
        (),
    ),
    "pump_figure": (lambda car, fuels: car.pump, lambda made, draw: draw(made), ()),
    "tornado_figure": (tornado, lambda made, draw: draw(made), ()),
    "pareto_figure": (sizing, lambda made, draw: draw(made, "pump_power", "least_margin"), ()),
    "handover_figure": (lambda car, fuels: fs.hand_over(car, "return"), lambda made, draw: draw(made), ()),
    "pump_curve_figure": (lambda car, fuels: fs.hand_over(car, "return"), lambda made, draw: draw(made), ()),
    "draw_network": (network, lambda made, draw: draw(made), HOSTILE),
    "vapour_pressure_figure": (
        lambda car, fuels: fuels,
        lambda made, draw: draw(made, dict.fromkeys(HOSTILE, (330.0, 100000.0))),
        HOSTILE,
    ),
    "vapour_liquid_figure": (lambda car, fuels: fuels, lambda made, draw: draw(made), HOSTILE),
    "blend_figure": (lambda car, fuels: fuels, lambda made, draw: draw(made[:2]), HOSTILE[:2]),
    "distillation_figure": (lambda car, fuels: fuels, lambda made, draw: draw(made), HOSTILE),
    "altitude_figure": (lambda car, fuels: fuels, lambda made, draw: draw(made), HOSTILE),
}


def pictures():
    """Every function of the room that returns a figure."""
    for module in pkgutil.iter_modules(show.__path__, "fuelsim.show."):
        for name, function in vars(importlib.import_module(module.name)).items():
            returned = getattr(function, "__annotations__", {}).get("return")
            public = not name.startswith("_") and getattr(function, "__module__", "") == module.name
            if public and returned in ("Figure", Figure):
                yield name, function


PICTURES = dict(pictures())


def words(text):
    """A text without what pictures change on purpose: ends of lines, spaces, underscores and capitals."""
    return "".join(text.replace("_", " ").split()).casefold()


def drawn_words(fig):
    """All that a picture shows, as the texts of an SVG file, which keep their characters."""
    file = io.BytesIO()
    with mpl.rc_context({"svg.fonttype": "none"}):
        fig.savefig(file, format="svg")
    lines = file.getvalue().decode().split("<text ")[1:]
    return [html.unescape(line.partition(">")[2].partition("</text>")[0]) for line in lines]


def test_every_picture_of_the_room_is_walked():
    assert set(PICTURES) == set(DRAWN)


@pytest.fixture(scope="module")
def made(car, fuels):
    """What each picture is drawn from, made once."""
    return functools.cache(lambda name: DRAWN[name][0](car, fuels))


@pytest.mark.parametrize("name", DRAWN)
def test_text_in_a_picture_is_text(name, made):
    _, draw, shown = DRAWN[name]
    fig = draw(made(name), PICTURES[name])
    assert text_faults(fig) == []
    assert png_bytes(fig, 40).startswith(b"\x89PNG")
    lines = drawn_words(fig)
    all_words = words("".join(lines))
    for each in shown:
        # The lines of a text may be drawn in either order.
        assert all(words(part) in all_words for part in each.split("\n")), (each, lines)
    assert not any("mathdefault" in line for line in lines)


def test_texts_on_one_another_and_outside_are_found():
    fig, axes = style.figure()
    axes[0, 0].text(0.5, 0.5, "one")
    axes[0, 0].text(0.52, 0.5, "another")
    fig.text(0.9, 0.1, "over the edge of the figure")
    assert text_faults(fig) == [
        "outside: 'over the edge of the figure'",
        "on one another: 'one', 'another'",
    ]


ONE_PANEL = [name for name, draw in PICTURES.items() if "ax" in inspect.signature(draw).parameters]


@pytest.mark.parametrize("name", sorted(set(PICTURES) - set(ONE_PANEL)))
def test_a_picture_without_axes_of_the_user_has_several_panels(name, made):
    """But for those whose number of panels follows from what is drawn: speeds, pumps, wrong fuel or not."""
    varying = {"climate_figure", "cycle_figure", "pump_curve_figure"}
    assert name in varying or len(DRAWN[name][1](made(name), PICTURES[name]).axes) > 1


@pytest.mark.parametrize("name", ONE_PANEL)
def test_a_picture_in_axes_of_the_user_keeps_to_them(name, made):
    own = Figure(figsize=(14, 5), layout="constrained")
    first, second = own.subplots(1, 2)
    _, draw, _ = DRAWN[name]
    assert draw(made(name), functools.partial(PICTURES[name], ax=second)) is own
    assert second.has_data() or second.texts
    assert not first.has_data()
    assert not first.texts
    assert not any(text.get_parse_math() for text in second.findobj(Text) if "$" in text.get_text())
    with pytest.raises(fs.InputError, match="no axes of a figure"):
        draw(made(name), functools.partial(PICTURES[name], ax="second"))


def test_settings_of_the_user_for_formulas_do_not_reach_a_picture():
    with mpl.rc_context({"text.usetex": True, "axes.formatter.use_mathtext": True}):
        fig, axes = style.figure()
        axes[0, 0].plot([0.0, 1e9], [1.0, 2.0], label=HOSTILE[1])
        axes[0, 0].set_xticks([0.0, 1e9], HOSTILE[:2])
        style.legend(axes[0, 0])
        style.caption(fig, HOSTILE[0])
        lines = drawn_words(fig)
    assert {HOSTILE[0], HOSTILE[1]} <= set(lines)
    assert all(not text.get_usetex() for text in fig.findobj(Text))


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("name", ["車 🚗", "tab\tand\x1b[31mred", "\u202eright to left", "x" * 60])
def test_characters_that_the_font_lacks_are_no_warning(name):
    fig, axes = style.figure()
    axes[0, 0].plot([0.0, 1.0], label=name)
    style.legend(axes[0, 0])
    style.caption(fig, name)
    assert png_bytes(fig, 40).startswith(b"\x89PNG")


def test_a_legend_names_every_line_that_has_a_name_and_no_other():
    _, axes = style.figure()
    for label in ("one", "_two", "", None, "_nolegend_", r"$three"):
        axes[0, 0].plot(np.arange(2), label=label)
    style.legend(axes[0, 0])
    assert sorted(text.get_text() for text in axes[0, 0].get_legend().get_texts()) == ["$three", "_two", "one"]
