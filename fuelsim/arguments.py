"""Arguments of public functions: declared once, as ratings are, and checked before anything is computed.

`takes` checks every argument of a function when it is called. A quantity is named in the decorator with its kind and
plausible range; its parameter has the type `Quantity`: on the way in a number in SI, text with a unit or a list of
these, in the body a float or an array in SI. All other arguments are checked by their annotation: an object of the
class that it names, text, a truth value, a whole number, a mapping, a list or a function.

Code inside fuelsim whose values are computed already, such as arrays with NaN at points without a result, calls
``unchecked(part.method)(...)``, which is the same function without its checks.
"""

from __future__ import annotations

import dataclasses
import functools
import inspect
import types
import typing
from collections.abc import Callable, Iterable, Mapping, Sequence, Set
from enum import Enum
from itertools import islice
from pathlib import Path
from typing import Literal, ParamSpec, TypeAlias, TypeVar, cast

import numpy as np

from fuelsim.declaration import Declaration
from fuelsim.errors import FuelsimError, InputError, nearest, shortened
from fuelsim.made_by import Made, MadeBy
from fuelsim.typing import Given, Quantity

__all__ = ["MOST_ITEMS", "Quantity", "check_fields", "check_of", "choice", "number", "takes", "unchecked", "whole"]

MOST_ITEMS = 10_000
"""Items of a list or mapping that is no quantity, such as cars, phases or candidates."""
LONGEST_PATH = 4096

_P = ParamSpec("_P")
_R = TypeVar("_R")
_Check: TypeAlias = Callable[[Given], object]
"""Returns a given value as the body takes it, or raises `InputError` without the argument's name."""

HOW_TO_GET = {
    "BandInput": "one of fs.band_inputs(car)",
    "Car": "fs.Car.named('heron') or fs.read_car('my_car.toml')",
    "Climate": "fs.hot_day('phoenix') or fs.Climate(design_temperature='40 degC')",
    "Conditions": "fs.Conditions(rpm=[800, 3000, 6000])",
    "Damper": "fs.Damper(stored_volume='0.5 mL', pressure_rise='100 kPa')",
    "Dynamics": "fs.Dynamics(regulator_frequency='180 Hz')",
    "Executor": "concurrent.futures.ProcessPoolExecutor()",
    "Fitting": "fs.Fitting(kind='bend')",
    "Fuel": "fs.Fuel.petrol('60 kPa') or fs.Fuel.named('summer_e10')",
    "Liquid": "fuel.liquid('20 degC') or fs.Liquid(density=745, kinematic_viscosity='0.6 mm2/s')",
    "Part": "fs.Line(length='3 m', bore='8 mm') or another part",
    "Phase": "fs.typical_phase('motorway', '30 min', car) or fs.Phase(...)",
    "Plan": "fs.Plan(...)",
    "Pump": "fs.Pump.named('in_tank_220')",
    "Requirements": "fs.Requirements(...)",
    "Run": "system.solve(rpm=3000)",
    "Schedule": "fs.Schedule.of([fs.typical_phase('motorway', '30 min', car)])",
    "State": "net.solve(liquid)",
    "System": "car.system('return')",
    "Wire": "fs.Wire(length='6 m', size='12 AWG')",
}
"""How a user gets an object of a class that public functions take."""


def number(
    kind: str,
    least: float,
    most: float,
    *,
    example: str = "",
    single: bool = False,
    flat: bool = False,
    optional: bool = False,
    error: type[InputError] = InputError,
) -> Declaration:
    """Return the declaration of an argument that is a quantity.

    Parameters
    ----------
    kind : str
        A name of `kinds.KINDS`.
    least, most : float
        Plausible range in SI, both included.
    example : str
        How a person would write it.
    single : bool
        Whether one value is wanted and no list.
    flat : bool
        Whether one value or a list of them is wanted, and no list of lists.
    optional : bool
        Whether None is accepted.
    error : type of InputError
        Class of the error for a value outside the range.

    Examples
    --------
    >>> number("voltage", 0.0, 60.0).convert("13.5 V")
    13.5
    """
    return Declaration(
        "quantity",
        "",
        kind=kind,
        least=least,
        most=most,
        example=example,
        single=single,
        rows=flat,
        optional=optional,
        error=error,
    )


def whole(least: int, most: int, *, optional: bool = False) -> Declaration:
    """Return the declaration of an argument that is a whole number.

    Parameters
    ----------
    least, most : int
        Plausible range, both included.
    optional : bool
        Whether None is accepted.
    """
    return Declaration("count", "", least=least, most=most, optional=optional)


def choice(words: Iterable[str], *, optional: bool = False) -> Declaration:
    """Return the declaration of an argument that is one of a few words.

    Parameters
    ----------
    words : iterable of str
        The words.
    optional : bool
        Whether None is accepted.
    """
    return Declaration("choice", "", choices=tuple(words), optional=optional)


AIR_FUEL_RATIO = number("number", 3.0, 40.0)
AIR_TEMPERATURE = number("temperature", 223.15, 333.15, example="25 degC")
ATMOSPHERIC_PRESSURE = number("absolute pressure", 30e3, 120e3, example="101 kPa")
CURRENT = number("current", 0.0, 500.0, example="8 A")
ENGINE_SPEED = number("engine speed", 0.0, 25_000.0, example="3000 rpm")
ENGINE_TEMPERATURE = number("temperature", 223.15, 423.15, example="90 degC")
FUEL_DENSITY = number("density", 500.0, 1200.0, example="745 kg/m3")
INLET_VAPOUR = number("number", 0.0, 1e6)
LOAD = number("fraction", 0.0, 1.0, example="80 %")
MASS_FLOW = number("mass flow", 0.0, 2.0, example="20 kg/h")
PRESSURE_DIFFERENCE = number("pressure difference", -2e6, 1e7, example="300 kPa")
VOLTAGE = number("voltage", 0.0, 60.0, example="13.5 V")
VOLUME_FLOW = number("volume flow", 0.0, 1e-2, example="60 L/h")
# Declarations that several functions share.


def takes(
    declared: Mapping[str, Declaration] = types.MappingProxyType({}),
) -> Callable[[Callable[_P, _R]], Callable[_P, _R]]:
    """Return a decorator that checks every argument of a function before it is called.

    Parameters
    ----------
    declared : mapping of str to Declaration
        Declarations of the quantities among its arguments, by name; the other arguments follow from annotations.

    Raises
    ------
    InputError
        On a call with a wrong argument, with the function's name and the argument's.

    Examples
    --------
    >>> @takes({"bore": number("bore", 5e-4, 0.1, example="8 mm")})
    ... def area(bore: Quantity, label: str = "") -> float:
    ...     return np.pi / 4.0 * bore**2
    >>> round(area("8 mm") * 1e6, 2)
    50.27
    >>> area(8)
    Traceback (most recent call last):
    ...
    fuelsim.errors.InputError: area(), argument 'bore': outside the plausible range (8 m is 8000 mm; write '8 mm'); \
given 8; accepted: bore from 0.5 mm to 100 mm, as in '8 mm'
    """

    def decorate(function: Callable[_P, _R]) -> Callable[_P, _R]:
        arguments = _Arguments(function, declared)

        @functools.wraps(function)
        def checked(*args: _P.args, **by_name: _P.kwargs) -> _R:
            positional, named = arguments.checked(args, by_name)
            try:
                result = cast("_R", cast("Callable[..., object]", function)(*positional, **named))
            except ValueError as error:
                if not isinstance(error, FuelsimError):
                    arguments.require_one_shape(positional, named)
                raise
            if isinstance(result, Made) and "made_by" not in vars(result):
                object.__setattr__(result, "made_by", arguments.made_by(positional, named))
            return result

        checked.__dict__["declared"] = declared
        return checked

    return decorate


def check_fields(made: object, declared: Mapping[str, Declaration] = types.MappingProxyType({})) -> None:
    """Check the fields of a dataclass that users make, as `takes` checks arguments; for its ``__post_init__``.

    Parameters
    ----------
    made : object
        Instance of a frozen dataclass; quantities are put into SI.
    declared : mapping of str to Declaration
        Declarations of the quantities among its fields, by name; the others follow from annotations.

    Raises
    ------
    InputError
        For a wrong value, with the class and the field.
    """
    kind: type = type(made)
    for name, annotation in _fields_of(kind).items():
        check = declared[name].convert if name in declared else check_of(annotation)
        try:
            object.__setattr__(made, name, _checked(name, check, getattr(made, name)))
        except InputError as error:
            raise error.at(part=kind.__name__) from error.__cause__


@functools.cache
def _fields_of(kind: type) -> dict[str, object]:
    """Return the fields of a dataclass with their types."""
    hints = typing.get_type_hints(kind)
    return {item.name: hints[item.name] for item in dataclasses.fields(kind)}


def unchecked(function: Callable[_P, _R]) -> Callable[_P, _R]:
    """Return a function or bound method without the checks of its arguments, for values that fuelsim has computed.

    Parameters
    ----------
    function : function
        Decorated with `takes`.
    """
    own = getattr(function, "__self__", None)
    plain = getattr(getattr(function, "__func__", function), "__wrapped__", None)
    if plain is None:
        return function
    return cast("Callable[_P, _R]", plain if own is None else types.MethodType(plain, own))


class _Arguments:
    """The checks of one function, worked out from its declarations and annotations at its first call."""

    def __init__(self, function: Callable[..., object], declared: Mapping[str, Declaration]) -> None:
        self.function = function
        self.declared = declared
        self.parameters = inspect.signature(function).parameters
        unknown = set(declared) - set(self.parameters)
        if unknown:
            raise TypeError(f"{function.__qualname__} has no arguments {sorted(unknown)}")
        self.is_method = next(iter(self.parameters), "") in ("self", "cls")
        self.rest = next((name for name, item in self.parameters.items() if item.kind is item.VAR_POSITIONAL), "")
        self.rest_by_name = any(item.kind is item.VAR_KEYWORD for item in self.parameters.values())
        self.by_name = [name for name in self.parameters if name not in ("self", "cls", self.rest)]
        self.text_defaults = [name for name in declared if isinstance(self.parameters[name].default, str)]

    @functools.cached_property
    def checks(self) -> dict[str, _Check]:
        """Checks by argument, in the order of the signature."""
        return {name: self._check(name, parameter) for name, parameter in self.parameters.items()}

    @functools.cached_property
    def in_order(self) -> list[tuple[str, _Check]]:
        """Names and checks of the arguments that may be given by position."""
        by_position = (inspect.Parameter.POSITIONAL_ONLY, inspect.Parameter.POSITIONAL_OR_KEYWORD)
        return [(name, self.checks[name]) for name, item in self.parameters.items() if item.kind in by_position]

    def _check(self, name: str, parameter: inspect.Parameter) -> _Check:
        if name in self.declared:
            return self.declared[name].convert
        if parameter.annotation is inspect.Parameter.empty:
            return _anything
        return check_of(_resolved(parameter.annotation, self.function))

    def checked(
        self, args: tuple[object, ...], by_name: Mapping[str, object]
    ) -> tuple[list[object], dict[str, object]]:
        """Return the arguments of a call as the body takes them."""
        try:
            return self._converted(args, by_name)
        except InputError as error:
            raise error.at(function=self._where(args)) from error.__cause__

    def _converted(
        self, args: tuple[object, ...], by_name: Mapping[str, object]
    ) -> tuple[list[object], dict[str, object]]:
        positional = [self._one(name, check, value) for (name, check), value in zip(self.in_order, args, strict=False)]
        rest = args[len(positional) :]
        positional.extend(self._one(self.rest, self.checks[self.rest], item) if self.rest else item for item in rest)
        named = {}
        for name, value in by_name.items():
            if name not in self.parameters and not self.rest_by_name:
                raise InputError("unknown argument", accepted=nearest(name, self.by_name), key=name)
            named[name] = self._one(name, self.checks.get(name, _anything), value)
        for name in self.text_defaults:
            if name not in named and name not in islice(self.parameters, len(args)):
                named[name] = self._one(name, self.declared[name].convert, self.parameters[name].default)
        return positional, named

    def require_one_shape(self, positional: Sequence[object], named: Mapping[str, object]) -> None:
        """Raise an error where lists among the arguments and those of the part itself do not broadcast."""
        given = dict(zip(self.parameters, positional, strict=False)) | dict(named)
        part = next(iter(given.values()), None)
        own = vars(part) if "self" in given and hasattr(part, "__dict__") else {}
        lists = [(name, np.shape(value)) for name, value in (given | own).items() if isinstance(value, np.ndarray)]
        for index, (name, shape) in enumerate(lists):
            for other, before in lists[:index]:
                try:
                    np.broadcast_shapes(shape, before)
                except ValueError:
                    raise InputError(
                        f"{name} of shape {shape} does not fit {other} of shape {before}",
                        accepted="one value, or lists of equal length",
                        key=name,
                        function=self._where(positional),
                    ) from None

    def made_by(self, positional: Sequence[object], named: Mapping[str, object]) -> MadeBy:
        """Return this call as what made a result: its arguments that are data, the object of a method first."""
        given = dict(zip(self.parameters, positional, strict=False)) | dict(named)
        given = {type(given["self"]).__name__.lower(): given.pop("self")} | given if "self" in given else given
        kept = {name: value for name, value in given.items() if name != "cls" and not _is_tool(value)}
        return MadeBy(self._where(positional), kept)

    def _where(self, args: Sequence[object]) -> str:
        """Return the name of the function, of a method with the class of its object."""
        if args and self.is_method:
            owner = args[0] if isinstance(args[0], type) else type(args[0])
            return f"{owner.__name__}.{self.function.__name__}"
        return self.function.__qualname__

    def _one(self, name: str, check: _Check, value: object) -> object:
        if check is _anything:
            return value
        if value is self.parameters[name].default:
            # A default is right as it stands, but text with a unit is converted like any other.
            return check(value) if isinstance(value, str) else value
        return _checked(name, check, value)


def _is_tool(value: object) -> bool:
    """Return whether a value is no data: a function, or what work is handed to."""
    return callable(value) or hasattr(value, "submit")


def _checked(name: str, check: _Check, value: object) -> object:
    """Return a value as a check takes it; whatever fails is an error of this argument."""
    try:
        return check(value)
    except InputError as error:
        raise error.at(key=name) from None
    except FuelsimError:
        raise
    except Exception as error:  # a class of the user's own that fails when it is read
        raise InputError("not a value that can be read", given=value, key=name) from error


def _resolved(annotation: object, function: Callable[..., object]) -> object:
    """Return the type that an annotation, kept as text, stands for."""
    if not isinstance(annotation, str):
        return annotation
    holder = types.SimpleNamespace(__annotations__={"it": annotation})
    return typing.get_type_hints(holder, inspect.unwrap(function).__globals__)["it"]


def check_of(wanted: object) -> _Check:
    """Return the check of an argument by its annotated type.

    Parameters
    ----------
    wanted : type
        A class, a union, a literal, or one of the containers of `collections.abc`.

    Raises
    ------
    TypeError
        For a number, whose kind and plausible range a declaration must say.

    Examples
    --------
    >>> check_of(bool | None)(True)
    True
    """
    origin, inner = typing.get_origin(wanted), typing.get_args(wanted)
    if wanted is object or isinstance(wanted, TypeVar):
        return _anything
    if wanted in (Quantity, float):
        raise TypeError("an argument that is a number needs a declaration: its kind and plausible range")
    if wanted is str:
        return Declaration("text", "").convert
    if wanted is bool:
        return Declaration("flag", "").convert
    if wanted is int:
        return Declaration("count", "", least=-(10**9), most=10**9).convert
    if origin is Literal:
        return choice(inner).convert
    if isinstance(wanted, type) and issubclass(wanted, Enum):
        return functools.partial(_member, kind=wanted)
    if origin in (types.UnionType, typing.Union):
        return _union(inner)
    if origin is np.ndarray:
        return functools.partial(_array, element=typing.get_args(inner[1])[0])
    if origin is Callable:
        return _function
    if isinstance(origin, type) and issubclass(origin, Mapping):
        return functools.partial(_mapping, check=check_of(inner[1]), by_name=inner[0] is str)
    if origin is tuple:
        inner = inner[:1]
    if isinstance(origin, type) and issubclass(origin, Iterable):
        return functools.partial(_listed, check=check_of(inner[0]))
    if isinstance(origin or wanted, type):
        return functools.partial(_of_class, wanted=cast("type", origin or wanted))
    raise TypeError(f"no check is known for an argument of {wanted}")


def _member(value: Given, kind: type[Enum]) -> object:
    """Take a member of an enumeration, or its value."""
    words = [str(item.value) for item in kind]
    if isinstance(value, str) and value in words:
        return kind(value)
    if not isinstance(value, kind):
        raise InputError(f"no {kind.__name__}", given=_described(value), accepted=nearest(_described(value), words))
    return value


def _anything(value: Given) -> object:
    """Take any value: the body says what it accepts."""
    return value


def _array(value: Given, element: type[np.generic]) -> object:
    if isinstance(value, np.ma.MaskedArray) and np.ma.getmaskarray(value).any():
        raise InputError("an array with masked values", given=value, accepted="values at every point")
    array = np.asarray(value) if isinstance(value, (list, tuple, np.ndarray, int, float, np.generic)) else None
    wanted = np.number if element is np.float64 else element
    if array is None or not np.issubdtype(array.dtype, wanted) or array.dtype.kind == "c":
        words = {np.bool_: "True or False", np.float64: "numbers"}.get(element, "whole numbers")
        raise InputError("not an array of the right kind", given=_described(value), accepted=f"an array of {words}")
    return array


def _union(members: tuple[object, ...]) -> _Check:
    if Path in members:
        return _path
    optional = type(None) in members
    checks = [check_of(member) for member in members if member is not type(None)]
    if _anything in checks:
        return _anything

    def check(value: Given) -> object:
        if value is None and optional:
            return None
        problems = []
        for each in checks:
            try:
                return each(value)
            except InputError as error:
                problems.append(error)
        if len(problems) == 1:
            raise problems[0]
        accepted = ", or ".join(error.accepted or "" for error in problems)
        raise InputError(problems[0].problem, given=value, accepted=accepted)

    return check


def _of_class(value: Given, wanted: type) -> object:
    if isinstance(value, wanted):
        return value
    example = HOW_TO_GET.get(wanted.__name__)
    accepted = f"a {wanted.__name__}" + (f", as in {example}" if example else "")
    raise InputError(f"not a {wanted.__name__}", given=_described(value), accepted=accepted)


class _Described(str):
    """Text shown in a message as it stands, without quotes."""

    def __repr__(self) -> str:
        return str(self)


def _described(value: Given) -> object:
    """Return what a message shows of an object: text and numbers as they are, else the name of its class."""
    if value is None or isinstance(value, (str, int, float, bytes)):
        return _Described("None") if value is None else value
    return _Described(f"a {value.__name__} class" if isinstance(value, type) else f"a {type(value).__name__}")


def _path(value: Given) -> object:
    if not isinstance(value, (str, Path)):
        raise InputError("not a path", given=_described(value), accepted="text or a pathlib.Path")
    text = str(value)
    writable = text.encode("utf-8", errors="ignore").decode() == text
    if not text.strip() or "\0" in text or len(text) > LONGEST_PATH or not writable:
        raise InputError("not a path", given=value, accepted=f"the name of a file, at most {LONGEST_PATH} characters")
    return value


def _function(value: Given) -> object:
    if not callable(value):
        raise InputError("not a function", given=_described(value), accepted="a function")

    def called(*args: object) -> object:
        try:
            return value(*args)
        except FuelsimError:
            raise
        except Exception as error:
            problem = f"the function that was given ended in {type(error).__name__}: {shortened(str(error))}"
            raise InputError(problem, given=value) from error

    return called


def _mapping(value: Given, check: _Check, by_name: bool) -> object:
    if not isinstance(value, Mapping):
        raise InputError("not a mapping", given=_described(value), accepted="values by name, as in {'name': value}")
    if len(value) > MOST_ITEMS:
        raise InputError("too many names", given=len(value), accepted=f"at most {MOST_ITEMS:,}")
    for key in value if by_name else ():
        if not isinstance(key, str):
            raise InputError("a name that is no text", given=key, accepted="values by name, as in {'name': value}")
    if check is _anything:
        return value
    kept = {}
    for key, item in value.items():
        try:
            kept[key] = check(item)
        except InputError as error:
            raise error.at(key=str(key)) from None
    return kept


def _listed(value: Given, check: _Check) -> object:
    if isinstance(value, (str, bytes, Mapping, Set)) or not isinstance(value, Iterable):
        raise InputError("not a list", given=_described(value), accepted="a list, as in ['a', 'b']")
    items = value if isinstance(value, (list, tuple, np.ndarray)) else tuple(islice(value, MOST_ITEMS + 1))
    if isinstance(items, (Sequence, np.ndarray)) and len(items) > MOST_ITEMS:
        raise InputError("too many items", given=_described(value), accepted=f"at most {MOST_ITEMS:,}")
    return items if check is _anything else tuple(map(check, items))
