"""The command line: ``python -m fuelsim [car.toml]`` and its subcommands; argument parsing only."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Sequence
from functools import partial

from fuelsim.cli.console import ConsoleError, complain, silence
from fuelsim.cli.flags import Parser, add_car, add_common, add_uncertainty, command_parser
from fuelsim.errors import FuelsimError, InputError, nearest, printable

DESCRIPTION = """\
Compare the ways of plumbing one car's fuel delivery: a return line from the rail, or returnless with the regulator at
the tank or in the engine bay. Prints what each layout does to rail pressure, bypass, injectors, pump and vapour over
the rev range and over the tank's temperature, and writes figures (PNG), tables (CSV) and a report (HTML) into a folder.

Or, as the first word, one of

  new car.toml      write a commented car file to start from; flags say what is known of the car, and with
                    --plumbing how it is plumbed: twin_rails, twin_pumps, surge_pot, speed_controlled, ...
  check car.toml    print what was read from a car file, and what a practitioner would object to
  size car.toml     find the least pump, lines, injectors, wire and fuse that meet the requirements
  report car.toml   write the sheet to hand over: figures, findings, parts, and what to measure
  schema            print the JSON schema of a car file, with which an editor completes and checks it

  drive car.toml    temperature of tank and rail, margins and events in a drive, as in --phase 'jam 1 h'
  soak car.toml     pressure and vapour in the rail of a hot car that was stopped
  prime car.toml    when the pressure is up after key-on, or after a hot soak, as in --soak '20 min'
  leak-down car.toml what is left of the pressure after the stop, or which leak fits a gauge
  pulsation car.toml ripple of the rails over engine speed, and with --remedies what calms it
  climates car.toml what becomes of each layout on a traffic day at places

  power             the engine power that a pump carries, over volts and pressure
  line              the bore and sizes for a stated loss
  clogging          how clogged a filter is, from two gauges
  set-pressure      the set pressure for a wanted injector flow
  resistance        the resistance of a pump's circuit, from the volts it loses
  stay car.toml     what an old line, vent or tank bears
  idle car.toml     how long it idles in traffic before it gets loud, lean or stops

each with a --help of its own and with --units, --layout and --json. A car file that is called like one of these words
is given as ./new.
"""
ONE_LAYOUT = "the layout; left out, the first the car has the parts for"
NEW_DESCRIPTION = """\
Write a commented car file to start from. Asks nothing; every flag is optional, and what was assumed in its place is
printed and stands at the head of the file.

With --plumbing the file describes a plumbing of its own as runs of names in the order of flow, each run with a comment:
twin rails with a crossover, two pumps side by side, a lift pump with a surge pot, a speed-controlled pump without a
regulator, or a reducing regulator before a dead-ended rail. Change the runs as the car is plumbed.
"""


def parser() -> Parser:
    """Return the parser of the comparison, which is what runs without a subcommand."""
    options = command_parser("fuelsim", DESCRIPTION)
    add_car(options)
    options.add_argument("--output", metavar="FOLDER", help="folder to write into; left out, fuelsim_<car> here")
    add_uncertainty(options, "samples of what is not known beside the answer, 512 or another 8 times a power of two")
    add_common(options, layout="compare this layout only; may be repeated", several=True)
    return options


def compare_command(arguments: Sequence[str]) -> None:
    """Compare the layouts of a car."""
    given = parser().parse_args(arguments)
    from fuelsim.cli.compare_layouts import run
    from fuelsim.units import prefer_units

    prefer_units(given.units)
    run(given.car, given.output, given.layout, given.json, given.uncertainty)


def new_command(arguments: Sequence[str]) -> None:
    """Write a car file to start from."""
    from fuelsim.cli.new import FLAGS, run
    from fuelsim.units import prefer_units

    options = command_parser("fuelsim new", NEW_DESCRIPTION)
    options.add_argument("file", help="the file to write, such as my_car.toml")
    for flag in FLAGS:
        options.add_argument(f"--{flag.name}", dest=flag.name, metavar=flag.example, help=flag.about)
    add_common(options)
    mounting = options.add_mutually_exclusive_group()
    mounting.add_argument(
        "--pump-in-tank", action="store_true", help="the pump is in the tank; so it is without either flag"
    )
    mounting.add_argument("--pump-outside", action="store_true", help="the pump hangs outside, fed by a suction line")
    options.add_argument(
        "--every-key", action="store_true", help="write every key, those that may be left out behind a comment sign"
    )
    options.add_argument("--overwrite", action="store_true", help="replace a file that is there already")
    given = vars(options.parse_args(arguments))
    prefer_units(given["units"])
    flags = {flag.name: given[flag.name] for flag in FLAGS}
    run(
        given["file"],
        flags,
        pump_outside=given["pump_outside"],
        overwrite=given["overwrite"],
        every_key=given["every_key"],
        as_json=given["json"],
    )


def check_command(arguments: Sequence[str]) -> None:
    """Print what was read from a car file, and what a practitioner would object to."""
    options = command_parser(
        "fuelsim check", "Print what was read from a car file, and what a practitioner would object to."
    )
    options.add_argument("car", help="car file (TOML)")
    add_common(options, layout="check this layout only; may be repeated", several=True)
    given = options.parse_args(arguments)
    from fuelsim.cli.check import run
    from fuelsim.units import prefer_units

    prefer_units(given.units)
    run(given.car, given.layout, given.json)


def size_command(arguments: Sequence[str]) -> None:
    """Find the least parts that meet the requirements."""
    about = (
        "Run every combination of candidates on 60 operating points, cold to hot, new to worn, and rank those that meet"
        " the requirements, least parts first. Ctrl-C after more than 10 s ends early with what is finished."
    )
    options = command_parser("fuelsim size", about)
    add_car(options)
    options.add_argument(
        "--try",
        action="append",
        default=[],
        dest="candidates",
        metavar="PART=A,B",
        help="candidates for one part or rating, as in pump=in_tank_130,in_tank_220 or 'feed.bore=6 mm,8 mm'; may be"
        " repeated; left out, the usual ones of the catalogue",
    )
    options.add_argument("--rows", type=int, default=10, metavar="N", help="how many of the best to print")
    options.add_argument("--output", metavar="FOLDER", help="folder for tables (CSV) and the figure (PNG)")
    add_common(options, layout=ONE_LAYOUT)
    given = options.parse_args(arguments)
    from fuelsim.cli.size import run
    from fuelsim.units import prefer_units

    prefer_units(given.units)
    run(given.car, given.layout, given.candidates, given.rows, given.output, given.json)


def report_command(arguments: Sequence[str]) -> None:
    """Write the sheet to hand over."""
    options = command_parser(
        "fuelsim report",
        "Write the sheet to hand over for one car: schematic, demand, operating points, where the pressure goes,"
        " margins, findings, parts, and a commissioning sheet with predicted values and blanks for measured ones.",
    )
    add_car(options)
    options.add_argument("--output", metavar="FILE", help="HTML file; left out, fuelsim_handover.html here")
    options.add_argument(
        "--workshop",
        metavar="TEMPERATURE",
        help="temperature of air and fuel in the workshop, as in '20 degC', for which predictions stand beside those in"
        " the car's own weather; left out, 20 degC",
    )
    options.add_argument(
        "--reuse",
        action="append",
        default=[],
        metavar="PART",
        help="a part that the car has already and that is to stay beside the tank, as in feed; the buy list says"
        " whether it may; may be repeated",
    )
    add_uncertainty(options, "bands beside the predicted values, of 512 samples or another 8 times a power of two")
    add_common(options, layout=ONE_LAYOUT)
    given = options.parse_args(arguments)
    from fuelsim.cli.report import run
    from fuelsim.units import prefer_units

    prefer_units(given.units)
    run(given.car, given.layout, given.output, given.workshop, ["tank", *given.reuse], given.json, given.uncertainty)


def schema_command(arguments: Sequence[str]) -> None:
    """Print the JSON schema of a car file."""
    options = command_parser("fuelsim schema", "Print the JSON schema of a car file.")
    add_common(options, layout="of no effect: the schema is that of every car, in JSON with every unit")
    options.parse_args(arguments)
    from fuelsim.cli.schema import run

    run()


def drive_command(arguments: Sequence[str]) -> None:
    """Run a car through a drive."""
    from fuelsim.cli.heat import drive_command as command

    command(arguments)


def soak_command(arguments: Sequence[str]) -> None:
    """Let a hot car soak."""
    from fuelsim.cli.heat import soak_command as command

    command(arguments)


def prime_command(arguments: Sequence[str]) -> None:
    """Follow the pressure after key-on."""
    from fuelsim.cli.start_and_stop import prime_command as command

    command(arguments)


def leak_down_command(arguments: Sequence[str]) -> None:
    """Follow the pressure left after a stop."""
    from fuelsim.cli.start_and_stop import leak_down_command as command

    command(arguments)


def pulsation_command(arguments: Sequence[str]) -> None:
    """Compute how the rails pulsate."""
    from fuelsim.cli.pulsation import pulsation_command as command

    command(arguments)


def climates_command(arguments: Sequence[str]) -> None:
    """Run a car through the hot day of places."""
    from fuelsim.cli.heat import climates_command as command

    command(arguments)


def _question(name: str, arguments: Sequence[str]) -> None:
    """Answer one of the questions asked backwards."""
    from fuelsim.cli.inverses import INVERSES

    INVERSES[name](arguments)


QUESTIONS = ("power", "line", "clogging", "set-pressure", "resistance", "stay", "idle")
"""Questions asked backwards."""
COMMANDS: dict[str, Callable[[Sequence[str]], None]] = {
    "new": new_command,
    "check": check_command,
    "size": size_command,
    "report": report_command,
    "schema": schema_command,
    "drive": drive_command,
    "soak": soak_command,
    "pulsation": pulsation_command,
    "prime": prime_command,
    "leak-down": leak_down_command,
    "climates": climates_command,
    **{name: partial(_question, name) for name in QUESTIONS},
}


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code: 0, or 2 for a wrong input."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    command = COMMANDS.get(given[0]) if given else None
    try:
        if command:
            command(given[1:])
        elif given and given[0][:1].isalpha() and given[0].replace("-", "").isalpha() and not os.path.exists(given[0]):
            raise InputError("no such command or car file", given=given[0], accepted=nearest(given[0], COMMANDS))
        else:
            compare_command(given)
    except ConsoleError as error:  # files have been written by then
        silence()
        if not error.unread:
            complain(f"fuelsim: {printable(str(error))}")
        return 1
    except FuelsimError as error:
        complain(f"fuelsim: {printable(str(error))}")
        return 2
    except KeyboardInterrupt as stop:  # with words, where what was finished has been written
        complain(f"fuelsim: {stop}" if str(stop) else "fuelsim: stopped by Ctrl-C")
        return 130
    return 0


if __name__ == "__main__":
    sys.exit(main())
