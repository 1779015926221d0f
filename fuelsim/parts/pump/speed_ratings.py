"""The rating of a speed-controlled pump that says how much voltage its speed needs."""

from __future__ import annotations

from fuelsim.errors import InputError
from fuelsim.fields import Quantity, quantity
from fuelsim.typing import FloatArray

__all__ = ["check_full_speed_voltage", "declared_full_speed_voltage"]


def declared_full_speed_voltage() -> Quantity:
    """Declare the voltage at which a speed-controlled pump reaches its highest speed."""
    return quantity(
        "voltage",
        "Least voltage at the pump at which a speed-controlled one reaches the highest speed tested, at the greatest "
        "pressure of its table; below it the speed falls with the voltage. Left out, 85 % of that of the test "
        "(assumed).",
        least=1.0,
        most=1000.0,
        default=None,
        example="11.5 V",
    )


def check_full_speed_voltage(full_speed_voltage: float | None, speed: FloatArray | None, bench_voltage: float) -> None:
    """Refuse the voltage for full speed of a pump without speed control, or above that of the test.

    Parameters
    ----------
    full_speed_voltage : float or None
        The rating, V.
    speed : array or None
        Speeds of the test, rpm; None for a pump without speed control.
    bench_voltage : float
        Voltage of the test, V.

    Raises
    ------
    InputError
        For a rating that does not fit the test.

    Examples
    --------
    >>> check_full_speed_voltage(14.0, [7000.0], 13.5)
    Traceback (most recent call last):
    ...
    fuelsim.errors.InputError: ...
    """
    if full_speed_voltage is None:
        return
    key = "full_speed_voltage"
    if speed is None:
        raise InputError(
            "the pump has no speed control", given=full_speed_voltage, accepted="'speed' with the bench rows", key=key
        )
    if full_speed_voltage > bench_voltage:
        raise InputError(
            "the test reached its highest speed at less",
            given=full_speed_voltage,
            accepted=f"at most {bench_voltage:g} V, that of the test",
            key=key,
        )
