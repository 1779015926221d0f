"""How sure an answer is, as tables and pictures."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.errors import InputError, nearest
from fuelsim.show.axes import axes_of
from fuelsim.show.style import DOTTED, LINE_STYLES, caption, label_panel, legend, panel
from fuelsim.show.tables import marked
from fuelsim.studies.measures import measure_named, value_in_words
from fuelsim.typing import ArrayLike, FloatArray, PlotAxes
from fuelsim.units import shown_values

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

    from fuelsim.numerics.sampling import Interval, SobolIndices
    from fuelsim.studies.comparison import Comparison
    from fuelsim.studies.uncertainty import Uncertainty

__all__ = [
    "BandRow",
    "band_rows",
    "compared_uncertainty_table",
    "indices_figure",
    "requirement_rows",
    "share_in_words",
    "uncertain_inputs_table",
    "uncertainty_figure",
    "uncertainty_table",
]

QUANTILES = (0.05, 0.5, 0.95)
MOST_BARS, LEAST_SHARE = 12, 0.005
"""Greatest number of inputs drawn, and least share of the variance of one."""


def uncertainty_table(result: Uncertainty, units: str | None = None) -> pd.DataFrame:
    """Return one row per requirement; values carry their units, since each row has its own.

    Parameters
    ----------
    result : Uncertainty
        Samples of a car.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    import pandas as pd

    rows = [_whole_row("all that must hold", result.all_met), _whole_row("engine runs", result.engine_runs)]
    for item in sorted(result.by_requirement, key=lambda item: float(item.met.value)):
        measure = item.rule.measure
        known = item.worst[np.isfinite(item.worst)]
        ends = np.quantile(known, QUANTILES, method="hazen")
        names = (f"worst_at_{share:.0%}".replace("%", "_percent") for share in QUANTILES)
        rows.append(
            {
                "requirement": measure.about,
                "wanted": ("at least " if item.rule.sense > 0 else "at most ") + measure.in_words(item.limit, units),
                **{name: measure.in_words(float(end), units) for name, end in zip(names, ends, strict=True)},
                **_share_columns(item.met),
                "severity": item.rule.severity.name.lower(),
            }
        )
    table = pd.DataFrame(rows).fillna("")
    if np.any(result.failed):
        reasons = "; ".join(f"{count} points: {reason}" for reason, count in result.reasons.items())
        table["not_solved"] = f"{int(result.failed.sum())} samples, counted as not met; {reasons}"
    return marked(table, result.completion)


def compared_uncertainty_table(result: Comparison, units: str | None = None) -> pd.DataFrame:
    """Return one row per requirement, of each layout the band of its worst value and how often it is met.

    Parameters
    ----------
    result : Comparison
        What was compared, with samples.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    import pandas as pd

    if not result.samples:
        raise InputError("no samples", accepted="compare(..., uncertainty=True)", part="uncertainty_table")
    rows: dict[str, dict[str, object]] = {}
    for layout, samples in result.samples.items():
        for row in band_rows(samples, units):
            columns = rows.setdefault(row.requirement, {"requirement": row.requirement, "wanted": row.wanted})
            columns |= {layout: row.band, f"{layout}_met_percent": row.met}
    return marked(pd.DataFrame(list(rows.values())).fillna(""), result.completion)


class BandRow(NamedTuple):
    """One requirement in words: what is wanted, the band of its worst value, and how often it is met."""

    requirement: str
    wanted: str
    band: str
    met: str


def band_rows(result: Uncertainty, units: str | None = None) -> list[BandRow]:
    """Return the requirements of samples in words, all that must hold first.

    Parameters
    ----------
    result : Uncertainty
        Samples of a car.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    return [
        BandRow("all that must hold", "", "", share_in_words(result.all_met)),
        BandRow("engine runs", "", "", share_in_words(result.engine_runs)),
        *requirement_rows(result, units),
    ]


def requirement_rows(result: Uncertainty, units: str | None = None) -> list[BandRow]:
    """Return the requirements of samples in words, in the order of `by_requirement`.

    Parameters
    ----------
    result : Uncertainty
        Samples of a car.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    rows = []
    for item in result.by_requirement:
        low, high = (item.rule.measure.in_words(end, units) for end in _ends(item.worst))
        wanted = ("at least " if item.rule.sense > 0 else "at most ") + item.rule.measure.in_words(item.limit, units)
        rows.append(BandRow(item.rule.measure.about, wanted, f"{low} to {high}", share_in_words(item.met)))
    return rows


def _ends(worst: FloatArray) -> tuple[float, float]:
    """Return the ends between which 90 % of what is known lie."""
    low, high = np.quantile(worst[np.isfinite(worst)], (QUANTILES[0], QUANTILES[-1]), method="hazen")
    return float(low), float(high)


def share_in_words(share: Interval) -> str:
    """Return a share with its interval of confidence, in percent.

    Parameters
    ----------
    share : Interval
        How often something happens.
    """
    value, low, high = (f"{100.0 * float(end):.3g}" for end in share)
    return f"{value} ({low} to {high})"


def _whole_row(name: str, share: Interval) -> dict[str, object]:
    return {"requirement": name, **_share_columns(share), "severity": "failure"}


def _share_columns(share: Interval) -> dict[str, object]:
    names = ("met_percent", "met_low_percent", "met_high_percent")
    return {name: round(100.0 * float(end), 2) for name, end in zip(names, share, strict=True)}


def uncertain_inputs_table(result: Uncertainty, units: str | None = None) -> pd.DataFrame:
    """Return one row per input; values carry their units, since each row has its own.

    Parameters
    ----------
    result : Uncertainty
        Samples of a car.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    import pandas as pd

    rows = []
    for item in result.inputs:
        first = next(iter(item.at(np.array(QUANTILES)).values()))
        low, middle, high = (value_in_words(float(value), item.kind, units, digits=3) for value in first)
        rows.append(
            {
                "input": item.name,
                "keys": ", ".join(item.values),
                "low": low,
                "middle": middle,
                "high": high,
                "source": item.source,
                "measure": item.measure,
            }
        )
    table = pd.DataFrame(rows)
    if result.indices:
        name, indices = _judged_by_indices(result)
        for order, interval in (("first_order", indices.first), ("total", indices.total)):
            for end, values in zip(("", "_low", "_high"), interval, strict=True):
                table[f"{order}_index{end}_of_{name}"] = np.round(values[0], 3)
    return marked(table, result.completion)


def _judged_by_indices(result: Uncertainty, requirement: str | None = None) -> tuple[str, SobolIndices]:
    """Return a requirement and its indices; left out, the mandatory one that is met least often."""
    if not result.indices:
        raise InputError("no indices", accepted="uncertainty(..., indices=True)", part="plot_indices")
    if requirement is None:
        least = min(result.mandatory, key=lambda item: float(item.met.value))
        requirement = least.rule.name
    if requirement not in result.indices:
        accepted = nearest(requirement, result.indices)
        raise InputError("no indices of this requirement", given=requirement, accepted=accepted, key="requirement")
    return requirement, result.indices[requirement]


def uncertainty_figure(result: Uncertainty, name: str, ax: PlotAxes | None = None) -> Figure:
    """Draw median and band of a measure along the axis of the operating points.

    Parameters
    ----------
    result : Uncertainty
        Samples of a car.
    name : str
        A key of its values.
    ax : Axes, optional
        Axes of the user's own.
    """
    if len(result.conditions.shape) > 1:
        accepted = "conditions along one axis, such as rpm=[1000, 3000, 6000]"
        raise InputError("operating points along several axes", given=result.conditions.shape, accepted=accepted)
    measure = measure_named(name)
    quantiles = result.quantiles(name)
    low, middle, high = (np.atleast_1d(_drawn(each, measure.kind)) for each in quantiles)
    unit = "%" if measure.kind == "fraction" else shown_values(0.0, measure.kind)[1]
    names, coordinates = axes_of(result.conditions)
    along = names[0] if names else "point"
    places = np.asarray(coordinates[along][1]) if along in coordinates else np.arange(len(middle))
    fig, axis = panel(ax, width=7.0, height=4.2)
    axis.fill_between(places, low, high, color=LINE_STYLES[0]["color"], alpha=0.25, label="90 % of the samples")
    axis.plot(places, middle, color=LINE_STYLES[0]["color"], linewidth=1.8, marker="o", markersize=4, label="median")
    limit = next((item for item in result.by_requirement if item.rule.name == name), None)
    if limit is not None:
        side = "at least" if limit.rule.sense > 0 else "at most"
        value = float(_drawn(limit.limit, measure.kind))
        axis.axhline(value, color="black", linewidth=1.2, label=f"limit, {side}", **DOTTED)
    suffix = f" {measure.suffix}" if measure.suffix else ""
    label_panel(
        axis, "engine speed, rpm" if along == "rpm" else along.replace("_", " "), f"{measure.about}, {unit}{suffix}"
    )
    legend(axis)
    widest = int(np.nanargmax(high - low)) if np.any(np.isfinite(high - low)) else 0
    words = [measure.in_words(float(np.atleast_1d(each)[widest])) for each in (quantiles[0], quantiles[2])]
    place = f"{places[widest]:.4g}"
    where = f"{place} rpm" if along == "rpm" else f"{along.replace('_', ' ')} {place}"
    least = f"{measure.about.capitalize()} is least sure at {where}"
    sentence = f"{least}: {words[0]} to {words[1]} in 90 % of the samples"
    if limit is not None:
        sentence += f"; its limit is kept everywhere in {100.0 * float(limit.met.value):.0f} %"
    caption(fig, sentence + ".", ax)
    return fig


def _drawn(values: ArrayLike, kind: str) -> FloatArray:
    """Return values in the unit they are drawn in; shares in percent, as sentences tell them."""
    return np.asarray(100.0 * np.asarray(values) if kind == "fraction" else shown_values(np.asarray(values), kind)[0])


def indices_figure(result: Uncertainty, requirement: str | None = None, ax: PlotAxes | None = None) -> Figure:
    """Draw first-order and total Sobol' indices of a requirement's worst value, the strongest inputs on top.

    Parameters
    ----------
    result : Uncertainty
        Samples of a car, with indices.
    requirement : str, optional
        Its name; left out, the mandatory one that is met least often.
    ax : Axes, optional
        Axes of the user's own.
    """
    name, indices = _judged_by_indices(result, requirement)
    total = indices.total.value[0]
    strongest = np.argsort(-total, kind="stable")[:MOST_BARS]
    order = strongest[: max(int(np.sum(total[strongest] >= LEAST_SHARE)), 1)][::-1]
    rows = np.arange(len(order))
    fig, axis = panel(ax, width=7.4, height=1.4 + 0.36 * len(order))
    for shift, hatch, label, interval in (
        (0.2, "", "total", indices.total),
        (-0.2, "//", "alone (first order)", indices.first),
    ):
        value, low, high = (each[0][order] for each in interval)
        axis.barh(
            rows + shift,
            np.maximum(value, 0.0),
            height=0.38,
            color=LINE_STYLES[0 if hatch else 1]["color"],
            alpha=0.8,
            hatch=hatch,
            label=label,
            # A share lies between nothing and the whole, whatever the interval of its estimate.
            xerr=np.clip([value - np.maximum(low, 0.0), np.minimum(high, 1.0) - value], 0.0, None),
            error_kw={"linewidth": 0.8},
        )
    axis.set_xlim(0.0, 1.02)
    axis.set_yticks(rows, [result.inputs[column].name for column in order], fontsize=8)
    about, others = measure_named(name).about, len(total) - len(order)
    label_panel(axis, f"share of the variance of the worst {about}", "")
    legend(axis, loc="lower right")
    most = 100.0 * max(float(np.max(np.delete(total, order), initial=0.0)), 0.0)
    first, share = result.inputs[order[-1]].name, 100.0 * float(indices.total.value[0][order[-1]])
    caption(
        fig,
        f"{first.capitalize()} decides most about {about}: {share:.0f} % of its variance."
        + (f" The {others} inputs that are not drawn have at most {most:.1f} % each." if others else ""),
        ax,
    )
    return fig
