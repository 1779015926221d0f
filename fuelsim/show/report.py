"""The comparison as one self-contained HTML file: no script, no outside request, every user text escaped."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from fuelsim.car.write import car_text
from fuelsim.constants import VERSION
from fuelsim.output_files import write_files
from fuelsim.show.html import CAUTIONS, embedded_png, page_table, page_template

if TYPE_CHECKING:
    from fuelsim.studies.comparison import Comparison

__all__ = ["decision_lines", "report_html", "sample_sentences", "stopped_early", "write_report"]


def write_report(result: Comparison, path: Path | str) -> Path:
    """Write the comparison report and return its path; the file appears whole or not at all.

    Parameters
    ----------
    result : Comparison
        What was compared.
    path : path
        The HTML file.

    Raises
    ------
    InputError
        Where the file cannot be written.
    """
    path = Path(path)
    write_files({path: report_html(result).encode()})
    return path


def stopped_early(result: Comparison) -> str:
    """Return in a sentence what a comparison that Ctrl-C ended holds.

    Parameters
    ----------
    result : Comparison
        What was compared.
    """
    return f"A part only ({result.completion}): {', '.join(result.layouts)}. What is here is complete in itself."


def decision_lines(result: Comparison) -> list[str]:
    """Return the decision in sentences, which a comparison that Ctrl-C ended has not.

    Parameters
    ----------
    result : Comparison
        What was compared.
    """
    if result.interrupted:
        return ["None: the comparison was stopped before its end."]
    return result.decision.sentences()


def sample_sentences(result: Comparison) -> list[str]:
    """Return of each layout how sure it is that it meets what it must.

    Parameters
    ----------
    result : Comparison
        What was compared.
    """
    return [f"{layout}: {samples.headline}." for layout, samples in result.samples.items()]


def report_html(result: Comparison) -> str:
    """Return the comparison report as HTML text.

    Parameters
    ----------
    result : Comparison
        What was compared.
    """
    return page_template("comparison.html").render(
        car=result.car,
        fuel=result.car.fuel,
        stopped=stopped_early(result) if result.interrupted else "",
        decision=decision_lines(result),
        sentences=result.sentences(),
        layouts=page_table(result.table().reset_index()),
        samples=sample_sentences(result),
        sure=page_table(result.uncertainty_table()) if result.samples else None,
        vapour=page_table(result.vapour_table().reset_index()),
        findings={layout: result.findings(layout) for layout in result.layouts},
        outcomes=[(layout, result.full_load[layout].outcome.summary()) for layout in result.layouts],
        picture=embedded_png(result.plot()),
        cautions=CAUTIONS,
        version=VERSION,
        inputs=car_text(result.car),
    )
