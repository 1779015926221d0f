"""Stopping and starting on the command line: the pressure that is left after a stop, and the prime at key-on."""

from __future__ import annotations

from collections.abc import Sequence

from fuelsim.cli.cautioned import cautioned
from fuelsim.cli.console import say, wrapped
from fuelsim.cli.flags import add_car, add_common, car_given, command_parser, layout_given
from fuelsim.cli.heat import ONE_LAYOUT, OverTime, print_over_time
from fuelsim.cli.json_text import json_text, table_rows
from fuelsim.errors import InputError
from fuelsim.transients.hot_restart import hot_restart
from fuelsim.transients.leak_down import leak_down
from fuelsim.transients.leak_fit import which_leak
from fuelsim.transients.prime import prime
from fuelsim.typing import Given
from fuelsim.units import prefer_units

__all__ = ["leak_down_command", "prime_command"]


def leak_down_command(arguments: Sequence[str]) -> None:
    """Follow the pressure left after a stop, or say which leak fits a gauge."""
    options = command_parser(
        "fuelsim leak-down",
        "Stop the pump and follow the pressure left in rail and lines. With --read, which leak fits the gauge instead.",
    )
    add_car(options)
    options.add_argument("--duration", default="1 h", metavar="TIME", help="time that is followed; left out, 1 h")
    options.add_argument("--hot", action="store_true", help="stop a hot car, whose bay warms the rail; else a cold one")
    options.add_argument("--temperature", metavar="T", help="temperature of the air; left out, the car's own")
    for name, what in (("check-valve", "check valve"), ("regulator", "regulator"), ("injector", "injectors")):
        options.add_argument(f"--{name}-leak", metavar="Q", help=f"past the {what} at 300 kPa, such as '0.5 mL/min'")
    options.add_argument(
        "--read",
        action="append",
        default=[],
        metavar="'TIME=PRESSURE'",
        help="a reading of the gauge after the stop, as in '10 min=359 kPa'; may be repeated",
    )
    options.add_argument("--output", metavar="FOLDER", help="folder for tables (CSV) and pictures (PNG)")
    add_common(options, layout=ONE_LAYOUT, several=True)
    given = options.parse_args(arguments)
    prefer_units(given.units)
    car = car_given(given.car)
    if given.read:
        layout = given.layout[0] if given.layout else layout_given(car, None)
        fit = which_leak(car.system(layout), _readings(given.read), temperature=given.temperature)
        if given.json:
            content = {"car": car.name, "layout": layout, "sentence": fit.headline, "causes": table_rows(fit.table())}
            say(json_text("leak-down", content))
        else:
            table = fit.table().round(2).to_string()
            say(cautioned(["\n".join(wrapped(f"{car.name}: {fit.headline}")), table]))
        return
    leaks = {
        name: value
        for name in ("check_valve_leak", "regulator_leak", "injector_leak")
        if (value := getattr(given, name)) is not None
    }

    def work(layout: str) -> OverTime:
        return leak_down(
            car.system(layout), duration=given.duration, hot=given.hot, temperature=given.temperature, **leaks
        )

    print_over_time("leak-down", car, given.layout, work, given.output, given.json)


def _readings(texts: Sequence[str]) -> dict[str, Given]:
    """Return the readings of texts such as ``10 min=359 kPa``."""
    readings: dict[str, Given] = {}
    for text in texts:
        time, equals, pressure = text.partition("=")
        if not equals or time.strip() in readings:
            raise InputError("no reading", given=text, accepted="each time once, as in '10 min=359 kPa'", key="--read")
        readings[time.strip()] = pressure.strip()
    return readings


def prime_command(arguments: Sequence[str]) -> None:
    """Follow the pressure after key-on, or after a hot soak."""
    options = command_parser(
        "fuelsim prime",
        "Switch the pump on at key-on: pressure, air and vapour, what the prime leaves, and cranking. With --soak, the"
        "\nrestart of a hot car that stood so long, up to a steady idle.",
    )
    add_car(options)
    options.add_argument(
        "--lines",
        choices=("full", "empty", "sealed_cold", "vapour"),
        default="full",
        help="what stands in lines and rails; left out, full",
    )
    options.add_argument("--duration", default="2 s", metavar="TIME", help="duration of the prime; left out, 2 s")
    options.add_argument("--voltage", metavar="V", help="at key-on; left out, the car's own")
    options.add_argument("--crank-voltage", metavar="V", help="while cranking; left out, the car's own")
    options.add_argument("--bleed", default="0 mm", metavar="D", help="orifice at the rail, such as '0.5 mm'")
    options.add_argument("--temperature", metavar="T", help="temperature of the air; left out, the car's own")
    options.add_argument("--soak", metavar="TIME", help="restart a hot car so long after the stop, such as '20 min'")
    options.add_argument("--output", metavar="FOLDER", help="folder for tables (CSV) and pictures (PNG)")
    add_common(options, layout=ONE_LAYOUT, several=True)
    given = options.parse_args(arguments)
    prefer_units(given.units)
    car = car_given(given.car)

    def work(layout: str) -> OverTime:
        if given.soak is not None:
            return hot_restart(
                car.system(layout),
                soak_time=given.soak,
                prime_time=given.duration,
                voltage=given.voltage,
                crank_voltage=given.crank_voltage,
                air_temperature=given.temperature,
                bleed_diameter=given.bleed,
                remedies=True,
            )
        return prime(
            car.system(layout),
            lines=given.lines,
            duration=given.duration,
            voltage=given.voltage,
            crank_voltage=given.crank_voltage,
            temperature=given.temperature,
            bleed_diameter=given.bleed,
        )

    print_over_time("prime", car, given.layout, work, given.output, given.json)
