"""Run notebooks in a clean kernel, save their outputs, and print how long they and their slowest cells take.

``python tests/by_hand/renew_notebooks.py`` renews all, ``... renew_notebooks.py validation`` one by name.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from pathlib import Path

import nbclient
import nbformat

FOLDER = Path(__file__).parents[2] / "notebooks"


def renew(path: Path) -> str:
    """Run one notebook, save it with its outputs, and return a line on the time it took."""
    notebook = nbformat.read(path, as_version=4)
    took: dict[int, float] = {}
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    with tempfile.TemporaryDirectory() as folder:
        client = nbclient.NotebookClient(notebook, timeout=300, resources={"metadata": {"path": folder}})
        with client.setup_kernel():
            for index, cell in enumerate(notebook.cells):
                start = time.perf_counter()
                client.execute_cell(cell, index)
                took[index] = time.perf_counter() - start
    for cell in notebook.cells:
        # Times of execution and the version of the kernel would change with every run.
        cell.metadata.pop("execution", None)
    notebook.metadata["language_info"] = {"name": "python"}
    nbformat.write(notebook, path)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    processor = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    slowest = max(took, key=took.__getitem__)
    opening = notebook.cells[slowest].source.splitlines()[0]
    return (
        f"{path.stem}: {sum(took.values()):.1f} s ({processor:.1f} s of the processor), "
        f"{path.stat().st_size / 1e3:.0f} kB; "
        f"slowest cell {slowest}: {took[slowest]:.2f} s ({opening})"
    )


if __name__ == "__main__":
    for notebook_path in sorted(FOLDER.glob("*.ipynb")):
        if len(sys.argv) == 1 or notebook_path.stem in sys.argv[1:]:
            print(renew(notebook_path), flush=True)
