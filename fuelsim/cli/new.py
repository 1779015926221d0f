"""Write a car file to start from."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from fuelsim.car.known import Assumption, Known
from fuelsim.car.read import read_table
from fuelsim.car.starter import starter_file
from fuelsim.car.write import refuse_overwriting
from fuelsim.cli.console import WIDTH, say
from fuelsim.cli.json_text import json_text
from fuelsim.declaration import declarations
from fuelsim.errors import InputError
from fuelsim.output_files import write_files
from fuelsim.typing import Given

__all__ = ["FLAGS", "Flag", "run"]


class Flag(NamedTuple):
    """A flag of the command line, made from the declaration of a rating of `Known`.

    Attributes
    ----------
    name : str
        Without the dashes in front, words joined by dashes.
    example : str
        How a person would write a value.
    about : str
        Its meaning, as `argparse` takes it.
    """

    name: str
    example: str
    about: str

    @property
    def key(self) -> str:
        """The rating's name."""
        return self.name.replace("-", "_")


def _flag(name: str) -> Flag:
    declaration = declarations(Known)[name]
    example = declaration.example or "|".join(declaration.choices) or "NAME"
    example = f"'{example}'" if " " in example else example
    return Flag(name.replace("_", "-"), example, declaration.doc.rstrip(".").replace("%", "%%"))


OTHER_FLAGS = {"pump_mounting": "--pump-outside"}
"""Flags that are not called like their key."""
KEYS = {
    "engine.peak_power": "power",
    "engine.peak_power_speed": "power_speed",
    "engine.displacement": "displacement",
    "engine.boost_pressure": "boost",
    "engine.red_line": "red_line",
}
"""Keys of a car file that a flag sets under another name."""
FLAGS = tuple(_flag(name) for name in declarations(Known) if name != "pump_mounting")


def run(
    file: str,
    flags: Mapping[str, str | None],
    pump_outside: bool,
    overwrite: bool,
    every_key: bool = False,
    as_json: bool = False,
) -> None:
    """Write the file and print what to do next.

    Parameters
    ----------
    file : str
        Path of the file to be.
    flags : mapping of str to str
        Value of each flag by its name, None where it was not given.
    pump_outside : bool
        Whether the pump hangs outside the tank.
    overwrite : bool
        Whether a file that is there already may be replaced.
    every_key : bool
        Whether every key is written, those that may be left out behind a comment sign.
    as_json : bool
        Whether what was assumed is printed as JSON.

    Raises
    ------
    InputError
        Naming the flag, or the file that is there already; nothing is written then.
    """
    path = Path(file)
    refuse_overwriting(path, overwrite)
    given: dict[str, Given] = {flag.key: flags[flag.name] for flag in FLAGS if flags[flag.name] is not None}
    given["pump_mounting"] = "external" if pump_outside else "in_tank"
    cylinders = flags.get("cylinders")
    if cylinders is not None and cylinders.isdecimal():
        given["cylinders"] = int(cylinders)
    try:
        known = read_table(Known, given)
        text = starter_file(known, every_key=every_key)
    except InputError as error:
        raise _named_by_flag(error) from None
    write_files({path: text.encode()})
    if as_json:
        assumed = {each.key: each.text for each in known.assumptions()}
        say(json_text("new", {"file": str(path), "assumed": assumed}))
        return
    say(
        "\n".join(
            [
                "Assumed, because no flag says otherwise:",
                *(line for each in known.assumptions() for line in _assumption_lines(each)),
                "Lengths, bores, filter, wire and injectors are typical too; see the file.",
                f"Written {path}: replace what you know of the car, then: python -m fuelsim check {path}",
            ]
        )
    )


def _assumption_lines(assumption: Assumption) -> list[str]:
    """Return an assumption behind its flag."""
    flag = OTHER_FLAGS.get(assumption.key, f"--{assumption.key.replace('_', '-')}")
    return textwrap.wrap(f"  {flag:<20}{assumption.text}", WIDTH, subsequent_indent=" " * 22)


def _named_by_flag(error: InputError) -> InputError:
    """Return an error of a key of the file to be as one of the flag that sets it."""
    key = KEYS.get(error.key or "", error.key or "")
    flag = f"--{key.replace('_', '-')}" if key in declarations(Known) else key or None
    return InputError(error.problem, given=error.given, accepted=error.accepted, key=flag)
