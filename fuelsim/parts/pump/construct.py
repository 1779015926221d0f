"""Pumps from bench tables, from two points, from files and from fits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Self

from fuelsim.arguments import number, takes
from fuelsim.errors import InputError
from fuelsim.fields import Quantity, Ratings
from fuelsim.parts.pump.bench_tables import BenchFit, joined_tables, read_bench
from fuelsim.parts.pump.one_point import CLASS_TOLERANCE, completed, is_one_point_per_voltage
from fuelsim.parts.pump.pump_map import typical_curve
from fuelsim.parts.pump.pump_types import PUMP_TYPES
from fuelsim.typing import Given

__all__ = ["FromBench"]

_FLOW = number("volume flow", 0.0, 0.1, example="130 L/h", single=True)
_PRESSURE = number("pressure difference", 0.0, 1e7, example="3 bar", single=True)


@dataclass(frozen=True, eq=False)
class FromBench(Ratings):
    """The ways in which a pump is made from bench rows; `Pump` derives from it."""

    @classmethod
    @takes()
    def from_curve(
        cls,
        flow: Sequence[Given],
        pressure: Sequence[Given],
        current: Sequence[Given] | None = None,
        voltage: Given = "13.5 V",
        relief_pressure: Given = None,
        *,
        type: str = "turbine",
        mounting: str = "in_tank",
        bench_density: Given = None,
    ) -> Self:
        """Return a pump from one bench table, or from a single point at one or several voltages.

        A single point at each voltage, as from a home bench, gets the curve of the nearest generic class of its kind
        (`fuelsim.parts.pump.one_point`) and the tolerance of a class.

        Parameters
        ----------
        flow, pressure, current : list (rows,)
            Flow, m3/s, pressure rise, Pa, and current, A, or texts with units; in any order.
        voltage : float or str
            Voltage at the terminals during the test, V; a list has one for each row.
        relief_pressure : float or str, optional
            Pressure rise at which the pump's relief valve opens, Pa.
        type, mounting : str
            Kind and place of the pump, see `Pump`.
        bench_density : float or str, optional
            Density of the bench's fluid, kg/m3; left out, that of petrol.

        Returns
        -------
        Pump

        Raises
        ------
        InputError
            For columns of unequal length or a rising curve.

        Examples
        --------
        >>> from fuelsim.parts.pump.pump import Pump
        >>> Pump.from_curve(flow=["0 L/h", "150 L/h"], pressure=["6 bar", "3 bar"]).dead_head_pressure
        600000.0
        >>> measured = Pump.from_curve(flow=["150 L/h"], pressure=["3 bar"], voltage="12.8 V")
        >>> round(float(measured.at(supply_voltage=12.8).flow(3e5)) * 3.6e6, 3)
        150.0
        """
        columns = {"flow": flow, "pressure": pressure, "current": current, "voltage": voltage}
        return cls._from_columns(columns, relief_pressure, type, mounting, bench_density)

    @classmethod
    @takes()
    def from_tables(
        cls,
        tables: Mapping[Given, Mapping[str, Sequence[Given]]],
        relief_pressure: Given = None,
        *,
        type: str = "turbine",
        mounting: str = "in_tank",
        bench_density: Given = None,
    ) -> Self:
        """Return a pump from bench tables at several voltages; one point at each is enough, see `from_curve`.

        Parameters
        ----------
        tables : dict
            Voltage to ``{"flow": [...], "pressure": [...], "current": [...]}``; currents in all tables or in none.
        relief_pressure : float or str, optional
            Rise at which the pump's own relief valve opens, Pa.
        type, mounting : str
            As in `Pump`.
        bench_density : float or str, optional
            Density of the bench's fluid, kg/m3; left out, that of petrol.

        Returns
        -------
        Pump

        Raises
        ------
        InputError
            For unequal lengths, a rising curve, or more flow at less voltage.

        Examples
        --------
        >>> from fuelsim.parts.pump.pump import Pump
        >>> pump = Pump.from_tables({
        ...     "12.0 V": {"flow": ["207 L/h", "180 L/h"], "pressure": ["300 kPa", "400 kPa"]},
        ...     "13.5 V": {"flow": ["248 L/h", "221 L/h"], "pressure": ["300 kPa", "400 kPa"]}})
        >>> round(float(pump.at(supply_voltage=12.75).flow(300e3)) * 3.6e6, 1)
        227.5
        """
        try:
            columns = joined_tables(tables)
        except InputError as error:
            raise error.at(part=cls.__name__) from None
        return cls._from_columns(columns, relief_pressure, type, mounting, bench_density)

    @classmethod
    @takes()
    def from_two_points(
        cls,
        first: tuple[Given, Given],
        second: tuple[Given, Given],
        voltage: Given = "13.5 V",
        relief_pressure: Given = None,
        *,
        type: str = "turbine",
        mounting: str = "in_tank",
        bench_density: Given = None,
    ) -> Self:
        """Return a pump of typical curve shape through two points of flow and pressure.

        The shape is that of a typical 255 L/h class table: only the two points are those of the pump.

        Parameters
        ----------
        first, second : (flow, pressure)
            Flow, m3/s, and pressure rise, Pa, or texts; the flow may be zero at the dead-head pressure.
        voltage : float or str
            Voltage at the terminals at both points, V.
        relief_pressure : float or str, optional
            Pressure rise at which the pump's relief valve opens, Pa.
        type, mounting : str
            Kind and place of the pump, see `Pump`.
        bench_density : float or str, optional
            Density of the bench's fluid, kg/m3; left out, that of petrol.

        Returns
        -------
        Pump

        Raises
        ------
        InputError
            For points that do not lie on a falling curve.

        Examples
        --------
        >>> from fuelsim.parts.pump.pump import Pump
        >>> pump = Pump.from_two_points(("130 L/h", "3 bar"), ("0 L/h", "6.5 bar"))
        >>> round(float(pump.at().flow(300e3)) * 3.6e6), pump.dead_head_pressure
        (130, 650000.0)
        """
        points = [_point(value, key) for key, value in (("first", first), ("second", second))]
        try:
            flow, pressure = typical_curve(points[0], points[1])
        except InputError as error:
            raise error.at(part=cls.__name__) from None
        columns = {"flow": flow.tolist(), "pressure": pressure.tolist(), "voltage": voltage}
        return cls._from_columns(columns, relief_pressure, type, mounting, bench_density)

    @classmethod
    @takes()
    def from_file(
        cls,
        path: Path | str,
        relief_pressure: Given = None,
        *,
        type: str = "turbine",
        mounting: str = "in_tank",
        bench_density: Given = None,
    ) -> Self:
        """Return a pump from a bench table in a CSV or TOML file; see `read_bench` for its columns.

        Parameters
        ----------
        path : path
            File to be read.
        relief_pressure : float or str, optional
            Rise at which the pump's own relief valve opens, Pa.
        type, mounting : str
            As in `Pump`.
        bench_density : float or str, optional
            Density of the bench's fluid, kg/m3; left out, that of petrol.

        Returns
        -------
        Pump

        Raises
        ------
        InputError
            As `read_bench` and `Pump`, naming the file.

        Examples
        --------
        >>> import tempfile
        >>> from fuelsim.parts.pump.pump import Pump
        >>> path = Path(tempfile.mkdtemp()) / "bench.csv"
        >>> _ = path.write_text("flow [L/h],pressure [kPa]\\n180,400\\n207,300\\n")
        >>> round(float(Pump.from_file(path).at().flow("3 bar")) * 3.6e6)
        207
        """
        try:
            return cls._from_columns(read_bench(path), relief_pressure, type, mounting, bench_density)
        except InputError as error:
            raise error.at(file=str(path)) from None

    @classmethod
    @takes()
    def from_fit(
        cls, fit: BenchFit, *, type: str = "turbine", mounting: str = "in_tank", bench_density: Given = None
    ) -> Self:
        """Return a pump from a smooth form fitted to scattered rows.

        Parameters
        ----------
        fit : BenchFit
            Result of `fit_bench`.
        type, mounting : str
            As in `Pump`.
        bench_density : float or str, optional
            Density of the bench's fluid, kg/m3; left out, that of petrol.

        Returns
        -------
        Pump

        Examples
        --------
        >>> from fuelsim.parts.pump.bench_tables import fit_bench
        >>> from fuelsim.parts.pump.pump import Pump
        >>> fit = fit_bench(["300 L/h", "250 L/h", "246 L/h", "200 L/h"], ["1 bar", "2.9 bar", "3.1 bar", "4.5 bar"])
        >>> round(float(Pump.from_fit(fit).at().flow("3 bar")) * 3.6e6)
        248
        """
        return cls._from_columns(fit.columns, fit.relief_pressure, type, mounting, bench_density)

    @classmethod
    def _from_columns(
        cls, columns: Mapping[str, Quantity], relief_pressure: Given, type: str, mounting: str, bench_density: Given
    ) -> Self:
        """Return a pump from columns of bench rows; single points are completed by a typical curve."""
        ratings: dict[str, Quantity] = {"relief_pressure": relief_pressure, "type": type, "mounting": mounting}
        if bench_density is not None:
            ratings["bench_density"] = bench_density
        try:
            single = type in PUMP_TYPES and is_one_point_per_voltage(columns)
            if single:
                ratings |= {"flow_tolerance": CLASS_TOLERANCE, **completed(columns, type)}
        except InputError as error:
            raise error.at(part=cls.__name__) from None
        return cls(**(dict(columns) | ratings))


def _point(value: tuple[Given, Given], key: str) -> tuple[float, float]:
    """Return flow, m3/s, and pressure rise, Pa, of one point."""
    if len(value) != 2:
        accepted = "flow and pressure, as in ('130 L/h', '3 bar')"
        raise InputError("not a point", given=value, accepted=accepted, key=key, function="Pump.from_two_points")
    flow, pressure = value
    try:
        return float(_FLOW.to_si(flow)), float(_PRESSURE.to_si(pressure))
    except InputError as error:
        raise error.at(key=key, function="Pump.from_two_points") from None
