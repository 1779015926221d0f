"""Parsers of the command line, and the flags that every subcommand has: units, layout, JSON."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, NoReturn

from fuelsim.car.car import Car
from fuelsim.car.read import read_car
from fuelsim.cli.console import say
from fuelsim.errors import InputError

if TYPE_CHECKING:
    from _typeshed import SupportsWrite

__all__ = ["Parser", "add_car", "add_common", "add_uncertainty", "car_given", "command_parser", "layout_given"]

EPILOGUE = """\
Petrol burns and its vapour explodes; lines hold pressure. The figures are a design aid: they do not show that a car is
safe and do not replace a pressure test. Local law and licensed practice decide.

Exit code: 0, or 2 for a wrong input, which gets one message with the file and the key; 1 where the text could not be
printed, files being written by then; 130 after Ctrl-C, which writes nothing unless more than 10 s of work were done:
then what is finished, marked "stopped early".
"""


class Parser(argparse.ArgumentParser):
    """A parser whose errors are one line, as all others are."""

    def error(self, message: str) -> NoReturn:
        """Raise the error of a wrong flag."""
        raise InputError(message, accepted=f"usage: python -m {self.prog} --help")

    def print_help(self, file: SupportsWrite[str] | None = None) -> None:
        """Print the help on a console of any kind."""
        say(self.format_help())


def command_parser(name: str, description: str) -> Parser:
    """Return a parser with the cautions below its help."""
    return Parser(
        prog=name, description=description, epilog=EPILOGUE, formatter_class=argparse.RawDescriptionHelpFormatter
    )


def add_common(command: argparse.ArgumentParser, *, layout: str = "", several: bool = False) -> None:
    """Add the flags of every subcommand.

    Parameters
    ----------
    command : ArgumentParser
        Parser of the subcommand.
    layout : str
        Help of ``--layout``; left out, that flag is added by the subcommand itself.
    several : bool
        Whether ``--layout`` may be repeated.
    """
    if several:
        command.add_argument("--layout", action="append", metavar="NAME", help=layout)
    elif layout:
        command.add_argument("--layout", metavar="NAME", help=layout)
    command.add_argument(
        "--units",
        default="metric workshop",
        metavar="SYSTEM",
        help="units of tables, figures and findings: 'metric workshop', 'US workshop' or 'SI'",
    )
    command.add_argument("--json", action="store_true", help="print the result as JSON instead of text")


def add_uncertainty(command: argparse.ArgumentParser, about: str) -> None:
    """Add ``--uncertainty``, with or without a number of samples.

    Parameters
    ----------
    command : ArgumentParser
        Parser of the subcommand.
    about : str
        What is sampled, and how many samples are usual.
    """
    command.add_argument(
        "--uncertainty",
        nargs="?",
        type=int,
        const=True,
        default=False,
        metavar="SAMPLES",
        help=f"how sure the answer is: {about}; after the car file, or with a number of its own",
    )


def add_car(command: argparse.ArgumentParser) -> None:
    """Add the car file, which may be left out."""
    command.add_argument("car", nargs="?", help="car file (TOML); left out, the bundled demo car 'heron'")


def car_given(file: str | None) -> Car:
    """Return the car of a file, or the bundled demo car."""
    return Car.named("heron") if file is None else read_car(file)


def layout_given(car: Car, layout: str | None) -> str:
    """Return the layout that was asked for, or the first that the car has the parts for."""
    return layout or next(iter(car.layouts()), "return")
