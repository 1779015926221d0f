"""Notebooks run top to bottom in a clean kernel; their outputs are saved, small, and name nobody's machine."""

from __future__ import annotations

import ast
import re
from itertools import pairwise
from pathlib import Path

import pytest

nbformat = pytest.importorskip("nbformat")
nbclient = pytest.importorskip("nbclient")

FOLDER = Path(__file__).parents[1] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
QUICKEST = "size_pump_and_lines"
"""The notebook that the test command runs; it runs the others as `pytest -m long`."""
LARGEST = 600_000
OF_A_MACHINE = re.compile(r"/home/|/root/|/tmp/|/Users/|[A-Z]:\\|site-packages")


def every_notebook(argument: str):
    return pytest.mark.parametrize(argument, NOTEBOOKS, ids=[path.stem for path in NOTEBOOKS])


def read(path: Path):
    return nbformat.read(path, as_version=4)


@every_notebook("path")
def test_notebook_is_saved_with_all_outputs_and_without_an_error(path):
    cells = [cell for cell in read(path).cells if cell.cell_type == "code"]
    assert [cell.execution_count for cell in cells] == list(range(1, len(cells) + 1))
    outputs = [output for cell in cells for output in cell.outputs]
    assert not [output for output in outputs if output.output_type == "error"]
    assert not [output for output in outputs if output.get("name") == "stderr"]
    assert any("image/png" in output.get("data", {}) for output in outputs)


@every_notebook("path")
def test_notebook_is_small_and_its_text_names_no_machine(path):
    assert path.stat().st_size < LARGEST
    for cell in read(path).cells:
        texts = [cell.source]
        for output in cell.get("outputs", []):
            texts += [output.get("text", "")]
            texts += [value for kind, value in output.get("data", {}).items() if kind.startswith("text/")]
        assert not [found.group() for text in texts for found in [OF_A_MACHINE.search(text)] if found]


@every_notebook("path")
def test_every_cell_is_complete_python_of_public_names(path):
    """Nothing is imported from inside the library: what a notebook needs has a public name."""
    for cell in read(path).cells:
        if cell.cell_type == "code":
            for node in ast.walk(ast.parse(cell.source)):
                inside = isinstance(node, ast.ImportFrom) and (node.module or "").startswith("fuelsim.")
                assert not inside, cell.source


@every_notebook("path")
def test_notebook_opens_with_what_is_learned_and_ends_with_what_to_measure(path):
    texts = [cell.source for cell in read(path).cells if cell.cell_type == "markdown"]
    assert "**What you will learn**" in texts[0]
    assert "## What to measure on the car" in texts[-1]


@pytest.mark.parametrize(
    "path",
    [pytest.param(path, id=path.stem, marks=() if path.stem == QUICKEST else pytest.mark.long) for path in NOTEBOOKS],
)
def test_notebook_runs_top_to_bottom_in_a_clean_kernel(path, tmp_path):
    client = nbclient.NotebookClient(read(path), timeout=300, resources={"metadata": {"path": str(tmp_path)}})
    client.execute()


def test_pictures_of_notebooks_have_the_colours_of_the_library():
    from matplotlib import rc_params_from_file

    from fuelsim.show.style import LINE_STYLES

    settings = rc_params_from_file(Path(__file__).parents[1] / "fuelsim" / "show" / "lines.mplstyle")
    assert settings["axes.prop_cycle"].by_key()["color"] == [style["color"] for style in LINE_STYLES]


def solution(path: Path, number: int) -> str:
    """Return the right answer that a hidden solution gives, the first number in bold."""
    for before, cell in pairwise(read(path).cells):
        if cell.source.startswith("<details>") and f"answer_{number} = None" in before.source:
            return re.findall(r"\*\*([\d.]+)\*\*", cell.source)[0]
    raise AssertionError(f"no solution of exercise {number}")


EXERCISES = [
    (path, number)
    for path in NOTEBOOKS
    for number in sorted({int(found) for found in re.findall(r"answer_(\d+) = None", path.read_text("utf-8"))})
]


@pytest.mark.long
@pytest.mark.parametrize("path", sorted({path for path, _ in EXERCISES}), ids=lambda path: path.stem)
def test_every_exercise_accepts_its_solution_and_no_other_answer(path, tmp_path):
    notebook = read(path)
    numbers = [number for owner, number in EXERCISES if owner == path]
    for right in (True, False):
        for cell in notebook.cells:
            for number in numbers:
                answer = float(solution(path, number))
                cell.source = re.sub(
                    rf"(?m)^answer_{number} = .*$",
                    f"answer_{number} = {answer if right else 1.3 * answer}",
                    cell.source,
                )
        client = nbclient.NotebookClient(notebook, timeout=300, resources={"metadata": {"path": str(tmp_path)}})
        client.execute()
        said = "".join(output.get("text", "") for cell in notebook.cells for output in cell.get("outputs", []))
        for number in numbers:
            assert f"Exercise {number}: {'right' if right else 'not yet'}." in said
