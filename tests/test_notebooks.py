"""Every notebook runs top to bottom in a clean kernel and is committed with outputs."""

from __future__ import annotations

from pathlib import Path

import pytest

nbformat = pytest.importorskip("nbformat")
nbclient = pytest.importorskip("nbclient")

FOLDER = Path(__file__).parents[1] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))


@pytest.mark.parametrize("path", NOTEBOOKS, ids=[path.stem for path in NOTEBOOKS])
def test_notebook_runs_top_to_bottom_and_shows_its_outputs(path, tmp_path):
    notebook = nbformat.read(path, as_version=4)
    cells = [cell for cell in notebook.cells if cell.cell_type == "code"]
    assert all(cell.execution_count for cell in cells), "committed without outputs"
    client = nbclient.NotebookClient(notebook, timeout=300, resources={"metadata": {"path": str(tmp_path)}})
    client.execute()
