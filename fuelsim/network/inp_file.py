"""Networks read from EPANET's open input format, the .inp text file, at hour 0.

What is read: junctions, reservoirs, tanks at their level, pipes with Darcy-Weisbach friction, minor losses, check
valves and closed pipes, pumps with a head curve and their speed, PRV, PSV, FCV, TCV and GPV valves, demands with the
first step of their patterns, and simple controls that hold at hour 0. Whatever else would change the flows is refused
by its name.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

from fuelsim.errors import InputError
from fuelsim.liquid import Liquid
from fuelsim.network.inp_parts import (
    Closed,
    CurvePump,
    FlowControl,
    HeadLoss,
    OneWay,
    OpenValve,
    Pipe,
    Reducing,
    Sustaining,
)
from fuelsim.parts.part import Part
from fuelsim.typing import FloatArray

__all__ = ["InpFile", "read_inp"]

_FOOT = 0.3048
_INCH = 0.0254
_GALLON = 3.785411784e-3
_DAY = 86400.0
_FLOW_UNITS: dict[str, tuple[float, bool]] = {
    "CFS": (_FOOT**3, True),
    "GPM": (_GALLON / 60.0, True),
    "MGD": (1e6 * _GALLON / _DAY, True),
    "IMGD": (1e6 * 4.54609e-3 / _DAY, True),
    "AFD": (43560.0 * _FOOT**3 / _DAY, True),
    "LPS": (1e-3, False),
    "LPM": (1e-3 / 60.0, False),
    "MLD": (1e3 / _DAY, False),
    "CMH": (1.0 / 3600.0, False),
    "CMD": (1.0 / _DAY, False),
    "CMS": (1.0, False),
}
"""Each flow unit in m3/s, and whether the file is in feet, inches and psi."""
_PSI_PER_FOOT = 0.4333
"""Pressure of a foot of water in psi, with which the format converts pressure settings of valves (EPANET 2.2)."""
_WATER_VISCOSITY = 1.1e-5 * _FOOT**2
"""Kinematic viscosity of water at 20 degC in the format, 1.1e-5 ft2/s, m2/s."""
_WATER_DENSITY = 998.0
"""Density to which its specific gravity refers, kg/m3: water at 20 degC."""
_KNOWN_SECTIONS = (
    *("TITLE", "TIMES", "REPORT", "ENERGY", "QUALITY", "SOURCES", "REACTIONS", "MIXING", "COORDINATES", "VERTICES"),
    *("LABELS", "BACKDROP", "TAGS", "OPTIONS", "PATTERNS", "CURVES", "JUNCTIONS", "RESERVOIRS", "TANKS", "PIPES"),
    *("PUMPS", "VALVES", "DEMANDS", "STATUS", "CONTROLS", "END"),
)
"""Sections that are read, or that do not change the flows at hour 0."""
_REFUSED = {"EMITTERS": "emitters", "RULES": "rule-based controls", "LEAKAGE": "leakage"}


@dataclass(frozen=True)
class FileLink:
    """A link of the file: its ends and its part, or the parts of a pipe with a check valve in series."""

    up: str
    down: str
    parts: tuple[Part, ...]


class InpFile:
    """The sections of an input file, and what they say in SI at hour 0.

    Parameters
    ----------
    text : str
        The file's text.
    name : str
        Its name, for messages.

    Raises
    ------
    InputError
        For what the format allows and this library cannot say, by its name, and for what the format does not allow.
    """

    def __init__(self, text: str, name: str) -> None:
        self._name = name
        self._sections: dict[str, list[list[str]]] = {}
        section = ""
        for line in text.splitlines():
            words = line.split(";", 1)[0].split()
            if not words:
                continue
            if words[0].startswith("["):
                section = words[0].strip("[]").upper()
                continue
            self._sections.setdefault(section, []).append(words)
        for given in self._sections:
            if given in _REFUSED:
                raise self._refused(_REFUSED[given], f"[{given}]", "a file without them")
            if given not in _KNOWN_SECTIONS:
                raise self._refused("a section", f"[{given}]", "sections of EPANET's input format")
        if self._option("HEADLOSS", "H-W").upper() not in ("D-W",):
            raise self._refused(
                "friction by Hazen-Williams or Chezy-Manning",
                f"HEADLOSS {self._option('HEADLOSS', 'H-W')}",
                "HEADLOSS D-W",
            )
        unit = self._option("UNITS", "GPM").upper()
        if unit not in _FLOW_UNITS:
            raise self._refused("a flow unit", unit, ", ".join(_FLOW_UNITS))
        self._flow_unit, us = _FLOW_UNITS[unit]
        self._length_unit = _FOOT if us else 1.0
        self._bore_unit = _INCH if us else 1e-3
        self._roughness_unit = 1e-3 * _FOOT if us else 1e-3
        pressure = self._option("PRESSURE", "PSI" if us else "METERS").upper()
        heads = {"PSI": _FOOT / _PSI_PER_FOOT, "METERS": 1.0, "KPA": _FOOT / _PSI_PER_FOOT / 6.895}
        if pressure not in heads:
            raise self._refused("a pressure unit", pressure, ", ".join(heads))
        self._pressure_head = heads[pressure]
        if pressure != "METERS":
            # A gauge shows the pressure of the liquid, whose column is the higher the lighter it is.
            self._pressure_head /= float(self._option("SPECIFIC GRAVITY", "1.0"))

    def _refused(self, what: str, given: str, accepted: str) -> InputError:
        return InputError(f"{what} cannot be read", given=given, accepted=accepted, file=self._name)

    def _rows(self, section: str) -> list[list[str]]:
        return self._sections.get(section, [])

    def _option(self, key: str, default: str) -> str:
        words = key.split()
        for row in self._rows("OPTIONS"):
            if [word.upper() for word in row[: len(words)]] == words and len(row) > len(words):
                return row[len(words)]
        return default

    def _number(self, row: list[str], column: int, default: float | None = None) -> float:
        if column >= len(row) or row[column] == "*":
            if default is None:
                raise self._refused("a row", " ".join(row), f"at least {column + 1} columns")
            return default
        try:
            return float(row[column])
        except ValueError:
            raise self._refused("a number", f"'{row[column]}' in '{' '.join(row)}'", "a number") from None

    @cached_property
    def liquid(self) -> Liquid:
        """The liquid of the file."""
        given = float(self._option("VISCOSITY", "1.0"))
        unit = self._length_unit**2
        # Above 1e-3 it is a multiple of that of water, else a viscosity.
        viscosity = given * _WATER_VISCOSITY if given > 1e-3 else given * unit
        return Liquid(_WATER_DENSITY * float(self._option("SPECIFIC GRAVITY", "1.0")), viscosity)

    @cached_property
    def _patterns(self) -> dict[str, list[float]]:
        patterns: dict[str, list[float]] = {}
        for row in self._rows("PATTERNS"):
            patterns.setdefault(row[0], []).extend(self._number(row, column) for column in range(1, len(row)))
        return patterns

    def _hours(self, key: str, default: float) -> float:
        """Return a time of the file, h."""
        words = key.split()
        for row in self._rows("TIMES"):
            if [word.upper() for word in row[: len(words)]] == words:
                return self._time(row[len(words) :])
        return default

    def _time(self, words: list[str]) -> float:
        """Return a time or an hour of the day, h, that is written as a number or hours:minutes and perhaps a unit."""
        value, unit = words[0], words[1].upper() if len(words) > 1 else "HOURS"
        try:
            hours = sum(float(part) / 60.0**power for power, part in enumerate(value.split(":")))
        except ValueError:
            raise self._refused("a time", " ".join(words), "hours, or hours:minutes") from None
        if unit in ("AM", "PM"):
            return hours % 12.0 + (12.0 if unit == "PM" else 0.0)
        return hours * {"S": 1.0 / 3600.0, "M": 1.0 / 60.0, "D": 24.0}.get(unit[0], 1.0)

    def _factor(self, pattern: str | None) -> float:
        """Return the multiplier of a pattern at hour 0."""
        if pattern is None:
            pattern = self._option("PATTERN", "1")
            if pattern not in self._patterns:
                return 1.0
        if pattern not in self._patterns:
            raise self._refused("a pattern", pattern, "a pattern of [PATTERNS]")
        factors = self._patterns[pattern]
        step = int(self._hours("PATTERN START", 0.0) / self._hours("PATTERN TIMESTEP", 1.0) + 1e-9)
        return factors[step % len(factors)]

    @cached_property
    def _curves(self) -> dict[str, list[tuple[float, float]]]:
        curves: dict[str, list[tuple[float, float]]] = {}
        for row in self._rows("CURVES"):
            curves.setdefault(row[0], []).append((self._number(row, 1), self._number(row, 2)))
        return curves

    def _curve(self, name: str) -> tuple[FloatArray, FloatArray]:
        """Return flows (m3/s) and heads (m) of a curve."""
        if name not in self._curves:
            raise self._refused("a curve", name, "a curve of [CURVES]")
        flow, head = np.array(self._curves[name]).T
        return flow * self._flow_unit, head * self._length_unit

    @cached_property
    def junctions(self) -> dict[str, float]:
        """Elevation of each junction, m."""
        return {row[0]: self._number(row, 1, 0.0) * self._length_unit for row in self._rows("JUNCTIONS")}

    @cached_property
    def draws(self) -> dict[str, float]:
        """Demand of each junction at hour 0, m3/s."""
        multiplier = float(self._option("DEMAND MULTIPLIER", "1.0"))
        listed: dict[str, list[tuple[float, str | None]]] = {}
        for row in self._rows("JUNCTIONS"):
            if len(row) > 2:
                listed[row[0]] = [(self._number(row, 2), row[3] if len(row) > 3 else None)]
        own: dict[str, list[tuple[float, str | None]]] = {}
        for row in self._rows("DEMANDS"):
            own.setdefault(row[0], []).append((self._number(row, 1), row[2] if len(row) > 2 else None))
        demands = {
            node: sum(base * self._factor(pattern) for base, pattern in rows) for node, rows in (listed | own).items()
        }
        return {node: value * multiplier * self._flow_unit for node, value in demands.items() if value}

    @cached_property
    def reservoirs(self) -> dict[str, tuple[float, float]]:
        """Elevation and head over it of each reservoir and tank, m."""
        fixed = {}
        for row in self._rows("RESERVOIRS"):
            head = self._number(row, 1) * (self._factor(row[2]) if len(row) > 2 else 1.0)
            fixed[row[0]] = (head * self._length_unit, 0.0)
        for row in self._rows("TANKS"):
            fixed[row[0]] = (self._number(row, 1) * self._length_unit, self._number(row, 2) * self._length_unit)
        return fixed

    @cached_property
    def _status(self) -> dict[str, str]:
        """Status or setting of links that differs from that of their own row."""
        status = {row[0]: row[1].upper() for row in self._rows("STATUS")}
        for row in self._rows("CONTROLS"):
            words = [word.upper() for word in row]
            if words[0] not in ("LINK", "PIPE", "PUMP", "VALVE") or len(words) < 6:
                raise self._refused("a control", " ".join(row), "LINK name status IF NODE tank ABOVE or BELOW level")
            if words[4] in ("TIME", "CLOCKTIME"):
                start = self._hours("START CLOCKTIME", 0.0) if words[4] == "CLOCKTIME" else 0.0
                if self._time(words[5:]) == start:
                    status[row[1]] = words[2]
                continue
            node, sense, level = row[5], words[6], self._number(row, 7) * self._length_unit
            if node not in self.reservoirs:
                raise self._refused("a control by the pressure of a junction", " ".join(row), "the level of a tank")
            depth = self.reservoirs[node][1]
            if (sense == "ABOVE" and depth >= level) or (sense == "BELOW" and depth <= level):
                status[row[1]] = words[2]
        return status

    @cached_property
    def links(self) -> dict[str, FileLink]:
        """Every link by its name."""
        readers: dict[str, Callable[[list[str]], tuple[Part, ...]]] = {
            "PIPES": self._pipe,
            "PUMPS": self._pump,
            "VALVES": self._valve,
        }
        return {
            row[0]: FileLink(row[1], row[2], reader(row))
            for section, reader in readers.items()
            for row in self._rows(section)
        }

    def _pipe(self, row: list[str]) -> tuple[Part, ...]:
        bore = self._number(row, 4) * self._bore_unit
        pipe = Pipe(
            self._number(row, 3) * self._length_unit,
            bore,
            self._number(row, 5) * self._roughness_unit,
            self._number(row, 6, 0.0) if len(row) > 6 and row[6][0].isdigit() else 0.0,
        )
        status = self._status.get(row[0], row[-1].upper() if not row[-1][0].isdigit() else "OPEN")
        if status == "CLOSED":
            return (Closed(),)
        return (pipe, OneWay(bore)) if row[-1].upper() == "CV" else (pipe,)

    def _pump(self, row: list[str]) -> tuple[Part, ...]:
        given = {row[at].upper(): row[at + 1] for at in range(3, len(row) - 1, 2)}
        if "HEAD" not in given:
            raise self._refused("a pump of constant power", " ".join(row), "a pump with a HEAD curve")
        speed = float(given.get("SPEED", "1.0"))
        if "PATTERN" in given:
            speed = self._factor(given["PATTERN"])
        status = self._status.get(row[0], "OPEN")
        if status not in ("OPEN", "CLOSED"):
            speed = float(status)
        if status == "CLOSED" or speed <= 0.0:
            return (Closed(),)
        flow, head = _head_curve(*self._curve(given["HEAD"]))
        # Affinity laws: flow in proportion to speed, head to its square.
        return (CurvePump(tuple((speed * flow).tolist()), tuple((speed**2 * head).tolist())),)

    def _valve(self, row: list[str]) -> tuple[Part, ...]:
        bore, kind, given = self._number(row, 3) * self._bore_unit, row[4].upper(), row[5]
        minor = self._number(row, 6, 0.0)
        status = self._status.get(row[0], "")
        if status == "CLOSED":
            return (Closed(),)
        if status == "OPEN":
            return (OpenValve(bore, minor),)
        if kind == "GPV":
            flow, head = self._curve(given)
            positive = flow > 0.0
            return (HeadLoss(tuple(flow[positive].tolist()), tuple(head[positive].tolist())),)
        setting = float(status) if status else self._number(row, 5)
        if kind == "TCV":
            return (OpenValve(bore, setting),)
        if kind == "FCV":
            return (FlowControl(bore, setting * self._flow_unit, minor),)
        if kind == "PRV":
            return (Reducing(bore, setting * self._pressure_head, minor),)
        if kind == "PSV":
            return (Sustaining(bore, setting * self._pressure_head, minor),)
        raise self._refused(f"a valve of kind {kind}", " ".join(row), "PRV, PSV, FCV, TCV or GPV")


def _head_curve(flow: FloatArray, head: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the curve of a pump from the points of the file, as the format reads them.

    One point (q, h) stands for 4/3 h at no flow and no head at 2 q, three points from no flow on for A - B q^C through
    them, others for straight lines between them.
    """
    if flow.size == 1:
        flow, head = np.array([0.0, flow[0], 2.0 * flow[0]]), np.array([4.0 / 3.0 * head[0], head[0], 0.0])
    if flow.size == 3 and flow[0] == 0.0:
        shut_off = head[0]
        exponent = np.log((shut_off - head[2]) / (shut_off - head[1])) / np.log(flow[2] / flow[1])
        factor = (shut_off - head[1]) / flow[1] ** exponent
        run_out = (shut_off / factor) ** (1.0 / exponent)
        flow = run_out * np.linspace(0.0, 1.0, 129)
        return flow, np.maximum(shut_off - factor * flow**exponent, 0.0)
    dense = np.unique(np.concatenate([np.linspace(flow[0], flow[-1], 257), flow]))
    return dense, np.interp(dense, flow, head)


def read_inp(path: str | Path) -> InpFile:
    """Read an input file.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    InpFile

    Raises
    ------
    InputError
        Where there is no such file, or it holds what cannot be said.
    """
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8", errors="replace")
    except OSError as error:
        raise InputError("no such file", given=str(path), accepted="an input file of EPANET's format, .inp") from error
    return InpFile(text, path.name)
