"""Results in a file: what came out, by which version of fuelsim, and from which car and conditions."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from fuelsim.arguments import takes
from fuelsim.car.car import Car
from fuelsim.car.write import car_text
from fuelsim.constants import VERSION
from fuelsim.data_files import read_text
from fuelsim.errors import FuelsimError, InputError
from fuelsim.finding import FindingList
from fuelsim.made_by import MadeBy
from fuelsim.output_files import write_files
from fuelsim.show.stored import Decoder, Encoder, Node
from fuelsim.shown import Shown
from fuelsim.system.run import System

__all__ = ["FILE_VERSION", "load", "save_result"]

FILE_VERSION = 1
"""Version of the form of the file; another one is refused."""
LARGEST_RESULT = 500_000_000
"""Bytes of a file that is read."""


def save_result(result: Shown | FindingList, path: Path | str) -> Path:
    """Write a result to a file of JSON, with the version of fuelsim and with what it was made from.

    Parameters
    ----------
    result : Shown or FindingList
        The result.
    path : path
        File to be; one that stands there is replaced.

    Returns
    -------
    Path

    Raises
    ------
    InputError
        Where the file cannot be written, or the result holds something that is no data, such as a function.
    """
    encoder, path = Encoder(), Path(path)
    made_by = getattr(result, "made_by", None)
    document: dict[str, Node] = {
        "file": "result of fuelsim",
        "file_version": FILE_VERSION,
        "fuelsim": VERSION,
        "result": type(result).__name__,
        "headline": result.headline,
        "car": _car_text(result),
        "made_by": None if made_by is None else made_by.function,
        "content": encoder.encode(result),
        "arguments": {} if made_by is None else _arguments(made_by, encoder),
    }
    lines = (f"{json.dumps(key)}: {json.dumps(node, allow_nan=False)}" for key, node in document.items())
    write_files({path: ("{\n" + ",\n".join(lines) + "\n}\n").encode()})
    return path


def _arguments(made_by: MadeBy, encoder: Encoder) -> dict[str, Node]:
    """Return what a result was made from; values of other libraries as arrays, else as text."""
    nodes: dict[str, Node] = {}
    for name, value in made_by.arguments.items():
        try:
            nodes[name] = encoder.encode(value)
        except InputError:
            array = np.asarray(value) if hasattr(value, "__array__") else None
            nodes[name] = encoder.encode(str(value) if array is None or array.dtype.kind not in "fiubU" else array)
    return nodes


def _car_text(result: object) -> str | None:
    """Return the car of a result as the text of a car file; None for a result without one, or with many at once."""
    made_by = getattr(result, "made_by", None)
    among = [*_own_values(result), *(() if made_by is None else made_by.arguments.values())]
    systems = [item.car for item in among if isinstance(item, System)]
    for car in [*(item for item in among if isinstance(item, Car)), *systems]:
        try:
            return car_text(car)
        except InputError:
            continue
    return None


def _own_values(result: object) -> list[object]:
    if not dataclasses.is_dataclass(result):
        return []
    return [result, *(getattr(result, item.name) for item in dataclasses.fields(result))]


@takes()
def load(path: Path | str) -> Shown | FindingList:
    """Return a result that its ``save`` has written; it equals the one that was saved.

    The file is data: nothing in it is executed.

    Parameters
    ----------
    path : path
        A file written by ``save``.

    Returns
    -------
    Run, Comparison or another result
        Of the class that was saved, with `made_by`.

    Raises
    ------
    InputError
        For a file that is none, or that another version of fuelsim wrote in another form.

    Examples
    --------
    >>> import tempfile, fuelsim as fs
    >>> run = fs.Car.named("finch").system("return").solve(rpm=[1000, 6000])
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     again = fs.load(run.save(f"{folder}/run.json"))
    >>> again == run, again.made_by.function
    (True, 'System.solve')
    """
    try:
        return _decoded(read_text(path, LARGEST_RESULT))
    except InputError as error:
        raise error.at(file=str(path)) from None


def _decoded(text: str) -> Shown | FindingList:
    try:
        document = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError(f"not a file of JSON: {error}", accepted="a file that save() of a result wrote") from None
    if not isinstance(document, Mapping) or document.get("file") != "result of fuelsim":
        raise InputError("not a saved result", accepted="a file that save() of a result wrote")
    written, version = document.get("fuelsim"), document.get("file_version")
    if version != FILE_VERSION:
        raise InputError(
            f"saved in another form, by version {written} of fuelsim",
            given=f"file_version {version}",
            accepted=f"file_version {FILE_VERSION}; load it with that version, or make the result anew from its inputs",
        )
    decoder = Decoder()
    try:
        result = decoder.decode(document["content"])
        if not isinstance(result, (Shown, FindingList)):
            raise InputError("not a result", given=str(document.get("result")))
        arguments = decoder.decode({"kind": "mapping", "values": document["arguments"]})
    except FuelsimError as error:
        if written == VERSION:
            raise
        raise InputError(f"saved by version {written} of fuelsim, this is {VERSION}: {error}") from None
    except (ValueError, TypeError, KeyError, AttributeError, OverflowError, MemoryError, RecursionError) as error:
        raise InputError(f"a damaged file: {type(error).__name__}", accepted="the file as save() wrote it") from error
    if isinstance(result, Shown):
        function = document.get("made_by")
        made_by = MadeBy(function, arguments) if isinstance(function, str) and isinstance(arguments, dict) else None
        object.__setattr__(result, "made_by", made_by)
    return result
