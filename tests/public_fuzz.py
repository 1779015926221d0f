"""Misuse of the public door by seed: every public callable, every argument, a fixed list of bad values.

    python tests/public_fuzz.py FIRST LAST [seconds]

draws misuses FIRST to LAST - 1 of the fixed order that the seed 0 gives, and prints those that ended in anything but a
`FuelsimError` of one readable line or a right answer.
"""

from __future__ import annotations

import contextlib
import dataclasses
import functools
import inspect
import os
import random
import signal
import sys
import tempfile
import time
import traceback
import warnings
from enum import Enum

import numpy as np
import public_values as values
from public_values import bad_values

import fuelsim
from fuelsim.declaration import declarations
from fuelsim.fields import Ratings

LONGEST_MESSAGE = 700
LONGEST_CALL = 6.0
"""Seconds of one call."""
RESULTS = ("Finding", "LockTemperatures", "Outcome", "Run", "Sizing", "State")
"""Classes that hold results: studies make them, and only their methods are for users."""
TEXTS = ("empty text", "blank", "no unit", "text of NaN", "text of infinity", "wrong unit", "negative length",
         "negative pressure", "year", "text with a unit")  # fmt: skip
NAMES = {
    "BandInput",
    "Car.kind_of",
    "Car.part",
    "Car.table_of",
    "Car.with_plumbing",
    "Network.add_node",
    "Network.add_reservoir",
    "Network.connect",
    "UncertainInput",
}
"""Functions whose argument `name` may be any: a new name, or one that may be unknown."""
FREE_TEXT = {"path", "label", "title", "outlet", "reference", "up", "down", "source", "adverse", "gauge"}
"""Arguments that take any printable text."""
WITHOUT_A_VALUE = (
    "not a number",
    "infinity",
    "minus infinity",
    "array with NaN",
    "array of infinities",
    "numpy NaN",
    "column with gaps",
    "1e308",
    "-1e308",
    "table",
)
"""Bad values that results may hold."""
TAKEN = {
    # A height may be below the tank's, and a sketch of a network may be of any pressure.
    ("Network.add_node", "height", "negative length"),
    ("Network.add_reservoir", "height", "negative length"),
    # Lists that may be empty, and mappings.
    *((name, "fittings", "empty list") for name in ("LineSize.line",)),
    ("ColdMixture.factor", "cranks", "empty list"),
    ("PlumbingDescription", "heights", "mapping"),
    ("hand_over", "reused", "empty list"),
    ("leak_down", "clamped", "empty text"),
    ("uncertainty", "measures", "empty list"),
    ("questions", "about", "empty text"),
    *((name, "inputs", "empty list") for name in ("event_band", "lock_temperatures", "over_bands")),
    # Results keep the points that have no value; another unit does not give them one.
    *(
        (function, argument, bad)
        for function, argument in (("from_si", "value"), ("Run.while_running", "values"))
        for bad in WITHOUT_A_VALUE
    ),
    ("Network.connect", "part", "line"),
    # Without an input the difference alone is told.
    ("tank_difference", "inputs", "empty list"),
    ("drive_band", "inputs", "empty list"),
    ("diagnose", "tolerances", "empty list"),
    # Nothing asked, nothing answered.
    ("si", "value", "empty list"),
    ("from_si", "value", "empty list"),
    ("LockTemperatures.sentence", "index", "empty list"),
    # A number without unit has the empty unit.
    ("si", "unit", "empty text"),
    # Without a kind there is no plausible range.
    *(("si", "value", bad) for bad in ("1e308", "-1e308", "negative pressure")),
}  # fmt: skip
"""Bad values that are right for one argument: function, argument and name of the value."""


def function_of(raw):
    """Return the function behind a method, class method or static method."""
    return getattr(raw, "__func__", raw)


@functools.cache
def public_functions():
    """Return all that a user may call by name: functions, constructors and methods of public classes."""
    found = {}
    for name in fuelsim.__all__:
        thing = getattr(fuelsim, name)
        if not inspect.isclass(thing):
            found[name] = None
            continue
        if issubclass(thing, (BaseException, Enum)):
            continue
        if name not in RESULTS:
            found[name] = "class"
        for member in sorted(dir(thing)):
            raw = inspect.getattr_static(thing, member)
            function = function_of(raw)
            if member.startswith("_") or not inspect.isfunction(function):
                continue
            if function.__module__.startswith("fuelsim"):
                found[f"{name}.{member}"] = "method"
    return found


def signature_of(name):
    owner, _, member = name.partition(".")
    thing = getattr(fuelsim, owner)
    return inspect.signature(getattr(thing, member) if member else thing)


@functools.cache
def arguments_of(name):
    """Return the names of the arguments of a public callable; the instance is none."""
    thing = getattr(fuelsim, name, None)
    if inspect.isclass(thing) and issubclass(thing, Ratings):
        return tuple(declarations(thing))
    names = [item.name for item in signature_of(name).parameters.values()]
    return tuple(names[1:] if names[:1] == ["self"] else names)


@functools.cache
def misuses():
    """Return every misuse as function, argument and name of a bad value, in the order of seed 0."""
    every = [
        (function, argument, bad)
        for function in public_functions()
        for argument in arguments_of(function)
        for bad in bad_values()
    ]
    random.Random(0).shuffle(every)
    return every


def call(function, argument, value):
    """Call a public callable with right arguments but one."""
    owner, _, member = function.partition(".")
    thing = getattr(fuelsim, owner)
    if not member and inspect.isclass(thing) and issubclass(thing, Ratings):
        right = {item.name: getattr(values.object_of(owner), item.name) for item in dataclasses.fields(thing)}
        return thing(**(right | {argument: value}))
    raw = inspect.getattr_static(thing, member) if member else None
    bound = thing
    if member:
        bound = getattr(thing if isinstance(raw, (classmethod, staticmethod)) else values.object_of(owner), member)
    positional, named = [], {}
    for item in inspect.signature(bound).parameters.values():
        given = value if item.name == argument else values.right_argument(function, item.name)
        if item.kind is item.VAR_POSITIONAL:
            positional.append(given)
        elif item.kind is item.VAR_KEYWORD:
            named |= {"rpm": given}
        else:
            named[item.name] = given
    return bound(*positional, **named)


def is_right_to_take(function, argument, bad):
    """Return whether a bad value is a right one for this argument."""
    if (function, argument, bad) in TAKEN or argument == bad == "liquid":
        return True
    if bad == "negative length" and (argument.endswith("altitude") or argument == "rail_ahead"):
        return True  # land below the sea, and a rail behind the tank
    thing = getattr(fuelsim, function, None)
    rating = inspect.isclass(thing) and issubclass(thing, Ratings) and declarations(thing)[argument].form == "text"
    named = argument == "name" and function in NAMES
    advice = (function, argument) == ("UncertainInput", "measure")
    return (rating or named or advice or argument in FREE_TEXT) and bad in TEXTS


class TooLong(BaseException):
    """Raised in a call that does not come back."""


@contextlib.contextmanager
def time_limit(seconds):
    """Raise `TooLong` in the body after so many seconds; where there are no signals the limit is left out."""
    if not hasattr(signal, "setitimer"):
        yield
        return

    def stop(number, frame):
        raise TooLong

    before = signal.signal(signal.SIGALRM, stop)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)


def fault_of(function, argument, bad):
    """Return what is wrong with the outcome of one misuse, or an empty text."""
    value = bad_values()[bad]
    started = time.perf_counter()
    with warnings.catch_warnings(), np.errstate(all="warn"), contextlib.redirect_stderr(None):
        warnings.simplefilter("error")
        try:
            with time_limit(2.0 * LONGEST_CALL):
                call(function, argument, value)
            fault = "" if is_right_to_take(function, argument, bad) else "taken in silence"
        except fuelsim.FuelsimError as error:
            text = str(error)
            fault = ""
            if len(text) >= LONGEST_MESSAGE:
                fault = f"message of {len(text)} characters: {text[:200]}"
            elif not text.isprintable():
                fault = f"message that is no printable line: {text!r}"
        except TooLong:
            fault = "does not come back;"
        except Exception as error:
            where = traceback.extract_tb(error.__traceback__)[-1]
            place = f"{where.filename.rpartition('fuelsim/')[2]}:{where.lineno}"
            fault = f"{type(error).__name__}: {str(error)[:120]} ({place})"
    took = time.perf_counter() - started
    if took > LONGEST_CALL:
        fault += f" took {took:.1f} s"
    return fault


if __name__ == "__main__":
    first, last = int(sys.argv[1]), int(sys.argv[2])
    until = time.monotonic() + float(sys.argv[3]) if len(sys.argv) > 3 else np.inf
    print(len(misuses()), "misuses in all")
    os.chdir(tempfile.mkdtemp())
    with contextlib.suppress(ImportError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (4 * 2**30, 4 * 2**30))  # so that one misuse cannot take the machine
    faults = done = 0
    for misuse in misuses()[first:last]:
        if time.monotonic() > until:
            break
        done += 1
        if fault := fault_of(*misuse):
            faults += 1
            print(*misuse, "->", fault, flush=True)
    print(f"{done} misuses, {faults} faults")
