"""Writing a car file: a `Car` in, TOML out that reads back as an equal car, with units a person would choose."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from fuelsim import units
from fuelsim.arguments import takes
from fuelsim.car.car import Car
from fuelsim.car.file_format import REFERENCE_KEY, runs_text, toml_value
from fuelsim.car.references import catalogue_section
from fuelsim.declaration import Declaration, file_keys
from fuelsim.errors import InputError
from fuelsim.fields import Ratings
from fuelsim.kinds import KINDS
from fuelsim.named_tables import NamedTables
from fuelsim.output_files import write_files
from fuelsim.shown import same_content
from fuelsim.typing import Given, TextArray

__all__ = ["car_text", "refuse_overwriting", "write_car", "written"]

ROUND_DIGITS = 6
"""A number that needs no more than these was probably given in that unit."""
HEADING = """\
# A car of fuelsim. Every value is text with its unit; a plain number would be SI. Keys left out have their default.
"""


@takes()
def write_car(car: Car, path: Path | str, *, overwrite: bool = False) -> Path:
    """Write a car file that reads back as an equal car; it appears whole or not at all.

    Parameters
    ----------
    car : Car
        What to write.
    path : path
        The file to be.
    overwrite : bool
        Whether a file that is there already may be replaced.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    InputError
        Where the file is there already or cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> import fuelsim as fs
    >>> car = fs.Car.named("finch").with_values({"feed.bore": "10 mm"})
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = write_car(car, f"{folder}/wide_finch.toml")
    ...     fs.read_car(path) == car
    True
    """
    path = Path(path)
    refuse_overwriting(path, overwrite)
    write_files({path: car_text(car).encode()})
    return path


def refuse_overwriting(path: Path, overwrite: bool) -> None:
    """Raise InputError where something of that name is there already and may not be replaced.

    Parameters
    ----------
    path : Path
        The file to be.
    overwrite : bool
        Whether a file that is there already may be replaced.

    Raises
    ------
    InputError
        Where there is such a file and `overwrite` is not set.

    Examples
    --------
    >>> refuse_overwriting(Path("surely_not_there.toml"), overwrite=False)
    """
    if (path.exists() or path.is_symlink()) and not overwrite:
        raise InputError("the file is there already", accepted="another name, or to overwrite it", file=str(path))


def car_text(car: Car) -> str:
    """Return a car as the text of a car file.

    Parameters
    ----------
    car : Car
        Ratings that are lists over operating points cannot be written.

    Returns
    -------
    str
        TOML.

    Examples
    --------
    >>> import fuelsim as fs
    >>> car_text(fs.Car.named("finch")).splitlines()[2:5:2]
    ['name = "Finch"', 'pump_height = "0.03 m"']
    """
    return HEADING + "\n" + "\n".join(_table(car, "")).strip() + "\n"


def _table(ratings: Ratings, prefix: str) -> list[str]:
    """Return the lines of a table without its head, and of the tables below it."""
    lines, below = [], []
    generic = _generic_ratings(ratings)
    if generic:
        lines.append(f"{REFERENCE_KEY} = {toml_value(getattr(ratings, REFERENCE_KEY))}")
    for name, declaration in file_keys(type(ratings)).items():
        value = getattr(ratings, name)
        known = name in generic or not declaration.required
        if known and same_content(value, generic.get(name, _converted_default(declaration))):
            continue
        listed = declaration.form == "quantity" and not declaration.rows and np.ndim(value) > 0
        if value is None or listed:
            problem = "a car file holds one car, not a list over operating points" if listed else "cannot be left out"
            raise InputError(problem, given=value, accepted="one value", key=f"{prefix}{name}")
        if isinstance(value, NamedTables):
            for table_name, table in value.items():
                key = f"{prefix}{name}.{table_name}"
                below += ["", f"[{key}]", *_table(table, f"{key}.")]
        elif declaration.form == "runs":
            lines += runs_text(name, value)
        elif declaration.form == "quantities":
            texts = (f"{station} = {toml_value(written(each, declaration))}" for station, each in value.items())
            lines.append(f"{name} = {{ {', '.join(texts)} }}")
        elif isinstance(value, Ratings):
            below += ["", f"[{prefix}{name}]", *_table(value, f"{prefix}{name}.")]
        else:
            lines.append(f"{name} = {toml_value(written(value, declaration))}")
    return lines + below


def _converted_default(declaration: Declaration) -> object:
    """Return a default in SI, as an object holds it; None for a rating that must be given."""
    return None if declaration.required else declaration.convert(declaration.default)


def _generic_ratings(ratings: Ratings) -> dict[str, object]:
    """Return the ratings of the generic part that these were taken from, in SI; none where there is no such part.

    A file cannot say beside a reference that a rating was taken away since; the reference is left out then.
    """
    section, name = catalogue_section(type(ratings)), getattr(ratings, REFERENCE_KEY, None)
    if section is None or name is None:
        return {}
    known = file_keys(type(ratings))
    generic = {key: known[key].convert(value) for key, value in section.ratings(name).items()}
    return {} if any(getattr(ratings, key) is None for key in generic) else generic


def written(value: Given, declaration: Declaration) -> str | TextArray | Given:
    """Return a value as text with a unit: the first unit in which it is a round number, else the shortest text.

    Parameters
    ----------
    value : object
        As a rating holds it, in SI.
    declaration : Declaration
        The rating's own.

    Returns
    -------
    str or array of str
        Of the same shape; a value without unit is returned as it is.

    Examples
    --------
    >>> written(0.008, Declaration("quantity", "Inside diameter.", kind="bore"))
    '8 mm'
    """
    if declaration.form not in ("quantity", "series", "quantities") or KINDS[declaration.kind].unit == "1":
        return value
    kind = KINDS[declaration.kind]
    numbers = np.ravel(np.asarray(value, dtype=float)).tolist()
    best: list[str] | None = None
    for unit in dict.fromkeys((kind.shown[1], *kind.examples, *kind.shown, kind.unit)):
        texts = [_exact(number, unit, kind.name) for number in numbers]
        known = [text for text, _ in texts if text]
        if len(known) < len(numbers):
            continue
        if all(digits <= ROUND_DIGITS for _, digits in texts):
            best = known
            break
        if best is None or sum(map(len, known)) < sum(map(len, best)):
            best = known
    if best is None:
        return value
    shape = np.shape(np.asarray(value))
    return best[0] if not shape else np.reshape(np.asarray(best, dtype=object), shape)


def _exact(value: float, unit: str, kind: str) -> tuple[str, int]:
    """Return the shortest text in a unit that reads back as exactly this value, and its digits; empty if none does."""
    number = float(units.from_si(value, unit, kind))
    for digits in (ROUND_DIGITS, 12, 15, 16, 17):
        text = f"{number:.{digits}g} {unit}"
        if "e" not in text.partition(" ")[0] and units.convert(text, kind) == value:
            return text, digits
    return "", 0
