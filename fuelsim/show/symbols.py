"""Symbols of parts on a schematic: the simple shapes of fluid-power drawings (ISO 1219), in black on white."""

from __future__ import annotations

from collections.abc import Callable

from fuelsim.car.heat_parts import Cooler
from fuelsim.car.tables import PlacedReducer, PlacedRegulator
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.filter import Filter
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.orifice import Orifice
from fuelsim.parts.part import Part
from fuelsim.parts.pump.pump import Pump
from fuelsim.system.pot_parts import JetSuction

__all__ = ["HALF_HEIGHT", "HALF_WIDTH", "INK", "symbol"]

INK = "#1a1a1a"
HALF_WIDTH, HALF_HEIGHT = 12, 17
"""Half of the space that the largest symbol takes, in units of the drawing."""
_OUTLINE = f'fill="#fff" stroke="{INK}" stroke-width="1.6"'
_STROKE = f'fill="none" stroke="{INK}" stroke-width="1.4"'
_SOLID = f'fill="{INK}"'
_SPRING = f'<path d="M-6 -10 L6 -12 L-6 -14 L6 -16" {_STROKE}/>'


def _path(way: str, style: str = _OUTLINE) -> str:
    return f'<path d="{way}" {style}/>'


def _pump() -> str:
    return f'<circle r="11" {_OUTLINE}/>' + _path("M11 0 L2 -6 L2 6 z", _SOLID)


def _filter() -> str:
    return _path("M-12 0 L0 -11 L12 0 L0 11 z") + _path("M0 -11 V11", f'{_STROKE} stroke-dasharray="3 2"')


def _check_valve() -> str:
    gap = _path("M-8 -8 H8 V8 H-8 z", 'fill="#fff"')
    return gap + _path("M6 -9 L-8 0 L6 9", _STROKE) + f'<circle cx="1" r="5" {_OUTLINE}/>'


def _regulator() -> str:
    """A return regulator: shut at rest, so its arrow stands beside the line."""
    arrow = _path("M-10 4 H5", _STROKE) + _path("M10 4 L4 1 L4 7 z", _SOLID)
    return _path("M-10 -10 H10 V10 H-10 z") + arrow + _SPRING


def _reducer() -> str:
    """A reducing regulator: open at rest, so its arrow stands on the line; sensed behind it."""
    arrow = _path("M-10 0 H5", _STROKE) + _path("M10 0 L4 -3 L4 3 z", _SOLID)
    sensed = _path("M10 6 H14 V14 H0 V10", f'{_STROKE} stroke-dasharray="3 2"')
    return _path("M-10 -10 H10 V10 H-10 z") + arrow + _SPRING + sensed


def _orifice() -> str:
    return _path("M-8 -9 Q0 1 8 -9", _STROKE) + _path("M-8 9 Q0 -1 8 9", _STROKE)


def _cooler() -> str:
    heat = "".join(_path(f"M0 {5 * side} V{9 * side}", _STROKE) for side in (-1, 1))
    tips = _path("M0 -15 L-3 -9 L3 -9 z", _SOLID) + _path("M0 15 L-3 9 L3 9 z", _SOLID)
    return _path("M-12 0 L0 -11 L12 0 L0 11 z") + heat + tips


def _injectors() -> str:
    return _path("M-10 -5 H3 L10 0 L3 5 H-10 z") + _path("M-4 -5 V5", _STROKE)


def _suction() -> str:
    return _path("M-10 -6 L10 0 L-10 6 z")


_SYMBOLS: dict[type[Part], Callable[[], str]] = {
    Pump: _pump,
    Filter: _filter,
    CheckValve: _check_valve,
    PlacedRegulator: _regulator,
    PlacedReducer: _reducer,
    Orifice: _orifice,
    Cooler: _cooler,
    Injectors: _injectors,
    JetSuction: _suction,
}


def symbol(part: Part, x: float, y: float, direction: int = 1) -> str:
    """Return the symbol of a part as SVG; empty for a line, which is drawn as its way.

    Parameters
    ----------
    part : Part
    x, y : float
        Its middle, in units of the drawing.
    direction : int
        1 for flow to the right, -1 to the left.

    Examples
    --------
    >>> symbol(Orifice(diameter="1 mm"), 0.0, 0.0).count("<path")
    2
    """
    drawn = next((draw for kind, draw in _SYMBOLS.items() if isinstance(part, kind)), None)
    if drawn is None:
        return ""
    turned = "" if direction > 0 else " scale(-1 1)"
    return f'<g transform="translate({x:.0f} {y:.0f}){turned}">{drawn()}</g>'
