"""Pulsation on the command line: ripple of the rails over engine speed, and what calms it."""

from __future__ import annotations

from collections.abc import Sequence

from fuelsim.cli.cautioned import cautioned
from fuelsim.cli.console import wrapped
from fuelsim.cli.early_stop import Work
from fuelsim.cli.flags import add_car, add_common, car_given, command_parser, layout_given
from fuelsim.cli.heat import write_asked
from fuelsim.cli.json_text import json_text, table_rows
from fuelsim.output_files import check_folder
from fuelsim.ripple.remedies import RippleRemedies, ripple_remedies
from fuelsim.ripple.result import Pulsation
from fuelsim.ripple.study import pulsation, usual_speeds
from fuelsim.show.style import png_bytes
from fuelsim.units import prefer_units

__all__ = ["pulsation_command"]

_SPEEDS = 30
_ROWS = 12
"""Engine speeds that are printed."""


def pulsation_command(arguments: Sequence[str]) -> None:
    """Compute how the rails pulsate, or what calms them."""
    options = command_parser(
        "fuelsim pulsation",
        "How the pressure in the rails pulsates over the engine speed, and how evenly the injectors deliver."
        "\nWith --remedies, what a damper at each place, wider rails, hose for tube or a crossover does to it.",
    )
    add_car(options)
    options.add_argument("--rpm", action="append", metavar="RPM", help="engine speed; may be repeated; left out, 30")
    options.add_argument("--load", default="100 %", metavar="SHARE", help="share of the full load; left out, 100 %%")
    options.add_argument("--remedies", action="store_true", help="compare changes in place of one pulsation")
    options.add_argument("--output", metavar="FOLDER", help="folder for tables (CSV) and pictures (PNG)")
    add_common(options, layout="the layout; left out, the first the car has the parts for")
    given = options.parse_args(arguments)
    prefer_units(given.units)
    car = car_given(given.car)
    layout = layout_given(car, given.layout)
    if given.output:
        check_folder(given.output)
    rpm = [_with_unit(text) for text in given.rpm] if given.rpm else usual_speeds(car, _SPEEDS)
    timed = Work()
    study = ripple_remedies if given.remedies else pulsation
    result = study(car.system(layout), rpm=rpm, load=given.load)

    def write() -> str:
        written = write_asked(given.output, lambda: _files(layout, result))
        table = result.table()
        if given.json:
            content = {"car": car.name, "layout": layout, "sentence": result.headline, "files": written}
            return json_text("pulsation", {**content, "table": table_rows(table)})
        parts = ["\n".join(wrapped(f"{car.name}: {result.headline}")), _printed(result)]
        return cautioned(parts, end="\n".join(wrapped(f"written: {', '.join(written)}")) if written else "")

    timed.finish(result.completion, write)


def _with_unit(text: str) -> str:
    """Return an engine speed with its unit, which a plain number may leave out here."""
    return f"{text} rpm" if text.strip().replace(".", "", 1).isdecimal() else text


def _printed(result: Pulsation | RippleRemedies) -> str:
    """Return the table as text that fits a terminal."""
    table = result.table().round(1)
    if isinstance(result, RippleRemedies):
        kept = [name for name in map(str, table) if name.startswith(("change", "greatest_ripple", "at_rpm", "mean_p"))]
        return table[kept].to_string(index=False)
    kept = [name for name in map(str, table) if not name.endswith("absolute") and "transfer" not in name]
    step = max((len(table) - 1) // (_ROWS - 1), 1)
    headings = {name: name.replace("_ripple", "").replace("spread_between_rails", "between") for name in kept}
    return table[kept].iloc[::step].rename(columns=headings).to_string(index=False)


def _files(layout: str, result: Pulsation | RippleRemedies) -> dict[str, bytes]:
    """Return tables and pictures by the names of their files."""
    if isinstance(result, RippleRemedies):
        return {
            f"{layout}_remedies.csv": result.table().to_csv(index=False).encode(),
            f"{layout}_remedies.png": png_bytes(result.plot()),
        }
    return {
        f"{layout}_pulsation.csv": result.table().to_csv(index=False).encode(),
        f"{layout}_injectors.csv": result.injectors_table().to_csv(index=False).encode(),
        f"{layout}_pulsation.png": png_bytes(result.plot()),
        f"{layout}_waterfall.png": png_bytes(result.waterfall()),
        f"{layout}_cycles.png": png_bytes(result.plot_cycle()),
    }
