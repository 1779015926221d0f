"""What is wrong with my car: causes ranked by probability, what cannot be told apart, and what to read next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from scipy import stats

from fuelsim import opener, units
from fuelsim.arguments import takes
from fuelsim.declaration import declarations
from fuelsim.diagnosis.causes import HEALTHY, Cause, causes_of
from fuelsim.diagnosis.inference import Fit, Model, alike
from fuelsim.diagnosis.predictions import Column, Predictor, tolerances_of
from fuelsim.diagnosis.readings import Reading, kind_of_reading, readings_asked
from fuelsim.errors import InputError
from fuelsim.shown import Shown
from fuelsim.studies.altitude import boiling_temperature
from fuelsim.studies.uncertain_inputs import UncertainInput
from fuelsim.system.conditions import Conditions
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.run import System
from fuelsim.typing import PointArray, UnitSystem

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["Diagnosis", "Likely", "NextReading", "diagnose"]

FAILS = 0.01
"""Probability of a misfit as great as that of the best single cause below which two causes are tried."""
MOST_READINGS = 500
"""Readings of one diagnosis."""
LIKELY = 0.02
"""Probability from which a cause counts for the next reading."""
PSI = float(units.convert("1 psi", "pressure difference")) / 1e3
"""Kilopascals in a pound per square inch."""
_FACTOR = 1.35
"""Ratio within which readings count as given in another unit."""
MISTAKEN_UNITS = {
    "pressure difference": (
        (1.0 / PSI, "psi", "kPa"),
        (PSI, "kPa", "psi"),
        (1e-3, "kPa", "Pa"),
        (0.01, "bar", "kPa"),
    ),
    "volume flow": ((1.0 / 60.0, "L/min", "L/h"), (60.0, "L/h", "L/min"), (1e-3, "L/h", "mL/h")),
}
"""By kind: factor by which all readings are off, the unit they were in, and the one they were given in."""
_LEAST_COMPARED = {"pressure difference": (50e3, 1), "volume flow": (20.0 / 3.6e6, 2)}
"""By kind the expected value from which a unit is judged, SI, and how many readings that takes."""
SLOWEST = 50.0
"""Least speed of an engine that turns, rpm: starters reach 150 and more."""
ABOVE_BOILING = 15.0
"""How far above its boiling point the fuel of a tank may be given, K."""
CAUTION = (
    "Petrol under pressure burns and injures: relieve it before a line is opened or a gauge fitted, and leave such "
    "work to licensed practice where local rules ask for it."
)


class Likely(NamedTuple):
    """One hypothesis with its probability.

    Attributes
    ----------
    name : str
        What is wrong.
    probability : float
        Among all hypotheses that were compared.
    fit : Fit
    """

    name: str
    probability: float
    fit: Fit


class NextReading(NamedTuple):
    """A reading that would tell the likely causes apart.

    Attributes
    ----------
    reading : Reading
        What to read; its value is the one expected.
    information : float
        Expected gain of information, bits.
    predicted : dict of str to float
        What the gauge would show under each likely cause, SI.
    """

    reading: Reading
    information: float
    predicted: dict[str, float]


@dataclass(frozen=True)
class Diagnosis(Shown):
    """Causes of what was read, the most likely first.

    Attributes
    ----------
    system : System
        The car in its layout, as it should be.
    readings : tuple of Reading
    expected : array (readings,)
        What a healthy car would show, SI.
    spread : array (readings,)
        Standard deviation of each reading about it, by gauge and by the tolerances of the car, SI.
    hypotheses : tuple of Likely
        Nothing wrong, each cause, and pairs where no single cause fits.
    group : tuple of str
        Single causes that these readings do not tell apart, the most likely first; one name where it is told apart,
        none where nothing is wrong.
    unseen : tuple of str
        Causes that would not move these readings, whatever their size: nothing is said about them.
    repeated : int
        Number of readings that were given again, equal in all, and count once.
    """

    system: System
    readings: tuple[Reading, ...]
    expected: PointArray
    spread: PointArray
    hypotheses: tuple[Likely, ...]
    group: tuple[str, ...]
    unseen: tuple[str, ...]
    repeated: int = 0

    @property
    def first(self) -> Likely:
        """The most likely hypothesis."""
        return self.hypotheses[0]

    @property
    def healthy(self) -> bool:
        """Whether it is most likely that nothing is wrong."""
        return self.first.name == HEALTHY

    @property
    def headline(self) -> str:
        """Return what is most likely wrong."""
        return self.sentences()[0]

    @property
    def deviations(self) -> PointArray:
        """Readings less what a healthy car would show, in standard deviations, (readings,)."""
        values = np.array([reading.number for reading in self.readings])
        return np.asarray((values - self.expected) / self.spread)

    @property
    def worst_reading(self) -> Reading:
        """The reading that disagrees most with a healthy car."""
        return self.readings[int(np.argmax(np.abs(self.deviations)))]

    @cached_property
    def next_readings(self) -> tuple[NextReading, ...]:
        """Readings that would best tell the likely causes apart, the most informative first."""
        return _next_readings(self)

    def sentences(self) -> list[str]:
        """Return the diagnosis in sentences: what is likely, what is not told apart, what to read next, caution.

        Returns
        -------
        list of str

        Examples
        --------
        >>> import fuelsim as fs
        >>> system = fs.Car.named("finch").system("return")
        >>> table = {"rpm": [800, 6000], "load": [0, 1], "rail_pressure [kPa]": [272, 318]}
        >>> fs.diagnose(system, table).sentences()[-1].startswith("Petrol")
        True
        """
        return opener.diagnosis_sentences(self)

    @takes()
    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per hypothesis: its probability, its size with interval, how well it fits.

        Parameters
        ----------
        units : str, optional
            A name of `units.SYSTEMS`; left out, the preferred one.

        Returns
        -------
        pandas.DataFrame
            Values carry their units.

        Examples
        --------
        >>> import fuelsim as fs
        >>> system = fs.Car.named("finch").system("return")
        >>> fs.diagnose(system, {"rpm": [800, 6000], "rail_pressure [kPa]": [300, 302]}).table().columns.tolist()[:2]
        ['cause', 'probability_percent']
        """
        return opener.diagnosis_table(self, units)

    @takes()
    def readings_table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per reading: what was read, what a healthy car and the likely cause would show.

        Parameters
        ----------
        units : str, optional
            A name of `units.SYSTEMS`; left out, the preferred one.

        Returns
        -------
        pandas.DataFrame
            Values carry their units; deviations are in standard deviations.

        Examples
        --------
        >>> import fuelsim as fs
        >>> system = fs.Car.named("finch").system("return")
        >>> len(fs.diagnose(system, {"rpm": [800, 6000], "rail_pressure [kPa]": [300, 302]}).readings_table())
        2
        """
        return opener.readings_table(self, units)

    def plot(self) -> Figure:
        """Draw readings against what a healthy car and the likely cause would show, and causes with probabilities.

        Returns
        -------
        matplotlib.figure.Figure
        """
        return opener.diagnosis_figure(self)


@system_or_car
@takes()
def diagnose(
    system: System,
    readings: object,
    *,
    causes: Sequence[Cause] | None = None,
    tolerances: Sequence[UncertainInput] | None = None,
) -> Diagnosis:
    """Return what is wrong with a car, from readings of gauges.

    Parameters
    ----------
    system : System
        The car in its layout, as it should be; or a car, and the name of a layout after it.
    readings : list of Reading, mapping, DataFrame or path
        As `readings_asked` takes them: one row per operating point, a column per quantity with its unit in brackets.
    causes : list of Cause, optional
        What may be wrong; left out, `causes_of` the system.
    tolerances : list of UncertainInput, optional
        What is not known better about the healthy car; left out, `tolerances_of` the system. An empty list is a car
        that is known exactly, such as one calibrated when it was healthy.

    Returns
    -------
    Diagnosis

    Raises
    ------
    InputError
        For readings that cannot be, or that look as if given in another unit.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> table = {"rpm": [800, 3000, 6000], "load": [0, 1, 1], "rail_pressure [kPa]": [245, 309, 308]}
    >>> diagnose(Car.named("finch"), "return", table).healthy
    True
    """
    if causes is not None and not causes:
        raise InputError("no causes", given=causes, accepted="at least one; left out, the usual ones", key="causes")
    given = readings_asked(readings, system)
    _require_points(system, given)
    asked = _each_once(given)
    if len(asked) > MOST_READINGS:
        accepted = f"at most {MOST_READINGS}: means of steady stretches, as `fs.steady_stretches` makes of a log"
        raise InputError(f"{len(asked)} readings", accepted=accepted, key="readings")
    model = Model(
        Predictor(system, asked),
        causes_of(system) if causes is None else causes,
        tolerances_of(system) if tolerances is None else tolerances,
    )
    kinds = np.array([kind_of_reading(reading.quantity) for reading in asked])
    for kind, mistakes in MISTAKEN_UNITS.items():
        _require_unit(asked, np.where(kinds == kind, model.healthy, np.nan), kind, mistakes)
    evidence = model.against(asked)
    fits = evidence.fits()
    singles = fits[1:]
    best = min(fit.chi_squared for fit in fits)
    if len(asked) > 1 and stats.chi2.sf(best, max(len(asked) - 1, 1)) < FAILS:
        fits = fits + evidence.pairs()
    logs = np.array([fit.log_evidence + np.log(fit.prior) for fit in fits])
    shares = np.exp(logs - logs.max())
    shares /= shares.sum()
    ranked = [Likely(fits[at].name, float(shares[at]), fits[at]) for at in np.argsort(-shares, kind="stable")]
    return Diagnosis(
        system=system,
        readings=asked,
        expected=model.healthy,
        spread=np.sqrt(np.diag(model.covariance) + np.array([reading.sigma for reading in asked]) ** 2),
        hypotheses=tuple(ranked),
        group=tuple(fit.name for fit in alike(singles)) if ranked[0].fit.causes else (),
        unseen=tuple(cause.name for cause, seen in zip(model.causes, evidence.seen, strict=True) if not seen),
        repeated=len(given) - len(asked),
    )


def _each_once(readings: Sequence[Reading]) -> tuple[Reading, ...]:
    """Return readings without those that repeat another in all; they tell nothing more than it does."""
    kept: dict[tuple[object, ...], Reading] = {}
    for reading in readings:
        at, changes = (
            tuple(sorted((key, str(value)) for key, value in each.items())) for each in (reading.at, reading.changes)
        )
        kept.setdefault((reading.quantity, reading.number, reading.sigma, at, changes, reading.gauge), reading)
    return tuple(kept.values())


def _require_points(system: System, readings: Sequence[Reading]) -> None:
    """Refuse operating points that no car has: engine speeds in thousands, fuel far above its boiling point."""
    declared = declarations(Conditions)
    boils: float | None = None
    for reading in readings:
        speed = float(declared["rpm"].to_si(reading.at.get("rpm", 0.0)))
        if 0.0 < speed < SLOWEST:
            accepted = f"rpm from {SLOWEST:.0f}, or 0 with the engine off"
            raise InputError(
                "an engine speed that no engine runs at", given=f"{speed:g} rpm", accepted=accepted, key="rpm"
            )
        if "tank_temperature" in reading.at:
            tank = float(declared["tank_temperature"].to_si(reading.at["tank_temperature"]))
            if boils is None:
                boils = float(np.ravel(boiling_temperature(system.fuel, system.car.surroundings.altitude))[0])
            if tank > boils + ABOVE_BOILING:
                shown = units.shown(tank, "temperature", digits=3)
                accepted = f"less than {units.shown(boils + ABOVE_BOILING, 'temperature', digits=3)}; degF as degC?"
                raise InputError(
                    "a tank far above its fuel's boiling point", given=shown, accepted=accepted, key="tank_temperature"
                )


def _require_unit(
    readings: Sequence[Reading], expected: PointArray, kind: str, mistakes: Sequence[tuple[float, str, str]]
) -> None:
    """Refuse readings of a kind that are all about one factor of units away from what they should be."""
    values = np.array([reading.number for reading in readings])
    least, fewest = _LEAST_COMPARED[kind]
    known = np.isfinite(expected) & (np.nan_to_num(expected) > least) & (values > 0.0)
    if np.sum(known) < fewest:
        return
    ratio = values[known] / expected[known]
    for factor, given, meant in mistakes:
        if np.all((ratio > factor / _FACTOR) & (ratio < factor * _FACTOR)):
            first = units.shown(float(values[known][0]), kind)
            words = "pressures" if kind == "pressure difference" else "flows"
            raise InputError(
                f"{words} that are all about {factor:.3g} times what this car can have, such as {first}",
                accepted=f"the right unit: they look like {given} given as {meant}",
                key="readings",
            )


_EVERYWHERE = ("rail_pressure", "bypass", "pump_current", "pump_voltage", "injector_duty", "supply_voltage")


def _candidates(system: System) -> list[Reading]:
    """Return what could be read next: gauges at idle, halfway and at full load."""
    engine, plumbing = system.car.engine, system.plumbing
    points = [
        {"rpm": float(engine.idle_speed), "load": 0.0},
        {"rpm": float(0.5 * (engine.idle_speed + engine.red_line)), "load": 1.0},
        {"rpm": float(engine.red_line), "load": 1.0},
    ]
    places = dict.fromkeys(
        station
        for link in (*plumbing.filters, *plumbing.feed_lines, *plumbing.return_lines, *plumbing.pumps)
        for station in (link.upstream, link.downstream)
        if station in plumbing.fuel_stations and station != plumbing.vessel
    )
    names = [*_EVERYWHERE, *(f"pressure at {place}" for place in places)]
    return [Reading(name, 0.0, at=point) for name in names for point in points]


def _next_readings(diagnosis: Diagnosis, most: int = 3) -> tuple[NextReading, ...]:
    likely = [item for item in diagnosis.hypotheses[:6] if item.probability >= LIKELY]
    if len(likely) < 2:
        return ()
    system = diagnosis.system
    taken = {(reading.quantity, tuple(sorted(reading.at.items()))) for reading in diagnosis.readings}
    candidates = [
        reading for reading in _candidates(system) if (reading.quantity, tuple(sorted(reading.at.items()))) not in taken
    ]
    model = Model(Predictor(system, tuple(candidates)), (), ())
    columns = [Column.of(list(zip(item.fit.causes, item.fit.sizes, strict=True))) for item in likely]
    true = model.predictor.predict(columns)
    shown = np.stack(
        [
            model.read(
                true[:, at],
                [(cause, size) for cause, size in zip(item.fit.causes, item.fit.sizes, strict=True) if cause.gauge],
            )
            for at, item in enumerate(likely)
        ],
        axis=1,
    )
    shares = np.array([item.probability for item in likely])
    shares = shares / shares.sum()
    found = []
    for reading, row in zip(candidates, shown, strict=True):
        if not np.all(np.isfinite(row)) or np.ptp(row) == 0.0:
            continue
        middle = float(np.sum(shares * row))
        expected = Reading(reading.quantity, middle, at=reading.at)
        bits = _information(row, shares, expected.sigma)
        found.append(NextReading(expected, bits, dict(zip((item.name for item in likely), row.tolist(), strict=True))))
    return tuple(sorted(found, key=lambda item: -item.information)[:most])


def _information(means: PointArray, shares: PointArray, spread: float) -> float:
    """Return by how many bits a reading is expected to lower the entropy of which hypothesis is true."""
    z = np.linspace(-5.0, 5.0, 101)
    density = np.exp(-0.5 * z**2)
    density /= density.sum()
    gain = 0.0
    for share, mean in zip(shares, means, strict=True):
        values = mean + spread * z
        likelihood = np.exp(-0.5 * ((values[:, None] - means) / spread) ** 2)
        posterior = likelihood[:, np.flatnonzero(means == mean)[0]] / (likelihood @ shares)
        gain += float(share * np.sum(density * np.log2(posterior)))
    return gain
