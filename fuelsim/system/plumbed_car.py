"""A car and its layout where a system is wanted, and a system where a car and its layout are."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable
from typing import ParamSpec, TypeVar, cast

from fuelsim.car.car import Car
from fuelsim.errors import InputError
from fuelsim.system.run import System

__all__ = ["system_or_car"]

_P = ParamSpec("_P")
_R = TypeVar("_R")


def system_or_car(function: Callable[_P, _R]) -> Callable[_P, _R]:
    """Return a study that takes ``system``, or ``car, layout`` in its place, whichever of the two it is written for.

    Parameters
    ----------
    function : function
        Its first argument is ``system``, or its first two are ``car`` and ``layout``.

    Returns
    -------
    function

    Raises
    ------
    InputError
        For a car without a layout, or a system whose tank holds another fuel than the car's where a car is wanted.

    Examples
    --------
    >>> @system_or_car
    ... def pumps(system):
    ...     return len(system.plumbing.pumps)
    >>> pumps(Car.named("finch"), "return"), pumps(Car.named("finch").system("return"))
    (1, 1)
    """
    names = list(inspect.signature(function).parameters)
    plain = cast("Callable[..., _R]", function)

    @functools.wraps(function)
    def for_system(*args: _P.args, **by_name: _P.kwargs) -> _R:
        given: dict[str, object] = dict(by_name)
        car = args[0] if args else given.get("car")
        if not isinstance(car, Car):
            return plain(*args, **given)
        others = list(args[1:])
        given.pop("car", None)
        layout = given.pop("layout") if "layout" in given else others.pop(0) if others else None
        if not isinstance(layout, str):
            accepted = f"a layout after it, one of {', '.join(car.layouts())}, or car.system('return')"
            raise InputError("a car without a layout", given=layout, accepted=accepted, function=function.__name__)
        return plain(car.system(layout), *others, **given)

    @functools.wraps(function)
    def for_car(*args: _P.args, **by_name: _P.kwargs) -> _R:
        given: dict[str, object] = dict(by_name)
        system = args[0] if args else given.get("system")
        if not isinstance(system, System):
            return plain(*args, **given)
        if system.fuel_in_tank is not None:
            raise InputError(
                "a system with another fuel in its tank than the car's",
                accepted="car.with_values({'fuel': ...}) and its layout",
                function=function.__name__,
            )
        given.pop("system", None)
        return plain(system.car, system.layout, *args[1:], **given)

    return cast("Callable[_P, _R]", for_car if names[:2] == ["car", "layout"] else for_system)
