"""Diagnoses as sentences, tables and pictures."""

from __future__ import annotations

from collections.abc import Container
from typing import TYPE_CHECKING

import numpy as np

from fuelsim.diagnosis.causes import HEALTHY
from fuelsim.diagnosis.diagnose import CAUTION, Diagnosis
from fuelsim.diagnosis.readings import kind_of_reading, quantity_named
from fuelsim.show.style import LINE_STYLES, caption, figure, label_panel, legend_below
from fuelsim.studies.measures import value_in_words
from fuelsim.system.conditions import CONDITIONS
from fuelsim.units import shown

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

    from fuelsim.diagnosis.calibrate import Calibration
    from fuelsim.diagnosis.inference import Fit
    from fuelsim.diagnosis.logs import SteadyStretches
    from fuelsim.diagnosis.readings import Reading

__all__ = [
    "calibration_table",
    "diagnosis_figure",
    "diagnosis_sentences",
    "diagnosis_table",
    "readings_table",
    "stretches_table",
]

MOST_ROWS, LEAST_ROWS, LEAST_SEEN = 8, 4, 0.001
"""Hypotheses in a picture, at most and at least, and the probability from which one is drawn in any case."""
_DIGITS = 3


def _in_words(value: float, kind: str, units: str | None = None) -> str:
    return value_in_words(value, kind, units, _DIGITS)


def _percent(share: float) -> str:
    if share > 0.995:
        return "over 99 %"
    return "under 1 %" if share < 0.005 else f"{100.0 * share:.0f} %"


def _size(fit: Fit, units: str | None = None) -> str:
    """Return sizes of a fit's causes with their intervals, in words."""
    words = []
    for cause, size, low, high in zip(fit.causes, fit.sizes, fit.low, fit.high, strict=True):
        if cause.there_or_not:
            continue
        middle, least, most = (_in_words(float(value), cause.kind, units) for value in (size, low, high))
        words.append(f"{cause.size} {middle} ({least} to {most})")
    return "; ".join(words)


def _where(reading: Reading, without: Container[str] = ()) -> str:
    """Return the point a reading is taken at, in words, without some of its conditions."""
    words = []
    for name, value in reading.at.items():
        if name in without:
            continue
        if name == "rpm":
            words.append(f"{float(value):.0f} rpm")  # type: ignore[arg-type]  # conditions of readings are numbers
        elif name == "load":
            words.append({0.0: "idle", 1.0: "full load"}.get(float(value), f"load {100.0 * float(value):.0f} %"))  # type: ignore[arg-type]
        elif name in CONDITIONS:
            words.append(f"{name.replace('_', ' ')} {shown(float(value), CONDITIONS[name].kind, digits=3)}")  # type: ignore[arg-type]
        else:
            words.append(f"{name.replace('_', ' ')} {value}")
    words += [f"{key} {value}" for key, value in reading.changes.items()]
    return ", ".join(words)


def diagnosis_sentences(result: Diagnosis) -> list[str]:
    """Return a diagnosis in sentences.

    Parameters
    ----------
    result : Diagnosis
    """
    first = result.first
    worst, deviation = result.worst_reading, float(result.deviations[np.argmax(np.abs(result.deviations))])
    if first.name == HEALTHY:
        lines = [
            f"{_percent(first.probability)} probability that nothing is wrong: {len(result.readings)} readings within "
            f"{abs(deviation):.1f} standard deviations of a healthy car."
        ]
    else:
        size = _size(first.fit)
        lines = [f"Most likely: {first.name} ({_percent(first.probability)}){f': {size}' if size else ''}."]
        side = "above" if deviation > 0.0 else "below"
        lines.append(
            f"Disagrees most with a healthy car: {worst.quantity.replace('_', ' ')} at {_where(worst)}, "
            f"{abs(deviation):.1f} standard deviations {side} it."
        )
        if len(result.group) > 1 and first.name in result.group:
            others = [name for name in result.group if name != first.name]
            lines.append(f"These readings do not tell it from: {', '.join(others)}.")
    if result.repeated:
        lines.append(f"Given more than once and counted once: {result.repeated} readings.")
    for item in result.next_readings[:1]:
        system = result.system
        kind = quantity_named(item.reading.quantity, system).kind
        values = "; ".join(f"{_in_words(value, kind)} if {name}" for name, value in item.predicted.items())
        lines.append(f"Read next: {item.reading.quantity.replace('_', ' ')} at {_where(item.reading)}: {values}.")
    if result.unseen:
        lines.append(f"These readings would not show: {', '.join(result.unseen)}.")
    return [*lines, CAUTION]


def diagnosis_table(result: Diagnosis, units: str | None = None) -> pd.DataFrame:
    """Return one row per hypothesis.

    Parameters
    ----------
    result : Diagnosis
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    import pandas as pd

    return pd.DataFrame(
        [
            {
                "cause": item.name,
                "probability_percent": round(100.0 * item.probability, 1),
                "size": _size(item.fit, units),
                "chi_squared": round(item.fit.chi_squared, 1),
                "told_apart": "" if item.name not in result.group[1:] else f"not from {result.group[0]}",
            }
            for item in result.hypotheses
        ]
    )


def readings_table(result: Diagnosis, units: str | None = None) -> pd.DataFrame:
    """Return one row per reading.

    Parameters
    ----------
    result : Diagnosis
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    import pandas as pd

    rows = []
    best = next((item.fit for item in result.hypotheses if item.name != HEALTHY), result.first.fit)
    for number, reading in enumerate(result.readings):
        kind = quantity_named(reading.quantity, result.system).kind
        rows.append(
            {
                "quantity": reading.quantity,
                "at": _where(reading),
                "read": _in_words(reading.number, kind, units),
                "healthy": _in_words(float(result.expected[number]), kind, units),
                "deviations": round(float(result.deviations[number]), 2),
                f"with {best.name}": _in_words(float(best.predicted[number]), kind, units),
            }
        )
    return pd.DataFrame(rows)


def calibration_table(result: Calibration, units: str | None = None) -> pd.DataFrame:
    """Return one row per fitted key.

    Parameters
    ----------
    result : Calibration
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    import pandas as pd

    return pd.DataFrame(
        [
            {
                "key": key,
                "before": _in_words(float(before), kind, units),
                "fitted": _in_words(float(value), kind, units),
                "low": _in_words(float(low), kind, units),
                "high": _in_words(float(high), kind, units),
            }
            for key, kind, before, value, low, high in zip(
                result.keys, result.kinds, result.before, result.values, result.low, result.high, strict=True
            )
        ]
    )


def stretches_table(result: SteadyStretches, units: str | None = None) -> pd.DataFrame:
    """Return one row per steady stretch of a log.

    Parameters
    ----------
    result : SteadyStretches
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    import pandas as pd

    rows = []
    for first, last, rpm, load in zip(result.first, result.last, result.rpm, result.load, strict=True):
        row: dict[str, object] = {"from_row": int(first), "to_row": int(last), "rpm": round(float(rpm))}
        row["load_percent"] = round(100.0 * float(load), 1)
        for reading in result.readings:
            if reading.at["rpm"] == rpm and reading.at["load"] == load:
                row[reading.quantity] = _in_words(reading.number, kind_of_reading(reading.quantity) or "number", units)
        rows.append(row)
    return pd.DataFrame(rows)


def diagnosis_figure(result: Diagnosis) -> Figure:
    """Draw deviations of the readings from a healthy car, with those of the likely cause, and the probabilities.

    Parameters
    ----------
    result : Diagnosis
    """
    count = len(result.readings)
    fig, axes = figure(columns=2, width=5.6, height=max(2.6, 1.2 + 0.2 * count))
    left, right = axes[0]
    rows = np.arange(count)[::-1]
    left.axvspan(-2.0, 2.0, color="#dddddd", label="a healthy car, 19 of 20")
    left.axvline(0.0, color="black", linewidth=1.0)
    # The gauge alone; the width of the healthy band is that of gauge and tolerances of the car.
    gauges = 2.0 * np.array([reading.sigma for reading in result.readings]) / result.spread
    left.errorbar(
        result.deviations, rows, xerr=gauges, linestyle="", marker="o", color=LINE_STYLES[0]["color"],
        elinewidth=1.0, capsize=2.0, label="read, with the gauge's 95 %",
    )  # fmt: skip
    best = next((item for item in result.hypotheses if item.name != HEALTHY), result.first)
    predicted = (best.fit.predicted - result.expected) / result.spread
    left.plot(
        predicted, rows, linestyle="", marker="x", color=LINE_STYLES[1]["color"], label=f"with {best.name}", zorder=3
    )
    first = result.readings[0].at
    shared = {
        name
        for name in first
        if name not in ("rpm", "load") and all(each.at.get(name) == first[name] for each in result.readings)
    }
    names = [f"{reading.quantity.replace('_', ' ')}, {_where(reading, shared)}" for reading in result.readings]
    left.set_yticks(rows, names, fontsize=7)
    label_panel(left, "read less healthy, standard deviations", "")
    legend_below(fig, left)
    seen = sum(item.probability >= LEAST_SEEN for item in result.hypotheses)
    shown_items = result.hypotheses[: min(max(seen, LEAST_ROWS), MOST_ROWS)]
    places = np.arange(len(shown_items))[::-1]
    right.barh(
        places, [100.0 * item.probability for item in shown_items], color=LINE_STYLES[0]["color"], alpha=0.8, height=0.5
    )
    for place, item in zip(places, shown_items, strict=True):
        inside = item.probability > 0.8
        right.annotate(
            _percent(item.probability), (100.0 * item.probability, place), fontsize=8, va="center",
            xytext=(-4 if inside else 4, 0), textcoords="offset points", ha="right" if inside else "left",
            color="white" if inside else "black",
        )  # fmt: skip
    right.set_yticks(places, [item.name for item in shown_items], fontsize=8)
    right.set_xlim(0.0, 100.0)
    # A single bar is as thick as one of several.
    right.set_ylim(min(-0.7, len(places) - MOST_ROWS - 0.3), len(places) - 0.3)
    label_panel(right, "probability, %", "")
    caption(fig, result.sentences()[0])
    return fig
