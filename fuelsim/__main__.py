"""The command line: ``python -m fuelsim [car.toml]``; argument parsing only."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from fuelsim.errors import FuelsimError

DESCRIPTION = """\
Compare the ways of plumbing one car's fuel delivery: a return line from the rail, or returnless with the regulator at
the tank or in the engine bay. Prints what each layout does to rail pressure, bypass, injectors, pump and vapour over
the rev range and over the tank's temperature, and writes figures (PNG), tables (CSV) and a report (HTML) into a folder.
"""
EPILOGUE = """\
Petrol burns and its vapour explodes; lines hold pressure. The figures are a design aid: they do not show that a car is
safe and do not replace a pressure test. Local law and licensed practice decide.
"""


def parser() -> argparse.ArgumentParser:
    """Return the parser of the command line."""
    made = argparse.ArgumentParser(
        prog="fuelsim", description=DESCRIPTION, epilog=EPILOGUE, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    made.add_argument("car", nargs="?", help="car file (TOML); left out, the bundled demo car 'dust_runner'")
    made.add_argument("--output", metavar="FOLDER", help="folder to write into; left out, fuelsim_<car> here")
    made.add_argument("--layout", action="append", metavar="NAME", help="compare this layout only; may be repeated")
    made.add_argument(
        "--units", default="metric workshop", metavar="SYSTEM", help="'metric workshop', 'US workshop' or 'SI'"
    )
    return made


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code: 0, or 2 for a wrong input."""
    given = parser().parse_args(arguments)
    try:
        from fuelsim.cli.compare_layouts import run

        run(given.car, given.output, given.layout, given.units)
    except FuelsimError as error:
        print(f"fuelsim: {error}", file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
