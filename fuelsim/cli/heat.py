"""Heat on the command line: a drive, a hot soak, and the climates that a car survives."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Protocol, cast

from fuelsim.car.car import Car
from fuelsim.car.climate import hot_day
from fuelsim.cli.cautioned import cautioned
from fuelsim.cli.console import wrapped
from fuelsim.cli.early_stop import Work
from fuelsim.cli.flags import add_car, add_common, add_uncertainty, car_given, command_parser, layout_given
from fuelsim.cli.json_text import flat_table, json_text, table_rows
from fuelsim.errors import InputError
from fuelsim.interruption import Completion, run_steps
from fuelsim.output_files import check_folder, write_folder
from fuelsim.show.style import png_bytes
from fuelsim.studies.climates import over_climates, traffic_day
from fuelsim.transients.drive import drive
from fuelsim.transients.drive_results import Drive, DriveSamples
from fuelsim.transients.schedule import DrivingKind, Schedule, typical_phase
from fuelsim.transients.soak import hot_soak
from fuelsim.typing import Given
from fuelsim.units import prefer_units

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = [
    "ONE_LAYOUT",
    "OverTime",
    "climates_command",
    "drive_command",
    "print_over_time",
    "soak_command",
    "write_asked",
]

ONE_LAYOUT = "the layout; may be repeated; left out, the first the car has the parts for"
ROWS = 9
"""Moments of a drive or soak that are printed."""
_SECONDS_BELOW = 120.0
"""Duration below which moments are printed in seconds, s."""
_ENDS_OF_SHARES = ["happens_low_percent", "happens_high_percent"]
"""Columns of samples that are not printed: the intervals of shares, which the files hold."""
HEADINGS = {
    "phase": "phase",
    "tank": "tank",
    "rail": "rail",
    "pump_inlet_vapour_margin": "inlet",
    "rail_vapour_margin": "rail_margin",
    "engine_state": "engine",
}
"""Columns that are printed, by name without unit, and what stands above them."""


class OverTime(Protocol):
    """A drive, a soak, or another result with an axis of time."""

    @property
    def headline(self) -> str:
        """What happens."""

    def table(self) -> pd.DataFrame:
        """Return one row per time."""

    def plot(self) -> Figure:
        """Draw it against time."""


def drive_command(arguments: Sequence[str]) -> None:
    """Run a car through a drive."""
    options = command_parser(
        "fuelsim drive",
        "Run a car through a drive: temperature of tank and rail, margins to boiling, and when what happens. Left out,"
        "\nthe drive is half an hour of motorway, two hours of traffic jam and half an hour of city.",
    )
    add_car(options)
    options.add_argument(
        "--phase",
        action="append",
        default=[],
        metavar="'KIND TIME'",
        help="a stretch of city, motorway, climb, jam or stop, as in 'jam 45 min'; may be repeated, in order",
    )
    options.add_argument("--climate", metavar="PLACE", help="place of data/climates.toml whose hot day it is")
    options.add_argument("--start", default="13 h", metavar="TIME", help="time of day at the start, such as '10 h'")
    options.add_argument("--tank-temperature", metavar="T", help="fuel at the start; left out, that of the air")
    options.add_argument("--output", metavar="FOLDER", help="folder for tables (CSV) and pictures (PNG)")
    add_uncertainty(options, "drives of samples of what is not known, 16 or another 8 times a power of two")
    add_common(options, layout=ONE_LAYOUT, several=True)
    given = options.parse_args(arguments)
    prefer_units(given.units)
    car = car_given(given.car)
    schedule = _schedule(car, given.phase, given.start)
    climate = None if given.climate is None else hot_day(given.climate)

    def work(layout: str) -> OverTime:
        return drive(
            car,
            layout,
            schedule,
            climate=climate,
            tank_temperature=given.tank_temperature,
            uncertainty=given.uncertainty,
        )

    print_over_time("drive", car, given.layout, work, given.output, given.json)


def soak_command(arguments: Sequence[str]) -> None:
    """Let a hot car soak."""
    options = command_parser(
        "fuelsim soak",
        "Stop a hot car at idle and let it soak: temperature and pressure of the rail, vapour, what a restart takes.",
    )
    add_car(options)
    options.add_argument("--duration", default="1 h", metavar="TIME", help="duration of the soak; left out, 1 h")
    options.add_argument("--air-temperature", metavar="T", help="temperature of the air; left out, the car's own")
    options.add_argument("--tank-temperature", metavar="T", help="temperature of the tank; left out, the car's own")
    options.add_argument("--output", metavar="FOLDER", help="folder for tables (CSV) and pictures (PNG)")
    add_common(options, layout=ONE_LAYOUT, several=True)
    given = options.parse_args(arguments)
    prefer_units(given.units)
    car = car_given(given.car)

    def work(layout: str) -> OverTime:
        return hot_soak(
            car,
            layout,
            duration=given.duration,
            air_temperature=given.air_temperature,
            tank_temperature=given.tank_temperature,
        )

    print_over_time("soak", car, given.layout, work, given.output, given.json)


def climates_command(arguments: Sequence[str]) -> None:
    """Run a car through the hot day of places."""
    options = command_parser(
        "fuelsim climates",
        "Run a car through a traffic day at places, with their summer petrol: what becomes of each layout, and the"
        "\nvapour pressure above which fuel boils somewhere. Ctrl-C after more than 10 s ends with what is finished.",
    )
    add_car(options)
    options.add_argument(
        "--place", action="append", metavar="NAME", help="place of data/climates.toml; may be repeated; left out, eight"
    )
    options.add_argument(
        "--no-bands", action="store_true", help="each cell once, not at both ends of the bands of heat and fuel: faster"
    )
    options.add_argument("--output", metavar="FOLDER", help="folder for the table (CSV) and the picture (PNG)")
    add_common(options, layout="run this layout only; may be repeated", several=True)
    given = options.parse_args(arguments)
    prefer_units(given.units)
    car = car_given(given.car)
    if given.output:
        check_folder(given.output)
    work = Work()
    places = {} if given.place is None else {"places": given.place}
    result = over_climates([car], layouts=given.layout, bands=not given.no_bands, wrong_fuel=False, **places)
    table = flat_table(result.table())

    def write() -> str:
        written = write_asked(
            given.output,
            lambda: {"climates.csv": table.to_csv(index=False).encode(), "climates.png": png_bytes(result.plot())},
        )
        if given.json:
            return json_text("climates", {"car": car.name, "cells": table_rows(table), "files": written})
        kept = ("place", "layout", "outcome", "hottest_tank")
        shown = table[[name for name in map(str, table) if name.startswith(kept)]]
        return _text([f"{car.name}: {result.headline}", shown.round(1).to_string(index=False)], given.output, written)

    work.finish(result.completion, write)


def _schedule(car: Car, phases: Sequence[str], start: str) -> Schedule:
    """Return the drive of the phases, or that of a day with a traffic jam."""
    if not phases:
        return Schedule.of(traffic_day(car).phases, start_time=start)
    told = []
    for text in phases:
        kind, _, duration = text.strip().partition(" ")
        if not duration.strip():
            raise InputError("not a stretch of a drive", given=text, accepted="kind and time, as in 'jam 45 min'")
        told.append(typical_phase(cast("DrivingKind", kind), duration.strip(), car))
    return Schedule.of(told, start_time=start)


def print_over_time(
    command: str,
    car: Car,
    layouts: Sequence[str] | None,
    work: Callable[[str], OverTime],
    output: str | None,
    as_json: bool,
) -> None:
    """Work through layouts, write what is asked, and print.

    Parameters
    ----------
    command : str
        Name of the subcommand.
    car : Car
        The car.
    layouts : sequence of str or None
        Layouts, or None for the first the car has the parts for.
    work : function
        From a layout to its result.
    output : str or None
        Folder for tables and pictures.
    as_json : bool
        Whether JSON is printed.
    """
    chosen = list(layouts or [layout_given(car, None)])
    if output:
        check_folder(output)
    timed = Work()
    results, completion = run_steps(chosen, work, doing=command, of="layouts")

    def files() -> dict[str, bytes]:
        made: dict[str, bytes] = {}
        for layout, result in zip(chosen, results, strict=False):
            made[f"{layout}_{command}.csv"] = result.table().to_csv(index=False).encode()
            made[f"{layout}_{command}.png"] = png_bytes(result.plot())
            if (samples := _samples(result)) is not None:
                made[f"{layout}_samples.csv"] = samples.table().to_csv(index=False).encode()
        return made

    def write() -> str:
        written = write_asked(output, files)
        if as_json:
            rows = {
                layout: {
                    "sentence": result.headline,
                    "events": [str(event) for event in getattr(result, "events", [])],
                    "table": table_rows(result.table()),
                    "samples": [] if (samples := _samples(result)) is None else table_rows(samples.table()),
                }
                for layout, result in zip(chosen, results, strict=False)
            }
            return json_text(command, {"car": car.name, "layouts": rows, "files": written})
        parts = []
        for result in results:
            parts.append("\n".join(wrapped(f"{car.name}: {result.headline}")))
            events = getattr(result, "events", [])
            parts += ["\n".join(line for event in events for line in wrapped(f"- {event}"))] if events else []
            parts.append(_moments(result.table()))
            if (samples := _samples(result)) is not None:
                parts.append(f"How sure: {samples.samples} samples\n{_of_samples(samples)}")
        return _text(parts, output, written)

    timed.finish(_joined(completion, results), write)


def _samples(result: OverTime) -> DriveSamples | None:
    """Return the samples of a drive, where they were asked for."""
    return result.samples if isinstance(result, Drive) else None


def _of_samples(samples: DriveSamples) -> str:
    """Return the table of samples as text that fits a terminal."""
    table = samples.table().drop(columns=_ENDS_OF_SHARES, errors="ignore")
    return table.rename(columns=lambda name: str(name).replace("_percent", "_%")).to_string(index=False)


def _joined(completion: Completion, results: Sequence[OverTime]) -> Completion:
    """Return the completion of the last result where Ctrl-C ended that one early, else of all."""
    for result in results:
        own = getattr(result, "completion", completion)
        if own.interrupted:
            return Completion(*own)
    return completion


def _moments(table: pd.DataFrame) -> str:
    """Return some moments of a table as text that fits a terminal: one column per moment."""
    step = max((len(table) - 1) // (ROWS - 1), 1)
    some = table.iloc[::step]
    headings = {}
    for name in map(str, table):
        stem, _, unit = name.partition("_") if name.startswith("rail_") and name.endswith("_gauge") else (name, "", "")
        stem, unit = (stem, unit) if unit else name.rpartition("_")[::2] if name not in HEADINGS else (name, "")
        if stem in HEADINGS:
            headings[name] = f"{HEADINGS[stem]}_{unit}".rstrip("_")
    if float(table["time_s"].iloc[-1]) < _SECONDS_BELOW:
        some = some.assign(s=some["time_s"])[["s", *headings]].rename(columns=headings)
    else:
        some = some.assign(min=(some["time_s"] / 60.0).round())[["min", *headings]].rename(columns=headings)
    return some.map(lambda cell: cell if isinstance(cell, str) else f"{cell:.3g}").to_string(index=False)


def write_asked(output: str | None, make: Callable[[], Mapping[str, bytes]]) -> list[str]:
    """Write files into the folder that ``--output`` names, and return their paths; without one none are made.

    Parameters
    ----------
    output : str or None
    make : function
        Returns the contents of the files by their names.
    """
    if not output:
        return []
    files = dict(make())
    write_folder(Path(output), files)
    return [str(Path(output) / name) for name in files]


def _text(parts: Sequence[str], output: str | None, written: Sequence[Given]) -> str:
    names = ", ".join(Path(str(name)).name for name in written)
    return cautioned(parts, end=f"Written to {output}: {names}" if output else "")
